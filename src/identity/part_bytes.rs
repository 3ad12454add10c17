//! Part numbers of which firmware prints the bytes.

/// The text whose bytes are printed in hexadecimal: `0x48594D50313132533634435236…` is `HYMP112S64CR6-S6`.
///
/// An SPD keeps the part number in a field of 18 bytes up to DDR3 and 20 for DDR4, filled with blanks, zeros or ones, of
/// which some firmware prints the bytes. Only what is a part number by its letters is one: with a letter and a digit,
/// and nothing that no part number has. Without `0x` no shorter row of digits than nearly such a field is taken for
/// bytes, so that a part number that is made of digits stays what it is (seen in the data set named in
/// `src/population/data/placeholders.csv`: 34 digits at least).
pub(crate) fn text_of_bytes(printed: &str) -> Option<String> {
    const LEAST_WITH_PREFIX: usize = 16;
    const LEAST_WITHOUT: usize = 28;
    const LEAST_LETTERS: usize = 6;
    let prefixed = printed.strip_prefix("0x").or_else(|| printed.strip_prefix("0X"));
    let (digits, fewest) = prefixed.map_or((printed, LEAST_WITHOUT), |own| (own, LEAST_WITH_PREFIX));
    // Nearly every part number ends here.
    if digits.len() < fewest
        || !digits.len().is_multiple_of(2)
        || !digits.bytes().all(|b| b.is_ascii_hexdigit())
    {
        return None;
    }
    let bytes =
        digits.as_bytes().chunks(2).map(|pair| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok());
    let bytes: Vec<u8> = bytes.collect::<Option<_>>()?;
    let is_filler = |byte: &u8| matches!(byte, 0x00 | b' ' | 0xFF);
    let first = bytes.iter().position(|byte| !is_filler(byte))?;
    let last = bytes.iter().rposition(|byte| !is_filler(byte))?;
    let text = bytes.get(first..=last)?;
    let plausible = |byte: &u8| byte.is_ascii_alphanumeric() || b" -./_+#:".contains(byte);
    let is_part = text.len() >= LEAST_LETTERS
        && text.iter().all(plausible)
        && text.iter().any(u8::is_ascii_digit)
        && text.iter().any(u8::is_ascii_alphabetic);
    is_part.then(|| text.iter().map(|byte| char::from(*byte)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Part numbers as seen in listings, whose firmware prints the bytes of the SPD's field; and what is none.
    #[test]
    fn part_numbers_in_bytes_are_text() {
        for (printed, text) in [
            ("0x48594D503131325336344352362D53362020", "HYMP112S64CR6-S6"),
            ("0x483634353155363446393333334700000000", "H6451U64F9333G"),
            ("0x393930353332312D3033322E4130304C4600", "9905321-032.A00LF"),
            ("4D332037385432383633515A532D43463720", "M3 78T2863QZS-CF7"),
            ("505344323447383030320000000000000000", "PSD24G8002"),
            ("0x4d34373142353737334448302d434b30ffff", "M471B5773DH0-CK0"),
        ] {
            assert_eq!(text_of_bytes(printed).as_deref(), Some(text), "{printed}");
        }
        for printed in [
            "6478545886",
            "10242398",
            "99U5471020A01LF",
            "4755363732323033",
            "0x0063435308303666FEE05235000204000063",
            "0x3000202020202020",
            "3132333435363738",
            "565656565656565656565656565656565656",
            "0x4D342037305432393533455A332D4345362",
        ] {
            assert_eq!(text_of_bytes(printed), None, "{printed}");
        }
    }
}
