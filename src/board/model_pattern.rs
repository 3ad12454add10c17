//! The patterns by which processors are recognised, compiled once when a description is read.

use std::fmt;
use std::sync::Arc;

use regex::Regex;

/// A regular expression for the model text of a processor, such as `X56`. Two of them are equal if their texts are.
#[derive(Clone)]
pub struct ModelPattern {
    text: String,
    /// Shared, since boards are copied for every machine that they are adapted to.
    regex: Arc<Regex>,
    literals: usize,
}

impl ModelPattern {
    /// Compiles `text`; `None` for an empty text or one that is not a regular expression.
    pub fn new(text: &str) -> Option<Self> {
        if text.is_empty() {
            return None;
        }
        let regex = Arc::new(Regex::new(text).ok()?);
        Some(Self { text: text.to_owned(), regex, literals: literals(text) })
    }

    /// The expression as written.
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// Whether it finds the processor in its model text.
    pub fn is_match(&self, model: &str) -> bool {
        self.regex.is_match(model)
    }

    /// How specific it is: the number of characters that stand for themselves.
    pub(super) fn literals(&self) -> usize {
        self.literals
    }
}

impl fmt::Debug for ModelPattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("ModelPattern").field(&self.text).finish()
    }
}

impl fmt::Display for ModelPattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.text)
    }
}

impl PartialEq for ModelPattern {
    fn eq(&self, other: &Self) -> bool {
        self.text == other.text
    }
}

impl Eq for ModelPattern {}

/// Number of characters of an expression that stand for themselves: all but classes and escapes.
fn literals(text: &str) -> usize {
    let (mut count, mut inside, mut escaped) = (0, false, false);
    for c in text.chars() {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '[' => inside = true,
            ']' => inside = false,
            _ if !inside => count += 1,
            _ => {}
        }
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_are_compiled_and_compared_by_text() {
        let pattern = ModelPattern::new("E5-26\\d\\d v3").unwrap();
        assert!(pattern.is_match("Xeon E5-2680 v3") && !pattern.is_match("Xeon E5-2680 v2"));
        assert_eq!(pattern.literals(), 8);
        assert_eq!(Some(pattern), ModelPattern::new("E5-26\\d\\d v3"));
        assert_eq!((ModelPattern::new(""), ModelPattern::new("(")), (None, None));
    }
}
