//! The working of time and price, for the quantity asked for: min, stitches, and the currency of the price.
//!
//! At the best estimates, as the rest of the working; what the lines of the price say is exact.

use super::production::Production;
use super::working::{Step, StepInput};
use crate::materials::{Price, Rate};
use crate::money::nearly;
use crate::production::Pace;

type Inputs<'a> = &'a [(&'static str, f64, &'static str)];

const TRADE: &str = "embroidery-trade article on pieces per hour";
const OWN: &str = "own bookkeeping";

/// The steps from the stitches of a piece to its price.
pub(super) fn production_steps(production: &Production) -> Vec<Step> {
    let mut steps = Vec::with_capacity(20);
    let (job, cost) = (&production.job, production.costing());
    let (c, terms) = (&cost.course, &cost.terms);
    let rate = |rate: Rate| production.rates.rate(rate).measured.value;
    let min = |s: f64| s / 60.0;
    let [plain, conductive, laid] = Pace::ALL.map(|pace| job.work.stitches[pace.number()]);
    let heads = f64::from(terms.heads);
    step(
        &mut steps,
        ("n", "stitches of one piece", "n_plain + n_cond + n_laid"),
        &[("n_plain", plain, ""), ("n_cond", conductive, ""), ("n_laid", laid, "")],
        (job.stitches(), ""),
        "counted part by part, as listed with the price",
    );
    let tries = [("pieces", f64::from(terms.pieces), ""), ("yield", 100.0 * rate(Rate::Yield), "%")];
    step(&mut steps, ("made", "pieces made, rejects included", "pieces / yield"), &tries, (c.made, ""), OWN);
    step(
        &mut steps,
        ("T_sew", "sewing", "turns x (n_plain/v_plain + n_cond/v_cond + n_laid/v_laid)"),
        &[
            ("turns", if job.stitches() > 0.0 { c.sewing_s / sewing_of_one(production) } else { 0.0 }, ""),
            ("v_plain", 60.0 * rate(Rate::PlainSpeed), "stitches/min"),
            ("v_cond", 60.0 * rate(Rate::ConductiveSpeed), "stitches/min"),
            ("v_laid", 60.0 * rate(Rate::LaidSpeed), "stitches/min"),
        ],
        (min(c.sewing_s), "min"),
        "turns: how often one piece after the other is sewn on all heads at once",
    );
    step(
        &mut steps,
        ("breaks", "thread breaks to expect", "made x (n_plain/b_plain + (n_cond + n_laid)/b_cond)"),
        &[("made", c.made, ""), ("b_plain", rate(Rate::PlainBreak), "stitches"), ("b_cond", rate(Rate::ConductiveBreak), "stitches")],
        (c.breaks, ""),
        OWN,
    );
    let machine = [
        ("T_set-up", min(c.set_up_s), "min"),
        ("T_sew", min(c.sewing_s), "min"),
        ("T_trims", min(c.trims_s), "min"),
        ("T_colours", min(c.colour_changes_s), "min"),
        ("T_lights", min(c.machine_parts_s), "min"),
        ("T_bobbins", min(c.bobbins_s), "min"),
        ("T_breaks", min(c.breaks_s), "min"),
        ("T_frames", min(c.frames_s), "min"),
    ];
    step(&mut steps, ("T_machine", "time of the machine", "sum of its parts"), &machine, (min(c.machine_s()), "min"), OWN);
    let people = [
        ("T_set-up", min(c.set_up_s), "min"),
        ("T_bobbins", min(c.bobbins_s), "min"),
        ("T_breaks", min(c.breaks_s), "min"),
        ("T_frames", min(c.frames_s), "min"),
        ("T_hooping", min(c.hooping_s), "min"),
        ("T_bench", min(c.bench_s), "min"),
        ("T_finishing", min(c.finishing_s), "min"),
        ("T_attendance", min(c.attendance_s), "min"),
        ("T_jig", min(c.jig_making_s), "min"),
    ];
    step(&mut steps, ("T_labour", "time of the people", "sum of its parts"), &people, (min(c.labour_s()), "min"), OWN);
    if let Some(output) = cost.output(job) {
        step(
            &mut steps,
            ("output", "pieces made an hour while the machine runs", "60 v heads / (n + n_stops)"),
            &[
                ("v", output.stitches_per_min, "stitches/min"),
                ("heads", heads, ""),
                ("n", job.stitches(), ""),
                ("n_stops", output.set_up_stitches, ""),
            ],
            (output.pieces_per_hour * c.made / f64::from(terms.pieces), "1/h"),
            TRADE,
        );
    }
    let code = production.currency().code;
    for line in &cost.quote.lines {
        let of = line.of.map(|(quantity, rate)| [("quantity", nearly(quantity), line.item.unit()), ("rate", nearly(rate), code)]);
        let margin = [("margin", nearly(production.rates.price(Price::Margin).amount), "%")];
        let (formula, inputs): (_, Inputs<'_>) = match &of {
            Some(inputs) => ("quantity x rate, rounded to the minor unit", inputs),
            None if line.item == crate::production::Item::Margin => ("sum above x margin / (100 - margin)", &margin),
            None => ("unit price x pieces - sum above", &[]),
        };
        step(&mut steps, ("line", line.item.name(), formula), inputs, (nearly(line.amount), code), "exact in decimals");
    }
    step(
        &mut steps,
        ("unit price", "price of one piece", "total / pieces, whole in the minor unit"),
        &[("total", nearly(cost.quote.total), code), ("pieces", f64::from(terms.pieces), "")],
        (nearly(cost.quote.unit_price), code),
        "exact in decimals",
    );
    steps
}

/// Sewing time of one piece on one head, s.
fn sewing_of_one(production: &Production) -> f64 {
    let speeds = [Rate::PlainSpeed, Rate::ConductiveSpeed, Rate::LaidSpeed];
    let stitches = production.job.work.stitches;
    Pace::ALL.iter().map(|pace| stitches[pace.number()] / production.rates.rate(speeds[pace.number()]).measured.value).sum()
}

fn step(
    steps: &mut Vec<Step>,
    (symbol, what, formula): (&'static str, &'static str, &'static str),
    inputs: Inputs<'_>,
    (result, unit): (f64, &'static str),
    source: &'static str,
) {
    let inputs = inputs.iter().map(|&(symbol, value, unit)| StepInput { symbol, value, unit }).collect();
    steps.push(Step { feature: None, symbol, what, formula, inputs, result, unit, source, note: None });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::production::production_of;
    use crate::examples::round_pad;
    use crate::materials::LIBRARY;

    #[test]
    fn the_parts_of_a_time_sum_to_it_and_the_trades_formula_repeats() {
        let mut piece = round_pad(24.0);
        piece.quantity = 77;
        piece.production.decorative_stitches = 1200;
        let steps = production_steps(&production_of(&piece, &LIBRARY).expect("a small price"));
        let of = |symbol: &str| steps.iter().find(|s| s.symbol == symbol).unwrap_or_else(|| panic!("no step for {symbol}"));
        let sum = |s: &Step| s.inputs.iter().map(|i| i.value).sum::<f64>();
        for symbol in ["n", "T_machine", "T_labour"] {
            assert!((sum(of(symbol)) / of(symbol).result - 1.0).abs() < 1e-12, "{symbol}");
        }
        let output = of("output");
        let [v, heads, n, stops] = output.inputs.iter().map(|i| i.value).collect::<Vec<_>>()[..] else { panic!("four inputs") };
        assert!((60.0 * v * heads / (n + stops) / output.result - 1.0).abs() < 1e-12);
        // 77 pieces on 4 heads: 20 turns for each time that all are made.
        assert!((of("T_sew").inputs[0].value - 20.0 / 0.94).abs() < 1e-9);
        let lines: f64 = steps.iter().filter(|s| s.symbol == "line").map(|s| s.result).sum();
        let price = of("unit price");
        assert!((lines - price.inputs[0].value).abs() < 1e-9 && (price.result * 77.0 - price.inputs[0].value).abs() < 1e-9);
    }
}
