//! Many machines: each listing finds its plan and is audited, on all cores, in a fixed order, with flat memory;
//! then every module is accounted for across hosts and stock.
//!
//! Nothing is printed here. What is made of each host is up to the caller, who gets the hosts in the order of the
//! input whatever the number of threads.

mod batches;
mod called;
mod decision;
mod decisions;
mod error;
mod examine;
mod host;
mod input;
mod ledger;
mod planned;
mod plans;
mod reconcile;
mod run;
mod seen;
mod serials;
mod stock;
mod summary;
mod table;

pub use decision::{ChangedDecision, Decision};
pub use error::{HostError, PlanError};
pub use host::{Audited, Host, HostFinding, HostModule, HostSummary, HostVerdict, NOT_AUDITED, short_name};
pub use input::{Content, Inputs, Item, Limits};
pub use ledger::Stock;
pub use plans::{LoadedPlan, Manifest, ManifestError, Plans};
pub use reconcile::Reconciled;
pub use run::{Fleet, FleetResult, cores};
pub use stock::{StockError, StockFinding, StockInfo, StockKind};
pub use summary::{Pattern, PatternKind, ProductFaults, ProductFirmware, Summary, Worst};
pub use table::UnclosedQuote;
