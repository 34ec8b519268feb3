//! Keys: who asks, and what they may do.

mod ring;
mod role;
mod secret;

pub use ring::{Holder, KeyRing, Pass};
pub use role::{Role, UnknownRole};
pub use secret::Secret;
