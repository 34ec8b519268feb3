//! A plate among other conductors: the functions that its charge is made of, or the few that matter.
//!
//! Rectangles, discs and rings have functions that hold their edges ([`RectangleBasis`], [`DiscBasis`], [`AnnulusBasis`]); any
//! other outline is cells of even charge ([`Mesh`]). Seen from other conductors some way off, a plate does no more than answer
//! to the potential that they cause on it, which is smooth there. The charges that answer to the polynomials up to some
//! degree are then all the functions it needs, a few dozen for hundreds. Next to a close neighbour they stay all.
//!
//! * gives: the potentials of the functions among themselves, 1/F; point charges that stand for them; densities
//! * needs: a base about the plate's own origin; degrees of the polynomials, or none
//! * source: own; Galerkin's method, R. F. Harrington, Field Computation by Moment Methods (1968), from memory
//! * accuracy: that of the base. With cells the error falls in proportion to the mesh's h, and two meshes extrapolated
//!   leave about a tenth of the finer's: a square of 4 mm on 20 mm (1) under 10 mm (8) by 484 cells is 0.32 % low,
//!   extrapolated 0.014 %
//! * errors: nothing where rounding makes the matrix indefinite
//! * example: see the accuracy above

use super::annulus::AnnulusBasis;
use super::cells;
use super::dense::Factors;
use super::disc::DiscBasis;
use super::kernel::Kernel;
use super::layers::{Layers, Planes};
use super::mesh::{Cell, Mesh};
use super::nodes::{Nodes, Shares, at_points, nodes_for};
use super::overlap::Region;
use super::panel::Panel;
use super::rectangle::RectangleBasis;
use super::rules;
use crate::geometry::Point;
use nalgebra::DMatrix;
use std::sync::OnceLock;

/// A turn about the origin, then a move.
#[derive(Debug, Clone, Copy)]
pub(in crate::electrostatics) struct Frame {
    /// Where the origin goes, m.
    pub(in crate::electrostatics) centre_m: Point,
    /// Sine and cosine of the turn.
    pub(in crate::electrostatics) turn: [f64; 2],
}

impl Frame {
    /// Where a point goes.
    pub(in crate::electrostatics) fn put(&self, p: Point) -> Point {
        let v = self.vector(p);
        [self.centre_m[0] + v[0], self.centre_m[1] + v[1]]
    }

    /// Where a vector goes.
    pub(in crate::electrostatics) fn vector(&self, p: Point) -> Point {
        let [sin, cos] = self.turn;
        [cos * p[0] - sin * p[1], sin * p[0] + cos * p[1]]
    }

    /// Where a point comes from.
    pub(in crate::electrostatics) fn back(&self, p: Point) -> Point {
        let [sin, cos] = self.turn;
        let v = [p[0] - self.centre_m[0], p[1] - self.centre_m[1]];
        [cos * v[0] + sin * v[1], -sin * v[0] + cos * v[1]]
    }
}

/// What the charge of a plate is made of, about its own origin.
#[derive(Debug)]
pub(in crate::electrostatics) enum Base {
    /// Cells of even charge.
    Cells(Mesh),
    /// Functions on a rectangle of these sides, m.
    Rectangle(RectangleBasis, Point),
    /// Functions on a disc.
    Disc(DiscBasis),
    /// Functions on a ring.
    Ring(AnnulusBasis),
}

impl Base {
    fn count(&self) -> usize {
        match self {
            Self::Cells(mesh) => mesh.cells.len(),
            Self::Rectangle(basis, _) => basis.count(),
            Self::Disc(basis) => basis.count(),
            Self::Ring(basis) => basis.count(),
        }
    }

    fn totals(&self) -> Vec<f64> {
        match self {
            Self::Cells(mesh) => vec![1.0; mesh.cells.len()],
            Self::Ring(basis) => basis.charges(),
            // Only the first function carries charge.
            _ => (0..self.count()).map(|f| if f == 0 { 1.0 } else { 0.0 }).collect(),
        }
    }

    /// Potentials of all functions among themselves: the lower triangle.
    fn own(&self, kernel: &Kernel, layers: &Layers, on_top: bool) -> DMatrix<f64> {
        match self {
            Self::Cells(mesh) => {
                let planes = if on_top { Planes::Top } else { Planes::Stitched };
                cells::potential_matrix(mesh, kernel, layers.nearest_m(planes))
            }
            Self::Rectangle(basis, _) => basis.self_block(kernel),
            Self::Disc(basis) => basis.self_block(layers, on_top),
            Self::Ring(basis) => basis.self_block(kernel),
        }
    }

    /// Which functions are of the last two orders.
    fn highest(&self) -> Vec<bool> {
        let mut highest = vec![true; self.count()];
        match self {
            Self::Cells(_) => highest.fill(false),
            Self::Rectangle(basis, _) => basis.coarser(2, 1).into_iter().for_each(|f| highest[f] = false),
            Self::Disc(basis) => highest[..basis.coarser(2)].fill(false),
            Self::Ring(basis) => (0..basis.count()).for_each(|f| highest[f] = basis.is_highest(f)),
        }
        highest
    }

    /// Middle and half-sides of the box around it.
    fn extent(&self) -> (Point, Point) {
        match self {
            Self::Cells(mesh) => {
                let half = mesh.size.map(|side| 0.5 * side);
                ([mesh.corner[0] + half[0], mesh.corner[1] + half[1]], half)
            }
            Self::Rectangle(_, sides) => ([0.0; 2], sides.map(|side| 0.5 * side)),
            Self::Disc(basis) => ([0.0; 2], [basis.radius_m(); 2]),
            Self::Ring(basis) => ([0.0; 2], [basis.outer_m(); 2]),
        }
    }

    /// Means of products of functions along x and y, weighted with the charge of each function: functions by products. The
    /// functions of a place in the box, -1 to 1, are filled in by `values`; `pairs` names those along x and y that
    /// belong together.
    fn means(&self, along: usize, values: &dyn Fn(f64, &mut [f64]), pairs: &[[usize; 2]]) -> DMatrix<f64> {
        let (middle, half) = self.extent();
        let mut at = vec![0.0; along];
        match self {
            Self::Cells(mesh) => {
                let mut means = DMatrix::zeros(mesh.cells.len(), pairs.len());
                let mut mean = [vec![0.0; along], vec![0.0; along]];
                for (i, cell) in mesh.cells.iter().enumerate() {
                    for k in 0..2 {
                        mean[k].fill(0.0);
                        for [node, weight] in rules::legendre(4) {
                            values((cell.middle[k] + 0.5 * node * cell.sides[k] - middle[k]) / half[k], &mut at);
                            mean[k].iter_mut().zip(&at).for_each(|(m, v)| *m += 0.5 * weight * v);
                        }
                    }
                    for (column, [p, q]) in pairs.iter().enumerate() {
                        means[(i, column)] = mean[0][*p] * mean[1][*q];
                    }
                }
                means
            }
            Self::Rectangle(basis, _) => {
                let sides = basis.nodes_along(self.rule(half[0].max(half[1]) / 8.0));
                let [x, y] = [0, 1].map(|k| {
                    let (places, shares) = &sides[k];
                    let mut products = DMatrix::zeros(places.len(), along);
                    for (i, place) in places.iter().enumerate() {
                        values((place - middle[k]) / half[k], &mut at);
                        products.row_mut(i).iter_mut().zip(&at).for_each(|(to, value)| *to = *value);
                    }
                    shares.tr_mul(&products)
                });
                DMatrix::from_fn(self.count(), pairs.len(), |f, column| {
                    let [p, q] = pairs[column];
                    x[(f / y.nrows(), p)] * y[(f % y.nrows(), q)]
                })
            }
            Self::Disc(_) | Self::Ring(_) => {
                let (places, shares) = self.points(half[0].max(half[1]) / 8.0);
                let mut y = vec![0.0; along];
                let mut products = DMatrix::zeros(places.len(), pairs.len());
                for (i, place) in places.iter().enumerate() {
                    values((place[0] - middle[0]) / half[0], &mut at);
                    values((place[1] - middle[1]) / half[1], &mut y);
                    for (column, [p, q]) in pairs.iter().enumerate() {
                        products[(i, column)] = at[*p] * y[*q];
                    }
                }
                shares.tr_mul(&products)
            }
        }
    }

    /// Places of point charges for what lies `clear_m` away, and the charge of each function there; not for cells.
    fn points(&self, clear_m: f64) -> (Vec<Point>, DMatrix<f64>) {
        match self {
            Self::Cells(_) => (Vec::new(), DMatrix::zeros(0, self.count())),
            Self::Rectangle(basis, _) => basis.nodes(self.rule(clear_m)),
            Self::Disc(basis) => basis.nodes(clear_m / NODES_PER_CLEARANCE),
            Self::Ring(basis) => {
                let points = basis.points(clear_m, NODES_PER_CLEARANCE);
                let mut charges = DMatrix::zeros(points.len(), basis.count());
                for (i, (_, first, shares)) in points.iter().enumerate() {
                    shares.iter().enumerate().for_each(|(k, share)| charges[(i, first + k)] = *share);
                }
                (points.into_iter().map(|p| p.0).collect(), charges)
            }
        }
    }
}

impl Base {
    /// The rule on each half of a rectangle's sides for what lies `clear_m` away.
    fn rule(&self, clear_m: f64) -> &'static [[f64; 2]] {
        let (_, half) = self.extent();
        // Each half of a side holds half of its functions, and Gauss's rule is exact up to twice the degree.
        let own = match self {
            Self::Rectangle(basis, _) => basis.orders()[0].max(basis.orders()[1]) / 4 + 2,
            _ => 0,
        };
        rules::legendre((NODES_PER_CLEARANCE * half[0].max(half[1]) / clear_m).ceil() as usize + own)
    }
}

/// Points in the length of the gap that they must bridge: the error falls like exp(-2 pi) for each.
const NODES_PER_CLEARANCE: f64 = 1.7;

/// A plate about its own origin.
#[derive(Debug)]
pub(in crate::electrostatics) struct Plate {
    base: Base,
    /// Functions of the base by functions; without it those of the base are taken as they are.
    responses: Option<DMatrix<f64>>,
    own: DMatrix<f64>,
    totals: Vec<f64>,
    /// Which functions answer to the highest polynomials, or are of the last orders.
    highest: Vec<bool>,
    /// Point charges on Chebyshev points over the box, by how many along each side.
    grids: Vec<OnceLock<DMatrix<f64>>>,
}

/// Most Chebyshev points along a side of the box; closer neighbours see the base itself.
const MOST_ALONG: usize = 12;

impl Plate {
    /// With the answers to all polynomials up to a degree in x and one in y, the constant one first; without degrees with
    /// all functions of the base.
    pub(in crate::electrostatics) fn new(
        base: Base,
        kernel: &Kernel,
        layers: &Layers,
        on_top: bool,
        degrees: Option<[usize; 2]>,
    ) -> Option<Self> {
        let own = base.own(kernel, layers, on_top);
        let powers = degrees.map(powers);
        let (Some(degrees), Some(powers)) = (degrees, powers) else {
            let (totals, highest) = (base.totals(), base.highest());
            return Some(Self { base, responses: None, own, totals, highest, grids: Vec::new() });
        };
        let degree = degrees[0].max(degrees[1]);
        let potentials = base.means(degree + 1, &rules::polynomials, &powers);
        let responses = Factors::new(own)?.solve(potentials.clone());
        let own = potentials.tr_mul(&responses);
        let own = 0.5 * (&own + own.transpose());
        // Few cells across tell few polynomials apart.
        let kept = independent(&own);
        let own = DMatrix::from_fn(kept.len(), kept.len(), |i, j| own[(kept[i], kept[j])]);
        let responses = responses.select_columns(&kept);
        let totals = responses.tr_mul(&DMatrix::from_vec(base.count(), 1, base.totals())).as_slice().to_vec();
        let highest = kept.iter().map(|f| degree > 0 && share(powers[*f], degrees) > 1.0 + 1e-9 - 1.0 / degree as f64).collect();
        let grids = (0..=MOST_ALONG).map(|_| OnceLock::new()).collect();
        Some(Self { base, responses: Some(responses), own, totals, highest, grids })
    }

    /// Potentials of the functions among themselves, 1/F; the lower triangle.
    pub(in crate::electrostatics) fn own(&self) -> &DMatrix<f64> {
        &self.own
    }

    /// Total charge of each function.
    pub(in crate::electrostatics) fn totals(&self) -> &[f64] {
        &self.totals
    }

    /// Which functions answer to the highest polynomials, or are of the last orders.
    pub(in crate::electrostatics) fn highest(&self) -> &[bool] {
        &self.highest
    }

    /// What the charge is made of.
    pub(in crate::electrostatics) fn base(&self) -> &Base {
        &self.base
    }

    /// A block over the functions of the base as one over the plate's functions, for rows.
    pub(in crate::electrostatics) fn reduced(&self, block: DMatrix<f64>) -> DMatrix<f64> {
        match &self.responses {
            Some(responses) => responses.tr_mul(&block),
            None => block,
        }
    }

    /// The cells on the cloth, if each is a function.
    pub(in crate::electrostatics) fn panels(&self, frame: &Frame) -> Option<Vec<Panel>> {
        match (&self.base, &self.responses) {
            (Base::Cells(mesh), None) => Some(mesh.cells.iter().map(|cell| panel(cell, frame)).collect()),
            _ => None,
        }
    }

    /// Charge density at a point about the origin, C/m², by the charges of the functions.
    pub(in crate::electrostatics) fn density(&self, p: Point, charges: &[f64]) -> f64 {
        let charges = DMatrix::from_column_slice(charges.len(), 1, charges);
        let charges = match &self.responses {
            Some(responses) => responses * charges,
            None => charges,
        };
        match &self.base {
            Base::Cells(mesh) => {
                let inside = |cell: &Cell| (0..2).all(|k| (p[k] - cell.middle[k]).abs() <= 0.5 * cell.sides[k] * (1.0 + 1e-9));
                let cell = mesh.cells.iter().position(inside);
                cell.map_or(0.0, |i| charges[i] / (mesh.cells[i].sides[0] * mesh.cells[i].sides[1]))
            }
            Base::Rectangle(basis, _) => basis.density(charges.as_slice(), p[0], p[1]),
            Base::Disc(basis) => basis.density(charges.as_slice(), p[0], p[1]),
            Base::Ring(basis) => basis.density(charges.as_slice(), p[0], p[1]),
        }
    }

    /// Points that stand for the charge as a region sees it, `over_m` above or below; `own` is the plate's region.
    pub(in crate::electrostatics) fn nodes(&self, frame: &Frame, own: &Region, region: &Region, over_m: f64, precision: f64) -> Nodes {
        let (middle, half) = self.base.extent();
        let corner = |x: f64, y: f64| frame.put([middle[0] + x * half[0], middle[1] + y * half[1]]);
        let around = || Region::of_loop(vec![corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)]);
        if let Some(responses) = &self.responses {
            let along = nodes_for(half[0].max(half[1]), around().gap_m(region), over_m, precision);
            if along <= MOST_ALONG {
                let shares = self.grids[along].get_or_init(|| self.grid(along, responses)).clone();
                let points = rules::chebyshev(along).flat_map(|x| rules::chebyshev(along).map(move |y| [x, y]));
                let points = points.map(|[x, y]| corner(x, y)).collect();
                return Nodes { points, shares: Shares::Dense(shares) };
            }
        }
        let Base::Cells(mesh) = &self.base else {
            let gap = match &self.base {
                Base::Disc(basis) => (region.distance_m(frame.centre_m) - basis.radius_m()).max(0.0),
                Base::Ring(_) => own.gap_m(region),
                _ => around().gap_m(region),
            };
            if let (Base::Ring(basis), None) = (&self.base, &self.responses) {
                let (mut points, mut entries, mut ends) = (Vec::new(), Vec::new(), Vec::new());
                for (p, first, shares) in basis.points(gap.hypot(over_m), NODES_PER_CLEARANCE) {
                    points.push(frame.put(p));
                    entries.extend(shares.iter().enumerate().map(|(k, share)| (first + k, *share)));
                    ends.push(entries.len());
                }
                return Nodes { points, shares: Shares::Sparse { functions: basis.count(), entries, ends } };
            }
            if let (Base::Rectangle(basis, _), None) = (&self.base, &self.responses) {
                let [(x, along_x), (y, along_y)] = basis.nodes_along(self.base.rule(gap.hypot(over_m)));
                let points = x.iter().flat_map(|x| y.iter().map(move |y| frame.put([*x, *y]))).collect();
                return Nodes { points, shares: Shares::Product([along_x, along_y]) };
            }
            let (places, shares) = self.base.points(gap.hypot(over_m));
            let shares = match &self.responses {
                Some(responses) => shares * responses,
                None => shares,
            };
            return Nodes { points: places.into_iter().map(|p| frame.put(p)).collect(), shares: Shares::Dense(shares) };
        };
        let (mut points, mut owners) = (Vec::new(), Vec::new());
        for (i, cell) in mesh.cells.iter().enumerate() {
            let reach = 0.5 * cell.sides[0].hypot(cell.sides[1]);
            let clear = (region.distance_m(frame.put(cell.middle)) - reach).max(0.0).hypot(over_m).max(0.25 * reach);
            let [nx, ny] = cell.sides.map(|side| rules::legendre(pieces(side / clear)));
            for x in nx {
                for y in ny {
                    let p = [cell.middle[0] + 0.5 * x[0] * cell.sides[0], cell.middle[1] + 0.5 * y[0] * cell.sides[1]];
                    points.push(frame.put(p));
                    owners.push((i, 0.25 * x[1] * y[1]));
                }
            }
        }
        let shares = match &self.responses {
            Some(responses) => {
                Shares::Dense(DMatrix::from_fn(points.len(), responses.ncols(), |i, k| owners[i].1 * responses[(owners[i].0, k)]))
            }
            None => Shares::Sparse { functions: mesh.cells.len(), ends: (1..=points.len()).collect(), entries: owners },
        };
        Nodes { points, shares }
    }

    /// Potentials between this disc or ring and another around the same middle, `clear_m` away: functions see each other only
    /// where they have the same waves around, and the potential along one ray tells that all around.
    pub(in crate::electrostatics) fn around_one_middle(&self, other: &Self, kernel: &Kernel, clear_m: f64) -> Option<DMatrix<f64>> {
        let (waves, other_waves) = (self.waves()?, other.waves()?);
        let (radii, charges) = self.circles(clear_m)?;
        let (places, shares) = other.base.points(clear_m);
        let ray: Vec<Point> = radii.iter().map(|r| [*r, 0.0]).collect();
        let peaks = charges.tr_mul(&at_points(kernel, &ray, &Nodes { points: places, shares: Shares::Dense(shares) }));
        Some(DMatrix::from_fn(waves.len(), other_waves.len(), |f, g| {
            let ((m, sine), (n, other_sine)) = (waves[f], other_waves[g]);
            match (m == n && sine == other_sine, m) {
                (false, _) => 0.0,
                (true, 0) => peaks[(f, g)],
                // A sine is its cosine turned; both average to a half around.
                (true, _) => 0.5 * peaks[(f - usize::from(sine), g - usize::from(sine))],
            }
        }))
    }

    /// Circles of a disc or ring that is taken with all its functions: radii, and the charge of each function on each.
    fn circles(&self, clear_m: f64) -> Option<(Vec<f64>, DMatrix<f64>)> {
        match (&self.base, &self.responses) {
            (Base::Disc(basis), None) => Some(basis.circles(clear_m / NODES_PER_CLEARANCE)),
            (Base::Ring(basis), None) => Some(basis.circles(clear_m)),
            _ => None,
        }
    }

    /// Its waves around, and which are sines.
    fn waves(&self) -> Option<Vec<(usize, bool)>> {
        match (&self.base, &self.responses) {
            (Base::Disc(basis), None) => Some(basis.waves()),
            (Base::Ring(basis), None) => Some(basis.waves_around()),
            _ => None,
        }
    }

    /// Charges on a grid of Chebyshev points that have the same moments, up to the grid's degree.
    fn grid(&self, along: usize, responses: &DMatrix<f64>) -> DMatrix<f64> {
        let pairs: Vec<[usize; 2]> = (0..along).flat_map(|x| (0..along).map(move |y| [x, y])).collect();
        self.base.means(along, &|x, out| rules::lagrange(along, x, out), &pairs).tr_mul(responses)
    }
}

/// Whether point charges can stand for functions on a rectangle or disc towards what is so far away.
pub(in crate::electrostatics) fn points_reach(longest_m: f64, clear_m: f64) -> bool {
    NODES_PER_CLEARANCE * 0.5 * longest_m / clear_m + 3.0 <= rules::MOST_NODES as f64
}

/// Products of powers of x and y whose shares of the degrees come to no more than one, in rising order.
pub(in crate::electrostatics) fn powers(degrees: [usize; 2]) -> Vec<[usize; 2]> {
    let mut powers: Vec<[usize; 2]> = (0..=degrees[0]).flat_map(|p| (0..=degrees[1]).map(move |q| [p, q])).collect();
    powers.retain(|p| share(*p, degrees) <= 1.0 + 1e-9);
    powers.sort_by(|a, b| share(*a, degrees).total_cmp(&share(*b, degrees)));
    powers
}

/// Share of the degrees that a product takes up, 1 for x or y to its own degree.
fn share([p, q]: [usize; 2], degrees: [usize; 2]) -> f64 {
    p as f64 / degrees[0].max(1) as f64 + q as f64 / degrees[1].max(1) as f64
}

/// Rows of a positive matrix that are not made of those before them, to a billionth.
fn independent(matrix: &DMatrix<f64>) -> Vec<usize> {
    let mut kept: Vec<usize> = Vec::new();
    let mut factors: Vec<Vec<f64>> = Vec::new();
    for i in 0..matrix.nrows() {
        let mut row: Vec<f64> = Vec::with_capacity(kept.len() + 1);
        for (j, factor) in kept.iter().zip(&factors) {
            let taken: f64 = row.iter().zip(factor).map(|(a, b)| a * b).sum();
            row.push((matrix[(i, *j)] - taken) / factor[row.len()]);
        }
        let left = matrix[(i, i)] - row.iter().map(|x| x * x).sum::<f64>();
        if left > 1e-9 * matrix[(i, i)] {
            row.push(left.sqrt());
            kept.push(i);
            factors.push(row);
        }
    }
    kept
}

/// Gauss points over a side so many times as long as the free space: the error of n points is about
/// ((ratio/2)/(1 + ratio/2))^2n of the potential.
fn pieces(ratio: f64) -> usize {
    match ratio {
        r if r < 0.25 => 1,
        r if r < 1.0 => 2,
        r if r < 2.0 => 3,
        r => (1.5 * r).ceil().min(8.0) as usize,
    }
}

fn panel(cell: &Cell, frame: &Frame) -> Panel {
    Panel { middle: frame.put(cell.middle), halves: [frame.vector([0.5 * cell.sides[0], 0.0]), frame.vector([0.0, 0.5 * cell.sides[1]])] }
}
