//! A wire being followed on a photo, and wires proposed on one: worked out beside the window.

use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::machine::{Machine, PhotoId, TerminalRef};
use crate::tracing::{Follower, Ground, Path, PathPoint, PhotoPixels, PhotoPoint, PhotoTerminal, Suggestion, between};

use super::compute::{Compute, Make};
use super::files::Outcome;
use super::jobs::{Event, Manner, Waker, or_broken};
use super::session::Desk;

/// What is to be followed.
#[derive(Debug, Clone)]
pub struct Follow {
    /// On which photo.
    pub photo: PhotoId,
    /// Its pixels.
    pub pixels: Arc<PhotoPixels>,
    /// The terminal it begins on: the wire is followed to it from the first pin.
    pub from: Option<PhotoPoint>,
    /// Places on the wire, in order. None yet: the photo is only made ready.
    pub pins: Vec<PhotoPoint>,
    /// A place on something grey or white.
    pub grey: Option<PhotoPoint>,
}

impl PartialEq for Follow {
    fn eq(&self, other: &Self) -> bool {
        let same = |one: &Self| (one.photo, one.from, one.grey);
        same(self) == same(other) && self.pins == other.pins && Arc::ptr_eq(&self.pixels, &other.pixels)
    }
}

/// What came of it.
#[derive(Debug, Clone)]
pub struct Followed {
    /// What was asked.
    pub asked: Follow,
    /// Follows on to the pointer; none without pins.
    pub follower: Option<Follower>,
    /// The path from the terminal it begins on, if there is one, through the pins.
    pub path: Path,
    /// What to know before trusting it.
    pub caution: Option<&'static str>,
    /// The colour it seems to have.
    pub colour: Option<Suggestion>,
}

/// A wire that may run between two terminals.
#[derive(Debug, Clone, PartialEq)]
pub struct WireProposed {
    /// The terminals.
    pub ends: [TerminalRef; 2],
    /// Its path on the photo, from the first to the second.
    pub path: Vec<PathPoint>,
    /// Its width in pixels of the photo.
    pub width_px: f64,
    /// How clearly both ends show, and in how many views of the photo, 0 to 1; no likelihood.
    pub confidence: f64,
}

/// Works on the newest question, keeping the photo that was made ready.
#[derive(Default)]
pub(super) struct Maker {
    ground: Option<(Arc<PhotoPixels>, Ground)>,
    last: Option<(Follow, Follower, Path)>,
}

impl Make for Maker {
    type From = Follow;
    type Made = Followed;

    fn make(&mut self, asked: &Follow, is_stale: &(dyn Fn() -> bool + Sync)) -> Option<Followed> {
        let ground = match self.ground.take() {
            Some((pixels, ground)) if Arc::ptr_eq(&pixels, &asked.pixels) => ground,
            _ => Ground::of(Arc::clone(&asked.pixels)),
        };
        self.ground = Some((Arc::clone(&asked.pixels), ground.clone()));
        if asked.pins.is_empty() {
            let asked = asked.clone();
            return Some(Followed { asked, follower: None, path: Path::default(), caution: None, colour: None });
        }
        let (follower, path) = match self.last.take() {
            // Only what is grey was pointed at anew.
            Some((last, follower, path)) if last == (Follow { grey: last.grey, ..asked.clone() }) => (follower, path),
            _ => {
                let follower = Follower::through(&ground, &asked.pins);
                if is_stale() {
                    return None;
                }
                let path = with_lead_in(&ground, &follower, asked);
                (follower, path)
            }
        };
        if is_stale() {
            return None;
        }
        let made = Followed {
            asked: asked.clone(),
            caution: follower.caution(),
            colour: if asked.pins.len() > 1 { follower.colour(asked.grey) } else { None },
            path: path.clone(),
            follower: Some(follower.clone()),
        };
        self.last = Some((asked.clone(), follower, path));
        Some(made)
    }
}

/// The path through the pins, with the way from the terminal it begins on before it: looked for from the first pin, since a screw or a
/// lug does not have the wire's colour.
fn with_lead_in(ground: &Ground, follower: &Follower, asked: &Follow) -> Path {
    let mut path = follower.path();
    let Some(from) = asked.from else { return path };
    let back = if asked.pins.len() > 1 {
        let pins: Vec<PhotoPoint> = asked.pins.iter().rev().copied().collect();
        Follower::through(ground, &pins).path_to(from)
    } else {
        follower.path_to(from)
    };
    let mut points: Vec<PathPoint> = back.points.into_iter().rev().collect();
    // Exactly on the terminal, whatever pixel the way began in.
    points.insert(0, PathPoint { at: from, seen: false });
    points.append(&mut path.points);
    Path { points }
}

/// What is followed now, and what came of the last question.
pub(super) struct Following {
    compute: Compute<Maker>,
    asked: Option<Follow>,
    /// What was asked for broke.
    broke: bool,
    newest: Option<Arc<Followed>>,
}

impl Following {
    pub(super) fn new() -> Self {
        Self { compute: Compute::new("follow"), asked: None, broke: false, newest: None }
    }

    pub(super) fn set_waker(&self, waker: Waker) {
        self.compute.set_waker(waker);
    }

    fn is_waiting(&self) -> bool {
        !self.broke && self.asked.is_some() && self.newest.as_ref().map(|newest| &newest.asked) != self.asked.as_ref()
    }

    /// Takes in what was worked out; a sentence when it broke.
    pub(super) fn collect(&mut self) -> Result<(), String> {
        match self.compute.newest() {
            // What nobody asks for any more is let go.
            Some(Ok(followed)) if self.asked.is_some() => self.newest = Some(followed),
            Some(Err(why)) => {
                // The same is not asked for again: it would break again.
                self.broke = true;
                self.newest = None;
                return Err(why);
            }
            _ => {}
        }
        Ok(())
    }
}

impl Desk {
    /// Follows a wire on a photo, or nothing any more. The same question again costs nothing.
    pub fn follow(&mut self, follow: Option<Follow>) {
        let following = &mut self.worked.following;
        if following.asked == follow {
            return;
        }
        following.asked.clone_from(&follow);
        following.broke = false;
        match follow {
            None => following.newest = None,
            Some(follow) => {
                if following.newest.as_ref().is_some_and(|newest| newest.asked.photo != follow.photo) {
                    following.newest = None;
                }
                if let Some(followed) = following.compute.ask(follow) {
                    following.newest = Some(followed);
                }
            }
        }
    }

    /// What came of following, of the newest question that has an answer.
    pub fn followed(&self) -> Option<&Arc<Followed>> {
        self.worked.following.newest.as_ref()
    }

    /// Whether the newest question is still being worked on.
    pub fn is_following(&self) -> bool {
        self.worked.following.is_waiting()
    }

    /// Looks for every wire between these terminals of a photo: up to half a minute, beside the window; [`Event::WiresProposed`] brings what
    /// was found, and nothing when it was stopped. `false` while the photo is not decoded.
    pub fn propose_wires(&mut self, id: PhotoId, terminals: Vec<(TerminalRef, PhotoPoint)>) -> bool {
        let machine = Arc::clone(&self.machine);
        let Some(photo) = machine.photos.get(id) else { return false };
        let Some(pixels) = self.photo_pixels(photo).filter(|pixels| !pixels.is_quick()) else { return false };
        let asked = as_asked(&machine, &self.catalogue, &terminals);
        self.start(&format!("Looking for wires on photo {}", photo.name), Manner::InTurn, move |watch| {
            let result = or_broken(|| {
                let go_on = |share: f64| {
                    watch.progress(share);
                    !watch.is_stopped()
                };
                let found = between(&Ground::of(pixels), &asked, &go_on);
                Ok(found
                    .into_iter()
                    .map(|found| WireProposed {
                        ends: found.ends.map(|end| terminals[end].0.clone()),
                        path: found.path.points,
                        width_px: found.width_px,
                        confidence: found.confidence,
                    })
                    .collect())
            });
            Outcome::Proposed { photo: id, result }
        })
    }

    pub(super) fn take_proposed(&mut self, photo: PhotoId, result: Result<Vec<WireProposed>, String>) {
        match result {
            Ok(wires) => self.events.push(Event::WiresProposed(photo, wires)),
            Err(why) => self.fail("Looking for wires", &why),
        }
    }
}

/// Terminals for `between`, each with how many wires it may hold.
fn as_asked(machine: &Machine, catalogue: &Catalogue, terminals: &[(TerminalRef, PhotoPoint)]) -> Vec<PhotoTerminal> {
    let holds = |terminal: &TerminalRef| {
        let body = catalogue.body(machine.parts.get(terminal.part)?);
        Some(body.terminal(terminal.marking.as_str())?.holds)
    };
    let asked = |(terminal, at): &(TerminalRef, PhotoPoint)| PhotoTerminal {
        at: *at,
        holds: holds(terminal).unwrap_or_default(),
    };
    terminals.iter().map(asked).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::{Part, TerminalNote};

    /// By the list of parts an earth stud holds three wires; a person may say otherwise of a terminal; of a heater nothing is said.
    #[test]
    fn wires_are_looked_for_as_many_as_a_terminal_may_hold() {
        let catalogue = Catalogue::built_in().unwrap();
        let mut machine = Machine::default();
        let mut terminals = Vec::new();
        for (kind, marking, holds) in [
            ("earth-stud", "PE", None),
            ("earth-stud", "PE", Some(1)),
            ("heater", "1", None),
            ("no such kind", "1", None),
        ] {
            let mut part = Part { kind: kind.to_owned(), ..Part::default() };
            part.terminals.insert(marking.into(), TerminalNote { holds, ..TerminalNote::default() });
            let (id, edit) = machine.add_part(part);
            machine.apply(edit);
            terminals.push((TerminalRef::new(id, marking), [terminals.len() as f64, 2.0]));
        }
        let asked = as_asked(&machine, &catalogue, &terminals);
        let asked: Vec<(f64, u8)> = asked.iter().map(|one| (one.at[0], one.holds)).collect();
        assert_eq!(asked, [(0.0, 3), (1.0, 1), (2.0, 0), (3.0, 0)]);
    }
}
