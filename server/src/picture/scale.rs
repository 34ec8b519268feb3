//! A scale of steps from pale to dark.

/// Fills from pale to dark: one blue, even steps of lightness, so that grey print keeps their order. The darkest is
/// that of the page's ink for what is well.
pub(super) const FILLS: [&str; 7] = ["#eef0f7", "#d3d8e8", "#b4bcd8", "#949fc6", "#7482b2", "#55659c", "#26356f"];

/// Limits between the steps: as many as [`FILLS`] less one, evenly apart by a round number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    /// Upper limit of the palest step.
    first: f64,
    step: f64,
}

impl Scale {
    /// The scale whose steps, the palest and the darkest among them, hold the values from `low` to `high`.
    ///
    /// From 0.43 to 1.9: limits 0.5, 0.75 ... 1.75.
    pub(super) fn over(low: f64, high: f64) -> Self {
        let span = (high - low).max(high.abs().max(low.abs()) * 1e-3).max(f64::MIN_POSITIVE);
        let rough = span / FILLS.len() as f64;
        let power = 10f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 2.5, 5.0, 10.0].into_iter().map(|times| times * power).find(|s| *s >= rough * (1.0 - 1e-9));
        let step = step.unwrap_or(10.0 * power);
        Self { first: ((low / step + 1e-9).floor() + 1.0) * step, step }
    }

    /// Which fill a value has.
    pub(super) fn place(self, value: f64) -> usize {
        let steps = ((value - self.first) / self.step).floor() + 1.0;
        // Saturates at both ends, and takes what is no number for the palest.
        (steps.max(0.0) as usize).min(FILLS.len() - 1)
    }

    /// The limits, upwards.
    pub(super) fn limits(self) -> impl Iterator<Item = f64> {
        (0..FILLS.len() - 1).map(move |k| self.first + k as f64 * self.step)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance (WCAG 2) of `#rrggbb`.
    fn luminance(fill: &str) -> f64 {
        let channel = |k: usize| {
            let c = f64::from(u8::from_str_radix(&fill[k..k + 2], 16).unwrap()) / 255.0;
            if c <= 0.040_45 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    }

    #[test]
    fn limits_are_round_and_hold_the_values() {
        let limits = |low, high| Scale::over(low, high).limits().map(|l| (l * 1e6).round() / 1e6).collect::<Vec<_>>();
        assert_eq!(limits(0.43, 1.9), [0.5, 0.75, 1.0, 1.25, 1.5, 1.75]);
        assert_eq!(limits(10.0, 80.0), [20.0, 30.0, 40.0, 50.0, 60.0, 70.0]);
        assert_eq!(limits(-0.1, 0.5), [0.0, 0.1, 0.2, 0.3, 0.4, 0.5]);
        for (low, high) in [(0.0, 0.0), (3.0, 3.0), (1e-9, 2e-9), (0.5, 1e4)] {
            let scale = Scale::over(low, high);
            assert!(scale.limits().all(f64::is_finite), "{low} to {high}");
            assert!(scale.place(low) == 0 && scale.place(high) < FILLS.len(), "{low} to {high}");
        }
    }

    #[test]
    fn values_beyond_the_scale_have_its_ends() {
        let scale = Scale::over(10.0, 80.0);
        assert_eq!([9.0, 10.0, 19.9, 20.0, 69.0, 70.0, 1e9].map(|v| scale.place(v)), [0, 0, 0, 1, 5, 6, 6]);
        assert_eq!([f64::NEG_INFINITY, f64::INFINITY, f64::NAN].map(|v| scale.place(v)), [0, 6, 0]);
    }

    #[test]
    fn grey_print_keeps_the_steps_apart() {
        let lightness: Vec<f64> = FILLS.iter().map(|fill| 116.0 * luminance(fill).cbrt() - 16.0).collect();
        // Eight units of CIE L* between neighbours: several times the one that the eye just tells apart.
        assert!(lightness.windows(2).all(|w| w[0] - w[1] > 8.0), "{lightness:?}");
    }
}
