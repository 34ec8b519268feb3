//! Any conductors on two planes, all at once.
//!
//! Every conductor is made of parts whose charge is a sum of functions: rectangles and the straight legs of runs
//! ([`RectangleBasis`]), discs ([`DiscBasis`]), and for all other outlines cells of even charge ([`Mesh`]). Galerkin's
//! method gives a symmetric positive definite matrix of potentials, and from it Maxwell's.
//!
//! Between parts potentials are exact where rectangles lie parallel and near, and elsewhere those of point charges near
//! enough to each other for the gap; cells see each other as rectangles that are halved until they are far enough apart.
//!
//! A coarser resolution (two orders lower, cells of twice the size) tells how much is missing: the functions' part falls
//! so fast that it bounds itself, the cells' part falls in proportion to their size and is added.
//!
//! * gives: Maxwell's matrix in F, with a bound for each coefficient
//! * needs: conductors of at most 2 m that do not touch, layers between planes and ground
//! * source: own; Galerkin's method is textbook
//! * accuracy: within the bound that is returned, see the tables of measured accuracy
//! * errors: [`FieldFault`]
//! * example: two discs of 10 mm with 2 mm between them, 5 mm over ground in air: see the tests

use super::super::{Conductor, Figure};
use super::FieldFault;
use super::cells;
use super::dense::Factors;
use super::disc::DiscBasis;
use super::kernel::Kernel;
use super::layers::{Layers, Planes};
use super::memory;
use super::mesh::Mesh;
use super::outline::{loops_of, width_m};
use super::overlap::{Region, without_repeats};
use super::panel::{self, Panel};
use super::rectangle::RectangleBasis;
use super::rules::{MOST_NODES, legendre};
use crate::geometry::Point;
use nalgebra::DMatrix;
use std::collections::HashMap;
use std::f64::consts::FRAC_PI_2;
use std::sync::Arc;

/// Maxwell's matrix with a bound for each coefficient, row by row, F.
pub(super) struct Solved {
    pub(super) maxwell_f: DMatrix<f64>,
    pub(super) error_f: DMatrix<f64>,
}

/// How fine.
#[derive(Debug, Clone, Copy)]
struct Resolution {
    /// Functions along each side of a rectangle.
    sides: usize,
    /// Order on a disc.
    disc: usize,
    /// Cells across the narrowest extent of an outline.
    across: f64,
}

const RESOLUTIONS: [Resolution; 5] = [
    Resolution { sides: 5, disc: 4, across: 12.0 },
    Resolution { sides: 7, disc: 6, across: 16.0 },
    Resolution { sides: 9, disc: 8, across: 28.0 },
    Resolution { sides: 13, disc: 12, across: 48.0 },
    Resolution { sides: 17, disc: 18, across: 80.0 },
];

/// Unknowns beyond which no finer resolution is tried: what takes about a second.
const ENOUGH_UNKNOWNS: usize = 2600;

/// Solves to the relative tolerance, or as far as it goes.
pub(super) fn solve(
    layers: &Layers,
    conductors: &[Conductor],
    regions: &[Region],
    relative_tolerance: f64,
    most_unknowns: usize,
) -> Result<Solved, FieldFault> {
    let mut best: Option<Solved> = None;
    let (mut done, mut level) = (0, 0);
    while let Some(resolution) = RESOLUTIONS.get(level) {
        let scene = Scene::new(layers, conductors, regions, *resolution, 1.0);
        let unknowns = scene.unknowns();
        if unknowns > if best.is_some() { ENOUGH_UNKNOWNS } else { most_unknowns } {
            // Perhaps one that was passed over is still within reach.
            if best.is_some() && level > done + 1 {
                level -= 1;
                continue;
            }
            return best.ok_or(FieldFault::TooMuchWork { unknowns });
        }
        let solved = scene.solved(conductors.len()).ok_or(FieldFault::Contact)?;
        let reached = worst(&solved);
        best = Some(solved);
        if reached <= relative_tolerance {
            break;
        }
        // What cells lack falls as their size: levels that cannot be fine enough are passed over.
        let needed = if scene.has_cells() { 0.7 * resolution.across * reached / relative_tolerance } else { 0.0 };
        (done, level) = (level, level + 1);
        while level + 1 < RESOLUTIONS.len() && RESOLUTIONS[level].across < needed.min(FINEST_JUMP) {
            level += 1;
        }
    }
    best.ok_or(FieldFault::Contact)
}

/// No level is passed over for one finer than this many cells across.
const FINEST_JUMP: f64 = 48.0;

/// Largest relative bound; coefficients that are next to nothing count against a part of their diagonals.
fn worst(solved: &Solved) -> f64 {
    let c = &solved.maxwell_f;
    let share = |i: usize, j: usize| solved.error_f[(i, j)] / c[(i, j)].abs().max(NEXT_TO_NOTHING * (c[(i, i)] * c[(j, j)]).sqrt());
    (0..c.nrows()).flat_map(|i| (0..=i).map(move |j| (i, j))).map(|(i, j)| share(i, j)).fold(0.0, f64::max)
}

/// Coefficients below this part of their diagonals are not worth more work.
const NEXT_TO_NOTHING: f64 = 0.02;

enum Charge {
    Rectangle { basis: RectangleBasis, sides_m: [f64; 2] },
    Disc(DiscBasis),
    Cells(Mesh),
}

struct Part {
    conductor: usize,
    on_top: bool,
    charge: Charge,
    /// Middle; cells lie where their mesh says.
    centre: Point,
    angle: f64,
    region: usize,
    first: usize,
}

struct Scene<'a> {
    layers: &'a Layers,
    conductors: &'a [Conductor],
    regions: &'a [Region],
    resolution: Resolution,
    /// Times the size of the cells.
    coarser: f64,
    parts: Vec<Part>,
    kernels: [Option<Arc<Kernel>>; 3],
}

impl<'a> Scene<'a> {
    fn new(layers: &'a Layers, conductors: &'a [Conductor], regions: &'a [Region], resolution: Resolution, coarser: f64) -> Self {
        let mut scene = Self { layers, conductors, regions, resolution, coarser, parts: Vec::new(), kernels: [None, None, None] };
        for (k, conductor) in conductors.iter().enumerate() {
            for (charge, middle, turn) in scene.charges_of(k) {
                let centre = if matches!(charge, Charge::Cells(_)) { [0.0; 2] } else { conductor.on_cloth(middle) };
                let first = scene.unknowns();
                let (on_top, angle) = (conductor.on_top, conductor.rotation_rad + turn);
                scene.parts.push(Part { conductor: k, on_top, charge, centre, angle, region: k, first });
            }
        }
        let has = |on_top: bool| conductors.iter().any(|c| c.on_top == on_top);
        for (n, planes) in [Planes::Stitched, Planes::Top, Planes::Across].into_iter().enumerate() {
            let needed = match planes {
                Planes::Stitched => has(false),
                Planes::Top => has(true),
                Planes::Across => has(false) && has(true),
            };
            scene.kernels[n] = needed.then(|| memory::kernel(layers, planes));
        }
        scene
    }

    fn unknowns(&self) -> usize {
        self.parts.last().map_or(0, |part| part.first + part.count())
    }

    /// The parts of a conductor: charge, middle about the conductor's origin, further turn.
    fn charges_of(&self, k: usize) -> Vec<(Charge, Point, f64)> {
        let conductor = &self.conductors[k];
        let order = self.resolution.sides;
        match &conductor.figure {
            Figure::Round { diameter_m } if self.room_m(k) > diameter_m / 60.0 => {
                vec![(Charge::Disc(DiscBasis::new(diameter_m / 2.0, self.resolution.disc)), [0.0; 2], 0.0)]
            }
            Figure::Rectangle { width_m, length_m, corner_radius_m } if *corner_radius_m == 0.0 && self.rectangle_has_room(k) => {
                vec![(rectangle([*width_m, *length_m], order), [0.0; 2], 0.0)]
            }
            Figure::Line { points_m, width_m } if self.rectangle_has_room(k) && square_bends(points_m) => {
                let path = without_repeats(points_m);
                let last = path.len() - 2;
                (0..=last)
                    .map(|leg| {
                        let (a, b) = (path[leg], path[leg + 1]);
                        let along = [b[0] - a[0], b[1] - a[1]];
                        let length = along[0].hypot(along[1]);
                        // The corner of a bend belongs to the leg before it.
                        let (start, end) =
                            (if leg > 0 { width_m / 2.0 } else { 0.0 }, length + if leg < last { width_m / 2.0 } else { 0.0 });
                        let middle = 0.5 * (start + end) / length;
                        let extent = end - start;
                        let charge = rectangle([extent, *width_m], order);
                        (charge, [a[0] + middle * along[0], a[1] + middle * along[1]], along[1].atan2(along[0]))
                    })
                    .collect()
            }
            _ => vec![(Charge::Cells(self.mesh(k)), [0.0; 2], 0.0)],
        }
    }

    /// Free space around conductor `k`: to others on its plane, and through the overlay to those that face it.
    fn room_m(&self, k: usize) -> f64 {
        let through = self.layers.overlay_m();
        let apart = |j: usize| {
            let gap = self.regions[k].gap_m(&self.regions[j]);
            if self.conductors[j].on_top == self.conductors[k].on_top { gap } else { gap.hypot(through) }
        };
        (0..self.conductors.len()).filter(|j| *j != k).map(apart).fold(f64::INFINITY, f64::min)
    }

    /// Whether point charges can stand for a rectangle or run towards all that is not parallel to it.
    fn rectangle_has_room(&self, k: usize) -> bool {
        let (me, through) = (&self.conductors[k], self.layers.overlay_m());
        let narrow = match &me.figure {
            Figure::Rectangle { width_m, length_m, .. } => width_m.max(*length_m),
            _ => 0.0,
        };
        (0..self.conductors.len()).filter(|j| *j != k).all(|j| {
            let other = &self.conductors[j];
            let parallel = straight(&other.figure) && right_angle(other.rotation_rad - me.rotation_rad);
            let gap = self.regions[k].gap_m(&self.regions[j]);
            let apart = if other.on_top == me.on_top { gap } else { gap.hypot(through) };
            parallel || apart > narrow / MOST_NODES as f64 || narrow == 0.0
        })
    }

    fn mesh(&self, k: usize) -> Mesh {
        let conductor = &self.conductors[k];
        let loops = loops_of(conductor);
        let size = width_m(&conductor.figure);
        let h = self.coarser * size / self.resolution.across;
        let through = self.layers.overlay_m();
        // Charge varies near another conductor on the scale of its distance.
        let most = |middle: Point, sides: Point| {
            let reach = 0.5 * sides[0].hypot(sides[1]);
            let mut most = f64::INFINITY;
            for (j, region) in self.regions.iter().enumerate().filter(|(j, _)| *j != k) {
                let apart = (region.distance_m(middle) - reach).max(0.0);
                let same = self.conductors[j].on_top == conductor.on_top;
                let clear = if same { apart.max(0.5 * self.regions[k].gap_m(region)) } else { apart.hypot(through) };
                most = most.min(self.coarser * clear.max(2.0 * h));
            }
            most
        };
        Mesh::new(&loops, h, &most)
    }

    fn kernel(&self, a: &Part, b: &Part) -> (&Kernel, f64) {
        let (n, over_m) = match (a.on_top, b.on_top) {
            (false, false) => (0, 0.0),
            (true, true) => (1, 0.0),
            _ => (2, self.layers.overlay_m()),
        };
        (self.kernels[n].as_deref().expect("made for all planes that are used"), over_m)
    }

    /// Potentials of all functions weighted with all: the lower triangle.
    fn matrix(&self) -> DMatrix<f64> {
        let n = self.unknowns();
        let mut matrix = DMatrix::zeros(n, n);
        let mut known: HashMap<[u64; 8], DMatrix<f64>> = HashMap::new();
        for (i, a) in self.parts.iter().enumerate() {
            for b in &self.parts[..=i] {
                let key = likeness(a, b);
                if let Some(block) = key.as_ref().and_then(|key| known.get(key)) {
                    matrix.view_mut((a.first, b.first), (a.count(), b.count())).copy_from(block);
                    continue;
                }
                let block = self.block(a, b);
                matrix.view_mut((a.first, b.first), (a.count(), b.count())).copy_from(&block);
                if let Some(key) = key {
                    known.insert(key, block);
                }
            }
        }
        matrix
    }

    fn block(&self, a: &Part, b: &Part) -> DMatrix<f64> {
        let (kernel, over_m) = self.kernel(a, b);
        if a.first == b.first {
            return match &a.charge {
                Charge::Rectangle { basis, .. } => basis.self_block(kernel),
                Charge::Disc(basis) => basis.self_block(self.layers, a.on_top),
                Charge::Cells(mesh) => {
                    let planes = if a.on_top { Planes::Top } else { Planes::Stitched };
                    cells::potential_matrix(mesh, kernel, self.layers.nearest_m(planes))
                }
            };
        }
        let gap = if a.region == b.region { 0.0 } else { self.regions[a.region].gap_m(&self.regions[b.region]) };
        let clear = gap.hypot(over_m);
        if let (Charge::Rectangle { basis: p, sides_m: s }, Charge::Rectangle { basis: q, sides_m: t }) = (&a.charge, &b.charge) {
            let longest = s.iter().chain(t).fold(0.0, |most: f64, side| most.max(*side));
            let turn = b.angle - a.angle;
            if right_angle(turn) && clear < NEAR * longest {
                let (sin, cos) = a.angle.sin_cos();
                let apart = [b.centre[0] - a.centre[0], b.centre[1] - a.centre[1]];
                let offset = [cos * apart[0] + sin * apart[1], cos * apart[1] - sin * apart[0]];
                return aligned(p, q, *t, turn, offset, kernel);
            }
        }
        match (&a.charge, &b.charge) {
            (Charge::Cells(p), Charge::Cells(q)) => DMatrix::from_fn(p.cells.len(), q.cells.len(), |i, j| {
                panel::mean(kernel, &cell_panel(&p.cells[i]), &cell_panel(&q.cells[j]), over_m)
            }),
            (Charge::Disc(p), Charge::Disc(q)) if over_m > 0.0 => {
                p.across(q, [b.centre[0] - a.centre[0], b.centre[1] - a.centre[1]], self.layers)
            }
            (Charge::Cells(mesh), _) => self.cells_and_points(kernel, mesh, b, clear, over_m),
            (_, Charge::Cells(mesh)) => self.cells_and_points(kernel, mesh, a, clear, over_m).transpose(),
            _ => {
                let ((from, out), (to, back)) = (a.points(clear), b.points(clear));
                let green = DMatrix::from_fn(from.len(), to.len(), |i, j| kernel.at(squared(from[i], to[j])));
                if from.len() >= to.len() { out.tr_mul(&green) * back } else { out.tr_mul(&(green * back)) }
            }
        }
    }

    fn cells_and_points(&self, kernel: &Kernel, mesh: &Mesh, other: &Part, clear_m: f64, over_m: f64) -> DMatrix<f64> {
        let (points, charges) = other.points(clear_m);
        let green = DMatrix::from_fn(mesh.cells.len(), points.len(), |i, j| {
            let point = Panel { middle: points[j], halves: [[0.0; 2]; 2] };
            panel::mean(kernel, &cell_panel(&mesh.cells[i]), &point, over_m)
        });
        green * charges
    }

    fn solved(&self, count: usize) -> Option<Solved> {
        let matrix = self.matrix();
        let fine = self.maxwell(&matrix, count, None)?;
        let coarse = self.maxwell(&matrix, count, Some(&self.kept(2)))?;
        let coarser = self.maxwell(&matrix, count, Some(&self.kept(4)))?;
        // What the functions still lack, judged by what the last ones have added and how fast that falls.
        let added = &fine - &coarse;
        let before = (&coarse - coarser).trace();
        let measured = if before > 0.0 { added.trace() / before } else { 0.0 };
        let (facing, thin) = self.expected_paces();
        let pace = facing.unwrap_or(measured).max(thin).clamp(0.0, SLOWEST);
        let tail = &added * (pace / (1.0 - pace));
        let (mut maxwell, mut error) = (&fine + &tail, DMatrix::zeros(count, count));
        for i in 0..count {
            for j in 0..count {
                let mean = |m: &DMatrix<f64>| (m[(i, i)].max(0.0) * m[(j, j)].max(0.0)).sqrt();
                let lacking = |m: &DMatrix<f64>| m[(i, j)].abs() + SHARE * mean(m);
                error[(i, j)] = ADDED * lacking(&added) + TAIL * lacking(&tail) + FLOOR * lacking(&fine);
                if self.has_bands() {
                    error[(i, j)] += BAND * lacking(&fine);
                }
            }
        }
        if self.has_cells() {
            let twice = Scene::new(self.layers, self.conductors, self.regions, self.resolution, 2.0);
            let rough = twice.maxwell(&twice.matrix(), count, None)?;
            let step = &fine - rough;
            let pace = self.pace();
            for i in 0..count {
                for j in 0..count {
                    let lacking = |m: &DMatrix<f64>| m[(i, j)].abs() + SHARE_OF_CELLS * (m[(i, i)].abs() * m[(j, j)].abs()).sqrt();
                    error[(i, j)] += pace * lacking(&step) + CELLS / self.resolution.across * lacking(&fine);
                }
            }
            maxwell += step;
        }
        Some(Solved { maxwell_f: maxwell, error_f: error })
    }

    /// By what factor the functions' additions fall from one resolution to the next, judged by the layers: where
    /// conductors face each other the rim of one shows on the other blurred by the overlay only, and near a rim charge
    /// changes over twice the distance of the nearest boundary. A function that is analytic within an ellipse around
    /// its interval is met by polynomials at the rate of the ellipse's parameter (S. N. Bernstein 1912, textbook); of
    /// what is left the capacitance feels the square.
    fn expected_paces(&self) -> (Option<f64>, f64) {
        let half = |part: &Part| match &part.charge {
            Charge::Rectangle { sides_m, .. } => 0.5 * sides_m[0].max(sides_m[1]),
            Charge::Disc(basis) => basis.radius_m(),
            Charge::Cells(_) => 0.0,
        };
        let widest = |k: usize| self.parts.iter().filter(|p| p.region == k).map(half).fold(0.0, f64::max);
        let mut facing: Option<f64> = None;
        for a in 0..self.conductors.len() {
            for b in 0..a {
                let half = widest(a).max(widest(b));
                if self.conductors[a].on_top != self.conductors[b].on_top && half > 0.0 && self.regions[a].gap_m(&self.regions[b]) <= 0.0 {
                    let pace = (-4.0 * (self.layers.overlay_m() / half).asinh()).exp();
                    facing = Some(facing.map_or(pace, |f: f64| f.max(pace)));
                }
            }
        }
        let nearest = |part: &Part| self.layers.nearest_m(if part.on_top { Planes::Top } else { Planes::Stitched });
        let thin =
            self.parts.iter().filter(|p| half(p) > 0.0).map(|p| (-2.8 * (4.0 * nearest(p) / half(p)).sqrt()).exp()).fold(0.0, f64::max);
        (facing, thin)
    }

    fn has_cells(&self) -> bool {
        self.parts.iter().any(|part| matches!(part.charge, Charge::Cells(_)))
    }

    /// Whether a narrow band has but three functions across.
    fn has_bands(&self) -> bool {
        self.parts.iter().any(|part| matches!(&part.charge, Charge::Rectangle { basis, .. } if basis.orders().contains(&FEW)))
    }

    /// By which part of a step in cell size the value with the step added may be off: more while the cells are longer
    /// than the nearest boundary is away, because then the steps themselves still grow.
    fn pace(&self) -> f64 {
        let longest = |part: &Part| match &part.charge {
            Charge::Cells(_) => width_m(&self.conductors[part.conductor].figure) / self.resolution.across,
            _ => 0.0,
        };
        let nearest = self.layers.nearest_m(Planes::Stitched).min(self.layers.nearest_m(Planes::Top));
        let h = self.parts.iter().map(longest).fold(0.0, f64::max);
        0.5 * (1.0 + 1.5 * h / nearest)
    }

    /// Unknowns that a resolution of the functions `lower` orders down keeps; all cells.
    fn kept(&self, lower: usize) -> Vec<usize> {
        let kept = |part: &Part| -> Vec<usize> {
            match &part.charge {
                Charge::Rectangle { basis, .. } => basis.coarser(lower, FEW),
                Charge::Disc(basis) => (0..basis.coarser(lower)).collect(),
                Charge::Cells(mesh) => (0..mesh.cells.len()).collect(),
            }
        };
        self.parts.iter().flat_map(|part| kept(part).into_iter().map(|k| part.first + k)).collect()
    }

    /// Maxwell's matrix with all functions, or with some of them.
    fn maxwell(&self, matrix: &DMatrix<f64>, count: usize, kept: Option<&[usize]>) -> Option<DMatrix<f64>> {
        let n = matrix.nrows();
        let mut total = DMatrix::zeros(n, count);
        for part in &self.parts {
            match &part.charge {
                Charge::Cells(mesh) => (0..mesh.cells.len()).for_each(|k| total[(part.first + k, part.conductor)] = 1.0),
                // Only the first function of a part carries charge.
                _ => total[(part.first, part.conductor)] = 1.0,
            }
        }
        let (matrix, total) = match kept {
            None => (matrix.clone(), total),
            Some(kept) => (
                DMatrix::from_fn(kept.len(), kept.len(), |i, j| if i >= j { matrix[(kept[i], kept[j])] } else { 0.0 }),
                DMatrix::from_fn(kept.len(), count, |i, j| total[(kept[i], j)]),
            ),
        };
        let steps = Factors::new(matrix)?.forward(total);
        Some(steps.tr_mul(&steps))
    }
}

/// What may be missing besides the tail, as a part of what the last functions have added.
const ADDED: f64 = 0.5;
/// By which part of itself the tail may be off.
const TAIL: f64 = 1.0;
/// What the functions add never falls more slowly than this from one resolution to the next.
const SLOWEST: f64 = 0.9;
/// Functions across a narrow band at the lower resolutions, and what more would add to it.
const FEW: usize = 3;
const BAND: f64 = 1e-3;
/// What an uneven mesh may be off by besides, times the cells across.
const CELLS: f64 = 0.03;
/// Of the geometric mean of what both lack, what their coefficient may lack.
const SHARE: f64 = 0.03;
/// The same for cells, whose errors are less alike.
const SHARE_OF_CELLS: f64 = 0.1;
/// Kernel table, point charges and rounding.
const FLOOR: f64 = 2e-5;
/// Parallel rectangles nearer than this many of the longest side are taken exactly.
const NEAR: f64 = 0.12;

impl Part {
    fn count(&self) -> usize {
        match &self.charge {
            Charge::Rectangle { basis, .. } => basis.count(),
            Charge::Disc(basis) => basis.count(),
            Charge::Cells(mesh) => mesh.cells.len(),
        }
    }

    /// Point charges on the cloth that stand for the functions towards whatever is `clear_m` away.
    fn points(&self, clear_m: f64) -> (Vec<Point>, DMatrix<f64>) {
        let (mut places, charges) = match &self.charge {
            Charge::Rectangle { basis, sides_m } => {
                let most = sides_m[0].max(sides_m[1]);
                let count = ((NODES_PER_CLEARANCE * 0.5 * most / clear_m).ceil() as usize + 3).min(MOST_NODES);
                basis.nodes(legendre(count))
            }
            Charge::Disc(basis) => basis.nodes(clear_m / NODES_PER_CLEARANCE),
            Charge::Cells(_) => unreachable!("cells are rectangles, not points"),
        };
        let (sin, cos) = self.angle.sin_cos();
        for p in &mut places {
            *p = [self.centre[0] + cos * p[0] - sin * p[1], self.centre[1] + sin * p[0] + cos * p[1]];
        }
        (places, charges)
    }
}

/// Points in the length of the gap that they must bridge: the error falls like exp(-2 pi) for each.
const NODES_PER_CLEARANCE: f64 = 1.7;

/// A rectangle this narrow against its length is a band.
const SLENDER: f64 = 0.2;

fn rectangle(sides_m: [f64; 2], order: usize) -> Charge {
    let longest = sides_m[0].max(sides_m[1]);
    // A narrow band needs few functions across, and more along.
    let orders = sides_m.map(|side| match side / longest {
        share if share < 0.05 => {
            if order < 9 {
                FEW
            } else {
                5
            }
        }
        share if share < SLENDER => order.min(7),
        _ => order,
    });
    let slender = sides_m[0].min(sides_m[1]) < SLENDER * longest;
    let orders = if slender { orders.map(|o| if o == order { (2 * order + 1).min(23) } else { o }) } else { orders };
    Charge::Rectangle { basis: RectangleBasis::new(sides_m[0], sides_m[1], orders), sides_m }
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

fn likeness(a: &Part, b: &Part) -> Option<[u64; 8]> {
    let (Charge::Rectangle { sides_m: s, .. }, Charge::Rectangle { sides_m: t, .. }) = (&a.charge, &b.charge) else { return None };
    if a.first == b.first && a.conductor != b.conductor || a.angle != b.angle {
        return None;
    }
    // On a grid of a nanometre, so that even rows are even to the last bit.
    let grid = |x: f64| ((x * 1e9).round() as i64) as u64;
    let planes = u64::from(a.on_top) | u64::from(b.on_top) << 1 | u64::from(a.first == b.first) << 2;
    let apart = [b.centre[0] - a.centre[0], b.centre[1] - a.centre[1]];
    Some([s[0].to_bits(), s[1].to_bits(), t[0].to_bits(), t[1].to_bits(), grid(apart[0]), grid(apart[1]), planes, a.angle.to_bits()])
}

fn cell_panel(cell: &super::mesh::Cell) -> Panel {
    Panel { middle: cell.middle, halves: [[0.5 * cell.sides[0], 0.0], [0.0, 0.5 * cell.sides[1]]] }
}

fn squared(p: Point, q: Point) -> f64 {
    let (x, y) = (p[0] - q[0], p[1] - q[1]);
    x * x + y * y
}

/// Whether an angle is a multiple of a right angle, to what moves the far end of a metre by a nanometre.
fn right_angle(turn: f64) -> bool {
    let quarters = turn / FRAC_PI_2;
    (quarters - quarters.round()).abs() < 1e-9
}

fn straight(figure: &Figure) -> bool {
    match figure {
        Figure::Rectangle { corner_radius_m, .. } => *corner_radius_m == 0.0,
        Figure::Line { points_m, .. } => {
            square_bends(points_m) && {
                let path = without_repeats(points_m);
                right_angle((path[1][1] - path[0][1]).atan2(path[1][0] - path[0][0]))
            }
        }
        _ => false,
    }
}

/// Whether a path turns by right angles alone, and not back on itself.
fn square_bends(points: &[Point]) -> bool {
    let path = without_repeats(points);
    path.windows(3).all(|w| {
        let (u, v) = ([w[1][0] - w[0][0], w[1][1] - w[0][1]], [w[2][0] - w[1][0], w[2][1] - w[1][1]]);
        (u[0] * v[0] + u[1] * v[1]).abs() < 1e-9 * u[0].hypot(u[1]) * v[0].hypot(v[1])
    })
}
