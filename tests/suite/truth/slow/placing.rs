//! `plan place` against exhaustive search, and its speed on a large board.

use std::sync::OnceLock;
use std::time::Instant;

use asfitted::board::{self, Board, Fitting, Load};
use asfitted::evidence::Text;
use asfitted::place::{Merit, Placed, merit, place, place_near};
use asfitted::plan::{self, ModuleSpec, Plan};
use asfitted::{population, records};
use proptest::prelude::*;

/// Stickers of the modules that are placed: kinds, ranks, sizes and speeds that the rules tell apart.
const STICKERS: &[&str] = &[
    "8GB 2Rx4 PC3-10600R",
    "16GB 2Rx4 PC3-10600R",
    "4GB 1Rx4 PC3-10600R",
    "32GB 4Rx4 PC3-8500R",
    "16GB 4Rx4 PC3-10600R",
    "8GB 1Rx4 PC3-12800R",
    "2GB 2Rx8 PC3-10600U",
];

fn order(board: &str, modules: &[usize]) -> Plan {
    let mut yaml = format!("board: {board}\nprocessors: [X5650, X5650]\norder:\n");
    for module in modules {
        yaml += &format!("  - 1 x {}\n", STICKERS[*module]);
    }
    plan::read("order", &yaml).unwrap()
}

/// The best merit of all ways to put each module into some channel. All channels of these boards are alike, so
/// of the empty channels of a socket only the first is tried.
fn exhaustive(board: &Board, loads: &[Load]) -> Option<Merit> {
    let mut contents: Vec<Vec<Load>> = vec![Vec::new(); board.channels().count()];
    let mut best = None;
    try_all(board, loads, &mut contents, &mut best);
    best
}

fn try_all(board: &Board, loads: &[Load], contents: &mut Vec<Vec<Load>>, best: &mut Option<Merit>) {
    let Some((load, rest)) = loads.split_first() else {
        let mut fitting = Fitting::new(board, |_| None);
        for (channel, content) in fitting.channels.iter_mut().zip(contents.iter()) {
            let mut content = content.clone();
            content.sort_by_key(|load| std::cmp::Reverse((load.ranks, load.size)));
            for ((_, slot), load) in channel.slots.iter_mut().zip(content) {
                *slot = Some(load);
            }
        }
        if let Some(merit) = merit(board, &fitting, &["X5650", "X5650"]) {
            *best = Some(best.map_or(merit, |old| old.min(merit)));
        }
        return;
    };
    let channels: Vec<(u16, usize)> =
        board.channels().map(|(socket, channel)| (socket.number, channel.slots.len())).collect();
    let mut seen_empty = Vec::new();
    for (at, (socket, slots)) in channels.into_iter().enumerate() {
        if contents[at].is_empty() {
            if seen_empty.contains(&socket) {
                continue;
            }
            seen_empty.push(socket);
        }
        if contents[at].len() < slots {
            contents[at].push(*load);
            try_all(board, rest, contents, best);
            contents[at].pop();
        }
    }
}

fn compare(class: &str, modules: &[usize]) {
    let board = board::class(class).unwrap();
    let plan = order(class, modules);
    let loads: Vec<Load> =
        plan.order.iter().flat_map(|(count, wanted)| vec![Load::from(wanted); *count as usize]).collect();
    let want = exhaustive(&board, &loads);
    match place(&plan, &board).unwrap() {
        Placed::All(placement) => {
            let fitting = Fitting::of_plan(&board, &placement.plan);
            assert_eq!(fitting.count(), loads.len());
            assert_eq!(
                merit(&board, &fitting, &["X5650", "X5650"]),
                want,
                "{class} {modules:?}\n{:#?}",
                placement.reasons
            );
            assert!(want.is_some());
        }
        Placed::Refused(refusal) => {
            assert_eq!(want, None, "{class} {modules:?}: {:?}", refusal.rules);
            assert!(!refusal.rules.is_empty());
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::default())]

    /// Up to six modules on all boards up to 2 x 3 x 3.
    #[test]
    fn as_good_as_exhaustive_search(
        class in prop::sample::select(vec!["ddr3-2x3x3", "ddr3-2x3x2", "ddr3-1x3x3", "ddr3-1x3x2"]),
        modules in proptest::collection::vec(0usize..STICKERS.len(), 1..=6),
    ) {
        compare(class, &modules);
    }
}

/// Six different modules on the largest of these boards, and orders that only just fit.
#[test]
fn six_distinct_modules() {
    compare("ddr3-2x3x3", &[0, 1, 2, 3, 4, 5]);
    compare("ddr3-2x3x2", &[3, 3, 1, 1, 0, 2]);
    compare("ddr3-1x3x3", &[3, 3, 3, 3, 3, 3]);
    compare("ddr3-1x3x2", &[6, 6, 6, 6, 6, 0]);
}

/// Common practice, no source: 12 quad-rank modules of 32 GB go into the first two slots of six channels; a
/// 13th does not fit, and the part that fits is the 12.
#[test]
fn twelve_quad_rank_modules_fit_and_a_thirteenth_does_not() {
    let board = board::class("ddr3-2x3x3").unwrap();
    let plan = plan::read("p", "order: [12 x 32GB 4Rx4 PC3L-10600R]\n").unwrap();
    let Placed::All(placement) = place(&plan, &board).unwrap() else { panic!() };
    let third = placement.plan.slots.iter().filter(|slot| slot.slot.ends_with('3'));
    assert!(third.into_iter().all(|slot| slot.demand == plan::Demand::Empty));
    let plan = plan::read("p", "order: [13 x 32GB 4Rx4 PC3L-10600R]\n").unwrap();
    let Placed::Refused(refusal) = place(&plan, &board).unwrap() else { panic!() };
    assert!(
        refusal.rules[0].contains("8 ranks") || refusal.rules[0].contains("several rules"),
        "{:?}",
        refusal.rules
    );
    assert_eq!(Fitting::of_plan(&board, &refusal.largest.unwrap().plan).count(), 12);
    let plan = plan::read("p", "order: [1 x 8GB 2Rx4 PC3-10600R, 1 x 2GB 2Rx8 PC3-10600U]\n").unwrap();
    let Placed::Refused(refusal) = place(&plan, &board).unwrap() else { panic!() };
    assert!(refusal.rules[0].contains("must not be in one machine"), "{:?}", refusal.rules);
}

/// A board of 4 sockets with 6 channels of 3 slots takes 72 modules of 4 kinds. The time is printed, and only
/// bounded loosely here; numbers belong in the benchmark.
#[test]
fn a_full_large_board_is_placed() {
    let text = "board: large\nlayout: {sockets: 4, channels: 6, slots: 3}\nrules:\n  ranks_per_channel: {ranks: 8}\n  most_ranks_first: {}\n";
    let board = board::read("large", text).unwrap();
    let plan = plan::read(
        "p",
        "order:\n  - 18 x 8GB 1Rx4 PC4-2400T-R\n  - 18 x 16GB 2Rx4 PC4-2400T-R\n  - 18 x 32GB 2Rx4 PC4-2666V-R\n  - 18 x 64GB 4Rx4 PC4-2666V-R\n",
    )
    .unwrap();
    let start = Instant::now();
    let Placed::All(placement) = place(&plan, &board).unwrap() else { panic!() };
    println!("72 modules placed in {:?}", start.elapsed());
    assert_eq!(Fitting::of_plan(&board, &placement.plan).count(), 72);
    assert!(merit(&board, &Fitting::of_plan(&board, &placement.plan), &[]).is_some());
}

/// Among equals the first sockets, channels and slots come first.
#[test]
fn the_first_places_are_taken_first() {
    for (order, want) in [
        ("3 x 16GB 2Rx4 PC3-10600R", "1a1 1b1 2a1"),
        ("5 x 16GB 2Rx4 PC3-10600R", "1a1 1b1 1c1 2a1 2b1"),
        ("1 x 16GB 2Rx4 PC3-10600R", "1a1"),
        ("7 x 16GB 2Rx4 PC3-10600R", "1a1 1a2 1b1 1c1 2a1 2b1 2c1"),
    ] {
        let board = board::class("ddr3-2x3x3").unwrap();
        let plan = plan::read("p", &format!("order: [{order}]\n")).unwrap();
        let Placed::All(placement) = place(&plan, &board).unwrap() else { panic!() };
        let taken: Vec<&str> = placement.plan.modules().map(|(planned, _)| planned.slot.as_str()).collect();
        assert_eq!(taken.join(" "), want, "{order}");
    }
}

/// Many kinds of many modules on a small board: the reason is the number, and the part that fits is found.
#[test]
fn too_many_modules_are_refused_for_their_number() {
    let board = board::class("ddr4-2x6x2").unwrap();
    let stickers = ["8GB 1Rx8", "16GB 1Rx4", "16GB 2Rx8", "32GB 2Rx4", "4GB 1Rx8", "64GB 2Rx4"];
    let order: String = stickers.iter().map(|sticker| format!("  - 11 x {sticker} PC4-2400T-R\n")).collect();
    let plan = plan::read("p", &format!("order:\n{order}")).unwrap();
    let Placed::Refused(refusal) = place(&plan, &board).unwrap() else { panic!() };
    assert_eq!(refusal.rules, ["66 modules for 24 slots"]);
    let largest = refusal.largest.map(|placement| Fitting::of_plan(&board, &placement.plan).count());
    assert!(largest == Some(24) || refusal.too_large, "{largest:?}");
}

/// What a sticker says.
fn parsed(sticker: usize) -> &'static ModuleSpec {
    static PARSED: OnceLock<Vec<ModuleSpec>> = OnceLock::new();
    &PARSED.get_or_init(|| STICKERS.iter().map(|text| plan::parse_sticker(text).unwrap()).collect())[sticker]
}

/// A listing in which `fitted` is in the slots of a board: indices into the stickers.
fn listing(board: &Board, fitted: &[Option<usize>]) -> String {
    let mut text = "# dmidecode 3.6\nGetting SMBIOS data from sysfs.\nSMBIOS 3.0 present.\n\n".to_owned();
    for (at, (slot, module)) in board.slots().zip(fitted).enumerate() {
        text +=
            &format!("Handle 0x{:04X}, DMI type 17, 84 bytes\nMemory Device\n\tLocator: {slot}\n", at + 16);
        match module {
            None => text += "\tSize: No Module Installed\n\n",
            Some(module) => {
                let wanted = parsed(*module);
                let size = wanted.size.unwrap().0 >> 30;
                text += &format!("\tSize: {size} GB\n\tRank: {}\n\tType: DDR3\n\n", wanted.ranks.unwrap());
            }
        }
    }
    text + "Handle 0xFEFF, DMI type 127, 4 bytes\nEnd Of Table\n"
}

/// Whether a module could be of another sticker, by what `listing` states.
fn alike(a: usize, b: usize) -> bool {
    let (a, b) = (parsed(a), parsed(b));
    (a.size, a.ranks) == (b.size, b.ranks)
}

/// The best merit, then the fewest slots that hold something else, over every way to fill the channels of a
/// board from their first slots on, with no more ranks behind fewer.
struct Nearest<'n> {
    board: &'n Board,
    fitted: &'n [Option<usize>],
    contents: Vec<Vec<usize>>,
    best: Option<(Merit, usize)>,
}

impl Nearest<'_> {
    fn step(&mut self, left: &mut Vec<usize>, channel: usize) {
        let slots: Vec<usize> = self.board.channels().map(|(_, channel)| channel.slots.len()).collect();
        let Some(room) = slots.get(channel).copied() else {
            if left.is_empty() {
                self.weigh(&slots);
            }
            return;
        };
        self.step(left, channel + 1);
        if self.contents[channel].len() == room {
            return;
        }
        let mut tried = Vec::new();
        for at in 0..left.len() {
            let module = left[at];
            let ranks = |module: usize| parsed(module).ranks;
            let climbs = self.contents[channel].last().is_some_and(|last| ranks(*last) < ranks(module));
            if climbs || tried.contains(&module) {
                continue;
            }
            tried.push(module);
            left.remove(at);
            self.contents[channel].push(module);
            self.step(left, channel);
            self.contents[channel].pop();
            left.insert(at, module);
        }
    }

    fn weigh(&mut self, slots: &[usize]) {
        let planned: Vec<Option<usize>> = self
            .contents
            .iter()
            .zip(slots)
            .flat_map(|(content, slots)| (0..*slots).map(|at| content.get(at).copied()))
            .collect();
        let load = |module: usize| Load::from(parsed(module));
        let mut loads = planned.iter().map(|module| module.map(load));
        let mut fitting = Fitting::new(self.board, |_| None);
        for (_, slot) in fitting.channels.iter_mut().flat_map(|channel| channel.slots.iter_mut()) {
            *slot = loads.next().flatten();
        }
        let Some(merit) = merit(self.board, &fitting, &["X5650", "X5650"]) else { return };
        let away = distance(&planned, self.fitted);
        self.best = Some(self.best.map_or((merit, away), |best| best.min((merit, away))));
    }
}

fn distance(planned: &[Option<usize>], fitted: &[Option<usize>]) -> usize {
    let same = |(a, b): (&Option<usize>, &Option<usize>)| match (a, b) {
        (Some(a), Some(b)) => alike(*a, *b),
        (None, None) => true,
        _ => false,
    };
    planned.iter().zip(fitted).filter(|pair| !same(*pair)).count()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Near what is fitted, the merit is as good as anywhere, and no placement as good is nearer.
    #[test]
    fn the_nearest_of_the_best(
        class in prop::sample::select(vec!["ddr3-2x3x2", "ddr3-1x3x3", "ddr3-1x3x2"]),
        modules in proptest::collection::vec(0usize..STICKERS.len() - 1, 1..=4),
        fitted in proptest::collection::vec(proptest::option::of(0usize..5), 12),
        same in any::<bool>(),
    ) {
        let board = board::class(class).unwrap();
        let slots = board.slots().count();
        // Half of the time what is fitted are the ordered modules, somewhere.
        let fitted: Vec<Option<usize>> = fitted
            .into_iter()
            .take(slots)
            .map(|module| if same { module.and_then(|at| modules.get(at).copied()) } else { module })
            .collect();
        let text = Text::from_bytes("near", listing(&board, &fitted).into_bytes()).unwrap();
        let listings = records::read(&text);
        let population = population::rebuild(&listings[0]);
        let plan = order(class, &modules);
        let mut left = modules.clone();
        left.sort_unstable();
        let mut nearest =
            Nearest { board: &board, fitted: &fitted, contents: vec![Vec::new(); board.channels().count()], best: None };
        nearest.step(&mut left, 0);
        match place_near(&plan, &board, &population).unwrap() {
            Placed::Refused(_) => prop_assert_eq!(nearest.best, None),
            Placed::All(placement) => {
                let fitting = Fitting::of_plan(&board, &placement.plan);
                let merit = merit(&board, &fitting, &["X5650", "X5650"]).unwrap();
                let planned: Vec<Option<usize>> = placement.plan.slots.iter().map(|slot| match &slot.demand {
                    plan::Demand::Module(wanted) => {
                        STICKERS.iter().position(|sticker| wanted.sticker.as_deref() == Some(*sticker))
                    }
                    _ => None,
                }).collect();
                prop_assert_eq!(Some((merit, distance(&planned, &fitted))), nearest.best, "{:?}", planned);
            }
        }
    }
}
