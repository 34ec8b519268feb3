//! How long a battery lasts.

/// Seconds that a charge lasts at an even current.
///
/// `charge_c`: rated charge, coulomb (1 mAh is 3.6 C); `usable_share`: part of it that can be drawn before the supply
/// is too low, 0 to 1; `current_a`: drawn, above 0. All 0 or more. `None` where nothing is drawn.
///
/// Source: definition of the current. Exact for an even current; a cell gives less when it is cold, old or drawn hard,
/// which is what the usable share is for.
///
/// Example: 220 mAh of which 80 % are usable, at 24 mA: 7 h 20 min.
///
/// ```
/// let life = toile_model::lights::battery_life_s(220.0 * 3.6, 0.8, 0.024).unwrap();
/// assert!((life - 26_400.0).abs() < 1e-9);
/// ```
pub fn battery_life_s(charge_c: f64, usable_share: f64, current_a: f64) -> Option<f64> {
    let life = charge_c * usable_share / current_a;
    (current_a > 0.0 && life.is_finite()).then_some(life)
}
