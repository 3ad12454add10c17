//! What waits until the decision on its host is known.

use std::io::{self, BufReader, BufWriter, Read, Seek, Write};

use super::output::Scratch;
use crate::fleet::{Decision, Host, Reconciled};

/// A piece of an output that has the decision on a host in it.
#[derive(Debug)]
pub(in crate::report) struct Piece {
    /// What comes before the decision, and after it.
    pub(in crate::report) before: Vec<u8>,
    pub(in crate::report) after: Vec<u8>,
}

/// Pieces of one host.
#[derive(Debug)]
pub struct Pieces {
    host: String,
    by_audit: Decision,
    pieces: Vec<Piece>,
}

impl Pieces {
    pub(in crate::report) fn new(host: &Host<'_>, pieces: Vec<Piece>) -> Self {
        Self { host: host.name.to_owned(), by_audit: Decision::of(host.verdict), pieces }
    }
}

/// Pieces that wait.
pub(in crate::report) struct Waiting(BufWriter<Box<dyn Scratch>>);

impl Waiting {
    pub(in crate::report) fn new(scratch: Box<dyn Scratch>) -> Self {
        Self(BufWriter::new(scratch))
    }

    pub(in crate::report) fn add(&mut self, host: &Pieces) -> io::Result<()> {
        for Piece { before, after } in &host.pieces {
            self.0.write_all(&[host.by_audit as u8])?;
            for text in [host.host.as_bytes(), before, after] {
                self.0.write_all(&(text.len() as u64).to_le_bytes())?;
                self.0.write_all(text)?;
            }
        }
        Ok(())
    }

    /// Gives all of them to `each` in their order: what the audit decides, the decision, the host, before, after.
    pub(in crate::report) fn decide(
        &mut self,
        stock: &Reconciled,
        mut each: impl FnMut(&Decided<'_>) -> io::Result<()>,
    ) -> io::Result<()> {
        self.0.flush()?;
        let scratch = self.0.get_mut();
        scratch.rewind()?;
        let mut scratch = BufReader::new(scratch);
        let mut decision = [0];
        let [mut host, mut before, mut after] = [const { Vec::new() }; 3];
        while scratch.read(&mut decision)? > 0 {
            for text in [&mut host, &mut before, &mut after] {
                read_text(&mut scratch, text)?;
            }
            let host = String::from_utf8_lossy(&host);
            let by_audit =
                Decision::ALL.get(usize::from(decision[0])).copied().unwrap_or(Decision::CannotSay);
            let decision = stock.decision(&host, by_audit);
            each(&Decided { host: &host, by_audit, decision, before: &before, after: &after })?;
        }
        Ok(())
    }
}

/// A piece when the decision on its host is known.
#[derive(Debug)]
pub(in crate::report) struct Decided<'p> {
    pub(in crate::report) host: &'p str,
    pub(in crate::report) by_audit: Decision,
    pub(in crate::report) decision: Decision,
    pub(in crate::report) before: &'p [u8],
    pub(in crate::report) after: &'p [u8],
}

impl Decided<'_> {
    /// The piece with the word of the decision in its place.
    pub(in crate::report) fn write(&self, out: &mut dyn Write) -> io::Result<()> {
        out.write_all(self.before)?;
        out.write_all(self.decision.word().as_bytes())?;
        out.write_all(self.after)
    }
}

fn read_text(scratch: &mut impl Read, text: &mut Vec<u8>) -> io::Result<()> {
    let mut length = [0; 8];
    scratch.read_exact(&mut length)?;
    let length = u64::from_le_bytes(length);
    text.clear();
    if scratch.take(length).read_to_end(text)? as u64 == length {
        Ok(())
    } else {
        Err(io::ErrorKind::UnexpectedEof.into())
    }
}
