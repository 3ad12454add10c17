//! Reading the facts of the public cases.

use asfitted::case::WorkDone;

use crate::util::path;

/// The last result: unsolved, not to be given, and the outcomes of the rest in the order of [`Outcome`]. docs/diagnosis.md
/// states it.
pub const LAST_RESULT: (u32, u32, [u32; 4]) = (25, 27, [34, 4, 7, 6]);

/// How the first cause stands to the one that was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Outcome {
    /// It is the one.
    #[default]
    First,
    /// It is of a wider class that holds the one, and its check parts them.
    Class,
    /// The one, or its class, is named after it.
    Later,
    /// The one is not named.
    Other,
}

impl Outcome {
    pub const ALL: [Self; 4] = [Self::First, Self::Class, Self::Later, Self::Other];

    pub fn word(self) -> &'static str {
        match self {
            Self::First => "first",
            Self::Class => "class",
            Self::Later => "later",
            Self::Other => "other",
        }
    }
}

/// One public case.
pub struct Facts {
    pub id: String,
    /// The cause that was found, by the word of the collection.
    pub code: String,
    pub state: State,
}

/// What can be done with it.
pub enum State {
    /// Nobody found the cause.
    Unsolved,
    /// The tool cannot be told it; why.
    NotGiven(String),
    /// It can.
    Given(Box<Given>),
}

/// What is told of a case.
#[derive(Default)]
pub struct Given {
    /// Slots with their names and the fields of their records.
    slots: Vec<(String, String)>,
    earlier: Vec<(String, String)>,
    array: Option<String>,
    firmware: Option<String>,
    earlier_firmware: Option<String>,
    sees: Option<u64>,
    is_wide: bool,
    log: Vec<String>,
    pub fitted: Option<String>,
    pub board: Option<String>,
    pub expects: Option<u32>,
    pub after: Vec<WorkDone>,
    /// Planned modules that are not detected, each a plan of its own.
    pub planned: Vec<(String, String)>,
    /// Kinds of causes that are the one that was found.
    pub found: Vec<String>,
    /// Kinds that hold it.
    pub near: Vec<String>,
    /// What the tool is known to say first.
    pub first: String,
    pub outcome: Outcome,
    /// Why that is not the cause that was found.
    pub why: Option<String>,
}

impl Given {
    /// The listing that shows the case.
    pub fn listing(&self) -> String {
        records(&self.slots, self.array.as_deref(), self.firmware.as_deref())
    }

    /// The listing from before.
    pub fn earlier_listing(&self) -> Option<String> {
        (!self.earlier.is_empty())
            .then(|| records(&self.earlier, self.array.as_deref(), self.earlier_firmware.as_deref()))
    }

    /// Texts of other evidence.
    pub fn others(&self) -> Vec<String> {
        let space = if self.is_wide { "VmallocTotal: 34359738367 kB\n" } else { "" };
        let meminfo = self.sees.map(|kib| format!("MemTotal: {kib} kB\n{space}"));
        let rows = self.log.iter().enumerate().map(|(number, row)| {
            let (sensor, event) = row.split_once(" | ").unwrap();
            format!("{} | 01/02/2024 | 03:04:05 | {sensor} #0x53 | {event} | Asserted\n", number + 1)
        });
        let log: String = rows.collect();
        meminfo.into_iter().chain(Some(log).filter(|log| !log.is_empty())).collect()
    }
}

/// A listing with these slots, in the order of their names.
fn records(slots: &[(String, String)], array: Option<&str>, firmware: Option<&str>) -> String {
    let mut slots = slots.to_vec();
    slots.sort_by_key(|(name, _)| natural(name));
    let correction = array.unwrap_or("Multi-bit ECC");
    let mut text = format!(
        "Handle 0x0001, DMI type 1, 27 bytes\nSystem Information\n\tProduct Name: rebuilt\n\nHandle 0x1000, DMI type 16, 23 bytes\nPhysical Memory Array\n\tUse: System Memory\n\tError Correction Type: {correction}\n\tNumber Of Devices: {}\n\n",
        slots.len()
    );
    if let Some(version) = firmware {
        let record =
            format!("Handle 0x0000, DMI type 0, 26 bytes\nBIOS Information\n\tVersion: {version}\n\n");
        text.insert_str(0, &record);
    }
    if slots.is_empty() {
        text.truncate(text.find("Handle 0x1000").unwrap());
    }
    for (number, (name, fields)) in slots.iter().enumerate() {
        let (locator, bank) = name.split_once(" @ ").unwrap_or((name, "Not Specified"));
        text.push_str(&format!(
            "Handle 0x{:04X}, DMI type 17, 40 bytes\nMemory Device\n\tArray Handle: 0x1000\n{fields}\tLocator: {locator}\n\tBank Locator: {bank}\n\n",
            0x1100 + number
        ));
    }
    text + "Handle 0xFFFF, DMI type 127, 4 bytes\nEnd Of Table\n"
}

/// A key by which 2 comes before 10, and the bank before the slot.
fn natural(name: &str) -> Vec<(u64, String)> {
    let (locator, bank) = name.split_once(" @ ").unwrap_or((name, ""));
    let mut key = Vec::new();
    for part in [bank, locator] {
        let mut rest = part;
        while !rest.is_empty() {
            let is_number = rest.starts_with(|c: char| c.is_ascii_digit());
            let end = rest.find(|c: char| c.is_ascii_digit() != is_number).unwrap_or(rest.len());
            let (head, tail) = rest.split_at(end);
            key.push(head.parse().map_or((0, head.to_owned()), |number| (number, String::new())));
            rest = tail;
        }
    }
    key
}

/// `P{1,2}-DIMM{1..3}` and the like, written out.
fn names(text: &str) -> Vec<String> {
    // Commas part names outside of braces.
    let mut parts = vec![String::new()];
    let mut inside = false;
    for c in text.chars() {
        inside = (inside || c == '{') && c != '}';
        match c {
            ',' if !inside => parts.push(String::new()),
            c => parts.last_mut().unwrap().push(c),
        }
    }
    parts.iter().flat_map(|part| expanded(part.trim())).collect()
}

fn expanded(name: &str) -> Vec<String> {
    let Some((head, rest)) = name.split_once('{') else { return vec![name.to_owned()] };
    let (choices, tail) = rest.split_once('}').unwrap();
    let choices: Vec<String> = match choices.split_once("..") {
        Some((from, to)) => {
            (from.parse::<u32>().unwrap()..=to.parse().unwrap()).map(|n| n.to_string()).collect()
        }
        None => choices.split(',').map(str::to_owned).collect(),
    };
    choices.iter().flat_map(|choice| expanded(&format!("{head}{choice}{tail}"))).collect()
}

/// The fields of a record, from `32 GB, DDR4, 2666/2133, x72, rank 2, part ABC`.
fn fields(words: &str, is_sized: bool) -> String {
    let mut size = "No Module Installed".to_owned();
    let (mut form, mut widths) = ("DIMM", (72, 64));
    let mut more = String::new();
    for word in words.split(", ") {
        if let Some((rated, runs)) =
            word.split_once('/').or(Some((word, word))).filter(|(rated, _)| rated.parse::<u32>().is_ok())
        {
            more.push_str(&format!("\tSpeed: {rated} MT/s\n"));
            if is_sized {
                more.push_str(&format!("\tConfigured Memory Speed: {runs} MT/s\n"));
            }
        } else if let Some(width) = word.strip_prefix('x') {
            widths = (width.parse().unwrap(), 64);
        } else if let Some(rank) = word.strip_prefix("rank ") {
            more.push_str(&format!("\tRank: {rank}\n"));
        } else if let Some(part) = word.strip_prefix("part ") {
            more.push_str(&format!("\tPart Number: {part}\n"));
        } else if word == "soldered" {
            form = "Row Of Chips";
        } else if word.ends_with(" GB") {
            size = word.to_owned();
        } else {
            assert!(word.contains("DDR"), "{word}");
            more.push_str(&format!("\tType: {word}\n"));
        }
    }
    let (total, data) = widths;
    format!(
        "\tTotal Width: {total} bits\n\tData Width: {data} bits\n\tSize: {size}\n\tForm Factor: {form}\n{more}"
    )
}

const EMPTY: &str =
    "\tTotal Width: Unknown\n\tData Width: Unknown\n\tSize: No Module Installed\n\tType: Unknown\n";

fn kib(text: &str) -> u64 {
    let (number, unit) = text.split_once(' ').unwrap();
    let unit = match unit {
        "kB" => 1,
        "MB" => 1 << 10,
        "GiB" => 1 << 20,
        other => panic!("{other}"),
    };
    let (whole, part) = number.split_once('.').unwrap_or((number, ""));
    let scale = 10u64.pow(u32::try_from(part.len()).unwrap());
    format!("{whole}{part}").parse::<u64>().unwrap() * unit / scale
}

fn work_done(word: &str) -> WorkDone {
    WorkDone::ALL.iter().copied().find(|done| done.word() == word).unwrap()
}

/// All cases of the file.
pub fn read() -> Vec<Facts> {
    let text = std::fs::read_to_string(path("fixtures/cases/cases.txt")).unwrap();
    let blocks = text.split("\n\n").map(str::trim).filter(|block| block.starts_with("case "));
    blocks.map(block).collect()
}

/// One case.
pub fn block(block: &str) -> Facts {
    let mut facts = Facts { id: String::new(), code: String::new(), state: State::Unsolved };
    let mut given = Given::default();
    let mut is_given = false;
    for line in block.lines() {
        let (key, value) = line.split_once(' ').unwrap_or((line, ""));
        let words = || value.split(' ').map(str::to_owned).collect::<Vec<_>>();
        match key {
            "case" => facts.id = value.to_owned(),
            "source" => assert!(value.starts_with("http"), "{}: {value}", facts.id),
            "class" | "assumed" | "unsolved" | "only" => {}
            "code" => facts.code = value.to_owned(),
            "not-given" => facts.state = State::NotGiven(value.to_owned()),
            "found" => (given.found, is_given) = (words(), true),
            "near" => given.near = words(),
            "first" => given.first = value.to_owned(),
            "outcome" => given.outcome = Outcome::ALL.into_iter().find(|o| o.word() == value).unwrap(),
            "why" => given.why = Some(value.to_owned()),
            "array" => given.array = Some(value.to_owned()),
            "sees" => given.sees = Some(kib(value)),
            "firmware" => given.firmware = Some(value.to_owned()),
            "earlier-firmware" => given.earlier_firmware = Some(value.to_owned()),
            "wide" => given.is_wide = true,
            "log" => given.log.push(value.to_owned()),
            "fitted" => given.fitted = Some(value.to_owned()),
            "board" => given.board = Some(value.to_owned()),
            "expects" => given.expects = Some(value.parse().unwrap()),
            "after" => given.after.push(work_done(value)),
            _ => slots(&facts.id, line, &mut given),
        }
    }
    if is_given {
        facts.state = State::Given(Box::new(given));
    }
    facts
}

/// Lines about slots: what, a colon, and the names.
fn slots(id: &str, line: &str, given: &mut Given) {
    let (what, slots) = line.split_once(": ").unwrap_or_else(|| panic!("{id}: {line}"));
    let (what, is_earlier) = match what.strip_prefix("earlier-") {
        Some(what) => (what, true),
        None => (what, false),
    };
    let (kind, words) = what.split_once(' ').unwrap_or((what, ""));
    if kind == "plan" {
        let spec = words.replace("rank ", "").split(", ").map(str::to_owned).collect::<Vec<_>>();
        for name in names(slots) {
            let yaml = format!(
                "fit:\n  - module: {{size: {}, ranks: {}}}\n    slots: ['{name}']\n",
                spec[0], spec[1]
            );
            given.planned.push((name, yaml));
        }
        return;
    }
    let record = match kind {
        "module" => fields(words, true),
        "trace" => fields(words, false),
        "empty" => EMPTY.to_owned(),
        other => panic!("{id}: {other}"),
    };
    let own = names(slots).into_iter().map(|name| (name, record.clone()));
    if is_earlier { given.earlier.extend(own) } else { given.slots.extend(own) }
}
