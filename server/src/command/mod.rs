//! Commands that are done with in one go, beside the service.

pub mod key;
