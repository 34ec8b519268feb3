//! Outlines as polygons: area, perimeter, extents, faults and distances. Shapes know no materials.
//!
//! Own code rather than a geometry library: the four functions needed here fit on two pages, and the libraries
//! that hold them bring a logging crate, which this crate does without.

/// A point, m.
pub type Point = [f64; 2];

/// Largest number of corners that one polygon may have, holes included.
pub const MOST_CORNERS: usize = 512;

/// Measures of a closed polygon (with holes), m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extent {
    /// Area, holes taken off, m2.
    pub area_m2: f64,
    /// Length of all edges, those of holes included, m.
    pub perimeter_m: f64,
    /// Area of the holes, m2.
    pub hole_area_m2: f64,
    /// Shorter side of the smallest rectangle around it, m.
    pub width_m: f64,
    /// Longer side of that rectangle, m.
    pub length_m: f64,
}

/// What is wrong with a polygon.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PolygonFault {
    /// Fewer than three corners.
    TooFewCorners,
    /// More than [`MOST_CORNERS`].
    TooManyCorners,
    /// Two edges cross or touch; the numbers of their first corners.
    Crossing(usize, usize),
    /// No area.
    Flat,
    /// A hole that is not wholly inside the outline, or meets another hole.
    HoleOutside(usize),
}

/// Measures of a polygon, or what is wrong with it.
///
/// Corners in order, either way round, the last joined to the first. A 3 by 4 rectangle has area 12 and perimeter 14.
///
/// ```
/// let e = toile_model::geometry::extent(&[[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]], &[]).unwrap();
/// assert_eq!((e.area_m2, e.perimeter_m, e.width_m, e.length_m), (12.0, 14.0, 3.0, 4.0));
/// ```
pub fn extent(outline: &[Point], holes: &[Vec<Point>]) -> Result<Extent, PolygonFault> {
    if outline.len() + holes.iter().map(Vec::len).sum::<usize>() > MOST_CORNERS {
        return Err(PolygonFault::TooManyCorners);
    }
    let outer = simple_area(outline)?;
    let mut hole_area_m2 = 0.0;
    for (k, hole) in holes.iter().enumerate() {
        hole_area_m2 += simple_area(hole)?;
        let inside_outline = hole.iter().all(|p| contains(outline, *p)) && distance(outline, hole) > 0.0;
        let clear_of_others =
            holes[..k].iter().all(|other| distance(other, hole) > 0.0 && !contains(other, hole[0]) && !contains(hole, other[0]));
        if !inside_outline || !clear_of_others {
            return Err(PolygonFault::HoleOutside(k));
        }
    }
    let (width_m, length_m) = smallest_rectangle(outline);
    let perimeter_m = std::iter::once(outline).chain(holes.iter().map(Vec::as_slice)).flat_map(edges).map(|(a, b)| length(a, b)).sum();
    Ok(Extent { area_m2: outer - hole_area_m2, perimeter_m, hole_area_m2, width_m, length_m })
}

fn simple_area(corners: &[Point]) -> Result<f64, PolygonFault> {
    if corners.len() < 3 {
        return Err(PolygonFault::TooFewCorners);
    }
    let sides: Vec<_> = edges(corners).collect();
    for i in 0..sides.len() {
        for j in i + 1..sides.len() {
            let neighbours = j == i + 1 || (i == 0 && j == sides.len() - 1);
            let meet = if neighbours { folded_back(&sides, i, j) } else { segment_distance(sides[i], sides[j]) == 0.0 };
            if meet {
                return Err(PolygonFault::Crossing(i, j));
            }
        }
    }
    let area = sides.iter().map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum::<f64>().abs() / 2.0;
    let size = sides.iter().map(|(a, b)| length(*a, *b)).sum::<f64>();
    if area > 1e-9 * size * size { Ok(area) } else { Err(PolygonFault::Flat) }
}

/// Whether two edges that share a corner run back over each other, or one of them has no length.
fn folded_back(sides: &[(Point, Point)], i: usize, j: usize) -> bool {
    let (first, second) = if sides[i].1 == sides[j].0 { (sides[i], sides[j]) } else { (sides[j], sides[i]) };
    let (u, v) = (minus(first.1, first.0), minus(second.1, second.0));
    let (cross, dot) = (u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]);
    (u == [0.0, 0.0]) || (v == [0.0, 0.0]) || (cross == 0.0 && dot < 0.0)
}

/// Centre of gravity of a polygon with area, m.
///
/// ```
/// let c = toile_model::geometry::centroid(&[[0.0, 0.0], [4.0, 0.0], [4.0, 2.0], [0.0, 2.0]]);
/// assert_eq!(c, [2.0, 1.0]);
/// ```
pub fn centroid(corners: &[Point]) -> Point {
    let mut sums = [0.0; 3];
    for (a, b) in edges(corners) {
        let cross = a[0] * b[1] - b[0] * a[1];
        sums = [sums[0] + (a[0] + b[0]) * cross, sums[1] + (a[1] + b[1]) * cross, sums[2] + cross];
    }
    [sums[0] / (3.0 * sums[2]), sums[1] / (3.0 * sums[2])]
}

/// Corners of a circle as a regular polygon of equal area in 64 sides; its edge lies within 0.2 % of the radius.
pub fn round_outline(diameter_m: f64) -> Vec<Point> {
    const SIDES: usize = 64;
    let angle = std::f64::consts::TAU / SIDES as f64;
    let radius = diameter_m / 2.0 * (angle / angle.sin()).sqrt();
    (0..SIDES).map(|k| [radius * (k as f64 * angle).cos(), radius * (k as f64 * angle).sin()]).collect()
}

/// Corners of a rectangle about the origin, width along x.
pub fn rectangle_outline(width_m: f64, length_m: f64) -> Vec<Point> {
    let (x, y) = (width_m / 2.0, length_m / 2.0);
    vec![[-x, -y], [x, -y], [x, y], [-x, y]]
}

/// Turns corners about the origin and then moves them.
pub fn placed(corners: &[Point], rotation_rad: f64, centre_m: Point) -> Vec<Point> {
    let (sin, cos) = rotation_rad.sin_cos();
    corners.iter().map(|p| [centre_m[0] + cos * p[0] - sin * p[1], centre_m[1] + sin * p[0] + cos * p[1]]).collect()
}

/// Smallest distance between two polygons, m; zero when their edges meet or one lies within the other.
///
/// ```
/// use toile_model::geometry::{clearance, placed, rectangle_outline};
/// let a = rectangle_outline(2.0, 2.0);
/// assert_eq!(clearance(&a, &placed(&a, 0.0, [5.0, 0.0])), 3.0);
/// ```
pub fn clearance(a: &[Point], b: &[Point]) -> f64 {
    if contains(a, b[0]) || contains(b, a[0]) { 0.0 } else { distance(a, b) }
}

/// Smallest distance between two closed outlines, m; a single point and a line there and back count as outlines.
pub(crate) fn distance(a: &[Point], b: &[Point]) -> f64 {
    edges(a).flat_map(|x| edges(b).map(move |y| segment_distance(x, y))).fold(f64::INFINITY, f64::min)
}

fn edges(corners: &[Point]) -> impl Iterator<Item = (Point, Point)> + '_ {
    corners.iter().zip(corners.iter().cycle().skip(1)).map(|(a, b)| (*a, *b))
}

fn minus(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1]]
}

fn length(a: Point, b: Point) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// Whether a point lies inside, by the even-odd rule.
pub(crate) fn contains(corners: &[Point], p: Point) -> bool {
    edges(corners).filter(|(a, b)| (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0])).count()
        % 2
        == 1
}

fn segment_distance((a, b): (Point, Point), (c, d): (Point, Point)) -> f64 {
    let side = |p: Point, q: Point, r: Point| (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
    let cross = side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0;
    if cross {
        return 0.0;
    }
    [point_distance(a, (c, d)), point_distance(b, (c, d)), point_distance(c, (a, b)), point_distance(d, (a, b))]
        .into_iter()
        .fold(f64::INFINITY, f64::min)
}

fn point_distance(p: Point, (a, b): (Point, Point)) -> f64 {
    let along = minus(b, a);
    let squared = along[0] * along[0] + along[1] * along[1];
    let t = if squared > 0.0 { (((p[0] - a[0]) * along[0] + (p[1] - a[1]) * along[1]) / squared).clamp(0.0, 1.0) } else { 0.0 };
    length(p, [a[0] + t * along[0], a[1] + t * along[1]])
}

/// Sides of the smallest-area rectangle around the corners, shorter first. One of its sides lies along an edge of
/// the convex hull; trying every edge of the polygon itself covers all of those but for hull edges that span a bay,
/// so pairs of corners are tried instead where there are few.
fn smallest_rectangle(corners: &[Point]) -> (f64, f64) {
    let mut best = (f64::INFINITY, f64::INFINITY);
    let mut consider = |a: Point, b: Point| {
        let size = length(a, b);
        if size == 0.0 {
            return;
        }
        let u = [(b[0] - a[0]) / size, (b[1] - a[1]) / size];
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in corners {
            let q = [p[0] * u[0] + p[1] * u[1], p[1] * u[0] - p[0] * u[1]];
            for k in 0..2 {
                low[k] = low[k].min(q[k]);
                high[k] = high[k].max(q[k]);
            }
        }
        let (w, l) = (high[0] - low[0], high[1] - low[1]);
        if w * l < best.0 * best.1 {
            best = (w.min(l), w.max(l));
        }
    };
    if corners.len() <= 24 {
        for (i, a) in corners.iter().enumerate() {
            for b in &corners[i + 1..] {
                consider(*a, *b);
            }
        }
    } else {
        for (a, b) in edges(corners) {
            consider(a, b);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_crossing_outline_is_refused() {
        assert_eq!(extent(&[[0.0, 0.0], [1.0, 1.0], [1.0, 0.0], [0.0, 1.0]], &[]), Err(PolygonFault::Crossing(0, 2)));
        assert_eq!(extent(&[[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]], &[]), Err(PolygonFault::Crossing(0, 2)));
        assert_eq!(extent(&[[0.0, 0.0], [1.0, 1.0]], &[]), Err(PolygonFault::TooFewCorners));
    }

    #[test]
    fn holes_count_off_and_must_lie_inside() {
        let outer = rectangle_outline(4.0, 4.0);
        let hole = rectangle_outline(2.0, 1.0);
        let e = extent(&outer, std::slice::from_ref(&hole)).unwrap();
        assert_eq!((e.area_m2, e.hole_area_m2, e.perimeter_m), (14.0, 2.0, 22.0));
        let outside = placed(&hole, 0.0, [2.0, 0.0]);
        assert_eq!(extent(&outer, &[outside]), Err(PolygonFault::HoleOutside(0)));
        assert_eq!(extent(&outer, &[hole.clone(), hole]), Err(PolygonFault::HoleOutside(1)));
    }

    #[test]
    fn a_round_outline_has_the_circles_area() {
        let e = extent(&round_outline(2.0), &[]).unwrap();
        assert!((e.area_m2 - std::f64::consts::PI).abs() < 1e-12);
    }

    #[test]
    fn a_turned_rectangle_keeps_its_sides() {
        let e = extent(&placed(&rectangle_outline(1.0, 3.0), 0.7, [5.0, -2.0]), &[]).unwrap();
        assert!((e.width_m - 1.0).abs() < 1e-12 && (e.length_m - 3.0).abs() < 1e-12);
    }

    #[test]
    fn one_inside_the_other_has_no_clearance() {
        assert_eq!(clearance(&rectangle_outline(4.0, 4.0), &rectangle_outline(1.0, 1.0)), 0.0);
    }
}
