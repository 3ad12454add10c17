//! The kernel's error counters, in both layouts.

use std::io;

use super::{Files, text};

/// Files of a controller. Source of all names here: kernel ABI documentation, `sysfs-devices-edac`.
const OF_CONTROLLER: &[&str] = &[
    "mc_name",
    "size_mb",
    "ce_count",
    "ue_count",
    "ce_noinfo_count",
    "ue_noinfo_count",
    "seconds_since_reset",
];

/// Files of a module or a rank.
const OF_MODULE: &[&str] = &[
    "dimm_label",
    "dimm_location",
    "size",
    "dimm_mem_type",
    "dimm_dev_type",
    "dimm_edac_mode",
    "dimm_ce_count",
    "dimm_ue_count",
];

/// Files of a row of chips, in the older layout.
const OF_ROW: &[&str] = &["size_mb", "mem_type", "dev_type", "edac_mode", "ce_count", "ue_count"];

/// Files of a channel of such a row, after the channel's name.
const OF_CHANNEL: &[&str] = &["_dimm_label", "_ce_count"];

/// Where the controllers are, in a folder that was copied from some place above them.
const PLACES: &[&str] =
    &["", "mc", "edac/mc", "system/edac/mc", "devices/system/edac/mc", "sys/devices/system/edac/mc"];

/// The counters in a folder that holds controllers, at any height above them, or is one itself and has this name.
///
/// # Errors
/// Those of reading it; [`io::ErrorKind::NotFound`] where it holds none.
pub fn in_folder(files: &dyn Files, name: &str) -> io::Result<String> {
    if number(name, &["mc"]).is_some() {
        let mut out = String::new();
        controller(files, "", name, &mut out)?;
        return if out.is_empty() { Err(io::ErrorKind::NotFound.into()) } else { Ok(out) };
    }
    for place in PLACES {
        match tree(files, place) {
            Err(reason) if reason.kind() == io::ErrorKind::NotFound => {}
            read => return read,
        }
    }
    Err(io::ErrorKind::NotFound.into())
}

/// Every counter of every memory controller, one `path:value` a line, in the order of their numbers.
pub(super) fn tree(files: &dyn Files, root: &str) -> io::Result<String> {
    let mut out = String::new();
    for name in numbered(files, root, &["mc"])? {
        let folder = within(root, &name);
        controller(files, &folder, &folder, &mut out)?;
    }
    if out.is_empty() { Err(io::ErrorKind::NotFound.into()) } else { Ok(out) }
}

/// One controller: its folder, and what it is called in the lines.
fn controller(files: &dyn Files, folder: &str, called: &str, out: &mut String) -> io::Result<()> {
    let mut add = |inside: &str, names: &[String]| {
        for name in names {
            let own = within(inside, name);
            let value = match text(files, &within(folder, &own)) {
                Ok(value) => value,
                Err(reason) if reason.kind() == io::ErrorKind::NotFound => continue,
                // A counter that cannot be read is open; nobody may take it for none.
                Err(_) => String::new(),
            };
            out.push_str(&format!("/{called}/{own}:{}\n", value.lines().next().unwrap_or("").trim()));
        }
    };
    let owned = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
    add("", &owned(OF_CONTROLLER));
    for module in numbered(files, folder, &["dimm", "rank"])? {
        add(&module, &owned(OF_MODULE));
    }
    for row in numbered(files, folder, &["csrow"])? {
        let mut names = owned(OF_ROW);
        for channel in channels(files, &within(folder, &row))? {
            names.extend(OF_CHANNEL.iter().map(|file| format!("{channel}{file}")));
        }
        add(&row, &names);
    }
    Ok(())
}

fn within(folder: &str, name: &str) -> String {
    match (folder, name) {
        ("", own) | (own, "") => own.to_owned(),
        (folder, name) => format!("{folder}/{name}"),
    }
}

/// The channels of a row, of which each file's name starts with one.
fn channels(files: &dyn Files, row: &str) -> io::Result<Vec<String>> {
    let names = files.list(row)?;
    let mut channels: Vec<(u32, String)> = names
        .iter()
        .filter_map(|name| {
            let channel = name.split_once('_')?.0;
            Some((number(channel, &["ch"])?, channel.to_owned()))
        })
        .collect();
    channels.sort_unstable();
    channels.dedup();
    Ok(channels.into_iter().map(|(_, channel)| channel).collect())
}

/// The number in a name that is one of `words` and a number.
fn number(name: &str, words: &[&str]) -> Option<u32> {
    words.iter().find_map(|word| name.strip_prefix(word)?.parse().ok())
}

/// Names in a folder that are one of `words` and a number, by number.
fn numbered(files: &dyn Files, folder: &str, words: &[&str]) -> io::Result<Vec<String>> {
    let mut names: Vec<String> =
        files.list(folder)?.into_iter().filter(|name| number(name, words).is_some()).collect();
    names.sort_by_key(|name| number(name, words));
    Ok(names)
}
