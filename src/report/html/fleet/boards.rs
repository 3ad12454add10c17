//! The boards of a fleet's products, with how often each slot is at fault.

use std::collections::BTreeMap;

use maud::{Markup, html};

use crate::base::words::plural;
use crate::fleet::ProductFaults;
use crate::population::{Channel, Location, Slot};
use crate::report::html::board::{self, Block, Cell, ChannelPlace, Look};
use crate::report::view::Mark;

/// Where a slot is on the boards of a product, as far as one listing proves it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct SlotPlace {
    name: String,
    socket: Option<u16>,
    controller: Option<u16>,
    channel: Option<String>,
    position: Option<u16>,
    number: Option<u16>,
}

impl SlotPlace {
    pub(super) fn of(slot: &Slot<'_>) -> Self {
        let Location { socket, channel, position, number, .. } = slot.location;
        Self {
            name: slot.name.to_string(),
            socket,
            controller: channel.and_then(|channel| channel.controller),
            channel: channel.map(|channel| channel.name.to_owned()),
            position,
            number,
        }
    }

    /// What a plan names and no listing has.
    fn unlisted(name: &str) -> Self {
        let name = name.to_owned();
        Self { name, socket: None, controller: None, channel: None, position: None, number: None }
    }

    fn location(&self) -> Location<'_> {
        let channel = self.channel.as_deref().map(|name| Channel { controller: self.controller, name });
        let Self { socket, position, number, .. } = *self;
        Location { socket, channel, position, number, ..Location::default() }
    }

    /// Whether it says more than another one of the same slot.
    fn proves_more(&self, other: &Self) -> bool {
        let proven = |own: &Self| (own.channel.is_some(), own.socket.is_some(), own.position.is_some());
        proven(self) > proven(other)
    }
}

/// Products whose boards are drawn; those with the most faults.
const DRAWN: usize = 12;

/// The boards by product, each with its slots by name.
#[derive(Debug, Default)]
pub(super) struct Boards(BTreeMap<String, BTreeMap<String, SlotPlace>>);

impl Boards {
    /// Takes note of a host's board: of slots that no machine of its product had before, and of places that its
    /// labels prove and those before did not.
    pub(super) fn see(&mut self, product: &str, places: &[SlotPlace]) {
        if !self.0.contains_key(product) {
            self.0.insert(product.to_owned(), BTreeMap::new());
        }
        let Some(known) = self.0.get_mut(product) else { return };
        for place in places {
            if known.get(&place.name).is_none_or(|known| place.proves_more(known)) {
                known.insert(place.name.clone(), place.clone());
            }
        }
    }

    /// How often each slot is at fault, on the boards of each product.
    pub(super) fn draw(&self, products: &[ProductFaults<'_>]) -> Markup {
        html! {
            @if !products.is_empty() {
                section aria-labelledby="boards" {
                    h2 #boards { "How often each slot is at fault" }
                    @for product in products.iter().take(DRAWN) {
                        h3 { (product.product) ", " (product.machines) " " (plural(product.machines, "machine")) }
                        (board::draw(&self.boards_of(product)))
                    }
                    @if products.len() > DRAWN {
                        p { "and " (products.len() - DRAWN) " more products with fewer faults" }
                    }
                }
            }
        }
    }

    fn boards_of(&self, product: &ProductFaults<'_>) -> Vec<Block> {
        let none = BTreeMap::new();
        let listed = self.0.get(product.product).unwrap_or(&none);
        let faults: BTreeMap<&str, usize> = product.slots.iter().copied().collect();
        let unlisted = faults.keys().filter(|slot| !listed.contains_key(**slot));
        let unlisted: Vec<SlotPlace> = unlisted.map(|slot| SlotPlace::unlisted(slot)).collect();
        let mut all: Vec<&SlotPlace> = listed.values().chain(&unlisted).collect();
        all.sort_by_key(|slot| (slot.location().board_key(), &slot.name));
        let most = faults.values().max().copied().unwrap_or(0).max(1);
        let cells = all.into_iter().map(|slot| {
            let name = slot.name.as_str();
            let count = faults.get(name).copied().unwrap_or(0);
            let share = format!("{count} of {}", product.machines);
            let cell = Cell {
                name: name.to_owned(),
                spoken: format!("{name}: at fault on {share} machines"),
                lines: if count == 0 { vec!["never".to_owned()] } else { Vec::new() },
                says: (count > 0).then_some((Mark::Fault, share)),
                look: if count > 0 { Look::Filled } else { Look::Empty },
                bar: Some(count * 1000 / most),
                link: None,
            };
            (ChannelPlace::of(&slot.location()), cell)
        });
        board::blocks(cells.collect(), |socket| {
            socket.map_or_else(
                || "slots without a proven socket".to_owned(),
                |number| format!("socket {number}"),
            )
        })
    }
}
