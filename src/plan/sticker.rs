//! The label that is printed on a module, read as a demand: `32GB 4Rx4 PC3L-10600R`.
//!
//! Sources: DDR3 format from server makers' service guides, DDR4 format from JEDEC's label standard as those
//! guides quote it, DDR5 by JESD401-5B (its letters from memory, unverified), DDR2 letters from memory,
//! unverified. Where a field's letter is not known, the label is refused rather than guessed at.

mod error;
mod words;

use std::ops::RangeInclusive;

pub use error::StickerError;
pub use words::size as parse_size;

use super::demand::ModuleSpec;
use crate::population::ModuleKind;
use crate::records::enums::MemoryType;
use crate::units::{Bytes, Millivolts, SPEED_GRADES, TransferRate};

/// What the labels of one memory generation look like.
struct Generation {
    /// The digit after `PC` and `DDR`.
    digit: char,
    memory_type: MemoryType,
    /// The rates it is sold at in MT/s, so that `PC3-38400` is refused.
    grades: RangeInclusive<u32>,
    /// Whether four digits are the rate; else, as with five, they are the bandwidth.
    by_rate: bool,
    /// What may follow the digit, with the supply voltage that it means; `None` where the generation has only one,
    /// which its type states already.
    voltages: &'static [(&'static str, Option<Millivolts>)],
}

const ONE_VOLTAGE: &[(&str, Option<Millivolts>)] = &[("", None), ("L", None)];

/// The generations whose labels are read.
const GENERATIONS: &[Generation] = &[
    Generation {
        digit: '2',
        memory_type: MemoryType::DDR2,
        grades: 400..=1066,
        by_rate: false,
        voltages: ONE_VOLTAGE,
    },
    Generation {
        digit: '3',
        memory_type: MemoryType::DDR3,
        grades: 800..=2133,
        by_rate: false,
        voltages: &[
            ("", Some(Millivolts(1500))),
            ("L", Some(Millivolts(1350))),
            ("U", Some(Millivolts(1250))),
        ],
    },
    Generation {
        digit: '4',
        memory_type: MemoryType::DDR4,
        grades: 1600..=3200,
        by_rate: true,
        voltages: ONE_VOLTAGE,
    },
    Generation {
        digit: '5',
        memory_type: MemoryType::DDR5,
        grades: 3200..=8800,
        by_rate: true,
        voltages: ONE_VOLTAGE,
    },
];

/// Letters for the kind of module. E, L, R, U: service guides for DDR3; the rest from memory, unverified.
const KIND_LETTERS: &[(&str, ModuleKind)] = &[
    ("R", ModuleKind::Rdimm),
    ("P", ModuleKind::Rdimm),
    ("L", ModuleKind::Lrdimm),
    ("U", ModuleKind::Udimm),
    ("E", ModuleKind::EccUdimm),
    ("F", ModuleKind::FbDimm),
    ("S", ModuleKind::SoDimm),
    ("T", ModuleKind::SoDimm),
    ("N", ModuleKind::Nvdimm),
];

/// What a letter right after the bandwidth of a DDR4 or DDR5 module names as its kind; other letters are latency grades.
const KIND_AFTER_NUMBER: &[&str] = &["R", "L", "E"];

/// Chip densities in mebibit that exist: powers of two from 64 Mbit to 64 Gbit, and 24 and 48 Gbit.
const CHIP_MEBIBITS: &[u64] =
    &[64, 128, 256, 512, 1024, 2048, 4096, 8192, 16_384, 24_576, 32_768, 49_152, 65_536];

/// Reads a module label.
///
/// # Errors
/// [`StickerError`] names the word that cannot be read.
pub fn parse_sticker(text: &str) -> Result<ModuleSpec, StickerError> {
    let mut wanted = ModuleSpec { sticker: Some(text.trim().to_owned()), ..ModuleSpec::default() };
    let mut implied = None;
    for word in words::words(text) {
        read_word(&word, &mut wanted, &mut implied)?;
    }
    // Offers write PC3 for PC3L and state the voltage beside it.
    wanted.voltage = wanted.voltage.or(implied);
    if wanted == (ModuleSpec { sticker: wanted.sticker.clone(), ..ModuleSpec::default() }) {
        return Err(StickerError::Empty);
    }
    // `ECC UDIMM` is printed as two words.
    if wanted.ecc == Some(true) && wanted.kind == Some(ModuleKind::Udimm) {
        wanted.kind = Some(ModuleKind::EccUdimm);
    }
    check_capacity(&wanted)?;
    Ok(wanted)
}

/// Reads one word; `implied` is the voltage of a module name that has no letter for it.
fn read_word(
    word: &str,
    wanted: &mut ModuleSpec,
    implied: &mut Option<Millivolts>,
) -> Result<(), StickerError> {
    let upper = word.to_ascii_uppercase();
    if let Some(size) = words::size(word) {
        return once(&mut wanted.size, size, word);
    }
    if let Some(checked) = words::checked(&upper) {
        if let Some(width) = checked.width {
            once(&mut wanted.width, width, word)?;
        }
        return once(&mut wanted.ecc, true, word);
    }
    if let Some((package, height, width)) = ranks_and_width(&upper) {
        let ranks = package.saturating_mul(height);
        if ranks == 0 || !matches!(width, 4 | 8 | 16 | 32) {
            return Err(StickerError::Word { word: word.to_owned() });
        }
        if height > 1 {
            wanted.package_ranks = Some(package);
        }
        once(&mut wanted.width, width, word)?;
        return once(&mut wanted.ranks, ranks, word);
    }
    if upper.starts_with("PC") {
        return module_name(word, &upper, wanted, implied);
    }
    if upper.starts_with("DDR") {
        return generation(word, &upper, wanted);
    }
    if let Some(ranks) = words::ranks(&upper) {
        return once(&mut wanted.ranks, ranks, word);
    }
    if let Some(width) = words::width(&upper) {
        return once(&mut wanted.width, width, word);
    }
    if let Some(rate) = words::rate(&upper).or_else(|| words::bare_rate(&upper)) {
        return once(&mut wanted.rated, grade(rate), word);
    }
    if let Some((rate, letters)) = words::bare_bandwidth(&upper) {
        if let Some((_, kind)) =
            KIND_LETTERS.iter().find(|(own, _)| KIND_AFTER_NUMBER.contains(own) && *own == letters)
        {
            once(&mut wanted.kind, *kind, word)?;
        }
        return once(&mut wanted.rated, rate, word);
    }
    if let Some(kind) = words::kind(&upper) {
        return once(&mut wanted.kind, kind, word);
    }
    if let Some(voltage) = words::voltage(word) {
        return once(&mut wanted.voltage, voltage, word);
    }
    if words::says_nothing(&upper) {
        return Ok(());
    }
    let word = word.to_owned();
    let has = |is: fn(&u8) -> bool| word.bytes().any(|byte| is(&byte));
    Err(match (has(u8::is_ascii_digit), has(u8::is_ascii_alphabetic)) {
        (true, false) if word.bytes().all(|byte| byte.is_ascii_digit()) => StickerError::NoUnit { word },
        (true, true) if word.len() >= 6 => StickerError::Part { word },
        _ => StickerError::Word { word },
    })
}

/// `DDR3`, `DDR3L`, `DDR4-3200`, `DDR4-2400T`.
fn generation(word: &str, upper: &str, wanted: &mut ModuleSpec) -> Result<(), StickerError> {
    let bad_word = || StickerError::Word { word: word.to_owned() };
    let (head, speed) = match upper.split_once('-') {
        Some((head, speed)) => (head, Some(speed)),
        None => (upper, None),
    };
    let suffix = head.strip_prefix("DDR").ok_or_else(bad_word)?;
    let known = GENERATIONS.iter().find(|known| suffix.starts_with(known.digit)).ok_or_else(bad_word)?;
    match suffix.get(1..).unwrap_or_default() {
        "" => {}
        letter => {
            let own = known.voltages.iter().find(|(own, _)| *own == letter).ok_or_else(bad_word)?;
            if let Some(voltage) = own.1 {
                once(&mut wanted.voltage, voltage, word)?;
            }
        }
    }
    if let Some(speed) = speed {
        let letters = speed.trim_start_matches(|c: char| c.is_ascii_digit());
        if letters.len() > 2 || !letters.bytes().all(|byte| byte.is_ascii_alphabetic()) {
            return Err(bad_word());
        }
        let number = speed[..speed.len() - letters.len()].parse().map_err(|_| bad_word())?;
        let rated = grade(TransferRate(number));
        if !known.grades.contains(&rated.0) || !SPEED_GRADES.iter().any(|(_, nominal)| *nominal == rated.0) {
            return Err(StickerError::Speed { word: word.to_owned() });
        }
        once(&mut wanted.rated, rated, word)?;
    }
    once(&mut wanted.memory_type, known.memory_type, word)
}

/// The grade that a rate is written for: 2667 is 2666.
fn grade(rate: TransferRate) -> TransferRate {
    let nominal = SPEED_GRADES.iter().map(|(_, nominal)| TransferRate(*nominal));
    nominal.into_iter().find(|grade| grade.same_grade(rate)).unwrap_or(rate)
}

fn once<T: PartialEq>(field: &mut Option<T>, value: T, word: &str) -> Result<(), StickerError> {
    match field {
        Some(old) if *old != value => Err(StickerError::Twice { word: word.to_owned() }),
        _ => {
            *field = Some(value);
            Ok(())
        }
    }
}

/// `4Rx4`, `2DRx4`, `2S4Rx4`, also with `×` or a space lost: package ranks, height of the stack, chip width.
fn ranks_and_width(upper: &str) -> Option<(u8, u8, u8)> {
    let (ranks, width) = upper.split_once("RX").or_else(|| upper.split_once("R×"))?;
    // DDR5 modules with two check chips per half print 10x4 or 9x4; the chip's own width comes last.
    let width = width.parse().ok()?;
    let digits = ranks.bytes().take_while(u8::is_ascii_digit).count();
    let (package, rest) = ranks.split_at_checked(digits)?;
    let package: u8 = package.parse().ok()?;
    let height = match rest.as_bytes() {
        [] | [b'D' | b'Q'] => 1,
        [b'S', height @ ..] => std::str::from_utf8(height).ok()?.parse().ok()?,
        _ => return None,
    };
    Some((package, height, width))
}

/// `PC3L-10600R-09-10-E1`, `PC4-2666V-RB1-11`, `PC4-17000R`, `PC5-4800B-RE0-1010-XT`.
fn module_name(
    word: &str,
    upper: &str,
    wanted: &mut ModuleSpec,
    implied: &mut Option<Millivolts>,
) -> Result<(), StickerError> {
    let bad_word = || StickerError::Word { word: word.to_owned() };
    let mut groups = upper.split('-');
    let head = groups.next().and_then(|head| head.strip_prefix("PC")).ok_or_else(bad_word)?;
    let mut head = head.chars();
    let digit = head.next().ok_or_else(bad_word)?;
    let generation = GENERATIONS.iter().find(|known| known.digit == digit).ok_or_else(bad_word)?;
    let suffix = head.as_str();
    let (_, voltage) = *generation.voltages.iter().find(|(own, _)| *own == suffix).ok_or_else(bad_word)?;
    let speed = groups.next().ok_or_else(bad_word)?;
    let digits = speed.bytes().take_while(u8::is_ascii_digit).count();
    let (number, mut letters) = speed.split_at_checked(digits).ok_or_else(bad_word)?;
    let number: u32 = number.parse().map_err(|_| bad_word())?;
    let by_rate = generation.by_rate && digits == 4;
    let rated = if by_rate {
        SPEED_GRADES
            .iter()
            .map(|(_, nominal)| TransferRate(*nominal))
            .find(|grade| grade.same_grade(TransferRate(number)))
    } else {
        TransferRate::from_bandwidth(number)
    };
    let rated = rated
        .filter(|rate| generation.grades.contains(&rate.0))
        .ok_or_else(|| StickerError::Speed { word: word.to_owned() })?;
    if by_rate {
        // The letters after the rate are the latency grade; the kind starts the next group, if it is printed.
        if letters.len() > 2 || !letters.bytes().all(|b| b.is_ascii_alphabetic()) {
            return Err(bad_word());
        }
        letters = groups.next().map_or("", |group| group.get(..1).unwrap_or(""));
    } else {
        // The kind letter can be in a group of its own: `PC4-21300-R`, `PC4-21300V-R`. What stands after the number of
        // DDR4 and later is the latency grade then, and so it is where it can be nothing else.
        let own = groups.next().filter(|group| letters.is_empty() || generation.by_rate && !group.is_empty());
        let own = own.filter(|group| group.len() == 1 || generation.by_rate && !letters.is_empty());
        let own =
            own.and_then(|group| group.get(..1)).filter(|own| own.bytes().all(|b| b.is_ascii_alphabetic()));
        let is_kind = !generation.by_rate || KIND_AFTER_NUMBER.contains(&letters);
        letters = own.unwrap_or(if is_kind { letters } else { "" });
    }
    if !letters.is_empty() {
        let kind = kind_of(generation.memory_type, letters)
            .ok_or_else(|| StickerError::Kind { word: word.to_owned(), letter: letters.to_owned() })?;
        once(&mut wanted.kind, kind, word)?;
    }
    once(&mut wanted.memory_type, generation.memory_type, word)?;
    match voltage {
        Some(voltage) if suffix.is_empty() => *implied = Some(voltage),
        Some(voltage) => once(&mut wanted.voltage, voltage, word)?,
        None => {}
    }
    once(&mut wanted.rated, rated, word)
}

fn kind_of(generation: MemoryType, letters: &str) -> Option<ModuleKind> {
    let (_, kind) = *KIND_LETTERS.iter().find(|(letter, _)| *letter == letters)?;
    let only_ddr2 = matches!(letters, "F" | "P");
    (!only_ddr2 || generation == MemoryType::DDR2).then_some(kind)
}

/// Capacity = ranks × (64 / width) × chip density / 8, so the label itself says what chip it needs.
fn check_capacity(wanted: &ModuleSpec) -> Result<(), StickerError> {
    let (Some(size), Some(ranks), Some(width)) = (wanted.size, wanted.ranks, wanted.width) else {
        return Ok(());
    };
    let chips = u64::from(ranks) * (64 / u64::from(width));
    let mebibits = size.0 / Bytes::MIB * 8;
    let exact = mebibits > 0 && mebibits.is_multiple_of(chips) && CHIP_MEBIBITS.contains(&(mebibits / chips));
    if exact {
        return Ok(());
    }
    let chip = match mebibits / chips.max(1) {
        small if small < 1024 => format!("{small} Mbit"),
        large => format!("{}.{} Gbit", large / 1024, large % 1024 * 10 / 1024),
    };
    Err(StickerError::Impossible { size, ranks, width, chip })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> ModuleSpec {
        parse_sticker(text).unwrap_or_else(|error| panic!("{text}: {error}"))
    }

    /// A generation's first and last rate are grades, or its labels would be refused.
    #[test]
    fn generations_have_grades() {
        for generation in GENERATIONS {
            for rate in [generation.grades.start(), generation.grades.end()] {
                assert!(
                    SPEED_GRADES.iter().any(|(_, nominal)| nominal == rate),
                    "{}: add {rate} MT/s to SPEED_GRADES in src/base/units.rs",
                    generation.memory_type
                );
            }
        }
    }

    /// DDR3 grammar and the example's meaning: service guide of a 2012 rack server, p. 46.
    #[test]
    fn ddr3_label() {
        let w = read("32GB 4Rx4 PC3L-8500R");
        assert_eq!((w.size, w.ranks, w.width), (Some(Bytes::gib(32)), Some(4), Some(4)));
        assert_eq!((w.memory_type, w.kind), (Some(MemoryType::DDR3), Some(ModuleKind::Rdimm)));
        assert_eq!((w.rated, w.voltage), (Some(TransferRate(1066)), Some(Millivolts(1350))));
        let w = read("8GB 2Rx4 PC3-10600R-09-10-E1");
        assert_eq!((w.rated, w.voltage), (Some(TransferRate(1333)), Some(Millivolts(1500))));
    }

    /// Letters E, L, R, U as the same guide lists them.
    #[test]
    fn kind_letters() {
        for (letter, kind) in [
            ("E", ModuleKind::EccUdimm),
            ("L", ModuleKind::Lrdimm),
            ("R", ModuleKind::Rdimm),
            ("U", ModuleKind::Udimm),
        ] {
            assert_eq!(read(&format!("4GB 2Rx8 PC3-12800{letter}")).kind, Some(kind));
        }
    }

    /// PC numbers of server guides: 6400, 8500, 10600, 12800, 14900; DDR4 17000 and 19200.
    #[test]
    fn module_numbers() {
        for (label, rate) in [
            ("PC3-6400R", 800),
            ("PC3-8500R", 1066),
            ("PC3-10600R", 1333),
            ("PC3-12800R", 1600),
            ("PC3-14900R", 1866),
            ("PC4-17000R", 2133),
            ("PC4-19200R", 2400),
            ("PC4-2400T", 2400),
            ("PC4-2666V", 2666),
            ("PC4-2933Y", 2933),
            ("PC4-3200AA-R", 3200),
            ("PC5-4800B", 4800),
            ("PC5-38400", 4800),
            ("PC2-5300F", 667),
            ("PC2-6400P", 800),
        ] {
            assert_eq!(read(label).rated, Some(TransferRate(rate)), "{label}");
        }
    }

    #[test]
    fn ddr4_and_ddr5_labels() {
        let w = read("16GB 2Rx8 PC4-2666V-R");
        assert_eq!((w.kind, w.voltage, w.width), (Some(ModuleKind::Rdimm), None, Some(8)));
        assert_eq!(read("64GB 2S2Rx4 PC4-2666V-LD2-12").kind, Some(ModuleKind::Lrdimm));
        let w = read("128GB 2S4Rx4 PC4-2666V-R");
        assert_eq!((w.ranks, w.package_ranks), (Some(8), Some(2)));
        let w = read("32GB 2Rx8 PC5-4800B-RE0-1010-XT");
        assert_eq!((w.memory_type, w.kind), (Some(MemoryType::DDR5), Some(ModuleKind::Rdimm)));
        assert_eq!(read("48GB 1Rx4 PC5-5600B-RC0").size, Some(Bytes::gib(48)));
    }

    #[test]
    fn kinds_in_words() {
        assert_eq!(read("8GB ECC UDIMM").kind, Some(ModuleKind::EccUdimm));
        assert_eq!(read("8GB DDR3 RDIMM").memory_type, Some(MemoryType::DDR3));
    }

    /// As invoices, offers and people write it.
    #[test]
    fn words_of_the_trade() {
        let w = read("32 GB DDR4-3200 RDIMM");
        assert_eq!((w.size, w.memory_type), (Some(Bytes::gib(32)), Some(MemoryType::DDR4)));
        assert_eq!((w.rated, w.kind), (Some(TransferRate(3200)), Some(ModuleKind::Rdimm)));
        let w = read("16GB DDR3 1333MHz ECC REG 1.35V");
        assert_eq!((w.rated, w.kind), (Some(TransferRate(1333)), Some(ModuleKind::Rdimm)));
        assert_eq!((w.ecc, w.voltage), (Some(true), Some(Millivolts(1350))));
        assert_eq!(read("8GB DDR3L 1.35 V 1600 MT/s").rated, Some(TransferRate(1600)));
        assert_eq!(read("PC4 2400T").rated, Some(TransferRate(2400)));
        assert_eq!(read("DDR4-2667").rated, Some(TransferRate(2666)));
        for (label, kind) in [
            ("16GB PC4-21300V-R", Some(ModuleKind::Rdimm)),
            ("16GB PC4-21300-R", Some(ModuleKind::Rdimm)),
            ("16GB PC4-17000R", Some(ModuleKind::Rdimm)),
            ("16GB PC4-19200T", None),
            ("16GB PC4-21300V", None),
            ("16GB PC4-19200T-LD1", Some(ModuleKind::Lrdimm)),
            ("16GB PC4-2666V-N", Some(ModuleKind::Nvdimm)),
            ("64GB MRDIMM", Some(ModuleKind::Mrdimm)),
            ("16GB CUDIMM", Some(ModuleKind::Udimm)),
            ("8GB PC3-10600R", Some(ModuleKind::Rdimm)),
        ] {
            assert_eq!(read(label).kind, kind, "{label}");
        }
        for word in ["EC4", "EC8", "x72", "x80", "10x4"] {
            assert_eq!(read(&format!("32GB {word}")).ecc, Some(true), "{word}");
        }
        assert_eq!(read("64GB 2R 10x4".replace(" 2R", "").as_str()).width, Some(4));
    }

    /// Half-written names, and words that offers add.
    #[test]
    fn words_of_offers() {
        let w = read("16GB dual rank x4 PC3-10600R 1.35V CL9 240-pin ECC/REG server memory kit");
        assert_eq!((w.ranks, w.width, w.voltage), (Some(2), Some(4), Some(Millivolts(1350))));
        assert_eq!((w.rated, w.kind, w.ecc), (Some(TransferRate(1333)), Some(ModuleKind::Rdimm), Some(true)));
        assert_eq!(read("8GB PC3-10600R").voltage, Some(Millivolts(1500)));
        assert!(parse_sticker("8GB PC3L-10600R 1.5V").is_err());
        for (label, rate, kind) in [
            ("32GB 2Rx4 2666V reg. ecc", 2666, Some(ModuleKind::Rdimm)),
            ("32GB DDR4 3200 - LRDIMM", 3200, Some(ModuleKind::Lrdimm)),
            ("16GB 10600R", 1333, Some(ModuleKind::Rdimm)),
            ("16GB 21300V", 2666, None),
            ("16GB 2R load reduced DDR4-2400T", 2400, Some(ModuleKind::Lrdimm)),
        ] {
            let w = read(label);
            assert_eq!((w.rated, w.kind), (Some(TransferRate(rate)), kind), "{label}");
        }
        assert_eq!(parse_size("1.5TB"), Some(Bytes::gib(1536)));
        assert_eq!((parse_size("1.3 GB"), parse_size("1.GB")), (None, None));
    }

    #[test]
    fn nonsense_is_named() {
        for (label, part) in [
            ("", "empty"),
            ("16GB banana", "banana"),
            ("PC3-38400R", "not a JEDEC grade"),
            ("PC4-2500V", "not a JEDEC grade"),
            ("PC9-1000R", "not part"),
            ("8GB 16GB", "16GB"),
            ("PC4-2666V-X", "letter `X`"),
            ("12GB 4Rx4 PC3-10600R", "chips of 1.5 Gbit"),
            ("0Rx4", "0Rx4"),
            ("32", "write `32GB`"),
            ("16GB M393A2K40CB2-CTD", "a field of its own"),
        ] {
            let error = parse_sticker(label).unwrap_err().to_string();
            assert!(error.contains(part), "{label}: {error}");
        }
    }
}
