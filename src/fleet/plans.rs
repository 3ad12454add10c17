//! The plans of a fleet, and which of them is for which machine.

use std::collections::HashMap;

use thiserror::Error;

use super::error::PlanError;
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

/// Which plan a manifest gives to which host: host to the name of a plan's file.
#[derive(Debug, Clone, Default)]
pub struct Manifest(HashMap<String, String>);

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
        let mut all = HashMap::new();
        for row in table.rows() {
            let (name, plan) = (row.cell(host), row.cell(plan));
            if name.is_empty() || plan.is_empty() {
                continue;
            }
            if let Some(old) = all.insert(key(name), plan.to_owned())
                && old != plan
            {
                return Err(ManifestError::Twice {
                    file: file.to_owned(),
                    line: row.line,
                    host: name.to_owned(),
                });
            }
        }
        Ok(Self(all))
    }

    /// Number of hosts.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
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

    /// The plan of a machine: the manifest's, else the one whose selectors all fit. A plan for one machine by its
    /// serial number, asset tag or host name comes before one for a product.
    ///
    /// # Errors
    /// [`PlanError`] where none or several are for this machine.
    pub fn of(&self, hosts: &[&str], listing: &Listing<'_>) -> Result<&LoadedPlan, PlanError> {
        for host in hosts {
            if let Some(file) = self.manifest.0.get(&key(host)) {
                return match self.by_file.get(file).map(Vec::as_slice) {
                    Some([one]) => Ok(&self.plans[*one]),
                    Some(_) => Err(PlanError::SeveralOfName { file: file.clone(), host: (*host).to_owned() }),
                    None => Err(PlanError::NoneOfName { file: file.clone(), host: (*host).to_owned() }),
                };
            }
        }
        let machine = Machine::of(hosts, listing);
        if let Some(file) = self.unread_for(hosts, &machine) {
            return Err(PlanError::Unreadable { file: file.to_owned() });
        }
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
        match found.as_slice() {
            [one] => Ok(&self.plans[*one]),
            [] => Err(PlanError::NoneFits),
            [first, second, ..] => Err(PlanError::SeveralFit {
                count: found.len(),
                first: self.plans[*first].plan.source.clone(),
                second: self.plans[*second].plan.source.clone(),
            }),
        }
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
