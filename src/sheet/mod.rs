//! The wiring sheet, labels and lists: what a record hands over on paper and to other programs.
//!
//! [`Content`] holds everything a sheet says, in words and figures, worked out of a record without any knowledge of how paper is laid
//! out; `paper` lays it out (behind the feature `sheet`). The same record gives the same bytes: nothing here reads the clock.

mod clip;
mod content;
mod dead;
mod figure;
mod labels;
mod letters;
mod lists;
mod next;
mod page;
#[cfg(feature = "sheet")]
pub mod paper;
mod photos;
mod rungs;
mod section;
mod table;
mod tiles;
mod worked;

pub use content::{Caution, Content, FindingRows, Given, Title};
pub use dead::{DeadWire, DeadWiring};
pub use figure::{Figure, Prim};
pub use labels::{Label, labels};
pub use lists::{
    PartRows, READING_COLUMNS, ReadingRow, TerminalRow, WIRE_COLUMNS, reading_table, wire_row, wire_state, wire_table,
};
pub use next::{MysteryRows, NextReading, NextVisit};
pub use page::{Format, PagePicture, Paper};
pub use photos::PhotoFigure;
pub use section::Section;
pub use table::{Table, WorkbookError, workbook};
pub use tiles::{Room, Tile, Tiled};
pub use worked::Worked;

/// How a record is called on paper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Identity {
    /// Name of its file, without ending.
    pub id: String,
    /// The first digits of the hash of its file: tells one revision from another.
    pub revision: String,
}

impl Identity {
    /// Digits of the hash that make a revision: enough that two revisions of one machine never share them.
    pub const DIGITS: usize = 12;

    /// A record by the name and the hash of its file.
    pub fn new(id: &str, hash: &str) -> Self {
        Self { id: id.to_owned(), revision: hash.chars().take(Self::DIGITS).collect() }
    }

    /// Of a record that no file holds as it is: said beside the revision wherever that stands.
    pub fn not_saved(self) -> Self {
        Self { revision: format!("{}, not saved", self.revision), ..self }
    }

    /// What the code on the sheet says, for a reader of codes: record and revision.
    pub fn code(&self) -> String {
        format!("wirewitness record {} revision {}", self.id, self.revision)
    }
}
