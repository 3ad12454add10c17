//! The pages for a browser: the same findings as in the JSON by an independent reader of HTML, sizes, folders, and
//! a real browser where there is one.

mod against_json;
mod browser;
mod fleet;
mod hostile;
mod marks;
mod size;

use std::collections::BTreeSet;
use std::path::Path;

use scraper::{ElementRef, Html};
use serde_json::Value;

use crate::util::command::asfitted;
use crate::util::html::{all, cells, select, text_of};

/// Runs a command as JSON and as a page.
fn both(arguments: &[&str], folder: &Path) -> (Value, Html) {
    let run = |format: &str| {
        let output =
            asfitted().current_dir(folder).args(arguments).args(["--format", format]).output().unwrap();
        assert_ne!(output.status.code(), Some(2), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    };
    let json = run("json");
    (serde_json::from_str(&json).unwrap(), Html::parse_document(&run("html")))
}

fn strings<'v>(value: &'v Value, key: &str) -> Vec<&'v str> {
    value[key].as_array().unwrap().iter().map(|item| item.as_str().unwrap()).collect()
}

/// Every finding, cause, line of evidence and step of the JSON is on the page, and nothing else is.
fn same_findings(json: &Value, page: &Html, what: &str) {
    let findings = json["findings"].as_array().unwrap();
    let paragraphs = all(page, "main > * article p[data-finding]");
    assert_eq!(paragraphs.len(), findings.len(), "{what}");
    let mut taken = vec![false; paragraphs.len()];
    for finding in findings {
        let slots = strings(finding, "slots").join(", ");
        let says = |element: &ElementRef<'_>| {
            let own = text_of(*element);
            let article = ElementRef::wrap(element.parent().unwrap()).unwrap();
            let heading = text_of(article.select(&select("h3")).next().unwrap());
            let whole = text_of(article);
            let squeezed =
                |text: &Value| text.as_str().unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
            element.value().attr("data-finding") == finding["kind"].as_str()
                && heading.contains(&format!("({})", finding["severity"].as_str().unwrap()))
                && (slots.is_empty() || own.contains(&slots))
                && (heading.contains(&squeezed(&finding["summary"]))
                    || own.contains(&squeezed(&finding["summary"])))
                && finding["other_slot"]
                    .as_str()
                    .is_none_or(|other| own.ends_with(other) || own.contains(other))
                && strings(finding, "fields").iter().all(|field| own.contains(field))
                && whole.contains(&squeezed(&finding["expected"]))
                && whole.contains(&squeezed(&finding["found"]))
                && finding["evidence"].as_array().unwrap().iter().all(|line| {
                    let at = format!("{} line {}", line["source"].as_str().unwrap(), line["line"]);
                    whole.contains(&at) && whole.contains(&squeezed(&line["text"]))
                })
                && finding["causes"].as_array().unwrap().iter().all(|cause| {
                    ["cause", "why", "check", "likelihood"]
                        .iter()
                        .all(|key| whole.contains(&squeezed(&cause[*key])))
                })
        };
        let at = (0..paragraphs.len()).find(|at| !taken[*at] && says(&paragraphs[*at]));
        let at = at.unwrap_or_else(|| panic!("{what}: not on the page: {finding:#}"));
        taken[at] = true;
    }
    let evidence: usize = findings.iter().map(|finding| finding["evidence"].as_array().unwrap().len()).sum();
    assert_eq!(all(page, "article .lines li").len(), evidence, "{what}");
    // On the page what is to be typed is set as such, without grave accents.
    let plain = |text: String| text.replace('`', "");
    let steps: Vec<String> =
        strings_of(json["work"].as_array().unwrap(), "text").into_iter().map(plain).collect();
    let shown: Vec<String> = all(page, "[data-step]").into_iter().map(text_of).map(plain).collect();
    assert_eq!(shown, steps, "{what}");
}

/// Marks of slots, the gravest first.
pub const GRAVE: [&str; 3] = ["fault", "warning", "unproven"];

fn strings_of(items: &[Value], key: &str) -> Vec<String> {
    let squeezed = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    items.iter().map(|item| squeezed(item[key].as_str().unwrap())).collect()
}

/// Every slot of the JSON has its row and its place in the drawing, with the same module.
fn same_slots(json: &Value, page: &Html, what: &str) {
    let slots = json["slots"].as_array().unwrap();
    // What the plan names and the listing does not have comes last.
    let (unlisted, mut listed): (Vec<&Value>, Vec<&Value>) =
        slots.iter().partition(|slot| slot["state"] == "unlisted");
    listed.extend(unlisted);
    let rows = all(page, "tr[id^=slot-]");
    let drawn = all(page, "a.slot");
    assert_eq!((rows.len(), drawn.len()), (listed.len(), listed.len()), "{what}");
    for (index, slot) in listed.iter().enumerate() {
        let row = all(page, &format!("#slot-{index}"))[0];
        let cells = cells(row);
        assert_eq!(Some(cells[0].as_str()), slot["slot"].as_str(), "{what}");
        let parts = ["socket", "channel", "position"].map(|key| place_of(slot, key));
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        let place = if parts.is_empty() { "unproven".to_owned() } else { parts.join(", ") };
        assert_eq!(cells[1], place, "{what}");
        let there = &cells[cells.len() - if cells.len() == 6 { 3 } else { 2 }];
        match slot["state"].as_str().unwrap() {
            "empty" => assert_eq!(there, "empty", "{what}"),
            "unknown" => assert_eq!(there, "not stated", "{what}"),
            "unlisted" => assert_eq!(there, "not in the listing", "{what}"),
            _ => {
                for key in ["part", "serial"] {
                    let Some(text) = slot["found"][key].as_str() else { continue };
                    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
                    assert!(there.contains(&text), "{what}: {there} lacks {text}");
                }
            }
        }
        let link = all(page, &format!("a.slot[href=\"#slot-{index}\"]"));
        assert_eq!(link.len(), 1);
        same_drawing(json, slot, link[0], what);
    }
}

/// `socket 1`, as the JSON has it.
fn place_of(slot: &Value, key: &str) -> Option<String> {
    let value = slot[key].as_str().map_or_else(|| slot[key].to_string(), str::to_owned);
    (!slot[key].is_null()).then(|| format!("{key} {value}"))
}

/// A slot is drawn in its socket and channel, and looks like what it holds.
fn same_drawing(json: &Value, slot: &Value, drawn: ElementRef<'_>, what: &str) {
    let name = slot["slot"].as_str().unwrap();
    let spoken = drawn.value().attr("aria-label").unwrap();
    let squeezed = |text: &str| text.split_whitespace().collect::<String>();
    assert_eq!(squeezed(&text_of(drawn.select(&select(".label")).next().unwrap())), squeezed(name), "{what}");
    assert!(spoken.starts_with(name) && spoken.contains(&format!(". {name}: ")), "{what}: {spoken}");
    // Its socket is the caption's, its channel the last title before it in the drawing.
    let figure = drawn.ancestors().filter_map(ElementRef::wrap).find(|own| own.value().name() == "figure");
    let caption = text_of(figure.unwrap().select(&select("figcaption")).next().unwrap());
    match place_of(slot, "socket") {
        Some(socket) => assert_eq!(caption.split(',').next(), Some(socket.as_str()), "{what}: {name}"),
        None if slot["state"] == "unlisted" => assert_eq!(caption, "planned, and not in the listing"),
        None => assert!(caption.contains("prove"), "{what}: {name} is in {caption}"),
    }
    if let Some(channel) = slot["channel"].as_str() {
        let before =
            drawn.prev_siblings().filter_map(ElementRef::wrap).find(|own| own.value().name() == "text");
        assert_eq!(text_of(before.unwrap()), format!("ch {channel}"), "{what}: {name}");
    }
    same_look(json, slot, drawn, what);
}

/// A slot is drawn filled, lost or empty, and marked by the gravest finding about it.
fn same_look(json: &Value, slot: &Value, drawn: ElementRef<'_>, what: &str) {
    let name = slot["slot"].as_str().unwrap();
    let spoken = drawn.value().attr("aria-label").unwrap();
    let squeezed = |text: &str| text.split_whitespace().collect::<String>();
    let state = slot["state"].as_str().unwrap();
    let look = match state {
        "fitted" | "not-running" => "filled",
        _ if slot.get("planned").is_some_and(|planned| !planned.is_null()) => "lost",
        _ => "empty",
    };
    let classes: BTreeSet<&str> = drawn.value().classes().filter(|class| *class != "slot").collect();
    let says: Vec<String> = drawn.select(&select(".says")).map(text_of).collect();
    let shapes = drawn.select(&select("path.mark")).count();
    if json["format"] == "asfitted.population" {
        let mark = match state {
            "not-running" => Some(("fault", "not running")),
            "unknown" => Some(("unproven", "unknown")),
            _ => None,
        };
        let wanted = [look].into_iter().chain(mark.map(|(mark, _)| mark)).collect();
        assert_eq!(classes, wanted, "{what}: {name}");
        assert_eq!(
            says,
            mark.into_iter().map(|(_, says)| says.to_owned()).collect::<Vec<_>>(),
            "{what}: {name}"
        );
        return;
    }
    let here = |finding: &&Value| {
        // What concerns the whole machine marks no slot.
        finding["kind"] != "clocked-down"
            && (strings(finding, "slots").contains(&name) || finding["other_slot"] == name)
    };
    let here: Vec<&Value> = json["findings"].as_array().unwrap().iter().filter(here).collect();
    let of = |severity: &str| -> Vec<&str> {
        here.iter().filter(|f| f["severity"] == severity).filter_map(|f| f["kind"].as_str()).collect()
    };
    let mut kinds: Vec<&str> = GRAVE.into_iter().flat_map(of).collect();
    kinds.dedup();
    let mark = GRAVE.into_iter().find(|severity| !of(severity).is_empty());
    assert_eq!(classes, [look].into_iter().chain(mark).collect(), "{what}: {name}");
    assert_eq!(shapes, usize::from(mark.is_some()), "{what}: {name}");
    let says: Vec<String> = says.iter().map(|text| squeezed(text)).collect();
    let wanted = if kinds.is_empty() { Vec::new() } else { vec![kinds.join(",")] };
    assert_eq!(says, wanted, "{what}: {name}");
    let about = |finding: &&Value| strings(finding, "slots").contains(&name) || finding["other_slot"] == name;
    let mentioned: Vec<&Value> = json["findings"].as_array().unwrap().iter().filter(about).collect();
    assert!(mentioned.iter().all(|finding| spoken.contains(finding["kind"].as_str().unwrap())), "{spoken}");
    assert_eq!(mentioned.is_empty(), spoken.contains("no finding"), "{spoken}");
}
