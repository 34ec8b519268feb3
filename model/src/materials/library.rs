//! The library's data: one table each for threads, fabrics and controllers.
//!
//! Values stand in the unit of their column's [`Quantity`]; spreads are what the source allows, and wide where the
//! source is thin. Names are generic. An entry marked [`Status::FromMemory`] is a starting point for a first call,
//! not a datasheet: measure a coupon, or give the number with its spread.

use super::Status::{CommonPractice, FromMemory, Published};
use super::metal::METALS;
use super::{Controller, Fabric, Known, Library, Rates, Status, Thread};
use crate::uncertainty::Measured;
use crate::units::{self, Quantity};

/// The built-in library.
pub static LIBRARY: Library = Library {
    revision: "2026-11-25",
    threads: &THREADS,
    fabrics: &FABRICS,
    controllers: &CONTROLLERS,
    metals: &METALS,
    rates: Rates::DEMO,
};

const fn uniform(quantity: &Quantity, low: f64, high: f64, source: &'static str, status: Status) -> Known {
    Known::new(quantity, Measured::uniform(low, high), source, status)
}

const fn exact(quantity: &Quantity, value: f64, source: &'static str, status: Status) -> Known {
    Known::new(quantity, Measured::exact(value), source, status)
}

const COATED_RESISTANCE: &str = "range for silver-plated polyamide sewing thread, 30 to 600 ohm/m over 25 to 70 tex, shared out by count";
const STEEL_RESISTANCE: &str = "computed: 5883/T ohm/m for solid 316L of T tex (7.4e-7 ohm m, 7950 kg/m3, from memory) plus 2 to 25 % for twist, crimp and spread of count";
const COPPER_RESISTANCE: &str =
    "computed: 1/58 ohm mm2/m (IEC 60028, second-hand) and 8890 kg/m3 for the copper share of 75 to 95 % of the mass";
const COATED_DIAMETER: &str = "computed from the count: polyamide 1140 kg/m3, coating a fifth of the mass, packing 0.5 to 0.75";
const STEEL_DIAMETER: &str = "computed from the count: 7950 kg/m3, packing 0.45 to 0.75";
const COPPER_DIAMETER: &str = "computed from the count: 8890 kg/m3 on a textile core, packing 0.35 to 0.6";
const COUNT: &str = "nominal count by definition, ISO 1144 (from memory); lots differ by some 3 %";
const COEFFICIENT_SILVER: &str = "bulk silver 0.0038 /K, thin films less";
const COEFFICIENT_STEEL: &str = "austenitic steel 0.0009 to 0.0011 /K";
const COEFFICIENT_COPPER: &str = "0.00393 /K at 20 degrees Celsius, IEC 60028:1925 (second-hand), thin strands a little less";

const fn thread(
    id: &'static str,
    name: &'static str,
    tex: f64,
    resistance: (f64, f64, &'static str),
    diameter: (f64, f64, &'static str),
    metal: Metal,
) -> Thread {
    Thread {
        id,
        name,
        linear_resistance_ohm_per_m: uniform(&units::LINEAR_RESISTANCE, resistance.0, resistance.1, resistance.2, FromMemory),
        diameter_m: uniform(&units::THREAD_DIAMETER, diameter.0, diameter.1, diameter.2, FromMemory),
        linear_density_kg_per_m: Known::new(&units::LINEAR_DENSITY, Measured::normal(tex, 0.06 * tex), COUNT, FromMemory),
        temperature_coefficient_per_k: metal.coefficient,
        growth_per_wash: metal.growth_per_wash,
        stretch_factor: metal.stretch_factor,
    }
}

/// What the metal of a thread does in warmth, wash and stretch.
#[derive(Clone, Copy)]
struct Metal {
    coefficient: Known,
    growth_per_wash: Known,
    stretch_factor: Known,
}

const fn metal(
    coefficient: (f64, f64, &'static str),
    growth_percent: (f64, f64, &'static str),
    stretch: (f64, f64, &'static str),
) -> Metal {
    Metal {
        coefficient: uniform(&units::TEMPERATURE_COEFFICIENT, coefficient.0, coefficient.1, coefficient.2, FromMemory),
        growth_per_wash: uniform(&units::GROWTH_PER_WASH, growth_percent.0, growth_percent.1, growth_percent.2, CommonPractice),
        stretch_factor: uniform(&units::STRETCH_FACTOR, stretch.0, stretch.1, stretch.2, FromMemory),
    }
}

const WASHED_SILVER: &str = "coated polyamide loses silver wash after wash, most with bleach and heat (Sensors 2020, 20, 1739; RSC Adv. 2024, 14, 40098; abstracts); by how much is judgement: hardly changed to threefold after 30 washes";
const WASHED_STEEL: &str = "316L thread unchanged after ten washes (B.S. report no. 127, materials engineering, digitalcommons.calpoly.edu/matesp/127, abstract); the upper limit is judgement";
const WASHED_SPUN: &str = "staple ends work loose; no source, judgement";
const WASHED_COPPER: &str = "strands corrode and break where they bend; no source, judgement";
const STRETCHED_SILVER: &str =
    "2 for solid metal of constant volume, more where the coating cracks, less while the thread only straightens";
const STRETCHED_METAL: &str = "2 for solid metal of constant volume, less while the thread only straightens";

const SILVER: Metal = metal((0.0025, 0.0038, COEFFICIENT_SILVER), (0.0, 4.0, WASHED_SILVER), (0.0, 5.0, STRETCHED_SILVER));
const STEEL: Metal = metal((0.0009, 0.0011, COEFFICIENT_STEEL), (0.0, 0.1, WASHED_STEEL), (0.0, 2.5, STRETCHED_METAL));
const STEEL_SPUN: Metal = metal((0.0009, 0.0011, COEFFICIENT_STEEL), (0.0, 1.0, WASHED_SPUN), (0.0, 5.0, STRETCHED_METAL));
const COPPER: Metal = metal((0.0037, 0.00393, COEFFICIENT_COPPER), (0.0, 1.0, WASHED_COPPER), (0.0, 2.5, STRETCHED_METAL));

static THREADS: [Thread; 10] = [
    thread(
        "silver-polyamide-24-tex",
        "silver-coated polyamide, 24 tex",
        24.0,
        (200.0, 600.0, COATED_RESISTANCE),
        (0.17, 0.22, COATED_DIAMETER),
        SILVER,
    ),
    thread(
        "silver-polyamide-40-tex",
        "silver-coated polyamide, 40 tex",
        40.0,
        (80.0, 250.0, COATED_RESISTANCE),
        (0.22, 0.28, COATED_DIAMETER),
        SILVER,
    ),
    thread(
        "silver-polyamide-70-tex",
        "silver-coated polyamide, 70 tex",
        70.0,
        (30.0, 110.0, COATED_RESISTANCE),
        (0.29, 0.37, COATED_DIAMETER),
        SILVER,
    ),
    thread(
        "steel-90-tex",
        "stainless steel 316L filament, 90 tex",
        90.0,
        (66.7, 81.7, STEEL_RESISTANCE),
        (0.138, 0.179, STEEL_DIAMETER),
        STEEL,
    ),
    thread(
        "steel-150-tex",
        "stainless steel 316L filament, 150 tex",
        150.0,
        (40.0, 49.0, STEEL_RESISTANCE),
        (0.179, 0.231, STEEL_DIAMETER),
        STEEL,
    ),
    thread(
        "steel-250-tex",
        "stainless steel 316L filament, 250 tex",
        250.0,
        (24.0, 29.4, STEEL_RESISTANCE),
        (0.231, 0.298, STEEL_DIAMETER),
        STEEL,
    ),
    thread(
        "steel-500-tex",
        "stainless steel 316L filament, 500 tex",
        500.0,
        (12.0, 14.7, STEEL_RESISTANCE),
        (0.327, 0.422, STEEL_DIAMETER),
        STEEL,
    ),
    thread(
        "steel-spun-100-tex",
        "stainless steel spun yarn, 100 tex, all steel staple",
        100.0,
        (60.0, 150.0, "range for spun steel thread, above the solid limit of 58.8 ohm/m because staple ends interrupt the current"),
        (0.15, 0.20, STEEL_DIAMETER),
        STEEL_SPUN,
    ),
    thread(
        "copper-strand-60-tex",
        "copper strands on a polyester core, 60 tex",
        60.0,
        (2.69, 3.4, COPPER_RESISTANCE),
        (0.12, 0.157, COPPER_DIAMETER),
        COPPER,
    ),
    thread(
        "copper-strand-200-tex",
        "copper strands on a polyester core, 200 tex",
        200.0,
        (0.807, 1.02, COPPER_RESISTANCE),
        (0.218, 0.286, COPPER_DIAMETER),
        COPPER,
    ),
];

const GAUGE: &str = "usual thickness of the kind, measured flat; measure under the pressure of use";

const fn fabric(
    id: &'static str,
    name: &'static str,
    used_for: &'static str,
    thickness: (f64, f64),
    permittivity: (f64, f64, &'static str, Status),
) -> Fabric {
    Fabric {
        id,
        name,
        used_for,
        thickness_m: uniform(&units::LAYER_THICKNESS, thickness.0, thickness.1, GAUGE, CommonPractice),
        relative_permittivity: uniform(&units::RELATIVE_PERMITTIVITY, permittivity.0, permittivity.1, permittivity.2, permittivity.3),
    }
}

const FIBRE_MIX: &str = "between air and the fibre's value by solid share (bounds of Wiener 1912), fibre values at 65 % relative humidity after Morton and Hearle";

static FABRICS: [Fabric; 18] = [
    fabric(
        "wool-felt",
        "wool felt, soft",
        "cover, filler",
        (2.7, 3.3),
        (1.1, 1.5, "wool felt 1.1 to 1.5, antenna papers at GHz 1.2 to 1.4", FromMemory),
    ),
    fabric("wool-felt-dense", "wool felt, dense", "carrier, filler", (1.8, 2.2), (1.3, 1.9, FIBRE_MIX, FromMemory)),
    fabric(
        "cotton-twill",
        "cotton twill",
        "carrier, cover",
        (0.4, 0.6),
        (
            1.5,
            2.2,
            "cotton fabric 1.63 (Int. J. Antennas Propag. 2021, 6506128, table 2, at GHz); the upper limit allows for humidity at low frequency",
            Published,
        ),
    ),
    fabric(
        "denim",
        "denim",
        "carrier, cover",
        (0.7, 1.0),
        (
            1.5,
            2.2,
            "denim 1.7 (Khan et al. 2022, doi 10.32604/csse.2022.022313, 1 mm, at GHz); the upper limit allows for humidity at low frequency",
            Published,
        ),
    ),
    fabric("polyester-knit", "polyester knit", "cover", (0.5, 0.9), (1.15, 1.5, FIBRE_MIX, FromMemory)),
    fabric("polyester-woven", "polyester plain weave", "carrier, cover", (0.2, 0.35), (1.4, 1.9, FIBRE_MIX, FromMemory)),
    fabric("polyamide-woven", "polyamide plain weave", "carrier, cover", (0.15, 0.3), (1.5, 2.3, FIBRE_MIX, FromMemory)),
    fabric("linen-canvas", "linen canvas", "carrier, cover", (0.6, 0.9), (1.6, 2.8, FIBRE_MIX, FromMemory)),
    fabric(
        "pu-foam-soft",
        "polyurethane foam, soft, open cells",
        "filler",
        (4.5, 5.5),
        (1.05, 1.15, "open polyurethane foam 1.05 to 1.3, close to 1 + 2 x solid fraction", FromMemory),
    ),
    fabric(
        "pu-foam-firm",
        "polyurethane foam, firm, open cells",
        "filler",
        (4.5, 5.5),
        (1.1, 1.3, "open polyurethane foam 1.05 to 1.3, close to 1 + 2 x solid fraction", FromMemory),
    ),
    fabric("spacer-knit", "spacer knit, polyester", "filler", (2.7, 3.5), (1.1, 1.3, FIBRE_MIX, FromMemory)),
    fabric(
        "leather",
        "leather, dry",
        "cover",
        (1.0, 1.4),
        (2.5, 5.0, "leather 2.5 to 5 dry, several times more when moist below 1 MHz", FromMemory),
    ),
    fabric(
        "artificial-leather",
        "coated fabric with a PVC face",
        "cover",
        (0.8, 1.2),
        (1.8, 3.0, "PVC 2.8 to 3.4 (published list) on a fabric backing, mixed by thickness", FromMemory),
    ),
    fabric(
        "silicone-sheet",
        "silicone rubber sheet, unfilled",
        "cover, seal",
        (0.9, 1.1),
        (2.8, 3.6, "silicone rubber 3.2 and up in a published list, unfilled grades 2.8 to 3.4", FromMemory),
    ),
    fabric(
        "pvc-film",
        "PVC film",
        "cover, barrier",
        (0.15, 0.25),
        (2.8, 3.4, "PVC 2.8 to 3.4, unspecified frequency, public permittivity list", Published),
    ),
    fabric(
        "polyester-film",
        "polyester film",
        "barrier",
        (0.045, 0.055),
        (2.8, 3.4, "polyester film 2.8 to 4.5 in a public permittivity list; oriented film 2.8 to 3.4 from memory", FromMemory),
    ),
    fabric(
        "neoprene",
        "chloroprene foam, laminated",
        "cover, filler",
        (2.7, 3.3),
        (1.4, 2.4, "solid chloroprene 6 to 9 (public permittivity list), foamed to a quarter to a third of the density", FromMemory),
    ),
    fabric("cork", "cork sheet", "cover, filler", (1.8, 2.2), (1.5, 2.2, "light dry cork 1.5 to 2.2", FromMemory)),
];

const INPUT_KIND: &str = "numbers of a kind of input, not of a product; take them from the datasheet of the part in use";

struct InputNumbers {
    charge_time_us: f64,
    series_ohm: (f64, f64),
    max_standing_pf: f64,
    needed_signal_pf: f64,
    max_run_ohm: f64,
    settled_percent: f64,
}

const fn controller(id: &'static str, name: &'static str, n: &InputNumbers) -> Controller {
    Controller {
        id,
        name,
        charge_time_s: exact(&units::CHARGE_TIME, n.charge_time_us, INPUT_KIND, CommonPractice),
        series_resistance_ohm: uniform(&units::SERIES_RESISTANCE, n.series_ohm.0, n.series_ohm.1, INPUT_KIND, CommonPractice),
        max_standing_f: exact(&units::MAX_STANDING, n.max_standing_pf, INPUT_KIND, CommonPractice),
        needed_signal_f: exact(&units::NEEDED_SIGNAL, n.needed_signal_pf, INPUT_KIND, CommonPractice),
        max_run_ohm: exact(&units::MAX_RUN, n.max_run_ohm, INPUT_KIND, CommonPractice),
        settled_fraction: exact(&units::SETTLED, n.settled_percent, INPUT_KIND, CommonPractice),
    }
}

static CONTROLLERS: [Controller; 4] = [
    controller(
        "patient-input",
        "patient input: slow charge, small signals",
        &InputNumbers {
            charge_time_us: 2.0,
            series_ohm: (900.0, 1100.0),
            max_standing_pf: 100.0,
            needed_signal_pf: 0.1,
            max_run_ohm: 2000.0,
            settled_percent: 99.0,
        },
    ),
    controller(
        "quick-input",
        "quick input: short charge, many pads in turn",
        &InputNumbers {
            charge_time_us: 0.25,
            series_ohm: (450.0, 550.0),
            max_standing_pf: 30.0,
            needed_signal_pf: 0.3,
            max_run_ohm: 1000.0,
            settled_percent: 99.0,
        },
    ),
    controller(
        "long-wire-input",
        "long-wire input: large standing capacitance, driven hard",
        &InputNumbers {
            charge_time_us: 5.0,
            series_ohm: (180.0, 220.0),
            max_standing_pf: 300.0,
            needed_signal_pf: 0.4,
            max_run_ohm: 10_000.0,
            settled_percent: 98.0,
        },
    ),
    controller(
        "low-power-input",
        "low-power input: sleeps between scans, coarse steps",
        &InputNumbers {
            charge_time_us: 1.0,
            series_ohm: (1800.0, 2200.0),
            max_standing_pf: 50.0,
            needed_signal_pf: 0.5,
            max_run_ohm: 5000.0,
            settled_percent: 99.0,
        },
    ),
];
