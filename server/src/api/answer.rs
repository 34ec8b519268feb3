//! An estimate on the wire.

mod electrode;
mod laid_wire;
mod light_row;

use serde::{Deserialize, Serialize, Serializer};
use toile_model::uncertainty::Share;
use toile_model::units::{self, significant};
use toile_model::{self as model, Estimate, Feature, LIBRARY};
use utoipa::ToSchema;

use self::electrode::ElectrodeResultAnswer;
use self::laid_wire::LaidWireResultAnswer;
use self::light_row::LightRowResultAnswer;
use super::number::write_spread;
use super::production::ProductionAnswer;
use super::run_report::RunReportAnswer;

/// Digits of every number in an answer. Six say more than any of them is known to, and keep a body short.
pub const DIGITS: i32 = 6;

/// Digits of the working: differences in it must still come out when it is repeated by hand.
const WORKING_DIGITS: i32 = 9;

/// Everything computed for a piece.
#[derive(Serialize, ToSchema)]
pub struct EstimateAnswer<'a> {
    /// Version of the model that computed it.
    model_version: &'static str,
    /// Revision of the library it used.
    library_revision: &'static str,
    /// Name of the piece as given.
    name: Option<&'a str>,
    /// Verdict of the piece: that of its weakest check.
    verdict: VerdictWord,
    /// Lowest chance of its checks, 0 to 1.
    chance: f64,
    /// The verdict in one plain sentence.
    sentence: String,
    /// Every requirement, feature by feature, those of the whole piece last.
    checks: Vec<CheckAnswer<'a>>,
    /// What is predicted for each pad.
    pads: Vec<PadAnswer<'a>>,
    /// What is predicted for each electrode.
    electrodes: Vec<ElectrodeResultAnswer<'a>>,
    /// What is predicted for each light row.
    light_rows: Vec<LightRowResultAnswer<'a>>,
    /// What is predicted for each laid wire.
    laid_wires: Vec<LaidWireResultAnswer<'a>>,
    /// The layers as resolved against the library.
    stack: StackAnswer<'a>,
    /// Every number that went in, with its source; only when asked for with `?inputs=true`.
    #[serde(skip_serializing_if = "Option::is_none")]
    inputs: Option<Vec<InputAnswer>>,
    /// Smallest changes that make the piece comfortable; empty when it is.
    changes: Vec<ChangeAnswer>,
    /// Cautions that apply.
    cautions: Vec<CautionAnswer>,
    /// What to know about how the numbers were made.
    notes: &'a [String],
    /// What it takes to make it: stitches, thread, minutes and money.
    production: Option<ProductionAnswer<'a>>,
    /// The working, step by step; only when asked for with `?working=true`.
    #[serde(skip_serializing_if = "Option::is_none")]
    working: Option<Vec<StepAnswer>>,
    /// The signal while a finger comes down, for each kind of pad; only when asked for with `?approach=true`.
    #[serde(skip_serializing_if = "Option::is_none")]
    approach: Option<Vec<CurveAnswer<'a>>>,
    /// Every run looked at closely: broken stitches, largest charge frequency, longest run; only when asked for with
    /// `?runs=true`.
    #[serde(skip_serializing_if = "Option::is_none")]
    runs: Option<Vec<RunReportAnswer<'a>>>,
}

/// Comfortable: chance 95 % or more; tight: 50 to 95 %; out of reach: below; measure first: one unmeasured input
/// decides and a coupon could turn the verdict.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
pub enum VerdictWord {
    /// Holds with a chance of 95 % or more.
    #[serde(rename = "comfortable")]
    Comfortable,
    /// Holds with a chance of 50 to 95 %.
    #[serde(rename = "tight")]
    Tight,
    /// One unmeasured input decides.
    #[serde(rename = "measure first")]
    MeasureFirst,
    /// Holds with a chance below 50 %.
    #[serde(rename = "out of reach")]
    OutOfReach,
}

impl VerdictWord {
    /// The word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Comfortable => "comfortable",
            Self::Tight => "tight",
            Self::MeasureFirst => "measure first",
            Self::OutOfReach => "out of reach",
        }
    }
}

impl From<model::Verdict> for VerdictWord {
    fn from(verdict: model::Verdict) -> Self {
        match verdict {
            model::Verdict::Comfortable => Self::Comfortable,
            model::Verdict::Tight => Self::Tight,
            model::Verdict::MeasureFirst => Self::MeasureFirst,
            model::Verdict::OutOfReach => Self::OutOfReach,
        }
    }
}

/// One requirement.
#[derive(Serialize, ToSchema)]
pub struct CheckAnswer<'a> {
    /// What is required. Of pads: signal, standing_capacitance, settling, run_resistance, clearance or neighbour; of
    /// electrodes: read_out_loss, noise, common_mode, current_density, charge_per_phase or fit; of light rows: light_spread,
    /// headroom, light_current, supply_current, battery_life or warmth; of laid wires: wire_resistance, heating_power, warmth,
    /// bend_radius or needle_clearance; of several: stitchable, terminal_pitch or terminal_hole.
    check: &'static str,
    /// Its name for people.
    title: &'static str,
    /// Name of the pad; null for another feature and for the whole piece.
    pad: Option<&'a str>,
    /// Name of the feature, whatever its kind; null for the whole piece.
    feature: Option<&'a str>,
    /// Place in the piece.
    pointer: String,
    /// Verdict of this requirement.
    verdict: VerdictWord,
    /// Chance that it holds, 0 to 1.
    chance: f64,
    /// Unit of the numbers below; empty for a count.
    unit: &'static str,
    /// Which side of `needed` is good: at_least or at_most.
    bound: &'static str,
    /// Needed value.
    needed: f64,
    /// Predicted value.
    predicted: f64,
    /// Combined standard uncertainty of the prediction (GUM, first order).
    standard_uncertainty: f64,
    /// 95 % interval of the prediction.
    interval_95: [f64; 2],
    /// The check in a plain sentence.
    sentence: String,
    /// What the spread comes from, biggest first; only when asked for with `?inputs=true`.
    #[serde(skip_serializing_if = "Option::is_none")]
    shares: Option<Vec<ShareAnswer>>,
    /// What to stitch and measure first; null unless the verdict says so.
    measure: Option<String>,
}

/// Part of a check's variance that one input carries.
#[derive(Serialize, ToSchema)]
pub struct ShareAnswer {
    /// The input in words.
    input: String,
    /// Its place in the piece; null for the error of a method.
    pointer: Option<String>,
    /// Part of the variance, 0 to 1.
    share: f64,
    /// Whether nobody has measured it for this piece.
    unmeasured: bool,
}

/// What is predicted for one pad.
#[derive(Serialize, ToSchema)]
pub struct PadAnswer<'a> {
    /// Its name.
    name: &'a str,
    /// Its place in the piece.
    pointer: String,
    /// That of its weakest check.
    verdict: VerdictWord,
    /// The lowest chance of its checks.
    chance: f64,
    /// Change of capacitance by a touch.
    signal_pf: f64,
    /// Untouched pad and run.
    standing_pf: f64,
    /// Resistance of the run.
    run_ohm: f64,
    /// The same with perfect joints at every stitch: the rule "both threads in parallel".
    parallel_rule_ohm: f64,
    /// Length over which top and bobbin thread share a current; null where the bobbin does not conduct.
    transfer_length_mm: Option<f64>,
    /// Mean way from the end of the run into the pad.
    pad_ohm: f64,
    /// Share of the final charge reached in time.
    settling_percent: f64,
    /// Pad to ground, untouched.
    pad_pf: f64,
    /// Its parallel-plate part.
    plate_pf: f64,
    /// Its fringe.
    fringe_pf: f64,
    /// Run to ground.
    run_pf: f64,
    /// Pad to finger.
    finger_pf: f64,
    /// Finger back to circuit ground.
    return_pf: f64,
    /// Conductive thread in the run.
    run_thread_m: f64,
    /// Stitches in the run.
    stitches: f64,
    /// Method of the pad's capacitance.
    method: &'static str,
    /// Whether the field was solved for it; the closed form was taken otherwise.
    solved: bool,
    /// Error bound of that method here, rows included.
    relative_error: f64,
    /// What of the bound comes from taking rows of thread for an even plate; 0 for a solid pad.
    rows_error: f64,
    /// Pad to ground by the closed form, for checking by hand.
    closed_form_pf: f64,
    /// The pad on which a touch of this one shows most; null where pads have no places.
    neighbour: Option<NeighbourAnswer<'a>>,
}

/// What a touch shows on another pad.
#[derive(Serialize, ToSchema)]
pub struct NeighbourAnswer<'a> {
    /// Name of the other pad.
    pad: &'a str,
    /// Change of its capacitance.
    signal_pf: f64,
}

/// The signal of a pad while a finger comes down on it.
#[derive(Serialize, ToSchema)]
pub struct CurveAnswer<'a> {
    /// Name of the pad.
    pad: &'a str,
    /// Names of the other pads of the same kind, whose curve is the same.
    same_for: Vec<&'a str>,
    /// From the finger on the cover upwards.
    points: Vec<CurvePointAnswer>,
}

/// The signal with the finger at one distance.
#[derive(Serialize, ToSchema)]
pub struct CurvePointAnswer {
    /// Air between cover and finger.
    distance_mm: f64,
    /// Change of capacitance.
    signal_pf: f64,
    /// 95 % interval of the change.
    interval_95_pf: [f64; 2],
}

/// The layers as resolved against the library.
#[derive(Serialize, ToSchema)]
pub struct StackAnswer<'a> {
    /// What lies under the base.
    ground: &'static str,
    /// Upwards from ground.
    base: Vec<LayerAnswer<'a>>,
    /// Upwards from the stitched plane.
    overlay: Vec<LayerAnswer<'a>>,
}

/// One layer with its numbers.
#[derive(Serialize, ToSchema)]
pub struct LayerAnswer<'a> {
    /// Name of the fabric, or `layer`.
    name: &'a str,
    /// Id of the fabric.
    library: Option<&'static str>,
    /// Thickness.
    thickness_mm: f64,
    /// Permittivity relative to vacuum.
    relative_permittivity: f64,
}

/// One number that went in.
#[derive(Serialize, ToSchema)]
pub struct InputAnswer {
    /// Its place in the piece.
    pointer: String,
    /// What it is.
    name: String,
    /// Value.
    value: f64,
    /// Unit of value and interval.
    unit: &'static str,
    /// Interval that holds it with a chance of 95 %.
    interval_95: [f64; 2],
    /// Kind of spread: exact, normal or uniform.
    spread: &'static str,
    /// given, library or assumed.
    origin: &'static str,
    /// Where the value comes from.
    source: &'static str,
    /// standard, published, common practice, from memory or given.
    status: &'static str,
}

/// One change that turns the verdict.
#[derive(Serialize, ToSchema)]
pub struct ChangeAnswer {
    /// What is changed, in words.
    what: &'static str,
    /// The fields to edit; apply all of them.
    edits: Vec<EditAnswer>,
    /// Verdict of the piece after it.
    verdict: VerdictWord,
    /// Chance of the piece after it.
    chance: f64,
    /// The change in a plain sentence.
    sentence: String,
}

/// One field to edit.
#[derive(Serialize, ToSchema)]
pub struct EditAnswer {
    /// Place in the piece.
    pointer: String,
    /// What it is now.
    #[schema(value_type = Value)]
    from: WireValue,
    /// What to put there.
    #[schema(value_type = Value)]
    to: WireValue,
    /// Unit, where there is one.
    unit: &'static str,
}

/// A value as a piece takes it.
pub struct WireValue(model::EditValue);

impl Serialize for WireValue {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.0 {
            model::EditValue::Number(measured, quantity) => write_spread(&measured, quantity, serializer),
            model::EditValue::Count(n) => n.serialize(serializer),
            model::EditValue::Word(word) => word.serialize(serializer),
            model::EditValue::Entry(library) => LibraryEntry { library }.serialize(serializer),
            model::EditValue::Numbers => serializer.serialize_none(),
        }
    }
}

/// A library entry as a piece names it.
#[derive(Serialize)]
struct LibraryEntry {
    library: &'static str,
}

/// A caution that applies.
#[derive(Debug, Serialize, ToSchema)]
pub struct CautionAnswer {
    /// What it is about.
    subject: &'static str,
    /// The words.
    text: &'static str,
}

impl From<model::Caution> for CautionAnswer {
    fn from(caution: model::Caution) -> Self {
        Self { subject: caution.subject, text: caution.text }
    }
}

/// One step of the working.
#[derive(Serialize, ToSchema)]
pub struct StepAnswer {
    /// Name of the pad; null for another feature and for the whole piece.
    pad: Option<String>,
    /// Name of the feature, whatever its kind; null for the whole piece.
    feature: Option<String>,
    /// Symbol of the result.
    symbol: &'static str,
    /// What it is.
    what: &'static str,
    /// Formula or name of the method.
    formula: &'static str,
    /// What goes in.
    inputs: Vec<StepInputAnswer>,
    /// Result.
    result: f64,
    /// Its unit.
    unit: &'static str,
    /// Where the formula comes from.
    source: &'static str,
    /// What to know about it.
    note: Option<String>,
}

/// An input of a step.
#[derive(Serialize, ToSchema)]
pub struct StepInputAnswer {
    /// Symbol in the formula.
    symbol: &'static str,
    /// Value.
    value: f64,
    /// Its unit.
    unit: &'static str,
}

/// A number as it goes out.
pub(super) fn out(value: f64) -> f64 {
    significant(value, DIGITS)
}

impl<'a> EstimateAnswer<'a> {
    /// Puts an estimate of `piece` on the wire; inputs with shares, the working and the curves of a touch where they
    /// were asked for. A curve comes with the numbers of the pads that it holds for.
    pub fn new(
        piece: &'a model::Piece,
        estimate: &'a Estimate,
        changes: &[model::Change],
        with_inputs: bool,
        working: Option<&[model::Step]>,
        approach: Option<&[(Vec<usize>, Vec<model::ApproachPoint>)]>,
        runs: Option<&[model::RunReport]>,
    ) -> Self {
        let names: Vec<&str> = estimate.pads.iter().map(|p| p.name.as_str()).collect();
        Self {
            model_version: model::VERSION,
            library_revision: LIBRARY.revision,
            name: piece.name.as_deref(),
            verdict: estimate.verdict.into(),
            chance: out(estimate.chance),
            sentence: estimate.sentence(),
            checks: estimate.checks.iter().map(|c| CheckAnswer::new(c, estimate, with_inputs)).collect(),
            pads: estimate.pads.iter().enumerate().map(|(k, pad)| PadAnswer::new(k, pad, &names)).collect(),
            electrodes: estimate.electrodes.iter().enumerate().map(|(k, e)| ElectrodeResultAnswer::new(k, e)).collect(),
            light_rows: estimate.light_rows.iter().enumerate().map(|(k, row)| LightRowResultAnswer::new(k, row)).collect(),
            laid_wires: estimate.laid_wires.iter().enumerate().map(|(k, wire)| LaidWireResultAnswer::new(k, wire)).collect(),
            stack: StackAnswer {
                ground: piece.stack.ground.word(),
                base: estimate.base.iter().map(LayerAnswer::new).collect(),
                overlay: estimate.overlay.iter().map(LayerAnswer::new).collect(),
            },
            inputs: with_inputs.then(|| estimate.inputs.iter().filter_map(InputAnswer::new).collect()),
            changes: changes.iter().map(ChangeAnswer::new).collect(),
            cautions: model::cautions(piece).into_iter().map(Into::into).collect(),
            notes: &estimate.notes,
            production: estimate.production.as_ref().map(|p| ProductionAnswer::new(p, with_inputs)),
            working: working.map(|steps| steps.iter().map(|s| StepAnswer::new(s, estimate)).collect()),
            approach: approach.map(|curves| curves.iter().map(|(pads, points)| CurveAnswer::new(pads, points, &names)).collect()),
            runs: runs.map(|reports| {
                reports
                    .iter()
                    .map(|report| RunReportAnswer::new(report, estimate.feature_name(report.feature).unwrap_or_default()))
                    .collect()
            }),
        }
    }
}

impl<'a> CheckAnswer<'a> {
    fn new(check: &model::Check, estimate: &'a Estimate, with_shares: bool) -> Self {
        let edge = |si: f64| out(check.quantity.from_si(si));
        let feature = check.feature.and_then(|f| estimate.feature_name(f));
        Self {
            check: check.kind.word(),
            title: check.kind.title(),
            pad: feature.filter(|_| matches!(check.feature, Some(Feature::Pad(_)))),
            feature,
            pointer: check.feature.map_or_else(|| "/machine".into(), Feature::pointer),
            verdict: check.verdict.into(),
            chance: out(check.chance),
            unit: check.quantity.unit,
            bound: check.bound.word(),
            needed: edge(check.needed),
            predicted: edge(check.predicted),
            standard_uncertainty: out(check.quantity.width_from_si(check.standard_uncertainty)),
            interval_95: [edge(check.interval_95.0), edge(check.interval_95.1)],
            sentence: check.sentence(),
            shares: with_shares.then(|| check.shares.iter().map(|s| ShareAnswer::new(s, estimate)).collect()),
            measure: check.measure.map(|input| estimate.inputs[input].coupon()),
        }
    }
}

impl ShareAnswer {
    fn new(share: &Share, estimate: &Estimate) -> Self {
        let input = &estimate.inputs[share.input];
        Self { input: input.name(), pointer: input.pointer(), share: out(share.share), unmeasured: input.unmeasured() }
    }
}

impl<'a> PadAnswer<'a> {
    fn new(k: usize, pad: &'a model::PadResult, names: &[&'a str]) -> Self {
        let pf = |f: f64| out(units::CAPACITANCE.from_si(f));
        Self {
            name: &pad.name,
            pointer: format!("/pads/{k}"),
            verdict: pad.verdict.into(),
            chance: out(pad.chance),
            signal_pf: pf(pad.signal_f),
            standing_pf: pf(pad.standing_f),
            run_ohm: out(pad.run_ohm),
            parallel_rule_ohm: out(pad.parallel_ohm),
            transfer_length_mm: pad.transfer_length_m.map(|m| out(units::RUN_LENGTH.from_si(m))),
            pad_ohm: out(pad.pad_ohm),
            settling_percent: out(units::SETTLED.from_si(pad.settled_fraction)),
            pad_pf: pf(pad.pad_f),
            plate_pf: pf(pad.plate_f),
            fringe_pf: pf(pad.fringe_f),
            run_pf: pf(pad.run_f),
            finger_pf: pf(pad.finger_f),
            return_pf: pf(pad.return_f),
            run_thread_m: out(pad.run_thread_m),
            stitches: pad.stitches,
            method: pad.method,
            solved: pad.solved,
            relative_error: out(pad.relative_error),
            rows_error: out(pad.rows_error),
            closed_form_pf: pf(pad.closed_form_f),
            neighbour: pad.neighbour.map(|n| NeighbourAnswer { pad: names[n.pad], signal_pf: pf(n.signal_f) }),
        }
    }
}

impl<'a> CurveAnswer<'a> {
    fn new(pads: &[usize], points: &[model::ApproachPoint], names: &[&'a str]) -> Self {
        let pf = |f: f64| out(units::CAPACITANCE.from_si(f));
        let point = |p: &model::ApproachPoint| CurvePointAnswer {
            distance_mm: out(units::LAYER_THICKNESS.from_si(p.distance_m)),
            signal_pf: pf(p.signal_f),
            interval_95_pf: [pf(p.interval_95.0), pf(p.interval_95.1)],
        };
        Self { pad: names[pads[0]], same_for: pads[1..].iter().map(|k| names[*k]).collect(), points: points.iter().map(point).collect() }
    }
}

impl<'a> LayerAnswer<'a> {
    fn new(layer: &'a model::ResolvedLayer) -> Self {
        Self {
            name: &layer.name,
            library: layer.library,
            thickness_mm: out(units::LAYER_THICKNESS.from_si(layer.thickness_m)),
            relative_permittivity: out(layer.relative_permittivity),
        }
    }
}

impl InputAnswer {
    fn new(input: &model::Input) -> Option<Self> {
        let q = input.quantity;
        let (low, high) = input.measured.interval_95();
        Some(Self {
            pointer: input.pointer()?,
            name: input.name(),
            value: out(q.from_si(input.measured.value)),
            unit: q.unit,
            interval_95: [out(q.from_si(low)), out(q.from_si(high))],
            spread: input.measured.spread.word(),
            origin: input.origin.word(),
            source: input.source,
            status: input.status.word(),
        })
    }
}

impl ChangeAnswer {
    fn new(change: &model::Change) -> Self {
        Self {
            what: change.what,
            edits: change
                .edits
                .iter()
                .map(|e| {
                    let unit = match e.to {
                        model::EditValue::Number(_, quantity) => quantity.unit,
                        _ => "",
                    };
                    EditAnswer { pointer: e.pointer.clone(), from: WireValue(e.from), to: WireValue(e.to), unit }
                })
                .collect(),
            verdict: change.verdict.into(),
            chance: out(change.chance),
            sentence: change.sentence.clone(),
        }
    }
}

impl StepAnswer {
    fn new(step: &model::Step, estimate: &Estimate) -> Self {
        let feature = step.feature.and_then(|f| estimate.feature_name(f)).map(str::to_owned);
        Self {
            pad: feature.clone().filter(|_| matches!(step.feature, Some(Feature::Pad(_)))),
            feature,
            symbol: step.symbol,
            what: step.what,
            formula: step.formula,
            inputs: step
                .inputs
                .iter()
                .map(|i| StepInputAnswer { symbol: i.symbol, value: significant(i.value, WORKING_DIGITS), unit: i.unit })
                .collect(),
            result: significant(step.result, WORKING_DIGITS),
            unit: step.unit,
            source: step.source,
            note: step.note.clone(),
        }
    }
}

/// A library value on the wire.
#[derive(Serialize, ToSchema)]
pub struct KnownAnswer {
    /// Value.
    value: f64,
    /// Interval that holds it with a chance of 95 %.
    interval_95: [f64; 2],
    /// Kind of spread: exact, normal or uniform.
    spread: &'static str,
    /// Where it comes from.
    source: &'static str,
    /// standard, published, common practice or from memory.
    status: &'static str,
}

impl KnownAnswer {
    /// A library value in the unit of `quantity`.
    pub fn new(known: &model::materials::Known, quantity: &units::Quantity) -> Self {
        let edge = |si: f64| significant(quantity.from_si(si), 9);
        let (low, high) = known.measured.interval_95();
        Self {
            value: edge(known.measured.value),
            interval_95: [edge(low), edge(high)],
            spread: known.measured.spread.word(),
            source: known.source,
            status: known.status.word(),
        }
    }
}
