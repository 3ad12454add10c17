//! Part numbers against published values and against real listings.

use std::collections::BTreeMap;
use std::fmt::Write;

use asfitted::identity::{Certainty, Known, ModuleKind, part_number};
use asfitted::population;
use asfitted::records;
use asfitted::units::Bytes;

use crate::util::{corpus, path};

/// Part numbers with what makers' sheets, labels, price lists and tests say of them: `fixtures/parts/check-values.csv`,
/// whose column `source` names the document by the keys of `fixtures/parts/sources.csv`. What a number does not code is
/// left open, never wrong.
#[test]
fn published_values() {
    let mut table = csv::Reader::from_path(path("fixtures/parts/check-values.csv")).unwrap();
    let (mut count, mut read) = (0, 0);
    let mut values: BTreeMap<&str, (u32, u32)> = BTreeMap::new();
    for row in table.records().map(Result::unwrap) {
        let cell = |at: usize| row.get(at).filter(|text| !text.is_empty());
        let number = cell(0).unwrap();
        count += 1;
        let Some(part) = part_number(number) else {
            println!("not read: {number}");
            continue;
        };
        read += 1;
        let module = part.module;
        let mut check = |name: &'static str, at: usize, own: Option<String>| {
            let Some(published) = cell(at) else { return };
            let entry = values.entry(name).or_default();
            entry.0 += 1;
            let Some(own) = own else { return };
            entry.1 += 1;
            assert_eq!(own, published, "{number}: {name}");
        };
        let gib = |size: Bytes| {
            let half = size.0 >> 29;
            if half.is_multiple_of(2) { (half / 2).to_string() } else { format!("{}.5", half / 2) }
        };
        check("generation", 2, module.generation.map(|known| known.value.name().to_owned()));
        check("size", 3, module.size.map(|known| gib(known.value)));
        check("ranks", 4, module.ranks.map(|known| known.value.to_string()));
        check("width", 5, module.width.map(|known| known.value.to_string()));
        check("kind", 6, module.kind.map(|known| known.value.word().to_owned()));
        check("rated", 7, module.rated.map(|known| known.value.0.to_string()));
        let volts = |millivolts: u32| (f64::from(millivolts) / 1000.0).to_string();
        check("voltage", 8, module.voltage.map(|known| volts(known.value.0)));
    }
    println!(
        "{read} of {count} part numbers are read; published values, and how many of them the number codes:"
    );
    for (name, (published, coded)) in &values {
        println!("  {name:<11} {published:>4} {coded:>4}");
    }
    assert!(count >= 189 && read * 100 >= count * 97, "{read} of {count}");
    for (name, least) in [("size", 95), ("kind", 95), ("rated", 95), ("ranks", 90), ("width", 80)] {
        let (published, coded) = values[name];
        assert!(coded * 100 >= published * least, "{name}: {coded} of {published}");
    }
}

fn worded<T: ToString>(known: Option<Known<T>>) -> Option<String> {
    known.map(|known| known.value.to_string())
}

#[derive(Default)]
struct Tally {
    modules: u32,
    read: u32,
    /// Equal and different, for each of size, ranks, kind and rated speed.
    agree: [(u32, u32); 4],
}

/// What the numbers of real modules say, against what their listings state. A size that differs would be a remarked or
/// wrongly programmed module, or a wrong row; there is none.
#[test]
fn real_modules() {
    let mut tallies: BTreeMap<(&'static str, &'static str), Tally> = BTreeMap::new();
    let mut unread = 0;
    let mut odd: BTreeMap<String, u32> = BTreeMap::new();
    let mut sure = [0; 4];
    for text in corpus::listings() {
        let listings = records::read(text);
        let population = population::rebuild(&listings[0]);
        for (_, module) in population.fitted() {
            let Some(printed) = module.part.as_deref() else { continue };
            let Some(part) = part_number(printed) else {
                unread += 1;
                continue;
            };
            let coded = part.module;
            let generation = coded.generation.map_or("none", |known| known.value.name());
            let tally = tallies.entry((part.maker, generation)).or_default();
            tally.modules += 1;
            tally.read += 1;
            let mut compare = |at: usize, own: Option<String>, stated: Option<String>, equal: bool| {
                let (Some(own), Some(stated)) = (own, stated) else { return };
                let entry = &mut tally.agree[at];
                if equal {
                    entry.0 += 1;
                } else {
                    entry.1 += 1;
                    *odd.entry(format!("{printed}: states {stated}, codes {own}")).or_default() += 1;
                }
            };
            // A persistent module states less than its nominal size.
            if !coded.persistent {
                let equal = coded.size.map(|known| known.value) == module.bytes();
                compare(0, worded(coded.size), module.bytes().map(|size| size.to_string()), equal);
            }
            let equal = coded.ranks.map(|known| known.value) == module.ranks;
            compare(1, worded(coded.ranks), module.ranks.map(|ranks| ranks.to_string()), equal);
            let kind = coded.kind.map(|known| known.value);
            let registered = |kind| matches!(kind, Some(ModuleKind::Rdimm | ModuleKind::Lrdimm));
            let equal = kind == module.kind || registered(kind) && registered(module.kind);
            compare(2, worded(coded.kind), module.kind.map(|kind| kind.to_string()), equal);
            let equal = coded.rated.zip(module.rated).is_some_and(|(own, rated)| rated.same_grade(own.value));
            compare(3, worded(coded.rated), module.rated.map(|rate| rate.to_string()), equal);
            let known = [
                coded.size.map(|known| known.certainty),
                coded.ranks.map(|known| known.certainty),
                coded.kind.map(|known| known.certainty),
                coded.width.map(|known| known.certainty),
            ];
            for (sum, certainty) in sure.iter_mut().zip(known) {
                *sum += u32::from(certainty.is_some_and(Certainty::binds));
            }
        }
    }
    let mut table = String::from("maker, generation: modules; equal / different: size, ranks, kind, rated\n");
    let mut total = Tally::default();
    for ((maker, generation), tally) in &tallies {
        let _ = write!(table, "{maker:<12} {generation:<6} {:>5}", tally.read);
        for (at, (equal, different)) in tally.agree.iter().enumerate() {
            let _ = write!(table, "  {equal:>5} / {different:<4}");
            total.agree[at].0 += equal;
            total.agree[at].1 += different;
        }
        table.push('\n');
        total.read += tally.read;
    }
    println!(
        "{table}{} read, not read: {unread}; sure enough to decide: size, ranks, kind, width: {sure:?}",
        total.read
    );
    for (odd, count) in odd.iter().filter(|(odd, _)| !odd.contains("MT/s")) {
        println!("{count:>4} x {odd}");
    }
    assert_eq!(total.agree[0].1, 0, "a size differs");
    assert!(total.read >= 4249 && total.agree[0].0 >= 4000, "{} read, {:?}", total.read, total.agree);
}
