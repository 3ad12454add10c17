//! Sizes, transfer rates and voltages as types, with the spellings they have in listings and plans.

use std::fmt;
use std::iter::Sum;

use serde::{Serialize, Serializer};

/// A size in bytes. All unit names are binary, as SMBIOS uses them: `1 GB` in a listing is 2³⁰ bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Bytes(pub u64);

/// Unit spellings and their power of 1024, longest names first so that a prefix never wins.
const SIZE_UNITS: &[(&str, u32)] = &[
    ("kbyte", 1),
    ("mbyte", 2),
    ("gbyte", 3),
    ("bytes", 0),
    ("kib", 1),
    ("mib", 2),
    ("gib", 3),
    ("tib", 4),
    ("pib", 5),
    ("eib", 6),
    ("kb", 1),
    ("mb", 2),
    ("gb", 3),
    ("tb", 4),
    ("pb", 5),
    ("eb", 6),
    ("k", 1),
    ("m", 2),
    ("g", 3),
    ("t", 4),
    ("b", 0),
];

impl Bytes {
    /// One kibibyte, 1024 bytes.
    pub const KIB: u64 = 1 << 10;
    /// One mebibyte, 1024² bytes.
    pub const MIB: u64 = 1 << 20;
    /// One gibibyte, 1024³ bytes.
    pub const GIB: u64 = 1 << 30;

    /// The largest size believed of a module, 16 TiB. Nothing near it exists; a listing with more states nonsense.
    pub const LARGEST_MODULE: Self = Self(16 << 40);

    /// Whether a module can have this size.
    pub fn is_plausible(self) -> bool {
        (1..=Self::LARGEST_MODULE.0).contains(&self.0)
    }

    /// `count` gibibytes, saturating.
    pub const fn gib(count: u64) -> Self {
        Self(count.saturating_mul(Self::GIB))
    }

    /// `count` mebibytes, saturating.
    pub const fn mib(count: u64) -> Self {
        Self(count.saturating_mul(Self::MIB))
    }

    /// Reads `16 GB`, `16GiB`, `16384 MB`, `512 Mbyte`, `4096 kB`, in any case of letters.
    ///
    /// Every unit is binary. Returns `None` for anything else: no unit, a fraction, an overflow, a word.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let digits = text.bytes().take_while(u8::is_ascii_digit).count();
        let (number, unit) = text.split_at_checked(digits)?;
        let number: u64 = number.parse().ok()?;
        let unit = unit.trim_start();
        // The four spellings that make up nearly every listing come first.
        let power = match unit {
            "MB" => 2,
            "GB" => 3,
            "kB" => 1,
            "TB" => 4,
            _ => SIZE_UNITS.iter().find(|(name, _)| unit.eq_ignore_ascii_case(name))?.1,
        };
        number.checked_mul(1024u64.checked_pow(power)?).map(Self)
    }

    /// The size to whole MiB, rounded down, where it is more than 1 GiB: for reports.
    #[must_use]
    pub(crate) const fn rounded(self) -> Self {
        if self.0 > Self::GIB { Self(self.0 / Self::MIB * Self::MIB) } else { self }
    }

    /// The largest unit in which the size is a whole number: `16 GiB`, `1536 MiB`. [`Bytes::parse`] reads it back.
    #[must_use]
    pub(crate) fn exact(self) -> String {
        const NAMES: [&str; 7] = ["B", "KiB", "MiB", "GiB", "TiB", "PiB", "EiB"];
        let (mut value, mut unit) = (self.0, 0);
        // TiB is deliberately not used below 10 TiB: the trade counts module totals in GiB.
        while unit + 1 < NAMES.len() && value != 0 && value.is_multiple_of(1024) {
            if unit == 3 && value < 10 * 1024 {
                break;
            }
            value /= 1024;
            unit += 1;
        }
        format!("{value} {}", NAMES[unit])
    }

    /// A size above 1 GiB that is no whole number of GiB, in GiB.
    fn fraction(self) -> Option<String> {
        if self.0 <= Self::GIB || self.0.is_multiple_of(Self::GIB) {
            return None;
        }
        // Quarters are exact in two digits; of anything else one digit is enough, unless it reads as a whole number.
        let quarters = self.0.is_multiple_of(Self::GIB / 4) && !self.0.is_multiple_of(Self::GIB / 2);
        let digits: &[u128] = if quarters { &[100] } else { &[10, 100] };
        digits.iter().find_map(|scale| {
            let gib = u128::from(Self::GIB);
            let parts = (u128::from(self.0) * scale + gib / 2) / gib;
            let (whole, part) = (parts / scale, parts % scale);
            let digits = if *scale == 10 { 1 } else { 2 };
            (part != 0).then(|| format!("{whole}.{part:0digits$} GiB"))
        })
    }

    /// Two sizes that differ, for the two sides of a comparison: where they would read alike, every byte is shown.
    #[must_use]
    pub(crate) fn apart(self, other: Self) -> (String, String) {
        let (one, two) = (self.to_string(), other.to_string());
        if self != other && one == two { (self.exact(), other.exact()) } else { (one, two) }
    }

    /// Reads a size as the kernel's command line has it: `512M`, `0x4000000`, `16G`, bytes without a letter.
    pub(crate) fn parse_kernel(text: &str) -> Option<Self> {
        let power = match text.bytes().last()? {
            b'k' | b'K' => 1,
            b'm' | b'M' => 2,
            b'g' | b'G' => 3,
            b't' | b'T' => 4,
            _ => 0,
        };
        let number = if power == 0 { text } else { text.get(..text.len() - 1)? };
        let number: u64 = match number.strip_prefix("0x") {
            Some(hex) => u64::from_str_radix(hex, 16).ok()?,
            None => number.parse().ok()?,
        };
        number.checked_mul(1024u64.checked_pow(power)?).map(Self)
    }
}

impl fmt::Display for Bytes {
    /// As people write it: `16 GiB`, `562.2 GiB`, `1.5 GiB`, `512 MiB`.
    ///
    /// A fraction has the one or two digits that tell it from a whole number; what lies closer to one stands in the
    /// smaller unit. `exact` has every byte.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let exact = self.exact();
        let Some(text) = self.fraction() else { return f.pad(&exact) };
        f.pad(&text)
    }
}

impl Sum for Bytes {
    fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
        Self(iter.fold(0, |total, size| total.saturating_add(size.0)))
    }
}

impl Serialize for Bytes {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u64(self.0)
    }
}

/// A transfer rate in MT/s (million transfers per second).
///
/// Listings by dmidecode up to release 3.0 print the same number with `MHz`; it is never doubled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TransferRate(pub u32);

/// Speed grades by their exact rate in thirds of MT/s, with the nominal whole number that is printed.
///
/// Source: DDR3 rows JESD79-3D; DDR4 and DDR5 names follow the same rounding law. Rates above 6400 are
/// JESD79-5C grades (from memory, unverified).
pub(crate) const SPEED_GRADES: &[(u32, u32)] = &[
    (600, 200),
    (800, 266),
    (1_000, 333),
    (1_200, 400),
    (1_600, 533),
    (2_000, 667),
    (2_400, 800),
    (3_200, 1066),
    (4_000, 1333),
    (4_800, 1600),
    (5_600, 1866),
    (6_400, 2133),
    (7_200, 2400),
    (8_000, 2666),
    (8_800, 2933),
    (9_600, 3200),
    (10_800, 3600),
    (12_000, 4000),
    (13_200, 4400),
    (14_400, 4800),
    (15_600, 5200),
    (16_800, 5600),
    (18_000, 6000),
    (19_200, 6400),
    (20_400, 6800),
    (21_600, 7200),
    (24_000, 8000),
    (26_400, 8800),
];

impl TransferRate {
    /// How far apart two printed numbers of one grade are at most: 2666, 2667 and 2668 are one grade.
    ///
    /// Common practice, no source; the spellings seen in real listings need 2.
    pub const TOLERANCE: u32 = 2;

    /// Whether memory can run at this rate: from below PC66 to well above what is sold. A listing with 32768
    /// states nonsense, not a speed.
    pub fn is_plausible(self) -> bool {
        (50..=20_000).contains(&self.0)
    }

    /// Whether two rates are the same JEDEC grade, whatever way each was rounded.
    pub fn same_grade(self, other: Self) -> bool {
        self.0.abs_diff(other.0) <= Self::TOLERANCE
    }

    /// Whether this rate is below `other` by more than rounding.
    pub fn below(self, other: Self) -> bool {
        self < other && !self.same_grade(other)
    }

    /// The exact rate of this grade in thirds of MT/s; a rate that is not a JEDEC grade counts as written.
    pub(crate) fn thirds(self) -> u32 {
        SPEED_GRADES
            .iter()
            .find(|(_, nominal)| nominal.abs_diff(self.0) <= 1)
            .map_or(self.0.saturating_mul(3), |(thirds, _)| *thirds)
    }

    /// Peak bandwidth of one 64-bit channel in MB/s, rounded to nearest: exact MT/s × 8 bytes.
    pub fn peak_mb_per_s(self) -> u32 {
        (self.thirds().saturating_mul(8) + 1) / 3
    }

    /// The bandwidth number in a module's name (`10600` in PC3-10600): floor of the peak to hundreds.
    pub(crate) fn module_number(self) -> u32 {
        self.thirds().saturating_mul(8) / 300 * 100
    }

    /// The grade of a clock cycle in picoseconds: the nearest, within 1 % of the two transfers in each cycle. Cycles are
    /// stored rounded, so that 938 ps are 2133 MT/s and 833 ps are 2400. `None` where no grade is as near.
    pub(crate) fn from_cycle(picoseconds: u32) -> Option<Self> {
        // In each second 2 × 10¹² / cycle transfers; in thirds of a million 6,000,000 / cycle.
        let off = |thirds: u32| (u64::from(thirds) * u64::from(picoseconds)).abs_diff(6_000_000);
        let (thirds, nominal) = SPEED_GRADES.iter().min_by_key(|(thirds, _)| off(*thirds))?;
        (off(*thirds) * 100 <= u64::from(*thirds) * u64::from(picoseconds)).then_some(Self(*nominal))
    }

    /// The grade whose bandwidth, rounded in any of the trade's ways, is `mb_per_s`: 10600, 10660, 10666,
    /// 10667 and 10700 all yield 1333. `None` where no grade is near.
    pub(crate) fn from_bandwidth(mb_per_s: u32) -> Option<Self> {
        SPEED_GRADES.iter().map(|(_, nominal)| Self(*nominal)).find(|rate| {
            let (floor, peak) = (rate.module_number(), rate.peak_mb_per_s());
            (floor..=peak + 1).contains(&mb_per_s) || mb_per_s == peak.div_ceil(100) * 100
        })
    }

    /// Reads `1333`, `1333 MT/s`, `1333 MHz`, `667 MHz (1.5 ns)`; the number is kept as printed.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let digits = text.bytes().take_while(u8::is_ascii_digit).count();
        let (number, unit) = text.split_at_checked(digits)?;
        let unit = unit.trim_start();
        let known = matches!(unit, "MT/s" | "MHz" | "")
            || unit.starts_with("MHz (")
            || unit.eq_ignore_ascii_case("mt/s")
            || unit.eq_ignore_ascii_case("mhz");
        if known { number.parse().ok().map(Self) } else { None }
    }
}

impl fmt::Display for TransferRate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{} MT/s", self.0))
    }
}

impl Serialize for TransferRate {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u32(self.0)
    }
}

/// A voltage in millivolts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Millivolts(pub u32);

impl Millivolts {
    /// Whether memory can be driven at this voltage. Some firmware stores an enumeration value here, which
    /// prints as `0.003 V`; no memory runs below half a volt, and the oldest modules take 5 V.
    pub fn is_plausible(self) -> bool {
        (500..=5_500).contains(&self.0)
    }

    /// Reads `1.2 V`, `1.35 V`, `1.200 V`, `1350 mV` to whole millivolts.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let (number, milli) = match text.strip_suffix("mV") {
            Some(number) => (number.trim_end(), true),
            None => (text.strip_suffix(['V', 'v'])?.trim_end(), false),
        };
        if milli {
            return number.parse().ok().map(Self);
        }
        let (whole, fraction) = number.split_once('.').unwrap_or((number, ""));
        if fraction.len() > 3 || !fraction.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let whole: u32 = whole.parse().ok()?;
        let mut thousandths: u32 = if fraction.is_empty() { 0 } else { fraction.parse().ok()? };
        for _ in fraction.len()..3 {
            thousandths *= 10;
        }
        whole.checked_mul(1000)?.checked_add(thousandths).map(Self)
    }
}

impl fmt::Display for Millivolts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = format!("{}.{:03}", self.0 / 1000, self.0 % 1000);
        let short = text.trim_end_matches('0');
        let short = if short.ends_with('.') { format!("{short}0") } else { short.to_owned() };
        f.pad(&format!("{short} V"))
    }
}

impl Serialize for Millivolts {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u32(self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_of_every_release_read_alike() {
        for text in ["16384 MB", "16 GB", "16GiB", "16 gib", "16384 Mbyte", "16777216 kB"] {
            assert_eq!(Bytes::parse(text), Some(Bytes::gib(16)), "{text}");
        }
        for text in ["", "GB", "16", "1.5 GB", "16 XB", "99999999999999999999 MB", "18446744073709551615 TB"]
        {
            assert_eq!(Bytes::parse(text), None, "{text}");
        }
    }

    #[test]
    fn sizes_print_as_people_write_them() {
        for (mib, text) in [
            (512, "512 MiB"),
            (1536, "1.5 GiB"),
            (4864, "4.75 GiB"),
            (129_408, "126.4 GiB"),
            (575_680, "562.2 GiB"),
            // One digit would read as a whole number, and so would two of the second.
            (524_272, "511.98 GiB"),
            (32_767, "32767 MiB"),
        ] {
            assert_eq!(Bytes::mib(mib).to_string(), text, "{mib}");
            assert_eq!(Bytes::parse(&Bytes::mib(mib).exact()), Some(Bytes::mib(mib)), "{mib}");
        }
        let (one, other) = Bytes::mib(575_680).apart(Bytes::mib(575_681));
        assert_eq!((one.as_str(), other.as_str()), ("575680 MiB", "575681 MiB"));
        assert_eq!(Bytes::gib(384).to_string(), "384 GiB");
        assert_eq!(Bytes::gib(1024).to_string(), "1024 GiB");
        assert_eq!(Bytes(0).to_string(), "0 B");
    }

    /// Totals of well-known builds: common practice, no source.
    #[test]
    fn totals_of_the_trade() {
        for (count, each, total) in [(12, 32, 384), (18, 16, 288), (12, 2, 24)] {
            let sum: Bytes = (0..count).map(|_| Bytes::gib(each)).sum();
            assert_eq!(sum, Bytes::gib(total));
        }
    }

    /// Names and peaks quoted from JESD79-3D: 1066 → PC3-8500, 8533; 1333 → PC3-10600, 10667;
    /// 1866 → PC3-14900, 14933; 2133 → PC3-17000, 17066 (rounded down there).
    #[test]
    fn module_numbers_follow_the_standard() {
        for (rate, number, peak) in [
            (800, 6400, 6400),
            (1066, 8500, 8533),
            (1333, 10600, 10667),
            (1600, 12800, 12800),
            (1866, 14900, 14933),
            (2133, 17000, 17067),
            (2400, 19200, 19200),
            (2666, 21300, 21333),
            (2933, 23400, 23467),
            (4800, 38400, 38400),
        ] {
            let rate = TransferRate(rate);
            assert_eq!((rate.module_number(), rate.peak_mb_per_s()), (number, peak), "{rate}");
            assert_eq!(TransferRate::from_bandwidth(number), Some(rate));
        }
        for spelling in [10600, 10660, 10666, 10667, 10700] {
            assert_eq!(TransferRate::from_bandwidth(spelling), Some(TransferRate(1333)), "{spelling}");
        }
        assert_eq!(TransferRate::from_bandwidth(11_111), None);
    }

    /// Cycles as modules store them, with their grades: i2c-tools `decode-dimms`; for DDR5 two transfers in
    /// each cycle of the grade, rounded down.
    #[test]
    fn cycles_are_grades() {
        for (cycle, rate) in [
            (5000, 400),
            (3750, 533),
            (3000, 667),
            (2500, 800),
            (1875, 1066),
            (1500, 1333),
            (1250, 1600),
            (1071, 1866),
            (1072, 1866),
            (938, 2133),
            (937, 2133),
            (833, 2400),
            (750, 2666),
            (682, 2933),
            (625, 3200),
            (416, 4800),
            (384, 5200),
            (385, 5200),
            (357, 5600),
            (333, 6000),
            (312, 6400),
            (277, 7200),
            (250, 8000),
        ] {
            assert_eq!(TransferRate::from_cycle(cycle), Some(TransferRate(rate)), "{cycle} ps");
        }
        for cycle in [0, 1, 700, 1400, 4000, 60_000, u32::MAX] {
            assert_eq!(TransferRate::from_cycle(cycle), None, "{cycle} ps");
        }
    }

    /// 8 channels of DDR4-3200 carry 204.8 GB/s, 12 of DDR5-4800 460.8 GB/s (published platform figures).
    #[test]
    fn published_platform_bandwidth() {
        assert_eq!(8 * TransferRate(3200).peak_mb_per_s(), 204_800);
        assert_eq!(12 * TransferRate(4800).peak_mb_per_s(), 460_800);
    }

    #[test]
    fn spellings_of_one_grade_are_equal() {
        for (a, b) in [(1333, 1334), (2933, 2934), (2666, 2668), (1866, 1867), (1066, 1067), (2133, 2134)] {
            assert!(TransferRate(a).same_grade(TransferRate(b)));
            assert!(!TransferRate(a).below(TransferRate(b)));
        }
        assert!(TransferRate(1066).below(TransferRate(1333)));
        assert!(!TransferRate(1333).below(TransferRate(1333)));
    }

    #[test]
    fn speeds_read_in_every_form() {
        for text in ["667 MHz (1.5 ns)", "667 MHz", "667 MT/s", "667"] {
            assert_eq!(TransferRate::parse(text), Some(TransferRate(667)), "{text}");
        }
        for text in ["Unknown", "", "fast", "667 ns", "99999999999 MHz"] {
            assert_eq!(TransferRate::parse(text), None, "{text}");
        }
    }

    #[test]
    fn voltages_read_in_every_form() {
        for (text, mv) in
            [("1.2 V", 1200), (" 1.200 V", 1200), ("1.35 V", 1350), ("1 V", 1000), ("0.003 V", 3)]
        {
            assert_eq!(Millivolts::parse(text), Some(Millivolts(mv)), "{text}");
        }
        for text in ["Unknown", "V", "1.2.3 V", "1.23456 V", "-1 V"] {
            assert_eq!(Millivolts::parse(text), None, "{text}");
        }
        assert_eq!(Millivolts(1350).to_string(), "1.35 V");
        assert_eq!(Millivolts(1000).to_string(), "1.0 V");
    }
}
