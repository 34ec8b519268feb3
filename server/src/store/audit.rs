//! Who did what.

use sqlx::{Any, Row, Transaction};

use super::{Store, StoreFault, new_id, now_ms};

/// One thing done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditEntry {
    /// Grows with time.
    pub id: String,
    /// When, milliseconds since 1970.
    pub at_ms: i64,
    /// Id of the key, or `this machine` or the like.
    pub actor: String,
    /// Name of the key.
    pub actor_name: Option<String>,
    /// The operation's id.
    pub action: String,
    /// What it was done to.
    pub subject: String,
    /// Anything else, without secrets or customer text.
    pub detail: String,
}

impl Store {
    /// Notes what was done, in the transaction that does it.
    pub(super) async fn audit_note(
        transaction: &mut Transaction<'static, Any>,
        actor: &str,
        action: &str,
        subject: &str,
        detail: &str,
    ) -> Result<(), StoreFault> {
        sqlx::query("insert into audit (id, at_ms, actor, action, subject, detail) values ($1, $2, $3, $4, $5, $6)")
            .bind(new_id())
            .bind(now_ms())
            .bind(actor)
            .bind(action)
            .bind(subject)
            .bind(detail)
            .execute(&mut **transaction)
            .await?;
        Ok(())
    }

    /// What was done before an entry, newest first; from the newest where none is given.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn audit_list(&self, before: Option<&str>, most: u32) -> Result<Vec<AuditEntry>, StoreFault> {
        let rows = sqlx::query(
            "select a.id, a.at_ms, a.actor, k.name, a.action, a.subject, a.detail from audit a left join keys k on k.id = a.actor \
            where $1 = '' or a.id < $1 order by a.id desc limit $2",
        )
        .bind(before.unwrap_or_default())
        .bind(i64::from(most))
        .fetch_all(&self.pool)
        .await?;
        rows.into_iter()
            .map(|row| {
                Ok(AuditEntry {
                    id: row.try_get(0)?,
                    at_ms: row.try_get(1)?,
                    actor: row.try_get(2)?,
                    actor_name: row.try_get(3)?,
                    action: row.try_get(4)?,
                    subject: row.try_get(5)?,
                    detail: row.try_get(6)?,
                })
            })
            .collect()
    }
}
