//! `/proc/meminfo`: what the operating system can use.

use super::{CommandLine, Part, PartForm, Reader, Recognise, Sources, numbered};
use crate::evidence::{Evidence, SectionKind, Source};
use crate::units::Bytes;

/// What `/proc/meminfo` states.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Meminfo {
    /// `MemTotal`: memory that the kernel can hand out, without its own code and what was reserved at boot
    /// (kernel documentation, `filesystems/proc`).
    pub total: Bytes,
    /// The line of it.
    pub line: Evidence,
    /// Memory taken out because it was found bad: `HardwareCorrupted` and `EarlyMemtestBad`.
    pub bad: Bytes,
    /// The lines of that.
    pub bad_lines: Vec<Evidence>,
    /// `VmallocTotal`: the kernel's space of addresses for one purpose (kernel documentation, `filesystems/proc`).
    pub address_space: Option<Bytes>,
}

impl Meminfo {
    /// Whether the kernel counts addresses beyond what 32 bits reach, so that it is not a 32-bit one.
    pub fn is_wide(&self) -> bool {
        self.address_space.is_some_and(|space| space > Bytes::gib(4))
    }
}

pub(super) const READER: Reader = Reader {
    expected: "/proc/meminfo",
    help: Some("`/proc/meminfo`"),
    once: Some("/proc/meminfo"),
    is_in: |sources| sources.meminfo.is_some(),
    read: |text, first| Some(Sources { meminfo: Some(read(text, first)?), ..Sources::default() }),
    recognise: Recognise::ByReading,
    part: Some(Part {
        section: SectionKind::Meminfo,
        path: "proc/meminfo",
        // Sums distinguish no machine from another.
        form: PartForm::File { redacted: str::to_owned },
        hides: "how much memory the operating system sees",
        usual: true,
    }),
};

/// Reads it; `None` where there is no `MemTotal`.
fn read(text: &str, first: u32) -> Option<Meminfo> {
    let mut total = None;
    let (mut bad, mut bad_lines) = (Bytes(0), Vec::new());
    let mut address_space = None;
    for (number, line) in numbered(text, first) {
        let Some((key, value)) = line.split_once(':') else { continue };
        let evidence = || Evidence { source: Source::Meminfo, line: number, text: line.to_owned() };
        let Some(size) = Bytes::parse(value) else { continue };
        match key {
            "MemTotal" if total.is_none() => total = Some((size, evidence())),
            "VmallocTotal" => address_space = Some(size),
            "HardwareCorrupted" | "EarlyMemtestBad" if size.0 > 0 => {
                bad = [bad, size].into_iter().sum();
                bad_lines.push(evidence());
            }
            _ => {}
        }
    }
    total.map(|(total, line)| Meminfo { total, line, bad, bad_lines, address_space })
}

/// Part of the memory that is usually not visible, in thousandths: page descriptors take 15.6 (64 bytes for
/// each page of 4096, kernel documentation, vmemmap), kernel and firmware the rest (common practice, no
/// source; the kernel documentation's own sample machine is short by 20.7).
const USUAL_PER_MILLE: u64 = 35;

/// Firmware and kernel take this much on small machines too (common practice, no source).
const USUAL_AT_LEAST: u64 = 512 << 20;

/// How much of `installed` is usually not visible, and what the command line also reserves.
pub fn usual_reservation(installed: Bytes, command_line: Option<&CommandLine>) -> Bytes {
    let usual = Bytes(USUAL_AT_LEAST.max(installed.0 / 1000 * USUAL_PER_MILLE));
    let reserved = command_line.map_or(Bytes(0), |line| line.reserved(installed));
    [usual, reserved].into_iter().sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The kernel documentation's sample: `MemTotal: 32858820 kB`; below 32 GiB by 695612 kB, 2.07 %.
    #[test]
    fn the_documented_sample_is_usual() {
        let read = read("MemTotal:       32858820 kB\nMemFree:        21001236 kB\n", 1).unwrap();
        assert_eq!(read.total, Bytes(32_858_820 * 1024));
        let gap = Bytes::gib(32).0 - read.total.0;
        assert_eq!(gap, 695_612 * 1024);
        assert!(gap < usual_reservation(Bytes::gib(32), None).0);
    }

    /// The kernel documentation's sample is of a 64-bit kernel; 120 MiB are what a 32-bit one has on x86.
    #[test]
    fn a_wide_space_of_addresses_is_no_32_bit_kernel() {
        let wide = |line: &str| read(&format!("MemTotal: 8 kB\n{line}"), 1).unwrap().is_wide();
        assert!(wide("VmallocTotal:   34359738367 kB\n"));
        assert!(!wide("VmallocTotal:        122880 kB\n") && !wide(""));
    }

    #[test]
    fn bad_memory_is_counted() {
        let read = read("MemTotal: 8 kB\nHardwareCorrupted:     4 kB\nEarlyMemtestBad: 0 kB\n", 7).unwrap();
        assert_eq!((read.bad, read.bad_lines.len(), read.bad_lines[0].line), (Bytes(4096), 1, 8));
        assert!(super::read("MemFree: 1 kB\n", 1).is_none());
    }
}
