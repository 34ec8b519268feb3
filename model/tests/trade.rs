//! Cases over the trade's range, each a closed form held against the field.
//!
//! Three in four lie in the range itself: pads 4 to 100 mm, base 0.05 to 20 mm in one to three layers, overlay none or 0.05
//! to 10 mm in one to three layers, permittivity 1 to 8, ground plane or none, fingertips 6 to 16 mm. The others are drawn
//! by ratios of lengths, as far out as the closed forms call themselves valid.
//!
//! What is measured goes by the name of a map and two numbers, the ones by which the closed forms look their bounds up.

use toile_model::electrostatics::*;

/// A map of bounds: its name, what its two numbers are, and their knots.
#[allow(dead_code, reason = "some fields are only printed, or read by the program that shares this file")]
pub struct Axes {
    /// As in the generated file.
    pub name: &'static str,
    /// What the two numbers are.
    pub numbers: &'static str,
    /// Knots of the first.
    pub x: &'static [f64],
    /// Knots of the second.
    pub y: &'static [f64],
    /// The part of the cases of a cell that a bound is measured on: 1 for the worst, less where single cases are far off.
    pub part: f64,
}

/// Plate part over the whole.
const SHARE: &[f64] = &[0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 0.995, 1.0];
/// Overlay over a radius.
const COVER: &[f64] = &[0.0, 0.03, 0.1, 0.3, 1.0, 3.0];
/// Length over width.
const RATIO: &[f64] = &[1.0, 1.25, 1.6, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0];
/// Sum of permittivity times thickness over a radius.
const REACH: &[f64] = &[0.0, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 100.0, 1000.0];
/// Share of the pad's potential that a floating finger takes.
const TAKEN: &[f64] = &[0.0, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0];
/// Radius of the finger over that of the pad.
const FINGER: &[f64] = &[0.0, 0.15, 0.3, 0.5, 0.8, 1.2, 2.0, 4.0];
/// One capacitance over another.
const AGAINST: &[f64] = &[0.0, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0, 1000.0];
/// Radius of a thread over the distance of a boundary.
const NEAR: &[f64] = &[0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0];
/// Gap between neighbours over their size.
const GAP: &[f64] = &[0.0, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0];
/// Coupling over the geometric mean of its diagonals.
const COUPLED: &[f64] = &[0.0, 0.001, 0.01, 0.03, 0.1, 0.2, 0.3, 0.5, 0.9];

/// Radius of a hole over that of the outline.
const HOLE: &[f64] = &[0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9];
/// Diameter of the finger over a length of the pad.
const TIP: &[f64] = &[0.0, 0.25, 0.5, 1.0, 1.5, 2.0, 4.0];
/// How far the finger is off the middle, over both radii and the overlay.
const OFF: &[f64] = &[0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0];

/// Every map.
pub const MAPS: &[Axes] = &[
    Axes { name: "DISC_OVER_GROUND", numbers: "plate share, overlay over radius", x: SHARE, y: COVER, part: 1.0 },
    Axes { name: "DISC_WITHOUT_GROUND", numbers: "reach over radius, overlay over radius", x: REACH, y: COVER, part: 1.0 },
    Axes { name: "RECTANGLE_OVER_GROUND", numbers: "plate share, length over width", x: SHARE, y: RATIO, part: 1.0 },
    Axes { name: "RECTANGLE_WITHOUT_GROUND", numbers: "reach over disc radius, length over width", x: REACH, y: RATIO, part: 1.0 },
    Axes { name: "RING_OVER_GROUND", numbers: "plate share, hole over outline", x: SHARE, y: HOLE, part: 1.0 },
    Axes { name: "RING_WITHOUT_GROUND", numbers: "reach over disc radius, hole over outline", x: REACH, y: HOLE, part: 1.0 },
    Axes { name: "STRIP", numbers: "plate share, overlay over half width", x: SHARE, y: COVER, part: 1.0 },
    Axes { name: "THREAD", numbers: "radius over distance of the nearest boundary, radius over height", x: NEAR, y: NEAR, part: 1.0 },
    Axes {
        name: "ROWS",
        numbers: "radius over spacing, height over radius",
        x: &[0.0, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.45, 0.48, 0.5],
        y: &[1.02, 1.05, 1.1, 1.2, 1.4, 1.7, 2.0, 3.0, 5.0, 10.0, 30.0, 1000.0],
        part: 1.0,
    },
    Axes { name: "PAD_FINGER_OVER_GROUND", numbers: "share taken, finger over pad", x: TAKEN, y: FINGER, part: 0.995 },
    Axes { name: "PAD_FINGER_WITHOUT_GROUND", numbers: "share taken, finger over pad", x: TAKEN, y: FINGER, part: 0.995 },
    Axes { name: "PAD_GROUND_OVER_GROUND", numbers: "pad-finger over pad-ground, finger over pad", x: AGAINST, y: FINGER, part: 0.995 },
    Axes { name: "PAD_GROUND_WITHOUT_GROUND", numbers: "pad-finger over pad-ground, finger over pad", x: AGAINST, y: FINGER, part: 0.995 },
    Axes {
        name: "FINGER_GROUND_OVER_GROUND",
        numbers: "pad-finger over finger-ground, finger over pad",
        x: AGAINST,
        y: FINGER,
        part: 0.995,
    },
    Axes {
        name: "FINGER_GROUND_WITHOUT_GROUND",
        numbers: "pad-finger over finger-ground, finger over pad",
        x: AGAINST,
        y: FINGER,
        part: 0.995,
    },
    Axes { name: "TOUCH_DIAGONALS_OVER_GROUND", numbers: "share taken, finger over pad", x: TAKEN, y: FINGER, part: 0.995 },
    Axes { name: "TOUCH_DIAGONALS_WITHOUT_GROUND", numbers: "share taken, finger over pad", x: TAKEN, y: FINGER, part: 0.995 },
    Axes { name: "FINGER_OVER_RECTANGLE", numbers: "finger over short side, length over width", x: TIP, y: &[1.0, 2.0, 4.0], part: 0.995 },
    Axes {
        name: "GROUND_AROUND_RECTANGLE",
        numbers: "finger over short side, length over width",
        x: TIP,
        y: &[1.0, 2.0, 4.0],
        part: 0.995,
    },
    Axes { name: "FINGER_OVER_RING", numbers: "finger over hole, hole over outline", x: TIP, y: &[0.0, 0.25, 0.5, 0.75, 0.9], part: 0.995 },
    Axes {
        name: "GROUND_AROUND_RING",
        numbers: "finger over hole, hole over outline",
        x: TIP,
        y: &[0.0, 0.25, 0.5, 0.75, 0.9],
        part: 0.995,
    },
    Axes { name: "FINGER_OFF_OVER_GROUND", numbers: "off over reach, finger over pad", x: OFF, y: FINGER, part: 0.995 },
    Axes { name: "FINGER_OFF_WITHOUT_GROUND", numbers: "off over reach, finger over pad", x: OFF, y: FINGER, part: 0.995 },
    Axes {
        name: "NEIGHBOURS_OVER_GROUND",
        numbers: "gap over height, gap over size",
        x: &[0.0, 0.1, 0.2, 0.4, 0.7, 1.0, 2.0, 4.0, 10.0, 100.0],
        y: GAP,
        part: 0.995,
    },
    Axes { name: "NEIGHBOURS_WITHOUT_GROUND", numbers: "reach over size, gap over size", x: REACH, y: GAP, part: 0.995 },
    Axes { name: "COUPLED_OVER_GROUND", numbers: "coupling, gap over size", x: COUPLED, y: GAP, part: 0.995 },
    Axes { name: "COUPLED_WITHOUT_GROUND", numbers: "coupling, gap over size", x: COUPLED, y: GAP, part: 0.995 },
];

/// One closed form against the field, once.
#[derive(Debug, Clone, Copy)]
#[allow(dead_code, reason = "some fields are only printed, or read by the program that shares this file")]
pub struct Trial {
    /// The map that it belongs to.
    pub map: &'static str,
    /// First number.
    pub x: f64,
    /// Second number.
    pub y: f64,
    /// Relative error found.
    pub error: f64,
    /// Bound that the closed form states.
    pub stated: f64,
}

/// Kinds of cases.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Round pads.
    Disc,
    /// Rectangular pads.
    Rectangle,
    /// Strips.
    Strip,
    /// Round threads.
    Thread,
    /// Rows of thread.
    Rows,
    /// Round pads under a finger.
    Touch,
    /// Two rectangles side by side.
    Pair,
    /// Rings.
    Ring,
    /// Round pads under a finger off the middle.
    OffCentre,
    /// Rectangles under a finger over the middle.
    RectangleTouch,
    /// Rings under a finger over the middle.
    RingTouch,
}

/// All of them: how many cases make the maps, and how many a test draws anew.
pub const KINDS: [(Kind, usize, usize); 11] = [
    (Kind::Disc, 40_000, 80),
    (Kind::Rectangle, 50_000, 80),
    (Kind::Strip, 30_000, 80),
    (Kind::Thread, 12_000, 80),
    (Kind::Rows, 6_000, 80),
    (Kind::Touch, 40_000, 80),
    (Kind::Pair, 10_000, 60),
    (Kind::Ring, 600, 8),
    (Kind::OffCentre, 8_000, 60),
    (Kind::RectangleTouch, 300, 3),
    (Kind::RingTouch, 300, 3),
];

/// Numbers from 0 to 1, the same in every run.
pub struct Draws(pub u64);

impl Draws {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn log(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.next())
    }

    fn pile(&mut self, total_m: f64) -> Vec<Layer> {
        let parts: Vec<f64> = (0..1 + (3.0 * self.next()) as usize).map(|_| 0.2 + self.next()).collect();
        let whole: f64 = parts.iter().sum();
        parts.iter().map(|part| Layer { thickness_m: total_m * part / whole, relative_permittivity: self.log(1.0, 8.0) }).collect()
    }

    /// Layers for a conductor of this size, in the trade's range or by ratios.
    fn stack(&mut self, size_m: f64, ground: Option<Ground>) -> Stack {
        let usual = self.next() < 0.75;
        let (under, over) = if usual {
            (self.log(5e-5, 2e-2), self.log(5e-5, 1e-2))
        } else {
            (size_m * self.log(1e-3, 300.0), size_m * self.log(1e-3, 3.0))
        };
        let drawn = if self.next() < 0.75 { Ground::Plane } else { Ground::None };
        let base = self.pile(under);
        let overlay = if self.next() < 0.25 { Vec::new() } else { self.pile(over) };
        Stack { ground: ground.unwrap_or(drawn), base, overlay }
    }

    /// Layers that cells are not too many for: those of the trade, but for the thinnest.
    fn cell_stack(&mut self) -> Stack {
        let (under, over) = (self.log(2e-4, 2e-2), self.log(2e-4, 1e-2));
        let ground = if self.next() < 0.75 { Ground::Plane } else { Ground::None };
        let (base, overlay) = (self.pile(under), self.pile(over));
        Stack { ground, base, overlay }
    }
}

struct Stack {
    ground: Ground,
    base: Vec<Layer>,
    overlay: Vec<Layer>,
}

impl Stack {
    fn medium(&self) -> Medium<'_> {
        Medium { ground: self.ground, base: &self.base, overlay: &self.overlay }
    }

    fn over_ground(&self) -> bool {
        self.ground == Ground::Plane
    }

    fn cover_m(&self) -> f64 {
        self.overlay.iter().map(|layer| layer.thickness_m).sum()
    }

    fn height_m(&self) -> f64 {
        self.base.iter().map(|layer| layer.thickness_m).sum()
    }

    fn reach_m(&self) -> f64 {
        self.base.iter().chain(&self.overlay).map(|layer| layer.thickness_m * layer.relative_permittivity).sum()
    }
}

/// Draws a case of this kind and holds it against the field; nothing if the case says nothing.
pub fn trials(kind: Kind, draws: &mut Draws) -> Vec<Trial> {
    match kind {
        Kind::Disc => disc(draws),
        Kind::Rectangle => rectangle(draws),
        Kind::Strip => strip(draws),
        Kind::Thread => thread(draws),
        Kind::Rows => row_field(draws),
        Kind::Touch => touch(draws),
        Kind::Pair => pair(draws),
        Kind::Ring => ring(draws),
        Kind::OffCentre => off_centre(draws),
        Kind::RectangleTouch => rectangle_touch(draws),
        Kind::RingTouch => ring_touch(draws),
    }
}

fn off(value: f64, reference: f64) -> f64 {
    (value / reference - 1.0).abs()
}

/// Pads over ground by their plate share, others by the reach of their layers.
fn pad(stack: &Stack, closed: &PadCapacitance, reference_f: f64, names: [&'static str; 2], other: f64) -> Trial {
    let (map, x) =
        if stack.over_ground() { (names[0], closed.plate_f / closed.total_f) } else { (names[1], stack.reach_m() / closed.disc_radius_m) };
    Trial { map, x, y: other, error: off(closed.total_f, reference_f), stated: closed.accuracy.relative_error }
}

fn disc(draws: &mut Draws) -> Vec<Trial> {
    let diameter_m = draws.log(4e-3, 0.1);
    let stack = draws.stack(0.5 * diameter_m, None);
    let closed = pad_capacitance(&stack.medium(), &Outline::Round { diameter_m }, None);
    let layers = field::Layers::new(&stack.medium(), None);
    let solved = field::round_pad(&layers, false, 0.5 * diameter_m, 1e-4).expect("apart from ground");
    let cover = stack.cover_m() / (0.5 * diameter_m);
    vec![pad(&stack, &closed, solved.capacitance_f, ["DISC_OVER_GROUND", "DISC_WITHOUT_GROUND"], cover)]
}

fn rectangle(draws: &mut Draws) -> Vec<Trial> {
    let (size, ratio) = (draws.log(4e-3, 0.1), draws.log(1.0, 12.0));
    let (width_m, length_m) = (size / ratio.sqrt(), size * ratio.sqrt());
    let stack = draws.stack(0.5 * width_m, None);
    let closed = pad_capacitance(&stack.medium(), &Outline::Rectangle { width_m, length_m, corner_radius_m: 0.0 }, None);
    let layers = field::Layers::new(&stack.medium(), None);
    let solved = field::rectangle_pad(&layers, false, width_m, length_m, 3e-4).expect("apart from ground");
    vec![pad(&stack, &closed, solved.capacitance_f, ["RECTANGLE_OVER_GROUND", "RECTANGLE_WITHOUT_GROUND"], ratio)]
}

fn strip(draws: &mut Draws) -> Vec<Trial> {
    let width_m = draws.log(3e-4, 2e-2);
    let stack = draws.stack(0.5 * width_m, Some(Ground::Plane));
    let closed = line_capacitance(&stack.medium(), CrossSection::Strip { width_m });
    let solved = field::line(&stack.medium(), CrossSection::Strip { width_m }, 1e-5).expect("apart from ground");
    vec![Trial {
        map: "STRIP",
        x: closed.plate_per_m_f / closed.per_m_f,
        y: stack.cover_m() / (0.5 * width_m),
        error: off(closed.per_m_f, solved.per_m_f),
        stated: closed.accuracy.relative_error,
    }]
}

fn thread(draws: &mut Draws) -> Vec<Trial> {
    let radius = draws.log(2e-5, 5e-4);
    let stack = draws.stack(radius, Some(Ground::Plane));
    let run = CrossSection::Thread { diameter_m: 2.0 * radius };
    let Ok(solved) = field::line(&stack.medium(), run, 1e-4) else { return Vec::new() };
    if !solved.valid {
        // Only enclosed: the error is not known well enough.
        return Vec::new();
    }
    let closed = line_capacitance(&stack.medium(), run);
    vec![Trial {
        map: "THREAD",
        x: radius / boundary_m(&stack),
        y: radius / stack.height_m(),
        error: off(closed.per_m_f, solved.per_m_f),
        stated: closed.accuracy.relative_error,
    }]
}

/// Distance from the stitched plane to the nearest change of permittivity but the plane itself.
fn boundary_m(stack: &Stack) -> f64 {
    let first_change = |pile: &mut dyn Iterator<Item = &Layer>, end: Option<f64>| {
        let layers: Vec<&Layer> = pile.collect();
        let mut depth = 0.0;
        for (i, layer) in layers.iter().enumerate() {
            depth += layer.thickness_m;
            let next = layers.get(i + 1).map(|next| next.relative_permittivity).or(end);
            if next.is_some_and(|next| next != layer.relative_permittivity) {
                return depth;
            }
        }
        f64::INFINITY
    };
    first_change(&mut stack.base.iter().rev(), None).min(first_change(&mut stack.overlay.iter(), Some(1.0)))
}

fn row_field(draws: &mut Draws) -> Vec<Trial> {
    let (x, y) = (if draws.next() < 0.5 { draws.log(0.005, 0.5) } else { 0.5 * draws.next() }, 1.02 + draws.log(1e-3, 100.0));
    let (spacing, radius) = (1e-3, 1e-3 * x);
    let closed = rows_plate(2.0 * radius, spacing, y * radius);
    let solved = field::rows(2.0 * radius, spacing, y * radius, 1e-5).expect("apart");
    let error = off(closed.capacitance_per_m2_f, solved.per_m2_f);
    vec![Trial { map: "ROWS", x, y, error, stated: closed.accuracy.relative_error }]
}

fn touch(draws: &mut Draws) -> Vec<Trial> {
    let (diameter_m, finger_m) = (draws.log(4e-3, 0.1), draws.log(6e-3, 1.6e-2));
    let stack = draws.stack(0.5 * diameter_m.min(finger_m), None);
    if stack.overlay.is_empty() {
        return Vec::new();
    }
    let closed = touch_capacitances(&stack.medium(), &Outline::Round { diameter_m }, None, finger_m);
    let layers = field::Layers::new(&stack.medium(), None);
    let solved = field::round_touch(&layers, 0.5 * diameter_m, 0.5 * finger_m, 1e-4).expect("apart");
    let over = stack.over_ground();
    let named = |with: &'static str, without: &'static str| if over { with } else { without };
    let y = finger_m / diameter_m;
    let (pf, pp, ff) = (-solved.pad_finger_f, solved.pad_pad_f, solved.finger_finger_f);
    let (c_pf, c_pg, c_fg) = (closed.pad_finger_f, closed.pad_ground_touched_f, closed.finger_ground_f);
    let mut found = vec![
        Trial {
            map: named("PAD_FINGER_OVER_GROUND", "PAD_FINGER_WITHOUT_GROUND"),
            x: closed.share_up,
            y,
            error: off(c_pf, pf),
            stated: closed.pad_finger_error,
        },
        Trial {
            map: named("TOUCH_DIAGONALS_OVER_GROUND", "TOUCH_DIAGONALS_WITHOUT_GROUND"),
            x: closed.share_up,
            y,
            error: off(c_pf + c_pg, pp).max(off(c_pf + c_fg, ff)),
            stated: closed.maxwell_error,
        },
    ];
    // Where next to nothing is left of a diagonal, the difference of two field values is no reference.
    if 0.01 * (pp - pf) > pp * solved.pad_pad_error + pf * solved.pad_finger_error {
        found.push(Trial {
            map: named("PAD_GROUND_OVER_GROUND", "PAD_GROUND_WITHOUT_GROUND"),
            x: c_pf / c_pg,
            y,
            error: off(c_pg, pp - pf),
            stated: closed.pad_ground_touched_error,
        });
    }
    if 0.01 * (ff - pf) > ff * solved.finger_finger_error + pf * solved.pad_finger_error {
        found.push(Trial {
            map: named("FINGER_GROUND_OVER_GROUND", "FINGER_GROUND_WITHOUT_GROUND"),
            x: c_pf / c_fg,
            y,
            error: off(c_fg, ff - pf),
            stated: closed.finger_ground_error,
        });
    }
    found
}

fn pair(draws: &mut Draws) -> Vec<Trial> {
    let (width, ratio, scale) = (draws.log(4e-3, 5e-2), draws.log(1.0, 4.0), draws.log(0.5, 2.0));
    let stack = draws.stack(0.5 * width, None);
    let size = width * scale.min(1.0);
    let gap = size * draws.log(0.02, 5.0);
    let sizes = [[width, width * ratio], [width * scale, width * ratio * scale]];
    let centres = [0.0, 0.5 * (sizes[0][0] + sizes[1][0]) + gap];
    let rectangles: Vec<_> = sizes
        .iter()
        .zip(centres)
        .map(|(s, x)| field::PlacedRectangle { centre_m: [x, 0.0], width_m: s[0], length_m: s[1], on_top: false })
        .collect();
    let layers = field::Layers::new(&stack.medium(), None);
    let solved = field::rectangle_matrix(&layers, &rectangles, 1e-3).expect("apart");
    let outline = |s: &[f64; 2]| Outline::Rectangle { width_m: s[0], length_m: s[1], corner_radius_m: 0.0 };
    let placed: Vec<_> = sizes
        .iter()
        .zip(centres)
        .map(|(s, x_m)| Placed { outline: outline(s), rows: None, x_m, y_m: 0.0, on_top: false, line: None })
        .collect();
    let closed = conductor_matrix(&stack.medium(), &placed);
    let (c, f) = (&closed.maxwell_f, &solved.maxwell_f);
    let coupling = -c[1] / (c[0] * c[3]).sqrt();
    let alone = sizes.iter().map(|s| pad_capacitance(&stack.medium(), &outline(s), None).accuracy.relative_error).fold(0.0, f64::max);
    let diagonal = off(c[0], f[0]).max(off(c[3], f[3]));
    let over = stack.over_ground();
    // What the coupling adds to the errors of the two alone.
    let mut found = vec![Trial {
        map: if over { "COUPLED_OVER_GROUND" } else { "COUPLED_WITHOUT_GROUND" },
        x: coupling,
        y: gap / size,
        error: (diagonal - alone).max(0.0),
        stated: closed.diagonal_error - alone,
    }];
    // A coupling smaller than the field's own error of it is no reference.
    if solved.error_f[1] < 0.05 * f[1].abs() {
        let (map, x) =
            if over { ("NEIGHBOURS_OVER_GROUND", gap / stack.height_m()) } else { ("NEIGHBOURS_WITHOUT_GROUND", stack.reach_m() / size) };
        found.push(Trial { map, x, y: gap / size, error: off(c[1], f[1]), stated: closed.relative_error });
    }
    found
}

fn ring(draws: &mut Draws) -> Vec<Trial> {
    let (outer_diameter_m, hole) = (draws.log(4e-3, 0.06), 0.05 + 0.85 * draws.next());
    let inner_diameter_m = hole * outer_diameter_m;
    let stack = draws.cell_stack();
    let closed = pad_capacitance(&stack.medium(), &Outline::Ring { inner_diameter_m, outer_diameter_m }, None);
    let solved = solved(&stack, &[(Figure::Ring { inner_diameter_m, outer_diameter_m }, 0.0, false)]);
    let Some(solved) = solved.filter(|solved| solved.relative_error < 0.02) else { return Vec::new() };
    vec![pad(&stack, &closed, solved.maxwell_f[0], ["RING_OVER_GROUND", "RING_WITHOUT_GROUND"], hole)]
}

/// The field of figures along x, on the stitched plane or on top; to 1 %, which is far less than what is measured with it.
fn solved(stack: &Stack, figures: &[(Figure, f64, bool)]) -> Option<ConductorMatrix> {
    field::conductor_matrix(&stack.medium(), &conductors(figures), 1e-2).ok()
}

fn conductors(figures: &[(Figure, f64, bool)]) -> Vec<Conductor> {
    let conductor = |(figure, x_m, on_top): &(Figure, f64, bool)| Conductor {
        figure: figure.clone(),
        rows: None,
        centre_m: [*x_m, 0.0],
        rotation_rad: 0.0,
        on_top: *on_top,
    };
    figures.iter().map(conductor).collect()
}

fn off_centre(draws: &mut Draws) -> Vec<Trial> {
    let (diameter_m, finger_m) = (draws.log(4e-3, 0.1), draws.log(6e-3, 1.6e-2));
    let stack = draws.stack(0.5 * diameter_m.min(finger_m), None);
    if stack.overlay.is_empty() {
        return Vec::new();
    }
    let reach = 0.5 * (diameter_m + finger_m) + stack.cover_m();
    let off_m = reach * (0.01 + 0.99 * draws.next());
    let figures = [(Figure::Round { diameter_m }, 0.0, false), (Figure::Round { diameter_m: finger_m }, off_m, true)];
    let placed: Vec<_> = conductors(&figures).iter().map(Conductor::placed).collect();
    let closed = conductor_matrix(&stack.medium(), &placed);
    // Beyond the finger's reach the two are neighbours, not a touch.
    let Some(solved) = solved(&stack, &figures).filter(|s| s.relative_error < 0.05 && closed.valid) else { return Vec::new() };
    let error = (0..4).map(|i| off(closed.maxwell_f[i], solved.maxwell_f[i])).fold(0.0, f64::max);
    let map = if stack.over_ground() { "FINGER_OFF_OVER_GROUND" } else { "FINGER_OFF_WITHOUT_GROUND" };
    vec![Trial { map, x: off_m / reach, y: finger_m / diameter_m, error, stated: closed.relative_error }]
}

fn rectangle_touch(draws: &mut Draws) -> Vec<Trial> {
    let (size, ratio) = (draws.log(4e-3, 6e-2), draws.log(1.0, 4.0));
    let (width_m, length_m) = (size / ratio.sqrt(), size * ratio.sqrt());
    let figure = Figure::Rectangle { width_m, length_m, corner_radius_m: 0.0 };
    shaped_touch(draws, figure, width_m, ratio, ["FINGER_OVER_RECTANGLE", "GROUND_AROUND_RECTANGLE"])
}

fn ring_touch(draws: &mut Draws) -> Vec<Trial> {
    let (outer_diameter_m, hole) = (draws.log(4e-3, 6e-2), 0.05 + 0.85 * draws.next());
    let inner_diameter_m = hole * outer_diameter_m;
    let figure = Figure::Ring { inner_diameter_m, outer_diameter_m };
    shaped_touch(draws, figure, inner_diameter_m, hole, ["FINGER_OVER_RING", "GROUND_AROUND_RING"])
}

/// A finger over the middle of any pad: what lies between the two with the diagonals, and what goes to ground.
fn shaped_touch(draws: &mut Draws, figure: Figure, length_m: f64, y: f64, maps: [&'static str; 2]) -> Vec<Trial> {
    let finger_m = draws.log(6e-3, 1.6e-2);
    let stack = draws.cell_stack();
    let closed = touch_capacitances(&stack.medium(), &figure.outline(), None, finger_m);
    let figures = [(figure, 0.0, false), (Figure::Round { diameter_m: finger_m }, 0.0, true)];
    let Some(solved) = solved(&stack, &figures).filter(|s| s.relative_error < 0.02) else { return Vec::new() };
    let (pp, pf, ff) = (solved.maxwell_f[0], -solved.maxwell_f[1], solved.maxwell_f[3]);
    let (c, pg, fg) = (closed.pad_finger_f, closed.pad_ground_touched_f, closed.finger_ground_f);
    let x = finger_m / length_m;
    let between = off(c, pf).max(off(c + pg, pp)).max(off(c + fg, ff));
    let mut found = vec![Trial { map: maps[0], x, y, error: between, stated: closed.pad_finger_error.min(closed.maxwell_error) }];
    // Differences of two field values of 1 % say something only where they are no small ones.
    if pp > 1.3 * pf && ff > 1.3 * pf {
        let error = off(pg, pp - pf).max(off(fg, ff - pf));
        let stated = closed.pad_ground_touched_error.min(closed.finger_ground_error);
        found.push(Trial { map: maps[1], x, y, error, stated });
    }
    found
}
