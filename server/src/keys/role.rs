//! What the holder of a key may do.

use std::fmt;
use std::str::FromStr;

/// What the holder of a key may do; each role may do all that those before it may.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// Looks at what is kept.
    Reader,
    /// Estimates, quotes, runs jobs.
    Estimator,
    /// Records coupons and what samples measured.
    Lab,
    /// Keys, webhooks, audit log.
    Admin,
}

impl Role {
    /// Every role, the least first.
    pub const ALL: [Self; 4] = [Self::Reader, Self::Estimator, Self::Lab, Self::Admin];

    /// Its name, as stored and as on the wire.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Reader => "reader",
            Self::Estimator => "estimator",
            Self::Lab => "lab",
            Self::Admin => "admin",
        }
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A name that is no role's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UnknownRole;

impl fmt::Display for UnknownRole {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a role is one of reader, estimator, lab and admin")
    }
}

impl std::error::Error for UnknownRole {}

impl FromStr for Role {
    type Err = UnknownRole;

    fn from_str(name: &str) -> Result<Self, UnknownRole> {
        Self::ALL.into_iter().find(|role| role.name() == name).ok_or(UnknownRole)
    }
}
