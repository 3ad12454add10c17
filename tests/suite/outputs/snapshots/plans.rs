//! Plans checked and placed, listings compared.

use super::{matches_snapshot, printed};
use crate::util::command::{Bench, asfitted};
use crate::util::pallet;

fn in_pallet(name: &str, arguments: &[&str], code: i32) {
    let mut command = asfitted();
    command.current_dir(pallet::folder());
    matches_snapshot("plans", name, &printed(&mut command, arguments, code));
}

#[test]
fn check() {
    let keeps = ["plan", "check", "plans/kestrel.yaml", "--board", "boards/kestrel.yaml"];
    in_pallet("check-keeps-the-rules", &keeps, 0);
    in_pallet("check-breaks-a-rule", &["plan", "check", "plans/bay16.yaml"], 1);
}

#[test]
fn place() {
    let bench = Bench::new();
    let place = |name: &str, order: &str, code| {
        bench.write("order.yaml", format!("board: ddr3-2x3x3\norder: [{order}]\n"));
        let arguments = ["plan", "place", "order.yaml", "--why"];
        let assert = bench.asfitted().args(arguments).assert().code(code);
        let output = assert.get_output();
        let text = [output.stdout.clone(), output.stderr.clone()].concat();
        matches_snapshot("plans", name, &String::from_utf8(text).unwrap());
    };
    place("place-all", "12 x 16GB 2Rx4 PC3-10600R", 0);
    place("place-refused", "13 x 32GB 4Rx4 PC3L-10600R", 1);
}

#[test]
fn compare() {
    in_pallet("compare-listings", &["compare", "listings/bay01.txt", "listings/bay05.txt"], 1);
    in_pallet("compare-plan", &["compare", "plans/kestrel.yaml", "listings/bay12.txt"], 1);
}
