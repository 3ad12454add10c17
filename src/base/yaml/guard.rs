//! Reading: input is weighed before the library sees it.
//!
//! The library's scanner takes quadratic time on deeply nested flow collections. Its deserializer hands repeated
//! keys on; the forms of our files are structs, whose readers refuse a key that comes twice.
//!
//! A scalar that is read as text stays as written. Where a text may also be a list, the library has to be asked what
//! is there, and then it hands on `0x1F` as the number 31. The form refuses that with [`NOT_AS_WRITTEN`], and the
//! scalar is put in quotes, at the place that the library names, and read again.

use std::borrow::Cow;

use serde::de::DeserializeOwned;
use thiserror::Error;

/// The largest YAML file taken, in bytes.
const LARGEST: usize = 8 << 20;

/// The highest product of flow openers and bytes taken. The worst input found takes 1 s per 10⁹.
const HEAVIEST: u64 = 2_000_000_000;

/// What a form says of a scalar that it needs as text and was given as a number.
pub(super) const NOT_AS_WRITTEN: &str = "a name or number that must be in quotes or in a list";

/// How many bytes may be read again for the sake of scalars that must stay as written: seconds at worst.
const READ_AGAIN: usize = 64 << 20;

/// A refusal or an error of the library.
#[derive(Debug, Clone, Error, PartialEq, Eq)]
#[error("{message}")]
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
    let mut text = Cow::Borrowed(text);
    let mut left = READ_AGAIN;
    loop {
        let error = match serde_yaml::from_str(&text) {
            Ok(form) => return Ok(form),
            Err(error) => error,
        };
        match quoted_at(&text, &error).filter(|_| left >= text.len()) {
            Some(quoted) => {
                left -= text.len();
                text = Cow::Owned(quoted);
            }
            None => return Err(YamlError::from(&error)),
        }
    }
}

/// The text with the plain scalar in quotes that a form needs as written; `None` for any other error.
fn quoted_at(text: &str, error: &serde_yaml::Error) -> Option<String> {
    if !error.to_string().contains(NOT_AS_WRITTEN) {
        return None;
    }
    let at = error.location()?.index();
    let rest = text.get(at..)?;
    // What the library takes for a number or a truth value has no blanks, and no quotes that would need an escape.
    let length =
        rest.find(|c: char| !(c.is_ascii_alphanumeric() || "+-._".contains(c))).unwrap_or(rest.len());
    if length == 0 {
        return None;
    }
    let (scalar, rest) = rest.split_at(length);
    Some(format!("{}'{scalar}'{rest}", text.get(..at)?))
}

impl From<&serde_yaml::Error> for YamlError {
    fn from(error: &serde_yaml::Error) -> Self {
        let message = error.to_string();
        let line = error.location().and_then(|place| u32::try_from(place.line()).ok());
        let message = match message.rfind(" at line ") {
            Some(at) => message[..at].to_owned(),
            None => message,
        };
        Self { line, message }
    }
}

#[cfg(test)]
mod tests {
    use std::time::{Duration, Instant};

    use serde::Deserialize;

    use super::super::Many;
    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Form {
        #[expect(dead_code, reason = "only whether it is read matters")]
        part: Option<String>,
    }

    #[test]
    fn repeated_keys_are_refused() {
        let error = from_str::<Form>("part: a\npart: b\n").unwrap_err();
        assert!(error.message.contains("duplicate") && error.message.contains("part"), "{error:?}");
    }

    /// As the only name or in a list, quoted or not, after text of other alphabets, and many times in one file.
    #[test]
    fn names_stay_as_they_are_written() {
        #[derive(Debug, Deserialize)]
        #[serde(deny_unknown_fields)]
        struct Names {
            #[serde(default)]
            name: Option<String>,
            names: Many,
        }
        let words = [
            "0x1F",
            "0o17",
            "0b1010",
            "1e3",
            "1_000",
            ".inf",
            "-.INF",
            ".nan",
            "000051E6",
            "12",
            "007",
            "-5",
            "+5",
            "yes",
            "no",
            "on",
            "true",
            "False",
            "1.50",
            "18446744073709551616",
            "-170141183460469231731687303715884105728",
        ];
        for word in words {
            for (before, after) in
                [("", ""), ("'", "'"), ("\"", "\""), ("[", "]"), ("['", "']"), ("\n  - ", "")]
            {
                let text = format!("# größer\nname: {word}\nnames: {before}{word}{after} # a comment\n");
                let read = from_str::<Names>(&text).unwrap_or_else(|error| panic!("{text}: {error}"));
                assert_eq!(read.names.0, [word], "{text}");
                assert_eq!(read.name.as_deref(), Some(word), "{text}");
            }
            assert_eq!(from_str::<Names>(&format!("{{names: {word}}}")).unwrap().names.0, [word]);
        }
        let many: String = (0..200).map(|n| format!("- {{names: 0x{n:02X}}}\n")).collect();
        let read = from_str::<Vec<Names>>(&many).unwrap();
        assert!(read.iter().enumerate().all(|(n, names)| names.names.0 == [format!("0x{n:02X}")]));
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
}
