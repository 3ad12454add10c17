//! What can be changed in a listing.

use asfitted::plan::ModuleSpec;
use asfitted::population;
use asfitted::records::enums::{MemoryType, ProcessorStatus};
use asfitted::units::{Bytes, TransferRate};

use super::{Content, Machine};
use crate::util::edit::Lines;

/// One thing that is changed.
#[derive(Debug, Clone)]
pub enum Change {
    /// A module is gone; its slot reads as another empty slot does, or as release 3.4 prints one.
    Removed { slot: usize, like: Option<usize> },
    /// A module is in a slot that was empty.
    Moved { from: usize, to: usize },
    /// One more module, like that of `from`.
    Added { from: usize, to: usize },
    /// Two modules that differ in something stated are swapped.
    Swapped { a: usize, b: usize },
    /// A module states something else.
    Field { slot: usize, name: &'static str, key: &'static str, value: String, now: ModuleSpec },
    /// A module keeps its identity and gives no memory.
    Half { slot: usize },
    /// All memory is configured to run slower.
    Slowed { key: &'static str, to: u32 },
    /// A socket has no processor: all its slots are empty, or their records are not printed.
    NoProcessor { socket: u16, record: usize, slots: Vec<usize>, listed: bool },
}

/// Fields that can be changed: what the change is called, the key in the listing.
pub const FIELDS: [(&str, &str); 5] = [
    ("size changed", "Size"),
    ("ranks changed", "Rank"),
    ("part number changed", "Part Number"),
    ("type changed", "Type"),
    ("rated speed changed", "Speed"),
];

const GRADES: &[u32] =
    &[400, 533, 667, 800, 1066, 1333, 1600, 1866, 2133, 2400, 2666, 2933, 3200, 4000, 4800];

impl Change {
    /// What is changed, in words.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Removed { like: Some(_), .. } => "removed, as this listing prints empty slots",
            Self::Removed { like: None, .. } => "removed, as release 3.4 prints empty slots",
            Self::Moved { .. } => "moved to an empty slot",
            Self::Added { .. } => "added",
            Self::Swapped { .. } => "two unlike modules swapped",
            Self::Field { name, .. } => name,
            Self::Half { .. } => "half seated: an identity and no size",
            Self::Slowed { .. } => "configured speed lowered everywhere",
            Self::NoProcessor { listed: true, .. } => "a processor taken out",
            Self::NoProcessor { listed: false, .. } => "a processor taken out, its slots not printed",
        }
    }

    /// A word for it and those like it.
    pub fn family(&self) -> &'static str {
        match self {
            Self::Removed { .. } => "removed",
            Self::Moved { .. } => "moved",
            Self::Added { .. } => "added",
            Self::Swapped { .. } => "swapped",
            Self::Field { .. } => "changed",
            Self::Half { .. } => "half seated",
            Self::Slowed { .. } => "slowed",
            Self::NoProcessor { .. } => "no processor",
        }
    }

    /// Whether it is about all memory and not about some slots.
    pub fn is_everywhere(&self) -> bool {
        matches!(self, Self::Slowed { .. })
    }

    /// Whether the listing has no slot of this name any more: its record is not printed, or its label is that of an empty
    /// slot without a name.
    pub(super) fn hides(&self, slot: usize, machine: &Machine<'_, '_>) -> bool {
        match self {
            Self::Removed { slot: own, like: Some(like) } => *own == slot && machine.is_nameless(*like),
            Self::NoProcessor { slots, listed: false, .. } => slots.contains(&slot),
            _ => false,
        }
    }

    /// Slots whose records it reads or changes.
    pub fn slots(&self) -> Vec<usize> {
        match self {
            Self::Removed { slot, .. } | Self::Field { slot, .. } | Self::Half { slot } => vec![*slot],
            Self::Moved { from, to } | Self::Added { from, to } => vec![*from, *to],
            Self::Swapped { a, b } => vec![*a, *b],
            Self::Slowed { .. } => Vec::new(),
            Self::NoProcessor { slots, .. } => slots.clone(),
        }
    }

    /// Puts it into the text; `source` is the text without it.
    pub(super) fn apply(&self, machine: &Machine<'_, '_>, lines: &mut Lines, source: &Lines) {
        let device = |slot: usize| machine.device(slot);
        match self {
            Self::Removed { slot, like: Some(like) } => {
                lines.empty_like(device(*slot), device(*like), source);
            }
            Self::Removed { slot, like: None } => lines.empty_short(device(*slot), source),
            Self::Moved { from, to } => {
                lines.copy_module(device(*from), device(*to), source);
                lines.empty_like(device(*from), device(*to), source);
            }
            Self::Added { from, to } => lines.copy_module(device(*from), device(*to), source),
            Self::Swapped { a, b } => {
                lines.copy_module(device(*a), device(*b), source);
                lines.copy_module(device(*b), device(*a), source);
            }
            Self::Field { slot, key, value, .. } => lines.set(device(*slot), key, value),
            Self::Half { slot } => lines.set(device(*slot), "Size", "No Module Installed"),
            Self::Slowed { key, to } => {
                for slot in &machine.fitted {
                    lines.set(device(*slot), key, &format!("{to} MT/s"));
                }
            }
            Self::NoProcessor { record, slots, listed, .. } => {
                lines.set_at(machine.listing.processors[*record].head.place, "Status", "Unpopulated");
                for slot in slots {
                    if !listed {
                        lines.leave_out(device(*slot).head.place);
                    } else if machine.planned(*slot).is_some() {
                        lines.empty_short(device(*slot), source);
                    }
                }
            }
        }
    }

    /// What the slots hold then.
    pub(super) fn put(&self, machine: &Machine<'_, '_>, contents: &mut [Content]) {
        let module = |slot: usize| Content::of(machine.planned(slot));
        match self {
            Self::Removed { slot, .. } => contents[*slot] = Content::Empty,
            Self::Moved { from, to } => {
                contents[*to] = module(*from);
                contents[*from] = Content::Empty;
            }
            Self::Added { from, to } => contents[*to] = module(*from),
            Self::Swapped { a, b } => {
                contents[*a] = module(*b);
                contents[*b] = module(*a);
            }
            Self::Field { slot, now, .. } => contents[*slot] = Content::Module(now.clone()),
            Self::Half { slot } => contents[*slot] = Content::Idle,
            Self::Slowed { .. } => {}
            Self::NoProcessor { slots, .. } => {
                for slot in slots {
                    contents[*slot] = Content::Empty;
                }
            }
        }
    }
}

/// What can be done to this machine.
impl Machine<'_, '_> {
    /// Two modules that differ in something stated, the first from `start` on with the last.
    pub fn swap(&self, start: usize) -> Option<Change> {
        let unlike = |a: usize, b: usize| {
            let (a, b) = (self.slot(a).fitted()?, self.slot(b).fitted()?);
            let differ = a.bytes().zip(b.bytes()).is_some_and(|(a, b)| a != b)
                || a.part.as_deref().zip(b.part.as_deref()).is_some_and(|(a, b)| a != b)
                || a.ranks.zip(b.ranks).is_some_and(|(a, b)| a != b);
            differ.then_some(())
        };
        (0..self.fitted.len()).find_map(|turn| {
            let a = &self.fitted[(start + turn) % self.fitted.len()];
            let other = self.fitted.iter().rev().find(|b| unlike(*a, **b).is_some())?;
            Some(Change::Swapped { a: *a, b: *other })
        })
    }

    /// The field of that key changed in the module of a slot.
    pub fn other_field(&self, field: usize, slot: usize) -> Option<Change> {
        let (name, key) = FIELDS[field];
        let old = self.lines.value(self.device(slot), key)?;
        let mut now = self.planned(slot)?.clone();
        let value = match key {
            "Size" => {
                let (number, unit) = old.split_once(' ')?;
                let number: u64 = number.parse().ok().filter(|number| *number != 32767)?;
                let halved = number.is_multiple_of(2);
                now.size = now.size.map(|size| Bytes(if halved { size.0 / 2 } else { size.0 * 2 }));
                format!("{} {unit}", if halved { number / 2 } else { number * 2 })
            }
            "Rank" => {
                let ranks = if old.parse::<u8>().ok()? == 2 { 1 } else { 2 };
                now.ranks = Some(ranks);
                ranks.to_string()
            }
            "Part Number" => {
                population::identity::clean_part(&old)?;
                let last = old.chars().next_back()?;
                let other = if last == '7' { '8' } else { '7' };
                let part = format!("{}{other}", old.strip_suffix(last)?);
                now.part = Some(part.clone());
                part
            }
            "Type" => {
                if matches!(old.as_str(), "Other" | "Unknown" | "<OUT OF SPEC>" | "Reserved") {
                    return None;
                }
                let (kind, word) =
                    if old == "DDR4" { (MemoryType::DDR3, "DDR3") } else { (MemoryType::DDR4, "DDR4") };
                now.memory_type = Some(kind);
                word.to_owned()
            }
            _ => {
                let (number, unit) = old.split_once(' ')?;
                let number: u32 = number.parse().ok()?;
                let other = if number.abs_diff(1333) <= 2 { 1600 } else { 1333 };
                now.rated = Some(TransferRate(other));
                format!("{other} {unit}")
            }
        };
        Some(Change::Field { slot, name, key, value, now })
    }

    /// The next lower grade, where all modules state a configured speed.
    pub fn slowed(&self) -> Option<Change> {
        let key = ["Configured Memory Speed", "Configured Clock Speed"]
            .into_iter()
            .find(|key| self.lines.value(self.device(self.fitted[0]), key).is_some())?;
        let speeds: Option<Vec<u32>> =
            self.fitted.iter().map(|slot| self.slot(*slot).fitted()?.configured.map(|rate| rate.0)).collect();
        let now = *speeds?.iter().min()?;
        // Half of the rating and less is left out: below what a generation's modules are sold at it is the clock in MHz
        // that older firmware prints in place of the rate, or no speed of that generation, and no fault.
        let rated = self.fitted.iter().filter_map(|slot| Some(self.slot(*slot).fitted()?.rated?.0)).max();
        let is_speed = |grade: u32| rated.is_none_or(|rated| grade * 2 > rated + 2);
        let to = GRADES.iter().rfind(|grade| **grade + 10 < now && is_speed(**grade))?;
        Some(Change::Slowed { key, to: *to })
    }

    /// A module whose identity is taken for real in an empty slot: a part number of letters and digits that another
    /// module has too.
    pub fn half_seated(&self, slot: usize) -> Option<Change> {
        let real = |part: &&str| {
            let has = |what: fn(&u8) -> bool| part.as_bytes().iter().any(what);
            part.len() >= 6 && has(u8::is_ascii_alphabetic) && has(u8::is_ascii_digit)
        };
        let part = self.slot(slot).fitted()?.part.as_deref().filter(real)?;
        let twins =
            self.population.fitted().filter(|(_, module)| module.part.as_deref() == Some(part)).count();
        (twins > 1).then_some(Change::Half { slot })
    }

    /// No processor in a socket whose state the listing has, while another one is there with modules.
    pub fn no_processor(&self, socket: u16, listed: bool) -> Option<Change> {
        // Slots that are not printed have their socket by their names, and a listing that is damaged may hide more.
        let names = |at: usize| {
            self.population
                .slots
                .iter()
                .all(|slot| numbers(&slot.name).get(at) == slot.location.socket.as_ref())
        };
        // A name that is made unique beside its equals is another one without them.
        let plain = self.population.slots.iter().all(|slot| !slot.name.contains(['@', '#']));
        if !listed && (self.listing.may_miss_records() || !plain || !(0..4).any(names)) {
            return None;
        }
        let runs = |number: u16| {
            let own = self.population.sockets.iter().find(|s| s.number == Some(number))?;
            let has_modules = self.fitted.iter().any(|slot| self.at(*slot).socket == Some(number));
            (own.status == Some(ProcessorStatus::Running) && has_modules).then_some(own.record)
        };
        let record = runs(socket)?;
        let mut others = self.population.sockets.iter().filter_map(|s| s.number.filter(|n| *n != socket));
        others.any(|number| runs(number).is_some()).then_some(())?;
        let slots = 0..self.population.slots.len();
        let slots = slots.filter(|slot| self.at(*slot).socket == Some(socket)).collect();
        Some(Change::NoProcessor { socket, record, slots, listed })
    }
}

/// The numbers in a name.
pub fn numbers(name: &str) -> Vec<u16> {
    name.split(|c: char| !c.is_ascii_digit()).filter_map(|digits| digits.parse().ok()).collect()
}
