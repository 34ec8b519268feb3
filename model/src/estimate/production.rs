//! What it takes to make a piece: stitches, metres of thread, minutes of machine and people, and money, for one sample and
//! for a series, each with its interval.
//!
//! [`Job`] sums up what is sewn on one piece; [`produce`] follows it through the shop at its [`Rates`] and prices it.
//! Times and prices carry the spreads of the rates, of the thread taken up, and of the chance by which thread breaks,
//! to first order. Prices themselves are exact decimals: the spread is a statement about them, not a part of them.
//!
//! Example: 10000 stitches of plain thread at 800 a minute and stops of 5 min a piece: 3.43 pieces an hour on one head.

use smallvec::SmallVec;

use super::order::{Order, beyond_counting};
use super::{Faults, Feature, Piece, Spool, Stitched, ThreadChoice};
use crate::materials::{Library, Price, RATES, Rate, Rates};
use crate::money::{Currency, Decimal, decimal_to, nearly};
use crate::production::{Asked, Course, Item, Quote, Terms, Work, course, pieces_per_hour, quote};
use crate::uncertainty::{Linear, Measured, Share, propagate_inputs};
use crate::units::{COVERAGE_95, short};

/// Thread that plain embroidery takes, m a stitch: from the needle, and from the bobbin. Rules of thumb of the trade.
const DECORATIVE_NEEDLE_M: f64 = 5e-3;
const DECORATIVE_BOBBIN_M: Measured = Measured::uniform(3.0e-3, 3.5e-3);

/// Shares of the variance below this are not listed.
const SMALLEST_SHARE: f64 = 0.01;

/// What is sewn on one piece, all in all.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Job {
    /// Stitches, cuts and parts.
    pub work: Work,
    /// Conductive threads, each once.
    pub threads: Vec<ThreadUse>,
    /// Plain thread from needles, m.
    pub plain_needle_m: Metres,
    /// Plain thread from bobbins, m.
    pub plain_bobbin_m: Metres,
    /// Wire, tube or roving, m.
    pub laid_m: Metres,
}

/// A length with its standard uncertainty, m.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Metres {
    /// Best estimate.
    pub value: f64,
    /// Standard uncertainty. What goes into a sum hangs on the same cloth and stitch, so these add up.
    pub standard_uncertainty: f64,
}

/// What a piece takes of a conductive thread.
#[derive(Debug, Clone, PartialEq)]
pub struct ThreadUse {
    /// Entry of the library.
    pub library: Option<String>,
    /// From the needle.
    pub needle_m: Metres,
    /// From the bobbin.
    pub bobbin_m: Metres,
}

/// What it takes to make a piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Production {
    /// What is sewn on one piece.
    pub job: Job,
    /// Part by part.
    pub parts: Vec<Part>,
    /// The rates as they hold for this piece.
    pub rates: Rates,
    /// One piece to look at.
    pub sample: Costing,
    /// The quantity of the piece, and the further ones asked for, smallest first.
    pub series: Vec<Costing>,
    /// The quantity of the piece, a number in `series`.
    pub asked: usize,
    /// What to know about it.
    pub notes: Vec<&'static str>,
}

/// Something that is sewn, for the list.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// What it is.
    pub what: String,
    /// The feature it belongs to.
    pub feature: Feature,
    /// Stitches.
    pub stitches: f64,
    /// Thread from the needle, m.
    pub needle_m: f64,
    /// Thread from the bobbin, m.
    pub bobbin_m: f64,
}

/// Time and price of one quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct Costing {
    /// How many, and how.
    pub terms: Terms,
    /// The course at the best estimates.
    pub course: Course,
    /// Time of the machine, s, with its 95 % interval.
    pub machine_s: (f64, [f64; 2]),
    /// Time of the people, s.
    pub labour_s: (f64, [f64; 2]),
    /// The price.
    pub quote: Quote,
    /// 95 % interval of the unit price, to the minor unit.
    pub unit_interval: [Decimal; 2],
    /// 95 % interval of the total.
    pub total_interval: [Decimal; 2],
    /// What the spread of the price comes from, biggest share of the variance first, those of 1 % and more.
    pub shares: Vec<(Cause, f64)>,
}

/// Where the spread of a price comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// A rate of the shop.
    Rate(Rate),
    /// How much of a conductive thread is taken up.
    Thread(usize),
    /// How much plain needle thread is.
    PlainNeedle,
    /// How much plain bobbin thread is.
    PlainBobbin,
    /// How much wire is laid.
    Laid,
    /// How many thread breaks chance brings.
    Breaks,
}

impl Metres {
    fn add(&mut self, more: &Measured) {
        self.value += more.value;
        self.standard_uncertainty += more.standard_uncertainty;
    }

    /// Both together.
    pub fn plus(&self, other: &Self) -> Self {
        Self { value: self.value + other.value, standard_uncertainty: self.standard_uncertainty + other.standard_uncertainty }
    }

    /// 95 % interval, not below zero.
    pub fn interval_95(&self) -> [f64; 2] {
        interval(self.value, self.standard_uncertainty)
    }
}

impl From<Measured> for Metres {
    fn from(measured: Measured) -> Self {
        Self { value: measured.value, standard_uncertainty: measured.standard_uncertainty }
    }
}

impl ThreadUse {
    /// From needle and bobbin together.
    pub fn all_m(&self) -> Metres {
        self.needle_m.plus(&self.bobbin_m)
    }
}

impl Cause {
    /// What a person calls it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rate(rate) => rate.quantity().name,
            Self::Thread(_) => "conductive thread taken up",
            Self::PlainNeedle => "plain needle thread taken up",
            Self::PlainBobbin => "plain bobbin thread taken up",
            Self::Laid => "length of laid wire",
            Self::Breaks => "chance of thread breaks",
        }
    }
}

impl Job {
    /// Sums up what is sewn on a piece, decoration and boards of `order` included.
    pub fn of(parts: &[Stitched<'_>], decorative_threads: u32, order: &Order) -> Self {
        let mut job = Self::default();
        let mut spools: SmallVec<[&ThreadChoice; 4]> = SmallVec::new();
        let (mut plain_needle, mut plain_bobbin, mut conductive_bobbins) = (false, false, SmallVec::<[usize; 4]>::new());
        for part in parts {
            job.work.stitches[part.pace.number()] += part.stitches;
            job.work.trims += f64::from(part.trims);
            job.work.machine_parts += f64::from(part.machine_parts);
            job.work.hand_parts += f64::from(part.hand_parts);
            job.laid_m.add(&part.laid_m);
            match part.needle {
                Spool::Conductive(thread) => {
                    let k = job.number_of(&mut spools, thread);
                    job.threads[k].needle_m.add(&part.top_m);
                }
                Spool::Plain => {
                    plain_needle = true;
                    job.plain_needle_m.add(&part.top_m);
                }
            }
            match part.bobbin {
                Spool::Conductive(thread) => {
                    let k = job.number_of(&mut spools, thread);
                    job.threads[k].bobbin_m.add(&part.bobbin_m);
                    if !conductive_bobbins.contains(&k) {
                        conductive_bobbins.push(k);
                    }
                }
                Spool::Plain => {
                    plain_bobbin = true;
                    job.plain_bobbin_m.add(&part.bobbin_m);
                }
            }
        }
        let decorative = f64::from(order.decorative_stitches);
        let colours = decorative_threads.max(u32::from(order.decorative_stitches > 0));
        if order.decorative_stitches > 0 {
            plain_bobbin = true;
            job.work.stitches[0] += decorative;
            job.work.trims += f64::from(colours);
            job.plain_needle_m.add(&Measured::exact(decorative * DECORATIVE_NEEDLE_M));
            job.plain_bobbin_m.add(&DECORATIVE_BOBBIN_M.rescaled(0.0, 1.0 / decorative));
        }
        let on_needles = job.threads.iter().filter(|thread| thread.needle_m.value > 0.0).count();
        job.work.needles = (on_needles + usize::from(plain_needle)) as f64 + f64::from(colours);
        job.work.bobbins = (conductive_bobbins.len() + usize::from(plain_bobbin)) as f64;
        job.work.boards = f64::from(order.boards);
        job.work.jig = order.jig;
        job
    }

    /// The number of a thread among those seen, a new one where it is not.
    fn number_of<'a>(&mut self, seen: &mut SmallVec<[&'a ThreadChoice; 4]>, thread: &'a ThreadChoice) -> usize {
        seen.iter().position(|known| *known == thread).unwrap_or_else(|| {
            seen.push(thread);
            let nothing = Metres::default();
            self.threads.push(ThreadUse { library: thread.library.clone(), needle_m: nothing, bobbin_m: nothing });
            seen.len() - 1
        })
    }

    /// Stitches of all paces.
    pub fn stitches(&self) -> f64 {
        self.work.stitches.iter().sum()
    }
}

/// What it takes to make a piece that `Piece::check` has accepted.
///
/// # Errors
/// A price with more digits than a decimal holds.
pub(super) fn production_of(piece: &Piece, library: &Library) -> Result<Production, Faults> {
    let parts = super::stitched(piece, library);
    let job = Job::of(&parts, piece.machine.decorative_threads, &piece.production);
    let listed = |part: Stitched<'_>| Part {
        what: part.what,
        feature: part.feature,
        stitches: part.stitches,
        needle_m: part.top_m.value,
        bobbin_m: part.bobbin_m.value,
    };
    let parts = parts.into_iter().map(listed).collect();
    let mut production = produce(job, &piece.production, piece.quantity, &library.rates)?;
    if piece.machine.decorative_threads > 0 && piece.production.decorative_stitches == 0 {
        production
            .notes
            .push("decorative threads are threaded up, but no decorative stitches are given: their time and thread are not counted");
    }
    Ok(Production { parts, ..production })
}

/// Follows a job through the shop and prices it; parts are left empty.
///
/// `order` must have been checked, and the job's numbers be 0 or more and finite.
///
/// # Errors
/// A price with more digits than a decimal holds.
pub fn produce(job: Job, order: &Order, quantity: u32, shop: &Rates) -> Result<Production, Faults> {
    let rates = order.rates(shop).ok_or_else(beyond_counting)?;
    let bench = Bench::new(&job, order, &rates);
    let heads = order.heads.unwrap_or(rates.heads);
    let mut quantities = order.quantities.clone();
    quantities.push(quantity);
    quantities.sort_unstable();
    quantities.dedup();
    let asked = quantities.iter().position(|q| *q == quantity).unwrap_or(0);
    let cost = |terms| bench.cost(terms).ok_or_else(beyond_counting);
    let sample = cost(Terms { pieces: 1, heads: 1, pieces_per_frame: 1, sample: true })?;
    // Heads without a piece are neither threaded nor paid for.
    let series = |pieces| cost(Terms { pieces, heads: heads.min(pieces), pieces_per_frame: order.pieces_per_frame, sample: false });
    let series = quantities.into_iter().map(series).collect::<Result<Vec<_>, _>>()?;
    let mut notes = vec!["an estimate, not an offer: without taxes and freight, and with the rates listed as assumptions"];
    if order.material_per_piece.is_none() {
        notes.push("cloth and boards that the customer brings are not in the price");
    }
    Ok(Production { job, parts: Vec::new(), rates, sample, series, asked, notes })
}

/// Everything that all quantities share: the rates and the job as numbers with spreads.
struct Bench<'a> {
    work: Work,
    rates: &'a Rates,
    /// Rates, then conductive threads (needle and bobbin), plain thread of needles and bobbins, laid wire, luck.
    values: SmallVec<[f64; 64]>,
    standard_uncertainties: SmallVec<[f64; 64]>,
    threads: usize,
    /// What is paid for, with its price of one.
    bill: Vec<(Item, Decimal)>,
    /// The same prices as binary fractions, for spreads.
    nearly: Vec<f64>,
    margin_percent: Decimal,
}

impl<'a> Bench<'a> {
    fn new(job: &Job, order: &Order, rates: &'a Rates) -> Self {
        let (mut values, mut standard_uncertainties) = (SmallVec::new(), SmallVec::new());
        let mut add = |value: f64, u: f64| {
            values.push(value);
            standard_uncertainties.push(u);
        };
        for rate in Rate::all() {
            let known = rates.rate(rate).measured;
            add(known.value, known.standard_uncertainty);
        }
        for thread in &job.threads {
            add(thread.needle_m.value, thread.needle_m.standard_uncertainty);
            add(thread.bobbin_m.value, thread.bobbin_m.standard_uncertainty);
        }
        for metres in [&job.plain_needle_m, &job.plain_bobbin_m, &job.laid_m] {
            add(metres.value, metres.standard_uncertainty);
        }
        add(0.0, 1.0);
        let price = |price| rates.price(price).amount;
        let mut bill =
            vec![(Item::Design, price(Price::Design)), (Item::Machine, price(Price::Machine)), (Item::Labour, price(Price::Labour))];
        bill.extend(job.threads.iter().enumerate().map(|(k, t)| (Item::ConductiveThread(k), rates.thread_price(t.library.as_deref()))));
        bill.extend([
            (Item::PlainThread, price(Price::PlainThread)),
            (Item::BobbinThread, price(Price::BobbinThread)),
            (Item::Laid, price(Price::Laid)),
            (Item::MachineParts, price(Price::MachinePart)),
            (Item::HandParts, price(Price::HandPart)),
            (Item::Boards, price(Price::Board)),
            (Item::Consumables, price(Price::Consumables)),
            (Item::Material, order.material_per_piece.unwrap_or_default()),
        ]);
        let nearly = bill.iter().map(|(_, price)| nearly(*price)).collect();
        Self {
            work: job.work,
            rates,
            values,
            standard_uncertainties,
            threads: job.threads.len(),
            bill,
            nearly,
            margin_percent: price(Price::Margin),
        }
    }

    /// The course of an order and how much of everything on the bill it takes.
    fn follow(&self, x: &[f64], terms: &Terms) -> (Course, SmallVec<[f64; 16]>) {
        let mut values = [0.0; RATES];
        values.copy_from_slice(&x[..RATES]);
        let (threads, rest) = x[RATES..].split_at(2 * self.threads);
        let (plain_needle_m, plain_bobbin_m, laid_m, luck) = (rest[0], rest[1], rest[2], rest[3]);
        let conductive_bobbin_m = threads.iter().skip(1).step_by(2).sum();
        let work = Work { plain_bobbin_m, conductive_bobbin_m, ..self.work };
        let course = course(&work, &values, terms, luck);
        let hours = |s: f64| s / 3600.0;
        let taken = course.made * (1.0 + values[Rate::ThreadAllowance as usize]);
        let mut quantities = SmallVec::new();
        let machine_hours = hours(course.machine_s()) * f64::from(terms.heads);
        quantities.extend([hours(course.design_s), machine_hours, hours(course.labour_s())]);
        quantities.extend(threads.chunks_exact(2).map(|t| (t[0] + t[1]) * taken));
        quantities.extend([plain_needle_m * taken, plain_bobbin_m * taken, laid_m * taken]);
        quantities.extend([work.machine_parts, work.hand_parts, work.boards, 1.0, 1.0].map(|each| each * course.made));
        (course, quantities)
    }

    fn cost(&self, terms: Terms) -> Option<Costing> {
        let margin = 1.0 / (1.0 - nearly(self.margin_percent) / 100.0);
        // The first question that is asked of the stage is the one at the best estimates.
        let mut best = None;
        let [machine_s, labour_s, price] = propagate_inputs(&self.values, &self.standard_uncertainties, |x| {
            let (course, quantities) = self.follow(x, &terms);
            let price: f64 = quantities.iter().zip(&self.nearly).map(|(quantity, rate)| quantity * rate).sum();
            let answer = [course.machine_s(), course.labour_s(), price * margin];
            if best.is_none() {
                best = Some((course, quantities));
            }
            answer
        });
        let (course, quantities) = best?;
        let asked: SmallVec<[Asked; 16]> =
            self.bill.iter().zip(quantities).map(|((item, rate), quantity)| Asked { item: *item, quantity, rate: *rate }).collect();
        let currency = self.rates.currency;
        let quote = quote(&asked, self.margin_percent, terms.pieces, currency)?;
        let half = COVERAGE_95 * price.standard_uncertainty();
        let around = |amount: Decimal, half: f64| {
            let half = decimal_to(half, currency.decimals)?;
            Some([amount.checked_sub(half)?.max(Decimal::ZERO), amount.checked_add(half)?].map(|end| currency.rounded(end)))
        };
        let unit_interval = around(quote.unit_price, half / f64::from(terms.pieces))?;
        let total_interval = around(quote.total, half)?;
        let with_interval = |time: &Linear| (time.value, interval(time.value, time.standard_uncertainty()));
        Some(Costing {
            terms,
            course,
            machine_s: with_interval(&machine_s),
            labour_s: with_interval(&labour_s),
            quote,
            unit_interval,
            total_interval,
            shares: price.shares(SMALLEST_SHARE).into_iter().map(|share| self.cause(share)).collect(),
        })
    }

    fn cause(&self, Share { input, share }: Share) -> (Cause, f64) {
        let rate = Rate::all().nth(input).map(Cause::Rate);
        let after = input.saturating_sub(RATES);
        let cause = rate.unwrap_or_else(|| match after.checked_sub(2 * self.threads) {
            None => Cause::Thread(after / 2),
            Some(0) => Cause::PlainNeedle,
            Some(1) => Cause::PlainBobbin,
            Some(2) => Cause::Laid,
            Some(_) => Cause::Breaks,
        });
        (cause, share)
    }
}

impl Costing {
    /// Good pieces an hour while the machine runs, by the trade's formula: its speed, its heads, the stitches of a piece,
    /// and the stops counted in stitches. `None` where nothing is sewn.
    pub fn output(&self, job: &Job) -> Option<Output> {
        let c = &self.course;
        let stitches = job.stitches();
        if stitches == 0.0 {
            return None;
        }
        // Time of one head for one piece made.
        let for_one = |s: f64| s * f64::from(self.terms.heads) / c.made;
        let per_min = 60.0 * stitches / for_one(c.sewing_s);
        let set_up_stitches = for_one(c.machine_s() - c.set_up_s - c.sewing_s) * per_min / 60.0;
        let made = pieces_per_hour(per_min, f64::from(self.terms.heads), stitches, set_up_stitches);
        let good = made * f64::from(self.terms.pieces) / c.made;
        Some(Output { stitches_per_min: per_min, set_up_stitches, pieces_per_hour: good })
    }
}

/// Output of the machine while it runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Output {
    /// Mean speed over the threads of the piece.
    pub stitches_per_min: f64,
    /// Stops of a piece, as stitches that could have been sewn meanwhile.
    pub set_up_stitches: f64,
    /// Good pieces an hour.
    pub pieces_per_hour: f64,
}

impl Production {
    /// Time and price of the quantity asked for.
    pub fn costing(&self) -> &Costing {
        &self.series[self.asked]
    }

    /// Price and time in plain sentences.
    pub fn sentence(&self) -> String {
        let code = self.rates.currency.code;
        let interval = |[low, high]: [Decimal; 2]| if low < high { format!(" ({low} to {high})") } else { String::new() };
        let (sample, series) = (&self.sample, self.costing());
        let Terms { pieces, heads, .. } = series.terms;
        format!(
            "A sample costs {} {code}{}. {} {} {} {code} each{}, {} {code} in all: {} h on {heads} {}.",
            sample.quote.unit_price,
            interval(sample.unit_interval),
            if pieces == 1 { "One more piece".to_owned() } else { format!("{pieces} pieces") },
            if pieces == 1 { "costs" } else { "cost" },
            series.quote.unit_price,
            interval(series.unit_interval),
            series.quote.total,
            short(series.machine_s.0 / 3600.0),
            if heads == 1 { "head" } else { "heads" },
        )
    }

    /// Currency of all prices.
    pub fn currency(&self) -> &'static Currency {
        self.rates.currency
    }
}

/// 95 % interval of what cannot be negative.
fn interval(value: f64, standard_uncertainty: f64) -> [f64; 2] {
    let half = COVERAGE_95 * standard_uncertainty;
    [(value - half).max(0.0), value + half]
}
