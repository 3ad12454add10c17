//! The kernel's memory error counters: what its driver for the memory controller sees.
//!
//! Source of the names: kernel ABI documentation, `sysfs-devices-edac`. Numbers of controllers and modules are
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

/// One module, or one rank of one.
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
    /// The memory that all drivers together manage; `None` where none states it.
    pub fn total(&self) -> Option<Bytes> {
        let stated: Vec<Bytes> = self.controllers.iter().filter_map(|c| c.size).collect();
        if !stated.is_empty() {
            return Some(stated.into_iter().sum());
        }
        let sizes: Vec<Bytes> = self.modules.iter().filter_map(|m| m.size).collect();
        (!sizes.is_empty()).then(|| sizes.into_iter().sum())
    }

    /// The lines that give the total.
    pub fn total_lines(&self) -> Vec<Evidence> {
        let controllers = self.controllers.iter().filter(|c| c.size.is_some());
        let lines: Vec<Evidence> = controllers
            .flat_map(|c| c.lines.iter().filter(|l| l.text.contains("size_mb")))
            .cloned()
            .collect();
        if !lines.is_empty() {
            return lines;
        }
        let sizes = self.modules.iter().flat_map(|m| m.lines.iter().filter(|l| l.text.contains("/size")));
        sizes.cloned().collect()
    }
}

pub(super) const READER: Reader = Reader {
    expected: "the output of `grep -r . /sys/devices/system/edac/mc`",
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
            _ => {}
        }
    }
    (!edac.controllers.is_empty() || !edac.modules.is_empty()).then_some(edac)
}

/// Takes over a counter; says whether it is a number.
fn count(value: &str, counter: &mut u64) -> bool {
    value.parse().map(|number| *counter = number).is_ok()
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
        "ce_count" => controller.unreadable |= !count(value, &mut controller.corrected),
        "ue_count" => controller.unreadable |= !count(value, &mut controller.uncorrected),
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

    /// Under `rank*` the size is that of one rank.
    #[test]
    fn ranks_sum_to_the_module() {
        let text = "mc0/rank0/size:8192\nmc0/rank1/size:8192\n";
        assert_eq!(read(text, 1).unwrap().total(), Some(Bytes::gib(16)));
    }
}
