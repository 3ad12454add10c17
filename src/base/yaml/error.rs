//! Errors of plans and board descriptions: where, what was found, what was expected, what to do.

use thiserror::Error;

/// Why a file of ours cannot be used.
#[derive(Debug, Clone, Error, PartialEq, Eq)]
#[error("{file}:{} found {found}, expected {expected}. {advice}", position(*.line))]
pub struct FileError {
    /// The file's name.
    pub file: String,
    /// 1-based line; `None` where the whole file is meant.
    pub line: Option<u32>,
    /// What was found there.
    pub found: String,
    /// What was expected there.
    pub expected: String,
    /// What to do.
    pub advice: String,
}

fn position(line: Option<u32>) -> String {
    line.map_or_else(String::new, |line| format!("{line}:"))
}

/// The nearest of `names` to a mistyped `word`, as a sentence; empty where none is near.
pub(crate) fn did_you_mean<'n>(word: &str, names: impl Iterator<Item = &'n str>) -> String {
    match nearest(word, names) {
        Some(name) => format!("Did you mean `{name}`?"),
        None => String::new(),
    }
}

/// The nearest of `names` to `word`.
pub(crate) fn nearest<'n>(word: &str, names: impl Iterator<Item = &'n str>) -> Option<&'n str> {
    let names: Vec<&str> = names.collect();
    // Case and separators are what people mistype most; a name that differs in nothing else wins.
    let plain = |text: &str| -> String {
        text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
    };
    let wanted = plain(word);
    if let Some(name) = names.iter().find(|name| !wanted.is_empty() && plain(name) == wanted) {
        return Some(name);
    }
    similar::get_close_matches(word, &names, 1, 0.6).first().copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_name_is_offered() {
        let names = ["P1-DIMMA1", "P1-DIMMB1", "P2-DIMMA1"];
        assert_eq!(nearest("P1-DIMM-A1", names.into_iter()), Some("P1-DIMMA1"));
        assert_eq!(nearest("p2_dimma1", names.into_iter()), Some("P2-DIMMA1"));
        assert_eq!(nearest("banana", names.into_iter()), None);
    }
}
