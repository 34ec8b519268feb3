//! The course of an order: what the machine and the people do, and for how long.

use super::Pace;
use crate::materials::{RATES, Rate};

/// What one piece takes.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Work {
    /// Stitches by [`Pace::number`].
    pub stitches: [f64; 3],
    /// Kinds of thread on needles, each in its own.
    pub needles: f64,
    /// Kinds of thread on the bobbin.
    pub bobbins: f64,
    /// Plain bobbin thread, m.
    pub plain_bobbin_m: f64,
    /// Conductive bobbin thread, m.
    pub conductive_bobbin_m: f64,
    /// Cuts of the thread.
    pub trims: f64,
    /// Parts that the machine places: lights.
    pub machine_parts: f64,
    /// Parts that are put on by hand: terminals, patches.
    pub hand_parts: f64,
    /// Boards, placed by hand.
    pub boards: f64,
    /// Whether each piece is laid into a jig.
    pub jig: bool,
}

/// How many are made, and how.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terms {
    /// Good pieces to hand over.
    pub pieces: u32,
    /// Heads that sew at once.
    pub heads: u32,
    /// Pieces that one frame holds.
    pub pieces_per_frame: u32,
    /// A first piece to look at: it is drawn and tried, and no jig is made for it.
    pub sample: bool,
}

/// What an order comes to. Times are those of the whole order, s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Course {
    /// Pieces made, those that do not become good ones too: a mean, so not a whole number.
    pub made: f64,
    /// Fillings of the machine, each with a frame on every head.
    pub fillings: f64,
    /// Thread breaks to expect.
    pub breaks: f64,
    /// Bobbins that run empty.
    pub empty_bobbins: f64,
    /// Setting up the programme, threading the needles.
    pub set_up_s: f64,
    /// Needles going up and down.
    pub sewing_s: f64,
    /// Cuts of the thread.
    pub trims_s: f64,
    /// Changes from one needle to the next.
    pub colour_changes_s: f64,
    /// Lights placed by the machine.
    pub machine_parts_s: f64,
    /// Changes of bobbins, empty ones and those of another kind of thread.
    pub bobbins_s: f64,
    /// Repairs of thread breaks.
    pub breaks_s: f64,
    /// Exchange of frames.
    pub frames_s: f64,
    /// Hooping, beside the machine.
    pub hooping_s: f64,
    /// Terminals, patches, boards and the jig, beside the machine.
    pub bench_s: f64,
    /// Cutting tails, testing, packing.
    pub finishing_s: f64,
    /// Looking after the running machine.
    pub attendance_s: f64,
    /// Making the jig, once.
    pub jig_making_s: f64,
    /// Drawing the stitch file, once, with the sample.
    pub design_s: f64,
}

impl Course {
    /// The machine's time, standing or running.
    pub fn machine_s(&self) -> f64 {
        self.set_up_s + self.running_s() + self.attended_stops_s()
    }

    /// The people's time, but for the drawing.
    pub fn labour_s(&self) -> f64 {
        let bench = self.hooping_s + self.bench_s + self.finishing_s + self.jig_making_s;
        self.set_up_s + self.attended_stops_s() + bench + self.attendance_s
    }

    /// Time in which the machine goes on by itself.
    fn running_s(&self) -> f64 {
        self.sewing_s + self.trims_s + self.colour_changes_s + self.machine_parts_s
    }

    /// Time in which it stands and somebody works on it.
    fn attended_stops_s(&self) -> f64 {
        self.bobbins_s + self.breaks_s + self.frames_s
    }
}

/// Times of an order.
///
/// - `work` of one piece, every number 0 or more and finite; at most some 1e11 stitches;
/// - `rates` by [`Rate`], SI, inside the ranges of their quantities;
/// - `terms` with 1 or more of everything;
/// - `luck`: how many standard deviations more thread breaks there are than expected; 0 for the mean. Breaks come by
///   chance, so their number scatters by its square root (Poisson).
///
/// A filling of the machine sews a frame on every head: it takes as long with one head idle as with all at work. What does
/// not fill the machine goes evenly over its heads. Heads stop together: a break or an empty bobbin on one stops all, and one person mends one after the other. Spare frames are
/// hooped while the machine sews. With several needles or several kinds of bobbin thread, the machine comes back to the
/// first for the next filling. A series repeats what does not become good; a sample is made one by one on one head.
/// Source: own bookkeeping around the trade's formula, see [`super::pieces_per_hour`]. Accuracy: exact for the stated
/// course; real shops differ, which is what the spreads of the rates are for. Errors: none.
///
/// Example: 10000 stitches at 800 a minute on one head with stops of 300 s a piece: 17.5 min a piece, 3.43 an hour.
pub fn course(work: &Work, rates: &[f64; RATES], terms: &Terms, luck: f64) -> Course {
    let rate = |rate: Rate| rates[rate as usize];
    let (pieces, heads, per_frame) = (f64::from(terms.pieces), f64::from(terms.heads), f64::from(terms.pieces_per_frame));
    let tries = if terms.sample { rate(Rate::SampleTries) } else { 1.0 / rate(Rate::Yield) };
    let made = pieces * tries;
    // Full fillings of the machine; what is left goes evenly over the heads.
    let full = (pieces / (heads * per_frame)).floor();
    let rest = pieces - full * heads * per_frame;
    let fillings = (full + rest.min(1.0)) * tries;
    // How often one piece after the other is sewn, on all heads at once.
    let turns = (full * per_frame + (rest / heads).ceil()) * tries;
    let frames = (full * heads + rest.min(heads)) * tries;
    let speeds = [Rate::PlainSpeed, Rate::ConductiveSpeed, Rate::LaidSpeed];
    let sewn_s: f64 = Pace::ALL.iter().map(|pace| work.stitches[pace.number()] / rate(speeds[pace.number()])).sum();
    // Laid wires are held by a thread that breaks as conductive thread does, being led over something hard.
    let between = [Rate::PlainBreak, Rate::ConductiveBreak, Rate::ConductiveBreak];
    let expected: f64 = made * Pace::ALL.iter().map(|pace| work.stitches[pace.number()] / rate(between[pace.number()])).sum::<f64>();
    let breaks = expected + luck * expected.sqrt();
    let taken = 1.0 + rate(Rate::ThreadAllowance);
    let empty_bobbins =
        made * taken * (work.plain_bobbin_m / rate(Rate::PlainBobbin) + work.conductive_bobbin_m / rate(Rate::ConductiveBobbin));
    let round = |kinds: f64| if kinds > 1.0 { kinds } else { 0.0 };
    let series = if terms.sample { 0.0 } else { 1.0 };
    let jig = f64::from(u8::from(work.jig));
    let running_s_of = |of_piece: f64| turns * of_piece;
    let mut course = Course {
        made,
        fillings,
        breaks,
        empty_bobbins,
        set_up_s: rate(Rate::SetUp) + rate(Rate::Threading) * work.needles * heads,
        sewing_s: running_s_of(sewn_s),
        trims_s: running_s_of(work.trims * rate(Rate::Trim)),
        colour_changes_s: fillings * round(work.needles) * rate(Rate::ColourChange),
        machine_parts_s: running_s_of(work.machine_parts * rate(Rate::MachinePart)),
        bobbins_s: (empty_bobbins + frames * round(work.bobbins)) * rate(Rate::BobbinChange),
        breaks_s: breaks * rate(Rate::BreakRepair),
        frames_s: frames * rate(Rate::FrameExchange),
        hooping_s: frames * rate(Rate::Hooping),
        bench_s: made * (work.hand_parts * rate(Rate::HandPart) + work.boards * rate(Rate::Board) + jig * rate(Rate::Jig)),
        finishing_s: made * rate(Rate::Finishing),
        attendance_s: 0.0,
        jig_making_s: series * jig * rate(Rate::JigMaking),
        design_s: (1.0 - series) * rate(Rate::Design),
    };
    course.attendance_s = rate(Rate::Attendance) * course.running_s();
    course
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::production::pieces_per_hour;

    /// Rates of nothing but speed: 800 stitches a minute, no stops, no rejects.
    fn bare() -> [f64; RATES] {
        let mut rates = [0.0; RATES];
        for rate in [Rate::PlainSpeed, Rate::ConductiveSpeed, Rate::LaidSpeed] {
            rates[rate as usize] = 800.0 / 60.0;
        }
        for rate in [Rate::Yield, Rate::SampleTries, Rate::PlainBobbin, Rate::ConductiveBobbin] {
            rates[rate as usize] = 1.0;
        }
        rates[Rate::PlainBreak as usize] = f64::INFINITY;
        rates[Rate::ConductiveBreak as usize] = f64::INFINITY;
        rates
    }

    const SERIES: Terms = Terms { pieces: 12, heads: 1, pieces_per_frame: 1, sample: false };

    #[test]
    fn stops_of_four_thousand_stitches_give_the_articles_output() {
        let mut rates = bare();
        // 4000 stitches at 800 a minute are 300 s: two trims of 20 s, two needles of 15 s each, the rest for the frame.
        rates[Rate::Trim as usize] = 20.0;
        rates[Rate::ColourChange as usize] = 15.0;
        rates[Rate::FrameExchange as usize] = 230.0;
        let work = Work { stitches: [4000.0, 5000.0, 1000.0], needles: 2.0, bobbins: 1.0, trims: 2.0, ..Work::default() };
        let one = course(&work, &rates, &SERIES, 0.0);
        assert!((one.machine_s() - 12.0 * 1050.0).abs() < 1e-9);
        let an_hour = 3600.0 * one.made / one.machine_s();
        assert!((an_hour - pieces_per_hour(800.0, 1.0, 10_000.0, 4000.0)).abs() < 1e-12, "{an_hour}");
        assert!((an_hour - 3.43).abs() < 0.005);
    }

    #[test]
    fn heads_share_the_sewing_and_stop_for_each_other() {
        let mut rates = bare();
        rates[Rate::ConductiveBreak as usize] = 10_000.0;
        rates[Rate::BreakRepair as usize] = 60.0;
        rates[Rate::FrameExchange as usize] = 20.0;
        let work = Work { stitches: [0.0, 8000.0, 0.0], needles: 1.0, bobbins: 1.0, ..Work::default() };
        let four = course(&work, &rates, &Terms { heads: 4, ..SERIES }, 0.0);
        assert_eq!(four.fillings, 3.0);
        assert!((four.breaks - 9.6).abs() < 1e-12);
        assert!((four.sewing_s - 3.0 * 600.0).abs() < 1e-9);
        // Every break stops all heads; every head has its frame exchanged.
        assert!((four.breaks_s - 576.0).abs() < 1e-9);
        assert!((four.frames_s - 240.0).abs() < 1e-9);
        // One piece more fills the machine once more.
        let thirteen = course(&work, &rates, &Terms { heads: 4, pieces: 13, ..SERIES }, 0.0);
        assert_eq!(thirteen.fillings, 4.0);
        // Chance: one standard deviation more breaks.
        let unlucky = course(&work, &rates, &Terms { heads: 4, ..SERIES }, 1.0);
        assert!((unlucky.breaks - 9.6 - 9.6f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn frames_of_several_pieces_are_filled_before_the_machine_is_filled_again() {
        let mut rates = bare();
        rates[Rate::FrameExchange as usize] = 1.0;
        let work = Work { stitches: [800.0, 0.0, 0.0], needles: 1.0, bobbins: 1.0, ..Work::default() };
        // On 4 heads with frames of 5: 23 pieces are one filling of 20, and one with a single piece on each of 3 heads.
        let minutes_and_frames = |pieces| {
            let of = course(&work, &rates, &Terms { pieces, heads: 4, pieces_per_frame: 5, sample: false }, 0.0);
            (of.fillings, of.sewing_s / 60.0, of.frames_s)
        };
        assert_eq!(minutes_and_frames(23), (2.0, 6.0, 7.0));
        assert_eq!(minutes_and_frames(20), (1.0, 5.0, 4.0));
        assert_eq!(minutes_and_frames(1), (1.0, 1.0, 1.0));
        // 6 pieces: two heads sew two each, two sew one.
        assert_eq!(minutes_and_frames(6), (1.0, 2.0, 4.0));
    }

    #[test]
    fn a_sample_is_drawn_and_tried_and_needs_no_jig() {
        let mut rates = bare();
        rates[Rate::SampleTries as usize] = 2.0;
        rates[Rate::Design as usize] = 3600.0;
        rates[Rate::JigMaking as usize] = 1800.0;
        rates[Rate::Finishing as usize] = 100.0;
        let work = Work { stitches: [800.0, 0.0, 0.0], needles: 1.0, bobbins: 1.0, jig: true, ..Work::default() };
        let sample = course(&work, &rates, &Terms { pieces: 1, sample: true, ..SERIES }, 0.0);
        assert_eq!((sample.made, sample.design_s, sample.jig_making_s, sample.finishing_s), (2.0, 3600.0, 0.0, 200.0));
        let series = course(&work, &rates, &SERIES, 0.0);
        assert_eq!((series.design_s, series.jig_making_s), (0.0, 1800.0));
    }

    #[test]
    fn people_work_where_the_machine_stands_and_a_share_of_where_it_runs() {
        let mut rates = bare();
        rates[Rate::Attendance as usize] = 0.25;
        rates[Rate::Hooping as usize] = 60.0;
        rates[Rate::FrameExchange as usize] = 30.0;
        rates[Rate::SetUp as usize] = 600.0;
        rates[Rate::Threading as usize] = 120.0;
        let work = Work { stitches: [8000.0, 0.0, 0.0], needles: 1.0, bobbins: 1.0, ..Work::default() };
        let one = course(&work, &rates, &SERIES, 0.0);
        assert!((one.machine_s() - (720.0 + 12.0 * 630.0)).abs() < 1e-9);
        assert!((one.labour_s() - (720.0 + 12.0 * (30.0 + 60.0 + 150.0))).abs() < 1e-9);
    }

    #[test]
    fn two_kinds_of_bobbin_thread_are_changed_on_every_head() {
        let mut rates = bare();
        rates[Rate::BobbinChange as usize] = 45.0;
        rates[Rate::PlainBobbin as usize] = 80.0;
        rates[Rate::ThreadAllowance as usize] = 0.25;
        let work = Work { stitches: [800.0, 0.0, 0.0], needles: 1.0, bobbins: 1.0, plain_bobbin_m: 3.2, ..Work::default() };
        let plain = course(&work, &rates, &Terms { heads: 4, ..SERIES }, 0.0);
        // 12 pieces of 4 m each empty 0.6 bobbins.
        assert!((plain.empty_bobbins - 0.6).abs() < 1e-12);
        let mixed = course(&Work { bobbins: 2.0, ..work }, &rates, &Terms { heads: 4, ..SERIES }, 0.0);
        assert!((mixed.bobbins_s - plain.bobbins_s - 3.0 * 4.0 * 2.0 * 45.0).abs() < 1e-9);
    }
}
