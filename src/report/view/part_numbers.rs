//! What is said of part numbers.

use super::facts::Fact;
use crate::base::words::comma_list;
use crate::identity::{Certainty, CodeField, Coded, Document, Known};
use crate::report::{PartReport, documents_of};

/// What is said of one part number.
#[derive(Debug)]
pub(crate) struct PartView<'r> {
    pub(crate) part: &'r str,
    /// The module in one line, or why nothing is said of it.
    pub(crate) module: String,
    /// Whether a layout is known.
    pub(crate) is_read: bool,
    /// Whose layout it is, how sure the module's properties are, and its codes.
    pub(crate) facts: Vec<Fact>,
    pub(crate) codes: Vec<CodeView<'r>>,
}

/// What is said of one code.
#[derive(Debug)]
pub(crate) struct CodeView<'r> {
    pub(crate) field: &'static str,
    pub(crate) code: &'r str,
    /// Its meaning with its source.
    pub(crate) text: String,
}

impl<'r> PartView<'r> {
    pub(crate) fn new(report: &'r PartReport) -> Self {
        let part = report.part.as_str();
        let Some(read) = &report.read else {
            let module = "no known layout fits: read its sticker or its SPD contents".to_owned();
            return Self { part, module, is_read: false, facts: Vec::new(), codes: Vec::new() };
        };
        let mut facts = vec![Fact::new("layout", format!("{} ({})", read.layout, read.maker))];
        if read.text != part {
            facts.push(Fact::new("as text", read.text.as_str()));
        }
        let unsure = unsure(&read.module);
        if !unsure.is_empty() {
            facts.push(Fact::new("informs", format!("{}: proves nothing by itself", comma_list(unsure))));
        }
        let codes = read.fields.iter().map(code).collect();
        Self { part, module: describe(&read.module), is_read: true, facts, codes }
    }
}

/// The documents that explain the codes, in a line each.
pub(crate) fn sources(reports: &[PartReport]) -> Vec<String> {
    let line = |document: &Document| {
        let edition =
            if document.edition.is_empty() { String::new() } else { format!(", {}", document.edition) };
        format!("{}: {}{edition}", document.key, document.title)
    };
    documents_of(reports).into_iter().map(line).collect()
}

fn code(field: &CodeField) -> CodeView<'_> {
    let source = match field.certainty {
        None => "",
        Some(Certainty::Memory) => " [from memory, unverified]",
        Some(_) => &format!(" [{}]", field.source),
    };
    let meaning = match (field.certainty, field.meaning.as_str()) {
        (None, _) => "not explained",
        (Some(_), "") => "no property of the module",
        (Some(_), meaning) => meaning,
    };
    CodeView { field: field.field, code: &field.code, text: format!("{meaning}{source}") }
}

/// `32 GiB 2Rx4, DDR4, RDIMM, rated 2666 MT/s, 1.2 V`.
fn describe(module: &Coded) -> String {
    let ranks = module.ranks.map(|ranks| format!("{}R", ranks.value));
    let width = module.width.map(|width| format!("x{}", width.value));
    let size = module.size.map(|size| size.value.to_string());
    let organisation = [ranks, width].into_iter().flatten().collect::<String>();
    let first = [size.unwrap_or_default(), organisation].join(" ").trim().to_owned();
    let rest = [
        module.generation.map(|generation| generation.value.name().to_owned()),
        module.kind.map(|kind| kind.value.to_string()),
        module.rated.map(|rate| format!("rated {}", rate.value)),
        module.voltage.map(|voltage| voltage.value.to_string()),
        module.persistent.then(|| "persistent".to_owned()),
    ];
    comma_list([Some(first).filter(|first| !first.is_empty())].into_iter().chain(rest).flatten())
}

/// The properties that are inferred or remembered.
fn unsure(module: &Coded) -> Vec<&'static str> {
    fn open<T>(known: Option<Known<T>>) -> bool {
        known.is_some_and(|known| !known.certainty.binds())
    }
    [
        ("generation", open(module.generation)),
        ("kind", open(module.kind)),
        ("size", open(module.size)),
        ("ranks", open(module.ranks)),
        ("width", open(module.width)),
        ("rated speed", open(module.rated)),
        ("voltage", open(module.voltage)),
    ]
    .into_iter()
    .filter_map(|(word, open)| open.then_some(word))
    .collect()
}
