//! Photographs: decoding them upright, the levels they are shown in, and following wires on them.
//!
//! Knows nothing of records or windows. Decoding is bounded: a picture that claims more than the limits is refused
//! before its pixels are read.

mod between;
mod centre;
mod cost;
mod decode;
mod ends;
mod follow;
mod ground;
mod helix;
mod lab;
mod layers;
mod levels;
mod light;
mod look;
mod pairing;
mod plane;
mod preview;
mod scene;
mod sight;
mod strip;
mod suggest;
mod surface;
mod tree;
mod ways;
mod width;

pub use between::{PhotoTerminal, Proposed, between};
pub use centre::PathPoint;
pub use cost::{HIDDEN_COST, SEEN_COST};
pub use decode::{DecodeError, Decoded, MOST_BYTES, MOST_PIXELS, decode, read_file, sniff_taken, upright_size};
pub use follow::{Follower, Path};
pub use ground::{Ground, PhotoPoint};
pub use lab::{Lab, ciede2000};
pub use levels::{Level, PhotoPixels, TILE_PX, Tile};
pub use plane::{Homography, Similarity, mm_per_px};
pub use preview::preview;
pub use suggest::{Odds, Suggestion, suggestion};
pub use tree::Tree;
