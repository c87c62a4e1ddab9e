//! Whether a file of kinds makes sense: names, terminals, elements, switches. Each mistake gets its place in the file.

use std::collections::BTreeSet;

use super::body::{MOST_POSITIONS, numbered};
use super::check_drawing::check_drawings;
use super::element::{Driver, Element, Form};
use super::kind::{Kind, SwitchSpec, TerminalSpec};
use super::library::{Catalogue, KindFile};
use super::ron_text::{FileError, nearest};

/// Collects mistakes of one file.
pub(super) struct Checker<'a> {
    file: &'a str,
    text: &'a str,
    mistakes: Vec<FileError>,
}

impl Checker<'_> {
    /// Notes a mistake about `entry` (a kind or glyph), placed at `word` behind its name where that is found.
    pub(super) fn note(&mut self, entry: &str, word: Option<&str>, message: &str) {
        let quoted = |word: &str| format!("\"{word}\"");
        // The entry's own name first: a glyph it uses may be named alike.
        let named = |at: &usize| self.text.get(..*at).is_some_and(|before| before.trim_end().ends_with("name:"));
        let mut places = self.text.match_indices(&quoted(entry)).map(|(at, _)| at).collect::<Vec<_>>();
        places.sort_by_key(|at| !named(at));
        let head = places.first().copied().unwrap_or(0);
        let behind = head + entry.len();
        let at =
            word.and_then(|word| self.text.get(behind..)?.find(&quoted(word))).map_or(head, |found| behind + found);
        self.mistakes.push(FileError::at_offset(self.file, self.text, at, format!("'{entry}': {message}")));
    }
}

/// Every mistake in a file that has been read, given the kinds and glyphs it is put on top of.
pub(super) fn check_file(file: &str, text: &str, new: &KindFile, base: &Catalogue) -> Vec<FileError> {
    let mut checker = Checker { file, text, mistakes: Vec::new() };
    check_names(&mut checker, "kind", new.kinds.iter().map(|kind| kind.name.as_str()));
    check_names(&mut checker, "glyph", new.glyphs.iter().map(|glyph| glyph.name.as_str()));
    for kind in &new.kinds {
        check_kind(&mut checker, kind);
    }
    check_drawings(&mut checker, new, base);
    checker.mistakes
}

fn check_names<'a>(checker: &mut Checker<'_>, what: &str, names: impl Iterator<Item = &'a str>) {
    let mut seen = BTreeSet::new();
    for name in names {
        if !is_kebab(name) {
            let advice = "use small letters, digits and single hyphens, as in 'time-relay'";
            checker.note(name, None, &format!("a {what} cannot have this name; {advice}"));
        }
        if !seen.insert(name) {
            checker.note(name, Some(name), &format!("two entries of the file are named so; rename one {what}"));
        }
    }
}

fn is_kebab(name: &str) -> bool {
    name.split('-').all(|word| {
        !word.is_empty() && word.bytes().all(|letter| letter.is_ascii_lowercase() || letter.is_ascii_digit())
    })
}

fn check_kind(checker: &mut Checker<'_>, kind: &Kind) {
    let name = kind.name.as_str();
    if kind.title.trim().is_empty() {
        checker.note(name, None, "the title is empty; say what people call the part");
    }
    for letters in [&kind.letters.iec, &kind.letters.us] {
        if letters.is_empty() || !letters.bytes().all(|letter| letter.is_ascii_alphabetic()) {
            checker.note(name, Some(letters), "tags begin with letters; give one or more letters A to Z");
        }
    }
    check_typical(checker, kind);
    check_repeat(checker, kind);
    let points = check_points(checker, kind);
    check_switches(checker, kind);
    check_elements(checker, kind, &points);
}

fn check_typical(checker: &mut Checker<'_>, kind: &Kind) {
    let typical = &kind.typical;
    if typical.values.is_empty() != typical.source.trim().is_empty() {
        let message = "typical values and their source belong together; give both, the source may be 'common practice'";
        checker.note(&kind.name, None, message);
    }
    for (rating, _) in typical.values.iter().filter(|(rating, _)| rating.is_only_read()) {
        let name = rating.name();
        let message = format!("there is no typical value of '{name}' ({}): it is read on the part", rating.words());
        checker.note(&kind.name, Some(name), &message);
    }
}

fn check_repeat(checker: &mut Checker<'_>, kind: &Kind) {
    let Some(repeat) = &kind.repeat else { return };
    if repeat.count == 0 || repeat.count > MOST_POSITIONS {
        let message = format!("'count' is {}; give 1 to {MOST_POSITIONS} positions", repeat.count);
        checker.note(&kind.name, None, &message);
    }
    for spec in &repeat.terminals {
        if !spec.marking.contains("{n}") {
            let message = format!("the repeated terminal '{}' would repeat its marking; put {{n}} in it", spec.marking);
            checker.note(&kind.name, Some(&spec.marking), &message);
        }
    }
}

/// Positions that are laid out to check a repeating kind: enough for every neighbour to show.
const LAID_OUT: u16 = 3;

/// Every point an element can end at; double and unusable markings are noted.
fn check_points(checker: &mut Checker<'_>, kind: &Kind) -> BTreeSet<String> {
    let mut points = BTreeSet::new();
    let mut add = |point: String, written: &str| {
        if point.is_empty() || point.chars().any(|letter| letter.is_whitespace() || letter.is_control()) {
            let message = format!("'{written}' cannot be a marking; leave out white space, and write something");
            checker.note(&kind.name, Some(written), &message);
        } else if !points.insert(point.clone()) {
            let message = format!("the marking '{point}' comes twice; give each terminal its own");
            checker.note(&kind.name, Some(written), &message);
        }
    };
    for TerminalSpec { marking, .. } in &kind.terminals {
        add(marking.clone(), marking);
    }
    for point in &kind.inner {
        add(point.clone(), point);
    }
    if let Some(repeat) = &kind.repeat {
        for position in 1..=LAID_OUT {
            for TerminalSpec { marking, .. } in repeat.terminals.iter().filter(|spec| spec.marking.contains("{n}")) {
                add(numbered(marking, position), marking);
            }
        }
    }
    points
}

fn check_switches(checker: &mut Checker<'_>, kind: &Kind) {
    let mut names = BTreeSet::new();
    for SwitchSpec { name, positions } in &kind.switches {
        if !names.insert(name) {
            checker.note(&kind.name, Some(name), &format!("two switches are named '{name}'; rename one"));
        }
        if positions.len() < 2 || positions.iter().collect::<BTreeSet<_>>().len() < positions.len() {
            let message = format!("the switch '{name}' needs two or more positions, each named differently");
            checker.note(&kind.name, Some(name), &message);
        }
    }
}

fn check_elements(checker: &mut Checker<'_>, kind: &Kind, points: &BTreeSet<String>) {
    let mut elements: Vec<Element> = kind.elements.clone();
    if let Some(repeat) = &kind.repeat {
        elements.extend(repeat.elements.iter().map(|element| element.at_position(1)));
        elements.extend(repeat.between.iter().map(|element| element.at_position(1)));
    }
    let mut names = BTreeSet::new();
    for element in &elements {
        let markings = element.markings();
        for marking in &markings {
            if !points.contains(*marking) {
                let near = nearest(marking, points.iter().map(String::as_str));
                let advice =
                    near.map_or("add it to the terminals".to_owned(), |near| format!("did you mean '{near}'?"));
                let message = format!("an element ends at '{marking}', which is no terminal of this kind; {advice}");
                checker.note(&kind.name, Some(marking), &message);
            }
        }
        if markings.chunks_exact(2).any(|ends| ends.first() == ends.get(1)) {
            let at = markings.first().copied();
            checker.note(&kind.name, at, "an element begins and ends at the same terminal; give it two");
        }
        if let Some(name) = element.name()
            && !names.insert(name.to_owned())
        {
            checker.note(&kind.name, Some(name), &format!("two elements are named '{name}'; rename one"));
        }
        check_numbers(checker, kind, element);
        if let Element::Contact { form, driver, .. } = element {
            check_driver(checker, kind, *form, driver, &elements, points);
        }
    }
}

fn check_numbers(checker: &mut Checker<'_>, kind: &Kind, element: &Element) {
    let (phase, share) = match element {
        Element::Source { phase_deg, share, .. } => (*phase_deg, *share),
        Element::Transformer { share, .. } => (0.0, *share),
        _ => return,
    };
    if !phase.is_finite() {
        checker.note(&kind.name, None, "'phase_deg' is not a number; give degrees");
    }
    if !share.is_finite() || share <= 0.0 {
        checker.note(&kind.name, None, "'share' must be a number above 0; 1.0 stands for the whole voltage");
    }
}

fn check_driver(
    checker: &mut Checker<'_>,
    kind: &Kind,
    form: Form,
    driver: &Driver,
    elements: &[Element],
    points: &BTreeSet<String>,
) {
    match driver {
        Driver::Coil(coil) => {
            if !elements.iter().any(|element| matches!(element, Element::Coil { name, .. } if name == coil)) {
                let message =
                    format!("a contact is worked by the coil '{coil}', which this kind does not have; add it");
                checker.note(&kind.name, Some(coil), &message);
            }
        }
        Driver::Output(pin) => {
            if !points.contains(pin) {
                let message = format!("a contact is worked by the output '{pin}', which is no terminal; add it");
                checker.note(&kind.name, Some(pin), &message);
            }
        }
        Driver::Switch { name, closed_in } => {
            let Some(switch) = kind.switches.iter().find(|switch| &switch.name == name) else {
                let message =
                    format!("a contact is worked by the switch '{name}', which this kind does not have; add it");
                checker.note(&kind.name, Some(name), &message);
                return;
            };
            for position in closed_in.iter().filter(|position| !switch.positions.contains(position)) {
                let known = switch.positions.join(", ");
                let message = format!("the switch '{name}' has no position '{position}'; it has {known}");
                checker.note(&kind.name, Some(position), &message);
            }
            let closed_at_rest = switch.positions.first().is_some_and(|rest| closed_in.contains(rest));
            if closed_at_rest != (form == Form::Break) {
                let message = format!(
                    "a contact of the switch '{name}' is drawn as a {} contact, yet it is {} in the first position, \
                     which is the one at rest; change the form or the positions",
                    if form == Form::Break { "break" } else { "make" },
                    if closed_at_rest { "closed" } else { "open" },
                );
                checker.note(&kind.name, Some(name), &message);
            }
        }
    }
}
