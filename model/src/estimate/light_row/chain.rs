//! One light row worked out: runs, lights, what each light gets, and how warm the thread becomes, with the spreads of every
//! number carried along.
//!
//! The currents are those of [`crate::lights::light_row()`] with every segment of a run as it is sewn over the distance of
//! the lights. Each segment counts as a run of its own whose ends are on the top thread: where the bobbin conducts too, its
//! current comes up to every light, which is the safe side. Light numbers hold at one temperature.

use super::assumed;
use super::piece::{LightChoice, LightRow, TOLD_AT_K, Told};
use crate::conduction::{End, RunResistance, Strand};
use crate::estimate::input::{Input, Origin, Place, Register};
use crate::estimate::pad::{PieceChain, StitchValues};
use crate::estimate::run::{RunPlaces, RunStitch, SewnLength, ends, run_values_and_sewing};
use crate::estimate::terminal::{TerminalValues, terminal_values};
use crate::estimate::thread::ThreadValues;
use crate::estimate::warmth::{SKIN_LIMIT, rise};
use crate::heat::{Rise, Surroundings};
use crate::lights::{Diode, ForwardPoint, LightRow as Row, LitRow, NotSettled, Run, battery_life_s, light_row, thermal_voltage_v};
use crate::materials::Known;
use crate::uncertainty::{Linear, Measured, propagate};
use crate::units::{self, Quantity};

/// One light row, worked out.
pub(super) struct LightRowChain {
    pub(super) inputs: Vec<Input>,
    /// Current of the dimmest light over that of the brightest.
    pub(super) spread: Linear,
    /// Voltage that the dimmest light with its resistor and contacts gets, from the empty supply where one is told.
    pub(super) light_v: Linear,
    /// What it takes for the least current.
    pub(super) needed_v: Linear,
    pub(super) supply_a: Linear,
    pub(super) brightest_a: Linear,
    /// Upper bound of the warmest thread's temperature.
    pub(super) warm_k: Linear,
    /// `None` without a capacity, or where nothing is drawn.
    pub(super) life_s: Option<Linear>,
    pub(super) limits: Limits,
    pub(super) stitch: StitchValues,
    pub(super) terminal: TerminalValues,
    pub(super) details: RowDetails,
}

/// What a row is held against.
pub(super) struct Limits {
    pub(super) least_brightness: Linear,
    pub(super) most_current_a: Option<Linear>,
    pub(super) max_supply_a: Option<Linear>,
    pub(super) needed_life_s: Option<Linear>,
    pub(super) max_temperature_k: Linear,
}

/// Numbers at the best estimates, for results and working.
pub(super) struct RowDetails {
    pub(super) values: RowValues,
    pub(super) lit: LitRow,
    /// With the empty supply, where one is told.
    pub(super) lit_empty: Option<LitRow>,
    pub(super) empty_v: Option<f64>,
    pub(super) least_current_a: f64,
    /// A segment of feed and return.
    pub(super) segments: [RunResistance; 2],
    pub(super) stitches_per_segment: f64,
    pub(super) pitch_m: f64,
    pub(super) heat: RowHeat,
    pub(super) life: Option<Life>,
}

/// A battery at the best estimates.
#[derive(Debug, Clone, Copy)]
pub(super) struct Life {
    pub(super) capacity_c: f64,
    pub(super) usable_share: f64,
    pub(super) life_s: Option<f64>,
}

/// The warmest place of the thread.
#[derive(Debug, Clone, Copy)]
pub(super) struct RowHeat {
    /// Largest current of a run.
    pub(super) current_a: f64,
    pub(super) power_w_per_m: f64,
    pub(super) ambient_k: f64,
    pub(super) rise: Rise,
}

/// A row as the solver takes it.
#[derive(Debug, Clone, Copy)]
pub(super) struct RowValues {
    pub(super) supply_v: f64,
    pub(super) source_ohm: f64,
    pub(super) feed: Run,
    pub(super) back: Run,
    /// With its resistor and contacts.
    pub(super) light: Diode,
    pub(super) series_ohm: f64,
    pub(super) contact_ohm: f64,
}

/// Registers the numbers of one row.
struct Numbers<'a> {
    register: Register<'a>,
    k: usize,
}

impl Numbers<'_> {
    fn given(&mut self, part: &'static str, quantity: &'static Quantity, measured: Measured) -> Linear {
        self.register.given(Place::LightRow(self.k, part), quantity, measured)
    }

    fn or(&mut self, part: &'static str, quantity: &'static Quantity, given: Option<Measured>, usual: &Known) -> Linear {
        self.register.given_or(Place::LightRow(self.k, part), quantity, given, (usual, Origin::Assumed))
    }

    fn optional(&mut self, part: &'static str, quantity: &'static Quantity, given: Option<Measured>) -> Option<Linear> {
        given.map(|measured| self.given(part, quantity, measured))
    }

    /// What tells one light: two points or its equation, with the emission coefficient where one is given.
    fn light(&mut self, light: &LightChoice) -> Vec<Linear> {
        let part = "light";
        match light.told().expect("Piece::check asks for two points or an equation") {
            Told::Points { low_current_a, low_forward_v, high_current_a, high_forward_v, emission } => {
                let mut numbers = vec![
                    self.given(part, &units::LOW_CURRENT, low_current_a),
                    self.given(part, &units::LOW_FORWARD, low_forward_v),
                    self.given(part, &units::HIGH_CURRENT, high_current_a),
                    self.given(part, &units::HIGH_FORWARD, high_forward_v),
                ];
                numbers.extend(self.optional(part, &units::EMISSION_COEFFICIENT, emission));
                numbers
            }
            Told::Saturation { current_a, emission } => {
                vec![self.given(part, &units::SATURATION_CURRENT, current_a), self.given(part, &units::EMISSION_COEFFICIENT, emission)]
            }
        }
    }
}

/// The light that numbers in the order of [`Numbers::light`] tell; `None` where no diode passes through them.
fn diode(x: &[f64]) -> Option<Diode> {
    let emission_v = |n: f64| n * thermal_voltage_v(TOLD_AT_K);
    if let [saturation_current_a, emission] = *x {
        return Some(Diode { saturation_current_a, emission_voltage_v: emission_v(emission), series_ohm: 0.0 });
    }
    let points = [ForwardPoint { current_a: x[0], voltage_v: x[1] }, ForwardPoint { current_a: x[2], voltage_v: x[3] }];
    Diode::through(points, x.get(4).map(|n| emission_v(*n))).ok()
}

/// How many numbers of the solver's question stand before those of the light.
const FIXED: usize = 13;

/// What the solver is asked, with spreads.
struct Question<'a> {
    row: &'a LightRow,
    /// Supply voltage, its resistance; segment, near and far lead of feed and of return, the leads with their terminals; light
    /// contacts, resistor, distance of the lights, temperature in use, empty supply; then those of the light.
    arguments: Vec<Linear>,
    best: Diode,
    surroundings: Surroundings,
    /// Of feed and return as they lie.
    widths_m: [f64; 2],
}

impl Question<'_> {
    fn values(&self, x: &[f64]) -> RowValues {
        let positive = |ohm: f64| ohm.max(0.0);
        let run = |at: usize| Run { segment_ohm: positive(x[at]), near_ohm: positive(x[at + 1]), far_ohm: positive(x[at + 2]) };
        let light = diode(&x[FIXED..]).unwrap_or(self.best);
        let (contact_ohm, series_ohm) = (positive(x[8]), positive(x[9]));
        RowValues {
            supply_v: x[0],
            source_ohm: positive(x[1]),
            feed: run(2),
            back: run(5),
            light: Diode { series_ohm: light.series_ohm + contact_ohm + series_ohm, ..light },
            series_ohm,
            contact_ohm,
        }
    }

    fn lit(&self, values: &RowValues) -> Result<LitRow, NotSettled> {
        light_row(&values.row(self.row, &[]))
    }

    /// The row lit by the empty supply, where one is told.
    fn lit_empty(&self, values: &RowValues, x: &[f64]) -> Result<Option<LitRow>, NotSettled> {
        let empty = self.row.supply.empty_v.map(|_| self.lit(&RowValues { supply_v: x[12], ..*values }));
        empty.transpose()
    }

    /// The warmest place: most current in either run, over the resistance of a metre of it.
    fn heat(&self, values: &RowValues, lit: &LitRow, x: &[f64]) -> RowHeat {
        let n = lit.current_a.len();
        let (pitch_m, ambient_k) = (x[10], x[11]);
        // What leaves the feed through a light enters the return, so that the two count the other way round.
        let runs = [(&lit.feed_segment_a, values.feed.segment_ohm, 1.0), (&lit.return_segment_a, values.back.segment_ohm, -1.0)];
        let warmest = runs.iter().zip(self.row.tied()).zip(self.widths_m).map(|(((segments, ohm, sign), [near, far]), width_m)| {
            // What a lead carries is what its light takes and what goes on along the run.
            let at_end = |light: usize, on: Option<&f64>, toward: f64| match on {
                Some(on) => (lit.current_a[light] + toward * on).abs(),
                None => lit.supply_a,
            };
            let near_a = if near { at_end(0, segments.first(), *sign) } else { 0.0 };
            let far_a = if far { at_end(n - 1, segments.last(), -sign) } else { 0.0 };
            let current_a = segments.iter().fold(near_a.max(far_a), |most, a| most.max(a.abs()));
            let power_w_per_m = current_a * current_a * ohm / pitch_m;
            RowHeat { current_a, power_w_per_m, ambient_k, rise: rise(power_w_per_m, width_m, ambient_k, self.surroundings) }
        });
        warmest.reduce(|a, b| if b.rise.high_k > a.rise.high_k { b } else { a }).expect("there are two runs")
    }
}

impl RowValues {
    /// As the solver takes it.
    pub(super) fn row<'a>(&self, row: &LightRow, broken: &'a [crate::lights::Break]) -> Row<'a> {
        Row {
            lights: row.lights as usize,
            feed: row.feed,
            supply_v: self.supply_v,
            source_ohm: self.source_ohm,
            feed_run: self.feed,
            return_run: self.back,
            light: self.light,
            broken,
        }
    }
}

impl RowDetails {
    /// What a segment of feed and return resists with one stitch of the top thread cut, ohm; `None` where it is open. The
    /// passes count as apart between the lights, which is the safe side.
    pub(super) fn broken_stitch_ohm(&self) -> [Option<f64>; 2] {
        self.segments.map(|segment| {
            let apart = crate::conduction::Passes { joined: false, ..segment.passes };
            apart.broken_ohm(apart.stitches / 2, Strand::Top)
        })
    }
}

/// Works out row `k` of a piece that has passed its check.
///
/// # Errors
/// Currents that could not be found.
pub(super) fn light_row_chain(chain: &PieceChain<'_>, k: usize, row: &LightRow) -> Result<LightRowChain, NotSettled> {
    let mut numbers = Numbers { register: Register::of_feature(&chain.inputs), k };
    let state = &chain.shared.state;
    let thread = ThreadValues::register(&mut numbers.register, Place::LightRow(k, "thread"), &row.thread, chain.library, state);
    let own_return = row
        .return_thread
        .as_ref()
        .map(|given| ThreadValues::register(&mut numbers.register, Place::LightRow(k, "return_thread"), given, chain.library, state));
    let return_thread = own_return.as_ref().unwrap_or(&thread);

    // Runs: one segment from light to light, and the leads to the terminals.
    let sewn_m = chain.sewn_m();
    let places = RunPlaces {
        run: Place::LightRow(k, "run"),
        stitch: Place::LightRow(k, "run/stitch"),
        terminal: Place::LightRow(k, "run/terminal"),
    };
    let (lead, sewing) = run_values_and_sewing(&mut numbers.register, places, &row.run, &thread, sewn_m);
    let pitch_m = numbers.given("", &units::PITCH, row.pitch_m);
    let along_m = lead.length_m.plus(f64::from(row.lights.saturating_sub(1)), &pitch_m);
    let far_length_m = numbers.optional("", &units::FAR_LENGTH, row.far_length_m).unwrap_or(along_m);
    let run_ends = ends(&row.run);
    let nothing = Linear::exact(0.0);
    let runs = [(&thread, row.run.passes), (return_thread, row.return_passes())];
    let mut segments = Vec::with_capacity(2);
    let mut of_runs = Vec::with_capacity(6);
    for ((thread, passes), [near, far]) in runs.into_iter().zip(row.tied()) {
        let segment: SewnLength = sewing.over(&pitch_m, &thread.ohm_per_m, [End::Top; 2], passes);
        let lead_ohm = |tied: bool, length_m: &Linear| match tied {
            true => sewing.over(length_m, &thread.ohm_per_m, run_ends, passes).ohm.plus(1.0, &lead.contact_ohm),
            false => nothing.clone(),
        };
        of_runs.extend([segment.ohm.clone(), lead_ohm(near, &lead.length_m), lead_ohm(far, &far_length_m)]);
        segments.push(segment);
    }

    // Lights and supply.
    let light = numbers.light(&row.light);
    let series_ohm = numbers.given("", &units::LIGHT_SERIES, row.series_ohm);
    let contact_ohm = numbers.or("", &units::LIGHT_CONTACT, row.light_contact_ohm, &assumed::LIGHT_CONTACT);
    let s = &row.supply;
    let supply_v = numbers.given("supply", &units::SUPPLY_VOLTAGE, s.voltage_v);
    let source_ohm = numbers.or("supply", &units::SOURCE_RESISTANCE, s.source_ohm, &assumed::SOURCE);
    let empty_v = numbers.optional("supply", &units::EMPTY_SUPPLY_VOLTAGE, s.empty_v);
    let capacity_c = numbers.optional("supply", &units::CAPACITY, s.capacity_c);
    let usable_share = capacity_c.as_ref().map(|_| numbers.or("supply", &units::USABLE_SHARE, s.usable_share, &assumed::USABLE_SHARE));
    let least_current_a = numbers.or("", &units::LEAST_CURRENT, row.least_current_a, &assumed::LEAST_CURRENT);
    let limits = Limits {
        least_brightness: numbers.or("", &units::LEAST_BRIGHTNESS, row.least_brightness, &assumed::LEAST_BRIGHTNESS),
        most_current_a: numbers.optional("", &units::MOST_CURRENT, row.most_current_a),
        max_supply_a: numbers.optional("supply", &units::MAX_SUPPLY, s.max_a),
        needed_life_s: numbers.optional("supply", &units::NEEDED_LIFE, s.needed_life_s),
        max_temperature_k: numbers.or("warmth", &units::MAX_TEMPERATURE, row.warmth.max_temperature_k, &SKIN_LIMIT),
    };

    let mut arguments = vec![supply_v, source_ohm];
    arguments.extend(of_runs);
    arguments.extend([contact_ohm, series_ohm, pitch_m, chain.temperature_k().clone()]);
    arguments.push(empty_v.clone().unwrap_or(nothing));
    debug_assert_eq!(arguments.len(), FIXED);
    arguments.extend(light);
    let at: Vec<f64> = arguments.iter().map(|a| a.value).collect();
    let width_m = |thread: &ThreadValues, passes: u32| thread.diameter_m.value * f64::from(passes).sqrt();
    let question = Question {
        row,
        best: diode(&at[FIXED..]).expect("Piece::check has drawn a diode through the numbers"),
        surroundings: row.warmth.surroundings(chain.piece, chain.library, sewn_m.value, None),
        widths_m: runs.map(|(thread, passes)| width_m(thread, passes)),
        arguments,
    };
    let values = question.values(&at);
    let lit = question.lit(&values)?;
    let lit_empty = question.lit_empty(&values, &at)?;
    let heat = question.heat(&values, &lit, &at);

    let predicted = |lit: &LitRow, lit_empty: Option<&LitRow>, heat: &RowHeat| {
        let dimmest_v = least_voltage_v(lit_empty.unwrap_or(lit));
        let brightest_a = lit.current_a[lit.brightest()];
        [lit.min_over_max(), dimmest_v, lit.supply_a, brightest_a, heat.ambient_k + heat.rise.high_k]
    };
    let at_best = predicted(&lit, lit_empty.as_ref(), &heat);
    let references: Vec<&Linear> = question.arguments.iter().collect();
    let [spread, light_v, supply_a, brightest_a, warm_k] = propagate(&references, |x| {
        let values = question.values(x);
        // A row a hair beside one that was found is found too; if not, it moves nothing.
        let (Ok(lit), Ok(lit_empty)) = (question.lit(&values), question.lit_empty(&values, x)) else { return at_best };
        predicted(&lit, lit_empty.as_ref(), &question.heat(&values, &lit, x))
    });
    let mut of_light: Vec<&Linear> = vec![&question.arguments[8], &question.arguments[9], &least_current_a];
    of_light.extend(&question.arguments[FIXED..]);
    let [needed_v] = propagate(&of_light, |x| {
        let light = diode(&x[3..]).unwrap_or(question.best);
        [light.voltage_v(x[2]) + (x[0] + x[1]) * x[2]]
    });
    let life = capacity_c.as_ref().zip(usable_share.as_ref()).map(|(capacity, share)| {
        let life_s = battery_life_s(capacity.value, share.value, supply_a.value);
        (Life { capacity_c: capacity.value, usable_share: share.value, life_s }, capacity, share)
    });
    let life_s = life.as_ref().filter(|(life, ..)| life.life_s.is_some()).map(|(_, capacity, share)| {
        let [life_s] = propagate(&[capacity, share, &supply_a], |x| [battery_life_s(x[0], x[1], x[2]).unwrap_or(0.0)]);
        life_s
    });

    let width = match &lead.stitch {
        RunStitch::Satin(satin) => satin.column_width_m.clone(),
        RunStitch::Along { .. } => thread.diameter_m.times(f64::from(row.run.passes).sqrt()),
    };
    let terminal =
        terminal_values(&mut numbers.register, places.terminal, &row.run.terminal, &chain.piece.machine, &width, &thread.diameter_m);
    let details = RowDetails {
        values,
        lit,
        lit_empty,
        empty_v: empty_v.map(|v| v.value),
        least_current_a: least_current_a.value,
        segments: [segments[0].resistance, segments[1].resistance],
        stitches_per_segment: segments[0].seam.stitches,
        pitch_m: question.arguments[10].value,
        heat,
        life: life.map(|(life, ..)| life),
    };
    Ok(LightRowChain {
        inputs: numbers.register.finish(),
        spread,
        light_v,
        needed_v,
        supply_a,
        brightest_a,
        warm_k,
        life_s,
        limits,
        stitch: StitchValues { thread_diameter_m: thread.diameter_m, fill: None, run: lead.stitch },
        terminal,
        details,
    })
}

/// Voltage of the light that gets least, with its resistor and contacts, V.
fn least_voltage_v(lit: &LitRow) -> f64 {
    lit.feed_v.iter().zip(&lit.return_v).map(|(feed, back)| feed - back).fold(f64::INFINITY, f64::min)
}
