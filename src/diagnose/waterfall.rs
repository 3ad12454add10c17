//! Where memory is lost on its way: told, detected, mapped, visible.

use crate::population::Population;
use crate::units::Bytes;

/// The stations of memory on its way from the bench to the operating system.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Station {
    /// What was fitted, as told or planned.
    Told,
    /// Sum of the modules that the firmware detects.
    Detected,
    /// Address ranges that the firmware maps.
    Mapped,
    /// What the operating system can use.
    Visible,
}

impl Station {
    /// The station's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Told => "told",
            Self::Detected => "detected",
            Self::Mapped => "mapped",
            Self::Visible => "visible",
        }
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

/// Part of the memory that is usually not visible, in thousandths: descriptors, kernel and firmware (common
/// practice, no source; the kernel documentation's own sample machine lacks 2.07 %).
const USUAL_PER_MILLE: u64 = 35;

/// Firmware and kernel take this much on small machines too (common practice, no source).
const USUAL_AT_LEAST: u64 = 512 << 20;

/// The stations that are known, in order.
pub fn waterfall(told: Option<Bytes>, population: &Population<'_>, visible: Option<Bytes>) -> Vec<Stage> {
    let mut stages: Vec<Stage> = Vec::new();
    let totals = population.totals;
    let mut push = |station, size: Bytes, explain: &dyn Fn(Bytes, Bytes) -> (bool, Vec<String>)| {
        let before = stages.last().map_or(size, |stage: &Stage| stage.size);
        let lost = Bytes(before.0.saturating_sub(size.0));
        let (usual, reasons) = if lost.0 == 0 { (true, Vec::new()) } else { explain(before, lost) };
        stages.push(Stage { station, size, lost, usual, reasons });
    };
    if let Some(told) = told {
        push(Station::Told, told, &|_, _| (true, Vec::new()));
    }
    push(Station::Detected, totals.detected_at_least, &|_, _| (false, detected(population)));
    if let Some(mapped) = totals.mapped {
        push(Station::Mapped, mapped, &|before, lost| mapped_reasons(before, lost, population));
    }
    if let Some(visible) = visible {
        push(Station::Visible, visible, &visible_reasons);
    }
    stages
}

fn detected(population: &Population<'_>) -> Vec<String> {
    let mut reasons = Vec::new();
    if population.totals.detected.is_none() {
        reasons.push("some modules do not state their size; the sum is a lower bound".to_owned());
    }
    reasons.push("modules that are not seated, defective, disabled by the firmware or never fitted all read as empty slots".to_owned());
    let empty_sockets = population
        .sockets
        .iter()
        .filter(|socket| socket.status == Some(crate::records::enums::ProcessorStatus::Unpopulated));
    for socket in empty_sockets {
        reasons.push(format!(
            "{} holds no processor: modules in its slots cannot be seen",
            socket.label.unwrap_or("a socket")
        ));
    }
    reasons
}

/// Ranges that sum to less than the modules prove nothing alone, but some ratios have a name.
fn mapped_reasons(before: Bytes, lost: Bytes, population: &Population<'_>) -> (bool, Vec<String>) {
    let per_mille = lost.0.saturating_mul(1000) / before.0.max(1);
    let persistent = population.totals.persistent.0 > 0;
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

fn visible_reasons(before: Bytes, lost: Bytes) -> (bool, Vec<String>) {
    let usual = USUAL_AT_LEAST.max(before.0 / 1000 * USUAL_PER_MILLE);
    let descriptors = Bytes(before.0 / DESCRIPTOR_DIVISOR / Bytes::MIB * Bytes::MIB);
    let mut reasons = vec![format!(
        "{descriptors} for page descriptors (64 bytes for each page of 4096), besides kernel and firmware"
    )];
    if lost.0 <= usual {
        return (true, reasons);
    }
    reasons.push("`mem=`, `memmap=` or `crashkernel=` on the kernel's command line".to_owned());
    reasons.push("mirroring or sparing, a 32-bit system, memory found bad at boot".to_owned());
    (false, reasons)
}

/// `MemTotal` of `/proc/meminfo` text.
pub fn meminfo_total(text: &str) -> Option<Bytes> {
    let line = text.lines().find_map(|line| line.trim_start().strip_prefix("MemTotal:"))?;
    Bytes::parse(line.trim())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Text;
    use crate::{population, records};

    fn stages(sizes: &[u64], told: u64, visible: Option<Bytes>, check: impl Fn(&[Stage])) {
        let body: String = sizes
            .iter()
            .zip(1u16..)
            .map(|(gib, handle)| format!("Handle 0x{handle:04X}, DMI type 17, 40 bytes\nMemory Device\n\tSize: {gib} GB\n\tLocator: A{handle}\n\n"))
            .collect();
        let text = Text::from_bytes("t", body.into_bytes()).unwrap();
        let listings = records::read(&text);
        check(&waterfall(Some(Bytes::gib(told)), &population::rebuild(&listings[0]), visible));
    }

    /// The kernel documentation's sample: `MemTotal: 32858820 kB`, 2.07 % below 32 GiB, is usual.
    #[test]
    fn the_usual_reservation_is_said_to_be_usual() {
        let visible = meminfo_total("MemTotal:       32858820 kB\nMemFree: 1 kB\n");
        assert_eq!(visible, Some(Bytes(32_858_820 * 1024)));
        stages(&[16, 16], 32, visible, |s| {
            assert!(s.iter().all(|stage| stage.usual));
            assert_eq!(s[2].lost, Bytes(695_612 * 1024));
        });
    }

    #[test]
    fn a_lost_module_is_not_usual() {
        stages(&[16, 16], 48, Some(Bytes::gib(20)), |s| {
            let losses: Vec<_> =
                s.iter().map(|stage| (stage.station.word(), stage.lost, stage.usual)).collect();
            assert_eq!(losses[1], ("detected", Bytes::gib(16), false));
            assert_eq!(losses[2], ("visible", Bytes::gib(12), false));
        });
    }

    /// 64 bytes for each page of 4096: 4 GiB for 256 GiB (kernel documentation, vmemmap).
    #[test]
    fn page_descriptors() {
        let (_, reasons) = visible_reasons(Bytes::gib(256), Bytes::gib(5));
        assert!(reasons[0].starts_with("4 GiB for page descriptors"), "{reasons:?}");
    }
}
