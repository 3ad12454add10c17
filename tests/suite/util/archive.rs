//! Packing what the command unpacks.

use std::io::Write;

use flate2::Compression;
use flate2::write::GzEncoder;

/// A tar archive of these files, as GNU tar writes it.
pub fn tar_of(entries: &[(&str, &[u8])]) -> Vec<u8> {
    archive(tar::Header::new_gnu, entries)
}

/// A tar archive of these files, as POSIX has it.
pub fn ustar_of(entries: &[(&str, &[u8])]) -> Vec<u8> {
    archive(tar::Header::new_ustar, entries)
}

fn archive(new_header: fn() -> tar::Header, entries: &[(&str, &[u8])]) -> Vec<u8> {
    let mut builder = tar::Builder::new(Vec::new());
    for (name, content) in entries {
        let mut header = new_header();
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
