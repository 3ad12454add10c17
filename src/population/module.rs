//! A module as the firmware describes it, cleaned.

use std::borrow::Cow;

use super::identity::{self, Maker};
use crate::identity::ModuleKind;
use crate::records::enums::{FormFactor, MemoryType, TypeDetail};
use crate::records::{DeviceSize, Field, MemoryDevice};
use crate::units::{Bytes, Millivolts, TransferRate};

/// What is known of a module's size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ModuleSize {
    /// Exactly this.
    Exactly(Bytes),
    /// This or more: the record is too short to state sizes of 32 GiB and above.
    AtLeast(Bytes),
    /// The firmware states that it is unknown.
    Unknown,
}

/// Check bits by the widths.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CheckBits {
    /// Total width above data width, in one of the ways that modules have.
    Present,
    /// Equal widths of 64 bits or another multiple of 32.
    None,
    /// Widths absent, unknown, contradictory (`72/72` and `64/72` print for ECC modules too) or such as no module has.
    Unknown,
}

/// A module as detected.
#[derive(Debug, Clone, PartialEq)]
pub struct Module<'a> {
    /// Size.
    pub size: ModuleSize,
    /// Generation or a general word; `None` where the firmware says `Other` or `Unknown`.
    pub memory_type: Option<MemoryType>,
    /// Kind; `None` where the type detail does not say.
    pub kind: Option<ModuleKind>,
    /// Ranks, 1 to 15.
    pub ranks: Option<u8>,
    /// The highest speed the module can do, as firmware states it. Some firmware states the running speed.
    pub rated: Option<TransferRate>,
    /// The speed the board runs it at; `None` where not stated, or not plausible.
    pub configured: Option<TransferRate>,
    /// Voltage it is driven at.
    pub voltage: Option<Millivolts>,
    /// Lowest supply voltage it is made for.
    pub minimum_voltage: Option<Millivolts>,
    /// Highest supply voltage it is made for.
    pub maximum_voltage: Option<Millivolts>,
    /// Maker.
    pub maker: Option<Maker<'a>>,
    /// Part number without padding, as text.
    pub part: Option<Cow<'a, str>>,
    /// Serial number.
    pub serial: Option<&'a str>,
    /// Check bits by the widths.
    pub check_bits: CheckBits,
    /// Keeps its contents without power.
    pub persistent: bool,
    /// The part of a persistent module that is set up as main memory; none of other modules.
    pub volatile: Bytes,
    /// The part of a persistent module that keeps its contents; none of other modules.
    pub keeps: Bytes,
}

impl Module<'_> {
    /// Size in bytes if exactly known.
    pub fn bytes(&self) -> Option<Bytes> {
        match self.size {
            ModuleSize::Exactly(size) => Some(size),
            ModuleSize::AtLeast(_) | ModuleSize::Unknown => None,
        }
    }
}

/// The module that a record describes, whatever its size says.
pub(super) fn describe<'a>(device: &MemoryDevice<'a>) -> Module<'a> {
    let check_bits = check_bits(device);
    let persistent = is_persistent(device);
    let part = device.part_number.get().and_then(identity::clean_part);
    let size = match device.size.get() {
        Some(DeviceSize::Fitted(size)) if size.is_plausible() && !is_too_small(device, size) => {
            ModuleSize::Exactly(size)
        }
        Some(DeviceSize::OverMarker) => ModuleSize::AtLeast(Bytes::mib(32767)),
        Some(DeviceSize::Fitted(_) | DeviceSize::Empty) | None => ModuleSize::Unknown,
    };
    let (volatile, keeps) = match size {
        ModuleSize::Exactly(size) | ModuleSize::AtLeast(size) if persistent => parts(device, size),
        _ => (Bytes(0), Bytes(0)),
    };
    Module {
        size,
        memory_type: device.memory_type.get().filter(|t| !t.says_nothing()),
        kind: kind(device, check_bits, persistent),
        ranks: device.rank.get(),
        rated: plausible_rate(device.speed.get()),
        configured: configured(device),
        voltage: plausible_voltage(device.configured_voltage.get()),
        minimum_voltage: plausible_voltage(device.minimum_voltage.get()),
        maximum_voltage: plausible_voltage(device.maximum_voltage.get()),
        maker: device.manufacturer.get().and_then(Maker::read).map(|maker| maker.decided_by(part.as_deref())),
        part,
        serial: device.serial.get().and_then(identity::clean),
        check_bits,
        persistent,
        volatile,
        keeps,
    }
}

/// How a persistent module is divided: the part that is main memory, and the part that keeps its contents.
///
/// DSP0134 3.9.0, clause 7.18, offsets 34h and 3Ch. Where the record states neither part, all of it keeps its contents.
/// A module that is all main memory still holds back a little for itself: 126 GB of 129408 MB.
fn parts(device: &MemoryDevice<'_>, size: Bytes) -> (Bytes, Bytes) {
    let stated = |field: &Field<Bytes>| field.get().map(|part| part.min(size));
    let volatile = stated(&device.volatile_size).unwrap_or_default();
    let keeps = match stated(&device.non_volatile_size) {
        Some(keeps) if volatile.0 > 0 => keeps.min(Bytes(size.0 - volatile.0)),
        // What it holds back for itself is less than one part in twenty.
        None if volatile.0 > 0 && volatile.0 < size.0 / 20 * 19 => Bytes(size.0 - volatile.0),
        None if volatile.0 > 0 => Bytes(0),
        Some(_) | None => size,
    };
    (volatile, keeps)
}

fn plausible_rate(rate: Option<TransferRate>) -> Option<TransferRate> {
    rate.filter(|rate| rate.is_plausible())
}

/// The rate of a generation's slowest module, the rates outside which no speed can be believed, and the smallest module.
/// From memory, unverified: the lowest rates are half of JEDEC's tCK(max) with the DLL on, so that a module of which only
/// the generation is misstated keeps its speed; the highest leave room for modules sold above JEDEC's.
struct Reach {
    memory_type: MemoryType,
    slowest_module: u32,
    rates: std::ops::RangeInclusive<u32>,
    smallest: Bytes,
}

const REACH: &[Reach] = &[
    Reach { memory_type: MemoryType::DDR2, slowest_module: 400, rates: 125..=2800, smallest: Bytes::mib(32) },
    Reach { memory_type: MemoryType::DDR3, slowest_module: 800, rates: 300..=3200, smallest: Bytes::mib(64) },
    Reach {
        memory_type: MemoryType::DDR4,
        slowest_module: 1600,
        rates: 600..=5600,
        smallest: Bytes::mib(256),
    },
    Reach {
        memory_type: MemoryType::DDR5,
        slowest_module: 3200,
        rates: 1000..=12_800,
        smallest: Bytes::gib(1),
    },
];

fn reach(device: &MemoryDevice<'_>) -> Option<&'static Reach> {
    let memory_type = device.memory_type.get()?;
    REACH.iter().find(|reach| reach.memory_type == memory_type)
}

/// What is odd about a stated configured speed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum OddSpeed {
    /// Half the rated number and below the generation's slowest module: the clock in MHz.
    Clock,
    /// Outside what the generation can run.
    OutOfReach,
}

/// What is odd about the configured speed of a record; `None` where it can be believed.
pub(super) fn odd_speed(device: &MemoryDevice<'_>) -> Option<OddSpeed> {
    let reach = reach(device)?;
    let rate = plausible_rate(device.configured_speed.get())?;
    let twice = TransferRate(rate.0.saturating_mul(2));
    // A module of the slowest grade may as well be one of an earlier generation, which runs at half of it.
    let half_of_rated =
        device.speed.get().is_some_and(|rated| twice.same_grade(rated) && rated.0 > reach.slowest_module);
    if half_of_rated && rate.0 < reach.slowest_module {
        Some(OddSpeed::Clock)
    } else if !reach.rates.contains(&rate.0)
        && !device.speed.get().is_some_and(|rated| rated.same_grade(rate))
    {
        Some(OddSpeed::OutOfReach)
    } else {
        None
    }
}

/// Whether a module of this generation cannot be so small.
pub(super) fn is_too_small(device: &MemoryDevice<'_>, size: Bytes) -> bool {
    reach(device).is_some_and(|reach| size < reach.smallest)
}

fn configured(device: &MemoryDevice<'_>) -> Option<TransferRate> {
    plausible_rate(device.configured_speed.get()).filter(|_| odd_speed(device).is_none())
}

fn plausible_voltage(voltage: Option<Millivolts>) -> Option<Millivolts> {
    voltage.filter(|voltage| voltage.is_plausible())
}

/// Total and data width, in bits, of modules with check bits: JEDEC's 72 and 80 over 64, 40 and 36 over 32 for one half
/// of a DDR5 module, and the pairs of 72 that old chipsets drive as one. Firmware prints 128/64, 256/196 or 2304/2244 as
/// well (283 of 18,365 records in 2,832 listings of the data set "DMI Tables" of the linuxhw project): no module has
/// such widths.
const WITH_CHECK_BITS: &[(u16, u16)] = &[(72, 64), (80, 64), (40, 32), (36, 32), (144, 128)];

/// Whether the widths are such as no module has, so that they say nothing.
pub(super) fn has_impossible_widths(device: &MemoryDevice<'_>) -> bool {
    match (device.total_width.get(), device.data_width.get()) {
        (Some(total), Some(data)) => total > data && !WITH_CHECK_BITS.contains(&(total, data)),
        _ => false,
    }
}

fn check_bits(device: &MemoryDevice<'_>) -> CheckBits {
    match (device.total_width.get(), device.data_width.get()) {
        (Some(total), Some(data)) if WITH_CHECK_BITS.contains(&(total, data)) => CheckBits::Present,
        // 72/72 is printed for ECC modules in half of the cases where the widths are equal.
        (Some(total), Some(data)) if total == data && total.is_multiple_of(32) => CheckBits::None,
        _ => CheckBits::Unknown,
    }
}

fn is_persistent(device: &MemoryDevice<'_>) -> bool {
    device.technology.get().is_some_and(crate::records::enums::MemoryTechnology::is_persistent)
        || device.memory_type.get() == Some(MemoryType::LOGICAL_NON_VOLATILE)
        || device.type_detail.get().is_some_and(|detail| detail.has(TypeDetail::NON_VOLATILE))
        || device.non_volatile_size.get().is_some_and(|size| size.0 > 0)
}

fn kind(device: &MemoryDevice<'_>, check_bits: CheckBits, persistent: bool) -> Option<ModuleKind> {
    if persistent {
        return Some(ModuleKind::Nvdimm);
    }
    if device.memory_type.get() == Some(MemoryType::MRDIMM)
        || device.technology.get().is_some_and(|t| t.0 == 0x08)
    {
        return Some(ModuleKind::Mrdimm);
    }
    if device.form_factor.get() == Some(FormFactor::FB_DIMM)
        || device.memory_type.get() == Some(MemoryType::DDR2_FB)
    {
        return Some(ModuleKind::FbDimm);
    }
    if device.form_factor.get() == Some(FormFactor::SODIMM) {
        return Some(ModuleKind::SoDimm);
    }
    let detail = device.type_detail.get()?;
    let (registered, unbuffered) = (detail.has(TypeDetail::REGISTERED), detail.has(TypeDetail::UNBUFFERED));
    if detail.has(TypeDetail::LRDIMM) {
        Some(ModuleKind::Lrdimm)
    } else if registered && !unbuffered {
        Some(ModuleKind::Rdimm)
    } else if unbuffered && !registered {
        Some(if check_bits == CheckBits::Present { ModuleKind::EccUdimm } else { ModuleKind::Udimm })
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Text;
    use crate::records;

    fn module_of(fields: &str, check: impl Fn(&Module<'_>)) {
        let body = format!("Handle 0x0011, DMI type 17, 84 bytes\nMemory Device\n{fields}\n");
        let text = Text::from_bytes("test", body.into_bytes()).unwrap();
        check(&describe(&records::read(&text)[0].devices[0]));
    }

    /// Total 72 over Data 64 is ECC, 64 over 64 is none (kernel documentation, RAS); 72/72 says nothing.
    #[test]
    fn check_bits_by_widths() {
        for (total, data, want) in [
            ("72 bits", "64 bits", CheckBits::Present),
            ("80 bits", "64 bits", CheckBits::Present),
            ("64 bits", "64 bits", CheckBits::None),
            ("72 bits", "72 bits", CheckBits::Unknown),
            ("64 bits", "72 bits", CheckBits::Unknown),
            ("64 bits", "8 bits", CheckBits::Unknown),
            ("128 bits", "64 bits", CheckBits::Unknown),
            ("256 bits", "196 bits", CheckBits::Unknown),
            ("2304 bits", "2244 bits", CheckBits::Unknown),
            ("40 bits", "32 bits", CheckBits::Present),
            ("144 bits", "128 bits", CheckBits::Present),
            ("Unknown", "64 bits", CheckBits::Unknown),
        ] {
            module_of(&format!("\tTotal Width: {total}\n\tData Width: {data}"), |m| {
                assert_eq!(m.check_bits, want);
            });
        }
    }

    #[test]
    fn kinds_by_type_detail() {
        for (detail, want) in [
            ("Synchronous Registered (Buffered)", Some(ModuleKind::Rdimm)),
            ("Synchronous Unbuffered (Unregistered)", Some(ModuleKind::Udimm)),
            ("Synchronous LRDIMM", Some(ModuleKind::Lrdimm)),
            ("Synchronous", None),
            ("Synchronous Registered (Buffered) Unbuffered (Unregistered)", None),
            ("Synchronous Non-Volatile", Some(ModuleKind::Nvdimm)),
        ] {
            module_of(&format!("\tType Detail: {detail}"), |m| assert_eq!(m.kind, want, "{detail}"));
        }
    }

    /// Half the rated number below what the generation can run is the clock of older firmware; other numbers that the
    /// generation cannot have are no fact either.
    #[test]
    fn speeds_and_sizes_that_the_generation_has() {
        for (memory_type, rated, configured, want) in [
            ("DDR3", 1333, 667, None),
            ("DDR3", 1066, 533, None),
            ("DDR4", 2133, 1067, None),
            ("DDR3", 1600, 800, Some(800)),
            ("DDR3", 1600, 667, Some(667)),
            ("DDR4", 3200, 1600, Some(1600)),
            ("DDR3", 1600, 130, None),
            ("DDR3", 1600, 5053, None),
            ("DDR3", 1600, 13245, None),
            ("DDR4", 2400, 3600, Some(3600)),
        ] {
            let fields = format!(
                "\tType: {memory_type}\n\tSpeed: {rated} MT/s\n\tConfigured Memory Speed: {configured} MT/s"
            );
            module_of(&fields, |m| assert_eq!(m.configured, want.map(TransferRate), "{fields}"));
        }
        module_of("\tType: DDR4\n\tSize: 64 MB", |m| assert_eq!(m.size, ModuleSize::Unknown));
        module_of("\tType: DDR3\n\tSize: 512 MB", |m| {
            assert_eq!(m.size, ModuleSize::Exactly(Bytes::mib(512)));
        });
    }

    #[test]
    fn nonsense_counts_as_unknown() {
        module_of(
            "\tConfigured Clock Speed: 32768 MHz\n\tConfigured Voltage: 0.003 V\n\tType: Other\n\tPart Number: NO DIMM",
            |m| {
                assert_eq!(
                    (m.configured, m.voltage, m.memory_type, m.part.as_deref()),
                    (None, None, None, None)
                );
            },
        );
    }
}
