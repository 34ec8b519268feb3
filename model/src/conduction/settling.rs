//! Charging a pad through a driver and a distributed line: the exact response.
//!
//! Gives voltage at the pad and charge drawn, as fractions of their final values, a time after a unit step behind the
//! driver; the times to reach a fraction; and the Elmore time (s).
//! Inputs: source, run and pad resistance 0 or more, ohm; run and load capacitance 0 or more, F; times above 0, s.
//! Assumptions: the run is a uniform line of resistance and capacitance; the pad is its capacitance behind one resistance,
//! the mean way from its terminal into its area ([`super::RowFill::mean_way`], [`super::rim_to_disc_squares`]); no inductance, no leak.
//! Source: own derivation from the chain matrix of the uniform line; for a pad without resistance it is the pole sum of
//! Sakurai 1983, IEEE J. Solid-State Circuits 18(4) 418 (from memory). With p = sqrt(-s R C), r = Rs/R, c = CL/C and
//! w = Rp/R the poles are where `p + atan(r p) + atan2(c p, 1 - c w p^2) = pi/2 + n pi`, one for every n = 0, 1, 2, ..:
//! the left side rises steadily. Voltage and charge follow without a difference of near numbers, the charge as a sum of
//! positive terms. Before a thousandth of R C nothing has come back from the far end, and the line is endless: charge
//! `C r (exp(x^2) erfc(x) - 1 + 2 x/sqrt(pi))`, x = sqrt(t/RC)/r.
//! Elmore time: Elmore 1948, J. Appl. Phys. 19, 55 (from memory).
//! Accuracy: 1e-10 of the final value, 1e-10 in the times, against the pole sums in 30 digits of table G5 (12 digits).
//! Errors: none; a chain without resistance or without capacitance is charged at once.
//! Example: 1 kohm line of 20 pF, 10 pF load, 1 kohm driver: Elmore time 50 ns, 99 % charged after 207.9 ns.

use std::f64::consts::{FRAC_PI_2, PI};

/// A driver, a line and a pad at its end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChargingLine {
    /// Of the driver, with its terminal, ohm.
    pub source_ohm: f64,
    /// Of the line from end to end, ohm.
    pub run_ohm: f64,
    /// Of the line to ground, F.
    pub run_f: f64,
    /// From the end of the line into the pad, ohm.
    pub pad_ohm: f64,
    /// Of the pad, F.
    pub load_f: f64,
}

/// How far a pad has charged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settling {
    /// Voltage at the pad as a fraction of the step, 0 to 1.
    pub reached: f64,
    /// Charge drawn from the source as a fraction of the final charge, 0 to 1.
    pub charge_fraction: f64,
}

/// One pole: its rate (1/s) and what it still withholds of voltage and charge at the start.
#[derive(Debug, Clone, Copy)]
struct Mode {
    rate: f64,
    voltage: f64,
    charge: f64,
}

/// Poles beyond this exponent have died away: e^-45 is 3e-20.
const DEAD: f64 = 45.0;

/// Resistances and capacitances below this part of their fellows change nothing in the last digit that is promised.
const NEGLIGIBLE: f64 = 1e-13;

/// Below this part of R C the far end has not answered: e^(-1/t) is e^-1000.
const EARLY: f64 = 1e-3;

impl ChargingLine {
    /// First moment of the pad's step response, s: Rs (C + CL) + R (C/2 + CL) + Rp CL.
    pub fn elmore_s(&self) -> f64 {
        let (c, cl) = (self.run_f, self.load_f);
        self.source_ohm * (c + cl) + self.run_ohm * (c / 2.0 + cl) + self.pad_ohm * cl
    }

    /// Voltage and charge `time_s` after the step.
    ///
    /// ```
    /// use toile_model::conduction::ChargingLine;
    /// let line = ChargingLine { source_ohm: 1000.0, run_ohm: 1000.0, run_f: 20e-12, pad_ohm: 0.0, load_f: 10e-12 };
    /// assert!((line.elmore_s() - 50e-9).abs() < 1e-15);
    /// assert!((line.settling(207.9e-9).charge_fraction - 0.99).abs() < 1e-4);
    /// ```
    pub fn settling(&self, time_s: f64) -> Settling {
        let done = Settling { reached: 1.0, charge_fraction: 1.0 };
        if time_s <= 0.0 {
            return Settling { reached: 0.0, charge_fraction: 0.0 };
        }
        match self.kind() {
            Kind::AtOnce => done,
            Kind::Lumped => done.without(&self.lumped(), time_s),
            Kind::Distributed if time_s < EARLY * self.run_ohm * self.run_f => {
                Settling { reached: 0.0, charge_fraction: self.early_charge(time_s) }
            }
            Kind::Distributed => done.without(&self.modes(time_s), time_s),
        }
    }

    /// When the pad's voltage has come within `remaining` (0.01 for 1 %) of its end, s.
    pub fn time_to_within_s(&self, remaining: f64) -> f64 {
        self.time_where(|s| s.reached < 1.0 - remaining, |mode| mode.voltage, remaining)
    }

    /// When `fraction` of the final charge has been drawn, s.
    pub fn time_to_charge_s(&self, fraction: f64) -> f64 {
        self.time_where(|s| s.charge_fraction < fraction, |mode| mode.charge, 1.0 - fraction)
    }

    /// The time that parts `before` from after, s. What is withheld falls steadily with time.
    fn time_where(&self, before: impl Fn(&Settling) -> bool, part: impl Fn(&Mode) -> f64, remaining: f64) -> f64 {
        let kind = self.kind();
        if kind == Kind::AtOnce {
            return 0.0;
        }
        let mut high = self.elmore_s();
        while before(&self.settling(high)) {
            high *= 2.0;
        }
        let mut low = high / 2.0;
        while low > 0.0 && !before(&self.settling(low)) {
            high = low;
            low /= 2.0;
        }
        if kind == Kind::Distributed && low < EARLY * self.run_ohm * self.run_f {
            // Rarely asked for: halve the interval down to the last digits.
            return halved(low, high, |t| before(&self.settling(t)));
        }
        let modes = if kind == Kind::Lumped { self.lumped().to_vec() } else { self.modes(low) };
        let withheld = |t: f64| {
            modes.iter().fold((0.0, 0.0), |(sum, slope), mode| {
                let left = part(mode) * (-mode.rate * t).exp();
                (sum + left, slope - mode.rate * left)
            })
        };
        // Newton on the logarithm, which is nearly a straight line, kept between the limits.
        let mut time = high;
        for _ in 0..60 {
            let (sum, slope) = withheld(time);
            if sum > remaining {
                low = low.max(time);
            } else {
                high = high.min(time);
            }
            let next = if sum > 0.0 { time - sum / slope * (sum / remaining).ln() } else { f64::NAN };
            let next = if (low..=high).contains(&next) { next } else { 0.5 * (low + high) };
            if (next - time).abs() <= 2e-16 * time {
                break;
            }
            time = next;
        }
        time
    }

    fn kind(&self) -> Kind {
        let Self { source_ohm, run_ohm, run_f, pad_ohm, load_f } = *self;
        if self.elmore_s() <= 0.0 {
            Kind::AtOnce
        } else if run_ohm <= NEGLIGIBLE * (source_ohm + pad_ohm) || run_f <= NEGLIGIBLE * load_f {
            Kind::Lumped
        } else {
            Kind::Distributed
        }
    }

    /// Two poles at the most, where the run has no resistance or no capacitance to speak of.
    fn lumped(&self) -> [Mode; 2] {
        let Self { source_ohm, run_ohm, run_f, pad_ohm, load_f } = *self;
        // The run's resistance lies before or behind its capacitance, whichever of the two it lacks.
        let (rs, rp, c) = if run_f <= NEGLIGIBLE * load_f { (source_ohm + run_ohm, pad_ohm, 0.0) } else { (source_ohm, pad_ohm, run_f) };
        let b1 = rs * (c + load_f) + rp * load_f;
        let b2 = rs * c * rp * load_f;
        let slow_s = (b1 + (b1 * b1 - 4.0 * b2).max(0.0).sqrt()) / 2.0;
        let fast_s = b2 / slow_s;
        let zero_s = c * rp * load_f / (c + load_f);
        let gap = slow_s - fast_s;
        let mode = |own_s: f64, sign: f64| Mode {
            rate: if own_s > 0.0 { 1.0 / own_s } else { f64::INFINITY },
            voltage: sign * own_s / gap,
            charge: sign * (own_s - zero_s) / gap,
        };
        if fast_s > 0.0 {
            [mode(slow_s, 1.0), mode(fast_s, -1.0)]
        } else {
            [Mode { rate: 1.0 / slow_s, voltage: 1.0, charge: 1.0 }, mode(0.0, 0.0)]
        }
    }

    /// The poles that are still alive `time_s` after the step.
    fn modes(&self, time_s: f64) -> Vec<Mode> {
        let unit_s = self.run_ohm * self.run_f;
        let scaled = Scaled {
            source: self.source_ohm / self.run_ohm,
            load: self.load_f / self.run_f,
            pad: self.pad_ohm / self.run_ohm * (self.load_f / self.run_f),
        };
        let alive = (DEAD * unit_s / time_s).sqrt();
        let mut modes = Vec::with_capacity((alive / PI) as usize + 2);
        for n in 0.. {
            if n > 0 && scaled.lowest(n) > alive {
                break;
            }
            let p = scaled.pole(n);
            modes.push(scaled.mode(n, p, unit_s));
            if p > alive {
                break;
            }
        }
        modes
    }

    /// Charge fraction while the line is endless.
    fn early_charge(&self, time_s: f64) -> f64 {
        let root = (time_s / (self.run_ohm * self.run_f)).sqrt();
        let r = self.source_ohm / self.run_ohm;
        let share = self.run_f / (self.run_f + self.load_f);
        let x = root / r;
        if x > 1e8 { share * 2.0 * root / PI.sqrt() } else { share * r * beyond_first(x) }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    AtOnce,
    Lumped,
    Distributed,
}

impl Settling {
    /// What the modes still withhold taken away.
    fn without(self, modes: &[Mode], time_s: f64) -> Self {
        let (voltage, charge) = modes.iter().fold((0.0, 0.0), |(v, q), mode| {
            let left = (-mode.rate * time_s).exp();
            (v + mode.voltage * left, q + mode.charge * left)
        });
        Self { reached: (1.0 - voltage).clamp(0.0, 1.0), charge_fraction: (1.0 - charge).clamp(0.0, 1.0) }
    }
}

/// The line in units of its own resistance and capacitance: r, c and c w of the module's words.
#[derive(Debug, Clone, Copy)]
struct Scaled {
    source: f64,
    load: f64,
    pad: f64,
}

impl Scaled {
    /// A number that pole `n` (1 and up) is not below: the last term of the phase reaches pi at the most, and pi/2 where
    /// the pad has no resistance.
    fn lowest(&self, n: u32) -> f64 {
        f64::from(n) * PI - if self.pad > 0.0 { PI } else { FRAC_PI_2 }
    }

    /// Phase less that of pole `n`, and its slope. Two large angles near a right one are told by what they lack, or a
    /// small first pole would drown in their rounding.
    fn phase(&self, n: u32, p: f64) -> (f64, f64) {
        let Self { source: r, load: c, pad } = *self;
        let through = 1.0 - pad * p * p;
        let near = if r >= c { (c * p).atan2(through) - 1f64.atan2(r * p) } else { (r * p).atan() - through.atan2(c * p) };
        let own = c * p;
        (p + near - f64::from(n) * PI, self.slope(p, through, own))
    }

    fn slope(&self, p: f64, through: f64, own: f64) -> f64 {
        let (r, c) = (self.source, self.load);
        let rp = r * p;
        1.0 + r / (1.0 + rp * rp) + c * (1.0 + self.pad * p * p) / (through * through + own * own)
    }

    /// Pole `n`: Newton between limits.
    fn pole(&self, n: u32) -> f64 {
        let Self { source: r, load: c, pad } = *self;
        let mut high = f64::from(n) * PI + FRAC_PI_2;
        // No time constant is above the Elmore time.
        let mut low = if n == 0 { (r * (1.0 + c) + 0.5 + c + pad).sqrt().recip() } else { self.lowest(n).max(0.0) };
        low = low.min(high);
        let mut p = if n == 0 { low } else { 0.5 * (low + high) };
        for _ in 0..80 {
            let (value, slope) = self.phase(n, p);
            if value > 0.0 {
                high = p;
            } else {
                low = p;
            }
            let next = p - value / slope;
            let next = if next >= low && next <= high { next } else { 0.5 * (low + high) };
            if (next - p).abs() <= 2e-16 * p {
                break;
            }
            p = next;
        }
        p
    }

    fn mode(&self, n: u32, p: f64, unit_s: f64) -> Mode {
        let Self { source: r, load: c, pad } = *self;
        let through = 1.0 - pad * p * p;
        let own = c * p;
        let slope = self.slope(p, through, own);
        let source = (r * p).hypot(1.0);
        let sign = if n.is_multiple_of(2) { 1.0 } else { -1.0 };
        Mode {
            rate: p * p / unit_s,
            voltage: 2.0 * sign / (p * source * through.hypot(own) * slope),
            charge: 2.0 / ((1.0 + c) * p * p * source * source * slope),
        }
    }
}

/// exp(x^2) erfc(x) - 1 + 2 x/sqrt(pi), x >= 0.
fn beyond_first(x: f64) -> f64 {
    let line = 2.0 * x / PI.sqrt();
    if x < 0.5 {
        // Series of (-x)^k / Gamma(k/2 + 1) from its second power; the terms of even and odd k each follow from the one
        // before by x^2 / (k/2).
        let (mut even, mut odd) = (x * x, -line * x * x / 1.5);
        let mut sum = even + odd;
        let mut k = 4.0;
        while even > 1e-18 * sum {
            even *= x * x / (k / 2.0);
            odd *= x * x / ((k + 1.0) / 2.0);
            sum += even + odd;
            k += 2.0;
        }
        sum
    } else if x < 10.0 {
        (x * x).exp() * libm::erfc(x) - 1.0 + line
    } else {
        // Falling series of exp(x^2) erfc(x); its seventh term is below 1e-9 of the first, and that a thousandth of the line.
        let y = 1.0 / (2.0 * x * x);
        let scaled = 1.0 - y * (1.0 - 3.0 * y * (1.0 - 5.0 * y * (1.0 - 7.0 * y * (1.0 - 9.0 * y))));
        scaled / (x * PI.sqrt()) - 1.0 + line
    }
}

fn halved(mut low: f64, mut high: f64, before: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if before(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

#[cfg(test)]
mod tests {
    use super::*;

    const LINE: ChargingLine = ChargingLine { source_ohm: 1000.0, run_ohm: 1500.0, run_f: 20e-12, pad_ohm: 0.0, load_f: 10e-12 };

    /// Sections of resistors and capacitors, stepped by the implicit midpoint rule: another method altogether.
    fn stepped(line: &ChargingLine, time_s: f64, sections: usize, steps: usize) -> Settling {
        let n = sections + 2;
        let mut ohm = vec![line.run_ohm / sections as f64; n];
        ohm[0] = line.source_ohm;
        // A pad without resistance would ring under this rule for ever; 0.2 ohm let it die away and cost 1e-5.
        ohm[n - 1] = line.pad_ohm.max(0.2);
        let mut farad = vec![line.run_f / sections as f64; n];
        farad[0] /= 2.0;
        farad[n - 2] /= 2.0;
        farad[n - 1] = line.load_f;
        let dt = time_s / steps as f64;
        let mut volt = vec![0.0; n];
        let mut charge = 0.0;
        for _ in 0..steps {
            // Tridiagonal system for the voltages half a step on: (2C/dt + G) v = 2C/dt v_old + sources.
            let g = |k: usize| 1.0 / ohm[k];
            let (mut diagonal, mut right) = (vec![0.0; n], vec![0.0; n]);
            for k in 0..n {
                diagonal[k] = 2.0 * farad[k] / dt + g(k) + if k + 1 < n { g(k + 1) } else { 0.0 };
                right[k] = 2.0 * farad[k] / dt * volt[k] + if k == 0 { g(0) } else { 0.0 };
            }
            for k in 1..n {
                let factor = g(k) / diagonal[k - 1];
                diagonal[k] -= factor * g(k);
                right[k] += factor * right[k - 1];
            }
            let mut middle = vec![0.0; n];
            for k in (0..n).rev() {
                middle[k] = (right[k] + if k + 1 < n { g(k + 1) * middle[k + 1] } else { 0.0 }) / diagonal[k];
            }
            charge += dt * (1.0 - middle[0]) / ohm[0];
            for k in 0..n {
                volt[k] = 2.0 * middle[k] - volt[k];
            }
        }
        Settling { reached: volt[n - 1], charge_fraction: charge / (line.run_f + line.load_f) }
    }

    #[test]
    fn a_ladder_stepped_through_time_says_the_same() {
        for pad_ohm in [0.0, 200.0, 40_000.0] {
            for load_f in [2e-12, 30e-12] {
                let line = ChargingLine { pad_ohm, load_f, ..LINE };
                for factor in [0.3, 1.0, 3.0] {
                    let time_s = factor * line.elmore_s();
                    let (exact, other) = (line.settling(time_s), stepped(&line, time_s, 200, 4000));
                    // 200 sections and 4000 steps leave some 1e-5 each.
                    assert!((exact.reached - other.reached).abs() < 5e-5, "{pad_ohm} {load_f} {factor}: {exact:?} {other:?}");
                    assert!(
                        (exact.charge_fraction - other.charge_fraction).abs() < 5e-5,
                        "{pad_ohm} {load_f} {factor}: {exact:?} {other:?}"
                    );
                }
            }
        }
    }

    #[test]
    fn the_endless_line_passes_into_the_pole_sum() {
        for source_ohm in [0.0, 1.0, 20.0, 1500.0, 1e6] {
            let line = ChargingLine { source_ohm, ..LINE };
            let early = EARLY * line.run_ohm * line.run_f;
            let (before, after) = (line.early_charge(early * 1.2), line.settling(early * 1.2).charge_fraction);
            assert!((before / after - 1.0).abs() < 1e-9, "{source_ohm}: {before} {after}");
        }
    }

    #[test]
    fn vanishing_parts_leave_the_lumped_answer() {
        for (line, near) in [
            (ChargingLine { run_ohm: 0.0, ..LINE }, ChargingLine { run_ohm: 1e-6, ..LINE }),
            (ChargingLine { run_f: 0.0, ..LINE }, ChargingLine { run_f: 1e-20, ..LINE }),
            (ChargingLine { run_ohm: 0.0, pad_ohm: 700.0, ..LINE }, ChargingLine { run_ohm: 1e-6, pad_ohm: 700.0, ..LINE }),
            (ChargingLine { load_f: 0.0, ..LINE }, ChargingLine { load_f: 1e-22, ..LINE }),
            (ChargingLine { source_ohm: 0.0, ..LINE }, ChargingLine { source_ohm: 1e-7, ..LINE }),
        ] {
            for factor in [0.2, 1.0, 4.0] {
                let time_s = factor * line.elmore_s();
                let (a, b) = (line.settling(time_s), near.settling(time_s));
                assert!(
                    (a.reached - b.reached).abs() < 1e-8 && (a.charge_fraction - b.charge_fraction).abs() < 1e-8,
                    "{line:?} {a:?} {b:?}"
                );
            }
        }
        let nothing = ChargingLine { source_ohm: 0.0, run_ohm: 0.0, ..LINE };
        assert_eq!(nothing.settling(1e-12).charge_fraction, 1.0);
        assert_eq!(nothing.time_to_within_s(0.01), 0.0);
    }

    #[test]
    fn times_and_fractions_are_inverse_to_each_other() {
        for line in [
            LINE,
            ChargingLine { pad_ohm: 9000.0, ..LINE },
            ChargingLine { source_ohm: 0.0, ..LINE },
            ChargingLine { run_ohm: 0.0, ..LINE },
        ] {
            for fraction in [0.01, 0.3, 0.5, 0.9, 0.99, 0.9999] {
                let time_s = line.time_to_charge_s(fraction);
                assert!((line.settling(time_s).charge_fraction - fraction).abs() < 1e-12, "{line:?} {fraction}");
                let time_s = line.time_to_within_s(1.0 - fraction);
                assert!((line.settling(time_s).reached - fraction).abs() < 1e-12, "{line:?} {fraction}");
            }
        }
    }
}
