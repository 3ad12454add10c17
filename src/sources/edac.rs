//! The kernel's memory error counters: what its driver for the memory controller sees.
//!
//! Source of the names: kernel ABI documentation, `sysfs-devices-edac`. There are two layouts, `dimm*` or `rank*` for
//! modules and the older `csrow*` for rows of chips; a kernel may show either or both of the same memory. Numbers of controllers and modules are
//! the driver's, not the board's; only a label can tie a module to a slot.

use std::collections::HashMap;

use super::{Part, PartForm, Reader, Recognise, Sources, numbered};
use crate::evidence::{Evidence, SectionKind, Source};
use crate::units::Bytes;

/// What is under `/sys/devices/system/edac/mc`.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Edac {
    /// Memory controllers.
    pub controllers: Vec<Controller>,
    /// Modules, or ranks where the driver counts by rank.
    pub modules: Vec<Counted>,
    /// The same memory by rows of chips, as older kernels show it alone and others show it besides.
    pub rows: Vec<ChipRow>,
}

/// One row of chips in the older layout: a rank, over all channels that are driven together.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ChipRow {
    /// Its controller's directory.
    pub controller: String,
    /// Its own directory, for example `csrow0`.
    pub id: String,
    /// `size_mb`: the memory in the row.
    pub size: Option<Bytes>,
    /// `ce_count`: errors corrected, those of its channels included.
    pub corrected: u64,
    /// `ue_count`: errors that could not be corrected; no layout counts these by channel here.
    pub uncorrected: u64,
    /// Whether a counter holds no number, so that nothing is known of it.
    pub unreadable: bool,
    /// The lines of size and counters.
    pub lines: Vec<Evidence>,
    /// Its channels, with `chN_dimm_label` and `chN_ce_count`; their directory is that of the row and their number.
    pub channels: Vec<Counted>,
}

/// One memory controller.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Controller {
    /// Its directory, for example `mc0`.
    pub id: String,
    /// `mc_name`: the driver's name for it.
    pub name: Option<String>,
    /// `size_mb`: the memory it manages.
    pub size: Option<Bytes>,
    /// `ce_count`: errors corrected.
    pub corrected: u64,
    /// `ue_count`: errors that could not be corrected.
    pub uncorrected: u64,
    /// Whether a counter holds no number, so that nothing is known of it.
    pub unreadable: bool,
    /// The lines of size and counters.
    pub lines: Vec<Evidence>,
}

/// One module, one rank of one, or its share of a row of chips.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Counted {
    /// Its controller's directory.
    pub controller: String,
    /// Its own directory, for example `dimm3` or `rank0`.
    pub id: String,
    /// `size`, in MB of the module, or of the rank under `rank*`.
    pub size: Option<Bytes>,
    /// `dimm_label`: settable text; the board's label only where someone has set it.
    pub label: Option<String>,
    /// `dimm_location`, in the driver's numbers.
    pub location: Option<String>,
    /// `dimm_ce_count`.
    pub corrected: u64,
    /// `dimm_ue_count`.
    pub uncorrected: u64,
    /// Whether a counter holds no number, so that nothing is known of it.
    pub unreadable: bool,
    /// The lines of label, size and counters.
    pub lines: Vec<Evidence>,
}

impl Edac {
    /// The memory that all drivers together manage; `None` where one of them states none.
    pub fn total(&self) -> Option<Bytes> {
        let controllers = self.ids();
        let sizes: Option<Vec<Bytes>> =
            controllers.iter().map(|controller| Some(self.sizes_of(controller)?.0)).collect();
        sizes.filter(|sizes| !sizes.is_empty()).map(|sizes| sizes.into_iter().sum())
    }

    /// The lines that give the total.
    pub fn total_lines(&self) -> Vec<Evidence> {
        self.ids().iter().filter_map(|controller| Some(self.sizes_of(controller)?.1)).flatten().collect()
    }

    /// The directories of all controllers, in the order in which they come up.
    pub(crate) fn ids(&self) -> Vec<&str> {
        let controllers = self.controllers.iter().map(|c| c.id.as_str());
        let modules = self.modules.iter().map(|m| m.controller.as_str());
        let rows = self.rows.iter().map(|r| r.controller.as_str());
        let mut ids = Vec::new();
        for id in controllers.chain(modules).chain(rows) {
            if !ids.contains(&id) {
                ids.push(id);
            }
        }
        ids
    }

    /// The memory of one controller with its lines: its own size, or the sum of its modules, or that of its rows, which
    /// is the same memory once more.
    fn sizes_of(&self, id: &str) -> Option<(Bytes, Vec<Evidence>)> {
        let own = self.controllers.iter().filter(|c| c.id == id).map(|c| (c.size, &c.lines));
        let modules = self.modules.iter().filter(|m| m.controller == id).map(|m| (m.size, &m.lines));
        let rows = self.rows.iter().filter(|r| r.controller == id).map(|r| (r.size, &r.lines));
        let sum = |all: Vec<(Option<Bytes>, &Vec<Evidence>)>| {
            let stated: Vec<_> = all.into_iter().filter_map(|(size, lines)| Some((size?, lines))).collect();
            let lines =
                stated.iter().flat_map(|(_, lines)| lines.iter()).filter(|l| l.text.contains("/size"));
            (!stated.is_empty())
                .then(|| (stated.iter().map(|(size, _)| *size).sum(), lines.cloned().collect()))
        };
        sum(own.collect()).or_else(|| sum(modules.collect())).or_else(|| sum(rows.collect()))
    }
}

pub(super) const READER: Reader = Reader {
    expected: "the folder /sys/devices/system/edac or the output of `grep -r . /sys/devices/system/edac/mc`",
    help: Some("error counters"),
    once: Some("set of error counters"),
    is_in: |sources| sources.edac.is_some(),
    read: |text, first| Some(Sources { edac: Some(read(text, first)?), ..Sources::default() }),
    recognise: Recognise::ByReading,
    part: Some(Part {
        section: SectionKind::Edac,
        path: "sys/devices/system/edac/mc",
        form: PartForm::Counters,
        hides: "errors that were counted on modules",
        usual: false,
    }),
};

/// Reads lines `PATH:VALUE`, as `grep -r .` prints them; `None` where there is none of a controller.
fn read(text: &str, first: u32) -> Option<Edac> {
    let mut edac = Edac::default();
    let mut index = HashMap::new();
    for (number, line) in numbered(text, first) {
        let Some((path, value)) = line.split_once(':') else { continue };
        let mut parts = path.split('/').skip_while(|part| !is_numbered(part, "mc"));
        let Some(controller) = parts.next() else { continue };
        let evidence = Evidence { source: Source::Edac, line: number, text: line.to_owned() };
        match (parts.next(), parts.next(), parts.next()) {
            (Some(file), None, None) => of_controller(&mut edac, controller, file, value.trim(), evidence),
            (Some(id), Some(file), None) if is_numbered(id, "dimm") || is_numbered(id, "rank") => {
                of_module(&mut edac, &mut index, (controller, id), file, (value.trim(), evidence));
            }
            (Some(id), Some(file), None) if is_numbered(id, "csrow") => {
                of_row(&mut edac, &mut index, (controller, id), file, (value.trim(), evidence));
            }
            _ => {}
        }
    }
    (!edac.ids().is_empty()).then_some(edac)
}

/// Takes over a counter, or the larger one: the errors without a place are among all errors. Says whether it is a
/// number.
fn count(value: &str, counter: &mut u64) -> bool {
    value.parse().map(|number: u64| *counter = number.max(*counter)).is_ok()
}

fn is_numbered(part: &str, word: &str) -> bool {
    part.strip_prefix(word).is_some_and(|rest| !rest.is_empty() && rest.bytes().all(|b| b.is_ascii_digit()))
}

fn of_controller(edac: &mut Edac, id: &str, file: &str, value: &str, evidence: Evidence) {
    let at = edac.controllers.iter().position(|c| c.id == id).unwrap_or_else(|| {
        edac.controllers.push(Controller { id: id.to_owned(), ..Controller::default() });
        edac.controllers.len() - 1
    });
    let controller = &mut edac.controllers[at];
    match file {
        "mc_name" => controller.name = Some(value.to_owned()),
        "size_mb" => controller.size = value.parse().ok().map(Bytes::mib),
        "ce_count" | "ce_noinfo_count" => controller.unreadable |= !count(value, &mut controller.corrected),
        "ue_count" | "ue_noinfo_count" => controller.unreadable |= !count(value, &mut controller.uncorrected),
        _ => return,
    }
    controller.lines.push(evidence);
}

fn of_module<'t>(
    edac: &mut Edac,
    index: &mut HashMap<(&'t str, &'t str), usize>,
    (controller, id): (&'t str, &'t str),
    file: &str,
    (value, evidence): (&str, Evidence),
) {
    let at = *index.entry((controller, id)).or_insert_with(|| {
        let module = Counted { controller: controller.to_owned(), id: id.to_owned(), ..Counted::default() };
        edac.modules.push(module);
        edac.modules.len() - 1
    });
    let module = &mut edac.modules[at];
    let text = Some(value).filter(|value| !value.is_empty()).map(str::to_owned);
    match file {
        "size" => module.size = value.parse().ok().map(Bytes::mib),
        "dimm_label" => module.label = text,
        "dimm_location" => module.location = text,
        "dimm_ce_count" => module.unreadable |= !count(value, &mut module.corrected),
        "dimm_ue_count" => module.unreadable |= !count(value, &mut module.uncorrected),
        _ => return,
    }
    module.lines.push(evidence);
}

fn of_row<'t>(
    edac: &mut Edac,
    index: &mut HashMap<(&'t str, &'t str), usize>,
    (controller, id): (&'t str, &'t str),
    file: &str,
    (value, evidence): (&str, Evidence),
) {
    let at = *index.entry((controller, id)).or_insert_with(|| {
        edac.rows.push(ChipRow {
            controller: controller.to_owned(),
            id: id.to_owned(),
            ..ChipRow::default()
        });
        edac.rows.len() - 1
    });
    let row = &mut edac.rows[at];
    match file {
        "size_mb" => row.size = value.parse().ok().map(Bytes::mib),
        "ce_count" => row.unreadable |= !count(value, &mut row.corrected),
        "ue_count" => row.unreadable |= !count(value, &mut row.uncorrected),
        _ => {
            if let Some((channel, what)) =
                file.split_once('_').filter(|(channel, _)| is_numbered(channel, "ch"))
            {
                of_channel(row, channel, what, value, evidence);
            }
            return;
        }
    }
    row.lines.push(evidence);
}

fn of_channel(row: &mut ChipRow, channel: &str, file: &str, value: &str, evidence: Evidence) {
    let id = format!("{}/{channel}", row.id);
    let at = row.channels.iter().position(|own| own.id == id).unwrap_or_else(|| {
        row.channels.push(Counted { controller: row.controller.clone(), id, ..Counted::default() });
        row.channels.len() - 1
    });
    let own = &mut row.channels[at];
    match file {
        "dimm_label" => own.label = Some(value.to_owned()).filter(|value| !value.is_empty()),
        "ce_count" => own.unreadable |= !count(value, &mut own.corrected),
        _ => return,
    }
    own.lines.push(evidence);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counters_of_controllers_and_modules() {
        let text = "/sys/devices/system/edac/mc/mc0/mc_name:Demo\n/sys/devices/system/edac/mc/mc0/size_mb:32768\n\
                    /sys/devices/system/edac/mc/mc0/ce_count:3\nmc0/dimm0/size:16384\nmc0/dimm0/dimm_label:s1.c1.p1\n\
                    mc0/dimm0/dimm_ce_count:3\nmc0/dimm1/size:16384\nmc0/power/control:auto\nmc0/csrow0/ch0_ce_count:9\n";
        let edac = read(text, 1).unwrap();
        assert_eq!(edac.total(), Some(Bytes::gib(32)));
        assert_eq!((edac.controllers[0].corrected, edac.modules.len()), (3, 2));
        assert_eq!((edac.modules[0].label.as_deref(), edac.modules[0].corrected), (Some("s1.c1.p1"), 3));
        assert_eq!(edac.modules[0].lines[1].line, 5);
        assert_eq!(
            (edac.rows[0].channels[0].id.as_str(), edac.rows[0].channels[0].corrected),
            ("csrow0/ch0", 9)
        );
        assert!(read("MemTotal: 1 kB\nhttp://example.org/mcx:1\n", 1).is_none());
    }

    /// What is no number is not zero.
    #[test]
    fn counters_without_a_number_are_unreadable() {
        let text = "mc0/ce_count:-1\nmc0/ue_count:0\nmc0/dimm0/dimm_ce_count:\nmc0/dimm1/dimm_ue_count:2\n";
        let edac = read(text, 1).unwrap();
        assert!(edac.controllers[0].unreadable);
        assert_eq!(edac.modules.iter().map(|m| m.unreadable).collect::<Vec<_>>(), [true, false]);
        assert_eq!(edac.modules[1].uncorrected, 2);
    }

    /// Kernel ABI documentation, `sysfs-devices-edac`: `csrow*` holds `ce_count`, `ue_count`, `size_mb` and, for each
    /// channel, `ch*_ce_count` and `ch*_dimm_label`.
    #[test]
    fn rows_of_chips_are_read_alone_and_beside_modules() {
        let rows = "mc0/csrow0/size_mb:8192\nmc0/csrow0/ce_count:5\nmc0/csrow0/ue_count:1\n\
                    mc0/csrow0/ch0_ce_count:2\nmc0/csrow0/ch1_ce_count:3\nmc0/csrow0/ch0_dimm_label:A1\n\
                    mc0/csrow1/size_mb:8192\nmc0/csrow1/ch0_ce_count:\n";
        let edac = read(rows, 1).unwrap();
        assert_eq!((edac.rows.len(), edac.modules.len(), edac.total()), (2, 0, Some(Bytes::gib(16))));
        let row = &edac.rows[0];
        assert_eq!((row.corrected, row.uncorrected, row.channels.len()), (5, 1, 2));
        assert_eq!((row.channels[0].label.as_deref(), row.channels[1].corrected), (Some("A1"), 3));
        assert!(edac.rows[1].channels[0].unreadable && !row.unreadable);
        // The same memory in both layouts counts once.
        let both = read(&format!("{rows}mc0/dimm0/size:8192\nmc0/dimm1/size:8192\n"), 1).unwrap();
        assert_eq!((both.total(), both.total_lines().len()), (Some(Bytes::gib(16)), 2));
        // A controller that states no size leaves the sum open.
        assert_eq!(read(&format!("{rows}mc1/ce_count:0\n"), 1).unwrap().total(), None);
    }

    /// Under `rank*` the size is that of one rank.
    #[test]
    fn ranks_sum_to_the_module() {
        let text = "mc0/rank0/size:8192\nmc0/rank1/size:8192\n";
        assert_eq!(read(text, 1).unwrap().total(), Some(Bytes::gib(16)));
    }
}
