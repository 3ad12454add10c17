//! Speeds: how fast it runs, and what the board's rules lead to expect.

use crate::board::{ExpectedSpeed, Prediction};
use crate::population::Population;

/// `runs at 1066 MT/s, rated 1333 MT/s`.
pub(super) fn speed(population: &Population<'_>) -> String {
    let range = |rates: Vec<u32>| -> Option<String> {
        let (low, high) = (rates.iter().min()?, rates.iter().max()?);
        Some(if high - low <= 2 { format!("{high} MT/s") } else { format!("{low} to {high} MT/s") })
    };
    let configured = range(population.dimms().filter_map(|(_, m)| m.configured).map(|r| r.0).collect());
    let rated = range(population.dimms().filter_map(|(_, m)| m.rated).map(|r| r.0).collect());
    let configured =
        configured.map_or_else(|| "running speed not stated".to_owned(), |speed| format!("runs at {speed}"));
    let rated = rated.map_or_else(|| "rated speed not stated".to_owned(), |speed| format!("rated {speed}"));
    format!("{configured}, {rated}")
}

/// What the rules lead to expect, as a statement of its own.
pub(super) fn expected(prediction: &Prediction) -> String {
    match prediction.speed {
        ExpectedSpeed::Known { low, high } if low != high => {
            format!("{}; the sources disagree", to_expect(&prediction.speed))
        }
        ExpectedSpeed::Known { .. } => to_expect(&prediction.speed),
        ExpectedSpeed::AtMost(high) => format!("at most {high}; the rules do not cover all of it"),
        ExpectedSpeed::Unknown => "not covered by the rules".to_owned(),
    }
}

/// The same in one line, as one fact of many, with what limits it.
pub(super) fn expected_in_brief(prediction: &Prediction) -> String {
    let limits: Vec<&str> = prediction.limits.iter().map(|limit| limit.text.as_str()).collect();
    let speed = to_expect(&prediction.speed);
    let is_open = limits.is_empty() || prediction.speed == ExpectedSpeed::Unknown;
    if is_open { speed } else { format!("{speed}: {}", limits.join("; ")) }
}

fn to_expect(speed: &ExpectedSpeed) -> String {
    match speed {
        ExpectedSpeed::Known { low, high } if low == high => format!("{high} to be expected"),
        ExpectedSpeed::Known { low, high } => format!("{} to {high} to be expected", low.0),
        ExpectedSpeed::AtMost(high) => format!("at most {high} to be expected"),
        ExpectedSpeed::Unknown => "they do not cover this fitting".to_owned(),
    }
}
