//! The shape of a plan's file. Only the reader knows it.

use std::fmt;

use serde::Deserialize;
use serde::de::{Deserializer, Error, MapAccess, Visitor, value::MapAccessDeserializer};

use crate::yaml::Many;

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "asfitted plan"))]
/// What should be fitted in one machine.
pub(super) struct PlanForm {
    /// Name of the plan, shown in reports.
    pub(super) name: Option<String>,
    /// Marks by which the machine is recognised; what is left out selects nothing.
    pub(super) machine: Option<MachineForm>,
    /// Name of the board description.
    pub(super) board: Option<String>,
    /// Processor models, one per socket in the board's order; `none` for an empty socket. They tell the speed to
    /// expect and are not compared with the listing.
    pub(super) processors: Many,
    /// Mode of the memory for the visible total to expect: `mirroring` or `rank sparing`.
    pub(super) mode: Option<String>,
    /// Modules without slots, for `plan place`: `12 x 32GB 4Rx4 PC3L-10600R`, or a count and a module.
    pub(super) order: Vec<OrderForm>,
    /// Which modules go into which slots.
    pub(super) fit: Vec<FitForm>,
    /// Slots that must hold nothing.
    pub(super) empty: Many,
    /// Slots whose module is known not to run.
    pub(super) idle: Many,
    /// Demands on the whole machine.
    pub(super) expect: Option<ExpectForm>,
    /// Fields that need no proof: a listing that does not state them does not make the verdict unproven.
    pub(super) waive: Many,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// Marks by which a machine is recognised.
pub(super) struct MachineForm {
    /// Serial number of the machine.
    pub(super) serial: Option<String>,
    /// Asset tag of the machine or its board.
    pub(super) asset_tag: Option<String>,
    /// Host name.
    pub(super) host: Option<String>,
    /// Product name.
    pub(super) product: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// One kind of module and the slots it goes into.
pub(super) struct FitForm {
    /// The module: the label on its sticker, or fields, or `any`.
    pub(super) module: ModuleForm,
    /// The slots, by their names in the listing.
    pub(super) slots: Many,
    /// Serial numbers, one per slot in the same order.
    #[serde(default)]
    pub(super) serials: Many,
}

/// So many modules of a kind: as an order line, or as count and module.
#[derive(Debug)]
pub(super) enum OrderForm {
    Line(String),
    Fields(CountForm),
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A number of modules of one kind.
pub(super) struct CountForm {
    /// How many.
    pub(super) count: u32,
    /// The module.
    pub(super) module: ModuleForm,
}

impl<'de> Deserialize<'de> for OrderForm {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct OrderVisitor;
        impl<'de> Visitor<'de> for OrderVisitor {
            type Value = OrderForm;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an order line such as `12 x 32GB 4Rx4 PC3L-10600R`, or a count and a module")
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<OrderForm, E> {
                Ok(OrderForm::Line(text.to_owned()))
            }
            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<OrderForm, A::Error> {
                CountForm::deserialize(MapAccessDeserializer::new(map)).map(OrderForm::Fields)
            }
        }
        deserializer.deserialize_any(OrderVisitor)
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// Demands on the whole machine.
pub(super) struct ExpectForm {
    /// Configured speed of every module in MT/s.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    pub(super) speed: Option<String>,
    /// Total of main memory, for example `384 GiB`.
    pub(super) total: Option<String>,
    /// Total of the memory on the processors' packages.
    pub(super) hbm: Option<String>,
    /// Total of the memory behind CXL links.
    pub(super) cxl: Option<String>,
    /// Total of what keeps its contents without power.
    pub(super) persistent: Option<String>,
    /// Whether the machine corrects errors: `on` or `off`.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    pub(super) ecc: Option<String>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
/// A module by its fields; what is left out is not demanded.
pub(super) struct FieldsForm {
    /// The label on the sticker, for example `32GB 4Rx4 PC3L-10600R`; fields add to it.
    pub(super) sticker: Option<String>,
    /// Size, for example `32 GiB`.
    pub(super) size: Option<String>,
    /// Ranks, 1 to 16.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    pub(super) ranks: Option<String>,
    /// Data lines per chip: 4, 8, 16 or 32.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    pub(super) width: Option<String>,
    /// Generation, for example `DDR4`.
    #[serde(rename = "type")]
    pub(super) memory_type: Option<String>,
    /// Kind: UDIMM, ECC UDIMM, RDIMM, LRDIMM, FB-DIMM, SO-DIMM, MRDIMM, NVDIMM.
    pub(super) kind: Option<String>,
    /// Rated speed in MT/s.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    pub(super) rated: Option<String>,
    /// Supply voltage, for example `1.35 V`.
    pub(super) voltage: Option<String>,
    /// Maker.
    pub(super) maker: Option<String>,
    /// Part number.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    pub(super) part: Option<String>,
    /// Serial number, for a line with one slot.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    pub(super) serial: Option<String>,
    /// Whether the module has check bits: `on` or `off`.
    #[cfg_attr(feature = "schema", schemars(with = "Option<Scalar>"))]
    pub(super) ecc: Option<String>,
}

/// A text or a number, for the schema: YAML readers take either.
#[cfg(feature = "schema")]
#[derive(schemars::JsonSchema)]
#[schemars(untagged)]
#[expect(dead_code, reason = "describes the file's shape to editors only")]
enum Scalar {
    Number(f64),
    Text(String),
    Flag(bool),
}

/// A module as a sticker or as fields.
#[derive(Debug)]
pub(super) enum ModuleForm {
    Sticker(String),
    Fields(Box<FieldsForm>),
}

impl<'de> Deserialize<'de> for ModuleForm {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct ModuleVisitor;
        impl<'de> Visitor<'de> for ModuleVisitor {
            type Value = ModuleForm;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a module: its sticker as text, or its fields")
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<ModuleForm, E> {
                Ok(ModuleForm::Sticker(text.to_owned()))
            }
            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<ModuleForm, A::Error> {
                FieldsForm::deserialize(MapAccessDeserializer::new(map)).map(Box::new).map(ModuleForm::Fields)
            }
        }
        deserializer.deserialize_any(ModuleVisitor)
    }
}

#[cfg(feature = "schema")]
mod schema_impls;

/// The JSON Schema of plan files, for editors.
#[cfg(feature = "schema")]
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(PlanForm).to_value()
}
