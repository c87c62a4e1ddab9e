//! Ends of wires as they are seen on a photo, and the terminals they may be on.

use super::sight::{LETTERS, Sight, direction_of};

/// Less likely ends are not looked at.
const LEAST: f32 = 0.12;
/// An end is the likeliest for so many cells around.
const ALONE: isize = 3;
/// The colour of a wire at its end is that of so many cells along it.
const COLOUR_CELLS: u8 = 13;
/// A wire may bend by so much, in radians, from cell to cell, if so many cells ahead it is seen likelier by so much.
const BEND: f32 = 0.2;
const LOOK_AHEAD: f32 = 3.0;
const CLEARLY: f32 = 1.1;

/// The place that a terminal is told to be at is off by so many cells across or down, one time in three by more.
const TOLD_OFF: f32 = 4.0;
/// A terminal lies straight behind the end (or a little before it), off to a side by so many cells and by such a share of the distance, at most so far.
const ASIDE: f32 = 1.5;
const ASIDE_SHARE: f32 = 0.12;
const BEHIND: f32 = 32.0;
const BEFORE: f32 = 3.0;
/// From so many cells on it costs so much a cell that a terminal is far.
const NEAR: f32 = 10.0;
const FAR_COST: f32 = 0.06;
/// What it costs to go by direction alone, and what being told and standing behind count if both speak for a terminal.
const BY_DIRECTION: f32 = 0.4;
const BOTH: f32 = 0.4;
/// What it costs that nothing that looks like a lug or a wire lies between end and terminal.
const NOTHING_BETWEEN: f32 = 3.0;
/// What it costs that an end is on no terminal.
pub(super) const LOOSE: f32 = 6.0;

/// An end of a wire, in cells.
#[derive(Debug, Clone)]
pub(super) struct End {
    pub(super) at: [f32; 2],
    /// Which way the wire leaves it, of length 1, if that is told.
    pub(super) along: Option<[f32; 2]>,
    /// Where its terminal is told to be.
    pub(super) terminal: [f32; 2],
    pub(super) likely: f32,
    /// The shares of base colours there.
    pub(super) letters: [f32; LETTERS],
}

/// A terminal that an end may be on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Landing {
    pub(super) terminal: usize,
    pub(super) cost: f32,
}

/// All ends that are seen, the likeliest first.
pub(super) fn ends(sight: &Sight) -> Vec<End> {
    let mut ends: Vec<End> = (0..sight.width * sight.height).filter_map(|cell| end_at(sight, cell)).collect();
    ends.sort_by(|a, b| b.likely.total_cmp(&a.likely));
    ends
}

/// The end at a cell, if there is one, likelier than all around.
fn end_at(sight: &Sight, cell: usize) -> Option<End> {
    let likely = sight.end(cell).likely;
    if likely < LEAST {
        return None;
    }
    let (x, y) = (cell % sight.width, cell / sight.width);
    let (mut sum, mut at, mut along, mut terminal) = (0.0, [0.0; 2], [0.0; 2], [0.0; 2]);
    for (dx, dy) in (-ALONE..=ALONE).flat_map(|dy| (-ALONE..=ALONE).map(move |dx| (dx, dy))) {
        let (Some(x), Some(y)) = (x.checked_add_signed(dx), y.checked_add_signed(dy)) else { continue };
        if x >= sight.width || y >= sight.height {
            continue;
        }
        let other = y * sight.width + x;
        let seen = sight.end(other);
        if seen.likely > likely || seen.likely == likely && other < cell {
            return None;
        }
        if dx.abs() <= 1 && dy.abs() <= 1 {
            let here = [x as f32 + 0.5, y as f32 + 0.5];
            sum += seen.likely;
            for axis in 0..2 {
                at[axis] += seen.likely * here[axis];
                along[axis] += seen.likely * seen.along[axis];
                terminal[axis] += seen.likely * (here[axis] + seen.terminal[axis]);
            }
        }
    }
    let [at, terminal] = [at, terminal].map(|place| place.map(|value: f32| value / sum));
    let length = along[0].hypot(along[1]);
    let along = (length > 0.0).then(|| along.map(|value| value / length));
    Some(End { at, along, terminal, likely, letters: letters(sight, at, along.unwrap_or_default()) })
}

/// The end of a wire at a terminal where none is seen.
pub(super) fn unseen_end(sight: &Sight, terminal: [f32; 2]) -> Option<End> {
    let letters = [1.0 / LETTERS as f32; LETTERS];
    sight.cell(terminal).map(|_| End { at: terminal, along: None, terminal, likely: 0.0, letters })
}

/// The shares of base colours along the beginning of a wire, which is followed where it bends.
fn letters(sight: &Sight, at: [f32; 2], along: [f32; 2]) -> [f32; LETTERS] {
    let mut letters = [1e-3; LETTERS];
    let (mut at, mut way) = (at, along);
    for _ in 0..COLOUR_CELLS {
        let seen = |way: [f32; 2]| {
            let cell = sight.cell([at[0] + LOOK_AHEAD * way[0], at[1] + LOOK_AHEAD * way[1]]);
            cell.map_or(0.0, |cell| sight.line(cell, direction_of(way)))
        };
        let turned = |turn: f32| {
            let (sin, cos) = turn.sin_cos();
            [way[0] * cos - way[1] * sin, way[0] * sin + way[1] * cos]
        };
        let likelier = [-BEND, BEND].map(turned).into_iter().max_by(|a, b| seen(*a).total_cmp(&seen(*b)));
        way = likelier.filter(|likelier| seen(*likelier) > CLEARLY * seen(way)).unwrap_or(way);
        at = [at[0] + way[0], at[1] + way[1]];
        for aside in [-1.0, 0.0, 1.0] {
            let Some(cell) = sight.cell([at[0] - way[1] * aside, at[1] + way[0] * aside]) else { continue };
            let of_cell = sight.letters(cell);
            (0..LETTERS).for_each(|letter| letters[letter] += sight.insulation(cell) * of_cell[letter]);
        }
    }
    let sum: f32 = letters.iter().sum();
    letters.map(|share| share / sum)
}

/// The terminals that an end may be on, the likeliest first; none that costs as much as being loose.
pub(super) fn landings(sight: &Sight, end: &End, terminals: &[[f32; 2]]) -> Vec<Landing> {
    let landing = |(terminal, at): (usize, &[f32; 2])| {
        let off = (end.terminal[0] - at[0]).hypot(end.terminal[1] - at[1]);
        let told = (off / TOLD_OFF).powi(2) / 2.0;
        let way = [at[0] - end.at[0], at[1] - end.at[1]];
        let straight = end.along.map_or(f32::INFINITY, |along| straight(way, along));
        let cost =
            told.min(straight).min(BOTH * (told + straight)) + NOTHING_BETWEEN * (1.0 - between(sight, end.at, *at));
        (cost < LOOSE).then_some(Landing { terminal, cost })
    };
    let mut landings: Vec<Landing> = terminals.iter().enumerate().filter_map(landing).collect();
    landings.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    landings
}

/// What it costs that a terminal lies so from an end that a wire leaves along there.
fn straight(way: [f32; 2], along: [f32; 2]) -> f32 {
    let behind = -(way[0] * along[0] + way[1] * along[1]);
    let aside = way[0] * along[1] - way[1] * along[0];
    if !(-BEFORE..BEHIND).contains(&behind) {
        return f32::INFINITY;
    }
    let width = ASIDE + ASIDE_SHARE * behind.max(0.0);
    BY_DIRECTION + FAR_COST * (behind - NEAR).max(0.0) + (aside / width).powi(2) / 2.0
}

/// How much of the way from an end to a terminal looks like a lug or a wire, 0 to 1.
fn between(sight: &Sight, from: [f32; 2], to: [f32; 2]) -> f32 {
    let shares = [0.1, 0.3, 0.5, 0.7, 0.9];
    let looks = |share: f32| {
        let place = [0, 1].map(|axis| from[axis] + share * (to[axis] - from[axis]));
        sight.cell(place).map_or(0.0, |cell| sight.lug(cell).max(sight.insulation(cell)))
    };
    shares.into_iter().map(looks).sum::<f32>() / 5.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A blue wire that bends at once, and a red one that lies straight on.
    #[test]
    fn the_colour_of_a_wire_that_bends_at_its_end_is_its_own() {
        let mut sight = Sight::blank(80, 60);
        sight.draw([32.0, 10.0], [32.0, 31.0], 2);
        sight.draw([20.0, 30.0], [26.0, 30.0], 6);
        sight.draw([26.0, 30.0], [31.0, 33.0], 6);
        sight.draw([31.0, 33.0], [31.0, 55.0], 6);
        let letters = letters(&sight, [20.0, 30.0], [1.0, 0.0]);
        assert!(letters[6] > 0.9, "{letters:?}");
    }

    /// Common practice, no source: a lug is in line with the wire it is crimped on.
    #[test]
    fn an_end_lands_on_the_terminal_behind_it_and_places_that_are_none_do_no_harm() {
        let mut sight = Sight::blank(80, 60);
        sight.draw([20.0, 30.0], [70.0, 30.0], 6);
        let letters = letters(&sight, [20.0, 30.0], [1.0, 0.0]);
        assert!(letters[6] > 0.9, "{letters:?}");
        let end = End { at: [20.0, 30.0], along: Some([1.0, 0.0]), terminal: [12.0, 31.0], likely: 0.8, letters };
        let terminals = [[10.0, 30.0], [10.0, 45.0], [60.0, 30.0], [f32::NAN, 3.0], [f32::INFINITY, 1e30]];
        let found: Vec<usize> =
            landings(&sight, &end, &terminals).into_iter().map(|landing| landing.terminal).collect();
        assert_eq!(found, [0]);
    }
}
