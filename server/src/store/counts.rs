//! How much of what there is, for the metrics.

use sqlx::Row;

use super::deliveries::DeliveryState;
use super::jobs::JobState;
use super::{Store, StoreFault};

/// How many jobs, chunks and so on are in which state. States come from fixed sets, and those of nothing are told, too.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct StateCounts {
    /// Jobs by state.
    pub jobs: Vec<(&'static str, i64)>,
    /// Chunks of running jobs by state.
    pub chunks: Vec<(&'static str, i64)>,
    /// Deliveries to webhooks by state, as far as they are still listed.
    pub deliveries: Vec<(&'static str, i64)>,
}

impl Store {
    /// How many of each there are just now.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn state_counts(&self) -> Result<StateCounts, StoreFault> {
        let jobs = self.count_by_state("select state, count(*) from jobs group by state", &JobState::ALL.map(JobState::name)).await?;
        // Read off an index; how many there may be of each webhook, and how many webhooks, is bounded.
        let deliveries = "select state, count(*) from deliveries group by state";
        let deliveries = self.count_by_state(deliveries, &DeliveryState::ALL.map(DeliveryState::name)).await?;
        // Summed over jobs, of which there are few; of chunks there may be thousands for each.
        let running = "select cast(coalesce(sum(chunks_done), 0) as bigint), cast(coalesce(sum(chunks_all - chunks_done), 0) as bigint) \
             from jobs where state = 'running'";
        let row = sqlx::query(running).fetch_one(&self.pool).await?;
        Ok(StateCounts { jobs, chunks: vec![("done", row.try_get(0)?), ("open", row.try_get(1)?)], deliveries })
    }

    async fn count_by_state(&self, query: &'static str, states: &[&'static str]) -> Result<Vec<(&'static str, i64)>, StoreFault> {
        let mut counts: Vec<_> = states.iter().map(|state| (*state, 0)).collect();
        for row in sqlx::query(query).fetch_all(&self.pool).await? {
            let (state, count): (String, i64) = (row.try_get(0)?, row.try_get(1)?);
            if let Some(known) = counts.iter_mut().find(|(name, _)| *name == state) {
                known.1 = count;
            }
        }
        Ok(counts)
    }
}
