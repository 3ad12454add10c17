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
    hosts: HashMap<String, (u64, bool)>,
    changes: Changes,
}

/// The parts of a line of JSON by which hosts are found again.
#[derive(Debug, Deserialize)]
struct EarlierLine {
    format: String,
    listing: Option<EarlierName>,
}

#[derive(Debug, Deserialize)]
struct EarlierName {
    name: String,
}

/// A line as a number: whatever an audit says of a host is in it.
pub(super) fn digest(line: &[u8]) -> u64 {
    let mut hasher = DefaultHasher::new();
    line.trim_ascii().hash(&mut hasher);
    hasher.finish()
}

impl Baseline {
    pub(super) fn read(path: &Path) -> Result<Self, CliError> {
        let name = path.display().to_string();
        let unread = |reason| CliError::Read { path: name.clone(), reason, advice: "Check the path" };
        // One line at a time: the results of a large fleet are larger than memory should be.
        let reader = BufReader::new(File::open(path).map_err(unread)?);
        let mut hosts = HashMap::new();
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
            hosts.insert(listing.name, (digest(&line), false));
        }
        Ok(Self { hosts, changes: Changes { since: name, ..Changes::default() } })
    }

    /// Whether a host came out otherwise than before, by the digest of its line; notes it.
    pub(super) fn differs(&mut self, host: &HostSummary, now: u64) -> bool {
        let word = host.verdict.word();
        match self.hosts.get_mut(&host.name) {
            Some((before, seen)) => {
                *seen = true;
                if *before == now {
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
        let gone = self.hosts.into_iter().filter(|(_, (_, seen))| !seen);
        changes.gone = gone.map(|(name, _)| name).collect();
        changes.gone.sort_unstable();
        changes
    }
}
