//! The rule: 95 % or more is comfortable, 50 to 95 % tight, less is out of reach; and when to measure first.

use crate::uncertainty::{Linear, normal_chance};

/// What the model says of a check and of a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Holds with a chance of 95 % or more.
    Comfortable,
    /// Holds with a chance of 50 to 95 %.
    Tight,
    /// Open: one unmeasured input decides, and a coupon could turn the verdict.
    MeasureFirst,
    /// Holds with a chance below 50 %.
    OutOfReach,
}

impl Verdict {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Comfortable => "comfortable",
            Self::Tight => "tight",
            Self::MeasureFirst => "measure first",
            Self::OutOfReach => "out of reach",
        }
    }

    /// The verdict that a chance alone gives.
    pub fn of_chance(chance: f64) -> Self {
        if chance >= 0.95 {
            Self::Comfortable
        } else if chance >= 0.5 {
            Self::Tight
        } else {
            Self::OutOfReach
        }
    }
}

/// Which side of the needed value is the good one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// The prediction must reach the needed value.
    AtLeast,
    /// The prediction must not pass the needed value.
    AtMost,
}

impl Bound {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::AtLeast => "at_least",
            Self::AtMost => "at_most",
        }
    }

    /// How far the prediction is on the good side; zero or more is good.
    pub fn margin(self, predicted: &Linear, needed: &Linear) -> Linear {
        match self {
            Self::AtLeast => predicted.plus(-1.0, needed),
            Self::AtMost => needed.plus(-1.0, predicted),
        }
    }
}

/// Chance and verdict of one requirement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judgement {
    /// Chance that it holds.
    pub chance: f64,
    /// By the rule.
    pub verdict: Verdict,
    /// The input to measure, for [`Verdict::MeasureFirst`].
    pub measure: Option<usize>,
}

/// Judges a margin.
///
/// `reach_95(input)` tells how many standard uncertainties to either side an unmeasured input may lie (95 %), and
/// `None` for an input that is measured or that no coupon can measure.
///
/// An input says "measure first" when it carries more than half of the variance and knowing it, anywhere within its
/// 95 %, could give another verdict than the one that stands. What is comfortable already stays so: its remaining
/// risk is what 95 % means.
pub fn judge(margin: &Linear, reach_95: impl Fn(usize) -> Option<f64>) -> Judgement {
    let deviation = margin.standard_uncertainty();
    let chance = normal_chance(margin.value, deviation);
    let plain = Verdict::of_chance(chance);
    let decided = Judgement { chance, verdict: plain, measure: None };
    if plain == Verdict::Comfortable {
        return decided;
    }
    let Some(largest) = margin.largest().filter(|l| l.share > 0.5) else { return decided };
    let Some(reach) = reach_95(largest.input) else { return decided };
    let swing = reach * margin.contribution(largest.input).abs();
    let rest = deviation * (1.0 - largest.share).max(0.0).sqrt();
    let could_turn = [margin.value - swing, margin.value + swing].iter().any(|m| Verdict::of_chance(normal_chance(*m, rest)) != plain);
    if could_turn { Judgement { verdict: Verdict::MeasureFirst, measure: Some(largest.input), ..decided } } else { decided }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn margin(value: f64, first: f64, second: f64) -> Linear {
        Linear::input(value, first, 0).plus(1.0, &Linear::input(0.0, second, 1))
    }

    #[test]
    fn limits_of_the_rule_belong_to_the_better_verdict() {
        assert_eq!(Verdict::of_chance(0.95), Verdict::Comfortable);
        assert_eq!(Verdict::of_chance(0.949_999), Verdict::Tight);
        assert_eq!(Verdict::of_chance(0.5), Verdict::Tight);
        assert_eq!(Verdict::of_chance(0.499_999), Verdict::OutOfReach);
    }

    #[test]
    fn a_ruling_unmeasured_input_says_measure_first() {
        let unmeasured = |input: usize| (input == 0).then_some(1.96);
        // 97.7 % comfortable; then tight, with nearly all variance in the unmeasured input.
        assert_eq!(judge(&margin(2.0, 1.0, 0.0), unmeasured).verdict, Verdict::Comfortable);
        let open = judge(&margin(1.0, 1.0, 0.3), unmeasured);
        assert_eq!((open.verdict, open.measure), (Verdict::MeasureFirst, Some(0)));
        // The same spread in a measured input is just tight.
        assert_eq!(judge(&margin(1.0, 0.3, 1.0), unmeasured).verdict, Verdict::Tight);
        // Two inputs that share the variance: none rules.
        assert_eq!(judge(&margin(1.0, 0.7, 0.71), unmeasured).verdict, Verdict::Tight);
        // So far out that no value of the input within its 95 % helps.
        assert_eq!(judge(&margin(-5.0, 1.0, 0.1), unmeasured).verdict, Verdict::OutOfReach);
    }
}
