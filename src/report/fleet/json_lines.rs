//! JSON Lines: one line for each host, and one for the fleet.

use std::io::{self, BufWriter, Write};
use std::sync::Arc;

use super::json::fleet_json;
use super::output::{FleetOutput, Out, Renderer};
use crate::report::fleet_report::FleetReport;

/// Lines of JSON.
#[expect(missing_debug_implementations, reason = "what it writes to has none")]
pub struct JsonLines<'o> {
    out: Out<'o>,
}

impl<'o> JsonLines<'o> {
    /// Writes to `out`, each line at once, so that who reads along sees it.
    pub fn new(out: Out<'o>) -> Self {
        Self { out }
    }
}

impl FleetOutput for JsonLines<'_> {
    type Rendered = Arc<Vec<u8>>;

    fn renderer(&self) -> Renderer<Arc<Vec<u8>>> {
        Box::new(|host| Arc::clone(host.line()))
    }

    fn write(&mut self, line: Arc<Vec<u8>>) -> io::Result<()> {
        self.out.write_all(&line)
    }

    /// The line of the fleet is written while it is made: it may be large.
    fn finish(&mut self, report: &FleetReport<'_>) -> io::Result<()> {
        let mut out = BufWriter::new(&mut self.out);
        serde_json::to_writer(&mut out, &fleet_json(report))?;
        out.write_all(b"\n")?;
        out.flush()
    }
}
