//! The summary for a person.

use std::io::{self, Write};

use super::output::{FleetOutput, Out, Renderer};
use crate::audit::Severity;
use crate::base::words::plural;
use crate::fleet::{Decision, Pattern, StockKind, Summary};
use crate::report::fleet_report::FleetReport;
use crate::report::text::layout::{Layout, Page, Tone};
use crate::report::view::fleet::{
    BY_AUDIT, BY_STOCK, FIRMWARE, changed_decision, decisions, firmware_text, headline, outcomes,
    pattern_text, placeholders, stock_seen, without_serial,
};

/// The summary, written at the end and at once. Its styles are written always; `out` strips them where they do not
/// belong.
#[expect(missing_debug_implementations, reason = "what it writes to has none")]
pub struct SummaryText<'o> {
    out: Out<'o>,
}

impl<'o> SummaryText<'o> {
    /// Writes to `out`.
    pub fn new(out: Out<'o>) -> Self {
        Self { out }
    }
}

impl FleetOutput for SummaryText<'_> {
    type Rendered = ();

    fn renderer(&self) -> Renderer<()> {
        Box::new(|_| ())
    }

    fn write(&mut self, (): ()) -> io::Result<()> {
        Ok(())
    }

    fn finish(&mut self, report: &FleetReport<'_>) -> io::Result<()> {
        let mut text = Vec::new();
        write(report, &mut text)?;
        self.out.write_all(&text)?;
        self.out.flush()
    }
}

/// Names shown of a long list.
const SHOWN: usize = 20;

/// Writes the summary for a person.
///
/// # Errors
/// Those of `out`.
fn write(report: &FleetReport<'_>, out: &mut dyn Write) -> io::Result<()> {
    let summary = report.summary;
    let mut page = Page::new(Layout::default(), out);
    let headline = headline(report);
    page.text(0, 2, headline.mark.into(), &headline.in_capitals())?;
    for decided in decisions(report.stock) {
        count(&mut page, 0, decided.decision.word(), decided.count, &decided.text)?;
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, BY_AUDIT)?;
    for outcome in outcomes(summary) {
        count(&mut page, 2, outcome.word(), outcome.count, &outcome.text)?;
    }
    for plan in report.bad_plans {
        page.entry(0, "plan", plan)?;
    }
    write_changes(&mut page, report)?;
    write_kinds(&mut page, summary)?;
    write_worst(&mut page, summary)?;
    write_decided(&mut page, report)?;
    write_reasons(&mut page, summary)?;
    write_patterns(&mut page, &summary.patterns())?;
    write_firmware(&mut page, summary)?;
    write_stock(&mut page, report)
}

/// How many hosts a word is said of.
fn count(page: &mut Page<'_>, indent: usize, word: &str, count: usize, text: &str) -> io::Result<()> {
    const WORD: usize = 12;
    page.text(indent, indent + WORD, Tone::Plain, &format!("{word:<WORD$}{count} {text}"))
}

fn write_changes(page: &mut Page<'_>, report: &FleetReport<'_>) -> io::Result<()> {
    let Some(changes) = report.changes else { return Ok(()) };
    page.blank()?;
    page.text(0, 2, Tone::Heading, &format!("Changed since {}", changes.since))?;
    if changes.changed.is_empty() && changes.new.is_empty() && changes.gone.is_empty() {
        return page.text(2, 4, Tone::Plain, "nothing");
    }
    for (key, hosts) in [("changed", &changes.changed), ("new", &changes.new)] {
        for (name, verdict) in hosts.iter().take(SHOWN) {
            page.entry(2, key, &format!("{name}: {verdict}"))?;
        }
        more(page, key, hosts.len())?;
    }
    for name in changes.gone.iter().take(SHOWN) {
        page.entry(2, "gone", name)?;
    }
    more(page, "gone", changes.gone.len())
}

fn more(page: &mut Page<'_>, key: &str, count: usize) -> io::Result<()> {
    match count.checked_sub(SHOWN) {
        Some(rest @ 1..) => page.entry(2, key, &format!("and {rest} more")),
        _ => Ok(()),
    }
}

fn write_kinds(page: &mut Page<'_>, summary: &Summary) -> io::Result<()> {
    let kinds = summary.kinds();
    if kinds.is_empty() {
        return Ok(());
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "Findings by kind")?;
    for (kind, hosts, findings) in kinds {
        let text = format!("{:<16} {findings:>6} on {hosts} {}", kind.word(), plural(hosts, "host"));
        page.text(2, 4, Tone::Plain, &text)?;
    }
    Ok(())
}

fn write_worst(page: &mut Page<'_>, summary: &Summary) -> io::Result<()> {
    if summary.worst().is_empty() {
        return Ok(());
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "Worst first")?;
    for host in summary.worst() {
        let faults = format!("{} {}", host.faults, plural(host.faults, "fault"));
        page.text(2, 4, Tone::Bad, &format!("{}: {faults}", host.name))?;
        for finding in &host.findings {
            page.text(4, 6, Tone::Plain, finding)?;
        }
    }
    if let Some(rest @ 1..) = summary.deviates.checked_sub(summary.worst().len()) {
        page.text(2, 4, Tone::Plain, &format!("and {rest} more that deviate"))?;
    }
    Ok(())
}

/// Hosts on which the stock decides otherwise than their audit.
fn write_decided(page: &mut Page<'_>, report: &FleetReport<'_>) -> io::Result<()> {
    let mut changed = report.stock.changed_decisions().peekable();
    if changed.peek().is_none() {
        return Ok(());
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, BY_STOCK)?;
    for changed in changed.by_ref().take(SHOWN) {
        let tone = if changed.decision == Decision::Hold { Tone::Bad } else { Tone::Doubt };
        page.text(2, 4, tone, &changed_decision(&changed))?;
    }
    match changed.count() {
        0 => Ok(()),
        rest => page.text(2, 4, Tone::Plain, &format!("and {rest} more (--hosts-table has all)")),
    }
}

fn write_reasons(page: &mut Page<'_>, summary: &Summary) -> io::Result<()> {
    if summary.not_done == 0 {
        return Ok(());
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "Not audited")?;
    let reasons = summary.reasons();
    for (reason, count, names) in reasons.iter().take(SHOWN) {
        let rest = count - names.len();
        let more = if rest > 0 { format!(" and {rest} more") } else { String::new() };
        page.text(2, 4, Tone::Doubt, &format!("{}{more}", names.join(", ")))?;
        page.text(4, 6, Tone::Plain, reason)?;
    }
    if let Some(rest @ 1..) = reasons.len().checked_sub(SHOWN) {
        page.text(2, 4, Tone::Plain, &format!("and {rest} more reasons (--hosts-table has all)"))?;
    }
    Ok(())
}

fn write_patterns(page: &mut Page<'_>, patterns: &[Pattern]) -> io::Result<()> {
    if patterns.is_empty() {
        return Ok(());
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "What machines have in common")?;
    for pattern in patterns.iter().take(SHOWN) {
        page.text(2, 4, Tone::Plain, &format!("- {}", pattern_text(pattern)))?;
    }
    Ok(())
}

/// Products whose machines do not all run one version are named first.
fn write_firmware(page: &mut Page<'_>, summary: &Summary) -> io::Result<()> {
    let mut products = summary.firmware();
    if products.is_empty() {
        return Ok(());
    }
    products.sort_by_key(|product| product.versions.len() < 2);
    page.blank()?;
    page.text(0, 2, Tone::Heading, FIRMWARE)?;
    for product in products.iter().take(SHOWN) {
        page.text(2, 4, Tone::Plain, &firmware_text(product))?;
    }
    match products.len().checked_sub(SHOWN) {
        Some(rest @ 1..) => {
            page.text(2, 4, Tone::Plain, &format!("and {rest} more products (--format json has all)"))
        }
        _ => Ok(()),
    }
}

fn write_stock(page: &mut Page<'_>, report: &FleetReport<'_>) -> io::Result<()> {
    let stock = report.stock;
    if !stock.is_given() && stock.is_empty() {
        return Ok(());
    }
    page.blank()?;
    page.text(0, 2, Tone::Heading, "Every module")?;
    if stock.is_given() {
        page.entry(2, "stock", &stock_seen(stock))?;
        if let Some(text) = placeholders(stock) {
            page.entry(2, "", &text)?;
        }
    }
    if let Some(text) = without_serial(stock) {
        page.entry(2, "unproven", &text)?;
    }
    for kind in StockKind::ALL.iter().copied() {
        let count = stock.count(kind);
        if count == 0 {
            continue;
        }
        let tone = if kind.severity() == Severity::Fault { Tone::Bad } else { Tone::Doubt };
        page.text(2, 4, tone, &format!("{} ({}): {count}", kind.word(), kind.severity().word()))?;
        let (sentences, rest) = stock.sentences(kind, SHOWN);
        for sentence in sentences {
            page.text(4, 6, Tone::Plain, &sentence)?;
        }
        if rest > 0 {
            page.text(4, 6, Tone::Plain, &format!("and {rest} more (--format json has all)"))?;
        }
    }
    Ok(())
}
