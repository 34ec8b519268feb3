//! Units as people write them in headers and cells: `mm`, `cm`, `kΩ`, `ohm per m`, `µs`, `"`.
//!
//! A field's own unit is the one of its [`Quantity`]; every other spelling here leads to it by a factor. Which
//! spellings apply depends on that own unit, so `m` is a metre beside a length and nothing beside a resistance.

use toile_model::units::Quantity;

/// A unit that a person wrote, by its way into the field's own unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Unit {
    /// How it is written in a summary.
    pub(super) name: &'static str,
    // Two whole-number factors rather than one fraction: 70 um is then 70 / 1000 mm, the same number that 0.07 reads
    // as, while 70 * 0.001 is not.
    times: f64,
    over: f64,
    offset: f64,
}

impl Unit {
    /// The field's own unit.
    pub(super) const fn own(quantity: &Quantity) -> Self {
        Self { name: quantity.unit, times: 1.0, over: 1.0, offset: 0.0 }
    }

    /// A value in this unit, in the field's own unit.
    pub(super) fn to_own(self, value: f64) -> f64 {
        self.width_to_own(value) + self.offset
    }

    /// A difference in this unit, in the field's own unit.
    pub(super) fn width_to_own(self, width: f64) -> f64 {
        width * self.times / self.over
    }

    /// The unit that `text` names beside this quantity; nothing written means the field's own unit.
    pub(super) fn find(quantity: &Quantity, text: &str) -> Option<Self> {
        let spelling = plain(text);
        if spelling.is_empty() {
            return Some(Self::own(quantity));
        }
        let (_, family) = FAMILIES.iter().find(|(own, _)| *own == quantity.unit)?;
        family.iter().find(|(_, spellings, _)| spellings.contains(&spelling.as_str())).map(|(name, _, [times, over, offset])| Self {
            name,
            times: *times,
            over: *over,
            offset: *offset,
        })
    }

    /// The units that may be written beside this quantity, for a message.
    pub(super) fn known(quantity: &Quantity) -> String {
        let names = FAMILIES.iter().find(|(own, _)| *own == quantity.unit).map(|(_, family)| family.iter().map(|(name, ..)| *name));
        names.map_or_else(|| "no unit".into(), |names| names.collect::<Vec<_>>().join(", "))
    }

    /// Whether some quantity knows this unit.
    pub(super) fn is_known_anywhere(text: &str) -> bool {
        let spelling = plain(text);
        FAMILIES.iter().any(|(_, family)| family.iter().any(|(_, spellings, _)| spellings.contains(&spelling.as_str())))
    }
}

type Family = &'static [(&'static str, &'static [&'static str], [f64; 3])];

/// By the field's own unit: name, spellings after [`plain`], and times, over, offset.
const FAMILIES: [(&str, Family); 12] = [
    (
        "mm",
        &[
            ("mm", &["mm", "millimetre", "millimeter", "millimetres", "millimeters"], [1.0, 1.0, 0.0]),
            ("cm", &["cm", "centimetre", "centimeter", "centimetres", "centimeters"], [10.0, 1.0, 0.0]),
            ("m", &["m", "metre", "meter", "metres", "meters"], [1000.0, 1.0, 0.0]),
            ("um", &["um", "micron", "microns", "micrometre", "micrometer"], [1.0, 1000.0, 0.0]),
            ("in", &["in", "inch", "inches", "\"", "″", "”"], [254.0, 10.0, 0.0]),
        ],
    ),
    (
        "ohm",
        &[
            ("ohm", &["ohm", "ohms", "r"], [1.0, 1.0, 0.0]),
            ("kohm", &["kohm", "kohms", "k"], [1e3, 1.0, 0.0]),
            ("Mohm", &["Mohm", "Mohms", "megaohm", "megohm"], [1e6, 1.0, 0.0]),
            ("mohm", &["mohm", "mohms", "milliohm", "milliohms"], [1.0, 1e3, 0.0]),
        ],
    ),
    (
        "ohm/m",
        &[
            // "ohmm" is what is left of "ohm/m" where a header's punctuation has been taken off.
            ("ohm/m", &["ohm/m", "ohms/m", "ohm/metre", "ohm/meter", "ohms/metre", "ohms/meter", "ohmm"], [1.0, 1.0, 0.0]),
            ("ohm/cm", &["ohm/cm", "ohms/cm", "ohmcm"], [100.0, 1.0, 0.0]),
            ("ohm/mm", &["ohm/mm", "ohms/mm", "ohmmm"], [1000.0, 1.0, 0.0]),
            ("kohm/m", &["kohm/m", "kohms/m", "kohmm"], [1000.0, 1.0, 0.0]),
            ("ohm/in", &["ohm/in", "ohms/in", "ohm/inch", "ohms/inch"], [10_000.0, 254.0, 0.0]),
            ("ohm/ft", &["ohm/ft", "ohms/ft", "ohm/foot", "ohms/foot"], [10_000.0, 3048.0, 0.0]),
        ],
    ),
    (
        "pF",
        &[
            ("pF", &["pf", "picofarad", "picofarads"], [1.0, 1.0, 0.0]),
            ("nF", &["nf", "nanofarad", "nanofarads"], [1e3, 1.0, 0.0]),
            ("uF", &["uf", "microfarad", "microfarads"], [1e6, 1.0, 0.0]),
            ("fF", &["ff", "femtofarad", "femtofarads"], [1.0, 1e3, 0.0]),
        ],
    ),
    (
        "us",
        &[
            ("us", &["us", "usec", "microsecond", "microseconds"], [1.0, 1.0, 0.0]),
            ("ns", &["ns", "nsec", "nanosecond", "nanoseconds"], [1.0, 1e3, 0.0]),
            ("ms", &["ms", "msec", "millisecond", "milliseconds"], [1e3, 1.0, 0.0]),
            ("s", &["s", "sec", "second", "seconds"], [1e6, 1.0, 0.0]),
        ],
    ),
    (
        "degrees C",
        &[
            ("degrees C", &["c", "degc", "degreesc", "celsius", "degreescelsius"], [1.0, 1.0, 0.0]),
            ("K", &["k", "kelvin"], [1.0, 1.0, -273.15]),
            ("degrees F", &["f", "degf", "degreesf", "fahrenheit"], [5.0, 9.0, -160.0 / 9.0]),
        ],
    ),
    ("%", &[("%", &["%", "percent", "pct"], [1.0, 1.0, 0.0])]),
    ("V", &[("V", &["v", "volt", "volts"], [1.0, 1.0, 0.0]), ("mV", &["mv", "millivolt", "millivolts"], [1.0, 1e3, 0.0])]),
    (
        "mA",
        &[
            ("mA", &["ma", "milliampere", "milliamperes", "milliamp", "milliamps"], [1.0, 1.0, 0.0]),
            ("A", &["a", "ampere", "amperes", "amp", "amps"], [1e3, 1.0, 0.0]),
            ("uA", &["ua", "microampere", "microamperes", "microamp", "microamps"], [1.0, 1e3, 0.0]),
        ],
    ),
    ("mAh", &[("mAh", &["mah"], [1.0, 1.0, 0.0]), ("Ah", &["ah"], [1e3, 1.0, 0.0])]),
    (
        "h",
        &[
            ("h", &["h", "hour", "hours"], [1.0, 1.0, 0.0]),
            ("min", &["min", "minute", "minutes"], [1.0, 60.0, 0.0]),
            ("d", &["d", "day", "days"], [24.0, 1.0, 0.0]),
        ],
    ),
    ("W", &[("W", &["w", "watt", "watts"], [1.0, 1.0, 0.0]), ("mW", &["mw", "milliwatt", "milliwatts"], [1.0, 1e3, 0.0])]),
];

/// A spelling without what people vary: case, spaces, dots, the two Greek mus, degree signs, `per` for a stroke.
///
/// The one case that matters stays: `M` before an ohm is a million, `m` a thousandth.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\u{b5}' | '\u{3bc}' => out.push('u'),
            '\u{3a9}' | '\u{2126}' => out.push_str("ohm"),
            ' ' | '\u{a0}' | '.' | '°' | '_' | '^' => {}
            '℃' => out.push('c'),
            c => out.push(c),
        }
    }
    let million = out.starts_with('M') && out[1..].to_ascii_lowercase().starts_with("ohm");
    out.make_ascii_lowercase();
    if let Some(k) = out.find("per").filter(|k| !out[*k..].starts_with("percent")) {
        out.replace_range(k..k + 3, "/");
    }
    if million {
        out.replace_range(..1, "M");
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use toile_model::units;

    #[track_caller]
    fn check(quantity: &Quantity, text: &str, one: f64) {
        assert_eq!(Unit::find(quantity, text).map(|u| u.to_own(1.0)), Some(one), "{text}");
    }

    #[test]
    fn spellings_lead_to_the_fields_own_unit() {
        for (text, one) in
            [("mm", 1.0), ("MM", 1.0), (" cm ", 10.0), ("m", 1000.0), ("µm", 0.001), ("μm", 0.001), ("in.", 25.4), ("\"", 25.4)]
        {
            check(&units::DIAMETER, text, one);
        }
        for (text, one) in [("Ω", 1.0), ("Ohm", 1.0), ("kΩ", 1e3), ("kOhm", 1e3), ("MΩ", 1e6), ("MOHM", 1e6), ("mΩ", 1e-3), ("mohm", 1e-3)]
        {
            check(&units::SERIES_RESISTANCE, text, one);
        }
        for (text, one) in [("ohm/m", 1.0), ("Ω/m", 1.0), ("ohm per m", 1.0), ("ohm_per_m", 1.0), ("Ω/cm", 100.0), ("kΩ/m", 1000.0)] {
            check(&units::LINEAR_RESISTANCE, text, one);
        }
        for (text, one) in [("pF", 1.0), ("nF", 1e3), ("NF", 1e3), ("uF", 1e6)] {
            check(&units::MAX_STANDING, text, one);
        }
        for (text, one) in [("us", 1.0), ("µs", 1.0), ("ns", 1e-3), ("ms", 1e3), ("s", 1e6)] {
            check(&units::CHARGE_TIME, text, one);
        }
        for (text, one) in [("%", 1.0), ("percent", 1.0)] {
            check(&units::SETTLED, text, one);
        }
    }

    #[test]
    fn a_unit_belongs_to_its_kind_of_number() {
        assert_eq!(Unit::find(&units::DIAMETER, "pF"), None);
        assert_eq!(Unit::find(&units::SERIES_RESISTANCE, "m"), None);
        assert_eq!(Unit::find(&units::RELATIVE_PERMITTIVITY, "mm"), None);
        assert_eq!(Unit::find(&units::PASSES, "").map(|u| u.to_own(2.0)), Some(2.0));
    }

    #[test]
    fn every_family_belongs_to_a_quantity_and_begins_with_its_own_unit() {
        let own = [
            &units::DIAMETER,
            &units::MAX_RUN,
            &units::LINEAR_RESISTANCE,
            &units::MAX_STANDING,
            &units::CHARGE_TIME,
            &units::TEMPERATURE,
            &units::SETTLED,
        ];
        for (quantity, (unit, family)) in own.iter().zip(FAMILIES) {
            assert_eq!((quantity.unit, family[0].0, family[0].2), (unit, unit, [1.0, 1.0, 0.0]));
        }
    }

    #[test]
    fn small_units_divide_so_that_they_read_as_the_same_number() {
        let um = Unit::find(&units::DIAMETER, "um").unwrap();
        for tenths in 1..2000 {
            let mm = f64::from(tenths) / 1000.0;
            assert_eq!(um.to_own(f64::from(tenths)), mm);
        }
    }

    #[test]
    fn temperatures_have_another_zero() {
        assert_eq!(Unit::find(&units::TEMPERATURE, "K").unwrap().to_own(300.0), 300.0 - 273.15);
        // 68 degrees F are 20 degrees C; the sum of two rounded ninths allows for a few units in the last place.
        assert!((Unit::find(&units::TEMPERATURE, "°F").unwrap().to_own(68.0) - 20.0).abs() < 1e-13);
    }
}
