//! Hosts by the names that a stock can call them by.

use std::collections::HashMap;

/// Numbers of hosts by their names, without regard to capitals. Nearly every name is one host's.
#[derive(Debug, Default)]
pub(super) struct Called {
    first: HashMap<String, u32>,
    others: HashMap<String, Vec<u32>>,
}

impl Called {
    /// Takes note of a name, in lower case.
    pub(super) fn add(&mut self, name: String, host: u32) {
        match self.first.get(&name) {
            None => drop(self.first.insert(name, host)),
            Some(first) if *first == host => {}
            Some(_) => self.others.entry(name).or_default().push(host),
        }
    }

    /// Whether a host has this name, in lower case.
    pub(super) fn contains(&self, name: &str) -> bool {
        self.first.contains_key(name)
    }

    /// All hosts of a name.
    pub(super) fn hosts(&self, name: &str) -> impl Iterator<Item = u32> {
        let name = name.to_ascii_lowercase();
        let others = self.others.get(&name).into_iter().flatten();
        self.first.get(&name).into_iter().chain(others).copied()
    }
}
