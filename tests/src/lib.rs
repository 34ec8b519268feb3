//! Harness of the integration tests: services to ask, answers to look at, the real binary to run.
//!
//! Most tests ask [`service()`], one router that runs inside the test process and is shared by all of them. Tests of
//! starting, stopping and the command line run the real binary through [`binary`]. Nothing is left behind: the shared
//! service ends with the process, a [`Process`] is killed by its own handle when it goes out of scope.

mod answer;
mod piece;
mod postgres;
mod process;
mod receiver;
mod service;
mod tree;

pub use answer::{Answer, Problem};
pub use piece::{demo, round_pad, with};
pub use postgres::{Database, Postgres};
pub use process::{Process, Worker, batch_command, binary, free_port, run, spare_folder, wait_for};
pub use receiver::{Heard, Receiver, reply, stall};
pub use service::{Service, limits, raw_exchange, service};
pub use tree::{Source, files_under, read_text, reference_rows, root, sources_under};
