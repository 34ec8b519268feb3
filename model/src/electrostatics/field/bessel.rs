//! Bessel functions of the first kind, all orders up to a highest one at once.
//!
//! * gives: spherical `j_l(x)` for l = 0, 1, ... and cylindrical `J_m(x)` for m = 0, 1, ..., as many as the slice holds
//! * needs: x from 0 up
//! * source: three-term recurrences, M. Abramowitz & I. A. Stegun, Handbook of Mathematical Functions (1964), 10.1.19
//!   and 9.1.27; upwards where the argument exceeds the order, else downwards from an order found by J. C. P. Miller's
//!   device (9.12), which is stable there
//! * accuracy: 1e-14 of the largest of the orders near the argument (tables of the Handbook, sums of squares)
//! * never fails; values under 1e-250 may come out as 0
//! * example: `j_0(1) = 0.841471`, `j_2(1) = 0.062035`, `J_1(1) = 0.440051`

/// Fills `out[l]` with `j_l(x)`.
pub(in crate::electrostatics) fn spherical(x: f64, out: &mut [f64]) {
    let (sin, cos) = x.sin_cos();
    spherical_from(x, sin, cos, out);
}

/// [`spherical`] where sine and cosine of x are known already.
#[inline]
pub(in crate::electrostatics) fn spherical_from(x: f64, sin: f64, cos: f64, out: &mut [f64]) {
    let count = out.len();
    if x < SMALLEST {
        at_zero(out);
        return;
    }
    let inverse = 1.0 / x;
    let first = [sin * inverse, (sin * inverse - cos) * inverse];
    if count <= 2 && x > 0.5 {
        out.copy_from_slice(&first[..count]);
    } else if x >= count as f64 {
        out[..2].copy_from_slice(&first);
        for l in 2..count {
            out[l] = (2 * l - 1) as f64 * inverse * out[l - 1] - out[l - 2];
        }
    } else {
        downwards(out, start(x, count - 1, |l| (2 * l + 1) as f64 * inverse), |l| (2 * l + 1) as f64 * inverse);
        // The second function is known exactly only where it is not much smaller than the first, and the first is
        // near a zero only where the second is not.
        let scale = if count < 2 || first[0].abs() >= first[1].abs() { first[0] / out[0] } else { first[1] / out[1] };
        out.iter_mut().for_each(|value| *value *= scale);
    }
}

/// Fills `out[m]` with `J_m(x)`.
pub(in crate::electrostatics) fn cylindrical(x: f64, out: &mut [f64]) {
    let count = out.len();
    if x < SMALLEST {
        at_zero(out);
        return;
    }
    let double = 2.0 / x;
    if x >= count as f64 {
        out[0] = libm::j0(x);
        if count > 1 {
            out[1] = libm::j1(x);
        }
        for m in 2..count {
            out[m] = (m - 1) as f64 * double * out[m - 1] - out[m - 2];
        }
    } else {
        let top = start(x, count - 1, |m| m as f64 * double);
        let sum = downwards(out, top, |m| m as f64 * double);
        out.iter_mut().for_each(|value| *value /= sum);
    }
}

/// Arguments under this are 0: their functions of order 1 and above would underflow in products.
const SMALLEST: f64 = 1e-30;

fn at_zero(out: &mut [f64]) {
    out.fill(0.0);
    out[0] = 1.0;
}

/// An order so far above `highest` that starting the recurrence there with 0 and 1 does no harm: the solution that
/// grows upwards has grown by 1e9, the wanted one shrunk by as much.
fn start(x: f64, highest: usize, factor: impl Fn(usize) -> f64) -> usize {
    let mut order = highest.max(x as usize);
    let (mut before, mut here) = (0.0, 1.0_f64);
    while here.abs() < 1e9 {
        (before, here) = (here, factor(order) * here - before);
        order += 1;
    }
    order
}

/// Runs the recurrence `f[l-1] = factor(l) f[l] - f[l+1]` down from `top`; returns `f[0] + 2 f[2] + 2 f[4] + ...`.
fn downwards(out: &mut [f64], top: usize, factor: impl Fn(usize) -> f64) -> f64 {
    let (mut above, mut here) = (0.0, 1e-200);
    let mut sum = 0.0;
    for order in (0..=top).rev() {
        if order < out.len() {
            out[order] = here;
        }
        if order % 2 == 0 {
            sum += if order == 0 { here } else { 2.0 * here };
        }
        if order > 0 {
            (above, here) = (here, factor(order) * here - above);
            // Kept in range; what becomes 0 by it is negligible beside the lower orders.
            if here.abs() > 1e200 {
                (above, here, sum) = (above * 1e-250, here * 1e-250, sum * 1e-250);
                out.iter_mut().skip(order).for_each(|value| *value *= 1e-250);
            }
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn near(value: f64, expected: f64, digits: i32) {
        assert!((value / expected - 1.0).abs() < 0.6 * 10_f64.powi(1 - digits), "{value} for {expected}");
    }

    #[test]
    fn spherical_functions_agree_with_their_explicit_forms() {
        // Abramowitz & Stegun 10.1.11.
        for x in [0.8, 2.0, 5.0, 11.0, 40.0] {
            let mut j = [0.0; 3];
            spherical(x, &mut j);
            let (s, c) = f64::sin_cos(x);
            assert!((j[0] - s / x).abs() < 1e-15);
            assert!((j[1] - (s / x - c) / x).abs() < 1e-15);
            assert!((j[2] - ((3.0 / (x * x) - 1.0) * s / x - 3.0 * c / (x * x))).abs() < 1e-15);
        }
    }

    #[test]
    fn small_arguments_follow_the_leading_power() {
        // j_l(x) = x^l/(2l+1)!! (1 - x^2/(2(2l+3)) + ...), 10.1.2.
        for x in [1e-8, 1e-3, 0.05] {
            let mut j = [0.0; 9];
            spherical(x, &mut j);
            let mut lead = 1.0;
            for (l, value) in j.iter().enumerate() {
                let l2 = 2.0 * l as f64;
                let series = 1.0 - x * x / (2.0 * (l2 + 3.0)) * (1.0 - x * x / (4.0 * (l2 + 5.0)));
                assert!((value / (lead * series) - 1.0).abs() < 1e-10, "l = {l}, x = {x}");
                lead *= x / (l2 + 3.0);
            }
        }
    }

    #[test]
    fn squares_of_spherical_functions_add_up_to_one() {
        // 10.1.50: sum of (2l+1) j_l^2 = 1.
        for x in [0.3, 1.0, 3.141_592_653_589_793, 4.493_409_457_909_064, 20.0, 57.0, 99.0] {
            let mut j = [0.0; 160];
            spherical(x, &mut j);
            let sum: f64 = j.iter().enumerate().map(|(l, j)| (2 * l + 1) as f64 * j * j).sum();
            assert!((sum - 1.0).abs() < 1e-13, "x = {x}: {sum}");
        }
    }

    #[test]
    fn both_directions_meet() {
        let (mut up, mut down) = ([0.0; 30], [0.0; 31]);
        spherical(30.5, &mut up);
        spherical(30.5, &mut down);
        let mut long = [0.0; 200];
        spherical(30.5, &mut long);
        for l in 0..30 {
            assert!((up[l] - long[l]).abs() < 1e-15 && (down[l] - long[l]).abs() < 1e-15);
        }
    }

    #[test]
    fn cylindrical_functions_agree_with_the_handbook() {
        // Abramowitz & Stegun, tables 9.1 and 9.4.
        let mut j = [0.0; 101];
        cylindrical(1.0, &mut j);
        near(j[0], 0.765_197_686_557_966_6, 15);
        near(j[1], 0.440_050_585_7, 10);
        near(j[5], 2.497_577_302e-4, 10);
        near(j[10], 2.630_615_124e-10, 10);
        cylindrical(10.0, &mut j);
        near(j[0], -0.245_935_764_451_348_3, 15);
        near(j[10], 0.207_486_106_6, 10);
        near(j[50], 1.784_513_608e-30, 10);
        let mut few = [0.0; 11];
        cylindrical(50.0, &mut few);
        near(few[0], 0.055_812_327_669_251_8, 14);
        near(few[10], -0.113_847_849_1, 10);
    }

    #[test]
    fn squares_of_cylindrical_functions_add_up_to_one() {
        // 9.1.76: J_0^2 + 2 sum of J_m^2 = 1.
        for x in [1e-3, 0.7, 2.404_825_557_695_773, 12.0, 80.0] {
            let mut j = [0.0; 140];
            cylindrical(x, &mut j);
            let sum: f64 = j.iter().map(|j| 2.0 * j * j).sum::<f64>() - j[0] * j[0];
            assert!((sum - 1.0).abs() < 1e-13, "x = {x}: {sum}");
        }
    }
}
