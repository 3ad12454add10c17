//! Audits a listing against a plan and prints the result as JSON.
//!
//! ```sh
//! cargo run --example audit -- listing.txt plan.yaml
//! ```
//!
//! Without arguments it takes the built-in demo server.

use std::error::Error;
use std::fs;

use asfitted::audit::audit;
use asfitted::case::Case;
use asfitted::diagnose::diagnose;
use asfitted::evidence::Text;
use asfitted::{demo, plan, records, report};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (text, plan) = match arguments.as_slice() {
        [] => (
            Text::from_bytes(demo::LISTING_NAME, demo::LISTING.into())?,
            plan::read(demo::PLAN_NAME, demo::PLAN)?,
        ),
        [listing, plan] => (
            Text::from_bytes(listing.as_str(), fs::read(listing)?)?,
            plan::read(plan, &fs::read_to_string(plan)?)?,
        ),
        _ => return Err("expected a listing and a plan, or nothing for the demo".into()),
    };
    let listing = records::read_one(&text)?;
    let machine = Case::of(&text, &listing).plan(&plan);
    let case = machine.build()?;
    let audit = audit(&case);
    let diagnosis = diagnose(&case, &audit);
    serde_json::to_writer_pretty(std::io::stdout().lock(), &report::audit_json(&diagnosis))?;
    Ok(())
}
