//! What a finding usually comes from, what to check next, and the least work that mends it.
//!
//! The patterns are the trade's (common practice, no source) except where a rule names one. A cause is never
//! more than likely: the evidence names slots, hands find reasons.

mod causes;
mod claim;
mod diagnosis;
mod guarded;
mod movements;
mod order;
mod persistent;
mod shortfall;
mod stated;
mod step;
mod suspects;
mod waterfall;
mod whereabouts;
mod work;

pub use causes::{
    Cause, CauseInfo, CauseKind, DiagnosisInput, Likelihood, causes, cautions, cautions_in_short,
    visible_loss,
};
pub use claim::FittedClaim;
pub use diagnosis::{Diagnosis, Explained, diagnose};
pub use guarded::holds_persistent;
pub use shortfall::{Shortfall, Suspected, assume};
pub use stated::{Agreement, Other, Stated};
pub use step::{Step, StepInfo, StepKind, movements, needs_hands, to_bring};
pub use suspects::{Suspicion, assumed_plan, missing, suspects};
pub use waterfall::{Stage, Station, StationInfo};
pub use work::work;
