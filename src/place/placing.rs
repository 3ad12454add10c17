//! Placing the order of a plan, for an empty machine or for one that is fitted already.

use super::blockers::{blockers, never};
use super::near::Fitted;
use super::order::Order;
use super::search::best;
use crate::base::words::counted;
use crate::board::{Board, ExpectedSpeed, Fitting, predict};
use crate::plan::agreement::describe_wanted;
use crate::plan::{Demand, ModuleSpec, Plan, PlannedSlot, Processor};
use crate::population::Population;
use crate::records::enums::ProcessorStatus;
use crate::yaml::FileError;

/// A placement.
#[derive(Debug, Clone, PartialEq)]
pub struct Placement {
    /// The plan with every module in its slot.
    pub plan: Plan,
    /// Why each choice was made.
    pub reasons: Vec<String>,
}

/// Why an order cannot be placed.
#[derive(Debug, Clone, PartialEq)]
pub struct Refusal {
    /// The rules that stop it.
    pub rules: Vec<String>,
    /// What was ordered.
    pub order: Vec<(u32, ModuleSpec)>,
    /// The largest part that fits, if it was found.
    pub largest: Option<Placement>,
    /// Whether the largest part was not looked for, since the search would be too large.
    pub too_large: bool,
}

impl Refusal {
    /// How much of the order the largest part is, and what is left over.
    pub fn left_over(&self) -> String {
        let total =
            |order: &[(u32, ModuleSpec)]| order.iter().map(|(count, _)| *count as usize).sum::<usize>();
        let placed = self.largest.as_ref().map_or(0, |placement| placement.plan.modules().count());
        let mut left = Vec::new();
        for (count, wanted) in &self.order {
            let own = |planned: &ModuleSpec| planned == wanted;
            let part = self
                .largest
                .iter()
                .flat_map(|p| p.plan.modules())
                .filter(|(_, planned)| own(planned))
                .count();
            // The same module in several lines of the order is placed once.
            let rest = (*count as usize).saturating_sub(part);
            if rest > 0 {
                left.push(format!("{rest} x {}", describe_wanted(wanted)));
            }
        }
        format!("{placed} of {} modules, left over {}", total(&self.order), left.join(" and "))
    }
}

/// The outcome of placing.
#[derive(Debug, Clone, PartialEq)]
pub enum Placed {
    /// All modules have slots, in the best way.
    All(Box<Placement>),
    /// They do not fit.
    Refused(Box<Refusal>),
}

/// Places the plan's order on `board`. The plan must not have modules in slots already.
///
/// # Errors
/// [`FileError`] where the plan has no order, also has slots, orders a module without a size, or orders so
/// many different modules that an exact search would take too long.
pub fn place(plan: &Plan, board: &Board) -> Result<Placed, FileError> {
    place_by(plan, board, None)
}

/// Gives the modules of an order their slots if there is a board: of the best placements the one nearest to what is
/// fitted, with a note that says so. A plan without an order, or without a board, stays as it is.
///
/// # Errors
/// As [`place`], and where the order does not fit.
pub(crate) fn near_to_fitted(
    plan: Plan,
    board: Option<&Board>,
    fitted: &Population<'_>,
) -> Result<(Plan, Option<String>), FileError> {
    let Some(board) = board.filter(|_| !plan.order.is_empty()) else { return Ok((plan, None)) };
    match place_near(&plan, board, fitted)? {
        Placed::All(placement) => {
            let note = format!(
                "the plan's order was placed on board {}: of the best placements the one nearest to what is fitted",
                board.name
            );
            Ok((placement.plan, Some(note)))
        }
        Placed::Refused(refusal) => Err(FileError {
            file: plan.source,
            line: None,
            found: format!("an `order` that does not fit the board: {}", refusal.rules.join("; ")),
            expected: "one that does".to_owned(),
            advice: "See the largest part that fits with `asfitted plan place PLAN`, or correct the order."
                .to_owned(),
        }),
    }
}

/// As [`place`], for a machine whose memory is fitted already: of equally good placements the one in which the
/// fewest slots of `fitted` hold something else. Within a channel, modules with equal ranks keep the order in
/// which they are. Where the plan does not say which processors are there, those of the machine are.
///
/// # Errors
/// As [`place`].
pub fn place_near(plan: &Plan, board: &Board, fitted: &Population<'_>) -> Result<Placed, FileError> {
    let known = processors_of(fitted, board).filter(|_| plan.processors.is_empty());
    let Some(processors) = known else { return place_by(plan, board, Some(fitted)) };
    let mut placed = place_by(&Plan { processors, ..plan.clone() }, board, Some(fitted))?;
    match &mut placed {
        Placed::All(placement) => placement.plan.processors.clear(),
        Placed::Refused(refusal) => {
            if let Some(placement) = &mut refusal.largest {
                placement.plan.processors.clear();
            }
        }
    }
    Ok(placed)
}

/// What is in each socket of the board, if the listing states it for all of them.
fn processors_of(population: &Population<'_>, board: &Board) -> Option<Vec<Processor>> {
    let of = |number: u16| {
        let socket = population.sockets.iter().find(|socket| socket.number == Some(number))?;
        match (socket.status, socket.processor) {
            (Some(ProcessorStatus::Unpopulated), _) => Some(Processor::Absent),
            (_, model) => model.map(|model| Processor::Model(model.to_owned())),
        }
    };
    board.sockets.iter().map(|socket| of(socket.number)).collect()
}

fn place_by(plan: &Plan, board: &Board, fitted: Option<&Population<'_>>) -> Result<Placed, FileError> {
    let error = |found: &str, expected: &str, advice: &str| FileError {
        file: plan.source.clone(),
        line: None,
        found: found.to_owned(),
        expected: expected.to_owned(),
        advice: advice.to_owned(),
    };
    if plan.order.is_empty() {
        let advice = "Write `order: [12 x 16GB 2Rx4 PC3L-10600R]`.";
        return Err(error("no `order`", "modules to place", advice));
    }
    if plan.modules().next().is_some() {
        let advice = "Move the modules of `fit` into `order`, or leave `order` out.";
        return Err(error("both `order` and `fit`", "one of them", advice));
    }
    if plan.order.iter().any(|(_, wanted)| wanted.size.is_none()) {
        return Err(error("a module without a size", "its size at least", "Add the size."));
    }
    let board = &present(board, plan);
    let models = plan.processor_models();
    let order = Order::new(&plan.order);
    let too_many = || {
        error(
            &format!(
                "{} modules of {} kinds, whose combinations are too many for an exact search",
                order.total(),
                order.kinds.len()
            ),
            "fewer kinds or modules",
            "Split the order, or join kinds that need not be distinguished.",
        )
    };
    if let Some(rule) = never(board, &order) {
        return Ok(Placed::Refused(Box::new(Refusal {
            rules: vec![rule],
            order: plan.order.clone(),
            largest: None,
            too_large: false,
        })));
    }
    let slots = board.slots().count();
    let near = fitted.map(|population| Fitted::new(board, &order, population));
    if order.total() <= slots
        && let Some(contents) = best(board, &order, &models, true, near.as_ref()).map_err(|_| too_many())?
    {
        return Ok(Placed::All(Box::new(placement(plan, board, &order, &contents, &models))));
    }
    let rules = blockers(board, &order, &models);
    let ordered = plan.order.clone();
    let order = order.capped(slots);
    let near = fitted.map(|population| Fitted::new(board, &order, population));
    let largest = best(board, &order, &models, false, near.as_ref());
    let too_large = largest.is_err();
    let largest = largest.ok().flatten().map(|contents| placement(plan, board, &order, &contents, &models));
    Ok(Placed::Refused(Box::new(Refusal { rules, order: ordered, largest, too_large })))
}

/// The board without sockets that the plan says hold no processor.
fn present(board: &Board, plan: &Plan) -> Board {
    let mut board = board.clone();
    if !plan.processors.is_empty() {
        let there = |index: usize| matches!(plan.processors.get(index), Some(Processor::Model(_)));
        let mut index = 0;
        board.sockets.retain(|_| {
            index += 1;
            there(index - 1)
        });
    }
    board
}

/// The plan and its reasons; `contents` has what each channel takes: indices into the order, in the order of filling.
fn placement(
    plan: &Plan,
    board: &Board,
    order: &Order,
    contents: &[Vec<usize>],
    models: &[&str],
) -> Placement {
    let mut slots = Vec::new();
    let mut reasons = Vec::new();
    for ((socket, channel), content) in board.channels().zip(contents) {
        for (at, slot) in channel.slots.iter().enumerate() {
            let demand = match content.get(at) {
                Some(kind) => Demand::Module(order.kinds[*kind].0.clone()),
                None => Demand::Empty,
            };
            slots.push(PlannedSlot { slot: slot.clone(), line: None, demand });
        }
        let names: Vec<String> = content.iter().map(|kind| describe_wanted(&order.kinds[*kind].0)).collect();
        if !names.is_empty() {
            let ranks: Option<usize> =
                content.iter().map(|kind| order.kinds[*kind].1.ranks.map(usize::from)).sum();
            let ranks = ranks.map_or_else(String::new, |ranks| format!(", {}", counted(ranks, "rank")));
            reasons.push(format!(
                "channel {} of socket {}, first slot first: {}{ranks}",
                channel.name,
                socket.number,
                names.join(" + ")
            ));
        }
    }
    let placed = Plan { order: Vec::new(), slots, ..plan.clone() };
    let fitting = Fitting::of_plan(board, &placed);
    let prediction = predict(board, &fitting, models);
    let speed = match prediction.speed {
        ExpectedSpeed::Known { low, high } if low == high => format!("runs at {high}"),
        ExpectedSpeed::Known { low, high } => format!("runs at {} to {high}", low.0),
        ExpectedSpeed::AtMost(high) => format!("runs at {high} at most"),
        ExpectedSpeed::Unknown => "speed not covered by the rules".to_owned(),
    };
    let limits: Vec<&str> = prediction.limits.iter().map(|limit| limit.text.as_str()).collect();
    reasons.insert(0, format!("{speed}; no legal placement is faster ({})", limits.join("; ")));
    reasons.insert(
        1,
        format!(
            "{}: among the fastest, sockets and channels hold sizes as equal as they can",
            prediction.balance.word()
        ),
    );
    Placement { plan: placed, reasons }
}
