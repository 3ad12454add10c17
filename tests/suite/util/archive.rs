//! Packing what the command unpacks.

use std::io::Write;

use flate2::Compression;
use flate2::write::GzEncoder;

/// A tar archive of these files.
pub fn tar_of(entries: &[(&str, &[u8])]) -> Vec<u8> {
    let mut builder = tar::Builder::new(Vec::new());
    for (name, content) in entries {
        let mut header = tar::Header::new_gnu();
        header.set_size(content.len() as u64);
        header.set_mode(0o644);
        builder.append_data(&mut header, name, *content).unwrap();
    }
    builder.into_inner().unwrap()
}

pub fn gzip(content: &[u8]) -> Vec<u8> {
    let mut packed = GzEncoder::new(Vec::new(), Compression::fast());
    packed.write_all(content).unwrap();
    packed.finish().unwrap()
}
