//! Electrodes as part of a piece: estimates against the plain physics, verdicts, changes, cautions, faults.

use proptest::prelude::*;
use toile_model::electrode::{
    Amplifier, Areas, Contact, NoiseSources, Texture, band_pressure_pa, conversion, electrode_circuit, noise_v, surface_gain, worst_loss,
};
use toile_model::materials::{BodySignal, Skin};
use toile_model::verdict::CheckKind;
use toile_model::{
    Bobbin, Check, Electrode, ElectrodeKind, ElectrodeTexture, Estimate, Feature, Fit, LIBRARY, Measured, Piece, PulseChoice, Shape,
    Verdict, cautions, estimate, examples, run_reports, smallest_changes, working,
};

use crate::reference::{close, drawn};

/// The estimate calls the same functions with the same numbers; only the order of additions may differ.
const SAME: f64 = 1e-12;

fn estimated(piece: &Piece) -> Estimate {
    estimate(piece, &LIBRARY).unwrap_or_else(|faults| panic!("{faults}"))
}

fn check(of: &Estimate, kind: CheckKind) -> &Check {
    of.checks.iter().find(|c| c.kind == kind).unwrap_or_else(|| panic!("no check {kind:?}"))
}

fn chest(change: impl FnOnce(&mut Electrode)) -> Piece {
    let mut piece = examples::chest_electrode(25.0);
    change(&mut piece.electrodes[0]);
    piece
}

fn stimulating(current_ma: f64) -> Piece {
    chest(|e| {
        e.kind = ElectrodeKind::Stimulates;
        e.amplifier = Default::default();
        e.pulses = Some(PulseChoice {
            current_a: Measured::exact(current_ma / 1e3),
            width_s: Measured::exact(200e-6),
            rate_hz: Measured::exact(50.0),
            phases: 2,
            max_charge_c_per_m2: None,
        });
    })
}

/// Everything given, nothing assumed: the checks hold what the plain functions say.
#[test]
fn predictions_are_those_of_the_plain_physics() {
    let exact = |x: f64| Some(Measured::exact(x));
    let mut piece = chest(|e| {
        e.touching_share = exact(0.8);
        e.contact.skin_ohm_m2 = exact(20.0);
        e.contact.skin_f_per_m2 = exact(2e-4);
        e.contact.metal_ohm_m2 = exact(0.4);
        e.contact.metal_f_per_m2 = exact(0.1);
        e.contact.tissue_ohm_m = exact(2.5);
        e.contact.skin_noise_v = exact(4e-6);
        e.signal = Some(BodySignal::Muscle);
        e.signal_v = exact(0.5e-3);
        e.amplifier.input_ohm = exact(50e6);
        e.amplifier.input_f = exact(80e-12);
        e.amplifier.noise_v_per_rthz = exact(40e-9);
        e.amplifier.noise_a_per_rthz = exact(20e-15);
        e.amplifier.rejection_db = exact(86.0);
        e.pair.mismatch = exact(0.4);
        e.pair.common_mode_v = exact(12e-3);
        e.pair.mains_hz = Some(60.0);
        e.run.contact_resistance_ohm = exact(1.0);
        e.thread.linear_resistance_ohm_per_m = exact(150.0);
        e.thread.temperature_coefficient_per_k = exact(0.0);
        e.thread.diameter_m = exact(0.25e-3);
    });
    piece.stack.sewn_thickness_m = exact(1e-3);
    let e = estimated(&piece);
    let pile = Texture::LoopPile { row_spacing_m: 1e-3, stitch_length_m: 2e-3, loop_height_m: 1.5e-3 };
    let gain = surface_gain(pile, 0.25e-3);
    let footprint = std::f64::consts::FRAC_PI_4 * 0.025 * 0.025;
    let areas = Areas::new(footprint, 0.8, gain);
    let contact = Contact { skin_ohm_m2: 20.0, skin_f_per_m2: 2e-4, metal_ohm_m2: 0.4, metal_f_per_m2: 0.1, tissue_ohm_m: 2.5 };
    // 60 stitches of 2.5 mm, each with two legs of three quarters of a millimetre, two passes, and the terminal.
    let run_ohm = 150.0 * (0.15 + 60.0 * 2.0 * 0.75e-3) / 2.0 + 1.0;
    close("run", e.electrodes[0].run_ohm, run_ohm, SAME);
    let circuit = electrode_circuit(&contact, &areas, run_ohm);
    let amplifier = Amplifier { input_ohm: 50e6, input_f: 80e-12 };
    close("loss", check(&e, CheckKind::ReadOutLoss).predicted, worst_loss(&circuit, &amplifier, 20.0, 500.0), SAME);
    let other = circuit.times(1.4);
    let hum = 12e-3 * (conversion(&circuit, &other, &amplifier, 60.0) + 10f64.powf(-86.0 / 20.0));
    close("hum", check(&e, CheckKind::CommonMode).predicted, hum, SAME);
    close("hum allowed", check(&e, CheckKind::CommonMode).needed, 25e-6, SAME);
    let sources = NoiseSources {
        voltage_v_per_rthz: 40e-9,
        current_a_per_rthz: 20e-15,
        skin_v: 4e-6 * (1e-4 / areas.touching_m2).sqrt(),
        temperature_k: 306.15,
    };
    let noise = noise_v(&[circuit, other], 20.0, 500.0, &sources);
    close("noise", check(&e, CheckKind::Noise).predicted, noise.total_v, SAME);
    close("pressure", check(&e, CheckKind::Fit).predicted, band_pressure_pa(6.0, 0.035, 0.9), SAME);
    let result = &e.electrodes[0];
    close("footprint", result.footprint_m2, footprint, SAME);
    close("impedance", result.impedance_10_hz_ohm, circuit.impedance(10.0).norm(), SAME);
    assert_eq!(result.name, "electrode 1");
    // Only the surface of the loops is left to geometry; everything else is exact, and so nearly is the loss.
    assert!(check(&e, CheckKind::ReadOutLoss).standard_uncertainty < 0.1 * check(&e, CheckKind::ReadOutLoss).predicted);
}

/// Spreads against whole steps of the dominant inputs: what one standard uncertainty of skin does to the loss.
#[test]
fn spreads_come_from_skin() {
    // Without capacitance at the input, the resistance of the skin rules the loss.
    let piece = chest(|e| {
        e.skin = Skin::Dry;
        e.amplifier.input_f = Some(Measured::exact(0.0));
    });
    let e = estimated(&piece);
    let loss = check(&e, CheckKind::ReadOutLoss);
    assert!(loss.standard_uncertainty > 0.3 * loss.predicted, "{loss:?}");
    let largest = &e.inputs[loss.shares[0].input];
    assert_eq!(largest.pointer().as_deref(), Some("/electrodes/0/contact/skin_kohm_cm2"));
    assert!(largest.unmeasured() && largest.coupon_measures());
    // One standard uncertainty more of it, all else the same, moves the prediction by its share of the spread. At 1 Gohm the loss is
    // proportional to the resistance but for the capacitance beside it: a tenth is allowed for that.
    let mut moved = piece.clone();
    moved.electrodes[0].contact.skin_ohm_m2 = Some(Measured::exact(largest.measured.value + largest.measured.standard_uncertainty));
    let step = check(&estimated(&moved), CheckKind::ReadOutLoss).predicted - loss.predicted;
    close("step", step, loss.standard_uncertainty * loss.shares[0].share.sqrt(), 0.1);
}

#[test]
fn what_helps_and_what_hurts() {
    let loss = |piece: &Piece| check(&estimated(piece), CheckKind::ReadOutLoss).predicted;
    let hum = |piece: &Piece| check(&estimated(piece), CheckKind::CommonMode).predicted;
    let noise = |piece: &Piece| check(&estimated(piece), CheckKind::Noise).predicted;
    let damp = chest(|_| {});
    let (dry, gel) = (chest(|e| e.skin = Skin::Dry), chest(|e| e.skin = Skin::Gel));
    assert!(loss(&dry) > loss(&damp) && hum(&dry) > hum(&damp) && hum(&damp) > hum(&gel));
    let large = chest(|e| e.shape = Shape::Round { diameter_m: Measured::exact(0.04) });
    assert!(loss(&large) < loss(&damp) && hum(&large) < hum(&damp) && noise(&large) < noise(&damp));
    let modest = chest(|e| e.amplifier.input_ohm = None);
    assert!(loss(&modest) > 10.0 * loss(&damp));
    let flat = chest(|e| {
        e.texture = ElectrodeTexture::Fill { row_spacing_m: Measured::exact(0.5e-3), stitch_length_m: Measured::exact(3e-3) };
    });
    assert!(loss(&flat) > loss(&damp));
    let slack = chest(|e| e.fit.tension_n = Some(Measured::exact(0.5)));
    assert_eq!(check(&estimated(&slack), CheckKind::Fit).verdict, Verdict::OutOfReach);
    let tight = chest(|e| e.fit.tension_n = Some(Measured::exact(40.0)));
    assert_eq!(check(&estimated(&tight), CheckKind::Fit).verdict, Verdict::OutOfReach);
    // Nothing said of the fit: only the assumption decides, so it is to be measured.
    let unsaid = estimated(&chest(|e| e.fit = Fit::default()));
    let fit = check(&unsaid, CheckKind::Fit);
    assert_eq!(fit.verdict, Verdict::MeasureFirst);
    assert_eq!(unsaid.inputs[fit.measure.expect("an input")].pointer().as_deref(), Some("/electrodes/0/fit/pressure_kpa"));
}

#[test]
fn a_band_in_order_is_comfortable_and_needs_no_change() {
    let piece = chest(|e| {
        e.skin = Skin::Gel;
        e.amplifier.input_f = Some(Measured::exact(30e-12));
        e.pair.common_mode_v = Some(Measured::exact(5e-3));
        e.signal_v = Some(Measured::normal(1.2e-3, 0.2e-3));
    });
    let e = estimated(&piece);
    assert_eq!(e.verdict, Verdict::Comfortable, "{}", e.sentence());
    assert!(smallest_changes(&piece, &LIBRARY, &e).is_empty());
}

/// An amplifier as old standards have it on dry skin: the changes named make it comfortable, as they stand.
#[test]
fn changes_turn_the_verdict() {
    let piece = chest(|e| {
        e.skin = Skin::Dry;
        e.amplifier.input_ohm = None;
        e.amplifier.input_f = Some(Measured::exact(20e-12));
        e.pair.common_mode_v = Some(Measured::exact(30e-3));
        e.signal_v = Some(Measured::normal(1.2e-3, 0.2e-3));
    });
    let now = estimated(&piece);
    assert!(now.verdict != Verdict::Comfortable);
    let changes = smallest_changes(&piece, &LIBRARY, &now);
    assert!(changes.iter().any(|c| c.verdict == Verdict::Comfortable), "{:?}", changes.iter().map(|c| &c.sentence).collect::<Vec<_>>());
    let input = changes.iter().find(|c| c.what == "an amplifier of higher input resistance").expect("the plainest of all changes");
    assert_eq!(input.edits[0].pointer, "/electrodes/0/amplifier/input_resistance_mohm");
}

#[test]
fn a_stimulating_electrode_is_measure_first_at_its_best() {
    for current_ma in [0.01, 1.0, 5.0] {
        let piece = stimulating(current_ma);
        let e = estimated(&piece);
        assert_eq!((e.verdict, e.electrodes[0].verdict), (Verdict::MeasureFirst, Verdict::MeasureFirst), "{current_ma}");
        for kind in [CheckKind::CurrentDensity, CheckKind::ChargePerPhase] {
            let check = check(&e, kind);
            assert_eq!(check.verdict, Verdict::MeasureFirst);
            let open = e.inputs[check.measure.expect("an input")];
            assert!(open.pointer().is_some_and(|p| p.starts_with("/electrodes/0/")), "{open:?}");
        }
        assert!(e.sentence().contains("licensed") && !e.sentence().contains('%'), "{}", e.sentence());
        // No search tunes what is passed into a person.
        assert!(smallest_changes(&piece, &LIBRARY, &e).is_empty());
    }
    let strong = estimated(&stimulating(150.0));
    assert_eq!(strong.verdict, Verdict::OutOfReach);
    assert!(smallest_changes(&stimulating(150.0), &LIBRARY, &strong).is_empty());
    let s = strong.electrodes[0].stimulation.expect("pulses");
    // 150 mA with a duty of 0.02.
    close("r.m.s.", s.rms_a, 0.15 * 0.02f64.sqrt(), SAME);
    assert_eq!(s.unbalanced_a, 0.0);
}

#[test]
fn cautions_of_skin_come_first() {
    let subjects = |piece: &Piece| cautions(piece).iter().map(|c| c.subject).collect::<Vec<_>>();
    let pulses = subjects(&stimulating(1.0));
    assert_eq!(pulses[..4], ["current into the body", "implants", "head, neck and chest", "burns under an electrode"]);
    let reads = subjects(&chest(|_| {}));
    assert_eq!(reads[..3], ["wearer and mains", "no diagnosis, no alarm", "metal on skin"]);
    assert!(reads.contains(&"worn near medical devices") && !reads.contains(&"not a safety function"));
    let mut both = examples::round_pad(24.0);
    assert!(!subjects(&both).contains(&"metal on skin"));
    both.electrodes = stimulating(1.0).electrodes;
    let both = subjects(&both);
    assert_eq!(both[0], "current into the body");
    assert!(both.contains(&"not a safety function"));
}

/// Pads and electrodes on one piece: each stands as it stands alone.
#[test]
fn features_do_not_disturb_each_other() {
    let (pad, electrode) = (examples::round_pad(24.0), chest(|_| {}));
    let both = Piece { electrodes: electrode.electrodes.clone(), ..pad.clone() };
    let (pad, both) = (estimated(&pad), estimated(&both));
    assert_eq!(pad.pads, both.pads);
    assert_eq!(pad.checks[..pad.checks.len() - 1], both.checks[..pad.checks.len() - 1]);
    let of_electrode: Vec<&Check> = both.checks.iter().filter(|c| c.feature == Some(Feature::Electrode(0))).collect();
    assert_eq!(of_electrode.len(), 5);
    for check in of_electrode {
        for share in &check.shares {
            assert!(both.inputs[share.input].pointer().is_some_and(|p| p.starts_with("/electrodes/0/")), "{share:?}");
        }
    }
    // The silver thread of both is one needle.
    assert_eq!(both.checks.last().expect("needles").predicted, 1.0);
}

#[test]
fn the_working_repeats_the_answer() {
    let piece = chest(|_| {});
    let steps = working(&piece, &LIBRARY);
    let of = |symbol: &str| steps.iter().find(|s| s.symbol == symbol).unwrap_or_else(|| panic!("no step {symbol}"));
    // Those of the electrode first, then those of the whole piece, which end in the price.
    let (own, whole) = steps.split_at(steps.iter().take_while(|s| s.feature == Some(Feature::Electrode(0))).count());
    assert!(own.len() > 5 && whole.iter().all(|s| s.feature.is_none()));
    assert!(steps.iter().all(|s| s.result.is_finite()));
    let e = estimated(&piece);
    close("noise", of("V_noise").result, 1e6 * check(&e, CheckKind::Noise).predicted, SAME);
    close("hum", of("V_hum").result, 1e6 * check(&e, CheckKind::CommonMode).predicted, SAME);
    // Repeated by hand from what the step shows: 1 - 1/|1 + Z Y|.
    let loss = of("loss");
    let input = |symbol: &str| loss.inputs.iter().find(|i| i.symbol == symbol).expect("an input").value;
    let (g, b) = (1e-6 / input("R_in"), std::f64::consts::TAU * input("f") * input("C_in") * 1e-12);
    let (re, im) = (1.0 + input("Re Z") * g - input("Im Z") * b, input("Re Z") * b + input("Im Z") * g);
    // Taking nearly equal numbers from each other costs a hand six of sixteen digits.
    close("loss", loss.result, 100.0 * (1.0 - 1.0 / re.hypot(im)), 1e-8);
    let pulses = working(&stimulating(10.0), &LIBRARY);
    let density = pulses.iter().find(|s| s.symbol == "J").expect("a current density");
    close("J", density.result, density.inputs[0].value / density.inputs[1].value, SAME);
    assert!(density.note.as_ref().is_some_and(|n| n.contains("No limit of safety")), "{density:?}");
}

#[test]
fn faults_have_their_place() {
    let faults = |change: fn(&mut Electrode)| match estimate(&chest(change), &LIBRARY) {
        Ok(_) => panic!("taken"),
        Err(faults) => faults.0.into_iter().map(|f| f.pointer).collect::<Vec<_>>(),
    };
    assert_eq!(faults(|e| e.touching_share = Some(Measured::exact(1.5))), ["/electrodes/0/touching_share"]);
    assert_eq!(faults(|e| e.contact.skin_ohm_m2 = Some(Measured::exact(0.0))), ["/electrodes/0/contact/skin_kohm_cm2"]);
    assert_eq!(faults(|e| e.band_low_hz = Some(100.0)), ["/electrodes/0/band_low_hz"]);
    assert_eq!(faults(|e| e.fit.girth_m = None), ["/electrodes/0/fit/girth_mm"]);
    assert_eq!(faults(|e| e.fit.pressure_pa = Some(Measured::exact(1000.0))).len(), 3);
    assert_eq!(faults(|e| e.kind = ElectrodeKind::Stimulates), ["/electrodes/0/amplifier", "/electrodes/0/stimulation"]);
    assert_eq!(
        faults(|e| e.thread.library = None),
        ["/electrodes/0/thread/linear_resistance_ohm_per_m", "/electrodes/0/thread/diameter_mm"]
    );
    let mut many = chest(|_| {});
    many.electrodes = vec![many.electrodes[0].clone(); 65];
    assert_eq!(estimate(&many, &LIBRARY).expect_err("too many").0[0].pointer, "/electrodes");
}

proptest! {
    #![proptest_config(drawn(96))]

    /// Whatever the pulses, the thread, the skin and the size: never comfortable, never tight, every number finite.
    #[test]
    fn no_stimulating_electrode_is_better_than_measure_first(
        current in -3.0f64..2.3, width in 1.0f64..2000.0, rate in 0.1f64..200.0, phases in 1u32..=2, diameter in 3.0f64..120.0,
        skin in 0usize..3, share in proptest::option::of(0.05f64..1.0),
    ) {
        let mut piece = stimulating(10f64.powf(current));
        let e = &mut piece.electrodes[0];
        e.shape = Shape::Round { diameter_m: Measured::exact(diameter / 1e3) };
        e.skin = [Skin::Gel, Skin::Damp, Skin::Dry][skin];
        e.touching_share = share.map(Measured::exact);
        let pulses = e.pulses.as_mut().expect("pulses");
        pulses.width_s = Measured::exact(width * 1e-6);
        pulses.rate_hz = Measured::exact(rate);
        pulses.phases = phases;
        let e = estimated(&piece);
        prop_assert!(e.verdict >= Verdict::MeasureFirst && e.electrodes[0].verdict >= Verdict::MeasureFirst, "{:?}", e.verdict);
        for check in &e.checks {
            for x in [check.predicted, check.standard_uncertainty, check.interval_95.0, check.interval_95.1, check.chance] {
                prop_assert!(x.is_finite(), "{check:?}");
            }
        }
    }

    /// Any electrode that the edge takes gives finite numbers.
    #[test]
    fn reading_electrodes_give_numbers(
        diameter in 0.5f64..1000.0, input in -2.0f64..6.0, farad in 0.0f64..1e5, skin in -1.0f64..5.0, skin_f in -2.0f64..4.0,
        share in 0.01f64..1.0, gain in 0.01f64..100.0, low in 0.05f64..100.0, decades in 0.1f64..3.0,
    ) {
        let exact = |x: f64| Some(Measured::exact(x));
        let piece = chest(|e| {
            e.shape = Shape::Round { diameter_m: Measured::exact(diameter / 1e3) };
            e.amplifier.input_ohm = exact(10f64.powf(input) * 1e6);
            e.amplifier.input_f = exact(farad * 1e-12);
            e.contact.skin_ohm_m2 = exact(10f64.powf(skin) * 0.1);
            e.contact.skin_f_per_m2 = exact(10f64.powf(skin_f) * 1e-5);
            e.touching_share = exact(share);
            e.surface_gain = exact(gain);
            e.band_low_hz = Some(low);
            e.band_high_hz = Some((low * 10f64.powf(decades)).min(1e5));
        });
        let e = estimated(&piece);
        for check in &e.checks {
            for x in [check.predicted, check.standard_uncertainty, check.interval_95.0, check.interval_95.1, check.chance] {
                prop_assert!(x.is_finite(), "{check:?}");
            }
        }
        let loss = check(&e, CheckKind::ReadOutLoss).predicted;
        prop_assert!((0.0..1.0).contains(&loss), "{loss}");
        for step in working(&piece, &LIBRARY) {
            prop_assert!(step.result.is_finite(), "{step:?}");
        }
    }
}

/// The run of an electrode conducts as that of a pad does: two threads as a ladder (G3), aged, warm and stretched.
#[test]
fn the_run_conducts_as_that_of_a_pad_does() {
    let mut pad = examples::round_pad(24.0);
    let mut electrode = examples::chest_electrode(30.0);
    // The cloth beneath is that of the piece, so both need the same.
    electrode.stack = pad.stack.clone();
    for washes in [0, 30] {
        for bobbin in [Bobbin::Plain, Bobbin::SameThread] {
            for piece in [&mut pad, &mut electrode] {
                piece.after_washes = washes;
                piece.stretch = Some(Measured::exact(0.05));
                piece.temperature_k = Some(Measured::exact(313.15));
            }
            let run = &mut electrode.electrodes[0].run;
            run.bobbin = bobbin;
            run.contact_resistance_ohm = Some(Measured::exact(0.0));
            pad.pads[0].run = run.clone();
            let of = |piece: &Piece| estimate(piece, &LIBRARY).expect("a good piece");
            let (of_pad, of_electrode) = (of(&pad), of(&electrode));
            close("run", of_electrode.electrodes[0].run_ohm, of_pad.pads[0].run_ohm, 1e-12);
            let (on_pad, on_electrode) = (&run_reports(&pad, &LIBRARY)[0], &run_reports(&electrode, &LIBRARY)[0]);
            assert_eq!((on_electrode.feature, on_electrode.passes), (Feature::Electrode(0), 2));
            assert_eq!(on_electrode.faults, on_pad.faults);
            assert_eq!((on_electrode.largest_charge_frequency_hz, on_electrode.longest_run_m), (None, None));
        }
    }
}
