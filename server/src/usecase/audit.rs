//! Looking at who did what.

use crate::store::{AuditEntry, Store, StoreFault};

/// What was done before an entry, newest first.
///
/// # Errors
/// The database.
pub async fn audit_list(store: &Store, before: Option<&str>, most: u32) -> Result<Vec<AuditEntry>, StoreFault> {
    store.audit_list(before, most).await
}
