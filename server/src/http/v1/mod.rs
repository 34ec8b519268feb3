//! Handlers of version 1, by resource. The operation id is the handler's name.

pub mod audit;
pub mod batches;
pub mod estimates;
pub mod jobs;
pub mod keys;
pub mod library;
pub mod pictures;
pub mod quotes;
mod sheets;
pub mod solve;
pub mod webhooks;
