//! A plate of any outline: its cells, and few functions of charge that answer to smooth potentials.
//!
//! Seen from other conductors some way off, a plate does no more than answer to the potential that they cause on it, which
//! is smooth there. The charges that answer to the polynomials up to some degree are then all the functions it needs, few
//! dozens for hundreds of cells. Next to a close neighbour every cell stays a function of its own.
//!
//! * gives: the potentials of the functions among themselves, 1/F; point charges that stand for them
//! * needs: closed loops in metres; the mesh's h; the degree
//! * source: own; Galerkin's method, see [`super::cells`]
//! * accuracy: with h in proportion, half the h halves the error; two h extrapolated leave about a tenth of the finer's
//!   error. Example: a square of 4 mm on 20 mm (1) under 10 mm (8): 484 cells 0.32 % low, extrapolated 0.014 %
//! * errors: nothing where rounding makes the matrix indefinite

use super::super::Figure;
use super::cells;
use super::kernel::Kernel;
use super::mesh::{Cell, Mesh};
use super::nodes::{Nodes, Shares, nodes_for};
use super::overlap::Region;
use super::panel::Panel;
use super::rules;
use crate::geometry::{self, Point};
use nalgebra::DMatrix;
use std::f64::consts::PI;
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

/// The outline of a figure as closed loops, arcs as corners that keep the area; a run has none.
pub(in crate::electrostatics) fn loops(figure: &Figure) -> Vec<Vec<Point>> {
    match figure {
        Figure::Round { diameter_m } => vec![circle(diameter_m / 2.0)],
        Figure::Rectangle { width_m, length_m, corner_radius_m } if *corner_radius_m > 0.0 => {
            let r = *corner_radius_m;
            let (x, y) = (width_m / 2.0 - r, length_m / 2.0 - r);
            // Corners in the middle of short arcs, as far out as makes up for what the chords cut off.
            let angle = 0.5 * PI / ARC as f64;
            let grown = r * (angle / angle.sin()).sqrt();
            let arc = |quarter: usize| {
                let (sx, sy) = [(x, y), (-x, y), (-x, -y), (x, -y)][quarter];
                (0..ARC).map(move |i| {
                    let (sin, cos) = ((quarter * ARC + i) as f64 * angle + 0.5 * angle).sin_cos();
                    [sx + grown * cos, sy + grown * sin]
                })
            };
            vec![(0..4).flat_map(arc).collect()]
        }
        Figure::Rectangle { width_m, length_m, .. } => vec![geometry::rectangle_outline(*width_m, *length_m)],
        Figure::Ring { inner_diameter_m, outer_diameter_m } => vec![circle(outer_diameter_m / 2.0), circle(inner_diameter_m / 2.0)],
        Figure::Polygon { points_m, holes_m } => std::iter::once(points_m).chain(holes_m).cloned().collect(),
        Figure::Line { .. } => Vec::new(),
    }
}

/// The loops of a figure turned so that as much of its edges as possible lies along the axes, and how far the turned
/// figure has to be turned back, rad.
pub(in crate::electrostatics) fn aligned_loops(figure: &Figure) -> (Vec<Vec<Point>>, f64) {
    let loops = loops(figure);
    if !matches!(figure, Figure::Polygon { .. }) {
        return (loops, 0.0);
    }
    let edges = loops.iter().flat_map(|l| (0..l.len()).map(|i| [l[i], l[(i + 1) % l.len()]]));
    let edges: Vec<(f64, f64)> = edges.map(|[a, b]| ((b[1] - a[1]).atan2(b[0] - a[0]), (b[0] - a[0]).hypot(b[1] - a[1]))).collect();
    let quarter = 0.5 * PI;
    let along = |angle: f64| {
        let off = |other: f64| (other - angle - ((other - angle) / quarter).round() * quarter).abs();
        edges.iter().filter(|(other, _)| off(*other) < 1e-6).map(|(_, length)| length).sum::<f64>()
    };
    let best = edges.iter().map(|(angle, _)| (along(*angle), *angle)).fold((0.0, 0.0), |best, x| if x.0 > best.0 * (1.0 + 1e-9) { x } else { best });
    let angle = best.1 - (best.1 / quarter).round() * quarter;
    // Edges that are parallel but for rounding shall be parallel to the last bit, so that cells end at them.
    let tidy = |corners: Vec<Point>| {
        let mut corners = corners;
        for k in 0..corners.len() {
            let next = (k + 1) % corners.len();
            for axis in 0..2 {
                let (d, length) = ((corners[next][axis] - corners[k][axis]).abs(), (corners[next][1 - axis] - corners[k][1 - axis]).abs());
                if d > 0.0 && d < 1e-9 * length {
                    corners[next][axis] = corners[k][axis];
                }
            }
        }
        corners
    };
    (loops.iter().map(|l| if angle == 0.0 { l.clone() } else { tidy(geometry::placed(l, -angle, [0.0; 2])) }).collect(), angle)
}

/// Corners in a quarter of a circle.
const ARC: usize = 32;

fn circle(radius_m: f64) -> Vec<Point> {
    let sides = 4 * ARC;
    let angle = 2.0 * PI / sides as f64;
    let grown = radius_m * (angle / angle.sin()).sqrt();
    (0..sides).map(|k| [grown * (k as f64 * angle).cos(), grown * (k as f64 * angle).sin()]).collect()
}

/// A plate about its own origin.
#[derive(Debug)]
pub(in crate::electrostatics) struct Plate {
    mesh: Mesh,
    /// Cells by functions; without it each cell is a function.
    responses: Option<DMatrix<f64>>,
    own: DMatrix<f64>,
    totals: Vec<f64>,
    /// Which functions answer to the highest polynomials.
    highest: Vec<bool>,
    /// Point charges on Chebyshev points over the box, by how many along each side.
    grids: Vec<OnceLock<DMatrix<f64>>>,
}

/// Most Chebyshev points along a side of the box; closer neighbours see the cells.
const MOST_ALONG: usize = 12;

impl Plate {
    /// With the answers to all polynomials up to a degree in x and one in y, the constant one first.
    pub(in crate::electrostatics) fn answering(mesh: Mesh, kernel: &Kernel, smooth_m: f64, degrees: [usize; 2]) -> Option<Self> {
        let degree = degrees[0].max(degrees[1]);
        // Share of the degrees that a product takes up, 1 for x or y to its own degree.
        let share = |[p, q]: [usize; 2]| p as f64 / degrees[0].max(1) as f64 + q as f64 / degrees[1].max(1) as f64;
        let mut powers: Vec<[usize; 2]> = (0..=degrees[0]).flat_map(|p| (0..=degrees[1]).map(move |q| [p, q])).collect();
        powers.retain(|p| share(*p) <= 1.0 + 1e-9);
        powers.sort_by(|a, b| share(*a).total_cmp(&share(*b)));
        let (middle, half) = mesh_box(&mesh);
        let mut potentials = DMatrix::zeros(mesh.cells.len(), powers.len());
        let rule = rules::legendre(4);
        let mut values = vec![0.0; 2 * (degree + 1)];
        let mut means = vec![0.0; 2 * (degree + 1)];
        for (i, cell) in mesh.cells.iter().enumerate() {
            means.fill(0.0);
            for [node, weight] in rule {
                for k in 0..2 {
                    let x = (cell.middle[k] + 0.5 * node * cell.sides[k] - middle[k]) / half[k];
                    let part = k * (degree + 1)..(k + 1) * (degree + 1);
                    rules::polynomials(x, &mut values[part.clone()]);
                    means[part.clone()].iter_mut().zip(&values[part]).for_each(|(m, v)| *m += 0.5 * weight * v);
                }
            }
            for (column, [p, q]) in powers.iter().enumerate() {
                potentials[(i, column)] = means[*p] * means[degree + 1 + q];
            }
        }
        let responses = cells::charges(&mesh, kernel, smooth_m, potentials.clone())?;
        let own = potentials.tr_mul(&responses);
        let own = 0.5 * (&own + own.transpose());
        // Few cells across tell few polynomials apart.
        let kept = independent(&own);
        let own = DMatrix::from_fn(kept.len(), kept.len(), |i, j| own[(kept[i], kept[j])]);
        let responses = responses.select_columns(&kept);
        let totals = responses.row_sum().iter().copied().collect();
        let highest = kept.iter().map(|f| degree > 0 && share(powers[*f]) > 1.0 + 1e-9 - 1.0 / degree as f64).collect();
        Some(Self { mesh, responses: Some(responses), own, totals, highest, grids: (0..=MOST_ALONG).map(|_| OnceLock::new()).collect() })
    }

    /// With every cell a function.
    pub(in crate::electrostatics) fn every_cell(mesh: Mesh, kernel: &Kernel, smooth_m: f64) -> Self {
        let own = cells::potential_matrix(&mesh, kernel, smooth_m);
        let totals = vec![1.0; mesh.cells.len()];
        let highest = vec![false; mesh.cells.len()];
        Self { mesh, responses: None, own, totals, highest, grids: Vec::new() }
    }

    /// Potentials of the functions among themselves, 1/F; the lower triangle.
    pub(in crate::electrostatics) fn own(&self) -> &DMatrix<f64> {
        &self.own
    }

    /// Total charge of each function.
    pub(in crate::electrostatics) fn totals(&self) -> &[f64] {
        &self.totals
    }

    /// Which functions answer to the highest polynomials.
    pub(in crate::electrostatics) fn highest(&self) -> &[bool] {
        &self.highest
    }

    /// Whether each cell is a function.
    pub(in crate::electrostatics) fn is_every_cell(&self) -> bool {
        self.responses.is_none()
    }

    /// The cells, on the cloth.
    pub(in crate::electrostatics) fn panels(&self, frame: &Frame) -> Vec<Panel> {
        self.mesh.cells.iter().map(|cell| panel(cell, frame)).collect()
    }

    /// Charge density at a point about the origin, C/m², by the charges of the functions.
    pub(in crate::electrostatics) fn density(&self, p: Point, charges: &[f64]) -> f64 {
        let inside = |cell: &&(usize, &Cell)| (0..2).all(|k| (p[k] - cell.1.middle[k]).abs() <= 0.5 * cell.1.sides[k] * (1.0 + 1e-9));
        let cells: Vec<(usize, &Cell)> = self.mesh.cells.iter().enumerate().collect();
        let Some((i, cell)) = cells.iter().find(inside) else { return 0.0 };
        let charge = match &self.responses {
            Some(responses) => responses.row(*i).iter().zip(charges).map(|(r, c)| r * c).sum(),
            None => charges[*i],
        };
        charge / (cell.sides[0] * cell.sides[1])
    }

    /// Points that stand for the charge as a region sees it, `over_m` above or below.
    pub(in crate::electrostatics) fn nodes(&self, frame: &Frame, region: &Region, over_m: f64, precision: f64) -> Nodes {
        let (middle, half) = mesh_box(&self.mesh);
        if let Some(responses) = &self.responses {
            let corner = |x: f64, y: f64| frame.put([middle[0] + x * half[0], middle[1] + y * half[1]]);
            let around = Region::of_loop(vec![corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)]);
            let gap = around.gap_m(region);
            let along = nodes_for(half[0].max(half[1]), gap, over_m, precision);
            if along <= MOST_ALONG {
                let shares = self.grids[along].get_or_init(|| self.grid(along, responses)).clone();
                let points = rules::chebyshev(along).flat_map(|x| rules::chebyshev(along).map(move |y| [x, y]));
                let points = points.map(|[x, y]| corner(x, y)).collect();
                return Nodes { points, shares: Shares::Dense(shares) };
            }
        }
        let (mut points, mut owners) = (Vec::new(), Vec::new());
        for (i, cell) in self.mesh.cells.iter().enumerate() {
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
            None => Shares::Sparse { functions: self.mesh.cells.len(), ends: (1..=points.len()).collect(), entries: owners },
        };
        Nodes { points, shares }
    }

    /// Charges on a grid of Chebyshev points that have the same moments, up to the grid's degree.
    fn grid(&self, along: usize, responses: &DMatrix<f64>) -> DMatrix<f64> {
        let (middle, half) = mesh_box(&self.mesh);
        let rule = rules::legendre(3);
        let mut shares = DMatrix::zeros(self.mesh.cells.len(), along * along);
        let mut values = vec![0.0; along];
        for (i, cell) in self.mesh.cells.iter().enumerate() {
            let mut means = [vec![0.0; along], vec![0.0; along]];
            for [node, weight] in rule {
                for k in 0..2 {
                    rules::lagrange(along, (cell.middle[k] + 0.5 * node * cell.sides[k] - middle[k]) / half[k], &mut values);
                    means[k].iter_mut().zip(&values).for_each(|(m, v)| *m += 0.5 * weight * v);
                }
            }
            for (x, mean_x) in means[0].iter().enumerate() {
                for (y, mean_y) in means[1].iter().enumerate() {
                    shares[(i, x * along + y)] = mean_x * mean_y;
                }
            }
        }
        shares.tr_mul(responses)
    }
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

/// Middle and half-sides of the box around a mesh.
fn mesh_box(mesh: &Mesh) -> (Point, Point) {
    let half = mesh.size.map(|side| 0.5 * side);
    ([mesh.corner[0] + half[0], mesh.corner[1] + half[1]], half)
}
