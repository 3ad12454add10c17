//! Boards against published tables: legality, speed, the limit that binds, totals.
//!
//! Sources are abbreviated as in `src/board/library/`; V9m is the mirroring page of the guide V9.

use asfitted::audit::Verdict;
use asfitted::board::{self, Board, ExpectedSpeed, LimitKind};
use asfitted::check::{PlanCheck, check_plan};
use asfitted::place::{Placed, place};
use asfitted::plan::{self, Plan};
use asfitted::units::{Bytes, TransferRate};
use asfitted::{audit, population, records};

use crate::util::corpus as fixture;

/// One configuration: the same modules in every channel of every socket that has a processor.
struct Case {
    class: &'static str,
    processor: &'static str,
    /// Modules of one channel in the order of filling, by their labels.
    channel: &'static [&'static str],
    expect: Expect,
    source: &'static str,
}

enum Expect {
    /// Legal, runs at this speed at most, by this limit.
    Runs(u32, LimitKind),
    /// Legal, sources give two speeds.
    Between(u32, u32),
    /// Legal, at most this speed.
    AtMost(u32),
    /// Against the rules.
    Refused,
    /// Legal; nothing is said of its speed.
    Legal,
}

use Expect::{AtMost, Between, Legal, Refused, Runs};
use LimitKind::{Population, Processor, Rating};

const fn case(
    class: &'static str,
    processor: &'static str,
    channel: &'static [&'static str],
    expect: Expect,
    source: &'static str,
) -> Case {
    Case { class, processor, channel, expect, source }
}

const R8_1333: &str = "8GB 2Rx4 PC3-10600R";
const R16_1333: &str = "16GB 2Rx4 PC3-10600R";
const R4_1333: &str = "4GB 1Rx4 PC3-10600R";
const R16_1600: &str = "16GB 2Rx4 PC3-12800R";
const R16_1600L: &str = "16GB 2Rx4 PC3L-12800R";
const R16_1866: &str = "16GB 2Rx4 PC3-14900R";
const Q32_1333: &str = "32GB 4Rx4 PC3-10600R";
const Q16_1066: &str = "16GB 4Rx4 PC3-8500R";
const R4_1066: &str = "4GB 2Rx4 PC3-8500R";
const R4_800: &str = "4GB 2Rx4 PC3-6400R";
const U2_1333: &str = "2GB 2Rx8 PC3-10600U";
const E4_1333: &str = "4GB 2Rx8 PC3-10600E";
const L32_1866: &str = "32GB 4Rx4 PC3-14900L";
const L64_1066: &str = "64GB 8Rx4 PC3-8500L";
const D16_2133: &str = "16GB 2Rx4 PC4-2133P-R";
const D32_2133L: &str = "32GB 4Rx4 PC4-2133P-L";
const D16_2400: &str = "16GB 2Rx4 PC4-2400T-R";
const D32_2400L: &str = "32GB 4Rx4 PC4-2400T-L";
const D32_2666: &str = "32GB 2Rx4 PC4-2666V-R";
const D32_2933: &str = "32GB 2Rx4 PC4-2933Y-R";
const D32_3200: &str = "32GB 2Rx4 PC4-3200AA-R";
const F32_4800: &str = "32GB 2Rx8 PC5-4800B-R";
const F64_6400: &str = "64GB 2Rx4 PC5-6400B-R";

const X5650: &str = "Intel(R) Xeon(R) CPU           X5650  @ 2.67GHz";
const X5570: &str = "Intel(R) Xeon(R) CPU           X5570  @ 2.93GHz";
const E5520: &str = "Intel(R) Xeon(R) CPU           E5520  @ 2.27GHz";
const E5504: &str = "Intel(R) Xeon(R) CPU           E5504  @ 2.00GHz";
const E5620: &str = "Intel(R) Xeon(R) CPU           E5620  @ 2.40GHz";
const L5640: &str = "Intel(R) Xeon(R) CPU           L5640  @ 2.27GHz";
const E5645: &str = "Intel(R) Xeon(R) CPU           E5645  @ 2.40GHz";
const V1_2620: &str = "Intel(R) Xeon(R) CPU E5-2620 0 @ 2.00GHz";
const V2_2603: &str = "Intel(R) Xeon(R) CPU E5-2603 v2 @ 1.80GHz";
const V2_2620: &str = "Intel(R) Xeon(R) CPU E5-2620 v2 @ 2.10GHz";
const V2_2637: &str = "Intel(R) Xeon(R) CPU E5-2637 v2 @ 3.50GHz";
const V3_2680: &str = "Intel(R) Xeon(R) CPU E5-2680 v3 @ 2.50GHz";
const V4_2680: &str = "Intel(R) Xeon(R) CPU E5-2680 v4 @ 2.40GHz";
const P8380: &str = "Intel(R) Xeon(R) Platinum 8380 CPU @ 2.30GHz";
const P8480: &str = "Intel(R) Xeon(R) Platinum 8480+";
const G6140: &str = "Intel(R) Xeon(R) Gold 6140 CPU @ 2.30GHz";
const G6240: &str = "Intel(R) Xeon(R) Gold 6240 CPU @ 2.60GHz";
const ROME: &str = "AMD EPYC 7742 64-Core Processor";
const GENOA: &str = "AMD EPYC 9654 96-Core Processor";
const X6: &str = "Intel(R) Xeon(R) 6740E";

#[rustfmt::skip]
const CASES: &[Case] = &[
    // Three DDR3 channels, second processor family.
    case("ddr3-2x3x3", X5650, &[R8_1333], Runs(1333, Rating), "V1: one RDIMM 1333"),
    case("ddr3-2x3x3", X5650, &[R4_1333], Runs(1333, Rating), "V1: one single-rank RDIMM 1333"),
    case("ddr3-2x3x3", X5650, &[R8_1333, R8_1333], Between(1066, 1333), "V1, V2: 1333; V3: 1066"),
    case("ddr3-2x3x3", X5650, &[R8_1333, R8_1333, R8_1333], Runs(800, Population), "V1: three RDIMM 800"),
    case("ddr3-2x3x3", X5650, &[Q32_1333], Runs(1066, Population), "V1: one quad-rank RDIMM 1066"),
    case("ddr3-2x3x3", X5650, &[Q32_1333, Q32_1333], Runs(800, Population), "V1: two quad-rank RDIMM 800; H3: 8 ranks legal"),
    case("ddr3-2x3x3", X5650, &[Q32_1333, Q32_1333, Q32_1333], Refused, "H3: at most 8 ranks, two quad-rank modules"),
    case("ddr3-2x3x3", X5650, &[Q16_1066, R8_1333, R8_1333], Refused, "S1: 4 + 2 + 2 is not allowed though 8 ranks"),
    case("ddr3-2x3x3", X5650, &[U2_1333], Runs(1333, Rating), "V1: one UDIMM 1333"),
    case("ddr3-2x3x3", X5650, &[U2_1333, U2_1333], Between(1066, 1333), "V1: two UDIMM 1066; V2: 1333"),
    case("ddr3-2x3x3", X5650, &[E4_1333, E4_1333], Between(1066, 1333), "V1, V2, for ECC UDIMM alike"),
    case("ddr3-2x3x3", X5650, &[U2_1333, U2_1333, U2_1333], Refused, "V1: at most two UDIMM in a channel"),
    case("ddr3-2x3x3", X5650, &[E4_1333, E4_1333, E4_1333], Refused, "V1: at most two UDIMM in a channel"),
    case("ddr3-2x3x3", X5650, &[R16_1600], Runs(1333, Processor), "V2: X56xx allow 1333, so 1600 brings nothing"),
    case("ddr3-2x3x3", X5650, &[R4_1066], Runs(1066, Rating), "F1: the slowest module sets the speed"),
    case("ddr3-2x3x3", X5650, &[R4_800], Runs(800, Rating), "F1: the slowest module sets the speed"),
    case("ddr3-2x3x3", X5650, &[R8_1333, R4_1066], Runs(1066, Rating), "I6: different speeds run at the lowest"),
    case("ddr3-2x3x3", L5640, &[R8_1333], Runs(1333, Rating), "V2: L5640 allows 1333"),
    case("ddr3-2x3x3", E5620, &[R8_1333], Runs(1066, Processor), "V2: E562x allow 1066"),
    case("ddr3-2x3x3", E5645, &[R8_1333], Between(1066, 1333), "V2: other E56xx 1066; V3b: E5645 and above 1333"),
    case("ddr3-2x3x3", X5650, &[R8_1333, U2_1333], Refused, "H2: RDIMM and UDIMM must not be mixed"),
    case("ddr3-1x3x3", X5650, &[R8_1333], Runs(1333, Rating), "V1, one socket"),
    case("ddr3-2x3x2", X5650, &[R8_1333, R8_1333], Between(1066, 1333), "V1 and V3 on two slots"),
    // Three DDR3 channels, first processor family.
    case("ddr3-2x3x3", X5570, &[R8_1333], Runs(1333, Rating), "H1: one RDIMM 1333"),
    case("ddr3-2x3x3", X5570, &[R8_1333, R8_1333], Runs(1066, Population), "H1: two RDIMM 1066"),
    case("ddr3-2x3x3", X5570, &[R4_1333, R4_1333, R4_1333], Runs(800, Population), "H1: three RDIMM 800"),
    case("ddr3-2x3x3", X5570, &[Q32_1333], Runs(1066, Population), "H1: one quad-rank RDIMM 1066"),
    case("ddr3-2x3x2", X5570, &[Q16_1066, Q16_1066], Runs(800, Population), "S2: two with quad-rank 800 on two-slot boards"),
    case("ddr3-2x3x3", E5520, &[R8_1333], Runs(1066, Processor), "V2: E552x allow 1066"),
    case("ddr3-2x3x3", E5504, &[R8_1333], Runs(800, Processor), "V2: E550x allow 800"),
    case("ddr3-2x3x3", E5504, &[R4_800], Runs(800, Rating), "V2: E550x allow 800"),
    // Four DDR3 channels.
    case("ddr3-2x4x3", V2_2637, &[R16_1866], Runs(1866, Rating), "V8: one 1866 RDIMM 1866"),
    case("ddr3-2x4x3", V2_2637, &[R16_1866, R16_1866], Between(1600, 1866), "V8: 1600; V7b: 1866"),
    case("ddr3-2x4x3", V2_2637, &[R16_1866, R16_1866, R16_1866], Runs(1066, Population), "V8: three 1866 RDIMM 1066"),
    case("ddr3-2x4x3", V2_2620, &[R16_1600], Runs(1600, Rating), "V7: 1600 RDIMM hold 1600 with one"),
    case("ddr3-2x4x3", V2_2620, &[R16_1600, R16_1600], Runs(1600, Rating), "V7: 1600 RDIMM hold 1600 with two"),
    case("ddr3-2x4x3", V2_2620, &[R16_1600, R16_1600, R16_1600], AtMost(1333), "V7: not with three"),
    case("ddr3-2x4x3", V2_2620, &[R16_1600L], AtMost(1333), "V7: 1600 RDIMM at 1.35 V never 1600"),
    case("ddr3-2x4x3", V2_2620, &[R16_1600L, R16_1600L], AtMost(1333), "V7: 1600 RDIMM at 1.35 V never 1600"),
    case("ddr3-2x4x3", V2_2620, &[R16_1600, R16_1600L], Runs(1600, Rating), "V1, I6: 1.35 V and 1.5 V together run at 1.5 V; V7"),
    case("ddr3-2x4x3", V2_2603, &[R16_1600], Runs(1333, Processor), "P1: E5-2603 v2 carries 42.6 GB/s = 1333"),
    case("ddr3-2x4x3", V1_2620, &[R16_1600], Runs(1333, Processor), "P5: E5-2620 carries 42.6 GB/s = 1333"),
    case("ddr3-2x4x3", V2_2637, &[L32_1866, L32_1866], Runs(1866, Rating), "V7b: 1866 LRDIMM hold 1866 with two"),
    case("ddr3-2x4x3", V2_2637, &[L32_1866, L32_1866, L32_1866], AtMost(1600), "V7b: not with three; I3: legal by rank multiplication"),
    case("ddr3-2x4x3", V2_2637, &[L64_1066, L64_1066], Runs(1066, Rating), "I5: eight-rank LRDIMM 1066 at one and two"),
    case("ddr3-2x4x3", V2_2637, &[L32_1866, R16_1866], Refused, "I6: LRDIMM with anything else"),
    case("ddr3-2x4x3", V2_2637, &[Q32_1333, Q32_1333, Q32_1333], Refused, "I4: at most 8 ranks"),
    case("ddr3-2x4x3", V2_2637, &[R16_1333, R16_1333, R16_1333], Legal, "I4: 6 ranks are legal"),
    // Four DDR4 channels; the processors' own limit is from memory, so the speeds are upper bounds.
    case("ddr4-2x4x3", V3_2680, &[D16_2133], AtMost(2133), "V10: RDIMM 2133 with one"),
    case("ddr4-2x4x3", V3_2680, &[D16_2133, D16_2133], AtMost(2133), "V10: 1866; V9: 2133"),
    case("ddr4-2x4x3", V3_2680, &[D16_2133, D16_2133, D16_2133], AtMost(1866), "V10: 1600; V9: 1600 or 1866"),
    case("ddr4-2x4x3", V3_2680, &[D32_2133L, D32_2133L], AtMost(2133), "V10: LRDIMM 2133 with two"),
    case("ddr4-2x4x3", V3_2680, &[D32_2133L, D32_2133L, D32_2133L], AtMost(1600), "V10: LRDIMM 1600 with three"),
    case("ddr4-2x4x3", V4_2680, &[D16_2400, D16_2400], AtMost(2400), "V11: RDIMM 2400 with two"),
    case("ddr4-2x4x3", V4_2680, &[D16_2400, D16_2400, D16_2400], AtMost(1866), "V11: RDIMM 1866 with three"),
    case("ddr4-2x4x3", V4_2680, &[D32_2400L, D32_2400L, D32_2400L], AtMost(2133), "V11: LRDIMM 2133 with three"),
    case("ddr4-2x4x2", V4_2680, &[D16_2400, D16_2400], AtMost(2133), "I7: RDIMM 2133 with two on two-slot boards"),
    case("ddr4-2x4x2", V4_2680, &[D32_2400L, D32_2400L], AtMost(2400), "I7: LRDIMM 2400 with two on two-slot boards"),
    case("ddr4-2x4x2", V4_2680, &[D16_2400, D32_2400L], Refused, "I7: RDIMM and LRDIMM halt the machine"),
    // Six and eight DDR4 channels.
    case("ddr4-2x6x2", G6140, &[D32_2933], AtMost(2666), "X1: first generation 2666"),
    case("ddr4-2x6x2", G6240, &[D32_2933], AtMost(2933), "X1: second generation 2933"),
    case("ddr4-2x6x1", G6140, &[D32_2666], AtMost(2666), "V18: one slot per channel, up to 2666"),
    case("ddr4-2x6x2", G6140, &[D32_2666, D32_2400L], Refused, "I8: RDIMM and LRDIMM halt the machine"),
    case("ddr4-2x8x2", P8380, &[D32_3200], Runs(3200, Rating), "W1: 3200 with one"),
    case("ddr4-2x8x2", P8380, &[D32_3200, D32_3200], Runs(3200, Rating), "W1: 3200 with two"),
    case("ddr4-2x8x2", ROME, &[D32_3200], Runs(3200, Rating), "P3a: 8 modules at 3200"),
    // DDR5.
    case("ddr5-2x8x2", P8480, &[F32_4800], Runs(4800, Rating), "X2, V14, W1: 4800 with one"),
    case("ddr5-2x8x2", P8480, &[F32_4800, F32_4800], Runs(4400, Population), "X2, V14, W1: 4400 with two"),
    case("ddr5-2x8x2", X6, &[F64_6400], Runs(6400, Rating), "E1: 6400 with one"),
    case("ddr5-2x8x2", X6, &[F64_6400, F64_6400], Runs(5200, Population), "E1: 5200 with two"),
    case("ddr5-2x12x1", GENOA, &[F32_4800], Runs(4800, Rating), "V15: 4800 with one slot per channel"),
    case("ddr5-2x12x2", GENOA, &[F32_4800, F32_4800], Runs(3600, Population), "T1b: 3600 with two"),
];

/// The plan that puts `channel` into every channel of `board`.
fn plan_of(board: &Board, processor: &str, channel: &[&str]) -> Plan {
    let mut yaml = String::from("processors:\n");
    for _ in &board.sockets {
        yaml += &format!("  - \"{processor}\"\n");
    }
    yaml += "fit:\n";
    for (at, label) in channel.iter().enumerate() {
        let slots: Vec<&str> = board.channels().map(|(_, channel)| channel.slots[at].as_str()).collect();
        yaml += &format!("  - module: {label}\n    slots: [{}]\n", slots.join(", "));
    }
    plan::read("case", &yaml).unwrap_or_else(|error| panic!("{error}\n{yaml}"))
}

fn check_of(case: &Case) -> PlanCheck {
    let board = board::class(case.class).unwrap();
    check_plan(&plan_of(&board, case.processor, case.channel), &board).unwrap()
}

#[test]
fn published_configurations() {
    assert!(CASES.len() >= 60, "{}", CASES.len());
    for case in CASES {
        let what = format!("{} {:?}: {}", case.class, case.channel, case.source);
        let check = check_of(case);
        let legal = check.verdict == Verdict::AsPlanned;
        let prediction = &check.prediction;
        match case.expect {
            Refused => assert!(!legal, "{what}: {:#?}", check.findings),
            Legal => assert!(legal, "{what}: {:#?}", check.findings),
            Runs(speed, limit) => {
                assert!(legal, "{what}: {:#?}", check.findings);
                let rate = TransferRate(speed);
                assert_eq!(
                    prediction.speed,
                    ExpectedSpeed::Known { low: rate, high: rate },
                    "{what}: {:#?}",
                    prediction.limits
                );
                let tightest: Vec<LimitKind> =
                    prediction.limits.iter().filter(|l| l.high == rate).map(|l| l.kind).collect();
                assert!(tightest.contains(&limit), "{what}: {tightest:?}");
            }
            Between(low, high) => {
                assert!(legal, "{what}: {:#?}", check.findings);
                let want = ExpectedSpeed::Known { low: TransferRate(low), high: TransferRate(high) };
                assert_eq!(prediction.speed, want, "{what}");
                assert!(prediction.notes.iter().any(|note| note.contains("sources give")), "{what}");
            }
            AtMost(speed) => {
                assert!(legal, "{what}: {:#?}", check.findings);
                assert_eq!(
                    prediction.speed,
                    ExpectedSpeed::AtMost(TransferRate(speed)),
                    "{what}: {:#?}",
                    prediction.limits
                );
            }
        }
        if let Some(total) = prediction.total {
            let board = board::class(case.class).unwrap();
            let one: Bytes =
                case.channel.iter().filter_map(|label| plan::parse_sticker(label).unwrap().size).sum();
            assert_eq!(total.0, one.0 * board.channels().count() as u64, "{what}");
        }
    }
}

/// Common practice, no source: 12 quad-rank modules of 32 GB in the first two slots of six channels make 384
/// GB; 12 unbuffered ones of 2 GB make 24 GB; with one processor only its nine slots count.
#[test]
fn facts_of_the_trade() {
    let board = board::class("ddr3-2x3x3").unwrap();
    let check = check_plan(&plan_of(&board, X5650, &[Q32_1333, Q32_1333]), &board).unwrap();
    assert_eq!((check.verdict, check.prediction.total), (Verdict::AsPlanned, Some(Bytes::gib(384))));
    let check = check_plan(&plan_of(&board, X5650, &[U2_1333, U2_1333]), &board).unwrap();
    assert_eq!((check.verdict, check.prediction.total), (Verdict::AsPlanned, Some(Bytes::gib(24))));
    let mut plan = plan_of(&board, X5650, &[R8_1333]);
    plan.processors[1] = plan::Processor::Absent;
    let check = check_plan(&plan, &board).unwrap();
    assert_eq!(check.findings[0].kind, audit::FindingKind::NoCpu);
    assert_eq!(check.findings[0].slots, ["2a1", "2b1", "2c1"]);
    assert_eq!(board.sockets[0].channels.iter().map(|c| c.slots.len()).sum::<usize>(), 9);
}

/// Ranks inside a stack share a chip select, and no source counts them against the limit of a channel; plain
/// ranks do count (X1).
#[test]
fn stacked_modules_count_with_their_package_ranks() {
    let board = board::class("ddr4-2x6x2").unwrap();
    let breaks = |limit: &str, sticker: &str| {
        let mut board = board.clone();
        board.rules.ranks_per_channel.as_mut().unwrap().value = limit.parse().unwrap();
        let check = check_plan(&plan_of(&board, "", &[sticker, sticker]), &board).unwrap();
        check.findings.iter().any(|finding| finding.kind == audit::FindingKind::RankLimit)
    };
    assert!(!breaks("8", "128GB 2S4Rx4 PC4-2666V-R"));
    assert!(!breaks("8", "64GB 4Rx4 PC4-2666V-R"));
    assert!(breaks("7", "64GB 4Rx4 PC4-2666V-R"));
    assert!(breaks("3", "128GB 2S4Rx4 PC4-2666V-R"));
}

/// 1600-rated modules on the three-channel class run at 1333 and bring nothing over 1333-rated ones (V2).
#[test]
fn wasted_ratings_are_named() {
    let board = board::class("ddr3-2x3x3").unwrap();
    let check = check_plan(&plan_of(&board, X5650, &[R16_1600]), &board).unwrap();
    assert!(check.wasted[0].contains("rated 1600 MT/s run at 1333 MT/s"), "{:?}", check.wasted);
    assert!(check_plan(&plan_of(&board, X5650, &[R8_1333]), &board).unwrap().wasted.is_empty());
}

/// Slot order: A1 empty and A2 filled is unusable (I1).
#[test]
fn a_gap_in_a_channel_is_a_fault() {
    let board = board::class("ddr3-2x3x3").unwrap();
    let plan = plan::read("p", "fit:\n  - module: 8GB 2Rx4 PC3-10600R\n    slots: [1a2]\n").unwrap();
    let check = check_plan(&plan, &board).unwrap();
    let order = check.findings.iter().find(|f| f.kind == audit::FindingKind::SlotOrder).unwrap();
    assert_eq!(order.slots, ["1a2"]);
    assert!(order.expected.contains("S5520UR"), "{}", order.expected);
}

/// The lift that the rules name: taking the third modules out gives 1333 for 800, at the cost of a third.
#[test]
fn the_change_that_lifts_the_speed_is_named() {
    let board = board::class("ddr3-2x3x3").unwrap();
    let check = check_plan(&plan_of(&board, X5650, &[R16_1333, R16_1333, R16_1333]), &board).unwrap();
    let lift = &check.lifts[0];
    assert_eq!((lift.speed, lift.lost), (TransferRate(1333), Bytes::gib(96)));
    assert!(lift.text.contains("1a3") && lift.text.contains("2c3"));
}

/// On every real listing whose labels prove its topology, the derived board with the derived plan audits as
/// planned, and the board reads back from its YAML.
#[test]
fn derived_boards_hold_on_real_machines() {
    let (mut complete, mut classed) = (0, 0);
    for text in fixture::listings() {
        let listings = records::read(text);
        let mut population = population::rebuild(&listings[0]);
        let derived = board::from_population(text.name(), &population);
        if !derived.complete {
            continue;
        }
        complete += 1;
        let yaml = board::to_yaml(&derived.board, &[]);
        let board = board::read(text.name(), &yaml).unwrap_or_else(|error| panic!("{error}\n{yaml}"));
        classed += u32::from(board.class.is_some());
        let plan = plan::from_population(&listings[0], &population, false).plan;
        let board = board::adapt(&board, &population).unwrap_or_else(|error| panic!("{error}"));
        board::place_on(&mut population, &board);
        let audit = audit::audit_on(&listings[0], &population, &plan, Some(&board)).unwrap();
        assert_eq!(audit.verdict, Verdict::AsPlanned, "{}: {:#?}\n{yaml}", text.name(), audit.findings);
    }
    println!("{complete} derived boards, {classed} of a known class");
    assert!(complete > 600 && classed > 200, "{complete} {classed}");
}

/// The counts in docs/boards.md: what the rules say about real machines where the plan states no speed.
#[test]
fn rule_findings_on_real_machines() {
    let (mut known, mut bounded) = (0, 0);
    let mut findings = std::collections::BTreeMap::new();
    for text in fixture::listings() {
        let listings = records::read(text);
        let mut population = population::rebuild(&listings[0]);
        let derived = board::from_population(text.name(), &population);
        if !derived.complete {
            continue;
        }
        let board = board::read(text.name(), &board::to_yaml(&derived.board, &[])).unwrap();
        board::place_on(&mut population, &board);
        let mut plan = plan::from_population(&listings[0], &population, false).plan;
        plan.expect.speed = None;
        let audit = audit::audit_on(&listings[0], &population, &plan, Some(&board)).unwrap();
        for finding in audit.findings {
            *findings.entry(finding.kind.word()).or_insert(0) += 1;
        }
        if board.class.is_some() {
            match audit.prediction.unwrap().speed {
                ExpectedSpeed::Known { .. } => known += 1,
                ExpectedSpeed::AtMost(_) => bounded += 1,
                ExpectedSpeed::Unknown => {}
            }
        }
    }
    assert_eq!((known, bounded), (37, 283));
    assert_eq!(findings.into_iter().collect::<Vec<_>>(), [("listing-damaged", 25), ("uneven", 38)]);
    let page = std::fs::read_to_string(fixture::path("docs/boards.md")).unwrap();
    for part in ["667 of the 937", "320 of these", "37 of the 320", "for 283", "38 times `uneven`"] {
        assert!(page.contains(part), "{part}");
    }
}

/// Slot numbers of an 18-slot server in the order of filling: channel 1 = 3, 2, 1; channel 2 = 6, 5, 4; and so on
/// (H2, p. 46, and V3, p. 7: with 6 modules 3, 6, 9, 12, 15, 18; with 12 also 2, 5, 8, 11, 14, 17).
#[test]
fn slot_numbers_that_run_round_the_channels() {
    let channel = |first: u16| {
        format!("{{channel: \"{first}\", slots: [\"{}\", \"{}\", \"{}\"]}}", first + 2, first + 1, first)
    };
    let socket = |number: u16, base: u16| {
        let channels: Vec<String> = (0..3).map(|n| channel(base + 3 * n)).collect();
        format!("  - {{socket: {number}, channels: [{}]}}\n", channels.join(", "))
    };
    let text = format!("board: numbers\nclass: ddr3-2x3x3\nsockets:\n{}{}", socket(1, 1), socket(2, 10));
    let board = board::read("numbers", &text).unwrap();
    let filled = |count: u32| {
        let plan = plan::read("p", &format!("order: [{count} x 8GB 2Rx4 PC3-10600R]\n")).unwrap();
        let Placed::All(placement) = place(&plan, &board).unwrap() else { panic!() };
        let mut slots: Vec<u16> =
            placement.plan.modules().map(|(planned, _)| planned.slot.parse().unwrap()).collect();
        slots.sort_unstable();
        slots
    };
    assert_eq!(filled(6), [3, 6, 9, 12, 15, 18]);
    assert_eq!(filled(12), [2, 3, 5, 6, 8, 9, 11, 12, 14, 15, 17, 18]);
    assert_eq!(filled(18), (1..=18).collect::<Vec<u16>>());
    // H2: population letter E is slot 5, which is on channel 2.
    let (_, channel, at) = board.place("5").unwrap();
    assert_eq!((channel.slots.as_slice(), at), (["6", "5", "4"].map(str::to_owned).as_slice(), 2));
}

/// A 12-channel processor whose slots 1 to 12 are channels F E D C B A G H I J K L (V17a of the same source
/// list: a published installation order), so that letters do not follow the slot numbers.
#[test]
fn channel_letters_out_of_order() {
    let letters = ["F", "E", "D", "C", "B", "A", "G", "H", "I", "J", "K", "L"];
    let channels: Vec<String> = letters
        .iter()
        .zip(1..)
        .map(|(letter, slot): (_, u8)| format!("{{channel: {letter}, slots: [\"{slot}\"]}}"))
        .collect();
    let text =
        format!("class: ddr5-1x12x1\nsockets:\n  - {{socket: 1, channels: [{}]}}\n", channels.join(", "));
    let board = board::read("letters", &text).unwrap();
    for (slot, letter) in [("1", "F"), ("6", "A"), ("7", "G"), ("12", "L")] {
        assert_eq!(board.place(slot).unwrap().1.name, letter);
    }
}

/// Limits of counts: 18 slots take 12 quad-rank RDIMM (V1, p. 13) and 12 UDIMM (V1, p. 13); a 32-slot DDR5
/// server with one of two processors takes 16 modules (X2).
#[test]
fn most_modules_that_fit() {
    let most = |class: &str, processors: &str, sticker: &str, more: u32| {
        let board = board::class(class).unwrap();
        let plan = plan::read("p", &format!("{processors}order: [{more} x {sticker}]\n")).unwrap();
        match place(&plan, &board).unwrap() {
            Placed::All(_) => panic!("{more} fit"),
            Placed::Refused(refusal) => refusal.largest.unwrap().plan.modules().count(),
        }
    };
    assert_eq!(most("ddr3-2x3x3", "", "16GB 4Rx4 PC3-8500R", 13), 12);
    assert_eq!(most("ddr3-2x3x3", "", "2GB 2Rx8 PC3-10600U", 13), 12);
    let one = "processors: [\"Intel(R) Xeon(R) Platinum 8480+\", none]\n";
    assert_eq!(most("ddr5-2x8x2", one, "32GB 2Rx8 PC5-4800B-R", 17), 16);
}

/// Load-reduced modules without rank multiplication count all their ranks: three quad-rank ones are 12 (I7).
#[test]
fn load_reduced_modules_mapped_directly() {
    let mut board = board::class("ddr3-2x4x3").unwrap();
    board.rules.load_reduced_counts = None;
    let plan = plan_of(&board, V2_2637, &[L32_1866, L32_1866, L32_1866]);
    assert_eq!(check_plan(&plan, &board).unwrap().verdict, Verdict::Deviates);
}

/// Mirroring leaves half: 64 GB are 32 (V9, p. 164). Rank sparing keeps one rank of each channel: two modules of
/// 16 GB with two ranks in each of four channels leave 96 of 128 GB, one of 16 GB with four ranks leaves 12 of 16
/// (derived).
#[test]
fn modes_keep_memory_in_reserve() {
    let visible = |mode: &str, fit: &str| {
        let board = board::read("b", "layout: {sockets: 1, channels: 4, slots: 2}\n").unwrap();
        let plan = plan::read("p", &format!("mode: {mode}\nfit:\n{fit}")).unwrap();
        check_plan(&plan, &board).unwrap().visible
    };
    let four = "  - {module: 16GB 2Rx4 PC4-2400T-R, slots: [1a1, 1b1, 1c1, 1d1]}\n";
    assert_eq!(visible("mirroring", four), Some(Bytes::gib(32)));
    let eight = format!("{four}  - {{module: 16GB 2Rx4 PC4-2400T-R, slots: [1a2, 1b2, 1c2, 1d2]}}\n");
    assert_eq!(visible("rank sparing", &eight), Some(Bytes::gib(96)));
    assert_eq!(
        visible("rank sparing", "  - {module: 16GB 4Rx4 PC3-8500R, slots: [1a1]}\n"),
        Some(Bytes::gib(12))
    );
}

/// Eight channels: 2, 4 and 8 modules carry about 28, 54 and 100 % of the bandwidth as measured (P3a). The peak
/// by channels in use is 25, 50 and 100 %: within five points.
#[test]
fn bandwidth_by_channels_in_use() {
    let board = board::class("ddr4-1x8x2").unwrap();
    let peak = |count: usize| {
        let slots: Vec<&str> = board.slots().filter(|slot| slot.ends_with('1')).take(count).collect();
        let yaml = format!(
            "processors: [\"{ROME}\"]\nfit:\n  - {{module: {D32_3200}, slots: [{}]}}\n",
            slots.join(", ")
        );
        check_plan(&plan::read("p", &yaml).unwrap(), &board).unwrap().prediction.peak_mb_per_s[0].1
    };
    for (count, measured) in [(2, 28), (4, 54), (8, 100)] {
        assert!((peak(count) * 100 / peak(8)).abs_diff(measured) <= 5, "{count}");
    }
    // 8 channels of 3200 carry 204.8 GB/s (T1).
    assert_eq!(peak(8), 204_800);
}

/// On a 32-slot machine of two sockets with eight channels 16 and 32 equal modules are balanced, 8 and 12
/// near-balanced, 10 uneven (counts of a blog, weak; placed symmetrically).
#[test]
fn evenness_by_counts() {
    let board = board::class("ddr5-2x8x2").unwrap();
    for (count, word) in [(16, "balanced"), (32, "balanced"), (8, "near-balanced"), (12, "near-balanced")] {
        let plan = plan::read("p", &format!("order: [{count} x 32GB 2Rx8 PC5-4800B-R]\n")).unwrap();
        let Placed::All(placement) = place(&plan, &board).unwrap() else { panic!() };
        assert_eq!(check_plan(&placement.plan, &board).unwrap().prediction.evenness.word(), word, "{count}");
    }
}

/// A module of another generation does not go into the slot at all.
#[test]
fn generations_do_not_mix() {
    let board = board::class("ddr3-2x3x3").unwrap();
    let plan = plan::read("p", "fit:\n  - {module: 8GB 1Rx4 PC4-2400T-R, slots: [1a1]}\n").unwrap();
    let check = check_plan(&plan, &board).unwrap();
    assert!(
        check.findings.iter().any(|f| f.kind == audit::FindingKind::MixedKinds && f.summary.contains("DDR4"))
    );
}
