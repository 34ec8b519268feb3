//! Two threads joined at every penetration: the exact resistance of the ladder they make.
//!
//! Gives the resistance from end to end (ohm) of a seam whose top and bobbin thread both conduct and touch, through a
//! contact resistance, at every penetration, both ends included; the transfer length; and how far the rule "both threads
//! in parallel" is off.
//! Inputs: stitches 0 or more; resistance of one stitch of either thread above 0, ohm, take-up included; contact
//! resistance 0 or more, ohm.
//! Assumptions: all stitches alike; terminals touch one thread at the first and last penetration, or bond both.
//! Source: own solution of the difference equation u(k+1) - 2u(k) + u(k-1) = g (R1+R2) u(k) for the difference u of the
//! threads' potentials, cosh q = 1 + g (R1+R2)/2; for terminals on the top thread it is the closed form of the reference
//! table G3. That seams of two conductive threads need the contact in their model: J. Ind. Text. 2021, doi
//! 10.1177/15280837211049481 (abstract read).
//! Accuracy: 1e-12 against the table's 40-digit ladders, 12 digits; no cancellation, whatever the contact.
//! Errors: none.
//! Example: 4 stitches of 2.3 mm of 65.4 ohm/m above and below, contacts of 7.25 ohm: 0.573508882258 ohm.

/// A seam of two conductive threads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoThread {
    /// Stitches; one penetration more than that joins the threads.
    pub stitches: u32,
    /// Top thread of one stitch, ohm.
    pub top_ohm: f64,
    /// Bobbin thread of one stitch, ohm.
    pub bobbin_ohm: f64,
    /// Contact at one penetration, ohm.
    pub contact_ohm: f64,
}

/// What a terminal touches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The top thread.
    Top,
    /// The bobbin thread.
    Bobbin,
    /// Both, bonded to each other.
    Tied,
}

/// One of the threads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Strand {
    /// Top thread.
    Top,
    /// Bobbin thread.
    Bobbin,
}

impl TwoThread {
    /// From the terminal at the first penetration to that at the last, ohm.
    ///
    /// ```
    /// use toile_model::conduction::{End, TwoThread};
    /// let seam = TwoThread { stitches: 4, top_ohm: 0.0023 * 65.4, bobbin_ohm: 0.0023 * 65.4, contact_ohm: 7.25 };
    /// assert!((seam.resistance_ohm(End::Top, End::Top) - 0.573_508_882_258).abs() < 1e-12);
    /// ```
    pub fn resistance_ohm(&self, first: End, last: End) -> f64 {
        self.parallel_ohm() + self.ends_ohm(first, last)
    }

    /// Both threads in parallel, as if every penetration were a perfect joint, ohm.
    pub fn parallel_ohm(&self) -> f64 {
        let (r1, r2) = (self.top_ohm, self.bobbin_ohm);
        f64::from(self.stitches) * (r1 * (r2 / (r1 + r2)))
    }

    /// Stitches over which the threads share a current that enters one of them: the difference of their potentials
    /// falls to 1/e over this many, sqrt(contact/(R1 + R2)).
    pub fn transfer_stitches(&self) -> f64 {
        (self.contact_ohm / (self.top_ohm + self.bobbin_ohm)).sqrt()
    }

    /// How much more the seam resists, with both terminals on the top thread, than the rule "both threads in parallel"
    /// says, at the most, as a fraction: 2 (R1/R2) transfer length / length.
    ///
    /// The rule holds to x where the seam is longer than 2 (R1/R2)/x transfer lengths.
    /// Proof: the excess is 2 R1 (1-e^(-qN))/((1+e^(-q(N+1)))(e^q-1)) / (N R2), and e^q - 1 is at least
    /// 2 sinh(q/2) = sqrt(g (R1+R2)).
    pub fn parallel_rule_bound(&self) -> f64 {
        2.0 * (self.top_ohm / self.bobbin_ohm) * self.transfer_stitches() / f64::from(self.stitches)
    }

    /// The same with one stitch of one thread cut, counted from 0, ohm.
    ///
    /// At the cut the whole current runs in the other thread: what lies before and behind are seams of their own that
    /// end on that thread.
    pub fn broken_ohm(&self, first: End, last: End, stitch: u32, cut: Strand) -> f64 {
        let part = |stitches| Self { stitches, ..*self };
        let (through, ohm) = match cut {
            Strand::Top => (End::Bobbin, self.bobbin_ohm),
            Strand::Bobbin => (End::Top, self.top_ohm),
        };
        let behind = self.stitches.saturating_sub(stitch + 1);
        part(stitch).resistance_ohm(first, through) + ohm + part(behind).resistance_ohm(through, last)
    }

    /// What the ends add to the threads in parallel, ohm.
    fn ends_ohm(&self, first: End, last: End) -> f64 {
        let (r1, r2) = (self.top_ohm, self.bobbin_ohm);
        let sum = r1 + r2;
        if self.contact_ohm == 0.0 {
            return 0.0;
        }
        // cosh q = 1 + (R1 + R2)/(2 contact), by the half angle so that small q keep their digits.
        let q = 2.0 * (0.5 * (sum / self.contact_ohm).sqrt()).asinh();
        let n = f64::from(self.stitches);
        // 1 - e^(-qN) and 1 - e^(-q(N+1)) without cancellation.
        let (fall, fall_more) = (-(-q * n).exp_m1(), -(-q * (n + 1.0)).exp_m1());
        // What the terminal drives into the difference of the threads, as a multiple of the current.
        let driven = |end, sign: f64| match end {
            End::Top => Some(sign * r1),
            End::Bobbin => Some(-sign * r2),
            End::Tied => None,
        };
        let ends = match (driven(first, 1.0), driven(last, -1.0)) {
            (Some(a), Some(b)) => {
                let (even, odd) = (a + b, a - b);
                even * even * (2.0 - fall) / (2.0 * fall_more) + odd * odd * fall / (2.0 * (2.0 - fall_more))
            }
            (Some(a), None) | (None, Some(a)) => a * a * fall * (2.0 - fall) / (1.0 + (1.0 - fall) * (1.0 - fall_more)),
            (None, None) => 0.0,
        };
        ends / (q.exp_m1() * sum)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SEAM: TwoThread = TwoThread { stitches: 12, top_ohm: 0.7, bobbin_ohm: 1.9, contact_ohm: 3.0 };

    #[test]
    fn turned_round_it_resists_the_same() {
        for first in [End::Top, End::Bobbin, End::Tied] {
            for last in [End::Top, End::Bobbin, End::Tied] {
                let (there, back) = (SEAM.resistance_ohm(first, last), SEAM.resistance_ohm(last, first));
                assert!((there / back - 1.0).abs() < 1e-15, "{first:?} {last:?}: {there} {back}");
                for stitch in 0..12 {
                    let there = SEAM.broken_ohm(first, last, stitch, Strand::Top);
                    let back = SEAM.broken_ohm(last, first, 11 - stitch, Strand::Top);
                    assert!((there / back - 1.0).abs() < 1e-14, "{first:?} {last:?} {stitch}: {there} {back}");
                }
            }
        }
    }

    #[test]
    fn no_stitch_leaves_the_contact() {
        let nothing = TwoThread { stitches: 0, ..SEAM };
        assert!((nothing.resistance_ohm(End::Top, End::Bobbin) / 3.0 - 1.0).abs() < 1e-15);
        assert_eq!(nothing.resistance_ohm(End::Top, End::Top), 0.0);
        assert_eq!(nothing.resistance_ohm(End::Tied, End::Bobbin), 0.0);
    }

    #[test]
    fn perfect_and_missing_contacts_are_the_limits() {
        let with = |contact_ohm| TwoThread { contact_ohm, ..SEAM };
        assert_eq!(with(0.0).resistance_ohm(End::Top, End::Bobbin), SEAM.parallel_ohm());
        let near = with(1e-12).resistance_ohm(End::Top, End::Bobbin);
        assert!((near / SEAM.parallel_ohm() - 1.0).abs() < 1e-11, "{near}");
        let far = with(1e12).resistance_ohm(End::Top, End::Top);
        assert!((far / (12.0 * 0.7) - 1.0).abs() < 1e-10, "{far}");
        // Top to bobbin through 13 contacts in parallel; the threads add some 10 ohm.
        let far = with(1e12).resistance_ohm(End::Top, End::Bobbin);
        assert!((far / (1e12 / 13.0) - 1.0).abs() < 1e-9, "{far}");
    }
}
