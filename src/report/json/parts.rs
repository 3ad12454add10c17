//! What several results share.

use serde::Serialize;

use super::record::RecordJson;
use crate::board::Board;
use crate::case::Case;
use crate::plan::{ModuleSpec, Plan};
use crate::population::{Module, Slot, Tier};
use crate::report::view::{self, Note};

/// Where a listing comes from.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ListingJson {
    /// Name of the input, as given.
    pub name: String,
    /// SMBIOS version that the firmware announces.
    pub smbios_version: Option<String>,
    /// Release of dmidecode.
    pub utility_version: Option<String>,
}

/// The machine as its listing names it.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct MachineJson {
    /// Maker.
    pub maker: Option<String>,
    /// Product name.
    pub product: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Its UUID.
    pub uuid: Option<String>,
    /// Its firmware; null where the listing does not state it.
    pub firmware: Option<FirmwareJson>,
}

/// The firmware of a machine.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct FirmwareJson {
    /// Who made it.
    pub vendor: Option<String>,
    /// Its version.
    pub version: Option<String>,
    /// Its date, as printed.
    pub date: Option<String>,
}

/// A module, planned or found; null where unknown or not demanded.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ModuleJson {
    /// Size in bytes.
    pub size_bytes: Option<u64>,
    /// Generation.
    #[serde(rename = "type")]
    pub memory_type: Option<String>,
    /// Kind.
    pub kind: Option<String>,
    /// Ranks.
    pub ranks: Option<u8>,
    /// Data lines per chip; no listing states it.
    pub width: Option<u8>,
    /// Rated speed in MT/s.
    pub rated_mts: Option<u32>,
    /// Configured speed in MT/s.
    pub configured_mts: Option<u32>,
    /// Voltage in millivolts: planned supply, or what the module is driven at.
    pub voltage_mv: Option<u32>,
    /// Maker.
    pub maker: Option<String>,
    /// Part number.
    pub part: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
}

/// One slot.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SlotJson {
    /// Unique name.
    pub slot: String,
    /// Processor socket; null where not proven.
    pub socket: Option<u16>,
    /// Channel; null where not proven.
    pub channel: Option<String>,
    /// Position in the channel; null where not proven.
    pub position: Option<u16>,
    /// How sure the place is: `certain`, `likely`, `implied`, `partial`, `contradictory` or `unproven`.
    pub certainty: &'static str,
    /// Tier of memory: `main`, `hbm`, `cxl` or `persistent`; null for a slot that is not listed.
    pub tier: Option<&'static str>,
    /// `fitted`, `empty`, `not-running`, `unknown`, or `unlisted` for a planned slot without a record.
    pub state: &'static str,
    /// What the plan demands; left out where there is no plan.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[expect(clippy::option_option, reason = "left out, null and a module are three things")]
    pub planned: Option<Option<ModuleJson>>,
    /// What the listing shows.
    pub found: Option<ModuleJson>,
    /// What its record states beyond that; in populations only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub record: Option<RecordJson>,
}

/// One tier of memory.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct TierJson {
    /// `main`, `hbm`, `cxl` or `persistent`.
    pub tier: &'static str,
    /// By the plan; null where it does not say.
    pub planned_bytes: Option<u64>,
    /// What its modules give; null where one has no exact size.
    pub detected_bytes: Option<u64>,
    /// Number of its slots.
    pub slots: usize,
    /// Number of its slots with a module that gives memory.
    pub fitted: usize,
}

/// The tiers of a machine: main memory always, the others where there or in the plan is any of them.
pub(super) fn tiers(case: &Case<'_>) -> Vec<TierJson> {
    let totals = case.population.totals;
    let of = |tier: Tier| {
        let (own, planned) = (totals.of(tier), case.planned_of(tier));
        let exact =
            if tier == Tier::Main { totals.main() } else { totals.detected.map(|_| totals.size_of(tier)) };
        TierJson {
            tier: tier.word(),
            planned_bytes: planned.map(|size| size.0),
            detected_bytes: exact.map(|size| size.0),
            slots: own.slots,
            fitted: own.fitted,
        }
    };
    let said = |tier: &TierJson| {
        tier.tier == Tier::Main.word()
            || tier.slots > 0
            || tier.planned_bytes.is_some()
            || tier.detected_bytes.is_some_and(|size| size > 0)
    };
    Tier::ALL.iter().map(|tier| of(*tier)).filter(said).collect()
}

/// What is said of the plan.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PlanJson {
    /// Its name; null where it has none.
    pub name: Option<String>,
    /// Demands of it that are no open point where the evidence does not show them.
    pub waived: Vec<&'static str>,
}

pub(super) fn plan(plan: &Plan) -> PlanJson {
    PlanJson { name: plan.name.clone(), waived: plan.waived.iter().map(|field| field.word()).collect() }
}

/// The board description's name.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct BoardJson {
    /// Its name.
    pub name: String,
}

pub(super) fn board(board: &Board) -> BoardJson {
    BoardJson { name: board.name.clone() }
}

/// Something noticed.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct NoteJson {
    /// What it is.
    pub kind: String,
    /// What it means.
    pub text: String,
    /// The line that shows it.
    pub line: Option<u32>,
    /// How many times it was seen.
    pub count: u32,
}

/// What was noticed in a listing.
pub(super) fn notes(case: &Case<'_>) -> Vec<NoteJson> {
    let json = |Note { kind, text, line, count }| NoteJson { kind: kind.to_owned(), text, line, count };
    view::notes(case).into_iter().map(json).collect()
}

/// Notes without a line.
pub(super) fn remarks(texts: &[String]) -> impl Iterator<Item = NoteJson> {
    let remark =
        |text: &String| NoteJson { kind: "remark".to_owned(), text: text.clone(), line: None, count: 1 };
    texts.iter().map(remark)
}

pub(super) fn listing(case: &Case<'_>) -> ListingJson {
    ListingJson {
        name: case.name.to_owned(),
        smbios_version: case.listing.smbios.get().map(str::to_owned),
        utility_version: case.listing.dmidecode.get().map(str::to_owned),
    }
}

pub(super) fn machine(case: &Case<'_>) -> MachineJson {
    let view::Machine { maker, product, serial, uuid, firmware } = view::machine(case);
    let firmware =
        firmware.map(|view::Firmware { vendor, version, date }| FirmwareJson { vendor, version, date });
    MachineJson { maker, product, serial, uuid, firmware }
}

pub(super) fn found(module: &Module<'_>, running: bool) -> ModuleJson {
    ModuleJson {
        size_bytes: module.bytes().filter(|_| running).map(|size| size.0),
        memory_type: module.memory_type.map(|t| t.name().to_owned()),
        kind: module.kind.map(|kind| kind.word().to_owned()),
        ranks: module.ranks,
        width: None,
        rated_mts: module.rated.map(|rate| rate.0),
        configured_mts: module.configured.map(|rate| rate.0),
        voltage_mv: module.voltage.map(|voltage| voltage.0),
        maker: module.maker.map(|maker| maker.name().to_owned()),
        part: module.part.as_deref().map(str::to_owned),
        serial: module.serial.map(str::to_owned),
    }
}

pub(super) fn planned(wanted: &ModuleSpec, speed: Option<u32>) -> ModuleJson {
    ModuleJson {
        size_bytes: wanted.size.map(|size| size.0),
        memory_type: wanted.memory_type.map(|t| t.name().to_owned()),
        kind: wanted.kind.map(|kind| kind.word().to_owned()),
        ranks: wanted.ranks,
        width: wanted.width,
        rated_mts: wanted.rated.map(|rate| rate.0),
        configured_mts: speed,
        voltage_mv: wanted.voltage.map(|voltage| voltage.0),
        maker: wanted.maker.clone(),
        part: wanted.part.clone(),
        serial: wanted.serial.clone(),
    }
}

pub(super) fn slot(slot: &Slot<'_>) -> SlotJson {
    SlotJson {
        slot: slot.name.to_string(),
        socket: slot.location.socket,
        channel: slot.location.channel.map(|channel| channel.to_string()),
        position: slot.location.position,
        certainty: slot.location.certainty.word(),
        tier: Some(slot.tier.word()),
        state: slot.state_word(),
        planned: None,
        found: slot.module().map(|module| found(module, slot.fitted().is_some())),
        record: None,
    }
}
