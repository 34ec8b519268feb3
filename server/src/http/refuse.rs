//! What goes wrong below, as what is told to the client.

use crate::api::problem::Refusal;
use crate::app::NotDone;
use crate::usecase::StoreFault;
use crate::usecase::once::KeyReused;
use crate::usecase::quote::QuoteFault;

impl From<NotDone> for Refusal {
    fn from(why: NotDone) -> Self {
        match why {
            NotDone::TurnedAway(turned_away) => Self::Shed {
                detail: "There is more to compute than can be done in good time. Nothing was begun; try again.".into(),
                retry_after: turned_away.retry_after,
            },
            NotDone::CutOff => Self::Internal,
        }
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

impl From<QuoteFault> for Refusal {
    fn from(fault: QuoteFault) -> Self {
        match fault {
            QuoteFault::NotFound => {
                Self::NotFound("There is no such quote. It goes by its id, its number, or number and revision: 2026-0007.2.".into())
            }
            QuoteFault::Stale => {
                Self::Stale("The quote was changed in the meantime. Look at it again; its ETag says which state that is.".into())
            }
            QuoteFault::Fixed(state) => {
                Self::Conflict(format!("The quote is {} and stays as it is. Make a revision of it: POST to its /revisions.", state.word()))
            }
            QuoteFault::NoWay { from, to } => Self::Conflict(format!(
                "The quote is {}; from there it does not become {}, but: {}.",
                from.word(),
                to.word(),
                from.next_in_words()
            )),
            QuoteFault::NotLatest => Self::Conflict("There is a later revision of this quote; revisions are made of the latest.".into()),
            QuoteFault::StillDraft => Self::Conflict("The quote is a draft. Change it where it is: PUT.".into()),
            QuoteFault::KeyReused(reused) => reused.into(),
            QuoteFault::Store(fault) => fault.into(),
        }
    }
}
