//! The real listings (data set "DMI Tables" of the linuxhw project, CC BY 4.0), unpacked once per run.

use std::io::{BufReader, Read};
use std::path::Path;
use std::sync::OnceLock;

use asfitted::audit::{Audit, audit};
use asfitted::case::Case;
use asfitted::evidence::Text;
use asfitted::plan::Plan;
use asfitted::records::Listing;
use asfitted::yaml::FileError;

/// The listings of servers by id.
pub fn listings() -> &'static [Text] {
    static LISTINGS: OnceLock<Vec<Text>> = OnceLock::new();
    LISTINGS.get_or_init(|| unpacked("fixtures/listings/server-listings.tar.xz"))
}

/// The listings of one archive, by id.
pub fn unpacked(archive: &str) -> Vec<Text> {
    let file = std::fs::File::open(Path::new(env!("CARGO_MANIFEST_DIR")).join(archive)).unwrap();
    let mut tar = Vec::new();
    lzma_rs::xz_decompress(&mut BufReader::new(file), &mut tar).unwrap();
    let mut listings = Vec::new();
    for entry in tar::Archive::new(tar.as_slice()).entries().unwrap() {
        let mut entry = entry.unwrap();
        let path = entry.path().unwrap().into_owned();
        if path.extension().is_some_and(|extension| extension == "txt") {
            let mut bytes = Vec::new();
            entry.read_to_end(&mut bytes).unwrap();
            listings.push(Text::from_bytes(path.file_stem().unwrap().to_str().unwrap(), bytes).unwrap());
        }
    }
    listings.sort_by(|a, b| a.name().cmp(b.name()));
    listings
}

/// The audit of a listing, which is one of `text`, against a plan.
pub fn audited(text: &Text, listing: &Listing<'_>, plan: &Plan) -> Result<Audit, FileError> {
    Ok(audit(&Case::of(text, listing).plan(plan).build()?))
}
