//! How much of what there is, for the metrics.

use sqlx::Row;

use super::jobs::JobState;
use super::{Store, StoreFault};

/// How many jobs, chunks and so on are in which state. States come from fixed sets, and those of nothing are told, too.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct StateCounts {
    /// Jobs by state.
    pub jobs: Vec<(&'static str, i64)>,
    /// Chunks of running jobs by state.
    pub chunks: Vec<(&'static str, i64)>,
}

impl Store {
    /// How many of each there are just now.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn state_counts(&self) -> Result<StateCounts, StoreFault> {
        let jobs = sqlx::query("select state, count(*) from jobs group by state").fetch_all(&self.pool).await?;
        let mut counts = StateCounts { jobs: JobState::ALL.map(|state| (state.name(), 0)).to_vec(), ..StateCounts::default() };
        for row in jobs {
            let (state, count): (String, i64) = (row.try_get(0)?, row.try_get(1)?);
            if let Some(known) = counts.jobs.iter_mut().find(|(name, _)| *name == state) {
                known.1 = count;
            }
        }
        // Summed over jobs, of which there are few; of chunks there may be thousands for each.
        let running = "select cast(coalesce(sum(chunks_done), 0) as bigint), cast(coalesce(sum(chunks_all - chunks_done), 0) as bigint) \
             from jobs where state = 'running'";
        let row = sqlx::query(running).fetch_one(&self.pool).await?;
        counts.chunks = vec![("done", row.try_get(0)?), ("open", row.try_get(1)?)];
        Ok(counts)
    }
}
