//! One pad after the other: capacitances by the method that the piece asks for, spreads carried along by the slopes of
//! the closed forms, which cost next to nothing and are right to a few per cent.

use super::assumed;
use super::checks::{self, Verdicts};
use super::input::{Input, Origin, Place, Register};
use super::run::{PadWay, PadWayDetails, RunDetails, RunPlaces, RunStitch, RunValues, pad_way, run_values};
use super::terminal::{TerminalValues, terminal_values};
use super::thread::{CHECKED_BEFORE, ThreadValues, UseValues};
use super::{
    Bobbin, Estimate, Faults, Feature, GroundKind, Held, LayerChoice, Neighbour, Pad, PadResult, Piece, ResolvedLayer, Shape, Stitch,
    TouchCase,
};
use crate::conduction::{ChargingLine, NewThread, Use};
use crate::electrostatics::{
    Choice, CrossSection, Figure, Ground, GuardBand, Layer, LineCapacitance, Medium, Method, Notes, Outline, PadCapacitance, Rows,
    SolvedTouch, TouchCapacitances, TouchedPad, line_capacitance, pad_capacitance, per_length, rows_error, solved_touch,
    touch_capacitances,
};
use crate::materials::{self, Controller, Library, wet_permittivity};
use crate::touch::{WayBack, signal, signal_over_body};
use crate::uncertainty::{Linear, Measured, propagate};
use crate::units::{self, Quantity};

/// What is shared by all pads of a piece.
pub(super) struct PieceChain<'a> {
    pub(super) piece: &'a Piece,
    pub(super) library: &'a Library,
    pub(super) inputs: Vec<Input>,
    pub(super) shared: Shared,
}

/// Shared inputs as values with spreads.
pub(super) struct Shared {
    /// Thickness and permittivity, base then overlay.
    layers: Vec<[Linear; 2]>,
    base_layers: usize,
    sewn_m: Linear,
    pub(super) state: UseValues,
    pub(super) controller: ControllerValues,
    pub(super) finger_m: Linear,
    pub(super) off_centre_m: Linear,
    opening_m: Option<Linear>,
    body_to_earth_f: Linear,
    supply_to_earth_f: Option<Linear>,
    body_to_supply_f: Linear,
    nothing: Linear,
}

/// The controller's numbers.
pub(super) struct ControllerValues {
    charge_time_s: Linear,
    series_ohm: Linear,
    pub(super) max_standing_f: Linear,
    pub(super) needed_signal_f: Linear,
    pub(super) max_run_ohm: Linear,
    pub(super) settled_fraction: Linear,
}

/// One pad, worked out.
pub(super) struct PadChain {
    pub(super) inputs: Vec<Input>,
    pub(super) signal_f: Linear,
    pub(super) standing_f: Linear,
    pub(super) run_ohm: Linear,
    pub(super) settled: Linear,
    pub(super) stitch: StitchValues,
    pub(super) terminal: TerminalValues,
    /// Measures of the outline, in the order of the shape's fields.
    pub(super) measures: Vec<Linear>,
    pub(super) details: PadDetails,
}

/// Stitch measures that the machine limits.
pub(super) struct StitchValues {
    pub(super) thread_diameter_m: Linear,
    pub(super) fill: Option<[Linear; 2]>,
    pub(super) run: RunStitch,
}

/// Numbers at the best estimates, for results and working.
#[derive(Debug, Clone)]
pub(super) struct PadDetails {
    pub(super) outline: Outline,
    pub(super) rows: Option<Rows>,
    /// By the closed forms, for checking by hand.
    pub(super) pad: PadCapacitance,
    pub(super) touch: TouchCapacitances,
    /// As they went into the checks.
    pub(super) field: FieldNumbers,
    pub(super) finger_m: f64,
    pub(super) line: LineCapacitance,
    pub(super) cross_section: CrossSection,
    pub(super) run: RunDetails,
    /// Thread from the spool, and what it is used in.
    pub(super) thread: NewThread,
    pub(super) state: Use,
    pub(super) passes: u32,
    pub(super) pad_way: PadWayDetails,
    /// The chain that charges the touched pad.
    pub(super) charging: ChargingLine,
    pub(super) charge_time_s: f64,
    pub(super) signal_f: f64,
    pub(super) standing_f: f64,
    pub(super) return_f: f64,
    pub(super) way: WayBack,
}

/// The capacitances of a pad and its touch, whichever method found them.
#[derive(Debug, Clone, Copy)]
pub(super) struct FieldNumbers {
    /// To the finger, to ground with and without it, finger to ground, F.
    pub(super) coefficients_f: [f64; 4],
    pub(super) method: Method,
    /// Bound of the pad's capacitance.
    pub(super) pad_error: f64,
    /// What of it comes from taking rows of thread for a plate.
    pub(super) rows_error: f64,
    /// Bound of the coefficient to the finger.
    pub(super) finger_error: f64,
    /// Bound of what leads from the finger to ground.
    pub(super) way_error: f64,
    pub(super) notes: Notes,
}

/// A pad's own values with spreads: thread, measures of the outline, row spacing and stitch length of the fill, gap and
/// width of the guard.
struct Drawn {
    thread: ThreadValues,
    measures: Vec<Linear>,
    fill: Option<[Linear; 2]>,
    guard: Option<[Linear; 2]>,
}

/// What the pads before have shown. Pads drawn alike number their inputs alike, so that values with spreads carry
/// over from one to the next to the last bit.
#[derive(Default)]
struct Known<'p> {
    field: Option<(&'p Pad, Field)>,
    line: Option<(&'p Pad, Linear, LineCapacitance)>,
}

pub(super) fn drawn_alike(a: &Pad, b: &Pad) -> bool {
    a.shape == b.shape && a.fill == b.fill && a.thread == b.thread && a.guard == b.guard
}

/// Whether the capacitance per metre of two runs is the same, inputs numbered alike: a run along a line depends on
/// the thread and its passes alone; a satin column also on its width, an input that follows those of the outline.
fn run_alike(a: &Pad, b: &Pad) -> bool {
    let along = |pad: &Pad| !matches!(pad.run.stitch, Some(Stitch::Satin { .. }));
    a.thread == b.thread && a.run.passes == b.run.passes && ((along(a) && along(b)) || (drawn_alike(a, b) && a.run.stitch == b.run.stitch))
}

/// The four field coefficients of a touch, with the errors of their methods on them.
#[derive(Clone)]
struct Field {
    pad_finger_f: Linear,
    pad_ground_touched_f: Linear,
    pad_ground_untouched_f: Linear,
    finger_ground_f: Linear,
    pad: PadCapacitance,
    touch: TouchCapacitances,
    numbers: FieldNumbers,
    own_inputs: usize,
}

impl<'a> PieceChain<'a> {
    pub(super) fn new(piece: &'a Piece, library: &'a Library) -> Self {
        let mut register = Register::of_piece();
        let mut layers = Vec::with_capacity(piece.stack.base.len() + piece.stack.overlay.len());
        for (k, layer) in piece.stack.base.iter().enumerate() {
            layers.push(register_layer(&mut register, Place::Base(k), layer, library));
        }
        for (k, layer) in piece.stack.overlay.iter().enumerate() {
            layers.push(register_layer(&mut register, Place::Overlay(k), layer, library));
        }
        let base_layers = piece.stack.base.len();
        let sewn_m = match piece.stack.sewn_thickness_m {
            Some(given) => register.given(Place::Stack, &units::SEWN_THICKNESS, given),
            None => match base_layers {
                0 => register.given_or(Place::Stack, &units::SEWN_THICKNESS, None, (&assumed::SEWN_THICKNESS, Origin::Assumed)),
                _ => layers[base_layers - 1][0].clone(),
            },
        };
        let state = UseValues::register(&mut register, piece);
        let of_any_feature = register.len();
        let controller = register_controller(&mut register, piece, library);
        let t = &piece.touch;
        let mut touch = |quantity, given, otherwise| register.given_or(Place::Touch, quantity, given, (otherwise, Origin::Assumed));
        let finger_m = touch(&units::FINGERTIP, t.fingertip_diameter_m, &assumed::FINGERTIP);
        let off_centre_m = match t.off_centre_m {
            Some(given) => register.given(Place::Touch, &units::OFF_CENTRE, given),
            None => Linear::exact(0.0),
        };
        let opening_m = piece.stack.opening_diameter_m.map(|given| register.given(Place::Stack, &units::OPENING_DIAMETER, given));
        let mut touch = |quantity, given, otherwise| register.given_or(Place::Touch, quantity, given, (otherwise, Origin::Assumed));
        let body_to_earth_f = touch(&units::BODY_TO_EARTH, t.body_to_earth_f, &assumed::BODY_TO_EARTH);
        let supply_to_earth_f =
            assumed::supply_to_earth(t.case).map(|otherwise| touch(&units::SUPPLY_TO_EARTH, t.supply_to_earth_f, otherwise));
        let body_to_supply_f = touch(&units::BODY_TO_SUPPLY, t.body_to_supply_f, assumed::body_to_supply(t.case));
        let shared = Shared {
            layers,
            base_layers,
            sewn_m,
            state,
            controller,
            finger_m,
            off_centre_m,
            opening_m,
            body_to_earth_f,
            supply_to_earth_f,
            body_to_supply_f,
            nothing: Linear::exact(0.0),
        };
        let mut inputs = register.finish();
        if piece.pads.is_empty() {
            // Nothing reads the controller's numbers and the finger's then, so they are not told either.
            inputs.truncate(of_any_feature);
        }
        Self { piece, library, inputs, shared }
    }

    /// Everything; without what a touch shows on `neighbours` and what a break does to lights where that is not asked for.
    ///
    /// # Errors
    /// A row of lights whose currents could not be found.
    pub(super) fn estimate(self, neighbours: bool) -> Result<Estimate, Faults> {
        let mut verdicts = Verdicts::new(self.piece, &self.shared.controller);
        let mut results = Vec::with_capacity(self.piece.pads.len());
        let mut inputs = self.inputs.clone();
        let mut notes = Vec::new();
        let mut chains = self.pads();
        let gaps = checks::nearest_gaps(self.piece);
        let felt = if neighbours { self.felt(&mut chains) } else { chains.iter().map(|_| None).collect() };
        for (k, (pad, chain)) in self.piece.pads.iter().zip(&mut chains).enumerate() {
            let first_own = inputs.len();
            let weakest = verdicts.pad(k, chain, gaps[k], felt[k].as_ref(), &self.inputs, first_own);
            inputs.extend_from_slice(&chain.inputs);
            add_notes(&mut notes, &chain.details);
            let mut result = pad_result(k, pad, chain, &verdicts.checks[weakest], weakest);
            result.neighbour = felt[k].as_ref().map(|f| Neighbour { pad: f.other, signal_f: f.signal_f.value });
            results.push(result);
        }
        let electrodes = super::electrode::electrodes(&self, &mut verdicts.checks, &mut inputs, &mut notes);
        let light_rows = super::light_row::light_rows(&self, neighbours, &mut verdicts.checks, &mut inputs, &mut notes)?;
        let laid_wires = super::laid_wire::laid_wires(&self, &mut verdicts.checks, &mut inputs, &mut notes);
        verdicts.piece();
        let checks = verdicts.checks;
        let weakest = checks::weakest(&checks, 0);
        Ok(Estimate {
            verdict: checks[weakest].verdict,
            chance: checks.iter().map(|c| c.chance).fold(1.0, f64::min),
            weakest,
            checks,
            pads: results,
            electrodes,
            light_rows,
            laid_wires,
            inputs,
            base: self.resolved(&self.piece.stack.base, 0),
            overlay: self.resolved(&self.piece.stack.overlay, self.shared.base_layers),
            notes,
            production: None,
        })
    }

    /// Works out every pad.
    pub(super) fn pads(&self) -> Vec<PadChain> {
        let mut known = Known::default();
        self.piece.pads.iter().enumerate().map(|(k, pad)| self.pad_chain(k, pad, &mut known)).collect()
    }

    /// What lies under the base, for the field.
    pub(super) fn ground(&self) -> Ground {
        ground(self.piece.stack.ground)
    }

    /// Person to earth, supply to earth (nothing where it is earthed), person to supply.
    pub(super) fn way_back(&self) -> [&Linear; 3] {
        let s = &self.shared;
        [&s.body_to_earth_f, s.supply_to_earth_f.as_ref().unwrap_or(&s.nothing), &s.body_to_supply_f]
    }

    /// The way back from the numbers of [`Self::way_back`].
    pub(super) fn way_back_of(&self, [body_to_earth, supply_to_earth, body_to_supply]: [f64; 3]) -> WayBack {
        WayBack {
            body_to_earth_f: body_to_earth.max(0.0),
            supply_to_earth_f: (self.piece.touch.case != TouchCase::Earthed).then_some(supply_to_earth.max(0.0)),
            body_to_supply_f: body_to_supply.max(0.0),
        }
    }

    /// Rows that fill pad `k`, at the best values.
    pub(super) fn rows_of(&self, k: usize) -> Option<Rows> {
        let pad = &self.piece.pads[k];
        let entry = pad.thread.library.as_deref().and_then(|id| self.library.thread(id));
        let diameter = pad.thread.diameter_m.or(entry.map(|e| e.diameter_m.measured))?;
        pad.fill.as_ref().map(|fill| Rows { row_spacing_m: fill.row_spacing_m.value, thread_diameter_m: diameter.value })
    }

    /// Temperature in use.
    pub(super) fn temperature_k(&self) -> &Linear {
        &self.shared.state.temperature_k
    }

    /// Thickness that the needle passes.
    pub(super) fn sewn_m(&self) -> &Linear {
        &self.shared.sewn_m
    }

    /// Thickness and permittivity of the base layers and of the overlay layers.
    pub(super) fn layers(&self) -> (&[[Linear; 2]], &[[Linear; 2]]) {
        self.shared.layers.split_at(self.shared.base_layers)
    }

    fn resolved(&self, choices: &[LayerChoice], first: usize) -> Vec<ResolvedLayer> {
        choices
            .iter()
            .zip(&self.shared.layers[first..])
            .map(|(choice, [thickness, permittivity])| {
                let entry = choice.library.as_deref().and_then(|id| self.library.fabric(id));
                ResolvedLayer {
                    name: entry.map_or("layer", |e| e.name).to_owned(),
                    library: entry.map(|e| e.id),
                    thickness_m: thickness.value,
                    relative_permittivity: permittivity.value,
                }
            })
            .collect()
    }

    /// Works out one pad. `known` holds what the pads before have shown of its field and its run.
    fn pad_chain<'p>(&self, k: usize, pad: &'p Pad, known: &mut Known<'p>) -> PadChain {
        let mut register = Register::of_feature(&self.inputs);
        let thread = ThreadValues::register(&mut register, Place::Thread(k), &pad.thread, self.library, &self.shared.state);
        let measures = register_shape(&mut register, k, &pad.shape);
        let fill = pad.fill.as_ref().map(|fill| {
            [
                register.given(Place::Fill(k), &units::ROW_SPACING, fill.row_spacing_m),
                register.given(Place::Fill(k), &units::STITCH_LENGTH, fill.stitch_length_m),
            ]
        });
        let guard = pad.guard.as_ref().map(|guard| {
            [
                register.given(Place::Guard(k), &units::GUARD_GAP, guard.gap_m),
                register.given(Place::Guard(k), &units::GUARD_WIDTH, guard.width_m),
            ]
        });
        let drawn = Drawn { thread, measures, fill, guard };
        let field = match &known.field {
            Some((alike, field)) if drawn_alike(alike, pad) => {
                field.register_again(&mut register, k);
                field.clone()
            }
            _ => {
                let field = self.field(&mut register, k, pad, &drawn);
                known.field = Some((pad, field.clone()));
                field
            }
        };
        self.electrical(register, k, pad, drawn, field, known)
    }

    fn field(&self, register: &mut Register<'_>, k: usize, pad: &Pad, drawn: &Drawn) -> Field {
        let Drawn { thread, measures, fill, .. } = drawn;
        let layers = self.shared.layers.len();
        let mut arguments: Vec<&Linear> = self.shared.layers.iter().flatten().collect();
        arguments.push(&self.shared.finger_m);
        arguments.extend(measures);
        arguments.extend(fill.iter().flat_map(|[spacing, _]| [spacing, &thread.diameter_m]));
        let fixed = fixed_outline(pad);
        let question = |x: &[f64]| {
            let medium = LayerBuffer::new(&x[..2 * layers]);
            let outline = outline(&pad.shape, &x[2 * layers + 1..], fixed);
            let rows = fill.as_ref().map(|_| Rows { row_spacing_m: x[x.len() - 2], thread_diameter_m: x[x.len() - 1] });
            (medium, outline, rows)
        };
        let ground = ground(self.piece.stack.ground);
        let coefficients = |x: &[f64]| {
            let (buffer, outline, rows) = question(x);
            touch_capacitances(&buffer.medium(ground, self.shared.base_layers), &outline, rows, x[2 * layers])
        };
        let values: Vec<f64> = arguments.iter().map(|a| a.value).collect();
        let (buffer, outline, rows) = question(&values);
        let pad_at_rest = pad_capacitance(&buffer.medium(ground, self.shared.base_layers), &outline, rows);
        // The first question that `propagate` asks is the one at the best estimates.
        let mut touch = None;
        let plain = propagate(&arguments, |x| {
            let t = coefficients(x);
            touch.get_or_insert(t);
            [t.pad_finger_f, t.pad_ground_touched_f, t.pad_ground_untouched_f, t.finger_ground_f]
        });
        let touch: TouchCapacitances = touch.expect("propagate asks at least once");
        let (plain, numbers) = self.best(pad, drawn, plain, &pad_at_rest, &touch);
        let mut field = Field {
            pad_finger_f: Linear::exact(0.0),
            pad_ground_touched_f: Linear::exact(0.0),
            pad_ground_untouched_f: Linear::exact(0.0),
            finger_ground_f: Linear::exact(0.0),
            pad: pad_at_rest,
            touch,
            numbers,
            own_inputs: register.len(),
        };
        let [pad_error, finger_error, way_error] = field.register_again(register, k);
        let [pad_finger, touched, untouched, finger_ground] = plain;
        // Touched and untouched pad come from one method: its error moves both alike, or their small difference
        // would drown in it. What the finger takes from the pad's own field errs as the finger does.
        let shade = touched.plus(-1.0, &untouched);
        field.pad_finger_f = with_error(&pad_finger, &finger_error);
        field.pad_ground_untouched_f = with_error(&untouched, &pad_error);
        field.pad_ground_touched_f = field.pad_ground_untouched_f.plus(1.0, &with_error(&shade, &finger_error));
        field.finger_ground_f = with_error(&finger_ground, &way_error);
        field
    }

    /// The closed forms where they are good enough or asked for, otherwise the solved field with their slopes.
    fn best(
        &self,
        pad: &Pad,
        drawn: &Drawn,
        closed: [Linear; 4],
        at_rest: &PadCapacitance,
        touch: &TouchCapacitances,
    ) -> ([Linear; 4], FieldNumbers) {
        let aim = self.piece.aim;
        let rows =
            drawn.fill.as_ref().map(|[spacing, _]| Rows { row_spacing_m: spacing.value, thread_diameter_m: drawn.thread.diameter_m.value });
        let closed_numbers = FieldNumbers {
            coefficients_f: [0, 1, 2, 3].map(|n| closed[n].value),
            method: at_rest.method,
            pad_error: at_rest.accuracy.relative_error,
            rows_error: rows_error(&fixed_outline(pad), rows),
            finger_error: touch.pad_finger_error,
            way_error: touch.finger_ground_error,
            notes: at_rest.accuracy.notes.union(touch.notes),
        };
        // What rows differ from a plate is the same for every method.
        let worst = closed_numbers.pad_error.max(closed_numbers.finger_error).max(closed_numbers.way_error) - closed_numbers.rows_error;
        let only_field = drawn.guard.is_some() || self.shared.opening_m.is_some() || self.shared.off_centre_m.value != 0.0;
        let enough = match aim.choice {
            Choice::ClosedForm => true,
            Choice::Best => worst <= aim.relative_tolerance && !only_field,
            Choice::Field => false,
        };
        if enough {
            return (closed, closed_numbers);
        }
        let Some(solved) = self.solved(pad, drawn, [0.0; 4], aim.relative_tolerance) else {
            return (closed, closed_numbers);
        };
        let value = coefficients_of(&solved);
        let [pad_finger, touched, untouched, finger_ground] = &closed;
        let untouched_now = untouched.moved_to(value[2]);
        let shade = touched.plus(-1.0, untouched).moved_to(value[1] - value[2]);
        let mut moved = [pad_finger.moved_to(value[0]), untouched_now.plus(1.0, &shade), untouched_now, finger_ground.moved_to(value[3])];
        self.add_what_only_the_field_knows(pad, drawn, &value, &mut moved);
        let numbers = FieldNumbers {
            coefficients_f: value,
            method: solved.method,
            pad_error: solved.pad_error,
            rows_error: solved.rows_error,
            finger_error: solved.finger_error,
            way_error: solved.way_error,
            notes: solved.notes,
        };
        (moved, numbers)
    }

    /// The solved field with guard gap, guard width, opening and finger moved by `moved` from their best values.
    fn solved(&self, pad: &Pad, drawn: &Drawn, moved: [f64; 4], tolerance: f64) -> Option<SolvedTouch> {
        let values: Vec<f64> = self.shared.layers.iter().flatten().map(|l| l.value).collect();
        let buffer = LayerBuffer::new(&values);
        let measures: Vec<f64> = drawn.measures.iter().map(|m| m.value).collect();
        let held = pad.guard.as_ref().map(|guard| guard.held);
        let question = TouchedPad {
            figure: &figure(&pad.shape, &measures),
            rows: drawn
                .fill
                .as_ref()
                .map(|[spacing, _]| Rows { row_spacing_m: spacing.value, thread_diameter_m: drawn.thread.diameter_m.value }),
            finger_diameter_m: self.shared.finger_m.value,
            off_centre_m: self.shared.off_centre_m.value + moved[3],
            guard: drawn.guard.as_ref().map(|[gap, width]| GuardBand {
                gap_m: gap.value + moved[0],
                width_m: width.value + moved[1],
                driven: held == Some(Held::Driven),
            }),
            opening_diameter_m: self.shared.opening_m.as_ref().map(|o| o.value + moved[2]),
        };
        solved_touch(&buffer.medium(self.ground(), self.shared.base_layers), &question, tolerance).ok()
    }

    /// Spreads of guard, opening and the finger's place, by whole steps of the field, for no closed form knows them.
    fn add_what_only_the_field_knows(&self, pad: &Pad, drawn: &Drawn, value: &[f64; 4], results: &mut [Linear; 4]) {
        let guard = drawn.guard.as_ref();
        let unknown = [guard.map(|g| &g[0]), guard.map(|g| &g[1]), self.shared.opening_m.as_ref(), Some(&self.shared.off_centre_m)];
        for (n, argument) in unknown.into_iter().enumerate() {
            let Some(argument) = argument.filter(|a| !a.is_exact()) else { continue };
            let step = argument.standard_uncertainty();
            let mut moved = [0.0; 4];
            moved[n] = step;
            let Some(after) = self.solved(pad, drawn, moved, self.piece.aim.relative_tolerance) else { continue };
            let unit = argument.plus(-1.0, &Linear::exact(argument.value));
            for (result, (after, before)) in results.iter_mut().zip(coefficients_of(&after).iter().zip(value)) {
                *result = result.plus((after - before) / step, &unit);
            }
        }
    }

    /// Capacitance per metre of a run, with its spread, and at the best estimates.
    fn line(&self, width: &Linear, cross_section: impl Fn(f64) -> CrossSection) -> (Linear, LineCapacitance) {
        let layers = self.shared.layers.len();
        let ground = ground(self.piece.stack.ground);
        let line = |x: &[f64]| {
            let buffer = LayerBuffer::new(&x[..2 * layers]);
            line_capacitance(&buffer.medium(ground, self.shared.base_layers), cross_section(x[2 * layers]))
        };
        let mut arguments: Vec<&Linear> = self.shared.layers.iter().flatten().collect();
        arguments.push(width);
        // The first question that `propagate` asks is the one at the best estimates.
        let mut values = None;
        let [per_m] = propagate(&arguments, |x| {
            let line = line(x);
            values.get_or_insert(line);
            [line.per_m_f]
        });
        let values: Vec<f64> = self.shared.layers.iter().flatten().map(|l| l.value).collect();
        let buffer = LayerBuffer::new(&values);
        let best = per_length(&buffer.medium(ground, self.shared.base_layers), cross_section(width.value), self.piece.aim);
        (per_m.moved_to(best.per_m_f), best)
    }

    fn electrical<'p>(
        &self,
        mut register: Register<'_>,
        k: usize,
        pad: &'p Pad,
        Drawn { thread, measures, fill, .. }: Drawn,
        field: Field,
        known: &mut Known<'p>,
    ) -> PadChain {
        let shared = &self.shared;
        let run = &pad.run;
        let RunValues { ohm: run_ohm, length_m: length, contact_ohm: contact, stitch: run_stitch, details: run_details } =
            run_values(&mut register, RunPlaces::of_pad(k), run, &thread, &shared.sewn_m);
        let PadWay { ohm: pad_ohm, details: pad_way } =
            pad_way(&mut register, k, pad, field.pad.area_m2, fill.as_ref(), &thread, &run_details);

        // Capacitance of the run.
        let width = match &run_stitch {
            RunStitch::Satin(satin) => satin.column_width_m.clone(),
            RunStitch::Along { .. } => thread.diameter_m.times(f64::from(run.passes).sqrt()),
        };
        let cross_section = |width_m: f64| match run_stitch {
            RunStitch::Satin(_) => CrossSection::Strip { width_m },
            RunStitch::Along { .. } => CrossSection::Thread { diameter_m: width_m },
        };
        let (per_m, line_values) = match &known.line {
            Some((alike, per_m, values)) if run_alike(alike, pad) => (per_m.clone(), *values),
            _ => {
                let (per_m, values) = self.line(&width, cross_section);
                known.line = Some((pad, per_m.clone(), values));
                (per_m, values)
            }
        };
        let line_error = register.method_error(k, "capacitance of the run", line_values.accuracy.relative_error);
        let [run_f] = propagate(&[&per_m, &length, &line_error], |x| [x[0] * x[1] * (1.0 + x[2])]);

        // Touch.
        let way = |x: &[f64]| self.way_back_of([x[4], x[5], x[6]]);
        let over_body = self.piece.stack.ground == GroundKind::Body;
        let [body_to_earth, supply_to_earth, body_to_supply] = self.way_back();
        let arguments = [
            &field.pad_finger_f,
            &field.pad_ground_touched_f,
            &field.pad_ground_untouched_f,
            &field.finger_ground_f,
            body_to_earth,
            supply_to_earth,
            body_to_supply,
            &run_f,
        ];
        let touch = |x: &[f64]| {
            if over_body {
                // The run stands over the body as the pad does.
                let (s, standing) = signal_over_body(x[0], x[1] + x[7], x[2] + x[7], &way(x));
                [s.signal_f, standing, s.return_f]
            } else {
                let s = signal(x[0], x[1], x[2], x[3], &way(x));
                [s.signal_f, x[2] + x[7], s.return_f]
            }
        };
        let [signal_f, standing_f, return_f] = propagate(&arguments, touch);
        let way = way(&arguments.map(|a| a.value));

        // Settling: the load is the touched pad, which is the slower one.
        let c = &shared.controller;
        let source = c.series_ohm.plus(1.0, &contact);
        let load = field.pad_ground_untouched_f.plus(1.0, &signal_f);
        let arguments = [&source, &run_ohm, &run_f, &pad_ohm, &load, &c.charge_time_s];
        let line = |x: &[f64]| ChargingLine {
            source_ohm: x[0].max(0.0),
            run_ohm: x[1].max(0.0),
            run_f: x[2].max(0.0),
            pad_ohm: x[3].max(0.0),
            load_f: x[4].max(0.0),
        };
        let [settled] = propagate(&arguments, |x| [line(x).settling(x[5]).charge_fraction]);
        let charging = line(&arguments.map(|a| a.value));

        let terminal = terminal_values(&mut register, Place::Terminal(k), &run.terminal, &self.piece.machine, &width, &thread.diameter_m);

        let details = PadDetails {
            outline: fixed_outline(pad),
            rows: fill.as_ref().map(|f| Rows { row_spacing_m: f[0].value, thread_diameter_m: thread.diameter_m.value }),
            pad: field.pad,
            touch: field.touch,
            field: field.numbers,
            finger_m: shared.finger_m.value,
            line: line_values,
            cross_section: cross_section(width.value),
            run: run_details,
            thread: thread.new,
            state: thread.state,
            passes: run.passes,
            pad_way,
            charging,
            charge_time_s: c.charge_time_s.value,
            signal_f: signal_f.value,
            standing_f: standing_f.value,
            return_f: return_f.value,
            way,
        };
        PadChain {
            inputs: register.finish(),
            signal_f,
            standing_f,
            run_ohm,
            settled,
            stitch: StitchValues { thread_diameter_m: thread.diameter_m, fill, run: run_stitch },
            terminal,
            measures,
            details,
        }
    }
}

impl Field {
    /// Registers the errors of the methods; the same numbers in the same places for every pad drawn alike.
    fn register_again(&self, register: &mut Register<'_>, k: usize) -> [Linear; 3] {
        debug_assert_eq!(register.len(), self.own_inputs);
        [
            register.method_error(k, "capacitance to ground", self.numbers.pad_error),
            register.method_error(k, "capacitance to the finger", self.numbers.finger_error),
            register.method_error(k, "way back from the finger", self.numbers.way_error),
        ]
    }
}

impl PadChain {
    /// One more input that this pad depends on, by its number over `shared` inputs; one that is there already is not
    /// counted twice.
    pub(super) fn also(&mut self, shared: usize, input: Input) -> Linear {
        let same = |i: &Input| i.place == input.place && i.quantity == input.quantity;
        let at = self.inputs.iter().position(same).unwrap_or_else(|| {
            self.inputs.push(input);
            self.inputs.len() - 1
        });
        Linear::input(input.measured.value, input.measured.standard_uncertainty, shared + at)
    }
}

fn coefficients_of(solved: &SolvedTouch) -> [f64; 4] {
    [solved.pad_finger_f, solved.pad_ground_touched_f, solved.pad_ground_untouched_f, solved.finger_ground_f]
}

/// The whole geometry with its measures moved; a polygon has none.
pub(super) fn figure(shape: &Shape, measures: &[f64]) -> Figure {
    match shape {
        Shape::Round { .. } => Figure::Round { diameter_m: measures[0] },
        Shape::Rectangle { .. } => {
            let most = measures[0].min(measures[1]) / 2.0;
            Figure::Rectangle { width_m: measures[0], length_m: measures[1], corner_radius_m: measures[2].clamp(0.0, most) }
        }
        Shape::Ring { .. } => Figure::Ring { inner_diameter_m: measures[0], outer_diameter_m: measures[1] },
        Shape::Polygon { .. } => shape.figure(),
    }
}

/// The guard of a pad at the best values.
pub(super) fn guard_band(pad: &Pad) -> Option<GuardBand> {
    pad.guard.as_ref().map(|g| GuardBand { gap_m: g.gap_m.value, width_m: g.width_m.value, driven: g.held == Held::Driven })
}

fn with_error(value: &Linear, error: &Linear) -> Linear {
    value.plus(value.value, error)
}

fn register_layer(register: &mut Register<'_>, place: Place, choice: &LayerChoice, library: &Library) -> [Linear; 2] {
    let entry = choice.library.as_deref().and_then(|id| library.fabric(id));
    let (thickness, permittivity) = entry.map_or((&CHECKED_BEFORE, &CHECKED_BEFORE), |e| (&e.thickness_m, &e.relative_permittivity));
    let thickness = register.given_or(place, &units::LAYER_THICKNESS, choice.thickness_m, (thickness, Origin::Library));
    let dry = register.given_or(place, &units::RELATIVE_PERMITTIVITY, choice.relative_permittivity, (permittivity, Origin::Library));
    let Some(water) = choice.water_fraction else { return [thickness, dry] };
    let water = register.given(place, &units::WATER_FRACTION, water);
    let [wet] = propagate(&[&dry, &water], |x| [wet_permittivity(x[0].max(1.0), x[1].clamp(0.0, 1.0))]);
    [thickness, wet]
}

fn register_controller(register: &mut Register<'_>, piece: &Piece, library: &Library) -> ControllerValues {
    let given = &piece.controller;
    let entry = given.library.as_deref().and_then(|id| library.controller(id));
    let mut one = |quantity: &'static Quantity, number: Option<Measured>, of: fn(&Controller) -> &materials::Known| {
        let otherwise = entry.map_or(&CHECKED_BEFORE, of);
        register.given_or(Place::Controller, quantity, number, (otherwise, Origin::Library))
    };
    ControllerValues {
        charge_time_s: one(&units::CHARGE_TIME, given.charge_time_s, |c| &c.charge_time_s),
        series_ohm: one(&units::SERIES_RESISTANCE, given.series_resistance_ohm, |c| &c.series_resistance_ohm),
        max_standing_f: one(&units::MAX_STANDING, given.max_standing_f, |c| &c.max_standing_f),
        needed_signal_f: one(&units::NEEDED_SIGNAL, given.needed_signal_f, |c| &c.needed_signal_f),
        max_run_ohm: one(&units::MAX_RUN, given.max_run_ohm, |c| &c.max_run_ohm),
        settled_fraction: one(&units::SETTLED, given.settled_fraction, |c| &c.settled_fraction),
    }
}

fn register_shape(register: &mut Register<'_>, k: usize, shape: &Shape) -> Vec<Linear> {
    let mut one = |quantity, measured| register.given(Place::Shape(k), quantity, measured);
    match *shape {
        Shape::Round { diameter_m } => vec![one(&units::DIAMETER, diameter_m)],
        Shape::Rectangle { width_m, length_m, corner_radius_m } => {
            vec![one(&units::WIDTH, width_m), one(&units::LENGTH, length_m), one(&units::CORNER_RADIUS, corner_radius_m)]
        }
        Shape::Ring { inner_diameter_m, outer_diameter_m } => {
            vec![one(&units::INNER_DIAMETER, inner_diameter_m), one(&units::OUTER_DIAMETER, outer_diameter_m)]
        }
        Shape::Polygon { .. } => Vec::new(),
    }
}

fn ground(kind: GroundKind) -> Ground {
    match kind {
        GroundKind::Sheet | GroundKind::Metal | GroundKind::Body => Ground::Plane,
        GroundKind::None => Ground::None,
    }
}

fn fixed_outline(pad: &Pad) -> Outline {
    pad.shape.outline().expect("Piece::check has refused faulty polygons")
}

/// The outline with its measures moved to `measures`; `fixed` is the outline of a polygon, which has none.
fn outline(shape: &Shape, measures: &[f64], fixed: Outline) -> Outline {
    match shape {
        Shape::Round { .. } => Outline::Round { diameter_m: measures[0] },
        Shape::Rectangle { .. } => {
            let most = measures[0].min(measures[1]) / 2.0;
            Outline::Rectangle { width_m: measures[0], length_m: measures[1], corner_radius_m: measures[2].clamp(0.0, most) }
        }
        Shape::Ring { .. } => Outline::Ring { inner_diameter_m: measures[0], outer_diameter_m: measures[1] },
        Shape::Polygon { .. } => fixed,
    }
}

/// Layers on the stack of the computer rather than the heap: this is built anew for every slope.
pub(super) struct LayerBuffer {
    layers: [Layer; 2 * super::MOST_LAYERS],
    used: usize,
}

impl LayerBuffer {
    pub(super) fn new(pairs: &[f64]) -> Self {
        let mut layers = [Layer { thickness_m: 1.0, relative_permittivity: 1.0 }; 2 * super::MOST_LAYERS];
        for (layer, pair) in layers.iter_mut().zip(pairs.chunks_exact(2)) {
            *layer = Layer { thickness_m: pair[0], relative_permittivity: pair[1] };
        }
        Self { layers, used: pairs.len() / 2 }
    }

    pub(super) fn medium(&self, ground: Ground, base_layers: usize) -> Medium<'_> {
        Medium { ground, base: &self.layers[..base_layers], overlay: &self.layers[base_layers..self.used] }
    }
}

pub(super) fn pad_name(k: usize, pad: &Pad) -> String {
    Feature::Pad(k).called(pad.name.as_deref())
}

fn pad_result(k: usize, pad: &Pad, chain: &PadChain, weakest_check: &super::Check, weakest: usize) -> PadResult {
    let d = &chain.details;
    let untouched_f = d.field.coefficients_f[2];
    PadResult {
        name: pad_name(k, pad),
        verdict: weakest_check.verdict,
        chance: weakest_check.chance,
        weakest,
        signal_f: chain.signal_f.value,
        standing_f: chain.standing_f.value,
        run_ohm: chain.run_ohm.value,
        settled_fraction: chain.settled.value,
        pad_f: untouched_f,
        plate_f: d.pad.plate_f,
        fringe_f: untouched_f - d.pad.plate_f,
        run_f: d.charging.run_f,
        pad_ohm: d.charging.pad_ohm,
        parallel_ohm: d.run.resistance.parallel_ohm,
        transfer_length_m: d.run.resistance.passes.ladder().map(|l| l.transfer_stitches() * d.run.length_m / f64::from(l.stitches)),
        finger_f: d.field.coefficients_f[0],
        return_f: d.return_f,
        run_thread_m: f64::from(d.passes)
            * (d.run.seam.top_thread_m + if pad.run.bobbin == Bobbin::SameThread { d.run.seam.bobbin_thread_m } else { 0.0 }),
        stitches: d.run.seam.stitches * f64::from(d.passes),
        method: d.field.method.name(),
        solved: d.field.method.is_solved(),
        relative_error: d.field.pad_error,
        rows_error: d.field.rows_error,
        closed_form_f: d.pad.total_f,
        neighbour: None,
    }
}

/// What the reader should know about how this pad's numbers were made, each said once.
fn add_notes(notes: &mut Vec<String>, d: &PadDetails) {
    let all = d.field.notes.union(d.line.accuracy.notes);
    let few_rows = d.rows.is_some_and(|rows| rows.row_spacing_m > 0.4 * d.pad.disc_radius_m);
    let few =
        few_rows.then_some("fewer than five rows cross a pad: it is hardly the even plate it is taken for, and its error bound says so");
    let satin = matches!(d.cross_section, CrossSection::Strip { .. })
        .then_some("neighbouring zigzags of a satin column touch, so it resists less than the thread laid out, which is the value given");
    for text in all.iter().map(|note| note.text()).chain(few).chain(satin) {
        if !notes.iter().any(|n| n == text) {
            notes.push(text.to_owned());
        }
    }
}
