//! What to expect of a fitting: total, speed with the limit that binds, bandwidth, balance.
//!
//! One speed holds for the whole machine: the least of what the processors allow, what the slowest module is
//! rated for, and what each channel's population allows (rule of several server makers' guides).

use super::balance::{Balance, balance};
use super::description::{Board, ProcessorGrade, Source, SpeedRow};
use super::fitting::{ChannelLoad, Fitting, Load};
use crate::population::ModuleKind;
use crate::units::{Bytes, TransferRate};

/// What limits the speed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum LimitKind {
    /// The slowest module's rating.
    Rating,
    /// The processor.
    Processor,
    /// Modules per channel, their ranks, kind and voltage.
    Population,
}

impl LimitKind {
    /// One word for JSON.
    pub fn word(self) -> &'static str {
        match self {
            Self::Rating => "rating",
            Self::Processor => "processor",
            Self::Population => "population",
        }
    }
}

/// One limit on the speed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limit {
    /// What limits.
    pub kind: LimitKind,
    /// The lowest value that a source states.
    pub low: TransferRate,
    /// The highest value that a source states; above `low` where sources disagree or the processor's family is
    /// not known.
    pub high: TransferRate,
    /// The limit in words.
    pub text: String,
    /// Slots it comes from.
    pub slots: Vec<String>,
    /// Whether it depends on what is not known of the modules: `low` and `high` are then the least and the most of what
    /// is possible.
    pub open: bool,
    /// Sources.
    pub sources: Vec<Source>,
}

/// How fast the machine will run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ExpectedSpeed {
    /// The rules cover the fitting: it runs at least at `low` and at most at `high`.
    Known {
        /// Below this something is wrong.
        low: TransferRate,
        /// The most that can be expected.
        high: TransferRate,
    },
    /// A rule is missing: it runs at most at this speed.
    AtMost(TransferRate),
    /// Nothing is known.
    Unknown,
}

impl ExpectedSpeed {
    /// The highest speed that can be expected.
    pub fn most(&self) -> Option<TransferRate> {
        match self {
            Self::Known { high, .. } | Self::AtMost(high) => Some(*high),
            Self::Unknown => None,
        }
    }

    /// The speed below which something is wrong.
    pub fn least(&self) -> Option<TransferRate> {
        match self {
            Self::Known { low, .. } => Some(*low),
            Self::AtMost(_) | Self::Unknown => None,
        }
    }
}

/// What to expect of a fitting.
#[derive(Debug, Clone, PartialEq)]
pub struct Prediction {
    /// Total, if every module has a size.
    pub total: Option<Bytes>,
    /// Speed.
    pub speed: ExpectedSpeed,
    /// All limits, the tightest first.
    pub limits: Vec<Limit>,
    /// Peak bandwidth of each socket that holds modules, in MB/s, at the highest speed to expect.
    pub peak_mb_per_s: Vec<(u16, u32)>,
    /// How evenly the modules are spread.
    pub balance: Balance,
    /// Things to know that decide nothing: numbers from memory, sources that disagree.
    pub notes: Vec<String>,
}

/// Predicts what `fitting` will do on `board`. `processors` holds the model texts of the processors, if known.
pub fn predict(board: &Board, fitting: &Fitting, processors: &[&str]) -> Prediction {
    let mut notes = Vec::new();
    let per_processor: Vec<Vec<&ProcessorGrade>> =
        processors.iter().map(|text| grades_of(board, text)).collect();
    let grades: Vec<&ProcessorGrade> = per_processor.iter().flatten().copied().collect();
    let mut limits = Vec::new();
    limits.extend(rating(fitting));
    limits.extend(processor_limit(board, &per_processor, &mut notes));
    let (population, covered) = population(board, fitting, &grades, &mut notes);
    limits.extend(population);
    limits.sort_by_key(|limit| (limit.low, limit.kind));
    let low = limits.iter().map(|limit| limit.low).min();
    let high = limits.iter().map(|limit| limit.high).min();
    let rated = limits.iter().any(|limit| limit.kind == LimitKind::Rating);
    let processors_known = !processors.is_empty()
        && per_processor.iter().all(|grades| grades.iter().any(|g| g.most.is_some() && g.source.binds()));
    let speed = match (low, high) {
        // Unless module, processor and table are all known, the machine may rightly run slower.
        (Some(low), Some(high)) if rated && covered && processors_known => ExpectedSpeed::Known { low, high },
        (_, Some(high)) => ExpectedSpeed::AtMost(high),
        _ => ExpectedSpeed::Unknown,
    };
    for limit in limits.iter().filter(|limit| !limit.open) {
        if limit.low < limit.high {
            notes.push(format!("{}: sources give {} to {}", limit.text, limit.low, limit.high));
        }
    }
    let peak_mb_per_s = speed.most().map_or_else(Vec::new, |rate| bandwidth(fitting, rate));
    let total = fitting.loads().map(|load| load.size).sum::<Option<Bytes>>();
    Prediction { total, speed, limits, peak_mb_per_s, balance: balance(fitting), notes }
}

/// The grades of a processor by its model text: those whose expression matches and has the most characters
/// that stand for themselves. Sources that disagree give several.
fn grades_of<'b>(board: &'b Board, text: &str) -> Vec<&'b ProcessorGrade> {
    let matching: Vec<&ProcessorGrade> =
        board.rules.processors.iter().filter(|grade| grade.model.is_match(text)).collect();
    let most = matching.iter().map(|grade| grade.model.literals()).max();
    matching.into_iter().filter(|grade| Some(grade.model.literals()) == most).collect()
}

/// The slowest module.
fn rating(fitting: &Fitting) -> Option<Limit> {
    let rated: Option<Vec<TransferRate>> = fitting.loads().map(|load| load.rated).collect();
    let lowest = rated?.into_iter().min()?;
    let slots = fitting
        .channels
        .iter()
        .flat_map(|channel| &channel.slots)
        .filter(|(_, load)| load.and_then(|load| load.rated).is_some_and(|rate| rate.same_grade(lowest)))
        .map(|(name, _)| name.clone())
        .collect();
    let text = format!("the slowest module is rated {lowest}");
    Some(Limit {
        kind: LimitKind::Rating,
        low: lowest,
        high: lowest,
        text,
        slots,
        open: false,
        sources: Vec::new(),
    })
}

/// The slowest processor.
fn processor_limit(
    board: &Board,
    per_processor: &[Vec<&ProcessorGrade>],
    notes: &mut Vec<String>,
) -> Option<Limit> {
    if per_processor.is_empty() {
        if !board.rules.processors.is_empty() {
            notes.push("the processors are not known, so their own limit is not counted".to_owned());
        }
        return None;
    }
    for grade in per_processor.iter().flatten().filter(|grade| !grade.source.binds()) {
        if let Some(most) = grade.most {
            let note =
                format!("processors {} are said to allow {most} (from memory, unverified)", grade.model);
            if !notes.contains(&note) {
                notes.push(note);
            }
        }
    }
    // For each processor what its sources say; the slowest one counts.
    let published = per_processor.iter().filter_map(|grades| {
        let own: Vec<&&ProcessorGrade> =
            grades.iter().filter(|g| g.source.binds() && g.most.is_some()).collect();
        let low = own.iter().filter_map(|grade| grade.most).min()?;
        let high = own.iter().filter_map(|grade| grade.most).max()?;
        Some((low, high, own))
    });
    let (low, high, own) = published.min_by_key(|(low, high, _)| (*low, *high))?;
    let model = own.iter().find(|grade| grade.most == Some(low)).map_or("", |grade| grade.model.as_str());
    let text = format!("processors {model} allow {}", range(low, high));
    let mut sources: Vec<Source> = own.iter().map(|grade| grade.source.clone()).collect();
    sources.dedup();
    Some(Limit { kind: LimitKind::Processor, low, high, text, slots: Vec::new(), open: false, sources })
}

/// The most that one channel's content allows by the published rows; `None` where none covers it.
pub(crate) fn channel_speed(
    board: &Board,
    channel: &ChannelLoad,
    processors: &[&str],
) -> Option<TransferRate> {
    let grades: Vec<&ProcessorGrade> = processors.iter().flat_map(|text| grades_of(board, text)).collect();
    rows_for(board, channel, &grades, Unknown::Fails)
        .iter()
        .filter(|row| row.source.binds())
        .map(|row| row.most)
        .max()
}

/// The tightest channel by the speed table, and whether the table covers every channel.
fn population(
    board: &Board,
    fitting: &Fitting,
    grades: &[&ProcessorGrade],
    notes: &mut Vec<String>,
) -> (Option<Limit>, bool) {
    let mut tightest: Option<Limit> = None;
    let mut highest = None;
    let mut covered = true;
    for channel in fitting.channels.iter().filter(|channel| channel.count() > 0) {
        let mut rows = rows_for(board, channel, grades, Unknown::Fails);
        // What is not known must not hide a limit.
        let open = !rows.iter().any(|row| row.source.binds());
        if open {
            rows.extend(rows_for(board, channel, grades, Unknown::Passes));
        }
        let (published, remembered): (Vec<&SpeedRow>, Vec<&SpeedRow>) =
            rows.into_iter().partition(|row| row.source.binds());
        if let (true, Some(row)) = (published.is_empty(), remembered.first()) {
            let note =
                format!("{} may run at {} at most (from memory, unverified)", describe(channel), row.most);
            if !notes.contains(&note) {
                notes.push(note);
            }
        }
        let (Some(low), Some(high)) =
            (published.iter().map(|row| row.most).min(), published.iter().map(|row| row.most).max())
        else {
            covered = false;
            continue;
        };
        covered &= !open && published.iter().any(|row| !row.ceiling);
        highest = Some(highest.map_or(high, |other: TransferRate| other.min(high)));
        let by = if open { ", by what is not known of them" } else { "" };
        let text = format!("{} run at {}{by}", describe(channel), range(low, high));
        match &mut tightest {
            Some(limit) if limit.low == low && limit.high == high => limit.slots.extend(channel.filled()),
            Some(limit) if limit.low <= low => {}
            _ => {
                let mut sources: Vec<Source> = Vec::new();
                for row in &published {
                    if !sources.contains(&row.source) {
                        sources.push(row.source.clone());
                    }
                }
                let slots = channel.filled();
                tightest = Some(Limit { kind: LimitKind::Population, low, high, text, slots, open, sources });
            }
        }
    }
    // Another channel may be the tighter one by its highest number.
    if let (Some(limit), Some(highest)) = (&mut tightest, highest) {
        limit.high = highest;
    }
    (tightest, covered)
}

fn range(low: TransferRate, high: TransferRate) -> String {
    if low == high { low.to_string() } else { format!("{} to {high}", low.0) }
}

/// `2 2-rank RDIMM in a channel`.
fn describe(channel: &ChannelLoad) -> String {
    let count = channel.count();
    let most = channel.loads().filter_map(|load| load.ranks).max();
    let kind = channel.loads().find_map(|load| load.kind).map_or("modules", ModuleKind::word);
    let ranks = most.map_or_else(String::new, |ranks| format!("{ranks}-rank "));
    format!("{count} {ranks}{kind} in a channel")
}

/// What a row makes of a kind, of ranks or a voltage that is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Unknown {
    /// Only rows that do not ask for it hold.
    Fails,
    /// All rows hold that could.
    Passes,
}

/// The rows that hold for a channel.
fn rows_for<'b>(
    board: &'b Board,
    channel: &ChannelLoad,
    grades: &[&ProcessorGrade],
    unknown: Unknown,
) -> Vec<&'b SpeedRow> {
    let count = u8::try_from(channel.count()).unwrap_or(u8::MAX);
    let slots = u8::try_from(channel.slots.len()).unwrap_or(u8::MAX);
    let loads: Vec<&Load> = channel.loads().collect();
    let passes = unknown == Unknown::Passes;
    let all = |known: fn(&Load) -> bool| loads.iter().all(|load| known(load));
    let ranks = loads.iter().filter_map(|load| load.ranks).max();
    let families: Vec<&str> = grades.iter().filter_map(|grade| grade.family.as_deref()).collect();
    let voltage = loads.iter().filter_map(|load| load.voltage).max();
    let rated = loads.iter().filter_map(|load| load.rated).min();
    let matching = |row: &&SpeedRow| {
        (row.modules.is_empty() || row.modules.contains(&count))
            && (row.slots.is_empty() || row.slots.contains(&slots))
            && (row.kinds.is_empty()
                || loads.iter().all(|load| load.kind.map_or(passes, |kind| row.kinds.contains(&kind))))
            && (row.ranks.is_empty()
                || if all(|load| load.ranks.is_some()) {
                    ranks.is_some_and(|most| row.ranks.contains(&most))
                } else {
                    // One of those that are not known may have more.
                    passes && row.ranks.iter().any(|most| ranks.is_none_or(|known| known <= *most))
                })
            && row
                .voltage
                .is_none_or(|v| if all(|load| load.voltage.is_some()) { voltage == Some(v) } else { passes })
            && row.rated.is_none_or(|r| rated.map_or(passes, |rate| rate.same_grade(r)))
            && row.family.as_deref().is_none_or(|family| families.is_empty() || families.contains(&family))
    };
    board.rules.speeds.iter().filter(matching).collect()
}

/// Channels in use × exact MT/s × 8 bytes.
fn bandwidth(fitting: &Fitting, rate: TransferRate) -> Vec<(u16, u32)> {
    let mut sockets: Vec<(u16, u32)> = Vec::new();
    for channel in fitting.channels.iter().filter(|channel| channel.count() > 0) {
        match sockets.iter_mut().find(|(socket, _)| *socket == channel.socket) {
            Some((_, channels)) => *channels += 1,
            None => sockets.push((channel.socket, 1)),
        }
    }
    for (_, channels) in &mut sockets {
        *channels = channels.saturating_mul(rate.thirds()).saturating_mul(8) / 3;
    }
    sockets
}
