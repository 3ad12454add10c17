//! The other files of the pallet: plans, the board, the stock.

use std::collections::BTreeMap;
use std::fmt::Write;

use super::planted::planted;
use super::server::{Model, Server};

fn plan(head: &str, module: &str, slots: &[String], rest: &str) -> String {
    format!("{head}fit:\n  - module:\n{module}    slots: [{}]\n{rest}", slots.join(", "))
}

fn plans() -> Vec<(&'static str, String)> {
    let (kestrel, plover) = (Model::Kestrel, Model::Plover);
    let wetherlam = "      size: 16 GB\n      type: DDR3\n      kind: RDIMM\n      ranks: 2\n      rated: 1333\n      part: WW16-2R4-1333L\n";
    let empty = |model: Model| {
        let planned = model.planned();
        let left: Vec<String> = model.slots().into_iter().filter(|slot| !planned.contains(slot)).collect();
        format!("empty: [{}]\n", left.join(", "))
    };
    let own = |number: u32, name: &str| {
        format!("name: {name}\nmachine: {{serial: WT-{number:04}}}\nboard: ../boards/kestrel.yaml\n")
    };
    let except = |gone: &[&str], more: &[&str]| -> Vec<String> {
        let planned = kestrel.planned().into_iter().filter(|slot| !gone.contains(&slot.as_str()));
        planned.chain(more.iter().map(|slot| (*slot).to_owned())).collect()
    };
    let quad: Vec<String> = ["s1", "s2"]
        .iter()
        .flat_map(|socket| (1..=3).map(move |position| format!("{socket}.c1.p{position}")))
        .collect();
    vec![
        (
            "kestrel.yaml",
            plan(
                "name: Kestrel Twin, 192 GiB\nmachine: {product: Kestrel Twin}\n",
                wetherlam,
                &kestrel.planned(),
                &format!("{}expect: {{speed: 1333, total: 192 GiB, ecc: on}}\n", empty(kestrel)),
            ),
        ),
        (
            "plover.yaml",
            plan(
                "name: Plover One, 128 GiB\nmachine: {product: Plover One}\n",
                "      size: 32 GB\n      type: DDR4\n      ranks: 2\n",
                &plover.planned(),
                &format!("{}expect: {{speed: 2666, total: 128 GiB, ecc: on}}\n", empty(plover)),
            ),
        ),
        ("bay15.yaml", plan(&own(15, "quad-rank trial"), "      size: 16 GB\n      ranks: 4\n", &quad, "")),
        (
            "bay16.yaml",
            plan(&own(16, "a gap"), "      size: 16 GB\n", &except(&["s1.c1.p1"], &["s1.c1.p3"]), ""),
        ),
        ("bay17.yaml", plan(&own(17, "a stray kind"), "      size: 16 GB\n", &except(&[], &[]), "")),
        (
            "bay19.yaml",
            plan(&own(19, "ten"), "      size: 16 GB\n", &except(&["s2.c3.p1", "s2.c3.p2"], &[]), ""),
        ),
        ("bay44a.yaml", "machine: {host: bay44}\nexpect: {speed: 1333}\n".to_owned()),
        ("bay44b.yaml", "machine: {serial: WT-0044}\nexpect: {speed: 1333}\n".to_owned()),
    ]
}

/// The board of the Kestrel Twin, with its slots in the order of filling.
fn board() -> String {
    let mut out = String::from("board: Kestrel Twin\nclass: ddr3-2x3x3\nsockets:\n");
    for socket in 1..=2 {
        let _ = write!(out, "  - socket: {socket}\n    processor: s{socket}\n    channels:\n");
        for channel in 1..=3 {
            let slots: Vec<String> =
                (1..=3).map(|position| format!("s{socket}.c{channel}.p{position}")).collect();
            let _ = writeln!(out, "      - {{channel: \"{channel}\", slots: [{}]}}", slots.join(", "));
        }
    }
    out
}

/// The stock: every module of the forty-four as it was allotted, with a spreadsheet's marks.
fn stock() -> String {
    let mut out = String::from("\u{feff}Part;Serial;Label;Host;Shelf\r\n");
    for number in 1..=44u32 {
        let kestrel =
            [1u32, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 16, 17, 18, 19, 20, 40, 41, 42, 43, 44];
        let model = if kestrel.contains(&number) { Model::Kestrel } else { Model::Plover };
        if number == 15 {
            for slot in ["111", "112", "113", "211", "212", "213"] {
                let _ = write!(out, "WW16-4R4-1066L;WM15{slot};\"box 3; \"\"quad\"\"\";bay15;\r\n");
            }
            continue;
        }
        let server = Server::new(number, model);
        for module in server.modules.values() {
            // The lot that runs slow was bought as it is.
            let part = if [26, 27, 29].contains(&number) { "PL32-2R4-2666B" } else { module.part };
            let _ = write!(out, "{part};{};box 1;bay{number:02};\r\n", module.serial);
        }
    }
    // On the shelf, twice, and without a number.
    out.push_str("WW16-2R4-1333L;SHELF001;spare;;7\r\nWW16-2R4-1333L;SHELF001;spare;;8\r\nWW16-2R4-1333L;N/A;spare;;9\r\n");
    out
}

pub fn files() -> BTreeMap<String, String> {
    let mut files: BTreeMap<String, String> =
        planted().into_iter().map(|p| (format!("listings/{}", p.file), p.content)).collect();
    files.extend(plans().into_iter().map(|(name, text)| (format!("plans/{name}"), text)));
    files.insert("boards/kestrel.yaml".to_owned(), board());
    files.insert("stock.csv".to_owned(), stock());
    files
}
