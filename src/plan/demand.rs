//! What a plan demands: of the machine, of each slot, of each module.

use std::collections::HashMap;

use super::mode::NamedMode;
use crate::population::ModuleKind;
use crate::records::enums::MemoryType;
use crate::units::{Bytes, Millivolts, TransferRate};

/// What should be fitted in one machine.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Plan {
    /// The file it came from, for messages.
    pub source: String,
    /// Its name.
    pub name: Option<String>,
    /// Which machine it is for; what is left out selects nothing.
    pub machine: MachineSelector,
    /// Name of the board description.
    pub board: Option<String>,
    /// What is in each processor socket, in the board's order; empty where the plan does not say.
    pub processors: Vec<Processor>,
    /// Mode in which the memory should run, for example `mirroring`.
    pub mode: Option<NamedMode>,
    /// Modules that are ordered and have no slots yet, with their number.
    pub order: Vec<(u32, ModuleSpec)>,
    /// Demands, one per named slot.
    pub slots: Vec<PlannedSlot>,
    /// Demands on the whole machine.
    pub expect: Expectation,
    /// Fields that need no proof.
    pub waived: Vec<DemandField>,
}

/// What a plan says about a processor socket.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Processor {
    /// A processor of this model; any text by which a board description recognises it.
    Model(String),
    /// No processor.
    Absent,
}

/// What a machine is recognised by.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct MachineSelector {
    /// Serial number of the machine.
    pub serial: Option<String>,
    /// Asset tag of the machine or its board.
    pub asset_tag: Option<String>,
    /// Host name; a listing does not state it.
    pub host: Option<String>,
    /// Product name.
    pub product: Option<String>,
}

/// One slot that the plan names.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedSlot {
    /// Name of the slot, runs of spaces collapsed.
    pub slot: String,
    /// 1-based line of the plan that names it; `None` where no file does.
    pub line: Option<u32>,
    /// What should be there.
    pub demand: Demand,
}

/// What should be in a slot.
#[derive(Debug, Clone, PartialEq)]
pub enum Demand {
    /// Nothing.
    Empty,
    /// A module.
    Module(ModuleSpec),
    /// A module that is known not to run: the firmware names it and does not use its memory.
    Idle,
}

/// A module as demanded. What is `None` is not demanded.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ModuleSpec {
    /// The sticker as written in the plan.
    pub sticker: Option<String>,
    /// Size.
    pub size: Option<Bytes>,
    /// Ranks that the host sees.
    pub ranks: Option<u8>,
    /// Package ranks of a stacked module, which some firmware states instead.
    pub package_ranks: Option<u8>,
    /// Data lines per chip: 4, 8, 16 or 32. No listing states it.
    pub width: Option<u8>,
    /// Generation.
    pub memory_type: Option<MemoryType>,
    /// Kind.
    pub kind: Option<ModuleKind>,
    /// Rated speed.
    pub rated: Option<TransferRate>,
    /// Supply voltage that the module must be made for.
    pub voltage: Option<Millivolts>,
    /// Maker.
    pub maker: Option<String>,
    /// Part number.
    pub part: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Check bits.
    pub ecc: Option<bool>,
}

impl ModuleSpec {
    /// The same module for another slot: everything but the serial number.
    pub(crate) fn same_kind(&self, other: &Self) -> bool {
        Self { serial: None, ..self.clone() } == Self { serial: None, ..other.clone() }
    }

    /// Whether the module should have check bits, by its kind where the plan does not say.
    pub(crate) fn wants_ecc(&self) -> Option<bool> {
        self.ecc.or(match self.kind {
            Some(ModuleKind::EccUdimm | ModuleKind::Rdimm | ModuleKind::Lrdimm | ModuleKind::FbDimm) => {
                Some(true)
            }
            _ => None,
        })
    }
}

/// Demands on the whole machine.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Expectation {
    /// Configured speed of every module.
    pub speed: Option<TransferRate>,
    /// Total of main memory.
    pub total: Option<Bytes>,
    /// Total of the memory on the processors' packages.
    pub hbm: Option<Bytes>,
    /// Total of the memory behind CXL links.
    pub cxl: Option<Bytes>,
    /// Total of what keeps its contents without power.
    pub persistent: Option<Bytes>,
    /// Whether the array should correct errors. Left out: it should if ECC modules are planned or fitted.
    pub ecc: Option<bool>,
}

table! {
    /// Fields of a module or machine that a plan can demand, named as in findings and plans.
    #[non_exhaustive]
    pub enum DemandField {
        /// Whether a module is there.
        Presence = "presence",
        /// Size.
        Size = "size",
        /// Ranks.
        Ranks = "ranks",
        /// Chip width.
        Width = "width",
        /// Generation.
        Type = "type",
        /// Kind.
        Kind = "kind",
        /// Rated speed.
        Rated = "rated",
        /// Voltage.
        Voltage = "voltage",
        /// Maker.
        Maker = "maker",
        /// Part number.
        Part = "part",
        /// Serial number.
        Serial = "serial",
        /// Check bits.
        Ecc = "ecc",
        /// Configured speed.
        Speed = "speed",
        /// Total.
        Total = "total",
        /// Which machine it is.
        Machine = "machine",
        /// That the listing's own records name no error of a module.
        Errors = "errors",
    }
}

impl Plan {
    /// The models of the processors that are there.
    pub(crate) fn processor_models(&self) -> Vec<&str> {
        self.processors
            .iter()
            .filter_map(|processor| match processor {
                Processor::Model(model) => Some(model.as_str()),
                Processor::Absent => None,
            })
            .collect()
    }

    /// The demand on a slot, if the plan names it.
    pub fn demand(&self, slot: &str) -> Option<&PlannedSlot> {
        self.slots.iter().find(|planned| planned.slot == slot)
    }

    /// All demands by their slots, for looking up many of them.
    pub fn demands(&self) -> HashMap<&str, &Demand> {
        self.slots.iter().map(|planned| (planned.slot.as_str(), &planned.demand)).collect()
    }

    /// The slots that should hold a module, with the module.
    pub fn modules(&self) -> impl Iterator<Item = (&PlannedSlot, &ModuleSpec)> {
        self.slots.iter().filter_map(|planned| match &planned.demand {
            Demand::Module(wanted) => Some((planned, wanted)),
            Demand::Empty | Demand::Idle => None,
        })
    }

    /// Whether the plan says anything that a machine can fail to fulfil.
    pub(crate) fn demands_anything(&self) -> bool {
        !self.slots.is_empty() || self.expect != Expectation::default()
    }

    /// The total the plan leads to: as stated, or the sum of its modules if there are any and each has a size.
    pub(crate) fn planned_total(&self) -> Option<Bytes> {
        let sum = || self.modules().map(|(_, wanted)| wanted.size).sum::<Option<Bytes>>();
        self.expect.total.or_else(|| self.modules().next().and_then(|_| sum()))
    }
}
