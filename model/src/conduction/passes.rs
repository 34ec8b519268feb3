//! Passes side by side, whole or with one stitch broken.
//!
//! Gives the resistance (ohm) of several equal passes between two terminals, with all stitches whole or one cut; and the
//! table of single faults: which broken stitch hurts most, and what another pass buys.
//! Inputs: stitches 1 or more; resistances of a stitch above 0, ohm; contact at a penetration 0 or more, ohm; passes 1 or
//! more.
//! Assumptions: all passes meet at both ends of the run. `joined` passes share their holes, and each thread touches its
//! fellow of every other pass there through the same contact as top and bobbin thread; passes that are not joined meet at
//! the ends only.
//! Source: own. The whole passes beside a broken one are alike, so that they act as one pass of their parallel
//! resistance; what is left is a ladder of four threads (two without a conductive bobbin), solved as a network.
//! Accuracy: 1e-12 in proportion; one pass by the network against [`TwoThread`]'s closed form: 1e-12.
//! Errors: `None` where the break leaves no way.
//! Example: two threads alone, not joined, one broken: the other carries everything, twice the resistance.

use super::network::{Eliminated, Network, Node};
use super::run::SewnPass;
use super::two_thread::{End, Strand, TwoThread};

/// Equal passes between the same two terminals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Passes {
    /// How many.
    pub passes: u32,
    /// Whether they touch at every penetration.
    pub joined: bool,
    /// Steps of one pass: its stitches, those over the same step counted once.
    pub stitches: u32,
    /// Top thread of one step, ohm.
    pub top_ohm: f64,
    /// Bobbin thread of one step, ohm; `None` for a plain one.
    pub bobbin_ohm: Option<f64>,
    /// Contact at one penetration, ohm.
    pub contact_ohm: f64,
    /// What the terminals touch.
    pub ends: [End; 2],
}

/// One broken stitch and what it does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SingleFault {
    /// The thread that is cut.
    pub strand: Strand,
    /// The stitch, counted from 0.
    pub stitch: u32,
    /// The run as it is laid, ohm; `None` where it is open.
    pub run_ohm: Option<f64>,
    /// The same with one pass only, ohm.
    pub one_pass_ohm: Option<f64>,
    /// The same with one pass more, ohm.
    pub one_more_ohm: Option<f64>,
}

/// Stitches that are tried one by one for the worst; longer runs are tried at as many places evenly spread.
const MOST_PLACES: u32 = 4096;

impl Passes {
    /// One pass from the resistance of its whole threads, ends on the top thread.
    pub(super) fn one(pass: &SewnPass, top_ohm: f64, bobbin_ohm: Option<f64>, contact_ohm: f64) -> Self {
        // With a conductive bobbin, strands over the same step lie in parallel and meet in every hole.
        let strands = if bobbin_ohm.is_some() { pass.strands.max(1) } else { 1 };
        let stitches = (pass.stitches / strands).max(1);
        let per_step = |ohm: f64| ohm / (f64::from(stitches) * f64::from(strands) * f64::from(strands));
        Self {
            passes: 1,
            joined: true,
            stitches,
            top_ohm: per_step(top_ohm),
            bobbin_ohm: bobbin_ohm.map(per_step),
            contact_ohm: contact_ohm / f64::from(strands),
            ends: [End::Top; 2],
        }
    }

    /// Both threads of one pass; `None` where the bobbin does not conduct.
    pub fn ladder(&self) -> Option<TwoThread> {
        let bobbin_ohm = self.bobbin_ohm?;
        Some(TwoThread { stitches: self.stitches, top_ohm: self.top_ohm, bobbin_ohm, contact_ohm: self.contact_ohm })
    }

    /// With all stitches whole, ohm.
    pub fn whole_ohm(&self) -> f64 {
        self.one_pass_ohm() / f64::from(self.passes)
    }

    /// With all stitches whole and perfect joints, ohm.
    pub fn parallel_ohm(&self) -> f64 {
        self.ladder().map_or_else(|| self.top_thread_ohm(), |ladder| ladder.parallel_ohm()) / f64::from(self.passes)
    }

    fn one_pass_ohm(&self) -> f64 {
        self.ladder().map_or_else(|| self.top_thread_ohm(), |ladder| ladder.resistance_ohm(self.ends[0], self.ends[1]))
    }

    fn top_thread_ohm(&self) -> f64 {
        f64::from(self.stitches) * self.top_ohm
    }

    /// With stitch `stitch` (from 0) of one thread of one pass cut, ohm; `None` where no way is left.
    pub fn broken_ohm(&self, stitch: u32, cut: Strand) -> Option<f64> {
        if self.passes > 1 && self.joined {
            let siemens = self.broken_network(stitch, cut).conductance();
            return (siemens > 0.0).then(|| 1.0 / siemens);
        }
        let broken = self.ladder().map(|ladder| ladder.broken_ohm(self.ends[0], self.ends[1], stitch, cut));
        let whole_siemens = f64::from(self.passes - 1) / self.one_pass_ohm();
        let siemens = whole_siemens + broken.map_or(0.0, |ohm| 1.0 / ohm);
        (siemens > 0.0).then(|| 1.0 / siemens)
    }

    /// Single faults, the one that hurts the run most first: for each conducting thread the worst stitch, the first, the
    /// one in the middle and the last.
    pub fn single_faults(&self) -> Vec<SingleFault> {
        let last = self.stitches - 1;
        let mut faults: Vec<SingleFault> = Vec::new();
        let bobbin = self.bobbin_ohm.map(|_| Strand::Bobbin);
        for strand in std::iter::once(Strand::Top).chain(bobbin) {
            for stitch in [self.worst_stitch(strand), 0, last / 2, last] {
                if !faults.iter().any(|f| f.strand == strand && f.stitch == stitch) {
                    faults.push(self.fault(stitch, strand));
                }
            }
        }
        let hurt = |f: &SingleFault| f.run_ohm.unwrap_or(f64::INFINITY);
        faults.sort_by(|a, b| hurt(b).total_cmp(&hurt(a)));
        faults
    }

    fn fault(&self, stitch: u32, strand: Strand) -> SingleFault {
        let with = |passes| Self { passes, ..*self }.broken_ohm(stitch, strand);
        SingleFault { strand, stitch, run_ohm: with(self.passes), one_pass_ohm: with(1), one_more_ohm: with(self.passes + 1) }
    }

    /// The stitch of one pass whose break leaves most resistance. Whole passes beside it only divide what it does.
    fn worst_stitch(&self, cut: Strand) -> u32 {
        let Some(ladder) = self.ladder() else { return 0 };
        let step = self.stitches.div_ceil(MOST_PLACES).max(1);
        let ohm = |stitch: u32| ladder.broken_ohm(self.ends[0], self.ends[1], stitch, cut);
        (0..self.stitches)
            .step_by(step as usize)
            .chain(std::iter::once(self.stitches - 1))
            .map(|stitch| (stitch, ohm(stitch)))
            // Of equal ones the first.
            .fold((0, 0.0), |worst, here| if here.1 > worst.1 * (1.0 + 1e-12) { here } else { worst })
            .0
    }

    /// The broken pass beside all others as one, penetration by penetration.
    fn broken_network(&self, stitch: u32, cut: Strand) -> Eliminated {
        let (network, _) = self.network(Some((stitch, cut)));
        network.eliminated()
    }

    /// The ladder as a network, and the node of a strand at a penetration: strands 0 and 1 are top and bobbin of one pass,
    /// 2 and 3 those of all others. Without a conductive bobbin strands 1 and 3 are not there; with one pass 2 and 3 are not.
    fn network(&self, cut: Option<(u32, Strand)>) -> (Network, impl Fn(usize, usize) -> Node + use<>) {
        let bobbin = usize::from(self.bobbin_ohm.is_some());
        let groups = if self.passes > 1 { 2 } else { 1 };
        let (across, ends, last) = ((1 + bobbin) * groups, self.ends, self.stitches as usize);
        let node = move |at: usize, strand: usize| {
            // A plain bobbin offers nothing to touch.
            let touched = |end| bobbin == 0 || end == End::Tied || (end == End::Top) == strand.is_multiple_of(2);
            match at {
                0 if touched(ends[0]) => Node::Source,
                k if k == last && touched(ends[1]) => Node::Sink,
                k => Node::Inner(k * across + (strand / 2) * (1 + bobbin) + if bobbin == 1 { strand % 2 } else { 0 }),
            }
        };
        let mut network = Network::new((last + 1) * across, across);
        let others = f64::from(self.passes.max(2) - 1);
        for at in 0..=last {
            for group in 0..groups {
                let (top, below) = (2 * group, 2 * group + 1);
                let weight = if group == 0 { 1.0 } else { others };
                let whole = |strand| group == 1 || cut != Some((at as u32, strand));
                if at < last {
                    if whole(Strand::Top) {
                        network.join(node(at, top), node(at + 1, top), weight / self.top_ohm);
                    }
                    if let Some(ohm) = self.bobbin_ohm.filter(|_| whole(Strand::Bobbin)) {
                        network.join(node(at, below), node(at + 1, below), weight / ohm);
                    }
                }
                if bobbin == 1 {
                    network.join(node(at, top), node(at, below), weight / self.least_contact_ohm());
                }
            }
            if groups == 2 && self.joined {
                for strand in 0..=bobbin {
                    network.join(node(at, strand), node(at, strand + 2), others / self.least_contact_ohm());
                }
            }
        }
        (network, node)
    }

    /// A contact of nothing would be a conductance without end: a millionth of a millionth of a stitch is as good.
    fn least_contact_ohm(&self) -> f64 {
        self.contact_ohm.max(1e-12 * self.top_ohm)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RUN: Passes = Passes {
        passes: 1,
        joined: true,
        stitches: 40,
        top_ohm: 0.7,
        bobbin_ohm: Some(1.9),
        contact_ohm: 3.0,
        ends: [End::Top, End::Bobbin],
    };

    #[test]
    fn the_network_is_the_closed_form() {
        for first in [End::Top, End::Bobbin, End::Tied] {
            for last in [End::Top, End::Bobbin, End::Tied] {
                for contact_ohm in [1e-6, 0.02, 3.0, 900.0, 1e7] {
                    let run = Passes { ends: [first, last], contact_ohm, ..RUN };
                    let banded = 1.0 / run.network(None).0.eliminated().conductance();
                    let closed = run.whole_ohm();
                    assert!((banded / closed - 1.0).abs() < 1e-12, "{first:?} {last:?} {contact_ohm}: {banded} {closed}");
                    for cut in [Strand::Top, Strand::Bobbin] {
                        for stitch in [0, 1, 17, 39] {
                            let banded = 1.0 / run.network(Some((stitch, cut))).0.eliminated().conductance();
                            let closed = run.broken_ohm(stitch, cut).expect("a way");
                            assert!((banded / closed - 1.0).abs() < 1e-12, "{first:?} {last:?} {contact_ohm} {stitch} {cut:?}");
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn currents_add_up_and_power_is_kept() {
        let run = Passes { passes: 3, ..RUN };
        let (network, node) = run.network(Some((11, Strand::Top)));
        let solved = network.clone().eliminated();
        let inner = solved.potentials();
        let volt = |n: Node| match n {
            Node::Source => 1.0,
            Node::Sink => 0.0,
            Node::Inner(k) => inner[k],
        };
        let mut into = vec![0.0; inner.len()];
        let mut power = 0.0;
        let mut count = |a: Node, b: Node, siemens: f64| {
            let ampere = siemens * (volt(a) - volt(b));
            power += ampere * (volt(a) - volt(b));
            for (n, sign) in [(a, -1.0), (b, 1.0)] {
                if let Node::Inner(k) = n {
                    into[k] += sign * ampere;
                }
            }
        };
        for at in 0..=40 {
            for strand in 0..4 {
                let weight = if strand > 1 { 2.0 } else { 1.0 };
                let ohm = if strand % 2 == 0 { 0.7 } else { 1.9 };
                if at < 40 && !(at == 11 && strand == 0) {
                    count(node(at, strand), node(at + 1, strand), weight / ohm);
                }
                if strand % 2 == 0 {
                    count(node(at, strand), node(at, strand + 1), weight / 3.0);
                }
                if strand < 2 {
                    count(node(at, strand), node(at, strand + 2), 2.0 / 3.0);
                }
            }
        }
        let fed = solved.conductance();
        // Potentials carry 1e-16 of a volt, and 1 V across 40 stitches drives some 40 times the current through one.
        assert!(into.iter().all(|i| i.abs() < 1e-12 * fed), "{into:?}");
        assert!((power / fed - 1.0).abs() < 1e-12, "{power} W from {fed} W");
    }

    #[test]
    fn a_break_hurts_less_with_company() {
        let alone = Passes { bobbin_ohm: None, ..RUN };
        let faults = alone.single_faults();
        assert!(faults.iter().all(|f| f.run_ohm.is_none() && f.one_pass_ohm.is_none()), "{faults:?}");
        let apart = Passes { passes: 2, joined: false, ..alone };
        assert!((apart.broken_ohm(5, Strand::Top).expect("the other pass") / 28.0 - 1.0).abs() < 1e-15);
        let together = Passes { passes: 2, ..alone };
        let (whole, broken) = (together.whole_ohm(), together.broken_ohm(5, Strand::Top).expect("a way"));
        assert!(whole < broken && broken < 28.0, "{whole} {broken}");
        // Around the break the current crosses over and back through the contacts: a few transfer lengths, not a pass.
        assert!(broken < 1.3 * whole, "{whole} {broken}");
    }

    #[test]
    fn the_worst_stitch_is_the_worst_of_all() {
        for ends in [[End::Top, End::Top], [End::Top, End::Bobbin], [End::Tied, End::Top]] {
            let run = Passes { ends, ..RUN };
            let faults = run.single_faults();
            let worst = faults[0].run_ohm.expect("a way");
            for cut in [Strand::Top, Strand::Bobbin] {
                for stitch in 0..40 {
                    let ohm = run.broken_ohm(stitch, cut).expect("a way");
                    assert!(ohm <= worst * (1.0 + 1e-11), "{ends:?} {cut:?} {stitch}: {ohm} over {worst}");
                }
            }
        }
    }
}
