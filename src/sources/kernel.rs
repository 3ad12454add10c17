//! The kernel's command line: what was asked to be kept from the operating system.

use super::{Part, PartForm, Reader, Recognise, Sources, numbered};
use crate::evidence::{Evidence, SectionKind, Source};
use crate::units::Bytes;

/// The parameters about memory on the kernel's command line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CommandLine {
    /// Those that take memory away, in order.
    pub parameters: Vec<Parameter>,
    /// The line of the file.
    pub line: u32,
}

/// One parameter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Parameter {
    /// What it does.
    pub kind: ParameterKind,
    /// As written, for example `mem=16G`.
    pub text: String,
    /// How much it allows or reserves; `None` where it does not say.
    pub size: Option<Bytes>,
}

/// What a parameter does. Source: kernel documentation, `admin-guide/kernel-parameters`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ParameterKind {
    /// Use no more than this: `mem=`, and `memmap=` without an address.
    Limit,
    /// Keep a region for another use: `memmap=` with `$`, `!` or `#`.
    Reserve,
    /// Keep a region for the crash kernel: `crashkernel=`.
    CrashKernel,
}

impl CommandLine {
    /// The least that a parameter allows, with it.
    pub fn limit(&self) -> Option<(&Parameter, Bytes)> {
        let limits = self.parameters.iter().filter(|p| p.kind == ParameterKind::Limit);
        limits.filter_map(|p| Some((p, p.size?))).min_by_key(|(_, size)| *size)
    }

    /// What is reserved on a machine with `installed` memory.
    pub fn reserved(&self, installed: Bytes) -> Bytes {
        let reserves = self.parameters.iter().filter(|p| p.kind != ParameterKind::Limit);
        reserves
            .filter_map(|p| match p.kind {
                ParameterKind::CrashKernel => crash_kernel(&p.text, installed),
                ParameterKind::Limit | ParameterKind::Reserve => p.size,
            })
            .sum()
    }

    /// The line as evidence of one parameter. A command line can be long and hold what is nobody's business.
    pub fn evidence(&self, parameter: &Parameter) -> Evidence {
        Evidence { source: Source::CommandLine, line: self.line, text: parameter.text.clone() }
    }
}

pub(super) const READER: Reader = Reader {
    expected: "/proc/cmdline",
    help: Some("`/proc/cmdline`"),
    once: Some("kernel command line"),
    is_in: |sources| sources.command_line.is_some(),
    read: |text, first| Some(only(read(text, first)?)),
    recognise: Recognise::Last(|text, _| Some(only(recognise(text)?))),
    part: Some(Part {
        section: SectionKind::CommandLine,
        path: "proc/cmdline",
        form: PartForm::File { redacted: about_memory },
        hides: "whether the kernel was instructed to use less memory",
        usual: true,
    }),
};

fn only(line: CommandLine) -> Sources {
    Sources { command_line: Some(line), ..Sources::default() }
}

/// Reads `/proc/cmdline`; `None` where it is empty.
fn read(text: &str, first: u32) -> Option<CommandLine> {
    let (line, body) = numbered(text, first).find(|(_, line)| !line.is_empty())?;
    let words = body.split_whitespace().flat_map(|word| match word.strip_prefix("memmap=") {
        // One `memmap=` may hold several.
        Some(list) => list.split(',').map(|part| format!("memmap={part}")).collect(),
        None => vec![word.to_owned()],
    });
    Some(CommandLine { parameters: words.filter_map(|word| parameter(&word)).collect(), line })
}

/// Reads a text that may be something else: one line of words, one of them a parameter that kernels are
/// usually started with, or one about memory.
fn recognise(text: &str) -> Option<CommandLine> {
    const USUAL: &[&str] =
        &["BOOT_IMAGE=", "root=", "console=", "initrd=", "mem=", "memmap=", "crashkernel=", "ro", "quiet"];
    let mut lines = text.lines().filter(|line| !line.trim().is_empty());
    let (line, None) = (lines.next()?, lines.next()) else { return None };
    let usual = |word: &str| {
        USUAL.iter().any(|usual| if usual.ends_with('=') { word.starts_with(usual) } else { word == *usual })
    };
    line.split_whitespace().any(usual).then(|| read(text, 1))?
}

/// The words of a kernel's command line that are about memory; others can name disks, networks and secrets.
fn about_memory(text: &str) -> String {
    const KEPT: &[&str] = &[
        "mem=",
        "memmap=",
        "crashkernel=",
        "memtest=",
        "hugepages=",
        "hugepagesz=",
        "kernelcore=",
        "movablecore=",
    ];
    // What is in quotes belongs to another parameter.
    let outside: String = text.split('"').step_by(2).collect::<Vec<_>>().join(" ");
    let kept = outside
        .split_whitespace()
        .filter(|word| *word == "memtest" || KEPT.iter().any(|start| word.starts_with(start)));
    kept.collect::<Vec<_>>().join(" ") + "\n"
}

fn parameter(word: &str) -> Option<Parameter> {
    let (key, value) = word.split_once('=')?;
    let (kind, size) = match key {
        "mem" => (ParameterKind::Limit, Bytes::parse_kernel(value)),
        "memmap" => match value.split_once(['$', '!', '#', '@']) {
            // `nn@ss` states that a region is there; it takes nothing away.
            Some(_) if value.contains('@') => return None,
            Some((size, _)) => (ParameterKind::Reserve, Bytes::parse_kernel(size)),
            None if value == "exactmap" => return None,
            None => (ParameterKind::Limit, Bytes::parse_kernel(value)),
        },
        "crashkernel" => (ParameterKind::CrashKernel, Bytes::parse_kernel(before_offset(value))),
        _ => return None,
    };
    Some(Parameter { kind, text: word.to_owned(), size })
}

/// `512M@16M` and `512M,high` to `512M`.
fn before_offset(value: &str) -> &str {
    value.split(['@', ',']).next().unwrap_or(value)
}

/// The size that a `crashkernel=` reserves: one size, or the one of the range that holds the machine's memory
/// (`1G-4G:192M,4G-64G:256M,64G-:512M`). Source: kernel documentation, `admin-guide/kdump`.
fn crash_kernel(text: &str, installed: Bytes) -> Option<Bytes> {
    let value = text.split_once('=')?.1;
    if !value.contains(':') {
        return Bytes::parse_kernel(before_offset(value));
    }
    value.split(',').find_map(|range| {
        let (range, size) = range.split_once(':')?;
        let (low, high) = range.split_once('-')?;
        let low = Bytes::parse_kernel(low)?;
        let below = high.is_empty() || Bytes::parse_kernel(high).is_some_and(|high| installed < high);
        (installed >= low && below).then(|| Bytes::parse_kernel(before_offset(size)))?
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(text: &str) -> CommandLine {
        read(text, 1).unwrap()
    }

    #[test]
    fn only_memory_stays_on_the_command_line() {
        assert_eq!(about_memory("root=UUID=1 mem=4G password=x ro memtestXYZ=1\n"), "mem=4G\n");
        assert_eq!(about_memory("dyndbg=\"x mem=S3CR3T y\" memtest\n"), "memtest\n");
    }

    /// Forms as the kernel documentation writes them.
    #[test]
    fn parameters_about_memory() {
        let all = line(
            "BOOT_IMAGE=/v root=UUID=1 mem=16G memmap=1G$4G memmap=2G@8G memmap=exactmap memmap=32G crashkernel=512M@16M quiet",
        );
        let got: Vec<_> = all.parameters.iter().map(|p| (p.kind, p.size)).collect();
        assert_eq!(
            got,
            [
                (ParameterKind::Limit, Some(Bytes::gib(16))),
                (ParameterKind::Reserve, Some(Bytes::gib(1))),
                (ParameterKind::Limit, Some(Bytes::gib(32))),
                (ParameterKind::CrashKernel, Some(Bytes::mib(512))),
            ]
        );
        assert_eq!(all.limit().map(|(p, size)| (p.text.as_str(), size)), Some(("mem=16G", Bytes::gib(16))));
        assert_eq!(all.reserved(Bytes::gib(64)), Bytes::mib(1536));
        assert_eq!(line("memmap=8G$32G,8G$64G,1G@9G").reserved(Bytes::gib(64)), Bytes::gib(16));
    }

    #[test]
    fn crash_kernel_ranges() {
        let of = |text: &str, gib| line(text).reserved(Bytes::gib(gib));
        let ranges = "crashkernel=1G-4G:192M,4G-64G:256M,64G-:512M";
        assert_eq!(of(ranges, 2), Bytes::mib(192));
        assert_eq!(of(ranges, 16), Bytes::mib(256));
        assert_eq!(of(ranges, 384), Bytes::mib(512));
        assert_eq!(of("crashkernel=auto", 384), Bytes(0));
        assert_eq!(of("crashkernel=1G,high", 384), Bytes::gib(1));
    }

    #[test]
    fn other_texts_are_no_command_line() {
        assert!(recognise("root of all evil\nsecond line\n").is_none());
        assert!(recognise("hello world\n").is_none());
        assert!(recognise("ro quiet mem=4G\n").is_some());
    }
}
