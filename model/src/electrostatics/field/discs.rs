//! Any number of discs on the stitched plane and on top of the overlay, at any places.
//!
//! Galerkin's method. The charge of a disc of radius a is a sum over azimuthal orders m and radial ones n of functions whose
//! Hankel transform is the spherical Bessel function `j_(m+2n)(ka)`; they carry the square root at the rim. In a world of
//! one dielectric those of one disc are orthogonal; the layers' shortfall couples those of one m, other discs couple all
//! (see [`super::pairs`]). How many are taken follows from where the charge turns: at the disc's own rim within the
//! distance of the next boundary of layers, and where another disc's rim faces it.
//!
//! * gives: Maxwell's coefficients in farad to ground, or to infinity without ground, each with a bound; charge densities
//! * needs: radii 1e-5 to 1 m; discs of one plane apart; relative tolerance 1e-9 to 0.1 (held within these)
//! * assumes: thin, perfectly conducting discs; flat endless layers
//! * source: I. N. Sneddon, Mixed Boundary Value Problems in Potential Theory (1966) for the functions; layers, pairs and
//!   bounds own; density from the integral of Weber and Schafheitlin (Abramowitz & Stegun 11.4.33)
//! * accuracy: within the bounds returned; where [`MOST_FUNCTIONS`] do not reach the tolerance, as with discs that all but
//!   touch or very thin overlays, the bounds say so
//! * errors: [`FieldFault::Overlap`] of discs on one plane, [`FieldFault::Contact`] where nothing lies between the planes or
//!   under a disc
//! * example: two discs of 24 mm, 40 mm from centre to centre, on 3 mm of felt (1.4) over ground: 2.99 pF and -0.02 pF

use super::super::EPS0;
use super::FieldFault;
use super::functions::{Function, Shortage, Size, cap, starts};
use super::ladder::{Group, Ladder, factor};
use super::layers::{Layers, Planes};
use super::pairs::Pair;
use super::round::grounded;
use super::segments::ellipse;
use super::wavenumbers::{Span, end_per_m};
use super::{bessel, pairs::Integrals};
use crate::geometry::Point;
use nalgebra::{Complex, DMatrix, DVector};
use std::f64::consts::{FRAC_2_PI, PI, SQRT_2};

/// Most functions in one solution.
pub const MOST_FUNCTIONS: usize = 1000;

/// A disc somewhere on the cloth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Disc {
    /// Its centre, m.
    pub centre_m: Point,
    /// Its radius, m.
    pub radius_m: f64,
    /// On top of the overlay instead of on the stitched plane.
    pub on_top: bool,
}

/// Maxwell's coefficients of a set of discs.
#[derive(Debug, Clone, PartialEq)]
pub struct DiscMatrix {
    count: usize,
    capacitances_f: Vec<f64>,
    relative_errors: Vec<f64>,
}

impl DiscMatrix {
    /// How many discs.
    pub fn count(&self) -> usize {
        self.count
    }

    /// Charge of disc `i` at 1 V on disc `j`, all others at 0 V, F. Symmetric; negative off the diagonal.
    pub fn capacitance_f(&self, i: usize, j: usize) -> f64 {
        self.capacitances_f[i * self.count + j]
    }

    /// Bound of its relative error.
    pub fn relative_error(&self, i: usize, j: usize) -> f64 {
        self.relative_errors[i * self.count + j]
    }
}

/// Discs, solved.
#[derive(Debug, Clone)]
pub struct Discs {
    matrix: DiscMatrix,
    discs: Vec<Disc>,
    sets: Vec<Vec<Function>>,
    axis: f64,
    /// Density of each function at 1 V on each disc, F/m^1.5.
    charges: Vec<Vec<f64>>,
}

impl Discs {
    /// Solves for all of them together.
    pub fn solve(layers: &Layers, discs: &[Disc], relative_tolerance: f64) -> Result<Self, FieldFault> {
        let scene = Scene::new(layers, discs, relative_tolerance)?;
        let mut sizes = scene.sizes();
        for round in 0.. {
            cap(&mut sizes, scene.lopsided);
            let sets: Vec<Vec<Function>> = sizes.iter().map(|size| size.functions(scene.lopsided)).collect();
            let whole = scene.matrix(&sets);
            let solution = Solution::new(&scene, &sizes, &sets, &whole)?;
            if round < MOST_ROUNDS && solution.shortage.grow(&mut sizes, scene.lopsided) {
                continue;
            }
            let start: Vec<usize> = starts(&sets);
            let charges = (0..discs.len()).map(|j| {
                let scale = |p: usize| EPS0 * (scene.adjacent(p) * scene.adjacent(j)).sqrt();
                (0..discs.len()).flat_map(|p| solution.x[j][start[p]..start[p + 1]].iter().map(move |x| x * scale(p))).collect()
            });
            return Ok(Self { charges: charges.collect(), matrix: solution.matrix, discs: discs.to_vec(), sets, axis: scene.axis });
        }
        unreachable!("the last round returns")
    }

    /// Maxwell's coefficients, discs in the order given.
    pub fn matrix(&self) -> &DiscMatrix {
        &self.matrix
    }

    /// Charge density on disc `disc` at a point of the cloth, C/m2, for these potentials of all discs; 0 at its rim and
    /// beyond.
    pub fn density(&self, potentials_v: &[f64], disc: usize, at_m: Point) -> f64 {
        let (start, d) = (starts(&self.sets), &self.discs[disc]);
        let (x, y) = (at_m[0] - d.centre_m[0], at_m[1] - d.centre_m[1]);
        let (ratio, angle) = (x.hypot(y) / d.radius_m, y.atan2(x) - self.axis);
        if ratio >= 1.0 {
            return 0.0;
        }
        let value = |i: usize, function: &Function| -> f64 {
            let c: f64 = potentials_v.iter().zip(&self.charges).map(|(v, charges)| v * charges[i]).sum();
            c * function.density(d.radius_m, ratio, angle)
        };
        self.sets[disc].iter().enumerate().map(|(i, function)| value(start[disc] + i, function)).sum()
    }
}

/// Pads that a finger touches in turn: their own matrix is worked out once.
#[derive(Debug, Clone)]
pub struct PadsUnderTouch<'a> {
    layers: &'a Layers,
    pads: Vec<Disc>,
    tolerance: f64,
    axis: f64,
    sizes: Vec<Size>,
    sets: Vec<Vec<Function>>,
    ladder: Ladder,
    lower: DMatrix<f64>,
    /// The ladder's solutions of the lower triangle alone, one per pad.
    y: Vec<DVector<f64>>,
    /// The whole solutions, in the ladder's order.
    x: Vec<DVector<f64>>,
    matrix: DiscMatrix,
}

/// Pads with a finger over them.
#[derive(Debug, Clone, PartialEq)]
pub struct TouchedDiscs {
    /// Coefficients of the pads in their order, and of the finger as the last.
    pub matrix: DiscMatrix,
    /// By how much each coefficient of the pads among each other changed, without the cancellation of a difference, F.
    pub change: DiscMatrix,
}

impl<'a> PadsUnderTouch<'a> {
    /// Works out the pads' own matrix.
    pub fn new(layers: &'a Layers, pads: &[Disc], relative_tolerance: f64) -> Result<Self, FieldFault> {
        let scene = Scene::new(layers, pads, relative_tolerance)?;
        let mut sizes = scene.sizes();
        for round in 0.. {
            cap(&mut sizes, scene.lopsided);
            let sets: Vec<Vec<Function>> = sizes.iter().map(|size| size.functions(scene.lopsided)).collect();
            let whole = scene.matrix(&sets);
            let solution = Solution::new(&scene, &sizes, &sets, &whole)?;
            if round < MOST_ROUNDS && solution.shortage.grow(&mut sizes, scene.lopsided) {
                continue;
            }
            let Solution { ladder, lower, y, x, matrix, .. } = solution;
            let x = x.iter().map(|x| DVector::from_fn(x.len(), |i, _| x[ladder.order[i]])).collect();
            return Ok(Self {
                layers,
                pads: pads.to_vec(),
                tolerance: scene.tolerance,
                axis: scene.axis,
                sizes,
                sets,
                ladder,
                lower,
                y,
                x,
                matrix,
            });
        }
        unreachable!("the last round returns")
    }

    /// The pads without finger.
    pub fn alone(&self) -> &DiscMatrix {
        &self.matrix
    }

    /// The pads with a finger.
    pub fn with_finger(&self, finger: Disc) -> Result<TouchedDiscs, FieldFault> {
        let mut discs = self.pads.clone();
        discs.push(finger);
        let mut scene = Scene::new(self.layers, &discs, self.tolerance)?;
        // What is known keeps its azimuths, unless it has none.
        if self.sets.iter().flatten().any(|f| f.m > 0) {
            scene = scene.turned(self.axis);
        }
        let mut sizes = scene.sizes();
        for (size, known) in sizes.iter_mut().zip(&self.sizes) {
            size.azimuthal = size.azimuthal.max(known.azimuthal);
            size.radial = size.radial.max(known.radial);
        }
        for round in 0.. {
            cap(&mut sizes, scene.lopsided);
            let (touched, shortage) = self.with_functions(&scene, &sizes)?;
            if round < MOST_ROUNDS && shortage.grow(&mut sizes, scene.lopsided) {
                continue;
            }
            return Ok(touched);
        }
        unreachable!("the last round returns")
    }

    /// The pads' functions stay; what the finger calls for is added to them, and the finger's own, as a Schur complement.
    fn with_functions(&self, scene: &Scene<'_>, sizes: &[Size]) -> Result<(TouchedDiscs, Shortage), FieldFault> {
        let pads = self.pads.len();
        let extra: Vec<Vec<Function>> = (0..=pads)
            .map(|p| {
                let known: &[Function] = if p < pads { &self.sets[p] } else { &[] };
                sizes[p].functions(scene.lopsided).into_iter().filter(|f| !known.contains(f)).collect()
            })
            .collect();
        let all: Vec<Vec<Function>> =
            (0..=pads).map(|p| if p < pads { [&self.sets[p][..], &extra[p][..]].concat() } else { extra[p].clone() }).collect();
        // Where function i of disc p stands: pads' known functions first, then what is added.
        let (base_start, extra_start) = (starts(&self.sets), starts(&extra));
        let base = base_start[pads];
        let known = |p: usize| if p < pads { self.sets[p].len() } else { 0 };
        let place = |p: usize, i: usize| if i < known(p) { base_start[p] + i } else { base + extra_start[p] + i - known(p) };
        let added = extra_start[pads + 1];
        let mut coupled = DMatrix::zeros(base, added);
        let mut own = DMatrix::zeros(added, added);
        let mut kept = Kept::default();
        for p in 0..=pads {
            for q in p..=pads {
                if extra[p].is_empty() && extra[q].is_empty() {
                    continue;
                }
                let block = scene.block(&mut kept, p, &all[p], q, &all[q]);
                for i in 0..all[p].len() {
                    for j in 0..all[q].len() {
                        let (a, b) = (place(p, i), place(q, j));
                        match (a < base, b < base) {
                            (true, true) => {}
                            (true, false) => coupled[(a, b - base)] = block[(i, j)],
                            (false, true) => coupled[(b, a - base)] = block[(i, j)],
                            (false, false) => {
                                own[(a - base, b - base)] = block[(i, j)];
                                own[(b - base, a - base)] = block[(i, j)];
                            }
                        }
                    }
                }
            }
        }
        let mut eliminated = DMatrix::from_fn(base, added, |i, j| coupled[(self.ladder.order[i], j)]);
        self.lower.solve_lower_triangular_mut(&mut eliminated);
        own.gemm(-1.0, &eliminated.transpose(), &eliminated, 1.0);
        let finger_charge = scene.charge(pads);
        let right: Vec<DVector<f64>> = (0..=pads)
            .map(|i| {
                if i < pads {
                    -eliminated.tr_mul(&self.y[i])
                } else {
                    let mut right = DVector::zeros(added);
                    right[extra_start[pads]] = finger_charge;
                    right
                }
            })
            .collect();

        // First the functions added to the pads, then the finger's: what the finger alone changes is a sum of its own.
        let lower = factor(own.clone())?;
        let y: Vec<DVector<f64>> = right
            .iter()
            .map(|r| {
                let mut y = r.clone();
                lower.solve_lower_triangular_mut(&mut y);
                y
            })
            .collect();
        let finger = extra_start[pads];
        let dot = |a: &DVector<f64>, b: &DVector<f64>, from: usize| -> f64 { (from..added).map(|i| a[i] * b[i]).sum() };
        let value = |i: usize, j: usize| dot(&y[i], &y[j], 0) + if i < pads && j < pads { self.y[i].dot(&self.y[j]) } else { 0.0 };

        // Then coarse functions first, for the bounds.
        let group = |p: usize| Group { steps: extra[p].iter().map(|f| sizes[p].steps(f)).collect(), decay: sizes[p].decay() };
        let mut carries = vec![0.0; added];
        carries[finger] = finger_charge;
        let ladder = Ladder::new((0..=pads).map(group).collect(), &carries, MARGIN);
        let lower = ladder.factor(&own)?;
        let solved: Vec<(DVector<f64>, Vec<f64>)> = right.iter().map(|r| ladder.substitute(&lower, r.as_slice())).collect();
        // The pads' known functions under the finger, in their ladder's order.
        let below: Vec<DVector<f64>> = (0..=pads)
            .map(|i| {
                let mut x = -&eliminated * DVector::from_column_slice(&solved[i].1);
                if i < pads {
                    x += &self.y[i];
                }
                self.lower.tr_solve_lower_triangular_mut(&mut x);
                x
            })
            .collect();
        // Size of the whole solution, for what errors of the integrals do.
        let size: Vec<f64> =
            (0..=pads).map(|i| (below[i].norm_squared() + solved[i].1.iter().map(|x| x * x).sum::<f64>()).sqrt()).collect();
        // What a known function adds is at most the square of its coefficient, for no element on the diagonal is over one.
        let known_steps: Vec<(usize, usize)> = self
            .ladder
            .order
            .iter()
            .map(|f| {
                let pad = (0..pads).rfind(|p| base_start[*p] <= *f).unwrap_or(0);
                let carries = *f == base_start[pad];
                (pad, if carries { usize::MAX } else { sizes[pad].steps(&self.sets[pad][f - base_start[pad]]) })
            })
            .collect();
        let with_known = |mut gains: Vec<[f64; 3]>, energy: &dyn Fn(usize) -> f64| {
            for (f, (pad, step)) in known_steps.iter().enumerate().filter(|(_, (_, step))| *step < 3) {
                gains[*pad][*step] += energy(f);
            }
            gains
        };
        let gains_of = |i: usize, j: usize| {
            let gains = ladder.gains(|f| (solved[i].0[f] * solved[j].0[f]).abs());
            with_known(gains, &|f| (below[i][f] * below[j][f]).abs())
        };
        let missing_of = |i: usize, j: usize| ladder.beyond(&gains_of(i, j));
        let noise = |i: usize, j: usize| scene.noise() * size[i] * size[j];
        let count = pads + 1;
        let matrix = DiscMatrix::from_fn(count, |i, j| {
            let missing = missing_of(i, j).min((missing_of(i, i) * missing_of(j, j)).sqrt());
            (scene.unit(i, j) * value(i, j), scene.bound(missing, noise(i, j), value(i, j)))
        });
        let change = DiscMatrix::from_fn(pads, |i, j| {
            let value = dot(&y[i], &y[j], finger);
            let other = |f: usize| (below[i][f] - self.x[i][f]) * (below[j][f] + self.x[j][f]);
            let gains = ladder.gains(|f| (solved[i].0[f] * solved[j].0[f]).abs());
            // Twice, for what is missing of either solution.
            let missing = 2.0 * ladder.beyond(&with_known(gains, &|f| other(f).abs()));
            // Errors of the elements count by the difference of the two solutions, which is of the order of its root.
            let noise = noise(i, j) * (value.abs() / (value.abs() + self.y[i].norm() * self.y[j].norm())).sqrt();
            (scene.unit(i, j) * value, scene.bound(missing, noise, value))
        });
        let mut shortage = Shortage::new(count, scene.tolerance);
        (0..count).for_each(|i| shortage.add(&ladder, &gains_of(i, i), value(i, i)));
        for (position, f) in ladder.last() {
            let disc = (0..count).rfind(|p| extra_start[*p] <= f).unwrap_or(0);
            let gain = (0..count).map(|i| solved[i].0[position].powi(2) / value(i, i)).sum();
            shortage.by_direction(disc, &sizes[disc], &extra[disc][f - extra_start[disc]], gain);
        }
        for (position, f) in self.ladder.order.iter().enumerate().filter(|(position, _)| known_steps[*position].1 == 0) {
            let disc = known_steps[position].0;
            let gain = (0..count).map(|i| below[i][position].powi(2) / value(i, i)).sum();
            shortage.by_direction(disc, &sizes[disc], &self.sets[disc][f - base_start[disc]], gain);
        }
        Ok((TouchedDiscs { matrix, change }, shortage))
    }
}

/// What the bounds are raised by: with 0.7 they held in 98 % of some thousand random values.
const MARGIN: f64 = 1.0;

/// How often more functions may be taken.
const MOST_ROUNDS: usize = 3;

impl DiscMatrix {
    /// From value and bound of each pair `i <= j`.
    fn from_fn(count: usize, pair: impl Fn(usize, usize) -> (f64, f64)) -> Self {
        let (mut capacitances_f, mut relative_errors) = (vec![0.0; count * count], vec![0.0; count * count]);
        for i in 0..count {
            for j in i..count {
                let (value, error) = pair(i, j);
                for at in [i * count + j, j * count + i] {
                    capacitances_f[at] = value;
                    relative_errors[at] = error;
                }
            }
        }
        Self { count, capacitances_f, relative_errors }
    }
}

/// Discs among layers.
struct Scene<'a> {
    layers: &'a Layers,
    discs: Vec<Disc>,
    tolerance: f64,
    /// Direction from which azimuths count.
    axis: f64,
    /// Whether not all centres lie on one line, so that sines are needed.
    lopsided: bool,
}

impl<'a> Scene<'a> {
    fn new(layers: &'a Layers, discs: &[Disc], relative_tolerance: f64) -> Result<Self, FieldFault> {
        let one_plane = layers.overlay_m() <= 0.0;
        for (first, a) in discs.iter().enumerate() {
            if grounded(layers, a.on_top) {
                return Err(FieldFault::Contact);
            }
            for (second, b) in discs.iter().enumerate().skip(first + 1) {
                let meet = distance(a, b) <= a.radius_m + b.radius_m;
                if meet && a.on_top == b.on_top {
                    return Err(FieldFault::Overlap { first, second });
                }
                if meet && one_plane {
                    return Err(FieldFault::Contact);
                }
            }
        }
        // The line through the first and the one farthest from it.
        let far = discs.iter().max_by(|a, b| distance(&discs[0], a).total_cmp(&distance(&discs[0], b)));
        let axis = far.map_or(0.0, |far| direction(&discs[0], far));
        let tolerance = relative_tolerance.clamp(1e-9, 0.1);
        Ok(Self { layers, discs: discs.to_vec(), tolerance, axis: 0.0, lopsided: false }.turned(axis))
    }

    /// With azimuths counted from another direction.
    fn turned(mut self, axis: f64) -> Self {
        self.axis = axis;
        self.lopsided = self.discs.iter().any(|d| {
            let (x, y) = (d.centre_m[0] - self.discs[0].centre_m[0], d.centre_m[1] - self.discs[0].centre_m[1]);
            (y * axis.cos() - x * axis.sin()).abs() > 1e-9 * d.radius_m
        });
        self
    }

    fn planes(&self, p: usize, q: usize) -> Planes {
        let one_plane = self.layers.overlay_m() <= 0.0;
        match (self.discs[p].on_top && !one_plane, self.discs[q].on_top && !one_plane) {
            (false, false) => Planes::Stitched,
            (true, true) => Planes::Top,
            _ => Planes::Across,
        }
    }

    fn adjacent(&self, p: usize) -> f64 {
        self.layers.adjacent(self.planes(p, p))
    }

    /// The first function of a disc at k = 0.
    fn charge(&self, p: usize) -> f64 {
        (FRAC_2_PI * self.discs[p].radius_m).sqrt()
    }

    /// The relative bound of a product of solutions. Far below the tolerance that the sizes were set for, what the last steps
    /// added says little, and is not relied on.
    fn bound(&self, missing: f64, noise: f64, value: f64) -> f64 {
        let value = value.abs();
        // A product may be too small for a relative bound; it stays a number all the same.
        ((missing.max(0.01 * self.tolerance * value) + noise) / value.max(f64::MIN_POSITIVE)).min(1e6)
    }

    /// What turns a product of solutions into farad.
    fn unit(&self, i: usize, j: usize) -> f64 {
        2.0 * PI * EPS0 * (self.adjacent(i) * self.adjacent(j)).sqrt()
    }

    fn precision(&self) -> f64 {
        1e-4 * self.tolerance
    }

    /// What the integrals' errors do at most to a product of solutions of size one: they were found up to five times the
    /// precision asked for.
    fn noise(&self) -> f64 {
        (10.0 * self.precision()).max(1e-14)
    }

    /// Sizes by the places where charges turn. A rim that faces a disc at a distance w across the planes, or at w = 0 in its
    /// own, makes its charge turn where `|r - R| = b + iw`: that equation's complex solutions in the azimuth for a real
    /// radius, and in the radius for a real azimuth, give the rates.
    fn sizes(&self) -> Vec<Size> {
        let design = (100.0 * self.tolerance).min(0.03);
        let overlay = self.layers.overlay_m();
        let size = |p: usize| {
            let a = self.discs[p].radius_m;
            let mut rim = 2.0 * self.layers.nearest_m(self.planes(p, p));
            let (mut radial, mut azimuthal) = (f64::INFINITY, f64::INFINITY);
            for q in (0..self.discs.len()).filter(|q| *q != p) {
                let (far, b) = (distance(&self.discs[p], &self.discs[q]), self.discs[q].radius_m);
                let across = self.planes(p, q) == Planes::Across;
                if across && (far - a).abs() < b {
                    rim = rim.min(2.0 * overlay);
                }
                let edge = Complex::new(b, if across { overlay } else { 0.0 });
                for sample in 0..=8 {
                    let share = f64::from(sample) / 8.0;
                    let (sin, cos) = (PI * share).sin_cos();
                    let root = (edge * edge - (far * sin).powi(2)).sqrt();
                    for radius in [root + far * cos, root - far * cos] {
                        radial = radial.min(ellipse(radius / a).ln());
                    }
                    let radius = a * share.max(0.05);
                    if far > 1e-9 * a {
                        let cosine = (Complex::from(radius * radius + far * far) - edge * edge) / (2.0 * radius * far);
                        azimuthal = azimuthal.min(ellipse(cosine).ln());
                    }
                }
            }
            if rim.is_finite() {
                radial = radial.min(ellipse(Complex::new(1.0, rim / a)).ln());
            }
            let (radial_decay, azimuthal_decay) = ((-4.0 * radial).exp(), (-2.0 * azimuthal).exp());
            let count = |decay: f64| if decay > 0.0 { 1 + (design.ln() / decay.ln()).ceil().min(200.0) as usize } else { 1 };
            let radial = if radial_decay > 0.0 { count(radial_decay).max(3) } else { 1 };
            Size { azimuthal: count(azimuthal_decay), radial, azimuthal_decay, radial_decay }
        };
        (0..self.discs.len()).map(size).collect()
    }

    /// The whole matrix.
    fn matrix(&self, sets: &[Vec<Function>]) -> DMatrix<f64> {
        let start = starts(sets);
        let n = start[sets.len()];
        let mut kept = Kept::default();
        let mut matrix = DMatrix::zeros(n, n);
        for p in 0..sets.len() {
            for q in p..sets.len() {
                let block = self.block(&mut kept, p, &sets[p], q, &sets[q]);
                matrix.view_mut((start[p], start[q]), block.shape()).copy_from(&block);
                if p != q {
                    matrix.view_mut((start[q], start[p]), (block.ncols(), block.nrows())).copy_from(&block.transpose());
                }
            }
        }
        matrix
    }

    /// Elements between functions of two discs, or of one with itself.
    fn block(&self, kept: &mut Kept, p: usize, left: &[Function], q: usize, right: &[Function]) -> DMatrix<f64> {
        let count = |set: &[Function]| set.iter().map(|f| f.l() + 1).max().unwrap_or(1);
        let most = |set: &[Function]| set.iter().map(|f| f.m).max().unwrap_or(0);
        if p == q {
            let shortfall = kept.shortfall(self, p, count(left).max(count(right)));
            return DMatrix::from_fn(left.len(), right.len(), |i, j| {
                let (f, g) = (&left[i], &right[j]);
                if f.m != g.m || f.sine != g.sine {
                    return 0.0;
                }
                let one = if f.n == g.n { 1.0 } else { 0.0 };
                one - shortfall.map_or(0.0, |s| s[(f.l(), g.l())])
            });
        }
        let pair = Pair {
            planes: self.planes(p, q),
            radii_m: [self.discs[p].radius_m, self.discs[q].radius_m],
            distance_m: distance(&self.discs[p], &self.discs[q]),
            counts: [count(left), count(right)],
            orders: most(left) + most(right) + 1,
            precision: self.precision(),
        };
        let integrals = kept.integrals(self.layers, pair);
        let angle = direction(&self.discs[p], &self.discs[q]) - self.axis;
        let turns: Vec<[f64; 2]> = (0..=most(left).max(most(right))).map(|m| (m as f64 * angle).sin_cos().into()).collect();
        DMatrix::from_fn(left.len(), right.len(), |i, j| element(integrals, &turns, &left[i], &right[j]))
    }

    /// `integral of s(k) b_l(k) b_l'(k) dk` of one disc; none in a world of one dielectric.
    fn shortfall(&self, p: usize, count: usize) -> Option<DMatrix<f64>> {
        let (planes, a) = (self.planes(p, p), self.discs[p].radius_m);
        let decay_m = 2.0 * self.layers.nearest_m(planes);
        if decay_m.is_infinite() {
            return None;
        }
        let end_per_m = end_per_m(decay_m, a, self.precision());
        let span = Span { reach_m: self.layers.reach_m(), extent_m: 2.0 * a, end_per_m, precision: self.precision() };
        let mut sum = DMatrix::zeros(count, count);
        let mut column = vec![0.0; count];
        for nodes in span.nodes().chunks(CHUNK) {
            let mut values = DMatrix::zeros(count, nodes.len());
            let mut weighted = DMatrix::zeros(nodes.len(), count);
            for (at, [k, weight]) in nodes.iter().enumerate() {
                bessel::spherical(k * a, &mut column);
                let factor = weight * self.layers.at(*k).shortfall(planes);
                for l in 0..count {
                    let value = (FRAC_2_PI * a * (2 * l + 1) as f64).sqrt() * column[l];
                    values[(l, at)] = value;
                    weighted[(at, l)] = factor * value;
                }
            }
            sum.gemm(1.0, &values, &weighted, 1.0);
        }
        Some(sum)
    }
}

/// Integrals of one matrix that serve several places: equal discs, and pairs of them equally far apart.
#[derive(Default)]
struct Kept {
    shortfalls: Vec<([f64; 2], usize, Option<DMatrix<f64>>)>,
    pairs: Vec<(Pair, Integrals)>,
}

impl Kept {
    fn shortfall(&mut self, scene: &Scene<'_>, p: usize, count: usize) -> Option<&DMatrix<f64>> {
        let disc = [scene.discs[p].radius_m, if scene.planes(p, p) == Planes::Top { 1.0 } else { 0.0 }];
        let at = self.shortfalls.iter().position(|(known, orders, _)| *known == disc && *orders >= count).unwrap_or_else(|| {
            self.shortfalls.push((disc, count, scene.shortfall(p, count)));
            self.shortfalls.len() - 1
        });
        self.shortfalls[at].2.as_ref()
    }

    fn integrals(&mut self, layers: &Layers, pair: Pair) -> &Integrals {
        let at = self.pairs.iter().position(|(known, _)| known.serves(&pair)).unwrap_or_else(|| {
            self.pairs.push((pair, pair.integrals(layers)));
            self.pairs.len() - 1
        });
        &self.pairs[at].1
    }
}

/// Nodes taken at a time.
const CHUNK: usize = 256;

fn distance(a: &Disc, b: &Disc) -> f64 {
    (b.centre_m[0] - a.centre_m[0]).hypot(b.centre_m[1] - a.centre_m[1])
}

fn direction(a: &Disc, b: &Disc) -> f64 {
    (b.centre_m[1] - a.centre_m[1]).atan2(b.centre_m[0] - a.centre_m[0])
}

/// The element between a function of one disc and one of another. About the line that joins their centres only functions
/// of like parity meet, `cos: J_(m-m') + (-1)^m' J_(m+m')`, `sin: J_(m-m') - (-1)^m' J_(m+m')`; about the common axis both
/// are turned.
fn element(integrals: &Integrals, turns: &[[f64; 2]], f: &Function, g: &Function) -> f64 {
    let odd = |m: usize| if m % 2 == 1 { -1.0 } else { 1.0 };
    let [even, uneven] = if f.m == 0 || g.m == 0 {
        let both = f.m + g.m;
        let root = if both == 0 { 1.0 } else { SQRT_2 };
        [root * odd(g.m) * integrals.at(f.l(), g.l(), both), 0.0]
    } else {
        let sign = if f.m >= g.m { 1.0 } else { odd(g.m - f.m) };
        let difference = sign * integrals.at(f.l(), g.l(), f.m.abs_diff(g.m));
        let sum = odd(g.m) * integrals.at(f.l(), g.l(), f.m + g.m);
        [difference + sum, difference - sum]
    };
    let ([sin_f, cos_f], [sin_g, cos_g]) = (turns[f.m], turns[g.m]);
    match (f.sine, g.sine) {
        (false, false) => cos_f * cos_g * even + sin_f * sin_g * uneven,
        (false, true) => cos_f * sin_g * even - sin_f * cos_g * uneven,
        (true, false) => sin_f * cos_g * even - cos_f * sin_g * uneven,
        (true, true) => sin_f * sin_g * even + cos_f * cos_g * uneven,
    }
}

/// A scene, solved for 1 V on each disc in turn.
struct Solution {
    matrix: DiscMatrix,
    ladder: Ladder,
    lower: DMatrix<f64>,
    y: Vec<DVector<f64>>,
    x: Vec<Vec<f64>>,
    shortage: Shortage,
}

impl Solution {
    fn new(scene: &Scene<'_>, sizes: &[Size], sets: &[Vec<Function>], matrix: &DMatrix<f64>) -> Result<Self, FieldFault> {
        let start = starts(sets);
        let count = sets.len();
        let charges_of = |p: usize| {
            let mut charges = vec![0.0; start[count]];
            charges[start[p]] = scene.charge(p);
            charges
        };
        let mut all = vec![0.0; start[count]];
        (0..count).for_each(|p| all[start[p]] = scene.charge(p));
        let group = |p: usize| Group { steps: sets[p].iter().map(|f| sizes[p].steps(f)).collect(), decay: sizes[p].decay() };
        let ladder = Ladder::new((0..count).map(group).collect(), &all, MARGIN);
        let lower = ladder.factor(matrix)?;
        let (y, x): (Vec<DVector<f64>>, Vec<Vec<f64>>) = (0..count).map(|p| ladder.substitute(&lower, &charges_of(p))).unzip();
        let mut missing_of_pairs = vec![0.0; count * count];
        for i in 0..count {
            for j in 0..count {
                missing_of_pairs[i * count + j] = ladder.missing(|f| (y[i][f] * y[j][f]).abs());
            }
        }
        let size = |i: usize| x[i].iter().map(|x| x * x).sum::<f64>().sqrt();
        let result = DiscMatrix::from_fn(count, |i, j| {
            let value = y[i].dot(&y[j]);
            // Errors of Galerkin solutions obey Schwarz's inequality among each other.
            let both = (missing_of_pairs[i * count + i] * missing_of_pairs[j * count + j]).sqrt();
            let noise = scene.noise() * size(i) * size(j);
            (scene.unit(i, j) * value, scene.bound(missing_of_pairs[i * count + j].min(both), noise, value))
        });
        let mut shortage = Shortage::new(count, scene.tolerance);
        for y in &y {
            shortage.add(&ladder, &ladder.gains(|f| y[f] * y[f]), y.norm_squared());
        }
        for (position, f) in ladder.last() {
            let disc = (0..count).rfind(|p| start[*p] <= f).unwrap_or(0);
            let gain = (0..count).map(|i| y[i][position].powi(2) / y[i].norm_squared()).sum();
            shortage.by_direction(disc, &sizes[disc], &sets[disc][f - start[disc]], gain);
        }
        Ok(Self { matrix: result, ladder, lower, y, x, shortage })
    }
}
