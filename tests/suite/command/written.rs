//! What people write stays as they wrote it, and is understood in the ways in which they write it.

use crate::util::command::{Bench, audit, audit_json};

/// One module, with its serial and part number.
fn listing(serial: &str, part: &str) -> String {
    format!(
        "# dmidecode 3.3\nSMBIOS 3.2.0 present.\n\nHandle 0x0020, DMI type 17, 40 bytes\nMemory Device\n\tTotal Width: 72 bits\n\t\
         Data Width: 64 bits\n\tSize: 16 GB\n\tForm Factor: DIMM\n\tLocator: A1\n\tType: DDR4\n\tSerial Number: {serial}\n\t\
         Part Number: {part}\n\nHandle 0x007F, DMI type 127, 4 bytes\nEnd Of Table\n"
    )
}

/// A serial number that reads as a number of YAML is that text and no other: neither a wrong pass nor a wrong fail.
#[test]
fn serial_numbers_stay_as_written() {
    let bench = Bench::new();
    for (written, value) in [
        ("0x1F", "31"),
        ("0o17", "15"),
        ("0b1010", "10"),
        ("1e3", "1000"),
        ("1_000", "1000"),
        ("000051E6", "51000000"),
        ("00123", "123"),
        ("+12", "12"),
    ] {
        for quoted in
            [written.to_owned(), format!("'{written}'"), format!("[{written}]"), format!("\"{written}\"")]
        {
            let plan = format!("fit:\n  - {{module: 16GB, slots: A1, serials: {quoted}}}\n");
            let plan = bench.write("p.yaml", plan);
            audit(&bench.write("l.txt", listing(written, "P1")), &plan).code(0);
            let result = audit_json(&bench.write("l.txt", listing(value, "P1")), &plan, 1);
            assert!(
                result["findings"][0]["fields"].as_array().unwrap().contains(&"serial".into()),
                "{quoted}"
            );
        }
    }
}

/// The plan has it in lower case, or with blanks, or the firmware pads it.
#[test]
fn part_numbers_are_the_same_in_any_case_and_with_any_blanks() {
    let bench = Bench::new();
    let listing = bench.write("l.txt", listing("S1", "P03052-091  "));
    for (part, code) in [("p03052-091", 0), ("P03052 -091", 0), ("\" P03052-091 \"", 0), ("P03052-092", 1)] {
        let plan = format!("fit:\n  - module: {{size: 16 GiB, part: {part}}}\n    slots: A1\n");
        audit(&listing, &bench.write("p.yaml", plan)).code(code);
    }
}
