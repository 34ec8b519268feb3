//! Keys, without their secrets.

use sqlx::any::AnyRow;
use sqlx::{Row, query};

use super::{Store, StoreFault, new_id, now_ms};

/// A key as it is stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyRow {
    /// Grows with time.
    pub id: String,
    /// What it begins with; tells keys apart without their secrets.
    pub prefix: String,
    /// Digest of the secret, hexadecimal.
    pub digest: String,
    /// What people call it.
    pub name: String,
    /// What its holder may do.
    pub role: String,
    /// When it was made.
    pub created_ms: i64,
    /// Who made it.
    pub created_by: String,
    /// When it ends.
    pub expires_ms: Option<i64>,
    /// Most requests in a minute.
    pub per_minute: Option<i64>,
    /// When it was last used, to a minute.
    pub last_used_ms: Option<i64>,
    /// When it was revoked.
    pub revoked_ms: Option<i64>,
}

/// A key to be made.
#[derive(Debug, Clone)]
pub struct NewKey {
    /// What it begins with.
    pub prefix: String,
    /// Digest of the secret, hexadecimal.
    pub digest: String,
    /// What people call it.
    pub name: String,
    /// What its holder may do.
    pub role: String,
    /// When it ends.
    pub expires_ms: Option<i64>,
    /// Most requests in a minute.
    pub per_minute: Option<i64>,
}

fn key(row: &AnyRow) -> Result<KeyRow, StoreFault> {
    Ok(KeyRow {
        id: row.try_get("id")?,
        prefix: row.try_get("prefix")?,
        digest: row.try_get("digest")?,
        name: row.try_get("name")?,
        role: row.try_get("role")?,
        created_ms: row.try_get("created_ms")?,
        created_by: row.try_get("created_by")?,
        expires_ms: row.try_get("expires_ms")?,
        per_minute: row.try_get("per_minute")?,
        last_used_ms: row.try_get("last_used_ms")?,
        revoked_ms: row.try_get("revoked_ms")?,
    })
}

impl Store {
    /// Keeps a key, unless there are `most` in use already; none then.
    ///
    /// # Errors
    /// Why the database does not take it.
    pub async fn key_create(&self, new: NewKey, actor: &str, most: i64) -> Result<Option<KeyRow>, StoreFault> {
        let row = KeyRow {
            id: new_id(),
            prefix: new.prefix,
            digest: new.digest,
            name: new.name,
            role: new.role,
            created_ms: now_ms(),
            created_by: actor.into(),
            expires_ms: new.expires_ms,
            per_minute: new.per_minute,
            last_used_ms: None,
            revoked_ms: None,
        };
        let mut transaction = self.begin().await?;
        let there: i64 = query("select count(*) from keys where revoked_ms is null").fetch_one(&mut *transaction).await?.try_get(0)?;
        if there >= most {
            return Ok(None);
        }
        query(
            "insert into keys (id, prefix, digest, name, role, created_ms, created_by, expires_ms, per_minute, last_used_ms, revoked_ms) \
            values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)",
        )
        .bind(&row.id)
        .bind(&row.prefix)
        .bind(&row.digest)
        .bind(&row.name)
        .bind(&row.role)
        .bind(row.created_ms)
        .bind(&row.created_by)
        .bind(row.expires_ms)
        .bind(row.per_minute)
        .bind(row.last_used_ms)
        .bind(row.revoked_ms)
        .execute(&mut *transaction)
        .await?;
        let detail = format!("{}, {}, {}", row.prefix, row.role, row.name);
        Self::audit_note(&mut transaction, actor, "key_create", &row.id, &detail).await?;
        transaction.commit().await?;
        Ok(Some(row))
    }

    /// Keys made before one of them, newest first, revoked ones too; from the newest where none is given.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn key_list(&self, before: Option<&str>, most: u32) -> Result<Vec<KeyRow>, StoreFault> {
        let rows = query("select * from keys where $1 = '' or id < $1 order by id desc limit $2")
            .bind(before.unwrap_or_default())
            .bind(i64::from(most))
            .fetch_all(&self.pool)
            .await?;
        rows.iter().map(key).collect()
    }

    /// Every key that is not revoked.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn key_list_in_use(&self) -> Result<Vec<KeyRow>, StoreFault> {
        let rows = query("select * from keys where revoked_ms is null").fetch_all(&self.pool).await?;
        rows.iter().map(key).collect()
    }

    /// Whether a key was ever made.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn key_any(&self) -> Result<bool, StoreFault> {
        Ok(query("select id from keys limit 1").fetch_optional(&self.pool).await?.is_some())
    }

    /// Revokes the key with this id or prefix: the key as it is then, and none where there is no such key. One that was revoked
    /// before stays as it is, and so does the one that asks.
    ///
    /// # Errors
    /// Why the database does not do it.
    pub async fn key_revoke(&self, id_or_prefix: &str, actor: &str) -> Result<Option<KeyRow>, StoreFault> {
        let mut transaction = self.begin().await?;
        let found = query("select * from keys where id = $1 or prefix = $1").bind(id_or_prefix).fetch_optional(&mut *transaction).await?;
        let Some(mut row) = found.as_ref().map(key).transpose()? else { return Ok(None) };
        if row.revoked_ms.is_none() && row.id != actor {
            let now = now_ms();
            let changed = query("update keys set revoked_ms = $1 where id = $2 and revoked_ms is null")
                .bind(now)
                .bind(&row.id)
                .execute(&mut *transaction)
                .await?
                .rows_affected();
            row.revoked_ms = Some(now);
            if changed > 0 {
                Self::audit_note(&mut transaction, actor, "key_revoke", &row.id, &format!("{}, {}, {}", row.prefix, row.role, row.name))
                    .await?;
            }
            transaction.commit().await?;
        }
        Ok(Some(row))
    }

    /// Notes that a key was used.
    ///
    /// # Errors
    /// Why the database does not take it.
    pub async fn key_used(&self, id: &str, at_ms: i64) -> Result<(), StoreFault> {
        query("update keys set last_used_ms = $1 where id = $2 and (last_used_ms is null or last_used_ms < $1)")
            .bind(at_ms)
            .bind(id)
            .execute(&self.pool)
            .await?;
        Ok(())
    }
}
