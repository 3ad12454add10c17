//! The two sides of a page: what is read, and the markup that carries it.

use regex::Regex;
use scraper::{ElementRef, Html, Node};

use super::without_hashes;
use crate::util::html::all;

/// Elements whose text runs on in the line.
const INLINE: &[&str] = &[
    "a", "abbr", "b", "code", "del", "em", "i", "ins", "kbd", "label", "mark", "s", "small", "span",
    "strong", "tspan", "time", "u", "var",
];

/// Elements whose text nobody reads.
const UNSEEN: &[&str] = &["script", "style", "template"];

/// The visible text of a page: a line for each block and each row of a table.
pub fn visible(html: &str) -> String {
    let page = Html::parse_document(html);
    let mut text = String::new();
    for part in all(&page, "title").into_iter().chain(all(&page, "body")) {
        read(part, &mut text);
    }
    let lines = text.lines().map(squeezed).filter(|line| !line.is_empty());
    lines.map(|line| line + "\n").collect()
}

fn squeezed(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn read(element: ElementRef<'_>, text: &mut String) {
    let name = element.value().name();
    if UNSEEN.contains(&name) {
        return;
    }
    let around = if INLINE.contains(&name) { "" } else { "\n" };
    text.push_str(around);
    match name {
        // Cells side by side.
        "tr" => {
            let cells = element.child_elements().map(|cell| {
                let mut text = String::new();
                read(cell, &mut text);
                squeezed(&text)
            });
            text.push_str(&cells.collect::<Vec<_>>().join(" | "));
        }
        // To a reader with scripts, what replaces them is plain text.
        "noscript" => {
            let inside = Html::parse_fragment(&element.text().collect::<String>());
            read(inside.root_element(), text);
        }
        _ => {
            for child in element.children() {
                match child.value() {
                    Node::Text(own) => text.push_str(&own.replace('\n', " ")),
                    Node::Element(_) => read(ElementRef::wrap(child).unwrap(), text),
                    _ => {}
                }
            }
        }
    }
    text.push_str(around);
}

/// The markup of a page, a line for each tag that follows another; sheets and scripts have files of their own.
pub fn markup(html: &str) -> String {
    let own = Regex::new("(?s)<(style|script)([^>]*)>.*?</(?:style|script)>").unwrap();
    let short = own.replace_all(html, "<$1$2>[…]</$1>");
    without_hashes(&short.replace("><", ">\n<"))
}
