//! A test report (JUnit XML): a case for each host, for each module that is not where it should be or may not be, and
//! for each plan that cannot be read.

use std::fmt::Write as _;
use std::io::{self, BufWriter, Write as _};

use super::output::{FleetOutput, Out, Renderer, Scratch};
use super::waiting::{Decided, Piece, Pieces, Waiting};
use crate::audit::{Severity, Verdict};
use crate::fleet::{Decision, Host, HostError, HostVerdict, Reconciled};
use crate::report::fleet_report::FleetReport;
use crate::sanitize::sanitize;

/// How a case ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ending {
    Passed,
    Failed,
    /// Neither passed nor failed.
    Skipped,
    /// There was no test.
    NotDone,
}

impl Ending {
    const ALL: [Self; 4] = [Self::Passed, Self::Failed, Self::Skipped, Self::NotDone];

    /// Its element in the case.
    fn element(self) -> &'static str {
        match self {
            Self::Passed => "",
            Self::Failed => "failure",
            Self::Skipped => "skipped",
            Self::NotDone => "error",
        }
    }
}

/// A case, as it is written.
#[derive(Debug)]
struct TestCase {
    xml: String,
    ending: Ending,
}

/// How many cases there are.
#[derive(Debug, Clone, Copy, Default)]
struct Counts {
    cases: usize,
    failures: usize,
    errors: usize,
    skipped: usize,
}

impl Counts {
    fn add(&mut self, ending: Ending) {
        self.cases += 1;
        match ending {
            Ending::Passed => {}
            Ending::Failed => self.failures += 1,
            Ending::Skipped => self.skipped += 1,
            Ending::NotDone => self.errors += 1,
        }
    }
}

/// The test report. Its head counts the cases, and a host passes only if the stock says so too; so that cases wait
/// until all are known.
#[expect(missing_debug_implementations, reason = "what it writes to has none")]
pub struct TestReport<'o> {
    out: Out<'o>,
    hosts: Waiting,
    /// Where cases wait that are decided.
    cases: Box<dyn Scratch>,
}

impl<'o> TestReport<'o> {
    /// Writes to `out` in the end; until then cases wait in `scratch`.
    ///
    /// # Errors
    /// Those of `scratch`.
    pub fn new(out: Out<'o>, scratch: &dyn Fn() -> io::Result<Box<dyn Scratch>>) -> io::Result<Self> {
        Ok(Self { out, hosts: Waiting::new(scratch()?), cases: scratch()? })
    }
}

impl FleetOutput for TestReport<'_> {
    type Rendered = Pieces;

    fn renderer(&self) -> Renderer<Pieces> {
        Box::new(|host| {
            let TestCase { xml, ending } = host_case(host.host);
            Pieces::new(host.host, vec![Piece { before: xml.into_bytes(), after: vec![ending as u8] }])
        })
    }

    fn write(&mut self, case: Pieces) -> io::Result<()> {
        self.hosts.add(&case)
    }

    fn finish(&mut self, report: &FleetReport<'_>) -> io::Result<()> {
        let mut counts = Counts::default();
        let mut cases = BufWriter::new(&mut self.cases);
        self.hosts.decide(report.stock, |host| {
            let (ending, changed) = decided_case(host, report.stock);
            counts.add(ending);
            cases.write_all(changed.as_ref().map_or(host.before, |case| case.xml.as_bytes()))
        })?;
        for case in stock_cases(report).chain(plan_cases(report)) {
            counts.add(case.ending);
            cases.write_all(case.xml.as_bytes())?;
        }
        cases.flush()?;
        drop(cases);
        self.cases.rewind()?;
        self.out.write_all(head(counts).as_bytes())?;
        io::copy(&mut self.cases, &mut self.out)?;
        self.out.write_all(b"  </testsuite>\n</testsuites>\n")?;
        self.out.flush()
    }
}

/// How a host's case ends, and the case in its place where the stock changes how it ends. A host that was not
/// audited stays an error, whatever the stock says.
fn decided_case(host: &Decided<'_>, stock: &Reconciled) -> (Ending, Option<TestCase>) {
    let ending = host.after.first().and_then(|ending| Ending::ALL.get(usize::from(*ending)));
    let ending = ending.copied().unwrap_or(Ending::NotDone);
    if host.decision == host.by_audit || ending == Ending::NotDone {
        return (ending, None);
    }
    let because = stock.changed_decision(host.host).map_or_else(String::new, |changed| xml(&changed.because));
    let (ending, inside) = match host.decision {
        Decision::Hold => (Ending::Failed, format!(" type=\"hold\" message=\"{because}\"/>")),
        Decision::CannotSay | Decision::MayShip => {
            (Ending::Skipped, format!(" message=\"cannot say: {because}\"/>"))
        }
    };
    (ending, Some(case("asfitted", &xml(host.host), ending, &inside)))
}

fn head(counts: Counts) -> String {
    let Counts { cases, failures, errors, skipped } = counts;
    let counts = format!(
        "tests=\"{cases}\" failures=\"{failures}\" errors=\"{errors}\" skipped=\"{skipped}\" time=\"0\""
    );
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites name=\"asfitted fleet\" {counts}>\n  <testsuite name=\"memory\" {counts}>\n"
    )
}

fn host_case(host: &Host<'_>) -> TestCase {
    let findings = |severity| -> Vec<String> {
        let all = host.audited.iter().flat_map(|audited| &audited.audit.findings);
        all.filter(|finding| finding.severity() == severity)
            .map(|finding| format!("{}: {}", finding.kind.word(), finding.summary))
            .collect()
    };
    let (ending, inside) = match host.verdict {
        HostVerdict::Audited(Verdict::AsPlanned) => (Ending::Passed, String::new()),
        HostVerdict::Audited(Verdict::Deviates) => {
            let faults = findings(Severity::Fault);
            let first = faults.first().map_or("", String::as_str);
            let text = format!(" type=\"deviates\" message=\"{}\">{}</", xml(first), xml(&faults.join("; ")));
            (Ending::Failed, text + Ending::Failed.element() + ">")
        }
        HostVerdict::Audited(Verdict::Unproven) => {
            let open = findings(Severity::Unproven).join("; ");
            (Ending::Skipped, format!(" message=\"unproven: {}\"/>", xml(&open)))
        }
        // Nothing was tried, so that nothing failed.
        HostVerdict::NotDone(error @ HostError::NoListing) => {
            (Ending::Skipped, format!(" message=\"cannot say: {}\"/>", xml(&error.to_string())))
        }
        HostVerdict::NotDone(error) => {
            let text = format!(" type=\"not-audited\" message=\"{}\"/>", xml(&error.to_string()));
            (Ending::NotDone, text)
        }
    };
    case("asfitted", &xml(host.name), ending, &inside)
}

/// A case for each module that is not where it should be, or may not be.
fn stock_cases(report: &FleetReport<'_>) -> impl Iterator<Item = TestCase> {
    report.stock.findings().filter_map(|finding| {
        let name = format!("{} {}", xml(&finding.serial), xml(finding.host.as_deref().unwrap_or("")));
        let message = format!(" message=\"{}\"/>", xml(&finding.summary));
        let (ending, inside) = match finding.kind.severity() {
            Severity::Fault => (Ending::Failed, format!(" type=\"{}\"{message}", finding.kind.word())),
            Severity::Unproven => (Ending::Skipped, message),
            Severity::Warning => return None,
        };
        Some(case("asfitted.stock", &name, ending, &inside))
    })
}

/// A case for each plan that cannot be read.
fn plan_cases(report: &FleetReport<'_>) -> impl Iterator<Item = TestCase> {
    report.bad_plans.iter().map(|plan| {
        let plan = xml(plan);
        let inside = format!(" type=\"plan\" message=\"{plan}\"/>");
        case("asfitted.plan", &plan, Ending::NotDone, &inside)
    })
}

/// A case with the rest of the element in it.
fn case(class: &str, name: &str, ending: Ending, inside: &str) -> TestCase {
    let mut xml = format!("    <testcase classname=\"{class}\" name=\"{name}\" time=\"0\">");
    if ending != Ending::Passed {
        // Writing to a string cannot fail.
        let _ = write!(xml, "\n      <{}{inside}\n    ", ending.element());
    }
    xml.push_str("</testcase>\n");
    TestCase { xml, ending }
}

/// Text for XML: what XML 1.0 does not allow is left out, the rest escaped.
fn xml(text: &str) -> String {
    let text = sanitize(text);
    let allowed = |c: &char| matches!(c, '\t' | '\n' | '\r' | ' '..='\u{D7FF}' | '\u{E000}'..='\u{FFFD}' | '\u{10000}'..);
    quick_xml::escape::escape(text.chars().filter(allowed).collect::<String>()).into_owned()
}
