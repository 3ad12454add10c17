//! How wide a text is where all characters have the same width.

use unicode_width::UnicodeWidthStr;

use crate::sanitize::sanitize;

/// The width of `text` in columns once it is sanitised.
pub(super) fn columns(text: &str) -> usize {
    sanitize(text).width()
}
