//! The JSON of what a module's record states beyond what is compared.

use serde::Serialize;

use crate::case::Case;
use crate::population::{Slot, identity};
use crate::records::{Field, MakerCode, MemoryDevice};
use crate::units::Bytes;

/// What the record of a slot with a module states beyond what is compared; null where it does not.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct RecordJson {
    /// The part number as printed, where that is not the part number as text.
    pub part_as_printed: Option<String>,
    /// Group of slots that must hold equal modules; null for none.
    pub set: Option<u8>,
    /// Form factor.
    pub form_factor: Option<&'static str>,
    /// Technology.
    pub technology: Option<&'static str>,
    /// Width in bits with check bits.
    pub total_width_bits: Option<u16>,
    /// Width in bits without check bits.
    pub data_width_bits: Option<u16>,
    /// Lowest supply voltage in millivolts.
    pub minimum_voltage_mv: Option<u32>,
    /// Highest supply voltage in millivolts.
    pub maximum_voltage_mv: Option<u32>,
    /// The modes that the module can be set up for.
    pub operating_modes: Option<String>,
    /// Version of the module's own firmware.
    pub firmware_version: Option<String>,
    /// The module's maker by its code.
    pub module_maker: Option<String>,
    /// The maker's number of the product.
    pub module_product: Option<String>,
    /// Maker of the controller on the module, by its code.
    pub controller_maker: Option<String>,
    /// Its number of the product.
    pub controller_product: Option<String>,
    /// Maker of the power controller, by its code.
    pub pmic_maker: Option<String>,
    /// Its revision.
    pub pmic_revision: Option<String>,
    /// Maker of the register, by its code.
    pub rcd_maker: Option<String>,
    /// Its revision.
    pub rcd_revision: Option<String>,
    /// The part that keeps its contents.
    pub non_volatile_bytes: Option<u64>,
    /// The part that is main memory.
    pub volatile_bytes: Option<u64>,
    /// The part that is a cache.
    pub cache_bytes: Option<u64>,
    /// Size of a logical device.
    pub logical_bytes: Option<u64>,
    /// The last error that the firmware keeps of it; null where it keeps none.
    pub error: Option<ErrorJson>,
}

/// An error record.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ErrorJson {
    /// What kind of error, as the standard names it; `OK` is none.
    pub kind: &'static str,
    /// How much of the memory it concerns.
    pub granularity: Option<String>,
    /// What was done when it came up.
    pub operation: Option<String>,
}

/// What the record of a slot states; `None` where no module is in it.
pub(super) fn record(case: &Case<'_>, slot: &Slot<'_>) -> Option<RecordJson> {
    let module = slot.module()?;
    let device = case.listing.devices.get(slot.device)?;
    let printed =
        device.part_number.get().map(str::trim).filter(|part| module.part.as_deref() != Some(*part));
    Some(RecordJson {
        part_as_printed: printed.and(module.part.as_deref()).and(printed).map(str::to_owned),
        set: device.set.get().filter(|set| *set > 0),
        form_factor: device.form_factor.get().map(crate::records::enums::FormFactor::name),
        technology: device.technology.get().map(crate::records::enums::MemoryTechnology::name),
        total_width_bits: device.total_width.get(),
        data_width_bits: device.data_width.get(),
        minimum_voltage_mv: module.minimum_voltage.map(|voltage| voltage.0),
        maximum_voltage_mv: module.maximum_voltage.map(|voltage| voltage.0),
        operating_modes: text(device.operating_modes).filter(|modes| modes != "None"),
        firmware_version: text(device.firmware_version),
        module_maker: maker(device.module_maker),
        module_product: product(device.module_product),
        controller_maker: maker(device.controller_maker),
        controller_product: product(device.controller_product),
        pmic_maker: maker(device.pmic_maker),
        pmic_revision: text(device.pmic_revision),
        rcd_maker: maker(device.rcd_maker),
        rcd_revision: text(device.rcd_revision),
        non_volatile_bytes: size(device.non_volatile_size),
        volatile_bytes: size(device.volatile_size),
        cache_bytes: size(device.cache_size),
        logical_bytes: size(device.logical_size),
        error: error(case, device),
    })
}

fn error(case: &Case<'_>, device: &MemoryDevice<'_>) -> Option<ErrorJson> {
    let error = case.listing.error(device.error_handle)?;
    Some(ErrorJson {
        kind: error.kind.get()?.name(),
        granularity: text(error.granularity),
        operation: text(error.operation),
    })
}

fn text(field: Field<&str>) -> Option<String> {
    field.get().and_then(identity::clean).map(str::to_owned)
}

/// Whose code it is; the code itself where nobody has it.
fn maker(field: Field<MakerCode>) -> Option<String> {
    let MakerCode { bank, code } = field.get()?;
    let registered = identity::registered_name(bank, code).map(str::to_owned);
    Some(registered.unwrap_or_else(|| format!("bank {bank}, code {code:#04x}")))
}

fn product(field: Field<u16>) -> Option<String> {
    field.get().map(|number| format!("{number:#06x}"))
}

fn size(field: Field<Bytes>) -> Option<u64> {
    field.get().map(|size| size.0)
}
