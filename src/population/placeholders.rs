//! Texts that identify nothing, by the rows of `data/placeholders.csv`.

use std::sync::OnceLock;

/// The rows; the file says what each column means.
const TABLE: &str = include_str!("data/placeholders.csv");

/// What a text is said to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Subject {
    /// A serial number, an asset tag, or anything else.
    Any,
    /// The maker of a module.
    Maker,
    /// A part number.
    Part,
}

#[derive(Debug, Default)]
struct Table {
    /// Whole texts and starts, with the subject they are for.
    is: Vec<(Subject, &'static str)>,
    starts: Vec<(Subject, &'static str)>,
    holds: Vec<(Subject, &'static str)>,
    only: Vec<(Subject, &'static str)>,
    /// Lengths of whole texts and their first letters, as bits: most texts differ from all of them in one of the two.
    lengths: u64,
    first: u128,
    /// The same for the letters with which the rows `starts` begin.
    start_letters: u128,
}

fn bit(byte: u8) -> u128 {
    if byte < 128 { 1 << byte } else { 0 }
}

fn table() -> &'static Table {
    static READ: OnceLock<Table> = OnceLock::new();
    READ.get_or_init(|| {
        let mut table = Table::default();
        for line in TABLE.lines().filter(|line| !line.starts_with('#')) {
            let mut cells = line.split(',');
            let (Some(subject), Some(matching), Some(text)) = (cells.next(), cells.next(), cells.next())
            else {
                continue;
            };
            let subject = match subject {
                "maker" => Subject::Maker,
                "part" => Subject::Part,
                _ => Subject::Any,
            };
            let first = text.as_bytes().first().copied().unwrap_or_default();
            match matching {
                "is" => {
                    table.lengths |= 1 << (text.len() % 64);
                    table.first |= bit(first);
                    table.is.push((subject, text));
                }
                "starts" => {
                    table.start_letters |= bit(first);
                    table.starts.push((subject, text));
                }
                "holds" => table.holds.push((subject, text)),
                "only" => table.only.push((subject, text)),
                // The head of the columns.
                _ => {}
            }
        }
        table
    })
}

/// Whether a trimmed text is a placeholder for such a subject.
pub(super) fn is_placeholder(text: &str, subject: Subject) -> bool {
    let table = table();
    let bytes = text.as_bytes();
    let Some(first) = bytes.first().map(u8::to_ascii_lowercase) else { return true };
    let is_for = |own: &Subject| *own == Subject::Any || *own == subject;
    let among = |rows: &[(Subject, &str)], matches: &dyn Fn(&str) -> bool| {
        rows.iter().any(|(own, row)| is_for(own) && matches(row))
    };
    let whole = bytes.len() < 64
        && table.lengths >> bytes.len() & 1 == 1
        && table.first & bit(first) != 0
        && among(&table.is, &|row| text.eq_ignore_ascii_case(row));
    let starts = || {
        table.start_letters & bit(first) != 0
            && among(&table.starts, &|row| {
                bytes.get(..row.len()).is_some_and(|head| head.eq_ignore_ascii_case(row.as_bytes()))
            })
    };
    let only = || {
        among(&table.only, &|row| {
            row.as_bytes().contains(&first)
                && bytes.iter().all(|byte| *byte == b' ' || row.as_bytes().contains(byte))
        })
    };
    // Every row that can stand inside a text has one of these letters, and few part numbers do.
    let inside = || {
        bytes.iter().any(|byte| matches!(byte.to_ascii_lowercase(), b'u' | b'g' | b'<'))
            && among(&table.holds, &|row| {
                bytes.windows(row.len()).any(|window| window.eq_ignore_ascii_case(row.as_bytes()))
            })
    };
    whole || starts() || only() || inside()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_whole() {
        let table = table();
        for line in TABLE.lines().filter(|line| !line.starts_with('#')) {
            assert_eq!(line.split(',').count(), 4, "{line}");
            assert_eq!(line, line.to_ascii_lowercase(), "{line}");
        }
        assert!(table.is.iter().all(|(_, row)| row.len() < 64));
        for (_, part) in &table.holds {
            assert!(part.contains(['u', 'g', '<']), "{part}");
        }
    }

    #[test]
    fn placeholders_of_parts_and_makers() {
        for part in [
            "123456789012345678",
            "SODIMM000",
            "012345678901234567890123456789012345",
            "0x202020202020202020202020202020202020",
            ". .    ..     ..",
            "0000000000-00000",
            "DDDDEDDDDDDDDDDDDD",
            "To be filled by O.E.M",
            "0xFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFF",
        ] {
            assert!(is_placeholder(part, Subject::Part), "{part}");
        }
        for maker in ["ABCD", "Mfg 0", "Mfg 1", "48spaces", "4444", "Unde", "Unknown (0)", "JEDEC ID:"] {
            assert!(is_placeholder(maker, Subject::Maker), "{maker}");
        }
        for real in ["M393B2G70BH0-YH9", "99U5471-012.A00LF", "D3-60MM104SV-999", "16JSF51264HZ-1G4M1"] {
            assert!(!is_placeholder(real, Subject::Part), "{real}");
        }
    }
}
