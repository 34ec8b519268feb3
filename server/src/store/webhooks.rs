//! Who is told when something happens, and where.

use serde_json::json;
use sqlx::Row;
use sqlx::any::AnyRow;

use super::{EventKind, Store, StoreFault, new_id, now_ms};

/// A place that is told what happens. The secret is not among its fields: only [`Store::delivery_claim`] reads it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Webhook {
    /// Id.
    pub id: String,
    /// Where events are sent.
    pub url: String,
    /// What it is told.
    pub events: Vec<EventKind>,
    /// What it is for, in its maker's words.
    pub note: String,
    /// Whether it gets new events and what waits for it is sent.
    pub active: bool,
    /// Until when the secret before the present one signs as well; 0 where there is none.
    pub old_secret_until_ms: i64,
    /// Who made it.
    pub made_by: String,
    /// When.
    pub made_at_ms: i64,
    /// Deliveries that wait for a try.
    pub pending: i64,
    /// Deliveries that were given up.
    pub parked: i64,
}

/// A webhook to be made.
#[derive(Debug)]
pub struct NewWebhook {
    /// Where events are sent.
    pub url: String,
    /// What it is told.
    pub events: Vec<EventKind>,
    /// What it is for.
    pub note: String,
    /// What its deliveries are signed with. It is kept as it is: a hash could not sign.
    pub secret: String,
}

/// What is to be different; what is `None` stays.
#[derive(Debug, Default)]
pub struct WebhookChange {
    /// Where events are sent.
    pub url: Option<String>,
    /// What it is told.
    pub events: Option<Vec<EventKind>>,
    /// What it is for.
    pub note: Option<String>,
    /// Whether it works.
    pub active: Option<bool>,
}

const COLUMNS: &str = "id, url, events, note, active, old_secret_until_ms, made_by, made_at_ms, \
    (select count(*) from deliveries d where d.webhook_id = webhooks.id and d.state = 'pending'), \
    (select count(*) from deliveries d where d.webhook_id = webhooks.id and d.state = 'parked')";

impl Store {
    /// Makes a webhook, unless there are already `most`.
    ///
    /// # Errors
    /// Why the database did not take it.
    pub async fn webhook_create(&self, actor: &str, new: &NewWebhook, most: i64) -> Result<Option<Webhook>, StoreFault> {
        let mut transaction = self.begin().await?;
        let there: i64 = sqlx::query_scalar("select count(*) from webhooks").fetch_one(&mut *transaction).await?;
        if there >= most {
            return Ok(None);
        }
        let id = new_id();
        sqlx::query(
            "insert into webhooks (id, url, events, note, secret, old_secret, old_secret_until_ms, active, made_by, made_at_ms) \
             values ($1, $2, $3, $4, $5, '', 0, 1, $6, $7)",
        )
        .bind(id.as_str())
        .bind(new.url.as_str())
        .bind(names(&new.events))
        .bind(new.note.as_str())
        .bind(new.secret.as_str())
        .bind(actor)
        .bind(now_ms())
        .execute(&mut *transaction)
        .await?;
        Self::audit_note(&mut transaction, actor, "webhook_create", &id, "").await?;
        transaction.commit().await?;
        self.webhook_find(&id).await
    }

    /// Every webhook, oldest first.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn webhook_list(&self) -> Result<Vec<Webhook>, StoreFault> {
        let rows = sqlx::query(sqlx::AssertSqlSafe(format!("select {COLUMNS} from webhooks order by id"))).fetch_all(&self.pool).await?;
        rows.iter().map(webhook).collect()
    }

    /// One webhook.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn webhook_find(&self, id: &str) -> Result<Option<Webhook>, StoreFault> {
        let asked = sqlx::query(sqlx::AssertSqlSafe(format!("select {COLUMNS} from webhooks where id = $1")));
        let row = asked.bind(id).fetch_optional(&self.pool).await?;
        row.as_ref().map(webhook).transpose()
    }

    /// Changes a webhook; `None` where there is none.
    ///
    /// # Errors
    /// Why the database did not take it.
    pub async fn webhook_change(&self, actor: &str, id: &str, change: &WebhookChange) -> Result<Option<Webhook>, StoreFault> {
        let mut transaction = self.begin().await?;
        let done = sqlx::query(
            "update webhooks set url = coalesce($1, url), events = coalesce($2, events), note = coalesce($3, note), \
             active = coalesce($4, active) where id = $5",
        )
        .bind(change.url.as_deref())
        .bind(change.events.as_deref().map(names))
        .bind(change.note.as_deref())
        .bind(change.active.map(i64::from))
        .bind(id)
        .execute(&mut *transaction)
        .await?;
        if done.rows_affected() == 0 {
            return Ok(None);
        }
        let detail = match change.active {
            Some(true) => "resumed",
            Some(false) => "paused",
            None => "",
        };
        Self::audit_note(&mut transaction, actor, "webhook_change", id, detail).await?;
        transaction.commit().await?;
        self.webhook_find(id).await
    }

    /// Gives a webhook another secret; the one before signs as well until then. `None` where there is no such webhook.
    ///
    /// # Errors
    /// Why the database did not take it.
    pub async fn webhook_rotate(&self, actor: &str, id: &str, secret: &str, until_ms: i64) -> Result<Option<Webhook>, StoreFault> {
        let mut transaction = self.begin().await?;
        let done = sqlx::query("update webhooks set old_secret = secret, old_secret_until_ms = $1, secret = $2 where id = $3")
            .bind(until_ms)
            .bind(secret)
            .bind(id)
            .execute(&mut *transaction)
            .await?;
        if done.rows_affected() == 0 {
            return Ok(None);
        }
        Self::audit_note(&mut transaction, actor, "webhook_rotate", id, "").await?;
        transaction.commit().await?;
        self.webhook_find(id).await
    }

    /// Deletes a webhook with all its deliveries; whether there was one.
    ///
    /// # Errors
    /// Why the database did not do it.
    pub async fn webhook_delete(&self, actor: &str, id: &str) -> Result<bool, StoreFault> {
        let mut transaction = self.begin().await?;
        let done = sqlx::query("delete from webhooks where id = $1").bind(id).execute(&mut *transaction).await?;
        if done.rows_affected() == 0 {
            return Ok(false);
        }
        sqlx::query("delete from deliveries where webhook_id = $1").bind(id).execute(&mut *transaction).await?;
        Self::audit_note(&mut transaction, actor, "webhook_delete", id, "").await?;
        transaction.commit().await?;
        Ok(true)
    }

    /// Notes an event for this webhook alone, to try it out; the id of its delivery, `None` where there is no such webhook.
    ///
    /// # Errors
    /// Why the database did not take it.
    pub async fn webhook_ping(&self, actor: &str, id: &str) -> Result<Option<String>, StoreFault> {
        let mut transaction = self.begin().await?;
        let there = sqlx::query("select id from webhooks where id = $1").bind(id).fetch_optional(&mut *transaction).await?;
        if there.is_none() {
            return Ok(None);
        }
        let only = [id.to_owned()];
        let made = Self::event_deliver(&mut transaction, EventKind::WebhookPing, id, &json!({"webhook": id}), &only).await?;
        Self::audit_note(&mut transaction, actor, "webhook_ping", id, "").await?;
        transaction.commit().await?;
        Ok(made.into_iter().next())
    }

    /// Stops sending to a webhook that said that it is gone.
    ///
    /// # Errors
    /// Why the database did not take it.
    pub async fn webhook_pause(&self, actor: &str, id: &str) -> Result<(), StoreFault> {
        self.webhook_change(actor, id, &WebhookChange { active: Some(false), ..WebhookChange::default() }).await.map(|_| ())
    }
}

/// Kinds as one text; no name has a blank in it.
fn names(events: &[EventKind]) -> String {
    events.iter().map(|kind| kind.name()).collect::<Vec<_>>().join(" ")
}

fn webhook(row: &AnyRow) -> Result<Webhook, StoreFault> {
    let (events, active): (String, i64) = (row.try_get(2)?, row.try_get(4)?);
    Ok(Webhook {
        id: row.try_get(0)?,
        url: row.try_get(1)?,
        events: events.split(' ').filter_map(EventKind::of).collect(),
        note: row.try_get(3)?,
        active: active != 0,
        old_secret_until_ms: row.try_get(5)?,
        made_by: row.try_get(6)?,
        made_at_ms: row.try_get(7)?,
        pending: row.try_get(8)?,
        parked: row.try_get(9)?,
    })
}
