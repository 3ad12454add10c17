//! What a maker's part number says of a module.
//!
//! Makers compose part numbers of codes: `M393A4K40CB2-CTD` is a registered DDR4 module of 32 GiB, and says so in its
//! digits. Which codes there are, and what they mean, is in `data/`; here they are looked up, and what follows from
//! several of them is worked out.

mod arithmetic;
mod statement;
mod table;

use crate::enums::MemoryType;
use crate::units::{Bytes, Millivolts, TransferRate};

use super::{ModuleKind, text_of_bytes};
use statement::{Statement, Statements};
use table::{Layout, layouts};

pub use table::{Document, documents};

table! {
    /// How sure it is what a code means, the surest first.
    pub enum Certainty {
        /// The maker publishes it.
        Published = "published",
        /// Dealers' lists, labels and transcriptions say it.
        Secondary = "secondary",
        /// It holds for all modules seen in real listings.
        Inferred = "inferred",
        /// From memory, unverified.
        Memory = "memory",
    }
}

impl Certainty {
    /// Whether it may make or clear a fault; what is inferred or remembered informs only.
    pub fn binds(self) -> bool {
        self <= Self::Secondary
    }
}

/// A property with how sure it is: as sure as the weakest of what it follows from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Known<T> {
    /// The value.
    pub value: T,
    /// How sure it is.
    pub certainty: Certainty,
}

/// What a part number says of its module; `None` where it does not say it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Coded {
    /// Generation.
    pub generation: Option<Known<MemoryType>>,
    /// Kind.
    pub kind: Option<Known<ModuleKind>>,
    /// Size; for persistent modules the nominal one, above what a listing states.
    pub size: Option<Known<Bytes>>,
    /// Ranks of the chips; the buffer of an LRDIMM may show fewer to the machine.
    pub ranks: Option<Known<u8>>,
    /// Data lines per chip: 4, 8 or 16.
    pub width: Option<Known<u8>>,
    /// Rated speed.
    pub rated: Option<Known<TransferRate>>,
    /// The lowest voltage it is made for.
    pub voltage: Option<Known<Millivolts>>,
    /// Whether it has check bits.
    pub ecc: Option<Known<bool>>,
    /// Whether it keeps its contents without power.
    pub persistent: bool,
}

/// One code in a part number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CodeField {
    /// Which field of the number it is.
    pub field: &'static str,
    /// The code.
    pub code: String,
    /// What it means, in words; empty where no row explains it.
    pub meaning: String,
    /// The documents that say so, by their keys; empty where it is from memory.
    pub source: String,
    /// How sure it is.
    pub certainty: Option<Certainty>,
}

/// A part number that is composed as a known layout says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartNumber {
    /// The number without padding, and as text where it was printed as the codes of its characters.
    pub text: String,
    /// Whose layout it is.
    pub maker: &'static str,
    /// Name of the layout.
    pub layout: &'static str,
    /// Its codes, in the order of the number.
    pub fields: Vec<CodeField>,
    /// What they say of the module.
    pub module: Coded,
}

/// Reads a part number as printed, in any case of letters; `None` where no known layout fits.
pub fn part_number(printed: &str) -> Option<PartNumber> {
    let text = plain(printed);
    // What follows a blank is a lot or a customer's code.
    let number = text.split_whitespace().next()?.to_ascii_uppercase();
    let (layout, captures) =
        layouts().iter().find_map(|layout| Some((layout, layout.pattern.captures(&number)?)))?;
    let mut statements = Statements::default();
    statements.add(&layout.says, "", layout.certainty);
    let mut fields = Vec::new();
    for field in layout.pattern.capture_names().flatten() {
        let Some(code) = captures.name(field) else { continue };
        let code = code.as_str();
        let read = read_code(layout, field, code, &mut statements);
        if !code.is_empty() {
            fields.push(read);
        }
    }
    Some(PartNumber {
        module: arithmetic::module(&statements),
        text,
        maker: &layout.maker,
        layout: &layout.name,
        fields,
    })
}

/// Looks one code up, and adds what it says to `statements`.
fn read_code(
    layout: &'static Layout,
    field: &'static str,
    code: &str,
    statements: &mut Statements,
) -> CodeField {
    let mut read = CodeField {
        field,
        code: code.to_owned(),
        meaning: String::new(),
        source: String::new(),
        certainty: None,
    };
    let mut meanings: Vec<String> = Vec::new();
    for row in layout.rows(field, code) {
        statements.add(&row.says, code, row.certainty);
        let says = row.says.split(' ').filter_map(|says| Statement::read(says, code));
        meanings.extend(says.map(|says| says.to_string()).filter(|words| !words.is_empty()));
        meanings.extend((!row.note.is_empty()).then(|| row.note.clone()));
        if read.certainty.is_none() {
            (read.certainty, read.source) = (Some(row.certainty), row.source.clone());
        }
    }
    meanings.dedup();
    read.meaning = meanings.join(", ");
    read
}

/// The number without padding. Some firmware prints its bytes in place of it: `0x4D33…` is `M3…`.
fn plain(printed: &str) -> String {
    let trimmed = printed.trim_matches(|c: char| c.is_whitespace() || c == '\0' || c == '\u{ff}');
    text_of_bytes(trimmed).unwrap_or_else(|| trimmed.to_owned())
}

#[cfg(test)]
mod tests;
