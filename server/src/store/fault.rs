//! Why the database did not do what was asked.

use std::fmt;

use sqlx::Error;
use sqlx::error::ErrorKind;

/// Why the database did not do what was asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StoreFault {
    /// It does not answer, or others keep it busy: worth trying again.
    Unreachable(String),
    /// Its disk is full or takes nothing: nothing was written.
    Unwritable(String),
    /// There is such a row already.
    Taken,
    /// It cannot be used as it is: no such folder, not a database, another version.
    Unusable(String),
    /// Anything else: a fault of ours.
    Internal(String),
}

impl StoreFault {
    /// The kind alone, for those who must not see what a database says: it may name addresses and values.
    pub const fn in_short(&self) -> &'static str {
        match self {
            Self::Unreachable(_) => "it does not answer",
            Self::Unwritable(_) => "it cannot be written to",
            Self::Taken | Self::Internal(_) => "it refused a question",
            Self::Unusable(_) => "it cannot be used as it is",
        }
    }
}

impl fmt::Display for StoreFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unreachable(why) => write!(f, "the database does not answer: {why}"),
            Self::Unwritable(why) => write!(f, "the database cannot be written to: {why}"),
            Self::Taken => f.write_str("it is there already"),
            Self::Unusable(why) => write!(f, "the database cannot be used: {why}"),
            Self::Internal(why) => write!(f, "the database refused a question of ours: {why}"),
        }
    }
}

impl std::error::Error for StoreFault {}

/// Result codes of SQLite (sqlite.org/rescode.html), their low byte.
mod sqlite {
    pub const BUSY: i32 = 5;
    pub const LOCKED: i32 = 6;
    pub const READ_ONLY: i32 = 8;
    pub const IO: i32 = 10;
    pub const FULL: i32 = 13;
    pub const CANNOT_OPEN: i32 = 14;
    pub const NOT_A_DATABASE: i32 = 26;
}

impl From<Error> for StoreFault {
    fn from(error: Error) -> Self {
        let why = error.to_string();
        match &error {
            Error::Io(_) | Error::Tls(_) | Error::PoolTimedOut | Error::PoolClosed | Error::WorkerCrashed | Error::Protocol(_) => {
                Self::Unreachable(why)
            }
            Error::Database(told) => {
                if told.kind() == ErrorKind::UniqueViolation {
                    return Self::Taken;
                }
                let code = told.code().unwrap_or_default();
                match code.parse::<i32>() {
                    // SQLite counts its codes, PostgreSQL has five characters.
                    Ok(number) if code.len() < 5 => match number & 0xff {
                        sqlite::BUSY | sqlite::LOCKED => Self::Unreachable(why),
                        sqlite::READ_ONLY | sqlite::IO | sqlite::FULL => Self::Unwritable(why),
                        sqlite::CANNOT_OPEN | sqlite::NOT_A_DATABASE => Self::Unusable(why),
                        _ => Self::Internal(why),
                    },
                    // Classes of PostgreSQL (appendix A of its manual): connection, resources (53100 is a full disk), operator
                    // intervention, and a server that is told to be read-only.
                    _ if code == "53100" || code == "25006" => Self::Unwritable(why),
                    _ if ["08", "53", "57", "40", "55"].iter().any(|class| code.starts_with(class)) => Self::Unreachable(why),
                    _ if code.starts_with("28") || code.starts_with("3D") => Self::Unusable(why),
                    _ => Self::Internal(why),
                }
            }
            Error::Configuration(_) => Self::Unusable(why),
            _ => Self::Internal(why),
        }
    }
}
