//! A row of lights: currents and voltages along feed and return. Volt, ampere, ohm.
//!
//! N equal lights stand between a feed run and a return run, each run a chain of N - 1 equal segments. The supply, with
//! its own resistance, is tied to the feed at the first light; the return is tied to it at the first light
//! ([`Feed::Same`]), at the last ([`Feed::Opposite`]), or both runs are tied to it at both ends ([`Feed::BothEnds`]).
//! One segment of each run may be broken.
//!
//! # Method
//! Unknown are the currents F_i in the feed's segments and one number c: feed and return current of a segment, counted
//! the same way, add up to the same c everywhere, because what leaves the one through a light enters the other. So the
//! currents into every node add up to zero by construction, and segments without resistance or without a way through
//! need no special care. Those that solve the row make the least of a convex function (the content; Millar 1951, Phil.
//! Mag. 42, 1150); its matrix is tridiagonal but for c and the supply, and is eliminated without differences of large
//! numbers, so that dark lights do no harm. Newton's method, each light held to a share of its current when it dims;
//! from a start at the even share most rows settle in 4 to 10 rounds.
//!
//! A light that a break cuts off from a pole is dark: what could still flow would have to come backwards through another
//! light and is no more than the saturation current.
//!
//! # Accuracy
//! Relative 1e-9 of every current and voltage against 30-digit solutions (reference table G6), in practice 1e-12: the
//! answer carries what is left of the last round as its bound.
//!
//! # Example
//! Two lights of Is = 3e-16 A, m = 51.73 mV, 100 ohm at 3.3 V with 1.68 ohm and 3.83 ohm between them: 16.63 mA and
//! 15.79 mA.

use super::Diode;

/// Largest number of lights in a row.
pub const MOST_LIGHTS: usize = 500;

/// Rounds after which the search is given up.
const MOST_ROUNDS: usize = 400;

/// A light dims no further than to this share of its current in one round.
const DIMMED_TO: f64 = 0.03;

/// The voltages of a round are settled when they move by less than this share of the supply's.
const SETTLED: f64 = 1e-12;

/// From here on a move that does not shrink any more is rounding.
const NEARLY_SETTLED: f64 = 1e-9;

/// A light with less than this share of the brightest one's current is dim.
const DIM: f64 = 1e-3;

/// Where the supply is tied to the runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Feed {
    /// Feed and return at the first light.
    Same,
    /// Feed at the first light, return at the last: every light has the same length of run in its loop.
    Opposite,
    /// Both runs at both ends.
    BothEnds,
}

impl Feed {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Same => "same",
            Self::Opposite => "opposite",
            Self::BothEnds => "both_ends",
        }
    }
}

/// Resistances of one run, ohm, all 0 or more.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Run {
    /// From one light to the next.
    pub segment_ohm: f64,
    /// From the supply to the first light; counts where the run is tied there.
    pub near_ohm: f64,
    /// From the supply to the last light; counts where the run is tied there.
    pub far_ohm: f64,
}

/// A broken segment, counted from 1: segment k lies between lights k and k + 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Break {
    /// Of the feed.
    Feed(usize),
    /// Of the return.
    Return(usize),
}

/// A row of lights with its runs and its supply.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LightRow<'a> {
    /// 1 to [`MOST_LIGHTS`].
    pub lights: usize,
    /// Where the supply is tied to the runs.
    pub feed: Feed,
    /// Voltage of the supply without load, V, above 0.
    pub supply_v: f64,
    /// Resistance of the supply, ohm, 0 or more.
    pub source_ohm: f64,
    /// The feed.
    pub feed_run: Run,
    /// The return.
    pub return_run: Run,
    /// One light. Something in series with it, or the supply, must have a resistance.
    pub light: Diode,
    /// Segments without a way through; numbers outside the row are passed over.
    pub broken: &'a [Break],
}

/// What a row of lights gets.
#[derive(Debug, Clone, PartialEq)]
pub struct LitRow {
    /// Feed at each light, against the supply's negative terminal, V. Where a break has cut it off, that of the return;
    /// where both are cut off, 0.
    pub feed_v: Vec<f64>,
    /// Return at each light, V; where a break has cut it off, that of the feed.
    pub return_v: Vec<f64>,
    /// Through each light, A; 0 where a break has cut the light off from a pole.
    pub current_a: Vec<f64>,
    /// Along each segment of the feed, from light k to k + 1, A.
    pub feed_segment_a: Vec<f64>,
    /// Along each segment of the return, from light k to k + 1, A.
    pub return_segment_a: Vec<f64>,
    /// Drawn from the supply, A.
    pub supply_a: f64,
    /// Lost in feed and return with their leads, W.
    pub run_loss_w: f64,
    /// Lost in the supply itself, W.
    pub source_loss_w: f64,
    /// Bound on the relative error of the currents of lit lights.
    pub relative_error: f64,
    /// Rounds that it took.
    pub rounds: usize,
}

impl LitRow {
    /// Power that arrives at the lights, resistors included, W.
    pub fn lights_w(&self) -> f64 {
        (0..self.current_a.len()).map(|k| self.current_a[k] * (self.feed_v[k] - self.return_v[k])).sum()
    }

    /// The dimmest light, counted from 0; the first of equals.
    pub fn dimmest(&self) -> usize {
        extreme(&self.current_a, |a, b| a < b)
    }

    /// The brightest light, counted from 0; the first of equals.
    pub fn brightest(&self) -> usize {
        extreme(&self.current_a, |a, b| a > b)
    }

    /// Current of the dimmest light over that of the brightest, 0 to 1; light follows current nearly in proportion.
    pub fn min_over_max(&self) -> f64 {
        let most = self.current_a[self.brightest()];
        if most > 0.0 { (self.current_a[self.dimmest()] / most).clamp(0.0, 1.0) } else { 0.0 }
    }
}

fn extreme(values: &[f64], better: impl Fn(f64, f64) -> bool) -> usize {
    (1..values.len()).fold(0, |best, k| if better(values[k], values[best]) { k } else { best })
}

/// The search for the currents did not settle, which no row inside the stated ranges has been seen to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NotSettled;

/// Currents and voltages of a row of lights.
///
/// # Errors
/// [`NotSettled`].
pub fn light_row(row: &LightRow<'_>) -> Result<LitRow, NotSettled> {
    let runs = Runs::new(row);
    let meshes = Meshes::new(row, &runs);
    let mut tangents = vec![meshes.even_share(row); runs.lit.len()];
    let mut solved = Solved::none(runs.lit.len());
    let mut before = f64::INFINITY;
    for round in 1..=MOST_ROUNDS {
        meshes.solve(row, &tangents, &mut solved);
        meshes.voltages(row, &mut solved);
        let moves = solved.light_v.iter().zip(&tangents).map(|(volt, t)| (volt - t.volt).abs() / row.supply_v);
        let moved = moves.fold(0.0, |most: f64, moved| if moved > most || moved.is_nan() { moved } else { most });
        if moved <= SETTLED || (moved <= NEARLY_SETTLED && moved >= before) {
            return Ok(answer(row, &runs, &solved, round));
        }
        before = moved;
        for (tangent, volt) in tangents.iter_mut().zip(&solved.light_v) {
            *tangent = tangent.next(&row.light, *volt);
        }
    }
    Err(NotSettled)
}

/// The two runs with their leads: segment 0 leads to the first light, segment N to the last.
struct Runs {
    feed: Vec<Option<f64>>,
    back: Vec<Option<f64>>,
    /// Lights that both poles reach. One that is cut off from a pole is dark: what could flow through it would have to
    /// come backwards through another light, which is no more than the saturation current.
    lit: Vec<usize>,
}

impl Runs {
    fn new(row: &LightRow<'_>) -> Self {
        let n = row.lights;
        let chain = |run: &Run, near: bool, far: bool| -> Vec<Option<f64>> {
            let lead = |tied: bool, ohm: f64| tied.then_some(ohm);
            (0..=n)
                .map(|i| {
                    if i == 0 {
                        lead(near, run.near_ohm)
                    } else if i == n {
                        lead(far, run.far_ohm)
                    } else {
                        Some(run.segment_ohm)
                    }
                })
                .collect()
        };
        let ring = row.feed == Feed::BothEnds;
        let mut feed = chain(&row.feed_run, true, ring);
        let mut back = chain(&row.return_run, row.feed != Feed::Opposite, row.feed != Feed::Same);
        for broken in row.broken {
            match *broken {
                Break::Feed(k) if (1..n).contains(&k) => feed[k] = None,
                Break::Return(k) if (1..n).contains(&k) => back[k] = None,
                Break::Feed(_) | Break::Return(_) => {}
            }
        }
        let reached = |run: &[Option<f64>], k: usize| run[..=k].iter().all(Option::is_some) || run[k + 1..].iter().all(Option::is_some);
        let lit = (0..n).filter(|k| reached(&feed, *k) && reached(&back, *k)).collect();
        // A ring without any resistance is one point, whichever way it is opened.
        for run in [&mut feed, &mut back] {
            if run.iter().all(|ohm| *ohm == Some(0.0)) {
                run[n] = None;
            }
        }
        Self { feed, back, lit }
    }
}

/// Where the current of a stretch of run stands: it is an unknown of its own, or c, or nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mesh {
    /// Both runs lead on here.
    Own(usize),
    /// The return is open here, so that the feed carries all of c.
    Around,
    /// The feed is open here.
    Still,
}

/// The stretches of run: one before the first lit light, one between each two, one after the last.
struct Meshes {
    stretches: Vec<Mesh>,
    /// Where c stands; [`Mesh::Still`] where both runs are open in one stretch and no current goes around.
    around: Mesh,
    feed: Vec<Option<f64>>,
    back: Vec<Option<f64>>,
}

impl Meshes {
    fn new(row: &LightRow<'_>, runs: &Runs) -> Self {
        let ends: Vec<usize> = std::iter::once(0).chain(runs.lit.iter().map(|k| k + 1)).chain([row.lights + 1]).collect();
        let stretched = |run: &[Option<f64>]| -> Vec<Option<f64>> {
            ends.windows(2).map(|w| run[w[0]..w[1]].iter().try_fold(0.0, |sum, ohm| ohm.map(|ohm| sum + ohm))).collect()
        };
        let (feed, back) = (stretched(&runs.feed), stretched(&runs.back));
        let closed = feed.iter().zip(&back).any(|(f, b)| f.is_none() && b.is_none());
        let around = if closed { Mesh::Still } else { Mesh::Around };
        let mesh = |(i, (f, b)): (usize, (&Option<f64>, &Option<f64>))| match (f, b) {
            (Some(_), Some(_)) => Mesh::Own(i),
            (Some(_), None) => around,
            (None, _) => Mesh::Still,
        };
        Self { stretches: feed.iter().zip(&back).enumerate().map(mesh).collect(), around, feed, back }
    }

    /// Every light at its share of what the supply gives through half of the runs.
    fn even_share(&self, row: &LightRow<'_>) -> Tangent {
        let runs: f64 = self.feed.iter().chain(&self.back).flatten().sum();
        let shared_ohm = row.lights as f64 * (row.source_ohm + runs / 2.0);
        let even = Diode { series_ohm: row.light.series_ohm + shared_ohm, ..row.light };
        Tangent::at(&row.light, even.current_a(row.supply_v))
    }

    /// The currents with every light replaced by its tangent.
    fn solve(&self, row: &LightRow<'_>, tangents: &[Tangent], solved: &mut Solved) {
        let last = self.stretches.len() - 1;
        let ties = &mut solved.ties;
        ties.clear();
        // Resistances tie the unknowns together as they tie nodes in a network: a light ties the stretches at its
        // sides, the feed ties its stretch to nothing, the return ties it to c, the supply ties the first to the last.
        for (i, mesh) in self.stretches.iter().enumerate() {
            ties.tie(*mesh, Mesh::Still, self.feed[i].unwrap_or(0.0));
            ties.tie(*mesh, self.around, self.back[i].unwrap_or(0.0));
        }
        ties.tie(self.stretches[0], self.stretches[last], row.source_ohm);
        ties.push(self.stretches[0], row.supply_v);
        ties.push(self.stretches[last], -row.supply_v);
        for (k, tangent) in tangents.iter().enumerate() {
            ties.tie(self.stretches[k], self.stretches[k + 1], tangent.slope_ohm);
            ties.push(self.stretches[k], -tangent.offset_v);
            ties.push(self.stretches[k + 1], tangent.offset_v);
        }
        solved.around_a = ties.eliminate(&self.stretches, &mut solved.feed_a);
    }

    /// Voltages of the lights from those currents, along the runs from the supply.
    fn voltages(&self, row: &LightRow<'_>, solved: &mut Solved) {
        let Solved { feed_a, around_a, light_v, .. } = solved;
        let terminal_v = row.supply_v - row.source_ohm * supply_current(feed_a);
        let feed_v = along(light_v.len(), terminal_v, |i| self.feed[i].map(|ohm| ohm * feed_a[i]));
        let return_v = along(light_v.len(), 0.0, |i| self.back[i].map(|ohm| ohm * (*around_a - feed_a[i])));
        for (volt, (feed, back)) in light_v.iter_mut().zip(feed_v.iter().zip(&return_v)) {
            *volt = feed - back;
        }
    }
}

/// Current drawn from the supply, given those of the feed's stretches.
fn supply_current(feed_a: &[f64]) -> f64 {
    feed_a[0] - feed_a[feed_a.len() - 1]
}

/// Voltages at `lights` nodes of a run from both of its ends: `drop(i)` is what segment i drops from left to right,
/// `None` where it is open. NaN where no way leads to the supply.
fn along(lights: usize, terminal_v: f64, drop: impl Fn(usize) -> Option<f64>) -> Vec<f64> {
    let mut volts = vec![f64::NAN; lights];
    let mut at = terminal_v;
    let mut reached = lights;
    for (i, volt) in volts.iter_mut().enumerate() {
        let Some(down) = drop(i) else {
            reached = i;
            break;
        };
        at -= down;
        *volt = at;
    }
    at = terminal_v;
    for i in (reached..lights).rev() {
        let Some(down) = drop(i + 1) else { break };
        at += down;
        volts[i] = at;
    }
    volts
}

/// The unknown currents and what ties them together, each tie a resistance of 0 or more.
///
/// They are eliminated one after the other as nodes of a network are, star into mesh: only sums of ties are taken,
/// never differences, so that a tie keeps its digits beside others that are many powers of ten larger.
struct Ties {
    /// To nothing, to the next stretch, to the last one, to c.
    ground: Vec<f64>,
    next: Vec<f64>,
    last: Vec<f64>,
    around: Vec<f64>,
    /// Voltage that drives each current.
    volt: Vec<f64>,
    around_ground: f64,
    around_volt: f64,
}

impl Ties {
    fn none(stretches: usize) -> Self {
        let zeros = || vec![0.0; stretches];
        Self { ground: zeros(), next: zeros(), last: zeros(), around: zeros(), volt: zeros(), around_ground: 0.0, around_volt: 0.0 }
    }

    fn clear(&mut self) {
        for list in [&mut self.ground, &mut self.next, &mut self.last, &mut self.around, &mut self.volt] {
            list.fill(0.0);
        }
        (self.around_ground, self.around_volt) = (0.0, 0.0);
    }

    fn tie(&mut self, a: Mesh, b: Mesh, ohm: f64) {
        match (a, b) {
            (Mesh::Own(i), Mesh::Own(j)) if j == i + 1 => self.next[i] += ohm,
            (Mesh::Own(i), Mesh::Own(j)) if i != j => self.last[i] += ohm,
            (Mesh::Own(i), Mesh::Around) | (Mesh::Around, Mesh::Own(i)) => self.around[i] += ohm,
            (Mesh::Own(i), Mesh::Still) | (Mesh::Still, Mesh::Own(i)) => self.ground[i] += ohm,
            (Mesh::Around, Mesh::Still) | (Mesh::Still, Mesh::Around) => self.around_ground += ohm,
            _ => {}
        }
    }

    fn push(&mut self, mesh: Mesh, volt: f64) {
        match mesh {
            Mesh::Own(i) => self.volt[i] += volt,
            Mesh::Around => self.around_volt += volt,
            Mesh::Still => {}
        }
    }

    /// Finds the current of every stretch; returns c.
    fn eliminate(&mut self, stretches: &[Mesh], feed_a: &mut [f64]) -> f64 {
        let last = stretches.len() - 1;
        let own = |i: usize| stretches[i] == Mesh::Own(i);
        for i in (0..=last).filter(|i| own(*i)) {
            if i + 1 == last {
                self.last[i] += std::mem::take(&mut self.next[i]);
            }
            let (ground, next, to_last, around, volt) = (self.ground[i], self.next[i], self.last[i], self.around[i], self.volt[i]);
            let all = ground + next + to_last + around;
            let share = |tie: f64| if all > 0.0 { tie / all } else { 0.0 };
            if i + 1 < last {
                self.ground[i + 1] += share(next) * ground;
                self.last[i + 1] += share(next) * to_last;
                self.around[i + 1] += share(next) * around;
                self.volt[i + 1] += share(next) * volt;
            }
            if i < last {
                self.ground[last] += share(to_last) * ground;
                self.around[last] += share(to_last) * around;
                self.volt[last] += share(to_last) * volt;
            }
            self.around_ground += share(around) * ground;
            self.around_volt += share(around) * volt;
        }
        let c = if self.around_ground > 0.0 { self.around_volt / self.around_ground } else { 0.0 };
        for i in (0..=last).rev() {
            feed_a[i] = match stretches[i] {
                Mesh::Own(_) => {
                    let all = self.ground[i] + self.next[i] + self.last[i] + self.around[i];
                    let beside = if i < last { self.next[i] * feed_a[i + 1] + self.last[i] * feed_a[last] } else { 0.0 };
                    if all > 0.0 { (self.volt[i] + beside + self.around[i] * c) / all } else { 0.0 }
                }
                Mesh::Around => c,
                Mesh::Still => 0.0,
            };
        }
        c
    }
}

/// What a round finds.
struct Solved {
    /// Feed current of each stretch, A.
    feed_a: Vec<f64>,
    /// Feed and return current together, counted the same way, the same in every stretch: c, A.
    around_a: f64,
    /// Voltage of each lit light, V.
    light_v: Vec<f64>,
    ties: Ties,
}

impl Solved {
    fn none(lit: usize) -> Self {
        Self { feed_a: vec![0.0; lit + 1], around_a: 0.0, light_v: vec![0.0; lit], ties: Ties::none(lit + 1) }
    }
}

/// A light replaced by its tangent at one point.
#[derive(Debug, Clone, Copy)]
struct Tangent {
    current_a: f64,
    volt: f64,
    slope_ohm: f64,
    /// Voltage of the tangent at no current, V.
    offset_v: f64,
}

impl Tangent {
    fn at(light: &Diode, current_a: f64) -> Self {
        let (volt, slope_ohm) = (light.voltage_v(current_a), light.slope_ohm(current_a));
        Self { current_a, volt, slope_ohm, offset_v: volt - slope_ohm * current_a }
    }

    /// The next point, with the light at `volt`: Newton's step in the current, which follows a diode well upwards;
    /// downwards no light dims by more than a share, which keeps it on the side where a tangent says something.
    fn next(&self, light: &Diode, volt: f64) -> Self {
        let is = light.saturation_current_a;
        if volt <= 0.0 {
            return Self::at(light, light.current_a(volt));
        }
        let from = if self.current_a < 0.0 { Self::at(light, 0.0) } else { *self };
        let ahead_a = from.current_a + (volt - from.volt) / from.slope_ohm;
        Self::at(light, (ahead_a + is).max(DIMMED_TO * (from.current_a + is)).max(is) - is)
    }
}

/// Puts what was found on every light, dark ones included.
fn answer(row: &LightRow<'_>, runs: &Runs, solved: &Solved, rounds: usize) -> LitRow {
    let n = row.lights;
    let mut feed_a = Vec::with_capacity(n + 1);
    let mut stretch = 0;
    for i in 0..=n {
        feed_a.push(solved.feed_a[stretch]);
        stretch += usize::from(runs.lit.get(stretch) == Some(&i));
    }
    let return_a: Vec<f64> = feed_a.iter().map(|f| solved.around_a - f).collect();
    let supply_a = supply_current(&solved.feed_a);

    let by_balance = |m: usize| solved.feed_a[m] - solved.feed_a[m + 1];
    let by_voltage: Vec<f64> = solved.light_v.iter().map(|v| row.light.current_a(*v)).collect();
    let most = by_voltage.iter().fold(0.0, |m: f64, i| m.max(i.abs()));
    let mut mismatch: f64 = 0.0;
    let mut current_a = vec![0.0; n];
    for (m, k) in runs.lit.iter().enumerate() {
        mismatch = mismatch.max((by_voltage[m] - by_balance(m)).abs());
        // A bright light is known best from the balance of its node, a dim one, a small difference there, from its voltage.
        current_a[*k] = if by_voltage[m].abs() > DIM * most { by_balance(m) } else { by_voltage[m] };
    }

    let mut feed_v = along(n, row.supply_v - row.source_ohm * supply_a, |i| runs.feed[i].map(|ohm| ohm * feed_a[i]));
    let mut return_v = along(n, 0.0, |i| runs.back[i].map(|ohm| ohm * return_a[i]));
    for (feed, back) in feed_v.iter_mut().zip(&mut return_v) {
        match (feed.is_nan(), back.is_nan()) {
            (true, true) => (*feed, *back) = (0.0, 0.0),
            (true, false) => *feed = *back,
            (false, true) => *back = *feed,
            (false, false) => {}
        }
    }
    let heat = |run: &[Option<f64>], ampere: &[f64]| run.iter().zip(ampere).map(|(r, i)| r.unwrap_or(0.0) * i * i).sum::<f64>();
    // Voltages are known to their last digit, which counts for a light by how steep it is.
    let floor = 4.0 * f64::EPSILON * row.supply_v / row.light.emission_voltage_v;
    LitRow {
        feed_v,
        return_v,
        current_a,
        feed_segment_a: feed_a[1..n].to_vec(),
        return_segment_a: return_a[1..n].to_vec(),
        supply_a,
        run_loss_w: heat(&runs.feed, &feed_a) + heat(&runs.back, &return_a),
        source_loss_w: row.source_ohm * supply_a * supply_a,
        relative_error: if most > 0.0 { mismatch / most + floor } else { floor },
        rounds,
    }
}
