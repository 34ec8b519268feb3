//! Toile's service: the API, the page and batches, in one binary.
//!
//! `http` extracts, calls one use case and maps the result; `api` holds the wire types; `usecase` decides; `sheet`
//! turns spreadsheets into answered spreadsheets; `picture` draws; `print` lays out quotes; `rates` reads the shop's settings; `store` keeps; `keys` tells who asks;
//! `webhook` tells others. All physics comes from `toile_model`.

pub mod api;
pub mod app;
pub mod batch;
pub mod command;
pub mod config;
pub mod http;
pub mod jobs;
pub mod keys;
pub mod rates;
pub mod sheet;
pub mod store;
pub mod usecase;
pub mod webhook;

mod gate;
mod picture;
mod print;
mod readiness;
mod spool;
