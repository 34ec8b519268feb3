//! A run: a narrow band along a path.
//!
//! Across the band the charge is a sum of few profiles: the one that brings an endless band to one potential, and, next to
//! close neighbours, those that answer to a potential rising across it and to a curved one. Along the path the profiles'
//! amounts are constant on pieces, short at ends, bends and neighbours.
//!
//! Pieces on one leg see each other exactly, by Gaussians, whatever the width. Round a bend they see each other as on a
//! straight run, corrected by what the way across is shorter than the way along, for lines a quarter of the width thick
//! (the mean logarithmic distance within a band charged like 1/√(1 - (2y/w)²) is w/4), and somewhat thicker across.
//!
//! * gives: the potentials of the functions among themselves, 1/F; point charges that stand for them
//! * needs: a path and a width in metres; how long pieces may be
//! * source: own; the effective radius w/4 of a band is textbook
//! * accuracy: straight runs as good as their pieces: half the length, half the error; a bend of 90° is off by less than
//!   a tenth of a width of run
//! * errors: none
//! * example: see the tests

use super::dense::Factors;
use super::interval;
use super::kernel::Kernel;
use super::nodes::{Nodes, Shares, nodes_for};
use super::overlap::Region;
use super::rules;
use crate::geometry::Point;
use nalgebra::{DMatrix, DVector};
use std::collections::HashMap;
use std::f64::consts::PI;

/// Most profiles across a run.
pub(in crate::electrostatics) const MOST_MODES: usize = 3;

/// What all runs of one width have in common.
#[derive(Debug)]
pub(in crate::electrostatics) struct Profiles {
    width_m: f64,
    /// Offset from the middle and width of each strip across.
    strips: Vec<[f64; 2]>,
    /// Charge on each strip, profile by profile.
    shares: [Vec<f64>; MOST_MODES],
    /// For each pair of profiles, the weights of the Gaussians along the run.
    weights: Vec<[f64; MOST_MODES * MOST_MODES]>,
    per_m2: Vec<f64>,
    /// Means over two pieces by their lengths and distance.
    kept: HashMap<[i64; 3], [f64; MOST_MODES * MOST_MODES]>,
}

impl Profiles {
    /// Of runs of one width, about so long, with so many strips across.
    pub(in crate::electrostatics) fn new(width_m: f64, length_m: f64, strips: usize, kernel: &Kernel) -> Self {
        let (weights, per_m2) = kernel.terms();
        let half = 0.5 * width_m;
        let edge = |k: usize| -half * (PI * k as f64 / strips as f64).cos();
        let strips: Vec<[f64; 2]> = (0..strips).map(|k| [0.5 * (edge(k) + edge(k + 1)), edge(k + 1) - edge(k)]).collect();
        let n = strips.len();
        // Mean of each Gaussian over pairs of strips.
        let means: Vec<DMatrix<f64>> = per_m2
            .iter()
            .map(|g| {
                let mut mean = DMatrix::from_fn(n, n, |i, j| {
                    if i < j { 0.0 } else { interval::between(*g, strips[i][1], strips[j][1], strips[i][0] - strips[j][0]) }
                });
                mean.fill_upper_triangle_with_lower_triangle();
                mean
            })
            .collect();
        // Potentials per charge per length of a run of that length.
        let mut endless = DMatrix::zeros(n, n);
        for ((weight, g), mean) in weights.iter().zip(per_m2).zip(&means) {
            endless += mean * (weight * (PI / g).sqrt().min(length_m));
        }
        let powers: [DVector<f64>; MOST_MODES] =
            std::array::from_fn(|k| DVector::from_iterator(n, strips.iter().map(|s| (s[0] / half).powi(k as i32))));
        let shares = match Factors::new(endless) {
            Some(factors) => powers.map(|p| factors.solve(DMatrix::from_column_slice(n, 1, p.as_slice())).as_slice().to_vec()),
            // Rounding alone can do that; the profile of a band in one dielectric is near enough to any.
            None => powers.map(|p| p.iter().zip(&strips).map(|(p, s)| p / (half * half - s[0] * s[0]).sqrt() * s[1]).collect()),
        };
        let shares = shares.map(|s| {
            let size: f64 = s.iter().map(|x| x.abs()).sum();
            s.into_iter().map(|x| x / size).collect::<Vec<f64>>()
        });
        let columns = shares.each_ref().map(|s| DVector::from_column_slice(s));
        let weights = weights
            .iter()
            .zip(&means)
            .map(|(weight, mean)| {
                let right = columns.each_ref().map(|c| mean * c);
                std::array::from_fn(|ab| weight * columns[ab / MOST_MODES].dot(&right[ab % MOST_MODES]))
            })
            .collect();
        Self { width_m, strips, shares, weights, per_m2: per_m2.to_vec(), kept: HashMap::new() }
    }

    /// Total charge of a profile.
    fn total(&self, mode: usize) -> f64 {
        self.shares[mode].iter().sum()
    }

    /// Mean potential between profiles on two pieces of one straight run.
    fn on_one_leg(&mut self, a: f64, b: f64, apart: f64) -> [f64; MOST_MODES * MOST_MODES] {
        let (weights, per_m2) = (&self.weights, &self.per_m2);
        // Lengths that differ by rounding only are the same.
        let (long, short) = (a.max(b), a.min(b));
        let key = [long, short, apart].map(|x| (x * 1e11).round() as i64);
        *self.kept.entry(key).or_insert_with(|| {
            let mut sum = [0.0; MOST_MODES * MOST_MODES];
            for (weights, g) in weights.iter().zip(per_m2) {
                let mean = interval::between(*g, long, short, apart);
                sum.iter_mut().zip(weights).for_each(|(s, w)| *s += w * mean);
            }
            sum
        })
    }

    /// The profiles as point charges on so many Chebyshev points across: offsets, and shares by profile.
    fn across(&self, count: usize) -> Vec<(f64, [f64; MOST_MODES])> {
        let half = 0.5 * self.width_m;
        let mut points: Vec<(f64, [f64; MOST_MODES])> = rules::chebyshev(count).map(|x| (half * x, [0.0; MOST_MODES])).collect();
        let mut values = vec![0.0; count];
        for (k, strip) in self.strips.iter().enumerate() {
            rules::lagrange(count, strip[0] / half, &mut values);
            for (point, value) in points.iter_mut().zip(&values) {
                for mode in 0..MOST_MODES {
                    point.1[mode] += value * self.shares[mode][k];
                }
            }
        }
        points
    }
}

/// A stretch of a leg.
#[derive(Debug, Clone, Copy)]
struct Piece {
    leg: usize,
    /// Middle, along the whole path, m.
    along_m: f64,
    length_m: f64,
    /// Middle on the cloth.
    middle: Point,
    /// Unit vector along.
    direction: Point,
}

impl Piece {
    fn at(&self, along: f64, across: f64) -> Point {
        let [x, y] = self.direction;
        [self.middle[0] + along * x - across * y, self.middle[1] + along * y + across * x]
    }

    fn ends(&self) -> [Point; 2] {
        [self.at(-0.5 * self.length_m, 0.0), self.at(0.5 * self.length_m, 0.0)]
    }
}

/// A run on the cloth.
#[derive(Debug)]
pub(in crate::electrostatics) struct Run {
    pieces: Vec<Piece>,
    modes: usize,
    own: DMatrix<f64>,
    width_m: f64,
    /// Profiles on 1, 2, ... points across.
    across: Vec<Vec<(f64, [f64; MOST_MODES])>>,
    totals: Vec<f64>,
    strips: Vec<[f64; 2]>,
    shares: [Vec<f64>; MOST_MODES],
}

/// Most points across a piece, along a part of it, and most parts.
const MOST_ACROSS: usize = 8;
const MOST_ALONG: usize = 16;
const MOST_PARTS: f64 = 64.0;

/// Gaussians integrated along two pieces of parallel runs, kept by lengths and distance.
#[derive(Debug, Default)]
pub(in crate::electrostatics) struct Bank {
    kept: HashMap<[i64; 3], usize>,
    values: Vec<f64>,
}

impl Bank {
    fn mean(
        &mut self,
        kernel: &Kernel,
        a: f64,
        b: f64,
        apart: f64,
        weights: &[[f64; MOST_MODES * MOST_MODES]],
    ) -> [f64; MOST_MODES * MOST_MODES] {
        let (_, per_m2) = kernel.terms();
        let (long, short) = (a.max(b), a.min(b));
        let key = [long, short, apart.abs()].map(|x| (x * 1e11).round() as i64);
        let values = &mut self.values;
        let begin = *self.kept.entry(key).or_insert_with(|| {
            values.extend(per_m2.iter().map(|g| interval::between(*g, long, short, apart)));
            values.len() - per_m2.len()
        });
        let mut sum = [0.0; MOST_MODES * MOST_MODES];
        for (weights, value) in weights.iter().zip(&self.values[begin..begin + per_m2.len()]) {
            sum.iter_mut().zip(weights).for_each(|(s, w)| *s += w * value);
        }
        sum
    }
}

impl Run {
    /// Along a path on the cloth, with so many profiles. `most_m` tells how long the piece between two points may be.
    /// Nothing where that takes more than `most_pieces`.
    pub(in crate::electrostatics) fn new(
        path: &[Point],
        modes: usize,
        profiles: &mut Profiles,
        kernel: &Kernel,
        most_m: &dyn Fn([Point; 2]) -> f64,
        precision: f64,
        most_pieces: usize,
    ) -> Option<Self> {
        let mut pieces = Vec::new();
        let mut begun = 0.0;
        for (leg, ends) in path.windows(2).enumerate() {
            let length = (ends[1][0] - ends[0][0]).hypot(ends[1][1] - ends[0][1]);
            let direction = [(ends[1][0] - ends[0][0]) / length, (ends[1][1] - ends[0][1]) / length];
            let at = |s: f64| [ends[0][0] + s * direction[0], ends[0][1] + s * direction[1]];
            let mut open = vec![(0_u32, 0_u32)];
            while let Some((level, part)) = open.pop() {
                let size = length / f64::from(1_u32 << level);
                let from = size * f64::from(part);
                if level < 20 && size > most_m([at(from), at(from + size)]) {
                    open.push((level + 1, 2 * part + 1));
                    open.push((level + 1, 2 * part));
                } else {
                    let middle = from + 0.5 * size;
                    if pieces.len() >= most_pieces {
                        return None;
                    }
                    pieces.push(Piece { leg, along_m: begun + middle, length_m: size, middle: at(middle), direction });
                }
            }
            begun += length;
        }
        let across: Vec<_> = (0..=MOST_ACROSS).map(|count| profiles.across(count.max(1))).collect();
        let totals = (0..pieces.len() * modes).map(|f| profiles.total(f % modes)).collect();
        let mut run = Self {
            own: DMatrix::zeros(pieces.len() * modes, pieces.len() * modes),
            pieces,
            modes,
            width_m: profiles.width_m,
            across,
            totals,
            strips: profiles.strips.clone(),
            shares: profiles.shares.clone(),
        };
        for j in 0..run.pieces.len() {
            for i in j..run.pieces.len() {
                let block = run.between(i, j, profiles, kernel, precision);
                for a in 0..modes {
                    for b in 0..modes {
                        run.own[(i * modes + a, j * modes + b)] = block[a * MOST_MODES + b];
                    }
                }
            }
        }
        Some(run)
    }

    /// Whether a function is one of the last profile's, of several.
    pub(in crate::electrostatics) fn is_highest(&self, function: usize) -> bool {
        self.modes > 1 && function % self.modes == self.modes - 1
    }

    /// Potentials of the functions among themselves, 1/F; the lower triangle.
    pub(in crate::electrostatics) fn own(&self) -> &DMatrix<f64> {
        &self.own
    }

    /// Total charge of each function.
    pub(in crate::electrostatics) fn totals(&self) -> &[f64] {
        &self.totals
    }

    fn between(&self, i: usize, j: usize, profiles: &mut Profiles, kernel: &Kernel, precision: f64) -> [f64; MOST_MODES * MOST_MODES] {
        let (p, q) = (&self.pieces[i], &self.pieces[j]);
        let way = (p.along_m - q.along_m).abs();
        let gap = way - 0.5 * (p.length_m + q.length_m);
        let straight = p.leg == q.leg;
        if straight && gap < 0.5 * p.length_m.max(q.length_m).max(self.width_m) {
            return profiles.on_one_leg(p.length_m, q.length_m, way);
        }
        let thick = self.width_m * self.width_m / 16.0;
        let square = |a: Point, b: Point| (a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2);
        if !straight && gap < 2.0 * self.width_m {
            let mut block = profiles.on_one_leg(p.length_m, q.length_m, way);
            let total = profiles.total(0) * profiles.total(0);
            let round = thick * (1.0 + BEND_ROUND * half_tangent(p.direction, q.direction));
            let direct = p.along_m - q.along_m;
            let rule = rules::legendre(6);
            for [x, v] in rule {
                for [y, w] in rule {
                    let (s, t) = (0.5 * x * p.length_m, 0.5 * y * q.length_m);
                    let along = (direct + s - t).powi(2);
                    block[0] += 0.25 * v * w * total * (kernel.at(square(p.at(s, 0.0), q.at(t, 0.0)) + round) - kernel.at(along + thick));
                }
            }
            return block;
        }
        let clear = if straight { gap } else { line_distance(p.ends(), q.ends()) - self.width_m };
        let mut block = [0.0; MOST_MODES * MOST_MODES];
        if clear < 0.5 * self.width_m {
            // A run that comes back upon itself: lines as thick as the mean distance within a band.
            let rule = rules::legendre(8);
            for [x, v] in rule {
                for [y, w] in rule {
                    let squared = square(p.at(0.5 * x * p.length_m, 0.0), q.at(0.5 * y * q.length_m, 0.0));
                    block[0] += 0.25 * v * w * kernel.at(squared + thick);
                }
            }
            block[0] *= profiles.total(0) * profiles.total(0);
            return block;
        }
        let (from_p, from_q) = (self.points(p, clear, 0.0, precision), self.points(q, clear, 0.0, precision));
        for (a, shares_a) in &from_p {
            for (b, shares_b) in &from_q {
                let g = kernel.at(square(*a, *b));
                for m in 0..self.modes {
                    for n in 0..self.modes {
                        block[m * MOST_MODES + n] += shares_a[m] * shares_b[n] * g;
                    }
                }
            }
        }
        block
    }

    /// Point charges for a piece of unit amounts, seen from so far: nothing lies nearer than `clear_m`, in its plane or
    /// `over_m` above or below.
    fn points(&self, piece: &Piece, clear_m: f64, over_m: f64, precision: f64) -> Vec<(Point, [f64; MOST_MODES])> {
        // What runs alongside is as near to the middle of a piece as to its ends. Gauss's rule is exact up to twice the
        // degree.
        let away = clear_m.hypot(over_m);
        let half = 0.5 * piece.length_m;
        let parts = (0.5 * half / away).ceil().clamp(1.0, MOST_PARTS);
        let along = nodes_for(half / parts, 0.0, away, precision.sqrt()).min(MOST_ALONG);
        let across = nodes_for(0.5 * self.width_m, clear_m, over_m, precision).max(self.modes).min(MOST_ACROSS);
        let mut points = Vec::with_capacity(parts as usize * along * across);
        for part in 0..parts as usize {
            let middle = (2.0 * part as f64 + 1.0) / parts - 1.0;
            for [x, weight] in rules::legendre(along) {
                for (y, shares) in &self.across[across] {
                    points.push((piece.at((middle + x / parts) * half, *y), shares.map(|s| 0.5 * weight / parts * s)));
                }
            }
        }
        points
    }

    /// Mean potentials between the functions of this run and those of another, 1/F.
    pub(in crate::electrostatics) fn with(
        &self,
        other: &Self,
        kernel: &Kernel,
        over_m: f64,
        precision: f64,
        bank: &mut Bank,
    ) -> DMatrix<f64> {
        let mut block = DMatrix::zeros(self.totals.len(), other.totals.len());
        let mut alongside: HashMap<[usize; 2], Vec<[f64; MOST_MODES * MOST_MODES]>> = HashMap::new();
        let (mut mine, mut theirs) = (Seen::new(self, over_m, precision), Seen::new(other, over_m, precision));
        let halves = 0.5 * (self.width_m + other.width_m);
        for (i, p) in self.pieces.iter().enumerate() {
            for (j, q) in other.pieces.iter().enumerate() {
                let apart = [q.middle[0] - p.middle[0], q.middle[1] - p.middle[1]];
                let rough = (apart[0] * apart[0] + apart[1] * apart[1]).sqrt() - 0.5 * (p.length_m + q.length_m) - halves;
                let longest = p.length_m.max(q.length_m);
                let clear = if rough > longest { rough } else { (line_distance(p.ends(), q.ends()) - halves).max(0.05 * halves) };
                let [x, y] = p.direction;
                let sine = x * q.direction[1] - y * q.direction[0];
                let mean = if clear < longest && clear.hypot(over_m) < longest && sine.abs() < 1e-9 {
                    let weights = alongside.entry([p.leg, q.leg]).or_insert_with(|| {
                        let offset = x * apart[1] - y * apart[0];
                        let same_way = x * q.direction[0] + y * q.direction[1] > 0.0;
                        self.across_weights(other, kernel, offset, if same_way { 1.0 } else { -1.0 }, (clear, over_m), precision)
                    });
                    bank.mean(kernel, p.length_m, q.length_m, x * apart[0] + y * apart[1], weights)
                } else {
                    let (from_p, from_q) = (mine.points(i, clear), theirs.points(j, clear));
                    let mut mean = [0.0; MOST_MODES * MOST_MODES];
                    for (a, shares_a) in from_p {
                        let mut at = [0.0; MOST_MODES];
                        for (b, shares_b) in from_q {
                            let (x, y) = (a[0] - b[0], a[1] - b[1]);
                            let g = kernel.at(x * x + y * y);
                            at.iter_mut().zip(shares_b).for_each(|(at, share)| *at += share * g);
                        }
                        for m in 0..self.modes {
                            for n in 0..other.modes {
                                mean[m * MOST_MODES + n] += shares_a[m] * at[n];
                            }
                        }
                    }
                    mean
                };
                for m in 0..self.modes {
                    for n in 0..other.modes {
                        block[(i * self.modes + m, j * other.modes + n)] = mean[m * MOST_MODES + n];
                    }
                }
            }
        }
        block
    }

    /// Weights of the Gaussians along two parallel legs, their middles `offset_m` apart.
    fn across_weights(
        &self,
        other: &Self,
        kernel: &Kernel,
        offset_m: f64,
        sense: f64,
        (clear_m, over_m): (f64, f64),
        precision: f64,
    ) -> Vec<[f64; MOST_MODES * MOST_MODES]> {
        let clear = (offset_m.abs() - 0.5 * (self.width_m + other.width_m)).max(clear_m.min(offset_m.abs()));
        let count = |run: &Self| nodes_for(0.5 * run.width_m, clear, over_m, precision).max(run.modes + 1).min(MOST_ACROSS);
        let (mine, theirs) = (&self.across[count(self)], &other.across[count(other)]);
        let (weights, per_m2) = kernel.terms();
        let weigh = |(weight, g): (&f64, &f64)| {
            let mut sum = [0.0; MOST_MODES * MOST_MODES];
            for (y, shares) in mine {
                for (z, others) in theirs {
                    let gaussian = weight * (-g * (offset_m + sense * z - y).powi(2)).exp();
                    for m in 0..self.modes {
                        for n in 0..other.modes {
                            sum[m * MOST_MODES + n] += gaussian * shares[m] * others[n];
                        }
                    }
                }
            }
            sum
        };
        weights.iter().zip(per_m2).map(weigh).collect()
    }

    /// Points that stand for the charge as a region sees it, `over_m` above or below.
    pub(in crate::electrostatics) fn nodes(&self, region: &Region, over_m: f64, precision: f64) -> Nodes {
        let (mut points, mut entries, mut ends) = (Vec::new(), Vec::new(), Vec::new());
        for (i, piece) in self.pieces.iter().enumerate() {
            let line = piece.ends();
            let rough = region.line_at_least_m(line) - 0.5 * self.width_m;
            let clear = if rough > 2.0 * piece.length_m { rough } else { region.distance_of_line_m(line) - 0.5 * self.width_m };
            // Nearer than a tenth of the width finer points no longer help.
            let clear = clear.max(if over_m > 0.1 * self.width_m { 0.0 } else { 0.1 * self.width_m });
            for (point, shares) in self.points(piece, clear, over_m, precision) {
                points.push(point);
                entries.extend((0..self.modes).map(|m| (i * self.modes + m, shares[m])));
                ends.push(entries.len());
            }
        }
        Nodes { points, shares: Shares::Sparse { functions: self.totals.len(), entries, ends } }
    }

    /// Charge density at a point on the cloth, C/m², by the charges of the functions. In a mitre it is that of the leg's
    /// end.
    pub(in crate::electrostatics) fn density(&self, p: Point, charges: &[f64]) -> f64 {
        let mut nearest = (0.5 * self.width_m, 0.0);
        for (i, piece) in self.pieces.iter().enumerate() {
            let v = [p[0] - piece.middle[0], p[1] - piece.middle[1]];
            let [x, y] = piece.direction;
            let (along, across) = (v[0] * x + v[1] * y, v[1] * x - v[0] * y);
            let beyond = along.abs() - 0.5 * piece.length_m;
            if beyond >= nearest.0 {
                continue;
            }
            if let Some((k, strip)) = self.strips.iter().enumerate().find(|(_, s)| (across - s[0]).abs() <= 0.5 * s[1] * (1.0 + 1e-9)) {
                let amounts = &charges[i * self.modes..(i + 1) * self.modes];
                let charge: f64 = amounts.iter().zip(&self.shares).map(|(amount, shares)| amount * shares[k]).sum();
                nearest = (beyond, charge / (piece.length_m * strip[1]));
            }
        }
        nearest.1
    }
}

/// The pieces of a run as point charges, kept by how far away they are seen from.
struct Seen<'a> {
    run: &'a Run,
    over_m: f64,
    precision: f64,
    kept: Vec<[Option<Points>; CLASSES]>,
}

type Points = Vec<(Point, [f64; MOST_MODES])>;

/// Classes of distances: each twice as near as the one before, from some lengths of the piece on.
const CLASSES: usize = 16;
const FARTHEST: i32 = -4;

impl<'a> Seen<'a> {
    fn new(run: &'a Run, over_m: f64, precision: f64) -> Self {
        Self { run, over_m, precision, kept: (0..run.pieces.len()).map(|_| [const { None }; CLASSES]).collect() }
    }

    fn points(&mut self, i: usize, clear_m: f64) -> &Points {
        let piece = &self.run.pieces[i];
        let size = piece.length_m.max(self.run.width_m);
        // The binary exponent of the ratio, rounded up.
        let class = (((size / clear_m).to_bits() >> 52) as i32 - 1022 - FARTHEST).clamp(0, CLASSES as i32 - 1);
        let (run, over_m, precision) = (self.run, self.over_m, self.precision);
        self.kept[i][class as usize].get_or_insert_with(|| {
            let least = size * f64::from(-(class + FARTHEST)).exp2();
            run.points(piece, if class + 1 == CLASSES as i32 { least.min(clear_m) } else { least }, over_m, precision)
        })
    }
}

/// By how much thicker lines have to be round a bend, over the tangent of half its angle: its outer corner holds more than
/// two legs that end square on the middle. Found on bends of 30° to 90° drawn as polygons, over four stacks.
const BEND_ROUND: f64 = 2.5;

/// What that leaves, in widths of run, over the tangent of half the angle.
pub(in crate::electrostatics) const BEND_LEFT: f64 = 0.1;

/// Tangent of half the angle between two directions; that of 120° for sharper turns.
pub(in crate::electrostatics) fn half_tangent(u: Point, v: Point) -> f64 {
    let turn = (u[0] * v[1] - u[1] * v[0]).abs().atan2(u[0] * v[0] + u[1] * v[1]);
    (0.5 * turn).tan().min(3.0_f64.sqrt())
}

/// Distance between two lines, 0 where they cross.
fn line_distance(a: [Point; 2], b: [Point; 2]) -> f64 {
    crate::geometry::distance(&a, &b)
}
