//! The plans of a fleet, and which of them is for which machine.

use std::collections::HashMap;

use thiserror::Error;

use super::error::PlanError;
use super::seen::Seen;
use super::table::{Table, UnclosedQuote};
use crate::board::Board;
use crate::plan::{MachineSelector, Plan};
use crate::population::identity;
use crate::records::Listing;

/// A plan with the board it names.
#[derive(Debug, Clone)]
pub struct LoadedPlan {
    /// The plan; its `source` is the file.
    pub plan: Plan,
    /// The board that it, or the caller, names.
    pub board: Option<Board>,
}

/// Which plan a manifest gives to which host.
#[derive(Debug, Clone, Default)]
pub struct Manifest {
    rows: Vec<ManifestRow>,
    /// Rows by their hosts.
    by_host: HashMap<String, usize>,
}

/// One row of a manifest.
#[derive(Debug, Clone)]
pub(super) struct ManifestRow {
    /// The host, as it is written.
    pub(super) host: String,
    /// The name of a plan's file.
    pub(super) plan: String,
}

/// Why a manifest cannot be taken.
#[derive(Debug, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum ManifestError {
    /// It has no columns that are known.
    #[error("{file}: line 1: found the columns {found}, expected `host` and `plan`. Name the columns so")]
    Columns {
        /// The file.
        file: String,
        /// What it has.
        found: String,
    },
    /// A quote that is not closed.
    #[error(transparent)]
    OpenQuote(#[from] UnclosedQuote),
    /// A host is in it twice with different plans.
    #[error(
        "{file}: line {line}: found host `{host}` a second time with another plan, expected one plan for each host. Correct one of them"
    )]
    Twice {
        /// The file.
        file: String,
        /// 1-based line.
        line: u64,
        /// The host.
        host: String,
    },
}

impl Manifest {
    /// Reads a table with the columns `host` and `plan`, in any order and with others between them.
    ///
    /// # Errors
    /// [`ManifestError`] where columns are missing or a host has two plans.
    pub fn read(file: &str, bytes: &[u8]) -> Result<Self, ManifestError> {
        let table = Table::read(bytes).map_err(|open| open.of(file))?;
        let (Some(host), Some(plan)) = (table.column("host"), table.column("plan")) else {
            return Err(ManifestError::Columns { file: file.to_owned(), found: table.header() });
        };
        let mut all = Self::default();
        for row in table.rows() {
            let (name, plan) = (row.cell(host), row.cell(plan));
            if name.is_empty() || plan.is_empty() {
                continue;
            }
            match all.row(name) {
                Some((_, old)) if old.plan != plan => {
                    return Err(ManifestError::Twice {
                        file: file.to_owned(),
                        line: row.line,
                        host: name.to_owned(),
                    });
                }
                Some(_) => {}
                None => {
                    all.by_host.insert(key(name), all.rows.len());
                    all.rows.push(ManifestRow { host: name.to_owned(), plan: plan.to_owned() });
                }
            }
        }
        Ok(all)
    }

    /// The row of a host, with its number.
    pub(super) fn row(&self, host: &str) -> Option<(usize, &ManifestRow)> {
        let number = *self.by_host.get(&key(host))?;
        Some((number, self.rows.get(number)?))
    }

    /// All rows.
    pub(super) fn rows(&self) -> impl Iterator<Item = &ManifestRow> {
        self.rows.iter()
    }

    /// Number of hosts.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }
}

fn key(text: &str) -> String {
    identity::collapse(text).to_ascii_lowercase()
}

/// All plans of a fleet, found by what they say of their machine.
#[derive(Debug, Default)]
pub struct Plans {
    plans: Vec<LoadedPlan>,
    by_file: HashMap<String, Vec<usize>>,
    /// By the name of the file without folder and ending, without regard to capitals.
    by_stem: HashMap<String, Vec<usize>>,
    by_mark: HashMap<(Mark, String), Vec<usize>>,
    manifest: Manifest,
    /// Plans that cannot be read: the names of each file, and its text in lower case.
    unread: Vec<(Vec<String>, String)>,
}

/// What a machine is recognised by; the first three are one machine's own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Mark {
    Serial,
    AssetTag,
    Host,
    Product,
}

impl Plans {
    /// Indexes `plans`.
    pub fn new(plans: Vec<LoadedPlan>, manifest: Manifest) -> Self {
        let mut all = Self { manifest, ..Self::default() };
        for (index, loaded) in plans.iter().enumerate() {
            for name in file_names(&loaded.plan.source) {
                all.by_file.entry(name).or_default().push(index);
            }
            if let Some(stem) = file_names(&loaded.plan.source).last() {
                all.by_stem.entry(key(stem)).or_default().push(index);
            }
            // One mark finds the plan; the others are compared then.
            if let Some((mark, text)) = first_mark(&loaded.plan.machine) {
                all.by_mark.entry((mark, key(text))).or_default().push(index);
            }
        }
        all.plans = plans;
        all
    }

    /// Takes note of a plan that cannot be read: a machine that it names must not get another one's plan.
    pub fn add_unread(&mut self, file: &str, text: &str) {
        self.unread.push((file_names(file), text.to_lowercase()));
    }

    /// The plan that cannot be read and names this machine, by its file or by a mark that is its own.
    fn unread_for(&self, hosts: &[&str], machine: &Machine) -> Option<&str> {
        let own = machine.0.iter().filter(|(mark, _)| *mark != Mark::Product).flat_map(|(_, texts)| texts);
        let own: Vec<&String> = own.filter(|text| text.len() >= 4).collect();
        let found = self.unread.iter().find(|(names, text)| {
            let called = names.iter().any(|name| hosts.iter().any(|host| key(host) == key(name)));
            called || own.iter().any(|mark| text.contains(mark.as_str()))
        });
        found.and_then(|(names, _)| names.first()).map(String::as_str)
    }

    /// Number of plans.
    pub fn len(&self) -> usize {
        self.plans.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.plans.is_empty()
    }

    /// The plan of a machine: the manifest's, else the one whose selectors all fit, else the one whose file is called
    /// as the host is. A plan for one machine by its serial number, asset tag or host name comes before one for a
    /// product; between several that fit, the name of the file decides.
    ///
    /// # Errors
    /// [`PlanError`] where none or several are for this machine.
    pub fn of(&self, hosts: &[&str], listing: &Listing<'_>) -> Result<&LoadedPlan, PlanError> {
        self.choose(hosts, listing, &Seen::default())
    }

    /// As [`of`](Self::of), with a note of the plans and rows that this machine came for.
    pub(super) fn choose(
        &self,
        hosts: &[&str],
        listing: &Listing<'_>,
        seen: &Seen,
    ) -> Result<&LoadedPlan, PlanError> {
        let machine = Machine::of(hosts, listing);
        let mut found = self.fitting(&machine);
        for index in &found {
            seen.plan(*index);
        }
        let rows: Vec<_> = hosts.iter().filter_map(|host| Some((host, self.manifest.row(host)?))).collect();
        for (_, (number, _)) in &rows {
            seen.row(*number);
        }
        if let Some((host, (_, ManifestRow { plan: file, .. }))) = rows.first() {
            let (file, host) = (file.clone(), (**host).to_owned());
            return match self.of_file(&file) {
                [one] => {
                    seen.plan(*one);
                    Ok(&self.plans[*one])
                }
                [] => Err(PlanError::NoneOfName { file, host }),
                _ => Err(PlanError::SeveralOfName { file, host }),
            };
        }
        if let Some(file) = self.unread_for(hosts, &machine) {
            return Err(PlanError::Unreadable { file: file.to_owned() });
        }
        let called = self.called(hosts, &machine);
        if found.is_empty() {
            found = called;
        } else if found.len() > 1 && called.iter().any(|index| found.contains(index)) {
            found.retain(|index| called.contains(index));
        }
        match found.as_slice() {
            [one] => {
                seen.plan(*one);
                Ok(&self.plans[*one])
            }
            [] => Err(PlanError::NoneFits),
            [first, second, ..] => Err(PlanError::SeveralFit {
                count: found.len(),
                first: self.plans[*first].plan.source.clone(),
                second: self.plans[*second].plan.source.clone(),
            }),
        }
    }

    /// The plans that select this machine, those for it alone before those for its product.
    fn fitting(&self, machine: &Machine) -> Vec<usize> {
        let mut found: Vec<usize> = Vec::new();
        for (mark, texts) in &machine.0 {
            for text in texts {
                for index in self.by_mark.get(&(*mark, text.clone())).into_iter().flatten() {
                    if !found.contains(index) && machine.fits(&self.plans[*index].plan.machine) {
                        found.push(*index);
                    }
                }
            }
        }
        let own = |index: &usize| {
            let m = &self.plans[*index].plan.machine;
            m.serial.is_some() || m.asset_tag.is_some() || m.host.is_some()
        };
        if found.iter().any(own) {
            found.retain(own);
        }
        found.sort_unstable();
        found
    }

    /// The plans whose files are called as the host is, and which do not select another machine.
    fn called(&self, hosts: &[&str], machine: &Machine) -> Vec<usize> {
        let named = hosts.iter().filter_map(|host| self.by_stem.get(&key(host))).flatten().copied();
        let mut called: Vec<usize> =
            named.filter(|index| machine.fits(&self.plans[*index].plan.machine)).collect();
        called.sort_unstable();
        called.dedup();
        called
    }

    pub(super) fn manifest(&self) -> &Manifest {
        &self.manifest
    }

    /// The plans of a file by one of its names.
    pub(super) fn of_file(&self, file: &str) -> &[usize] {
        self.by_file.get(file).map_or(&[], Vec::as_slice)
    }

    /// The plans that name a host.
    pub(super) fn for_host(&self, host: &str) -> impl Iterator<Item = usize> {
        self.by_mark.get(&(Mark::Host, key(host))).into_iter().flatten().copied()
    }

    /// The plans that name one machine, with what they call it: its host name, else its serial number or asset tag.
    pub(super) fn own_names(&self) -> impl Iterator<Item = (usize, &str)> {
        self.plans.iter().enumerate().filter_map(|(index, loaded)| {
            let machine = &loaded.plan.machine;
            let name = machine.host.as_ref().or(machine.serial.as_ref()).or(machine.asset_tag.as_ref())?;
            Some((index, name.as_str()))
        })
    }
}

fn first_mark(machine: &MachineSelector) -> Option<(Mark, &str)> {
    let marks = [
        (Mark::Serial, &machine.serial),
        (Mark::AssetTag, &machine.asset_tag),
        (Mark::Host, &machine.host),
        (Mark::Product, &machine.product),
    ];
    marks.into_iter().find_map(|(mark, text)| Some((mark, text.as_deref()?)))
}

/// The names by which a manifest can call a plan's file: its path, its name, its name without the ending.
fn file_names(path: &str) -> Vec<String> {
    let file = path.rsplit('/').next().unwrap_or(path);
    let stem = file.rsplit_once('.').map_or(file, |(stem, _)| stem);
    let mut names = vec![path.to_owned(), file.to_owned(), stem.to_owned()];
    names.dedup();
    names
}

/// What a machine is called, by all its sources.
struct Machine(Vec<(Mark, Vec<String>)>);

impl Machine {
    fn of(hosts: &[&str], listing: &Listing<'_>) -> Self {
        let texts = |fields: Vec<Option<&str>>| -> Vec<String> {
            let mut texts: Vec<String> =
                fields.into_iter().flatten().filter_map(identity::clean).map(key).collect();
            texts.dedup();
            texts
        };
        let (system, board) = (listing.systems.first(), listing.boards.first());
        Self(vec![
            (
                Mark::Serial,
                texts(vec![system.and_then(|s| s.serial.get()), board.and_then(|b| b.serial.get())]),
            ),
            (Mark::AssetTag, texts(vec![board.and_then(|b| b.asset_tag.get())])),
            (Mark::Host, texts(hosts.iter().copied().map(Some).collect())),
            (
                Mark::Product,
                texts(vec![system.and_then(|s| s.product.get()), board.and_then(|b| b.product.get())]),
            ),
        ])
    }

    /// Whether everything that the plan selects by is this machine's.
    fn fits(&self, machine: &MachineSelector) -> bool {
        let marks = [&machine.serial, &machine.asset_tag, &machine.host, &machine.product];
        marks.into_iter().zip(&self.0).all(|(selector, (_, own))| match selector {
            Some(selector) => own.contains(&key(selector)),
            None => true,
        })
    }
}
