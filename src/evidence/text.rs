//! Bytes to text: gzip, other formats recognised by content, bytes that are not UTF-8.

use std::io::Read;

use encoding_rs::{Encoding, UTF_16BE, UTF_16LE};
use memchr::memchr;
use thiserror::Error;

use super::capture::{self, Capture};
use super::{Place, table};

/// The text of one input, with the name to show for it.
#[derive(Debug, Clone)]
pub struct Text {
    name: String,
    body: String,
    /// Some bytes were not UTF-8 and were replaced by U+FFFD.
    pub lossy: bool,
    /// The input was compressed and the compressed data ended early; what came before is kept.
    pub cut_short: bool,
    /// The input was a raw table; lines are those of its text format.
    pub decoded: bool,
    /// The input was a capture, which holds more than the listing.
    pub capture: Option<Capture>,
}

/// Why an input cannot be read as a text listing.
#[derive(Debug, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum EvidenceError {
    /// The input is larger than any listing.
    #[error(
        "{name}: holds more than {limit} MiB, expected a memory listing of a few hundred kilobytes. \
         Check the file; a listing comes from `dmidecode > FILE`"
    )]
    TooLarge {
        /// The input's name.
        name: String,
        /// The limit in MiB.
        limit: u64,
    },
    /// The gzip data cannot be read at all.
    #[error("{name}: starts like gzip data, yet nothing can be unpacked ({reason}). Copy the file again")]
    BrokenGzip {
        /// The input's name.
        name: String,
        /// What the decompressor says.
        reason: String,
    },
    /// A capture in a later format.
    #[error(
        "{name}: line 1: found a capture of form {version}, expected form {known}. Read it with a newer asfitted"
    )]
    NewerCapture {
        /// The input's name.
        name: String,
        /// Its format, as written.
        version: String,
        /// The format that is known.
        known: u32,
    },
    /// A file that is more than one capture.
    #[error(
        "{name}: line {line}: found {what}, expected one capture in a file. Take it apart, or take it again"
    )]
    Captures {
        /// The input's name.
        name: String,
        /// 1-based line.
        line: u32,
        /// What was found there.
        what: String,
    },
    /// A format other than the text listing.
    #[error("{name}: line 1: found {found}, expected the text listing. {advice}")]
    OtherForm {
        /// The input's name.
        name: String,
        /// What it looks like.
        found: &'static str,
        /// What to do.
        advice: &'static str,
    },
}

/// The largest input taken, after unpacking.
const LIMIT_MIB: u64 = 256;

/// First bytes of formats that people have at hand and this reader does not take, with advice.
const OTHER_FORMS: &[(&[u8], &str, &str)] = &[
    (b"_SM3_", "a raw SMBIOS table that is cut off", "Take it again: `dmidecode --dump-bin FILE`"),
    (b"_SM_", "a raw SMBIOS table that is cut off", "Take it again: `dmidecode --dump-bin FILE`"),
    (b"\xFD7zXZ\0", "xz data", "Unpack it first: `xz -d FILE`"),
    (b"\x28\xB5\x2F\xFD", "zstd data", "Unpack it first: `zstd -d FILE`"),
    (b"BZh", "bzip2 data", "Unpack it first: `bzip2 -d FILE`"),
    (
        b"PK\x03\x04",
        "a zip archive",
        "Unpack it first and name the listing inside; a document of an office program: save it as text",
    ),
    (b"\xD0\xCF\x11\xE0", "a document of an office program", "Save what it says as text"),
    (b"{\\rtf", "a document of an office program", "Save what it says as text"),
    (b"\x89PNG", "a picture", "Name the text that `dmidecode` printed, not a picture of it"),
    (b"\xFF\xD8\xFF", "a picture", "Name the text that `dmidecode` printed, not a picture of it"),
    (b"%PDF-", "a PDF", "This is a PDF: name the text that `dmidecode` printed"),
    (b"\x7FELF", "a program", "Name the file that holds the listing"),
];

impl Text {
    /// Makes text of `bytes`: unpacks gzip, decodes a raw table, recognises other formats, reads UTF-8 and
    /// UTF-16, replaces bytes that are neither.
    ///
    /// # Errors
    /// [`EvidenceError`] when the input is not a text listing, whatever it says.
    pub fn from_bytes(name: impl Into<String>, bytes: Vec<u8>) -> Result<Self, EvidenceError> {
        Self::from_bytes_up_to(name, bytes, LIMIT_MIB << 20)
    }

    /// As [`Self::from_bytes`], for no more than `limit` bytes after unpacking.
    ///
    /// # Errors
    /// As [`Self::from_bytes`].
    pub fn from_bytes_up_to(
        name: impl Into<String>,
        bytes: Vec<u8>,
        limit: u64,
    ) -> Result<Self, EvidenceError> {
        let name = name.into();
        let limit = limit.min(LIMIT_MIB << 20);
        let mut cut_short = false;
        let bytes = if bytes.starts_with(&[0x1F, 0x8B]) {
            let mut unpacked = Vec::new();
            let mut decoder = flate2::read::MultiGzDecoder::new(bytes.as_slice()).take(limit + 1);
            if let Err(reason) = decoder.read_to_end(&mut unpacked) {
                if unpacked.is_empty() {
                    return Err(EvidenceError::BrokenGzip { name, reason: reason.to_string() });
                }
                cut_short = !is_whole_before_junk(&bytes, unpacked.len());
            }
            unpacked
        } else {
            bytes
        };
        if bytes.len() as u64 > limit {
            return Err(EvidenceError::TooLarge { name, limit: limit >> 20 });
        }
        if let Some(body) = table::to_text(&bytes) {
            return Ok(Self { name, body, lossy: false, cut_short, decoded: true, capture: None });
        }
        for (magic, found, advice) in OTHER_FORMS {
            if bytes.starts_with(magic) {
                return Err(EvidenceError::OtherForm { name, found, advice });
            }
        }
        let (body, lossy) = decode(bytes);
        let (capture, body) = match capture::read(&body) {
            None => (None, body),
            Some(Ok((capture, listing))) => (Some(capture), listing),
            Some(Err(capture::Refused::Version(version))) => {
                return Err(EvidenceError::NewerCapture { name, version, known: capture::VERSION });
            }
            Some(Err(capture::Refused::Second(line))) => {
                return Err(EvidenceError::Captures { name, line, what: "a second capture".to_owned() });
            }
            Some(Err(capture::Refused::Twice(line, kind))) => {
                let what = format!("a second section [{}]", kind.name());
                return Err(EvidenceError::Captures { name, line, what });
            }
        };

        Ok(Self { name, body, lossy, cut_short, decoded: false, capture })
    }

    /// The input's name as given, for messages.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The buffer of the text, to be used again; its contents mean nothing.
    pub fn into_bytes(self) -> Vec<u8> {
        self.body.into_bytes()
    }

    /// The whole text.
    pub fn as_str(&self) -> &str {
        &self.body
    }

    /// The line at `place` without its ending; empty where the place is outside the text.
    pub fn line(&self, place: Place) -> &str {
        line_at(&self.body, place)
    }
}

/// The text of bytes, and whether some of them are no text: UTF-8 or UTF-16, each with or without a byte order mark,
/// which is left out.
fn decode(bytes: Vec<u8>) -> (String, bool) {
    if let Some((encoding, mark)) = wide(&bytes) {
        let (body, lossy) = encoding.decode_without_bom_handling(bytes.get(mark..).unwrap_or_default());
        return (body.into_owned(), lossy);
    }
    let (mut body, lossy) = match String::from_utf8(bytes) {
        Ok(body) => (body, false),
        Err(error) => (String::from_utf8_lossy(error.as_bytes()).into_owned(), true),
    };
    if body.starts_with('\u{FEFF}') {
        body.drain(..'\u{FEFF}'.len_utf8());
    }
    (body, lossy)
}

/// Which UTF-16 bytes are, and how long their mark is; without one, they are if every other of the first is zero.
fn wide(bytes: &[u8]) -> Option<(&'static Encoding, usize)> {
    const LOOKED_AT: usize = 32;
    if bytes.starts_with(b"\xFF\xFE") {
        return Some((UTF_16LE, 2));
    }
    if bytes.starts_with(b"\xFE\xFF") {
        return Some((UTF_16BE, 2));
    }
    let head = bytes.get(..bytes.len().min(LOOKED_AT) & !1).unwrap_or_default();
    let zero = |at: usize| head.len() >= 8 && head.chunks(2).all(|pair| pair[at] == 0 && pair[1 - at] != 0);
    if zero(1) { Some((UTF_16LE, 0)) } else { zero(0).then_some((UTF_16BE, 0)) }
}

/// Whether gzip data of one piece is complete, with that much in it, and only something else follows, as
/// padding does.
fn is_whole_before_junk(bytes: &[u8], unpacked: usize) -> bool {
    let mut decoder = flate2::bufread::GzDecoder::new(bytes);
    let whole = std::io::copy(&mut decoder, &mut std::io::sink());
    whole.is_ok_and(|length| length == unpacked as u64) && !decoder.into_inner().starts_with(&[0x1F, 0x8B])
}

/// The line of `text` that starts at `place`, without its ending.
pub(crate) fn line_at(text: &str, place: Place) -> &str {
    let rest = text.get(place.offset as usize..).unwrap_or("");
    let end = memchr(b'\n', rest.as_bytes()).unwrap_or(rest.len());
    let line = rest.get(..end).unwrap_or("");
    line.strip_suffix('\r').unwrap_or(line)
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use super::*;

    fn gzip(data: &[u8]) -> Vec<u8> {
        let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
        encoder.write_all(data).unwrap();
        encoder.finish().unwrap()
    }

    #[test]
    fn gzip_is_recognised_by_content() {
        let text = Text::from_bytes("a", gzip(b"Handle 0x0000")).unwrap();
        assert_eq!(text.as_str(), "Handle 0x0000");
        assert!(!text.cut_short);
    }

    #[test]
    fn a_cut_gzip_keeps_what_can_be_read() {
        let long: String = (0..20_000).map(|n| format!("line {n}\n")).collect();
        let packed = gzip(long.as_bytes());
        let text = Text::from_bytes("a", packed[..packed.len() / 2].to_vec()).unwrap();
        assert!(text.cut_short && text.as_str().starts_with("line 0\n"));
        let nothing = Text::from_bytes("a", packed[..8].to_vec());
        assert!(matches!(nothing, Err(EvidenceError::BrokenGzip { .. })));
    }

    #[test]
    fn junk_after_gzip_data_is_no_damage() {
        let packed = gzip(b"Handle 0x0000");
        for junk in [&b"junk"[..], &[0; 512]] {
            let text = Text::from_bytes("a", [packed.as_slice(), junk].concat()).unwrap();
            assert!(!text.cut_short && text.as_str() == "Handle 0x0000");
        }
        let second = &packed[..packed.len() - 4];
        assert!(Text::from_bytes("a", [packed.as_slice(), second].concat()).unwrap().cut_short);
    }

    #[test]
    fn bytes_that_are_no_utf8_keep_their_line() {
        let text = Text::from_bytes("a", b"one\nPart: \xB5\xFF\nthree\r\n".to_vec()).unwrap();
        assert!(text.lossy);
        assert_eq!(text.as_str().lines().nth(2), Some("three"));
    }

    #[test]
    fn marks_and_wide_characters_are_read() {
        let plain = "Handle 0x0000\nPart: gr\u{f6}\u{df}er\n";
        let marked = format!("\u{FEFF}{plain}");
        let wide =
            |text: &str, bytes: fn(u16) -> [u8; 2]| text.encode_utf16().flat_map(bytes).collect::<Vec<u8>>();
        for bytes in [
            plain.as_bytes().to_vec(),
            marked.as_bytes().to_vec(),
            gzip(marked.as_bytes()),
            wide(plain, u16::to_le_bytes),
            wide(&marked, u16::to_le_bytes),
            wide(plain, u16::to_be_bytes),
            wide(&marked, u16::to_be_bytes),
        ] {
            let text = Text::from_bytes("a", bytes).unwrap();
            assert!(!text.lossy && text.as_str() == plain, "{text:?}");
        }
    }

    #[test]
    fn other_forms_are_named_with_a_way_out() {
        for (bytes, found) in [
            (&b"%PDF-1.7\n"[..], "found a PDF"),
            (b"PK\x03\x04aa", "found a zip archive"),
            (b"\xD0\xCF\x11\xE0\xA1", "found a document of an office program"),
            (b"\x89PNG\r\n", "found a picture"),
        ] {
            let error = Text::from_bytes("x", bytes.to_vec()).unwrap_err().to_string();
            assert!(error.contains(found), "{error}");
        }
        let error = Text::from_bytes("dump.bin", b"_SM3_\x00".to_vec()).unwrap_err().to_string();
        assert!(
            error.contains("dump.bin") && error.contains("raw SMBIOS table") && error.contains("--dump-bin")
        );
    }
}
