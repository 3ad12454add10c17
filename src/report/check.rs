//! Both forms of a plan check.

use std::io::{self, Write};

use serde::Serialize;

use super::audit_json::{BoardJson, FindingJson, PlanJson, plain_finding, plan_json};
use super::layout::{Page, Tone};
use crate::audit::{Severity, Verdict};
use crate::board::{Board, ExpectedSpeed, LimitKind, Prediction};
use crate::check::PlanCheck;
use crate::plan::Plan;

/// One plan check, version 1.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "asfitted plan check"))]
pub struct PlanCheckJson {
    /// Always `asfitted.plan-check`.
    pub format: &'static str,
    /// Version of the format.
    pub version: u32,
    /// The plan.
    pub plan: PlanJson,
    /// The board.
    pub board: BoardJson,
    /// `as-planned` if no rule is broken, else `deviates`.
    pub verdict: &'static str,
    /// What to expect.
    pub expectation: ExpectationJson,
    /// What the operating system sees in the plan's mode, in bytes.
    pub visible_bytes: Option<u64>,
    /// Broken rules.
    pub findings: Vec<FindingJson>,
    /// Where money is spent for nothing.
    pub wasted: Vec<String>,
}

/// What to expect of a fitting.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ExpectationJson {
    /// Total; null where a module has no size.
    pub total_bytes: Option<u64>,
    /// The speed below which something is wrong, in MT/s; null where the rules do not cover the fitting.
    pub least_mts: Option<u32>,
    /// The most to expect, in MT/s.
    pub most_mts: Option<u32>,
    /// All limits, the tightest first.
    pub limits: Vec<LimitJson>,
    /// Peak bandwidth per socket.
    pub bandwidth: Vec<BandwidthJson>,
    /// `balanced`, `near-balanced` or `uneven`.
    pub evenness: &'static str,
    /// Changes that would let it run faster.
    pub lifts: Vec<RaiseJson>,
    /// Things to know that decide nothing.
    pub notes: Vec<String>,
}

/// One limit on the speed.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LimitJson {
    /// `rating`, `processor` or `population`.
    pub limit: &'static str,
    /// The lowest value a source gives, in MT/s.
    pub low_mts: u32,
    /// The highest value a source gives, in MT/s.
    pub high_mts: u32,
    /// The limit in words.
    pub text: String,
    /// Slots it comes from.
    pub slots: Vec<String>,
    /// Its sources.
    pub sources: Vec<String>,
}

/// Peak bandwidth of one socket.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct BandwidthJson {
    /// The socket.
    pub socket: u16,
    /// Channels in use × MT/s × 8 bytes, in MB/s.
    pub peak_mb_per_s: u32,
}

/// One change that lifts the speed.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct RaiseJson {
    /// What to change.
    pub text: String,
    /// The speed then, in MT/s.
    pub speed_mts: u32,
    /// Memory that it costs, in bytes.
    pub lost_bytes: u64,
}

pub(super) fn expectation_json(
    board: &Board,
    prediction: &Prediction,
    lifts: &[crate::board::Raise],
) -> ExpectationJson {
    ExpectationJson {
        total_bytes: prediction.total.map(|size| size.0),
        least_mts: prediction.speed.least().map(|rate| rate.0),
        most_mts: prediction.speed.most().map(|rate| rate.0),
        limits: prediction
            .limits
            .iter()
            .map(|limit| LimitJson {
                limit: limit.kind.word(),
                low_mts: limit.low.0,
                high_mts: limit.high.0,
                text: limit.text.clone(),
                slots: limit.slots.clone(),
                sources: limit.sources.iter().map(|source| board.source_text(source)).collect(),
            })
            .collect(),
        bandwidth: prediction
            .peak_mb_per_s
            .iter()
            .map(|(socket, peak)| BandwidthJson { socket: *socket, peak_mb_per_s: *peak })
            .collect(),
        evenness: prediction.balance.word(),
        lifts: lifts
            .iter()
            .map(|lift| RaiseJson {
                text: lift.text.clone(),
                speed_mts: lift.speed.0,
                lost_bytes: lift.lost.0,
            })
            .collect(),
        notes: prediction.notes.clone(),
    }
}

/// The JSON form of a plan check.
pub fn plan_check_json(plan: &Plan, board: &Board, check: &PlanCheck) -> PlanCheckJson {
    PlanCheckJson {
        format: "asfitted.plan-check",
        version: 1,
        plan: plan_json(plan),
        board: BoardJson { name: board.name.clone() },
        verdict: check.verdict.word(),
        expectation: expectation_json(board, &check.prediction, &check.raises),
        visible_bytes: check.visible.map(|size| size.0),
        findings: check.findings.iter().map(plain_finding).collect(),
        wasted: check.wasted.clone(),
    }
}

/// Writes a plan check for a person.
///
/// # Errors
/// Those of `out`.
pub fn write_plan_check(
    plan: &Plan,
    board: &Board,
    check: &PlanCheck,
    out: &mut dyn Write,
) -> io::Result<()> {
    let mut page = Page::new(out);
    let (tone, verdict) = match check.verdict {
        Verdict::Deviates => (Tone::Bad, "THE PLAN BREAKS RULES OF THE BOARD"),
        _ => (Tone::Good, "THE PLAN KEEPS THE RULES OF THE BOARD"),
    };
    page.text(0, 2, tone, verdict)?;
    page.entry(0, "plan", plan.name.as_deref().unwrap_or(&plan.source))?;
    page.entry(0, "board", &board.name)?;
    write_expectation(&mut page, board, &check.prediction)?;
    if let (Some(mode), Some(visible)) = (&plan.mode, check.visible) {
        page.entry(0, "visible", &format!("{visible} with {mode}"))?;
    }
    for (number, finding) in check.findings.iter().enumerate() {
        let tone = if finding.severity() == Severity::Fault { Tone::Bad } else { Tone::Doubt };
        page.blank()?;
        let head = format!(
            "{:>2}  {} ({})  {}",
            number + 1,
            finding.kind.word(),
            finding.severity().word(),
            finding.summary
        );
        page.text(0, 4, tone, &head)?;
        page.entry(4, "rule", &finding.expected)?;
        page.entry(4, "planned", &finding.found)?;
    }
    let advice: Vec<String> = check
        .raises
        .iter()
        .map(|lift| {
            let cost = if lift.lost.0 > 0 { format!(", {} less", lift.lost) } else { String::new() };
            format!("{}: {} instead{cost}", lift.text, lift.speed)
        })
        .collect();
    for (title, lines) in [
        ("What would make it faster", &advice),
        ("What brings nothing", &check.wasted),
        ("To know", &check.prediction.notes),
    ] {
        if !lines.is_empty() {
            page.blank()?;
            page.text(0, 2, Tone::Heading, title)?;
        }
        for line in lines {
            page.text(2, 4, Tone::Plain, &format!("- {line}"))?;
        }
    }
    Ok(())
}

/// Total, speed with its limits, bandwidth and evenness.
pub(super) fn write_expectation(
    page: &mut Page<'_>,
    board: &Board,
    prediction: &Prediction,
) -> io::Result<()> {
    if let Some(total) = prediction.total {
        page.entry(0, "total", &total.to_string())?;
    }
    let speed = match prediction.speed {
        ExpectedSpeed::Known { low, high } if low == high => format!("{high} to be expected"),
        ExpectedSpeed::Known { low, high } => {
            format!("{} to {high} to be expected; the sources disagree", low.0)
        }
        ExpectedSpeed::AtMost(high) => format!("at most {high}; the rules do not cover all of it"),
        ExpectedSpeed::Unknown => "not covered by the rules".to_owned(),
    };
    page.entry(0, "speed", &speed)?;
    for limit in &prediction.limits {
        let sources: Vec<String> = limit.sources.iter().map(|source| board.source_text(source)).collect();
        let sources = if sources.is_empty() { String::new() } else { format!(" [{}]", sources.join("; ")) };
        let kind = match limit.kind {
            LimitKind::Rating => "rating",
            LimitKind::Processor => "processor",
            LimitKind::Population => "channels",
        };
        page.entry(2, kind, &format!("{}{sources}", limit.text))?;
    }
    for (socket, peak) in &prediction.peak_mb_per_s {
        let text = format!("{}.{} GB/s peak on socket {socket}", peak / 1000, peak % 1000 / 100);
        page.entry(0, "bandwidth", &text)?;
    }
    page.entry(0, "spread", prediction.balance.word())
}
