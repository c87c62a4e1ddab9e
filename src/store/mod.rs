//! Files: the record as text that a person can read, written so that no mishap leaves half a record behind.
//!
//! One folder per format version (`v1`); a file says its format first, and each version knows its own way to the record
//! at work. This room reads and writes where it is told; it never asks for the user's folders, the clock or the
//! environment.

mod beside;
pub mod frozen;
mod layout;
mod lock;
mod open;
mod pack;
pub mod photos;
mod problem;
pub mod recovery;
mod save;
mod tree;
mod v1;

pub use beside::write_whole;
pub use lock::{Lock, LockError};
pub use open::{FORMAT, LoadError, LoadErrors, Loaded, hash_of, load, load_leniently, parse, parse_leniently, text_of};
pub use pack::{PackError, Packed, pack, unpack};
pub use save::{Expected, SaveError, save};
