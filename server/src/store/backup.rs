//! A copy of the embedded database while it is in use.

use std::fs::File;
use std::path::Path;

use super::{Kind, Store, StoreFault};

impl Store {
    /// Copies the database into a file: beside its place first, on disk for good, then under its name. Others go on reading
    /// and writing meanwhile; the copy is what was there at one moment.
    ///
    /// # Errors
    /// What keeps the file from being written; whatever stood under its name is still there then.
    pub async fn backup(&self, file: &Path) -> Result<(), StoreFault> {
        if self.kind != Kind::Sqlite {
            return Err(StoreFault::Unusable("only the embedded database is copied this way".into()));
        }
        let cannot = |error: std::io::Error| StoreFault::Unwritable(error.to_string());
        let folder = file.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let beside = tempfile::Builder::new().prefix(".toile-backup").tempfile_in(folder).map_err(cannot)?;
        let path = beside.path().to_str().ok_or_else(|| StoreFault::Unusable("the path is not UTF-8".into()))?;
        // Into an empty file, which SQLite takes for a new database.
        sqlx::query("vacuum into $1").bind(path).execute(&self.pool).await?;
        File::open(beside.path()).and_then(|written| written.sync_all()).map_err(cannot)?;
        beside.persist(file).map_err(|error| cannot(error.error))?;
        // The name itself is on disk once the folder is.
        File::open(folder).and_then(|folder| folder.sync_all()).map_err(cannot)
    }
}
