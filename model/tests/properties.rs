//! What must hold for every piece in range.

use proptest::prelude::*;
use toile_model::electrostatics::Choice;
use toile_model::{
    Bobbin, Fill, GroundKind, LIBRARY, LayerChoice, Measured, Piece, Shape, Stitch, TouchCase, estimate, examples, smallest_changes,
    working,
};

use crate::reference::drawn;
use crate::tolerances::SLOPES;

fn spread(low: f64, high: f64) -> impl Strategy<Value = Measured> {
    (low..high, 0.0..0.2f64, 0..3).prop_map(|(value, width, kind)| match kind {
        0 => Measured::exact(value),
        1 => Measured::normal(value, width * value),
        _ => Measured::uniform(value * (1.0 - width / 2.0), value * (1.0 + width / 2.0)),
    })
}

fn layer() -> impl Strategy<Value = LayerChoice> {
    prop_oneof![
        (spread(0.05e-3, 15e-3), spread(1.2, 8.0)).prop_map(|(thickness, permittivity)| LayerChoice {
            library: None,
            thickness_m: Some(thickness),
            relative_permittivity: Some(permittivity),
            water_fraction: None,
        }),
        (0..LIBRARY.fabrics.len()).prop_map(|k| LayerChoice { library: Some(LIBRARY.fabrics[k].id.into()), ..Default::default() }),
    ]
}

fn shape() -> impl Strategy<Value = Shape> {
    prop_oneof![
        spread(3e-3, 120e-3).prop_map(|diameter_m| Shape::Round { diameter_m }),
        (spread(4e-3, 80e-3), spread(4e-3, 80e-3), 0.0..0.5f64).prop_map(|(width_m, length_m, round)| Shape::Rectangle {
            corner_radius_m: Measured::exact(0.99 * round * width_m.value.min(length_m.value)),
            width_m,
            length_m,
        }),
        (spread(10e-3, 100e-3), 0.1..0.9f64).prop_map(|(outer_diameter_m, hole)| Shape::Ring {
            inner_diameter_m: Measured::exact(hole * outer_diameter_m.value),
            outer_diameter_m,
        }),
        (5e-3..60e-3f64, 0.3..3.0f64).prop_map(|(size, stretch)| Shape::Polygon {
            points_m: vec![[0.0, 0.0], [size * stretch, 0.0], [size * stretch, size], [size * stretch / 3.0, size / 2.0], [0.0, size]],
            holes_m: Vec::new(),
        }),
    ]
}

fn stitch() -> impl Strategy<Value = Stitch> {
    prop_oneof![
        spread(1e-3, 7e-3).prop_map(|stitch_length_m| Stitch::Running { stitch_length_m }),
        spread(1e-3, 7e-3).prop_map(|stitch_length_m| Stitch::Back { stitch_length_m }),
        (spread(0.6e-3, 8e-3), spread(0.3e-3, 1e-3)).prop_map(|(column_width_m, density_m)| Stitch::Satin { column_width_m, density_m }),
    ]
}

prop_compose! {
    fn piece()(
        shape in shape(),
        base in prop::collection::vec(layer(), 1..4),
        overlay in prop::collection::vec(layer(), 0..3),
        ground in prop::sample::select(vec![GroundKind::Sheet, GroundKind::Metal, GroundKind::Body, GroundKind::None]),
        case in prop::sample::select(vec![TouchCase::Earthed, TouchCase::Battery, TouchCase::Worn]),
        thread in 0..LIBRARY.threads.len(),
        controller in 0..LIBRARY.controllers.len(),
        stitch in stitch(),
        length in spread(5e-3, 3.0),
        passes in 1..5u32,
        rows in prop::option::of(spread(0.3e-3, 3e-3)),
        same_thread in any::<bool>(),
    ) -> Piece {
        let mut piece = examples::round_pad(20.0);
        // The closed forms have no limit to how many pieces can be drawn; the field has its own properties.
        piece.aim.choice = Choice::ClosedForm;
        piece.stack.ground = ground;
        piece.stack.base = base;
        piece.stack.overlay = overlay;
        piece.stack.sewn_thickness_m = Some(Measured::normal(1.5e-3, 0.1e-3));
        piece.touch.case = case;
        piece.controller.library = Some(LIBRARY.controllers[controller].id.into());
        let pad = &mut piece.pads[0];
        pad.shape = shape;
        pad.thread.library = Some(LIBRARY.threads[thread].id.into());
        pad.fill = rows.map(|row_spacing_m| Fill { row_spacing_m, stitch_length_m: Measured::exact(3e-3), row_contact_ohm: None });
        pad.run.length_m = length;
        pad.run.passes = passes;
        pad.run.stitch = Some(stitch);
        pad.run.bobbin = if same_thread { Bobbin::SameThread } else { Bobbin::Plain };
        piece
    }
}

proptest! {
    #![proptest_config(drawn(256))]

    /// No NaN, no infinity, no panic, for any piece in range; and every number within its meaning.
    #[test]
    fn every_number_is_sound(piece in piece()) {
        let e = estimate(&piece, &LIBRARY).map_err(|f| TestCaseError::fail(f.to_string()))?;
        for check in &e.checks {
            for x in [check.needed, check.predicted, check.standard_uncertainty, check.interval_95.0, check.interval_95.1, check.chance] {
                prop_assert!(x.is_finite(), "{check:?}");
            }
            prop_assert!(check.standard_uncertainty >= 0.0 && (0.0..=1.0).contains(&check.chance));
            prop_assert!(!check.sentence().contains("NaN") && !check.sentence().contains("inf"));
            let shares: f64 = check.shares.iter().map(|s| s.share).sum();
            prop_assert!(shares <= 1.0 + 1e-9);
        }
        let pad = &e.pads[0];
        for x in [pad.standing_f, pad.run_ohm, pad.pad_f, pad.run_f, pad.finger_f, pad.return_f, pad.run_thread_m, pad.relative_error] {
            prop_assert!(x.is_finite() && x > 0.0, "{pad:?}");
        }
        prop_assert!(pad.signal_f.is_finite() && (0.0..=1.0).contains(&pad.settled_fraction));
        prop_assert!(!e.sentence().is_empty());
        for step in working(&piece, &LIBRARY) {
            prop_assert!(step.result.is_finite() && step.inputs.iter().all(|i| i.value.is_finite()), "{step:?}");
        }
    }

    /// The same piece twice gives the same bits.
    #[test]
    fn an_estimate_repeats_itself(piece in piece()) {
        prop_assert_eq!(estimate(&piece, &LIBRARY), estimate(&piece, &LIBRARY));
    }

    /// n passes resist an nth.
    #[test]
    fn passes_divide_the_resistance(piece in piece(), passes in 2..9u32) {
        let ohm = |n: u32| {
            let mut piece = piece.clone();
            piece.pads[0].run.passes = n;
            estimate(&piece, &LIBRARY).map(|e| e.pads[0].run_ohm)
        };
        let (one, many) = (ohm(1).expect("in range"), ohm(passes).expect("in range"));
        prop_assert!((many * f64::from(passes) / one - 1.0).abs() < 1e-12);
    }

    /// A finger further away adds less; a larger round pad adds more.
    #[test]
    fn signal_follows_overlay_and_size(
        diameter_mm in 4.0..60.0f64, overlay_mm in 0.2..6.0f64, base_mm in 0.5..12.0f64, more in 1.05..2.0f64,
    ) {
        let signal = |diameter_mm: f64, overlay_mm: f64| {
            let mut piece = examples::round_pad(diameter_mm);
            piece.stack.base[0].thickness_m = Some(Measured::exact(base_mm / 1e3));
            piece.stack.overlay[0].thickness_m = Some(Measured::exact(overlay_mm / 1e3));
            // An earthed circuit: with a poor way back the finger's shade can outgrow what it adds.
            piece.touch.case = TouchCase::Earthed;
            estimate(&piece, &LIBRARY).expect("in range").pads[0].finger_f
        };
        let here = signal(diameter_mm, overlay_mm);
        prop_assert!(signal(diameter_mm, overlay_mm * more) < here);
        prop_assert!(signal(diameter_mm * more, overlay_mm) >= here * (1.0 - 1e-9));
    }

    /// More spread in an input never narrows a result's.
    #[test]
    fn more_spread_is_never_less(piece in piece(), more in 1.1..3.0f64) {
        let narrow = estimate(&piece, &LIBRARY).expect("in range");
        let mut wide = piece.clone();
        let LayerChoice { library, thickness_m, .. } = &mut wide.stack.base[0];
        let known = thickness_m.or_else(|| library.as_deref().and_then(|id| LIBRARY.fabric(id)).map(|f| f.thickness_m.measured)).expect("a thickness");
        *thickness_m = Some(Measured { standard_uncertainty: known.standard_uncertainty * more, ..known });
        let Ok(wide) = estimate(&wide, &LIBRARY) else { return Ok(()) };
        for (a, b) in narrow.checks.iter().zip(&wide.checks) {
            prop_assert!(b.standard_uncertainty >= a.standard_uncertainty * (1.0 - SLOPES), "{a:?} {b:?}");
        }
    }
}

proptest! {
    // Each case tries a hundred estimates or more.
    #![proptest_config(drawn(48))]

    /// A change that is offered is in range and gives the chance it says, spreads included.
    #[test]
    fn changes_keep_their_word(piece in piece()) {
        let now = estimate(&piece, &LIBRARY).expect("in range");
        for change in smallest_changes(&piece, &LIBRARY, &now) {
            prop_assert!(change.chance.is_finite() && change.chance >= now.chance - 1e-12, "{}", change.sentence);
            prop_assert!(!change.sentence.contains("NaN") && !change.edits.is_empty());
        }
    }
}
