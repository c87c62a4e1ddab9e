//! A drawing as SVG, in millimetres, for a browser or for print.

use std::fmt::Write;

use super::area::Area;
use super::ink::Ink;
use super::scene::Scene;
use super::shape::{Anchor, Shape, WireRun};
use super::style::{Ground, Rgba, base_and_stripe, letters_on, rgba, wire_edge};

/// Free room round the drawing in millimetres.
const MARGIN_MM: f64 = 8.0;

/// Height of letters as typefaces reckon it, in heights of capitals.
const EM: f64 = 1.37;

/// A scene as a picture of its own.
pub fn svg(scene: &Scene, ground: Ground) -> String {
    let area =
        scene.area().unwrap_or(Area::between(crate::machine::Point::default(), crate::machine::Point::default()));
    let area = area.grown(MARGIN_MM);
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = write!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"{x} {y} {w} {h}\" \
         font-family=\"B612, sans-serif\" stroke-linecap=\"round\" stroke-linejoin=\"round\">\n\
         <rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" fill=\"{paper}\"/>\n",
        x = number(area.min.x),
        y = number(area.min.y),
        w = number(area.width()),
        h = number(area.height()),
        paper = colour(rgba(Ink::Paper, ground)),
    );
    for (_, item) in scene.items() {
        shape(&mut out, &item.shape, ground);
    }
    out.push_str("</svg>\n");
    out
}

fn shape(out: &mut String, shape: &Shape, ground: Ground) {
    let ink = |ink: Ink| colour(rgba(ink, ground));
    let _ = match shape {
        Shape::Line { points, ink: own, width_mm, dash_mm } => {
            let dash = dash_mm
                .map_or_else(String::new, |(on, off)| format!(" stroke-dasharray=\"{} {}\"", number(on), number(off)));
            writeln!(
                out,
                "<polyline points=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\"{dash}/>",
                path(points),
                ink(*own),
                number(*width_mm * ground.line_factor())
            )
        }
        Shape::Filled { points, ink: own } => {
            writeln!(out, "<polygon points=\"{}\" fill=\"{}\"/>", path(points), ink(*own))
        }
        Shape::Disc { at, radius_mm, fill, edge } => {
            let fill = fill.map_or_else(|| "none".to_owned(), ink);
            let edge = edge.map_or_else(String::new, |(own, width)| {
                format!(" stroke=\"{}\" stroke-width=\"{}\"", ink(own), number(width * ground.line_factor()))
            });
            let (x, y, r) = (number(at.x), number(at.y), number(*radius_mm));
            writeln!(out, "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\" fill=\"{fill}\"{edge}/>")
        }
        Shape::Wire(run) => {
            wire(out, run, ground);
            Ok(())
        }
        Shape::Text { at, anchor, size_mm, text, ink: own, .. } => {
            letters(out, (at.x, at.y), *anchor, *size_mm, text, &ink(*own));
            Ok(())
        }
        Shape::Flag(flag) => {
            let area = flag.area();
            let _ = writeln!(
                out,
                "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"0.2\"/>",
                number(area.min.x),
                number(area.min.y),
                number(area.width()),
                number(area.height()),
                ink(Ink::Paper),
                ink(Ink::Line)
            );
            letters(
                out,
                (flag.at.x, flag.at.y),
                Anchor::CENTRE,
                flag.size_mm,
                &flag.text,
                &colour(letters_on(Ink::Paper, ground)),
            );
            Ok(())
        }
    };
}

/// An edge, the insulation on it, and its tracer.
fn wire(out: &mut String, run: &WireRun, ground: Ground) {
    let (base, stripe) = run.colour.map_or((Ink::InsulationUnsaid, None), base_and_stripe);
    let dash = run
        .run
        .dash_mm()
        .map_or_else(String::new, |(on, off)| format!(" stroke-dasharray=\"{} {}\"", number(on), number(off)));
    let mut one = |stroke: String, width: f64, dash: &str| {
        let _ = writeln!(
            out,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"{stroke}\" stroke-width=\"{}\"{dash}/>",
            path(&run.points),
            number(width)
        );
    };
    one(colour(wire_edge(ground)), run.width_mm + 0.4, &dash);
    one(colour(rgba(base, ground)), run.width_mm, &dash);
    if let Some(stripe) = stripe {
        one(colour(rgba(stripe, ground)), run.width_mm / 3.0, " stroke-dasharray=\"3 2\"");
    }
}

fn letters(out: &mut String, (x, y): (f64, f64), anchor: Anchor, size_mm: f64, text: &str, fill: &str) {
    let side = match anchor.x {
        ..=-1 => "start",
        0 => "middle",
        1.. => "end",
    };
    // Places are those of capitals; SVG has the base line.
    let base = y + size_mm * (1.0 - f64::from(anchor.y)) / 2.0;
    let _ = writeln!(
        out,
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{side}\" fill=\"{fill}\">{}</text>",
        number(x),
        number(base),
        number(size_mm * EM),
        escaped(text)
    );
}

/// Letters as XML has them; characters that XML does not allow are left out.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() || matches!(c, '\u{FFFE}' | '\u{FFFF}') => {}
            c => out.push(c),
        }
    }
    out
}

fn path(points: &[crate::machine::Point]) -> String {
    let words: Vec<String> = points.iter().map(|point| format!("{},{}", number(point.x), number(point.y))).collect();
    words.join(" ")
}

/// To a thousandth, without noughts behind.
fn number(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

fn colour([r, g, b, _]: Rgba) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}
