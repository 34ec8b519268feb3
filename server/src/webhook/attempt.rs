//! One try to deliver one event: signed, bounded in time and size, and told in few words.

use std::error::Error;
use std::time::Duration;

use reqwest::header::RETRY_AFTER;
use reqwest::redirect::Policy;
use reqwest::{Client, Response, StatusCode};
use standardwebhooks::{HEADER_WEBHOOK_ID, HEADER_WEBHOOK_SIGNATURE, HEADER_WEBHOOK_TIMESTAMP, Webhook};
use url::Url;

use super::address::{Outside, is_outside, literal, refusal};
use crate::store::DeliveryClaim;

/// Most of an answer that is read. Only its status counts; the rest is read so that a polite receiver gets to its end.
const MOST_READ: usize = 4 * 1024;

/// Most letters of why a try failed.
const MOST_WORDS: usize = 300;

/// What a receiver made of a try.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answered {
    /// HTTP status; 0 where no answer came.
    pub status: u16,
    /// Why it was no success; empty where it was.
    pub why: String,
    /// How long the receiver asks to be left alone.
    pub retry_after: Option<Duration>,
}

impl Answered {
    /// Whether the event was taken.
    pub const fn taken(&self) -> bool {
        self.why.is_empty()
    }

    /// Whether the receiver says that it is gone for good.
    pub const fn gone(&self) -> bool {
        self.status == 410
    }

    fn nothing(why: impl Into<String>) -> Self {
        Self { status: 0, why: why.into().chars().take(MOST_WORDS).collect(), retry_after: None }
    }
}

/// A client that goes where it is sent and nowhere else: no redirect is followed, no proxy asked, no connection kept.
///
/// # Errors
/// What keeps it from being made, such as a machine without certificates of authorities.
pub fn client(allow_private: bool, limit: Duration) -> Result<Client, String> {
    Client::builder()
        .redirect(Policy::none())
        // A proxy of the environment would connect in our place, past the check of the address.
        .no_proxy()
        .dns_resolver(Outside { allow_private })
        // A kept connection would be used again without asking where its name leads now.
        .pool_max_idle_per_host(0)
        .referer(false)
        .no_gzip()
        .no_brotli()
        .http1_only()
        .timeout(limit)
        .user_agent(concat!("toile/", env!("CARGO_PKG_VERSION")))
        .build()
        .map_err(|error| chain(&error))
}

/// Sends an event once.
pub async fn attempt(client: &Client, allow_private: bool, claim: &DeliveryClaim, now_s: i64) -> Answered {
    let Ok(url) = Url::parse(&claim.url) else { return Answered::nothing("The address cannot be read.") };
    if let Some(address) = literal(&url).filter(|address| !allow_private && !is_outside(*address)) {
        return Answered::nothing(refusal(address));
    }
    let Some(signatures) = signatures(claim, now_s) else { return Answered::nothing("The secret cannot sign.") };
    let sent = client
        .post(url)
        .header(HEADER_WEBHOOK_ID, claim.event.as_str())
        .header(HEADER_WEBHOOK_TIMESTAMP, now_s.to_string())
        .header(HEADER_WEBHOOK_SIGNATURE, signatures)
        .header("content-type", "application/json")
        .body(claim.payload.clone())
        .send()
        .await;
    match sent {
        Ok(response) => answered(response).await,
        Err(error) if error.is_timeout() => Answered::nothing("No answer came in time."),
        Err(error) => Answered::nothing(chain(&error.without_url())),
    }
}

/// One signature for each secret that counts, the present one first, with blanks between them.
fn signatures(claim: &DeliveryClaim, now_s: i64) -> Option<String> {
    let sign = |secret: &String| Webhook::new(secret).ok()?.sign(&claim.event, now_s, claim.payload.as_bytes()).ok();
    Some(claim.secrets.iter().map(sign).collect::<Option<Vec<_>>>()?.join(" "))
}

async fn answered(mut response: Response) -> Answered {
    let status = response.status();
    let retry_after = response.headers().get(RETRY_AFTER).and_then(|v| v.to_str().ok()?.parse().ok()).map(Duration::from_secs);
    // What goes wrong from here on is the receiver's loss: it has said what it made of the event.
    let mut left = MOST_READ;
    while let Ok(Some(chunk)) = response.chunk().await {
        let Some(rest) = left.checked_sub(chunk.len()) else { break };
        left = rest;
    }
    let why = if status.is_success() { String::new() } else { words(status) };
    Answered { status: status.as_u16(), why, retry_after }
}

fn words(status: StatusCode) -> String {
    let reason = status.canonical_reason().map_or_else(String::new, |reason| format!(" {reason}"));
    let aside = if status.is_redirection() { "; redirects are not followed" } else { "" };
    format!("The receiver answered {}{reason}{aside}.", status.as_u16())
}

/// An error with all its causes.
fn chain(error: &dyn Error) -> String {
    let mut words = error.to_string();
    let mut cause = error.source();
    while let Some(inner) = cause {
        words = format!("{words}: {inner}");
        cause = inner.source();
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    fn claim(secrets: &[&str]) -> DeliveryClaim {
        DeliveryClaim {
            id: "d".into(),
            claim: "c".into(),
            attempts: 1,
            event: "msg_p5jXN8AQM9LWM0D4loKWxJek".into(),
            payload: r#"{"test": 2432232314}"#.into(),
            webhook: "w".into(),
            url: "https://example.org/".into(),
            secrets: secrets.iter().map(|s| (*s).into()).collect(),
        }
    }

    #[test]
    fn a_signature_is_that_of_the_published_example() {
        // Id, time, body and secret as in the examples that the scheme's libraries are tested with, from memory; the signature was
        // computed by Python's hmac and base64 modules.
        let signed = signatures(&claim(&["whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"]), 1_614_265_330).expect("a signature");
        assert_eq!(signed, "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=");
    }

    #[test]
    fn while_a_secret_is_changed_both_sign() {
        let both = signatures(&claim(&["whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "whsec_C2FVsBQIhrscChlQIMV+b5sSYspob7oD"]), 1_614_265_330);
        let both = both.expect("signatures");
        let parts: Vec<&str> = both.split(' ').collect();
        assert_eq!((parts.len(), parts[0]), (2, "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="));
        assert!(parts[1].starts_with("v1,") && parts[1] != parts[0]);
        assert_eq!(signatures(&claim(&["whsec_not base64"]), 0), None);
    }
}
