//! The form for a browser: one file without anything from elsewhere, that opens from a stick.
//!
//! Foreign text passes two gates: `maud` escapes what is markup, and [`document`] shows what a browser would obey or
//! hide. A policy in each page allows its own sheet and script and nothing else.

mod audit;
mod board;
mod comparison;
mod diagnosis;
mod findings;
mod fleet;
mod order;
mod population;
mod slots;

use std::fmt::Write as _;

use maud::{DOCTYPE, Markup, PreEscaped, Render, html};

pub use audit::audit_page;
pub use comparison::comparison_page;
pub use diagnosis::diagnosis_page;
pub use fleet::{FleetPages, HostPage, HostPages, WritePage};
pub use population::population_page;

use super::layout::Tone;
use crate::audit::Severity;
use crate::sanitize::{is_unsafe, sanitize};

/// A sheet or a script that stands in the page, with its hash for the page's policy. A test says what the hash is
/// when the file changes.
#[derive(Debug, Clone, Copy)]
struct Asset {
    text: &'static str,
    sha256: &'static str,
}

const STYLE: Asset =
    Asset { text: include_str!("style.css"), sha256: "RN8dVGlxyBNSGygzRe8Jq89Qs7i3RTEQKiNmh+ulEJg=" };
const BOARD_SCRIPT: Asset =
    Asset { text: include_str!("board.js"), sha256: "sibYJlGZRkKxNj3abIj+fZKMhhs6hTfos28su8wJY6o=" };
const FLEET_SCRIPT: Asset =
    Asset { text: include_str!("fleet.js"), sha256: "ds9kad30T6Zz/J2BqrzJ+5ISaty4xYoOgeTZb0yGaLM=" };

/// What marks a verdict, a finding or a slot: a shape, a sign and a word, so that colour is never needed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sign {
    Fault,
    Warning,
    Unproven,
    Good,
}

impl Sign {
    fn word(self) -> &'static str {
        match self {
            Self::Fault => "fault",
            Self::Warning => "warning",
            Self::Unproven => "unproven",
            Self::Good => "good",
        }
    }

    /// The shape in a square of 20.
    fn shape(self) -> Markup {
        let (outline, sign) = match self {
            // Eight corners with a stroke and a dot, three with the same, a circle with an open hook, a tick.
            Self::Fault => ("M6 1h8l5 5v8l-5 5H6l-5-5V6z", "M10 5v6M10 15v.1"),
            Self::Warning => ("M10 1l9.5 17.5H.5z", "M10 7.5v5M10 15.7v.1"),
            Self::Unproven => (
                "M10 .8a9.2 9.2 0 1 0 0 18.4a9.2 9.2 0 1 0 0-18.4z",
                "M7 7.4a3 3 0 1 1 4.4 2.6q-1.4.8-1.4 2M10 15.2v.1",
            ),
            Self::Good => ("M1 3h18v14H1z", "M5.5 10.2l3 3 6-6.4"),
        };
        html! {
            path .mark.(self.word()) d=(outline) {}
            path .sign d=(sign) {}
        }
    }

    /// The shape beside a word.
    fn icon(self) -> Markup {
        html! {
            svg .icon viewBox="0 0 20 20" aria-hidden="true" { use href={ "#mark-" (self.word()) } {} }
        }
    }
}

impl From<Severity> for Sign {
    fn from(severity: Severity) -> Self {
        match severity {
            Severity::Fault => Self::Fault,
            Severity::Warning => Self::Warning,
            Severity::Unproven => Self::Unproven,
        }
    }
}

impl From<Tone> for Sign {
    fn from(tone: Tone) -> Self {
        match tone {
            Tone::Bad => Self::Fault,
            Tone::Good => Self::Good,
            // What is not said to be good has no tick.
            Tone::Doubt | Tone::Plain | Tone::Heading | Tone::Quiet => Self::Unproven,
        }
    }
}

/// The shapes, to be used by name.
fn shapes() -> Markup {
    html! {
        svg .defs aria-hidden="true" focusable="false" {
            @for sign in [Sign::Fault, Sign::Warning, Sign::Unproven, Sign::Good] {
                symbol id={ "mark-" (sign.word()) } viewBox="0 0 20 20" { (sign.shape()) }
            }
        }
    }
}

/// The verdict in one line.
fn verdict(sign: Sign, text: &str) -> Markup {
    html! {
        h1 { (sign.icon()) span { (text) } }
    }
}

/// Keys and texts.
fn facts(facts: &[(&str, String)]) -> Markup {
    html! {
        dl .facts {
            @for (key, text) in facts {
                dt { (key) }
                dd { (text) }
            }
        }
    }
}

/// A table that scrolls by itself where it is too wide. Each heading with whether its column has numbers; `title` is
/// the `id` of what names it.
fn table(title: &str, heads: &[(&str, bool)], rows: &Markup) -> Markup {
    html! {
        div .scroll tabindex="0" role="group" aria-labelledby=(title) {
            table {
                thead { tr { @for (head, number) in heads { th scope="col" class=[number.then_some("number")] { (head) } } } }
                (rows)
            }
        }
    }
}

/// `DEVIATES FROM THE PLAN: 1 fault` as a sentence.
fn sentence(headline: &str) -> String {
    let (shouted, rest) = headline.split_once(':').map_or((headline, None), |(a, b)| (a, Some(b)));
    // Units are no shouting.
    let word =
        |word: &str| if word.contains(char::is_lowercase) { word.to_owned() } else { word.to_lowercase() };
    let mut text = shouted.split(' ').map(word).collect::<Vec<_>>().join(" ");
    if let Some(first) = text.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    rest.map_or(text.clone(), |rest| format!("{text}:{rest}"))
}

/// A page but for its frame.
struct Content<'c> {
    title: &'c str,
    header: Markup,
    main: Markup,
    script: Option<Asset>,
}

/// The whole page.
fn document(content: &Content<'_>) -> String {
    let (head, tail) = frame(content);
    head + &tail
}

/// The page up to the place where data may stand, and the rest of it.
fn frame(content: &Content<'_>) -> (String, String) {
    let Content { title, header, main, script } = content;
    let mut policy = format!("default-src 'none'; style-src 'sha256-{}'", STYLE.sha256);
    if let Some(script) = script {
        // Writing to a string cannot fail.
        let _ = write!(policy, "; script-src 'sha256-{}'", script.sha256);
    }
    policy.push_str("; base-uri 'none'; form-action 'none'");
    let head = html! {
        (DOCTYPE)
        (PreEscaped("<html lang=\"en\">"))
        head {
            meta charset="utf-8";
            meta http-equiv="Content-Security-Policy" content=(policy);
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta name="referrer" content="no-referrer";
            title { (title) }
            style { (PreEscaped(STYLE.text)) }
        }
        (PreEscaped("<body>"))
        a .skip href="#main" { "To the content" }
        (shapes())
        header { (header) }
        main #main { (main) }
        footer {
            p {
                "Written by asfitted " (env!("CARGO_PKG_VERSION"))
                ". What the evidence does not show is unproven, never passed and never failed."
            }
        }
    };
    let tail = html! {
        @if let Some(script) = script {
            script { (PreEscaped(script.text)) }
        }
        (PreEscaped("</body></html>\n"))
    };
    (shown(&head.into_string()), tail.into_string())
}

/// Shows what a browser would obey or hide, as [`sanitize`] does for terminals. Nothing of ours has such characters
/// but line breaks, so that all of them are foreign.
fn shown(markup: &str) -> String {
    if !markup.chars().any(|c| is_unsafe(c) && c != '\n') {
        return markup.to_owned();
    }
    let mut out = String::with_capacity(markup.len() + 64);
    for c in markup.chars() {
        if is_unsafe(c) && c != '\n' {
            // Writing to a string cannot fail.
            let _ = write!(out, "&lt;{:02X}&gt;", u32::from(c));
        } else {
            out.push(c);
        }
    }
    out
}

/// JSON that can stand in a script element, where only `</script` and comments would end it.
fn embedded(value: &impl serde::Serialize) -> Vec<u8> {
    // Our own types always serialise.
    let json = serde_json::to_string(value).unwrap_or_default();
    json.replace('<', "\\u003c").into_bytes()
}

/// Text of others for a script, which shows it as it is.
fn text(text: &str) -> String {
    sanitize(text).into_owned()
}

/// Where the script shows the chosen slot.
fn panel() -> Markup {
    html! {
        div #panel .panel tabindex="-1" role="region" aria-label="The chosen slot" hidden {}
    }
}

/// A list with commas of links or words.
fn joined(items: Vec<Markup>) -> Markup {
    html! {
        @for (at, item) in items.into_iter().enumerate() {
            @if at > 0 { ", " }
            (item.render())
        }
    }
}

#[cfg(test)]
mod tests {
    use base64::Engine;
    use sha2::Digest;

    use super::*;

    /// A browser refuses a sheet or script whose hash is another.
    #[test]
    fn hashes_are_those_of_the_assets() {
        let name = ["STYLE", "BOARD_SCRIPT", "FLEET_SCRIPT"];
        for (name, asset) in name.into_iter().zip([STYLE, BOARD_SCRIPT, FLEET_SCRIPT]) {
            let hash = base64::engine::general_purpose::STANDARD.encode(sha2::Sha256::digest(asset.text));
            assert_eq!(asset.sha256, hash, "{name} has changed; this is its hash now");
            assert!(asset.text.is_ascii() && !asset.text.contains("</"), "{name}");
        }
    }

    #[test]
    fn what_a_browser_obeys_is_shown() {
        assert_eq!(shown("a\u{202e}b\u{1b}[1m\nc"), "a&lt;202E&gt;b&lt;1B&gt;[1m\nc");
        assert_eq!(embedded(&"</script><!--"), b"\"\\u003c/script>\\u003c!--\"");
    }

    #[test]
    fn headlines_become_sentences() {
        assert_eq!(sentence("DEVIATES FROM THE PLAN: 1 fault"), "Deviates from the plan: 1 fault");
        assert_eq!(sentence("AS PLANNED"), "As planned");
        assert_eq!(sentence("16 GiB ARE NOT DETECTED"), "16 GiB are not detected");
    }
}
