//! A pad and the finger over it, solved: the four capacitances that a touch is made of.
//!
//! Round pads under a finger on their middle go to the solver for coaxial discs, over an opening in the ground to the
//! one for openings, beside the middle to the one for discs anywhere; all other outlines, and pads with a guard, to the
//! general one.

use super::super::conductor::{Conductor, Figure};
use super::super::{Medium, Method, Note, Notes, Rows, rows_error};
use super::discs::{Disc, PadsUnderTouch};
use super::kept::{Kept, Key};
use super::matrix::discs;
use super::{FieldFault, Layers, over_opening, round_touch};

/// A pad with what lies around it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TouchedPad<'a> {
    /// Outline of the pad.
    pub figure: &'a Figure,
    /// Rows that fill it.
    pub rows: Option<Rows>,
    /// Flat disc for the fingertip, m.
    pub finger_diameter_m: f64,
    /// How far beside the middle it comes down, along x, m.
    pub off_centre_m: f64,
    /// A band around the pad.
    pub guard: Option<GuardBand>,
    /// Diameter of a round opening in the ground under the pad, m.
    pub opening_diameter_m: Option<f64>,
}

/// A guard of even width at an even distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GuardBand {
    /// Free space between pad and guard, m.
    pub gap_m: f64,
    /// Width, m.
    pub width_m: f64,
    /// Whether it follows the pad's voltage instead of lying at ground.
    pub driven: bool,
}

/// What a touch is made of, F. With a driven guard, whose two directions differ, `pad_finger_f` is the geometric mean,
/// which leaves every signal as it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SolvedTouch {
    /// Between pad and finger.
    pub pad_finger_f: f64,
    /// Between pad and ground with the finger there.
    pub pad_ground_touched_f: f64,
    /// The same without it.
    pub pad_ground_untouched_f: f64,
    /// Between finger and ground past the pad.
    pub finger_ground_f: f64,
    /// What rows of thread differ from the plate that stands for them; counted in the bounds below. 0 for a solid pad.
    pub rows_error: f64,
    /// Bound of the relative error of `pad_ground_untouched_f`.
    pub pad_error: f64,
    /// Bound of the relative error of `pad_finger_f` and of what the finger takes from the pad's own field.
    pub finger_error: f64,
    /// Bound of the relative error of `finger_ground_f`.
    pub way_error: f64,
    /// What made it.
    pub method: Method,
    /// False where the method cannot vouch for its bounds.
    pub valid: bool,
    /// Cautions.
    pub notes: Notes,
}

impl GuardBand {
    /// The band as a figure about the pad's middle; `None` around a polygon or a line.
    pub fn figure(&self, around: &Figure) -> Option<Figure> {
        let (near, far) = (2.0 * self.gap_m, 2.0 * (self.gap_m + self.width_m));
        Some(match around {
            Figure::Round { diameter_m: d } | Figure::Ring { outer_diameter_m: d, .. } => {
                Figure::Ring { inner_diameter_m: d + near, outer_diameter_m: d + far }
            }
            Figure::Rectangle { width_m, length_m, .. } => {
                let corners = |by: f64| {
                    let (x, y) = ((width_m + by) / 2.0, (length_m + by) / 2.0);
                    vec![[-x, -y], [x, -y], [x, y], [-x, y]]
                };
                Figure::Polygon { points_m: corners(far), holes_m: vec![corners(near)] }
            }
            Figure::Polygon { .. } | Figure::Line { .. } => return None,
        })
    }
}

/// Pad to finger, pad to ground and finger to ground, F, from Maxwell's matrix of everything (row-major, `count` a
/// side): the pad and the conductors in `follows` at one potential, the finger on its own, all others at ground.
pub fn touch_of_matrix(maxwell_f: &[f64], count: usize, pad: usize, follows: &[usize], finger: usize) -> [f64; 3] {
    let row = |i: usize| maxwell_f[i * count + pad] + follows.iter().map(|j| maxwell_f[i * count + j]).sum::<f64>();
    let (charge, induced) = (row(pad), -row(finger));
    let back = -maxwell_f[pad * count + finger];
    // With a driven follower the two directions differ; their geometric mean gives the same signal.
    let pad_finger = (induced.max(0.0) * back.max(0.0)).sqrt();
    [pad_finger, charge - pad_finger, maxwell_f[finger * count + finger] - pad_finger]
}

/// The four capacitances of a touch, solved to a relative tolerance.
///
/// # Errors
/// [`FieldFault::Contact`] where nothing lies between pad and finger or pad and ground; the faults of
/// [`super::conductor_matrix`] besides.
pub fn solved_touch(medium: &Medium<'_>, question: &TouchedPad<'_>, relative_tolerance: f64) -> Result<SolvedTouch, FieldFault> {
    match question.key(medium, relative_tolerance) {
        Some(key) => TOUCHES.get(key, || solve(medium, question, relative_tolerance)),
        None => solve(medium, question, relative_tolerance),
    }
}

/// Touches kept, a few hundred bytes each.
static TOUCHES: Kept<Result<SolvedTouch, FieldFault>, 256> = Kept::new();

impl TouchedPad<'_> {
    /// Everything that the answer depends on; `None` for outlines that are too long to compare.
    fn key(&self, medium: &Medium<'_>, relative_tolerance: f64) -> Option<Key> {
        let mut key: Key = Layers::new(medium, self.rows).fingerprint().into_iter().collect();
        let mut add = |kind: u64, numbers: &[f64]| {
            key.push(kind);
            key.extend(numbers.iter().map(|x| x.to_bits()));
        };
        match self.figure {
            Figure::Round { diameter_m } => add(1, &[*diameter_m]),
            Figure::Rectangle { width_m, length_m, corner_radius_m } => add(2, &[*width_m, *length_m, *corner_radius_m]),
            Figure::Ring { inner_diameter_m, outer_diameter_m } => add(3, &[*inner_diameter_m, *outer_diameter_m]),
            Figure::Polygon { .. } | Figure::Line { .. } => return None,
        }
        add(4, &[self.finger_diameter_m, self.off_centre_m, relative_tolerance]);
        if let Some(rows) = self.rows {
            add(5, &[rows.thread_diameter_m, rows.row_spacing_m]);
        }
        if let Some(guard) = self.guard {
            add(6 + u64::from(guard.driven), &[guard.gap_m, guard.width_m]);
        }
        if let Some(opening) = self.opening_diameter_m {
            add(8, &[opening]);
        }
        Some(key)
    }
}

fn solve(medium: &Medium<'_>, question: &TouchedPad<'_>, relative_tolerance: f64) -> Result<SolvedTouch, FieldFault> {
    let mut touch = match question.figure {
        Figure::Round { diameter_m } if question.guard.is_none() && question.off_centre_m == 0.0 => match question.opening_diameter_m {
            None => coaxial(&Layers::new(medium, question.rows), *diameter_m, question.finger_diameter_m, relative_tolerance),
            Some(opening_m) => opened(&Layers::new(medium, question.rows), *diameter_m, opening_m, question.finger_diameter_m),
        },
        Figure::Round { diameter_m } if question.guard.is_none() && question.opening_diameter_m.is_none() => {
            beside(&Layers::new(medium, question.rows), *diameter_m, question, relative_tolerance)
        }
        _ => general(medium, question, relative_tolerance),
    }?;
    touch.rows_error = rows_error(&question.figure.outline(), question.rows);
    for bound in [&mut touch.pad_error, &mut touch.finger_error, &mut touch.way_error] {
        *bound += touch.rows_error;
    }
    if question.rows.is_some() {
        touch.notes = touch.notes.with(Note::RowsAsPlate);
    }
    Ok(touch)
}

/// A round pad under a finger on its middle.
fn coaxial(layers: &Layers, pad_m: f64, finger_m: f64, relative_tolerance: f64) -> Result<SolvedTouch, FieldFault> {
    let t = round_touch(layers, 0.5 * pad_m, 0.5 * finger_m, relative_tolerance)?;
    let pad_finger_f = -t.pad_finger_f;
    let finger_ground_f = t.finger_finger_f - pad_finger_f;
    // What the finger takes from the pad's own field is a difference of what it adds and what it couples.
    let shade = pad_finger_f - t.delta_f;
    let shade_error = relative(t.delta_error * t.delta_f + t.pad_finger_error * pad_finger_f, shade);
    // A shade that is a small part of the coupling may err by more than its size and still not be seen in a signal.
    let seen = shade_error * (shade / pad_finger_f).clamp(0.0, 1.0);
    Ok(SolvedTouch {
        pad_finger_f,
        pad_ground_touched_f: t.pad_alone_f - shade,
        pad_ground_untouched_f: t.pad_alone_f,
        finger_ground_f,
        rows_error: 0.0,
        pad_error: t.pad_alone_error,
        finger_error: t.pad_finger_error.max(seen),
        way_error: relative(t.finger_finger_error * t.finger_finger_f + t.pad_finger_error * pad_finger_f, finger_ground_f),
        method: Method::SolvedTouch,
        valid: true,
        notes: Notes::NONE,
    })
}

/// A round pad under a finger beside its middle.
fn beside(layers: &Layers, pad_m: f64, question: &TouchedPad<'_>, relative_tolerance: f64) -> Result<SolvedTouch, FieldFault> {
    let pad = Disc { centre_m: [0.0; 2], radius_m: 0.5 * pad_m, on_top: false };
    let finger = Disc { centre_m: [question.off_centre_m, 0.0], radius_m: 0.5 * question.finger_diameter_m, on_top: true };
    let alone = PadsUnderTouch::new(layers, &[pad], relative_tolerance)?;
    let touched = alone.with_finger(finger)?;
    let (m, change) = (&touched.matrix, &touched.change);
    let pad_finger_f = -m.capacitance_f(0, 1);
    let untouched = alone.alone().capacitance_f(0, 0);
    let finger_ground_f = m.capacitance_f(1, 1) - pad_finger_f;
    let coupling_error = m.relative_error(0, 1) * pad_finger_f;
    let seen = relative(change.relative_error(0, 0) * change.capacitance_f(0, 0) + coupling_error, pad_finger_f);
    Ok(SolvedTouch {
        pad_finger_f,
        pad_ground_touched_f: untouched + change.capacitance_f(0, 0) - pad_finger_f,
        pad_ground_untouched_f: untouched,
        finger_ground_f,
        rows_error: 0.0,
        pad_error: alone.alone().relative_error(0, 0),
        finger_error: seen,
        way_error: relative(m.relative_error(1, 1) * m.capacitance_f(1, 1) + coupling_error, finger_ground_f),
        method: Method::SolvedDiscs,
        valid: true,
        notes: Notes::NONE,
    })
}

/// What a touch of the first of several stitched conductors is made of, seen from each of the others: to the finger, to
/// ground with and without it, finger to ground, F; each with the bound of the relative error of the coupling. The conductors
/// that `follows` names for each go with its voltage; all the rest lie at ground.
///
/// # Errors
/// As [`super::conductor_matrix`].
pub fn felt_beside(
    medium: &Medium<'_>,
    conductors: &[Conductor],
    others: usize,
    follows: &[Vec<usize>],
    finger_diameter_m: f64,
    off_centre_m: f64,
    relative_tolerance: f64,
) -> Result<Vec<([f64; 4], f64)>, FieldFault> {
    let mut key: Key = Layers::new(medium, conductors.first().and_then(|c| c.rows)).fingerprint().into_iter().collect();
    let all_short = conductors.iter().all(|c| add_bits(&mut key, c));
    key.extend([finger_diameter_m, off_centre_m, relative_tolerance].map(f64::to_bits));
    key.push(others as u64);
    key.extend(follows.iter().flatten().map(|k| *k as u64));
    let make = || felt(medium, conductors, others, follows, finger_diameter_m, off_centre_m, relative_tolerance);
    if all_short { FELT.get(key, make) } else { make() }
}

type Felt = Result<Vec<([f64; 4], f64)>, FieldFault>;

/// Groups of neighbours kept, a few hundred bytes each.
static FELT: Kept<Felt, 256> = Kept::new();

/// Adds the bits of a conductor to a key; false for outlines that are too long to compare.
fn add_bits(key: &mut Key, conductor: &Conductor) -> bool {
    let Conductor { figure, rows, centre_m, rotation_rad, on_top } = conductor;
    let mut add = |kind: u64, numbers: &[f64]| {
        key.push(kind << 1 | u64::from(*on_top));
        key.extend(numbers.iter().map(|x| x.to_bits()));
    };
    match figure {
        Figure::Round { diameter_m } => add(1, &[*diameter_m]),
        Figure::Rectangle { width_m, length_m, corner_radius_m } => add(2, &[*width_m, *length_m, *corner_radius_m]),
        Figure::Ring { inner_diameter_m, outer_diameter_m } => add(3, &[*inner_diameter_m, *outer_diameter_m]),
        Figure::Polygon { .. } | Figure::Line { .. } => return false,
    }
    add(4, &[centre_m[0], centre_m[1], *rotation_rad]);
    if let Some(rows) = rows {
        add(5, &[rows.thread_diameter_m, rows.row_spacing_m]);
    }
    true
}

fn felt(
    medium: &Medium<'_>,
    conductors: &[Conductor],
    others: usize,
    follows: &[Vec<usize>],
    finger_diameter_m: f64,
    off_centre_m: f64,
    relative_tolerance: f64,
) -> Felt {
    let middle = conductors[0].on_cloth(conductors[0].figure.middle());
    let centre_m = [middle[0] + off_centre_m, middle[1]];
    if let Some(pads) = discs(conductors) {
        let layers = Layers::new(medium, conductors[0].rows);
        let alone = PadsUnderTouch::new(&layers, &pads, relative_tolerance)?;
        let touched = alone.with_finger(Disc { centre_m, radius_m: 0.5 * finger_diameter_m, on_top: true })?;
        let (m, finger) = (&touched.matrix, pads.len());
        let list = (1..=others).map(|n| {
            let (coupling, untouched) = (-m.capacitance_f(n, finger), alone.alone().capacitance_f(n, n));
            let ground = untouched + touched.change.capacitance_f(n, n) - coupling;
            ([coupling, ground, untouched, m.capacitance_f(finger, finger) - coupling], m.relative_error(n, finger).min(1.0))
        });
        return Ok(list.collect());
    }
    let untouched = super::conductor_matrix(medium, conductors, relative_tolerance)?;
    let finger = conductors.len();
    let mut all = conductors.to_vec();
    all.push(Conductor { figure: Figure::Round { diameter_m: finger_diameter_m }, rows: None, centre_m, rotation_rad: 0.0, on_top: true });
    let touched = super::conductor_matrix(medium, &all, relative_tolerance)?;
    let own = |n: usize| -> f64 {
        std::iter::once(n).chain(follows[n].iter().copied()).map(|j| untouched.maxwell_f[n * untouched.count + j]).sum()
    };
    let list = (1..=others).map(|n| {
        let [coupling, ground, back] = touch_of_matrix(&touched.maxwell_f, touched.count, n, &follows[n], finger);
        ([coupling, ground, own(n), back], touched.relative_error)
    });
    Ok(list.collect())
}

/// A round pad over an opening in the ground.
fn opened(layers: &Layers, pad_m: f64, opening_m: f64, finger_m: f64) -> Result<SolvedTouch, FieldFault> {
    let alone = over_opening(layers, 0.5 * pad_m, 0.5 * opening_m, None)?;
    let touched = over_opening(layers, 0.5 * pad_m, 0.5 * opening_m, Some(0.5 * finger_m))?;
    let (m, e) = (&touched.maxwell_f, &touched.relative_error);
    let pad_finger_f = -m[(0, 1)];
    let finger_ground_f = m[(1, 1)] - pad_finger_f;
    let coupling_error = e[(0, 1)] * pad_finger_f;
    Ok(SolvedTouch {
        pad_finger_f,
        pad_ground_touched_f: m[(0, 0)] - pad_finger_f,
        pad_ground_untouched_f: alone.maxwell_f[(0, 0)],
        finger_ground_f,
        rows_error: 0.0,
        pad_error: alone.relative_error[(0, 0)],
        finger_error: relative(e[(0, 0)] * m[(0, 0)] + coupling_error, pad_finger_f),
        way_error: relative(e[(1, 1)] * m[(1, 1)] + coupling_error, finger_ground_f),
        method: Method::SolvedOpening,
        valid: true,
        notes: Notes::NONE,
    })
}

/// An absolute error over the size of what it belongs to; no more than all of it.
fn relative(error: f64, size: f64) -> f64 {
    if size > 0.0 { (error / size).min(1.0) } else { 1.0 }
}

/// Any outline, by the general solver: once without the finger, once with it.
fn general(medium: &Medium<'_>, question: &TouchedPad<'_>, relative_tolerance: f64) -> Result<SolvedTouch, FieldFault> {
    let pad = Conductor { figure: question.figure.clone(), rows: question.rows, centre_m: [0.0; 2], rotation_rad: 0.0, on_top: false };
    let middle = pad.figure.middle();
    let guard = question.guard.and_then(|band| Some((band.figure(&pad.figure)?, band.driven)));
    let follows: &[usize] = if guard.as_ref().is_some_and(|(_, driven)| *driven) { &[1] } else { &[] };
    let mut conductors = vec![pad];
    conductors.extend(guard.map(|(figure, _)| Conductor { figure, rows: None, ..conductors[0].clone() }));
    let alone = super::conductor_matrix(medium, &conductors, relative_tolerance)?;
    let finger = conductors.len();
    conductors.push(Conductor {
        figure: Figure::Round { diameter_m: question.finger_diameter_m },
        rows: None,
        centre_m: [middle[0] + question.off_centre_m, middle[1]],
        rotation_rad: 0.0,
        on_top: true,
    });
    let touched = super::conductor_matrix(medium, &conductors, relative_tolerance)?;
    let [pad_finger_f, pad_ground_touched_f, finger_ground_f] = touch_of_matrix(&touched.maxwell_f, touched.count, 0, follows, finger);
    let pad_ground_untouched_f = alone.maxwell_f[0] + follows.iter().map(|j| alone.maxwell_f[*j]).sum::<f64>();
    // Sums and differences of coefficients: their absolute errors over the size of the result.
    let over = |size: f64, parts: f64| if size > 0.0 { (touched.relative_error * parts / size).min(1.0) } else { 1.0 };
    let finger_finger = touched.maxwell_f[finger * touched.count + finger];
    Ok(SolvedTouch {
        pad_finger_f,
        pad_ground_touched_f,
        pad_ground_untouched_f,
        finger_ground_f,
        rows_error: 0.0,
        pad_error: alone.diagonal_error.min(1.0),
        finger_error: over(pad_finger_f, pad_finger_f),
        way_error: over(finger_ground_f, finger_finger),
        method: touched.method,
        valid: alone.valid && touched.valid,
        notes: alone.notes.union(touched.notes),
    })
}
