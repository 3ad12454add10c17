//! Reading pages.

use scraper::{ElementRef, Html, Selector};

pub fn select(selector: &str) -> Selector {
    Selector::parse(selector).unwrap()
}

pub fn text_of(element: ElementRef<'_>) -> String {
    element.text().collect::<String>().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The texts of a row's cells.
pub fn cells(row: ElementRef<'_>) -> Vec<String> {
    row.select(&select("th, td")).map(text_of).collect()
}

pub fn all<'h>(html: &'h Html, selector: &str) -> Vec<ElementRef<'h>> {
    html.select(&select(selector)).collect()
}
