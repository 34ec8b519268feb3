//! Any conductors on the two planes, all at once.
//!
//! Each conductor brings its functions of charge ([`Plate`], [`Run`]), every pair the potentials between them; one positive
//! definite system holds them all, and Maxwell's matrix follows from the charges that hold one conductor after the other at
//! 1 V. The whole is done on two meshes, the second twice as coarse: the error falls in proportion to the mesh, so that
//! twice the finer answer less the coarser one is the result, and their difference tells how far it can be off. Leaving out
//! the highest functions of each conductor tells what still higher ones might bring.
//!
//! * gives: Maxwell's matrix in farad with a bound, charge densities in C/m²
//! * needs: outlines without faults of their own; at most [`super::WIDEST_M`] wide; relative tolerance 1e-9 to 1, a wish:
//!   the bound tells what was reached
//! * assumes: thin, perfectly conducting plates; flat endless layers; rows of thread as plates at another height
//! * source: own; Galerkin's method and extrapolation to the limit (L. F. Richardson 1911) are textbook
//! * accuracy: within the bound returned; see the tests
//! * errors: [`FieldFault`]
//! * example: a 20 mm square pad on 3 mm of felt (1.4) under 1 mm of felt and a 9 mm fingertip: 3.864 pF, -1.127 pF,
//!   1.198 pF

use super::super::closed_form::RowOffset;
use super::super::{Conductor, ConductorMatrix, Figure, Ground, Medium, Method, Notes};
use super::dense::Factors;
use super::kernel::Kernel;
use super::layers::{Layers, Planes};
use super::mesh::{Grading, Mesh, box_distance};
use super::nodes::{ellipse, potentials};
use super::overlap::{Region, without_repeats};
use super::panel;
use super::plate::{Frame, Plate, aligned_loops, loops};
use super::run::{MOST_MODES, Profiles, Run};
use super::{FieldFault, MOST_UNKNOWNS, WIDEST_M, memory};
use crate::geometry::Point;
use nalgebra::DMatrix;
use std::sync::Arc;

/// A field solved.
#[derive(Debug)]
pub struct Solution {
    /// Maxwell's matrix.
    pub matrix: ConductorMatrix,
    bodies: Vec<Body>,
    /// Amounts of all functions, for each conductor at 1 V.
    amounts: DMatrix<f64>,
}

impl Solution {
    /// Charge density of a conductor at a point on the cloth, C/m², for potentials of all conductors in volt; 0 off the
    /// conductor. It is even over each cell of the mesh, at an edge therefore finite.
    pub fn density(&self, conductor: usize, point_m: Point, potentials: &[f64]) -> f64 {
        let body = &self.bodies[conductor];
        let amounts: Vec<f64> =
            (body.first..body.first + body.count).map(|f| self.amounts.row(f).iter().zip(potentials).map(|(a, v)| a * v).sum()).collect();
        match &body.charge {
            Charge::Plate(plate, frame) => plate.density(frame.back(point_m), &amounts),
            Charge::Run(run) => run.density(point_m, &amounts),
        }
    }
}

impl Solution {
    /// Unknowns of the finer mesh.
    pub fn unknowns(&self) -> usize {
        self.amounts.nrows()
    }
}

/// Maxwell's matrix of any conductors, and their charge.
pub fn solve(medium: &Medium<'_>, conductors: &[Conductor], relative_tolerance: f64) -> Result<Solution, FieldFault> {
    let scene = Scene::new(medium, conductors, relative_tolerance)?;
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
    conductors: &'a [Conductor],
    regions: Vec<Region>,
    /// Outlines on the cloth; of a run its path.
    outlines: Vec<Vec<Vec<Point>>>,
    kernels: [Arc<Kernel>; 3],
    layers: Layers,
    over_m: f64,
    tolerance: f64,
    plans: Vec<Plan>,
    notes: Notes,
    /// Bound of what one plane for rows at unlike heights takes.
    rows_error: f64,
}

/// How a conductor is to be written down.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Plan {
    /// Of a plate four times its area over its perimeter, of a run its width, m.
    size_m: f64,
    /// Of the polynomials that a plate answers to, along its own x and y.
    degrees: [usize; 2],
    /// Each cell for itself instead.
    every_cell: bool,
    /// Profiles across a run.
    modes: usize,
    /// Distance of the nearest other conductor, m.
    nearest_m: f64,
}

#[derive(Debug)]
enum Charge {
    Plate(Arc<Plate>, Frame),
    Run(Box<Run>),
}

#[derive(Debug)]
struct Body {
    charge: Charge,
    first: usize,
    count: usize,
    on_top: bool,
}

/// Highest degree of the polynomials; neighbours that would need more see every cell.
const HIGHEST_DEGREE: usize = 14;
/// Degree of the polynomials over what brings the potential itself to the tolerance: the capacitance errs by less.
const DEGREES: f64 = 0.75;

impl<'a> Scene<'a> {
    fn new(medium: &Medium<'_>, conductors: &'a [Conductor], relative_tolerance: f64) -> Result<Self, FieldFault> {
        for (i, conductor) in conductors.iter().enumerate() {
            let extent_m = Region::new(&Conductor { rotation_rad: 0.0, ..conductor.clone() }).extent_m();
            if extent_m > WIDEST_M {
                return Err(FieldFault::TooWide { conductor: i, extent_m });
            }
        }
        let regions: Vec<Region> = conductors.iter().map(Region::new).collect();
        for second in 1..conductors.len() {
            for first in 0..second {
                let same_plane = conductors[first].on_top == conductors[second].on_top;
                if same_plane
                    && regions[first].gap_at_least_m(&regions[second]) <= 0.0
                    && regions[first].gap_m(&regions[second]) <= TOUCHING_M
                {
                    return Err(FieldFault::Overlap { first, second });
                }
            }
        }
        let (layers, notes, rows_error) = layers_of(medium, conductors);
        let (up, down) = (conductors.iter().any(|c| c.on_top), conductors.iter().any(|c| !c.on_top));
        let grounded = layers.ground() == Ground::Plane;
        let no_base = grounded && layers.base_m() <= 0.0;
        if (no_base && (down || layers.overlay_m() <= 0.0)) || (up && down && layers.overlay_m() <= 0.0) {
            return Err(FieldFault::Contact);
        }
        let outlines = conductors
            .iter()
            .map(|c| {
                let own = match &c.figure {
                    Figure::Line { points_m, .. } => vec![without_repeats(points_m)],
                    figure => loops(figure),
                };
                own.iter().map(|l| l.iter().map(|p| c.on_cloth(*p)).collect()).collect()
            })
            .collect();
        let kernels = [Planes::Stitched, Planes::Top, Planes::Across].map(|planes| memory::kernel(&layers, planes));
        let mut scene = Self {
            conductors,
            regions,
            outlines,
            kernels,
            over_m: layers.overlay_m(),
            layers,
            tolerance: relative_tolerance.clamp(1e-9, 1.0),
            plans: Vec::new(),
            notes,
            rows_error,
        };
        scene.plans = (0..conductors.len()).map(|i| scene.plan(i)).collect();
        scene.share_degrees();
        Ok(scene)
    }

    /// Distance between the planes of two conductors.
    fn over(&self, i: usize, j: usize) -> f64 {
        if self.conductors[i].on_top == self.conductors[j].on_top { 0.0 } else { self.over_m }
    }

    fn kernel(&self, i: usize, j: usize) -> &Kernel {
        match (self.conductors[i].on_top, self.conductors[j].on_top) {
            (false, false) => &self.kernels[0],
            (true, true) => &self.kernels[1],
            _ => &self.kernels[2],
        }
    }

    /// How well potentials between conductors are to be held.
    fn precision(&self) -> f64 {
        (0.03 * self.tolerance).clamp(1e-7, 1e-4)
    }

    fn plan(&self, i: usize) -> Plan {
        let others = (0..self.conductors.len()).filter(|j| *j != i);
        if let Figure::Line { width_m, .. } = self.conductors[i].figure {
            let half = 0.5 * width_m;
            let mut modes = 1;
            for j in others {
                let rough = self.regions[i].gap_at_least_m(&self.regions[j]).hypot(self.over(i, j));
                if rough > 30.0 * width_m {
                    continue;
                }
                let gap = self.regions[i].gap_m(&self.regions[j]);
                let axis = (gap + half).hypot(self.over(i, j));
                // A strip next to a line charge at this distance: its dipole lowers the potential by (a/2d)² of what
                // the logarithm holds, the next moment by the square of that.
                let share = (0.5 * half / axis).powi(2);
                modes = modes.max(if share * share > 0.1 * self.tolerance {
                    3
                } else if share > 0.1 * self.tolerance {
                    2
                } else {
                    1
                });
            }
            return Plan { size_m: width_m, degrees: [0; 2], every_cell: false, modes: modes.min(MOST_MODES), nearest_m: f64::INFINITY };
        }
        let placed = self.conductors[i].figure.outline();
        let (area, perimeter) = area_and_perimeter(&placed);
        let around = box_of(&self.conductors[i]);
        let mut plan = Plan { size_m: 4.0 * area / perimeter, degrees: [0; 2], every_cell: false, modes: 0, nearest_m: f64::INFINITY };
        for j in others {
            if self.regions[i].gap_at_least_m(&self.regions[j]).hypot(self.over(i, j)) < plan.nearest_m {
                plan.nearest_m = plan.nearest_m.min(self.regions[i].gap_m(&self.regions[j]).hypot(self.over(i, j)));
            }
            let gap = around.0.gap_m(&self.regions[j]);
            for k in 0..2 {
                let rate = ellipse(around.1[k], gap, self.over(i, j));
                let degree = if rate > 0.0 { (-DEGREES * self.tolerance.ln() / rate).ceil() } else { f64::INFINITY };
                if degree > HIGHEST_DEGREE as f64 {
                    plan.every_cell = true;
                } else {
                    plan.degrees[k] = plan.degrees[k].max(degree as usize).max(1);
                }
            }
        }
        plan
    }

    /// Plates of one figure get one degree, so that they can share their functions.
    fn share_degrees(&mut self) {
        for i in 0..self.plans.len() {
            let same = |j: &usize| self.conductors[*j].figure == self.conductors[i].figure && !self.plans[*j].every_cell;
            if !self.plans[i].every_cell {
                let alike = (0..self.plans.len()).filter(same);
                let degrees = alike.fold([0; 2], |d: [usize; 2], j| std::array::from_fn(|k| d[k].max(self.plans[j].degrees[k])));
                let nearest = (0..self.plans.len()).filter(same).map(|j| self.plans[j].nearest_m).fold(f64::INFINITY, f64::min);
                self.plans[i].degrees = degrees;
                self.plans[i].nearest_m = nearest;
            }
        }
    }

    fn solve(&self, coarseness: f64) -> Result<Solution, FieldFault> {
        let fine = Level::new(self, coarseness)?;
        let coarse = Level::new(self, 2.0 * coarseness)?;
        let n = self.conductors.len();
        let system = fine.system(self);
        let lower = fine.without_highest(self, &system);
        let no_solution = FieldFault::TooMuchWork { unknowns: fine.functions };
        let factors = Factors::new(system).ok_or(no_solution)?;
        let half = factors.forward(fine.sources());
        let finer = half.tr_mul(&half);
        let amounts = factors.backward(half);
        let half = Factors::new(coarse.system(self)).ok_or(no_solution)?.forward(coarse.sources());
        let coarser = half.tr_mul(&half);
        let mut maxwell = DMatrix::zeros(n, n);
        let mut error = DMatrix::zeros(n, n);
        for i in 0..n {
            for j in 0..n {
                maxwell[(i, j)] = 2.0 * finer[(i, j)] - coarser[(i, j)];
                let missing = lower.as_ref().map_or(0.0, |lower| (finer[(i, j)] - lower[(i, j)]).abs());
                let left_over = if i == j { LEFT_OVER } else { LEFT_OVER_BETWEEN };
                error[(i, j)] = left_over * (finer[(i, j)] - coarser[(i, j)]).abs() + missing;
            }
        }
        #[cfg(test)]
        if std::env::var("DBG").is_ok() { println!("f {finer:.5e} c {coarser:.5e} l {:?} functions {} {}", lower, fine.functions, coarse.functions); }
        settle_signs(&mut maxwell, &mut error);
        let size = |i: usize, j: usize| maxwell[(i, j)].abs().max(SMALLEST_ENTRY * (maxwell[(i, i)] * maxwell[(j, j)]).sqrt());
        let worst = |diagonal: bool| {
            let entries = (0..n).flat_map(|i| (0..=i).map(move |j| (i, j))).filter(|(i, j)| !diagonal || i == j);
            entries.map(|(i, j)| error[(i, j)] / size(i, j)).fold(0.0, f64::max) + 3.0 * self.precision() + self.rows_error
        };
        let (relative_error, diagonal_error) = (worst(false), worst(true));
        let matrix = ConductorMatrix {
            maxwell_f: maxwell.as_slice().to_vec(),
            count: n,
            relative_error,
            diagonal_error,
            valid: relative_error.is_finite() && relative_error < 1.0,
            notes: self.notes,
            method: Method::SolvedConductors,
        };
        Ok(Solution { matrix, bodies: fine.bodies, amounts })
    }

    /// Longest side of a cell (or piece) that a box may have for the sake of the other conductors of which each cell is a
    /// function.
    fn neighbours_allow(&self, i: usize, frame: &Frame, middle: Point, sides: Point, coarseness: f64) -> f64 {
        let mut most = f64::INFINITY;
        for j in (0..self.conductors.len()).filter(|j| *j != i) {
            let over = self.over(i, j);
            let size = sides[0].max(sides[1]);
            let centre = frame.put(middle);
            let far = self.regions[j].line_at_least_m([centre, centre]) - size;
            if far > size {
                continue;
            }
            for outline in &self.outlines[j] {
                for k in 0..outline.len() {
                    let ends = [outline[k], outline[(k + 1) % outline.len()]].map(|p| frame.back(p));
                    most = most.min(box_distance(middle, sides, ends).hypot(over));
                }
            }
            let gap = self.regions[i].gap_m(&self.regions[j]).hypot(over);
            most = most.max(0.7 * gap);
        }
        most * coarseness
    }

    /// Longest piece of a run between two points on the cloth.
    fn piece_allowed(&self, i: usize, line: [Point; 2], h_m: f64, coarseness: f64) -> f64 {
        let own = &self.outlines[i][0];
        let length = (line[1][0] - line[0][0]).hypot(line[1][1] - line[0][1]);
        let distance = |p: Point| crate::geometry::distance(&line, &[p]);
        let mut most = f64::INFINITY;
        for (k, p) in own.iter().enumerate() {
            let end = k == 0 || k + 1 == own.len();
            most = most.min(coarseness * if end { h_m } else { 2.0 * h_m } + distance(*p));
        }
        for j in (0..self.conductors.len()).filter(|j| *j != i) {
            let region = &self.regions[j];
            let over = self.over(i, j);
            if region.line_at_least_m(line).hypot(over) > length {
                continue;
            }
            let nearest = match self.conductors[j].figure {
                Figure::Line { .. } => {
                    let path = &self.outlines[j][0];
                    let ends = path.iter().map(|p| distance(*p));
                    let direction = |l: &[Point]| [l[1][0] - l[0][0], l[1][1] - l[0][1]];
                    let along = direction(&line);
                    // A leg that runs alongside changes nothing from place to place.
                    let crossing = |leg: &&[Point]| {
                        let d = direction(leg);
                        (along[0] * d[1] - along[1] * d[0]).abs() > 0.02 * length * d[0].hypot(d[1])
                    };
                    let legs = path.windows(2).filter(crossing).map(|leg| crate::geometry::distance(&line, leg));
                    ends.chain(legs).fold(f64::INFINITY, f64::min)
                }
                _ => region.distance_of_line_m(line),
            };
            most = most.min(nearest.hypot(over).max(2.0 * h_m) * NEIGHBOUR_PIECE);
        }
        most * coarseness.max(1.0)
    }
}

/// Conductors nearer than this touch, m.
const TOUCHING_M: f64 = 1e-9;
/// What extrapolation leaves of the difference between the two meshes; see the tests.
const LEFT_OVER: f64 = 0.3;
/// The same between two conductors, where the error sets in later to fall with the mesh.
const LEFT_OVER_BETWEEN: f64 = 0.5;
/// Entries smaller than this share of the diagonals count as that large.
const SMALLEST_ENTRY: f64 = 1e-6;
/// Length of a run's piece over the distance of what passes by.
const NEIGHBOUR_PIECE: f64 = 1.0;

/// The bodies on one mesh.
struct Level {
    bodies: Vec<Body>,
    functions: usize,
}

impl Level {
    fn new(scene: &Scene<'_>, coarseness: f64) -> Result<Self, FieldFault> {
        let mut level = Self { bodies: Vec::new(), functions: 0 };
        let mut plates: Vec<(usize, Arc<Plate>)> = Vec::new();
        let mut profiles: Vec<(f64, bool, Profiles)> = Vec::new();
        // Cells per size that the tolerance asks for: a bound of about 0.06 over that.
        let cells = (0.09 / scene.tolerance).clamp(12.0, 300.0);
        let height = match scene.layers.ground() {
            Ground::Plane => scene.layers.base_m(),
            Ground::None => f64::INFINITY,
        };
        for (i, conductor) in scene.conductors.iter().enumerate() {
            let plan = &scene.plans[i];
            let planes = if conductor.on_top { Planes::Top } else { Planes::Stitched };
            let kernel = scene.kernel(i, i);
            let height = if conductor.on_top { height + scene.over_m } else { height };
            let too_much = |unknowns: usize| FieldFault::TooMuchWork { unknowns };
            let charge = match &conductor.figure {
                Figure::Line { width_m, .. } => {
                    let path = &scene.outlines[i][0];
                    let place = profiles.iter().position(|(w, top, _)| w == width_m && *top == conductor.on_top);
                    let place = place.unwrap_or_else(|| {
                        let length = crate::electrostatics::path_length(path).max(*width_m);
                        // The error falls with the square of the strips, so that both meshes differ by a factor of 2.
                        let strips = (STRIPS / (0.5 * coarseness).max(0.5).sqrt()) as usize;
                        profiles.push((*width_m, conductor.on_top, Profiles::new(*width_m, length, strips, kernel)));
                        profiles.len() - 1
                    });
                    let allowed = |line: [Point; 2]| scene.piece_allowed(i, line, 0.25 * width_m, coarseness);
                    Charge::Run(Box::new(Run::new(path, plan.modes, &mut profiles[place].2, kernel, &allowed, scene.precision())))
                }
                figure => {
                    let (outline, turned) = aligned_loops(figure);
                    let (sin, cos) = (conductor.rotation_rad + turned).sin_cos();
                    let frame = Frame { centre_m: conductor.centre_m, turn: [sin, cos] };
                    let same = |(j, _): &&(usize, Arc<Plate>)| {
                        let other = &scene.conductors[*j];
                        !plan.every_cell && other.figure == *figure && other.on_top == conductor.on_top
                    };
                    if let Some((_, plate)) = plates.iter().find(same) {
                        Charge::Plate(Arc::clone(plate), frame)
                    } else {
                        let smooth = scene.layers.nearest_m(planes);
                        let by_gap = (20.0 * scene.tolerance).clamp(0.03, 0.25) * plan.nearest_m;
                        let h_m = (plan.size_m / cells).min(0.25 * height).min(by_gap) * coarseness;
                        let grading = Grading { h_m, flat_m: height };
                        let near = |middle, sides| {
                            if plan.every_cell { scene.neighbours_allow(i, &frame, middle, sides, coarseness) } else { f64::INFINITY }
                        };
                        let mesh = Mesh::new(&outline, grading, &near);
                        if mesh.cells.len() > MOST_CELLS {
                            return Err(too_much(mesh.cells.len()));
                        }
                        let plate = if plan.every_cell {
                            Arc::new(Plate::every_cell(mesh, kernel, smooth))
                        } else {
                            let unknowns = mesh.cells.len();
                            let plate = Arc::new(Plate::answering(mesh, kernel, smooth, plan.degrees).ok_or(too_much(unknowns))?);
                            plates.push((i, Arc::clone(&plate)));
                            plate
                        };
                        Charge::Plate(plate, frame)
                    }
                }
            };
            let count = match &charge {
                Charge::Plate(plate, _) => plate.totals().len(),
                Charge::Run(run) => run.totals().len(),
            };
            level.bodies.push(Body { charge, first: level.functions, count, on_top: conductor.on_top });
            level.functions += count;
            if level.functions > MOST_UNKNOWNS {
                return Err(too_much(level.functions));
            }
        }
        Ok(level)
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
    fn system(&self, scene: &Scene<'_>) -> DMatrix<f64> {
        let mut system = DMatrix::zeros(self.functions, self.functions);
        for (i, body) in self.bodies.iter().enumerate() {
            let own = match &body.charge {
                Charge::Plate(plate, _) => plate.own(),
                Charge::Run(run) => run.own(),
            };
            system.view_mut((body.first, body.first), (body.count, body.count)).copy_from(own);
            for (j, other) in self.bodies[..i].iter().enumerate() {
                let block = self.block(scene, i, j);
                system.view_mut((body.first, other.first), (body.count, other.count)).copy_from(&block);
            }
        }
        system
    }

    fn block(&self, scene: &Scene<'_>, i: usize, j: usize) -> DMatrix<f64> {
        let (kernel, over) = (scene.kernel(i, j), scene.over(i, j));
        let (a, b) = (&self.bodies[i].charge, &self.bodies[j].charge);
        if let (Charge::Plate(p, at_p), Charge::Plate(q, at_q)) = (a, b)
            && p.is_every_cell()
            && q.is_every_cell()
        {
            let (p, q) = (p.panels(at_p), q.panels(at_q));
            return DMatrix::from_fn(p.len(), q.len(), |i, j| panel::mean(kernel, &p[i], &q[j], over));
        }
        let nodes = |charge: &Charge, other: usize| match charge {
            Charge::Plate(plate, frame) => plate.nodes(frame, &scene.regions[other], over, scene.precision()),
            Charge::Run(run) => run.nodes(&scene.regions[other], over, scene.precision()),
        };
        potentials(kernel, &nodes(a, j), &nodes(b, i))
    }

    /// The matrix with the highest polynomials and profiles left out; nothing where there are none.
    fn without_highest(&self, scene: &Scene<'_>, system: &DMatrix<f64>) -> Option<DMatrix<f64>> {
        let mut kept = Vec::with_capacity(self.functions);
        for (body, plan) in self.bodies.iter().zip(&scene.plans) {
            let highest = |f: usize| match &body.charge {
                Charge::Plate(plate, _) => plate.highest()[f],
                Charge::Run(_) => plan.modes > 1 && f % plan.modes == plan.modes - 1,
            };
            kept.extend((0..body.count).filter(|f| !highest(*f)).map(|f| body.first + f));
        }
        if kept.len() == self.functions {
            return None;
        }
        let reduced = DMatrix::from_fn(kept.len(), kept.len(), |i, j| if i < j { 0.0 } else { system[(kept[i], kept[j])] });
        let sources = self.sources();
        let sources = DMatrix::from_fn(kept.len(), sources.ncols(), |i, j| sources[(kept[i], j)]);
        let half = Factors::new(reduced)?.forward(sources);
        Some(half.tr_mul(&half))
    }
}

impl Body {
    fn totals(&self) -> &[f64] {
        match &self.charge {
            Charge::Plate(plate, _) => plate.totals(),
            Charge::Run(run) => run.totals(),
        }
    }
}

/// Strips across a run on the finer mesh.
const STRIPS: f64 = 24.0;
/// Most cells of one plate.
const MOST_CELLS: usize = 4000;

/// The box around a conductor about its own axes, on the cloth, and half its sides.
fn box_of(conductor: &Conductor) -> (Region, Point) {
    let (own, turned) = aligned_loops(&conductor.figure);
    let (low, high) = own.iter().flatten().fold(([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]), |(low, high), p| {
        ([low[0].min(p[0]), low[1].min(p[1])], [high[0].max(p[0]), high[1].max(p[1])])
    });
    let corners = [low, [high[0], low[1]], high, [low[0], high[1]]];
    let corners = crate::geometry::placed(&corners, turned, [0.0; 2]).iter().map(|p| conductor.on_cloth(*p)).collect();
    (Region::of_loop(corners), [0.5 * (high[0] - low[0]), 0.5 * (high[1] - low[1])])
}

fn area_and_perimeter(outline: &super::super::Outline) -> (f64, f64) {
    use super::super::Outline;
    use std::f64::consts::PI;
    match outline {
        Outline::Round { diameter_m: d } => (PI * d * d / 4.0, PI * d),
        Outline::Rectangle { width_m: w, length_m: l, corner_radius_m: r } => {
            (w * l - (4.0 - PI) * r * r, 2.0 * (w + l) - (8.0 - 2.0 * PI) * r)
        }
        Outline::Ring { inner_diameter_m: i, outer_diameter_m: o } => (PI * (o * o - i * i) / 4.0, PI * (o + i)),
        Outline::Polygon { area_m2, perimeter_m, .. } => (*area_m2, *perimeter_m),
    }
}

/// The layers with the plates that stand for rows, what is to be noted, and a bound of what unlike rows cost.
fn layers_of(medium: &Medium<'_>, conductors: &[Conductor]) -> (Layers, Notes, f64) {
    let offsets: Vec<RowOffset> = conductors.iter().filter(|c| !c.on_top).map(|c| RowOffset::new(medium, c.rows)).collect();
    if offsets.is_empty() {
        return (Layers::new(medium, None), Notes::NONE, 0.0);
    }
    let count = offsets.len() as f64;
    let below = offsets.iter().map(|o| o.below_m).sum::<f64>() / count;
    let above = offsets.iter().map(|o| o.above_m).sum::<f64>() / count;
    let notes = offsets.iter().fold(Notes::NONE, |notes, o| notes.union(o.notes));
    let layers = Layers::thickened(medium, below, above);
    let off = offsets.iter().map(|o| (o.below_m - below).abs().max((o.above_m - above).abs())).fold(0.0, f64::max);
    // A plate's capacitance goes at most as one over its height; between the planes, as one over the overlay.
    let mut heights = Vec::new();
    if medium.ground == Ground::Plane {
        heights.push(layers.base_m());
    }
    if conductors.iter().any(|c| c.on_top) {
        heights.push(layers.overlay_m());
    }
    let height = heights.into_iter().fold(f64::INFINITY, f64::min);
    let rows_error = if off > 0.0 && height > 0.0 { off / height.min(1e3 * off) } else { 0.0 };
    (layers, notes, rows_error)
}

/// No coefficient between two conductors is positive and no row sums to less than nothing; where the mesh leaves a trace of
/// that, it is taken away and put to the error.
fn settle_signs(maxwell: &mut DMatrix<f64>, error: &mut DMatrix<f64>) {
    let n = maxwell.nrows();
    for i in 0..n {
        for j in 0..n {
            if i != j && maxwell[(i, j)] > 0.0 {
                error[(i, j)] += maxwell[(i, j)];
                maxwell[(i, j)] = 0.0;
            }
        }
    }
    for i in 0..n {
        let others: f64 = (0..n).filter(|j| *j != i).map(|j| -maxwell[(i, j)]).sum();
        if others > maxwell[(i, i)] {
            error[(i, i)] += others - maxwell[(i, i)];
            maxwell[(i, i)] = others;
        }
    }
}
