//! What is planned or fitted, laid out by the channels of a board: rules and speeds look at nothing else.

use super::description::Board;
use crate::plan::{Demand, ModuleSpec, Plan};
use crate::population::{Module, ModuleKind, Population};
use crate::records::enums::MemoryType;
use crate::units::{Bytes, Millivolts, TransferRate};

/// What rules need to know of a module; `None` where plan or listing do not say.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Load {
    /// Size.
    pub size: Option<Bytes>,
    /// Ranks.
    pub ranks: Option<u8>,
    /// Package ranks of a stacked module, where its label states them.
    pub package_ranks: Option<u8>,
    /// Kind.
    pub kind: Option<ModuleKind>,
    /// Generation; `None` also for a general word.
    pub memory_type: Option<MemoryType>,
    /// Rated speed.
    pub rated: Option<TransferRate>,
    /// The lowest voltage it is made for.
    pub voltage: Option<Millivolts>,
}

impl From<&ModuleSpec> for Load {
    fn from(wanted: &ModuleSpec) -> Self {
        Self {
            size: wanted.size,
            ranks: wanted.ranks,
            package_ranks: wanted.package_ranks,
            kind: wanted.kind,
            memory_type: wanted.memory_type.filter(|t| !t.is_general()),
            rated: wanted.rated,
            voltage: wanted.voltage,
        }
    }
}

impl From<&Module<'_>> for Load {
    fn from(module: &Module<'_>) -> Self {
        Self {
            size: module.bytes(),
            ranks: module.ranks,
            package_ranks: None,
            kind: module.kind,
            memory_type: module.memory_type.filter(|t| !t.is_general()),
            rated: module.rated,
            voltage: module.minimum_voltage.filter(|voltage| is_ddr3_voltage(module, *voltage)),
        }
    }
}

impl Load {
    /// What is not known of it taken from the module that is planned in its place, unless the two contradict each other.
    #[must_use]
    pub fn completed(self, planned: &Self) -> Self {
        fn differ<T: PartialEq>(own: Option<T>, planned: Option<T>) -> bool {
            own.zip(planned).is_some_and(|(own, planned)| own != planned)
        }
        let another = differ(self.size, planned.size)
            || differ(self.memory_type, planned.memory_type)
            || differ(self.kind, planned.kind)
            || self.rated.zip(planned.rated).is_some_and(|(own, planned)| !own.same_grade(planned));
        if another {
            return self;
        }
        Self {
            size: self.size.or(planned.size),
            ranks: self.ranks.or(planned.ranks),
            package_ranks: self.package_ranks.or(planned.package_ranks.filter(|_| self.ranks.is_none())),
            kind: self.kind.or(planned.kind),
            memory_type: self.memory_type.or(planned.memory_type),
            rated: self.rated.or(planned.rated),
            voltage: self.voltage.or(planned.voltage),
        }
    }

    /// What `completed` has and this one has not, in words.
    pub fn completed_in(&self, completed: &Self) -> impl Iterator<Item = &'static str> {
        [
            ("size", self.size.is_none() && completed.size.is_some()),
            ("ranks", self.ranks.is_none() && completed.ranks.is_some()),
            ("kind", self.kind.is_none() && completed.kind.is_some()),
            ("type", self.memory_type.is_none() && completed.memory_type.is_some()),
            ("rated", self.rated.is_none() && completed.rated.is_some()),
            ("voltage", self.voltage.is_none() && completed.voltage.is_some()),
        ]
        .into_iter()
        .filter_map(|(word, taken)| taken.then_some(word))
    }
}

/// Only DDR3 modules are sold for several voltages; for the others firmware often states nonsense.
fn is_ddr3_voltage(module: &Module<'_>, voltage: Millivolts) -> bool {
    module.memory_type == Some(MemoryType::DDR3) && matches!(voltage.0, 1250 | 1350 | 1500)
}

/// One channel with what is in its slots, in the order of filling.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChannelLoad {
    /// Number of its socket.
    pub socket: u16,
    /// Its name within the socket.
    pub channel: String,
    /// Slot names with the module in each, in the order of filling.
    pub slots: Vec<(String, Option<Load>)>,
}

impl ChannelLoad {
    /// The modules in the channel.
    pub fn loads(&self) -> impl Iterator<Item = &Load> {
        self.slots.iter().filter_map(|(_, load)| load.as_ref())
    }

    /// Number of modules.
    pub fn count(&self) -> usize {
        self.loads().count()
    }

    /// Names of the slots that hold a module.
    pub fn filled(&self) -> Vec<String> {
        self.slots.iter().filter(|(_, load)| load.is_some()).map(|(name, _)| name.clone()).collect()
    }

    /// `channel A of socket 1`.
    pub fn title(&self) -> String {
        format!("channel {} of socket {}", self.channel, self.socket)
    }
}

/// All channels of a board with their modules.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Fitting {
    /// Channels, in the order of the board.
    pub channels: Vec<ChannelLoad>,
}

impl Fitting {
    /// Lays out modules by the board's channels; `module` returns what is in a slot.
    pub fn new(board: &Board, module: impl Fn(&str) -> Option<Load>) -> Self {
        let channels = board
            .channels()
            .map(|(socket, channel)| ChannelLoad {
                socket: socket.number,
                channel: channel.name.clone(),
                slots: channel.slots.iter().map(|slot| (slot.clone(), module(slot))).collect(),
            })
            .collect();
        Self { channels }
    }

    /// Lays out what a plan demands.
    pub fn of_plan(board: &Board, plan: &Plan) -> Self {
        let demands = plan.demands();
        Self::new(board, |slot| match demands.get(slot) {
            Some(Demand::Module(wanted)) => Some(Load::from(wanted)),
            _ => None,
        })
    }

    /// Lays out what a listing shows.
    pub fn of_population(board: &Board, population: &Population<'_>) -> Self {
        Self::new(board, |slot| population.slot(slot).and_then(|(_, slot)| slot.fitted()).map(Load::from))
    }

    /// Lays out what a listing shows, and takes what it leaves open of a module from the one that `plan` has in its slot.
    pub fn of_population_by(board: &Board, population: &Population<'_>, plan: &Plan) -> Self {
        let demands = plan.demands();
        Self::new(board, |slot| {
            let load = population.slot(slot).and_then(|(_, slot)| slot.fitted()).map(Load::from)?;
            Some(match demands.get(slot) {
                Some(Demand::Module(wanted)) => load.completed(&Load::from(wanted)),
                _ => load,
            })
        })
    }

    /// All modules.
    pub fn loads(&self) -> impl Iterator<Item = &Load> {
        self.channels.iter().flat_map(ChannelLoad::loads)
    }

    /// Number of modules.
    pub fn count(&self) -> usize {
        self.channels.iter().map(ChannelLoad::count).sum()
    }

    /// Numbers of the sockets that hold modules.
    pub fn sockets(&self) -> Vec<u16> {
        let mut sockets: Vec<u16> = self
            .channels
            .iter()
            .filter(|channel| channel.count() > 0)
            .map(|channel| channel.socket)
            .collect();
        sockets.dedup();
        sockets
    }
}
