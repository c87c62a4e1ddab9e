//! Why a command could not do what was asked: the file, the place, what to do.

use std::fmt;
use std::io;
use std::path::Path;

/// One reason, as a person reads it.
#[derive(Debug)]
pub(super) enum Failure {
    /// What to tell.
    Told(String),
    /// The answer could not be written out.
    Output(io::Error),
}

impl Failure {
    /// A failure with a file: what is wrong, what to do.
    pub(super) fn with_file(file: &Path, what: impl fmt::Display) -> Self {
        Self::Told(format!("{}: {what}", file.display()))
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Told(what) => f.write_str(what),
            Self::Output(error) => {
                write!(f, "the answer could not be written: {error}; see whether the disk it goes to is full")
            }
        }
    }
}

impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        Self::Output(error)
    }
}

impl From<serde_json::Error> for Failure {
    fn from(error: serde_json::Error) -> Self {
        Self::Output(error.into())
    }
}

impl From<csv::Error> for Failure {
    fn from(error: csv::Error) -> Self {
        match error.into_kind() {
            csv::ErrorKind::Io(error) => Self::Output(error),
            other => Self::Told(format!("the list could not be written: {other:?}")),
        }
    }
}
