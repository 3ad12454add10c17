//! Files and dumps in the forms that people have them.

use std::fmt::Write;

use super::super::*;
use super::{ddr2, ddr3, ddr4, ddr5};

/// Lines of 16 bytes in one of the usual forms.
fn dump(bytes: &[u8], line: impl Fn(usize, &[u8], &str) -> String) -> String {
    let lines = bytes.chunks(16).enumerate().map(|(at, bytes)| {
        let shown: String = bytes
            .iter()
            .map(|byte| if (b' '..=b'~').contains(byte) { char::from(*byte) } else { '.' })
            .collect();
        line(at * 16, bytes, &shown) + "\n"
    });
    lines.collect()
}

fn pairs(bytes: &[u8], between: &str) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect::<Vec<_>>().join(between)
}

fn words(bytes: &[u8], size: usize, turned: bool) -> String {
    let word = |bytes: &[u8]| {
        let mut bytes = bytes.to_vec();
        if turned {
            bytes.reverse();
        }
        pairs(&bytes, "")
    };
    bytes.chunks(size).map(word).collect::<Vec<_>>().join(" ")
}

/// Lines equal to the one before are left out, as most programs do.
fn squeezed(text: &str) -> String {
    let mut out = String::new();
    let mut before = "";
    let mut starred = false;
    for line in text.lines() {
        let own = line.split_once(' ').map_or("", |(_, own)| own);
        if own == before && !own.is_empty() {
            if !starred {
                out.push_str("*\n");
            }
            starred = true;
            continue;
        }
        (before, starred) = (own, false);
        writeln!(out, "{line}").unwrap();
    }
    out
}

/// Every form by its shape: the name, and the text.
fn forms(bytes: &[u8]) -> Vec<(&'static str, String)> {
    let end = format!("{:08x}\n", bytes.len());
    let characters = dump(bytes, |at, own, shown| {
        let (left, right) = own.split_at(8);
        format!("{at:08x}  {}  {}  |{shown}|", pairs(left, " "), pairs(right, " "))
    });
    let quarter =
        |size, turned| dump(bytes, move |at, own, _| format!("{at:07x} {}", words(own, size, turned)));
    let array = dump(bytes, |_, own, _| format!("  0x{},", pairs(own, ", 0x")));
    vec![
        ("one number", pairs(bytes, "")),
        ("pairs", dump(bytes, |_, own, _| pairs(own, " "))),
        (
            "pairs with a gap in the middle",
            dump(bytes, |_, own, _| format!("{}  {}", pairs(&own[..8], " "), pairs(&own[8..], " "))),
        ),
        ("a byte a line", bytes.iter().map(|byte| format!("{byte:02X}\r\n")).collect()),
        ("pairs with colons", dump(bytes, |_, own, _| pairs(own, ":"))),
        ("an array", format!("static const unsigned char spd[] = {{\n{array}}};\n")),
        ("0x words", dump(bytes, |_, own, _| format!("0x{}", pairs(own, " 0x")))),
        ("short addresses with colons", dump(bytes, |at, own, _| format!("{at:04X}: {}", pairs(own, " ")))),
        ("characters behind bars", characters.clone() + &end),
        ("the same, squeezed", squeezed(&characters) + &end),
        (
            "words and characters",
            dump(bytes, |at, own, shown| format!("{at:08x}: {}  {shown}", words(own, 2, false))),
        ),
        ("words of a processor", quarter(2, true) + &end),
        ("the same, squeezed", squeezed(&quarter(2, true)) + &end),
        ("words of four bytes", quarter(4, true) + &end),
        ("words in order", quarter(2, false) + &end),
        ("octal addresses", dump(bytes, |at, own, _| format!("{at:07o} {}", pairs(own, " ")))),
        ("decimal addresses", dump(bytes, |at, own, _| format!("{at:07} {}", pairs(own, " ")))),
        (
            "an address a byte",
            bytes.iter().enumerate().map(|(at, byte)| format!("0x{at:02x} 0x{byte:02x}\n")).collect(),
        ),
    ]
}

#[test]
fn every_form_gives_the_same_bytes() {
    for bytes in [ddr2(), ddr3(), ddr4(), ddr5(), ddr3()[..128].to_vec()] {
        for (name, text) in forms(&bytes) {
            let read = contents(text.as_bytes()).unwrap_or_else(|error| panic!("{name}: {error}"));
            assert!(*read == bytes, "{name}: {} bytes of {}\n{text}", read.len(), bytes.len());
            let commented = format!("# a module\n\n{}// the end\n", text.replace('\n', "  # as read\n"));
            assert!(*contents(commented.as_bytes()).unwrap() == bytes, "{name} with comments");
        }
        assert!(*contents(&bytes).unwrap() == bytes);
        let wide: Vec<u8> = "\u{feff}"
            .chars()
            .chain(pairs(&bytes, " ").chars())
            .collect::<String>()
            .encode_utf16()
            .flat_map(u16::to_le_bytes)
            .collect();
        assert!(*contents(&wide).unwrap() == bytes, "UTF-16");
    }
}

/// Pages that each begin with address 0, under a line that numbers the columns.
#[test]
fn pages() {
    let bytes = ddr4();
    let head = "     0  1  2  3  4  5  6  7  8  9  a  b  c  d  e  f    0123456789abcdef\n";
    let page = |bytes: &[u8]| {
        head.to_owned() + &dump(bytes, |at, own, shown| format!("{at:02x}: {}    {shown}", pairs(own, " ")))
    };
    let text = page(&bytes[..256]) + &page(&bytes[256..]);
    assert!(*contents(text.as_bytes()).unwrap() == bytes);
}

/// Characters that look like digits or comments are still characters.
#[test]
fn characters_behind_the_bytes_are_never_bytes() {
    let mut bytes = ddr3();
    bytes[128..144].copy_from_slice(b"AB CD 12 EF # //");
    bytes[240..256].copy_from_slice(b"AB CD 12 EF 34 5");
    let text = dump(&bytes, |at, own, shown| format!("{at:02x}: {}    {shown}", pairs(own, " ")));
    assert!(*contents(text.as_bytes()).unwrap() == bytes);
}

/// What is wrong, in the words of the error.
#[test]
fn errors_say_what_to_do() {
    let good = ddr4();
    let text = dump(&good, |at, own, shown| format!("{at:04x}: {}  |{shown}|", pairs(own, " ")));
    let joined = [
        ddr3(),
        {
            let mut other = ddr3();
            other[122] = 9;
            other
        },
        ddr3(),
    ]
    .concat();
    let mut key = good.clone();
    key[2] = 0x77;
    let mut mobile = good.clone();
    mobile[2] = 0x10;
    for (file, words) in [
        (Vec::new(), &["empty", "read the EEPROM again"][..]),
        (vec![0xFF; 512], &["all 512 bytes are FFh", "nothing answered"]),
        (vec![0; 256], &["all 256 bytes are 00h"]),
        (vec![0x92], &["1 byte;", "128 to 1024"]),
        (good[..300].to_vec(), &["300 bytes of DDR4", "512 bytes, or the first 256"]),
        (ddr5()[..256].to_vec(), &["256 bytes of DDR5", "1024 bytes"]),
        (joined, &["768 bytes hold the contents of 3 modules", "pieces of 256 bytes"]),
        (key, &["byte 2 is 77h", "0Ch (DDR4)"]),
        (mobile, &["byte 2 is 10h", "LPDDR4", "leave this dump out"]),
        (vec![b'1'; (1 << 20) + 1], &["far more than an SPD dump"]),
        (b"no dump at all".to_vec(), &["line 1", "\"no\"", "hexadecimal"]),
        (b"92 11 0b 1".to_vec(), &["line 1", "\"1\""]),
        (b"00: 92 11 XX 04\n04: 01 02 03 04\n".to_vec(), &["line 1", "\"XX\"", "could not be read"]),
        (b"92 11 -- 04\n".to_vec(), &["\"--\"", "could not be read"]),
        (text.replace("0040: ", "0050: ").into_bytes(), &["line 5", "50h", "40h"]),
        (
            text.lines()
                .filter(|line| !line.starts_with("0040"))
                .map(|line| format!("{line}\n"))
                .collect::<String>()
                .into_bytes(),
            &["line 5", "found address 50h, expected 40h", "lines are missing"],
        ),
        (
            text.lines().skip(1).map(|line| format!("{line}\n")).collect::<String>().into_bytes(),
            &["line 1", "found address 10h, expected 0h"],
        ),
        (b"00: 92 11\n10: 92 11\n".to_vec(), &["line 1", "\"92 11\"", "as many bytes as the addresses say"]),
        (b"00: 92 11\n*\nffffffff:\n".to_vec(), &["far more"]),
        (b"00: 92 11\n*\nfffe:\n".repeat(1000), &["far more"]),
        (b"0000 ff ff ff ff  |....|\n*\n0200\n".to_vec(), &["all 512 bytes are FFh"]),
    ] {
        let error = read_file(&file).unwrap_err().to_string();
        for word in words {
            assert!(error.contains(word), "{word:?} in {error:?}");
        }
    }
}

/// A reader that asks for more than there is gets filler, or the beginning again.
#[test]
fn what_follows_the_contents_is_left_out() {
    let own = read(&ddr3()).unwrap();
    for rest in [vec![0xFF; 256], vec![0; 256], ddr3()] {
        assert_eq!(read(&[ddr3(), rest].concat()).unwrap(), own);
    }
    let mut second = ddr3();
    second[125] ^= 1;
    assert!(matches!(read(&[ddr3(), second].concat()), Err(SpdError::Joined { .. })));
}
