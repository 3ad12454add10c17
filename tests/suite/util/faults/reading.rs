//! What must be found of changes: the reading that takes the least work, found by trying every reading.
//!
//! Changes to different slots are not independent: a module that is gone and one like it that is there too many are one
//! module in the wrong slot. So expectations of several changes are not the sum of those of each. What a technician
//! would do least work for is the rule (docs/findings.md, `wrong-slot`), in this order: the fewest modules to fetch, the
//! fewest modules in other slots than planned, the fewest left over, then the same channel before the same socket before
//! the rest, then the nearest in the listing. Readings that are equal in all of that are all accepted.
//!
//! Modules that the listing does not show to be alike nor to differ have no reading: such changes are not made.

use asfitted::audit::FindingKind;
use asfitted::plan::ModuleSpec;
use asfitted::records::enums::ProcessorStatus;

use super::{Change, Machine};

/// What a slot holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Content {
    Empty,
    Module(ModuleSpec),
    /// A module that is named and gives no memory.
    Idle,
}

impl Content {
    pub fn of(wanted: Option<&ModuleSpec>) -> Self {
        wanted.map_or(Self::Empty, |wanted| Self::Module(wanted.clone()))
    }
}

/// A finding that must be there: its kind, its slots, where the module belongs, the fields that differ.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Expected {
    pub kind: FindingKind,
    pub slots: Vec<String>,
    pub other: Option<String>,
    pub fields: Vec<&'static str>,
}

impl Expected {
    pub fn new(kind: FindingKind, mut slots: Vec<String>) -> Self {
        slots.sort();
        Self { kind, slots, other: None, fields: Vec::new() }
    }

    pub fn at(kind: FindingKind, slot: String) -> Self {
        Self::new(kind, vec![slot])
    }

    pub fn with(self, fields: Vec<&'static str>) -> Self {
        Self { fields, ..self }
    }

    pub fn wrong_slot(slot: String, belongs: String) -> Self {
        Self { other: Some(belongs), ..Self::at(FindingKind::WrongSlot, slot) }
    }
}

/// Whether two modules are the same by what is stated of them, with the fields in which they differ.
enum Likeness {
    Alike,
    Unlike(Vec<&'static str>),
    /// Only one of them states something, or only their makers differ, whose names are read with doubts.
    Unclear,
}

fn likeness(wanted: &ModuleSpec, found: &ModuleSpec) -> Likeness {
    if wanted == found {
        return Likeness::Alike;
    }
    let rates = wanted.rated.zip(found.rated);
    let fields = [
        ("size", differ(wanted.size, found.size)),
        ("type", differ(wanted.memory_type, found.memory_type)),
        ("kind", differ(wanted.kind, found.kind)),
        ("ranks", differ(wanted.ranks, found.ranks)),
        ("rated", rates.is_some_and(|(a, b)| !a.same_grade(b))),
        ("ecc", differ(wanted.ecc, found.ecc)),
        ("maker", differ(wanted.maker.as_deref(), found.maker.as_deref())),
        ("part", differ(wanted.part.as_deref(), found.part.as_deref())),
    ];
    let differing: Vec<&str> = fields.iter().filter(|(_, differs)| *differs).map(|(word, _)| *word).collect();
    let plain = differing.iter().any(|word| ["size", "type", "ranks", "rated", "part"].contains(word));
    if plain { Likeness::Unlike(differing) } else { Likeness::Unclear }
}

fn differ<T: PartialEq>(wanted: Option<T>, found: Option<T>) -> bool {
    wanted.zip(found).is_some_and(|(a, b)| a != b)
}

/// Work in the order in which it counts: modules to fetch, modules to move, modules left over, ways.
type Work = (usize, usize, usize, usize);

/// All readings of the least work, while they are searched.
struct Search<'s> {
    /// For each planned slot: its options, as what is used and the work that it costs.
    options: Vec<Vec<(Option<usize>, Work)>>,
    best: Option<Work>,
    readings: Vec<Vec<Option<usize>>>,
    used: &'s mut Vec<usize>,
    found: usize,
}

impl Search<'_> {
    fn try_all(&mut self, row: usize, chosen: &mut Vec<Option<usize>>, work: Work) {
        if self.best.is_some_and(|best| (work.0, work.1) > (best.0, best.1)) {
            return;
        }
        if row == self.options.len() {
            let left = self.found - self.used.len();
            let work = (work.0, work.1, left, work.3);
            if self.best.is_none_or(|best| work < best) {
                self.best = Some(work);
                self.readings.clear();
            }
            if self.best == Some(work) {
                self.readings.push(chosen.clone());
            }
            return;
        }
        for (module, own) in self.options[row].clone() {
            if module.is_some_and(|module| self.used.contains(&module)) {
                continue;
            }
            self.used.extend(module);
            chosen.push(module);
            self.try_all(row + 1, chosen, (work.0 + own.0, work.1 + own.1, 0, work.3 + own.3));
            chosen.pop();
            if module.is_some() {
                self.used.pop();
            }
        }
    }
}

impl Machine<'_, '_> {
    /// What the slots hold after these changes.
    pub fn contents(&self, changes: &[Change]) -> Vec<Content> {
        let slots = 0..self.population.slots.len();
        let mut contents: Vec<Content> = slots.map(|slot| Content::of(self.planned(slot))).collect();
        for change in changes {
            change.put(self, &mut contents);
        }
        contents
    }

    /// What must be found of these changes to different slots: one set of findings for each reading of the least work,
    /// `None` where the listing leaves open whether two of the modules are alike.
    pub fn readings(&self, changes: &[Change]) -> Option<Vec<Vec<Expected>>> {
        let contents = self.contents(changes);
        let touched: Vec<usize> = changes.iter().flat_map(Change::slots).collect();
        let rows: Vec<usize> = touched.iter().copied().filter(|slot| self.planned(*slot).is_some()).collect();
        let module = |slot: &usize| matches!(contents[*slot], Content::Module(_));
        let found: Vec<usize> = touched.iter().copied().filter(module).collect();
        if !self.is_clear(&found, &contents) || !self.is_half_seated(changes, &contents) {
            return None;
        }
        let mut options = Vec::new();
        for row in &rows {
            let hidden = changes.iter().any(|change| change.hides(*row, self));
            options.push(self.options(*row, hidden, &found, &contents)?);
        }
        let mut search =
            Search { options, best: None, readings: Vec::new(), used: &mut Vec::new(), found: found.len() };
        search.try_all(0, &mut Vec::new(), (0, 0, 0, 0));
        let readings = search.readings.iter();
        Some(readings.map(|chosen| self.expected(changes, &contents, &rows, &found, chosen)).collect())
    }

    /// Whether each of these modules is shown to be like, or not to be like, what is planned for any slot, so that none of
    /// those that nothing happened to can take its place in less work.
    fn is_clear(&self, found: &[usize], contents: &[Content]) -> bool {
        let module = |slot: &usize| match &contents[*slot] {
            Content::Module(module) => Some(module),
            Content::Empty | Content::Idle => None,
        };
        let unclear = |(wanted, slot): (&ModuleSpec, &usize)| {
            module(slot).is_some_and(|found| matches!(likeness(wanted, found), Likeness::Unclear))
        };
        let planned =
            self.plan.modules().flat_map(|(_, wanted)| found.iter().map(move |slot| (wanted, slot)));
        !planned.into_iter().any(unclear)
    }

    /// Whether what half a module says of itself is taken for real: while another one with that part number runs.
    fn is_half_seated(&self, changes: &[Change], contents: &[Content]) -> bool {
        let half = changes.iter().filter_map(|change| match change {
            Change::Half { slot } => self.planned(*slot),
            _ => None,
        });
        half.into_iter().all(|wanted| {
            contents.iter().any(|content| matches!(content, Content::Module(m) if m.part == wanted.part))
        })
    }

    /// Which of the modules can be the planned one of a slot, and what that costs. The way to a slot that is `hidden` is
    /// as long from everywhere.
    fn options(
        &self,
        row: usize,
        hidden: bool,
        found: &[usize],
        contents: &[Content],
    ) -> Option<Vec<(Option<usize>, Work)>> {
        let wanted = self.planned(row)?;
        let fetched = usize::from(contents[row] != Content::Idle);
        let mut options = vec![(None, (fetched, 0, 0, 0))];
        for slot in found {
            let Content::Module(other) = &contents[*slot] else { continue };
            match likeness(wanted, other) {
                Likeness::Alike if *slot == row => options.push((Some(*slot), (0, 0, 0, 0))),
                Likeness::Alike => {
                    let way = if hidden { 3000 } else { self.way(row, *slot) };
                    options.push((Some(*slot), (0, 1, 0, way)));
                }
                Likeness::Unlike(_) if *slot == row => options.push((Some(*slot), (1, 0, 0, 0))),
                Likeness::Unlike(_) => {}
                Likeness::Unclear => return None,
            }
        }
        Some(options)
    }

    /// How far two slots are from each other: the channel, then the socket, then the order of the listing.
    fn way(&self, one: usize, other: usize) -> usize {
        let (a, b) = (self.at(one), self.at(other));
        let same_channel = a.socket == b.socket && a.channel.is_some() && a.channel == b.channel;
        let step = if same_channel { 0 } else { 1000 * (1 + usize::from(a.socket != b.socket)) };
        step + one.abs_diff(other).min(900)
    }

    fn expected(
        &self,
        changes: &[Change],
        contents: &[Content],
        rows: &[usize],
        found: &[usize],
        chosen: &[Option<usize>],
    ) -> Vec<Expected> {
        let mut result = Vec::new();
        let mut lost = Vec::new();
        for (row, module) in rows.iter().zip(chosen) {
            match module {
                None if contents[*row] == Content::Idle => {
                    result.push(Expected::at(FindingKind::NotRunning, self.name(*row)));
                }
                None => lost.push(*row),
                Some(slot) if slot == row => {
                    let (Some(wanted), Content::Module(other)) = (self.planned(*row), &contents[*slot])
                    else {
                        continue;
                    };
                    if let Likeness::Unlike(fields) = likeness(wanted, other) {
                        result.push(Expected::at(FindingKind::WrongModule, self.name(*row)).with(fields));
                    }
                }
                Some(slot) => result.push(Expected::wrong_slot(self.name(*slot), self.name(*row))),
            }
        }
        for slot in found.iter().filter(|slot| !chosen.contains(&Some(**slot))) {
            result.push(Expected::at(FindingKind::Unplanned, self.name(*slot)));
        }
        result.extend(self.missing(&lost, contents, changes));
        if changes.iter().any(Change::is_everywhere) {
            let runs = |slot: &usize| matches!(contents[*slot], Content::Module(_));
            let slots = (0..contents.len()).filter(runs).map(|slot| self.name(slot)).collect();
            result.push(Expected::new(FindingKind::ClockedDown, slots).with(vec!["speed"]));
        }
        result.sort();
        result
    }

    /// One `missing` for each slot, or one `no-cpu` for those of a socket that the listing calls unpopulated and that
    /// has no module left. (One listing of the 937 shows modules on a socket that it reports as unpopulated.)
    fn missing(&self, lost: &[usize], contents: &[Content], changes: &[Change]) -> Vec<Expected> {
        let mut taken_out: Vec<u16> = Vec::new();
        for change in changes {
            if let Change::NoProcessor { socket, .. } = change {
                taken_out.push(*socket);
            }
        }
        let unpopulated = self.population.sockets.iter();
        let unpopulated = unpopulated.filter(|s| s.status == Some(ProcessorStatus::Unpopulated));
        taken_out.extend(unpopulated.filter_map(|s| s.number));
        let has_left = |socket: u16| {
            (0..contents.len()).any(|slot| {
                self.at(slot).socket == Some(socket) && matches!(contents[slot], Content::Module(_))
            })
        };
        let mut result = Vec::new();
        let mut sockets: Vec<(u16, Vec<String>)> = Vec::new();
        for slot in lost {
            match self.at(*slot).socket.filter(|socket| taken_out.contains(socket) && !has_left(*socket)) {
                Some(socket) => match sockets.iter_mut().find(|(own, _)| *own == socket) {
                    Some((_, names)) => names.push(self.name(*slot)),
                    None => sockets.push((socket, vec![self.name(*slot)])),
                },
                None => result.push(Expected::at(FindingKind::Missing, self.name(*slot))),
            }
        }
        result.extend(sockets.into_iter().map(|(_, names)| Expected::new(FindingKind::NoCpu, names)));
        result
    }
}
