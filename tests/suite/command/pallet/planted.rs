//! The servers of the pallet, with what is planted in each.

use super::server::Model::{self, Kestrel, Plover};
use super::server::Server;

/// What is planted: the verdict and the findings, each with its slots.
pub type Truth = (&'static str, Vec<(&'static str, Vec<&'static str>)>);

/// A file of the pallet, and what the audit must say of it.
pub struct Planted {
    pub file: String,
    pub content: String,
    pub truth: Truth,
}

fn capture(listing: &str, rest: &str) -> String {
    format!(
        "asfitted capture 1\ntaken: 2026-01-02T03:04:05Z\nby: asfitted 0.1.0\nredacted: no\n\n[listing]\n{listing}\n{rest}\n[end]\n"
    )
}

/// The verdict on a server with one finding that is a fault.
fn fault(kind: &'static str, slots: &[&'static str]) -> Truth {
    ("deviates", vec![(kind, slots.to_vec())])
}

/// The verdict on a server without a fault.
fn ship() -> Truth {
    ("as-planned", Vec::new())
}

/// All servers with what was planted in them, by their names.
pub fn planted() -> Vec<Planted> {
    let mut all = List(Vec::new());
    all.kestrels();
    all.kestrels_with_boards();
    all.plovers();
    all.odd_files();
    all.0.sort_by(|a, b| a.file.cmp(&b.file));
    all.0
}

struct List(Vec<Planted>);

impl List {
    fn add(&mut self, number: u32, model: Model, truth: Truth, change: impl FnOnce(&mut Server)) {
        let mut server = Server::new(number, model);
        change(&mut server);
        self.file(&format!("{}.txt", server.name()), server.listing(), truth);
    }

    fn file(&mut self, name: &str, content: String, truth: Truth) {
        self.0.push(Planted { file: name.to_owned(), content, truth });
    }

    fn kestrels(&mut self) {
        // Servers without a fault.
        for number in [1, 3, 8, 13, 18] {
            self.add(number, Kestrel, ship(), |_| {});
        }
        self.add(2, Kestrel, fault("missing", &["s2.c2.p2"]), |s| {
            s.take("s2.c2.p2");
        });
        self.add(4, Kestrel, fault("wrong-slot", &["s1.c1.p3"]), |s| {
            let module = s.take("s1.c1.p2");
            s.modules.insert("s1.c1.p3".to_owned(), module);
        });
        self.add(5, Kestrel, fault("wrong-module", &["s1.c3.p1"]), |s| {
            s.change("s1.c3.p1", |m| (m.size, m.part) = ("8 GB", "WW8-2R4-1333L"));
        });
        self.add(6, Kestrel, ("deviates", vec![("unplanned", vec!["s2.c1.p3"])]), |s| {
            s.modules.insert("s2.c1.p3".to_owned(), Kestrel.module("WM069999".to_owned()));
        });
        self.add(7, Kestrel, fault("not-running", &["s2.c3.p1"]), |s| s.idle = Some("s2.c3.p1"));
        self.add(9, Kestrel, fault("clocked-down", &[]), |s| {
            for module in s.modules.values_mut() {
                module.runs = 1066;
            }
        });
        let second = ["s2.c1.p1", "s2.c1.p2", "s2.c2.p1", "s2.c2.p2", "s2.c3.p1", "s2.c3.p2"];
        self.add(10, Kestrel, fault("no-cpu", &second), |s| {
            s.absent_sockets.push(2);
            s.modules.retain(|slot, _| slot.starts_with("s1"));
        });
        self.add(11, Kestrel, fault("ecc-off", &[]), |s| s.correction = "None");
        let channel = ("deviates", vec![("missing", vec!["s1.c2.p1", "s1.c2.p2"])]);
        self.add(12, Kestrel, channel, |s| {
            s.modules.retain(|slot, _| !slot.starts_with("s1.c2"));
        });
        self.add(14, Kestrel, ("unproven", vec![("unproven", Vec::new())]), |s| s.speaks_of_speed = false);
    }

    /// Plans of their own, with a board: fitted as planned, against its rules.
    fn kestrels_with_boards(&mut self) {
        // Too many ranks, and a quad-rank module in a third slot, in each of two channels.
        let ranks = ("deviates", vec![("rank-limit", Vec::new()); 4]);
        self.add(15, Kestrel, ranks, |s| {
            s.modules.clear();
            for slot in ["s1.c1.p1", "s1.c1.p2", "s1.c1.p3", "s2.c1.p1", "s2.c1.p2", "s2.c1.p3"] {
                let mut module = Kestrel.module(format!("WM15{}", slot.replace(['.', 's', 'c', 'p'], "")));
                (module.ranks, module.part, module.rated, module.runs) = (4, "WW16-4R4-1066L", 1066, 800);
                s.modules.insert(slot.to_owned(), module);
            }
        });
        self.add(16, Kestrel, fault("slot-order", &[]), |s| {
            let module = s.take("s1.c1.p1");
            s.modules.insert("s1.c1.p3".to_owned(), module);
        });
        self.add(17, Kestrel, fault("mixed-kinds", &[]), |s| {
            s.change("s1.c1.p1", |m| {
                (m.detail, m.part) = ("Synchronous Unbuffered (Unregistered)", "WW16-2E8-1333U");
            });
        });
        self.add(19, Kestrel, ("as-planned", vec![("uneven", Vec::new())]), |s| {
            s.modules.retain(|slot, _| !slot.starts_with("s2.c3"));
        });
    }

    fn plovers(&mut self) {
        for number in [21, 23, 28, 36, 37, 38] {
            self.add(number, Plover, ship(), |_| {});
        }
        // The same slot on three machines of one model, and a lot that runs slow on all that have it.
        for number in [22, 24, 25] {
            self.add(number, Plover, fault("missing", &["s1.c3.p1"]), |s| {
                s.take("s1.c3.p1");
            });
        }
        for number in [26, 27, 29] {
            self.add(number, Plover, fault("clocked-down", &[]), |s| {
                for module in s.modules.values_mut() {
                    (module.part, module.runs) = ("PL32-2R4-2666B", 2400);
                }
            });
        }
        self.add(30, Plover, ship(), |_| {});
        self.add(31, Plover, ship(), |s| s.change("s1.c2.p1", |m| m.serial = "WM300001".to_owned()));
        self.add(32, Plover, ship(), |s| s.change("s1.c1.p1", |m| m.serial = "WM330000".to_owned()));
        self.add(33, Plover, ship(), |s| s.change("s1.c1.p1", |m| m.serial = "WM320000".to_owned()));
        self.add(34, Plover, ship(), |s| s.change("s1.c4.p1", |m| m.serial = "STRANGER1".to_owned()));
        self.add(35, Plover, ship(), |s| s.speaks_of_serials = false);
        // A product that no plan is for.
        self.add(39, Plover, ("not-audited", Vec::new()), |s| s.product = "Whimbrel");
    }

    fn odd_files(&mut self) {
        // Captures: too little visible, and errors counted.
        let plain = |number| Server::new(number, Kestrel).listing();
        self.file(
            "bay20.capture",
            capture(&plain(20), "[meminfo]\nMemTotal: 98000000 kB\n"),
            fault("short-total", &[]),
        );
        let counts = "[edac]\nmc/mc0/ce_count:7\nmc/mc0/dimm0/dimm_label:s1.c2.p1\nmc/mc0/dimm0/dimm_ce_count:7\nmc/mc0/dimm0/dimm_ue_count:0\n";
        self.file(
            "bay40.capture",
            capture(&plain(40), counts),
            ("as-planned", vec![("memory-errors", vec!["s1.c2.p1"])]),
        );
        let managed = "[edac]\nmc/mc0/size_mb:98304\n";
        self.file(
            "bay41.capture",
            capture(&plain(41), managed),
            ("unproven", vec![("contradiction", Vec::new())]),
        );
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
        self.file("bay42.txt", whole[..cut].to_owned(), ("unproven", hidden));
        self.file("bay43.txt", String::new(), ("not-audited", Vec::new()));
        self.file("bay44.txt", plain(44), ("not-audited", Vec::new()));
    }
}
