//! Published slot numbers, installation orders and counts, by what `plan place` makes of them.

use asfitted::board;
use asfitted::check::check_plan;
use asfitted::place::{Placed, place};
use asfitted::plan;

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

/// On a 32-slot machine of two sockets with eight channels 16 and 32 equal modules are balanced, 8 and 12
/// near-balanced, 10 uneven (counts of a blog, weak; placed symmetrically).
#[test]
fn balance_by_counts() {
    let board = board::class("ddr5-2x8x2").unwrap();
    for (count, word) in [(16, "balanced"), (32, "balanced"), (8, "near-balanced"), (12, "near-balanced")] {
        let plan = plan::read("p", &format!("order: [{count} x 32GB 2Rx8 PC5-4800B-R]\n")).unwrap();
        let Placed::All(placement) = place(&plan, &board).unwrap() else { panic!() };
        assert_eq!(check_plan(&placement.plan, &board).unwrap().prediction.balance.word(), word, "{count}");
    }
}
