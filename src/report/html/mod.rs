//! For a browser: one file without anything from elsewhere, that opens from a stick.
//!
//! Untrusted text passes two gates: `maud` escapes what is markup, and [`document`] shows what a browser would obey or
//! hide. A policy in each page allows its own sheet and script and nothing else.

mod audit;
mod board;
mod comparison;
mod diagnosis;
mod findings;
mod fleet;
mod mark;
mod order;
mod population;
mod slots;

use std::fmt::Write as _;
use std::io;

use maud::{DOCTYPE, Markup, PreEscaped, Render, html};

pub use audit::audit_page;
pub use comparison::comparison_page;
pub use diagnosis::diagnosis_page;
pub use fleet::{FleetPages, HostPage, HostPages, WritePage};
pub use population::population_page;

use super::view::{Fact, Mark, Socket, typed};
use super::{Output, Report};
use crate::sanitize::{is_unsafe, sanitize};
use mark::shapes;

/// A result as a page; `None` where it has none.
///
/// # Errors
/// Those of writing to memory, which do not happen.
pub fn as_html(report: &Report<'_>) -> io::Result<Option<Output>> {
    let page = match report {
        Report::Audit(diagnosis) => audit_page(diagnosis),
        Report::Diagnosis(diagnosis, shortfall) => diagnosis_page(diagnosis, shortfall),
        Report::Population(case) => population_page(case),
        Report::Comparison(comparison) => comparison_page(comparison),
        Report::PlanCheck(_)
        | Report::Plan(..)
        | Report::Capture(..)
        | Report::Parts(_)
        | Report::Classes
        | Report::Files(_) => return Ok(None),
    };
    Ok(Some(Output::Plain(page.into_bytes())))
}

/// A sheet or a script that is put into the page, with its hash for the page's policy. A test says what the hash is
/// when the file changes.
#[derive(Debug, Clone, Copy)]
struct Asset {
    text: &'static str,
    sha256: &'static str,
}

const STYLE: Asset =
    Asset { text: include_str!("style.css"), sha256: "ShUX90gfVLyCTCPShlsXtgr3trzdXeFD7iQiKuBv4/I=" };
const BOARD_SCRIPT: Asset =
    Asset { text: include_str!("board.js"), sha256: "sibYJlGZRkKxNj3abIj+fZKMhhs6hTfos28su8wJY6o=" };
const FLEET_SCRIPT: Asset =
    Asset { text: include_str!("fleet.js"), sha256: "j7jU9j5Y3Z61uVP4dPd0Zs1RjSzTyBkchDpszOVxiDY=" };

/// The verdict in one line.
fn verdict(mark: Mark, text: &str) -> Markup {
    html! {
        h1 { (mark.icon()) span { (text) } }
    }
}

/// Keys and texts.
fn facts(facts: &[Fact]) -> Markup {
    html! {
        dl .facts {
            @for fact in facts {
                dt { (fact.key) }
                dd { (fact.text) }
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

/// The page up to the place where data may be, and the rest of it.
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
/// but line breaks, so that all of them come from the input.
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

/// JSON that can be put in a script element, where only `</script` and comments would end it.
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

/// A text in which what is to be typed is set as such, in place of grave accents.
fn with_code(text: &str) -> Markup {
    html! {
        @for (piece, is_typed) in typed(text) {
            @if is_typed { code { (piece) } } @else { (piece) }
        }
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
}
