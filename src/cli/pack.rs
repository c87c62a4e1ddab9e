//! `pack` and `unpack`: a record with its photos in one file, and back.

use std::io::Write;
use std::path::Path;

use crate::store::{self, Packed};

use super::FINE;
use super::args::{Pack, Unpack};
use super::failure::Failure;
use super::kinds::catalogue;

/// `pack`.
pub(super) fn pack(what: &Pack, kinds: Option<&Path>, out: &mut dyn Write) -> Result<u8, Failure> {
    if std::fs::symlink_metadata(&what.output).is_ok() {
        return Err(Failure::with_file(&what.output, "there is a file with this name already; write another name"));
    }
    let catalogue = catalogue(kinds)?;
    let done = store::pack(&what.file, &what.output, &catalogue).map_err(|why| Failure::Told(why.to_string()))?;
    tell(&done, out)
}

/// `unpack`.
pub(super) fn unpack(what: &Unpack, out: &mut dyn Write) -> Result<u8, Failure> {
    let done = store::unpack(&what.pack, &what.output).map_err(|why| Failure::Told(why.to_string()))?;
    tell(&done, out)
}

fn tell(done: &Packed, out: &mut dyn Write) -> Result<u8, Failure> {
    for missing in &done.missing {
        writeln!(out, "{missing}")?;
    }
    writeln!(out, "{}: 1 record, photos: {}, copies of visits: {}", done.file.display(), done.photos, done.copies)?;
    Ok(FINE)
}
