//! The page for everyone: by keyboard alone, and looked over by axe-core.

use serde_json::{Value, json};
use thirtyfour::prelude::*;

use super::browser::{DESK, PHONE, Page, browse, field};

/// Presses Tab until the focus is on what is looked for; every stop on the way must be seen.
pub async fn tab_to(page: &Page, selector: &str) {
    for _ in 0..400 {
        let there = page.js(&format!("document.activeElement.matches({})", json!(selector))).await;
        if there == true {
            return;
        }
        page.press(Key::Tab).await;
        let stop = page
            .js("(() => { const e = document.activeElement; const r = e.getBoundingClientRect(); \
                 return e === document.body ? 'the end of the page' \
                 : !e.checkVisibility() || r.bottom < 0 || r.top > innerHeight ? `${e.tagName} ${e.id}, which is not in view` : null; })()")
            .await;
        assert_eq!(stop, Value::Null, "on the way to {selector}");
    }
    panic!("no Tab leads to {selector}");
}

#[test]
#[ignore = "needs a browser"]
fn the_keyboard_alone_suffices() {
    browse(DESK, |page| async move {
        page.press(Key::Tab).await;
        assert_eq!(page.js("document.activeElement.textContent").await, "Skip to the form");
        page.press(Key::Enter).await;
        assert_eq!(page.js("document.activeElement.id").await, "form");

        // Another shape: the fields that it needs come, and the answer follows.
        let shape = field("/pads/0/shape/kind");
        tab_to(&page, ".feature[data-list=\"pads\"][data-index=\"0\"] > summary").await;
        if page.js("document.querySelector('.feature[data-list=\"pads\"][data-index=\"0\"]').open").await == false {
            page.press(Key::Space).await;
        }
        tab_to(&page, &shape).await;
        page.press("rec").await;
        assert_eq!(page.value("/pads/0/shape/kind").await, "rectangle");
        for (pointer, text) in [("/pads/0/shape/width_mm", "22"), ("/pads/0/shape/length_mm", "31")] {
            tab_to(&page, &field(pointer)).await;
            page.press(Key::Control + "a").await;
            page.press(text).await;
        }
        page.until("document.querySelector('#freshness').hidden && !document.querySelector('#error-list li')").await;

        tab_to(&page, "[data-action=\"feature-add\"][data-list=\"pads\"]").await;
        page.press(Key::Enter).await;
        page.until("document.querySelectorAll('.feature[data-list=pads]').length === 5").await;
        assert_eq!(page.js("document.activeElement.dataset.pointer").await, "/pads/4/name");
        page.press("night light").await;
        page.until("document.querySelector('#checks').textContent.includes('night light')").await;

        // The two closer looks open by the keyboard, and the table beside the curve can be scrolled by it.
        tab_to(&page, "#field-pad").await;
        page.press("warm").await;
        tab_to(&page, "#approach-details > summary").await;
        page.press(Key::Enter).await;
        page.until("document.querySelector('#approach-caption')?.textContent.includes('pad warmer')").await;
        tab_to(&page, "#approach details > summary").await;
        page.press(Key::Enter).await;
        tab_to(&page, "#approach .table-frame").await;
        tab_to(&page, "#charge-details > summary").await;
        page.press(Key::Enter).await;
        page.until("document.querySelector('#charge img')?.alt.includes('warmer')").await;

        tab_to(&page, "#working-details > summary").await;
        page.press(Key::Enter).await;
        page.until("document.querySelectorAll('#working table').length > 0").await;

        // Backwards works as well: nothing holds the focus.
        let before = page.js("document.activeElement.parentElement.id").await;
        page.press(Key::Shift + Key::Tab).await;
        assert_ne!(page.js("document.activeElement.parentElement.id").await, before);
    });
}

#[test]
#[ignore = "needs a browser"]
fn the_summary_of_an_open_check_leads_to_its_inputs() {
    browse(DESK, |page| async move {
        page.click("#checks .check > summary").await;
        page.click("#checks .check[open] .shares a").await;
        let at = page.js("document.activeElement.dataset.pointer").await;
        assert!(at.as_str().is_some_and(|p| p.starts_with('/')), "{at}");
    });
}

/// Looks the page over; nothing may be found.
pub async fn look_over(page: &Page, what: &str) {
    let path = std::env::var("AXE_JS").unwrap_or_else(|_| {
        panic!("set AXE_JS to axe.min.js of axe-core 4.14; `npm install --prefix target/ci axe-core@4.14.1` puts it at target/ci/node_modules/axe-core/axe.min.js")
    });
    let axe = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("AXE_JS={path}: {error}"));
    page.driver.execute(axe.as_str(), Vec::new()).await.expect("axe-core runs");
    let found = page
        .js_later(
            "axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] }).then((r) => \
             ({ looked: r.passes.length, found: r.violations.flatMap((v) => v.nodes.map((n) => `${v.id}: ${n.target.join(' ')}: ${n.failureSummary}`)) }))",
        )
        .await;
    // A run that looked at nothing finds nothing.
    assert!(found["looked"].as_u64() > Some(20), "{what}: {found}");
    assert_eq!(found["found"], json!([]), "{what}");
}

fn check_accessible(size: (u32, u32)) {
    browse(size, |page| async move {
        look_over(&page, "the demo").await;
        page.js("document.querySelectorAll('details').forEach((d) => { d.open = true; })").await;
        page.until("document.querySelectorAll('#working table').length > 0").await;
        page.until("document.querySelector('#approach svg') && document.querySelector('#charge img')").await;
        page.js("document.querySelectorAll('#approach details').forEach((d) => { d.open = true; })").await;
        page.settled().await;
        look_over(&page, "everything open").await;
        page.fill("/pads/0/shape/diameter_mm", "-3").await;
        page.fill("/stack/base/0/thickness_mm", "thick").await;
        page.press(Key::Enter).await;
        page.until("!document.querySelector('#error-summary').hidden").await;
        look_over(&page, "with errors").await;
        let poor = toile_tests::with(toile_tests::demo(), "/stack/overlay/0/thickness_mm", json!({"value": 5, "plus_minus": 1}));
        page.open_piece(&toile_tests::with(poor, "/controller/needed_signal_pf", json!(0.6))).await;
        assert!(page.count("#changes [data-change]").await > 0);
        look_over(&page, "with changes").await;
        page.open("").await;
        for list in ["light_rows", "electrodes", "laid_wires"] {
            page.click(&format!("[data-action=\"feature-add\"][data-list=\"{list}\"]")).await;
        }
        page.settled().await;
        assert!(!page.is_shown("#error-summary").await, "{}", page.text("#error-list").await);
        page.js("document.querySelectorAll('details').forEach((d) => { d.open = true; })").await;
        page.until("document.querySelectorAll('#faults table').length > 0").await;
        page.settled().await;
        look_over(&page, "with a feature of every kind").await;
    });
}

#[test]
#[ignore = "needs a browser"]
fn axe_finds_nothing_on_a_desk_screen() {
    check_accessible(DESK);
}

#[test]
#[ignore = "needs a browser"]
fn axe_finds_nothing_on_a_phone() {
    check_accessible(PHONE);
}
