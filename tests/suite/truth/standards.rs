//! Published values and facts of the trade, each with its source beside it, through the public interface.

use asfitted::evidence::Text;
use asfitted::plan::parse_sticker;
use asfitted::population::identity::{Maker, registered_name};
use asfitted::population::{self, ModuleKind, SlotState};
use asfitted::records::{self, DeviceSize};
use asfitted::units::{Bytes, Millivolts, TransferRate};

/// One memory device with these lines.
fn device(lines: &str, check: impl Fn(&records::MemoryDevice<'_>)) {
    let body = format!("Handle 0x0011, DMI type 17, 92 bytes\nMemory Device\n{lines}\n");
    let text = Text::from_bytes("test", body.into_bytes()).unwrap();
    check(&records::read(&text)[0].devices[0]);
}

/// DSP0134 3.9.0, clause 7.18, table of the Memory Device structure: what dmidecode prints for each special
/// value of a field.
#[test]
fn special_values_of_the_memory_device() {
    device("\tSize: No Module Installed", |d| assert_eq!(d.size.get(), Some(DeviceSize::Empty)));
    for unknown in [
        "Size: Unknown",
        "Total Width: Unknown",
        "Speed: Unknown",
        "Rank: Unknown",
        "Configured Voltage: Unknown",
    ] {
        device(&format!("\t{unknown}"), |d| {
            assert_eq!((d.size.get(), d.total_width.get(), d.speed.get()), (None, None, None));
            assert_eq!((d.rank.get(), d.configured_voltage.get()), (None, None));
        });
    }
    device("\tNon-Volatile Size: None\n\tVolatile Size: 16 GB\n\tLogical Size: Unknown", |d| {
        assert_eq!(d.non_volatile_size.get(), Some(Bytes(0)));
        assert_eq!(d.volatile_size.get(), Some(Bytes::gib(16)));
        assert_eq!(d.logical_size.get(), None);
    });
    device("\tError Information Handle: Not Provided\n\tArray Handle: 0x1000\n\tSet: None", |d| {
        assert_eq!((d.error_handle.get(), d.array_handle.get(), d.set.get()), (None, Some(0x1000), Some(0)));
    });
    device("\tModule Manufacturer ID: Bank 1, Hex 0xCE\n\tModule Product ID: Unknown", |d| {
        let code = d.module_maker.get().unwrap();
        assert_eq!((code.bank, code.code, d.module_product.get()), (1, 0xCE, None));
    });
}

/// JEP106 codes as the `jep106` crate tabulates them, with the parity bit stripped.
#[test]
fn registered_makers() {
    for (bank, code, name) in [
        (1, 0xCE, "Samsung"),
        (1, 0x2C, "Micron"),
        (2, 0x98, "Kingston"),
        (4, 0x0B, "Nanya"),
        (6, 0x51, "Qimonda"),
    ] {
        let registered = registered_name(bank, code & 0x7F).unwrap();
        assert!(registered.starts_with(name), "{registered}");
    }
    // Bank 7, code 32h is in no table: an unknown code is not a broken one, and keeps its text.
    assert_eq!(registered_name(7, 0x32), None);
    assert_eq!(Maker::read("8632").unwrap().name(), "8632");
}

/// Module names and rates as service guides of server makers print them for DDR3 and DDR4.
#[test]
fn sticker_speeds() {
    for (label, rate) in [
        ("PC3-10600", 1333),
        ("PC3-8500", 1066),
        ("PC3-6400", 800),
        ("PC3-12800", 1600),
        ("PC3-14900", 1866),
        ("PC4-17000", 2133),
        ("PC4-19200", 2400),
    ] {
        assert_eq!(parse_sticker(label).unwrap().rated, Some(TransferRate(rate)), "{label}");
    }
}

/// The worked example of a DDR3 label: 32 GB, 4 ranks of x4 chips, 1.35 V, 8500 MB/s, registered. Chips of 4
/// Gbit follow: 4 x 16 x 4 / 8 = 32.
#[test]
fn a_worked_label() {
    let wanted = parse_sticker("32GB 4Rx4 PC3L-8500R").unwrap();
    assert_eq!((wanted.size, wanted.ranks, wanted.width), (Some(Bytes::gib(32)), Some(4), Some(4)));
    assert_eq!((wanted.voltage, wanted.kind), (Some(Millivolts(1350)), Some(ModuleKind::Rdimm)));
    assert_eq!(u64::from(4u8) * 16 * 4 / 8, wanted.size.unwrap().0 / Bytes::GIB);
}

/// Platform bandwidth: channels x MT/s x 8 bytes, against published figures of processor makers and reviews.
#[test]
fn published_bandwidth() {
    // Four channels of DDR3-1866 carry 59.7 GB/s, of DDR3-1333 42.6 GB/s, of DDR3-1600 51.2 GB/s.
    for (channels, rate, published) in
        [(4, 1866, 59.7), (4, 1333, 42.6), (4, 1600, 51.2), (8, 3200, 204.8), (12, 4800, 460.8)]
    {
        let peak = f64::from(channels * TransferRate(rate).peak_mb_per_s()) / 1000.0;
        assert!((peak - published).abs() < 0.1, "{channels} x {rate}: {peak}");
    }
}

/// Common practice, no source: a board of two processors with nine slots each has 18; fully fitted with 16 GB
/// it holds 288 GB, with 12 modules of 32 GB 384, with 12 of 2 GB 24.
#[test]
fn arithmetic_of_the_trade() {
    let text = Text::from_bytes("demo", asfitted::demo::LISTING.as_bytes().to_vec()).unwrap();
    let listings = records::read(&text);
    let population = population::rebuild(&listings[0]);
    let slots_of =
        |socket| population.slots.iter().filter(|slot| slot.location.socket == Some(socket)).count();
    assert_eq!((slots_of(1), slots_of(2), population.totals.slots), (9, 9, 18));
    for (count, each, total) in [(18u64, 16, 288), (12, 32, 384), (12, 2, 24)] {
        let body: String = (1..=18)
            .map(|n| {
                let size = if n <= count { format!("{each} GB") } else { "No Module Installed".to_owned() };
                format!("Handle 0x{n:04X}, DMI type 17, 40 bytes\nMemory Device\n\tSize: {size}\n\tLocator: A{n}\n\n")
            })
            .collect();
        let text = Text::from_bytes("test", body.into_bytes()).unwrap();
        let listings = records::read(&text);
        let population = population::rebuild(&listings[0]);
        assert_eq!(population.totals.detected, Some(Bytes::gib(total)));
        assert_eq!(
            population.slots.iter().filter(|s| s.state == SlotState::Empty).count() as u64,
            18 - count
        );
    }
}
