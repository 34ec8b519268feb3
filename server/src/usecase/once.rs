//! Doing a request once, however often it comes.

use std::sync::atomic::{AtomicU32, Ordering};

pub use crate::store::{KeptAnswer, Known, Once};
use crate::store::{Store, StoreFault};

/// The key came before with another request.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KeyReused;

/// Kept answers are looked through for old ones once in so many requests.
const FORGET_EVERY: u32 = 64;

/// Does what was asked, unless it was done before: then the answer of that time is the answer.
///
/// `work` computes and keeps, and gives back the answer that it kept: it gets the request to be done once, and hands it to
/// the store's function, which claims the key and keeps the answer in the transaction of the thing itself. Without a key
/// it is done each time. What `work` refuses is not kept: it wrote nothing, and the same request may be sent again.
///
/// # Errors
/// [`KeyReused`], and whatever `work` or the database refuses.
pub async fn once<E, W, F>(store: &Store, once: Option<Once>, work: W) -> Result<KeptAnswer, E>
where
    W: FnOnce(Option<Once>) -> F,
    F: Future<Output = Result<KeptAnswer, E>>,
    E: From<StoreFault> + From<KeyReused>,
{
    let Some(once) = once else { return work(None).await };
    match store.once_find(&once).await? {
        Known::New => {}
        Known::Answered(before) => return Ok(before),
        Known::Other => return Err(KeyReused.into()),
    }
    match work(Some(once.clone())).await {
        Ok(answer) => {
            forget_now_and_then(store, &once.caller).await;
            Ok(answer)
        }
        // Another request with the same key may have come first, or the word of the database that all is written got lost.
        Err(refused) => match store.once_find(&once).await {
            Ok(Known::Answered(before)) => Ok(before),
            Ok(Known::Other) => Err(KeyReused.into()),
            Ok(Known::New) | Err(_) => Err(refused),
        },
    }
}

async fn forget_now_and_then(store: &Store, caller: &str) {
    static DONE: AtomicU32 = AtomicU32::new(0);
    if DONE.fetch_add(1, Ordering::Relaxed).is_multiple_of(FORGET_EVERY)
        && let Err(fault) = store.once_forget(caller).await
    {
        // What was asked is done; the next one in line will forget.
        tracing::warn!(target: "toile::store", why = %fault, "old answers could not be forgotten");
    }
}
