//! Rows that fill the outline of a pad or an electrode: stitches and how they lie, m.
//!
//! Inputs: an outline (m, as [`Shape`] allows), row spacing and stitch length (m, above 0). Rows run along the outline's
//! x, the first and the last on its edge, as in the reference table G2, and are sewn to and fro. Assumption: the
//! order of sewing around holes does not matter to the count. Source: own. Accuracy: exact for the stated order up to
//! [`MOST_ROWS`] rows and [`MOST_MEETINGS`] meetings of rows and edges; beyond that an even choice of the rows stands
//! for all, within 1 %. Errors: none; an outline that `Piece::check` refuses is not asked about.
//!
//! Example: a disc of 24 mm in rows of 0.8 mm and stitches of 3 mm: 31 rows, 198 stitches in them.

use super::Shape;
use crate::conduction::{Layout, steps};
use crate::geometry::Point;

/// Most rows that are looked at one by one.
const MOST_ROWS: usize = 1000;
/// Most meetings of rows and edges of a polygon that are looked at one by one.
const MOST_MEETINGS: usize = 1_000_000;

/// How the stitches lie that fill an outline.
pub(super) fn fill_layout(shape: &Shape, row_spacing_m: f64, stitch_length_m: f64) -> Layout {
    let (low, high) = along_y(shape);
    let gaps = steps(high - low, row_spacing_m);
    let edges = match shape {
        Shape::Polygon { points_m, holes_m } => points_m.len() + holes_m.iter().map(Vec::len).sum::<usize>(),
        _ => 1,
    };
    let most = MOST_ROWS.min(MOST_MEETINGS / edges).max(2) as f64;
    let looked_at = gaps.min(most - 1.0);
    // On the very edge a row would only touch the outline.
    let inside = 1e-9 * (high - low);
    let rows: Vec<Vec<[f64; 2]>> = (0..=looked_at as usize)
        .map(|k| (low + (high - low) * (k as f64 / looked_at)).clamp(low + inside, high - inside))
        .map(|y| chords(shape, y))
        .collect();
    let layout = Layout::of_rows(&rows, (high - low) / looked_at, stitch_length_m);
    if looked_at == gaps {
        return layout;
    }
    let more = (gaps + 1.0) / (looked_at + 1.0);
    // Turns grow in number alone: they lead up the outline, which stays as long as it is.
    Layout { stitches: more * layout.stitches, span_m: more * layout.span_m, turns: layout.turns * more, ..layout }
}

/// Lowest and highest y of an outline.
fn along_y(shape: &Shape) -> (f64, f64) {
    match shape {
        Shape::Round { diameter_m: d } | Shape::Ring { outer_diameter_m: d, .. } => (-d.value / 2.0, d.value / 2.0),
        Shape::Rectangle { length_m, .. } => (-length_m.value / 2.0, length_m.value / 2.0),
        Shape::Polygon { points_m, .. } => {
            points_m.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), p| (low.min(p[1]), high.max(p[1])))
        }
    }
}

/// Where a line along x at `y` lies inside an outline: from and to, from left to right.
fn chords(shape: &Shape, y: f64) -> Vec<[f64; 2]> {
    let across = |diameter: f64| (diameter * diameter / 4.0 - y * y).max(0.0).sqrt();
    match shape {
        Shape::Round { diameter_m } => vec![[-across(diameter_m.value), across(diameter_m.value)]],
        Shape::Ring { inner_diameter_m, outer_diameter_m } => {
            let (inner, outer) = (across(inner_diameter_m.value), across(outer_diameter_m.value));
            if inner > 0.0 { vec![[-outer, -inner], [inner, outer]] } else { vec![[-outer, outer]] }
        }
        Shape::Rectangle { width_m, length_m, corner_radius_m } => {
            let radius = corner_radius_m.value.min(width_m.value.min(length_m.value) / 2.0);
            // How far into a rounded corner the row lies, and what the corner takes off it.
            let into = (y.abs() - (length_m.value / 2.0 - radius)).max(0.0);
            let half = width_m.value / 2.0 - radius + (radius * radius - into * into).max(0.0).sqrt();
            vec![[-half, half]]
        }
        Shape::Polygon { points_m, holes_m } => {
            let mut meets: Vec<f64> = std::iter::once(points_m).chain(holes_m).flat_map(|ring| meetings(ring, y)).collect();
            meets.sort_by(f64::total_cmp);
            meets.chunks_exact(2).map(|pair| [pair[0], pair[1]]).collect()
        }
    }
}

/// Where a line along x at `y` meets the edges of a ring; an edge holds its lower end and not its upper one, so that a
/// line through a corner is counted once.
fn meetings(ring: &[Point], y: f64) -> impl Iterator<Item = f64> {
    ring.iter().zip(ring.iter().cycle().skip(1)).filter(move |(a, b)| (a[1] <= y) != (b[1] <= y)).map(move |(a, b)| {
        let part = (y - a[1]) / (b[1] - a[1]);
        a[0] + part * (b[0] - a[0])
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conduction::StitchKind;
    use crate::uncertainty::Measured;

    fn exact(mm: f64) -> Measured {
        Measured::exact(mm / 1e3)
    }

    fn polygon(points: &[[f64; 2]]) -> Shape {
        Shape::Polygon { points_m: points.iter().map(|p| p.map(|x| x / 1e3)).collect(), holes_m: Vec::new() }
    }

    #[test]
    fn a_rectangle_is_the_fill_of_the_tables_drawn_either_way() {
        let expected = Layout::of(&StitchKind::Fill { length_m: 0.0444, height_m: 0.0611, row_spacing_m: 0.0013, stitch_length_m: 0.0046 });
        let rectangle = Shape::Rectangle { width_m: exact(44.4), length_m: exact(61.1), corner_radius_m: exact(0.0) };
        let drawn = polygon(&[[0.0, 0.0], [44.4, 0.0], [44.4, 61.1], [0.0, 61.1]]);
        for shape in [rectangle, drawn] {
            let found = fill_layout(&shape, 0.0013, 0.0046);
            assert_eq!((found.stitches, found.turns), (expected.stitches, expected.turns));
            // Rows a billionth of the height inside the edge, and rounding.
            assert!((found.span_m / expected.span_m - 1.0).abs() < 1e-12);
            assert!((found.turns_span_m / expected.turns_span_m - 1.0).abs() < 1e-8);
        }
    }

    #[test]
    fn rows_cover_the_area_of_any_outline() {
        // The rows are strips of the outline: length times spacing is its area, but for the end rows (half a row each
        // way, 2 % of these).
        let l_shape = polygon(&[[0.0, 0.0], [40.0, 0.0], [40.0, 10.0], [10.0, 10.0], [10.0, 40.0], [0.0, 40.0]]);
        let holed = Shape::Polygon {
            points_m: [[0.0, 0.0], [0.04, 0.0], [0.04, 0.04], [0.0, 0.04]].to_vec(),
            holes_m: vec![[[0.01, 0.01], [0.03, 0.01], [0.03, 0.03], [0.01, 0.03]].to_vec()],
        };
        let pi = std::f64::consts::PI;
        for (shape, area_mm2) in [
            (Shape::Round { diameter_m: exact(40.0) }, 400.0 * pi),
            (Shape::Ring { inner_diameter_m: exact(20.0), outer_diameter_m: exact(40.0) }, 300.0 * pi),
            (Shape::Rectangle { width_m: exact(30.0), length_m: exact(40.0), corner_radius_m: exact(10.0) }, 1200.0 - (4.0 - pi) * 100.0),
            (l_shape, 700.0),
            (holed, 1200.0),
        ] {
            let layout = fill_layout(&shape, 0.0004, 0.003);
            let covered = layout.span_m * 0.0004 * 1e6;
            assert!((covered / area_mm2 - 1.0).abs() < 0.02, "{covered} of {area_mm2}");
            assert!(layout.stitches >= layout.span_m / 0.003, "no stitch is longer than asked");
        }
    }

    #[test]
    fn the_disc_of_the_example_has_the_stitches_named() {
        // Counted by another program: 31 rows of at most 8 stitches.
        let disc = fill_layout(&Shape::Round { diameter_m: exact(24.0) }, 0.8e-3, 3e-3);
        assert_eq!(disc.stitches, 198.0);
        assert!((disc.span_m - 0.561_853).abs() < 1e-6);
    }

    #[test]
    fn an_even_choice_of_rows_stands_for_many() {
        let disc = Shape::Round { diameter_m: exact(400.0) };
        let (some, few) = (fill_layout(&disc, 0.0002, 0.003), fill_layout(&disc, 0.0004, 0.003));
        for (a, b) in [(some.stitches, 2.0 * few.stitches), (some.span_m, 2.0 * few.span_m), (some.turns, 2.0 * few.turns)] {
            assert!((a / b - 1.0).abs() < 0.01, "{a} against {b}");
        }
        assert!((some.turns_span_m / few.turns_span_m - 1.0).abs() < 0.01);
    }
}
