//! The terminal of a run: whether neighbouring contacts stay apart, and whether the needle goes through the board.
//!
//! Lengths in m, with spreads. The free space between neighbouring contacts is the pitch less what is widest there: the
//! passes of the run side by side, or the needle's blade, which must not pierce the neighbour. A board's hole must take the
//! blade with the thread beside it. Own rules; clearances are the shop's.

use super::input::{Place, Register};
use super::{Machine, Terminal};
use crate::uncertainty::Linear;
use crate::units;

/// What the checks of a terminal look at; `None` where the piece does not say enough.
pub(super) struct TerminalValues {
    /// Between neighbouring contacts.
    pub(super) free_m: Option<Linear>,
    /// Hole of the board, and what it must take.
    pub(super) hole_m: Option<[Linear; 2]>,
}

/// Reads the terminal at `place`, of a run whose passes lie `width_m` wide in thread of `thread_diameter_m`.
pub(super) fn terminal_values(
    register: &mut Register<'_>,
    place: Place,
    terminal: &Terminal,
    machine: &Machine,
    width_m: &Linear,
    thread_diameter_m: &Linear,
) -> TerminalValues {
    let needle_m = Linear::exact(machine.needle_diameter_m);
    let free_m = terminal.pitch_m.map(|given| {
        let pitch = register.given(place, &units::TERMINAL_PITCH, given);
        pitch.plus(-1.0, if width_m.value >= needle_m.value { width_m } else { &needle_m })
    });
    let hole_m = terminal.hole_diameter_m.map(|given| {
        let hole = register.given(place, &units::HOLE, given);
        [hole, needle_m.plus(1.0, thread_diameter_m)]
    });
    TerminalValues { free_m, hole_m }
}
