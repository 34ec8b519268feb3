//! What a touch of one pad shows on the others.
//!
//! The touched pad, the pads near it and the finger are taken together: Maxwell's matrix without the finger and with
//! it, every other pad at ground as a controller holds it, the finger at the potential that its way back leaves it.
//! The change of another pad's capacitance then follows as the signal of the touched pad does.

use super::input::Input;
use super::pad::{LayerBuffer, PadChain, PieceChain, drawn_alike, figure, guard_band};
use super::{GroundKind, Shape, checks};
use crate::electrostatics::{Choice, Conductor, Medium, felt_beside};
use crate::geometry::Point;
use crate::touch::{signal, signal_over_body};
use crate::uncertainty::{Linear, propagate, propagate_by_whole_steps};

/// Other pads that are taken together with the touched one, the nearest first: they screen those beyond.
const MOST_OTHERS: usize = 2;

/// Pads whose middle is farther away than this many sizes of the touched one feel less than a thousandth of its touch.
const REACH_IN_SIZES: f64 = 6.0;

/// What is asked of the values: far inside what decides whether a neighbour is quiet.
const TOLERANCE: f64 = 1e-2;

/// What is asked where only slopes are wanted.
const TOLERANCE_OF_SLOPES: f64 = 5e-2;

/// Places are taken to this grid, m, so that equal arrangements are equal to the last bit wherever they lie.
const GRID_M: f64 = 1e-9;

/// Signals that differ by less than this are one.
const ALIKE: f64 = 1e-6;

/// The pad that feels a touch most.
pub(super) struct Felt {
    pub(super) other: usize,
    /// Change of its capacitance, with spreads against the inputs of the touched pad.
    pub(super) signal_f: Linear,
}

/// Of one other pad, F: to the finger, to ground with and without the finger; and the finger to ground.
type Coefficients = [f64; 4];

/// Spreads that were worked out for one pair, and hold for others that are drawn and placed alike.
pub(super) struct Slopes {
    touched: usize,
    other: usize,
    apart_m: Point,
    first_foreign: usize,
    coefficients: [Linear; 4],
}

/// The numbers that may move: layers, finger, measures of the touched pad and of the other.
struct At<'x> {
    layers: &'x [f64],
    finger_m: f64,
    measures: [&'x [f64]; 2],
}

impl PieceChain<'_> {
    /// For every pad, the other pad that feels its touch most; `None` where no other pad is near or places are unknown.
    pub(super) fn felt(&self, chains: &mut [PadChain]) -> Vec<Option<Felt>> {
        // A finger on a bare pad touches the conductor itself: there the circuit decides, not the field.
        // The closed forms know neighbours too roughly to judge them.
        if self.layers().1.is_empty() || self.piece.aim.choice == Choice::ClosedForm {
            return chains.iter().map(|_| None).collect();
        }
        let mut known = Vec::new();
        (0..chains.len()).map(|k| self.felt_from(k, chains, &mut known)).collect()
    }

    fn felt_from(&self, touched: usize, chains: &mut [PadChain], known: &mut Vec<Slopes>) -> Option<Felt> {
        let others = self.others_near(touched);
        if others.is_empty() {
            return None;
        }
        let values = |list: &[Linear]| -> Vec<f64> { list.iter().map(|l| l.value).collect() };
        let layers: Vec<f64> = self.layers().0.iter().chain(self.layers().1).flatten().map(|l| l.value).collect();
        let own = values(&chains[touched].measures);
        let all = {
            let first = values(&chains[others[0]].measures);
            let at = At { layers: &layers, finger_m: self.shared.finger_m.value, measures: [&own, &first] };
            self.coefficients(touched, &others, &at, TOLERANCE)?
        };
        let way = self.way_back().map(|l| l.value);
        let felt = |at: usize| self.signal_with(&all[at].0, way, chains[others[at]].details.charging.run_f);
        // Of neighbours that lie alike the first, whatever rounding makes of the others.
        let at = (1..others.len()).fold(0, |most, at| if felt(at) > felt(most) * (1.0 + ALIKE) { at } else { most });
        let other = others[at];

        let rough = self.rough(touched, other, &layers, chains, known)?;
        let fine: [Linear; 4] = std::array::from_fn(|n| rough[n].moved_to(all[at].0[n]));
        let error = chains[touched].also(self.inputs.len(), Input::method_error(touched, "signal on the neighbour", all[at].1));
        let [earth, supply, direct] = self.way_back();
        let arguments = [&fine[0], &fine[1], &fine[2], &fine[3], earth, supply, direct, &error];
        let run_f = chains[other].details.charging.run_f;
        let [signal_f] = propagate(&arguments, |x| {
            // What the finger takes from the other pad's own field errs as its coupling does.
            let scale = 1.0 + x[7];
            [self.signal_with(&[x[0] * scale, x[2] + (x[1] - x[2]) * scale, x[2], x[3]], [x[4], x[5], x[6]], run_f)]
        });
        Some(Felt { other, signal_f })
    }

    fn others_near(&self, touched: usize) -> Vec<usize> {
        let pads = &self.piece.pads;
        let Some(centre) = pads[touched].centre_m else { return Vec::new() };
        let reach = REACH_IN_SIZES * checks::reach_m(&pads[touched].shape) * 2.0;
        let mut near: Vec<(f64, usize)> = pads
            .iter()
            .enumerate()
            .filter(|(k, _)| *k != touched)
            .filter_map(|(k, pad)| pad.centre_m.map(|c| ((c[0] - centre[0]).hypot(c[1] - centre[1]), k)))
            .filter(|(distance, _)| *distance <= reach)
            .collect();
        near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        near.into_iter().take(MOST_OTHERS).map(|(_, k)| k).collect()
    }

    /// Coefficients with their spreads, from a coarse solution of the two pads and the finger alone.
    fn rough(&self, touched: usize, other: usize, layers: &[f64], chains: &mut [PadChain], known: &mut Vec<Slopes>) -> Option<[Linear; 4]> {
        let apart_m = self.canonical(touched, other);
        let first_foreign = chains[touched].inputs.len();
        let foreign: Vec<Linear> = checks::shape_inputs(&self.piece.pads[other].shape, other)
            .into_iter()
            .map(|input| chains[touched].also(self.inputs.len(), input))
            .collect();
        let pads = &self.piece.pads;
        let alike = |s: &&Slopes| {
            s.apart_m == apart_m
                && s.first_foreign == first_foreign
                && drawn_alike(&pads[s.touched], &pads[touched])
                && drawn_alike(&pads[s.other], &pads[other])
        };
        if let Some(slopes) = known.iter().find(alike) {
            return Some(slopes.coefficients.clone());
        }
        let (count, own) = (layers.len(), chains[touched].measures.len());
        let mut arguments: Vec<&Linear> = self.layers().0.iter().chain(self.layers().1).flatten().collect();
        arguments.push(&self.shared.finger_m);
        arguments.extend(&chains[touched].measures);
        arguments.extend(&foreign);
        let mut solved = true;
        let coefficients = propagate_by_whole_steps(&arguments, |x| {
            let (mine, theirs) = x[count + 1..].split_at(own);
            let at = At { layers: &x[..count], finger_m: x[count], measures: [mine, theirs] };
            match self.coefficients(touched, &[other], &at, TOLERANCE_OF_SLOPES) {
                Some(all) => all[0].0,
                None => {
                    solved = false;
                    [0.0; 4]
                }
            }
        });
        if !solved {
            return None;
        }
        known.push(Slopes { touched, other, apart_m, first_foreign, coefficients: coefficients.clone() });
        Some(coefficients)
    }

    /// The same; of round pads, which look alike all around, the distance alone counts.
    fn canonical(&self, touched: usize, other: usize) -> Point {
        let apart = self.apart(touched, other);
        let round = |k: usize| matches!(self.piece.pads[k].shape, Shape::Round { .. });
        let centred = self.shared.off_centre_m.value == 0.0;
        if round(touched) && round(other) && centred { [(apart[0].hypot(apart[1]) / GRID_M).round() * GRID_M, 0.0] } else { apart }
    }

    /// From the touched pad's middle to the other's, on the grid, m.
    fn apart(&self, touched: usize, other: usize) -> Point {
        let centre = |k: usize| self.piece.pads[k].centre_m.unwrap_or([0.0, 0.0]);
        let on_grid = |x: f64| (x / GRID_M).round() * GRID_M;
        let (a, b) = (centre(touched), centre(other));
        [on_grid(b[0] - a[0]), on_grid(b[1] - a[1])]
    }

    /// Coefficients of every pad of `others`, each with the bound of its coupling. `at.measures[1]` are those of the
    /// first of the others; the rest are taken as drawn. `None` where pads overlap, which the clearance tells.
    fn coefficients(&self, touched: usize, others: &[usize], at: &At<'_>, tolerance: f64) -> Option<Vec<(Coefficients, f64)>> {
        let pads = &self.piece.pads;
        let mut conductors = Vec::with_capacity(2 * others.len() + 3);
        let mut guards = Vec::new();
        let mut follows = vec![Vec::new(); others.len() + 1];
        for (n, &k) in std::iter::once(&touched).chain(others).enumerate() {
            let pad = &pads[k];
            let figure = if n < 2 { figure(&pad.shape, at.measures[n]) } else { pad.shape.figure() };
            let centre_m = if n == 0 { [0.0, 0.0] } else { self.apart(touched, k) };
            let conductor = Conductor { figure, rows: self.rows_of(k), centre_m, rotation_rad: pad.rotation_rad, on_top: false };
            if let Some((figure, driven)) = guard_band(pad).and_then(|band| Some((band.figure(&conductor.figure)?, band.driven))) {
                if driven {
                    follows[n].push(others.len() + 1 + guards.len());
                }
                guards.push(Conductor { figure, rows: None, ..conductor.clone() });
            }
            conductors.push(conductor);
        }
        conductors.extend(guards);

        let base_layers = self.layers().0.len();
        let buffer = LayerBuffer::new(at.layers);
        let medium: Medium<'_> = buffer.medium(self.ground(), base_layers);
        let tolerance = tolerance.max(self.piece.aim.relative_tolerance);
        let off_centre_m = self.shared.off_centre_m.value;
        felt_beside(&medium, &conductors, others.len(), &follows, at.finger_m, off_centre_m, tolerance).ok()
    }

    /// The signal that these coefficients make, by the way back that the piece has.
    fn signal_with(&self, &[pad_finger, touched, untouched, back]: &Coefficients, way: [f64; 3], run_f: f64) -> f64 {
        let way = self.way_back_of(way);
        if self.piece.stack.ground == GroundKind::Body {
            signal_over_body(pad_finger, touched + run_f, untouched + run_f, &way).0.signal_f
        } else {
            signal(pad_finger, touched, untouched, back, &way).signal_f
        }
    }
}
