//! Waiting in line before work that takes a core for a while: bounded, fair between callers, and short when there is more
//! to do than can be done.
//!
//! A burst is queued; a flood is cut short. Whoever comes may wait as long as the wait that is expected stays within a
//! bound. Once some were turned away and the line has not been empty for that long either, it is a flood: then a caller who
//! holds a place already may only wait as long as nobody notices, so that those who are let in are served as on a quiet day.
//! A second without anybody turned away ends it.
//!
//! Places go to the caller who holds the fewest. A caller who fills the line loses his last place in it to one who has fewer.

use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use tokio::sync::oneshot;

/// How much at once, and how much may wait for it.
#[derive(Debug, Clone, Copy)]
pub struct Bounds {
    /// Name of the line, for the metrics.
    pub line: &'static str,
    /// Pieces of work at once.
    pub places: usize,
    /// Of these, the most that one caller may hold.
    pub most_of_one: usize,
    /// Longest line.
    pub most_waiting: usize,
    /// Longest wait that is expected of anybody, and longest that is suffered.
    pub longest_wait: Duration,
}

/// Turned away: there is more to do than can be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TurnedAway {
    /// When it is worth trying again.
    pub retry_after: Duration,
}

/// What a gate looks like just now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GateState {
    /// Name of the line.
    pub line: &'static str,
    /// Pieces of work at once.
    pub places: usize,
    /// Under way.
    pub running: usize,
    /// In line.
    pub waiting: usize,
    /// Turned away since the start.
    pub turned_away: u64,
    /// Mean time of a piece of work, seconds; 0 before the first is done.
    pub mean_s: f64,
    /// Whether a flood is being cut short.
    pub flooded: bool,
}

/// The gate. Clones are the same gate.
#[derive(Clone)]
pub struct Gate {
    shared: Arc<Shared>,
}

struct Shared {
    bounds: Bounds,
    line: Mutex<Line>,
}

#[derive(Default)]
struct Line {
    running: usize,
    waiting: usize,
    callers: HashMap<Arc<str>, Caller>,
    /// Counts those who came, to tell them apart and to let callers take turns.
    ticket: u64,
    mean_s: f64,
    turned_away: u64,
    /// Since when somebody has been waiting without a break.
    standing_since: Option<Instant>,
    flooded_until: Option<Instant>,
}

#[derive(Default)]
struct Caller {
    running: usize,
    waiting: VecDeque<Waiter>,
    /// Ticket of the last time that this caller got a place.
    last: u64,
}

struct Waiter {
    ticket: u64,
    told: oneshot::Sender<Result<Pass, TurnedAway>>,
}

/// How long a flood lasts after the last who was turned away.
const FLOOD: Duration = Duration::from_secs(1);

/// A wait that nobody notices: beside work of some milliseconds none, beside shorter work a short line.
const UNNOTICED_S: f64 = 2e-3;

/// Weight of the newest piece of work in the mean time of one.
const NEWEST: f64 = 0.1;

/// The longest that anybody is told to stay away, seconds.
const LONGEST_RETRY_S: f64 = 60.0;

impl Gate {
    /// An open gate with nobody before it.
    pub fn new(bounds: Bounds) -> Self {
        Self { shared: Arc::new(Shared { bounds, line: Mutex::default() }) }
    }

    /// Leave to work, when it is this caller's turn.
    ///
    /// # Errors
    /// [`TurnedAway`] at once where the wait would be too long, later where it turned out to be.
    pub async fn enter(&self, by: &str) -> Result<Pass, TurnedAway> {
        let came = Instant::now();
        let outcome = self.wait(by).await;
        if outcome.is_ok() {
            metrics::histogram!("toile_wait_seconds", "line" => self.shared.bounds.line).record(came.elapsed().as_secs_f64());
        }
        outcome
    }

    async fn wait(&self, by: &str) -> Result<Pass, TurnedAway> {
        let (ticket, mut told) = {
            let mut line = self.shared.lock();
            match line.come(&self.shared, by)? {
                Come::In(pass) => return Ok(pass),
                Come::Wait(ticket, told) => (ticket, told),
            }
        };
        // Also when the future is dropped in the middle of the wait: nobody is called who has left.
        let _left = Leave { shared: &self.shared, by, ticket };
        match tokio::time::timeout(self.shared.bounds.longest_wait, &mut told).await {
            Ok(outcome) => outcome.unwrap_or(Err(TurnedAway { retry_after: FLOOD })),
            // Called in the very moment in which patience ended.
            Err(_) => told.try_recv().unwrap_or_else(|_| Err(self.shared.lock().turn_away(&self.shared.bounds, by))),
        }
    }

    /// What it looks like just now.
    pub fn state(&self) -> GateState {
        let line = self.shared.lock();
        GateState {
            line: self.shared.bounds.line,
            places: self.shared.bounds.places,
            running: line.running,
            waiting: line.waiting,
            turned_away: line.turned_away,
            mean_s: line.mean_s,
            flooded: line.is_flooded(Instant::now()),
        }
    }

    /// Whether the next who comes would be turned away.
    pub fn is_full(&self) -> bool {
        let line = self.shared.lock();
        line.waiting >= self.shared.bounds.most_waiting
    }
}

impl Shared {
    fn lock(&self) -> std::sync::MutexGuard<'_, Line> {
        // Every change of the line is made in one go: what a panic leaves behind is whole.
        self.line.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

enum Come {
    In(Pass),
    Wait(u64, oneshot::Receiver<Result<Pass, TurnedAway>>),
}

impl Line {
    fn come(&mut self, shared: &Arc<Shared>, by: &str) -> Result<Come, TurnedAway> {
        let bounds = &shared.bounds;
        let name: Arc<str> = match self.callers.get_key_value(by) {
            Some((name, _)) => name.clone(),
            None => by.into(),
        };
        let own = self.callers.get(by);
        let (running, waiting) = own.map_or((0, 0), |own| (own.running, own.waiting.len()));
        self.ticket += 1;
        // Whoever waits while a place is free waits for one of his own to end.
        if self.running < bounds.places && running < bounds.most_of_one {
            return Ok(Come::In(self.take(shared, name)));
        }
        let ahead: usize = self.callers.values().map(|other| other.waiting.len().min(waiting + 1)).sum::<usize>();
        let expected_s = self.mean_s * (ahead + 1) as f64 / bounds.places as f64;
        // Who holds nothing is not the one who floods.
        let cut_short = self.is_flooded(Instant::now()) && running + waiting > 0;
        let longest_s = bounds.longest_wait.as_secs_f64();
        let bound_s = if cut_short { longest_s.min(UNNOTICED_S) } else { longest_s };
        if expected_s > bound_s || (self.waiting >= bounds.most_waiting && !self.send_greediest_away(bounds, waiting)) {
            return Err(self.turn_away(bounds, by));
        }
        let (told, hears) = oneshot::channel();
        let ticket = self.ticket;
        self.callers.entry(name).or_default().waiting.push_back(Waiter { ticket, told });
        self.waiting += 1;
        self.standing_since.get_or_insert_with(Instant::now);
        Ok(Come::Wait(ticket, hears))
    }

    fn take(&mut self, shared: &Arc<Shared>, by: Arc<str>) -> Pass {
        self.running += 1;
        let caller = self.callers.entry(by.clone()).or_default();
        caller.running += 1;
        caller.last = self.ticket;
        Pass { shared: shared.clone(), by, since: Instant::now(), held: true }
    }

    /// Sends the last in line of the caller away who has the most there, if that is more than this caller would have.
    fn send_greediest_away(&mut self, bounds: &Bounds, waiting: usize) -> bool {
        let Some(name) = self.callers.iter().max_by_key(|(_, other)| other.waiting.len()).map(|(name, _)| name.clone()) else {
            return false;
        };
        let Some(greediest) = self.callers.get_mut(&name).filter(|other| other.waiting.len() > waiting + 1) else { return false };
        if let Some(last) = greediest.waiting.pop_back() {
            self.waiting -= 1;
            let turned_away = self.turn_away(bounds, &name);
            // Gone already is as good as sent away.
            let _ = last.told.send(Err(turned_away));
        }
        true
    }

    fn turn_away(&mut self, bounds: &Bounds, by: &str) -> TurnedAway {
        let now = Instant::now();
        self.turned_away += 1;
        let stood = self.standing_since.is_some_and(|since| now.duration_since(since) >= bounds.longest_wait);
        if stood || self.is_flooded(now) {
            self.flooded_until = Some(now + FLOOD);
        }
        let waiting = self.callers.get(by).map_or(0, |own| own.waiting.len());
        let wait_s = (self.mean_s * (waiting + 1) as f64 / bounds.places as f64).clamp(1.0, LONGEST_RETRY_S);
        TurnedAway { retry_after: Duration::from_secs_f64(wait_s.ceil()) }
    }

    fn is_flooded(&self, now: Instant) -> bool {
        self.flooded_until.is_some_and(|until| now < until)
    }

    /// Gives free places to those in line.
    fn call(&mut self, shared: &Arc<Shared>) {
        while self.running < shared.bounds.places {
            let next = self
                .callers
                .iter()
                .filter(|(_, caller)| !caller.waiting.is_empty() && caller.running < shared.bounds.most_of_one)
                .min_by_key(|(_, caller)| (caller.running, caller.last))
                .map(|(name, _)| name.clone());
            let Some(name) = next else { break };
            let Some(waiter) = self.callers.get_mut(&name).and_then(|caller| caller.waiting.pop_front()) else { break };
            self.waiting -= 1;
            self.ticket += 1;
            let pass = self.take(shared, name);
            if let Err(Ok(mut pass)) = waiter.told.send(Ok(pass)) {
                // He left in this very moment. His pass must not knock at the gate that is held open here.
                pass.held = false;
                self.give_back(&pass.by);
            }
        }
        if self.waiting == 0 {
            self.standing_since = None;
        }
    }

    fn give_back(&mut self, by: &Arc<str>) {
        self.running -= 1;
        if let Some(caller) = self.callers.get_mut(by) {
            caller.running -= 1;
            if caller.running == 0 && caller.waiting.is_empty() {
                self.callers.remove(by);
            }
        }
    }
}

/// Takes a waiter out of the line who no longer waits.
struct Leave<'a> {
    shared: &'a Shared,
    by: &'a str,
    ticket: u64,
}

impl Drop for Leave<'_> {
    fn drop(&mut self) {
        let mut line = self.shared.lock();
        let Some(caller) = line.callers.get_mut(self.by) else { return };
        let Some(at) = caller.waiting.iter().position(|waiter| waiter.ticket == self.ticket) else { return };
        caller.waiting.remove(at);
        let gone = caller.running == 0 && caller.waiting.is_empty();
        if gone {
            line.callers.remove(self.by);
        }
        line.waiting -= 1;
        if line.waiting == 0 {
            line.standing_since = None;
        }
    }
}

/// Leave to work, until it is dropped.
pub struct Pass {
    shared: Arc<Shared>,
    by: Arc<str>,
    since: Instant,
    held: bool,
}

impl std::fmt::Debug for Pass {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Pass").field("by", &self.by).finish_non_exhaustive()
    }
}

impl Drop for Pass {
    fn drop(&mut self) {
        if !self.held {
            return;
        }
        let took_s = self.since.elapsed().as_secs_f64();
        let mut line = self.shared.lock();
        line.mean_s = if line.mean_s == 0.0 { took_s } else { line.mean_s + NEWEST * (took_s - line.mean_s) };
        line.give_back(&self.by);
        line.call(&self.shared);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gate(places: usize, most_of_one: usize, most_waiting: usize, wait_ms: u64) -> Gate {
        Gate::new(Bounds { line: "test", places, most_of_one, most_waiting, longest_wait: Duration::from_millis(wait_ms) })
    }

    /// Somebody who waits in a task of his own, once he stands in line.
    async fn stand(gate: &Gate, by: &'static str) -> tokio::task::JoinHandle<Result<Pass, TurnedAway>> {
        let before = gate.state().waiting;
        let own = gate.clone();
        let task = tokio::spawn(async move { own.enter(by).await });
        while gate.state().waiting == before && !task.is_finished() {
            tokio::task::yield_now().await;
        }
        task
    }

    #[tokio::test]
    async fn places_are_taken_waited_for_and_given_back() {
        let gate = gate(2, 2, 8, 10_000);
        let (first, second) = (gate.enter("a").await.unwrap(), gate.enter("a").await.unwrap());
        let third = stand(&gate, "a").await;
        assert_eq!((gate.state().running, gate.state().waiting), (2, 1));
        drop(first);
        let third = third.await.unwrap().unwrap();
        drop((second, third));
        let state = gate.state();
        assert_eq!((state.running, state.waiting, state.turned_away), (0, 0, 0));
        assert!(gate.shared.lock().callers.is_empty(), "nobody is remembered who holds nothing");
    }

    #[tokio::test]
    async fn a_full_line_turns_the_next_away_at_once() {
        let gate = gate(1, 1, 2, 10_000);
        let held = gate.enter("a").await.unwrap();
        let waiting = [stand(&gate, "a").await, stand(&gate, "a").await];
        assert!(gate.is_full());
        let refused = gate.enter("a").await.unwrap_err();
        assert!(refused.retry_after >= Duration::from_secs(1));
        assert_eq!(gate.state().turned_away, 1);
        drop(held);
        for task in waiting {
            drop(task.await.unwrap().unwrap());
        }
        assert!(!gate.is_full());
    }

    #[tokio::test]
    async fn a_caller_who_fills_the_line_makes_room_for_another() {
        let gate = gate(1, 1, 3, 10_000);
        let held = gate.enter("greedy").await.unwrap();
        let greedy = [stand(&gate, "greedy").await, stand(&gate, "greedy").await, stand(&gate, "greedy").await];
        let own = gate.clone();
        let modest = tokio::spawn(async move { own.enter("modest").await });
        let [one, two, last] = greedy;
        assert!(last.await.unwrap().is_err(), "the last of the greedy one is sent away");
        // The greedy caller got the last place: now it is the other's turn, though he came after two more of them.
        drop(held);
        let pass = modest.await.unwrap().unwrap();
        assert!(!one.is_finished() && !two.is_finished());
        drop(pass);
        drop(one.await.unwrap().unwrap());
        drop(two.await.unwrap().unwrap());
    }

    #[tokio::test]
    async fn one_caller_does_not_hold_every_place() {
        let gate = gate(3, 2, 8, 50);
        let held = (gate.enter("a").await.unwrap(), gate.enter("a").await.unwrap());
        assert!(gate.enter("a").await.is_err(), "he waits for one of his own to end, and in vain");
        let other = gate.enter("b").await.unwrap();
        drop((held, other));
        assert_eq!(gate.state().running, 0);
    }

    #[tokio::test]
    async fn a_wait_that_is_expected_to_be_too_long_is_not_begun() {
        let gate = gate(1, 1, 100, 30);
        let slow = gate.enter("a").await.unwrap();
        tokio::time::sleep(Duration::from_millis(60)).await;
        drop(slow);
        let held = gate.enter("a").await.unwrap();
        let begun = Instant::now();
        assert!(gate.enter("a").await.is_err());
        assert!(begun.elapsed() < Duration::from_millis(25), "told at once");
        drop(held);
    }

    #[tokio::test]
    async fn who_leaves_the_line_is_not_called() {
        let gate = gate(1, 1, 8, 10_000);
        let held = gate.enter("a").await.unwrap();
        let gone = stand(&gate, "a").await;
        let stays = stand(&gate, "b").await;
        gone.abort();
        let _ = gone.await;
        assert_eq!(gate.state().waiting, 1);
        drop(held);
        drop(stays.await.unwrap().unwrap());
        assert_eq!((gate.state().running, gate.state().waiting), (0, 0));
    }

    #[tokio::test]
    async fn a_flood_is_cut_short_and_passes() {
        let gate = gate(1, 1, 4, 100);
        drop(gate.enter("a").await.unwrap());
        // More than the line holds, for longer than anybody may wait.
        let until = Instant::now() + Duration::from_millis(400);
        let mut tasks = Vec::new();
        while Instant::now() < until {
            let own = gate.clone();
            tasks.push(tokio::spawn(async move {
                let pass = own.enter("a").await;
                if pass.is_ok() {
                    tokio::time::sleep(Duration::from_millis(10)).await;
                }
            }));
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
        assert!(gate.state().flooded);
        assert!(gate.state().waiting <= 1, "{:?}", gate.state());
        for task in tasks {
            task.await.unwrap();
        }
        tokio::time::sleep(FLOOD + Duration::from_millis(50)).await;
        let state = gate.state();
        assert!(!state.flooded && state.running == 0 && state.waiting == 0 && state.turned_away > 10, "{state:?}");
    }
}
