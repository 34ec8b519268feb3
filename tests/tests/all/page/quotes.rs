//! Quotes on the page: kept, found, opened, revised, sent, put on paper.

use serde_json::json;
use thirtyfour::prelude::*;
use toile_tests::{Process, Service, demo, limits, run, with};

use super::accessible::{look_over, tab_to};
use super::browser::{DESK, PHONE, browse_at};
use super::pages;

const SAID: &str = "document.querySelector('#quote-said').textContent";

#[test]
#[ignore = "needs a browser"]
fn a_quote_is_kept_found_opened_and_revised_by_the_keyboard() {
    let service = Service::start(limits());
    let address = service.address();
    browse_at(&service, DESK, move |page| async move {
        // From behind the choice of a file, which takes keys for the name of one.
        page.focus("#sheet-form button").await;
        tab_to(&page, "#quotes-part > summary").await;
        page.press(Key::Enter).await;
        // Without a customer nothing is kept, and the field says so.
        tab_to(&page, "#quote-save").await;
        page.press(Key::Enter).await;
        page.until("!document.querySelector('#quote-error').hidden").await;
        assert_eq!(page.js("document.activeElement.id").await, "quote-customer");
        assert_eq!(page.attribute("#quote-customer", "aria-invalid").await, "true");
        page.press("BL-2231").await;
        tab_to(&page, "#quote-save").await;
        page.press(Key::Enter).await;
        page.until(&format!("{SAID}.startsWith('Kept: ')")).await;
        assert!(page.text("#quote-line").await.contains("revision 1: draft."), "{}", page.text("#quote-line").await);
        assert!(!page.is_shown("#quote-error").await);

        // A draft is saved where it is.
        page.fill("/quantity", "60").await;
        page.click("#quote-save").await;
        page.until(&format!("{SAID}.startsWith('Saved: ')")).await;
        page.click("#quote-turns [data-state=sent]").await;
        page.until(&format!("{SAID}.endsWith(' is sent.')")).await;
        assert_eq!(page.text("#quote-save").await, "Make a revision");

        // Begun anew, found again, opened into the form.
        page.click("#quote-new").await;
        page.fill("/quantity", "7").await;
        page.focus("#quote-text").await;
        page.press("bl-22").await;
        page.press(Key::Enter).await;
        let found = "!document.querySelector('#quotes-part').hasAttribute('aria-busy') && document.querySelectorAll('#quote-list tbody tr').length === 1";
        page.until(found).await;
        page.click("#quote-list button").await;
        page.until(&format!("{SAID}.startsWith('Opened: ')")).await;
        assert_eq!(page.value("/quantity").await, "60");
        assert_eq!(page.js("document.querySelector('#quote-customer').value").await, "BL-2231");

        page.click("#quote-save").await;
        page.until(&format!("{SAID}.startsWith('Revision made: ')")).await;
        assert!(page.text("#quote-line").await.contains("revision 2: draft."));
        page.click("#quote-rerun").await;
        page.until("document.querySelector('#quote-compare').textContent.includes('is the same')").await;
        assert!(page.attribute("#quote-print", "href").await.ends_with("/print"));
    });
    let service = Service::at(address);
    let quotes = service.get("/api/v1/quotes?revisions=true").ok();
    let told: Vec<_> = quotes["quotes"].as_array().expect("quotes").iter().map(|q| (q["revision"].clone(), q["state"].clone())).collect();
    assert_eq!(told, [(json!(2), json!("draft")), (json!(1), json!("sent"))]);
}

#[test]
#[ignore = "needs a browser"]
fn the_paper_of_a_quote_is_had_with_a_key_that_stands_in_no_address() {
    let process = Process::on_free_port();
    let data = process.data().to_str().expect("a plain path").to_owned();
    browse_at(process.service(), DESK, move |page| async move {
        let made = run(&["key", "add", "the desk", "--role", "estimator", "--data", &data], &[]);
        let key = String::from_utf8(made.stdout).expect("a key").trim().to_owned();
        page.until("(document.querySelector('#form').requestSubmit(), document.querySelector('#key-part').checkVisibility())").await;
        page.focus("#key").await;
        page.press(key.clone()).await;
        page.press(Key::Enter).await;
        page.until("!document.querySelector('#key-part').checkVisibility() && document.querySelector('#freshness').hidden").await;
        page.click("#quotes-part > summary").await;
        page.focus("#quote-customer").await;
        page.press("BL-2231").await;
        page.click("#quote-save").await;
        page.until(&format!("{SAID}.startsWith('Kept: ')")).await;
        let form = page.driver.window().await.expect("a window");
        page.click("#quote-print").await;
        let mut windows = Vec::new();
        for _ in 0..100 {
            windows = page.driver.windows().await.expect("windows");
            if windows.len() == 2 {
                break;
            }
            tokio::time::sleep(std::time::Duration::from_millis(50)).await;
        }
        let paper = windows.into_iter().find(|window| *window != form).expect("another window");
        page.driver.switch_to_window(paper).await.expect("the paper");
        page.until("document.querySelector('h1')?.textContent.startsWith('Quote ') && document.body.textContent.includes('BL-2231')").await;
        page.until("getComputedStyle(document.querySelector('h1')).fontSize !== '32px'").await;
        look_over(&page, "the paper of a quote, with a key").await;
        let address = page.js("location.href").await;
        assert!(address.as_str().is_some_and(|text| text.starts_with("blob:") && !text.contains("toile_")), "{address}");
        assert!(!page.js("document.documentElement.outerHTML").await.as_str().expect("a text").contains(&key[40..]));

        // Where the key is no longer good, no empty window stays, and the page says so.
        page.driver.close_window().await.expect("it closes");
        page.driver.switch_to_window(form).await.expect("the form");
        page.js("sessionStorage.setItem('toile-key', 'toile_' + '0'.repeat(12) + '_' + '0'.repeat(64))").await;
        page.click("#quote-print").await;
        page.until("!document.querySelector('#quote-error').hidden && document.querySelector('#key-part').checkVisibility()").await;
        assert_eq!(page.driver.windows().await.expect("windows").len(), 1);
    });
}

#[test]
#[ignore = "needs a browser"]
fn somebody_elses_change_is_told_and_nothing_typed_is_lost() {
    let service = Service::start(limits());
    let address = service.address();
    browse_at(&service, DESK, move |page| async move {
        page.focus("#quote-customer").await;
        page.press("BL-2231").await;
        page.click("#quote-save").await;
        page.until(&format!("{SAID}.startsWith('Kept: ')")).await;
        tokio::task::spawn_blocking(move || {
            let service = Service::at(address);
            let body = json!({"customer_reference": "BL-2231", "title": "theirs", "piece": demo()});
            let id = service.get("/api/v1/quotes").ok()["quotes"][0]["id"].as_str().expect("an id").to_owned();
            let request = service.request("PUT", &format!("/api/v1/quotes/{id}")).header("if-match", "*");
            service.send(request.json(&body)).ok();
        })
        .await
        .expect("their change");
        page.focus("#quote-title").await;
        page.press("mine").await;
        page.click("#quote-save").await;
        page.until("document.querySelector('#quote-error').textContent.includes('in the meantime')").await;
        assert_eq!(page.js("document.querySelector('#quote-title').value").await, "mine");
    });
}

#[test]
#[ignore = "needs a browser"]
fn axe_finds_nothing_in_the_quotes() {
    for size in [DESK, PHONE] {
        let service = Service::start(limits());
        service.post("/api/v1/quotes", &json!({"customer_reference": "BL-1", "piece": demo()}));
        browse_at(&service, size, |page| async move {
            page.click("#quotes-part > summary").await;
            page.until("document.querySelectorAll('#quote-list tbody tr').length === 1").await;
            page.click("#quote-list button").await;
            page.until(&format!("{SAID}.startsWith('Opened: ')")).await;
            look_over(&page, "a quote open").await;
            page.click("#quote-new").await;
            page.click("#quote-save").await;
            page.until("!document.querySelector('#quote-error').hidden").await;
            look_over(&page, "a quote with a fault").await;
        });
    }
}

#[test]
#[ignore = "needs a browser"]
fn a_quote_prints_on_one_or_two_pages_and_axe_finds_nothing_on_it() {
    let service = Service::start(limits());
    let long = "Terms of the shop, in a sentence of some length. ".repeat(40);
    let pad = demo()["pads"][0].clone();
    let many: Vec<_> =
        (0..64).map(|k| with(with(pad.clone(), "/name", json!(format!("patch {k}"))), "/centre_mm/0", json!(40 * k))).collect();
    let pieces = [demo(), with(demo(), "/pads", json!(many))];
    let prints = pieces.map(|piece| {
        let kept = service.post("/api/v1/quotes", &json!({"customer_reference": "BL-1", "terms": long, "piece": piece})).json();
        kept["print_href"].as_str().expect("an address").to_owned()
    });
    browse_at(&service, DESK, |page| async move {
        for print in prints {
            page.driver.goto(format!("{}{}", page.address().trim_end_matches('/'), print)).await.expect("the page to print");
            assert_eq!(
                page.js("getComputedStyle(document.querySelector('h1')).fontSize !== '32px'").await,
                true,
                "its style sheet applies"
            );
            look_over(&page, "a quote for paper").await;
            let answer = page.cdp("Page.printToPDF", json!({"printBackground": false, "preferCSSPageSize": true})).await;
            let data = answer["data"].as_str().expect("a PDF");
            let pdf = page.js(&format!("Array.from(atob({}), (c) => c.charCodeAt(0))", json!(data))).await;
            let pdf: Vec<u8> = serde_json::from_value(pdf).expect("bytes");
            assert!(pdf.starts_with(b"%PDF"));
            assert!((1..=2).contains(&pages(&pdf)), "{} pages", pages(&pdf));
        }
    });
}
