//! How warm a thread or a wire becomes: between which two temperatures it settles, and what bears them. SI, plain numbers.
//!
//! `air` is still air, `convection` what it carries off, `rise` the balance of a thread in air or on cloth, `limits`
//! the temperatures that skin and cloth bear, each with its source. All of it is for a caution; none of it promises that
//! something stays cool.

mod air;
mod convection;
mod limits;
mod rise;

pub use convection::{nusselt_cylinder, nusselt_face_down, nusselt_face_up};
pub use limits::{CLOTH_LIMITS, CONTACT_LIMITS, LONG_CONTACT, Limit};
pub use rise::{HOTTEST_K, HeatPath, Rise, Surroundings, temperature_rise};
