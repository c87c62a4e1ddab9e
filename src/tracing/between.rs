//! All wires between given terminals, proposed with how sure that is. Nothing is added to a record here.

use super::centre::{PathPoint, centred};
use super::chain::Field;
use super::follow::Path;
use super::ground::{Ground, PhotoPoint};
use super::look::Look;

/// A wire ends within this share of the photo's width from its terminal: lug and sleeve lie between.
const REACH: f64 = 0.06;
/// A sure wire: so little of it hidden, no longer gap in widths, so little company of its colour, and the next terminal so much worse.
const SURE_HIDDEN: f64 = 0.15;
const SURE_GAP: f64 = 5.0;
const SURE_COMPANY: f64 = 0.12;
const SURE_LEAD: f64 = 3.0;

/// It is so long, in widths, of a colour, and lug and sleeve show at both ends.
const SURE_LENGTH: f64 = 25.0;
const SURE_CHROMA: f32 = 20.0;
const SURE_FITTING: f64 = 0.5;

/// A wire that may be there.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposed {
    /// The terminals it runs between, by their places in the list that was given, the lesser first.
    pub ends: [usize; 2],
    /// Its path, from the first of the ends to the second.
    pub path: Path,
    /// Its width in pixels of the photo.
    pub width_px: f64,
    /// How likely it is, 0 to 1.
    pub confidence: f64,
    /// Whether it may be taken over without being followed by eye; still a person's decision.
    pub sure: bool,
}

/// Proposes every wire that is seen between the terminals, the surest first. An aid to begin with, no more: on the pictures of
/// tests/data/photos about a quarter of the wires come with both ends right among many that are wrong, most often by the neighbouring terminal. Takes seconds: not for a frame.
/// `progress` is told the share that is done; when it answers `false`, what was found so far is returned.
pub fn between(ground: &Ground, terminals: &[PhotoPoint], progress: &(dyn Fn(f64) -> bool + Sync)) -> Vec<Proposed> {
    let level = ground.coarse();
    let scale = ground.scale(level);
    let places: Vec<[f64; 2]> = terminals.iter().map(|&at| ground.on_level(level, at)).collect();
    let reach = REACH * ground.whole.width as f64;
    let field = Field::of(&ground.whole, &places, reach);
    let mut proposals: Vec<Proposed> = Vec::new();
    for chain in field.chains(progress) {
        let landed = chain.ends().map(|(at, heading)| landing(&field, &places, at, heading, reach, chain.wire));
        let [Some((from, lead_from)), Some((to, lead_to))] = landed else { continue };
        if from == to {
            continue;
        }
        let lead = lead_from.min(lead_to);
        let sure = chain.hidden() < SURE_HIDDEN
            && chain.longest_gap < SURE_GAP
            && chain.company < SURE_COMPANY
            && lead > SURE_LEAD
            && chain.points.len() as f64 * 0.5 > SURE_LENGTH
            // Edges of parts and shadows are black, grey and white.
            && chain.colours.first().is_some_and(|lab| lab.chroma() > SURE_CHROMA)
            && chain.ends().iter().zip([from, to]).all(|((at, _), to)| field.fitting(*at, places[to], chain.wire) > SURE_FITTING);
        let confidence = (1.0 - chain.hidden())
            * (1.0 - 0.5 * chain.company.min(1.0))
            * (1.0 - (chain.longest_gap / 20.0).min(0.5))
            * (1.0 - 0.5 / lead.max(1.0));
        let on_photo = |at: [f64; 2]| [at[0] * scale[0], at[1] * scale[1]];
        let rough: Vec<PhotoPoint> = chain.points.iter().map(|(at, _)| on_photo(*at)).collect();
        let width_px = chain.wire * scale[0];
        let look = Look::of(std::slice::from_ref(&chain.colours), 26.0);
        let mut points = centred(ground, &look, width_px, &rough);
        // The ends snap to the terminals; between insulation and terminal the wire is not seen.
        points.insert(0, PathPoint { at: terminals[from], seen: false });
        points.push(PathPoint { at: terminals[to], seen: false });
        let mut proposed = Proposed { ends: [from, to], path: Path { points }, width_px, confidence, sure };
        if from > to {
            proposed.ends.reverse();
            proposed.path.points.reverse();
        }
        match proposals.iter_mut().find(|other| other.ends == proposed.ends) {
            Some(other) if other.confidence >= proposed.confidence => {}
            Some(other) => *other = proposed,
            None => proposals.push(proposed),
        }
    }
    proposals.sort_by(|a, b| b.sure.cmp(&a.sure).then(b.confidence.total_cmp(&a.confidence)).then(a.ends.cmp(&b.ends)));
    proposals
}

/// The terminal that an end of a wire most likely leads to, and how many times worse the next is.
fn landing(
    field: &Field<'_>,
    places: &[[f64; 2]],
    at: [f64; 2],
    heading: f64,
    reach: f64,
    wire: f64,
) -> Option<(usize, f64)> {
    let mut all: Vec<(usize, f64)> = places
        .iter()
        .enumerate()
        .filter_map(|(number, place)| {
            let (dx, dy) = (place[0] - at[0], place[1] - at[1]);
            let far = dx.hypot(dy);
            let (ahead, aside) = (dx * heading.cos() + dy * heading.sin(), dy * heading.cos() - dx * heading.sin());
            // Lug and sleeve go on as the wire ends: what lies aside counts more than what lies ahead, and behind counts most.
            let ahead = if ahead < 0.0 { -2.0 * ahead } else { 0.5 * ahead };
            (far < reach).then(|| {
                let fitting = field.fitting(at, *place, wire);
                (number, (ahead.hypot(1.5 * aside) + 0.08 * reach) * (1.3 - fitting))
            })
        })
        .collect();
    all.sort_by(|a, b| a.1.total_cmp(&b.1));
    let &(first, least) = all.first()?;
    Some((first, all.get(1).map_or(4.0, |next| (next.1 / least).min(4.0))))
}
