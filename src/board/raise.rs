//! Single changes that would let a machine run faster, with what they cost.

use super::description::Board;
use super::fitting::{ChannelLoad, Fitting};
use super::predict::{ExpectedSpeed, predict};
use super::rules::check;
use crate::base::words::comma_list;
use crate::units::{Bytes, TransferRate};

/// One change that raises the speed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Raise {
    /// What to change.
    pub text: String,
    /// The speed to expect then.
    pub speed: TransferRate,
    /// Memory that it costs.
    pub lost: Bytes,
}

/// Changes that raise the expected speed, the cheapest first: taking the last module out of the fullest channels,
/// and replacing the slowest modules with ones rated like the next faster ones.
pub(crate) fn raises(board: &Board, fitting: &Fitting, processors: &[&str]) -> Vec<Raise> {
    let Some(now) = predict(board, fitting, processors).speed.most() else { return Vec::new() };
    let mut raises: Vec<Raise> = [thinner(fitting), quicker(fitting)]
        .into_iter()
        .flatten()
        .filter(|(changed, _)| check(board, changed).iter().all(|violation| !violation.fault))
        .filter_map(|(changed, text)| {
            let speed = match predict(board, &changed, processors).speed {
                ExpectedSpeed::Known { high, .. } | ExpectedSpeed::AtMost(high) => high,
                ExpectedSpeed::Unknown => return None,
            };
            let lost = Bytes(total(fitting).0.saturating_sub(total(&changed).0));
            now.below(speed).then_some(Raise { text, speed, lost })
        })
        .collect();
    raises.sort_by_key(|raise| raise.lost);
    raises
}

fn total(fitting: &Fitting) -> Bytes {
    fitting.loads().filter_map(|load| load.size).sum()
}

/// Without the last module of each of the fullest channels.
fn thinner(fitting: &Fitting) -> Option<(Fitting, String)> {
    let most = fitting.channels.iter().map(ChannelLoad::count).max().filter(|most| *most > 1)?;
    let mut changed = fitting.clone();
    let mut taken = Vec::new();
    for channel in changed.channels.iter_mut().filter(|channel| channel.count() == most) {
        if let Some((name, load)) = channel.slots.iter_mut().rfind(|(_, load)| load.is_some()) {
            taken.push(name.clone());
            *load = None;
        }
    }
    Some((changed, format!("take the modules out of {}", comma_list(taken))))
}

/// With the slowest modules rated like the next faster ones.
fn quicker(fitting: &Fitting) -> Option<(Fitting, String)> {
    let slowest = fitting.loads().filter_map(|load| load.rated).min()?;
    let next = fitting.loads().filter_map(|load| load.rated).filter(|rate| slowest.below(*rate)).min()?;
    let mut changed = fitting.clone();
    let mut names = Vec::new();
    for (name, load) in changed.channels.iter_mut().flat_map(|channel| &mut channel.slots) {
        if let Some(load) =
            load.as_mut().filter(|load| load.rated.is_some_and(|rate| rate.same_grade(slowest)))
        {
            names.push(name.clone());
            load.rated = Some(next);
        }
    }
    Some((changed, format!("replace the modules in {} for ones rated {next}", comma_list(names))))
}
