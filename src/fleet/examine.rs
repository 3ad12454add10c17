//! From one input to its hosts: its listings, the plan of each, its audit.

use std::borrow::Cow;

use serde::Deserialize;

use super::error::HostError;
use super::host::{Audited, Host, HostSummary, HostVerdict, host_names};
use super::input::{Content, Item, Limits, read_file};
use super::plans::Plans;
use super::seen::Seen;
use crate::audit;
use crate::case::Case;
use crate::evidence::Text;
use crate::records::{self, ChoiceError, Listing};

/// A line of JSON input.
#[derive(Debug, Deserialize)]
struct JsonLine<'l> {
    host: String,
    #[serde(borrow)]
    listing: Cow<'l, str>,
}

/// Audits the listings of one item; nothing in it can end the fleet. `spare` is room for the next file, which is
/// given back: asking the system for it again for each file is costly.
pub(super) fn examine<R>(
    item: Item,
    mut spare: Vec<u8>,
    (plans, seen): (&Plans, &Seen),
    limits: Limits,
    render: &impl Fn(&Host<'_>) -> R,
    done: &mut Vec<(HostSummary, R)>,
) -> Vec<u8> {
    let Item { mut name, content } = item;
    let text = bytes_of(content, &mut name, limits, &mut spare).and_then(|bytes| read(&name, bytes, limits));
    let text = match text {
        Ok(text) => text,
        Err(error) => {
            done.push(not_done(name, None, error, render));
            return spare;
        }
    };
    let listings = records::read(&text);
    let several = listings.len() > 1;
    for (number, listing) in listings.iter().enumerate() {
        let name = if several { format!("{name}#{}", number + 1) } else { name.clone() };
        if listing.is_empty() {
            let host = text.capture.as_ref().and_then(|capture| capture.host.clone());
            done.push(not_done(name, host, without_records(&text, listing), render));
        } else {
            done.push(audit_one(&name, &text, listing, (plans, seen), render));
        }
    }
    drop(listings);
    text.into_bytes()
}

/// The bytes of an input. A line of JSON has the host's name too.
fn bytes_of(
    content: Content,
    name: &mut String,
    limits: Limits,
    spare: &mut Vec<u8>,
) -> Result<Vec<u8>, HostError> {
    match content {
        Content::Bytes(bytes) => Ok(bytes),
        Content::File(path) => read_file(&path, limits.listing, std::mem::take(spare)),
        Content::JsonLine(line) => match serde_json::from_slice::<JsonLine<'_>>(&line) {
            Ok(JsonLine { host, listing }) => {
                *name = host;
                Ok(listing.into_owned().into_bytes())
            }
            Err(error) => Err(HostError::JsonLine(error.to_string())),
        },
        Content::Failed(error) => Err(error),
    }
}

fn read(name: &str, bytes: Vec<u8>, limits: Limits) -> Result<Text, HostError> {
    // An archive can only be taken apart where it is named.
    if bytes.get(257..262) == Some(b"ustar") {
        return Err(HostError::ArchiveInFolder);
    }
    Text::from_bytes_up_to(name, bytes, limits.listing)
        .map_err(|error| HostError::Evidence(without_name(&error.to_string(), name)))
}

/// A message without the input's name, which is next to it anyway.
fn without_name(message: &str, name: &str) -> String {
    message.strip_prefix(name).map_or(message, |rest| rest.trim_start_matches(':').trim_start()).to_owned()
}

/// Why a text holds no listing.
fn without_records(text: &Text, listing: &Listing<'_>) -> HostError {
    match &text.capture {
        Some(_) => HostError::CaptureWithoutTable,
        None if text.as_str().trim().is_empty() => HostError::Empty,
        None => match records::without_memory(text, listing) {
            ChoiceError::NoRecords { .. } => HostError::NoRecord,
            damaged => HostError::Evidence(without_name(&damaged.to_string(), text.name())),
        },
    }
}

/// A host that was not audited, and of whose modules nothing is known.
pub(super) fn not_done<R>(
    name: String,
    host: Option<String>,
    error: HostError,
    render: &impl Fn(&Host<'_>) -> R,
) -> (HostSummary, R) {
    let mut names = host_names(&name);
    names.extend(host);
    let summary = HostSummary::unread(name, names, error);
    let rendered =
        render(&Host { name: &summary.name, verdict: &summary.verdict, case: None, audited: None });
    (summary, rendered)
}

fn audit_one<R>(
    name: &str,
    text: &Text,
    listing: &Listing<'_>,
    (plans, seen): (&Plans, &Seen),
    render: &impl Fn(&Host<'_>) -> R,
) -> (HostSummary, R) {
    let mut names = host_names(name);
    names.extend(text.capture.as_ref().and_then(|capture| capture.host.clone()));
    let hosts: Vec<&str> = names.iter().map(String::as_str).collect();
    let loaded = plans.choose(&hosts, listing, seen);
    let known = loaded.as_ref().ok();
    let machine = Case::of(text, listing)
        .called(name)
        .plan(known.map(|loaded| &loaded.plan))
        .board(known.and_then(|loaded| loaded.board.as_ref()));
    let mut case = machine.machine();
    let audited: Result<_, HostError> = loaded.map(drop).map_err(HostError::from).and_then(|()| {
        machine.complete(&mut case)?;
        Ok(audit::audit(&case))
    });
    let verdict = match &audited {
        Ok(audit) => HostVerdict::Audited(audit.verdict),
        Err(error) => HostVerdict::NotDone(error.clone()),
    };
    let audit = audited.as_ref().ok();
    let host = Host {
        name,
        verdict: &verdict,
        case: Some(&case),
        audited: audit.map(|audit| Audited::new(&case, audit)),
    };
    let rendered = render(&host);
    let summary = HostSummary::of((name.to_owned(), names), &case, (verdict, audit));
    (summary, rendered)
}
