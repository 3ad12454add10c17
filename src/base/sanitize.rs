//! Untrusted text made safe to print: control characters, direction overrides and invisible characters are
//! shown, not obeyed. Terminals, pages and the comments of YAML files need it.

use std::borrow::Cow;
use std::fmt::Write;

/// Shows what a terminal would obey or hide. Borrows where nothing needs showing.
pub fn sanitize(text: &str) -> Cow<'_, str> {
    if text.bytes().all(|b| (0x20..0x7F).contains(&b)) || !text.chars().any(is_unsafe) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        if is_unsafe(c) {
            // Writing to a string cannot fail.
            let _ = write!(out, "<{:02X}>", u32::from(c));
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// C0, DEL, C1, direction marks and overrides, zero-width characters, line separators, noncharacters that no YAML file
/// may have, tags.
pub(crate) fn is_unsafe(c: char) -> bool {
    c.is_control()
        || matches!(
            c,
            '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}'
                | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{fffe}' | '\u{ffff}' | '\u{e0000}'..='\u{e007f}'
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn attacks_are_shown() {
        assert_eq!(sanitize("a\x1b[31mb"), "a<1B>[31mb");
        assert_eq!(sanitize("a\r\nb\u{9b}c\u{202e}d\u{200b}"), "a<0D><0A>b<9B>c<202E>d<200B>");
        assert!(matches!(sanitize("Größe M393B"), Cow::Borrowed(_)));
    }
}
