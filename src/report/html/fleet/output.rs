//! The pages of a fleet as an output: one page, or one with a page for each host.

use std::io::{self, BufWriter, Write};

use super::host::{HostPage, host_page};
use super::page::FleetPage;
use crate::report::fleet::waiting::Waiting;
use crate::report::fleet::{FleetOutput, FleetReport, Out, Renderer, Scratch};

/// Where the pages of hosts go.
#[expect(missing_debug_implementations, reason = "what it writes with has none")]
pub struct HostPages<'o> {
    /// Their folder, as seen from the page of the fleet.
    pub folder: &'static str,
    /// Writes the page of that name.
    pub write: WritePage<'o>,
}

/// Writes a page under a name.
pub type WritePage<'o> = Box<dyn FnMut(&str, &str) -> io::Result<()> + Send + 'o>;

/// The pages. The rows of hosts wait until all is known that comes before them.
#[expect(missing_debug_implementations, reason = "what it writes to has none")]
pub struct FleetPages<'o> {
    out: Out<'o>,
    hosts: Option<HostPages<'o>>,
    page: FleetPage,
    rows: Waiting,
    count: usize,
}

impl<'o> FleetPages<'o> {
    /// Writes the page of the fleet to `out` in the end, and those of hosts to `hosts` as they come.
    pub fn new(out: Out<'o>, hosts: Option<HostPages<'o>>, scratch: Box<dyn Scratch>) -> Self {
        Self { out, hosts, page: FleetPage::default(), rows: Waiting::new(scratch), count: 0 }
    }
}

impl FleetOutput for FleetPages<'_> {
    type Rendered = HostPage;

    fn renderer(&self) -> Renderer<HostPage> {
        let own_page = self.hosts.is_some();
        Box::new(move |host| host_page(host.host, own_page))
    }

    fn see(&mut self, host: &HostPage) {
        if let Some((product, places)) = &host.places {
            self.page.see(product, places);
        }
    }

    fn write(&mut self, host: HostPage) -> io::Result<()> {
        self.count += 1;
        self.rows.add(&host.row)?;
        match (&mut self.hosts, host.page) {
            (Some(hosts), Some(page)) => (hosts.write)(&format!("{:06}.html", self.count), &page),
            _ => Ok(()),
        }
    }

    fn finish(&mut self, report: &FleetReport<'_>) -> io::Result<()> {
        let folder = self.hosts.as_ref().map(|hosts| hosts.folder);
        let mut out = BufWriter::new(&mut self.out);
        self.page.write(report, folder, &mut self.rows, &mut out)?;
        out.flush()
    }
}
