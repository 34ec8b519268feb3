//! Answers to requests that may come twice.
//!
//! A request that keeps something may carry a key of the client's choosing. In the transaction that keeps the thing, first
//! [`Store::once_claim`] writes the key, which only one transaction can; then the thing is written; then
//! [`Store::once_keep`] puts the answer beside the key. So either both the thing and its answer are there, or neither is,
//! whatever dies in between, and of several requests at once with one key one runs while the others wait for its end and
//! then find the answer.

use sqlx::{Any, Row, Transaction};

use super::{Store, StoreFault, now_ms};

/// How long an answer is kept.
const KEPT_MS: i64 = 24 * 60 * 60 * 1000;

/// Most answers kept for one caller; the oldest go first.
const MOST_OF_A_CALLER: i64 = 10_000;

/// A request that is to be done once, however often it comes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Once {
    /// Who asks: keys of different callers have nothing to do with each other.
    pub caller: String,
    /// The key that came with the request.
    pub key: String,
    /// What was asked, shortened to a digest: the same key with another one is a mistake of the client.
    pub fingerprint: String,
}

/// An answer as it was given: what matters of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptAnswer {
    /// HTTP status.
    pub status: u16,
    /// Headers that matter, by name.
    pub headers: Vec<(String, String)>,
    /// Body.
    pub body: String,
}

/// What is known of a key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Known {
    /// It is new.
    New,
    /// It came with the same request; this was the answer.
    Answered(KeptAnswer),
    /// It came with another request.
    Other,
}

impl Store {
    /// What is known of a key.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn once_find(&self, once: &Once) -> Result<Known, StoreFault> {
        let sql = "select fingerprint, status, headers, body from idempotency where caller = $1 and idempotency_key = $2 and at_ms >= $3";
        let row = sqlx::query(sql).bind(&once.caller).bind(&once.key).bind(now_ms() - KEPT_MS).fetch_optional(&self.pool).await?;
        let Some(row) = row else { return Ok(Known::New) };
        if row.try_get::<String, _>(0)? != once.fingerprint {
            return Ok(Known::Other);
        }
        let unreadable = |what: &str| StoreFault::Internal(format!("the {what} of a kept answer cannot be read"));
        let status = u16::try_from(row.try_get::<i64, _>(1)?).map_err(|_| unreadable("status"))?;
        let headers = serde_json::from_str(&row.try_get::<String, _>(2)?).map_err(|_| unreadable("headers"))?;
        Ok(Known::Answered(KeptAnswer { status, headers, body: row.try_get(3)? }))
    }

    /// Takes a key for the transaction that keeps the thing; to be called first in it. Another transaction with the same key
    /// waits here until this one has ended.
    ///
    /// # Errors
    /// [`StoreFault::Taken`] when the key is known by now; the transaction is then of no more use.
    pub(super) async fn once_claim(transaction: &mut Transaction<'static, Any>, once: &Once) -> Result<(), StoreFault> {
        sqlx::query("delete from idempotency where caller = $1 and idempotency_key = $2 and at_ms < $3")
            .bind(&once.caller)
            .bind(&once.key)
            .bind(now_ms() - KEPT_MS)
            .execute(&mut **transaction)
            .await?;
        let sql = "insert into idempotency (caller, idempotency_key, fingerprint, at_ms, status, headers, body) \
                   values ($1, $2, $3, $4, 0, '[]', '')";
        sqlx::query(sql).bind(&once.caller).bind(&once.key).bind(&once.fingerprint).bind(now_ms()).execute(&mut **transaction).await?;
        Ok(())
    }

    /// Puts the answer beside a claimed key; to be called last in the transaction.
    ///
    /// # Errors
    /// Why the database did not.
    pub(super) async fn once_keep(transaction: &mut Transaction<'static, Any>, once: &Once, answer: &KeptAnswer) -> Result<(), StoreFault> {
        let headers = serde_json::to_string(&answer.headers).map_err(|error| StoreFault::Internal(error.to_string()))?;
        let sql = "update idempotency set status = $1, headers = $2, body = $3 where caller = $4 and idempotency_key = $5";
        sqlx::query(sql)
            .bind(i64::from(answer.status))
            .bind(headers)
            .bind(&answer.body)
            .bind(&once.caller)
            .bind(&once.key)
            .execute(&mut **transaction)
            .await?;
        Ok(())
    }

    /// Forgets answers that are too old, and the oldest of a caller that has too many.
    ///
    /// # Errors
    /// Why the database did not.
    pub async fn once_forget(&self, caller: &str) -> Result<(), StoreFault> {
        let mut transaction = self.begin().await?;
        sqlx::query("delete from idempotency where at_ms < $1").bind(now_ms() - KEPT_MS).execute(&mut *transaction).await?;
        let sql = "delete from idempotency where caller = $1 and at_ms < \
                   (select at_ms from idempotency where caller = $1 order by at_ms desc limit 1 offset $2)";
        sqlx::query(sql).bind(caller).bind(MOST_OF_A_CALLER).execute(&mut *transaction).await?;
        transaction.commit().await?;
        Ok(())
    }
}
