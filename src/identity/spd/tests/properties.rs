//! What holds for any bytes.

use proptest::prelude::*;

use super::super::*;
use super::{ddr2, ddr3, ddr4, ddr5};
use crate::identity::Coded;

/// Contents of any generation, with bytes changed anywhere.
fn changed() -> impl Strategy<Value = Vec<u8>> {
    let base = prop::sample::select(vec![ddr2(), ddr3(), ddr4(), ddr5()]);
    let changes = prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..64);
    (base, changes).prop_map(|(mut bytes, changes)| {
        for (at, byte) in changes {
            let at = at.index(bytes.len());
            if at != 2 {
                bytes[at] = byte;
            }
        }
        bytes
    })
}

proptest! {
    /// Whatever is read, it can be used.
    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..1100)) {
        match read_file(&bytes) {
            Ok(spd) => drop(Coded::from(&spd)),
            Err(error) => prop_assert!(error.to_string().contains(':') && error.to_string().len() < 400),
        }
    }

    #[test]
    fn contents_with_any_bytes_are_read(bytes in changed()) {
        let spd = read(&bytes).unwrap();
        let coded = Coded::from(&spd);
        prop_assert!(coded.size.is_none_or(|size| size.value.is_plausible()));
        let identity = spd.identity.as_ref().unwrap();
        let text = identity.part_number.as_ref().and_then(|part| part.text.as_ref());
        prop_assert!(text.is_none_or(|text| text.chars().all(|c| (' '..='~').contains(&c)) && text.trim_end() == text));
        prop_assert!(identity.date.value.is_none_or(|date| (1..=53).contains(&date.value.week)));
        // Bytes under a check do not change without its showing, unless by an even chance of one in 65536.
        let same = spd.checks.iter().all(|check| check.stored == check.computed || check.stored == 0);
        prop_assert_eq!(same, !spd.is_damaged());
        // As a dump, the same.
        let text: String = bytes.chunks(16).enumerate().map(|(at, own)| format!("{:03x}: {}\n", at * 16, own.iter().map(|byte| format!("{byte:02x} ")).collect::<String>())).collect();
        prop_assert_eq!(read_file(text.as_bytes()).unwrap(), spd);
    }

    #[test]
    fn any_text_is_read_or_refused(text in "([0-9a-f:x*|# \n]{0,6}(00|92|0b|10:|0x|\\*|\n| ){0,9}){0,20}") {
        drop(read_file(text.as_bytes()));
    }
}
