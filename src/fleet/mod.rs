//! Many machines: each listing finds its plan and is audited, on all cores, in a fixed order, with flat memory;
//! then every module is accounted for across hosts and stock.
//!
//! Nothing is printed here. What is made of each host is up to the caller, who gets the hosts in the order of the
//! input whatever the number of threads.

mod input;
mod plans;
mod run;
mod serials;
mod stock;
mod summary;
mod table;

pub use input::{Content, Inputs, Item, Limits};
pub use plans::{LoadedPlan, Manifest, ManifestError, Plans};
pub use run::{Audited, Host, HostFinding, HostModule, HostSummary, HostVerdict, audit_all};
pub use serials::normal as normal_serial;
pub use stock::{Reconciled, Stock, StockError, StockFinding, StockInfo, StockKind};
pub use summary::{Pattern, PatternKind, ProductFaults, Summary, Worst};
pub use table::UnclosedQuote;
