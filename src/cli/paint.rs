//! Colours of the terminal, and none where there is no terminal. A word always stands beside a colour.

use std::fmt;

use anstyle::{AnsiColor, Style};

use crate::findings::Severity;

/// Paints or leaves plain.
#[derive(Debug, Clone, Copy)]
pub(super) struct Paint {
    /// Whether colours are shown.
    pub(super) on: bool,
}

impl Paint {
    /// A severity's word in its colour.
    pub(super) fn severity(self, severity: Severity, text: impl fmt::Display) -> String {
        let colour = match severity {
            Severity::Danger => AnsiColor::Red,
            Severity::Fault => AnsiColor::Yellow,
            Severity::Doubt => AnsiColor::Cyan,
            Severity::Note => AnsiColor::Blue,
        };
        self.styled(colour.on_default().bold(), text)
    }

    /// The head of something.
    pub(super) fn bold(self, text: impl fmt::Display) -> String {
        self.styled(Style::new().bold(), text)
    }

    /// What stands back.
    pub(super) fn faint(self, text: impl fmt::Display) -> String {
        self.styled(Style::new().dimmed(), text)
    }

    /// The word before what went wrong.
    pub(super) fn error(self, text: impl fmt::Display) -> String {
        self.styled(AnsiColor::Red.on_default().bold(), text)
    }

    fn styled(self, style: Style, text: impl fmt::Display) -> String {
        if self.on { format!("{style}{text}{style:#}") } else { text.to_string() }
    }
}
