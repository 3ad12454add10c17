//! Words for sentences: singular and plural, and lists.

use std::fmt::Display;

/// `module` for one, `modules` for any other number.
pub(crate) fn plural(count: usize, word: &str) -> String {
    if count == 1 { word.to_owned() } else { format!("{word}s") }
}

/// `1 module`, `3 modules`.
pub(crate) fn counted(count: usize, word: &str) -> String {
    format!("{count} {}", plural(count, word))
}

/// `A1, A2, A3`: every item, separated by commas.
pub(crate) fn comma_list<T: Display>(items: impl IntoIterator<Item = T>) -> String {
    joined(items, ", ")
}

/// `RDIMM or LRDIMM`: every item, separated by `or`.
pub(crate) fn or_list<T: Display>(items: impl IntoIterator<Item = T>) -> String {
    joined(items, " or ")
}

/// Every item, with `separator` between two of them.
fn joined<T: Display>(items: impl IntoIterator<Item = T>, separator: &str) -> String {
    use std::fmt::Write;

    let mut out = String::new();
    for (index, item) in items.into_iter().enumerate() {
        if index > 0 {
            out.push_str(separator);
        }
        // Writing to a string cannot fail.
        let _ = write!(out, "{item}");
    }
    out
}

/// From this number on, [`short_list`] counts items instead of naming them.
const SHOWN: usize = 6;

/// `A1`, `A1 and A2`, `A1, A2, A3, A4, A5 and 10 more`: names in a sentence.
pub(crate) fn short_list(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] if names.len() <= SHOWN => format!("{} and {last}", most.join(", ")),
        _ => format!("{} and {} more", names[..SHOWN - 1].join(", "), names.len() - SHOWN + 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_is_singular() {
        assert_eq!((plural(1, "slot"), plural(0, "slot")), ("slot".to_owned(), "slots".to_owned()));
        assert_eq!(counted(2, "slot"), "2 slots");
    }

    #[test]
    fn lists_of_any_length() {
        assert_eq!(comma_list(["A1", "A2"]), "A1, A2");
        assert_eq!(or_list(["A1"]), "A1");
        let names: Vec<String> = (1..=15).map(|n| format!("A{n}")).collect();
        assert_eq!(short_list(&names[..0]), "");
        assert_eq!(short_list(&names[..2]), "A1 and A2");
        assert_eq!(short_list(&names[..6]), "A1, A2, A3, A4, A5 and A6");
        assert_eq!(short_list(&names), "A1, A2, A3, A4, A5 and 10 more");
    }
}
