//! Changing one thing in the text of a listing, as firmware and dmidecode would print it.

use asfitted::evidence::Place;
use asfitted::records::MemoryDevice;

/// Keys that belong to the slot and stay when its module goes.
const SLOT_KEYS: &[&str] = &["Array Handle", "Error Information Handle", "Set", "Locator", "Bank Locator"];

/// The lines of a listing, with changes that wait to be applied.
#[derive(Clone)]
pub struct Lines(Vec<String>, Vec<(std::ops::Range<usize>, Vec<String>)>);

impl Lines {
    pub fn of(text: &str) -> Self {
        Self(text.lines().map(str::to_owned).collect(), Vec::new())
    }

    pub fn text(&self) -> String {
        let mut lines = self.0.clone();
        let mut changes = self.1.clone();
        // From the end, so that places further up stay true.
        changes.sort_by_key(|(range, _)| std::cmp::Reverse(range.start));
        for (range, fields) in changes {
            lines.splice(range, fields);
        }
        let mut text = lines.join("\n");
        text.push('\n');
        text
    }

    /// The line numbers (from 0) of a record's fields.
    fn fields(&self, device: &MemoryDevice<'_>) -> std::ops::Range<usize> {
        self.fields_at(device.head.place)
    }

    fn fields_at(&self, head: Place) -> std::ops::Range<usize> {
        let title = head.line as usize;
        let start = title + 1;
        let length = self.0[start..].iter().take_while(|line| !line.trim().is_empty()).count();
        start..start + length
    }

    fn key(line: &str) -> &str {
        line.split_once(':').map_or("", |(key, _)| key.trim())
    }

    pub fn value(&self, device: &MemoryDevice<'_>, key: &str) -> Option<String> {
        let line = self.0[self.fields(device)].iter().find(|line| Self::key(line) == key)?;
        line.split_once(':').map(|(_, value)| value.trim().to_owned())
    }

    /// Sets one field of a record; the record must have it.
    pub fn set(&mut self, device: &MemoryDevice<'_>, key: &str, value: &str) {
        self.set_at(device.head.place, key, value);
    }

    /// The same for a record of any type, by the place of its head.
    pub fn set_at(&mut self, head: Place, key: &str, value: &str) {
        let fields = self.fields_at(head);
        let line = self.0[fields].iter_mut().find(|line| Self::key(line) == key).unwrap();
        *line = format!("\t{key}: {value}");
    }

    /// What belongs to the module of a record, in order.
    fn module(&self, device: &MemoryDevice<'_>) -> Vec<String> {
        self.0[self.fields(device)]
            .iter()
            .filter(|line| !SLOT_KEYS.contains(&Self::key(line)))
            .cloned()
            .collect()
    }

    /// What belongs to the slot of a record, with labels taken from `labels` where that one's are no labels.
    fn slot(&self, device: &MemoryDevice<'_>, labels: &MemoryDevice<'_>) -> Vec<String> {
        let own: Vec<String> = self.0[self.fields(device)]
            .iter()
            .filter(|line| SLOT_KEYS.contains(&Self::key(line)))
            .cloned()
            .collect();
        own.into_iter()
            .map(|line| {
                let key = Self::key(&line).to_owned();
                match self.value(labels, &key) {
                    Some(value)
                        if key.ends_with("Locator") && matches!(value.as_str(), "NO DIMM" | "[Empty]") =>
                    {
                        format!("\t{key}: {value}")
                    }
                    _ => line,
                }
            })
            .collect()
    }

    fn put(&mut self, device: &MemoryDevice<'_>, fields: Vec<String>) {
        let range = self.fields(device);
        self.1.push((range, fields));
    }

    /// Leaves out a whole record with the empty line after it.
    pub fn leave_out(&mut self, head: Place) {
        let fields = self.fields_at(head);
        let end = (fields.end + 1).min(self.0.len());
        self.1.push((head.line as usize - 1..end, Vec::new()));
    }

    /// Puts the content of `from` into the slot of `to`.
    pub fn copy_module(&mut self, from: &MemoryDevice<'_>, to: &MemoryDevice<'_>, source: &Self) {
        let mut fields = source.slot(to, to);
        fields.extend(source.module(from));
        self.put(to, fields);
    }

    /// Empties the slot of `device` as the empty slot `like` prints.
    pub fn empty_like(&mut self, device: &MemoryDevice<'_>, like: &MemoryDevice<'_>, source: &Self) {
        let mut fields = source.slot(device, like);
        fields.extend(source.module(like));
        self.put(device, fields);
    }

    /// Empties the slot of `device` as release 3.4 and later print it: nothing after Type Detail.
    pub fn empty_short(&mut self, device: &MemoryDevice<'_>, source: &Self) {
        let mut fields = Vec::new();
        for line in &source.0[source.fields(device)] {
            let key = Self::key(line);
            fields.push(match key {
                "Size" => "\tSize: No Module Installed".to_owned(),
                "Total Width" | "Data Width" | "Type" | "Type Detail" => format!("\t{key}: Unknown"),
                _ => line.clone(),
            });
            if key == "Type Detail" {
                break;
            }
        }
        self.put(device, fields);
    }
}
