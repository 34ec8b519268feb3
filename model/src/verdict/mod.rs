//! From a margin with its spread to a chance, a verdict and the words for them.

mod rule;
mod sentence;

pub use rule::{Bound, Judgement, Verdict, judge};
pub use sentence::{CheckKind, StitchLimit, check_sentence, piece_sentence, stimulation_sentence};
