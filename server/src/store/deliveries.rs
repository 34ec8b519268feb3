//! One event on its way to one webhook: what waits, what is tried, what was given up.

use std::time::Duration;

use sqlx::Row;
use sqlx::any::AnyRow;

use super::{Kind, Store, StoreFault, new_id, now_ms};

/// Where a delivery stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DeliveryState {
    /// It waits for its next try, or is being tried.
    Pending,
    /// The webhook took it.
    Delivered,
    /// It was given up; it may be sent again by hand.
    Parked,
}

impl DeliveryState {
    /// All states.
    pub const ALL: [Self; 3] = [Self::Pending, Self::Delivered, Self::Parked];

    /// The name on the wire and in the database.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Pending => "pending",
            Self::Delivered => "delivered",
            Self::Parked => "parked",
        }
    }

    /// The state of this name.
    pub fn of(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|state| state.name() == name)
    }
}

/// A delivery, as its webhook's owner sees it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Delivery {
    /// Id; grows with time.
    pub id: String,
    /// The event: the `webhook-id` of every try.
    pub event: String,
    /// What happened.
    pub kind: String,
    /// To what.
    pub subject: String,
    /// When.
    pub at_ms: i64,
    /// Where it stands.
    pub state: DeliveryState,
    /// Tries so far.
    pub attempts: i64,
    /// When it is tried next, where it is pending.
    pub next_at_ms: i64,
    /// When it was tried last; 0 before the first try.
    pub last_at_ms: i64,
    /// HTTP status of the last answer; 0 where none came.
    pub last_status: i64,
    /// Why the last try failed; empty where it did not.
    pub last_error: String,
}

/// A delivery that this process may try now, with all that a try needs. Not `Debug`: it holds secrets.
#[derive(Clone)]
pub struct DeliveryClaim {
    /// The delivery.
    pub id: String,
    /// This claim of it: what a later one found out stands against what this one finds out.
    pub claim: String,
    /// Tries so far, this one included.
    pub attempts: i64,
    /// The event.
    pub event: String,
    /// The body to send.
    pub payload: String,
    /// To whom.
    pub webhook: String,
    /// Where.
    pub url: String,
    /// What it is signed with: the present secret, then the one before it while that still counts.
    pub secrets: Vec<String>,
}

/// What came of a try.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DeliveryOutcome {
    /// The webhook took it, with this status.
    Delivered(u16),
    /// It did not, and is asked again after this time.
    Again {
        /// Status of its answer; 0 where none came.
        status: u16,
        /// Why.
        why: String,
        /// How long to wait.
        wait: Duration,
    },
    /// It did not, and is left alone until somebody sends it again.
    Parked {
        /// Status of its answer; 0 where none came.
        status: u16,
        /// Why.
        why: String,
    },
}

/// What the sweep leaves.
#[derive(Debug, Clone, Copy)]
pub struct DeliveryBounds {
    /// How long a delivery that was taken stays listed.
    pub keep_delivered: Duration,
    /// Most of one webhook that stay listed.
    pub most_delivered: i64,
    /// How long one that was given up stays.
    pub keep_parked: Duration,
    /// Most that are parked of one webhook; the oldest go first.
    pub most_parked: i64,
    /// Most that wait of one webhook; the oldest are parked first.
    pub most_pending: i64,
}

/// Deliveries come with their event.
const LISTED: &str = "select d.id, d.event_id, e.kind, e.subject, e.at_ms, d.state, d.attempts, d.next_at_ms, d.last_at_ms, \
    d.last_status, d.last_error from deliveries d join events e on e.id = d.event_id";

impl Store {
    /// Deliveries of a webhook before one of them, newest first; all states where none is named.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn delivery_list(
        &self,
        webhook: &str,
        state: Option<DeliveryState>,
        before: Option<&str>,
        most: u32,
    ) -> Result<Vec<Delivery>, StoreFault> {
        let asked = format!(
            "{LISTED} where d.webhook_id = $1 and ($2 = '' or d.state = $2) and ($3 = '' or d.id < $3) order by d.id desc limit $4"
        );
        let rows = sqlx::query(sqlx::AssertSqlSafe(asked))
            .bind(webhook)
            .bind(state.map_or("", DeliveryState::name))
            .bind(before.unwrap_or_default())
            .bind(i64::from(most))
            .fetch_all(&self.pool)
            .await?;
        rows.iter().map(delivery).collect()
    }

    /// One delivery of a webhook.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn delivery_find(&self, webhook: &str, id: &str) -> Result<Option<Delivery>, StoreFault> {
        let asked = format!("{LISTED} where d.webhook_id = $1 and d.id = $2");
        let row = sqlx::query(sqlx::AssertSqlSafe(asked)).bind(webhook).bind(id).fetch_optional(&self.pool).await?;
        row.as_ref().map(delivery).transpose()
    }

    /// Claims up to `most` due deliveries of every webhook, for as long as the lease: whoever claims them and dies leaves them to
    /// the next one when it runs out.
    ///
    /// # Errors
    /// Why the database did not do it.
    pub async fn delivery_claim(&self, most: u32, lease: Duration, busy: &[(String, u32)]) -> Result<Vec<DeliveryClaim>, StoreFault> {
        let now = now_ms();
        // Asked first without a transaction: mostly nothing is due, and then nobody's writing is held up.
        let due: Vec<String> = sqlx::query_scalar(
            "select w.id from webhooks w where w.active = 1 and exists \
             (select 1 from deliveries d where d.state = 'pending' and d.webhook_id = w.id and d.next_at_ms <= $1) order by w.id",
        )
        .bind(now)
        .fetch_all(&self.pool)
        .await?;
        if due.is_empty() {
            return Ok(Vec::new());
        }
        // Machines that share a database go by its clock; what is left of a lease does not depend on theirs.
        let mut transaction = self.begin().await?;
        let now = self.clock(&mut transaction).await?;
        let skip = if self.kind == Kind::Postgres { " for update skip locked" } else { "" };
        let candidates = format!(
            "select id from deliveries where state = 'pending' and webhook_id = $1 and next_at_ms <= $2 order by next_at_ms, id limit $3{skip}"
        );
        let mut claims = Vec::new();
        for webhook in due {
            let under_way = busy.iter().find(|(id, _)| *id == webhook).map_or(0, |(_, count)| *count);
            let ids: Vec<String> = sqlx::query_scalar(sqlx::AssertSqlSafe(candidates.as_str()))
                .bind(webhook.as_str())
                .bind(now)
                .bind(i64::from(most.saturating_sub(under_way)))
                .fetch_all(&mut *transaction)
                .await?;
            for id in ids {
                let claim = new_id();
                sqlx::query("update deliveries set claim = $1, next_at_ms = $2, attempts = attempts + 1 where id = $3")
                    .bind(claim.as_str())
                    .bind(now.saturating_add(milliseconds(lease)))
                    .bind(id.as_str())
                    .execute(&mut *transaction)
                    .await?;
                let row = sqlx::query(
                    "select d.attempts, e.id, e.payload, w.url, w.secret, w.old_secret, w.old_secret_until_ms from deliveries d \
                     join events e on e.id = d.event_id join webhooks w on w.id = d.webhook_id where d.id = $1",
                )
                .bind(id.as_str())
                .fetch_optional(&mut *transaction)
                .await?;
                let Some(row) = row else { continue };
                let (secret, old, until): (String, String, i64) = (row.try_get(4)?, row.try_get(5)?, row.try_get(6)?);
                let secrets = if until > now { vec![secret, old] } else { vec![secret] };
                claims.push(DeliveryClaim {
                    id,
                    claim,
                    attempts: row.try_get(0)?,
                    event: row.try_get(1)?,
                    payload: row.try_get(2)?,
                    webhook: webhook.clone(),
                    url: row.try_get(3)?,
                    secrets,
                });
            }
        }
        transaction.commit().await?;
        Ok(claims)
    }

    /// Records what came of a try. A claim whose lease ran out and that another one took over records nothing.
    ///
    /// # Errors
    /// Why the database did not take it.
    pub async fn delivery_record(&self, claim: &DeliveryClaim, outcome: &DeliveryOutcome) -> Result<(), StoreFault> {
        let mut transaction = self.begin().await?;
        let now = self.clock(&mut transaction).await?;
        let (state, next, status, why) = match outcome {
            DeliveryOutcome::Delivered(status) => (DeliveryState::Delivered, now, *status, ""),
            DeliveryOutcome::Again { status, why, wait } => {
                (DeliveryState::Pending, now.saturating_add(milliseconds(*wait)), *status, why.as_str())
            }
            DeliveryOutcome::Parked { status, why } => (DeliveryState::Parked, now, *status, why.as_str()),
        };
        sqlx::query(
            "update deliveries set state = $1, next_at_ms = $2, last_at_ms = $3, last_status = $4, last_error = $5, claim = '' \
             where id = $6 and claim = $7",
        )
        .bind(state.name())
        .bind(next)
        .bind(now)
        .bind(i64::from(status))
        .bind(why)
        .bind(claim.id.as_str())
        .bind(claim.claim.as_str())
        .execute(&mut *transaction)
        .await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Puts a delivery in line again, whatever became of it, and gives it all its tries anew; `None` where there is none.
    ///
    /// # Errors
    /// Why the database did not take it.
    pub async fn delivery_resend(&self, actor: &str, webhook: &str, id: &str) -> Result<Option<Delivery>, StoreFault> {
        let mut transaction = self.begin().await?;
        let done = sqlx::query(
            "update deliveries set state = 'pending', attempts = 0, next_at_ms = $1, claim = '' where id = $2 and webhook_id = $3",
        )
        .bind(now_ms())
        .bind(id)
        .bind(webhook)
        .execute(&mut *transaction)
        .await?;
        if done.rows_affected() == 0 {
            return Ok(None);
        }
        Self::audit_note(&mut transaction, actor, "delivery_resend", id, "").await?;
        transaction.commit().await?;
        self.delivery_find(webhook, id).await
    }

    /// Removes what is old or too much. Safe to run in several processes at once.
    ///
    /// # Errors
    /// Why the database did not do it.
    pub async fn delivery_sweep(&self, bounds: DeliveryBounds) -> Result<(), StoreFault> {
        let now = now_ms();
        let before = |age: Duration| now.saturating_sub(milliseconds(age));
        for (state, until) in [("delivered", before(bounds.keep_delivered)), ("parked", before(bounds.keep_parked))] {
            sqlx::query("delete from deliveries where state = $1 and last_at_ms < $2").bind(state).bind(until).execute(&self.pool).await?;
        }
        let webhooks: Vec<String> = sqlx::query_scalar("select id from webhooks").fetch_all(&self.pool).await?;
        for webhook in webhooks {
            // Ids grow with time: what is older than the last one that may stay goes.
            let last = |state: &'static str, most: i64| {
                sqlx::query_scalar::<_, String>(
                    "select id from deliveries where state = $1 and webhook_id = $2 order by id desc limit 1 offset $3",
                )
                .bind(state)
                .bind(webhook.clone())
                .bind(most)
                .fetch_optional(&self.pool)
            };
            if let Some(first) = last("pending", bounds.most_pending).await? {
                sqlx::query(
                    "update deliveries set state = 'parked', claim = '', last_at_ms = $1, last_error = $2 \
                     where state = 'pending' and webhook_id = $3 and id <= $4",
                )
                .bind(now)
                .bind("Too many deliveries waited for this webhook.")
                .bind(webhook.as_str())
                .bind(first)
                .execute(&self.pool)
                .await?;
            }
            for (state, most) in [("delivered", bounds.most_delivered), ("parked", bounds.most_parked)] {
                let Some(first) = last(state, most).await? else { continue };
                sqlx::query("delete from deliveries where state = $1 and webhook_id = $2 and id <= $3")
                    .bind(state)
                    .bind(webhook.as_str())
                    .bind(first)
                    .execute(&self.pool)
                    .await?;
            }
        }
        // A webhook may be deleted while an event is being noted for it.
        sqlx::query("delete from deliveries where webhook_id not in (select id from webhooks)").execute(&self.pool).await?;
        sqlx::query("delete from events where at_ms < $1 and not exists (select 1 from deliveries d where d.event_id = events.id)")
            .bind(now.saturating_sub(60_000))
            .execute(&self.pool)
            .await?;
        Ok(())
    }
}

fn milliseconds(time: Duration) -> i64 {
    i64::try_from(time.as_millis()).unwrap_or(i64::MAX)
}

fn delivery(row: &AnyRow) -> Result<Delivery, StoreFault> {
    let state: String = row.try_get(5)?;
    Ok(Delivery {
        id: row.try_get(0)?,
        event: row.try_get(1)?,
        kind: row.try_get(2)?,
        subject: row.try_get(3)?,
        at_ms: row.try_get(4)?,
        state: DeliveryState::of(&state).ok_or_else(|| StoreFault::Internal(format!("no such state: {state}")))?,
        attempts: row.try_get(6)?,
        next_at_ms: row.try_get(7)?,
        last_at_ms: row.try_get(8)?,
        last_status: row.try_get(9)?,
        last_error: row.try_get(10)?,
    })
}
