//! Configurations that makers and processor vendors publish: legality, speed, the limit that binds, totals.

use asfitted::audit::Verdict;
use asfitted::board::{self, ExpectedSpeed, LimitKind};
use asfitted::check::{PlanCheck, check_plan};
use asfitted::plan;
use asfitted::units::{Bytes, TransferRate};

use super::parts::{
    D16_2133, D16_2400, D32_2133L, D32_2400L, D32_2666, D32_2933, D32_3200, E4_1333, E5504, E5520, E5620,
    E5645, F32_4800, F64_6400, G6140, G6240, GENOA, L32_1866, L64_1066, L5640, P8380, P8480, Q16_1066,
    Q32_1333, R4_800, R4_1066, R4_1333, R8_1333, R16_1333, R16_1600, R16_1600L, R16_1866, ROME, U2_1333,
    V1_2620, V2_2603, V2_2620, V2_2637, V3_2680, V4_2680, X6, X5570, X5650,
};
use super::plan_of;

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
    case("ddr3-2x3x3", X5650, &[R16_1600], Runs(1333, Processor), "V2: X56xx allow 1333, so 1600 has no benefit"),
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
