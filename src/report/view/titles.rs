//! Titles of sections and documents.

pub(crate) const AFTERWARDS: &str = "Afterwards";
pub(crate) const AS_LISTED: &str = "As the listing shows it";
pub(crate) const CAUTIONS: &str = "Before you open the machine";
pub(crate) const DIFFERS: &str = "What differs";
pub(crate) const EVERY_SLOT: &str = "Every slot";
pub(crate) const FASTER: &str = "What would make it faster";
pub(crate) const FOUND: &str = "What was found";
pub(crate) const LIMITS: &str = "What this listing cannot tell";
pub(crate) const LOST: &str = "Where it is lost";
pub(crate) const MODULES: &str = "What it is";
pub(crate) const NOTES: &str = "Noticed while reading";
pub(crate) const SOURCES: &str = "Sources";
pub(crate) const STEPS: &str = "Steps, in this order";
pub(crate) const STATED: &str = "Stated and detected";
pub(crate) const SUSPECTS: &str = "Suspects";
pub(crate) const TO_DO: &str = "What to do";
pub(crate) const TO_KNOW: &str = "To know";
pub(crate) const WASTED: &str = "No benefit";
pub(crate) const WHERE: &str = "Where it is";
pub(crate) const WORK_ORDER: &str = "Work order";
