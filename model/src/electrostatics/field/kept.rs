//! Answers kept from call to call.
//!
//! While someone types, or a sheet goes on with the same stack, most of what is asked was asked before. What is kept
//! was computed by a deterministic function of its key, so an answer has the same bits whether it was kept or made anew.
//!
//! * needs: the exact bits of everything that the answer depends on
//! * assumptions: few different questions at a time; the least recently used one goes first
//! * errors: none; where another thread has failed while holding the memory, answers are made anew

use std::sync::Mutex;

/// Everything that an answer depends on, bit by bit.
pub(super) type Key = Vec<u64>;

/// The last `MOST` answers that were asked for.
pub(super) struct Kept<V, const MOST: usize> {
    /// The last used stands last.
    entries: Mutex<Vec<(Key, V)>>,
}

impl<V: Clone, const MOST: usize> Kept<V, MOST> {
    pub(super) const fn new() -> Self {
        Self { entries: Mutex::new(Vec::new()) }
    }

    /// The answer to `key`, kept or made by `make`.
    pub(super) fn get(&self, key: Key, make: impl FnOnce() -> V) -> V {
        if let Ok(mut entries) = self.entries.lock()
            && let Some(place) = entries.iter().rposition(|(of, _)| *of == key)
        {
            let entry = entries.remove(place);
            let value = entry.1.clone();
            entries.push(entry);
            return value;
        }
        // Made outside the lock, so that nobody waits for somebody else's question; two may make the same answer.
        let value = make();
        if let Ok(mut entries) = self.entries.lock() {
            if entries.len() >= MOST {
                entries.remove(0);
            }
            entries.push((key, value.clone()));
        }
        value
    }

    #[cfg(test)]
    pub(super) fn count(&self) -> usize {
        self.entries.lock().map_or(0, |entries| entries.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn asked_again_it_is_not_made_again_and_the_memory_stays_small() {
        let kept: Kept<u64, 4> = Kept::new();
        let key = |n: u64| -> Key { [n, 7].into_iter().collect() };
        assert_eq!(kept.get(key(1), || 10), 10);
        assert_eq!(kept.get(key(1), || unreachable!("kept")), 10);
        for n in 2..6 {
            kept.get(key(n), || n);
        }
        assert_eq!(kept.count(), 4);
        assert_eq!(kept.get(key(1), || 11), 11, "the least recently used went first");
    }
}
