//! Three real listings that differ in what they label and state.

use asfitted::population::{self, Population};
use asfitted::records::{self, Listing, MemoryDevice};

use super::{matches_snapshot, printed};
use crate::util::command::{Bench, plan_from};
use crate::util::corpus;
use crate::util::edit::Lines;

/// 18 slots called `PROC 1 DIMM 3A`, DDR3, six modules, no configured speed.
const EIGHTEEN: &str = "3F4668E67500";
/// 24 slots called `DIMM 1` with the processor in the bank, six modules and six more that do not run.
const TWENTY_FOUR: &str = "6F6DEF6E7D5A";
/// 48 slots called `P1-DIMMA1` with node, channel and position in the bank, four processors, sixteen modules.
const FORTY_EIGHT: &str = "9C6ED980B1F1";

/// A fault that is planted.
#[derive(Clone, Copy)]
enum Fault {
    Removed,
    Moved,
    OtherPart,
}

/// A listing in which faults are planted.
struct Scene<'s, 'a> {
    listing: &'s Listing<'a>,
    population: &'s Population<'a>,
    source: Lines,
}

impl<'a> Scene<'_, 'a> {
    fn device(&self, wanted: impl Fn(&population::Slot<'a>) -> bool) -> &MemoryDevice<'a> {
        &self.listing.devices[self.population.slots.iter().find(|slot| wanted(slot)).unwrap().device]
    }

    fn fitted(&self) -> &MemoryDevice<'a> {
        self.device(|slot| slot.fitted().is_some())
    }

    fn with(&self, fault: Fault) -> String {
        match fault {
            Fault::Removed => self.removed(),
            Fault::Moved => self.moved(),
            Fault::OtherPart => self.other_part(),
        }
    }

    fn removed(&self) -> String {
        let mut lines = self.source.clone();
        lines.empty_short(self.fitted(), &self.source);
        lines.text()
    }

    fn moved(&self) -> String {
        let (from, to) = (self.fitted(), self.device(|slot| slot.state == population::SlotState::Empty));
        let mut lines = self.source.clone();
        lines.copy_module(from, to, &self.source);
        lines.empty_like(from, to, &self.source);
        lines.text()
    }

    fn other_part(&self) -> String {
        let mut lines = self.source.clone();
        lines.set(self.fitted(), "Part Number", "WW16-2R4-1333L");
        lines.text()
    }
}

/// What is shown of a listing, what the audit of its own plan says of a planted fault, and what is made of the first
/// module's loss where only the total that was fitted is known.
fn of_listing(id: &str, fault: Fault) {
    let text = corpus::listings().iter().find(|text| text.name() == id).unwrap();
    let listings = records::read(text);
    let population = population::rebuild(&listings[0]);
    let scene = Scene { listing: &listings[0], population: &population, source: Lines::of(text.as_str()) };
    let bench = Bench::new();
    let whole = bench.write("listing.txt", text.as_str());
    let show = |format: &str| {
        let arguments = ["show", "listing.txt", "--format", format];
        matches_snapshot(
            "listings",
            &format!("{id}-show-{format}"),
            &printed(&mut bench.asfitted(), &arguments, 0),
        );
    };
    show("text");
    show("json");
    bench.write("plan.yaml", plan_from(&whole));
    bench.write("fault.txt", scene.with(fault));
    let audit = printed(&mut bench.asfitted(), &["audit", "fault.txt", "--plan", "plan.yaml"], 1);
    matches_snapshot("listings", &format!("{id}-fault-audit"), &audit);
    bench.write("lost.txt", scene.removed());
    let total = format!("{} MiB", population.totals.detected.unwrap().0 >> 20);
    let diagnosis = printed(&mut bench.asfitted(), &["diagnose", "lost.txt", "--fitted", &total], 1);
    matches_snapshot("listings", &format!("{id}-lost-diagnose"), &diagnosis);
}

#[test]
fn eighteen_slots() {
    of_listing(EIGHTEEN, Fault::Removed);
}

#[test]
fn twenty_four_slots() {
    of_listing(TWENTY_FOUR, Fault::OtherPart);
}

#[test]
fn forty_eight_slots() {
    of_listing(FORTY_EIGHT, Fault::Moved);
}
