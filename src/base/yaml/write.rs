//! Writing: what is written reads back as the same text.

use std::fmt::Write;

use crate::sanitize::{is_unsafe, sanitize};

/// A scalar that reads back as the same string, quoted where YAML would read something else. What a terminal would
/// obey or hide is written as an escape (YAML 1.2, 5.7), which the library does for some of it only.
pub(crate) fn scalar(text: &str) -> String {
    if text.chars().any(is_unsafe) {
        let mut out = String::from('"');
        for c in text.chars() {
            // Writing to a string cannot fail.
            let _ = match c {
                '"' | '\\' => write!(out, "\\{c}"),
                _ if is_unsafe(c) => write!(out, "\\U{:08X}", u32::from(c)),
                _ => write!(out, "{c}"),
            };
        }
        out.push('"');
        return out;
    }
    serde_yaml::to_string(text).map_or_else(|_| format!("{text:?}"), |yaml| yaml.trim_end().to_owned())
}

/// Comments for the head of a file, a line each. What a comment says can come from a listing, with characters that no
/// YAML file may have or that a terminal would obey.
pub(crate) fn write_comments(out: &mut String, comments: &[String]) -> std::fmt::Result {
    comments.iter().try_for_each(|comment| writeln!(out, "# {}", sanitize(comment)))
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;

    use super::*;
    use crate::base::yaml::from_str;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Form {
        part: Option<String>,
    }

    /// YAML 1.2, 5.1: what a file may have.
    #[test]
    fn untrusted_characters_are_escaped() {
        for unsafe_character in [
            '\0',
            '\u{e}',
            '\n',
            '\r',
            '\u{7f}',
            '\u{85}',
            '\u{9b}',
            '\u{2028}',
            '\u{202e}',
            '\u{e0001}',
            '\u{feff}',
            '\u{fffe}',
            '\u{ffff}',
        ] {
            let mut yaml = String::new();
            write_comments(&mut yaml, &[format!("slot A{unsafe_character}part: b")]).unwrap();
            yaml.push_str("part: a\n");
            assert_eq!(from_str::<Form>(&yaml).unwrap().part.as_deref(), Some("a"), "{yaml:?}");
            assert_eq!(yaml.lines().count(), 2, "{yaml:?}");
            let text = format!("say \"A\\{unsafe_character}\"");
            let yaml = format!("part: {}\n", scalar(&text));
            assert_eq!(from_str::<Form>(&yaml).unwrap().part, Some(text), "{yaml:?}");
            assert_eq!(sanitize(yaml.trim_end()), yaml.trim_end());
        }
    }

    #[test]
    fn scalars_stay_text() {
        for text in ["12345", "0x10", "1e3", "no", "00012", "~"] {
            let yaml = format!("part: {}\n", scalar(text));
            assert_eq!(from_str::<Form>(&yaml).unwrap().part.as_deref(), Some(text), "{yaml}");
        }
    }
}
