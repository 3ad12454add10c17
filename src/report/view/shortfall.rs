//! Where memory is lost on its way, and which slots are suspect.

use crate::diagnose::{Shortfall, Stage, Stated, Suspicion};
use crate::plan::agreement::describe_wanted;

/// What is said of a shortfall.
#[derive(Debug)]
pub(crate) struct ShortfallView {
    pub(crate) stages: Vec<StageView>,
    /// What was stated beside what is detected, where there is something to say of it.
    pub(crate) stated: Option<StatedView>,
    pub(crate) suspects: Option<SuspectsView>,
}

/// One station of memory on its way.
#[derive(Debug)]
pub(crate) struct StageView {
    /// Its word in JSON.
    pub(crate) word: &'static str,
    /// What it is called.
    pub(crate) title: &'static str,
    /// What arrives there, and what was lost.
    pub(crate) text: String,
    /// What arrives there, for a bar.
    pub(crate) bytes: u64,
    /// What may explain it.
    pub(crate) reasons: Vec<String>,
}

/// What was stated beside what is detected.
#[derive(Debug)]
pub(crate) struct StatedView {
    /// Each side, kind by kind.
    pub(crate) sides: [(&'static str, Vec<String>); 2],
    /// What it comes to.
    pub(crate) text: String,
}

impl StatedView {
    fn new(stated: &Stated) -> Option<Self> {
        let sides = [("stated", stated.claimed.clone()), ("detected", stated.detected.clone())];
        stated.sentence().map(|text| Self { sides, text })
    }
}

/// Slots that most plausibly hold what is missing.
#[derive(Debug)]
pub(crate) struct SuspectsView {
    /// What was stated to be fitted and is not detected.
    pub(crate) missing: Vec<String>,
    /// Which slots are suspect, and how sure that is.
    pub(crate) texts: Vec<String>,
    pub(crate) slots: Vec<String>,
}

impl ShortfallView {
    pub(super) fn new(shortfall: &Shortfall) -> Self {
        let suspects = shortfall.suspects().map(|suspicion| SuspectsView {
            missing: missing(suspicion),
            texts: texts(suspicion, shortfall.channels_known),
            slots: suspicion.slots(),
        });
        let stated = shortfall.stated.as_ref().and_then(StatedView::new);
        Self { stages: shortfall.stages.iter().map(stage).collect(), stated, suspects }
    }
}

fn stage(stage: &Stage) -> StageView {
    let less = match (stage.lost.0, stage.usual) {
        (0, _) => String::new(),
        (_, true) => format!(", {} less, which is usual", stage.lost.rounded()),
        (_, false) => format!(", {} less", stage.lost.rounded()),
    };
    StageView {
        word: stage.station.word(),
        title: stage.station.info().title,
        text: format!("{}{less}", stage.size.rounded()),
        bytes: stage.size.0,
        reasons: stage.reasons.clone(),
    }
}

fn missing(suspicion: &Suspicion) -> Vec<String> {
    let mut modules: Vec<String> = suspicion.missing.iter().map(describe_wanted).collect();
    modules.sort_unstable();
    let same = modules.chunk_by(|a, b| a == b);
    same.map(|same| format!("{} x {} not detected", same.len(), same[0])).collect()
}

fn texts(suspicion: &Suspicion, channels_known: bool) -> Vec<String> {
    let mut texts = vec![match (suspicion.ways.as_slice(), channels_known) {
        ([way], false) => format!("Named by the firmware or the event log, or the only slots that are empty: {}.", way.join(", ")),
        (_, false) => "The labels do not prove the channels, so any empty slot may be the one; name a board with `--board` to narrow it down.".to_owned(),
        ([], true) if !suspicion.open => "By the even population around it, other modules are in their place.".to_owned(),
        ([], true) => "There is no empty slot for them: the modules were not all fitted, or the wrong number was stated.".to_owned(),
        ([way], true) => format!("Most plausible by the even population around it: {}.", way.join(", ")),
        (ways, true) => {
            let ways: Vec<String> = ways.iter().map(|way| way.join(" and ")).collect();
            format!("Equally plausible by the population around it: {}.", ways.join("; or "))
        }
    }];
    if channels_known && suspicion.open {
        texts.push("Not all ways could be tried or are named; others may be as plausible.".to_owned());
    }
    texts
}
