//! What may be changed about light rows.

use super::super::change::{Edit, EditValue, scaled};
use super::piece::LightRow;
use crate::estimate::{Bobbin, Check, Feature, Piece, ThreadChoice};
use crate::lights::Feed;
use crate::materials::Library;
use crate::uncertainty::Measured;
use crate::units::{self, Quantity};

/// The rows that these checks belong to.
pub(in super::super) fn rows_of<'c>(checks: impl Iterator<Item = &'c Check>) -> Vec<usize> {
    let mut found = Vec::new();
    for check in checks {
        if let Some(Feature::LightRow(k)) = check.feature
            && !found.contains(&k)
        {
            found.push(k);
        }
    }
    found
}

/// Scales one number of the rows, where they have it.
pub(in super::super) fn scale_row(piece: &mut Piece, which: &[usize], quantity: &'static Quantity, factor: f64, edits: &mut Vec<Edit>) {
    for &k in which {
        let row = &mut piece.light_rows[k];
        let at = |part: &str| format!("/light_rows/{k}{part}");
        let mut scale = |number: &mut Measured, part: &str| {
            if number.value > 0.0 {
                scaled(number, quantity, factor, at(part), edits);
            }
        };
        if *quantity == units::LIGHT_SERIES {
            scale(&mut row.series_ohm, "");
        } else if *quantity == units::PITCH {
            scale(&mut row.pitch_m, "");
        } else if *quantity == units::RUN_LENGTH {
            scale(&mut row.run.length_m, "/run");
        } else if *quantity == units::SUPPLY_VOLTAGE {
            scale(&mut row.supply.voltage_v, "/supply");
        } else if *quantity == units::CAPACITY
            && let Some(capacity) = &mut row.supply.capacity_c
        {
            scale(capacity, "/supply");
        }
    }
}

/// What may be chosen for a row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in super::super) enum RowChoice {
    /// So many passes more, of feed and return.
    Passes(u32),
    /// Another feed.
    Feed(Feed),
    /// Another thread.
    Thread(&'static str),
    /// The conductive thread on the bobbin too.
    Bobbin,
}

/// Applies a choice to the rows.
pub(in super::super) fn choose(piece: &mut Piece, which: &[usize], library: &Library, choice: RowChoice, edits: &mut Vec<Edit>) {
    for &k in which {
        apply(&mut piece.light_rows[k], library, k, choice, edits);
    }
}

fn apply(row: &mut LightRow, library: &Library, k: usize, choice: RowChoice, edits: &mut Vec<Edit>) {
    let mut edit = |field: &str, from, to| edits.push(Edit { pointer: format!("/light_rows/{k}/{field}"), from, to });
    match choice {
        RowChoice::Passes(more) => {
            edit("run/passes", EditValue::Count(row.run.passes), EditValue::Count(row.run.passes + more));
            row.run.passes += more;
            if let Some(passes) = &mut row.return_passes {
                edit("return_passes", EditValue::Count(*passes), EditValue::Count(*passes + more));
                *passes += more;
            }
        }
        // From same to opposite or both ends: a way to the last light is added along the row.
        RowChoice::Feed(feed) if feed != row.feed && feed != Feed::Same => {
            edit("feed", EditValue::Word(row.feed.word()), EditValue::Word(feed.word()));
            row.feed = feed;
        }
        RowChoice::Thread(id) => {
            let before = row.thread.library.as_deref().and_then(|old| library.thread(old));
            edit("thread", before.map_or(EditValue::Numbers, |t| EditValue::Entry(t.id)), EditValue::Entry(id));
            row.thread = ThreadChoice { library: Some(id.to_owned()), ..Default::default() };
        }
        RowChoice::Bobbin if row.run.bobbin == Bobbin::Plain => {
            edit("run/bobbin", EditValue::Word(Bobbin::Plain.word()), EditValue::Word(Bobbin::SameThread.word()));
            row.run.bobbin = Bobbin::SameThread;
        }
        RowChoice::Feed(_) | RowChoice::Bobbin => {}
    }
}
