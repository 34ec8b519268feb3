//! The thread of a feature in the state it is used in, with spreads.
//!
//! Numbers that only matter after a wash or under stretch are asked for only then, so that a new piece at rest does not
//! list them. Resistances in ohm/m; see [`crate::conduction::in_use`] for the law.

use super::assumed;
use super::input::{Origin, Place, Register};
use super::{Piece, ThreadChoice};
use crate::conduction::{NewThread, Use, in_use};
use crate::materials::{Known, Library, Status, Thread};
use crate::uncertainty::{Linear, Measured, propagate};
use crate::units::{self, Quantity};

/// What the whole piece is used in.
pub(super) struct UseValues {
    pub(super) temperature_k: Linear,
    stretch: Option<Linear>,
    washes: u32,
}

/// A thread in use.
pub(super) struct ThreadValues {
    pub(super) diameter_m: Linear,
    /// In use.
    pub(super) ohm_per_m: Linear,
    /// As from the spool, at the best values.
    pub(super) new: NewThread,
    /// What it is used in, at the best values.
    pub(super) state: Use,
}

impl UseValues {
    /// Temperature, and stretch where there is one.
    pub(super) fn register(register: &mut Register<'_>, piece: &Piece) -> Self {
        let temperature_k =
            register.given_or(Place::Piece, &units::TEMPERATURE, piece.temperature_k, (&assumed::TEMPERATURE, Origin::Assumed));
        let stretch = piece.stretch.map(|given| register.given(Place::Piece, &units::STRETCH, given));
        Self { temperature_k, stretch, washes: piece.after_washes }
    }
}

impl ThreadValues {
    /// The thread that a feature names, at `place`.
    pub(super) fn register(register: &mut Register<'_>, place: Place, given: &ThreadChoice, library: &Library, state: &UseValues) -> Self {
        let entry = given.library.as_deref().and_then(|id| library.thread(id));
        let mut one = |quantity: &'static Quantity, number: Option<Measured>, of: fn(&Thread) -> &Known, otherwise: &'static Known| {
            let source = entry.map_or((otherwise, Origin::Assumed), |e| (of(e), Origin::Library));
            register.given_or(place, quantity, number, source)
        };
        let ohm_per_m =
            one(&units::LINEAR_RESISTANCE, given.linear_resistance_ohm_per_m, |t| &t.linear_resistance_ohm_per_m, &CHECKED_BEFORE);
        let diameter_m = one(&units::THREAD_DIAMETER, given.diameter_m, |t| &t.diameter_m, &CHECKED_BEFORE);
        let coefficient = one(
            &units::TEMPERATURE_COEFFICIENT,
            given.temperature_coefficient_per_k,
            |t| &t.temperature_coefficient_per_k,
            &assumed::TEMPERATURE_COEFFICIENT,
        );
        let nothing = Linear::exact(0.0);
        let growth = if state.washes > 0 {
            one(&units::GROWTH_PER_WASH, given.growth_per_wash, |t| &t.growth_per_wash, &assumed::GROWTH_PER_WASH)
        } else {
            nothing.clone()
        };
        let factor = if state.stretch.is_some() {
            one(&units::STRETCH_FACTOR, given.stretch_factor, |t| &t.stretch_factor, &assumed::STRETCH_FACTOR)
        } else {
            nothing.clone()
        };
        let stretch = state.stretch.as_ref().unwrap_or(&nothing);
        let split = |x: &[f64]| {
            let thread = NewThread {
                linear_resistance_ohm_per_m: x[0],
                temperature_coefficient_per_k: x[1],
                growth_per_wash: x[3].max(0.0),
                stretch_factor: x[4].max(0.0),
            };
            (thread, Use { temperature_k: x[2], washes: f64::from(state.washes), stretch: x[5].max(0.0) })
        };
        let arguments = [&ohm_per_m, &coefficient, &state.temperature_k, &growth, &factor, stretch];
        let [in_use_ohm_per_m] = propagate(&arguments, |x| {
            let (thread, state) = split(x);
            [in_use(&thread, &state)]
        });
        let (new, state) = split(&arguments.map(|a| a.value));
        Self { diameter_m, ohm_per_m: in_use_ohm_per_m, new, state }
    }
}

/// Stands where `Piece::check` has made sure that a number or an entry is there; never read.
pub(super) static CHECKED_BEFORE: Known = Known { measured: Measured::exact(1.0), source: "", status: Status::Given };
