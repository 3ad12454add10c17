//! An earlier run of the same fleet, by its JSON Lines.

use std::collections::HashMap;
use std::fs::File;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::{BufRead, BufReader};
use std::path::Path;

use serde::Deserialize;

use crate::cli::CliError;
use crate::fleet::HostSummary;
use crate::report::fleet::Changes;

/// An earlier run: what each host came to, as a number.
pub(super) struct Baseline {
    hosts: Vec<Earlier>,
    /// Their places by machine, by name, and by name without its folder.
    by_serial: HashMap<String, Vec<usize>>,
    by_name: HashMap<String, Vec<usize>>,
    by_file: HashMap<String, Vec<usize>>,
    changes: Changes,
}

struct Earlier {
    name: String,
    came_to: u64,
    /// Whether this run has it too.
    seen: bool,
}

/// The parts of a line of JSON by which hosts are found again.
#[derive(Debug, Deserialize)]
struct EarlierLine {
    format: String,
    listing: Option<EarlierName>,
    machine: Option<EarlierMachine>,
}

#[derive(Debug, Deserialize)]
struct EarlierName {
    name: String,
}

#[derive(Debug, Deserialize)]
struct EarlierMachine {
    serial: Option<String>,
}

/// A line as a number: whatever an audit says of a host is in it, but not how the host's path was written.
pub(super) fn digest(line: &[u8], name: &str) -> u64 {
    let mut hasher = DefaultHasher::new();
    let line = String::from_utf8_lossy(line.trim_ascii());
    // A text always serialises.
    let name = serde_json::to_string(name).unwrap_or_default();
    for part in line.split(&name) {
        part.hash(&mut hasher);
    }
    hasher.finish()
}

/// A name without its folder.
fn file(name: &str) -> &str {
    name.rsplit('/').next().unwrap_or(name)
}

impl Baseline {
    pub(super) fn read(path: &Path) -> Result<Self, CliError> {
        let name = path.display().to_string();
        let unread = |reason| CliError::Read { path: name.clone(), reason, advice: "Check the path" };
        // One line at a time: the results of a large fleet are larger than memory should be.
        let reader = BufReader::new(File::open(path).map_err(unread)?);
        let mut all = Self {
            hosts: Vec::new(),
            by_serial: HashMap::new(),
            by_name: HashMap::new(),
            by_file: HashMap::new(),
            changes: Changes { since: name.clone(), ..Changes::default() },
        };
        for (number, line) in (1u32..).zip(reader.split(b'\n')) {
            let line = line.map_err(unread)?;
            if line.trim_ascii().is_empty() {
                continue;
            }
            let read: EarlierLine = serde_json::from_slice(&line).map_err(|error| CliError::Baseline {
                path: name.clone(),
                line: number,
                reason: error.to_string(),
            })?;
            let Some(listing) = read.listing.filter(|_| read.format != "asfitted.fleet") else { continue };
            let came_to = digest(&line, &listing.name);
            all.add(listing.name, read.machine.and_then(|machine| machine.serial), came_to);
        }
        Ok(all)
    }

    fn add(&mut self, name: String, serial: Option<String>, came_to: u64) {
        let place = self.hosts.len();
        if let Some(serial) = serial {
            self.by_serial.entry(serial).or_default().push(place);
        }
        self.by_file.entry(file(&name).to_owned()).or_default().push(place);
        self.by_name.entry(name.clone()).or_default().push(place);
        self.hosts.push(Earlier { name, came_to, seen: false });
    }

    /// The host in the earlier run: the machine by its serial number, else by its name, else by its name without the
    /// folder; each only where it leaves no choice.
    fn earlier(&mut self, host: &HostSummary) -> Option<&mut Earlier> {
        let serial = host.serial.as_ref().and_then(|serial| self.by_serial.get(serial));
        let candidates = [serial, self.by_name.get(&host.name), self.by_file.get(file(&host.name))];
        let place = candidates.into_iter().flatten().find_map(|places| {
            let mut open = places.iter().filter(|place| !self.hosts[**place].seen);
            let only = open.next()?;
            open.next().is_none().then_some(*only)
        })?;
        self.hosts.get_mut(place)
    }

    /// Whether a host came out otherwise than before, by the digest of its line; notes it.
    pub(super) fn differs(&mut self, host: &HostSummary, now: u64) -> bool {
        let word = host.verdict.word();
        match self.earlier(host) {
            Some(earlier) => {
                earlier.seen = true;
                if earlier.came_to == now {
                    return false;
                }
                self.changes.changed.push((host.name.clone(), word));
            }
            None => self.changes.new.push((host.name.clone(), word)),
        }
        true
    }

    pub(super) fn changes(self) -> Changes {
        let mut changes = self.changes;
        let gone = self.hosts.into_iter().filter(|host| !host.seen);
        changes.gone = gone.map(|host| host.name).collect();
        changes.gone.sort_unstable();
        changes
    }
}
