//! The change of a pad's capacitance when a finger comes down, seen by the controller.

/// How the finger's charge gets back to circuit ground, F.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WayBack {
    /// Person to earth.
    pub body_to_earth_f: f64,
    /// Circuit's supply to earth; `None` when it is earthed.
    pub supply_to_earth_f: Option<f64>,
    /// Person straight to the circuit's supply or ground, beside what the finger's own field gives.
    pub body_to_supply_f: f64,
}

impl WayBack {
    /// Capacitance from the finger back to circuit ground, F.
    ///
    /// C_ret = C_FG + C_FE C_GE/(C_FE + C_GE), with C_FG the field of the finger plus the direct path; an earthed
    /// supply puts C_GE to infinity.
    ///
    /// ```
    /// let way = toile_model::touch::WayBack { body_to_earth_f: 100e-12, supply_to_earth_f: Some(25e-12), body_to_supply_f: 0.0 };
    /// assert!((way.capacitance_f(1e-12) - 21e-12).abs() < 1e-24);
    /// ```
    pub fn capacitance_f(&self, finger_ground_f: f64) -> f64 {
        let through_earth = match self.supply_to_earth_f {
            None => self.body_to_earth_f,
            Some(supply) => series(self.body_to_earth_f, supply),
        };
        finger_ground_f + self.body_to_supply_f + through_earth
    }
}

/// A touch as the controller sees it, F.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Signal {
    /// Change of the pad's capacitance to circuit ground.
    pub signal_f: f64,
    /// Way back from the finger to circuit ground.
    pub return_f: f64,
}

/// Signal of a touch on a pad over circuit ground.
///
/// All inputs in F and >= 0: pad to finger, pad to ground with and without the finger, finger to ground (field).
/// C_PF in series with the way back, plus the change of C_PG (negative: the finger shades the pad from ground).
/// Source: reduction of the Maxwell matrix by the floating body; any text on electrostatics. Exact for the given
/// coefficients.
///
/// Example: 2 pF to the finger, 10.0 and 10.5 pF to ground, way back 20 pF: 2*20/22 - 0.5 = 1.318 pF.
pub fn signal(pad_finger_f: f64, pad_ground_touched_f: f64, pad_ground_untouched_f: f64, finger_ground_f: f64, way: &WayBack) -> Signal {
    let return_f = way.capacitance_f(finger_ground_f);
    Signal { signal_f: series(pad_finger_f, return_f) + (pad_ground_touched_f - pad_ground_untouched_f), return_f }
}

/// Signal and standing capacitance when what lies under the base is the wearer, who also touches.
///
/// The body under the base is the same conductor as the finger: without a touch the pad's capacitance to the body
/// already runs through the way back, and a touch adds the finger to it. Inputs as in [`signal`]; the field's finger
/// to ground coefficient is body to body and drops out. Returns signal and standing capacitance, F.
///
/// Example: 10 pF to the body, 9.6 pF + 2 pF with the finger, way back 40 pF: 11.6*40/51.6 - 10*40/50 = 0.992 pF.
pub fn signal_over_body(pad_finger_f: f64, pad_body_touched_f: f64, pad_body_untouched_f: f64, way: &WayBack) -> (Signal, f64) {
    let return_f = way.capacitance_f(0.0);
    let standing_f = series(pad_body_untouched_f, return_f);
    (Signal { signal_f: series(pad_body_touched_f + pad_finger_f, return_f) - standing_f, return_f }, standing_f)
}

/// Two capacitances in series; nothing in series with anything is nothing.
fn series(a: f64, b: f64) -> f64 {
    if a + b > 0.0 { a * b / (a + b) } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn examples_of_the_docs() {
        let way = WayBack { body_to_earth_f: 0.0, supply_to_earth_f: None, body_to_supply_f: 20e-12 };
        let s = signal(2e-12, 10.0e-12, 10.5e-12, 0.0, &way);
        assert!((s.signal_f - (40.0 / 22.0 - 0.5) * 1e-12).abs() < 1e-24);
        let way = WayBack { body_to_supply_f: 40e-12, ..way };
        let (s, standing) = signal_over_body(2e-12, 9.6e-12, 10e-12, &way);
        assert!((standing - 8e-12).abs() < 1e-24);
        assert!((s.signal_f - (11.6 * 40.0 / 51.6 - 8.0) * 1e-12).abs() < 1e-24);
    }
}
