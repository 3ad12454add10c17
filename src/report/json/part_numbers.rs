//! Part numbers as JSON.

use serde::Serialize;

use super::parts::ModuleJson;
use crate::identity::{Certainty, Coded, Document, Known, PartNumber};
use crate::report::{PartReport, documents_of};

/// What part numbers say.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PartsJson {
    /// `asfitted.parts`.
    pub format: &'static str,
    /// Version of the format.
    pub version: u32,
    /// The part numbers, in the order in which they were given.
    pub parts: Vec<PartJson>,
    /// The documents that the codes' sources name.
    pub sources: Vec<SourceJson>,
}

/// A document.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SourceJson {
    /// Its key.
    pub key: &'static str,
    /// Its title.
    pub title: &'static str,
    /// Its edition or date.
    pub edition: &'static str,
    /// Where it was read.
    pub address: &'static str,
}

/// One part number.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PartJson {
    /// The number as it was given.
    pub part: String,
    /// What it says of the module; null where no known layout fits.
    pub module: Option<ModuleJson>,
    /// How sure each of these is: `published`, `secondary`, `inferred` or `memory`.
    pub certainty: PartCertaintyJson,
    /// Check bits; null where the number does not say.
    pub ecc: Option<bool>,
    /// Whether it keeps its contents without power.
    pub persistent: bool,
    /// Name of the layout; null where none fits.
    pub layout: Option<String>,
    /// Its codes in the order of the number.
    pub fields: Vec<PartFieldJson>,
}

/// How sure the properties are; null where they are not known.
#[derive(Debug, Default, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PartCertaintyJson {
    /// Of the generation.
    #[serde(rename = "type")]
    pub memory_type: Option<&'static str>,
    /// Of the kind.
    pub kind: Option<&'static str>,
    /// Of the size.
    pub size: Option<&'static str>,
    /// Of the ranks.
    pub ranks: Option<&'static str>,
    /// Of the chip width.
    pub width: Option<&'static str>,
    /// Of the rated speed.
    pub rated: Option<&'static str>,
    /// Of the voltage.
    pub voltage: Option<&'static str>,
    /// Of the check bits.
    pub ecc: Option<&'static str>,
}

/// One code.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PartFieldJson {
    /// Which field of the number.
    pub field: String,
    /// The code.
    pub code: String,
    /// What it means; null where it says nothing of the module, or is not known.
    pub meaning: Option<String>,
    /// The documents that say so; null where there is none.
    pub source: Option<String>,
    /// How sure it is; null where the code is not known.
    pub certainty: Option<&'static str>,
}

/// Part numbers for machines.
pub fn parts_json(reports: &[PartReport]) -> PartsJson {
    let source = |Document { key, title, edition, address }: &'static Document| SourceJson {
        key,
        title,
        edition,
        address,
    };
    let sources = documents_of(reports).into_iter().map(source).collect();
    PartsJson { format: "asfitted.parts", version: 1, parts: reports.iter().map(part).collect(), sources }
}

fn part(report: &PartReport) -> PartJson {
    let read = report.read.as_ref();
    let coded = read.map(|read| &read.module);
    PartJson {
        part: report.part.clone(),
        module: read.map(module),
        certainty: coded.map(certainty).unwrap_or_default(),
        ecc: coded.and_then(|coded| coded.ecc).map(|ecc| ecc.value),
        persistent: coded.is_some_and(|coded| coded.persistent),
        layout: read.map(|read| read.layout.to_owned()),
        fields: read
            .into_iter()
            .flat_map(|read| &read.fields)
            .map(|field| {
                let stated = |text: &String| (!text.is_empty()).then(|| text.clone());
                PartFieldJson {
                    field: field.field.to_owned(),
                    code: field.code.clone(),
                    meaning: stated(&field.meaning),
                    source: stated(&field.source),
                    certainty: field.certainty.map(Certainty::word),
                }
            })
            .collect(),
    }
}

fn module(read: &PartNumber) -> ModuleJson {
    let coded = &read.module;
    ModuleJson {
        size_bytes: coded.size.map(|size| size.value.0),
        memory_type: coded.generation.map(|generation| generation.value.name().to_owned()),
        kind: coded.kind.map(|kind| kind.value.word().to_owned()),
        ranks: coded.ranks.map(|ranks| ranks.value),
        width: coded.width.map(|width| width.value),
        rated_mts: coded.rated.map(|rate| rate.value.0),
        configured_mts: None,
        voltage_mv: coded.voltage.map(|voltage| voltage.value.0),
        maker: Some(read.maker.to_owned()),
        part: Some(read.text.clone()),
        serial: None,
    }
}

fn certainty(coded: &Coded) -> PartCertaintyJson {
    fn word<T>(known: Option<Known<T>>) -> Option<&'static str> {
        known.map(|known| known.certainty.word())
    }
    PartCertaintyJson {
        memory_type: word(coded.generation),
        kind: word(coded.kind),
        size: word(coded.size),
        ranks: word(coded.ranks),
        width: word(coded.width),
        rated: word(coded.rated),
        voltage: word(coded.voltage),
        ecc: word(coded.ecc),
    }
}
