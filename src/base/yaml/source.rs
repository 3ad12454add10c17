//! The text of one of our files, with what errors need: its name, and the lines of what it names.

use std::collections::HashMap;
use std::fmt;

use serde::Deserialize;
use serde::de::{DeserializeOwned, Deserializer, Error, SeqAccess, Visitor};

use super::error::{FileError, nearest};
use super::guard::{self, NOT_AS_WRITTEN, YamlError};

/// A file that is being read.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Source<'t> {
    /// Its name.
    pub(crate) file: &'t str,
    /// Its text.
    pub(crate) text: &'t str,
    /// What it should be, in words.
    pub(crate) what: &'static str,
    /// The page of the documentation that describes its format.
    pub(crate) page: &'static str,
}

impl Source<'_> {
    /// The file as one of our forms.
    pub(crate) fn read<T: DeserializeOwned>(&self) -> Result<T, FileError> {
        guard::from_str(self.text).map_err(|error| self.yaml_error(&error))
    }

    pub(crate) fn error(
        &self,
        line: Option<u32>,
        found: impl Into<String>,
        expected: impl Into<String>,
        advice: impl Into<String>,
    ) -> FileError {
        FileError {
            file: self.file.to_owned(),
            line,
            found: found.into(),
            expected: expected.into(),
            advice: advice.into(),
        }
    }

    /// The lines that hold `word` as a whole word outside comments, from 1.
    pub(crate) fn lines_with<'w>(&'w self, word: &'w str) -> impl Iterator<Item = u32> + 'w {
        self.text
            .lines()
            .zip(1u32..)
            .filter(move |(line, _)| holds_word(without_comment(line), word))
            .map(|(_, n)| n)
    }

    pub(crate) fn line_of(&self, word: &str) -> Option<u32> {
        // A name whose spaces were collapsed is written differently in the file; its first word still finds it.
        self.lines_with(word).next().or_else(|| self.lines_with(word.split_whitespace().next()?).next())
    }

    /// The line of every name in lists and after keys, runs of spaces collapsed: where each comes first.
    pub(crate) fn index(&self) -> HashMap<String, u32> {
        let mut lines = HashMap::new();
        for (line, number) in self.text.lines().zip(1u32..) {
            for part in without_comment(line).split(['[', ']', '{', '}', ',']) {
                let part = part.trim();
                let part = part.strip_prefix("- ").unwrap_or(part);
                let part = part.split_once(": ").map_or(part, |(_, value)| value);
                let name = part.trim().trim_matches(['"', '\'']);
                if !name.is_empty() {
                    let name = name.split_whitespace().collect::<Vec<_>>().join(" ");
                    lines.entry(name).or_insert(number);
                }
            }
        }
        lines
    }

    fn yaml_error(&self, error: &YamlError) -> FileError {
        let message = &error.message;
        let quoted = message.split('`').nth(1);
        if message.contains("unknown field")
            && let Some(key) = quoted
        {
            let known: Vec<&str> = message.split('`').skip(3).step_by(2).collect();
            let advice = match nearest(key, known.iter().copied()) {
                Some(name) => format!("Did you mean `{name}`?"),
                None => format!("Remove it, or see {} for the keys.", self.page),
            };
            let line = self.line_of(key).or(error.line);
            return self.error(
                line,
                format!("unknown key `{key}`"),
                format!("one of {}", known.join(", ")),
                advice,
            );
        }
        if message.contains("duplicate field")
            && let Some(key) = quoted
        {
            let line = self.lines_with(key).nth(1).or(error.line);
            let advice = format!("Merge the two, or remove one `{key}`.");
            return self.error(line, format!("the key `{key}` twice"), "each key once", advice);
        }
        if message.contains("missing field")
            && let Some(key) = quoted
        {
            let found = format!("no `{key}`");
            let advice = format!("Add it; {} describes every key.", self.page);
            return self.error(error.line, found, format!("the key `{key}` here"), advice);
        }
        let message = plain_words(message);
        let advice =
            format!("Mind the indentation and the colons; {} has an example to start from.", self.page);
        self.error(error.line, format!("something else ({message})"), self.what, advice)
    }

    /// An error about the value of a key.
    pub(crate) fn bad(&self, text: &str, key: &str, expected: &str) -> FileError {
        let line = self
            .text
            .lines()
            .zip(1u32..)
            .find(|(line, _)| holds_word(line, key) && line.contains(text))
            .map(|(_, line)| line)
            .or_else(|| self.line_of(key));
        self.error(
            line,
            format!("`{key}: {text}`"),
            expected.to_owned(),
            format!("Correct `{key}`, or leave it out to demand nothing."),
        )
    }
}

/// The line without its comment. `#` inside quotes is kept by the rule that a comment
/// follows a space.
pub(crate) fn without_comment(line: &str) -> &str {
    if line.trim_start().starts_with('#') {
        return "";
    }
    line.find(" #").map_or(line, |at| {
        if line[..at].matches(['"', '\'']).count().is_multiple_of(2) { &line[..at] } else { line }
    })
}

/// The library's message without the names of our types.
fn plain_words(message: &str) -> String {
    let mut plain: Vec<&str> = Vec::new();
    for word in message.split(' ') {
        match word {
            "struct" => plain.push("keys with values"),
            name if name.ends_with("Form") => {}
            word => plain.push(word),
        }
    }
    plain.join(" ")
}

/// Whether `line` holds `word` with nothing of a word on either side.
fn holds_word(line: &str, word: &str) -> bool {
    !word.is_empty()
        && line.match_indices(word).any(|(at, _)| {
            let before = line[..at].chars().next_back();
            let after = line[at + word.len()..].chars().next();
            let inside = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
            !inside(before) && !inside(after)
        })
}

/// A list of names, or one name alone.
#[derive(Debug, Default)]
pub(crate) struct Many(pub(crate) Vec<String>);

impl<'de> Deserialize<'de> for Many {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct ManyVisitor;
        impl<'de> Visitor<'de> for ManyVisitor {
            type Value = Many;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a name or a list of names")
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<Many, E> {
                Ok(Many(vec![text.to_owned()]))
            }
            fn visit_unit<E: Error>(self) -> Result<Many, E> {
                Ok(Many::default())
            }
            // The characters as written are gone by now: `0x1F` would be 31. The reader goes back for them.
            fn visit_u64<E: Error>(self, _: u64) -> Result<Many, E> {
                Err(E::custom(NOT_AS_WRITTEN))
            }
            fn visit_i64<E: Error>(self, _: i64) -> Result<Many, E> {
                Err(E::custom(NOT_AS_WRITTEN))
            }
            fn visit_u128<E: Error>(self, _: u128) -> Result<Many, E> {
                Err(E::custom(NOT_AS_WRITTEN))
            }
            fn visit_i128<E: Error>(self, _: i128) -> Result<Many, E> {
                Err(E::custom(NOT_AS_WRITTEN))
            }
            fn visit_f64<E: Error>(self, _: f64) -> Result<Many, E> {
                Err(E::custom(NOT_AS_WRITTEN))
            }
            fn visit_bool<E: Error>(self, _: bool) -> Result<Many, E> {
                Err(E::custom(NOT_AS_WRITTEN))
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut names: A) -> Result<Many, A::Error> {
                let mut all = Vec::new();
                while let Some(name) = names.next_element::<String>()? {
                    all.push(name);
                }
                Ok(Many(all))
            }
        }
        deserializer.deserialize_any(ManyVisitor)
    }
}

#[cfg(feature = "schema")]
mod schema_impls {
    use std::borrow::Cow;

    use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

    impl JsonSchema for super::Many {
        fn schema_name() -> Cow<'static, str> {
            "Names".into()
        }
        fn json_schema(_: &mut SchemaGenerator) -> Schema {
            json_schema!({ "oneOf": [
                { "type": ["string", "number"] },
                { "type": "array", "items": { "type": ["string", "number"] } },
                { "type": "null" }
            ] })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::without_comment;

    #[test]
    fn comments_are_cut() {
        assert_eq!(without_comment("a: b # c"), "a: b");
        assert_eq!(without_comment("  # c"), "");
        assert_eq!(without_comment("a: 'b # c'"), "a: 'b # c'");
    }
}
