//! Singular and plural, lists, and the shape of sentences.

/// `1 fault`, `3 faults`.
pub(super) fn count_of(count: usize, one: &str, many: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {many}") }
}

/// A text in pieces, and whether each stood between grave accents: what is to be typed or looked for as it is. One accent
/// without another stays.
pub(crate) fn typed(text: &str) -> Vec<(&str, bool)> {
    let pieces: Vec<&str> = text.split('`').collect();
    if pieces.len().is_multiple_of(2) {
        return vec![(text, false)];
    }
    pieces.into_iter().enumerate().map(|(at, piece)| (piece, at % 2 == 1)).collect()
}

/// A clause as a sentence of its own.
pub(super) fn sentence(clause: &str) -> String {
    format!("{}.", capital(clause))
}

/// The text with a capital at its start.
pub(super) fn capital(text: &str) -> String {
    let mut text = text.to_owned();
    if let Some(first) = text.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    text
}
