//! Any conductors on the two planes, all at once.
//!
//! Each conductor brings its functions of charge ([`Plate`], [`Run`]), every pair the potentials between them; one positive
//! definite system holds them all, and Maxwell's matrix follows from the charges that hold one conductor after the other at
//! 1 V. The whole is done twice, the second time on meshes twice as coarse and with fewer functions: the mesh's error falls
//! in proportion, so that twice the finer answer less the coarser one is the result, and their difference tells how far
//! it can be off. Leaving out the answers to the highest polynomials tells what still higher ones might bring.
//!
//! * gives: Maxwell's matrix in farad with a bound for each coefficient, charge densities in C/m²
//! * needs: conductors of at most 2 m that do not touch, layers between planes and ground; a relative tolerance, which is
//!   a wish: the bound tells what was reached
//! * assumes: thin, perfectly conducting plates; flat endless layers
//! * source: own; Galerkin's method and extrapolation to the limit (L. F. Richardson 1911) are textbook
//! * accuracy: within the bound that is returned, see the tables of measured accuracy
//! * errors: [`FieldFault::TooMuchWork`]
//! * example: a 20 mm square pad on 3 mm of felt (1.4) under 1 mm of felt and a 9 mm fingertip: 3.864 pF, -1.127 pF and
//!   1.198 pF

use super::super::conductor::path_length;
use super::super::{Conductor, Figure, Ground};
use super::FieldFault;
use super::annulus::AnnulusBasis;
use super::cells;
use super::dense::Factors;
use super::disc::DiscBasis;
use super::kernel::Kernel;
use super::layers::{Layers, Planes};
use super::memory;
use super::mesh::{Grading, MOST_CELLS, Mesh, box_distance};
use super::nodes::{ellipse, potentials};
use super::outline::{aligned_loops, area_and_perimeter, loops};
use super::overlap::{Region, without_repeats};
use super::panel;
use super::plate::{Base, Frame, Plate, points_reach, powers};
use super::rectangle::RectangleBasis;
use super::run::{BEND_LEFT, Bank, MOST_MODES, Profiles, Run, half_tangent};
use crate::geometry::{self, Point};
use nalgebra::DMatrix;
use std::f64::consts::{FRAC_PI_2, PI};
use std::sync::Arc;

/// A field solved.
pub(super) struct Solved {
    /// Maxwell's matrix, F.
    pub(super) maxwell_f: DMatrix<f64>,
    /// Bound of the error of each coefficient, F.
    pub(super) error_f: DMatrix<f64>,
    bodies: Vec<Body>,
    /// Amounts of all functions, for each conductor at 1 V.
    amounts: DMatrix<f64>,
}

impl Solved {
    /// Charge density of a conductor at a point on the cloth, C/m², for potentials of all conductors in volt; 0 off the
    /// conductor, finite at edges.
    pub(super) fn density(&self, conductor: usize, point_m: Point, potentials: &[f64]) -> f64 {
        let body = &self.bodies[conductor];
        let of = |f: usize| self.amounts.row(f).iter().zip(potentials).map(|(a, v)| a * v).sum();
        let amounts: Vec<f64> = (body.first..body.first + body.count).map(of).collect();
        match &body.charge {
            Charge::Plate(plate, frame) => plate.density(frame.back(point_m), &amounts),
            Charge::Run(run) => run.density(point_m, &amounts),
        }
    }
}

/// Solves to the relative tolerance, or as far as it goes.
pub(super) fn solve(
    layers: &Layers,
    conductors: &[Conductor],
    regions: &[Region],
    relative_tolerance: f64,
    most_unknowns: usize,
) -> Result<Solved, FieldFault> {
    let conductors: Vec<Conductor> = conductors.iter().map(plain).collect();
    let scene = Scene::new(layers, &conductors, regions, relative_tolerance, most_unknowns);
    let mut coarseness = 1.0;
    loop {
        match scene.solve(coarseness) {
            Err(FieldFault::TooMuchWork { .. }) if coarseness < COARSEST => coarseness *= 2.0,
            result => return result,
        }
    }
}

/// Coarsest mesh tried, over the one that the tolerance asks for.
const COARSEST: f64 = 16.0;

/// What is asked, and how far things lie apart.
struct Scene<'a> {
    layers: &'a Layers,
    conductors: &'a [Conductor],
    regions: &'a [Region],
    /// Free space between each two, m, 0 for those that lie over each other.
    gaps: DMatrix<f64>,
    /// Outlines on the cloth with few corners; of a run its path.
    outlines: Vec<Vec<Vec<Point>>>,
    kernels: [Arc<Kernel>; 3],
    tolerance: f64,
    most_unknowns: usize,
    plans: Vec<Plan>,
    /// Whether all conductors are discs and rings around one middle, so that their charge is alike all around.
    coaxial: bool,
}

/// How a conductor is to be written down.
#[derive(Debug, Clone, PartialEq)]
struct Plan {
    form: Form,
    /// Of a plate four times its area over its perimeter, of a run its width, m.
    size_m: f64,
    /// Degrees of the polynomials that a plate answers to, along its own x and y; none where it is taken with all its
    /// functions.
    degrees: Option<[usize; 2]>,
    /// Free space to the nearest conductor on the same plane, m.
    nearest_m: f64,
}

#[derive(Debug, Clone, PartialEq)]
enum Form {
    Cells,
    Rectangle { sides_m: Point, orders: [usize; 2] },
    Disc { radius_m: f64, order: usize },
    Ring { inner_m: f64, outer_m: f64, harmonics: usize },
    Run { path: Vec<Point>, width_m: f64, modes: usize },
}

impl Plan {
    /// Whether it is written down in the same way at every resolution.
    fn is_fixed(&self) -> bool {
        self.degrees.is_none() && matches!(self.form, Form::Rectangle { .. } | Form::Disc { .. })
    }

    /// Whether each cell is a function of its own; such cells are refined for the neighbours and nobody else's.
    fn is_all_cells(&self) -> bool {
        self.degrees.is_none() && self.form == Form::Cells
    }
}

#[derive(Debug, Clone)]
enum Charge {
    Plate(Arc<Plate>, Frame),
    Run(Arc<Run>),
}

#[derive(Debug)]
struct Body {
    charge: Charge,
    first: usize,
    count: usize,
}

impl Body {
    fn totals(&self) -> &[f64] {
        match &self.charge {
            Charge::Plate(plate, _) => plate.totals(),
            Charge::Run(run) => run.totals(),
        }
    }
}

/// Highest degree of the polynomials; neighbours that would need more see all functions.
const HIGHEST_DEGREE: usize = 14;
/// Degree of the polynomials over what brings the potential itself to the tolerance: the capacitance errs by less.
const DEGREES: f64 = 0.6;
/// Highest orders along the side of a rectangle and on a disc.
const MOST_ORDERS: [usize; 2] = [23, 24];
/// Orders that the functions on a plate have beyond the degrees that they answer to.
const SPARE: usize = 4;
/// Rectangles longer than this many widths are taken as runs.
const SLENDER: f64 = 12.0;

impl<'a> Scene<'a> {
    fn new(layers: &'a Layers, conductors: &'a [Conductor], regions: &'a [Region], tolerance: f64, most_unknowns: usize) -> Self {
        let n = conductors.len();
        let mut gaps = DMatrix::zeros(n, n);
        for i in 0..n {
            for j in 0..i {
                // Far apart the boxes tell well enough.
                let rough = regions[i].gap_at_least_m(&regions[j]);
                let far = rough > regions[i].extent_m().max(regions[j].extent_m());
                gaps[(i, j)] = if far { rough } else { regions[i].gap_m(&regions[j]) };
                gaps[(j, i)] = gaps[(i, j)];
            }
        }
        let mut scene = Self {
            layers,
            conductors,
            regions,
            gaps,
            outlines: conductors.iter().map(outline).collect(),
            kernels: [Planes::Stitched, Planes::Top, Planes::Across].map(|planes| memory::kernel(layers, planes)),
            tolerance: tolerance.clamp(FINEST_TOLERANCE, 0.1),
            most_unknowns,
            plans: Vec::new(),
            coaxial: coaxial(conductors),
        };
        scene.plans = (0..n).map(|i| scene.plan(i)).collect();
        scene.share_plans();
        scene
    }

    /// Distance between the planes of two conductors.
    fn over(&self, i: usize, j: usize) -> f64 {
        if self.conductors[i].on_top == self.conductors[j].on_top { 0.0 } else { self.layers.overlay_m() }
    }

    /// Shortest way between two conductors.
    fn clear(&self, i: usize, j: usize) -> f64 {
        self.gaps[(i, j)].hypot(self.over(i, j))
    }

    fn others(&self, i: usize) -> impl Iterator<Item = usize> {
        (0..self.conductors.len()).filter(move |j| *j != i)
    }

    fn kernel(&self, i: usize, j: usize) -> &Kernel {
        &self.kernels[self.planes(i, j)]
    }

    /// Number of the kernel between two conductors.
    fn planes(&self, i: usize, j: usize) -> usize {
        match (self.conductors[i].on_top, self.conductors[j].on_top) {
            (false, false) => 0,
            (true, true) => 1,
            _ => 2,
        }
    }

    /// How well potentials between conductors are to be held.
    fn precision(&self) -> f64 {
        (0.03 * self.tolerance).clamp(1e-7, 1e-4)
    }

    /// Height over ground.
    fn height(&self, on_top: bool) -> f64 {
        match self.layers.ground() {
            Ground::Plane if on_top => self.layers.base_m() + self.layers.overlay_m(),
            Ground::Plane => self.layers.base_m(),
            Ground::None => f64::INFINITY,
        }
    }

    fn plan(&self, i: usize) -> Plan {
        let conductor = &self.conductors[i];
        let same_plane = |j: &usize| self.conductors[*j].on_top == conductor.on_top;
        let nearest_m = self.others(i).filter(same_plane).map(|j| self.gaps[(i, j)]).fold(f64::INFINITY, f64::min);
        if let Some((path, width_m)) = as_run(conductor) {
            let modes = self.modes(i, width_m);
            return Plan { form: Form::Run { path, width_m, modes }, size_m: width_m, degrees: None, nearest_m };
        }
        let [area, perimeter] = area_and_perimeter(&conductor.figure);
        let (around, half) = box_of(conductor);
        let mut degrees = Some([0; 2]);
        for j in self.others(i) {
            let gap = around.gap_m(&self.regions[j]);
            for k in 0..2 {
                let rate = ellipse(half[k], gap, self.over(i, j));
                let degree = if rate > 0.0 { (-DEGREES * self.tolerance.ln() / rate).ceil() } else { f64::INFINITY };
                degrees = degrees.filter(|_| degree <= HIGHEST_DEGREE as f64).map(|mut d: [usize; 2]| {
                    d[k] = d[k].max(degree as usize).max(1);
                    d
                });
            }
        }
        let mut form = self.form(i);
        let all = match form {
            Form::Rectangle { orders, .. } => orders[0] * orders[1],
            Form::Disc { order, .. } => (order + 1) * (order + 2) / 2,
            Form::Ring { harmonics, .. } => self.ringlets() as usize * (2 * harmonics + 1),
            _ => usize::MAX,
        };
        // Answers that are not much fewer than the functions themselves are not worth it; where they are, functions to
        // make them of cost little.
        let degrees = degrees.filter(|d| !self.coaxial && powers(*d).len() < all / 5 * 4);
        if let Some(degrees) = degrees {
            match &mut form {
                Form::Rectangle { orders, .. } => {
                    *orders = std::array::from_fn(|k| orders[k].max(degrees[k] + SPARE).min(MOST_ORDERS[0]));
                }
                Form::Ring { harmonics, .. } => *harmonics = (*harmonics).max(degrees[0].max(degrees[1])).min(MOST_HARMONICS),
                Form::Disc { order, .. } => *order = (*order).max(degrees[0].max(degrees[1]) + SPARE).min(MOST_ORDERS[1]),
                _ => {}
            }
        }
        Plan { form, size_m: 4.0 * area / perimeter, degrees, nearest_m }
    }

    /// Ringlets of a ring at the finer resolution: their error falls with the square of their number. Around one middle they
    /// cost next to nothing.
    fn ringlets(&self) -> f64 {
        if self.coaxial { RINGLETS } else { (RINGLETS * (RINGLETS_HOLD / self.tolerance).sqrt()).clamp(FEWEST_RINGLETS, RINGLETS) }
    }

    /// How many profiles a run needs: next to a line charge at distance d a strip's dipole lowers the potential by (w/4d)²
    /// of what the logarithm holds, the next moment by the square of that.
    fn modes(&self, i: usize, width_m: f64) -> usize {
        let half = 0.5 * width_m;
        let nearest = self.others(i).map(|j| (self.gaps[(i, j)] + half).hypot(self.over(i, j))).fold(f64::INFINITY, f64::min);
        let share = (0.5 * half / nearest).powi(2);
        let modes = if share * share > 0.1 * self.tolerance {
            3
        } else if share > 0.1 * self.tolerance {
            2
        } else {
            1
        };
        modes.min(MOST_MODES)
    }

    fn form(&self, i: usize) -> Form {
        let conductor = &self.conductors[i];
        let thin = |half: f64| (-self.tolerance.ln() + 1.0) / (THIN * (4.0 * self.nearest_boundary(i) / half).sqrt());
        // What faces it is blurred by the overlay alone.
        let blurred = |half: f64| {
            if self.faces_another(i) { -0.35 * self.tolerance.ln() / (self.layers.overlay_m() / half).asinh() } else { 0.0 }
        };
        let beside = |half: f64| {
            let rate = |j: usize| ellipse(half, self.gaps[(i, j)], self.over(i, j));
            let slowest = self.others(i).filter(|j| self.gaps[(i, *j)] > 0.0).map(rate).fold(f64::INFINITY, f64::min);
            -DEGREES * self.tolerance.ln() / slowest
        };
        let order =
            |half: f64, least: f64, most: usize| (least.max(thin(half)).max(blurred(half)).max(beside(half)).ceil() as usize).min(most);
        let least = 1.0 - 3.0 * self.tolerance.log10();
        match conductor.figure {
            Figure::Round { diameter_m } if self.others(i).all(|j| points_reach(diameter_m, self.clear(i, j))) => {
                Form::Disc { radius_m: 0.5 * diameter_m, order: order(0.5 * diameter_m, least, MOST_ORDERS[1]) }
            }
            Figure::Ring { inner_diameter_m, outer_diameter_m }
                if inner_diameter_m > LEAST_HOLE * outer_diameter_m
                    && self.others(i).all(|j| points_reach(0.5 * outer_diameter_m, self.clear(i, j))) =>
            {
                let half = 0.5 * outer_diameter_m;
                let harmonics = if self.coaxial { 0 } else { least.max(blurred(half)).max(beside(half)).ceil() as usize };
                Form::Ring { inner_m: 0.5 * inner_diameter_m, outer_m: half, harmonics: harmonics.min(MOST_HARMONICS) }
            }
            Figure::Rectangle { width_m, length_m, corner_radius_m: 0.0 } => {
                let parallel = |j: usize| {
                    let other = &self.conductors[j];
                    matches!(other.figure, Figure::Rectangle { corner_radius_m: 0.0, .. })
                        && as_run(other).is_none()
                        && right_angle(other.rotation_rad - conductor.rotation_rad)
                };
                if self.others(i).all(|j| parallel(j) || points_reach(width_m.max(length_m), self.clear(i, j))) {
                    let sides_m = [width_m, length_m];
                    Form::Rectangle { sides_m, orders: sides_m.map(|side| order(0.5 * side, least, MOST_ORDERS[0])) }
                } else {
                    Form::Cells
                }
            }
            _ => Form::Cells,
        }
    }

    fn nearest_boundary(&self, i: usize) -> f64 {
        self.layers.nearest_m(if self.conductors[i].on_top { Planes::Top } else { Planes::Stitched })
    }

    /// Plates of one figure get one plan, so that they can share their functions.
    fn share_plans(&mut self) {
        for i in 0..self.plans.len() {
            let Some(mut degrees) = self.plans[i].degrees else { continue };
            let same = |j: &usize| {
                self.plans[*j].degrees.is_some()
                    && self.plans[*j].form == self.plans[i].form
                    && self.conductors[*j].figure == self.conductors[i].figure
            };
            let mut nearest = self.plans[i].nearest_m;
            for j in (0..self.plans.len()).filter(same) {
                let other = self.plans[j].degrees.unwrap_or_default();
                degrees = [degrees[0].max(other[0]), degrees[1].max(other[1])];
                nearest = nearest.min(self.plans[j].nearest_m);
            }
            self.plans[i].degrees = Some(degrees);
            self.plans[i].nearest_m = nearest;
        }
    }

    fn solve(&self, coarseness: f64) -> Result<Solved, FieldFault> {
        let fine = Level::new(self, coarseness, None)?;
        let coarse = Level::new(self, 2.0 * coarseness, Some(&fine))?;
        let n = self.conductors.len();
        let no_solution = FieldFault::TooMuchWork { unknowns: fine.functions };
        let system = fine.system(self, None);
        let rough = coarse.system(self, Some((&fine, &system)));
        let found = fine.maxwell(self, system).ok_or(no_solution)?;
        let coarser = if self.plans.iter().all(Plan::is_fixed) {
            found.maxwell_f.clone()
        } else {
            coarse.maxwell(self, rough).ok_or(no_solution)?.maxwell_f
        };
        let (carries, tail, bends) = (self.carries(), self.tail(), self.bends());
        let rims = self.rims(coarseness, &found.maxwell_f);
        let step = &found.maxwell_f - coarser;
        let carried = DMatrix::from_fn(n, n, |i, j| 0.5 * (carries[i].0 + carries[j].0) * step[(i, j)]);
        let maxwell_f = &found.maxwell_f + carried + tail * &found.by_facing;
        let mean = |m: &DMatrix<f64>, i: usize, j: usize| (m[(i, i)].abs() * m[(j, j)].abs()).sqrt();
        let error_f = DMatrix::from_fn(n, n, |i, j| {
            let left_over = if i == j { carries[i].1 } else { LEFT_OVER_BETWEEN };
            let coupling = maxwell_f[(i, j)].abs() / mean(&maxwell_f, i, j);
            let lacking = |m: &DMatrix<f64>| m[(i, j)].abs() + SHARE * mean(m, i, j) * coupling;
            let between = if n > 1 { 3.0 * self.precision() } else { 0.0 };
            let floor = between + FLOOR + bends[i].max(bends[j]) + rims[i].max(rims[j]);
            left_over * lacking(&step)
                + (HIGHER + 0.7 * tail) * lacking(&found.by_facing)
                + HIGHER * lacking(&found.by_orders)
                + PROFILES * lacking(&found.by_profiles)
                + floor * maxwell_f[(i, j)].abs()
        });
        Ok(Solved { maxwell_f, error_f, bodies: fine.bodies, amounts: found.amounts })
    }

    /// For each conductor how much of the difference between the two resolutions is carried on, and what that may leave.
    /// What cells and runs lack falls in proportion to their meshes; functions on rectangles and discs lack only what their
    /// neighbours' meshes do, which may be all of the difference or nothing.
    fn carries(&self) -> Vec<(f64, f64)> {
        let is_smooth = |plan: &Plan| matches!(plan.form, Form::Rectangle { .. } | Form::Disc { .. });
        let all = self.plans.iter().all(is_smooth);
        let of = |plan| match is_smooth(plan) {
            true if all => (1.0, 1.0),
            true => (0.5, LEFT_OVER_NEXT_TO_MESHES),
            false => (1.0, LEFT_OVER),
        };
        self.plans.iter().map(of).collect()
    }

    /// What functions on rectangles and discs still lack, over what the last two orders have brought: their charge is
    /// blurred between conductors that face each other by the overlay, near edges by the nearest boundary. A function
    /// that is analytic within an ellipse around its interval is met by polynomials at the rate of the ellipse's
    /// parameter (S. N. Bernstein 1912, textbook); the capacitance feels the square.
    fn tail(&self) -> f64 {
        let mut pace = 0.0_f64;
        for (i, plan) in self.plans.iter().enumerate() {
            let half = match plan.form {
                Form::Rectangle { sides_m, .. } => 0.5 * sides_m[0].max(sides_m[1]),
                Form::Disc { radius_m, .. } => radius_m,
                Form::Ring { outer_m, .. } => outer_m,
                _ => continue,
            };
            if self.faces_another(i) {
                pace = pace.max((-4.0 * (self.layers.overlay_m() / half).asinh()).exp());
                pace = pace.max((-THIN * (4.0 * self.nearest_boundary(i) / half).sqrt()).exp());
            }
        }
        let pace = pace.min(0.9);
        pace / (1.0 - pace)
    }

    /// How a plate's own axes, along which its cells lie, are turned and moved to the cloth.
    fn frame(&self, i: usize) -> Frame {
        let conductor = &self.conductors[i];
        let (_, turned) = aligned_loops(&conductor.figure);
        let (sin, cos) = (conductor.rotation_rad + turned).sin_cos();
        Frame { centre_m: conductor.centre_m, turn: [sin, cos] }
    }

    /// The cells of a plate, refined for its neighbours where each is a function of its own.
    fn mesh(&self, i: usize, plan: &Plan, coarseness: f64) -> Mesh {
        let frame = self.frame(i);
        let near = |middle, sides| {
            if plan.is_all_cells() { coarseness * self.neighbours_allow(i, &frame, middle, sides) } else { f64::INFINITY }
        };
        Mesh::new(&aligned_loops(&self.conductors[i].figure).0, self.grading(i, coarseness), &near)
    }

    /// How fine the cells of a plate are.
    fn grading(&self, i: usize, coarseness: f64) -> Grading {
        let plan = &self.plans[i];
        let height = self.height(self.conductors[i].on_top);
        // A bound of about 0.06 over the cells per size.
        let cells = (0.09 / self.tolerance).clamp(24.0, 300.0);
        let by_gap = (20.0 * self.tolerance).clamp(0.06, 0.25) * plan.nearest_m;
        let h_m = (plan.size_m / cells).min(0.25 * height).min(by_gap.max(plan.size_m / 200.0)) * coarseness;
        Grading { h_m, flat_m: height, widest: 0.15 * coarseness.min(2.0) }
    }

    /// What the rims of plates lack where cells are too coarse for the nearest boundary, so that the error does not yet
    /// fall in proportion to them, relative: found on an endless band that is cut in the same way.
    fn rims(&self, coarseness: f64, maxwell_f: &DMatrix<f64>) -> Vec<f64> {
        let of = |i: usize| {
            let (plan, kernel) = (&self.plans[i], self.kernel(i, i));
            let grading = self.grading(i, coarseness);
            if plan.form != Form::Cells || grading.h_m < RESOLVED * self.nearest_boundary(i) {
                return 0.0;
            }
            let [_, perimeter] = area_and_perimeter(&self.conductors[i].figure);
            let width = 0.5 * plan.size_m;
            let band = |grading: Grading| cells::band(&grading.strips(width), perimeter, kernel);
            let coarser = self.grading(i, 2.0 * coarseness);
            let edge = |k: usize| 0.5 * width * (1.0 - (PI * k as f64 / RIM_STRIPS as f64).cos());
            let strips: Vec<[f64; 2]> = (0..RIM_STRIPS).map(|k| [0.5 * (edge(k) + edge(k + 1)), edge(k + 1) - edge(k)]).collect();
            let lacking = cells::band(&strips, perimeter, kernel) - (2.0 * band(grading) - band(coarser));
            lacking.abs() * 0.5 * perimeter / maxwell_f[(i, i)]
        };
        (0..self.plans.len()).map(of).collect()
    }

    /// Whether another conductor lies over or under this one.
    fn faces_another(&self, i: usize) -> bool {
        self.others(i).any(|j| self.over(i, j) > 0.0 && self.gaps[(i, j)] <= 0.0)
    }

    /// What bends may be off by in each run, relative.
    fn bends(&self) -> Vec<f64> {
        let bend = |corner: &[Point]| {
            let [u, v] = [0, 1].map(|k| [corner[k + 1][0] - corner[k][0], corner[k + 1][1] - corner[k][1]]);
            half_tangent(u, v)
        };
        let of = |plan: &Plan| match &plan.form {
            Form::Run { path, width_m, .. } => BEND_LEFT * width_m * path.windows(3).map(bend).sum::<f64>() / path_length(path),
            _ => 0.0,
        };
        self.plans.iter().map(of).collect()
    }

    /// Longest side of a cell for the sake of the other conductors.
    fn neighbours_allow(&self, i: usize, frame: &Frame, middle: Point, sides: Point) -> f64 {
        let mut most = f64::INFINITY;
        let size = sides[0].max(sides[1]);
        let centre = frame.put(middle);
        for j in self.others(i) {
            let over = self.over(i, j);
            if self.regions[j].line_at_least_m([centre, centre]) - size > size {
                continue;
            }
            let mut near = f64::INFINITY;
            for outline in &self.outlines[j] {
                for k in 0..outline.len() {
                    let ends = [outline[k], outline[(k + 1) % outline.len()]].map(|p| frame.back(p));
                    near = near.min(box_distance(middle, sides, ends).hypot(over));
                }
            }
            most = most.min(near.max(0.7 * self.clear(i, j)));
        }
        most
    }

    /// Longest piece of a run between two points on the cloth: potentials vary along it on the scale of the distance to
    /// ends, bends and edges, the less the more nearly an edge is parallel.
    fn piece_allowed(&self, i: usize, path: &[Point], line: [Point; 2], h_m: f64) -> f64 {
        let reach = (self.tolerance / 1e-3).sqrt();
        let along = [line[1][0] - line[0][0], line[1][1] - line[0][1]];
        let length = along[0].hypot(along[1]);
        let mut most = f64::INFINITY;
        for (k, p) in path.iter().enumerate() {
            let h = if k == 0 || k + 1 == path.len() { h_m } else { 2.0 * h_m };
            most = most.min(h + geometry::distance(&line, &[*p]));
        }
        for j in self.others(i) {
            let over = self.over(i, j);
            if reach * self.regions[j].line_at_least_m(line).hypot(over) > length {
                continue;
            }
            let open = matches!(self.plans.get(j).map(|plan| &plan.form), Some(Form::Run { .. }));
            for outline in &self.outlines[j] {
                for (k, p) in outline.iter().enumerate() {
                    let (before, after) = (outline[(k + outline.len() - 1) % outline.len()], outline[(k + 1) % outline.len()]);
                    let at_end = open && (k == 0 || k + 1 == outline.len());
                    let (u, v) = ([p[0] - before[0], p[1] - before[1]], [after[0] - p[0], after[1] - p[1]]);
                    let turn = if at_end { 1.0 } else { sine(u, v).max(1e-3) };
                    let d = geometry::distance(&line, &[*p]).hypot(over);
                    most = most.min((reach * d / turn).max(2.0 * h_m));
                    if !(open && k + 1 == outline.len()) {
                        let d = geometry::distance(&line, &[*p, after]).hypot(over);
                        most = most.min((reach * d / sine(along, v).max(1e-3)).max(2.0 * h_m));
                    }
                }
            }
        }
        most
    }
}

/// Absolute sine of the angle between two vectors.
fn sine(u: Point, v: Point) -> f64 {
    (u[0] * v[1] - u[1] * v[0]).abs() / (u[0].hypot(u[1]) * v[0].hypot(v[1])).max(f64::MIN_POSITIVE)
}

/// Below this the tolerance asks for nothing more.
const FINEST_TOLERANCE: f64 = 2e-4;
/// How fast functions on rectangles and discs come to hold the charge near edges over thin layers, for each two orders.
const THIN: f64 = 2.8;
/// What extrapolation leaves of the difference between two meshes; see the tests.
const LEFT_OVER: f64 = 0.3;
/// The same of rectangles and discs among meshes: half of the difference, and a little.
const LEFT_OVER_NEXT_TO_MESHES: f64 = 0.6;
/// The same between two conductors, where the error sets in later to fall with the mesh.
const LEFT_OVER_BETWEEN: f64 = 1.0;
/// Of what both conductors lack, what their coefficient may lack besides.
const SHARE: f64 = 0.3;
/// What polynomials that were left out may bring, over what the highest ones bring.
const HIGHER: f64 = 0.5;
/// The same for profiles: from one to the next what they bring falls by (w/4d)² of a line at a distance d, which is 0.05
/// where the gap is but a tenth of the width.
const PROFILES: f64 = 0.15;
/// Cells at the edge over the distance of the nearest boundary, up to which their error falls as they do.
const RESOLVED: f64 = 0.3;
/// Strips for a band whose rim lacks little, 1e-3 of what is charged there.
const RIM_STRIPS: usize = 40;
/// Kernel table, point charges and rounding.
const FLOOR: f64 = 2e-5;

/// The bodies at one resolution.
struct Level {
    bodies: Vec<Body>,
    functions: usize,
}

impl Level {
    /// Plates that take all their functions are those of the finer level.
    fn new(scene: &Scene<'_>, coarseness: f64, finer: Option<&Level>) -> Result<Self, FieldFault> {
        let mut level = Self { bodies: Vec::new(), functions: 0 };
        // What is all cells tells first whether it comes to too much.
        let mut meshes: Vec<Option<Mesh>> = (0..scene.conductors.len()).map(|_| None).collect();
        let mut cells = 0;
        for (i, plan) in scene.plans.iter().enumerate().filter(|(_, plan)| plan.is_all_cells()) {
            let mesh = scene.mesh(i, plan, coarseness);
            cells += mesh.cells.len();
            if mesh.cells.len() > MOST_CELLS || cells > scene.most_unknowns {
                return Err(FieldFault::TooMuchWork { unknowns: cells });
            }
            meshes[i] = Some(mesh);
        }
        let mut plates: Vec<(usize, Arc<Plate>)> = Vec::new();
        let mut profiles: Vec<(f64, bool, Profiles)> = Vec::new();
        for (i, plan) in scene.plans.iter().enumerate() {
            let charge = match &plan.form {
                _ if let (Some(finer), true) = (finer, plan.is_fixed()) => finer.bodies[i].charge.clone(),
                Form::Run { path, width_m, modes } => {
                    Charge::Run(Arc::new(level.run(scene, i, (path, *width_m, *modes), &mut profiles, coarseness)?))
                }
                _ => level.plate(scene, i, meshes[i].take(), &mut plates, coarseness)?,
            };
            let count = match &charge {
                Charge::Plate(plate, _) => plate.totals().len(),
                Charge::Run(run) => run.totals().len(),
            };
            level.bodies.push(Body { charge, first: level.functions, count });
            level.functions += count;
            if level.functions > scene.most_unknowns {
                return Err(FieldFault::TooMuchWork { unknowns: level.functions });
            }
        }
        Ok(level)
    }

    fn run(
        &self,
        scene: &Scene<'_>,
        i: usize,
        (path, width_m, modes): (&[Point], f64, usize),
        profiles: &mut Vec<(f64, bool, Profiles)>,
        coarseness: f64,
    ) -> Result<Run, FieldFault> {
        let (on_top, kernel) = (scene.conductors[i].on_top, scene.kernel(i, i));
        let place = profiles.iter().position(|(w, top, _)| *w == width_m && *top == on_top).unwrap_or_else(|| {
            // The error falls with the square of the strips, so that both resolutions differ by a factor of 2.
            let strips = (STRIPS / coarseness.sqrt()).round() as usize;
            profiles.push((width_m, on_top, Profiles::new(width_m, path_length(path).max(width_m), strips, kernel)));
            profiles.len() - 1
        });
        let h_m = width_m * (50.0 * scene.tolerance).clamp(0.1, 0.5);
        let allowed = |line: [Point; 2]| coarseness * scene.piece_allowed(i, path, line, h_m);
        let room = scene.most_unknowns.saturating_sub(self.functions) / modes;
        Run::new(path, modes, &mut profiles[place].2, kernel, &allowed, scene.precision(), room)
            .ok_or(FieldFault::TooMuchWork { unknowns: scene.most_unknowns + 1 })
    }

    fn plate(
        &self,
        scene: &Scene<'_>,
        i: usize,
        mesh: Option<Mesh>,
        plates: &mut Vec<(usize, Arc<Plate>)>,
        coarseness: f64,
    ) -> Result<Charge, FieldFault> {
        let (conductor, plan) = (&scene.conductors[i], &scene.plans[i]);
        let frame = scene.frame(i);
        let same = |(j, _): &&(usize, Arc<Plate>)| {
            let other = &scene.conductors[*j];
            !plan.is_all_cells() && other.figure == conductor.figure && other.on_top == conductor.on_top && scene.plans[*j] == *plan
        };
        if let Some((_, plate)) = plates.iter().find(same) {
            return Ok(Charge::Plate(Arc::clone(plate), frame));
        }
        let fewer = if coarseness > 1.0 { 2 * coarseness.log2().ceil() as usize } else { 0 };
        let base = match plan.form {
            Form::Rectangle { sides_m, orders } => {
                let orders = orders.map(|order| order.saturating_sub(fewer).max(3));
                Base::Rectangle(RectangleBasis::new(sides_m[0], sides_m[1], orders), sides_m)
            }
            Form::Disc { radius_m, order } => {
                let order = order.saturating_sub(fewer).max(2);
                let basis = if scene.coaxial { DiscBasis::even_around } else { DiscBasis::new };
                Base::Disc(basis(radius_m, order))
            }
            Form::Ring { inner_m, outer_m, harmonics } => {
                // The error falls with the square of the ringlets, so that both resolutions differ by a factor of 2.
                let ringlets = (scene.ringlets() / coarseness.sqrt()).round() as usize;
                Base::Ring(AnnulusBasis::new(inner_m, outer_m, ringlets, harmonics))
            }
            _ => {
                let mesh = mesh.unwrap_or_else(|| scene.mesh(i, plan, coarseness));
                if mesh.cells.len() > MOST_CELLS {
                    return Err(FieldFault::TooMuchWork { unknowns: mesh.cells.len() });
                }
                Base::Cells(mesh)
            }
        };
        let plate = Plate::new(base, scene.kernel(i, i), scene.layers, conductor.on_top, plan.degrees);
        let plate = Arc::new(plate.ok_or(FieldFault::TooMuchWork { unknowns: MOST_CELLS })?);
        plates.push((i, Arc::clone(&plate)));
        Ok(Charge::Plate(plate, frame))
    }

    /// Total charge of each function, in the column of its conductor.
    fn sources(&self) -> DMatrix<f64> {
        let mut sources = DMatrix::zeros(self.functions, self.bodies.len());
        for (i, body) in self.bodies.iter().enumerate() {
            for (f, total) in body.totals().iter().enumerate() {
                sources[(body.first + f, i)] = *total;
            }
        }
        sources
    }

    /// Potentials between all functions: the lower triangle.
    fn system(&self, scene: &Scene<'_>, finer: Option<(&Level, &DMatrix<f64>)>) -> DMatrix<f64> {
        let mut banks: [Bank; 3] = Default::default();
        let mut system = DMatrix::zeros(self.functions, self.functions);
        for (i, body) in self.bodies.iter().enumerate() {
            let own = match &body.charge {
                Charge::Plate(plate, _) => plate.own(),
                Charge::Run(run) => run.own(),
            };
            system.view_mut((body.first, body.first), (body.count, body.count)).copy_from(own);
            for (j, other) in self.bodies[..i].iter().enumerate() {
                let mut place = system.view_mut((body.first, other.first), (body.count, other.count));
                match finer {
                    Some((finer, known)) if scene.plans[i].is_fixed() && scene.plans[j].is_fixed() => {
                        place.copy_from(&known.view((finer.bodies[i].first, finer.bodies[j].first), (body.count, other.count)));
                    }
                    _ => place.copy_from(&self.block(scene, i, j, &mut banks[scene.planes(i, j)])),
                }
            }
        }
        system
    }

    fn block(&self, scene: &Scene<'_>, i: usize, j: usize, bank: &mut Bank) -> DMatrix<f64> {
        let (kernel, over) = (scene.kernel(i, j), scene.over(i, j));
        let (a, b) = (&self.bodies[i].charge, &self.bodies[j].charge);
        if let (Charge::Plate(p, at_p), Charge::Plate(q, at_q)) = (a, b)
            && let Some(block) = between_plates(scene, (i, p, at_p), (j, q, at_q))
        {
            return block;
        }
        if let (Charge::Run(p), Charge::Run(q)) = (a, b) {
            return p.with(q, kernel, over, scene.precision(), bank);
        }
        let nodes = |charge: &Charge, own: usize, other: usize| {
            let (own, other) = (&scene.regions[own], &scene.regions[other]);
            match charge {
                Charge::Plate(plate, frame) => plate.nodes(frame, own, other, over, scene.precision()),
                Charge::Run(run) => run.nodes(other, over, scene.precision()),
            }
        };
        potentials(kernel, &nodes(a, i, j), &nodes(b, j, i))
    }

    /// For each function how early it may be left out: 0 not at all, 1 as one of the highest polynomials or orders, 2 as
    /// one of the highest orders of a plate that another faces, 3 as one of a run's last profile.
    fn ranks(&self, scene: &Scene<'_>) -> Vec<u8> {
        let of = |(i, body): (usize, &Body)| -> Vec<u8> {
            let rank = if scene.faces_another(i) { 2 } else { 1 };
            match &body.charge {
                Charge::Plate(plate, _) => plate.highest().iter().map(|highest| if *highest { rank } else { 0 }).collect(),
                Charge::Run(run) => (0..body.count).map(|f| if run.is_highest(f) { 3 } else { 0 }).collect(),
            }
        };
        self.bodies.iter().enumerate().flat_map(of).collect()
    }

    /// Maxwell's matrix.
    ///
    /// Functions are eliminated in the order of their ranks: what comes before those of a rank is the solution without
    /// them.
    fn maxwell(&self, scene: &Scene<'_>, system: DMatrix<f64>) -> Option<Found> {
        let (sources, ranks) = (self.sources(), self.ranks(scene));
        let mut order: Vec<usize> = (0..self.functions).collect();
        order.sort_by_key(|f| ranks[*f]);
        let entry = |i: usize, j: usize| system[(i.max(j), i.min(j))];
        let permuted = if order.is_sorted() {
            system
        } else {
            DMatrix::from_fn(self.functions, self.functions, |i, j| if i < j { 0.0 } else { entry(order[i], order[j]) })
        };
        let sources = DMatrix::from_fn(self.functions, sources.ncols(), |i, j| sources[(order[i], j)]);
        let factors = Factors::new(permuted)?;
        let half = factors.forward(sources);
        let up_to = |rank: u8| {
            let first = half.rows(0, ranks.iter().filter(|r| **r <= rank).count());
            first.tr_mul(&first)
        };
        let [with_none, with_one, with_two, maxwell_f] = [0, 1, 2, 3].map(up_to);
        let ordered = factors.backward(half);
        let mut amounts = DMatrix::zeros(ordered.nrows(), ordered.ncols());
        for (i, f) in order.iter().enumerate() {
            amounts.row_mut(*f).copy_from(&ordered.row(i));
        }
        Some(Found {
            by_profiles: &maxwell_f - &with_two,
            by_facing: with_two - &with_one,
            by_orders: with_one - with_none,
            maxwell_f,
            amounts,
        })
    }
}

/// One resolution's solution.
struct Found {
    maxwell_f: DMatrix<f64>,
    /// What the last profiles of runs have brought.
    by_profiles: DMatrix<f64>,
    /// What the highest orders of plates that face others have brought.
    by_facing: DMatrix<f64>,
    /// What the highest polynomials and orders of other plates have brought.
    by_orders: DMatrix<f64>,
    /// Amounts of the functions for each conductor at 1 V.
    amounts: DMatrix<f64>,
}

/// Strips across a run at the finer resolution.
const STRIPS: f64 = 32.0;
/// Most ringlets of a ring, the tolerance that they hold among other conductors, and the fewest.
const RINGLETS: f64 = 32.0;
const RINGLETS_HOLD: f64 = 2e-3;
const FEWEST_RINGLETS: f64 = 10.0;
/// Smallest hole, over the ring's own diameter, for which ringlets are narrow against their radii.
const LEAST_HOLE: f64 = 0.02;
/// Most harmonics around a ring.
const MOST_HARMONICS: usize = 20;
/// Parallel rectangles nearer than this many of the longest side are taken exactly.
const NEAR: f64 = 0.12;

/// Potentials between two plates where there is something better than point charges.
fn between_plates(scene: &Scene<'_>, (i, p, at_p): (usize, &Plate, &Frame), (j, q, at_q): (usize, &Plate, &Frame)) -> Option<DMatrix<f64>> {
    let (kernel, over) = (scene.kernel(i, j), scene.over(i, j));
    if let (Some(p), Some(q)) = (p.panels(at_p), q.panels(at_q)) {
        return Some(DMatrix::from_fn(p.len(), q.len(), |i, j| panel::mean(kernel, &p[i], &q[j], over)));
    }
    let apart = [at_q.centre_m[0] - at_p.centre_m[0], at_q.centre_m[1] - at_p.centre_m[1]];
    let block = match (p.base(), q.base()) {
        (Base::Rectangle(a, s), Base::Rectangle(b, t)) => {
            let turn = scene.conductors[j].rotation_rad - scene.conductors[i].rotation_rad;
            let longest = s.iter().chain(t).fold(0.0, |most: f64, side| most.max(*side));
            if !right_angle(turn) || scene.clear(i, j) > NEAR * longest {
                return None;
            }
            let [sin, cos] = at_p.turn;
            let offset = [cos * apart[0] + sin * apart[1], cos * apart[1] - sin * apart[0]];
            aligned(a, b, *t, turn, offset, kernel)
        }
        // Discs turn about themselves: both are taken as they lie on the cloth.
        (Base::Disc(a), Base::Disc(b)) if over > 0.0 && scene.gaps[(i, j)] <= 0.0 && at_p.turn[0] == 0.0 && at_q.turn[0] == 0.0 => {
            a.across(b, apart, scene.layers)
        }
        _ if apart[0].hypot(apart[1]) <= ONE_MIDDLE_M && at_p.turn == at_q.turn => {
            return p.around_one_middle(q, kernel, scene.clear(i, j));
        }
        _ => return None,
    };
    Some(q.reduced(p.reduced(block).transpose()).transpose())
}

/// A run so short against its width that it is a plate, as a rectangle or polygon; all others as they are.
fn plain(conductor: &Conductor) -> Conductor {
    let Figure::Line { points_m, width_m } = &conductor.figure else { return conductor.clone() };
    let path = without_repeats(points_m);
    if path_length(&path) > SLENDER * width_m {
        return conductor.clone();
    }
    if let [a, b] = path[..] {
        let along = [b[0] - a[0], b[1] - a[1]];
        return Conductor {
            figure: Figure::Rectangle { width_m: along[0].hypot(along[1]), length_m: *width_m, corner_radius_m: 0.0 },
            centre_m: conductor.on_cloth([0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])]),
            rotation_rad: conductor.rotation_rad + along[1].atan2(along[0]),
            ..conductor.clone()
        };
    }
    let around = loops(&conductor.figure);
    match geometry::extent(&around[0], &[]) {
        Ok(_) => Conductor { figure: Figure::Polygon { points_m: around[0].clone(), holes_m: Vec::new() }, ..conductor.clone() },
        // It runs over itself.
        Err(_) => conductor.clone(),
    }
}

/// The path on the cloth and the width of a run, or of a rectangle so slender that it is one.
fn as_run(conductor: &Conductor) -> Option<(Vec<Point>, f64)> {
    let (path, width) = match &conductor.figure {
        Figure::Line { points_m, width_m } => (without_repeats(points_m), *width_m),
        Figure::Rectangle { width_m, length_m, corner_radius_m: 0.0 } if *width_m > SLENDER * length_m => {
            (vec![[-0.5 * width_m, 0.0], [0.5 * width_m, 0.0]], *length_m)
        }
        Figure::Rectangle { width_m, length_m, corner_radius_m: 0.0 } if *length_m > SLENDER * width_m => {
            (vec![[0.0, -0.5 * length_m], [0.0, 0.5 * length_m]], *width_m)
        }
        _ => return None,
    };
    Some((path.iter().map(|p| conductor.on_cloth(*p)).collect(), width))
}

/// Outlines on the cloth, round ones with few corners; of a run its path.
fn outline(conductor: &Conductor) -> Vec<Vec<Point>> {
    const CORNERS: usize = 24;
    if let Some((path, _)) = as_run(conductor) {
        return vec![path];
    }
    let circle = |diameter: f64| -> Vec<Point> {
        let corner = |k: usize| (2.0 * PI * k as f64 / CORNERS as f64).sin_cos();
        (0..CORNERS).map(corner).map(|(sin, cos)| [0.5 * diameter * cos, 0.5 * diameter * sin]).collect()
    };
    let own = match &conductor.figure {
        Figure::Round { diameter_m } => vec![circle(*diameter_m)],
        Figure::Ring { inner_diameter_m, outer_diameter_m } => vec![circle(*outer_diameter_m), circle(*inner_diameter_m)],
        Figure::Rectangle { width_m, length_m, .. } => vec![geometry::rectangle_outline(*width_m, *length_m)],
        figure => loops(figure),
    };
    own.iter().map(|l| l.iter().map(|p| conductor.on_cloth(*p)).collect()).collect()
}

/// The box around a plate about its own axes, on the cloth, and half its sides.
fn box_of(conductor: &Conductor) -> (Region, Point) {
    let (own, turned) = aligned_loops(&conductor.figure);
    let (low, high) = own.iter().flatten().fold(([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]), |(low, high), p| {
        ([low[0].min(p[0]), low[1].min(p[1])], [high[0].max(p[0]), high[1].max(p[1])])
    });
    let corners = [low, [high[0], low[1]], high, [low[0], high[1]]];
    let corners = geometry::placed(&corners, turned, [0.0; 2]).iter().map(|p| conductor.on_cloth(*p)).collect();
    (Region::of_loop(corners), [0.5 * (high[0] - low[0]), 0.5 * (high[1] - low[1])])
}

/// Block of two parallel rectangles; `offset` from the first to the second in the frame of the first.
fn aligned(p: &RectangleBasis, q: &RectangleBasis, sides: [f64; 2], turn: f64, offset: Point, kernel: &Kernel) -> DMatrix<f64> {
    let quarters = (turn / FRAC_PI_2).round() as i64;
    let quarter = quarters.rem_euclid(4);
    if quarter == 0 {
        return p.pair_block(q, offset, kernel);
    }
    // The second in the first's frame: sides swapped for odd quarters, and functions with their signs.
    let swapped = quarter % 2 == 1;
    let orders = q.orders();
    let turned = if swapped { RectangleBasis::new(sides[1], sides[0], [orders[1], orders[0]]) } else { *q };
    let block = p.pair_block(&turned, offset, kernel);
    DMatrix::from_fn(p.count(), q.count(), |row, column| {
        let (i, j) = (column / orders[1], column % orders[1]);
        // Along its own x the second points to y (one quarter), -x (two), -y (three); odd functions change sign with it.
        let odd = |function: usize| function % 2 == 1;
        let (at, negative) = match quarter {
            1 => (j * orders[0] + i, odd(j)),
            2 => (i * orders[1] + j, odd(i) != odd(j)),
            _ => (j * orders[0] + i, odd(i)),
        };
        if negative { -block[(row, at)] } else { block[(row, at)] }
    })
}

/// Middles that differ by less are one: no ruler tells.
const ONE_MIDDLE_M: f64 = 1e-9;

/// Whether all conductors are discs and rings around one middle.
fn coaxial(conductors: &[Conductor]) -> bool {
    conductors.iter().all(|c| {
        let apart = (c.centre_m[0] - conductors[0].centre_m[0]).hypot(c.centre_m[1] - conductors[0].centre_m[1]);
        matches!(c.figure, Figure::Round { .. } | Figure::Ring { .. }) && apart <= ONE_MIDDLE_M
    })
}

/// Whether an angle is a multiple of a right angle, to what moves the far end of a metre by a nanometre.
fn right_angle(turn: f64) -> bool {
    let quarters = turn / FRAC_PI_2;
    (quarters - quarters.round()).abs() < 1e-9
}
