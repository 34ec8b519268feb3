//! Wire types of version 1, their conversions to and from the model, problems, and the OpenAPI document.
//!
//! Nothing here decides anything: a wire type says what a field is called, in which unit, and how it becomes SI.

pub mod answer;
pub mod audit;
mod doubled;
pub mod examples;
pub mod jobs;
pub mod key;
pub mod library;
pub mod method;
pub mod number;
pub mod piece;
pub mod problem;
pub mod production;
pub mod quote;
pub mod rates;
pub mod read;
pub mod run_report;
pub mod sheet;
pub mod solve;
pub mod webhooks;
