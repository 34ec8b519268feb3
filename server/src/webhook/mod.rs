//! Telling others what happened: takes deliveries that are due, tries them, and records what came of it.
//!
//! Delivery is at least once. An event and its deliveries are written together with what happened, so nothing that happened is
//! forgotten; a delivery is claimed for a while before it is tried, so of several processes one tries it; a process that dies in
//! between leaves its claim to run out, and another tries again. The receiver may therefore see an event twice, with the same
//! `webhook-id`. Events may overtake each other, because a failed try does not hold up those behind it; each one tells its time.

mod address;
mod attempt;

use std::collections::HashMap;
use std::time::Duration;

use reqwest::Client;
use tokio::sync::watch;
use tokio::task::JoinSet;
use tokio::time::{Instant, sleep, sleep_until};

use crate::config::PortalSettings;
use crate::store::{DeliveryBounds, DeliveryClaim, DeliveryOutcome, Store, StoreFault, now_ms};
pub use address::{is_outside, literal, refusal};
use attempt::{Answered, attempt};

/// How deliveries are tried.
#[derive(Debug, Clone, Copy)]
pub struct Sending {
    /// Whether addresses inside may be called.
    pub allow_private: bool,
    /// Longest time of one try, from the question for the name to the end of the answer.
    pub limit: Duration,
    /// Wait after the first try that failed; each further wait is four times as long, up to six hours.
    pub first_wait: Duration,
    /// Tries before a delivery is parked.
    pub tries: i64,
}

impl Sending {
    /// Ten tries within about a day.
    pub const USUAL: Self = Self { allow_private: false, limit: Duration::from_secs(10), first_wait: Duration::from_secs(5), tries: 10 };

    /// How long a claim holds: a try and the record of it, with time to spare.
    const fn lease(&self) -> Duration {
        self.limit.saturating_add(Duration::from_secs(5))
    }
}

impl From<&PortalSettings> for Sending {
    fn from(settings: &PortalSettings) -> Self {
        let limit = Duration::from_secs(u64::from(settings.webhook_timeout_s));
        Self { allow_private: settings.allow_private_webhooks, limit, ..Self::USUAL }
    }
}

/// Longest wait between two tries.
const LONGEST_WAIT: Duration = Duration::from_secs(6 * 60 * 60);

/// How often the database is asked whether something is due.
const PULSE: Duration = Duration::from_millis(500);

/// Wait after the database did not answer.
const DATABASE_WAIT: Duration = Duration::from_secs(3);

/// How often what is old is removed.
const SWEEP: Duration = Duration::from_secs(60);

/// Most tries under way for one webhook, so that a slow one does not hold up the others.
const MOST_OF_ONE: u32 = 4;

/// What stays in the database.
const BOUNDS: DeliveryBounds = DeliveryBounds {
    keep_delivered: Duration::from_secs(7 * 24 * 60 * 60),
    most_delivered: 10_000,
    keep_parked: Duration::from_secs(30 * 24 * 60 * 60),
    most_parked: 1000,
    most_pending: 10_000,
};

/// Sends what is due until told to stop; then finishes the tries under way.
///
/// # Errors
/// What keeps anything from being sent at all.
pub async fn send_deliveries(store: Store, sending: Sending, mut stop: watch::Receiver<bool>) -> Result<(), String> {
    let client = attempt::client(sending.allow_private, sending.limit)?;
    let mut under_way = JoinSet::<String>::new();
    let mut busy: HashMap<String, u32> = HashMap::new();
    let mut next_sweep = Instant::now();
    let mut next_claim = Instant::now();
    loop {
        tokio::select! {
            _ = stop.wait_for(|stopping| *stopping) => break,
            Some(done) = under_way.join_next() => {
                // A try that panicked is known by no webhook; its place is given back when all tries have ended.
                if let Ok(webhook) = done { release(&mut busy, &webhook) }
                if under_way.is_empty() { busy.clear() }
                continue;
            }
            () = sleep_until(next_claim) => {}
        }
        next_claim = Instant::now() + PULSE;
        if next_sweep <= Instant::now() {
            next_sweep = Instant::now() + SWEEP;
            if let Err(fault) = store.delivery_sweep(BOUNDS).await {
                tracing::warn!(target: "toile::webhook", why = %fault, "old deliveries could not be removed");
            }
        }
        let taken: Vec<(String, u32)> = busy.iter().map(|(webhook, count)| (webhook.clone(), *count)).collect();
        match store.delivery_claim(MOST_OF_ONE, sending.lease(), &taken).await {
            Ok(claims) => {
                for claim in claims {
                    *busy.entry(claim.webhook.clone()).or_default() += 1;
                    under_way.spawn(deliver(store.clone(), client.clone(), sending, claim));
                }
            }
            Err(fault) => {
                tracing::warn!(target: "toile::webhook", why = %fault, "deliveries could not be looked for");
                next_claim = Instant::now() + DATABASE_WAIT;
            }
        }
    }
    while under_way.join_next().await.is_some() {}
    Ok(())
}

fn release(busy: &mut HashMap<String, u32>, webhook: &str) {
    if let Some(count) = busy.get_mut(webhook) {
        *count = count.saturating_sub(1);
    }
    busy.retain(|_, count| *count > 0);
}

/// Tries a delivery and records what came of it; the webhook it was for.
async fn deliver(store: Store, client: Client, sending: Sending, claim: DeliveryClaim) -> String {
    let started = Instant::now();
    let answered = attempt(&client, sending.allow_private, &claim, now_ms() / 1000).await;
    metrics::histogram!("toile_webhook_seconds").record(started.elapsed().as_secs_f64());
    let gone = answered.gone();
    let outcome = outcome(answered, &sending, claim.attempts, chance());
    let label = match &outcome {
        DeliveryOutcome::Delivered(_) => "delivered",
        DeliveryOutcome::Again { .. } => "failed",
        DeliveryOutcome::Parked { .. } => "parked",
    };
    metrics::counter!("toile_webhook_tries_total", "outcome" => label).increment(1);
    tracing::info!(target: "toile::webhook", webhook = claim.webhook, event = claim.event, attempt = claim.attempts, outcome = label, "tried");
    if let Err(fault) = record(&store, &claim, &outcome, gone).await {
        // The claim runs out and the delivery is tried again: the receiver sees it twice rather than never.
        tracing::warn!(target: "toile::webhook", delivery = claim.id, why = %fault, "the outcome of a delivery could not be recorded");
    }
    claim.webhook
}

async fn record(store: &Store, claim: &DeliveryClaim, outcome: &DeliveryOutcome, gone: bool) -> Result<(), StoreFault> {
    let recorded = store.delivery_record(claim, outcome).await;
    if let Err(StoreFault::Unreachable(_)) = recorded {
        sleep(Duration::from_secs(1)).await;
        store.delivery_record(claim, outcome).await?;
    } else {
        recorded?;
    }
    // The scheme: a receiver that answers 410 wants no more.
    if gone { store.webhook_pause("the receiver", &claim.webhook).await } else { Ok(()) }
}

/// What is to be done after an answer; `chance` is anywhere from 0 to 1.
fn outcome(answered: Answered, sending: &Sending, attempts: i64, chance: f64) -> DeliveryOutcome {
    if answered.taken() {
        return DeliveryOutcome::Delivered(answered.status);
    }
    let gone = answered.gone();
    let Answered { status, why, retry_after } = answered;
    if attempts >= sending.tries || gone {
        return DeliveryOutcome::Parked { status, why };
    }
    let wait = wait(sending.first_wait, attempts, chance).max(retry_after.unwrap_or_default().min(LONGEST_WAIT));
    DeliveryOutcome::Again { status, why, wait }
}

/// The wait after this many tries, between three and five quarters of what the ladder says: receivers that failed together are
/// not asked again together.
fn wait(first: Duration, attempts: i64, chance: f64) -> Duration {
    let steps = attempts.saturating_sub(1).clamp(0, 20) as u32;
    let ladder = first.saturating_mul(4_u32.saturating_pow(steps)).min(LONGEST_WAIT);
    ladder.mul_f64(0.75 + 0.5 * chance)
}

/// A number from 0 to 1, another one each time.
fn chance() -> f64 {
    f64::from(getrandom::u32().unwrap_or(u32::MAX / 2)) / f64::from(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answered(status: u16, why: &str, retry_after_s: Option<u64>) -> Answered {
        Answered { status, why: why.into(), retry_after: retry_after_s.map(Duration::from_secs) }
    }

    #[test]
    fn waits_grow_fourfold_and_stop_growing() {
        let middle: Vec<u64> = (1..=10).map(|n| wait(Duration::from_secs(5), n, 0.5).as_secs()).collect();
        assert_eq!(middle, [5, 20, 80, 320, 1280, 5120, 20_480, 21_600, 21_600, 21_600]);
        assert_eq!(wait(Duration::from_secs(8), 1, 0.0), Duration::from_secs(6));
        assert_eq!(wait(Duration::from_secs(8), 1, 1.0), Duration::from_secs(10));
        assert_eq!(wait(Duration::from_secs(5), i64::MAX, 0.5), LONGEST_WAIT);
    }

    #[test]
    fn a_delivery_is_taken_tried_again_or_given_up() {
        let sending = Sending::USUAL;
        let after = |answered: Answered, attempts: i64| outcome(answered, &sending, attempts, 0.5);
        assert_eq!(after(answered(204, "", None), 3), DeliveryOutcome::Delivered(204));
        let again = |status: u16, seconds: u64| DeliveryOutcome::Again { status, why: "no".into(), wait: Duration::from_secs(seconds) };
        assert_eq!(after(answered(500, "no", None), 1), again(500, 5));
        assert_eq!(after(answered(429, "no", Some(600)), 1), again(429, 600));
        assert_eq!(after(answered(503, "no", Some(u64::MAX)), 1), again(503, LONGEST_WAIT.as_secs()));
        let parked = |status: u16| DeliveryOutcome::Parked { status, why: "no".into() };
        assert_eq!(after(answered(0, "no", None), 10), parked(0));
        assert_eq!(after(answered(410, "no", None), 1), parked(410));
    }

    #[test]
    fn chance_is_not_always_the_same() {
        let drawn: Vec<f64> = (0..20).map(|_| chance()).collect();
        assert!(drawn.iter().all(|x| (0.0..=1.0).contains(x)) && drawn.windows(2).any(|w| w[0] != w[1]));
    }
}
