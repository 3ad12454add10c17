//! From the blocks of a text to listings, one for each machine.

use super::device::MemoryDevice;
use super::field::Field;
use super::head::Head;
use super::listing::Listing;
use super::memory::MemoryArray;
use super::note::{NoteKind, Notes};
use super::{cut, device, memory, system};
use crate::evidence::{Block, Marker, MarkerKind, Place, Text, scan};

/// Reads every listing in `text`, each machine's records as one.
///
/// Never fails: what cannot be read becomes a note. Partial listings with different record types that follow
/// each other are joined, since people print one type after the other into one file. A listing that repeats
/// the one before is dropped with a note. What remains after the first differs from it and is returned
/// too; the caller decides. The result is never empty.
pub fn read(text: &Text) -> Vec<Listing<'_>> {
    let mut scanned = scan(text.as_str());
    let cut = cut::trim(text.as_str(), &mut scanned.blocks);
    let mut listings: Vec<Listing<'_>> = Vec::new();
    let (mut blocks, mut markers) = (scanned.blocks.as_slice(), scanned.markers.as_slice());
    let mut consumed = 0;
    loop {
        let next = next_start(markers);
        let (own_markers, later) = markers.split_at(next.unwrap_or(markers.len()));
        let end = later.first().map_or(blocks.len(), |marker| marker.blocks_before - consumed);
        let (own_blocks, rest) = blocks.split_at(end.min(blocks.len()));
        let mut from = 0;
        for end in quiet_starts(own_blocks).into_iter().chain([own_blocks.len()]) {
            let markers = if from == 0 { own_markers } else { &[] };
            add(&mut listings, one(text.as_str(), own_blocks.get(from..end).unwrap_or(&[]), markers));
            from = end;
        }
        if later.is_empty() {
            break;
        }
        consumed += own_blocks.len();
        (blocks, markers) = (rest, later);
    }
    if let (Some(place), Some(last)) = (cut, listings.last_mut()) {
        let mut notes = Notes(std::mem::take(&mut last.notes));
        notes.add(NoteKind::Truncated, Some(place));
        last.notes = notes.0;
    }
    let others = listings.len() > 1;
    if let Some(first) = listings.first_mut() {
        let mut notes = Notes(std::mem::take(&mut first.notes));
        if others {
            notes.add(NoteKind::OtherListing, None);
        }
        if text.cut_short {
            notes.add(NoteKind::CutShort, None);
        }
        if text.decoded {
            notes.add(NoteKind::DecodedTable, None);
        }
        if text.lossy {
            notes.add(NoteKind::NotUtf8, None);
        }
        first.notes = notes.0;
    }
    listings
}

/// Where further listings start in the quiet format, which has no headers: a machine has one System Information.
/// Slots alone do not show it, since the slots of a second processor can have the labels of the first.
fn quiet_starts(blocks: &[Block<'_>]) -> Vec<usize> {
    if blocks.iter().any(|block| block.handle.is_some()) {
        return Vec::new();
    }
    let systems: Vec<usize> =
        blocks.iter().enumerate().filter(|(_, block)| block.kind == Some(1)).map(|(at, _)| at).collect();
    systems.get(1..).unwrap_or(&[]).to_vec()
}

/// Index of the marker that starts the next listing: one that follows records, or a second header.
fn next_start(markers: &[Marker<'_>]) -> Option<usize> {
    let first_blocks = markers.first().map_or(0, |marker| marker.blocks_before);
    let mut seen = [false; 2];
    for (index, marker) in markers.iter().enumerate() {
        let slot = match marker.kind {
            MarkerKind::Release => 0,
            MarkerKind::Version => 1,
            _ => continue,
        };
        if seen[slot] || (index > 0 && marker.blocks_before > first_blocks) {
            return Some(index);
        }
        seen[slot] = true;
        // A release line ends the header before it.
        if slot == 0 && seen[1] && marker.blocks_before > first_blocks {
            return Some(index);
        }
    }
    None
}

fn add<'a>(listings: &mut Vec<Listing<'a>>, listing: Listing<'a>) {
    let Some(last) = listings.last_mut() else {
        listings.push(listing);
        return;
    };
    if listing.is_empty() {
        return;
    }
    if last.is_empty() {
        *last = listing;
        return;
    }
    let mut notes = Notes(std::mem::take(&mut last.notes));
    if last.types() & listing.types() == 0 {
        notes.add(NoteKind::JoinedListings, None);
        last.notes = notes.0;
        last.join(listing);
    } else if last.same_records(&listing) {
        notes.add(NoteKind::RepeatedListing, listing.smbios.place());
        last.notes = notes.0;
    } else {
        last.notes = notes.0;
        listings.push(listing);
    }
}

fn one<'a>(text: &'a str, blocks: &[Block<'a>], markers: &[Marker<'a>]) -> Listing<'a> {
    let mut listing =
        Listing { text, has_handles: blocks.iter().any(|b| b.handle.is_some()), ..Listing::default() };
    let mut notes = Notes::default();
    for marker in markers {
        read_marker(&mut listing, marker, &mut notes);
    }
    let devices = blocks.iter().filter(|block| block.kind == Some(17)).count();
    listing.devices.reserve_exact(devices);
    let (mut end_seen, mut others_seen) = (false, false);
    for (order, block) in blocks.iter().enumerate() {
        let head = Head {
            handle: block.handle,
            length: block.length,
            place: block.place,
            order: u32::try_from(order).unwrap_or(u32::MAX),
        };
        match block.kind {
            Some(0) => {
                others_seen = true;
                listing.firmware.push(system::firmware(head, block));
            }
            Some(1) => listing.systems.push(system::system(head, block)),
            Some(2) => listing.boards.push(system::board(head, block)),
            Some(4) => listing.processors.push(system::processor(head, block)),
            Some(16) => listing.arrays.push(memory::array(head, block, &mut notes)),
            Some(17) => listing.devices.push(device::device(head, block, &mut notes)),
            Some(18 | 33) => listing.errors.push(memory::error(head, block, &mut notes)),
            Some(19) => listing.array_ranges.push(memory::array_range(head, block, &mut notes)),
            Some(20) => listing.device_ranges.push(memory::device_range(head, block, &mut notes)),
            Some(127) => end_seen = true,
            // A full listing has records of types that a memory subset leaves out.
            Some(3) => others_seen = true,
            _ => {}
        }
    }
    let broken = markers.iter().any(|m| matches!(m.kind, MarkerKind::Broken | MarkerKind::Truncated));
    // A subset has no end record; one whose array promises more slots than follow was probably cut.
    let short = !others_seen && promises_more(&listing);
    if (others_seen || short) && !end_seen && !broken {
        notes.add(NoteKind::NoEnd, blocks.last().map(|block| block.place));
    }
    listing.has_end = end_seen;
    note_repeated_handles(&listing, &mut notes);
    listing.notes = notes.0;
    listing
}

/// Whether an array of the listing promises more devices than point to it, or than there are, where nothing
/// points.
fn promises_more(listing: &Listing<'_>) -> bool {
    if listing.devices.is_empty() {
        return false;
    }
    let promised = |array: &MemoryArray| array.device_count.get().map_or(0, |count| count as usize);
    if !listing.has_handles {
        return listing.arrays.iter().map(promised).sum::<usize>() > listing.devices.len();
    }
    listing.arrays.iter().any(|array| {
        let own = |device: &&MemoryDevice<'_>| device.array_handle.get() == array.head.handle;
        promised(array) > listing.devices.iter().filter(own).count()
    })
}

fn read_marker<'a>(listing: &mut Listing<'a>, marker: &Marker<'a>, notes: &mut Notes) {
    let place = Some(marker.place);
    match marker.kind {
        MarkerKind::Release => {
            let release = marker.text.trim_start_matches("# dmidecode").trim();
            listing.dmidecode = Field::read(Some(release).filter(|r| !r.is_empty()), marker.place);
        }
        MarkerKind::Version => {
            let version = marker.text.trim_end_matches("present.").trim();
            let version = version.rsplit_once(' ').map_or(version, |(_, version)| version);
            listing.smbios = Field::Stated(version, marker.place);
        }
        MarkerKind::VersionFixup => notes.add(NoteKind::VersionFixup, place),
        MarkerKind::NewerThanDmidecode => notes.add(NoteKind::NewerThanDmidecode, place),
        MarkerKind::WrongStructures => notes.add(NoteKind::WrongStructures, place),
        MarkerKind::Broken => notes.add(NoteKind::Broken, place),
        MarkerKind::Truncated => notes.add(NoteKind::Truncated, place),
        MarkerKind::Stray => notes.add(NoteKind::StrayLines, place),
        MarkerKind::EntryFixup | MarkerKind::Origin => {}
    }
}

fn note_repeated_handles(listing: &Listing<'_>, notes: &mut Notes) {
    let mut handles: Vec<(u16, Place)> = listing
        .arrays
        .iter()
        .map(|r| r.head)
        .chain(listing.devices.iter().map(|r| r.head))
        .filter_map(|head| Some((head.handle?, head.place)))
        .collect();
    handles.sort_unstable();
    for pair in handles.windows(2) {
        if pair[0].0 == pair[1].0 {
            notes.add(NoteKind::RepeatedHandle, Some(pair[1].1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::DeviceSize;
    use crate::units::{Bytes, Millivolts, TransferRate};

    fn text(body: &str) -> Text {
        Text::from_bytes("test", body.as_bytes().to_vec()).unwrap()
    }

    fn device(fields: &str) -> String {
        format!("Handle 0x0011, DMI type 17, 40 bytes\nMemory Device\n{fields}\n")
    }

    #[test]
    fn every_release_gives_the_same_record() {
        let old = device(
            "\tSize: 8192 MB\n\tSpeed: 667 MHz (1.5 ns)\n\tConfigured Clock Speed: 667 MHz\n\tMinimum voltage:  1.350 V\n",
        );
        let new = device(
            "\tSize: 8 GB\n\tSpeed: 667 MT/s\n\tConfigured Memory Speed: 667 MT/s\n\tMinimum Voltage: 1.35 V\n",
        );
        for body in [old, new] {
            let text = text(&body);
            let listing = &read(&text)[0];
            let device = &listing.devices[0];
            assert_eq!(device.size.get(), Some(DeviceSize::Fitted(Bytes::gib(8))));
            assert_eq!(device.speed.get(), Some(TransferRate(667)));
            assert_eq!(device.configured_speed.get(), Some(TransferRate(667)));
            assert_eq!(device.minimum_voltage.get(), Some(Millivolts(1350)));
        }
    }

    #[test]
    fn stated_unknown_and_absent_stay_apart() {
        let text = text(&device("\tRank: Unknown\n\tPart Number: Not Specified\n\tTotal Width: 72 bits"));
        let listing = &read(&text)[0];
        let device = &listing.devices[0];
        assert!(matches!(device.rank, Field::Unknown(_)));
        assert!(matches!(device.part_number, Field::Unknown(_)));
        assert!(matches!(device.speed, Field::Absent));
        assert_eq!(listing.line(device.total_width.place().unwrap()), "Total Width: 72 bits");
        assert_eq!(device.total_width.place().unwrap().line, 5);
    }

    #[test]
    fn a_repeated_listing_is_read_once() {
        let one = format!("SMBIOS 2.6 present.\n\n{}", device("\tSize: 8 GB\n\tLocator: A1"));
        let text = text(&format!("# dmidecode 3.0\n{one}{one}"));
        let listings = read(&text);
        assert_eq!((listings.len(), listings[0].devices.len()), (1, 1));
        assert!(listings[0].notes.iter().any(|n| n.kind == NoteKind::RepeatedListing));
    }

    #[test]
    fn partial_listings_of_one_machine_are_joined() {
        let system = "# dmidecode 3.3\nGetting SMBIOS data from sysfs.\nSMBIOS 2.7 present.\n\nHandle 0x0001, DMI type 1, 27 bytes\nSystem Information\n\tSerial Number: X1\n\n";
        let memory = format!(
            "# dmidecode 3.3\nGetting SMBIOS data from sysfs.\nSMBIOS 2.7 present.\n\n{}",
            device("\tSize: 8 GB")
        );
        let text = text(&format!("{system}{memory}"));
        let listings = read(&text);
        assert_eq!(listings.len(), 1);
        assert_eq!((listings[0].systems.len(), listings[0].devices.len()), (1, 1));
    }

    /// The firmware's version belongs to the listing, wherever its record was printed.
    #[test]
    fn the_firmware_printed_by_itself_is_joined() {
        let part = |body: &str| format!("# dmidecode 3.3\nSMBIOS 2.7 present.\n\n{body}\n");
        let firmware = part(
            "Handle 0x0000, DMI type 0, 26 bytes\nBIOS Information\n\tVendor: W\n\tVersion: 1.04\n\tRelease Date: 03/01/2019\n",
        );
        let memory = part(&device("\tSize: 8 GB"));
        for body in [format!("{firmware}{memory}"), format!("{memory}{firmware}")] {
            let text = text(&body);
            let listings = read(&text);
            assert_eq!(listings.len(), 1);
            let stated = listings[0].firmware.first().map(|f| (f.version.get(), f.date.get()));
            assert_eq!(stated, Some((Some("1.04"), Some("03/01/2019"))));
        }
    }

    #[test]
    fn two_machines_stay_two() {
        let one = |size: &str| {
            format!("# dmidecode 3.3\nSMBIOS 2.7 present.\n\n{}", device(&format!("\tSize: {size}")))
        };
        let text = text(&format!("{}{}", one("8 GB"), one("4 GB")));
        let listings = read(&text);
        assert_eq!(listings.len(), 2);
        assert!(listings[0].notes.iter().any(|n| n.kind == NoteKind::OtherListing));
    }

    /// A listing taken again after a change is another state, whatever changed.
    #[test]
    fn a_second_state_of_one_machine_is_no_repeat() {
        let one = |speed: &str| {
            let fields = format!("\tSize: 8 GB\n\tLocator: A1\n\tConfigured Memory Speed: {speed} MT/s");
            format!("# dmidecode 3.3\nSMBIOS 2.7 present.\n\n{}", device(&fields))
        };
        assert_eq!(read(&text(&format!("{}{}", one("2400"), one("1600")))).len(), 2);
        assert_eq!(read(&text(&format!("{}{}", one("2400"), one("2400")))).len(), 1);
    }

    /// A record that contradicts itself states neither value.
    #[test]
    fn a_field_stated_twice_counts_as_unknown() {
        let text = text(&device("\tSize: 16 GB\n\tSize: 8 GB\n\tRank: 2\n\tRank: 2"));
        let listing = &read(&text)[0];
        assert!(matches!(listing.devices[0].size, Field::Unknown(_)));
        assert_eq!(listing.devices[0].rank.get(), Some(2));
        assert!(listing.notes.iter().any(|n| n.kind == NoteKind::RepeatedKey));
    }

    #[test]
    fn scrubbed_lines_are_noted_and_hide_nothing_else() {
        let text =
            text(&device("\tSerial Number: --\n\t0123456789ABCDEF0123456789ABCDEF   \n\tPart Number: X"));
        let listing = &read(&text)[0];
        assert_eq!(listing.devices[0].part_number.get(), Some("X"));
        assert!(listing.notes.iter().any(|n| n.kind == NoteKind::ScrubbedLines));
    }

    #[test]
    fn nothing_gives_one_empty_listing() {
        assert!(read(&text(""))[0].is_empty());
        assert!(read(&text("hello\n"))[0].is_empty());
    }
}
