//! The outputs of a fleet: one file for each, and [`OutputInfo`] for those that go to a file of their own.
//!
//! A run with one output:
//!
//! ```
//! use asfitted::fleet::{Fleet, Inputs, Limits, LoadedPlan, Manifest, Plans};
//! use asfitted::report::fleet::{FleetReport, HostView, HostsTable, Outputs};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! # let folder = tempfile::tempdir()?;
//! # let folder = folder.path();
//! # std::fs::write(folder.join("bay07.txt"), asfitted::demo::LISTING)?;
//! let plan = asfitted::plan::read("plan.yaml", asfitted::demo::PLAN)?;
//! let manifest = Manifest::read("manifest.csv", b"host,plan\nbay07,plan\n")?;
//! let plans = Plans::new(vec![LoadedPlan { plan, board: None }], manifest);
//!
//! let mut table = Vec::new();
//! let mut outputs = Outputs::default();
//! outputs.add(HostsTable::new(Box::new(&mut table))?);
//! let renderers = outputs.renderers();
//! let result = Fleet::new(&plans).run(
//!     Inputs::new(vec![folder.into()], &[], Limits::default()),
//!     |host| renderers.render(&HostView::new(host)),
//!     |_, rendered| outputs.write(rendered).unwrap(),
//! );
//! outputs.finish(&FleetReport::new(&result))?;
//! assert_eq!(result.summary.deviates, 1);
//! assert!(String::from_utf8(table)?.contains("bay07.txt,deviates,"));
//! # Ok(())
//! # }
//! ```

mod csv;
mod findings_table;
mod hosts_table;
mod json;
mod json_lines;
mod metrics;
mod output;
mod outputs;
mod result;
pub(in crate::report) mod row;
mod test_report;
mod text;
pub(in crate::report) mod view;

pub use findings_table::FindingsTable;
pub use hosts_table::HostsTable;
pub use json::{
    ChangesJson, FleetJson, HostsJson, KindJson, NameJson, NotAuditedJson, PatternJson, StockFindingJson,
    StockFindings, StockJson,
};
pub use json_lines::JsonLines;
pub use metrics::Metrics;
pub use output::{FleetOutput, HostView, Out, Outputs, Rendered, Renderer, Renderers, Scratch};
pub use outputs::{AddOutput, OUTPUTS, OutputInfo};
pub use result::{Changes, FleetReport};
pub use test_report::{TestCase, TestReport};
pub use text::SummaryText;
