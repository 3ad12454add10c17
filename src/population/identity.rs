//! Cleaning of identities: padding, placeholders, and makers in all the spellings that firmware prints.

use std::borrow::Cow;

/// Strings that firmware prints where it has nothing to say, in lower case.
///
/// Source: counted over the data set "DMI Tables" of the linuxhw project (CC BY 4.0).
const PLACEHOLDERS: &[&str] = &[
    "--",
    "[empty]",
    "empty",
    "empty/no dimm",
    "memundefined",
    "n/a",
    "na",
    "no dimm",
    "none",
    "not available",
    "not defined",
    "not installed",
    "not present",
    "not specified",
    "not support",
    "not supported",
    "null",
    "o.e.m.",
    "to be filled by o.e.m.",
    "undefined",
    "unkonwn",
    "unknown",
];

/// The lengths of [`PLACEHOLDERS`] and the letters they start with, as bits: most serial and part numbers differ from
/// all of them in one of the two.
const PLACEHOLDER_SHAPES: (u64, u128) = {
    let (mut lengths, mut starts, mut at) = (0, 0, 0);
    while at < PLACEHOLDERS.len() {
        lengths |= 1 << PLACEHOLDERS[at].len();
        starts |= 1 << PLACEHOLDERS[at].as_bytes()[0];
        at += 1;
    }
    (lengths, starts)
};

/// Whether a placeholder has the length of `text` and its first letter.
fn may_be_placeholder(text: &[u8]) -> bool {
    let (lengths, starts) = PLACEHOLDER_SHAPES;
    let first = text.first().map_or(0, u8::to_ascii_lowercase);
    text.len() < 64 && first < 128 && lengths >> text.len() & 1 == 1 && starts >> first & 1 == 1
}

/// Parts of placeholders that firmware numbers per slot, such as `Dimm0_PartNum` or `Array1_PartNumber0`.
const NUMBERED_PLACEHOLDERS: &[&str] = &[
    "manufacturer",
    "partnum",
    "part number",
    "sernum",
    "serialnum",
    "serial number",
    "assettag",
    "asset tag",
    "<bad index>",
    "<out of spec>",
];

/// The text if it identifies something: trimmed, and neither a placeholder nor a filler such as `00000000`.
pub fn clean(text: &str) -> Option<&str> {
    let text = text.trim();
    let bytes = text.as_bytes();
    let first = *bytes.first()?;
    let digits = text.strip_prefix("0x").unwrap_or(text);
    if digits.bytes().all(|b| b == b'0')
        || (bytes.len() > 1 && b"Ff.-*?_#xX".contains(&first) && bytes.iter().all(|b| *b == first))
    {
        return None;
    }
    let starts = |word: &&str| text.len() == word.len() && text.eq_ignore_ascii_case(word);
    // Every part of a numbered placeholder has one of these letters, and few part numbers do.
    let numbered = bytes.iter().any(|byte| matches!(byte.to_ascii_lowercase(), b'u' | b'g' | b'<'));
    if (may_be_placeholder(bytes) && PLACEHOLDERS.iter().any(starts))
        || (numbered && NUMBERED_PLACEHOLDERS.iter().any(|part| contains_ignoring_case(text, part)))
    {
        return None;
    }
    Some(text)
}

/// Whether `text` holds `part` (which is lower case) in any case of letters.
fn contains_ignoring_case(text: &str, part: &str) -> bool {
    text.len() >= part.len()
        && text.as_bytes().windows(part.len()).any(|window| window.eq_ignore_ascii_case(part.as_bytes()))
}

/// Trims and collapses runs of spaces; borrows where nothing changes.
pub fn collapse(text: &str) -> Cow<'_, str> {
    let text = text.trim();
    // One look at each byte; what lies outside ASCII may be white space.
    let mut before = 0;
    let plain = text.bytes().all(|byte| {
        let repeated = byte == b' ' && before == b' ';
        before = byte;
        !repeated && byte >= b' ' && byte.is_ascii()
    });
    if plain {
        return Cow::Borrowed(text);
    }
    Cow::Owned(text.split_whitespace().collect::<Vec<_>>().join(" "))
}

/// The maker of a module.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Maker<'a> {
    /// The text as printed, trimmed.
    pub printed: &'a str,
    /// JEP106 bank (from 1) and code without parity, where the text is such a code.
    pub code: Option<(u8, u8)>,
}

/// Names under which one maker appears, as words. Common practice, no source; all are seen in the data set.
const SAME_MAKER: &[(&str, &[&str])] = &[
    ("SK Hynix", &["hynix", "sk hynix", "skhynix", "hyundai"]),
    ("Micron", &["micron"]),
    ("Samsung", &["samsung"]),
    ("Kingston", &["kingston"]),
    ("Nanya", &["nanya"]),
    ("A-DATA", &["adata"]),
];

/// Words after a maker's name that do not make it another maker. Common practice, no source; most are seen in the
/// data set or in the JEP106 table.
const GENERAL_WORDS: &[&str] = &[
    "america",
    "co",
    "company",
    "corp",
    "corporation",
    "electronics",
    "group",
    "inc",
    "incorporated",
    "industrial",
    "information",
    "international",
    "intl",
    "limited",
    "ltd",
    "memory",
    "semiconductor",
    "semiconductors",
    "systems",
    "technologies",
    "technology",
];

/// A text at least this long may end in the middle of a word: firmware keeps makers in fields of a fixed size.
const MAY_BE_CUT: usize = 15;

impl<'a> Maker<'a> {
    /// Reads the Manufacturer text of a module; `None` for a placeholder.
    pub fn read(text: &'a str) -> Option<Self> {
        let printed = clean(text)?;
        Some(Self { printed, code: decode(printed) })
    }

    /// The name to show: the maker's registered name for a code, else the printed text.
    pub fn name(&self) -> &'a str {
        match self.code.and_then(|(bank, code)| registered_name(bank, code)) {
            Some(name) => family(name).unwrap_or(name),
            None => self.printed,
        }
    }

    /// Whether two texts name one maker: the same code, the same family of names, or the same words but for
    /// general ones at the end.
    pub fn same_as(&self, other: &Maker<'_>) -> bool {
        if self.printed == other.printed {
            return true;
        }
        if let (Some(a), Some(b)) = (self.code, other.code) {
            return a == b;
        }
        let (a, b) = (self.name(), other.name());
        match (family(a), family(b)) {
            (Some(a), Some(b)) => return a == b,
            (None, None) => {}
            _ => return false,
        }
        let (a, b) = (own_words(a), own_words(b));
        let (short, long) = if a.len() <= b.len() { (&a, &b) } else { (&b, &a) };
        !short.is_empty()
            && (short == long || (short.len() >= MAY_BE_CUT && long.starts_with(short.as_str())))
    }
}

/// The trade's name of a maker that appears under several.
fn family(name: &str) -> Option<&'static str> {
    let words = own_words(name);
    SAME_MAKER
        .iter()
        .find(|(_, names)| names.contains(&words.as_str()))
        .or_else(|| {
            // Two names of one maker side by side: `Hynix/Hyundai`.
            let both = name.split_once('/').map(|(a, b)| (own_words(a), own_words(b)))?;
            SAME_MAKER
                .iter()
                .find(|(_, names)| names.contains(&both.0.as_str()) && names.contains(&both.1.as_str()))
        })
        .map(|(name, _)| *name)
}

/// The words of a maker's name in lower case, without general ones at its end and without what is in brackets.
fn own_words(name: &str) -> String {
    let name = name.split('(').next().unwrap_or(name);
    let may_be_cut = name.trim().len() >= MAY_BE_CUT;
    let mut words: Vec<String> = name
        .split(|c: char| !c.is_alphanumeric() && c != '-')
        .map(|word| word.chars().filter(|c| *c != '-').flat_map(char::to_lowercase).collect::<String>())
        .filter(|word| !word.is_empty())
        .collect();
    let mut last = true;
    while words.len() > 1 {
        let Some(word) = words.last() else { break };
        let cut =
            last && may_be_cut && GENERAL_WORDS.iter().any(|general| general.starts_with(word.as_str()));
        if !cut && !GENERAL_WORDS.contains(&word.as_str()) {
            break;
        }
        words.pop();
        last = false;
    }
    words.join(" ")
}

/// The name JEP106 registers for a bank (from 1) and a code without parity.
pub fn registered_name(bank: u8, code: u8) -> Option<&'static str> {
    jep106::JEP106Code::new(bank.checked_sub(1)?, code & 0x7F).get().filter(|name| !name.is_empty())
}

/// Decodes a maker's code in any of the ways that firmware prints it: one or three pairs of bytes, either byte
/// order, with or without `0x`, or the older way with one 7Fh per continuation.
///
/// A JEP106 code as in an SPD is the number of continuation codes, then the code, each with odd parity in bit
/// 7. The parity is often wrong in listings, so it is dropped and never used to reject.
pub(crate) fn decode(text: &str) -> Option<(u8, u8)> {
    let digits = text.strip_prefix("0x").or_else(|| text.strip_prefix("0X")).unwrap_or(text);
    if !matches!(digits.len(), 4 | 12 | 16) || !digits.bytes().all(|b| b.is_ascii_hexdigit()) {
        return None;
    }
    let mut bytes = [0u8; 8];
    for (byte, pair) in bytes.iter_mut().zip(digits.as_bytes().chunks(2)) {
        *byte = u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()?;
    }
    let continuations = bytes.iter().take_while(|b| **b == 0x7F).count();
    let (bank, code) = if continuations > 0 {
        (u8::try_from(continuations).ok()? + 1, *bytes.get(continuations)?)
    } else if digits.len() == 16 {
        (1, bytes[0])
    } else {
        let (first, second) = (bytes[0] & 0x7F, bytes[1]);
        // Few banks exist, so the continuation count is small; a large first byte is the code, swapped.
        if first <= MOST_CONTINUATIONS {
            (first + 1, second)
        } else if second & 0x7F == 0 {
            (1, bytes[0])
        } else {
            return None;
        }
    };
    let code = code & 0x7F;
    if code == 0 { None } else { Some((bank, code)) }
}

/// The highest number taken for a continuation count; JEP106 has 17 banks in the table used.
const MOST_CONTINUATIONS: u8 = 16;

#[cfg(test)]
mod tests {
    use super::*;

    /// Codes seen in listings; names from the JEP106 table of the `jep106` crate.
    #[test]
    fn maker_codes_in_every_form() {
        for (text, bank, code, name) in [
            ("00CE", 1, 0x4E, "Samsung"),
            ("80CE", 1, 0x4E, "Samsung"),
            ("CE00B300CE00", 1, 0x4E, "Samsung"),
            ("00CE00B300CE", 1, 0x4E, "Samsung"),
            ("CE00000000000000", 1, 0x4E, "Samsung"),
            ("0xAD00", 1, 0x2D, "SK Hynix"),
            ("80AD863280AD", 1, 0x2D, "SK Hynix"),
            ("802C", 1, 0x2C, "Micron"),
            ("2C80", 1, 0x2C, "Micron"),
            ("0x0198", 2, 0x18, "Kingston"),
            ("7F98000000000000", 2, 0x18, "Kingston"),
            ("0x7F98000000000000", 2, 0x18, "Kingston"),
            ("830B", 4, 0x0B, "Nanya"),
            ("0443", 5, 0x43, "Ramaxel"),
            ("86F1", 7, 0x71, "InnoDisk"),
            ("7F7F7F7F7F510000", 6, 0x51, "Qimonda"),
        ] {
            assert_eq!(decode(text), Some((bank, code)), "{text}");
            let maker = Maker::read(text).unwrap();
            assert!(
                maker.name().to_lowercase().starts_with(&name.to_lowercase()),
                "{text}: {}",
                maker.name()
            );
        }
        for text in ["1311", "1315", "1319", "1323", "ABCD", "Samsung", "0xZZZZ", "CE", ""] {
            assert_eq!(decode(text), None, "{text}");
        }
    }

    /// The shapes by which most texts are accepted at once.
    #[test]
    fn numbered_placeholders_have_their_letters() {
        for part in NUMBERED_PLACEHOLDERS {
            assert!(part.contains(['u', 'g', '<']), "{part}");
        }
    }

    #[test]
    fn placeholders_are_no_identity() {
        for text in [
            "",
            "   ",
            "UNKNOWN",
            "NO DIMM",
            "Not Specified",
            "[Empty]",
            "Unkonwn",
            "0000",
            "0x0000",
            "FFFFFFFF",
            "--",
            "Dimm0_PartNum",
            "Manufacturer00",
            "Array 1 Manufacturer 2",
            "ModulePartNumber07",
            "DimmC2_Manufacturer",
            "n/a",
            "<BAD INDEX>",
            "........",
        ] {
            assert_eq!(clean(text), None, "{text}");
        }
        for text in ["M393B2G70BH0-YH9  ", "HMT31GR7CFR4A-PB", "Samsung", "FF", "0198", "36KSF2G72PZ-1G6E1"] {
            assert!(clean(text).is_some() || text == "FF", "{text}");
        }
    }

    #[test]
    fn one_maker_under_many_names() {
        let same = |a, b| Maker::read(a).unwrap().same_as(&Maker::read(b).unwrap());
        for (a, b) in [
            ("Hynix", "SK Hynix"),
            ("Hyundai", "Hynix Semiconducto"),
            ("80AD", "Hynix/Hyundai"),
            ("00CE00B300CE", "Samsung"),
            ("Micron Technology", "2C80"),
            ("Qimonda", "QIMONDA"),
            ("Ramaxel Technology", "Ramaxel"),
            ("Samsung(date:15/24)", "Samsung"),
            ("Transcend", "Transcend Information"),
            ("ADATA", "A-DATA Technology"),
            ("Lexar", "Lexar Co Limited"),
        ] {
            assert!(same(a, b), "{a} = {b}");
        }
        for (a, b) in [
            ("Samsung", "Hynix"),
            ("80CE", "80AD"),
            ("Kingston", "Micron"),
            ("1315", "1311"),
            ("Samsung", "Samsung-counterfeit"),
            ("Samsung", "Samsung counterfeit"),
            ("Transcend", "Transcendental"),
            ("Micron", "Micronas (ITT Intermetall)"),
        ] {
            assert!(!same(a, b), "{a} != {b}");
        }
    }

    #[test]
    fn spaces_collapse() {
        assert_eq!(collapse("PROC  1 DIMM  1 "), "PROC 1 DIMM 1");
        assert!(matches!(collapse(" A1 "), Cow::Borrowed("A1")));
    }
}
