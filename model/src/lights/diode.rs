//! One light: a diode with the resistance in series with it. Volt, ampere, ohm.
//!
//! U = m ln(1 + I/Is) + R I, with Is the saturation current, m = n Vt the emission coefficient times the thermal
//! voltage, and R what lies in series. Held at one temperature: a real diode that warms drops 1 to 3 mV less per kelvin.
//! Backwards, where a real light leaks more than the equation says and nobody wants it, the slope at no current goes on:
//! U = (R + m/Is) I.
//!
//! Source: the diode equation of Shockley 1949, Bell Syst. Tech. J. 28, 435. Exact for that equation; a light of the
//! trade follows it within some per cent of the current between the two points of its datasheet, and less outside.
//!
//! Example: Is = 3e-16 A, m = 51.73 mV, 100 ohm at 10 mA drop 1.611 V + 1 V = 2.611 V.

/// Boltzmann's constant over the elementary charge, V/K (exact in the SI of 2019).
const BOLTZMANN_OVER_CHARGE: f64 = 1.380_649e-23 / 1.602_176_634e-19;

/// Thermal voltage k T/q, V; `temperature_k` above 0. 25.865 mV at 27 degrees Celsius.
///
/// ```
/// assert!((toile_model::lights::thermal_voltage_v(300.15) - 0.025_864_926).abs() < 1e-9);
/// ```
pub fn thermal_voltage_v(temperature_k: f64) -> f64 {
    BOLTZMANN_OVER_CHARGE * temperature_k
}

/// A diode with a resistance in series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Diode {
    /// Saturation current, A, above 0.
    pub saturation_current_a: f64,
    /// Emission coefficient times thermal voltage, V, above 0.
    pub emission_voltage_v: f64,
    /// In series, ohm, 0 or more.
    pub series_ohm: f64,
}

/// A forward voltage at a current, as a datasheet lists them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ForwardPoint {
    /// Current, A, above 0.
    pub current_a: f64,
    /// Forward voltage at it, V, above 0.
    pub voltage_v: f64,
}

/// Why two points make no diode.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PointsFault {
    /// The same current twice.
    SameCurrent,
    /// The voltage does not rise with the current.
    Falling,
    /// The voltage rises less than the emission coefficient given asks for.
    TooFlat,
    /// The points rise as those of a resistor do, or so little that no saturation current fits in a number.
    NoDiode,
}

impl PointsFault {
    /// What is wrong, in words.
    pub const fn message(self) -> &'static str {
        match self {
            Self::SameCurrent => "Both points are at the same current.",
            Self::Falling => "The voltage does not rise with the current.",
            Self::TooFlat => "The voltage rises less than the emission coefficient asks for.",
            Self::NoDiode => "No diode passes through these points.",
        }
    }

    /// What would be right, in words.
    pub const fn allowed(self) -> &'static str {
        match self {
            Self::SameCurrent => "two currents that differ",
            Self::Falling => "a higher voltage at the higher current",
            Self::TooFlat => "a smaller emission coefficient, or none: it then follows from the points",
            Self::NoDiode => "points of a diode, some tenths of a volt apart for a tenfold current",
        }
    }
}

impl Diode {
    /// The diode through two points of a datasheet, with nothing in series but what the points themselves show.
    ///
    /// Without `emission_voltage_v` the rise between the points is taken for the diode's alone, m = (U2 - U1)/ln(I2/I1):
    /// right between the points, too steep a drop below them. With it, the rest of the rise is resistance inside the
    /// light.
    ///
    /// # Errors
    /// [`PointsFault`]: points that no diode passes through.
    ///
    /// Example: 2.85 V at 5 mA and 3.10 V at 20 mA: m = 180 mV, Is = 6.8e-10 A.
    ///
    /// ```
    /// use toile_model::lights::{Diode, ForwardPoint};
    /// let points = [ForwardPoint { current_a: 5e-3, voltage_v: 2.85 }, ForwardPoint { current_a: 20e-3, voltage_v: 3.10 }];
    /// let light = Diode::through(points, None).unwrap();
    /// assert!((light.voltage_v(5e-3) - 2.85).abs() < 1e-12 && (light.voltage_v(20e-3) - 3.10).abs() < 1e-12);
    /// ```
    pub fn through(points: [ForwardPoint; 2], emission_voltage_v: Option<f64>) -> Result<Self, PointsFault> {
        let [low, high] = if points[0].current_a <= points[1].current_a { points } else { [points[1], points[0]] };
        if low.current_a == high.current_a {
            return Err(PointsFault::SameCurrent);
        }
        let (rise_v, step_a) = (high.voltage_v - low.voltage_v, high.current_a - low.current_a);
        if rise_v <= 0.0 {
            return Err(PointsFault::Falling);
        }
        let given = emission_voltage_v;
        let mut light = Self { saturation_current_a: 0.0, emission_voltage_v: 0.0, series_ohm: 0.0 };
        // The saturation current stands in both equations, but is so small beside the currents that a few rounds settle.
        for _ in 0..50 {
            let before = light.saturation_current_a;
            let span = ((high.current_a + before) / (low.current_a + before)).ln();
            let m = given.unwrap_or(rise_v / span);
            let ohm = (rise_v - m * span) / step_a;
            // A hair below zero is rounding.
            if ohm < -1e-12 * rise_v / step_a {
                return Err(PointsFault::TooFlat);
            }
            let series_ohm = ohm.max(0.0);
            let saturation_current_a = low.current_a / ((low.voltage_v - series_ohm * low.current_a) / m).exp_m1();
            light = Self { saturation_current_a, emission_voltage_v: m, series_ohm };
            if saturation_current_a == before {
                break;
            }
        }
        let is = light.saturation_current_a;
        let met = |p: ForwardPoint| (light.voltage_v(p.current_a) - p.voltage_v).abs() <= 1e-9 * p.voltage_v;
        let sound = is.is_finite() && is >= f64::MIN_POSITIVE && met(low) && met(high);
        if sound { Ok(light) } else { Err(PointsFault::NoDiode) }
    }

    /// Voltage at a current, V.
    pub fn voltage_v(&self, current_a: f64) -> f64 {
        if current_a < 0.0 {
            return current_a * self.slope_ohm(current_a);
        }
        self.emission_voltage_v * (current_a / self.saturation_current_a).ln_1p() + self.series_ohm * current_a
    }

    /// Slope of the voltage at a current, ohm.
    pub fn slope_ohm(&self, current_a: f64) -> f64 {
        self.series_ohm + self.emission_voltage_v / (current_a.max(0.0) + self.saturation_current_a)
    }

    /// Current at a voltage, A: the diode equation solved for the current with Wright's omega function.
    ///
    /// Accuracy: some units in the last place times the larger of 1 and U/m.
    pub fn current_a(&self, voltage_v: f64) -> f64 {
        let (is, m, r) = (self.saturation_current_a, self.emission_voltage_v, self.series_ohm);
        if voltage_v < 0.0 {
            return voltage_v / self.slope_ohm(0.0);
        }
        if r == 0.0 {
            return is * (voltage_v / m).exp_m1();
        }
        let scale = m / r;
        (scale * wright_omega((is / scale).ln() + (voltage_v + r * is) / m) - is).max(0.0)
    }
}

/// The positive w with w + ln w = y (Wright's omega function of a real number; Corless & Jeffrey 2002).
///
/// Fritsch, Shafer & Crowley's iteration (1973, Comm. ACM 16, 123), whose error goes with the fourth power: three rounds
/// from a start within 30 % reach the last digit.
fn wright_omega(y: f64) -> f64 {
    // Far below, w = exp(y) to the last digit.
    if y < -40.0 {
        return y.exp();
    }
    let mut w = if y < 1.0 { y.exp() / (1.0 + 0.6 * y.exp()) } else { y - y.ln() };
    for _ in 0..3 {
        let z = y - w - w.ln();
        let wp1 = w + 1.0;
        let q = 2.0 * wp1 * (wp1 + 2.0 / 3.0 * z);
        w *= 1.0 + z / wp1 * (q - z) / (q - 2.0 * z);
    }
    w
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn omega_solves_its_equation_everywhere() {
        let mut y = -700.0;
        while y < 5000.0 {
            let w = wright_omega(y);
            // The equation is met to what y itself is known to; far below, ln w is all of it.
            let error = (w + w.ln() - y).abs();
            assert!(w > 0.0 && error <= 4.0 * f64::EPSILON * y.abs().max(1.0), "{y}: {w} misses by {error:e}");
            y += 0.137;
        }
        // Omega(1) = 1 and Omega(1 + e) = e, exact values.
        assert!((wright_omega(1.0) - 1.0).abs() < 1e-15);
        let e = std::f64::consts::E;
        assert!((wright_omega(1.0 + e) / e - 1.0).abs() < 1e-15);
    }

    #[test]
    fn current_and_voltage_are_each_others_inverse() {
        for series_ohm in [0.0, 1e-6, 1.0, 100.0, 1e6] {
            for saturation_current_a in [1e-30, 1e-18, 1e-9, 1e-3] {
                let light = Diode { saturation_current_a, emission_voltage_v: 0.05, series_ohm };
                for current in [-2.0 * saturation_current_a, 0.0, 1e-15, 1e-9, 1e-4, 0.02, 3.0] {
                    let back = light.current_a(light.voltage_v(current));
                    // A voltage has its last digit at 2e-16 U, which moves the current by that over the slope; and the
                    // current is a difference against Is.
                    let slack = 1e-15 * (1.0 + light.voltage_v(current).abs() / light.slope_ohm(current))
                        + 4e-13 * (current + saturation_current_a).abs();
                    assert!((back - current).abs() <= slack, "{light:?} at {current}: {back}");
                }
            }
        }
    }

    #[test]
    fn points_that_no_diode_passes_through_are_told_apart() {
        let at = |ma: f64, v: f64| ForwardPoint { current_a: ma / 1e3, voltage_v: v };
        let through = |a, b, m| Diode::through([a, b], m);
        assert_eq!(through(at(5.0, 2.0), at(5.0, 2.1), None), Err(PointsFault::SameCurrent));
        assert_eq!(through(at(5.0, 2.0), at(20.0, 1.9), None), Err(PointsFault::Falling));
        assert_eq!(through(at(20.0, 2.0), at(5.0, 2.1), None), Err(PointsFault::Falling));
        assert_eq!(through(at(5.0, 2.0), at(20.0, 2.01), Some(0.05)), Err(PointsFault::TooFlat));
        // A rise of a microvolt over two volts: the saturation current underflows.
        assert_eq!(through(at(5.0, 2.0), at(20.0, 2.000_001), None), Err(PointsFault::NoDiode));
        // The order does not matter; and a given emission leaves the rest to resistance.
        assert_eq!(through(at(5.0, 2.0), at(20.0, 2.2), None), through(at(20.0, 2.2), at(5.0, 2.0), None));
        let light = through(at(5.0, 2.0), at(20.0, 2.2), Some(0.05)).expect("a diode");
        let ohm = (0.2 - 0.05 * 4f64.ln()) / 0.015;
        assert!((light.series_ohm / ohm - 1.0).abs() < 1e-12);
        assert!((light.voltage_v(0.02) - 2.2).abs() < 1e-12);
    }
}
