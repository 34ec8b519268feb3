//! A serpentine row fill as a network of resistors.
//!
//! Gives the resistance (ohm) of rows of thread sewn to and fro between two terminals, and what delays the charging of a
//! pad that is filled so.
//! Inputs: rows 1 or more, stitches of a row 1 or more; resistance of one stitch and of one turn above 0, ohm; contact
//! between facing penetrations of neighbouring rows above 0, ohm, or infinite where rows do not touch.
//! Assumptions: all rows have equal stitches that face each other; a turn of one row pitch of the same thread joins
//! neighbouring rows at alternating ends; one contact at every station, the two ends included.
//! Source: own; nodal analysis, solved by elimination ([`super::network`]'s doc); definitions of table G4.
//! Accuracy: 1e-11 against table G4 (sparse solution, refined).
//! Errors: `None` where the network is too large to be solved at once ([`RowFill::is_small`]); see [`super::FillSheet`].
//! Example: 25 rows of 12 stitches of 2.9 mm, 1 mm apart, 75.6 ohm/m, contacts of 0.288 ohm, end to end: 0.981086174792 ohm.

use super::network::{Network, Node};

/// Rows of one thread, sewn to and fro.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowFill {
    /// Rows.
    pub rows: u32,
    /// Stitches of one row.
    pub stitches_per_row: u32,
    /// Thread of one stitch, ohm.
    pub stitch_ohm: f64,
    /// Thread of one turn, ohm.
    pub turn_ohm: f64,
    /// Contact between facing penetrations, ohm; infinite where rows do not touch.
    pub contact_ohm: f64,
}

/// Where current enters and leaves a fill.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FillTerminals {
    /// First and last penetration of the thread.
    Ends,
    /// Ideal bars over all ends of the rows, left and right.
    Bars,
    /// Ideal bars along the first and the last row.
    Rows,
}

/// The mean way from the start of the thread into the fill, ohm, and the parts of it that grow with the thread's
/// resistance and with the contacts'.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanWay {
    /// Lost in the thread.
    pub thread_ohm: f64,
    /// Lost in contacts between rows.
    pub contact_ohm: f64,
}

/// Multiplications that a network may cost: a tenth of a second.
const MOST_WORK: f64 = 1e9;

/// Conductances that a network may hold: 32 MB.
const MOST_KEPT: f64 = 4e6;

/// As that, for what is worked out once for every pad of an estimate.
const MOST_WORK_OF_A_PAD: f64 = 4e5;

impl RowFill {
    /// From start to end of the thread along itself, as if rows did not touch, ohm.
    pub fn thread_ohm(&self) -> f64 {
        f64::from(self.rows) * f64::from(self.stitches_per_row) * self.stitch_ohm + f64::from(self.rows - 1) * self.turn_ohm
    }

    /// Whether the network is solved within a tenth of a second or so.
    pub fn is_small(&self) -> bool {
        let (rows, stations) = (f64::from(self.rows), f64::from(self.stitches_per_row) + 1.0);
        self.work() <= MOST_WORK && rows * stations * rows.min(stations) <= MOST_KEPT
    }

    fn work(&self) -> f64 {
        let (rows, stations) = (f64::from(self.rows), f64::from(self.stitches_per_row) + 1.0);
        rows * stations * rows.min(stations).powi(2)
    }

    /// Between the terminals, ohm; `None` where the network is too large, or where nothing lies between the terminals.
    ///
    /// ```
    /// use toile_model::conduction::{FillTerminals, RowFill};
    /// let fill = RowFill { rows: 25, stitches_per_row: 12, stitch_ohm: 0.0029 * 75.6, turn_ohm: 0.001 * 75.6, contact_ohm: 0.288 };
    /// assert!((fill.resistance_ohm(FillTerminals::Ends).unwrap() - 0.981_086_174_792).abs() < 1e-11);
    /// ```
    pub fn resistance_ohm(&self, terminals: FillTerminals) -> Option<f64> {
        match terminals {
            // All rows carry the same: no current crosses between them, and the bars take the turns.
            FillTerminals::Bars => Some(f64::from(self.stitches_per_row) * self.stitch_ohm / f64::from(self.rows)),
            FillTerminals::Ends if self.contact_ohm == f64::INFINITY => Some(self.thread_ohm()),
            FillTerminals::Rows if self.rows < 2 => None,
            _ if !self.is_small() => None,
            _ => {
                let siemens = self.network(|row, station| self.terminal(terminals, row, station)).eliminated().conductance();
                (siemens > 0.0).then(|| 1.0 / siemens)
            }
        }
    }

    /// From the start of the thread to everywhere in the fill, which takes charge evenly: what delays its charging.
    ///
    /// Rows that do not touch are one line of its whole resistance, of which a third delays an even load. Others are
    /// solved as a network; of a large one several rows and stitches are taken together, without the turns, and the way
    /// from the start into the first of these blocks, (2/pi) ln(block) squares, is added. That is 5 to 9 % more than the
    /// whole network where neighbouring rows share their current over a few stitches, and up to half as much again in a
    /// narrow fill with poor contacts: the safe side.
    pub fn mean_way(&self) -> MeanWay {
        if self.contact_ohm == f64::INFINITY {
            return MeanWay { thread_ohm: self.thread_ohm() / 3.0, contact_ohm: 0.0 };
        }
        if self.work() <= MOST_WORK_OF_A_PAD {
            return self.mean_way_of_network();
        }
        let mut block = 2;
        let coarse = loop {
            let whole = |n: u32| n.div_ceil(block).max(1);
            let coarse = Self { rows: whole(self.rows), stitches_per_row: whole(self.stitches_per_row), turn_ohm: f64::INFINITY, ..*self };
            if coarse.work() <= MOST_WORK_OF_A_PAD {
                break coarse;
            }
            block += 1;
        };
        let inside = coarse.mean_way_of_network();
        // Blocks keep their sheet resistances; the start of the thread is a corner.
        let squares = f64::from(block).ln() * std::f64::consts::FRAC_2_PI * (self.stitch_ohm * self.contact_ohm).sqrt();
        let way = MeanWay { thread_ohm: inside.thread_ohm + 0.5 * squares, contact_ohm: inside.contact_ohm + 0.5 * squares };
        // Contacts only help: the thread alone is never better.
        let alone = self.thread_ohm() / 3.0;
        if way.thread_ohm + way.contact_ohm < alone { way } else { MeanWay { thread_ohm: alone, contact_ohm: 0.0 } }
    }

    fn mean_way_of_network(&self) -> MeanWay {
        let start = |row, station| (row == 0 && station == 0).then_some(Node::Sink);
        let network = self.network(start);
        let (rows, stations) = (self.rows as usize, self.stitches_per_row as usize + 1);
        let share = 1.0 / (rows * stations) as f64;
        let fed = vec![share; rows * stations];
        let volt = network.eliminated().potentials_fed(&fed);
        let at = |row, station| start(row, station).map_or_else(|| volt[self.number(row, station)], |_| 0.0);
        // Power lost at 1 A is the mean way, and its parts grow with their resistances.
        let (mut thread_ohm, mut contact_ohm) = (0.0, 0.0);
        for row in 0..rows {
            for station in 0..stations {
                let here: f64 = at(row, station);
                if station + 1 < stations {
                    thread_ohm += (here - at(row, station + 1)).powi(2) / self.stitch_ohm;
                }
                if row + 1 < rows {
                    let drop = (here - at(row + 1, station)).powi(2);
                    contact_ohm += drop / self.contact_ohm;
                    if station == self.turn_after(row) {
                        thread_ohm += drop / self.turn_ohm;
                    }
                }
            }
        }
        MeanWay { thread_ohm, contact_ohm }
    }

    /// The station at which the thread turns from `row` to the next.
    fn turn_after(&self, row: usize) -> usize {
        if row.is_multiple_of(2) { self.stitches_per_row as usize } else { 0 }
    }

    fn terminal(&self, terminals: FillTerminals, row: usize, station: usize) -> Option<Node> {
        let (last_row, last) = (self.rows as usize - 1, self.stitches_per_row as usize);
        let (source, sink) = match terminals {
            FillTerminals::Ends => (row == 0 && station == 0, row == last_row && station == self.turn_after(last_row)),
            FillTerminals::Bars => (station == 0, station == last),
            FillTerminals::Rows => (row == 0, row == last_row),
        };
        if source { Some(Node::Source) } else { sink.then_some(Node::Sink) }
    }

    /// Numbers run along the shorter side, so that joined nodes stay near.
    fn number(&self, row: usize, station: usize) -> usize {
        let (rows, stations) = (self.rows as usize, self.stitches_per_row as usize + 1);
        if stations <= rows { row * stations + station } else { station * rows + row }
    }

    fn network(&self, terminal: impl Fn(usize, usize) -> Option<Node>) -> Network {
        let (rows, stations) = (self.rows as usize, self.stitches_per_row as usize + 1);
        let node = |row, station| terminal(row, station).unwrap_or_else(|| Node::Inner(self.number(row, station)));
        let mut network = Network::new(rows * stations, rows.min(stations));
        for row in 0..rows {
            for station in 0..stations {
                if station + 1 < stations {
                    network.join(node(row, station), node(row, station + 1), 1.0 / self.stitch_ohm);
                }
                if row + 1 < rows {
                    let turn = if station == self.turn_after(row) { 1.0 / self.turn_ohm } else { 0.0 };
                    network.join(node(row, station), node(row + 1, station), 1.0 / self.contact_ohm + turn);
                }
            }
        }
        network
    }

    /// The network between two terminals with its elimination, for the tests of what currents must do.
    #[cfg(test)]
    fn solved(&self, terminals: FillTerminals) -> (super::network::Eliminated, Vec<Vec<f64>>) {
        let solved = self.network(|row, station| self.terminal(terminals, row, station)).eliminated();
        let inner = solved.potentials();
        let volt = |row, station| match self.terminal(terminals, row, station) {
            Some(Node::Source) => 1.0,
            Some(_) => 0.0,
            None => inner[self.number(row, station)],
        };
        let rows = (0..self.rows as usize).map(|row| (0..=self.stitches_per_row as usize).map(|s| volt(row, s)).collect()).collect();
        (solved, rows)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILL: RowFill = RowFill { rows: 9, stitches_per_row: 7, stitch_ohm: 0.4, turn_ohm: 0.11, contact_ohm: 2.5 };

    #[test]
    fn currents_add_up_and_power_is_kept() {
        for terminals in [FillTerminals::Ends, FillTerminals::Bars, FillTerminals::Rows] {
            let (solved, volt) = FILL.solved(terminals);
            let siemens = solved.conductance();
            let mut power = 0.0;
            for row in 0..9usize {
                for station in 0..8usize {
                    let here = volt[row][station];
                    let across = |other: usize| {
                        let turn = if station == FILL.turn_after(row.min(other)) { 1.0 / FILL.turn_ohm } else { 0.0 };
                        1.0 / FILL.contact_ohm + turn
                    };
                    let mut out = 0.0;
                    let mut flow = |other: f64, siemens: f64| {
                        out += siemens * (here - other);
                        power += 0.5 * siemens * (here - other).powi(2);
                    };
                    if station > 0 {
                        flow(volt[row][station - 1], 1.0 / FILL.stitch_ohm);
                    }
                    if station < 7 {
                        flow(volt[row][station + 1], 1.0 / FILL.stitch_ohm);
                    }
                    if row > 0 {
                        flow(volt[row - 1][station], across(row - 1));
                    }
                    if row < 8 {
                        flow(volt[row + 1][station], across(row + 1));
                    }
                    if FILL.terminal(terminals, row, station).is_none() {
                        assert!(out.abs() < 1e-12 * siemens, "{terminals:?} {row} {station}: {out} A of {siemens} A");
                    }
                }
            }
            assert!((power / siemens - 1.0).abs() < 1e-12, "{terminals:?}: {power} W of {siemens} W");
        }
    }

    #[test]
    fn the_mean_way_is_what_its_parts_lose() {
        let way = FILL.mean_way();
        // Grown together both parts grow alike; a contact grown alone moves the sum by its own part.
        let step = 1e-6;
        let moved = RowFill { contact_ohm: FILL.contact_ohm * (1.0 + step), ..FILL }.mean_way();
        let slope = (moved.thread_ohm + moved.contact_ohm - way.thread_ohm - way.contact_ohm) / step;
        assert!((slope / way.contact_ohm - 1.0).abs() < 1e-5, "{slope} {way:?}");
        // Rows that hardly touch are the line of the whole thread.
        let apart = RowFill { contact_ohm: 1e12, ..FILL }.mean_way();
        let line = RowFill { contact_ohm: f64::INFINITY, ..FILL }.mean_way();
        // 72 nodes in place of an even line: half a stitch at either end.
        assert!((apart.thread_ohm / line.thread_ohm - 1.0).abs() < 0.03, "{apart:?} {line:?}");
    }

    #[test]
    fn a_large_fill_in_blocks_is_a_little_above_the_whole_network() {
        for (rows, stitches_per_row, contact_ohm) in [(60, 40, 0.3), (40, 60, 3.0), (90, 30, 0.05), (40, 40, 0.4)] {
            let fill = RowFill { rows, stitches_per_row, contact_ohm, ..FILL };
            let (whole, blocks) = (fill.mean_way_of_network(), fill.mean_way());
            let (whole, blocks) = (whole.thread_ohm + whole.contact_ohm, blocks.thread_ohm + blocks.contact_ohm);
            assert!((1.0..1.1).contains(&(blocks / whole)), "{fill:?}: {whole} {blocks}");
        }
    }
}
