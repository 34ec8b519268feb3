//! What the service does, without HTTP beyond a single call of the model: estimates, batches and pictures.

pub mod audit;
pub mod batch;
pub mod clock;
pub mod estimate;
pub mod job;
pub mod key;
pub mod once;
pub mod picture;
pub mod quote;

pub use crate::store::StoreFault;
