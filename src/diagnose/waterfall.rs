//! Where memory is lost on its way: stated, detected, mapped, visible.

use super::causes::{CauseKind, DiagnosisInput, visible as visible_causes};
use super::diagnosis::{Diagnosis, Explained};
use crate::audit::{Detail, Finding, FindingKind};
use crate::base::words::short_list;
use crate::case::Case;
use crate::plan::NamedMode;
use crate::population::{Population, Tier};
use crate::sources::usual_reservation;
use crate::units::Bytes;

/// What is known of a station.
#[derive(Debug, Clone, Copy)]
pub struct StationInfo {
    /// Its word in JSON.
    pub word: &'static str,
    /// What people read.
    pub title: &'static str,
}

table! {
    /// The stations of memory on its way from the bench to the operating system.
    pub enum Station: StationInfo {
        /// What was fitted, as stated by someone.
        Stated { word: "told", title: "stated" },
        /// What the plan asks for.
        Planned { word: "planned", title: "planned" },
        /// Sum of the modules that the firmware detects.
        Detected { word: "detected", title: "detected" },
        /// Address ranges that the firmware maps.
        Mapped { word: "mapped", title: "mapped" },
        /// What the operating system can use.
        Visible { word: "visible", title: "visible" },
    }
}

impl Station {
    /// The station's word.
    pub const fn word(self) -> &'static str {
        self.info().word
    }
}

/// One station.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stage {
    /// Which one.
    pub station: Station,
    /// What arrives there.
    pub size: Bytes,
    /// What was lost since the station before; negative losses are none.
    pub lost: Bytes,
    /// Whether such a loss is usual.
    pub usual: bool,
    /// What may explain it.
    pub reasons: Vec<String>,
}

/// Share of memory that page descriptors take: 64 bytes for each page of 4096 (kernel documentation, vmemmap).
const DESCRIPTOR_DIVISOR: u64 = 64;

/// The stations that are known, in order.
///
/// `stated` is the total that someone says was fitted.
pub(super) fn waterfall(diagnosis: &Diagnosis<'_>, stated: Option<Bytes>) -> Vec<Stage> {
    let mut stages: Vec<Stage> = Vec::new();
    let case = diagnosis.case;
    let population = &case.population;
    let totals = population.totals;
    let mut push = |station, size: Bytes, explain: &dyn Fn(Bytes, Bytes) -> (bool, Vec<String>)| {
        let before = stages.last().map_or(size, |stage: &Stage| stage.size);
        let lost = Bytes(before.0.saturating_sub(size.0));
        let (usual, reasons) = if lost.0 == 0 { (true, Vec::new()) } else { explain(before, lost) };
        stages.push(Stage { station, size, lost, usual, reasons });
    };
    if let Some(stated) = stated {
        push(Station::Stated, stated, &|_, _| (true, Vec::new()));
    }
    if let Some(planned) = case.planned_of(Tier::Main).filter(|_| case.is_planned()) {
        let reason = "the plan asks for less than was stated";
        push(Station::Planned, planned, &|_, _| (false, vec![reason.to_owned()]));
    }
    push(Station::Detected, totals.main_at_least(), &|_, _| (false, detected(diagnosis)));
    if let Some(mapped) = totals.mapped {
        push(Station::Mapped, mapped, &|before, lost| mapped_reasons(before, lost, population));
    }
    if let Some(meminfo) = &case.sources.meminfo {
        // What is mapped below the modules proves no loss, so the modules are what the system is measured by.
        let ram = totals.visible_least();
        let lost = Bytes(ram.0.saturating_sub(meminfo.total.0));
        let (usual, reasons) = visible_reasons(ram, lost, meminfo.total, diagnosis);
        stages.push(Stage { station: Station::Visible, size: meminfo.total, lost, usual, reasons });
    }
    stages
}

/// Why less is detected than planned: the first cause of each finding that takes a module away.
fn detected(diagnosis: &Diagnosis<'_>) -> Vec<String> {
    if let Some(text) = listed_wrongly(diagnosis) {
        return vec![text];
    }
    let mut reasons: Vec<(String, Vec<String>)> = Vec::new();
    for Explained { finding, causes } in &diagnosis.findings {
        let lost = matches!(
            finding.kind,
            FindingKind::Missing | FindingKind::NotRunning | FindingKind::NoCpu | FindingKind::WrongModule
        );
        if !lost {
            continue;
        }
        let cause = causes.first().map(|cause| cause.cause.clone()).unwrap_or_default();
        match reasons.iter_mut().find(|(own, _)| *own == cause) {
            Some((_, slots)) => slots.extend(finding.slots.iter().cloned()),
            None => reasons.push((cause, finding.slots.clone())),
        }
    }
    let mut texts: Vec<String> =
        reasons.into_iter().map(|(cause, slots)| format!("{}: {cause}", short_list(&slots))).collect();
    if diagnosis.case.population.totals.detected.is_none() {
        texts.push("some modules do not state their size; the sum is a lower bound".to_owned());
    }
    if texts.is_empty() {
        texts.push("modules that are not seated, defective, disabled by the firmware or never fitted all read as empty slots".to_owned());
    }
    texts
}

/// Modules that the system uses are there, whatever is listed.
fn listed_wrongly(diagnosis: &Diagnosis<'_>) -> Option<String> {
    let causes = diagnosis.findings.iter().filter_map(|explained| explained.causes.first());
    let wrong = causes.into_iter().find(|cause| cause.kind == CauseKind::ListingWrong)?;
    Some(format!("{}: {}", wrong.cause, wrong.why))
}

/// Ranges that sum to less than the modules prove nothing alone, but some ratios have a name.
fn mapped_reasons(before: Bytes, lost: Bytes, population: &Population<'_>) -> (bool, Vec<String>) {
    let per_mille = lost.0.saturating_mul(1000) / before.0.max(1);
    let totals = population.totals;
    let persistent = totals.persistent.0 + totals.volatile.0 > 0;
    let reason = match per_mille {
        _ if persistent => "persistent modules are mapped by how they are set up",
        0..=70 => return (true, vec!["windows for devices and graphics".to_owned()]),
        495..=505 => {
            "half: mirroring, or a firmware that lists one of two ranges; look at the memory mode in the firmware setup"
        }
        _ => "sparing, mirroring or a firmware habit; unequal sums alone prove no loss",
    };
    (false, vec![reason.to_owned()])
}

fn visible_reasons(
    ram: Bytes,
    lost: Bytes,
    visible: Bytes,
    diagnosis: &Diagnosis<'_>,
) -> (bool, Vec<String>) {
    if lost.0 == 0 {
        return (true, Vec::new());
    }
    let Case { plan, sources, .. } = diagnosis.case;
    let command_line = sources.command_line.as_ref();
    let descriptors = Bytes(ram.0 / DESCRIPTOR_DIVISOR / Bytes::MIB * Bytes::MIB);
    let mut reasons = vec![format!(
        "{descriptors} for page descriptors (64 bytes for each page of 4096), plus kernel and firmware"
    )];
    if let Some(reserved) = command_line.map(|line| line.reserved(ram)).filter(|size| size.0 > 0) {
        reasons.push(format!("{reserved} reserved on the kernel's command line"));
    }
    // A mode that the plan asks for keeps its part back as it should; the audit has counted it.
    let counted = |finding: &Finding| !matches!(finding.detail, Detail::Visible(_));
    let known = plan.mode.as_ref().and_then(NamedMode::known).is_some();
    let by_plan = known && diagnosis.audit.findings.iter().all(counted);
    if by_plan && let Some(mode) = &plan.mode {
        reasons.push(format!("{mode}, as planned"));
    }
    if by_plan || lost.0 <= usual_reservation(ram, command_line).0 {
        return (true, reasons);
    }
    let why = visible_causes(&DiagnosisInput::new(diagnosis.case, diagnosis.audit), visible);
    reasons.extend(why.into_iter().map(|cause| format!("{}: {}", cause.cause, cause.why)));
    (false, reasons)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnose::diagnose;
    use crate::evidence::Text;
    use crate::plan;
    use crate::sources::Sources;
    use crate::{audit, records};

    fn stages(sizes: &[u64], told: u64, others: &[&str], plan: &str, check: impl Fn(&[Stage])) {
        let body: String = sizes
            .iter()
            .zip(1u16..)
            .map(|(gib, handle)| format!("Handle 0x{handle:04X}, DMI type 17, 40 bytes\nMemory Device\n\tSize: {gib} GB\n\tLocator: A{handle}\n\tRank: 2\n\n"))
            .collect();
        let text = |body: &str| Text::from_bytes("t", body.as_bytes().to_vec()).unwrap();
        let listing = text(&body);
        let listings = records::read(&listing);
        let plan = (!plan.is_empty()).then(|| plan::read("p", plan).unwrap());
        let mut sources = Sources::default();
        for other in others {
            sources.add(&text(other)).unwrap();
        }
        let machine = Case::of(&listing, &listings[0]).plan(&plan).sources(sources);
        let case = machine.build().unwrap();
        let audit = audit::audit(&case);
        check(&waterfall(&diagnose(&case, &audit), Some(Bytes::gib(told))));
    }

    fn meminfo(mib: u64) -> String {
        format!("MemTotal: {} kB\n", mib * 1024)
    }

    /// The kernel documentation's sample: `MemTotal: 32858820 kB`, 2.07 % below 32 GiB, is usual.
    #[test]
    fn the_usual_reservation_is_said_to_be_usual() {
        stages(&[16, 16], 32, &["MemTotal:       32858820 kB\n"], "", |s| {
            assert!(s.iter().all(|stage| stage.usual));
            assert_eq!(s[2].lost, Bytes(695_612 * 1024));
        });
    }

    #[test]
    fn a_lost_module_is_not_usual() {
        stages(&[16, 16], 48, &[&meminfo(20 << 10)], "", |s| {
            let losses: Vec<_> =
                s.iter().map(|stage| (stage.station.word(), stage.lost, stage.usual)).collect();
            assert_eq!(losses[1], ("detected", Bytes::gib(16), false));
            assert_eq!(losses[2], ("visible", Bytes::gib(12), false));
        });
    }

    /// 64 bytes for each page of 4096: 4 GiB for 256 GiB (kernel documentation, vmemmap).
    #[test]
    fn page_descriptors() {
        stages(&[128, 128], 256, &[&meminfo(251 << 10)], "", |s| {
            assert!(s[2].reasons[0].starts_with("4 GiB for page descriptors"), "{:?}", s[2].reasons);
        });
    }

    /// A published guide's figure: of 64 GB mirrored, 32 GB are visible. Two ranks in each of four channels with
    /// one in reserve leave half of two, three quarters of four.
    #[test]
    fn modes_explain_their_parts() {
        let reason = |stage: &Stage, at: usize| stage.reasons.get(at).cloned().unwrap_or_default();
        stages(&[16; 4], 64, &[&meminfo(31 << 10)], "", |s| {
            assert!(!s[2].usual && reason(&s[2], 1).starts_with("mirroring"), "{:?}", s[2].reasons);
        });
        stages(
            &[16; 4],
            64,
            &[&meminfo(31 << 10)],
            "mode: mirroring\nfit: [{module: 16GB, slots: [A1, A2, A3, A4]}]\n",
            |s| {
                // What is planned is a station too.
                assert!(s[3].usual && reason(&s[3], 1).contains("as planned"), "{:?}", s[3].reasons);
            },
        );
    }

    #[test]
    fn the_command_line_explains_what_it_takes() {
        stages(&[16; 4], 64, &[&meminfo(15 << 10), "ro mem=16G quiet\n"], "", |s| {
            assert!(!s[2].usual && s[2].reasons[1].contains("`mem=16G`"), "{:?}", s[2].reasons);
        });
        stages(&[16; 4], 64, &[&meminfo(57 << 10), "ro crashkernel=6G quiet\n"], "", |s| {
            assert!(s[2].usual && s[2].reasons[1].starts_with("6 GiB reserved"), "{:?}", s[2].reasons);
        });
        stages(&[16; 4], 64, &[&meminfo(57 << 10)], "", |s| assert!(!s[2].usual));
    }
}
