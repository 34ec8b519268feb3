//! Features of every kind in one piece: added, filled in, refused at their place, answered, linked and removed.

use serde_json::{Value, json};
use thirtyfour::Key;
use toile_tests::{demo, service, with};

use super::browser::{DESK, Page, browse, field};

/// The lists of a piece, with what one entry is called.
const KINDS: [(&str, &str); 4] = [("pads", "pad"), ("light_rows", "light row"), ("electrodes", "electrode"), ("laid_wires", "laid wire")];

fn add(list: &str) -> String {
    format!("[data-action=\"feature-add\"][data-list=\"{list}\"]")
}

fn card(list: &str, k: usize) -> String {
    format!(".feature[data-list=\"{list}\"][data-index=\"{k}\"]")
}

fn text(value: &Value) -> &str {
    value.as_str().expect("a text")
}

/// The request that the form stands for, as the page's own link has it.
async fn request(page: &Page) -> Value {
    page.cdp("Browser.grantPermissions", json!({"permissions": ["clipboardReadWrite", "clipboardSanitizedWrite"]})).await;
    page.click("#copy-json").await;
    page.until("document.querySelector('#copied').textContent.includes('copied') || !document.querySelector('#copy-by-hand').hidden").await;
    let copied = match page.is_shown("#copy-by-hand").await {
        true => page.js("document.querySelector('#copy-text').value").await,
        false => page.js_later("navigator.clipboard.readText()").await,
    };
    serde_json::from_str(text(&copied)).expect("a request")
}

/// The estimate of a piece, asked for beside the browser.
async fn estimate(piece: &Value) -> Value {
    let piece = piece.clone();
    tokio::task::spawn_blocking(move || service().estimate(&piece)).await.expect("an answer")
}

#[test]
#[ignore = "needs a browser"]
fn one_piece_holds_every_kind_and_says_what_it_says_of_each() {
    browse(DESK, |page| async move {
        for (list, _) in KINDS {
            let before = page.count(&format!(".feature[data-list=\"{list}\"]")).await;
            page.click(&add(list)).await;
            assert_eq!(page.count(&format!(".feature[data-list=\"{list}\"]")).await, before + 1, "{list}");
            // The new one is open, and its name is what is typed next.
            assert_eq!(page.js("document.activeElement.dataset.pointer").await, format!("/{list}/{before}/name"));
        }
        page.settled().await;
        assert!(!page.is_shown("#error-summary").await, "{}", page.text("#error-list").await);
        let piece = request(&page).await;
        let answer = estimate(&piece).await;
        for (list, word) in KINDS {
            let results = answer[list].as_array().unwrap_or_else(|| panic!("{list}: {answer}"));
            assert_eq!(results.len(), piece[list].as_array().expect("features").len(), "{list}");
            if list != "pads" {
                let shown = page.text(&format!("#{list}-part")).await;
                for result in results {
                    assert!(shown.contains(text(&result["name"])) && shown.contains(text(&result["verdict"])), "{result} in {shown}");
                }
            }
            assert!(page.text("#checks").await.to_lowercase().contains(word), "{word}");
        }
        // Every check has its line at its feature.
        for check in answer["checks"].as_array().expect("checks").iter().filter(|c| !c["feature"].is_null()) {
            let line = format!("li[data-check=\"{}\"][data-of=\"{}\"]", text(&check["check"]), text(&check["pointer"]));
            assert_eq!(page.attribute(&line, "data-verdict").await, text(&check["verdict"]), "{line}");
        }
        for caution in answer["cautions"].as_array().expect("cautions") {
            assert!(page.text("#cautions").await.contains(text(&caution["text"])), "{caution}");
        }
        assert_eq!(page.verdict().await, text(&answer["verdict"]));
        // Its link brings all of it back.
        let everything = "JSON.stringify([...document.querySelectorAll('#form [data-pointer]')].map((c) => [c.dataset.pointer, c.value]))";
        let form = page.js(everything).await;
        page.until("location.hash.startsWith('#p=')").await;
        page.settled().await;
        let fragment = page.js("location.hash").await;
        page.open(text(&fragment)).await;
        assert_eq!(page.js(everything).await, form);
        // What is removed is gone, and the focus has somewhere to be.
        for (list, _) in &KINDS[1..] {
            page.click(&format!("{} [data-action=\"feature-remove\"]", card(list, 0))).await;
            assert_eq!(page.js("document.activeElement !== document.body").await, true, "{list}");
        }
        page.settled().await;
        let (complaints, _) = page.logs().await;
        assert!(complaints.is_empty(), "{complaints:?}");
    });
}

#[test]
#[ignore = "needs a browser"]
fn an_electrode_alone_asks_for_neither_stack_nor_controller() {
    browse(DESK, |page| async move {
        page.click(&add("electrodes")).await;
        for _ in 0..4 {
            page.click(&format!("{} [data-action=\"feature-remove\"]", card("pads", 0))).await;
        }
        page.settled().await;
        for hidden in ["#controller-part", "#section-part", "#field-part", "#method-part"] {
            assert!(!page.is_shown(hidden).await, "{hidden} is for pads");
        }
        assert!(page.is_shown("#electrodes-part").await && !page.is_shown("#error-summary").await);
        // Its run can break as any other can.
        assert!(page.is_shown("#runs-part").await);
        let piece = request(&page).await;
        assert!(piece["pads"].is_null(), "{piece}");
        assert_eq!(page.verdict().await, text(&estimate(&piece).await["verdict"]));
    });
}

#[test]
#[ignore = "needs a browser"]
fn pulses_bring_the_strongest_cautions_and_never_a_better_word() {
    browse(DESK, |page| async move {
        page.click(&add("electrodes")).await;
        page.choose("/electrodes/0/kind", "it stim", "stimulates").await;
        assert!(page.is_shown(&format!("{} .warning", card("electrodes", 0))).await);
        assert!(
            !page.is_shown(&field("/electrodes/0/signal")).await && !page.is_shown(&field("/electrodes/0/amplifier/rejection_db")).await
        );
        for (pointer, typed) in [("current_ma", "0.01"), ("phase_width_us", "200"), ("rate_hz", "50")] {
            page.fill(&format!("/electrodes/0/stimulation/{pointer}"), typed).await;
        }
        page.until("document.querySelector('#cautions li')?.textContent.startsWith('Current into the body.')").await;
        assert_eq!(page.verdict().await, "measure first");
        assert!(page.text("#electrodes-part").await.contains("no limit of safety"));
        let cautions = page.text("#cautions").await;
        for word in ["licensed practitioners", "medical law", "pacemaker", "chest"] {
            assert!(cautions.contains(word), "{word}");
        }
    });
}

#[test]
#[ignore = "needs a browser"]
fn what_is_refused_in_a_feature_is_marked_where_it_stands() {
    browse(DESK, |page| async move {
        for list in ["light_rows", "electrodes", "laid_wires"] {
            page.click(&add(list)).await;
        }
        for (pointer, typed, words) in [
            ("/electrodes/0/fit/tension_n", "3", "its width and the girth"),
            ("/electrodes/0/touching_share", "1.5", "0.01 to 1"),
            ("/electrodes/0/texture/loop_height_mm", "", "A number is needed"),
            ("/electrodes/0/band_low_hz", "900", "The band has no width"),
            ("/light_rows/0/lights", "0", "1 to 500"),
            ("/light_rows/0/supply/supply_v", "five", "Write a number"),
            ("/laid_wires/0/conductor/gauge", "24", "The section is told twice"),
            ("/laid_wires/0/course/length_mm", "-3", "mm"),
            ("/pads/0/run/terminal/pitch_mm", "0", "0.2 to 100"),
            ("/pads/0/thread/growth_per_wash_percent", "900", "0 to 100"),
            ("/after_washes", "1.5", "whole number"),
            ("/stretch_percent", "300", "0 to 100"),
        ] {
            let good = page.value(pointer).await;
            page.fill(pointer, typed).await;
            page.press(Key::Enter).await;
            page.until("!document.querySelector('#error-summary').hidden").await;
            // A fault may speak of a field beside it: a band is three numbers.
            let marked = page.js("[...document.querySelectorAll('#form [aria-invalid=true]')].map((c) => c.dataset.pointer)").await;
            let part = pointer.rsplit_once('/').expect("a pointer").0;
            let near = |at: &Value| text(at) == pointer || (!part.is_empty() && text(at).starts_with(part));
            assert!(marked.as_array().is_some_and(|m| !m.is_empty() && m.iter().all(near)), "{pointer}: {marked}");
            assert!(page.text("#error-list").await.contains(words), "{pointer}: {}", page.text("#error-list").await);
            page.fill(pointer, &good).await;
            page.press(Key::Enter).await;
            page.until("document.querySelector('#error-summary').hidden").await;
        }
    });
}

#[test]
#[ignore = "needs a browser"]
fn use_and_the_way_of_the_threads_reach_the_answer() {
    let mut piece = demo();
    for (pointer, to) in [
        ("/after_washes", json!(30)),
        ("/stretch_percent", json!({"low": 0, "high": 5})),
        ("/pads/0/run/bobbin", json!("same_thread")),
        ("/pads/0/run/stitch_contact_ohm", json!(0.3)),
        ("/pads/0/run/passes_joined", json!(false)),
        ("/pads/0/run/terminal/kind", json!("board")),
        ("/pads/0/run/terminal/pitch_mm", json!(4)),
        ("/pads/0/run/terminal/hole_diameter_mm", json!(1.8)),
        ("/pads/0/fill/row_contact_ohm", json!(2)),
        ("/machine/needle_diameter_mm", json!(1)),
    ] {
        piece = with(piece, pointer, to);
    }
    let answer = service().estimate(&piece);
    browse(DESK, |page| async move {
        page.choose("/pads/0/run/bobbin", "the same", "same_thread").await;
        page.choose("/pads/0/run/passes_joined", "no", "false").await;
        page.choose("/pads/0/run/terminal/kind", "board", "board").await;
        for (pointer, typed) in [
            ("/after_washes", "30"),
            ("/stretch_percent", "0 to 5"),
            ("/pads/0/run/stitch_contact_ohm", "0.3"),
            ("/pads/0/run/terminal/pitch_mm", "4"),
            ("/pads/0/run/terminal/hole_diameter_mm", "1.8"),
            ("/pads/0/fill/row_contact_ohm", "2"),
            ("/machine/needle_diameter_mm", "1"),
        ] {
            page.fill(pointer, typed).await;
        }
        page.settled().await;
        assert_eq!(request(&page).await, piece);
        for check in answer["checks"].as_array().expect("checks").iter().filter(|c| c["pointer"] == "/pads/0") {
            let line = format!("li[data-check=\"{}\"][data-of=\"/pads/0\"]", text(&check["check"]));
            assert!(page.text(&line).await.contains(text(&check["sentence"])), "{line}");
        }
        assert!(page.count("li[data-check=\"terminal_hole\"]").await > 0);
        assert!(page.text("#transfer").await.contains("brighter"));
        // What a broken stitch does comes when it is asked for.
        page.click("#faults-details > summary").await;
        page.until("document.querySelectorAll('#faults tbody tr').length === 4").await;
    });
}
