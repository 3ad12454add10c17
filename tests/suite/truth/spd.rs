//! Contents of EEPROMs against what they were composed of, against another reader, and against public dumps.

use std::collections::BTreeMap;
use std::path::PathBuf;

use asfitted::identity::spd::{self, Check, Outcome, Spd};
use asfitted::identity::{Coded, Known};

use crate::util::path;

/// Rows of a table by their first column, each with its cells by the names of the columns.
fn table(file: &str, delimiter: u8) -> BTreeMap<String, BTreeMap<String, String>> {
    let mut reader =
        csv::ReaderBuilder::new().delimiter(delimiter).comment(Some(b'#')).from_path(path(file)).unwrap();
    let names: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let row = |record: csv::StringRecord| {
        let cells = names.iter().cloned().zip(record.iter().map(str::to_owned)).collect();
        (record[0].to_owned(), cells)
    };
    reader.records().map(Result::unwrap).map(row).collect()
}

fn read(name: &str) -> Spd {
    let file = std::fs::read(path("fixtures/spd").join(format!("{name}.hex"))).unwrap();
    spd::read_file(&file).unwrap_or_else(|error| panic!("{name}: {error}"))
}

fn shown<T: Copy>(known: Option<Known<T>>, text: impl Fn(T) -> String) -> String {
    known.map(|known| text(known.value)).unwrap_or_default()
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02X}")).collect()
}

/// The sum of the checks: wrong if one is, not checked if one was not, else right.
fn checks(spd: &Spd) -> &'static str {
    let all: Vec<Outcome> = spd.checks.iter().map(Check::outcome).collect();
    let unchecked = all.contains(&Outcome::NotChecked);
    if spd.is_damaged() {
        "wrong"
    } else if unchecked {
        "not checked"
    } else {
        "right"
    }
}

/// A property in the words of the tables; empty where it is not stated.
fn property(spd: &Spd, name: &str) -> String {
    let own = &spd.organisation;
    let identity = spd.identity.as_ref();
    let number = |known: Option<Known<u8>>| shown(known, |value| value.to_string());
    match name {
        "generation" => spd.generation.name().to_owned(),
        "kind" => shown(spd.form.value, |form| form.name.to_owned()),
        "size_mib" => shown(own.size, |size| (size.0 >> 20).to_string()),
        "ranks" => number(own.package_ranks.value),
        "logical_ranks" => number(own.logical_ranks),
        "width" => number(own.width.value),
        "check_lines" => number(own.check_lines.value),
        "cycle" => shown(spd.cycle.value, |cycle| cycle.to_string()),
        "rated" => shown(spd.rated, |rate| rate.0.to_string()),
        "voltage" => shown(Coded::from(spd).voltage, |voltage| voltage.0.to_string()),
        "voltages" => {
            let all: Vec<String> =
                spd.supplies.iter().map(|supply| supply.voltage.value.0.to_string()).collect();
            all.join(",")
        }
        "maker" => {
            // DDR2 has a run of 7Fh in the place of a count with its parity.
            let pair = |raw: &[u8], bank: u8| match raw {
                [_, _] => hex(raw),
                _ => {
                    let count = bank - 1;
                    let parity = if count.count_ones().is_multiple_of(2) { 0x80 } else { 0 };
                    hex(&[count | parity, raw[usize::from(count)]])
                }
            };
            identity
                .and_then(|own| own.maker.code.map(|(bank, _)| pair(&own.maker.raw, bank)))
                .unwrap_or_default()
        }
        "date" => identity.map_or(String::new(), |own| {
            shown(own.date.value, |date| format!("{}-W{:02}", date.year, date.week))
        }),
        "serial" => identity.and_then(spd::Identity::serial).unwrap_or_default(),
        "part" => {
            let part = identity.and_then(|own| own.part_number.as_ref());
            part.and_then(|part| part.text.clone()).unwrap_or_default()
        }
        "dram" => {
            let maker = identity.and_then(|own| own.dram_maker.as_ref());
            maker.filter(|maker| maker.code.is_some()).map(|maker| hex(&maker.raw)).unwrap_or_default()
        }
        "checks" => checks(spd).to_owned(),
        _ => panic!("{name}"),
    }
}

/// Every property that a module was composed of (`fixtures/spd/values.csv`, by `tests/reference/make_spd.py`, which knows
/// nothing of our tables).
#[test]
fn composed_contents() {
    let values = table("fixtures/spd/values.csv", b',');
    for (name, row) in &values {
        let spd = read(name);
        for (column, value) in row.iter().filter(|(column, _)| !matches!(column.as_str(), "file" | "like")) {
            assert_eq!(property(&spd, column), *value, "{name}: {column}");
        }
    }
    let files = std::fs::read_dir(path("fixtures/spd")).unwrap();
    let dumps =
        files.filter(|file| file.as_ref().unwrap().path().extension().is_some_and(|end| end == "hex"));
    assert_eq!((values.len(), dumps.count()), (26, 26));
}

/// What differs from the other reader, and why.
const DIFFERENCES: &[(&str, &str, &str)] = &[
    ("ddr4-rdimm-48g", "size_mb", "dies of 12 Gb are not known to it: it takes code 8 for 64 Gb"),
    ("ddr2-rdimm-4g", "rated", "it prints 666 for 3.0 ns, which is sold as 667"),
    ("ddr4-generated-8g", "checks", "a CRC that was never stored is bad to it, and not checked here"),
];

/// The same bytes by `decode-dimms` of the i2c-tools (`tests/reference/spd.tsv`, made by `make_spd_table.py` beside it).
#[test]
fn another_reader() {
    let mut differ = Vec::new();
    let reference = table("tests/reference/spd.tsv", b'\t');
    for (name, row) in &reference {
        let spd = read(name);
        for (column, theirs) in row.iter().filter(|(column, _)| *column != "file") {
            let own = match column.as_str() {
                "type" => property(&spd, "generation"),
                "size_mb" => property(&spd, "size_mib"),
                "checks" => {
                    let each = spd.checks.iter().map(|check| match check.outcome() {
                        Outcome::Right => "ok",
                        Outcome::Wrong { .. } => "bad",
                        Outcome::NotChecked => "not checked",
                    });
                    each.collect::<Vec<_>>().join(",")
                }
                other => property(&spd, other),
            };
            let own = if own.is_empty() { "-" } else { &own };
            if own != theirs {
                println!("{name}: {column} is {own} here and {theirs} there");
                differ.push((name.as_str(), column.as_str()));
            }
        }
    }
    let mut known: Vec<(&str, &str)> = DIFFERENCES.iter().map(|(name, column, _)| (*name, *column)).collect();
    known.sort_unstable();
    assert_eq!(differ, known);
    assert_eq!(reference.len(), 17);
}

/// Public dumps with the values that others publish of them (`fixtures/spd/published.csv`). The dumps themselves are not
/// shipped; `ASFITTED_SPD_DUMPS` names a folder that holds them by their own names.
#[test]
fn public_dumps() {
    let Some(folder) = std::env::var_os("ASFITTED_SPD_DUMPS").map(PathBuf::from) else {
        println!(
            "skipped: ASFITTED_SPD_DUMPS names no folder with public dumps (see fixtures/spd/README.md)"
        );
        return;
    };
    let published = table("fixtures/spd/published.csv", b',');
    let mut count = 0;
    for (name, row) in &published {
        let Ok(file) = std::fs::read(folder.join(name)) else {
            println!("not there: {name}");
            continue;
        };
        let spd = spd::read_file(&file).unwrap_or_else(|error| panic!("{name}: {error}"));
        count += 1;
        for (column, value) in row.iter().filter(|(column, value)| {
            !value.is_empty() && !matches!(column.as_str(), "file" | "where" | "licence" | "source")
        }) {
            assert_eq!(property(&spd, column), *value, "{name}: {column}");
        }
    }
    println!("{count} of {} dumps are read, and none of their published values differs", published.len());
    assert!(count > 0, "no dump of fixtures/spd/published.csv is in {}", folder.display());
}
