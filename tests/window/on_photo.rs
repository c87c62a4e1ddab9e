//! What is done on photos: put in, followed, coloured, straightened, scaled, terminals laid, wires proposed.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::{Color32, ColorImage, Key, Modifiers, Rect};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use wirewitness::app::theme::Theme;
use wirewitness::app::{Doing, Prefs, Proposals, Selection, Stage};
use wirewitness::desk::WireProposed;
use wirewitness::machine::{
    EndAt, Known, Machine, Part, PartId, PhotoId, Placement, Point, TerminalNote, TerminalRef, Thing,
};
use wirewitness::tracing::{PathPoint, PhotoPoint};

use crate::person::{Person, diagram, prefs};
use crate::pictures::save;
use crate::truth;

fn machine(person: &Person) -> Arc<Machine> {
    Arc::clone(person.harness.state().desk().machine())
}

fn picture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/photos").join(name)
}

fn put_in(person: &mut Person, file: &Path) -> PhotoId {
    person.harness.state_mut().desk_mut().add_photos(vec![file.to_path_buf()], Point::default());
    person.look();
    let machine = machine(person);
    machine.photos.ids().next_back().unwrap_or_else(|| panic!("{:?}", person.harness.state().messages()))
}

fn canvas(person: &Person, photo: PhotoId, at: PhotoPoint) -> Point {
    machine(person).photos.get(photo).unwrap().placement.canvas_from_photo(at[0], at[1])
}

fn click_px(person: &mut Person, photo: PhotoId, at: PhotoPoint) {
    let at = canvas(person, photo, at);
    person.click_at(at);
}

/// Four leads of one colour on grey, and a red one between two lugs, 700 by 460 pixels.
fn leads(folder: &Path) -> PathBuf {
    let image = image::RgbaImage::from_fn(700, 460, |x, y| {
        let near = |x0: u32| x.abs_diff(x0).pow(2) < 200;
        let lug = y.abs_diff(90).pow(2) < 200 && (near(60) || near(640));
        let red = (85..=94).contains(&y) && (90..=610).contains(&x);
        let shade = (x * 7 + y * 13) % 5;
        let grey = |value: u32| u8::try_from(value + shade).unwrap();
        match (y, lug, red) {
            (_, true, _) => image::Rgba([grey(214), grey(210), grey(160), 255]),
            (_, _, true) => image::Rgba([grey(170), grey(28), grey(30), 255]),
            (250..=259 | 263..=272 | 276..=285 | 289..=298, ..) => image::Rgba([grey(25), grey(80), grey(165), 255]),
            _ => image::Rgba([grey(196), grey(197), grey(200), 255]),
        }
    });
    let file = folder.join("leads.png");
    image.save(&file).unwrap();
    file
}

#[test]
fn a_copied_picture_is_put_in_and_other_copied_things_are_told_what_to_do() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    let copied = ColorImage::filled([300, 200], Color32::from_rgb(180, 30, 40));
    person.harness.event(egui::Event::PasteImage(Arc::new(copied)));
    person.look();
    let record = machine(&person);
    let photo = record.photos.values().next().expect("the copied picture is a photo");
    assert_eq!((photo.size_px, photo.original_name.as_str()), ([300, 200], "pasted picture.png"));
    assert!(!photo.hash.is_empty());
    // It is kept as a file: taken out and brought back it is decoded again, or still there.
    person.command(Key::Z);
    assert!(machine(&person).photos.is_empty());
    person.harness.event(egui::Event::Paste("some words".to_owned()));
    person.look();
    assert!(person.sees("Copy the picture itself or its file"));
    let file = picture("dev-easy-1.jpg");
    person.harness.event(egui::Event::Paste(file.display().to_string()));
    person.look();
    assert_eq!(machine(&person).photos.len(), 1);
}

#[test]
fn a_photo_cut_short_is_shown_with_a_word_and_a_heic_says_what_to_do() {
    let folder = tempfile::tempdir().unwrap();
    let bytes = std::fs::read(picture("dev-easy-1.jpg")).unwrap();
    let cut = folder.path().join("cut.jpg");
    std::fs::write(&cut, &bytes[..bytes.len() * 6 / 10]).unwrap();
    let mut person = Person::at((1366.0, 768.0), prefs());
    put_in(&mut person, &cut);
    let said = person.harness.state().messages().iter().any(|message| message.text.contains("copy it again"));
    assert!(said, "{:?}", person.harness.state().messages());
    person.go(Stage::Photos);
    assert!(person.sees("The file is cut short"), "the card keeps saying it: {:?}", person.names());
    let heic = folder.path().join("phone.heic");
    std::fs::write(&heic, b"\0\0\0\x18ftypheic\0\0\0\0mif1heic").unwrap();
    person.harness.state_mut().desk_mut().add_photos(vec![heic], Point::default());
    person.look();
    let told = person.harness.state().messages().iter().any(|message| message.text.contains("share it as JPEG"));
    assert!(told && machine(&person).photos.len() == 1, "{:?}", person.harness.state().messages());
}

/// The wire of a picture whose truth is known (tests/data/photos), followed by clicks, in one step that undo takes back.
#[test]
fn a_wire_is_followed_by_clicks_and_becomes_a_wire_that_is_seen_with_its_colour_offered() {
    let (_, known) = truth::picture("dev-easy-1");
    let wire = known.wires.iter().find(|wire| wire.id == "W10").unwrap();
    let pins = wire.pins(&known);
    let mut person = Person::at((1366.0, 768.0), prefs());
    let photo = put_in(&mut person, &picture("dev-easy-1.jpg"));
    person.go(Stage::Wires);
    person.key(Key::T);
    assert!(person.sees("Click where the wire begins"));
    let before = machine(&person);
    for (number, pin) in pins.iter().enumerate() {
        click_px(&mut person, photo, *pin);
        let trace = person.harness.state().view().on_photo.trace().expect("it is being followed").clone();
        assert_eq!(trace.pins.len(), number + 1);
    }
    assert_eq!(machine(&person), before, "nothing is written before it ends");
    // A pin too many is taken back.
    click_px(&mut person, photo, [20.0, 20.0]);
    person.key(Key::Backspace);
    assert_eq!(person.harness.state().view().on_photo.trace().unwrap().pins.len(), pins.len());
    person.key(Key::Enter);
    let drawn = machine(&person);
    assert_eq!(drawn.wires.len(), 1, "{:?}", person.harness.state().messages());
    let (id, made) = drawn.wires.iter().next().unwrap();
    assert_eq!((made.from.known, made.to.known), (Known::Seen, Known::Seen));
    assert!(made.colour.is_none(), "a colour is never set by itself");
    let placement = drawn.photos.get(photo).unwrap().placement;
    let ends = [made.from.place, made.to.place].map(Option::unwrap);
    let line = std::iter::once(ends[0]).chain(made.path.iter().map(|bend| bend.at)).chain([ends[1]]);
    let line: Vec<PhotoPoint> = line.map(|at| placement.photo_from_canvas(at).unwrap()).collect();
    let off = wire.compare(&line);
    assert!(off.within / off.length > 0.9, "{} of {} px within half a width", off.within, off.length);
    assert!(made.path.iter().any(|bend| bend.hidden), "what is behind something is dashed");
    // The colour: shown first, then taken by one press.
    assert_eq!(person.harness.state().view().selection, Selection::of(id));
    assert!(person.sees("Colour on the photo"));
    person.press_like(&format!("Take {},", wire.colour()));
    assert_eq!(machine(&person).wires.get(id).unwrap().colour.unwrap().to_string(), wire.colour());
    person.command(Key::Z);
    person.command(Key::Z);
    assert_eq!(machine(&person), before, "following is one step");
}

#[test]
fn escape_gives_up_and_too_few_places_are_told_of() {
    let folder = tempfile::tempdir().unwrap();
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.key(Key::T);
    assert!(person.sees("Put a photo in first"));
    let photo = put_in(&mut person, &leads(folder.path()));
    let before = machine(&person);
    person.key(Key::T);
    click_px(&mut person, photo, [300.0, 90.0]);
    person.key(Key::Enter);
    assert!(person.sees("two places at least"));
    person.key(Key::Escape);
    assert!(person.harness.state().view().on_photo.doing.is_none());
    assert_eq!(machine(&person), before);
    // In a bundle of one colour the caution is up while it is followed.
    person.key(Key::T);
    click_px(&mut person, photo, [50.0, 268.0]);
    click_px(&mut person, photo, [650.0, 268.0]);
    assert!(person.sees("CAUTION: other wires of its colour lie beside it"), "{:?}", person.names());
}

/// With arrows, the space bar and Enter alone; two points 500 pixels apart that are 250 mm on the machine.
#[test]
fn a_photo_is_scaled_with_the_keyboard_alone_and_what_lies_on_it_goes_along() {
    let folder = tempfile::tempdir().unwrap();
    let mut person = Person::at((1366.0, 768.0), prefs());
    let photo = put_in(&mut person, &leads(folder.path()));
    let on_it = canvas(&person, photo, [350.0, 230.0]);
    person.harness.state_mut().desk_mut().apply({
        let part = Part { tag: "K1".to_owned(), kind: "relay-change-over".to_owned(), ..Part::default() };
        let mut part = part;
        part.pose.at = on_it;
        Machine::default().add_part(part).1
    });
    person.go(Stage::Photos);
    person.harness.state_mut().view_mut().selection = Selection::of(Thing::Photo(photo));
    person.look();
    person.press("Scale by two points");
    person.harness.key_press(Key::ArrowLeft);
    person.look();
    person.key(Key::Space);
    for _ in 0..20 {
        person.harness.key_press(Key::ArrowRight);
        person.harness.run_steps(1);
    }
    person.key(Key::Space);
    let Some(Doing::Scale(_, points)) = person.harness.state().view().on_photo.doing.clone() else { panic!() };
    assert_eq!(points.len(), 2);
    let placement = machine(&person).photos.get(photo).unwrap().placement;
    let px = |at: Point| placement.photo_from_canvas(at).unwrap();
    let apart_px = (px(points[0])[0] - px(points[1])[0]).abs();
    assert!(apart_px > 100.0 && (px(points[0])[1] - px(points[1])[1]).abs() < 1e-6);
    person.write("Distance of the two points in millimetres", "250");
    let after = machine(&person);
    let Placement::Similarity { mm_per_px, .. } = after.photos.get(photo).unwrap().placement else { panic!() };
    assert!((mm_per_px - 250.0 / apart_px).abs() < 1e-9, "{mm_per_px}");
    let lies = after.parts.values().next().unwrap().pose.at;
    assert!(lies.distance(canvas(&person, photo, [350.0, 230.0])) < 1e-6, "the part stays on its picture");
    person.command(Key::Z);
    assert!(
        machine(&person).parts.values().next().unwrap().pose.at.distance(on_it) < 1e-9,
        "one step takes it all back"
    );
}

#[test]
fn four_corners_make_a_photo_flat_and_two_points_lay_another_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    let mut person = Person::at((1366.0, 768.0), prefs());
    let photo = put_in(&mut person, &leads(folder.path()));
    person.go(Stage::Photos);
    person.harness.state_mut().view_mut().selection = Selection::of(Thing::Photo(photo));
    person.look();
    person.press("Straighten by four corners");
    let corners = [[120.0, 60.0], [600.0, 90.0], [580.0, 400.0], [100.0, 380.0]];
    for corner in corners {
        click_px(&mut person, photo, corner);
    }
    person.type_in("Width of the rectangle in millimetres", "300");
    person.write("Height of the rectangle in millimetres", "200");
    let flat = machine(&person).photos.get(photo).unwrap().placement;
    assert!(matches!(flat, Placement::Homography(_)), "{:?}", person.harness.state().view().on_photo);
    let on = corners.map(|[x, y]| flat.canvas_from_photo(x, y));
    for (a, b, apart) in [(0, 1, 300.0), (1, 2, 200.0), (2, 3, 300.0), (3, 0, 200.0)] {
        // A click lies within a point of the screen of the corner.
        assert!((on[a].distance(on[b]) - apart).abs() < 2.0, "{a}-{b}: {}", on[a].distance(on[b]));
    }
    person.press("Lay it as it was taken");
    assert!(matches!(machine(&person).photos.get(photo).unwrap().placement, Placement::Similarity { .. }));
    person.command(Key::Z);
    let second = {
        let at = Point::new(1000.0, 0.0);
        let file = leads(folder.path());
        person.harness.state_mut().desk_mut().add_photos(vec![file], at);
        person.look();
        machine(&person).photos.ids().next_back().unwrap()
    };
    person.press("Lay beside a neighbour");
    let [a, b] = [[650.0, 30.0], [650.0, 430.0]];
    let [to_a, to_b] = [[40.0, 40.0], [40.0, 420.0]].map(|at| canvas(&person, photo, at));
    click_px(&mut person, second, a);
    person.click_at(to_a);
    click_px(&mut person, second, b);
    person.click_at(to_b);
    let near = |at: PhotoPoint, to: Point| canvas(&person, second, at).distance(to) < 6.0;
    assert!(near(a, to_a) && near(b, to_b), "{:?}", person.harness.state().view().on_photo);
}

#[test]
fn terminals_are_laid_in_order_a_wire_snaps_to_them_and_a_detail_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let mut person = Person::at((1366.0, 768.0), prefs());
    let photo = put_in(&mut person, &leads(folder.path()));
    let mut part = Part { tag: "R1".to_owned(), kind: "heater".to_owned(), ..Part::default() };
    part.pose.at = Point::new(900.0, 900.0);
    let (id, edit) = Machine::default().add_part(part);
    person.harness.state_mut().desk_mut().apply(edit);
    person.go(Stage::Parts);
    person.harness.state_mut().view_mut().selection = Selection::of(id);
    person.look();
    person.press("Lay its terminals on the photo");
    assert!(person.sees("Click where 1 of R1 is on the photo: 1 of 3"), "{:?}", person.names());
    let lugs = [[60.0, 90.0], [640.0, 90.0]];
    for lug in lugs {
        click_px(&mut person, photo, lug);
    }
    person.press("Pass this one over");
    let laid = machine(&person);
    assert!(laid.parts.get(id).unwrap().pose.at.distance(canvas(&person, photo, [350.0, 90.0])) < 150.0);
    let places: Vec<Point> = laid.parts.get(id).unwrap().terminals.values().filter_map(|note| note.at).collect();
    assert_eq!(places.len(), 2);
    assert!(places[0].distance(canvas(&person, photo, lugs[0])) < 1.0, "{places:?}");
    person.press("Detail round its terminals");
    let crop = machine(&person).parts.get(id).unwrap().crop.expect("a detail");
    assert!(crop.rect_px[0] < 60 && crop.rect_px[0] + crop.rect_px[2] > 640, "{crop:?}");
    assert!(person.sees("Detail of R1 on photo leads"));
    // From terminal to terminal, with one pin on the wire between.
    person.key(Key::T);
    person.click_at(places[0]);
    click_px(&mut person, photo, [300.0, 90.0]);
    person.click_at(places[1]);
    let drawn = machine(&person);
    let wire = drawn.wires.values().next().unwrap_or_else(|| panic!("{:?}", person.harness.state().view().on_photo));
    assert_eq!(wire.from.at, EndAt::Terminal(TerminalRef::new(id, "1")));
    assert_eq!(wire.to.at, EndAt::Terminal(TerminalRef::new(id, "2")));
    assert!(person.sees("Take RD, red"), "one pin is enough for its colour: {:?}", person.names());
    // Pins near the lugs are enough: the ends snap to the terminals. A double click pins and ends.
    person.command(Key::Z);
    person.key(Key::T);
    click_px(&mut person, photo, [96.0, 90.0]);
    let last = canvas(&person, photo, [604.0, 90.0]);
    person.clicks_at(last, 2);
    let drawn = machine(&person);
    let wire = drawn.wires.values().next().unwrap();
    assert_eq!(drawn.end_name(&wire.from.at), "R1.1");
    assert_eq!(drawn.end_name(&wire.to.at), "R1.2");
    assert_eq!([wire.from.known, wire.to.known], [Known::Assumed; 2], "nobody clicked on the terminals");
}

fn proposed(parts: [PartId; 2], at: [&str; 2], from: PhotoPoint, to: PhotoPoint, confidence: f64) -> WireProposed {
    let share = |n: f64| [from[0] + (to[0] - from[0]) * n, from[1] + (to[1] - from[1]) * n];
    let path = (0..=40).map(|n| PathPoint { at: share(f64::from(n) / 40.0), seen: true }).collect();
    let ends = [0, 1].map(|end| TerminalRef::new(parts[end], at[end]));
    WireProposed { ends, path, width_px: 10.0, confidence }
}

/// A record with two parts whose terminals lie on the lugs of the photo.
fn with_terminals(person: &mut Person, folder: &Path) -> (PhotoId, [PartId; 2]) {
    let photo = put_in(person, &leads(folder));
    let mut parts = Vec::new();
    for (tag, x) in [("R1", 60.0), ("R2", 640.0)] {
        let mut part = Part { tag: tag.to_owned(), kind: "heater".to_owned(), ..Part::default() };
        for (marking, y) in [("1", 90.0), ("2", 380.0)] {
            let at = Some(canvas(person, photo, [x, y]));
            part.terminals.insert(marking.into(), TerminalNote { at, ..TerminalNote::default() });
        }
        part.pose.at = canvas(person, photo, [x, 200.0]);
        let (id, edit) = machine(person).add_part(part);
        person.harness.state_mut().desk_mut().apply(edit);
        parts.push(id);
    }
    person.look();
    (photo, [parts[0], parts[1]])
}

#[test]
fn every_wire_between_terminals_is_asked_about_and_only_what_is_accepted_is_added() {
    let folder = tempfile::tempdir().unwrap();
    let mut person = Person::at((1366.0, 768.0), prefs());
    let (photo, parts) = with_terminals(&mut person, folder.path());
    person.go(Stage::Photos);
    person.harness.state_mut().view_mut().selection = Selection::of(Thing::Photo(photo));
    person.look();
    person.press("Look for all wires");
    let found = person.harness.state().view().on_photo.proposed.clone().expect("the red lead is proposed");
    let ends = parts.map(|part| TerminalRef::new(part, "1"));
    let place = found.left.iter().position(|wire| wire.ends == ends);
    assert!(place.is_some(), "{found:?}");
    assert!(machine(&person).wires.is_empty(), "nothing is added unasked");
    assert!(!person.sees("sure"), "no proposal is called certain: {:?}", person.names());
    for _ in 0..place.unwrap() {
        person.key(Key::Backspace);
    }
    assert!(machine(&person).wires.is_empty());
    person.key(Key::Enter);
    let drawn = machine(&person);
    let wire = drawn.wires.values().next().expect("the one that was accepted");
    assert_eq!([&wire.from.at, &wire.to.at], ends.each_ref().map(|end| EndAt::Terminal(end.clone())).each_ref());
    assert_eq!((wire.from.known, wire.to.known), (Known::Seen, Known::Seen), "seen, never proven");
    while person.harness.state().view().on_photo.is_busy() {
        person.key(Key::Escape);
    }
    person.command(Key::Z);
    assert!(machine(&person).wires.is_empty());
    // The right wire with a wrong end: its two terminals are clicked, the path is kept.
    let wrong = proposed([parts[0], parts[1]], ["1", "2"], [60.0, 90.0], [610.0, 90.0], 0.7);
    person.harness.state_mut().view_mut().on_photo.proposed =
        Some(Proposals { photo, of: 1, left: vec![wrong], accepted: 0 });
    person.look();
    person.press("It has other ends");
    for part in [1, 0] {
        let at = canvas(&person, photo, if part == 1 { [640.0, 90.0] } else { [60.0, 90.0] });
        person.click_at(at);
    }
    let drawn = machine(&person);
    let wire = drawn.wires.values().next().unwrap_or_else(|| panic!("{:?}", person.harness.state().view().on_photo));
    assert_eq!([drawn.end_name(&wire.from.at), drawn.end_name(&wire.to.at)], ["R2.1", "R1.1"]);
    assert!(!person.harness.state().view().on_photo.is_busy());
}

/// Controls that lie outside the screen, or in part.
fn outside(person: &Person, screen: Rect) -> Vec<String> {
    let mut found = Vec::new();
    let mut open = vec![person.harness.root()];
    while let Some(node) = open.pop() {
        let inner = node.accesskit_node();
        if egui::accessibility::is_input(inner.role()) && !inner.is_hidden() {
            let rect = node.rect();
            if rect.left() < screen.left() - 0.5 || rect.right() > screen.right() + 0.5 {
                found.push(format!("{:?} {:?} {rect:?}", inner.role(), inner.label()));
            }
        }
        open.extend(node.children());
    }
    found
}

fn begin(person: &mut Person, doing: Doing) {
    person.harness.state_mut().view_mut().on_photo.doing = Some(doing);
    person.look();
}

#[test]
fn the_bar_for_photos_stays_on_the_screen_and_keeps_its_height() {
    let folder = tempfile::tempdir().unwrap();
    for size in [(1024.0, 768.0), (1366.0, 768.0)] {
        for (text_size, touch) in [(13, false), (13, true), (18, true)] {
            let mut person = Person::at(size, Prefs { touch, text_size, ..prefs() });
            let (photo, parts) = with_terminals(&mut person, folder.path());
            let screen = Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(size.0, size.1));
            let four =
                vec![Point::new(10.0, 10.0), Point::new(90.0, 10.0), Point::new(90.0, 60.0), Point::new(10.0, 60.0)];
            let mut heights = Vec::new();
            for doing in [
                Doing::Scale(photo, four[..2].to_vec()),
                Doing::Straighten(photo, four.clone()),
                Doing::Join(photo, four[..3].to_vec()),
                Doing::Terminals(parts[0], vec![Some(four[0])]),
                Doing::Detail(parts[0], vec![four[0]]),
                Doing::Trace(wirewitness::app::Trace {
                    photo: Some(photo),
                    pins: vec![[50.0, 268.0], [650.0, 268.0]],
                    ..wirewitness::app::Trace::default()
                }),
            ] {
                begin(&mut person, doing);
                heights.push(person.harness.get_by_label("Canvas").rect().bottom());
                let here = format!("{size:?} {text_size} {touch} {:?}", person.harness.state().view().on_photo.doing);
                let found = outside(&person, screen);
                assert!(found.is_empty(), "{here}: {found:#?}");
                let key = person.harness.get_by_label("Give up (Esc)").rect();
                assert!(screen.contains_rect(key), "{here}: {key:?}");
            }
            assert!(
                heights.windows(2).all(|pair| (pair[0] - pair[1]).abs() < 0.5),
                "{size:?} {text_size}: {heights:?}"
            );
        }
    }
}

#[test]
fn pictures_of_what_is_done_on_photos_are_drawn_where_this_computer_can_draw() {
    let folder = tempfile::tempdir().unwrap();
    for size in [(1366.0, 768.0), (1024.0, 768.0)] {
        let Some(mut person) = Person::with_pictures(size, prefs()) else { return };
        let shot = |person: &mut Person, name: &str| save(person, &format!("photo-{name}-{}", size.0));
        let (_, known) = truth::picture("dev-easy-1");
        let wire = known.wires.iter().find(|wire| wire.id == "W10").unwrap();
        let pins = wire.pins(&known);
        let photo = put_in(&mut person, &picture("dev-easy-1.jpg"));
        person.go(Stage::Photos);
        person.harness.state_mut().view_mut().selection = Selection::of(Thing::Photo(photo));
        person.look();
        shot(&mut person, "card");
        person.go(Stage::Wires);
        person.key(Key::T);
        shot(&mut person, "follow-begun");
        for pin in &pins[..pins.len() - 1] {
            click_px(&mut person, photo, *pin);
        }
        let last = canvas(&person, photo, pins[pins.len() - 1]);
        person.move_to(last);
        shot(&mut person, "following");
        person.click_at(last);
        person.key(Key::Enter);
        shot(&mut person, "followed");
        person.press("Point at something grey or white");
        shot(&mut person, "grey");
        person.key(Key::Escape);
        person.key(Key::Escape);
        person.go(Stage::Photos);
        person.harness.state_mut().view_mut().selection = Selection::of(Thing::Photo(photo));
        person.look();
        person.press("Straighten by four corners");
        for corner in [[150.0, 120.0], [1150.0, 60.0], [1240.0, 900.0], [120.0, 800.0]] {
            click_px(&mut person, photo, corner);
        }
        shot(&mut person, "corners");
        person.key(Key::Enter);
        shot(&mut person, "straightened");
        let Some(mut person) = Person::with_pictures(size, prefs()) else { return };
        let (photo, parts) = with_terminals(&mut person, folder.path());
        person.go(Stage::Parts);
        person.harness.state_mut().view_mut().selection = Selection::of(parts[0]);
        person.look();
        person.press("Detail round its terminals");
        shot(&mut person, "part");
        person.press("Lay its terminals on the photo");
        click_px(&mut person, photo, [60.0, 90.0]);
        let next = canvas(&person, photo, [60.0, 330.0]);
        person.move_to(next);
        shot(&mut person, "terminals");
        person.key(Key::Escape);
        let lug = [
            proposed(parts, ["1", "1"], [60.0, 90.0], [640.0, 90.0], 0.8),
            proposed(parts, ["1", "2"], [60.0, 90.0], [640.0, 380.0], 0.3),
        ];
        person.harness.state_mut().view_mut().on_photo.proposed =
            Some(Proposals { photo, of: 2, left: lug.to_vec(), accepted: 0 });
        person.look();
        shot(&mut person, "proposed");
        person.key(Key::Escape);
        person.key(Key::T);
        click_px(&mut person, photo, [50.0, 268.0]);
        click_px(&mut person, photo, [650.0, 268.0]);
        shot(&mut person, "bundle");
    }
    for theme in [Theme::Night, Theme::Sun] {
        let Some(mut person) = Person::with_pictures((1366.0, 768.0), Prefs { theme, ..prefs() }) else { return };
        let photo = put_in(&mut person, &leads(folder.path()));
        person.key(Key::T);
        click_px(&mut person, photo, [50.0, 268.0]);
        click_px(&mut person, photo, [400.0, 268.0]);
        let at = canvas(&person, photo, [600.0, 268.0]);
        person.move_to(at);
        save(&mut person, &format!("photo-{}", theme.words()));
    }
    let Some(mut person) = Person::with_pictures((1024.0, 768.0), Prefs { touch: true, text_size: 18, ..prefs() })
    else {
        return;
    };
    person.open(&diagram("pantry-locker.ron"));
    person.go(Stage::Wires);
    person.key(Key::T);
    save(&mut person, "photo-touch-1024");
    let keys = Modifiers::NONE;
    person.harness.key_press_modifiers(keys, Key::ArrowRight);
    person.look();
    save(&mut person, "photo-cross-1024");
}
