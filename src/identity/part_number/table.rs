//! The tables of layouts and codes.

use std::collections::HashMap;
use std::sync::OnceLock;

use csv::{ReaderBuilder, StringRecord};
use regex::Regex;

use super::Certainty;

/// How makers compose part numbers.
pub(super) const LAYOUTS: &str = include_str!("../data/layouts.csv");
/// What the codes say.
pub(super) const CODES: &str = include_str!("../data/codes.csv");

const SOURCES: &str = include_str!("../data/sources.csv");

/// How one maker composes part numbers.
#[derive(Debug)]
pub(super) struct Layout {
    pub(super) name: String,
    pub(super) maker: String,
    /// Matches whole numbers; its named groups are the fields.
    pub(super) pattern: Regex,
    /// What every number of the layout says.
    pub(super) says: String,
    pub(super) certainty: Certainty,
    /// By field.
    codes: HashMap<String, Vec<Row>>,
}

/// What a code says.
#[derive(Debug, Clone)]
pub(super) struct Row {
    /// `*` for any code.
    code: String,
    pub(super) says: String,
    pub(super) note: String,
    pub(super) source: String,
    pub(super) certainty: Certainty,
}

impl Layout {
    /// The rows for a code of a field.
    pub(super) fn rows<'s>(&'s self, field: &str, code: &'s str) -> impl Iterator<Item = &'s Row> {
        let rows = self.codes.get(field).into_iter().flatten();
        rows.filter(move |row| row.code == code || row.code == "*" && !code.is_empty())
    }
}

/// The layouts with their codes, read once.
pub(super) fn layouts() -> &'static [Layout] {
    static READ: OnceLock<Vec<Layout>> = OnceLock::new();
    READ.get_or_init(|| {
        // A test reads every row, so that none is left out here.
        let mut layouts: Vec<Layout> = records(LAYOUTS).filter_map(|row| layout(&row)).collect();
        for record in records(CODES) {
            let Some((of, field, codes, row)) = code(&record) else { continue };
            for layout in layouts.iter_mut().filter(|layout| of.split(' ').any(|name| name == layout.name)) {
                let own = layout.codes.entry(field.to_owned()).or_default();
                own.extend(codes.split('|').map(|code| Row { code: code.to_owned(), ..row.clone() }));
            }
        }
        layouts
    })
}

/// A document that rows name by its key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Document {
    /// Its key.
    pub key: String,
    /// Its title.
    pub title: String,
    /// Its edition or date; empty where it has none.
    pub edition: String,
    /// Where it was read.
    pub address: String,
}

/// The documents among `sources`, which are keys and words separated by semicolons.
pub fn documents(sources: &str) -> impl Iterator<Item = &'static Document> {
    static READ: OnceLock<Vec<Document>> = OnceLock::new();
    let all = READ.get_or_init(|| {
        let cell = |row: &StringRecord, at: usize| row.get(at).unwrap_or_default().to_owned();
        let document = |row: StringRecord| Document {
            key: cell(&row, 0),
            title: cell(&row, 1),
            edition: cell(&row, 2),
            address: cell(&row, 3),
        };
        records(SOURCES).map(document).collect()
    });
    sources.split([';', ',']).filter_map(|key| all.iter().find(|document| document.key == key.trim()))
}

/// The rows of a table.
pub(super) fn records(table: &'static str) -> impl Iterator<Item = StringRecord> {
    ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(table.as_bytes())
        .into_records()
        .filter_map(Result::ok)
}

pub(super) fn layout(row: &StringRecord) -> Option<Layout> {
    let cell = |at: usize| row.get(at);
    Some(Layout {
        name: cell(0)?.to_owned(),
        maker: cell(1)?.to_owned(),
        pattern: Regex::new(&format!("^(?:{})$", cell(2)?)).ok()?,
        says: cell(3)?.to_owned(),
        certainty: certainty(cell(6)?)?,
        codes: HashMap::new(),
    })
}

/// The layouts that a row is for, its field, its codes, and the row.
pub(super) fn code(record: &StringRecord) -> Option<(&str, &str, &str, Row)> {
    let row = Row {
        code: String::new(),
        says: record.get(3)?.to_owned(),
        note: record.get(4)?.to_owned(),
        source: record.get(5)?.to_owned(),
        certainty: certainty(record.get(6)?)?,
    };
    Some((record.get(0)?, record.get(1)?, record.get(2)?, row))
}

fn certainty(word: &str) -> Option<Certainty> {
    Certainty::WORDS.iter().find(|(_, own)| *own == word).map(|(certainty, _)| *certainty)
}
