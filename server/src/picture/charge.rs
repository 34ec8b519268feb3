//! The charge on a pad as a map.
//!
//! Cells of one step of the scale share one path, so that a map of thousands of cells stays a short text.

use std::fmt::Write;

use toile_model::geometry::Point;
use toile_model::units::{self, short};
use toile_model::{ChargeCell, ChargeMap};

use super::scale::{FILLS, Scale};
use super::text::escaped;

/// Width of the drawing, and the largest height of the map in it, in units of its own; shown one to one on a page.
const WIDTH: f64 = 360.0;
const TALLEST: f64 = 320.0;
const MARGIN: f64 = 10.0;
/// Heights of the bar that shows the size, and of the legend with its two lines of text.
const BAR: f64 = 34.0;
const LEGEND: f64 = 62.0;

/// pC/cm2 in one C/m2.
const PC_PER_CM2: f64 = 1e8;

/// Part of the pad's area whose charge is above the last step of the scale: along its rim charge grows without limit,
/// and a scale that reached that far would leave the rest of the pad in one step.
const RIM: f64 = 0.05;

/// Draws the charge on the pad called `name` at 1 V: a map with a scale in pC/cm2, y upwards as on the cloth.
pub fn charge_svg(name: &str, map: &ChargeMap) -> String {
    let (low, high) = most_of(&map.cells);
    let scale = Scale::over(low, high);
    let frame = Frame::around(map);
    let mut svg = String::with_capacity(4096 + 40 * map.cells.len());
    let height = frame.height + BAR + LEGEND;
    let title = format!("Charge on pad {}", escaped(name));
    let words = description(low, high, map);
    let _ = write!(
        svg,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}\" height=\"{height:.0}\" viewBox=\"0 0 {WIDTH} {height:.0}\" \
         role=\"img\" aria-labelledby=\"title description\" font-family=\"sans-serif\" font-size=\"12.5\" fill=\"#2a2620\">\n\
         <title id=\"title\">{title}</title>\n<desc id=\"description\">{words}</desc>\n\
         <rect width=\"{WIDTH}\" height=\"{height:.0}\" fill=\"#fdfbf6\"/>\n"
    );
    draw_cells(&mut svg, &frame, &scale, map);
    draw_outline(&mut svg, &frame, map);
    draw_size(&mut svg, &frame);
    draw_legend(&mut svg, &scale, frame.height + BAR);
    svg.push_str("</svg>\n");
    svg
}

fn description(low: f64, high: f64, map: &ChargeMap) -> String {
    let most = map.cells.iter().map(pc_per_cm2).fold(high, f64::max);
    format!(
        "Seen from above, with 1 V on the pad. Where it is palest it holds {} pC/cm²; nineteen twentieths of it hold less than {}, \
         the densest part {}; the mean is {} pC/cm².",
        short(low),
        short(high),
        short(most),
        short(map.mean_density * PC_PER_CM2)
    )
}

fn pc_per_cm2(cell: &ChargeCell) -> f64 {
    cell.density * PC_PER_CM2
}

/// The densities that most of the area lies between, in pC/cm2: from the smallest to the one that only the rim is above.
fn most_of(cells: &[ChargeCell]) -> (f64, f64) {
    let mut by_density: Vec<(f64, f64)> = cells.iter().map(|c| (pc_per_cm2(c), area(&c.corners_m))).collect();
    by_density.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = by_density.iter().map(|(_, area)| area).sum();
    let mut covered = 0.0;
    let high = by_density.iter().find(|(_, area)| {
        covered += area;
        covered >= (1.0 - RIM) * total
    });
    let low = by_density.first().map_or(0.0, |(density, _)| *density);
    (low, high.map_or(low, |(density, _)| *density))
}

fn area(corners: &[Point; 4]) -> f64 {
    let [a, b, c, d] = *corners;
    ((c[0] - a[0]) * (d[1] - b[1]) - (d[0] - b[0]) * (c[1] - a[1])).abs() / 2.0
}

/// From the cloth to the drawing.
struct Frame {
    left_m: f64,
    top_m: f64,
    per_m: f64,
    /// Height that the map takes with its margins.
    height: f64,
    /// Free space on either side of the map.
    indent: f64,
}

impl Frame {
    fn around(map: &ChargeMap) -> Self {
        let points = || map.outline_m.iter().flatten().chain(map.cells.iter().flat_map(|c| &c.corners_m));
        let least = |axis: usize| points().map(|p| p[axis]).fold(f64::INFINITY, f64::min);
        let most = |axis: usize| points().map(|p| p[axis]).fold(f64::NEG_INFINITY, f64::max);
        let (left_m, top_m) = (least(0), most(1));
        // A map of nothing, or of a single place, is drawn as if it were a millimetre wide.
        let size = |span: f64| if span.is_finite() && span > 0.0 { span } else { 1e-3 };
        let (width_m, height_m) = (size(most(0) - left_m), size(top_m - least(1)));
        let per_m = ((WIDTH - 2.0 * MARGIN) / width_m).min((TALLEST - 2.0 * MARGIN) / height_m);
        let finite = |x: f64| if x.is_finite() { x } else { 0.0 };
        Self {
            left_m: finite(left_m),
            top_m: finite(top_m),
            per_m,
            height: height_m * per_m + 2.0 * MARGIN,
            indent: (WIDTH - width_m * per_m) / 2.0,
        }
    }

    fn place(&self, point: Point) -> (f64, f64) {
        (self.indent + (point[0] - self.left_m) * self.per_m, MARGIN + (self.top_m - point[1]) * self.per_m)
    }

    fn ring(&self, svg: &mut String, ring: &[Point]) {
        for (k, point) in ring.iter().enumerate() {
            let (x, y) = self.place(*point);
            let _ = write!(svg, "{}{x:.2} {y:.2}", if k == 0 { 'M' } else { 'L' });
        }
        svg.push('Z');
    }
}

fn draw_cells(svg: &mut String, frame: &Frame, scale: &Scale, map: &ChargeMap) {
    for (step, fill) in FILLS.iter().enumerate() {
        let mut cells = map.cells.iter().filter(|c| scale.place(pc_per_cm2(c)) == step).peekable();
        if cells.peek().is_none() {
            continue;
        }
        // A hair of its own colour around each cell closes the seams that smoothing leaves between neighbours.
        let _ = write!(svg, "<path fill=\"{fill}\" stroke=\"{fill}\" stroke-width=\".5\" stroke-linejoin=\"round\" d=\"");
        for cell in cells {
            frame.ring(svg, &cell.corners_m);
        }
        svg.push_str("\"/>\n");
    }
}

fn draw_outline(svg: &mut String, frame: &Frame, map: &ChargeMap) {
    svg.push_str("<path fill=\"none\" stroke=\"#2a2620\" stroke-width=\"1.2\" d=\"");
    for ring in &map.outline_m {
        frame.ring(svg, ring);
    }
    svg.push_str("\"/>\n");
}

/// A bar of a round length, a fifth to a half of the map's width.
fn draw_size(svg: &mut String, frame: &Frame) {
    let widest_mm = 0.5 * (WIDTH - 2.0 * frame.indent) / frame.per_m * 1e3;
    let power = 10f64.powf(widest_mm.log10().floor());
    let long = [5.0, 2.0, 1.0].into_iter().map(|times| times * power).find(|mm| *mm <= widest_mm).unwrap_or(power);
    let (x, y) = (frame.indent, frame.height + 8.0);
    let end = x + long / 1e3 * frame.per_m;
    let label = units::COORDINATE.print(long / 1e3);
    let _ = write!(
        svg,
        "<path fill=\"none\" stroke=\"#2a2620\" stroke-width=\"1.5\" d=\"M{x:.1} {:.1}V{y:.1}H{end:.1}V{:.1}\"/>\n\
         <text x=\"{:.1}\" y=\"{:.1}\">{label}</text>\n",
        y - 4.0,
        y - 4.0,
        end + 6.0,
        y + 4.0
    );
}

fn draw_legend(svg: &mut String, scale: &Scale, top: f64) {
    let wide = (WIDTH - 2.0 * MARGIN) / FILLS.len() as f64;
    let _ = writeln!(svg, "<text x=\"{MARGIN}\" y=\"{:.1}\">Charge in pC/cm² for each volt</text>", top + 12.0);
    for (step, fill) in FILLS.iter().enumerate() {
        let x = MARGIN + wide * step as f64;
        let _ = writeln!(
            svg,
            "<rect x=\"{x:.1}\" y=\"{:.1}\" width=\"{wide:.1}\" height=\"16\" fill=\"{fill}\" stroke=\"#857a66\" stroke-width=\".7\"/>",
            top + 20.0
        );
    }
    for (k, limit) in scale.limits().enumerate() {
        let x = MARGIN + wide * (k + 1) as f64;
        let _ = writeln!(svg, "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>", top + 51.0, short(limit));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square pad of 20 mm in cells of 1 mm, denser towards its edges.
    fn square() -> ChargeMap {
        let cells: Vec<ChargeCell> = (0..400)
            .map(|k| {
                let (x, y) = (f64::from(k % 20) * 1e-3, f64::from(k / 20) * 1e-3);
                let edge = (x - 9.5e-3).abs().max((y - 9.5e-3).abs()) / 10e-3;
                let corners_m = [[x, y], [x + 1e-3, y], [x + 1e-3, y + 1e-3], [x, y + 1e-3]];
                ChargeCell { corners_m, density: 5e-9 / (1.0 - edge * edge).sqrt() }
            })
            .collect();
        let mean_density = cells.iter().map(|c| c.density).sum::<f64>() / 400.0;
        ChargeMap { outline_m: vec![vec![[0.0, 0.0], [0.02, 0.0], [0.02, 0.02], [0.0, 0.02]]], cells, mean_density }
    }

    #[test]
    fn a_map_says_what_it_shows() {
        let svg = charge_svg("a & b", &square());
        for words in
            ["<title id=\"title\">Charge on pad a &amp; b</title>", "palest it holds 0.501 pC/cm²", "10 mm</text>", "pC/cm² for each volt"]
        {
            assert!(svg.contains(words), "no {words} in {svg}");
        }
        assert!(svg.starts_with("<svg xmlns") && svg.ends_with("</svg>\n"));
        // Nothing that runs, nothing that is fetched, no style sheet.
        for word in ["<script", "<style", "style=", "href", "NaN", "inf"] {
            assert!(!svg.contains(word), "{word} in {svg}");
        }
    }

    #[test]
    fn every_cell_is_drawn_once_and_the_rim_is_darkest() {
        let svg = charge_svg("a", &square());
        let cells_of = |fill: &str| {
            let paths = svg.lines().filter(|line| line.starts_with(&format!("<path fill=\"{fill}\"")));
            paths.map(|line| line.matches('Z').count()).sum::<usize>()
        };
        assert_eq!(FILLS.iter().map(|fill| cells_of(fill)).sum::<usize>(), 400);
        // 76 cells lie along the rim, the densest of all: 5e-9 / sqrt(1 - 0.95^2) C/m2.
        let darkest = FILLS.iter().rposition(|fill| cells_of(fill) > 0).unwrap();
        assert!(cells_of(FILLS[darkest]) >= 76 && cells_of(FILLS[0]) + cells_of(FILLS[1]) > 100, "{svg}");
    }

    #[test]
    fn y_runs_upwards() {
        let frame = Frame::around(&square());
        let ((left, low), (right, high)) = (frame.place([0.0, 0.0]), frame.place([0.02, 0.02]));
        assert!(left < right && high < low);
        assert!((right - left - (low - high)).abs() < 1e-9, "to scale");
    }

    #[test]
    fn a_map_of_one_place_is_drawn_too() {
        let cell = ChargeCell { corners_m: [[0.0; 2]; 4], density: 0.0 };
        for map in [
            ChargeMap { outline_m: vec![], cells: vec![cell], mean_density: 0.0 },
            ChargeMap { outline_m: vec![], cells: vec![], mean_density: 0.0 },
        ] {
            let svg = charge_svg("a", &map);
            assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
        }
    }
}
