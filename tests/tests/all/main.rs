//! All integration tests in one binary: one link, one shared service, one place to look.
//!
//! `arrows` and `tidy` hold the source tree to the house rules; `openapi`, `estimates`, `surfaces`, `bad_requests`,
//! `bad_sheets`, `chance`, `workbooks`, `solve`, `production`, `jobs`, `quotes`, `webhooks` and `service` ask the service; `page` drives a browser,
//! `postgres` runs over a server of its own and `web` runs the page's own tests, all three on request only: `cargo test -- --ignored`.

mod arrows;
mod tidy;

mod access;
mod bad_requests;
mod bad_sheets;
mod chance;
mod electrodes;
mod embed;
mod estimates;
mod faults;
mod jobs;
mod keys;
mod lights;
mod load;
mod logs;
mod openapi;
mod piece_electrodes;
mod piece_lights;
mod production;
mod quotes;
mod quotes_killed;
mod runs;
mod service;
mod settings;
mod solve;
mod surfaces;
mod webhooks;
mod workbooks;

mod page;
mod postgres;
mod web;

/// What must hold of every answer, shared with the fuzz targets.
#[path = "../../fuzz/src/lib.rs"]
mod fuzz;
