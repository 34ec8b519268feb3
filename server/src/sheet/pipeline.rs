//! Rows through several threads and out in order, in bounded memory.
//!
//! The calling thread reads, cuts the text into stretches of whole rows, hands them out in turn, and writes the
//! answers in the same turn. Each worker has its own pair of channels, so order needs no bookkeeping, and only so
//! many stretches are under way at a time: memory does not grow with the sheet.

use super::Limits;
use super::encoding::{Encoding, Text};
use super::fault::SheetFault;
use super::record::Marks;
use super::worker::{Plan, Tally, Worker};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::io::{Read, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread;

/// Text handed to a worker at a time: some five hundred rows, so that waiting costs little against working.
pub(super) const STRETCH: usize = 64 * 1024;
/// Stretches under way for each worker: one at work, one waiting, one done.
pub(super) const UNDER_WAY: usize = 3;

/// A stretch of whole rows on its way out, or its answer on its way back. The buffers go round.
#[derive(Default)]
struct Job {
    text: String,
    out: Vec<u8>,
    tally: Tally,
    /// Digest of all text down to the end of this stretch.
    digest: String,
    fault: Option<SheetFault>,
}

/// The rows below a header, as text in stretches of whole rows.
pub struct Rows<R> {
    text: Text<R>,
    /// Decoded but not handed out; begins with a row.
    pending: String,
    marks: Marks,
    most_row_bytes: usize,
    more: bool,
    /// A stretch of which rows have been handed out one by one, and how far.
    opened: (String, usize),
}

impl<R: Read> Rows<R> {
    pub(super) fn new(text: Text<R>, pending: String, marks: Marks, more: bool, limits: &Limits) -> Self {
        Self { text, pending, marks, most_row_bytes: limits.most_row_bytes, more, opened: Default::default() }
    }

    /// Encoding of the input as known so far.
    pub const fn encoding(&self) -> Encoding {
        self.text.encoding()
    }

    /// Whether bytes were met that the encoding does not know; each reads as U+FFFD.
    pub const fn damaged(&self) -> bool {
        self.text.damaged()
    }

    /// Puts the next `most` rows into `out`, or those that are left; how many there were, blank ones counted.
    ///
    /// # Errors
    /// [`SheetFault`] where the input cannot be read on; its row, if it has one, counts from the rows handed out before.
    pub fn take(&mut self, most: u64, out: &mut String) -> Result<u64, SheetFault> {
        self.take_within(most, usize::MAX, out)
    }

    /// As [`Rows::take`]; no further row is put in once there are `most_bytes` of text.
    ///
    /// # Errors
    /// As [`Rows::take`].
    pub fn take_within(&mut self, most: u64, most_bytes: usize, out: &mut String) -> Result<u64, SheetFault> {
        out.clear();
        let mut cells = Vec::new();
        let mut taken = 0;
        while taken < most && out.len() < most_bytes {
            if self.opened.1 == self.opened.0.len() {
                let mut stretch = std::mem::take(&mut self.opened.0);
                let any = self.next(&mut stretch);
                self.opened = (stretch, 0);
                match any {
                    Ok(true) => {}
                    Ok(false) => break,
                    Err(fault) => return Err(fault.later(taken)),
                }
            }
            let (stretch, at) = &mut self.opened;
            let next = self.marks.record(stretch, *at, &mut cells).next;
            out.push_str(&stretch[*at..next]);
            *at = next;
            taken += 1;
        }
        Ok(taken)
    }

    /// Puts the next stretch into `out`; false at the end of the sheet.
    fn next(&mut self, out: &mut String) -> Result<bool, SheetFault> {
        out.clear();
        let mut wanted = STRETCH;
        loop {
            if self.more {
                self.more = self.text.fill(&mut self.pending, wanted)?;
            }
            let window = self.pending.floor_char_boundary(wanted);
            let end = match self.marks.last_boundary(&self.pending[..window]) {
                Some(end) => end,
                None if !self.more && window == self.pending.len() => window,
                // Not even one row is whole: look further, as far as a row may go.
                None if window > self.most_row_bytes => return Err(self.too_long()),
                None => {
                    wanted = wanted.saturating_mul(2).min(self.most_row_bytes.saturating_add(4));
                    continue;
                }
            };
            out.push_str(&self.pending[..end]);
            self.pending.drain(..end);
            return Ok(end > 0);
        }
    }

    fn too_long(&self) -> SheetFault {
        let mut cells = Vec::new();
        self.marks.record(&self.pending, 0, &mut cells);
        if cells.last().is_some_and(|c| c.is_open(&self.pending)) {
            SheetFault::OpenQuote { row: 1 }
        } else {
            SheetFault::RowTooLong { row: 1, allowed: self.most_row_bytes }
        }
    }
}

/// How far the rows of a sheet have been answered. With the same head and the same rows, answering goes on from here as
/// if it had never stopped.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reached {
    /// Stretches that were answered and written.
    stretches: u64,
    /// Digest of their text, by which another sheet, or a changed one, is told.
    digest: String,
    /// What was done with them.
    pub tally: Tally,
}

impl Reached {
    /// The rows are about to begin: what was done down to the header.
    pub fn begun(tally: Tally) -> Self {
        Self { tally, ..Self::default() }
    }
}

/// Passes over the rows that were answered before; the digest of their text goes on from there.
fn pass_over<R: Read>(rows: &mut Rows<R>, reached: &Reached) -> Result<Sha256, SheetFault> {
    let mut digest = Sha256::new();
    let mut stretch = String::new();
    for _ in 0..reached.stretches {
        if !rows.next(&mut stretch)? {
            return Err(SheetFault::Changed);
        }
        digest.update(&stretch);
    }
    if reached.stretches > 0 && told(&digest) != reached.digest {
        return Err(SheetFault::Changed);
    }
    Ok(digest)
}

fn told(digest: &Sha256) -> String {
    digest.clone().finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Answers the rows of a sheet from where it was `reached`; `progress` is told after each stretch that is written, and
/// may look after the output or stop the work.
///
/// # Errors
/// [`SheetFault::Changed`] where these are not the rows that `reached` speaks of; else as for a whole sheet.
pub fn answer_rows<R: Read, W: Write>(
    plan: &Plan<'_>,
    rows: &mut Rows<R>,
    mut output: W,
    reached: Reached,
    mut progress: impl FnMut(&mut W, &Reached) -> Result<(), SheetFault>,
) -> Result<Tally, SheetFault> {
    let digest = pass_over(rows, &reached)?;
    let before = plan.head.rows();
    let over = AtomicBool::new(false);
    thread::scope(|scope| {
        let mut handles = Vec::new();
        // Work that waits is not begun once nobody wants it.
        let mut lanes: Vec<(SyncSender<Job>, Receiver<Job>)> = Vec::new();
        for _ in 0..plan.limits.workers.max(1) {
            let (to_worker, jobs) = sync_channel::<Job>(UNDER_WAY);
            let (done, from_worker) = sync_channel::<Job>(UNDER_WAY);
            let over = &over;
            handles.push(scope.spawn(move || run_worker(plan, &jobs, &done, over)));
            lanes.push((to_worker, from_worker));
        }
        let result = hand_round(plan, rows, &lanes, &mut output, (reached, digest, before), &mut progress);
        // Without their channels the workers end. One that fell over has been noticed by its silent channel.
        over.store(true, Ordering::Relaxed);
        drop(lanes);
        for handle in handles {
            let _ = handle.join();
        }
        result
    })
}

fn run_worker(plan: &Plan<'_>, jobs: &Receiver<Job>, done: &SyncSender<Job>, over: &AtomicBool) {
    let mut worker = Worker::new(plan);
    while let Ok(mut job) = jobs.recv() {
        if over.load(Ordering::Relaxed) {
            return;
        }
        job.out.clear();
        (job.tally, job.fault) = worker.answer(&job.text, &mut job.out);
        if done.send(job).is_err() {
            return;
        }
    }
}

fn hand_round<R: Read, W: Write>(
    plan: &Plan<'_>,
    rows: &mut Rows<R>,
    lanes: &[(SyncSender<Job>, Receiver<Job>)],
    output: &mut W,
    (mut reached, mut digest, before): (Reached, Sha256, u64),
    progress: &mut impl FnMut(&mut W, &Reached) -> Result<(), SheetFault>,
) -> Result<Tally, SheetFault> {
    let gone = |_| SheetFault::Internal;
    let most = lanes.len() * UNDER_WAY;
    let (mut handed, mut taken) = (0, 0);
    let mut spare = Vec::new();
    let mut at_end = false;
    // A fault in reading is told after the rows before it have been written, as one in a row is.
    let mut stopped = None;
    loop {
        while !at_end && handed - taken < most {
            let mut job: Job = spare.pop().unwrap_or_default();
            match rows.next(&mut job.text) {
                Ok(true) => {
                    digest.update(&job.text);
                    job.digest = told(&digest);
                    lanes[handed % lanes.len()].0.send(job).map_err(|_| SheetFault::Internal)?;
                    handed += 1;
                }
                Ok(false) => at_end = true,
                Err(fault) => {
                    at_end = true;
                    stopped = Some(fault);
                }
            }
        }
        if taken == handed {
            return stopped.map_or(Ok(reached.tally), |fault| Err(fault.later(before + reached.tally.records)));
        }
        let mut job = lanes[taken % lanes.len()].1.recv().map_err(gone)?;
        taken += 1;
        if let Some(allowed) = plan.limits.most_rows.filter(|most| reached.tally.rows + job.tally.rows > *most) {
            return Err(SheetFault::TooManyRows { allowed });
        }
        output.write_all(&job.out).map_err(SheetFault::Write)?;
        if let Some(fault) = job.fault {
            return Err(fault.later(before + reached.tally.records));
        }
        reached.tally.add(&job.tally);
        reached.stretches += 1;
        reached.digest = std::mem::take(&mut job.digest);
        progress(output, &reached)?;
        spare.push(Job { fault: None, ..job });
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Head, Limits};
    use super::*;
    use toile_model::LIBRARY;

    #[test]
    fn a_worker_that_falls_over_ends_the_work() {
        let limits = Limits::default();
        let (head, mut rows) = Head::read(&b"diameter_mm,base_1,thread,run_length_mm,controller\na\n"[..], &limits).unwrap();
        let plan = head.plan(&LIBRARY, &limits).unwrap();
        let (to_worker, jobs) = sync_channel::<Job>(UNDER_WAY);
        let (done, from_worker) = sync_channel::<Job>(UNDER_WAY);
        let lanes = [(to_worker, from_worker)];
        let result = thread::scope(|scope| {
            // It takes its job and never answers.
            scope.spawn(move || {
                let _ = jobs.recv();
                drop(done);
            });
            hand_round(&plan, &mut rows, &lanes, &mut Vec::new(), (Reached::default(), Sha256::new(), 0), &mut |_, _| Ok(()))
        });
        assert!(matches!(result, Err(SheetFault::Internal)), "{result:?}");
    }
}
