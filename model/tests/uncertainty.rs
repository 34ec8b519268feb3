//! Spreads against the published examples of the GUM.

use toile_model::uncertainty::{Linear, Measured, Spread, normal_chance, propagate, propagate_inputs};

use crate::reference::close;
use crate::tolerances::{GUM_PRINTED, SLOPES};

/// JCGM 100:2008, annex H.1, end gauge: l = ls + d - ls (dalpha theta + alpha dtheta), in nm and K. Inputs and
/// results read second-hand; first order gives 32 nm (31.71 recomputed) and these contributions.
#[test]
fn end_gauge() {
    let inputs = [(50_000_623.0, 25.0), (215.0, 9.7), (1.15e-5, 1.2e-6), (-0.1, 0.41), (0.0, 5.8e-7), (0.0, 0.029)];
    let linear: Vec<Linear> = inputs.iter().enumerate().map(|(k, (x, u))| Linear::input(*x, *u, k)).collect();
    let arguments: Vec<&Linear> = linear.iter().collect();
    let [length] = propagate(&arguments, |x| [x[0] + x[1] - x[0] * (x[4] * x[3] + x[2] * x[5])]);
    close("length", length.value, 50_000_838.0, 1e-12);
    close("combined uncertainty", length.standard_uncertainty(), 31.710_609_640_431_65, SLOPES);
    for (input, expected) in [(0, 25.0), (1, 9.7), (4, 2.900_036_134), (5, 16.675_207_770_5)] {
        close("contribution", length.contribution(input).abs(), expected, SLOPES);
    }
    assert!(length.contribution(2).abs() < 1e-3 && length.contribution(3).abs() < 1e-3);
    let shares: f64 = length.shares(0.0).iter().map(|s| s.share).sum();
    close("shares", shares, 1.0, 1e-12);
    assert_eq!(length.largest().expect("spread").input, 0);
}

/// JCGM 101:2008, 9.2: four normal inputs of unit deviation give 2.0 and an interval of 3.92 to either side; four
/// rectangular ones of the same deviation the same by the GUM (read second-hand).
#[test]
fn sum_of_four() {
    for make in [|| Measured::normal(0.0, 1.959_963_984_540_054), || Measured::uniform(-3f64.sqrt(), 3f64.sqrt())] {
        let inputs: Vec<Linear> = (0..4).map(|k| Linear::input(make().value, make().standard_uncertainty, k)).collect();
        let arguments: Vec<&Linear> = inputs.iter().collect();
        let [sum] = propagate(&arguments, |x| [x.iter().sum()]);
        close("u", sum.standard_uncertainty(), 2.0, SLOPES);
        close("interval", 1.959_963_984_540_054 * sum.standard_uncertainty(), 3.92, GUM_PRINTED);
    }
}

/// The normal distribution function at its tabulated points (any table of it; from memory).
#[test]
fn chances() {
    close("one sided 95 %", normal_chance(1.644_853_626_951_472_7, 1.0), 0.95, 1e-14);
    close("at the limit", normal_chance(0.0, 3.0), 0.5, 1e-15);
    close("far below", normal_chance(-10.0, 1.0), 7.619_853_024_160_526e-24, 1e-12);
    assert_eq!((normal_chance(0.0, 0.0), normal_chance(-1e-9, 0.0)), (1.0, 0.0));
}

/// A stage after a stage gives what both at once give: the chain rule, shared inputs included.
#[test]
fn chained_stages() {
    let (a, b) = (Linear::input(2.0, 0.1, 0), Linear::input(5.0, 0.2, 1));
    let [product, ratio] = propagate(&[&a, &b], |x| [x[0] * x[1], x[0] / x[1]]);
    let [chained] = propagate(&[&product, &ratio, &a], |x| [x[0] * x[1] + x[2]]);
    let [at_once] = propagate(&[&a, &b], |x| [x[0] * x[0] + x[0]]);
    close("value", chained.value, at_once.value, 1e-14);
    close("spread", chained.standard_uncertainty(), at_once.standard_uncertainty(), SLOPES);
    // b cancels: what is left of it is the error of the difference quotients.
    assert!(chained.contribution(1).abs() < 1e-5);
}

/// Intervals as they are read back: a uniform spread's middle 95 %, a normal one's 1.96 deviations.
#[test]
fn intervals() {
    let (low, high) = Measured::uniform(0.0, 1.0).interval_95();
    assert!((low - 0.025).abs() < 1e-15 && (high - 0.975).abs() < 1e-15);
    let (low, high) = Measured::normal(10.0, 0.5).interval_95();
    assert!((low - 9.5).abs() < 1e-12 && (high - 10.5).abs() < 1e-12);
    assert_eq!(Measured::from(3.0).spread, Spread::Exact);
}

/// One way of carrying spreads, and the short cut for arguments that are the inputs themselves.
#[test]
fn inputs_as_arguments_give_the_same_slopes() {
    let values = [3.0, 0.0, -2.5, 1e6, 7.0];
    let spreads = [0.3, 1e-3, 0.0, 1e-9, 2.0];
    let stage = |x: &[f64]| [x[0] * x[4] + x[1].exp(), x[2] * x[3], x[4].sqrt() / x[0]];
    let inputs: Vec<Linear> = values.iter().zip(spreads).enumerate().map(|(k, (value, u))| Linear::input(*value, u, k)).collect();
    let [a, b, c] = propagate(&inputs.iter().collect::<Vec<_>>(), stage);
    let [d, e, f] = propagate_inputs(&values, &spreads, stage);
    for (long, short) in [(&a, &d), (&b, &e), (&c, &f)] {
        assert_eq!(long.value.to_bits(), short.value.to_bits());
        for k in 0..values.len() {
            assert_eq!(long.contribution(k), short.contribution(k), "{k}");
        }
    }
}
