//! The tables of the search: what each use costs and which choice led there.

/// Cost of a part: squares of sockets, squares of channels, channels not used, slots that hold something else
/// now. Smaller is better.
pub(super) type Cost = (u128, u128, usize, usize);

pub(super) fn add(a: Cost, b: Cost) -> Cost {
    (a.0 + b.0, a.1 + b.1, a.2 + b.2, a.3 + b.3)
}

/// One step of a search: for every use that can be reached, in their order, the cost so far and the choice
/// that led there.
pub(super) type Layer = Vec<(usize, Cost, u32)>;

/// The choice that led to a use.
pub(super) fn at(layer: &Layer, usage: usize) -> Option<u32> {
    let index = layer.binary_search_by_key(&usage, |(own, ..)| *own).ok()?;
    layer.get(index).map(|(_, _, choice)| *choice)
}

/// A layer while it is filled, with the place of each use in it.
pub(super) struct Filling {
    pub(super) layer: Layer,
    index: Vec<u32>,
}

impl Filling {
    pub(super) fn new(uses: usize) -> Self {
        Self { layer: Vec::new(), index: vec![u32::MAX; uses] }
    }

    /// Keeps the cheaper of what is there and what is offered.
    pub(super) fn offer(&mut self, usage: usize, cost: Cost, choice: u32) {
        let Some(index) = self.index.get_mut(usage) else { return };
        match self.layer.get_mut(*index as usize) {
            Some((_, old, kept)) => {
                if cost < *old {
                    (*old, *kept) = (cost, choice);
                }
            }
            None => {
                *index = u32::try_from(self.layer.len()).unwrap_or(u32::MAX);
                self.layer.push((usage, cost, choice));
            }
        }
    }

    /// The layer that was filled; the next one starts empty.
    pub(super) fn take(&mut self) -> Layer {
        let mut layer = std::mem::take(&mut self.layer);
        for (usage, ..) in &layer {
            self.index[*usage] = u32::MAX;
        }
        layer.sort_unstable_by_key(|(usage, ..)| *usage);
        layer
    }
}
