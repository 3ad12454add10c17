//! The one definition of what is best.

use std::cmp::Reverse;

use crate::board::{Board, ChannelLoad, Fitting, Load, check, predict};
use crate::units::{Bytes, TransferRate};

/// How good a placement is; smaller is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Merit {
    /// Speed, slowest last.
    speed: Reverse<Option<TransferRate>>,
    /// Sum of squares of the sockets' sizes in MiB: least where they are equal.
    sockets: u128,
    /// Sum of squares of the channels' sizes in MiB.
    channels: u128,
    /// Channels in use, fewest last.
    used: Reverse<usize>,
}

/// The merit of a fitting; `None` where it breaks a rule that makes a fault.
pub fn merit(board: &Board, fitting: &Fitting, processors: &[&str]) -> Option<Merit> {
    if check(board, fitting).iter().any(|violation| violation.fault) {
        return None;
    }
    let size = |loads: Vec<&Load>| -> u128 {
        let total: Bytes = loads.iter().filter_map(|load| load.size).sum();
        u128::from(total.0 / Bytes::MIB)
    };
    let of_socket = |number: u16| {
        let own = fitting.channels.iter().filter(|channel| channel.socket == number);
        size(own.flat_map(ChannelLoad::loads).collect())
    };
    Some(Merit {
        speed: Reverse(predict(board, fitting, processors).speed.most()),
        sockets: board.sockets.iter().map(|socket| of_socket(socket.number).pow(2)).sum(),
        channels: fitting.channels.iter().map(|channel| size(channel.loads().collect()).pow(2)).sum(),
        used: Reverse(fitting.channels.iter().filter(|channel| channel.count() > 0).count()),
    })
}
