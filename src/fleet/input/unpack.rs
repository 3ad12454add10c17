//! Bytes of gzip and zstd data, or the bytes themselves.

use std::io::{self, BufRead, BufReader, Read};

/// A reader of what is inside gzip or zstd data, or of the bytes themselves.
pub(super) fn unpack(reader: Box<dyn Read + Send>) -> io::Result<Box<dyn BufRead + Send>> {
    const BUFFER: usize = 256 << 10;
    let mut reader = BufReader::with_capacity(BUFFER, reader);
    let start = reader.fill_buf()?;
    Ok(if start.starts_with(&[0x1F, 0x8B]) {
        let decoder = flate2::bufread::MultiGzDecoder::new(reader);
        let mut reader = BufReader::with_capacity(BUFFER, decoder);
        reader.fill_buf()?;
        Box::new(reader)
    } else if start.starts_with(&[0x28, 0xB5, 0x2F, 0xFD]) {
        let mut reader = BufReader::with_capacity(BUFFER, Frames { rest: Some(reader), frame: None });
        reader.fill_buf()?;
        Box::new(reader)
    } else {
        Box::new(reader)
    })
}

type Packed = BufReader<Box<dyn Read + Send>>;

/// The frames of zstd data, one after the other.
struct Frames {
    /// What is behind the last frame.
    rest: Option<Packed>,
    frame: Option<Box<ruzstd::decoding::StreamingDecoder<Packed, ruzstd::decoding::FrameDecoder>>>,
}

impl Read for Frames {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let broken = |error: String| io::Error::new(io::ErrorKind::InvalidData, error);
        loop {
            if let Some(frame) = &mut self.frame {
                let read = frame.read(buffer)?;
                if read > 0 || buffer.is_empty() {
                    return Ok(read);
                }
                let stated = frame.decoder.get_checksum_from_data();
                if stated.is_some() && stated != frame.decoder.get_calculated_checksum() {
                    return Err(broken("the data do not have their checksum".to_owned()));
                }
                self.rest = self.frame.take().map(|frame| frame.into_inner());
            }
            let Some(mut rest) = self.rest.take() else { return Ok(0) };
            if rest.fill_buf()?.is_empty() {
                return Ok(0);
            }
            let frame = ruzstd::decoding::StreamingDecoder::new(rest);
            self.frame = Some(Box::new(frame.map_err(|error| broken(error.to_string()))?));
        }
    }
}
