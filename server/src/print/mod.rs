//! What goes on paper: plain data in, HTML out, with a style sheet of its own and no script.

mod quote;

pub use quote::{Caution, Paper, Price, Requirement, quote_page};
