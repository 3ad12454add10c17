//! The invented pallet under `fixtures/pallet`: forty servers of two invented models with a fault of every kind
//! planted among them. The files are made by this module and compared with it; what a fleet audit says of them is
//! checked against the list of what was planted, and line by line against `summary.txt`.
//!
//! To make the files anew: `ASFITTED_WRITE_FIXTURES=1 cargo test --test suite pallet`.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use serde_json::Value;

use crate::util::corpus as fixture;

#[derive(Clone)]
struct Module {
    size: &'static str,
    generation: &'static str,
    detail: &'static str,
    part: &'static str,
    rated: u32,
    runs: u32,
    ranks: u8,
    serial: String,
}

#[derive(Clone, Copy, PartialEq)]
enum Model {
    /// Two sockets, three channels of three slots.
    Kestrel,
    /// One socket, four channels of two slots.
    Plover,
}

impl Model {
    fn sockets(self) -> u16 {
        if self == Self::Kestrel { 2 } else { 1 }
    }

    fn slots(self) -> Vec<String> {
        let (channels, positions) = if self == Self::Kestrel { (3, 3) } else { (4, 2) };
        let mut slots = Vec::new();
        for socket in 1..=self.sockets() {
            for channel in 1..=channels {
                slots.extend((1..=positions).map(|position| format!("s{socket}.c{channel}.p{position}")));
            }
        }
        slots
    }

    fn module(self, serial: String) -> Module {
        match self {
            Self::Kestrel => Module {
                size: "16 GB",
                generation: "DDR3",
                detail: "Synchronous Registered (Buffered)",
                part: "WW16-2R4-1333L",
                rated: 1333,
                runs: 1333,
                ranks: 2,
                serial,
            },
            Self::Plover => Module {
                size: "32 GB",
                generation: "DDR4",
                detail: "Synchronous Registered (Buffered)",
                part: "PL32-2R4-2666",
                rated: 2666,
                runs: 2666,
                ranks: 2,
                serial,
            },
        }
    }

    /// The slots that its plan fills.
    fn planned(self) -> Vec<String> {
        let last = if self == Self::Kestrel { ".p3" } else { ".p2" };
        self.slots().into_iter().filter(|slot| !slot.ends_with(last)).collect()
    }

    fn product(self) -> &'static str {
        if self == Self::Kestrel { "Kestrel Twin" } else { "Plover One" }
    }
}

/// One server as it is fitted.
#[derive(Clone)]
struct Server {
    number: u32,
    model: Model,
    product: &'static str,
    modules: BTreeMap<String, Module>,
    absent_sockets: Vec<u16>,
    correction: &'static str,
    speaks_of_speed: bool,
    speaks_of_serials: bool,
    /// A slot whose module keeps its name and gives nothing.
    idle: Option<&'static str>,
}

/// What is planted: the verdict and the findings, each with its slots.
type Truth = (&'static str, Vec<(&'static str, Vec<&'static str>)>);

impl Server {
    fn new(number: u32, model: Model) -> Self {
        let module = |(place, slot): (usize, String)| {
            let serial = format!("WM{number:02}{place:04}");
            (slot, model.module(serial))
        };
        Self {
            number,
            model,
            product: model.product(),
            modules: model.planned().into_iter().enumerate().map(module).collect(),
            absent_sockets: Vec::new(),
            correction: "Multi-bit ECC",
            speaks_of_speed: true,
            speaks_of_serials: true,
            idle: None,
        }
    }

    fn name(&self) -> String {
        format!("bay{:02}", self.number)
    }

    fn take(&mut self, slot: &str) -> Module {
        self.modules.remove(slot).unwrap()
    }

    fn change(&mut self, slot: &str, change: impl FnOnce(&mut Module)) {
        change(self.modules.get_mut(slot).unwrap());
    }

    fn listing(&self) -> String {
        let mut out =
            String::from("# dmidecode 3.3\nGetting SMBIOS data from sysfs.\nSMBIOS 2.8 present.\n\n");
        let serial = format!("WT-{:04}", self.number);
        let _ = write!(
            out,
            "Handle 0x0001, DMI type 1, 27 bytes\nSystem Information\n\tManufacturer: Wetherlam Works\n\tProduct Name: {}\n\tSerial Number: {serial}\n\n",
            self.product
        );
        for socket in 1..=self.model.sockets() {
            let status =
                if self.absent_sockets.contains(&socket) { "Unpopulated" } else { "Populated, Enabled" };
            let _ = write!(
                out,
                "Handle 0x001{socket}, DMI type 4, 42 bytes\nProcessor Information\n\tSocket Designation: s{socket}\n\tStatus: {status}\n\n"
            );
        }
        let slots = self.model.slots();
        let _ = write!(
            out,
            "Handle 0x0020, DMI type 16, 23 bytes\nPhysical Memory Array\n\tUse: System Memory\n\tError Correction Type: {}\n\tNumber Of Devices: {}\n\n",
            self.correction,
            slots.len()
        );
        for (slot, handle) in slots.iter().zip(0x30u32..) {
            let _ = write!(
                out,
                "Handle {handle:#06X}, DMI type 17, 40 bytes\nMemory Device\n\tArray Handle: 0x0020\n"
            );
            self.device(&mut out, slot);
            out.push('\n');
        }
        out.push_str("Handle 0x00FF, DMI type 127, 4 bytes\nEnd Of Table\n\n");
        out.replace("Handle 0X", "Handle 0x")
    }

    fn device(&self, out: &mut String, slot: &str) {
        let Some(module) = self.modules.get(slot) else {
            let _ = write!(
                out,
                "\tSize: No Module Installed\n\tLocator: {slot}\n\tType: Unknown\n\tPart Number: NO DIMM\n"
            );
            return;
        };
        let size = if self.idle == Some(slot) { "No Module Installed" } else { module.size };
        let runs = if self.speaks_of_speed { format!("{} MT/s", module.runs) } else { "Unknown".to_owned() };
        let serial = if self.speaks_of_serials { module.serial.as_str() } else { "Not Specified" };
        let _ = write!(
            out,
            "\tTotal Width: 72 bits\n\tData Width: 64 bits\n\tSize: {size}\n\tForm Factor: DIMM\n\tLocator: {slot}\n\tType: {}\n\tType Detail: {}\n\tSpeed: {} MT/s\n\tManufacturer: Wetherlam\n\tSerial Number: {serial}\n\tPart Number: {}\n\tRank: {}\n\tConfigured Memory Speed: {runs}\n",
            module.generation, module.detail, module.rated, module.part, module.ranks
        );
    }
}

/// A file of the pallet, and what the audit must say of it.
struct Planted {
    file: String,
    content: String,
    truth: Truth,
}

fn capture(listing: &str, rest: &str) -> String {
    format!(
        "asfitted capture 1\ntaken: 2026-01-02T03:04:05Z\nby: asfitted 0.1.0\nredacted: no\n\n[listing]\n{listing}\n{rest}\n[end]\n"
    )
}

/// All servers with what was planted in them.
#[expect(clippy::too_many_lines, reason = "a list of forty servers")]
fn pallet() -> Vec<Planted> {
    let mut all: Vec<Planted> = Vec::new();
    let ship: fn() -> Truth = || ("as-planned", Vec::new());
    let mut add = |number: u32, model: Model, truth: Truth, change: &dyn Fn(&mut Server)| {
        let mut server = Server::new(number, model);
        change(&mut server);
        let (file, content) = (format!("{}.txt", server.name()), server.listing());
        all.push(Planted { file, content, truth });
    };
    let fault = |kind, slots: &[&'static str]| -> Truth { ("deviates", vec![(kind, slots.to_vec())]) };
    let (kestrel, plover) = (Model::Kestrel, Model::Plover);
    // Servers without a fault.
    for number in [1, 3, 8, 13, 18] {
        add(number, kestrel, ship(), &|_| {});
    }
    for number in [21, 23, 28, 36, 37, 38] {
        add(number, plover, ship(), &|_| {});
    }
    add(2, kestrel, fault("missing", &["s2.c2.p2"]), &|s| {
        s.take("s2.c2.p2");
    });
    add(4, kestrel, fault("wrong-slot", &["s1.c1.p3"]), &|s| {
        let module = s.take("s1.c1.p2");
        s.modules.insert("s1.c1.p3".to_owned(), module);
    });
    add(5, kestrel, fault("wrong-module", &["s1.c3.p1"]), &|s| {
        s.change("s1.c3.p1", |m| (m.size, m.part) = ("8 GB", "WW8-2R4-1333L"));
    });
    add(6, kestrel, ("as-planned", vec![("unplanned", vec!["s2.c1.p3"])]), &|s| {
        s.modules.insert("s2.c1.p3".to_owned(), Model::Kestrel.module("WM069999".to_owned()));
    });
    add(7, kestrel, fault("not-running", &["s2.c3.p1"]), &|s| s.idle = Some("s2.c3.p1"));
    add(9, kestrel, fault("clocked-down", &[]), &|s| {
        for module in s.modules.values_mut() {
            module.runs = 1066;
        }
    });
    let second = ["s2.c1.p1", "s2.c1.p2", "s2.c2.p1", "s2.c2.p2", "s2.c3.p1", "s2.c3.p2"];
    add(10, kestrel, fault("no-cpu", &second), &|s| {
        s.absent_sockets.push(2);
        s.modules.retain(|slot, _| slot.starts_with("s1"));
    });
    add(11, kestrel, fault("ecc-off", &[]), &|s| s.correction = "None");
    let channel = ("deviates", vec![("missing", vec!["s1.c2.p1"]), ("missing", vec!["s1.c2.p2"])]);
    add(12, kestrel, channel, &|s| {
        s.modules.retain(|slot, _| !slot.starts_with("s1.c2"));
    });
    add(14, kestrel, ("unproven", vec![("unproven", Vec::new())]), &|s| s.speaks_of_speed = false);
    // Plans of their own, with a board: fitted as planned, against its rules.
    // Too many ranks, and a quad-rank module in a third slot, in each of two channels.
    let ranks = ("deviates", vec![("rank-limit", Vec::new()); 4]);
    add(15, kestrel, ranks, &|s| {
        s.modules.clear();
        for slot in ["s1.c1.p1", "s1.c1.p2", "s1.c1.p3", "s2.c1.p1", "s2.c1.p2", "s2.c1.p3"] {
            let mut module = Model::Kestrel.module(format!("WM15{}", slot.replace(['.', 's', 'c', 'p'], "")));
            (module.ranks, module.part, module.rated, module.runs) = (4, "WW16-4R4-1066L", 1066, 800);
            s.modules.insert(slot.to_owned(), module);
        }
    });
    add(16, kestrel, fault("slot-order", &[]), &|s| {
        let module = s.take("s1.c1.p1");
        s.modules.insert("s1.c1.p3".to_owned(), module);
    });
    add(17, kestrel, fault("mixed-kinds", &[]), &|s| {
        s.change("s1.c1.p1", |m| {
            (m.detail, m.part) = ("Synchronous Unbuffered (Unregistered)", "WW16-2E8-1333U");
        });
    });
    add(19, kestrel, ("as-planned", vec![("uneven", Vec::new())]), &|s| {
        s.modules.retain(|slot, _| !slot.starts_with("s2.c3"));
    });
    // The same slot on three machines of one model, and a lot that runs slow on all that have it.
    for number in [22, 24, 25] {
        add(number, plover, fault("missing", &["s1.c3.p1"]), &|s| {
            s.take("s1.c3.p1");
        });
    }
    for number in [26, 27, 29] {
        add(number, plover, fault("clocked-down", &[]), &|s| {
            for module in s.modules.values_mut() {
                (module.part, module.runs) = ("PL32-2R4-2666B", 2400);
            }
        });
    }
    add(30, plover, ship(), &|_| {});
    add(31, plover, ship(), &|s| s.change("s1.c2.p1", |m| m.serial = "WM300001".to_owned()));
    add(32, plover, ship(), &|s| s.change("s1.c1.p1", |m| m.serial = "WM330000".to_owned()));
    add(33, plover, ship(), &|s| s.change("s1.c1.p1", |m| m.serial = "WM320000".to_owned()));
    add(34, plover, ship(), &|s| s.change("s1.c4.p1", |m| m.serial = "STRANGER1".to_owned()));
    add(35, plover, ship(), &|s| s.speaks_of_serials = false);
    // A product that no plan is for.
    add(39, plover, ("not-audited", Vec::new()), &|s| s.product = "Whimbrel");
    // Captures: too little visible, and errors counted.
    let plain = |number| Server::new(number, Model::Kestrel).listing();
    let mut file = |name: &str, content: String, truth: Truth| {
        all.push(Planted { file: name.to_owned(), content, truth });
    };
    file(
        "bay20.capture",
        capture(&plain(20), "[meminfo]\nMemTotal: 98000000 kB\n"),
        fault("short-total", &[]),
    );
    let counts = "[edac]\nmc/mc0/ce_count:7\nmc/mc0/dimm0/dimm_label:s1.c2.p1\nmc/mc0/dimm0/dimm_ce_count:7\nmc/mc0/dimm0/dimm_ue_count:0\n";
    file(
        "bay40.capture",
        capture(&plain(40), counts),
        ("as-planned", vec![("memory-errors", vec!["s1.c2.p1"])]),
    );
    let managed = "[edac]\nmc/mc0/size_mb:98304\n";
    file("bay41.capture", capture(&plain(41), managed), ("unproven", vec![("contradiction", Vec::new())]));
    // Cut while copying, and nothing at all.
    let whole = plain(42);
    let cut = whole.find("Locator: s2.c3.p1").unwrap();
    let cut = whole[..cut].rfind("Handle").unwrap();
    let hidden = vec![
        ("listing-damaged", Vec::new()),
        ("unproven", vec!["s2.c3.p1"]),
        ("unproven", vec!["s2.c3.p2"]),
        ("unproven", vec!["s2.c3.p3"]),
    ];
    file("bay42.txt", whole[..cut].to_owned(), ("unproven", hidden));
    file("bay43.txt", String::new(), ("not-audited", Vec::new()));
    file("bay44.txt", plain(44), ("not-audited", Vec::new()));
    all.sort_by(|a, b| a.file.cmp(&b.file));
    all
}

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

fn folder() -> PathBuf {
    fixture::path("fixtures/pallet")
}

fn files() -> BTreeMap<String, String> {
    let mut files: BTreeMap<String, String> =
        pallet().into_iter().map(|p| (format!("listings/{}", p.file), p.content)).collect();
    files.extend(plans().into_iter().map(|(name, text)| (format!("plans/{name}"), text)));
    files.insert("boards/kestrel.yaml".to_owned(), board());
    files.insert("stock.csv".to_owned(), stock());
    files
}

#[test]
fn the_files_are_those_that_are_made_here() {
    let write = std::env::var_os("ASFITTED_WRITE_FIXTURES").is_some();
    let mut there = BTreeSet::new();
    for (name, content) in files() {
        let path = folder().join(&name);
        if write {
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(&path, &content).unwrap();
        }
        let now = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(now == content, "{name} is not what is made here");
        there.insert(name);
    }
    for part in ["listings", "plans"] {
        for entry in std::fs::read_dir(folder().join(part)).unwrap() {
            let name = format!("{part}/{}", entry.unwrap().file_name().to_str().unwrap());
            assert!(there.contains(&name), "{name} is not made here");
        }
    }
}

fn fleet(extra: &[&str]) -> Command {
    let mut command = Command::cargo_bin("asfitted").unwrap();
    command.current_dir(folder()).args(["fleet", "listings", "--plans", "plans", "--stock", "stock.csv"]);
    command.args(extra);
    command
}

fn lines(output: &[u8]) -> Vec<Value> {
    let lines = output.split(|byte| *byte == b'\n').filter(|line| !line.is_empty());
    lines.map(|line| serde_json::from_slice(line).unwrap()).collect()
}

/// Each server comes out as planted: verdict, findings, slots, and nothing else.
#[test]
fn every_planted_fault_is_found_and_nothing_else() {
    let output = fleet(&["--format", "json"]).assert().code(2);
    let lines = lines(&output.get_output().stdout);
    let planted = pallet();
    assert_eq!(lines.len(), planted.len() + 1);
    for (line, planted) in lines.iter().zip(&planted) {
        assert_eq!(line["listing"]["name"], format!("listings/{}", planted.file));
        let (verdict, findings) = &planted.truth;
        if *verdict == "not-audited" {
            assert_eq!(line["format"], "asfitted.not-audited", "{}", planted.file);
            assert!(line["reason"].as_str().unwrap().contains("found "), "{line}");
            continue;
        }
        assert_eq!(
            (line["format"].as_str(), line["verdict"].as_str()),
            (Some("asfitted.audit"), Some(*verdict)),
            "{}: {:#}",
            planted.file,
            line["findings"]
        );
        let got = line["findings"].as_array().unwrap();
        assert_eq!(got.len(), findings.len(), "{}: {got:#?}", planted.file);
        for (kind, slots) in findings {
            let fits = |f: &&Value| {
                let own = f["slots"].as_array().unwrap();
                f["kind"] == *kind
                    && (slots.is_empty() || *own == slots.iter().map(|s| Value::from(*s)).collect::<Vec<_>>())
            };
            assert!(got.iter().any(|f| fits(&f)), "{}: no {kind} {slots:?} in {got:#?}", planted.file);
        }
    }
}

/// What became of every stick that was moved, lost, doubled or not in the stock.
#[test]
fn every_stick_is_accounted_for() {
    let output = fleet(&["--format", "json"]).assert().code(2);
    let lines = lines(&output.get_output().stdout);
    let stock = &lines.last().unwrap()["stock"];
    assert_eq!((stock["given"].as_bool(), stock["placeholders"].as_u64()), (Some(true), Some(1)));
    assert_eq!(stock["without_serial"], 4);
    let of = |kind: &str| -> BTreeSet<String> {
        let all = stock["findings"].as_array().unwrap().iter().filter(|f| f["kind"] == kind);
        all.map(|f| f["serial"].as_str().unwrap().to_owned()).collect()
    };
    let set = |serials: &[&str]| serials.iter().map(|s| (*s).to_owned()).collect::<BTreeSet<String>>();
    assert_eq!(of("duplicate-serial"), set(&["WM300001", "SHELF001"]));
    assert_eq!(of("elsewhere"), set(&["WM320000", "WM330000"]));
    // One module added to bay06, one stranger in bay34; in bay05 and bay17 others with the same serial number and
    // another part number.
    assert_eq!(of("not-in-stock"), set(&["WM069999", "STRANGER1", "WM050004", "WM170000"]));
    // Gone: bay02, bay10 (six), bay12 (two), bay19 (two), bay22/24/25 (one each), bay31 and bay34 (replaced).
    let mut gone = set(&["WM020009", "WM120002", "WM120003", "WM190010", "WM190011"]);
    gone.extend((6..12).map(|n| format!("WM10{n:04}")));
    gone.extend(
        ["WM050004", "WM170000", "WM220002", "WM240002", "WM250002", "WM310001", "WM340003"]
            .map(str::to_owned),
    );
    assert_eq!(of("unaccounted"), gone);
    // What may be in a server that states no serial numbers or could not be read, or whose record was lost.
    let mut open: BTreeSet<String> = (0..4).map(|n| format!("WM35{n:04}")).collect();
    open.extend((0..12).map(|n| format!("WM43{n:04}")));
    open.extend(["WM420010", "WM420011", "SHELF001"].map(str::to_owned));
    assert_eq!(of("unproven"), open);
}

/// The summary for a person, line by line.
#[test]
fn the_summary_says_it_line_by_line() {
    let output = fleet(&[]).assert().code(2);
    let got = String::from_utf8(output.get_output().stdout.clone()).unwrap();
    let path = folder().join("summary.txt");
    if std::env::var_os("ASFITTED_WRITE_FIXTURES").is_some() {
        std::fs::write(&path, &got).unwrap();
    }
    let want = std::fs::read_to_string(&path).unwrap();
    for (number, (got, want)) in got.lines().zip(want.lines()).enumerate() {
        assert_eq!(got, want, "line {}", number + 1);
    }
    assert_eq!(got.lines().count(), want.lines().count());
    // The figures are those of what was planted.
    let count = |verdict: &str| pallet().iter().filter(|planted| planted.truth.0 == verdict).count();
    let ship = count("as-planned");
    assert!(got.starts_with(&format!("{ship} OF {} AS PLANNED, BUT 22 MODULES", pallet().len())), "{got}");
    for (key, verdict) in [("hold", "deviates"), ("open", "unproven"), ("unread", "not-audited")] {
        assert!(got.contains(&format!("{key:<10}{} ", count(verdict))), "{key}: {got}");
    }
    assert!(got.contains("missing in s1.c3.p1 on 3 of"), "{got}");
    assert!(got.contains("part PL32-2R4-2666B runs slow on all 3 machines"), "{got}");
}

/// One thread and many give the same bytes in every output.
#[test]
fn the_number_of_threads_changes_nothing() {
    let run = |jobs: &str| -> Vec<Vec<u8>> {
        let out = tempfile::tempdir().unwrap();
        let file = |name: &str| out.path().join(name).to_str().unwrap().to_owned();
        let names = ["lines", "findings.csv", "hosts.csv", "tests.xml", "metrics"];
        let files = names.map(file);
        let output = fleet(&["--jobs", jobs, "--json-lines", &files[0], "--findings-table", &files[1]])
            .args(["--hosts-table", &files[2], "--test-report", &files[3], "--metrics", &files[4]])
            .assert()
            .code(2);
        let mut all = vec![output.get_output().stdout.clone()];
        all.extend(names.map(|name| std::fs::read(out.path().join(name)).unwrap()));
        // Nothing half written stays beside.
        assert_eq!(std::fs::read_dir(out.path()).unwrap().count(), names.len());
        all
    };
    let one = run("1");
    assert!(one.iter().all(|output| !output.is_empty()));
    for jobs in ["2", "7"] {
        assert!(run(jobs) == one, "{jobs} jobs");
    }
}

/// The same pallet as archive and as JSON Lines gives the same outcomes.
#[test]
fn archives_and_lines_give_the_same() {
    let work = tempfile::tempdir().unwrap();
    let planted = pallet();
    let mut builder = tar::Builder::new(Vec::new());
    let mut json = String::new();
    for one in &planted {
        let mut header = tar::Header::new_ustar();
        header.set_size(one.content.len() as u64);
        header.set_mode(0o644);
        builder.append_data(&mut header, format!("listings/{}", one.file), one.content.as_bytes()).unwrap();
        let host = one.file.split('.').next().unwrap();
        let _ = writeln!(json, "{}", serde_json::json!({"host": host, "listing": one.content}));
    }
    let archive = builder.into_inner().unwrap();
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    std::io::Write::write_all(&mut packed, &archive).unwrap();
    std::fs::write(work.path().join("pallet.tar.gz"), packed.finish().unwrap()).unwrap();
    std::fs::write(work.path().join("pallet.tar"), &archive).unwrap();
    let run = |input: &Path, stdin: Option<&str>| -> Vec<Value> {
        let mut command = Command::cargo_bin("asfitted").unwrap();
        command.current_dir(folder()).arg("fleet").arg(input).args([
            "--plans",
            "plans",
            "--stock",
            "stock.csv",
        ]);
        command.args(["--format", "json"]);
        let output = match stdin {
            Some(text) => command.write_stdin(text).assert().code(2),
            None => command.assert().code(2),
        };
        lines(&output.get_output().stdout)
    };
    let plain = lines(&fleet(&["--format", "json"]).assert().code(2).get_output().stdout);
    let facts = |line: &Value| (line["format"].clone(), line["verdict"].clone(), line["findings"].clone());
    for (input, stdin) in [
        (work.path().join("pallet.tar"), None),
        (work.path().join("pallet.tar.gz"), None),
        (PathBuf::from("-"), Some(json.as_str())),
    ] {
        let other = run(&input, stdin);
        assert_eq!(other.len(), plain.len());
        for (a, b) in plain.iter().zip(&other) {
            assert_eq!(facts(a), facts(b), "{}", a["listing"]["name"]);
        }
        let counts = |lines: &[Value]| lines.last().unwrap()["stock"]["findings"].as_array().unwrap().len();
        assert_eq!(counts(&plain), counts(&other));
    }
}

/// Only what changed since an earlier run.
#[test]
fn a_baseline_leaves_what_changed() {
    let work = tempfile::tempdir().unwrap();
    let listings = work.path().join("listings");
    std::fs::create_dir(&listings).unwrap();
    for name in ["bay01.txt", "bay02.txt", "bay03.txt"] {
        std::fs::copy(folder().join("listings").join(name), listings.join(name)).unwrap();
    }
    let run = |extra: &[&str], code| {
        let mut command = Command::cargo_bin("asfitted").unwrap();
        command.current_dir(work.path()).args(["fleet", "listings", "--plans"]).arg(folder().join("plans"));
        command.args(extra).assert().code(code).get_output().stdout.clone()
    };
    run(&["--json-lines", "before.jsonl"], 1);
    let same = String::from_utf8(run(&["--baseline", "before.jsonl"], 1)).unwrap();
    assert!(same.contains("Changed since before.jsonl\n  nothing"), "{same}");
    std::fs::copy(folder().join("listings/bay01.txt"), listings.join("bay02.txt")).unwrap();
    std::fs::remove_file(listings.join("bay03.txt")).unwrap();
    std::fs::copy(folder().join("listings/bay04.txt"), listings.join("bay04.txt")).unwrap();
    let lines = lines(&run(&["--baseline", "before.jsonl", "--format", "json"], 1));
    let names: Vec<&str> = lines.iter().filter_map(|line| line["listing"]["name"].as_str()).collect();
    assert_eq!(names, ["listings/bay02.txt", "listings/bay04.txt"]);
    let changes = &lines.last().unwrap()["changes"];
    assert_eq!(changes["changed"], serde_json::json!(["listings/bay02.txt"]));
    assert_eq!(changes["new"], serde_json::json!(["listings/bay04.txt"]));
    assert_eq!(changes["gone"], serde_json::json!(["listings/bay03.txt"]));
    std::fs::write(work.path().join("odd"), "no JSON\n").unwrap();
    run(&["--baseline", "odd"], 2);
}
