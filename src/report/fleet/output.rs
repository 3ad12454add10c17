//! What an output of a fleet is: how hosts are rendered on the threads, and what becomes of them in their order.
//!
//! An output writes to what its caller gives it and opens nothing itself.

use std::any::Any;
use std::cell::OnceCell;
use std::io::{self, Read, Seek, Write};
use std::sync::Arc;

use super::json;
use crate::fleet::Host;
use crate::report::fleet_report::FleetReport;

/// Where an output goes.
pub type Out<'o> = Box<dyn Write + Send + 'o>;

/// Room for what must wait until all hosts are known, such as a file that is nobody else's; memory for a small fleet.
pub trait Scratch: Read + Write + Seek + Send {}

impl<T: Read + Write + Seek + Send> Scratch for T {}

/// How a host is rendered; all threads share it.
pub type Renderer<R> = Box<dyn Fn(&HostView<'_, '_>) -> R + Send + Sync>;

/// One output of a fleet.
pub trait FleetOutput: Send {
    /// What is made of one host.
    type Rendered: Send + 'static;

    /// How it is made.
    fn renderer(&self) -> Renderer<Self::Rendered>;

    /// Takes note of a host, whether it is written or not: against an earlier run only those that differ are.
    fn see(&mut self, _rendered: &Self::Rendered) {}

    /// Writes a host; they come in the order of the input.
    ///
    /// # Errors
    /// Those of what is written to.
    fn write(&mut self, rendered: Self::Rendered) -> io::Result<()>;

    /// Writes what is known only now, and flushes.
    ///
    /// # Errors
    /// Those of what is written to.
    fn finish(&mut self, report: &FleetReport<'_>) -> io::Result<()>;
}

/// A host that outputs are made of. What several of them need is made once: its diagnosis, its line of JSON.
#[derive(Debug)]
pub struct HostView<'v, 'h> {
    /// The host.
    pub host: &'v Host<'h>,
    line: OnceCell<Arc<Vec<u8>>>,
}

impl<'v, 'h> HostView<'v, 'h> {
    /// A view of `host`.
    pub fn new(host: &'v Host<'h>) -> Self {
        Self { host, line: OnceCell::new() }
    }

    /// Its line of JSON, with the line's end.
    pub fn line(&self) -> &Arc<Vec<u8>> {
        self.line.get_or_init(|| Arc::new(json::line(self.host)))
    }
}

/// All outputs of one run, in the order in which they are written.
#[derive(Default)]
#[expect(missing_debug_implementations, reason = "what outputs write to has none")]
pub struct Outputs<'o>(Vec<Box<dyn AnyOutput + 'o>>);

/// What the threads make of a host for all outputs.
#[expect(missing_debug_implementations, reason = "functions have none")]
pub struct Renderers(Vec<Renderer<AnyRendered>>);

/// What was made of one host for all outputs.
#[derive(Debug)]
pub struct Rendered(Vec<AnyRendered>);

type AnyRendered = Box<dyn Any + Send>;

impl<'o> Outputs<'o> {
    /// With one more.
    pub fn add(&mut self, output: impl FleetOutput + 'o) {
        self.0.push(Box::new(output));
    }

    /// What the threads need.
    pub fn renderers(&self) -> Renderers {
        Renderers(self.0.iter().map(|output| output.any_renderer()).collect())
    }

    /// Takes note of a host, without writing it.
    pub fn see(&mut self, rendered: &Rendered) {
        for (output, rendered) in self.0.iter_mut().zip(&rendered.0) {
            output.see_any(rendered.as_ref());
        }
    }

    /// Writes a host.
    ///
    /// # Errors
    /// Those of what is written to.
    pub fn write(&mut self, rendered: Rendered) -> io::Result<()> {
        self.0.iter_mut().zip(rendered.0).try_for_each(|(output, rendered)| output.write_any(rendered))
    }

    /// Writes what is known only now.
    ///
    /// # Errors
    /// Those of what is written to.
    pub fn finish(mut self, report: &FleetReport<'_>) -> io::Result<()> {
        self.0.iter_mut().try_for_each(|output| output.finish_any(report))
    }
}

impl Renderers {
    /// Makes of a host what the outputs want.
    pub fn render(&self, host: &HostView<'_, '_>) -> Rendered {
        Rendered(self.0.iter().map(|render| render(host)).collect())
    }
}

/// Any output, so that outputs of all kinds are in one list.
trait AnyOutput: Send {
    fn any_renderer(&self) -> Renderer<AnyRendered>;
    fn see_any(&mut self, rendered: &(dyn Any + Send));
    fn write_any(&mut self, rendered: AnyRendered) -> io::Result<()>;
    fn finish_any(&mut self, report: &FleetReport<'_>) -> io::Result<()>;
}

impl<O: FleetOutput> AnyOutput for O {
    fn any_renderer(&self) -> Renderer<AnyRendered> {
        let render = self.renderer();
        Box::new(move |host| Box::new(render(host)))
    }

    fn see_any(&mut self, rendered: &(dyn Any + Send)) {
        if let Some(rendered) = rendered.downcast_ref() {
            self.see(rendered);
        }
    }

    fn write_any(&mut self, rendered: AnyRendered) -> io::Result<()> {
        match rendered.downcast() {
            Ok(rendered) => self.write(*rendered),
            // Renderers and outputs of two runs were mixed.
            Err(_) => Err(io::Error::other("a host was rendered for another output")),
        }
    }

    fn finish_any(&mut self, report: &FleetReport<'_>) -> io::Result<()> {
        self.finish(report)
    }
}
