//! Pictures of the drawing alone for a person to look at, in target/pictures: every form of end, run and mounting.

use std::path::PathBuf;
use std::sync::Arc;

use egui::{CornerRadius, Sense, Vec2};
use egui_kittest::Harness;

use super::{Camera, Flags, Painting, Sheet, Shown};
use crate::app::theme::{self, Theme};
use crate::catalogue::{Catalogue, Style};
use crate::drawing::{Area, FlagForm, Mark, Scene, lay_out};
use crate::machine::{
    EndAt, Known, Lug, Machine, Mounting, Part, PartId, PathPoint, Point, Pose, TerminalRef, Wire, WireEnd, WireId,
    WireState,
};

const SIZE: Vec2 = Vec2::new(1300.0, 820.0);

/// The places of the six wires that are drawn with bends.
const STEPS: [f64; 6] = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0];

fn folder() -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("target/pictures");
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// Paints a scene as the middle of the window does; `None` where this computer has nothing to draw it with.
fn picture(scene: &Arc<Scene>, marks: &[Mark], theme: Theme, area: Area) -> Option<image::RgbaImage> {
    let shown = Shown { scene: Arc::clone(scene), ..Shown::default() };
    let (mut sheet, mut flags) = (Sheet::default(), Flags::of(marks.to_vec()));
    let built = std::panic::catch_unwind(|| {
        let harness = Harness::builder().with_size(SIZE).with_pixels_per_point(1.5);
        harness.with_context_setup(theme::install_fonts).wgpu().build_ui(move |ui| {
            let (response, painter) = ui.allocate_painter(ui.available_size(), Sense::hover());
            let screen = response.rect;
            painter.rect_filled(screen, CornerRadius::ZERO, theme.palette().sheet);
            let mut camera = Camera::default();
            camera.fit(screen, area);
            let painting = Painting { painter: &painter, screen, camera, theme };
            sheet.paint(&painting, &shown);
            flags.paint(&painting, None);
        })
    });
    let mut harness = built.ok()?;
    harness.run_steps(2);
    harness.render().ok()
}

fn part(tag: &str, kind: &str, title: &str, (x, y): (f64, f64)) -> Part {
    let pose = Pose { at: Point::new(x, y), ..Pose::default() };
    Part { tag: tag.into(), kind: kind.into(), title: title.into(), pose, ..Part::default() }
}

fn on(part: PartId, marking: &str, known: Known) -> WireEnd {
    WireEnd { at: EndAt::Terminal(TerminalRef::new(part, marking)), known, ..WireEnd::default() }
}

fn wire(key: &str, colour: &str, from: WireEnd, to: WireEnd) -> Wire {
    Wire { key: key.into(), colour: colour.parse().ok(), from, to, ..Wire::default() }
}

/// A small machine with every form of end, run and mounting.
fn every_form() -> Machine {
    let mut machine = Machine::default();
    let upper = machine.parts.add(part("TB1", "terminal-strip", "Upper strip", (0.0, 0.0)));
    let lower = machine.parts.add(part("TB2", "terminal-strip", "Lower strip, mounted later", (60.0, 90.0)));
    let hanging = part("TB3", "terminal-strip", "Hangs free", (140.0, 20.0));
    let loose = machine.parts.add(Part { mounting: Mounting::Loose, ..hanging });
    let colours = ["BK", "BN", "RD/WH", "GNYE", "WH", "BU/YE"];
    let known = [Known::Seen, Known::Proven, Known::Assumed, Known::Disputed, Known::Seen, Known::Proven];
    for (n, step) in STEPS.into_iter().enumerate() {
        let bend = |x: f64, hidden| PathPoint { at: Point::new(x, 28.0 + 6.0 * step), hidden };
        let from = on(upper, &format!("{}b", n + 1), known[n]);
        let to = on(lower, &format!("{}a", 6 - n), known[n]);
        machine.wires.add(Wire {
            number: (n % 2 == 0).then(|| format!("{}", 101 + n)),
            path: vec![bend(step * 7.5, false), bend(60.0 + 7.5 * (5.0 - step), n == 2)],
            ..wire(&format!("W{}", n + 1), colours[n], from, to)
        });
    }
    let nothing =
        |x, y| WireEnd { at: EndAt::Loose, lug: Lug::Flag, place: Some(Point::new(x, y)), ..WireEnd::default() };
    let lifted = WireEnd { lifted: true, ..on(loose, "1b", Known::Seen) };
    machine.wires.add(wire("W7", "OG", lifted, on(lower, "1b", Known::Seen)));
    machine.wires.add(wire("W8", "PK", on(loose, "3b", Known::Proven), nothing(150.0, 62.0)));
    let gone = wire("W9", "RD", on(loose, "4a", Known::Seen), on(upper, "6a", Known::Seen));
    machine.wires.add(Wire { state: WireState::Removed, ..gone });
    machine.wires.add(wire("W10", "TQ", on(loose, "6b", Known::Seen), WireEnd::default()));
    let capped = wire("W11", "BK/RD", on(lower, "6b", Known::Seen), nothing(150.0, 112.0));
    machine.wires.add(Wire { state: WireState::CappedOff, ..capped });
    let mut x = -10.0;
    for kind in ["relay-change-over", "compressor", "control-board", "heater", "fuse", "lamp"] {
        let mounting = if kind == "fuse" { Mounting::Missing } else { Mounting::Fixed };
        machine.parts.add(Part { mounting, ..part("X1", kind, kind, (x, 140.0)) });
        x += 40.0;
    }
    machine
}

#[test]
fn pictures_of_every_form_are_drawn_where_this_computer_can_draw() {
    let catalogue: Arc<Catalogue> = Catalogue::built_in().unwrap();
    let scene = Arc::new(lay_out(&every_form(), &catalogue, Style::Iec));
    let forms = [FlagForm::Diamond, FlagForm::Triangle, FlagForm::Circle, FlagForm::Square];
    let marks: Vec<Mark> = forms
        .into_iter()
        .enumerate()
        .zip(7_u32..)
        .flat_map(|((n, form), wire)| [n + 1, n + 11].map(|number| (form, wire, number)))
        .filter_map(|(form, wire, number)| Mark::new(&scene, &WireId(wire).into(), form, number))
        .collect();
    let near = Area::between(Point::new(-10.0, 0.0), Point::new(75.0, 55.0));
    for theme in Theme::ALL {
        for (name, area) in [("all", scene.area().unwrap()), ("near", near)] {
            let Some(picture) = picture(&scene, &marks, theme, area) else {
                eprintln!("skipped: this computer has no graphics adapter, not even a software one, to draw with");
                return;
            };
            let ink = picture.pixels().filter(|pixel| *pixel != picture.get_pixel(20, 20)).count();
            assert!(ink > 5000, "{name} in {theme:?} is nearly empty");
            picture.save(folder().join(format!("forms-{name}-{}.png", theme.words()).to_lowercase())).unwrap();
        }
    }
}
