//! Rectangular cells that fill an outline, fine where the charge varies.
//!
//! Charge crowds at edges like the inverse root of the distance. A cell is halved, across the edge, until its extent
//! across each edge is at most `h` at that edge and `(h d²)^(1/3)` at distance d from it: then every distance adds
//! about equally to the error, which as a whole falls in proportion to h. Cells stay long along an edge.
//!
//! A cell that the outline cuts becomes the rectangle with the area, the centroid and the second moments of the piece.
//!
//! * gives: cells, in metres
//! * needs: loops in metres (even-odd); h in metres, above 0
//! * source: own
//! * accuracy: area and centroid exact
//! * errors: none; pieces under a thousandth of their cell are left out
//! * example: a square of 16 h takes 144 cells

use crate::geometry::Point;

/// A rectangle with sides along the axes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::electrostatics) struct Cell {
    /// Middle, m.
    pub(in crate::electrostatics) middle: Point,
    /// Sides, m.
    pub(in crate::electrostatics) sides: Point,
    /// Area of conductor in it, m².
    pub(in crate::electrostatics) area_m2: f64,
    /// Whether no edge cuts it.
    pub(in crate::electrostatics) whole: bool,
}

/// Most cells of one outline. Filling stops at the first one more, which tells that they are too many.
pub(in crate::electrostatics) const MOST_CELLS: usize = 4000;

/// How fine cells are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::electrostatics) struct Grading {
    /// Longest extent of a cell across an edge at that edge, m.
    pub(in crate::electrostatics) h_m: f64,
    /// How far from an edge the charge still follows its power law, m: the height over ground. Beyond twice that it is
    /// even, and cells may grow with the distance.
    pub(in crate::electrostatics) flat_m: f64,
    /// Longest side of a cell, as a share of the box.
    pub(in crate::electrostatics) widest: f64,
}

impl Grading {
    /// Longest extent across an edge so far away.
    fn allowed(self, distance_m: f64) -> f64 {
        let Self { h_m, flat_m, .. } = self;
        h_m.max((h_m * distance_m * distance_m).cbrt()).max(0.5 * (distance_m - 2.0 * flat_m))
    }

    /// A band of this width cut in the same way: offsets from its edge and widths, m.
    pub(in crate::electrostatics) fn strips(self, width_m: f64) -> Vec<[f64; 2]> {
        let (mut open, mut strips) = (vec![[0.0, width_m]], Vec::new());
        while let Some([a, b]) = open.pop() {
            if b - a > self.allowed(a.min(width_m - b).max(0.0)).min(self.widest * width_m) {
                let middle = 0.5 * (a + b);
                open.extend([[a, middle], [middle, b]]);
            } else {
                strips.push([0.5 * (a + b), b - a]);
            }
        }
        strips
    }
}

/// The cells of one outline.
#[derive(Debug, Clone)]
pub(in crate::electrostatics) struct Mesh {
    /// The cells.
    pub(in crate::electrostatics) cells: Vec<Cell>,
    /// The box around the outline: its lowest corner and its sides, m.
    pub(in crate::electrostatics) corner: Point,
    /// See `corner`.
    pub(in crate::electrostatics) size: Point,
}

impl Mesh {
    /// Fills the loops. `most_m` tells the longest side that a box (middle, sides) may have for other reasons than the
    /// outline.
    pub(in crate::electrostatics) fn new(loops: &[Vec<Point>], grading: Grading, most_m: &dyn Fn(Point, Point) -> f64) -> Self {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in loops.iter().flatten() {
            for k in 0..2 {
                low[k] = low[k].min(p[k]);
                high[k] = high[k].max(p[k]);
            }
        }
        let size = [high[0] - low[0], high[1] - low[1]];
        let loops = oriented(loops);
        let edges: Vec<Edge> = loops.iter().flat_map(|l| (0..l.len()).map(|i| Edge::new(l[i], l[(i + 1) % l.len()]))).collect();
        let mesh = Self { cells: Vec::new(), corner: low, size };
        let mut filler = Filler { mesh, grading, most_m };
        filler.fill(low, high, &loops, &edges);
        filler.mesh
    }
}

struct Edge {
    ends: [Point; 2],
    normal: Point,
}

impl Edge {
    fn new(a: Point, b: Point) -> Self {
        let along = [b[0] - a[0], b[1] - a[1]];
        let length = along[0].hypot(along[1]);
        Self { ends: [a, b], normal: [(along[1] / length).abs(), (along[0] / length).abs()] }
    }
}

struct Filler<'a> {
    mesh: Mesh,
    grading: Grading,
    most_m: &'a dyn Fn(Point, Point) -> f64,
}

impl Filler<'_> {
    /// `edges` are those that ask for smaller cells than the box just cut, or cut it themselves.
    fn fill(&mut self, low: Point, high: Point, loops: &[Vec<Point>], edges: &[Edge]) {
        if self.mesh.cells.len() > MOST_CELLS {
            return;
        }
        let sides: Point = std::array::from_fn(|k| high[k] - low[k]);
        let middle: Point = std::array::from_fn(|k| 0.5 * (low[k] + high[k]));
        // How far too long the box is along each side.
        let mut over = [0.0_f64; 2];
        let mut asking = Vec::new();
        let mut along_edge: Option<(f64, usize, f64)> = None;
        for edge in edges {
            let d = box_distance(middle, sides, edge.ends);
            let allowed = self.grading.allowed(d);
            let too_long: Point = std::array::from_fn(|k| sides[k] * edge.normal[k] / allowed);
            if too_long[0] > 1.0 || too_long[1] > 1.0 || d == 0.0 {
                asking.push(Edge { ends: edge.ends, normal: edge.normal });
            }
            over = [over[0].max(too_long[0]), over[1].max(too_long[1])];
            // A box that an edge parallel to its sides runs through is cut there.
            for k in 0..2 {
                let at = edge.ends[0][k];
                let off = (at - middle[k]).abs();
                let within = |t: f64| (t - middle[1 - k]).abs() < 0.5 * sides[1 - k];
                let (a, b) = (edge.ends[0][1 - k], edge.ends[1][1 - k]);
                let crosses = within(a) || within(b) || (a < middle[1 - k]) != (b < middle[1 - k]);
                let nearest = along_edge.is_none_or(|(least, ..)| off < least * sides[k]);
                if edge.normal[k] > 1.0 - 1e-9 && off < 0.5 * sides[k] * (1.0 - 1e-6) && crosses && nearest {
                    along_edge = Some((off / sides[k], k, at));
                }
            }
        }
        let most = (self.most_m)(middle, sides);
        for k in 0..2 {
            over[k] = over[k].max(sides[k] / most.min(self.grading.widest * self.mesh.size[k].max(0.25 * self.mesh.size[1 - k])));
        }
        let longer = usize::from(over[1] > over[0]);
        let (k, at) = match along_edge {
            Some((_, k, at)) => (k, at),
            None if over[longer] > 1.0 => (longer, middle[longer]),
            None => return self.keep(middle, sides, loops),
        };
        for above in [false, true] {
            let pieces: Vec<Vec<Point>> = loops.iter().map(|l| cut(l, k, at, above)).filter(|l| l.len() > 2).collect();
            if !pieces.is_empty() {
                let (mut low, mut high) = (low, high);
                if above {
                    low[k] = at
                } else {
                    high[k] = at
                }
                self.fill(low, high, &pieces, &asking);
            }
        }
    }

    fn keep(&mut self, middle: Point, sides: Point, loops: &[Vec<Point>]) {
        let whole = sides[0] * sides[1];
        let [area, mx, my, xx, yy] = moments(loops, middle);
        if area < 1e-3 * whole {
            return;
        }
        self.mesh.cells.push(if area > (1.0 - 1e-9) * whole {
            Cell { middle, sides, area_m2: whole, whole: true }
        } else {
            let (x, y) = (mx / area, my / area);
            let width = |second: f64, side: f64| (12.0 * second).max(1e-6 * side * side).sqrt();
            Cell {
                middle: [middle[0] + x, middle[1] + y],
                sides: [width(xx / area - x * x, sides[0]), width(yy / area - y * y, sides[1])],
                area_m2: area,
                whole: false,
            }
        });
    }
}

/// Outer loops anticlockwise, holes clockwise, so that areas add up with their signs.
fn oriented(loops: &[Vec<Point>]) -> Vec<Vec<Point>> {
    let inside_others = |i: usize| {
        let others = loops.iter().enumerate().filter(|(j, other)| *j != i && crate::geometry::contains(other, loops[i][0]));
        others.count() % 2 == 1
    };
    let orient = |(i, corners): (usize, &Vec<Point>)| {
        let mut corners = corners.clone();
        let [area, ..] = moments(std::slice::from_ref(&corners), corners[0]);
        if (area < 0.0) != inside_others(i) {
            corners.reverse();
        }
        corners
    };
    loops.iter().enumerate().map(orient).collect()
}

/// What of a loop lies on one side of a line across axis `k`.
fn cut(corners: &[Point], k: usize, at: f64, above: bool) -> Vec<Point> {
    let inside = |p: Point| if above { p[k] >= at } else { p[k] <= at };
    let mut kept = Vec::with_capacity(corners.len() + 2);
    for (i, &b) in corners.iter().enumerate() {
        let a = corners[(i + corners.len() - 1) % corners.len()];
        if inside(a) != inside(b) {
            let t = (at - a[k]) / (b[k] - a[k]);
            let mut p = a;
            p[k] = at;
            p[1 - k] = a[1 - k] + t * (b[1 - k] - a[1 - k]);
            kept.push(p);
        }
        if inside(b) {
            kept.push(b);
        }
    }
    kept
}

/// Area, first moments and second moments (x², y²) of loops about a point, by Green's theorem.
fn moments(loops: &[Vec<Point>], about: Point) -> [f64; 5] {
    let mut sums = [0.0; 5];
    for corners in loops {
        for (i, b) in corners.iter().enumerate() {
            let a = corners[(i + corners.len() - 1) % corners.len()];
            let (a, b) = ([a[0] - about[0], a[1] - about[1]], [b[0] - about[0], b[1] - about[1]]);
            let cross = a[0] * b[1] - b[0] * a[1];
            sums[0] += cross / 2.0;
            for k in 0..2 {
                sums[1 + k] += cross * (a[k] + b[k]) / 6.0;
                sums[3 + k] += cross * (a[k] * a[k] + a[k] * b[k] + b[k] * b[k]) / 12.0;
            }
        }
    }
    sums
}

/// Distance between a box and a line, 0 where they meet.
pub(in crate::electrostatics) fn box_distance(middle: Point, sides: Point, [a, b]: [Point; 2]) -> f64 {
    let along = [b[0] - a[0], b[1] - a[1]];
    // The part of the line within the box's width, then within its height.
    let (mut first, mut last) = (0.0_f64, 1.0_f64);
    for k in 0..2 {
        let ends = [-0.5, 0.5].map(|half| middle[k] + half * sides[k] - a[k]);
        if along[k] == 0.0 {
            if ends[0] > 0.0 || ends[1] < 0.0 {
                last = -1.0;
            }
        } else {
            let cuts = ends.map(|end| end / along[k]);
            first = first.max(cuts[0].min(cuts[1]));
            last = last.min(cuts[0].max(cuts[1]));
        }
    }
    if first <= last {
        return 0.0;
    }
    // Apart, the shortest way leads from an end of the line or from a corner of the box.
    let from_end = |p: Point| {
        let over: Point = std::array::from_fn(|k| ((p[k] - middle[k]).abs() - 0.5 * sides[k]).max(0.0));
        over[0] * over[0] + over[1] * over[1]
    };
    let squared = along[0] * along[0] + along[1] * along[1];
    let from_corner = |x: f64, y: f64| {
        let p = [middle[0] + x * sides[0] - a[0], middle[1] + y * sides[1] - a[1]];
        let t = ((p[0] * along[0] + p[1] * along[1]) / squared).clamp(0.0, 1.0);
        let off = [p[0] - t * along[0], p[1] - t * along[1]];
        off[0] * off[0] + off[1] * off[1]
    };
    let corners = from_corner(-0.5, -0.5).min(from_corner(-0.5, 0.5)).min(from_corner(0.5, -0.5)).min(from_corner(0.5, 0.5));
    from_end(a).min(from_end(b)).min(corners).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{placed, rectangle_outline, round_outline};

    fn unlimited(_: Point, _: Point) -> f64 {
        f64::INFINITY
    }

    fn graded(h_m: f64) -> Grading {
        Grading { h_m, flat_m: f64::INFINITY, widest: 0.2 }
    }

    fn total(mesh: &Mesh) -> f64 {
        mesh.cells.iter().map(|cell| cell.area_m2).sum()
    }

    #[test]
    fn cells_cover_the_outline_once() {
        let square = rectangle_outline(1.0, 1.0);
        let shapes = [
            (vec![square.clone()], 1.0),
            (vec![placed(&square, 0.5, [0.3, 0.1])], 1.0),
            (vec![round_outline(2.0)], std::f64::consts::PI),
            (vec![round_outline(2.0), round_outline(1.0)], 0.75 * std::f64::consts::PI),
        ];
        for (loops, area) in shapes {
            let mesh = Mesh::new(&loops, graded(0.03), &unlimited);
            // Pieces under a thousandth of their cell are left out.
            assert!((total(&mesh) / area - 1.0).abs() < 1e-5, "{}", total(&mesh));
            let centroid = |k: usize| mesh.cells.iter().map(|c| c.area_m2 * c.middle[k]).sum::<f64>() / area;
            let expected = crate::geometry::centroid(&loops[0]);
            assert!((centroid(0) - expected[0]).abs() < 1e-5 && (centroid(1) - expected[1]).abs() < 1e-5);
        }
    }

    #[test]
    fn a_square_is_graded_along_both_axes() {
        let mesh = Mesh::new(&[rectangle_outline(1.0, 1.0)], graded(1.0 / 16.0), &unlimited);
        assert!(mesh.cells.iter().all(|cell| cell.whole));
        assert_eq!(mesh.cells.len(), 144);
        let mesh = Mesh::new(&[rectangle_outline(1.0, 1.0)], graded(1.0 / 256.0), &unlimited);
        let smallest = mesh.cells.iter().map(|c| c.sides[0].min(c.sides[1])).fold(f64::INFINITY, f64::min);
        assert!(smallest <= 1.0 / 256.0 && smallest > 1.0 / 513.0);
    }

    #[test]
    fn a_limit_is_kept() {
        let near = |middle: Point, _: Point| 0.02 + middle[0].abs();
        let mesh = Mesh::new(&[rectangle_outline(1.0, 1.0)], graded(0.1), &near);
        assert!(mesh.cells.iter().all(|c| c.sides[0].max(c.sides[1]) <= near(c.middle, c.sides)));
    }

    #[test]
    fn distance_of_a_box() {
        let d = |a: Point, b: Point| box_distance([0.0, 0.0], [2.0, 2.0], [a, b]);
        assert_eq!(d([3.0, -5.0], [3.0, 5.0]), 2.0);
        assert_eq!(d([3.0, 0.5], [2.0, 0.5]), 1.0);
        assert_eq!(d([0.5, 0.5], [0.6, 0.5]), 0.0);
        assert_eq!(d([-3.0, -5.0], [3.0, 5.0]), 0.0);
        assert!((d([3.0, 0.0], [0.0, 3.0]) - 0.5_f64.sqrt()).abs() < 1e-9);
        assert_eq!(d([4.0, 5.0], [9.0, 9.0]), 5.0);
    }
}
