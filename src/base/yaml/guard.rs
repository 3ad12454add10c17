//! Reading: input is weighed before the library sees it.
//!
//! The library's scanner takes quadratic time on deeply nested flow collections. Its deserializer hands repeated
//! keys on; the forms of our files are structs, whose readers refuse a key that comes twice.

use serde::de::DeserializeOwned;
use thiserror::Error;

/// The largest YAML file taken, in bytes.
const LARGEST: usize = 8 << 20;

/// The highest product of flow openers and bytes taken. The worst input found takes 1 s per 10⁹.
const HEAVIEST: u64 = 2_000_000_000;

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

#[cfg(test)]
mod tests {
    use std::time::{Duration, Instant};

    use serde::Deserialize;

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
