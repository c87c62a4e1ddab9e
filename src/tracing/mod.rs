//! Photographs: decoding them upright, and the levels they are shown in.
//!
//! Knows nothing of records or windows. Decoding is bounded: a picture that claims more than the limits is refused
//! before its pixels are read.

mod decode;
mod levels;

pub use decode::{DecodeError, Decoded, MOST_BYTES, MOST_PIXELS, decode, read_file, sniff_taken};
pub use levels::{Level, PhotoPixels, TILE_PX, Tile};
