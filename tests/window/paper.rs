//! The stage of the sheet: pages made and read in the window, written, printed; lists and packs; all of the record as it stands there.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use egui::Key;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use wirewitness::app::theme::Theme;
use wirewitness::app::{Action, Outside, PaperPrefs, Prefs, Stage};
use wirewitness::catalogue::Catalogue;
use wirewitness::desk::{Format, PagesState, PaperOrder, Print};
use wirewitness::generate::invented_machine;
use wirewitness::machine::{Change, Edit, Facts, Machine};
use wirewitness::store;

use crate::person::{Person, diagram, prefs};
use crate::pictures::save;

const MAKE: &str = "Make the pages";

fn machine(person: &Person) -> Machine {
    person.harness.state().desk().machine().as_ref().clone()
}

/// A person in the stage of the sheet, with a copy of a demonstration machine and only these sections ticked.
fn at_the_sheet(size: (f32, f32), file: &str, sections: &[&str]) -> (Person, tempfile::TempDir) {
    let mut person = Person::at(size, prefs());
    let folder = person.open_copy(file);
    person.go(Stage::Sheet);
    only(&mut person, sections);
    (person, folder)
}

/// Ticks only these sections; what takes long to work out is left out of most tests.
fn only(person: &mut Person, sections: &[&str]) {
    person.press("None of the sections");
    for section in sections {
        person.press(section);
    }
}

fn retitle(person: &mut Person, title: &str) {
    let facts = Facts { title: title.to_owned(), ..machine(person).facts };
    person.harness.state_mut().desk_mut().apply(Edit::one("Retitle", Change::Facts(Arc::new(facts))));
    person.look();
}

fn pages(person: &Person) -> Vec<[f64; 2]> {
    person.harness.state().desk().pages().map(|laid| laid.sizes_mm.clone()).unwrap_or_default()
}

fn message(person: &Person) -> String {
    let told = person.harness.state().messages().iter().map(|one| format!("{}: {}", one.title, one.text));
    told.collect::<Vec<_>>().join("\n")
}

/// Writes something by its key and the line that asks for its path.
#[track_caller]
fn write(person: &mut Person, key: &str, field: &str, path: &Path) {
    person.press(key);
    person.write(field, &path.display().to_string());
}

/// Letters of a PDF as a reader of others (lopdf) extracts them, without spaces and line ends.
fn text_of_pdf(pdf: &[u8]) -> String {
    let document = lopdf::Document::load_mem(pdf).unwrap();
    let numbers: Vec<u32> = document.get_pages().keys().copied().collect();
    squeezed(&document.extract_text(&numbers).unwrap())
}

fn squeezed(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace() && *c != '\u{200b}').collect()
}

#[test]
fn the_sheet_is_reached_by_key_by_click_and_by_the_menu() {
    for way in 0..4 {
        let mut person = Person::at((1366.0, 768.0), prefs());
        person.open(&diagram("proofer.ron"));
        match way {
            0 => person.go(Stage::Sheet),
            1 => person.command(Key::P),
            2 => person.press_like("Sheet, "),
            _ => {
                person.press("Menu");
                person.press("Record");
                person.press(Action::Go(Stage::Sheet).words());
            }
        }
        assert_eq!(person.harness.state().view().stage, Stage::Sheet, "way {way}");
        for name in ["Save as PDF…", "Save as pictures…", "Open in the viewer to print", "Wire list (CSV)…"] {
            assert!(person.sees(name), "{name}");
        }
        assert!(pages(&person).is_empty(), "nothing is made before it is asked for");
        assert!(person.sees("No pages yet"), "{:?}", person.names());
    }
}

#[test]
fn a_page_is_seen_as_it_is_printed_and_changes_with_the_paper() {
    let (mut person, _folder) = at_the_sheet((1366.0, 768.0), "proofer.ron", &["Wire list", "Terminals by part"]);
    person.press(MAKE);
    let sizes = pages(&person);
    assert!(sizes.len() > 1, "{sizes:?}");
    // Source: ISO 216.
    assert!((sizes[0][0] - 210.0).abs() < 0.01 && (sizes[0][1] - 297.0).abs() < 0.01, "{sizes:?}");
    let name = format!("Page 1 of {} of the wiring sheet", sizes.len());
    assert!(person.sees(&name), "{:?}", person.names());
    // What is painted is a page with ink on it.
    let begun = Instant::now();
    let picture = loop {
        if let Some(picture) = person.harness.state_mut().desk_mut().page_picture(0, 50) {
            break picture;
        }
        assert!(begun.elapsed() < Duration::from_mins(2), "it is painted");
        std::thread::sleep(Duration::from_millis(20));
        person.look();
    };
    let dark = picture.rgba.chunks(4).filter(|dot| dot[0] < 128).count();
    assert!(dark > 500, "{dark} dark dots of {:?}", picture.size);
    assert!(picture.size[1] > picture.size[0], "it stands");

    person.press("Letter");
    // Source: ANSI/ASME Y14.1, size A: 8.5 by 11 inches.
    let sizes = pages(&person);
    assert!((sizes[0][0] - 215.9).abs() < 0.01 && (sizes[0][1] - 279.4).abs() < 0.01, "{sizes:?}");
    assert!(person.harness.state().prefs().paper.letter, "this computer's printer has it next time too");
    person.press("Landscape");
    let sizes = pages(&person);
    assert!(sizes.iter().all(|[width, height]| width > height), "{sizes:?}");
    person.press("Wire labels");
    assert!(person.sees("of the wire labels"), "{:?}", person.names());
    let order = person.harness.state().desk().pages().unwrap().order.clone();
    assert_eq!((order.print, order.format), (Print::Labels, Format::Letter));
}

#[test]
fn pages_are_turned_and_looked_at_from_near_and_far_by_keys_and_by_clicks() {
    let (mut person, _folder) = at_the_sheet((1366.0, 768.0), "proofer.ron", &["Wire list", "Terminals by part"]);
    person.press(MAKE);
    let count = pages(&person).len();
    let on = |person: &Person, page: usize| person.sees(&format!("Page {page} of {count} of the wiring sheet"));
    assert!(on(&person, 1));
    person.key(Key::PageUp);
    assert!(on(&person, 1), "there is none before it");
    person.key(Key::PageDown);
    assert!(on(&person, 2));
    person.press("Page before");
    assert!(on(&person, 1));
    for _ in 0..count + 2 {
        person.key(Key::PageDown);
    }
    assert!(on(&person, count), "the last one is the last");
    let wide = |person: &Person| {
        let times = person.harness.query_all_by_label_contains(" %").next().unwrap();
        let label = times.accesskit_node().label().or_else(|| times.accesskit_node().value()).unwrap();
        label.trim_end_matches(" %").parse::<u32>().unwrap()
    };
    let by_width = wide(&person);
    person.press("Whole page");
    let whole = wide(&person);
    assert!(whole < by_width, "{whole} {by_width}");
    person.press("Page nearer");
    assert!(wide(&person) > whole);
    person.key(Key::Minus);
    person.key(Key::Minus);
    assert!(wide(&person) < whole);
    person.press("Fit to width");
    assert_eq!(wide(&person), by_width);
    person.key(Key::F);
    assert_eq!(wide(&person), whole, "F shows all of it, as everywhere");
}

/// Independent reader: lopdf.
#[test]
fn the_pdf_has_the_record_as_it_stands_in_the_window_and_says_that_it_is_not_saved() {
    let (mut person, folder) = at_the_sheet((1366.0, 768.0), "proofer.ron", &["Wire list"]);
    let record = folder.path().join("proofer.ron");
    let pdf = folder.path().join("out.pdf");
    write(&mut person, "Save as PDF…", "Path of the PDF to write", &pdf);
    let text = text_of_pdf(&fs::read(&pdf).unwrap());
    assert!(!text.contains("notsaved"), "it is as the file has it");
    let hash = store::load(&record, &Catalogue::built_in().unwrap()).unwrap().hash;
    assert!(text.contains(&format!("revision{}", &hash[..12])), "{text}");

    retitle(&mut person, "Dough proofer with a new door");
    let wire = machine(&person).wires.ids().next().unwrap();
    let mut changed = machine(&person).wires.get(wire).unwrap().clone();
    changed.number = Some("4711".to_owned());
    person.harness.state_mut().desk_mut().apply(Edit::one("Number", Change::Wire(wire, Some(Arc::new(changed)))));
    person.look();
    assert!(person.sees("changes that are not saved"), "{:?}", person.names());
    person.press("Save as PDF…");
    // A file lies there: it is asked about first.
    person.write("Path of the PDF to write", &pdf.display().to_string());
    assert!(person.sees("A file lies there already"), "{:?}", person.names());
    assert!(!text_of_pdf(&fs::read(&pdf).unwrap()).contains("newdoor"), "not replaced unasked");
    person.press("Replace the file");
    let text = text_of_pdf(&fs::read(&pdf).unwrap());
    assert!(text.contains("Doughprooferwithanewdoor") && text.contains("4711"), "{text}");
    assert!(text.contains("notsaved"), "{text}");
    // The revision it is known by once it is saved as it is.
    person.command(Key::S);
    let hash = store::load(&record, &Catalogue::built_in().unwrap()).unwrap().hash;
    assert!(text.contains(&format!("revision{},notsaved", &hash[..12])), "{text}");
    assert!(message(&person).contains("out.pdf"), "where it lies is told: {}", message(&person));
    // Saving changes no wire, but what the sheet has to say of itself.
    let after = folder.path().join("after.pdf");
    write(&mut person, "Save as PDF…", "Path of the PDF to write", &after);
    let text = text_of_pdf(&fs::read(&after).unwrap());
    assert!(text.contains(&format!("revision{}", &hash[..12])) && !text.contains("notsaved"), "{text}");
}

#[test]
fn pictures_are_a_file_for_each_page_and_none_is_replaced_unasked() {
    let (mut person, folder) = at_the_sheet((1366.0, 768.0), "proofer.ron", &["Wire list", "Terminals by part"]);
    let field = "Path of the pictures to write, .png or .svg";
    write(&mut person, "Save as pictures…", field, &folder.path().join("out.svg"));
    let first = fs::read_to_string(folder.path().join("out-01.svg")).unwrap();
    assert!(first.starts_with("<svg") && folder.path().join("out-02.svg").is_file());
    write(&mut person, "Save as pictures…", field, &folder.path().join("out.svg"));
    assert!(person.sees("Pages of this name lie there already"), "{:?}", person.names());
    person.press("Leave it");
    // A name without an ending is a PNG.
    write(&mut person, "Save as pictures…", field, &folder.path().join("dots"));
    let dots = image::open(folder.path().join("dots-01.png")).unwrap();
    assert!(dots.height() > dots.width() && dots.width() > 1000, "{} by {}", dots.width(), dots.height());
}

/// Independent readers: csv, calamine.
#[test]
fn lists_are_written_for_other_programs() {
    let (mut person, folder) = at_the_sheet((1366.0, 768.0), "pantry-locker.ron", &[]);
    let at = |name: &str| folder.path().join(name);
    write(&mut person, "Wire list (CSV)…", "Path of the wire list to write", &at("wires.csv"));
    write(&mut person, "Readings (CSV)…", "Path of the readings to write", &at("readings.csv"));
    write(&mut person, "Both as a workbook (XLSX)…", "Path of the workbook to write", &at("lists.xlsx"));
    write(&mut person, "Drawing (SVG)…", "Path of the drawing to write", &at("drawing.svg"));
    let rows = |name: &str| csv::Reader::from_path(at(name)).unwrap().records().map(Result::unwrap).count();
    assert_eq!(rows("wires.csv"), machine(&person).wires.len());
    assert_eq!(rows("readings.csv"), machine(&person).readings.len());
    let mut book: calamine::Xlsx<_> = calamine::open_workbook(at("lists.xlsx")).unwrap();
    let sheets = calamine::Reader::worksheets(&mut book);
    assert_eq!(sheets.len(), 2);
    assert_eq!(sheets[0].1.height(), machine(&person).wires.len() + 1);
    assert!(fs::read_to_string(at("drawing.svg")).unwrap().starts_with("<svg"));
    // A folder that is not there is named, and what to do.
    let nowhere = at("no/such/wires.csv");
    write(&mut person, "Wire list (CSV)…", "Path of the wire list to write", &nowhere);
    let told = message(&person);
    assert!(told.contains(&nowhere.display().to_string()) && told.contains("check the folder"), "{told}");
}

#[test]
fn the_viewer_gets_a_pdf_and_where_it_does_not_open_it_the_file_is_named() {
    let handed: Arc<Mutex<Vec<PathBuf>>> = Arc::default();
    let seen = Arc::clone(&handed);
    let opener = move |file: &Path| {
        seen.lock().unwrap().push(file.to_owned());
        if seen.lock().unwrap().len() == 1 { Ok(()) } else { Err("no program is set for PDF".to_owned()) }
    };
    let outside = Outside::new(None, false).with_opener(Arc::new(opener));
    let mut person = Person::with_outside((1366.0, 768.0), prefs(), outside);
    let _folder = person.open_copy("proofer.ron");
    person.go(Stage::Sheet);
    only(&mut person, &["Wire list"]);
    person.press("Open in the viewer to print");
    let wait = |person: &mut Person, count: usize| {
        let begun = Instant::now();
        while handed.lock().unwrap().len() < count {
            assert!(begun.elapsed() < Duration::from_secs(20), "nothing was handed over");
            person.look();
        }
    };
    wait(&mut person, 1);
    let first = handed.lock().unwrap()[0].clone();
    assert!(fs::read(&first).unwrap().starts_with(b"%PDF"), "{}", first.display());
    assert!(person.harness.state().messages().iter().all(|one| one.title != "Open in the viewer"));
    person.press("Open in the viewer to print");
    wait(&mut person, 2);
    let second = handed.lock().unwrap()[1].clone();
    let begun = Instant::now();
    while !message(&person).contains("no program is set for PDF") {
        assert!(begun.elapsed() < Duration::from_secs(20), "{}", message(&person));
        person.look();
    }
    assert!(message(&person).contains(&second.display().to_string()) && second.is_file(), "{}", message(&person));
    for file in [first, second] {
        fs::remove_dir_all(file.parent().unwrap()).unwrap();
    }
}

#[test]
fn a_template_that_is_wrong_is_named_with_the_place_and_is_tried_again_when_it_is_mended() {
    let (mut person, folder) = at_the_sheet((1366.0, 768.0), "proofer.ron", &["Wire list"]);
    let template = folder.path().join("shop.typ");
    person.write("Path of the shop's template", &template.display().to_string());
    person.press(MAKE);
    assert!(person.sees("there is no such template"), "{:?}", person.names());
    fs::write(&template, "#import \"/ww/wirewitness.typ\" as ww\n#let sheet(record) = ww.nothing(record)\n").unwrap();
    person.press(MAKE);
    assert!(person.sees("shop.typ:2:"), "file, line and column: {:?}", person.names());
    assert!(pages(&person).is_empty());
    let good =
        "#import \"/ww/wirewitness.typ\" as ww\n#let sheet(record) = ww.sheet(record, shop: [Corner workshop])\n";
    fs::write(&template, good).unwrap();
    person.press(MAKE);
    assert!(!pages(&person).is_empty(), "{:?}", person.names());
    let pdf = folder.path().join("out.pdf");
    write(&mut person, "Save as PDF…", "Path of the PDF to write", &pdf);
    assert!(text_of_pdf(&fs::read(&pdf).unwrap()).contains("Cornerworkshop"));
    person.press("Without a template");
    assert_eq!(person.harness.state().prefs().paper.template, "");
}

#[test]
fn work_on_pages_is_stopped_and_nothing_is_written() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    let folder = tempfile::tempdir().unwrap();
    let record = folder.path().join("large.ron");
    store::save(&invented_machine(300, 7), &record, store::Expected::NoFile, "A. Witness").unwrap();
    person.open(&record);
    person.go(Stage::Sheet);
    // Pressed without waiting for what it begins.
    let press = |person: &mut Person, name: &str| {
        person.harness.get_by_label(name).click_accesskit();
        person.harness.run_steps(2);
    };
    press(&mut person, MAKE);
    let order = PaperOrder::default();
    assert_eq!(person.harness.state().desk().pages_state(&order), PagesState::Working);
    assert!(person.sees("are being made"), "{:?}", person.names());
    assert!(person.sees("Making the wiring sheet"), "{:?}", person.names());
    press(&mut person, "Stop making the pages");
    assert_eq!(person.harness.state().desk().pages_state(&order), PagesState::NotAsked);
    person.look();
    assert!(pages(&person).is_empty());
    assert!(person.sees("No pages yet"), "{:?}", person.names());
    // The choices go on being changed while work is stopped; nothing is made by itself.
    person.press("Letter");
    assert!(pages(&person).is_empty());
}

#[test]
fn a_change_of_the_record_makes_the_pages_anew_and_no_key_changes_what_is_not_seen() {
    let (mut person, _folder) = at_the_sheet((1366.0, 768.0), "proofer.ron", &["Wire list"]);
    person.press(MAKE);
    let of = |person: &Person| person.harness.state().desk().pages().unwrap().revision();
    let before = of(&person);
    person.harness.state_mut().view_mut().selection =
        wirewitness::app::Selection::of(machine(&person).parts.ids().next().unwrap());
    for key in [Key::Delete, Key::R, Key::M, Key::T, Key::Num1] {
        person.key(key);
    }
    person.command(Key::D);
    assert_eq!(of(&person), before, "the record is as it was");
    retitle(&mut person, "Another title");
    assert_eq!(of(&person), person.harness.state().desk().revision());
    assert!(of(&person) > before);
    person.command(Key::Z);
    assert_eq!(of(&person), person.harness.state().desk().revision());
    // Another record's pages are not this one's.
    person.open(&diagram("flower-cooler.ron"));
    person.go(Stage::Sheet);
    assert!(pages(&person).is_empty());
    assert!(person.sees("No pages yet"), "{:?}", person.names());
}

#[test]
fn a_record_is_packed_once_it_is_saved_and_opened_from_its_pack() {
    let (mut person, folder) = at_the_sheet((1366.0, 768.0), "proofer.ron", &[]);
    retitle(&mut person, "Proofer to be mailed");
    person.press("Pack record and photos into one file…");
    assert!(message(&person).contains("Save it (Ctrl+S), then pack it"), "{}", message(&person));
    person.command(Key::S);
    let pack = folder.path().join("mail.zip");
    write(&mut person, "Pack record and photos into one file…", "Path of the pack to write", &pack);
    assert!(pack.is_file(), "{}", message(&person));
    person.open(&diagram("flower-cooler.ron"));
    person.go(Stage::Sheet);

    person.press("Open a packed file…");
    person.write("Path of the packed file", &folder.path().join("none.zip").display().to_string());
    assert!(message(&person).contains("none.zip: there is no such file"), "{}", message(&person));
    let into = folder.path().join("came");
    fs::create_dir(&into).unwrap();
    person.press("Open a packed file…");
    person.write("Path of the packed file", &pack.display().to_string());
    person.write("Folder to unpack it into", &into.display().to_string());
    person.look();
    assert_eq!(machine(&person).facts.title, "Proofer to be mailed");
    assert_eq!(person.harness.state().desk().path(), Some(into.join("proofer.ron").as_path()));
    // What is there is not replaced.
    person.press("Open a packed file…");
    person.write("Path of the packed file", &pack.display().to_string());
    person.write("Folder to unpack it into", &into.display().to_string());
    assert!(message(&person).contains("nothing is replaced"), "{}", message(&person));
}

#[test]
fn at_practice_nothing_goes_on_paper() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.press(Action::Practise.words());
    person.look();
    assert!(person.harness.state().desk().practice().is_some());
    person.go(Stage::Sheet);
    assert!(person.sees("At practice nothing goes on paper"), "{:?}", person.names());
    for key in [MAKE, "Save as PDF…", "Wire list (CSV)…", "Pack record and photos into one file…"] {
        assert!(person.harness.query_by_label(key).is_none(), "{key}");
    }
}

#[test]
fn everything_is_on_the_screen_and_large_enough_with_pages_too() {
    for size in [(1024.0, 768.0), (1366.0, 768.0)] {
        for (touch, text_size) in [(false, 13), (true, 13), (true, 18)] {
            let mut person = Person::at(size, Prefs { touch, text_size, ..prefs() });
            person.open(&diagram("proofer.ron"));
            person.go(Stage::Sheet);
            only(&mut person, &["Wire list"]);
            person.press(MAKE);
            let here = format!("{size:?}, touch {touch}, writing of {text_size}");
            let found = crate::fits::outside(&person, egui::Rect::from_min_size(egui::Pos2::ZERO, size.into()));
            assert!(found.is_empty(), "{here}: {found:#?}");
            let page = person.harness.query_all_by_label_contains("of the wiring sheet").next().unwrap().rect();
            assert!(page.width() > 400.0, "{here}: {page:?}");
            let [before, after] = ["Page before", "Page after"].map(|name| person.harness.get_by_label(name).rect());
            assert!(!before.intersects(after) && after.bottom() <= size.1, "{here}: {before:?} {after:?}");
        }
    }
}

#[test]
fn pictures_of_the_sheet_are_drawn_where_this_computer_can_draw() {
    for (size, theme, touch) in [
        ((1366.0, 768.0), Theme::Day, false),
        ((1024.0, 768.0), Theme::Day, false),
        ((1366.0, 768.0), Theme::Night, false),
        ((1024.0, 768.0), Theme::Sun, true),
    ] {
        let Some(mut person) = Person::with_pictures(size, Prefs { theme, touch, ..prefs() }) else { return };
        person.open(&diagram("pantry-locker.ron"));
        person.go(Stage::Sheet);
        let name = format!("sheet-{}-{}", theme.words(), size.0);
        if !save(&mut person, &format!("{name}-empty")) {
            return;
        }
        only(&mut person, &["Connection diagram", "Wire list", "Findings"]);
        person.press(MAKE);
        // The page is painted when it is known how large it is seen.
        person.look();
        save(&mut person, &format!("{name}-width"));
        person.press("Whole page");
        person.key(Key::PageDown);
        save(&mut person, &format!("{name}-whole"));
        for _ in 0..3 {
            person.press("Page nearer");
        }
        retitle(&mut person, "Pantry locker, changed");
        save(&mut person, &format!("{name}-near"));
        person.harness.get_by_label("Open a packed file…").scroll_to_me();
        person.look();
        save(&mut person, &format!("{name}-below"));
        person.press("Save as PDF…");
        save(&mut person, &format!("{name}-file"));
        person.press("Leave it");
        let paper = PaperPrefs { template: "/no/such/shop.typ".to_owned(), ..PaperPrefs::default() };
        let mut person = Person::with_pictures(size, Prefs { theme, touch, paper, ..prefs() }).unwrap();
        person.open(&diagram("proofer.ron"));
        person.go(Stage::Sheet);
        person.press(MAKE);
        save(&mut person, &format!("{name}-failed"));
        person.press("Wire labels");
        save(&mut person, &format!("{name}-labels"));
    }
}
