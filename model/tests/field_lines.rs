//! Lines and rows of thread, solved: against tables, exact values, and second methods written here.

use crate::reference::{Row, close, rows as table};
use nalgebra::{Complex, DMatrix, DVector};
use std::f64::consts::PI;
use toile_model::electrostatics::{Aim, Choice, CrossSection, EPS0, Ground, Layer, Medium, Method, Note, field, per_length, rows};

// ---- tolerances, each with its reason ----

/// The tables of strips and threads state 1e-12 themselves.
const TABLE: f64 = 2e-12;

/// The table of random strips is a Galerkin solution that was held to the other table within 4e-7; a little more elsewhere.
const RANDOM_TABLE: f64 = 6e-7;

/// Offsets are printed to eight digits of the spacing, the worst with a residual of 1e-8.
const OFFSETS: f64 = 1.5e-8;

/// The second solution of a strip stops its sums at 40 terms and its waves where 1e-13 is left; measured 1e-11 at worst.
const SECOND_STRIP: f64 = 1e-9;

/// Charge constant along short pieces: second order in their length, a fiftieth of the radius on the thread (measured 2e-4; on
/// one dielectric, with twice as many, a quarter of what it was).
const PIECES: f64 = 3e-4;

/// Extrapolated from at most 41 threads to endless ones (measured 3e-5).
const ENDLESS: f64 = 1e-4;

/// A thread thin against its layers is a strip of four radii, but for the square of radius over thickness, 1e-6.
const THIN_THREAD: f64 = 1e-6;

/// Threads in one dielectric need a world of it; the overlay of 10 m that stands for it leaves (h/10 m)^2.
const ALL_OF_ONE: f64 = 2.5e-7;

// ---- helpers ----

fn layer(thickness_m: f64, relative_permittivity: f64) -> Layer {
    Layer { thickness_m, relative_permittivity }
}

fn layers(row: &Row, side: &str) -> Vec<Layer> {
    let numbers = |column: &str| -> Vec<f64> {
        row.text(column).split(';').filter(|text| !text.is_empty()).map(|text| text.parse().expect("a number")).collect()
    };
    let thicknesses = numbers(&format!("{side}_t_mm"));
    numbers(&format!("{side}_eps_r")).iter().zip(thicknesses).map(|(e, t)| layer(t * 1e-3, *e)).collect()
}

fn over_ground<'a>(base: &'a [Layer], overlay: &'a [Layer]) -> Medium<'a> {
    Medium { ground: Ground::Plane, base, overlay }
}

#[track_caller]
fn strip(base: &[Layer], overlay: &[Layer], width_m: f64, tolerance: f64) -> field::LineSolved {
    field::line(&over_ground(base, overlay), CrossSection::Strip { width_m }, tolerance).expect("a strip over ground")
}

#[track_caller]
fn thread(base: &[Layer], overlay: &[Layer], radius_m: f64, tolerance: f64) -> field::LineSolved {
    field::line(&over_ground(base, overlay), CrossSection::Thread { diameter_m: 2.0 * radius_m }, tolerance).expect("a thread over ground")
}

/// Fails unless the value is within the bound that came with it, and what the reference leaves open.
#[track_caller]
fn within(what: &str, value: f64, bound: f64, reference: f64, of_reference: f64) {
    assert!(bound.is_finite() && bound > 0.0, "{what}: bound {bound}");
    close(what, value, reference, bound + of_reference);
}

/// Numbers from 0 to 1, the same in every run.
struct Draws(u64);

impl Draws {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn log(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.next())
    }

    fn pile(&mut self, least: usize, thinnest: f64, thickest: f64, highest: f64) -> Vec<Layer> {
        let count = least + (self.next() * (4 - least) as f64) as usize;
        (0..count).map(|_| layer(self.log(thinnest, thickest), self.log(1.0, highest))).collect()
    }
}

// ---- strips ----

#[test]
fn strips_meet_the_tables() {
    for (path, least, digits) in [("field/f4_strip.csv", 18, TABLE), ("field/random_strip.csv", 200, RANDOM_TABLE)] {
        for row in table(path, least) {
            let (base, overlay) = (layers(&row, "base"), layers(&row, "overlay"));
            for tolerance in [1e-3, 1e-6, 1e-10] {
                let found = strip(&base, &overlay, row.number("w_mm") * 1e-3, tolerance);
                within(row.text("id"), found.per_m_f * 1e12, found.relative_error, row.number("C_pF_per_m"), digits);
                assert!(found.relative_error <= tolerance && found.valid, "{}: {found:?}", row.text("id"));
            }
        }
    }
}

/// Complete elliptic integrals, and incomplete ones, by the trapezoid and the Gauss rule; `m` is the squared modulus.
fn elliptic(phi: f64, m: f64) -> [f64; 2] {
    // Midpoints of a smooth function; Richardson's extrapolation thrice.
    let sum = |points: usize| {
        let step = phi / points as f64;
        (0..points).fold([0.0, 0.0], |[f, e], i| {
            let root = (1.0 - m * ((i as f64 + 0.5) * step).sin().powi(2)).sqrt();
            [f + step / root, e + step * root]
        })
    };
    let mut ladder: Vec<[f64; 2]> = [64, 128, 256, 512, 1024].map(sum).to_vec();
    for power in 1..5 {
        let gain = 4_f64.powi(power);
        ladder = ladder.windows(2).map(|w| std::array::from_fn(|i| (gain * w[1][i] - w[0][i]) / (gain - 1.0))).collect();
    }
    ladder[0]
}

#[test]
fn strips_in_air_meet_the_conformal_map() {
    // Two equal strips facing each other, A. E. H. Love, Proc. London Math. Soc. 22 (1923) 337 (from memory; narrow and
    // wide limits checked): with sin^2 p = (K - E)/(m K), w/d = (2/pi) (K E(p) - E F(p)) and C = eps0 K/K'. A strip over
    // ground at half their distance has twice that.
    for m in [0.01, 0.3, 0.7, 0.95, 0.999_f64] {
        let [k, e] = elliptic(0.5 * PI, m);
        let [k_other, _] = elliptic(0.5 * PI, 1.0 - m);
        let [f_p, e_p] = elliptic(((k - e) / (m * k)).sqrt().asin(), m);
        let width_over_height = 4.0 / PI * (k * e_p - e * f_p);
        let found = strip(&[layer(1e-3, 1.0)], &[], 1e-3 * width_over_height, 1e-10);
        // The integrals themselves are good to 1e-12.
        within(&format!("m = {m}"), found.per_m_f, found.relative_error, 2.0 * EPS0 * k / k_other, 1e-11);
    }
}

#[test]
fn a_narrow_strip_is_a_wire_of_a_quarter_of_its_width() {
    for e in [1.0, 1.4, 5.0] {
        let (base, overlay) = ([layer(2e-3, e), layer(1e-3, 2.0)], [layer(1e-3, 3.0), layer(2e-3, e)]);
        for radius in [1e-7, 1e-6] {
            let wire = thread(&base, &overlay, radius, 1e-9);
            close("thin thread", wire.per_m_f, strip(&base, &overlay, 4.0 * radius, 1e-9).per_m_f, THIN_THREAD);
        }
    }
}

/// A strip by Chebyshev functions over the whole width, in the wavenumber domain; the layers worked out anew by
/// growing exponentials, which do for what is thin.
fn second_strip(base: &[Layer], overlay: &[Layer], width_m: f64) -> f64 {
    let admittance = |far: f64, pile: &mut dyn Iterator<Item = &Layer>, k: f64| {
        pile.fold(far, |y, l| {
            let (e, t) = (l.relative_permittivity, (k * l.thickness_m).tanh());
            if y.is_infinite() { e / t } else { e * (y + e * t) / (e + y * t) }
        })
    };
    let adjacent = base.last().expect("a base").relative_permittivity + overlay.first().map_or(1.0, |l| l.relative_permittivity);
    let (a, count) = (0.5 * width_m, 40);
    // Z in full over k for the first term; for the others the part 1/E is 1/(4 n E) on the diagonal.
    let nearest = base.last().expect("a base").thickness_m.min(overlay.first().map_or(f64::INFINITY, |l| l.thickness_m));
    let mut sums = DMatrix::<f64>::zeros(count, count);
    let last = 15.0 / nearest;
    let mut far = last;
    let (x, w) = (GAUSS.map(|g| g.0), GAUSS.map(|g| g.1));
    while far * a > 1e-13 {
        let near = far / 2.0;
        let parts = ((far - near) * a / 1.5).ceil().max(1.0);
        for part in 0..parts as usize {
            let half = 0.5 * (far - near) / parts;
            for (x, w) in x.iter().zip(w).flat_map(|(x, w)| [(*x, w), (-x, w)]) {
                let k = near + half * (2.0 * part as f64 + 1.0 + x);
                let z = 1.0 / (admittance(f64::INFINITY, &mut base.iter(), k) + admittance(1.0, &mut overlay.iter().rev(), k));
                let bessel = bessel(k * a, 2 * count);
                for m in 0..count {
                    for n in 0..=m {
                        let rest = if m == 0 { z } else { z - 1.0 / adjacent };
                        let sign = if (m + n) % 2 == 0 { 1.0 } else { -1.0 };
                        sums[(m, n)] += sign * w * half * rest / k * bessel[2 * m] * bessel[2 * n];
                    }
                }
            }
        }
        far = near;
    }
    for m in 0..count {
        for n in 0..m {
            sums[(n, m)] = sums[(m, n)];
        }
        if m > 0 {
            sums[(m, m)] += 1.0 / (4.0 * m as f64 * adjacent);
        }
    }
    // What the first term has beyond the last wavenumber: J0^2/k, where Z has come to 1/E.
    sums[(0, 0)] += tail(last * a) / adjacent;
    let mut unit = DVector::zeros(count);
    unit[0] = 1.0;
    PI * EPS0 * sums.cholesky().expect("positive definite").solve(&unit)[0]
}

/// Half of the Gauss-Legendre rule of eight points (Abramowitz & Stegun 1964, table 25.4).
const GAUSS: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_48),
    (0.960_289_856_497_536_3, 0.101_228_536_290_376_26),
];

/// J_0 to J_`highest` by Miller's recurrence downwards (textbook).
fn bessel(x: f64, highest: usize) -> Vec<f64> {
    let start = 2 * ((highest.max(x as usize) + 30 + x.cbrt() as usize * 6) / 2);
    let (mut above, mut here, mut sum) = (0.0, 1e-280, 0.0);
    let mut found = vec![0.0; highest + 1];
    for n in (0..start).rev() {
        (above, here) = (here, 2.0 * (n + 1) as f64 / x * here - above);
        if n <= highest {
            found[n] = here;
        }
        if n % 2 == 0 {
            sum += if n == 0 { here } else { 2.0 * here };
        }
        if here.abs() > 1e200 {
            (above, here, sum) = (above * 1e-250, here * 1e-250, sum * 1e-250);
            found.iter_mut().for_each(|value| *value *= 1e-250);
        }
    }
    found.iter().map(|value| value / sum).collect()
}

/// The integral of J0(t)^2/t from x on: to infinity less what is missing, by the asymptotic mean and its oscillation,
/// after panels that carry the oscillation out to where that is exact to 1e-13.
fn tail(x: f64) -> f64 {
    let (mut sum, mut from) = (0.0, x);
    while from < x + 3000.0 {
        // Panels widen at first, because of 1/t.
        let half = (0.15 * from).min(0.75);
        for (t, w) in GAUSS.iter().flat_map(|(t, w)| [(*t, *w), (-t, *w)]) {
            let at = from + half * (1.0 + t);
            sum += half * w * libm::j0(at).powi(2) / at;
        }
        from += 2.0 * half;
    }
    // J0^2 = (1 + sin 2t)/(pi t) + ...; the mean gives 1/(pi x), the wave cos(2x)/(2 pi x^2), the next term -1/(24 pi x^3)...
    sum + 1.0 / (PI * from) + (2.0 * from).cos() / (2.0 * PI * from * from)
}

#[test]
fn five_hundred_stacks_agree_with_a_second_solution() {
    let mut draws = Draws(20_261_125);
    for case in 0..500 {
        let scale = draws.log(1e-4, 1e-2);
        let base = draws.pile(1, 0.2 * scale, 5.0 * scale, 80.0);
        let overlay = draws.pile(0, 0.2 * scale, 5.0 * scale, 80.0);
        let width = draws.log(0.02 * scale, 2.0 * scale);
        let found = strip(&base, &overlay, width, 1e-9);
        let second = second_strip(&base, &overlay, width);
        within(&format!("case {case}"), found.per_m_f, found.relative_error, second, SECOND_STRIP);
    }
}

#[test]
fn films_and_wide_strips_hold_what_they_state() {
    // Where no second solution reaches: a tolerance far tighter stands for the truth, after the tables have shown
    // that it is.
    let mut draws = Draws(7);
    let (mut outside, cases) = (Vec::new(), 100);
    for case in 0..cases {
        let base = draws.pile(1, 1e-5, 2e-2, 80.0);
        let overlay = draws.pile(0, 1e-5, 1e-2, 80.0);
        let width = draws.log(1e-4, 0.5);
        let best = strip(&base, &overlay, width, 1e-10);
        assert!(best.relative_error < 1e-8, "case {case}: {best:?}");
        for tolerance in [1e-2, 1e-4, 1e-6, 1e-8] {
            let found = strip(&base, &overlay, width, tolerance);
            if (found.per_m_f / best.per_m_f - 1.0).abs() > found.relative_error + best.relative_error {
                outside.push((case, tolerance));
            }
        }
    }
    assert!(outside.len() * 100 <= 4 * cases, "{outside:?}");
}

#[test]
fn only_ratios_of_lengths_and_permittivities_count() {
    let (base, overlay) = ([layer(1e-3, 2.0), layer(2e-4, 5.0)], [layer(3e-4, 3.0)]);
    let scaled = |pile: &[Layer]| -> Vec<Layer> { pile.iter().map(|l| layer(7.0 * l.thickness_m, l.relative_permittivity)).collect() };
    let (wide_base, wide_overlay) = (scaled(&base), scaled(&overlay));
    let (small, large) = (strip(&base, &overlay, 2e-3, 1e-10), strip(&wide_base, &wide_overlay, 14e-3, 1e-10));
    close("strip", large.per_m_f, small.per_m_f, 1e-11);
    let (small, large) = (thread(&base, &overlay, 1.5e-4, 1e-9), thread(&wide_base, &wide_overlay, 10.5e-4, 1e-9));
    close("thread", large.per_m_f, small.per_m_f, 1e-11);
    let near = field::rows(2e-4, 5e-4, 3e-4, 1e-10).expect("apart");
    let far = field::rows(14e-4, 35e-4, 21e-4, 1e-10).expect("apart");
    close("rows", 7.0 * far.per_m2_f, near.per_m2_f, 1e-11);
}

#[test]
fn wider_strips_and_better_dielectrics_hold_more() {
    let mut last = 0.0;
    for width in [1e-4, 3e-4, 1e-3, 1.1e-3, 1e-2] {
        let now = strip(&[layer(1e-3, 2.0)], &[layer(2e-4, 3.0)], width, 1e-9).per_m_f;
        assert!(now > last, "{width}");
        last = now;
    }
    let mut last = [0.0, 0.0];
    for e in [1.0, 1.5, 3.0, 10.0, 80.0] {
        let (base, overlay) = ([layer(1e-3, e), layer(2e-4, 2.0)], [layer(2e-4, 3.0), layer(1e-4, e)]);
        let now = [strip(&base, &overlay, 5e-4, 1e-9).per_m_f, thread(&base, &overlay, 1.5e-4, 1e-9).per_m_f];
        assert!(now[0] > last[0] && now[1] > last[1], "{e}");
        last = now;
    }
}

#[test]
fn faults_and_missing_ground_are_told() {
    let base = [layer(1e-3, 2.0)];
    let run = CrossSection::Strip { width_m: 1e-3 };
    let on_ground = field::line(&over_ground(&[], &base), run, 1e-6);
    assert_eq!(on_ground, Err(field::FieldFault::Contact));
    let touching = field::line(&over_ground(&base, &[]), CrossSection::Thread { diameter_m: 2e-3 }, 1e-6);
    assert_eq!(touching, Err(field::FieldFault::Contact));
    assert!(matches!(
        field::line(&over_ground(&base, &[]), CrossSection::Strip { width_m: 3.0 }, 1e-6),
        Err(field::FieldFault::TooWide { conductor: 0, .. })
    ));
    let free = field::line(&Medium { ground: Ground::None, base: &base, overlay: &[] }, run, 1e-6).expect("a distant ground");
    let distant = strip(&[layer(0.3, 1.0), base[0]], &[], 1e-3, 1e-6);
    assert!(!free.valid && free.notes.contains(Note::LineWithoutGround));
    assert_eq!(free.per_m_f, distant.per_m_f);
}

#[test]
fn the_method_is_chosen_by_what_is_asked() {
    let (base, overlay) = ([layer(1e-3, 2.0)], [layer(2e-4, 3.0)]);
    let medium = over_ground(&base, &overlay);
    let run = CrossSection::Strip { width_m: 1e-3 };
    let aim = |choice, relative_tolerance| Aim { choice, relative_tolerance };
    for (choice, tolerance, method) in [
        (Choice::Best, 0.01, Method::TwoChargeStrip),
        (Choice::Best, 1e-3, Method::SolvedStrip),
        (Choice::ClosedForm, 1e-3, Method::TwoChargeStrip),
        (Choice::Field, 0.1, Method::SolvedStrip),
    ] {
        let found = per_length(&medium, run, aim(choice, tolerance));
        assert_eq!(found.method, method);
        assert!(choice == Choice::ClosedForm || found.accuracy.relative_error <= tolerance);
    }
    let through = per_length(&medium, CrossSection::Thread { diameter_m: 5e-4 }, Aim::USUAL);
    assert!(!through.accuracy.valid && through.accuracy.notes.contains(Note::ThreadThroughLayers));
    let touching = per_length(&medium, CrossSection::Thread { diameter_m: 3e-3 }, Aim::USUAL);
    assert_eq!(touching.method, Method::WireOverPlane);
    for (choice, tolerance, method) in [(Choice::Best, 0.01, Method::RowGrating), (Choice::Best, 1e-7, Method::SolvedRows)] {
        assert_eq!(rows(2e-4, 5e-4, 1e-3, aim(choice, tolerance)).method, method);
    }
}

// ---- threads ----

#[test]
fn threads_in_one_dielectric_are_exact() {
    for row in table("field/f5_wire.csv", 5) {
        let (h, e) = (row.number("h_mm") * 1e-3, row.number("eps_r"));
        let found = thread(&[layer(h, e)], &[layer(10.0, e)], row.number("r_mm") * 1e-3, 1e-9);
        within(row.text("id"), found.per_m_f * 1e12, found.relative_error, row.number("C_pF_per_m"), ALL_OF_ONE);
        assert!(found.valid && found.relative_error <= 1e-9, "{found:?}");
    }
}

/// A thread by charges on every surface, in air over ground: constant along chords of the thread and along pieces of
/// each face between layers, which grow outwards. It does not mind what the thread reaches into.
fn second_thread(base: &[Layer], overlay: &[Layer], radius: f64) -> f64 {
    struct Piece {
        ends: [Complex<f64>; 2],
        /// Permittivity next to a piece of the thread; under and over a piece of a face.
        around: [f64; 2],
        of_thread: bool,
    }
    let height: f64 = base.iter().map(|l| l.thickness_m).sum();
    let mut faces = Vec::new();
    let mut z = 0.0;
    let all: Vec<Layer> = base.iter().chain(overlay).chain(&[layer(1.0, 1.0)]).copied().collect();
    for pair in all.windows(2) {
        z += pair[0].thickness_m;
        if pair[0].relative_permittivity != pair[1].relative_permittivity {
            faces.push((z, pair[0].relative_permittivity, pair[1].relative_permittivity));
        }
    }
    let permittivity = |at: f64| faces.iter().rev().find(|(z, ..)| at > *z).map_or(all[0].relative_permittivity, |(.., over)| *over);
    let mut pieces = Vec::new();
    // Chords end where a face meets the thread, so that none lies in two dielectrics.
    let mut angles: Vec<f64> = faces.iter().map(|(z, ..)| (z - height) / radius).filter(|s| s.abs() < 1.0).map(f64::asin).collect();
    angles.splice(0..0, [-0.5 * PI]);
    angles.push(0.5 * PI);
    for arc in angles.windows(2) {
        let chords = ((arc[1] - arc[0]) * 60.0).ceil();
        for i in 0..chords as usize {
            let at = |i: usize| Complex::from_polar(radius, arc[0] + (arc[1] - arc[0]) * i as f64 / chords) + Complex::new(0.0, height);
            let ends = [at(i), at(i + 1)];
            let e = permittivity(0.5 * (ends[0].im + ends[1].im));
            pieces.push(Piece { ends, around: [e, e], of_thread: true });
        }
    }
    for (z, under, over) in &faces {
        let mut from = (radius * radius - (z - height).powi(2)).max(0.0).sqrt();
        let nearest = 0.01 * radius;
        let mut step = nearest;
        while from < 400.0 * (height + radius) {
            let ends = [Complex::new(from, *z), Complex::new(from + step, *z)];
            pieces.push(Piece { ends, around: [*under, *over], of_thread: false });
            from += step;
            step *= 1.03;
        }
    }
    // Potential and field (Ex - i Ez) of a unit line density on a segment, times 2 pi eps0.
    let potential = |at: Complex<f64>, ends: [Complex<f64>; 2]| {
        let along = (ends[1] - ends[0]) / (ends[1] - ends[0]).norm();
        let part = |end: Complex<f64>| {
            let w = (at - end) / along;
            if w.norm() == 0.0 { Complex::new(0.0, 0.0) } else { w * w.ln() - w }
        };
        (part(ends[1]) - part(ends[0])).re
    };
    let field = |at: Complex<f64>, ends: [Complex<f64>; 2]| {
        let along = (ends[1] - ends[0]) / (ends[1] - ends[0]).norm();
        ((at - ends[0]).ln() - (at - ends[1]).ln()) / along
    };
    let mirrored = |ends: [Complex<f64>; 2]| ends.map(|end| Complex::new(-end.re, end.im));
    let in_ground = |ends: [Complex<f64>; 2]| ends.map(|end| end.conj());
    let count = pieces.len();
    let mut matrix = DMatrix::<f64>::zeros(count, count);
    let mut wanted = DVector::<f64>::zeros(count);
    for (i, target) in pieces.iter().enumerate() {
        let at = 0.5 * (target.ends[0] + target.ends[1]);
        wanted[i] = f64::from(u8::from(target.of_thread));
        for (j, source) in pieces.iter().enumerate() {
            let images = [
                (source.ends, 1.0),
                (mirrored(source.ends), 1.0),
                (in_ground(source.ends), -1.0),
                (in_ground(mirrored(source.ends)), -1.0),
            ];
            matrix[(i, j)] = if target.of_thread {
                images.iter().map(|(ends, sign)| sign * potential(at, *ends)).sum()
            } else {
                // Twice the mean field times the contrast is the charge: (over - under) E/pi + (over + under) charge = 0.
                let [under, over] = target.around;
                let others = if i == j { &images[1..] } else { &images[..] };
                let up: f64 = others.iter().map(|(ends, sign)| -sign * field(at, *ends).im).sum();
                (over - under) * up / PI + if i == j { over + under } else { 0.0 }
            };
        }
    }
    let charges = matrix.lu().solve(&wanted).expect("regular");
    let free = |(piece, density): (&Piece, &f64)| {
        if piece.of_thread { piece.around[0] * density * (piece.ends[1] - piece.ends[0]).norm() } else { 0.0 }
    };
    2.0 * PI * EPS0 * 2.0 * pieces.iter().zip(charges.iter()).map(free).sum::<f64>()
}

#[test]
fn threads_among_layers_agree_with_charges_on_every_surface() {
    let r = 1e-4;
    let cases: [(&[Layer], &[Layer]); 7] = [
        (&[layer(1e-3, 1.0)], &[]),
        (&[layer(3e-4, 4.0)], &[]),
        (&[layer(1.3e-4, 4.0)], &[]),
        (&[layer(5e-4, 1.5)], &[layer(1.1e-4, 5.0)]),
        (&[layer(2e-4, 1.0), layer(1.2e-4, 3.0)], &[layer(1.05e-4, 2.0), layer(5e-5, 1.0), layer(1e-4, 6.0)]),
        (&[layer(2e-4, 8.0), layer(3e-4, 1.0)], &[layer(4e-4, 1.0), layer(1e-4, 8.0)]),
        (&[layer(2e-4, 2.0), layer(3e-4, 30.0)], &[layer(2e-4, 1.2)]),
    ];
    for (base, overlay) in cases {
        let found = thread(base, overlay, r, 1e-8);
        let second = second_thread(base, overlay, r);
        within(&format!("{base:?} {overlay:?}"), found.per_m_f, found.relative_error, second, PIECES);
        assert!(found.valid && found.relative_error < 1e-6, "{found:?}");
    }
}

#[test]
fn a_thread_that_reaches_through_layers_is_enclosed() {
    let r = 1e-4;
    let cases: [(&[Layer], &[Layer]); 5] = [
        (&[layer(1e-3, 1.4)], &[layer(5e-5, 2.0)]),
        (&[layer(1e-3, 1.4), layer(7e-5, 4.0)], &[]),
        (&[layer(1e-3, 1.0), layer(2e-5, 4.0)], &[layer(3e-5, 2.0), layer(1e-3, 1.5)]),
        (&[layer(1e-3, 2.0), layer(9.9e-5, 1.8)], &[layer(3e-5, 1.5), layer(1e-5, 3.0)]),
        (&[layer(3e-4, 2.0)], &[layer(9e-5, 10.0)]),
    ];
    for (base, overlay) in cases {
        let found = thread(base, overlay, r, 1e-6);
        within(&format!("{base:?} {overlay:?}"), found.per_m_f, found.relative_error, second_thread(base, overlay, r), PIECES);
        assert!(!found.valid && found.notes.contains(Note::ThreadThroughLayers) && found.relative_error < 1.0, "{found:?}");
    }
}

// ---- rows ----

#[test]
fn rows_meet_the_tables() {
    for row in table("field/f8_grating_inf.csv", 10) {
        for tolerance in [1e-3, 1e-6, 1e-10] {
            let mm = |name: &str| row.number(name) * 1e-3;
            let found = field::rows(2.0 * mm("r_mm"), mm("p_mm"), mm("h_mm"), tolerance).expect("apart");
            within(row.text("id"), found.per_m2_f * 1e12, found.relative_error, row.number("C_pF_per_m2"), TABLE);
            assert!(found.relative_error <= tolerance, "{found:?}");
        }
    }
    for row in table("circuit/grating_offset.csv", 18) {
        let x = row.number("a_over_p");
        let found = field::rows(2.0 * x, 1.0, 20.0, 1e-11).expect("apart");
        let error = found.offset_m - row.number("offset_over_p_exact");
        assert!(error.abs() < OFFSETS, "{x}: off by {error:e}");
    }
}

/// Charge of each of `count` threads side by side in air over ground, per metre and volt, by charges and multipoles at
/// their axes set to one potential at points round each.
fn threads_side_by_side(count: usize, radius: f64, spacing: f64, height: f64) -> Vec<f64> {
    const POLES: usize = 9;
    const EACH: usize = 2 * POLES + 1;
    let axis = |i: usize| Complex::new(spacing * i as f64, height);
    let mut matrix = DMatrix::<f64>::zeros(count * EACH, count * EACH);
    for target in 0..count {
        for point in 0..EACH {
            let at = axis(target) + Complex::from_polar(radius, 2.0 * PI * point as f64 / EACH as f64);
            for source in 0..count {
                let row = target * EACH + point;
                for (sign, seen) in [(1.0, at), (-1.0, at.conj())] {
                    let inverse = radius / (seen - axis(source));
                    matrix[(row, source * EACH)] += sign * (inverse.norm() / radius).ln();
                    let mut power = inverse;
                    for n in 0..POLES {
                        matrix[(row, source * EACH + 1 + 2 * n)] += sign * power.re;
                        matrix[(row, source * EACH + 2 + 2 * n)] += sign * power.im;
                        power *= inverse;
                    }
                }
            }
        }
    }
    let solved = matrix.lu().solve(&DVector::from_element(count * EACH, 1.0)).expect("regular");
    (0..count).map(|i| 2.0 * PI * EPS0 * solved[i * EACH]).collect()
}

#[test]
fn a_thread_in_the_middle_of_many_carries_what_an_endless_row_gives_it() {
    for row in table("field/f8_grating_finite.csv", 5) {
        let mm = |name: &str| row.number(name) * 1e-3;
        let all = threads_side_by_side(row.number("n_threads") as usize, mm("r_mm"), mm("p_mm"), mm("h_mm"));
        // The second method itself, against the table.
        close(row.text("id"), all.iter().sum::<f64>() * 1e12, row.number("C_pF_per_m"), TABLE);
    }
    for x in [0.02, 0.1, 0.25, 0.35] {
        let (p, h) = (1e-3, 0.5e-3);
        let middle = |count: usize| threads_side_by_side(count, x * p, p, h)[count / 2];
        let endless = field::rows(2.0 * x * p, p, h, 1e-9).expect("apart").per_m2_f * p;
        // What the ends of the row add falls like a series in 1/count; with three terms taken off, next to nothing is left.
        let counts = [9, 15, 25, 41];
        let middles = DVector::from_iterator(4, counts.map(middle));
        let powers = DMatrix::from_fn(4, 4, |i, j| (counts[i] as f64).powi(-(j as i32)));
        let limit = powers.lu().solve(&middles).expect("distinct")[0];
        close(&format!("radius over spacing {x}"), limit, endless, ENDLESS);
    }
}

#[test]
fn threads_may_touch_each_other() {
    // More conductor holds more charge, so the offset falls with the radius, and without a jump where they meet.
    let offset = |x: f64| field::rows(2.0 * x, 1.0, 5.0, 1e-11).expect("apart").offset_m;
    let last = [0.49, 0.499, 0.4999, 0.5].map(offset);
    assert!(last.windows(2).all(|w| w[1] < w[0]), "{last:?}");
    assert!((last[2] - last[3]) < 0.2 * (last[1] - last[2]), "{last:?}");
    assert_eq!(field::rows(1.01, 1.0, 5.0, 1e-6), Err(field::FieldFault::Overlap { first: 0, second: 1 }));
    assert_eq!(field::rows(0.4, 1.0, 0.2, 1e-6), Err(field::FieldFault::Contact));
}

#[test]
fn far_rows_are_single_threads() {
    // Threads a thousand heights apart feel one another by (2h/p)^2 only, 4e-6 times (pi^2/6)...
    let (r, h, p) = (1e-4_f64, 1e-3_f64, 1.0);
    let alone = 2.0 * PI * EPS0 / (h / r).acosh();
    let found = field::rows(2.0 * r, p, h, 1e-9).expect("apart");
    close("one thread per metre", found.per_m2_f * p, alone, 1e-5);
}
