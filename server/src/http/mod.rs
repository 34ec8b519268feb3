//! HTTP: extract, call one use case, map the result.

mod access;
mod conditions;
pub mod document;
mod extract;
mod listen;
mod metrics;
mod middleware;
mod once;
mod origin;
mod page;
mod refuse;
mod router;
mod service;
mod trace;
mod v1;

pub use listen::{CutOff, serve};
pub use router::router;
