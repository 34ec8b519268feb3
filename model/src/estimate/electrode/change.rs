//! What may be changed about electrodes that read. Nothing is proposed for one that stimulates: what is passed into a person is
//! not tuned by a search.

use super::assumed;
use super::piece::ElectrodeKind;
use crate::estimate::change::{Edit, EditValue, scale_shape, scaled};
use crate::estimate::{Check, Feature, Piece};
use crate::materials::Skin;
use crate::uncertainty::Measured;
use crate::units::{self, Quantity};

/// The electrodes that read among those that these checks belong to.
pub(in super::super) fn reading_electrodes<'c>(piece: &Piece, checks: impl Iterator<Item = &'c Check>) -> Vec<usize> {
    let mut found = Vec::new();
    for check in checks {
        if let Some(Feature::Electrode(k)) = check.feature
            && piece.electrodes[k].kind == ElectrodeKind::Reads
            && !found.contains(&k)
        {
            found.push(k);
        }
    }
    found
}

/// Scales the outlines.
pub(in super::super) fn grow_electrodes(piece: &mut Piece, which: &[usize], factor: f64, edits: &mut Vec<Edit>) {
    for &k in which {
        scale_shape(&mut piece.electrodes[k].shape, factor, &format!("/electrodes/{k}/shape"), edits);
    }
}

/// Scales the input resistance or the input capacitance of the amplifiers.
pub(in super::super) fn scale_input(piece: &mut Piece, which: &[usize], quantity: &'static Quantity, factor: f64, edits: &mut Vec<Edit>) {
    for &k in which {
        let amplifier = &mut piece.electrodes[k].amplifier;
        let (field, assumed) = if *quantity == units::INPUT_RESISTANCE {
            (&mut amplifier.input_ohm, assumed::INPUT_RESISTANCE.measured)
        } else {
            (&mut amplifier.input_f, assumed::INPUT_CAPACITANCE.measured)
        };
        let mut number: Measured = field.unwrap_or(assumed);
        scaled(&mut number, quantity, factor, format!("/electrodes/{k}/amplifier"), edits);
        *field = Some(number);
    }
}

/// Scales the tension of the band, or the pressure where no band is given.
pub(in super::super) fn scale_fit(piece: &mut Piece, which: &[usize], factor: f64, edits: &mut Vec<Edit>) {
    for &k in which {
        let fit = &mut piece.electrodes[k].fit;
        let parent = format!("/electrodes/{k}/fit");
        match &mut fit.tension_n {
            Some(tension) => scaled(tension, &units::TENSION, factor, parent, edits),
            None => {
                let mut pressure = fit.pressure_pa.unwrap_or(assumed::PRESSURE.measured);
                scaled(&mut pressure, &units::PRESSURE, factor, parent, edits);
                fit.pressure_pa = Some(pressure);
            }
        }
    }
}

/// Puts something wetter between thread and skin.
pub(in super::super) fn more_touching(piece: &mut Piece, which: &[usize], skin: Skin, edits: &mut Vec<Edit>) {
    let wetness = |skin: Skin| match skin {
        Skin::Dry => 0,
        Skin::Damp => 1,
        Skin::Gel => 2,
    };
    for &k in which {
        let now = &mut piece.electrodes[k].skin;
        if wetness(*now) < wetness(skin) {
            edits.push(Edit {
                pointer: format!("/electrodes/{k}/skin"),
                from: EditValue::Word(now.word()),
                to: EditValue::Word(skin.word()),
            });
            *now = skin;
        }
    }
}
