//! All listings through the audit, on all cores, in the order of the input, with a bounded number in flight.

use std::borrow::Cow;
use std::cell::OnceCell;
use std::collections::BTreeMap;
use std::io::Read;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Condvar, Mutex, PoisonError};

use serde::Deserialize;

use super::input::{Content, Item, Limits, say, too_large};
use super::plans::Plans;
use super::stock::host_names;
use crate::audit::{self, Audit, FindingKind, Severity, Verdict};
use crate::case::Case;
use crate::diagnose::{Diagnosis, diagnose};
use crate::evidence::Text;
use crate::population::{Population, identity};
use crate::records::{self, Listing};

/// How a host came out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HostVerdict {
    /// It was audited.
    Audited(Verdict),
    /// It could not be: why, and what to do.
    NotDone(String),
}

/// One host while everything about it is at hand.
#[derive(Debug)]
pub struct Host<'h> {
    /// The input's name; with `#N` where one input holds several listings.
    pub name: &'h str,
    /// Its outcome.
    pub verdict: &'h HostVerdict,
    /// What was audited; `None` where it could not be.
    pub audited: Option<Audited<'h>>,
}

/// A machine and its audit; diagnosed when the first output asks for it, and only once.
#[derive(Debug)]
pub struct Audited<'h> {
    /// The machine as understood.
    pub case: &'h Case<'h>,
    /// What differs from its plan.
    pub audit: &'h Audit,
    diagnosis: OnceCell<Diagnosis<'h>>,
}

impl<'h> Audited<'h> {
    fn new(case: &'h Case<'h>, audit: &'h Audit) -> Self {
        Self { case, audit, diagnosis: OnceCell::new() }
    }

    /// The findings with their causes, and what to do.
    pub fn diagnosis(&self) -> &Diagnosis<'h> {
        self.diagnosis.get_or_init(|| diagnose(self.case, self.audit))
    }
}

/// What is kept of a host after it was dealt with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HostSummary {
    /// The input's name.
    pub name: String,
    /// All names by which a stock or a manifest can call it.
    pub names: Vec<String>,
    /// Product name.
    pub product: Option<String>,
    /// Its outcome.
    pub verdict: HostVerdict,
    /// Name or file of its plan.
    pub plan: Option<String>,
    /// Its findings.
    pub findings: Vec<HostFinding>,
    /// Its modules that state a serial number.
    pub modules: Vec<HostModule>,
    /// Number of its modules that state none.
    pub without_serial: usize,
    /// Whether not all of its modules are known: it could not be read, or the listing is damaged.
    pub unread: bool,
    /// Part numbers of its modules, each once, and whether one of that part runs slow.
    pub parts: Vec<(String, bool)>,
}

/// What is kept of a finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HostFinding {
    /// What it is.
    pub kind: FindingKind,
    /// How much it weighs.
    pub severity: Severity,
    /// Its slots.
    pub slots: Vec<String>,
    /// One sentence.
    pub summary: String,
}

/// What is kept of a module.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HostModule {
    /// Serial number as stated.
    pub serial: String,
    /// Part number.
    pub part: Option<String>,
    /// Slot.
    pub slot: String,
}

/// A line of JSON input.
#[derive(Debug, Deserialize)]
struct JsonLine<'l> {
    host: String,
    #[serde(borrow)]
    listing: Cow<'l, str>,
}

/// Listings that are handed to a thread at once: large enough that handing over costs nothing, small enough that
/// memory stays small.
const BATCH: usize = 8;

/// Bytes from which a batch is full.
const BATCH_BYTES: usize = 1 << 20;

/// Batches in flight for each thread.
const AHEAD: usize = 4;

/// What is said of a listing on which this program fails.
const DEFECT: &str =
    "found no result, expected one: this is a defect of asfitted. Report it with the listing";

/// Audits every item on `jobs` threads. `render` makes of each host what the caller wants, on the threads; `sink`
/// gets it, with the host, in the order of the items whatever the number of threads.
///
/// Each thread takes a batch from the items, audits it and hands over what is next in order: nothing waits for a
/// thread that only reads or only writes.
pub fn audit_all<R: Send>(
    items: impl Iterator<Item = Item> + Send,
    plans: &Plans,
    limits: Limits,
    jobs: usize,
    render: impl Fn(&Host<'_>) -> R + Sync,
    sink: impl FnMut(HostSummary, R) + Send,
) {
    let jobs = jobs.max(1);
    let source = Mutex::new(Batches { items, next: 0 });
    let outlet = Outlet {
        state: Mutex::new(InOrder { waiting: BTreeMap::new(), next: 0, stopped: false, sink }),
        moved: Condvar::new(),
        ahead: jobs * AHEAD,
    };
    let work = || {
        let mut spare = Vec::new();
        loop {
            // A lock is poisoned where the items or the sink panicked: then all threads end.
            let Ok(Some((number, batch))) = source.lock().map(|mut source| source.take()) else { return };
            // Should this thread panic all the same, the others must not wait for its batch.
            let own = Promise { outlet: &outlet, kept: false };
            let mut done = Vec::with_capacity(batch.len());
            for item in batch {
                let (name, before) = (item.name.clone(), done.len());
                let room = std::mem::take(&mut spare);
                let examined =
                    catch_unwind(AssertUnwindSafe(|| examine(item, room, plans, limits, &render, &mut done)));
                // A defect of ours on one listing must not cost the results of all others.
                spare = examined.unwrap_or_else(|_| {
                    done.truncate(before);
                    fail(name, None, DEFECT.to_owned(), &render, &mut done);
                    Vec::new()
                });
            }
            if own.keep(number, done).is_err() {
                return;
            }
        }
    };
    std::thread::scope(|scope| {
        for _ in 1..jobs {
            scope.spawn(work);
        }
        work();
    });
}

/// The items, and the number of the next batch of them.
struct Batches<I> {
    items: I,
    next: usize,
}

impl<I: Iterator<Item = Item>> Batches<I> {
    /// The next batch with its number; none at the end.
    fn take(&mut self) -> Option<(usize, Vec<Item>)> {
        let mut batch = Vec::with_capacity(BATCH);
        let mut held = 0;
        // Large ones go by themselves, so that few are held at a time.
        while batch.len() < BATCH && held < BATCH_BYTES {
            let Some(item) = self.items.next() else { break };
            if let Content::Bytes(bytes) | Content::JsonLine(bytes) = &item.content {
                held += bytes.len();
            }
            batch.push(item);
        }
        let number = self.next;
        self.next += 1;
        Some((number, batch)).filter(|(_, batch)| !batch.is_empty())
    }
}

/// Where results go, in the order of their batches.
struct Outlet<R, S> {
    state: Mutex<InOrder<R, S>>,
    /// Something was handed over, or never will be.
    moved: Condvar,
    /// How many batches may wait for a slow one.
    ahead: usize,
}

struct InOrder<R, S> {
    waiting: BTreeMap<usize, Vec<(HostSummary, R)>>,
    next: usize,
    /// A batch will never come.
    stopped: bool,
    sink: S,
}

impl<R, S: FnMut(HostSummary, R)> InOrder<R, S> {
    fn hand_over(&mut self) {
        while let Some(done) = self.waiting.remove(&self.next) {
            self.next += 1;
            for (host, rendered) in done {
                (self.sink)(host, rendered);
            }
        }
    }
}

/// Wakes those who wait, also where the sink panics.
struct Wakes<'c>(&'c Condvar);

impl Drop for Wakes<'_> {
    fn drop(&mut self) {
        self.0.notify_all();
    }
}

impl<R, S: FnMut(HostSummary, R)> Outlet<R, S> {
    /// Hands over whatever is next in order; returns when no more than `ahead` batches wait.
    ///
    /// # Errors
    /// The sink panicked on another thread.
    fn put(&self, number: usize, done: Vec<(HostSummary, R)>) -> Result<(), Stopped> {
        let _wakes = Wakes(&self.moved);
        let mut state = self.state.lock().map_err(|_| Stopped)?;
        state.waiting.insert(number, done);
        state.hand_over();
        if number < state.next {
            return Ok(());
        }
        // The thread with the batch that is next in order never waits.
        let too_far = |state: &mut InOrder<R, S>| number >= state.next + self.ahead && !state.stopped;
        let state = self.moved.wait_while(state, too_far).map_err(|_| Stopped)?;
        if state.stopped { Err(Stopped) } else { Ok(()) }
    }
}

/// Another thread panicked.
struct Stopped;

/// A batch that was taken and is still to be handed over.
struct Promise<'o, R, S: FnMut(HostSummary, R)> {
    outlet: &'o Outlet<R, S>,
    kept: bool,
}

impl<R, S: FnMut(HostSummary, R)> Promise<'_, R, S> {
    fn keep(mut self, number: usize, done: Vec<(HostSummary, R)>) -> Result<(), Stopped> {
        let put = self.outlet.put(number, done);
        self.kept = true;
        put
    }
}

impl<R, S: FnMut(HostSummary, R)> Drop for Promise<'_, R, S> {
    fn drop(&mut self) {
        if !self.kept {
            let mut state = self.outlet.state.lock().unwrap_or_else(PoisonError::into_inner);
            state.stopped = true;
            self.outlet.moved.notify_all();
        }
    }
}

/// Audits the listings of one item; nothing in it can end the fleet. `spare` is room for the next file, which is
/// given back: asking the system for it again for each file is dear.
fn examine<R>(
    item: Item,
    mut spare: Vec<u8>,
    plans: &Plans,
    limits: Limits,
    render: &impl Fn(&Host<'_>) -> R,
    done: &mut Vec<(HostSummary, R)>,
) -> Vec<u8> {
    let Item { name, content } = item;
    let mut own_name = None;
    let bytes = match content {
        Content::Bytes(bytes) => Ok(bytes),
        Content::File(path) => read_file(&path, limits.listing, std::mem::take(&mut spare)),
        Content::JsonLine(line) => match serde_json::from_slice::<JsonLine<'_>>(&line) {
            Ok(JsonLine { host, listing }) => {
                own_name = Some(host);
                Ok(listing.into_owned().into_bytes())
            }
            Err(error) => Err(format!(
                "found {error}, expected `{{\"host\": …, \"listing\": …}}`. Correct what writes the line"
            )),
        },
        Content::Failed(reason) => Err(reason),
    };
    let name = own_name.unwrap_or(name);
    let text = bytes.and_then(|bytes| {
        // An archive can only be taken apart where it is named.
        if bytes.get(257..262) == Some(b"ustar") {
            return Err(
                "found an archive inside a folder. Name it on the command line to have it read".to_owned()
            );
        }
        Text::from_bytes_up_to(name.as_str(), bytes, limits.listing)
            .map_err(|error| without_name(&error.to_string(), &name))
    });
    let text = match text {
        Ok(text) => text,
        Err(reason) => {
            fail(name, None, reason, render, done);
            return spare;
        }
    };
    let listings = records::read(&text);
    let several = listings.len() > 1;
    for (number, listing) in listings.iter().enumerate() {
        let name = if several { format!("{name}#{}", number + 1) } else { name.clone() };
        if listing.is_empty() {
            let reason = match &text.capture {
                Some(_) => {
                    "found a capture without the SMBIOS table, expected one with it. Take it again as root"
                }
                None if text.as_str().trim().is_empty() => {
                    "found nothing in it, expected a listing. Take it again as root"
                }
                None => {
                    "found no SMBIOS record, expected a listing. Take it again as root, or remove the file"
                }
            };
            let host = text.capture.as_ref().and_then(|capture| capture.host.clone());
            fail(name, host, reason.to_owned(), render, done);
            continue;
        }
        audit_one(name, &text, listing, plans, render, done);
    }
    drop(listings);
    text.into_bytes()
}

/// A message without the input's name, which stands beside it anyway.
fn without_name(message: &str, name: &str) -> String {
    message.strip_prefix(name).map_or(message, |rest| rest.trim_start_matches(':').trim_start()).to_owned()
}

/// The content of a file, in the room of `bytes`.
fn read_file(path: &std::path::Path, limit: u64, mut bytes: Vec<u8>) -> Result<Vec<u8>, String> {
    let mut file = std::fs::File::open(path).map_err(|error| say(&error))?;
    let size = file.metadata().map_or(0, |meta| meta.len());
    if size > limit {
        return Err(too_large(limit));
    }
    // One call takes it all; a file that says nothing of its size is read to its end.
    let room = if size > 0 { size } else { limit + 1 };
    bytes.resize(usize::try_from(room).unwrap_or(usize::MAX), 0);
    let mut filled = 0;
    while filled < bytes.len() {
        match file.read(&mut bytes[filled..]) {
            Ok(0) => break,
            Ok(read) => filled += read,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
            Err(error) => return Err(say(&error)),
        }
    }
    bytes.truncate(filled);
    if bytes.len() as u64 > limit {
        return Err(too_large(limit));
    }
    Ok(bytes)
}

fn fail<R>(
    name: String,
    host: Option<String>,
    reason: String,
    render: &impl Fn(&Host<'_>) -> R,
    done: &mut Vec<(HostSummary, R)>,
) {
    let verdict = HostVerdict::NotDone(reason);
    let rendered = render(&Host { name: &name, verdict: &verdict, audited: None });
    let mut names = host_names(&name);
    names.extend(host);
    let summary = HostSummary {
        names,
        name,
        product: None,
        verdict,
        plan: None,
        findings: Vec::new(),
        modules: Vec::new(),
        without_serial: 0,
        unread: true,
        parts: Vec::new(),
    };
    done.push((summary, rendered));
}

fn audit_one<R>(
    name: String,
    text: &Text,
    listing: &Listing<'_>,
    plans: &Plans,
    render: &impl Fn(&Host<'_>) -> R,
    done: &mut Vec<(HostSummary, R)>,
) {
    let mut names = host_names(&name);
    names.extend(text.capture.as_ref().and_then(|capture| capture.host.clone()));
    let hosts: Vec<&str> = names.iter().map(String::as_str).collect();
    let loaded = plans.of(&hosts, listing);
    let known = loaded.as_ref().ok();
    let machine = Case::of(text, listing)
        .called(&name)
        .plan(known.map(|loaded| &loaded.plan))
        .board(known.and_then(|loaded| loaded.board.as_ref()));
    let mut case = machine.machine();
    let result = loaded.map(drop).and_then(|()| {
        machine.complete(&mut case).map_err(|error| error.to_string())?;
        Ok(audit::audit(&case))
    });
    let (verdict, plan, rendered, findings) = match &result {
        Ok(audit) => {
            let verdict = HostVerdict::Audited(audit.verdict);
            let audited = Some(Audited::new(&case, audit));
            let rendered = render(&Host { name: &name, verdict: &verdict, audited });
            let findings = audit.findings.iter().map(|finding| HostFinding {
                kind: finding.kind,
                severity: finding.severity(),
                slots: finding.slots.clone(),
                summary: finding.summary.clone(),
            });
            (verdict, Some(case.plan_name().to_owned()), rendered, findings.collect())
        }
        Err(reason) => {
            let verdict = HostVerdict::NotDone(reason.clone());
            let rendered = render(&Host { name: &name, verdict: &verdict, audited: None });
            (verdict, None, rendered, Vec::new())
        }
    };
    let summary = summarise((name.clone(), names), listing, &case.population, (verdict, plan, findings));
    done.push((summary, rendered));
}

fn summarise(
    (name, names): (String, Vec<String>),
    listing: &Listing<'_>,
    population: &Population<'_>,
    (verdict, plan, findings): (HostVerdict, Option<String>, Vec<HostFinding>),
) -> HostSummary {
    let mut modules = Vec::new();
    let mut without_serial = 0;
    let mut parts: Vec<(String, bool)> = Vec::new();
    let slow = |slot: &str| {
        let says = |f: &HostFinding| f.kind == FindingKind::ClockedDown && f.slots.iter().any(|s| s == slot);
        findings.iter().any(says)
    };
    for slot in &population.slots {
        let Some(module) = slot.module() else { continue };
        match module.serial {
            Some(serial) => modules.push(HostModule {
                serial: serial.to_owned(),
                part: module.part.map(str::to_owned),
                slot: slot.name.to_string(),
            }),
            None => without_serial += 1,
        }
        if let Some(part) = module.part {
            let slow = slow(&slot.name);
            match parts.iter_mut().find(|(own, _)| own == part) {
                Some((_, any)) => *any |= slow,
                None => parts.push((part.to_owned(), slow)),
            }
        }
    }
    let product = listing.systems.first().and_then(|system| system.product.get()).and_then(identity::clean);
    HostSummary {
        name,
        names,
        product: product.map(str::to_owned),
        verdict,
        plan,
        findings,
        modules,
        without_serial,
        unread: listing.may_miss_records(),
        parts,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fleet::{Manifest, Plans};

    /// Should anything panic on one listing, that one is a row and the others are audited.
    #[test]
    fn a_defect_on_one_listing_is_a_row() {
        let item = |name: &str| Item { name: name.to_owned(), content: Content::Bytes(b"x\n".to_vec()) };
        let items = ["a", "bad", "c"].map(item).into_iter();
        let plans = Plans::new(Vec::new(), Manifest::default());
        let render = |host: &Host<'_>| {
            let first = matches!(host.verdict, HostVerdict::NotDone(reason) if reason != DEFECT);
            assert!(host.name != "bad" || !first, "a defect");
        };
        let mut seen = Vec::new();
        audit_all(items, &plans, Limits::default(), 2, render, |host, ()| {
            seen.push((host.name, host.verdict == HostVerdict::NotDone(DEFECT.to_owned())));
        });
        assert_eq!(seen, [("a".to_owned(), false), ("bad".to_owned(), true), ("c".to_owned(), false)]);
    }

    /// Where the results cannot be taken, everything ends; nothing waits for ever.
    #[test]
    fn a_defect_where_results_go_ends_the_run() {
        let item = |number: usize| Item { name: number.to_string(), content: Content::Bytes(Vec::new()) };
        let items = (0..20 * BATCH).map(item);
        let plans = Plans::new(Vec::new(), Manifest::default());
        let run = AssertUnwindSafe(|| {
            let sink = |host: HostSummary, ()| assert_ne!(host.name, "20", "a defect");
            audit_all(items, &plans, Limits::default(), 4, |_| (), sink);
        });
        assert!(catch_unwind(run).is_err());
    }

    /// The same where even the row that tells of a defect cannot be made.
    #[test]
    fn a_defect_in_the_row_of_a_defect_ends_the_run() {
        let item = |number: usize| Item { name: number.to_string(), content: Content::Bytes(Vec::new()) };
        let items = (0..100 * BATCH).map(item);
        let plans = Plans::new(Vec::new(), Manifest::default());
        let run = AssertUnwindSafe(|| {
            let render = |host: &Host<'_>| assert_ne!(host.name, "20", "a defect");
            audit_all(items, &plans, Limits::default(), 4, render, |_, ()| {});
        });
        assert!(catch_unwind(run).is_err());
    }
}
