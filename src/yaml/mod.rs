//! Reading and writing our YAML files, plans and board descriptions. The only file that names the library.
//!
//! The library's scanner takes quadratic time on deeply nested flow collections, so input is weighed before
//! it is read. Its deserializer passes repeated keys on; the forms of our files are structs, whose readers
//! refuse a key that comes twice.

mod error;
mod source;

pub use error::FileError;
pub(crate) use error::{did_you_mean, nearest};
pub(crate) use source::{Many, Source};

use std::fmt::Write;

use serde::de::DeserializeOwned;

use crate::sanitize::{is_unsafe, sanitize};

/// The largest YAML file taken, in bytes.
pub(crate) const LARGEST: usize = 8 << 20;

/// The highest product of flow openers and bytes taken. The worst input found takes 1 s per 10⁹.
const HEAVIEST: u64 = 2_000_000_000;

/// A refusal or an error of the library.
#[derive(Debug)]
pub(crate) struct YamlError {
    /// 1-based line, where known.
    pub(crate) line: Option<u32>,
    /// What is wrong, without the place.
    pub(crate) message: String,
}

/// Reads one YAML document.
pub(crate) fn from_str<T: DeserializeOwned>(text: &str) -> Result<T, YamlError> {
    let refuse = |message: &str| Err(YamlError { line: None, message: message.to_owned() });
    if text.len() > LARGEST {
        return refuse("more than 8 MiB");
    }
    let openers = text.bytes().filter(|b| matches!(b, b'{' | b'[')).count() as u64;
    if openers.saturating_mul(text.len() as u64) > HEAVIEST {
        return refuse("too many flow collections `{` and `[` for a file of this size");
    }
    serde_yaml::from_str(text).map_err(|error| {
        let message = error.to_string();
        let line = error.location().and_then(|place| u32::try_from(place.line()).ok());
        let message = match message.rfind(" at line ") {
            Some(at) => message[..at].to_owned(),
            None => message,
        };
        YamlError { line, message }
    })
}

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

/// Comments for the head of a file, a line each. What a comment says may come from a listing, with characters that no
/// YAML file may have or that a terminal would obey.
pub(crate) fn write_comments(out: &mut String, comments: &[String]) -> std::fmt::Result {
    comments.iter().try_for_each(|comment| writeln!(out, "# {}", sanitize(comment)))
}

/// The text with what a comment hides cut off each line. `#` inside quotes is kept by the rule that a comment
/// follows a blank.
pub(crate) fn without_comment(line: &str) -> &str {
    if line.trim_start().starts_with('#') {
        return "";
    }
    line.find(" #").map_or(line, |at| {
        if line[..at].matches(['"', '\'']).count().is_multiple_of(2) { &line[..at] } else { line }
    })
}

#[cfg(test)]
mod tests {
    use std::time::{Duration, Instant};

    use serde::Deserialize;

    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Form {
        part: Option<String>,
    }

    #[test]
    fn repeated_keys_are_refused() {
        let error = from_str::<Form>("part: a\npart: b\n").unwrap_err();
        assert!(error.message.contains("duplicate") && error.message.contains("part"), "{error:?}");
    }

    /// YAML 1.2, 5.1: what a file may have.
    #[test]
    fn foreign_characters_are_escaped() {
        for foreign in [
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
            write_comments(&mut yaml, &[format!("slot A{foreign}part: b")]).unwrap();
            yaml.push_str("part: a\n");
            assert_eq!(from_str::<Form>(&yaml).unwrap().part.as_deref(), Some("a"), "{yaml:?}");
            assert_eq!(yaml.lines().count(), 2, "{yaml:?}");
            let text = format!("say \"A\\{foreign}\"");
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

    /// The guard answers at once where the scanner alone would take minutes; the bound here is generous.
    #[test]
    fn heavy_input_is_refused() {
        let start = Instant::now();
        assert!(from_str::<Form>(&"{a: ".repeat(200_000)).is_err());
        assert!(from_str::<Form>(&"a".repeat(LARGEST + 1)).is_err());
        assert!(from_str::<Form>(&"[".repeat(30_000)).is_err());
        assert!(start.elapsed() < Duration::from_secs(20));
    }

    #[test]
    fn comments_are_cut() {
        assert_eq!(without_comment("a: b # c"), "a: b");
        assert_eq!(without_comment("  # c"), "");
        assert_eq!(without_comment("a: 'b # c'"), "a: 'b # c'");
    }
}
