//! An endless round thread among layers, its axis on the stitched plane, solved.
//!
//! The thread is its free charge on the circle, see [`super::circle`]. Between two points within the layers next to the
//! stitched plane the potential of a line charge is, with F from wave reflections at the stitched plane and at the two
//! far faces, exactly
//! `1/(2 pi eps0) integral_0^inf F(k)/k cos(kx) dk`.
//! Source, image in the stitched plane and image in the far face of the same layer are taken out as logarithms, because
//! they may come as near as they like; what is left decays like exp(-k r) and is integrated as it stands.
//!
//! Where the thread reaches through a far face into further layers, two solutions without such layers enclose
//! the answer: every cut layer made as poor a dielectric as the poorest, and as good a one as the best.
//! Capacitance rises with every permittivity (Dirichlet's principle), so this bound is certain, if wide.
//!
//! * gives: F/m
//! * needs: radius in metres; layers over a ground plane, more than a radius below
//! * assumes: round perfectly conducting thread in layers that close round it; flat endless lossless layers
//! * source: own; method of images and Dirichlet's principle textbook
//! * accuracy: the error stated follows from refinement. In one dielectric within 1e-11 of the exact value; among layers
//!   against boundary charges laid on every surface 1e-4 (that method's own error), against strips of four radii 1e-6 where
//!   the thread is thin
//! * errors: none; that the axis lies higher than the radius is seen to by [`super::line()`]
//! * example: r = 0.1 mm, felt (1.4) of 1 mm on ground, air above: 23.114 pF/m

use super::super::{EPS0, Ground, Layer, Medium};
use super::circle::{Circle, Collocated, Spot};
use super::graded;
use super::layers::Layers;
use super::refine::{Refined, refined};
use std::f64::consts::PI;

/// Polynomials per arc, tried one after the other.
const ORDERS: [usize; 8] = [3, 4, 6, 9, 13, 19, 28, 42];

/// What rounding leaves.
const FLOOR: f64 = 1e-11;

/// A thread that reaches into the air over its overlay has that much of the air, in radii, counted as a layer.
const HEADROOM: f64 = 1.1;

/// Capacitance per metre of a thread whose axis lies on the stitched plane, and whether it keeps to the two layers there.
pub(in crate::electrostatics) fn thread(layers: &Layers, diameter_m: f64, relative_tolerance: f64) -> (Refined, bool) {
    let radius = 0.5 * diameter_m;
    let [below, above] = layers.outwards();
    let cut = |pile: &[Layer]| pile.first().is_some_and(|layer| layer.thickness_m < radius);
    if !cut(&below) && !cut(&above) {
        return (solve(layers, radius, relative_tolerance), true);
    }
    let [low, high] = [f64::min as fn(f64, f64) -> f64, f64::max].map(|choose| {
        let without_cuts = stacked(&opened(&below, radius, choose), &opened(&above, radius, choose));
        solve(&without_cuts, radius, relative_tolerance)
    });
    let apart = (high.value / low.value).sqrt();
    let relative_error = apart - 1.0 + apart * low.relative_error.max(high.relative_error);
    (Refined { value: (low.value * high.value).sqrt(), relative_error }, false)
}

/// Layers listed outwards, those that the thread reaches into made one of the permittivity that `choose` leaves.
fn opened(outwards: &[Layer], radius: f64, choose: fn(f64, f64) -> f64) -> Vec<Layer> {
    let mut pile: Vec<Layer> = Vec::new();
    let mut depth = 0.0;
    for layer in outwards {
        match pile.first_mut() {
            Some(first) if depth < radius => {
                first.thickness_m += layer.thickness_m;
                first.relative_permittivity = choose(first.relative_permittivity, layer.relative_permittivity);
            }
            _ => pile.push(*layer),
        }
        depth += layer.thickness_m;
    }
    if let Some(first) = pile.first_mut().filter(|_| depth < radius) {
        first.thickness_m = HEADROOM * radius;
        first.relative_permittivity = choose(first.relative_permittivity, 1.0);
    }
    pile
}

/// Layers over ground, both sides listed outwards.
fn stacked(below: &[Layer], above: &[Layer]) -> Layers {
    let base: Vec<Layer> = below.iter().rev().copied().collect();
    Layers::new(&Medium { ground: Ground::Plane, base: &base, overlay: above }, None)
}

/// One side of the stitched plane, as far as its first far face.
#[derive(Debug, Clone, Copy)]
struct Side {
    permittivity: f64,
    thickness_m: f64,
    /// What the far face reflects of the shortest waves; 0 where there is none.
    image: f64,
    /// How far the next face lies behind that, for all that is left to come back from.
    next_m: f64,
}

fn sides(layers: &Layers) -> [Side; 2] {
    let outwards = layers.outwards();
    std::array::from_fn(|i| match outwards[i].as_slice() {
        [] => Side { permittivity: 1.0, thickness_m: f64::INFINITY, image: 0.0, next_m: f64::INFINITY },
        [only] if i == 0 => {
            Side { permittivity: only.relative_permittivity, thickness_m: only.thickness_m, image: -1.0, next_m: f64::INFINITY }
        }
        [first, others @ ..] => {
            let (e, beyond) = (first.relative_permittivity, others.first().map_or(1.0, |next| next.relative_permittivity));
            let next_m = others.first().map_or(f64::INFINITY, |next| next.thickness_m);
            Side { permittivity: e, thickness_m: first.thickness_m, image: (e - beyond) / (e + beyond), next_m }
        }
    })
}

fn solve(layers: &Layers, radius: f64, relative_tolerance: f64) -> Refined {
    let sides = sides(layers);
    let circle = Circle::new(radius, sides.map(|side| side.thickness_m));
    let images = Images::new(&sides, radius);
    let waves = Waves::new(layers, &sides, radius);
    refined(&ORDERS, FLOOR, relative_tolerance, |count| {
        let mut found = circle.potentials(count, |source, target, apart| images.potential(source, target, apart));
        waves.add_to(&mut found, &circle, count);
        Some(2.0 * PI * EPS0 * found.charge()?)
    })
}

/// What is taken out as logarithms.
struct Images {
    sides: [Side; 2],
    /// Contrast of the stitched plane, seen from below and from above.
    contrast: [f64; 2],
    across: f64,
    unit_m: f64,
}

impl Images {
    fn new(sides: &[Side; 2], unit_m: f64) -> Self {
        let [below, above] = sides.map(|side| side.permittivity);
        let contrast = (below - above) / (below + above);
        Self { sides: *sides, contrast: [contrast, -contrast], across: 2.0 / (below + above), unit_m }
    }

    /// 2 pi eps0 times the potential by a unit line charge.
    fn potential(&self, source: &Spot, target: &Spot, apart: f64) -> f64 {
        let far = |distance: f64| -(distance / self.unit_m).ln();
        if source.arc != target.arc {
            return self.across * far(apart);
        }
        let side = &self.sides[source.arc];
        let x = source.x_m - target.x_m;
        let mut sum = far(apart) + self.contrast[source.arc] * far(x.hypot(source.away_m + target.away_m));
        if side.image != 0.0 {
            sum += side.image * far(x.hypot(2.0 * side.thickness_m - source.away_m - target.away_m));
        }
        sum / side.permittivity
    }

    /// The charges taken out, seen from a source on `source` at a target on `target`.
    fn taken(&self, source: usize, target: usize) -> f64 {
        if source == target {
            (1.0 + self.contrast[source] + self.sides[source].image) / self.sides[source].permittivity
        } else {
            self.across
        }
    }
}

/// What is left, wave by wave.
struct Waves {
    waves: Vec<Wave>,
    sides: [Side; 2],
    images: Images,
}

/// One wavenumber. With `u = exp(-k away)` and `v = exp(-k (thickness - away))` what is left is
/// `same[0] u u' + same[1] v v' + same[2] (u v' + v u')` between points of one side, and
/// `across (u + back v)(u' + back' v') - across of the images u u'` between sides.
struct Wave {
    k: f64,
    /// Of the quadrature, over k.
    weight: f64,
    same: [[f64; 3]; 2],
    across: f64,
    back: [f64; 2],
}

impl Waves {
    fn new(layers: &Layers, sides: &[Side; 2], radius: f64) -> Self {
        let images = Images::new(sides, radius);
        // The shortest way on which anything is left: once through the thread's height, or to the second face and back.
        let shortest = sides.iter().fold(radius, |way, side| way.min(2.0 * (side.thickness_m - radius + side.next_m)));
        let scale = layers.base_m() + layers.outwards()[1].iter().map(|layer| layer.thickness_m).sum::<f64>();
        let mut rule = Vec::new();
        // cos(2kr) makes the waves; what is smooth under 0.1/scale needs no grading any more.
        graded::fill(&mut rule, 36.8 / shortest, 5.0 / radius, 0.1 / scale);
        let wave = |&(k, weight): &(f64, f64)| {
            let far = layers.far_reflections(k);
            let fade = sides.map(|side| (-k * side.thickness_m).exp());
            let once: [f64; 2] = std::array::from_fn(|i| far[i] * fade[i]);
            // Admittance of each side times plus[i] is minus[i].
            let plus: [f64; 2] = std::array::from_fn(|i| 1.0 + once[i] * fade[i]);
            let minus: [f64; 2] = std::array::from_fn(|i| sides[i].permittivity * (1.0 - once[i] * fade[i]));
            let same = std::array::from_fn(|i| {
                let (e, other) = (sides[i].permittivity, 1 - i);
                let near = (e * plus[other] - minus[other]) / (e * plus[other] + minus[other]);
                let per_round = 1.0 / (e * (1.0 - near * once[i] * fade[i]));
                [near * per_round - images.contrast[i] / e, far[i] * per_round - sides[i].image / e, near * once[i] * per_round]
            });
            let across = 2.0 / (minus[0] * plus[1] + minus[1] * plus[0]);
            Wave { k, weight: weight / k, same, across, back: once }
        };
        Self { waves: rule.iter().map(wave).collect(), sides: *sides, images }
    }

    /// u and v of a point.
    fn rise(&self, k: f64, spot: &Spot) -> [f64; 2] {
        [(-k * spot.away_m).exp(), (-k * (self.sides[spot.arc].thickness_m - spot.away_m)).exp()]
    }

    /// Adds the potentials of the polynomials on `circle`.
    fn add_to(&self, found: &mut Collocated, circle: &Circle, count: usize) {
        // Polynomials to degree 2 (count - 1) in t, waves up to k r = 36 across.
        let panels = 1 + count / 14;
        let sources = [0, 1].map(|arc| circle.smooth_rule(arc, panels));
        for wave in &self.waves {
            // Both halves of the thread together: twice the even part.
            let mut moments = vec![[0.0; 2]; 2 * count];
            for (arc, rule) in sources.iter().enumerate() {
                for (spot, s, weight) in rule {
                    let [u, v] = self.rise(wave.k, spot);
                    let even = 2.0 * weight * (wave.k * spot.x_m).cos();
                    let twice = 2.0 * (2.0 * s).cos();
                    let (mut before, mut term) = (0.5 * twice, even);
                    before *= even;
                    for moment in &mut moments[arc * count..(arc + 1) * count] {
                        moment[0] += u * term;
                        moment[1] += v * term;
                        (before, term) = (term, twice * term - before);
                    }
                }
            }
            let regular = (-wave.k * self.images.unit_m).exp();
            for (row, spot) in found.spots.iter().enumerate() {
                let [u, v] = self.rise(wave.k, spot);
                let even = (wave.k * spot.x_m).cos();
                let i = spot.arc;
                let same = wave.same[i];
                let (by_u, by_v) = (even * (same[0] * u + same[2] * v), even * (same[2] * u + same[1] * v));
                let reach = even * wave.across * (u + wave.back[i] * v);
                for (column, [p, q]) in moments.iter().enumerate() {
                    let arc = column / count;
                    let left =
                        if arc == i { by_u * p + by_v * q } else { reach * (p + wave.back[arc] * q) - even * self.images.across * u * p };
                    found.matrix[(row, column)] += wave.weight * (left + regular * self.images.taken(arc, i) * found.charges[column]);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn layer(thickness_mm: f64, relative_permittivity: f64) -> Layer {
        Layer { thickness_m: thickness_mm * 1e-3, relative_permittivity }
    }

    fn layers(base: &[Layer], overlay: &[Layer]) -> Layers {
        Layers::new(&Medium { ground: Ground::Plane, base, overlay }, None)
    }

    #[test]
    fn a_thread_in_air_has_its_exact_value_however_near_the_ground() {
        for h in [0.1001, 0.101, 0.11, 0.2, 1.0, 100.0_f64] {
            let (found, whole) = thread(&layers(&[layer(h, 1.0)], &[]), 0.2e-3, 1e-9);
            let exact = 2.0 * PI * EPS0 / (h / 0.1).acosh();
            let error = (found.value / exact - 1.0).abs();
            assert!(whole && error <= found.relative_error && found.relative_error < 1e-9, "{h}: {found:?} {error:e}");
        }
    }

    #[test]
    fn felt_on_ground_gives_the_module_example() {
        let (found, _) = thread(&layers(&[layer(1.0, 1.4)], &[]), 0.2e-3, 1e-6);
        assert!((found.value - 23.114e-12).abs() < 1e-15, "{found:?}");
    }

    #[test]
    fn layers_reached_into_become_one() {
        let pile = [layer(0.05, 2.0), layer(0.02, 5.0), layer(1.0, 1.5)];
        assert_eq!(opened(&pile, 0.06e-3, f64::max)[0].relative_permittivity, 5.0);
        assert_eq!(opened(&pile, 0.06e-3, f64::max).len(), 2);
        assert_eq!(opened(&pile, 0.05e-3, f64::max), pile);
        let through = opened(&pile[..2], 0.1e-3, f64::min);
        assert_eq!((through.len(), through[0].relative_permittivity), (1, 1.0));
        assert!((through[0].thickness_m - 0.11e-3).abs() < 1e-18);
    }
}
