//! A browser with the page in it: started for one test, ended with it, whatever happens in between.

use std::future::Future;
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use tempfile::TempDir;
use thirtyfour::prelude::*;
use thirtyfour::{ChromiumLikeCapabilities, LoggingPrefsLogLevel, TypingData};
use toile_tests::{Service, free_port, service, spare_folder};

/// Longest wait for anything on the page. All of it comes within a second; a busy machine gets more.
const PATIENCE: Duration = Duration::from_secs(15);

/// One window with the page.
#[derive(Clone)]
pub struct Page {
    pub driver: WebDriver,
    address: String,
}

/// Width and height of a desk screen and of a phone, in the pixels of style sheets.
pub const DESK: (u32, u32) = (1400, 900);
pub const PHONE: (u32, u32) = (360, 800);

/// Runs a test in a browser of its own, with the page open and its first answer shown.
pub fn browse<T: Future<Output = ()> + Send + 'static>(size: (u32, u32), test: impl FnOnce(Page) -> T) {
    browse_at(service(), size, test);
}

/// As [`browse`], at another service.
pub fn browse_at<T: Future<Output = ()> + Send + 'static>(service: &Service, size: (u32, u32), test: impl FnOnce(Page) -> T) {
    browse_from(Some(service.url("/")), size, test);
}

/// Runs a test in a browser of its own, with nothing open yet.
pub fn browse_elsewhere<T: Future<Output = ()> + Send + 'static>(size: (u32, u32), test: impl FnOnce(Page) -> T) {
    browse_from(None, size, test);
}

fn browse_from<T: Future<Output = ()> + Send + 'static>(address: Option<String>, size: (u32, u32), test: impl FnOnce(Page) -> T) {
    let profile = spare_folder();
    let chauffeur = Chauffeur::start();
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().expect("threads");
    let outcome = runtime.block_on(async {
        let driver = WebDriver::new(&chauffeur.address, capabilities(&profile)).await.expect("a browser starts");
        let page = Page { driver: driver.clone(), address: address.clone().unwrap_or_default() };
        page.set_size(size).await;
        if address.is_some() {
            page.open("").await;
        }
        let outcome = tokio::spawn(test(page)).await;
        // Also after a failure: the browser is no child of ours and would stay.
        driver.quit().await.expect("the browser ends");
        outcome
    });
    if let Err(failure) = outcome {
        std::panic::resume_unwind(failure.into_panic());
    }
}

fn capabilities(profile: &TempDir) -> thirtyfour::ChromeCapabilities {
    let mut capabilities = DesiredCapabilities::chrome();
    for argument in [
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--disable-dev-shm-usage",
    ] {
        capabilities.add_arg(argument).expect("an argument");
    }
    capabilities.add_arg(&format!("--user-data-dir={}", profile.path().display())).expect("an argument");
    capabilities.set_logging_prefs("browser", LoggingPrefsLogLevel::All).expect("a setting");
    capabilities.set_logging_prefs("performance", LoggingPrefsLogLevel::All).expect("a setting");
    capabilities
}

/// The process that drives the browser.
struct Chauffeur {
    child: Child,
    address: String,
}

impl Chauffeur {
    fn start() -> Self {
        let port = free_port();
        let child = Command::new("chromedriver")
            .arg(format!("--port={port}"))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("chromedriver is installed: see DEVELOPERS.md");
        let chauffeur = Self { child, address: format!("http://127.0.0.1:{port}") };
        let until = Instant::now() + PATIENCE;
        while TcpStream::connect(("127.0.0.1", port)).is_err() {
            assert!(Instant::now() < until, "chromedriver does not answer");
            std::thread::sleep(Duration::from_millis(20));
        }
        chauffeur
    }
}

impl Drop for Chauffeur {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Page {
    /// Opens the page afresh, with this fragment, and waits for its first answer.
    pub async fn open(&self, fragment: &str) {
        // A change of the fragment alone would not load the page again.
        self.driver.goto("about:blank").await.expect("an empty page");
        self.driver.goto(format!("{}{fragment}", self.address)).await.expect("the page");
        self.until("document.querySelector('#verdict')?.dataset.verdict").await;
        self.settled().await;
    }

    /// Opens the page with a piece in its link, in the plain form that programs write.
    pub async fn open_piece(&self, piece: &Value) {
        let fragment = self.js(&format!("'#p=' + btoa({}).replaceAll('+', '-').replaceAll('/', '_')", json!(piece.to_string()))).await;
        self.open(fragment.as_str().expect("a fragment")).await;
    }

    /// Opens an address that is not the page's own.
    pub async fn go(&self, address: &str) {
        self.driver.goto(address).await.expect("an address that answers");
    }

    /// Where the page lives.
    pub fn address(&self) -> &str {
        &self.address
    }

    /// Sets the size of the window's inside; a real window could not be as narrow as a phone.
    pub async fn set_size(&self, (width, height): (u32, u32)) {
        let screen = json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false});
        self.cdp("Emulation.setDeviceMetricsOverride", screen).await;
    }

    /// A command of the browser's own protocol.
    pub async fn cdp(&self, method: &str, parameters: Value) -> Value {
        self.driver.cdp().send_raw(method, parameters).await.unwrap_or_else(|error| panic!("{method}: {error}"))
    }

    /// The value of an expression in the page.
    pub async fn js(&self, expression: &str) -> Value {
        let script = format!("return {expression};");
        self.driver.execute(script.as_str(), Vec::new()).await.unwrap_or_else(|error| panic!("{expression}: {error}")).json().clone()
    }

    /// The value of a promise in the page.
    pub async fn js_later(&self, promise: &str) -> Value {
        let script = format!("const done = arguments[0]; Promise.resolve({promise}).then(done, (cause) => done('failed: ' + cause));");
        self.driver.execute_async(script.as_str(), Vec::new()).await.unwrap_or_else(|error| panic!("{promise}: {error}")).json().clone()
    }

    /// Waits until an expression is true.
    pub async fn until(&self, expression: &str) {
        let until = Instant::now() + PATIENCE;
        loop {
            if self.js(&format!("Boolean({expression})")).await == true {
                return;
            }
            assert!(Instant::now() < until, "never came true: {expression}\n{}", self.state().await);
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }

    /// Waits until the page has had time to ask and to be answered.
    pub async fn settled(&self) {
        // Typing is followed after 150 ms, remarks after 700 ms.
        tokio::time::sleep(Duration::from_millis(1000)).await;
        self.until(
            "document.querySelector('#freshness').hidden || !document.querySelector('#freshness-text').textContent.startsWith('updating')",
        )
        .await;
    }

    /// What the page says, for a message.
    async fn state(&self) -> String {
        self.js("['#verdict-word', '#verdict-sentence', '#freshness-text', '#error-list'].map((q) => q + ': ' + document.querySelector(q)?.textContent).join('\\n')")
            .await
            .to_string()
    }

    /// The text of the first element, as it stands in the document.
    pub async fn text(&self, selector: &str) -> String {
        let text = self.js(&format!("document.querySelector({})?.textContent", json!(selector))).await;
        text.as_str().unwrap_or_else(|| panic!("no element {selector}")).trim().to_owned()
    }

    /// How many elements there are.
    pub async fn count(&self, selector: &str) -> u64 {
        self.js(&format!("document.querySelectorAll({}).length", json!(selector))).await.as_u64().expect("a number")
    }

    /// An attribute of the first element; empty where there is none.
    pub async fn attribute(&self, selector: &str, name: &str) -> String {
        let value = self.js(&format!("document.querySelector({})?.getAttribute({})", json!(selector), json!(name))).await;
        value.as_str().unwrap_or_default().to_owned()
    }

    /// Whether a person sees the element.
    pub async fn is_shown(&self, selector: &str) -> bool {
        self.js(&format!("Boolean(document.querySelector({})?.checkVisibility())", json!(selector))).await == true
    }

    /// Presses keys where the focus is.
    pub async fn press(&self, keys: impl Into<TypingData>) {
        self.driver.active_element().await.expect("a focus").send_keys(keys).await.expect("keys are taken");
    }

    /// Puts the focus on an element, its disclosures opened.
    pub async fn focus(&self, selector: &str) {
        let found = self
            .js(&format!(
                "(() => {{ const e = document.querySelector({}); if (!e) return false; \
                 let at = e.tagName === 'SUMMARY' ? e.parentElement.parentElement : e; \
                 for (let d = at.closest('details'); d; d = d.parentElement.closest('details')) d.open = true; \
                 e.scrollIntoView({{ block: 'center' }}); e.focus(); e.select?.(); return document.activeElement === e; }})()",
                json!(selector)
            ))
            .await;
        assert_eq!(found, true, "{selector} cannot take the focus");
    }

    /// Types a text into a field in place of what stands there, key by key.
    pub async fn fill(&self, pointer: &str, text: &str) {
        self.focus(&field(pointer)).await;
        match text {
            "" => self.press(Key::Delete).await,
            text => self.press(text).await,
        }
    }

    /// Chooses an option of a list by the start of its words, as the keyboard does.
    pub async fn choose(&self, pointer: &str, words: &str, value: &str) {
        self.focus(&field(pointer)).await;
        self.press(words).await;
        assert_eq!(self.value(pointer).await, value, "{words} chooses something else");
    }

    /// Chooses the option of a list with this value, for lists that are no fields of the form.
    pub async fn choose_option(&self, selector: &str, value: &str) {
        self.focus(selector).await;
        let chosen = format!(
            "(() => {{ const list = document.querySelector({}); list.value = {}; list.dispatchEvent(new Event('change', {{ bubbles: true }})); return list.value; }})()",
            json!(selector),
            json!(value)
        );
        assert_eq!(self.js(&chosen).await, value, "{selector} has no such option");
    }

    /// Clicks an element, its disclosures opened.
    pub async fn click(&self, selector: &str) {
        self.focus(selector).await;
        self.driver.find(By::Css(selector)).await.expect("an element").click().await.expect("a click");
    }

    /// What a field holds.
    pub async fn value(&self, pointer: &str) -> String {
        let value = self.js(&format!("document.querySelector({})?.value", json!(field(pointer)))).await;
        value.as_str().unwrap_or_else(|| panic!("no field {pointer}")).to_owned()
    }

    /// The verdict shown.
    pub async fn verdict(&self) -> String {
        self.attribute("#verdict", "data-verdict").await
    }

    /// What the browser complained of so far, and every address it asked.
    pub async fn logs(&self) -> (Vec<String>, Vec<String>) {
        let complaints = self.driver.get_log("browser").await.expect("a log");
        let complaints = complaints.into_iter().filter(|e| e.level != "INFO" && e.level != "DEBUG").map(|e| e.message).collect();
        let events = self.driver.get_log("performance").await.expect("a log");
        let asked = events
            .iter()
            .filter_map(|e| serde_json::from_str::<Value>(&e.message).ok())
            .filter(|e| e["message"]["method"] == "Network.requestWillBeSent")
            .filter_map(|e| e["message"]["params"]["request"]["url"].as_str().map(str::to_owned))
            .collect();
        (complaints, asked)
    }
}

/// The control of a field.
pub fn field(pointer: &str) -> String {
    format!("[data-pointer=\"{pointer}\"]")
}
