//! Results with their slopes against every uncertain input.

use smallvec::{SmallVec, smallvec};

/// One number for each input. A pad of an ordinary piece has some thirty inputs; up to that many are held without
/// going to the heap, which is where most of the time of an estimate went before.
type PerInput = SmallVec<[f64; 32]>;

/// A result near its best estimate: the value, and what one standard uncertainty of each input adds to it.
///
/// The contributions are `c_i u_i` of GUM 5.1.3; inputs are taken as independent.
#[derive(Debug, Clone, PartialEq)]
pub struct Linear {
    /// Best estimate.
    pub value: f64,
    contributions: PerInput,
}

/// How much of a result's variance one input carries.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// Number of the input, as given to [`Linear::input`].
    pub input: usize,
    /// Part of the variance, 0 to 1.
    pub share: f64,
}

impl Linear {
    /// A value without spread.
    pub fn exact(value: f64) -> Self {
        Self { value, contributions: SmallVec::new() }
    }

    /// Input number `input` itself, with its standard uncertainty.
    pub fn input(value: f64, standard_uncertainty: f64, input: usize) -> Self {
        if standard_uncertainty == 0.0 {
            return Self::exact(value);
        }
        let mut contributions: PerInput = smallvec![0.0; input + 1];
        contributions[input] = standard_uncertainty;
        Self { value, contributions }
    }

    /// Whether any input's spread reaches this result.
    pub fn is_exact(&self) -> bool {
        self.contributions.is_empty()
    }

    /// Combined standard uncertainty (GUM equation 10).
    pub fn standard_uncertainty(&self) -> f64 {
        self.variance().sqrt()
    }

    fn variance(&self) -> f64 {
        self.contributions.iter().fold(0.0, |sum, c| sum + c * c)
    }

    /// What one standard uncertainty of `input` adds to the value, with its sign.
    pub fn contribution(&self, input: usize) -> f64 {
        self.contributions.get(input).copied().unwrap_or(0.0)
    }

    /// Shares of the variance, biggest first, leaving out those below `smallest`.
    pub fn shares(&self, smallest: f64) -> Vec<Share> {
        let variance = self.variance();
        if variance == 0.0 {
            return Vec::new();
        }
        let mut shares: Vec<Share> = self
            .contributions
            .iter()
            .enumerate()
            .map(|(input, c)| Share { input, share: c * c / variance })
            .filter(|s| s.share >= smallest)
            .collect();
        shares.sort_by(|a, b| b.share.total_cmp(&a.share).then(a.input.cmp(&b.input)));
        shares
    }

    /// The input that carries most of the variance, with its share.
    pub fn largest(&self) -> Option<Share> {
        let variance = self.variance();
        let (input, c) = self.contributions.iter().enumerate().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
        (variance > 0.0).then(|| Share { input, share: c * c / variance })
    }

    /// `self + factor * other`, spreads included.
    pub fn plus(&self, factor: f64, other: &Self) -> Self {
        let mut contributions = self.contributions.clone();
        add_scaled(&mut contributions, factor, &other.contributions);
        Self { value: self.value + factor * other.value, contributions }
    }

    /// The same with another value, found by a better method: spreads grow with the value, where it has a size to
    /// grow from.
    pub fn moved_to(&self, value: f64) -> Self {
        let factor = value / self.value;
        if factor.is_finite() && (0.2..5.0).contains(&factor) {
            Self { value, ..self.times(factor) }
        } else {
            Self { value, contributions: self.contributions.clone() }
        }
    }

    /// `factor * self`, spreads included.
    pub fn times(&self, factor: f64) -> Self {
        Self { value: factor * self.value, contributions: self.contributions.iter().map(|c| factor * c).collect() }
    }
}

fn add_scaled(sum: &mut PerInput, factor: f64, other: &[f64]) {
    if sum.len() < other.len() {
        sum.resize(other.len(), 0.0);
    }
    for (s, o) in sum.iter_mut().zip(other) {
        *s += factor * o;
    }
}

/// Step of the difference quotient, relative to the argument: the error of the slope is of the same order,
/// a millionth, far below what a standard uncertainty is known to.
const STEP_OF_VALUE: f64 = 1e-6;

/// The step is no smaller than this part of the standard uncertainty, so that it stands clear of rounding where a
/// small argument moves a large result.
const STEP_OF_UNCERTAINTY: f64 = 1e-4;

/// Runs `stage` at the values of `arguments` and carries their spreads to its `M` results, to first order.
///
/// `stage` must be smooth on the scale of a millionth of each argument; a stage that chooses between methods must
/// choose so that its result is continuous. Arguments without spread cost nothing. The first question asked of the
/// stage is the one at the values themselves.
///
/// ```
/// use toile_model::uncertainty::{Linear, propagate};
/// let (a, b) = (Linear::input(3.0, 0.3, 0), Linear::input(4.0, 0.0, 1));
/// let [product] = propagate(&[&a, &b], |x| [x[0] * x[1]]);
/// assert!((product.standard_uncertainty() - 1.2).abs() < 1e-4);
/// ```
pub fn propagate<const M: usize>(arguments: &[&Linear], stage: impl FnMut(&[f64]) -> [f64; M]) -> [Linear; M] {
    let moved = |k: usize, at: f64| match arguments[k] {
        exact if exact.is_exact() => at,
        argument => moved_by_a_step(at, argument.standard_uncertainty()),
    };
    let add = |k: usize, slope: f64, contributions: &mut PerInput| add_scaled(contributions, slope, &arguments[k].contributions);
    by_differences(arguments.iter().map(|a| a.value).collect(), moved, stage, add)
}

/// The results of a stage at `point`, with what `add` makes of their slopes: by difference quotients, each argument going to where
/// `moved` puts it, and those staying that it leaves.
fn by_differences<const M: usize>(
    mut point: PerInput,
    moved: impl Fn(usize, f64) -> f64,
    mut stage: impl FnMut(&[f64]) -> [f64; M],
    add: impl Fn(usize, f64, &mut PerInput),
) -> [Linear; M] {
    let centre = stage(&point);
    let mut results = centre.map(Linear::exact);
    for k in 0..point.len() {
        let at = point[k];
        point[k] = moved(k, at);
        // A spread of nothing moves nothing.
        if point[k] == at {
            continue;
        }
        // The step that floating point really took, not the one that was asked for.
        let step = point[k] - at;
        let beside = stage(&point);
        point[k] = at;
        for (result, (after, before)) in results.iter_mut().zip(beside.iter().zip(&centre)) {
            add(k, (after - before) / step, &mut result.contributions);
        }
    }
    results
}

fn moved_by_a_step(at: f64, standard_uncertainty: f64) -> f64 {
    at + (STEP_OF_VALUE * at.abs()).max(STEP_OF_UNCERTAINTY * standard_uncertainty)
}

/// As [`propagate`], for a stage whose arguments are the inputs themselves, argument `k` being input `k`: the same bits,
/// without the work of carrying spreads that no argument shares with another.
///
/// `values` and `standard_uncertainties` must be equally long.
pub fn propagate_inputs<const M: usize>(
    values: &[f64],
    standard_uncertainties: &[f64],
    stage: impl FnMut(&[f64]) -> [f64; M],
) -> [Linear; M] {
    debug_assert_eq!(values.len(), standard_uncertainties.len());
    let moved = |k: usize, at: f64| if standard_uncertainties[k] == 0.0 { at } else { moved_by_a_step(at, standard_uncertainties[k]) };
    let add = |k: usize, slope: f64, contributions: &mut PerInput| {
        contributions.resize(k, 0.0);
        contributions.push(slope * standard_uncertainties[k]);
    };
    by_differences(values.into(), moved, stage, add)
}

/// As [`propagate`], for a stage that is solved to a tolerance and therefore not smooth on a fine scale: each argument
/// moves by its whole standard uncertainty (GUM 5.1.3, note 2), so that the stage's own error stays small against the
/// step.
pub fn propagate_by_whole_steps<const M: usize>(arguments: &[&Linear], mut stage: impl FnMut(&[f64]) -> [f64; M]) -> [Linear; M] {
    let mut point: PerInput = arguments.iter().map(|a| a.value).collect();
    let centre = stage(&point);
    let mut results = centre.map(Linear::exact);
    for (k, argument) in arguments.iter().enumerate() {
        let step = argument.standard_uncertainty();
        if step == 0.0 {
            continue;
        }
        point[k] = argument.value + step;
        let moved = stage(&point);
        point[k] = argument.value;
        for (result, (after, before)) in results.iter_mut().zip(moved.iter().zip(&centre)) {
            add_scaled(&mut result.contributions, (after - before) / step, &argument.contributions);
        }
    }
    results
}

/// Chance that a normal variable with this mean and standard deviation is zero or more.
///
/// Without deviation the answer is 1 or 0. Source: the normal distribution function through the complementary
/// error function of `libm`, relative error below 1e-15.
pub fn normal_chance(mean: f64, deviation: f64) -> f64 {
    if deviation > 0.0 {
        0.5 * libm::erfc(-mean / (deviation * std::f64::consts::SQRT_2))
    } else if mean >= 0.0 {
        1.0
    } else {
        0.0
    }
}
