//! What goes wrong below, as what is told to the client.

use crate::api::problem::Refusal;
use crate::app::CutOff;
use crate::usecase::StoreFault;
use crate::usecase::once::KeyReused;

impl From<CutOff> for Refusal {
    fn from(_: CutOff) -> Self {
        Self::Internal
    }
}

impl From<StoreFault> for Refusal {
    fn from(fault: StoreFault) -> Self {
        match fault {
            StoreFault::Unreachable(why) => {
                tracing::warn!(target: "toile::store", why, "the database does not answer");
                Self::Busy("The database does not answer just now. Nothing was written; try again.".into())
            }
            StoreFault::Unwritable(why) => {
                tracing::error!(target: "toile::store", why, "the database cannot be written to");
                Self::Busy("The database cannot be written to: its disk is full or read-only. Nothing was written.".into())
            }
            // Use cases turn what they expect into words of their own before it comes here.
            StoreFault::Taken | StoreFault::Unusable(_) | StoreFault::Internal(_) => {
                tracing::error!(target: "toile::store", why = %fault, "a question to the database failed");
                Self::Internal
            }
        }
    }
}

impl From<KeyReused> for Refusal {
    fn from(_: KeyReused) -> Self {
        Self::Conflict(
            "This Idempotency-Key came before with another request. A key stands for one request; take a new key for a new one.".into(),
        )
    }
}
