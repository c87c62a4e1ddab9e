//! Whether the drawings of a file of kinds make sense: numbers, glyph names, glyphs that use each other in a circle.

use std::collections::BTreeMap;

use super::check::Checker;
use super::kind::Kind;
use super::library::{Catalogue, KindFile};
use super::outline::MOST_STROKES;
use super::ron_text::nearest;
use super::symbol::{Glyph, Stroke, Style, Symbol};

/// Farthest that anything may lie from a part's origin, in millimetres.
const FARTHEST_MM: f64 = 2000.0;

/// Notes every mistake in drawings and places.
pub(super) fn check_drawings(checker: &mut Checker<'_>, new: &KindFile, base: &Catalogue) {
    let mut glyphs: BTreeMap<&str, &Glyph> =
        base.glyph_names().filter_map(|name| Some((name, base.glyph(name)?))).collect();
    glyphs.extend(new.glyphs.iter().map(|glyph| (glyph.name.as_str(), glyph)));
    for glyph in &new.glyphs {
        check_symbol(checker, &glyph.name, &glyph.symbol, &glyphs);
    }
    for kind in &new.kinds {
        check_places(checker, kind);
        check_symbol(checker, &kind.name, &kind.symbol, &glyphs);
        if let Some(repeat) = &kind.repeat {
            check_symbol(checker, &kind.name, &repeat.symbol, &glyphs);
        }
    }
}

fn check_places(checker: &mut Checker<'_>, kind: &Kind) {
    let repeated = kind.repeat.iter().flat_map(|repeat| &repeat.terminals);
    for spec in kind.terminals.iter().chain(repeated) {
        if !near(spec.at) {
            let message = format!("the terminal '{}' has no usable place; {ADVICE}", spec.marking);
            checker.note(&kind.name, Some(&spec.marking), &message);
        }
    }
    if kind.repeat.as_ref().is_some_and(|repeat| !near(repeat.pitch)) {
        checker.note(&kind.name, None, &format!("'pitch' is not usable; {ADVICE}"));
    }
}

const ADVICE: &str = "give millimetres, at most 2000 from the part's origin";

fn near(point: (f64, f64)) -> bool {
    // NaN fails both comparisons.
    point.0.abs() <= FARTHEST_MM && point.1.abs() <= FARTHEST_MM
}

fn check_symbol(checker: &mut Checker<'_>, entry: &str, symbol: &Symbol, glyphs: &BTreeMap<&str, &Glyph>) {
    for stroke in symbol.both.iter().chain(&symbol.iec).chain(&symbol.ansi) {
        let usable = match stroke {
            Stroke::Line(points) | Stroke::Dashed(points) => points.len() >= 2 && points.iter().copied().all(near),
            Stroke::Filled(points) => points.len() >= 3 && points.iter().copied().all(near),
            Stroke::Rect { at, size } => near(*at) && near(*size) && size.0 > 0.0 && size.1 > 0.0,
            Stroke::Circle { at, r } | Stroke::Dot { at, r } => near(*at) && *r > 0.0 && *r <= FARTHEST_MM,
            Stroke::Arc { at, r, from_deg, to_deg } => {
                near(*at) && *r > 0.0 && *r <= FARTHEST_MM && from_deg.is_finite() && to_deg.is_finite()
            }
            Stroke::Text { at, size, .. } => near(*at) && *size > 0.0 && *size <= FARTHEST_MM,
            Stroke::Use { at, .. } => near(*at),
        };
        if !usable {
            let message = format!(
                "a {} of its drawing is not usable; a line needs two points, sizes must be above 0; {ADVICE}",
                stroke.word()
            );
            checker.note(entry, None, &message);
        }
        if let Stroke::Use { glyph, .. } = stroke
            && !glyphs.contains_key(glyph.as_str())
        {
            let advice = nearest(glyph, glyphs.keys().copied())
                .map_or_else(|| "add it under 'glyphs'".to_owned(), |near| format!("did you mean '{near}'?"));
            checker.note(
                entry,
                Some(glyph),
                &format!("its drawing uses the glyph '{glyph}', which is not there; {advice}"),
            );
        }
    }
    for style in [Style::Iec, Style::Ansi] {
        match strokes_in(symbol, style, glyphs, &mut Vec::new()) {
            Err(circle) => {
                let message = format!("its drawing uses the glyph '{circle}', which uses itself; take one use out");
                checker.note(entry, Some(&circle), &message);
            }
            Ok(count) if count > MOST_STROKES => {
                checker.note(
                    entry,
                    None,
                    &format!("its drawing has more than {MOST_STROKES} strokes; make it simpler"),
                );
            }
            Ok(_) => {}
        }
    }
}

/// How many strokes a drawing comes to, or the name of a glyph that uses itself. Stops counting a little past the most.
fn strokes_in<'a>(
    symbol: &'a Symbol,
    style: Style,
    glyphs: &BTreeMap<&'a str, &'a Glyph>,
    above: &mut Vec<&'a str>,
) -> Result<usize, String> {
    let mut count: usize = 0;
    for stroke in symbol.strokes(style) {
        count = count.saturating_add(1);
        if count > MOST_STROKES {
            break;
        }
        let Stroke::Use { glyph, .. } = stroke else { continue };
        if above.contains(&glyph.as_str()) {
            return Err(glyph.clone());
        }
        if let Some((&name, used)) = glyphs.get_key_value(glyph.as_str()) {
            above.push(name);
            count = count.saturating_add(strokes_in(&used.symbol, style, glyphs, above)?);
            above.pop();
        }
    }
    Ok(count)
}
