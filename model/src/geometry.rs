//! Outlines as polygons: area, perimeter, extents, faults and distances. Shapes know no materials.
//!
//! Own code rather than a geometry library: the four functions needed here fit on two pages, and the libraries
//! that hold them bring a logging crate, which this crate does without.

/// A point, m.
pub type Point = [f64; 2];

/// Largest number of corners that one polygon may have, holes included.
pub const MOST_CORNERS: usize = 5000;

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
        let inside_outline = hole.iter().all(|p| contains(outline, *p)) && !touch(outline, hole);
        let clear_of_others = holes[..k].iter().all(|other| !touch(other, hole) && !contains(other, hole[0]) && !contains(hole, other[0]));
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
    let sides: Vec<Edge> = edges(corners).collect();
    if let Some((i, j)) = first_meeting(&sides, true) {
        return Err(PolygonFault::Crossing(i, j));
    }
    let area = area(corners);
    let size = sides.iter().map(|(a, b)| length(*a, *b)).sum::<f64>();
    if area > 1e-9 * size * size { Ok(area) } else { Err(PolygonFault::Flat) }
}

/// Where an open path meets itself: the numbers of the first corners of two steps that cross, touch or run back over
/// each other, or of one step without length and the next.
///
/// ```
/// use toile_model::geometry::path_meets_itself;
/// assert_eq!(path_meets_itself(&[[0.0, 0.0], [4.0, 0.0], [4.0, 3.0]]), None);
/// assert_eq!(path_meets_itself(&[[0.0, 0.0], [4.0, 0.0], [1.0, 0.0]]), Some((0, 1)));
/// ```
pub fn path_meets_itself(path: &[Point]) -> Option<(usize, usize)> {
    let steps: Vec<Edge> = path.windows(2).map(|w| (w[0], w[1])).collect();
    match steps[..] {
        [(a, b)] => (a == b).then_some((0, 0)),
        _ => first_meeting(&steps, false),
    }
}

/// The first two of some edges in a row that meet elsewhere than in the corner they share; `closed` when the last is
/// joined to the first. Edges are swept along x, and only those whose boxes overlap are looked at closely: an outline
/// of five thousand corners has twelve million pairs of edges, of which some thousand lie near each other.
fn first_meeting(sides: &[Edge], closed: bool) -> Option<(usize, usize)> {
    let boxes: Vec<[f64; 4]> = sides.iter().map(|side| box_of(*side)).collect();
    let mut order: Vec<usize> = (0..sides.len()).collect();
    order.sort_by(|a, b| boxes[*a][0].total_cmp(&boxes[*b][0]));
    let mut first: Option<(usize, usize)> = None;
    for (k, a) in order.iter().enumerate() {
        for b in order[k + 1..].iter().take_while(|b| boxes[**b][0] <= boxes[*a][2]) {
            let (i, j) = (*a.min(b), *a.max(b));
            if boxes[i][1] > boxes[j][3] || boxes[j][1] > boxes[i][3] || first.is_some_and(|known| known <= (i, j)) {
                continue;
            }
            let neighbours = j == i + 1 || (closed && i == 0 && j == sides.len() - 1);
            let meet = if neighbours { folded_back(sides, i, j) } else { segment_distance(sides[i], sides[j]) == 0.0 };
            if meet {
                first = Some((i, j));
            }
        }
    }
    first
}

/// Low x, low y, high x, high y of an edge.
fn box_of((a, b): Edge) -> [f64; 4] {
    [a[0].min(b[0]), a[1].min(b[1]), a[0].max(b[0]), a[1].max(b[1])]
}

/// Whether two edges that share a corner run back over each other, or one of them has no length.
fn folded_back(sides: &[Edge], i: usize, j: usize) -> bool {
    let (first, second) = if sides[i].1 == sides[j].0 { (sides[i], sides[j]) } else { (sides[j], sides[i]) };
    let (u, v) = (minus(first.1, first.0), minus(second.1, second.0));
    let (cross, dot) = (u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]);
    (u == [0.0, 0.0]) || (v == [0.0, 0.0]) || (cross == 0.0 && dot < 0.0)
}

/// Length of the edges of a closed polygon, m.
pub(crate) fn edge_length(corners: &[Point]) -> f64 {
    edges(corners).map(|(a, b)| length(a, b)).sum()
}

/// Area of a polygon whose edges do not cross, m2.
pub(crate) fn area(corners: &[Point]) -> f64 {
    edges(corners).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum::<f64>().abs() / 2.0
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
/// Edges whose boxes lie farther apart than the nearest so far are passed over.
pub(crate) fn distance(a: &[Point], b: &[Point]) -> f64 {
    let others: Vec<(Edge, [f64; 4])> = edges(b).map(|edge| (edge, box_of(edge))).collect();
    let around = box_around(others.iter().map(|(_, its)| *its));
    let mut nearest = f64::INFINITY;
    for edge in edges(a) {
        let own = box_of(edge);
        if gap_of(own, around) >= nearest {
            continue;
        }
        for (other, its) in &others {
            if gap_of(own, *its) < nearest {
                nearest = nearest.min(segment_distance(edge, *other));
            }
        }
    }
    nearest
}

/// Whether the edges of two polygons meet anywhere. Only edges whose boxes do are looked at closely.
fn touch(a: &[Point], b: &[Point]) -> bool {
    let others: Vec<(Edge, [f64; 4])> = edges(b).map(|edge| (edge, box_of(edge))).collect();
    let around = box_around(others.iter().map(|(_, its)| *its));
    edges(a)
        .map(|edge| (edge, box_of(edge)))
        .filter(|(_, own)| gap_of(*own, around) <= 0.0)
        .any(|(edge, own)| others.iter().any(|(other, its)| gap_of(own, *its) <= 0.0 && segment_distance(edge, *other) == 0.0))
}

fn box_around(boxes: impl Iterator<Item = [f64; 4]>) -> [f64; 4] {
    boxes.fold([f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY], |all, one| {
        [all[0].min(one[0]), all[1].min(one[1]), all[2].max(one[2]), all[3].max(one[3])]
    })
}

/// The wider of the free spaces between two boxes along x and y: no more than the distance of what they hold; below
/// zero where they overlap.
fn gap_of(a: [f64; 4], b: [f64; 4]) -> f64 {
    (a[0] - b[2]).max(b[0] - a[2]).max(a[1] - b[3]).max(b[1] - a[3])
}

/// Two corners that an outline or a path joins.
type Edge = (Point, Point);

fn edges(corners: &[Point]) -> impl Iterator<Item = Edge> + '_ {
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
/// their convex hull (H. Freeman and R. Shapira, Determining the minimum-area encasing rectangle for an arbitrary
/// closed curve, 1975), so each edge is tried; the hull's outermost corners move on with the edge and never back.
fn smallest_rectangle(corners: &[Point]) -> (f64, f64) {
    let hull = convex_hull(corners);
    let count = hull.len();
    let at = |k: usize| hull[k % count];
    let mut best = (f64::INFINITY, f64::INFINITY);
    let (mut far, mut ahead, mut behind) = (1, 1, 1);
    for k in 0..count {
        let size = length(at(k), at(k + 1));
        let u = minus(at(k + 1), at(k)).map(|x| x / size);
        let along = |p: Point| p[0] * u[0] + p[1] * u[1];
        let up = |p: Point| p[1] * u[0] - p[0] * u[1];
        // Each of the three runs on round the hull for as long as that leads outwards.
        let climb = |mut from: usize, outwards: &dyn Fn(Point) -> f64| {
            while from < 3 * count && outwards(at(from + 1)) > outwards(at(from)) {
                from += 1;
            }
            from
        };
        ahead = climb(ahead.max(k + 1), &along);
        far = climb(far.max(ahead), &up);
        behind = climb(behind.max(far), &|p| -along(p));
        let (w, l) = (up(at(far)) - up(at(k)), along(at(ahead)) - along(at(behind)));
        if w * l < best.0 * best.1 {
            best = (w.min(l), w.max(l));
        }
    }
    best
}

/// Corners of the convex hull, anticlockwise, none on the line between its neighbours (A. M. Andrew, Another efficient
/// algorithm for convex hulls in two dimensions, 1979). The corners enclose an area.
fn convex_hull(corners: &[Point]) -> Vec<Point> {
    let mut sorted = corners.to_vec();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    let chain = |points: &mut dyn Iterator<Item = &Point>| {
        let mut chain: Vec<Point> = Vec::new();
        for p in points {
            while let [.., a, b] = chain[..]
                && (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) <= 0.0
            {
                chain.pop();
            }
            chain.push(*p);
        }
        chain.pop();
        chain
    };
    let mut hull = chain(&mut sorted.iter());
    hull.extend(chain(&mut sorted.iter().rev()));
    hull
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

    /// A gear of `teeth` teeth: its hull spans bays, and half of its corners lie inside it.
    fn gear(teeth: usize) -> Vec<Point> {
        let angle = std::f64::consts::TAU / (2 * teeth) as f64;
        (0..2 * teeth)
            .map(|k| {
                let radius = if k % 2 == 0 { 2.0 } else { 1.7 };
                [3.0 + radius * (k as f64 * angle).cos(), radius * (k as f64 * angle).sin() - 1.0]
            })
            .collect()
    }

    #[test]
    fn the_smallest_rectangle_is_that_of_every_direction_tried() {
        let leaf: Vec<Point> = (0..40).map(|k| k as f64 * 0.157).map(|t| [3.0 * t.cos(), (0.4 + 0.3 * t.cos()) * t.sin()]).collect();
        let bay = vec![[0.0, 0.0], [6.0, 1.0], [2.0, 1.2], [1.0, 4.0]];
        for (what, outline) in [("gear", gear(9)), ("leaf", leaf), ("bay", bay), ("triangle", vec![[0.0, 0.0], [5.0, 0.1], [1.0, 2.0]])] {
            let e = extent(&outline, &[]).unwrap();
            let area = |turn: f64| {
                let (sin, cos) = turn.sin_cos();
                let span = |x: f64, y: f64| {
                    let across = outline.iter().map(|p| p[0] * x + p[1] * y);
                    across.clone().fold(f64::NEG_INFINITY, f64::max) - across.fold(f64::INFINITY, f64::min)
                };
                span(cos, sin) * span(-sin, cos)
            };
            // No direction of a fine fan does better, and the best of them comes near: within the sine of its step.
            let tried = (0..20_000).map(|k| area(k as f64 * std::f64::consts::FRAC_PI_2 / 20_000.0)).fold(f64::INFINITY, f64::min);
            let found = e.width_m * e.length_m;
            assert!(found <= tried * (1.0 + 1e-12) && found > tried * (1.0 - 2e-3), "{what}: {found} for {tried}");
        }
    }

    #[test]
    fn many_corners_are_looked_at_as_closely_as_few() {
        let outline = gear(MOST_CORNERS / 2);
        assert!(extent(&outline, &[]).is_ok());
        // One tooth drawn across the whole gear.
        let mut crossed = outline.clone();
        crossed[1001] = [1.0, 1.0];
        assert!(matches!(extent(&crossed, &[]), Err(PolygonFault::Crossing(_, _))));
        let mut one_more = outline;
        one_more.push([3.0, -1.0]);
        assert_eq!(extent(&one_more, &[]), Err(PolygonFault::TooManyCorners));
    }

    #[test]
    fn the_first_meeting_is_named_whatever_the_sweep_finds_first() {
        // Edges 0 and 2 cross at the right end, edges 5 and 7 at the left one.
        let outline =
            [[8.0, 0.0], [10.0, 2.0], [10.0, 0.0], [8.0, 2.0], [4.0, 3.0], [0.0, 2.0], [2.0, 0.0], [0.0, 0.0], [2.0, 2.0], [4.0, 1.0]];
        assert_eq!(extent(&outline, &[]), Err(PolygonFault::Crossing(0, 2)));
    }

    #[test]
    fn a_path_may_not_meet_itself() {
        for (path, meets) in [
            (vec![[0.0, 0.0], [1.0, 0.0]], None),
            (vec![[0.0, 0.0], [0.0, 0.0]], Some((0, 0))),
            (vec![[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]], None),
            (vec![[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [1.0, 1.0], [1.0, -1.0]], Some((0, 3))),
            // Coming back to where it began is no crossing of neighbours: a path is open.
            (vec![[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 0.0]], Some((0, 2))),
            (vec![[0.0, 0.0], [1.0, 0.0], [1.0, 0.0], [1.0, 1.0]], Some((0, 1))),
        ] {
            assert_eq!(path_meets_itself(&path), meets, "{path:?}");
        }
    }

    #[test]
    fn clearance_of_many_corners_is_that_of_every_pair() {
        let (a, b) = (gear(40), placed(&gear(31), 0.3, [5.0, 2.5]));
        let plain = edges(&a).flat_map(|x| edges(&b).map(move |y| segment_distance(x, y))).fold(f64::INFINITY, f64::min);
        assert_eq!(clearance(&a, &b), plain);
        assert!(plain > 0.1);
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
