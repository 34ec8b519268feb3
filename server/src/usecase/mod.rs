//! What the service does, without HTTP beyond a single call of the model: estimates and batches.

pub mod batch;
pub mod estimate;
