//! Single rules, each by its source.

use asfitted::audit::{self, Verdict};
use asfitted::board;
use asfitted::check::check_plan;
use asfitted::plan;
use asfitted::units::{Bytes, TransferRate};

use super::parts::{
    D32_3200, L32_1866, Q32_1333, R8_1333, R16_1333, R16_1600, ROME, U2_1333, V2_2637, X5650,
};
use super::plan_of;

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

/// 1600-rated modules on the three-channel class run at 1333, with no benefit over 1333-rated ones (V2).
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

/// What the rules name as raising the speed: taking the third modules out gives 1333 for 800, at the cost of a third.
#[test]
fn the_change_that_raises_the_speed_is_named() {
    let board = board::class("ddr3-2x3x3").unwrap();
    let check = check_plan(&plan_of(&board, X5650, &[R16_1333, R16_1333, R16_1333]), &board).unwrap();
    let raise = &check.raises[0];
    assert_eq!((raise.speed, raise.lost), (TransferRate(1333), Bytes::gib(96)));
    assert!(raise.text.contains("1a3") && raise.text.contains("2c3"));
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
