//! HTTP: extract, call one use case, map the result.

pub mod document;
mod extract;
mod middleware;
mod page;
mod router;
mod service;
mod v1;

pub use router::{App, router};
