//! Inputs of an estimate: where each number stands in the piece, where it comes from, and its spread.

use crate::materials::{Known, Status};
use crate::uncertainty::{Linear, Measured, Spread};
use crate::units::{COVERAGE_95, Quantity};

/// Where in the piece a number stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// A base layer, counted upwards from 0.
    Base(usize),
    /// An overlay layer, counted upwards from 0.
    Overlay(usize),
    /// The stack as a whole.
    Stack,
    /// A pad itself.
    Pad(usize),
    /// A pad's outline.
    Shape(usize),
    /// A pad's thread.
    Thread(usize),
    /// A pad's fill.
    Fill(usize),
    /// The guard around a pad.
    Guard(usize),
    /// A pad's run.
    Run(usize),
    /// The stitch of a pad's run.
    Stitch(usize),
    /// The terminal of a pad's run.
    Terminal(usize),
    /// A part of an electrode, by its field; empty for the electrode itself.
    Electrode(usize, &'static str),
    /// A part of a light row, by its field; empty for the row itself.
    LightRow(usize, &'static str),
    /// A part of a laid wire, by its field; empty for the wire itself.
    LaidWire(usize, &'static str),
    /// The controller.
    Controller,
    /// Finger and way back.
    Touch,
    /// The piece as a whole.
    Piece,
    /// The error bound of a method, for a pad; not a field of the piece.
    Method(usize, &'static str),
}

/// Where a number comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// Given with the piece.
    Given,
    /// Taken from the library.
    Library,
    /// Assumed, because the piece says nothing.
    Assumed,
    /// The stated error bound of a method.
    Method,
}

impl Origin {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Given => "given",
            Self::Library => "library",
            Self::Assumed => "assumed",
            Self::Method => "method",
        }
    }
}

/// One number that goes into an estimate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Input {
    /// Where it stands.
    pub place: Place,
    /// What it is.
    pub quantity: &'static Quantity,
    /// Value and spread, SI.
    pub measured: Measured,
    /// Where it comes from.
    pub origin: Origin,
    /// Source in words.
    pub source: &'static str,
    /// How far the source can be trusted.
    pub status: Status,
}

impl Input {
    /// What a person calls it: `thickness of base layer 1`.
    pub fn name(&self) -> String {
        let what = self.quantity.name;
        match self.place {
            Place::Base(k) => format!("{what} of base layer {}", k + 1),
            Place::Overlay(k) => format!("{what} of overlay layer {}", k + 1),
            Place::Pad(k) | Place::Shape(k) | Place::Fill(k) | Place::Thread(k) | Place::Guard(k) => format!("{what} of pad {}", k + 1),
            Place::Run(k) | Place::Stitch(k) | Place::Terminal(k) => format!("{what} of the run of pad {}", k + 1),
            Place::Electrode(k, _) => format!("{what} of electrode {}", k + 1),
            Place::LightRow(k, "return_thread") => format!("{what} of the return of light row {}", k + 1),
            Place::LightRow(k, _) => format!("{what} of light row {}", k + 1),
            Place::LaidWire(k, _) => format!("{what} of laid wire {}", k + 1),
            Place::Stack | Place::Controller | Place::Touch | Place::Piece => what.to_owned(),
            Place::Method(k, of) => format!("error of the method for the {of} of pad {}", k + 1),
        }
    }

    /// JSON pointer of the field it stands in; `None` for a method's error.
    pub fn pointer(&self) -> Option<String> {
        let field = self.quantity.field;
        Some(match self.place {
            Place::Base(k) => format!("/stack/base/{k}/{field}"),
            Place::Overlay(k) => format!("/stack/overlay/{k}/{field}"),
            Place::Stack => format!("/stack/{field}"),
            Place::Pad(k) => format!("/pads/{k}/{field}"),
            Place::Shape(k) => format!("/pads/{k}/shape/{field}"),
            Place::Thread(k) => format!("/pads/{k}/thread/{field}"),
            Place::Fill(k) => format!("/pads/{k}/fill/{field}"),
            Place::Guard(k) => format!("/pads/{k}/guard/{field}"),
            Place::Run(k) => format!("/pads/{k}/run/{field}"),
            Place::Stitch(k) => format!("/pads/{k}/run/stitch/{field}"),
            Place::Terminal(k) => format!("/pads/{k}/run/terminal/{field}"),
            Place::Electrode(k, "") => format!("/electrodes/{k}/{field}"),
            Place::Electrode(k, part) => format!("/electrodes/{k}/{part}/{field}"),
            Place::LightRow(k, "") => format!("/light_rows/{k}/{field}"),
            Place::LightRow(k, part) => format!("/light_rows/{k}/{part}/{field}"),
            Place::LaidWire(k, "") => format!("/laid_wires/{k}/{field}"),
            Place::LaidWire(k, part) => format!("/laid_wires/{k}/{part}/{field}"),
            Place::Controller => format!("/controller/{field}"),
            Place::Touch => format!("/touch/{field}"),
            Place::Piece => format!("/{field}"),
            Place::Method(..) => return None,
        })
    }

    /// The relative error of a method: anywhere within its stated bound.
    pub(super) fn method_error(pad: usize, of: &'static str, bound: f64) -> Self {
        Self {
            place: Place::Method(pad, of),
            quantity: &RELATIVE_ERROR,
            measured: Measured::uniform(-bound, bound),
            origin: Origin::Method,
            source: "error bound stated with the method: a solved field bounds its own error, a closed form was measured against solved fields",
            status: Status::Published,
        }
    }

    /// Whether nobody has measured it for this piece: taken from a source without a standard behind it, assumed, or
    /// given only as a range.
    pub fn unmeasured(&self) -> bool {
        let guessed = match self.origin {
            Origin::Given => self.measured.spread == Spread::Uniform,
            Origin::Library | Origin::Assumed => self.status != Status::Standard,
            Origin::Method => false,
        };
        guessed && self.measured.spread != Spread::Exact
    }

    /// Whether a stitched coupon can measure it. Fingers, rooms and datasheets are not in a coupon.
    pub fn coupon_measures(&self) -> bool {
        match self.place {
            Place::Base(_)
            | Place::Overlay(_)
            | Place::Stack
            | Place::Pad(_)
            | Place::Shape(_)
            | Place::Thread(_)
            | Place::Fill(_)
            | Place::Guard(_)
            | Place::Run(_)
            | Place::Stitch(_)
            | Place::Terminal(_) => true,
            Place::Electrode(_, part) => super::electrode::coupon_measures(part, self.quantity.field),
            Place::LightRow(_, part) => super::light_row::coupon_measures(part, self.quantity.field),
            Place::LaidWire(_, part) => super::laid_wire::coupon_measures(part, self.quantity.field),
            Place::Controller | Place::Touch | Place::Piece | Place::Method(..) => false,
        }
    }

    /// How many standard uncertainties its 95 % interval reaches to either side.
    pub fn reach_95(&self) -> f64 {
        match self.measured.spread {
            Spread::Uniform => 0.95 * 3f64.sqrt(),
            Spread::Exact | Spread::Normal => COVERAGE_95,
        }
    }

    /// What to stitch and measure to learn it.
    pub fn coupon(&self) -> String {
        let name = self.name();
        if let Some(how) = wear_coupon(self.quantity.field) {
            return format!("{how}: that fixes the {name}.");
        }
        match self.place {
            Place::Electrode(_, part) => super::electrode::coupon(part, &name),
            Place::LightRow(_, part) => super::light_row::coupon(part, self.quantity.field, &name),
            Place::LaidWire(_, part) => super::laid_wire::coupon(part, &name),
            Place::Thread(_) if self.quantity.field == "diameter_mm" => {
                format!("Measure the thread under a microscope, as it lies in a stitched row: that fixes the {name}.")
            }
            Place::Thread(_) | Place::Run(_) | Place::Stitch(_) => {
                format!(
                    "Stitch 200 mm of the run with the thread and stitch of the piece and measure its resistance over the length: that fixes the {name}."
                )
            }
            Place::Terminal(_) => {
                format!("Make five terminals of the kind on the cloth and measure each by four wires: that fixes the {name}.")
            }
            Place::Base(_) | Place::Overlay(_) if self.quantity.field == "thickness_mm" => {
                format!("Measure the layer under the pressure of use on a cut of the cloth: that fixes the {name}.")
            }
            Place::Base(_) | Place::Overlay(_) => {
                format!(
                    "Stitch one pad on the layers of the piece and measure its capacitance at the humidity of use: that fixes the {name}."
                )
            }
            _ => format!("Stitch one pad as drawn and measure it: that fixes the {name}."),
        }
    }
}

/// How to measure what only shows in use: washing, stretch, and contacts that a whole run hides.
fn wear_coupon(field: &str) -> Option<&'static str> {
    Some(match field {
        "growth_per_wash_percent" => {
            "Stitch 200 mm of the run, wash it as the piece will be washed and measure its resistance after every fifth wash"
        }
        "stretch_factor" => "Stitch 200 mm of the run and measure its resistance at rest and stretched as in use",
        "stitch_contact_ohm" => {
            "Stitch 200 mm of the run, measure it, cut the top thread of the first stitch and measure again; the difference is about the contact"
        }
        "row_contact_ohm" => "Sew ten rows as in the pad, cut their turns and measure from the first to the last row",
        _ => return None,
    })
}

/// Gives numbers to inputs: those of the whole piece first, then those of one feature.
///
/// Each feature is worked out against the shared inputs and its own, so that a piece of many features costs no more
/// than the sum of them.
pub(super) struct Register<'a> {
    shared: &'a [Input],
    own: Vec<Input>,
}

impl<'a> Register<'a> {
    /// For the inputs of the whole piece.
    pub(super) const fn of_piece() -> Self {
        Self { shared: &[], own: Vec::new() }
    }

    /// For one feature, over the inputs of the piece.
    pub(super) fn of_feature(shared: &'a [Input]) -> Self {
        Self { shared, own: Vec::with_capacity(24) }
    }

    /// Number that the next input gets.
    pub(super) fn next_number(&self) -> usize {
        self.shared.len() + self.own.len()
    }

    /// How many inputs this register has added itself.
    pub(super) fn len(&self) -> usize {
        self.own.len()
    }

    fn add(&mut self, input: Input) -> Linear {
        let number = self.shared.len() + self.own.len();
        self.own.push(input);
        Linear::input(input.measured.value, input.measured.standard_uncertainty, number)
    }

    /// A number given with the piece.
    pub(super) fn given(&mut self, place: Place, quantity: &'static Quantity, measured: Measured) -> Linear {
        self.add(Input { place, quantity, measured, origin: Origin::Given, source: "given with the piece", status: Status::Given })
    }

    /// A number given with the piece, or what the library or an assumption says instead.
    pub(super) fn given_or(
        &mut self,
        place: Place,
        quantity: &'static Quantity,
        given: Option<Measured>,
        (otherwise, origin): (&Known, Origin),
    ) -> Linear {
        match given {
            Some(measured) => self.given(place, quantity, measured),
            None => self.add(Input {
                place,
                quantity,
                measured: otherwise.measured,
                origin,
                source: otherwise.source,
                status: otherwise.status,
            }),
        }
    }

    /// The relative error of a method: anywhere within its stated bound.
    pub(super) fn method_error(&mut self, pad: usize, of: &'static str, bound: f64) -> Linear {
        self.add(Input::method_error(pad, of, bound))
    }

    pub(super) fn finish(self) -> Vec<Input> {
        self.own
    }
}

static RELATIVE_ERROR: Quantity =
    Quantity { field: "relative_error", name: "relative error", unit: "", per_si: 1.0, offset: 0.0, low: 0.0, high: 10.0 };
