//! Making and price on the page: shown as the API answers it, following what is typed, and the shop's rates as fields.

use serde_json::{Value, json};
use toile_tests::{demo, service, with};

use super::browser::{DESK, PHONE, browse, field};

fn text(value: &Value) -> &str {
    value.as_str().expect("a text")
}

#[test]
#[ignore = "needs a browser"]
fn the_price_is_shown_as_the_api_answers_it() {
    let answer = service().estimate(&demo());
    browse(DESK, |page| async move {
        let production = &answer["production"];
        assert_eq!(page.text("#price-part [data-place=sentence]").await, text(&production["sentence"]));
        let table = page.text("#price-part .prices").await.replace('\u{202f}', " ");
        for cost in std::iter::once(&production["sample"]).chain(production["price_breaks"].as_array().expect("breaks")) {
            for shown in [&cost["unit_price"], &cost["unit_price_interval_95"][0], &cost["unit_price_interval_95"][1]] {
                assert!(table.contains(text(shown)), "{shown} is not in {table}");
            }
        }
        // The quantity of the piece stands out, and only that.
        assert_eq!(page.text("#price-part .prices [aria-current] th").await, "120 pieces");
        assert_eq!(page.count("#price-part .prices [aria-current]").await, 1);
        for note in production["notes"].as_array().expect("notes") {
            assert!(page.text("#price-part [data-place=notes]").await.to_lowercase().contains(text(note)), "{note}");
        }
        // Every rate is there to be looked at, and leads to its field.
        page.click("[data-key=price-rates] > summary").await;
        assert_eq!(page.count("[data-key=price-rates] tbody tr").await, 38);
        page.click("[data-go=\"/production/rates/labour_per_hour\"]").await;
        assert_eq!(page.js("document.activeElement.dataset.pointer").await, "/production/rates/labour_per_hour");
    });
}

#[test]
#[ignore = "needs a browser"]
fn the_price_follows_the_typing_and_the_link_keeps_it() {
    let order = json!({"heads": 4, "quantities": [25, 75], "boards": 1, "material_per_piece": 6.4, "rates": {"labour_per_hour": 41.5}});
    let expected = service().estimate(&with(demo(), "/production", order));
    browse(DESK, |page| async move {
        page.js("(document.querySelector('#rates-details').open = true)").await;
        page.fill("/production/quantities", "25 75").await;
        page.fill("/production/rates/labour_per_hour", "41.5").await;
        let sentence = json!(text(&expected["production"]["sentence"]));
        page.until(&format!("document.querySelector('[data-place=sentence]').textContent === {sentence}")).await;
        page.until("location.hash.startsWith('#p=')").await;
        page.settled().await;
        let fragment = page.js("location.hash").await;
        page.open(fragment.as_str().expect("a fragment")).await;
        page.until("document.querySelector('[data-pointer=\"/production/rates/labour_per_hour\"]')").await;
        assert_eq!(page.value("/production/rates/labour_per_hour").await, "41.5");
        assert_eq!(page.value("/production/quantities").await, "25, 75");
        assert_eq!(page.text("#price-part [data-place=sentence]").await, text(&expected["production"]["sentence"]));
        // What cannot be read or is not allowed is marked where it stands.
        for (pointer, typed, words) in [
            ("/production/quantities", "1,000", "whole numbers"),
            ("/production/currency", "XYZ", "ISO 4217"),
            ("/production/rates/labour_per_hour", "-3", "0 to 1000000"),
        ] {
            let good = page.value(pointer).await;
            page.fill(pointer, typed).await;
            page.press(thirtyfour::Key::Enter).await;
            page.until("!document.querySelector('#error-summary').hidden").await;
            assert_eq!(page.attribute(&field(pointer), "aria-invalid").await, "true", "{pointer}");
            let error = format!("#{}-error", page.attribute(&field(pointer), "id").await);
            assert!(page.text(&error).await.contains(words), "{}", page.text(&error).await);
            page.fill(pointer, &good).await;
            page.press(thirtyfour::Key::Enter).await;
            page.until("document.querySelector('#error-summary').hidden").await;
        }
    });
}

#[test]
#[ignore = "needs a browser"]
fn the_price_is_readable_on_a_phone() {
    browse(PHONE, |page| async move {
        // Nothing of the page is wider than the phone; the table has a frame of its own to scroll in.
        assert_eq!(page.js("document.documentElement.scrollWidth <= innerWidth").await, true);
        assert_eq!(page.js("document.querySelector('.prices').scrollWidth > document.querySelector('.prices').clientWidth").await, true);
        page.click(".jump a[href=\"#price-part\"]").await;
        assert_eq!(page.js("document.activeElement.id").await, "price-part");
        page.js("document.querySelectorAll('#price-part details').forEach((d) => { d.open = true; })").await;
        page.settled().await;
        assert_eq!(page.js("document.documentElement.scrollWidth <= innerWidth").await, true);
    });
}
