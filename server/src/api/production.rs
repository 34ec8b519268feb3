//! How a piece is to be made, and what that takes, on the wire.
//!
//! Money goes out as text with the decimals of its currency, because a reader's binary fraction would not be exact; it
//! comes in as a plain number and is taken as the decimal that it reads as.

use serde::{Deserialize, Serialize};
use toile_model::money::{Currency, Decimal};
use toile_model::production::{Item, Line};
use toile_model::{self as model, Cause, Costing, Job, LIBRARY, MOST_QUANTITIES, Production};
use utoipa::ToSchema;

use super::answer::out;
use super::rates::{Money, RatesAnswer, RatesGiven, shown};

/// How a piece is to be made. Everything may be left out.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProductionOrder {
    /// Heads that sew a series, no more than there are pieces; those of the shop's machine where nothing is given.
    #[schema(minimum = 1, maximum = 100)]
    heads: Option<u32>,
    /// Pieces that one frame holds; 1 where nothing is given.
    #[schema(minimum = 1, maximum = 1000)]
    pieces_per_frame: Option<u32>,
    /// Further quantities to price, beside that of the piece.
    #[schema(max_items = 20)]
    #[serde(default)]
    quantities: Vec<Pieces>,
    /// Currency of the price, a code after ISO 4217; the shop's where nothing is given.
    #[schema(min_length = 3, max_length = 3)]
    currency: Option<String>,
    /// What one unit of the shop's currency is worth in `currency`; needed where that is another one.
    #[schema(value_type = Option<f64>, minimum = 0.000_001, maximum = 1_000_000)]
    exchange_rate: Option<Money>,
    /// Stitches in plain thread that only decorate; 0 where nothing is given.
    #[schema(minimum = 0, maximum = 10_000_000)]
    decorative_stitches: Option<u32>,
    /// Boards placed by hand; 0 where nothing is given.
    #[schema(minimum = 0, maximum = 1000)]
    boards: Option<u32>,
    /// Whether each piece is laid into a jig; no where nothing is given.
    jig: Option<bool>,
    /// Cloth and whatever else comes to each piece, in `currency`.
    #[schema(value_type = Option<f64>, minimum = 0, maximum = 1_000_000)]
    material_per_piece: Option<Money>,
    /// Rates that are known better for this piece; its prices are in `currency`.
    rates: Option<RatesGiven>,
}

/// A number of pieces.
#[derive(Debug, Clone, Copy, Deserialize)]
pub struct Pieces(u32);

impl utoipa::PartialSchema for Pieces {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        use utoipa::openapi::schema::{ObjectBuilder, SchemaType, Type};
        let whole = ObjectBuilder::new().schema_type(SchemaType::Type(Type::Integer)).description(Some("A number of pieces."));
        whole.minimum(Some(1)).maximum(Some(10_000_000)).into()
    }
}

impl ToSchema for Pieces {}

// The limit in the schema above is a literal, because the schema macro takes no other; this holds it to the model.
const _: () = assert!(MOST_QUANTITIES == 20);

impl From<ProductionOrder> for model::Order {
    fn from(wire: ProductionOrder) -> Self {
        Self {
            heads: wire.heads,
            pieces_per_frame: wire.pieces_per_frame.unwrap_or(1),
            quantities: wire.quantities.into_iter().map(|pieces| pieces.0).collect(),
            currency: wire.currency,
            exchange_rate: wire.exchange_rate.map(|n| n.0),
            decorative_stitches: wire.decorative_stitches.unwrap_or(0),
            boards: wire.boards.unwrap_or(0),
            jig: wire.jig.unwrap_or(false),
            material_per_piece: wire.material_per_piece.map(|n| n.0),
            rates: wire.rates.unwrap_or_default().0,
        }
    }
}

/// What it takes to make a piece: stitches, thread, minutes and money.
#[derive(Serialize, ToSchema)]
pub struct ProductionAnswer<'a> {
    /// Price and time in plain sentences.
    sentence: String,
    /// Whose rates they are.
    shop: &'a str,
    /// Currency of all amounts, after ISO 4217.
    currency: &'static str,
    /// Stitches of one piece.
    stitches: f64,
    /// Cuts of the thread on one piece.
    trims: f64,
    /// Needles that are threaded.
    needles: f64,
    /// What is sewn, part by part.
    parts: Vec<PartAnswer<'a>>,
    /// Conductive threads of one piece.
    threads: Vec<ThreadUseAnswer<'a>>,
    /// Plain thread of one piece from needles.
    plain_needle_m: f64,
    /// 95 % interval of it.
    plain_needle_m_interval_95: [f64; 2],
    /// Plain thread of one piece from bobbins.
    plain_bobbin_m: f64,
    /// 95 % interval of it.
    plain_bobbin_m_interval_95: [f64; 2],
    /// Wire, tube or roving laid on one piece.
    laid_m: f64,
    /// One piece to look at, with its stitch file, on one head.
    sample: CostingAnswer,
    /// The quantity of the piece.
    series: CostingAnswer,
    /// Every quantity asked for, smallest first.
    price_breaks: Vec<PriceBreak>,
    /// What to know about it.
    notes: &'a [&'static str],
    /// Every rate that went in, with its source; only when asked for with `?inputs=true`.
    #[serde(skip_serializing_if = "Option::is_none")]
    assumptions: Option<RatesAnswer>,
}

/// Something that is sewn.
#[derive(Serialize, ToSchema)]
pub struct PartAnswer<'a> {
    /// What it is.
    what: &'a str,
    /// The feature it belongs to, its place in the piece.
    pointer: String,
    /// Stitches.
    stitches: f64,
    /// Thread from the needle.
    needle_m: f64,
    /// Thread from the bobbin.
    bobbin_m: f64,
}

/// What a piece takes of a conductive thread.
#[derive(Serialize, ToSchema)]
pub struct ThreadUseAnswer<'a> {
    /// Its name in the library, or that it is given by its numbers.
    thread: &'a str,
    /// Its entry in the library.
    library: Option<&'a str>,
    /// From the needle.
    needle_m: f64,
    /// 95 % interval of it.
    needle_m_interval_95: [f64; 2],
    /// From the bobbin.
    bobbin_m: f64,
    /// 95 % interval of it.
    bobbin_m_interval_95: [f64; 2],
}

/// Time and price of one quantity.
#[derive(Serialize, ToSchema)]
pub struct CostingAnswer {
    /// Good pieces.
    quantity: u32,
    /// Heads that sew them.
    heads: u32,
    /// Pieces made, rejects and tries included, on average.
    pieces_made: f64,
    /// Time of the machine for all of them.
    machine_minutes: f64,
    /// 95 % interval of it.
    machine_minutes_interval_95: [f64; 2],
    /// Time of the people at machine and bench.
    labour_minutes: f64,
    /// 95 % interval of it.
    labour_minutes_interval_95: [f64; 2],
    /// What the minutes go to.
    minutes: MinutesAnswer,
    /// Thread breaks to expect.
    thread_breaks: f64,
    /// Bobbins that run empty.
    empty_bobbins: f64,
    /// Mean speed over the threads of the piece; null where nothing is sewn.
    stitches_per_min: Option<f64>,
    /// Stops of one piece, as stitches that could have been sewn meanwhile.
    set_up_stitches: Option<f64>,
    /// Good pieces an hour while the machine runs: 60 x speed x heads / (stitches + set-up stitches), times the good ones
    /// among those made.
    pieces_per_hour: Option<f64>,
    /// Price of one piece.
    unit_price: String,
    /// 95 % interval of it.
    unit_price_interval_95: [String; 2],
    /// Unit price times quantity.
    total: String,
    /// 95 % interval of it.
    total_interval_95: [String; 2],
    /// The lines of the price; they sum to the total.
    lines: Vec<PriceLine>,
    /// What the spread of the price comes from, biggest first; only when asked for with `?inputs=true`.
    #[serde(skip_serializing_if = "Option::is_none")]
    shares: Option<Vec<PriceShare>>,
}

/// Minutes by what they go to, of the whole quantity.
#[derive(Serialize, ToSchema)]
pub struct MinutesAnswer {
    /// Setting up the programme, threading the needles: machine and people.
    set_up: f64,
    /// Sewing: machine.
    sewing: f64,
    /// Trims: machine.
    trims: f64,
    /// Changes of colour: machine.
    colour_changes: f64,
    /// Lights placed by the machine.
    lights: f64,
    /// Changes of bobbins: machine and people.
    bobbins: f64,
    /// Repairs of thread breaks: machine and people.
    thread_breaks: f64,
    /// Exchange of frames: machine and people.
    frames: f64,
    /// Hooping, beside the machine: people.
    hooping: f64,
    /// Terminals, patches, boards and the jig: people.
    bench: f64,
    /// Cutting tails, testing, packing: people.
    finishing: f64,
    /// Looking after the running machine: people.
    attendance: f64,
    /// Making the jig, once: people.
    jig_making: f64,
    /// Drawing the stitch file, once, with the sample.
    drawing: f64,
}

/// One line of a price.
#[derive(Serialize, ToSchema)]
pub struct PriceLine {
    /// What it is for.
    what: String,
    /// How much of it; null for margin and rounding.
    quantity: Option<String>,
    /// Unit of the quantity: h, m, or nothing for a count.
    unit: &'static str,
    /// Price of one.
    rate: Option<String>,
    /// Amount of the line.
    amount: String,
}

/// Part of the variance of a price.
#[derive(Serialize, ToSchema)]
pub struct PriceShare {
    /// What it comes from.
    what: &'static str,
    /// Its field in `rates`; null where it is none.
    field: Option<&'static str>,
    /// Part of the variance, 0 to 1.
    share: f64,
}

/// Price of one of several quantities.
#[derive(Serialize, ToSchema)]
pub struct PriceBreak {
    /// Good pieces.
    quantity: u32,
    /// Price of one.
    unit_price: String,
    /// 95 % interval of it.
    unit_price_interval_95: [String; 2],
    /// Unit price times quantity.
    total: String,
    /// Time of the machine for all of them.
    machine_minutes: f64,
    /// Time of the people for all of them.
    labour_minutes: f64,
}

impl<'a> ProductionAnswer<'a> {
    /// Puts a production on the wire; rates and shares where they were asked for.
    pub fn new(production: &'a Production, with_inputs: bool) -> Self {
        let job = &production.job;
        let currency = production.currency();
        Self {
            sentence: production.sentence(),
            shop: &production.rates.shop,
            currency: currency.code,
            stitches: out(job.stitches()),
            trims: out(job.work.trims),
            needles: out(job.work.needles),
            parts: production.parts.iter().map(PartAnswer::new).collect(),
            threads: job.threads.iter().map(ThreadUseAnswer::new).collect(),
            plain_needle_m: out(job.plain_needle_m.value),
            plain_needle_m_interval_95: job.plain_needle_m.interval_95().map(out),
            plain_bobbin_m: out(job.plain_bobbin_m.value),
            plain_bobbin_m_interval_95: job.plain_bobbin_m.interval_95().map(out),
            laid_m: out(job.laid_m.value),
            sample: CostingAnswer::new(&production.sample, production, with_inputs),
            series: CostingAnswer::new(production.costing(), production, with_inputs),
            price_breaks: production.series.iter().map(PriceBreak::new).collect(),
            notes: &production.notes,
            assumptions: with_inputs.then(|| RatesAnswer::new(&production.rates)),
        }
    }
}

impl<'a> PartAnswer<'a> {
    fn new(part: &'a model::Part) -> Self {
        Self {
            what: &part.what,
            pointer: part.feature.pointer(),
            stitches: out(part.stitches),
            needle_m: out(part.needle_m),
            bobbin_m: out(part.bobbin_m),
        }
    }
}

impl<'a> ThreadUseAnswer<'a> {
    fn new(thread: &'a model::ThreadUse) -> Self {
        let library = thread.library.as_deref();
        Self {
            thread: library.map_or("given by its numbers", |id| LIBRARY.thread(id).map_or(id, |entry| entry.name)),
            library,
            needle_m: out(thread.needle_m.value),
            needle_m_interval_95: thread.needle_m.interval_95().map(out),
            bobbin_m: out(thread.bobbin_m.value),
            bobbin_m_interval_95: thread.bobbin_m.interval_95().map(out),
        }
    }
}

fn minutes(s: f64) -> f64 {
    out(s / 60.0)
}

fn texts(ends: [Decimal; 2]) -> [String; 2] {
    ends.map(|end| end.to_string())
}

impl CostingAnswer {
    fn new(cost: &Costing, production: &Production, with_shares: bool) -> Self {
        let c = &cost.course;
        let output = cost.output(&production.job);
        Self {
            quantity: cost.terms.pieces,
            heads: cost.terms.heads,
            pieces_made: out(c.made),
            machine_minutes: minutes(cost.machine_s.0),
            machine_minutes_interval_95: cost.machine_s.1.map(minutes),
            labour_minutes: minutes(cost.labour_s.0),
            labour_minutes_interval_95: cost.labour_s.1.map(minutes),
            minutes: MinutesAnswer {
                set_up: minutes(c.set_up_s),
                sewing: minutes(c.sewing_s),
                trims: minutes(c.trims_s),
                colour_changes: minutes(c.colour_changes_s),
                lights: minutes(c.machine_parts_s),
                bobbins: minutes(c.bobbins_s),
                thread_breaks: minutes(c.breaks_s),
                frames: minutes(c.frames_s),
                hooping: minutes(c.hooping_s),
                bench: minutes(c.bench_s),
                finishing: minutes(c.finishing_s),
                attendance: minutes(c.attendance_s),
                jig_making: minutes(c.jig_making_s),
                drawing: minutes(c.design_s),
            },
            thread_breaks: out(c.breaks),
            empty_bobbins: out(c.empty_bobbins),
            stitches_per_min: output.map(|o| out(o.stitches_per_min)),
            set_up_stitches: output.map(|o| out(o.set_up_stitches)),
            pieces_per_hour: output.map(|o| out(o.pieces_per_hour)),
            unit_price: cost.quote.unit_price.to_string(),
            unit_price_interval_95: texts(cost.unit_interval),
            total: cost.quote.total.to_string(),
            total_interval_95: texts(cost.total_interval),
            lines: cost.quote.lines.iter().map(|line| PriceLine::new(line, &production.job, production.currency())).collect(),
            shares: with_shares.then(|| cost.shares.iter().map(|(cause, share)| PriceShare::new(*cause, *share)).collect()),
        }
    }
}

impl PriceLine {
    fn new(line: &Line, job: &Job, currency: &Currency) -> Self {
        let what = match line.item {
            Item::ConductiveThread(k) => {
                let id = job.threads.get(k).and_then(|thread| thread.library.as_deref());
                id.and_then(|id| LIBRARY.thread(id)).map_or(line.item.name(), |entry| entry.name).to_owned()
            }
            item => item.name().to_owned(),
        };
        Self {
            what,
            quantity: line.of.map(|(quantity, _)| quantity.to_string()),
            unit: line.item.unit(),
            rate: line.of.map(|(_, rate)| shown(rate, currency)),
            amount: line.amount.to_string(),
        }
    }
}

impl PriceShare {
    fn new(cause: Cause, share: f64) -> Self {
        let field = match cause {
            Cause::Rate(rate) => Some(rate.quantity().field),
            _ => None,
        };
        Self { what: cause.name(), field, share: out(share) }
    }
}

impl PriceBreak {
    fn new(cost: &Costing) -> Self {
        Self {
            quantity: cost.terms.pieces,
            unit_price: cost.quote.unit_price.to_string(),
            unit_price_interval_95: texts(cost.unit_interval),
            total: cost.quote.total.to_string(),
            machine_minutes: minutes(cost.machine_s.0),
            labour_minutes: minutes(cost.labour_s.0),
        }
    }
}
