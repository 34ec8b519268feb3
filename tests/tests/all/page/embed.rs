//! The form within another page: the host page that stands in `tests/portal`, served from a port of its own.

use std::net::{SocketAddr, TcpListener};

use serde_json::{Value, json};
use thirtyfour::prelude::*;
use toile::config::Portal;
use toile_tests::{Service, demo, limits, read_text, root, round_pad};

use super::accessible::look_over;
use super::browser::{DESK, PHONE, Page, browse_elsewhere};

/// The host page at a port of its own, showing the form of this service.
fn host_page(listener: TcpListener, toile: &str) {
    let page = read_text(&root().join("tests/portal/host.html"));
    assert!(page.contains("http://127.0.0.1:8460"));
    let page = page.replace("http://127.0.0.1:8460", toile.trim_end_matches('/'));
    std::thread::spawn(move || {
        use std::io::{Read, Write};
        for mut stream in listener.incoming().map_while(Result::ok) {
            let mut asked = [0; 2048];
            let _ = stream.read(&mut asked);
            let head = format!("HTTP/1.1 200 OK\r\ncontent-type: text/html\r\ncontent-length: {}\r\nconnection: close\r\n\r\n", page.len());
            let _ = stream.write_all(head.as_bytes()).and_then(|()| stream.write_all(page.as_bytes()));
        }
    });
}

fn free() -> (TcpListener, SocketAddr) {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
    let address = listener.local_addr().expect("the address just bound");
    (listener, address)
}

/// A service that lets this origin show its form.
fn service_for(origin: &str) -> Service {
    Service::start_beside(limits(), Portal { embed_origins: vec![origin.to_owned()], ..Portal::default() }, None)
}

/// Has the host page note all that it hears, and say something to the form.
const NOTE: &str = "(() => { window.heard = []; addEventListener('message', (event) => window.heard.push({ origin: event.origin, ...event.data })); \
    window.say = (message, to) => document.querySelector('#toile').contentWindow.postMessage(message, to); return true; })()";

async fn heard(page: &Page, kind: &str) -> Value {
    page.until(&format!("window.heard.some((one) => one.type === {})", json!(kind))).await;
    page.js(&format!("window.heard.findLast((one) => one.type === {})", json!(kind))).await
}

#[test]
#[ignore = "needs a browser"]
fn the_host_page_gets_the_answer_and_gives_a_piece() {
    let (listener, address) = free();
    let origin = format!("http://{address}");
    let service = service_for(&origin);
    let toile = service.url("");
    host_page(listener, &toile);
    let expected = service.estimate(&round_pad());
    let small = demo();
    browse_elsewhere(DESK, move |page| async move {
        page.go(&origin).await;
        page.until("document.querySelector('#state').textContent.startsWith('Comfortable')").await;
        page.js(NOTE).await;
        // A piece from the page around it replaces what stands in the form.
        let say = |message: Value| format!("window.say({message}, {}) ?? true", json!(toile));
        page.js(&say(json!({"toile": 1, "type": "piece", "piece": round_pad()}))).await;
        let answer = heard(&page, "answer").await;
        assert_eq!((&answer["origin"], &answer["toile"]), (&json!(toile), &json!(1)));
        assert_eq!(answer["answer"]["sentence"], expected["sentence"]);
        assert_eq!(answer["piece"]["pads"], round_pad()["pads"]);
        // The frame is as high as what it shows.
        page.until("Math.abs(document.querySelector('#toile').clientHeight - 2 - (window.heard.findLast((one) => one.type === 'height')?.height_px ?? -9)) < 4").await;
        // What is no piece is refused in words and changes nothing.
        for odd in [
            json!({"toile": 1, "type": "piece", "piece": [1]}),
            json!({"toile": 1, "type": "piece", "piece": {"pads": 7}}),
            json!({"toile": 1, "type": "eat"}),
            json!({"toile": 1, "type": "key", "key": 5}),
        ] {
            page.js("window.heard.length = 0").await;
            page.js(&say(odd.clone())).await;
            let refused = heard(&page, "refused").await;
            assert!(refused["why"].as_str().is_some_and(|why| why.len() > 10), "{odd}: {refused}");
        }
        // The visitor hands it over.
        let frame = page.driver.find(By::Css("#toile")).await.expect("a frame");
        frame.enter_frame().await.expect("a frame that may be entered");
        assert!(!page.is_shown(".sheet").await && !page.is_shown(".masthead-actions").await && !page.is_shown(".footer").await);
        assert!(page.is_shown("#verdict-word").await && page.is_shown("#checks").await && page.is_shown("#form").await);
        page.until("!document.querySelector('#hand-over').disabled").await;
        page.click("#hand-over").await;
        page.driver.enter_default_frame().await.expect("the page around it");
        page.until("!document.querySelector('#ask').hidden").await;
        let piece = page.js("JSON.parse(document.querySelector('#ask').elements.piece.value)").await;
        assert_eq!(piece["pads"], round_pad()["pads"]);
        // What cannot be answered is told, too, and cannot be handed over.
        page.js("window.heard.length = 0").await;
        let mut odd = small;
        odd["quantity"] = json!(0);
        page.js(&say(json!({"toile": 1, "type": "piece", "piece": odd}))).await;
        heard(&page, "unanswered").await;
    });
}

#[test]
#[ignore = "needs a browser"]
fn axe_finds_nothing_in_the_form_within_another_page() {
    for size in [DESK, PHONE] {
        let (listener, address) = free();
        let origin = format!("http://{address}");
        let service = service_for(&origin);
        host_page(listener, &service.url(""));
        browse_elsewhere(size, move |page| async move {
            page.go(&origin).await;
            page.until("document.querySelector('#state').textContent.startsWith('Comfortable')").await;
            let frame = page.driver.find(By::Css("#toile")).await.expect("a frame");
            frame.enter_frame().await.expect("a frame that may be entered");
            look_over(&page, "the form in a frame").await;
            page.fill("/pads/0/shape/diameter_mm", "-3").await;
            page.press(Key::Enter).await;
            page.until("!document.querySelector('#error-summary').hidden").await;
            look_over(&page, "the form in a frame, with an error").await;
        });
    }
}

#[test]
#[ignore = "needs a browser"]
fn a_page_that_is_not_named_cannot_show_the_form() {
    let (listener, address) = free();
    let (named, other) = (service_for("https://portal.example"), format!("http://{address}"));
    host_page(listener, &named.url(""));
    browse_elsewhere(DESK, move |page| async move {
        page.js("1").await;
        page.go(&other).await;
        page.until("performance.now() > 3000").await;
        assert_eq!(page.text("#state").await, "The form is on its way.");
        let (complaints, _) = page.logs().await;
        assert!(complaints.iter().any(|c| c.contains("frame-ancestors")), "{complaints:?}");
    });
}

#[test]
#[ignore = "needs a browser"]
fn a_message_from_elsewhere_is_not_heard() {
    let (listener, address) = free();
    let origin = format!("http://{address}");
    let service = service_for(&origin);
    let toile = service.url("");
    host_page(listener, &toile);
    browse_elsewhere(DESK, move |page| async move {
        page.go(&origin).await;
        page.until("document.querySelector('#state').textContent.startsWith('Comfortable')").await;
        page.js(NOTE).await;
        // Another frame of the same page is not the page around the form, and the form is not the frame's own either.
        page.js(&format!(
            "(() => {{ const other = document.createElement('iframe'); other.srcdoc = '<script>parent.frames[0].postMessage({{ toile: 1, type: \"piece\", piece: {{ pads: 7 }} }}, {})<\\/script>'; document.body.append(other); return true; }})()",
            json!(toile).to_string().replace('"', "\\\"")
        ))
        .await;
        // Without the mark of the language nothing is a message.
        page.js(&format!("window.say({{ type: 'piece', piece: {{ pads: 7 }} }}, {}) ?? true", json!(toile))).await;
        page.js(&format!("window.say('piece', {}) ?? true", json!(toile))).await;
        page.until("performance.now() > 4000").await;
        assert_eq!(page.js("window.heard.filter((one) => one.type === 'refused').length").await, 0);
        // It still hears the one that it should.
        page.js(&format!("window.say({{ toile: 1, type: 'piece', piece: {{ pads: 7 }} }}, {}) ?? true", json!(toile))).await;
        heard(&page, "refused").await;
    });
}
