//! Signing in on the page.

use thirtyfour::prelude::*;
use toile_tests::{Process, run};

use super::accessible::look_over;
use super::browser::{DESK, browse_at};
use crate::access::prefix;

#[test]
#[ignore = "needs a browser"]
fn the_page_asks_for_a_key_keeps_it_in_its_tab_and_forgets_it() {
    let process = Process::on_free_port();
    let data = process.data().to_str().expect("a plain path").to_owned();
    browse_at(process.service(), DESK, |page| async move {
        assert!(!page.is_shown("#key-part").await && !page.is_shown("#key-forget").await);
        let made = run(&["key", "add", "the desk", "--role", "estimator", "--data", &data], &[]);
        let key = String::from_utf8(made.stdout).expect("a key").trim().to_owned();

        // The first key shuts the door within seconds, also to a page that is open.
        page.until("(document.querySelector('#form').requestSubmit(), document.querySelector('#key-part').checkVisibility())").await;
        assert!(page.text("#key-says").await.contains("needs a key"));
        look_over(&page, "asking for a key").await;

        // A wrong one is told as such, and asked for again.
        page.focus("#key").await;
        page.press(format!("{}_{}", prefix(&key), "0".repeat(64))).await;
        page.press(Key::Enter).await;
        page.until("document.querySelector('#key-part').checkVisibility() && document.querySelector('#key-says').textContent.includes('not known')").await;
        page.focus("#key").await;
        page.press(key.clone()).await;
        page.press(Key::Enter).await;
        page.until("!document.querySelector('#key-part').checkVisibility() && document.querySelector('#freshness').hidden").await;
        assert!(page.is_shown("#key-forget").await && !page.is_shown("#library-remark").await);

        // It outlives the page but not the tab: nowhere is it written down.
        page.open("").await;
        assert!(!page.is_shown("#key-part").await);
        assert_eq!(page.js("sessionStorage.length + ',' + localStorage.length + ',' + document.cookie.length").await, "1,0,0");
        assert!(!page.js("document.documentElement.outerHTML + location.href").await.as_str().expect("a text").contains(&key[40..]));
        page.click("#key-forget").await;
        page.until("document.querySelector('#key-part').checkVisibility()").await;
        assert_eq!(page.js("sessionStorage.length").await, 0);
    });
}
