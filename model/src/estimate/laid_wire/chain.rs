//! One laid wire worked out: length, bends, zigzag, resistance and warmth, with the spreads of every number carried along.

use super::assumed;
use super::piece::{Conduction, CourseChoice, LaidWire};
use crate::conduction::{Layout, StitchKind};
use crate::estimate::input::{Input, Origin, Place, Register};
use crate::estimate::pad::PieceChain;
use crate::estimate::stitched::{Cloth, Spool, Stitched};
use crate::estimate::warmth::{SKIN_LIMIT, rise};
use crate::estimate::{Feature, LaidKind, Piece, assumed as assumed_of_piece};
use crate::heat::Rise;
use crate::laid_wire::{Hold, Laid, Section, held, meander_length_m};
use crate::materials::{Known, Library, Status};
use crate::production::Pace;
use crate::uncertainty::{Linear, Measured, propagate};
use crate::units::{self, Quantity};

/// One laid wire, worked out.
pub(super) struct LaidWireChain {
    pub(super) inputs: Vec<Input>,
    pub(super) length_m: Linear,
    /// Sharpest bend; `None` where nothing bends.
    pub(super) bend_m: Option<Linear>,
    pub(super) least_bend_m: Linear,
    /// From the side of what is laid to the middle of the needle, beside it and beside the next row.
    pub(super) beside_m: Linear,
    pub(super) next_row_m: Option<Linear>,
    pub(super) zigzag_m: Linear,
    pub(super) stitch_m: Linear,
    pub(super) wire: Option<WireValues>,
    pub(super) details: LaidDetails,
}

/// What a wire resists, and what current does to it.
pub(super) struct WireValues {
    pub(super) ohm: Linear,
    pub(super) max_ohm: Option<Linear>,
    pub(super) heat: Option<HeatValues>,
}

/// What current does.
pub(super) struct HeatValues {
    pub(super) power_w: Linear,
    pub(super) needed_w: Option<Linear>,
    /// Upper bound of the temperature.
    pub(super) warm_k: Linear,
    pub(super) max_temperature_k: Linear,
    pub(super) current_a: f64,
    pub(super) rise: Rise,
    pub(super) ambient_k: f64,
}

/// Numbers at the best estimates, for results and working.
pub(super) struct LaidDetails {
    pub(super) laid: Laid,
    pub(super) outer_m: f64,
    pub(super) hold: Hold,
    pub(super) kg_per_m: Option<f64>,
    pub(super) conductor: Option<ConductorDetails>,
}

/// The conductor at the best estimates.
#[derive(Debug, Clone, Copy)]
pub(super) struct ConductorDetails {
    pub(super) area_m2: Option<f64>,
    pub(super) ohm_per_m: f64,
    pub(super) coefficient_per_k: f64,
    pub(super) ambient_k: f64,
    pub(super) largest: Option<(f64, Status)>,
    pub(super) source: &'static str,
    pub(super) status: Status,
}

/// Registers the numbers of one wire.
struct Numbers<'a> {
    register: Register<'a>,
    k: usize,
}

impl Numbers<'_> {
    fn given(&mut self, part: &'static str, quantity: &'static Quantity, measured: Measured) -> Linear {
        self.register.given(Place::LaidWire(self.k, part), quantity, measured)
    }

    fn or(&mut self, part: &'static str, quantity: &'static Quantity, given: Option<Measured>, usual: (&Known, Origin)) -> Linear {
        self.register.given_or(Place::LaidWire(self.k, part), quantity, given, usual)
    }

    fn optional(&mut self, part: &'static str, quantity: &'static Quantity, given: Option<Measured>) -> Option<Linear> {
        given.map(|measured| self.given(part, quantity, measured))
    }

    /// Length, sharpest bend, and the distance of rows. The rows of a meander are a whole number: they are held at the best
    /// estimate.
    fn course(&mut self, course: &CourseChoice, laid: &Laid) -> (Linear, Option<Linear>, Option<Linear>) {
        match course {
            CourseChoice::Straight { length_m } => (self.given("course", &units::RUN_LENGTH, *length_m), None, None),
            CourseChoice::Path { .. } => (Linear::exact(laid.length_m), laid.bend_radius_m.map(Linear::exact), None),
            CourseChoice::Meander { width_m, height_m, spacing_m } => {
                let width = self.given("course", &units::MEANDER_WIDTH, *width_m);
                self.given("course", &units::MEANDER_HEIGHT, *height_m);
                let spacing = self.given("course", &units::MEANDER_SPACING, *spacing_m);
                let [length] = propagate(&[&width, &spacing], |x| [meander_length_m(laid.rows, x[0], x[1])]);
                let turns = laid.bend_radius_m.is_some();
                (length, turns.then(|| spacing.times(0.5)), turns.then_some(spacing))
            }
        }
    }
}

/// Works out wire `k` of a piece that has passed its check.
pub(super) fn laid_wire_chain(chain: &PieceChain<'_>, k: usize, wire: &LaidWire) -> LaidWireChain {
    let mut numbers = Numbers { register: Register::of_feature(&chain.inputs), k };
    let laid = wire.course.laid().expect("Piece::check has refused a way that cannot be laid");
    let (length_m, bend_m, spacing_m) = numbers.course(&wire.course, &laid);
    let best_outer_m = wire.outer_m().expect("Piece::check asks for a thickness");

    // Section, then the diameter over all, which is that of the metal where nothing else is told.
    let conductor = wire.conductor.as_ref().and_then(|choice| Some((choice, choice.conduction(chain.library)?)));
    let section = wire.conductor.as_ref().and_then(|choice| match choice.section()? {
        Section::Diameter(_) => {
            let diameter = numbers.given("conductor", &units::METAL_DIAMETER, choice.diameter_m?);
            let [area] = propagate(&[&diameter], |x| [Section::Diameter(x[0]).area_m2()]);
            Some((area, diameter))
        }
        Section::Area(_) => {
            let area = numbers.given("conductor", &units::SECTION, choice.area_m2?);
            let [diameter] = propagate(&[&area], |x| [Section::Area(x[0].max(0.0)).diameter_m()]);
            Some((area, diameter))
        }
        gauge @ Section::Gauge(_) => Some((Linear::exact(gauge.area_m2()), Linear::exact(gauge.diameter_m()))),
    });
    let outer_m = numbers
        .optional("", &units::OUTSIDE, wire.outer_diameter_m)
        .or_else(|| section.as_ref().map(|(_, diameter)| diameter.clone()))
        .unwrap_or_else(|| Linear::exact(best_outer_m));
    let usual_bend = assumed::bend_radius(outer_m.value);
    let least_bend_m = numbers.or("", &units::BEND_RADIUS, wire.min_bend_radius_m, (&usual_bend, Origin::Assumed));

    // The zigzag.
    let clearance_m = numbers.or("hold", &units::NEEDLE_CLEARANCE, wire.hold.clearance_m, (&assumed::CLEARANCE, Origin::Assumed));
    let advance_m = numbers.or("hold", &units::ADVANCE, wire.hold.advance_m, (&assumed::ADVANCE, Origin::Assumed));
    let zigzag_m = outer_m.plus(2.0, &clearance_m);
    let [stitch_m] = propagate(&[&zigzag_m, &advance_m], |x| [x[0].hypot(x[1] / 2.0)]);
    let row_spacing_m = wire.row_spacing_m();
    let next_row_m = spacing_m.map(|spacing| spacing.plus(-1.0, &outer_m).plus(-1.0, &clearance_m));
    let hold = hold_of(wire, &laid, best_outer_m, &Cloth::of(chain.piece, chain.library, None));

    // Resistance and warmth.
    let ambient = chain.temperature_k();
    let mut details = None;
    let wire_values = conductor.map(|(choice, conduction)| {
        let (at_20, coefficient, source, status) = match conduction {
            Conduction::PerLength(ohm) => {
                let source = "given with the piece; taken to stay so when it warms";
                (numbers.given("conductor", &units::WIRE_RESISTANCE, ohm), Linear::exact(0.0), source, Status::Given)
            }
            Conduction::Metal(metal, _) => {
                let of_library = |known| (known, Origin::Library);
                let resistivity = numbers.or("conductor", &units::METAL_RESISTIVITY, None, of_library(&metal.resistivity_ohm_m));
                let coefficient =
                    numbers.or("conductor", &units::METAL_COEFFICIENT, None, of_library(&metal.temperature_coefficient_per_k));
                let (area, _) = section.as_ref().expect("Piece::check asks a metal for its section");
                let [at_20] = propagate(&[&resistivity, area], |x| [x[0] / x[1]]);
                (at_20, coefficient, metal.resistivity_ohm_m.source, metal.resistivity_ohm_m.status)
            }
        };
        details = Some(ConductorDetails {
            area_m2: section.as_ref().map(|(area, _)| area.value),
            ohm_per_m: at_20.value,
            coefficient_per_k: coefficient.value,
            ambient_k: ambient.value,
            largest: choice.largest_ohm_per_m(),
            source,
            status,
        });
        let [ohm] = propagate(&[&at_20, &length_m, &coefficient, ambient], |x| [x[0] * x[1] * warm(x[2], x[3])]);
        let heat = heat(chain, &mut numbers, wire, &ohm, [&length_m, &outer_m], row_spacing_m);
        let max_ohm = numbers.optional("", &units::MAX_RESISTANCE, wire.max_resistance_ohm);
        WireValues { ohm, max_ohm, heat }
    });
    LaidWireChain {
        inputs: numbers.register.finish(),
        length_m,
        bend_m,
        least_bend_m,
        beside_m: clearance_m,
        next_row_m,
        zigzag_m,
        stitch_m,
        wire: wire_values,
        details: LaidDetails { laid, outer_m: best_outer_m, hold, kg_per_m: wire.kg_per_m(chain.library), conductor: details },
    }
}

/// What warmth does to a metal's resistance, as a factor.
fn warm(coefficient_per_k: f64, ambient_k: f64) -> f64 {
    (1.0 + coefficient_per_k * (ambient_k - 293.15)).max(0.1)
}

fn heat(
    chain: &PieceChain<'_>,
    numbers: &mut Numbers<'_>,
    wire: &LaidWire,
    ohm: &Linear,
    [length_m, outer_m]: [&Linear; 2],
    row_spacing_m: Option<f64>,
) -> Option<HeatValues> {
    let voltage = numbers.optional("", &units::SUPPLY_VOLTAGE, wire.supply_v);
    let drive = match &voltage {
        Some(volt) => volt.clone(),
        None => numbers.optional("", &units::WIRE_CURRENT, wire.current_a)?,
    };
    let current = |x: &[f64]| if voltage.is_some() { x[0] / x[1] } else { x[0] };
    let ambient = chain.temperature_k();
    let surroundings = wire.warmth.surroundings(chain.piece, chain.library, chain.sewn_m().value, row_spacing_m);
    let rise_of = |x: &[f64]| rise(current(x).powi(2) * x[1] / x[2], x[3].max(1e-6), x[4], surroundings);
    let arguments = [&drive, ohm, length_m, outer_m, ambient];
    let [power_w, warm_k] = propagate(&arguments, |x| [current(x).powi(2) * x[1], x[4] + rise_of(x).high_k]);
    let at = arguments.map(|a| a.value);
    Some(HeatValues {
        power_w,
        needed_w: numbers.optional("", &units::NEEDED_POWER, wire.needed_power_w),
        warm_k,
        max_temperature_k: numbers.or("warmth", &units::MAX_TEMPERATURE, wire.warmth.max_temperature_k, (&SKIN_LIMIT, Origin::Assumed)),
        current_a: current(&at),
        rise: rise_of(&at),
        ambient_k: ambient.value,
    })
}

/// The zigzag at the best estimates; its time is counted with the piece.
fn hold_of(wire: &LaidWire, laid: &Laid, outer_m: f64, cloth: &Cloth) -> Hold {
    let or = |given: Option<Measured>, usual: &Known| given.unwrap_or(usual.measured).value;
    let clearance_m = or(wire.hold.clearance_m, &assumed::CLEARANCE);
    let advance_m = or(wire.hold.advance_m, &assumed::ADVANCE);
    held(laid.length_m, outer_m, clearance_m, advance_m, cloth.sewn_m.value, cloth.interlace.value, 1.0)
}

/// The stitches over wire `k`, in plain thread. A wire has two ends to be joined by hand; a tube and a roving have none.
pub(in super::super) fn stitched_wire<'a>(k: usize, wire: &'a LaidWire, piece: &'a Piece, library: &Library) -> Stitched<'a> {
    let cloth = Cloth::of(piece, library, None);
    let laid = wire.course.laid().expect("Piece::check has refused a way that cannot be laid");
    let outer_m = wire.outer_m().expect("Piece::check asks for a thickness");
    let hold = hold_of(wire, &laid, outer_m, &cloth);
    let advance_m = wire.hold.advance_m.unwrap_or(assumed::ADVANCE.measured).value;
    let zigzag = StitchKind::Satin { length_m: laid.length_m, column_width_m: hold.width_m, density_m: advance_m, passes: 1 };
    let name = Feature::LaidWire(k).called(wire.name.as_deref());
    let flat = Stitched::new(format!("zigzag over {name}"), Feature::LaidWire(k), &Layout::of(&zigzag), &cloth, [Spool::Plain; 2]);
    // Over the wire each stitch rises as a tent; the flat stitch of the same column is what the tent adds to.
    let rectangular_m = Layout::of(&zigzag).seam(cloth.sewn_m.value, assumed_of_piece::INTERLACE.measured.value).top_thread_m;
    let tent_m = (hold.top_thread_m - rectangular_m).max(0.0);
    let top_m = Measured { value: flat.top_m.value + tent_m, ..flat.top_m };
    let hand_parts = if wire.kind == LaidKind::Wire { 2 } else { 0 };
    Stitched { pace: Pace::Laid, laid_m: Measured::exact(laid.length_m), top_m, trims: 1, hand_parts, ..flat }
}
