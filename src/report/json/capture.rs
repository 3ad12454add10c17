//! The JSON of a capture that was taken.

use serde::Serialize;

use crate::capture::{Request, Taken};
use crate::evidence::CAPTURE_VERSION;

/// A capture, version 1.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "asfitted capture"))]
pub struct CaptureJson {
    /// Always `asfitted.capture`.
    pub format: &'static str,
    /// Version of the capture's text.
    pub version: u32,
    /// When it was taken: UTC, RFC 3339.
    pub taken: String,
    /// Whether serial numbers and the like were left out.
    pub redacted: bool,
    /// Whether the SMBIOS table is in it.
    pub has_table: bool,
    /// What could not be read, why, and what that hides.
    pub not_read: Vec<String>,
    /// The capture itself, as the text form writes it.
    pub text: String,
}

/// The JSON of a capture.
pub fn capture_json(taken: &Taken, request: &Request) -> CaptureJson {
    CaptureJson {
        format: "asfitted.capture",
        version: CAPTURE_VERSION,
        taken: request.taken.clone(),
        redacted: request.redact,
        has_table: taken.has_table,
        not_read: taken.not_read.clone(),
        text: taken.text.clone(),
    }
}
