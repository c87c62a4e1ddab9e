//! Draws a sheet of every symbol in both styles, to look at: `cargo test --test symbol_sheet -- --ignored`.

use std::fmt::Write;
use std::path::Path;

use wirewitness::catalogue::{Catalogue, Stroke, Style, bounds};
use wirewitness::machine::Part;

fn part(kind: &str) -> Part {
    Part { kind: kind.to_owned(), ..Part::default() }
}

#[test]
#[ignore = "the sheet is for a person to look at"]
fn every_symbol_is_on_the_sheet() {
    let name = Path::new(env!("CARGO_TARGET_TMPDIR")).join("symbols.svg");
    let catalogue = Catalogue::built_in().unwrap();
    let mut svg = String::new();
    for (index, kind) in catalogue.kinds().enumerate() {
        for (half, style) in [Style::Iec, Style::Ansi].into_iter().enumerate() {
            let strokes = catalogue.outline(&part(&kind.name), style);
            let size = bounds(&strokes).unwrap();
            let (column, row) = (index % 6, index / 6);
            let centre = (
                column as f64 * 150.0 + 37.0 + half as f64 * 75.0 - f64::midpoint(size.min.x, size.max.x),
                row as f64 * 60.0 + 28.0 - f64::midpoint(size.min.y, size.max.y),
            );
            write!(svg, "<g transform='translate({} {})'>", centre.0, centre.1).unwrap();
            for stroke in &strokes {
                svg.push_str(&svg_of(stroke));
            }
            for terminal in catalogue.body(&part(&kind.name)).terminals {
                let (x, y) = (terminal.at.x, terminal.at.y);
                write!(svg, "<circle cx='{x}' cy='{y}' r='0.6' fill='red' stroke='none'/>").unwrap();
                write!(
                    svg,
                    "<text x='{}' y='{}' font-size='2.5' fill='red' stroke='none'>{}</text>",
                    x + 0.8,
                    y,
                    terminal.marking
                )
                .unwrap();
            }
            svg.push_str("</g>");
        }
        let (x, y) = ((index % 6) as f64 * 150.0 + 4.0, (index / 6) as f64 * 60.0 + 57.0);
        write!(svg, "<text x='{x}' y='{y}' font-size='4' stroke='none' fill='black'>{}</text>", kind.name).unwrap();
    }
    let rows = catalogue.kinds().count().div_ceil(6) * 60;
    let sheet = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 900 {rows}' width='2700' height='{}' fill='none' \
         stroke='black' stroke-width='0.4'><rect width='900' height='{rows}' fill='white' stroke='none'/>{svg}</svg>",
        rows * 3
    );
    std::fs::write(&name, &sheet).unwrap();
    println!("{}", name.display());
    assert_eq!(sheet.matches("<g ").count(), catalogue.kinds().count() * 2);
}

fn svg_of(stroke: &Stroke) -> String {
    let path = |points: &[(f64, f64)]| points.iter().map(|(x, y)| format!("{x},{y}")).collect::<Vec<_>>().join(" ");
    match stroke {
        Stroke::Line(points) => format!("<polyline points='{}'/>", path(points)),
        Stroke::Dashed(points) => format!("<polyline stroke-dasharray='1 1' points='{}'/>", path(points)),
        Stroke::Filled(points) => format!("<polygon fill='black' points='{}'/>", path(points)),
        Stroke::Rect { at, size } => {
            format!("<rect x='{}' y='{}' width='{}' height='{}'/>", at.0, at.1, size.0, size.1)
        }
        Stroke::Circle { at, r } => format!("<circle cx='{}' cy='{}' r='{r}'/>", at.0, at.1),
        Stroke::Dot { at, r } => format!("<circle cx='{}' cy='{}' r='{r}' fill='black'/>", at.0, at.1),
        Stroke::Arc { at, r, from_deg, to_deg } => {
            let end = |deg: f64| (at.0 + r * deg.to_radians().cos(), at.1 + r * deg.to_radians().sin());
            let (from, to) = (end(*from_deg), end(*to_deg));
            let large = u8::from((to_deg - from_deg).abs() > 180.0);
            format!("<path d='M {} {} A {r} {r} 0 {large} 1 {} {}'/>", from.0, from.1, to.0, to.1)
        }
        Stroke::Text { at, size, text } => format!(
            "<text x='{}' y='{}' font-size='{}' text-anchor='middle' stroke='none' fill='black'>{}</text>",
            at.0,
            at.1 + size * 0.5,
            size * 1.4,
            text.replace('<', "&lt;")
        ),
        Stroke::Use { .. } => String::new(),
    }
}
