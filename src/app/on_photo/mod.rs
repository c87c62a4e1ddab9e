//! What is done on a photo in the window: following a wire, straightening, scaling, placing beside a neighbour, laying terminals,
//! cutting out details, looking at colours, going through proposed wires.

mod apply;
mod bar;
mod detail;
mod follow;
mod lay;
mod marks;
mod offer;
mod proposals;
mod route;
mod trace;

pub use bar::show as bar;
pub use detail::{show as detail, turned as turned_details};
pub use marks::{Live, show as marks};
pub use offer::{key as colour_key, show as colour_offer};
pub use route::terminals_on;

use std::collections::BTreeMap;

use crate::desk::WireProposed;
use crate::machine::{PartId, PhotoId, Point, TerminalRef, Thing, WireId};
use crate::tracing::PhotoPoint;

/// What is being done on photos.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OnPhoto {
    /// What clicks are taken for.
    pub doing: Option<Doing>,
    /// The recorded wire whose colour is looked at on a photo.
    pub colour: Option<ColourOf>,
    /// Wires that were proposed and are gone through one by one.
    pub proposed: Option<Proposals>,
    /// Why the last click or key did nothing; empty when it did something.
    pub says: String,
    /// Lengths as they are written: a distance, or width and height of what is straightened.
    pub lengths: [String; 2],
    /// Which picture each photo has, and how it is turned, as it was at the last look: pixels are places of that.
    pub ways_up: BTreeMap<PhotoId, (String, u8)>,
}

/// What the clicks on the canvas are taken for.
#[derive(Debug, Clone, PartialEq)]
pub enum Doing {
    /// Two points of known distance on this photo.
    Scale(PhotoId, Vec<Point>),
    /// Four corners of something rectangular on this photo.
    Straighten(PhotoId, Vec<Point>),
    /// Two points of this photo, each followed by the same point on a neighbour.
    Join(PhotoId, Vec<Point>),
    /// Points along a wire.
    Trace(Trace),
    /// The terminals of this part, in order; none for one that was passed over.
    Terminals(PartId, Vec<Option<Point>>),
    /// Two opposite corners of what shows this part.
    Detail(PartId, Vec<Point>),
    /// Something grey or white, for the colour that is looked at.
    Grey,
}

/// A wire that is being followed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trace {
    /// On which photo; none before the first click.
    pub photo: Option<PhotoId>,
    /// The terminal it begins on.
    pub from: Option<(TerminalRef, PhotoPoint)>,
    /// Pins on the wire, in order.
    pub pins: Vec<PhotoPoint>,
    /// How it is to end, once that was said: it ends as soon as the path is worked out.
    pub ending: Option<Ending>,
    /// Something grey or white, for the colour.
    pub grey: Option<PhotoPoint>,
    /// The next click points at something grey or white.
    pub wants_grey: bool,
    /// The pins came with a proposed wire: the next terminal that is clicked is the one it begins on.
    pub open_ends: bool,
}

/// How a wire that was followed ends.
#[derive(Debug, Clone, PartialEq)]
pub enum Ending {
    /// On this terminal.
    Terminal(TerminalRef, PhotoPoint),
    /// On nothing, and seen to be so.
    Loose,
    /// It goes out of sight.
    OutOfSight,
}

/// A recorded wire whose colour is looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct ColourOf {
    /// The wire.
    pub wire: WireId,
    /// On which photo.
    pub photo: PhotoId,
    /// Places on it.
    pub pins: Vec<PhotoPoint>,
    /// Something grey or white.
    pub grey: Option<PhotoPoint>,
}

/// Wires that were proposed and wait for a word.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposals {
    /// On which photo.
    pub photo: PhotoId,
    /// Those left, the next one first.
    pub left: Vec<WireProposed>,
    /// How many there were.
    pub of: usize,
    /// How many were accepted.
    pub accepted: usize,
}

/// Asks for something on a photo.
#[derive(Debug, Clone, PartialEq)]
pub enum PhotoRequest {
    /// Begin this.
    Begin(Doing),
    /// A click, with what lies there.
    Click(Point, Option<Thing>),
    /// Take back the last point; refuse the proposed wire.
    Back,
    /// Pass over one terminal.
    Skip,
    /// End with what there is; accept the proposed wire.
    Finish,
    /// Follow the proposed wire on, to other ends than were proposed.
    OtherEnds,
    /// End the wire here, on nothing.
    FinishLoose,
    /// The next click points at something grey or white.
    Grey,
    /// Give up.
    Stop,
    /// What is written for a length, by its place.
    Length(usize, String),
    /// Lay a straightened photo as it was taken.
    Unstraighten(PhotoId),
    /// Look for all wires between the terminals on this photo.
    Propose(PhotoId),
    /// Look at the colour of this wire on a photo.
    LookAtColour(WireId),
    /// Cut out the photo round the terminals of this part.
    DetailRound(PartId),
}

impl OnPhoto {
    /// Whether the bar for photos is wanted.
    pub fn is_busy(&self) -> bool {
        self.doing.is_some() || self.proposed.is_some()
    }

    /// The wire that is being followed.
    pub fn trace(&self) -> Option<&Trace> {
        match &self.doing {
            Some(Doing::Trace(trace)) => Some(trace),
            _ => None,
        }
    }
}
