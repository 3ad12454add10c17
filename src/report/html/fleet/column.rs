//! A column of a table whose rows the page's script makes.

/// The head of a column.
#[derive(Debug, Clone, Copy)]
pub(super) struct Column {
    /// The key by which the script finds the cell in a row.
    pub(super) key: &'static str,
    /// What people read.
    pub(super) heading: &'static str,
    pub(super) is_number: bool,
}
