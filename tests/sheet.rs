//! The wiring sheet as it is laid out and written: nothing cut off, nothing over anything else, every wire in it, the same bytes each time.
//!
//! The PDF is read by a library of others (lopdf), the lists by csv and calamine; `tests/outside/sheet_checks.py` lays qpdf, pdftotext and
//! Python's csv beside the same.

#![cfg(feature = "sheet")]
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::sync::Arc;

use wirewitness::catalogue::Catalogue;
use wirewitness::generate::invented_machine;
use wirewitness::machine::{Machine, PhotoId, Wire, WireState};
use wirewitness::sheet::paper::{self, Measured, Pages, PaperError, Template};
use wirewitness::sheet::{
    Content, Format, Given, Identity, Paper, Prim, Section, Worked, labels, wire_table, workbook,
};
use wirewitness::store::{self, photos};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

const DEMOS: [&str; 3] = ["pantry-locker", "flower-cooler", "proofer"];

struct Record {
    machine: Arc<Machine>,
    photos: BTreeMap<PhotoId, Vec<u8>>,
    identity: Identity,
}

fn demo(name: &str, catalogue: &Catalogue) -> Record {
    let path = root().join("diagrams").join(format!("{name}.ron"));
    let loaded = store::load(&path, catalogue).unwrap();
    let bytes = |photo| fs::read(photos::path_of(&path, photo)?).ok();
    let photos = loaded.machine.photos.iter().filter_map(|(id, photo)| Some((id, bytes(photo)?))).collect();
    Record { identity: Identity::new(name, &loaded.hash), machine: Arc::new(loaded.machine), photos }
}

fn invented(wires: usize) -> Record {
    Record {
        machine: Arc::new(invented_machine(wires, 7)),
        photos: BTreeMap::new(),
        identity: Identity::new("invented", "00112233445566778899"),
    }
}

/// Everything but what takes long to work out, unless it is asked for.
fn sections(all: bool) -> BTreeSet<Section> {
    let long = [Section::Mysteries, Section::NextVisit, Section::Dead];
    Section::ALL.into_iter().filter(|section| all || !long.contains(section)).collect()
}

fn laid(
    record: &Record,
    paper: Paper,
    sections: &BTreeSet<Section>,
    template: Option<&Template>,
) -> Result<Pages, PaperError> {
    let catalogue = Catalogue::built_in().unwrap();
    let worked = Worked::of(&record.machine, &catalogue, sections);
    let (content, pictures) = Content::of(&Given {
        machine: &record.machine,
        catalogue: &catalogue,
        worked: &worked,
        identity: &record.identity,
        photos: &record.photos,
        ladder: &[],
        paper,
        sections,
    });
    paper::sheet(&content, pictures, template)
}

/// What is worked out of a record for its lists.
fn raw(record: &Record, catalogue: &Arc<Catalogue>) -> Worked {
    Worked::of(&record.machine, catalogue, &BTreeSet::new())
}

fn a4() -> Paper {
    Paper::new(Format::A4, false)
}

/// No letters lie outside of the page, or of the window they are seen in, or over other letters.
#[track_caller]
fn assert_clean(pages: &Pages, what: &str) {
    let mut wrong = Vec::new();
    for (number, page) in pages.measured().iter().enumerate() {
        cut_off(page, &mut |told| wrong.push(format!("page {}: {told}", number + 1)));
        overlaps(page, &mut |told| wrong.push(format!("page {}: {told}", number + 1)));
        if !page.missing.is_empty() {
            wrong.push(format!("page {}: letters not in the typeface: {:?}", number + 1, page.missing));
        }
    }
    let count = wrong.len();
    wrong.truncate(25);
    assert!(count == 0, "{what}: {count} places\n  {}", wrong.join("\n  "));
}

/// Rounding of lengths in millimetres.
const LITTLE: f64 = 0.06;

fn cut_off(page: &Measured, tell: &mut dyn FnMut(String)) {
    for letters in &page.letters {
        let [left, top, right, bottom] = letters.area;
        let whole = [0.0, 0.0, page.size[0], page.size[1]];
        for [l, t, r, b] in [Some(whole), letters.window].into_iter().flatten() {
            if left < l - LITTLE || top < t - LITTLE || right > r + LITTLE || bottom > b + LITTLE {
                tell(format!("'{}' at {:?} is cut off by {:?}", letters.text, letters.area, [l, t, r, b]));
            }
        }
    }
}

fn overlaps(page: &Measured, tell: &mut dyn FnMut(String)) {
    let mut all: Vec<_> = page.letters.iter().collect();
    all.sort_by(|a, b| a.area[0].total_cmp(&b.area[0]));
    for (at, one) in all.iter().enumerate() {
        for other in all[at + 1..].iter().take_while(|other| other.area[0] < one.area[2]) {
            let wide = one.area[2].min(other.area[2]) - one.area[0].max(other.area[0]);
            let high = one.area[3].min(other.area[3]) - one.area[1].max(other.area[1]);
            if wide > LITTLE && high > LITTLE {
                tell(format!("'{}' {:?} over '{}' {:?}", one.text, one.area, other.text, other.area));
            }
        }
    }
}

#[test]
fn nothing_is_cut_off_or_lies_over_anything_on_the_sheets_of_the_demo_machines() {
    let catalogue = Catalogue::built_in().unwrap();
    for name in DEMOS {
        let record = demo(name, &catalogue);
        let pages = laid(&record, a4(), &sections(true), None).unwrap();
        assert_clean(&pages, name);
    }
}

#[test]
fn nothing_is_cut_off_or_lies_over_anything_on_the_sheet_of_200_wires() {
    let record = invented(200);
    for paper in [a4(), Paper::new(Format::Letter, true)] {
        let pages = laid(&record, paper, &sections(false), None).unwrap();
        assert!(pages.count() > 10, "{} pages", pages.count());
        assert_clean(&pages, "200 wires");
    }
}

/// A measure that finds nothing proves nothing: a page with letters over letters, and letters outside, is told of.
#[test]
fn the_measure_sees_overlaps_and_what_is_cut_off() {
    let folder = tempfile::tempdir().unwrap();
    let text = "#import \"/ww/wirewitness.typ\" as ww\n#let sheet(record) = { ww.title-block(record)\nww.cautions(record)\n\
                place(top + left, dx: 3mm, [over])\nplace(top + left, dx: 4mm, [under])\nplace(top + left, dx: -90mm, [outside])\n\
                place(bottom + left, box(width: 2mm, height: 4mm, clip: true, place(top + left, box(width: 30mm)[cut off]))) }";
    fs::write(folder.path().join("shop.typ"), text).unwrap();
    let template = Template { folder: folder.path().to_owned(), file: "shop.typ".to_owned() };
    let pages = laid(&invented(3), a4(), &sections(false), Some(&template)).unwrap();
    let (mut cut, mut over) = (Vec::new(), Vec::new());
    for page in pages.measured() {
        cut_off(&page, &mut |told| cut.push(told));
        overlaps(&page, &mut |told| over.push(told));
    }
    assert!(cut.iter().any(|told| told.starts_with("'outside'")), "{cut:?}");
    assert!(cut.iter().any(|told| told.starts_with("'cut off'")), "{cut:?}");
    assert!(over.iter().any(|told| told.contains("over") && told.contains("under")), "{over:?}");
}

/// Letters of a PDF, page by page, as a reader of others extracts them, without spaces and line ends.
fn text_of_pdf(pdf: &[u8]) -> String {
    let document = lopdf::Document::load_mem(pdf).unwrap();
    let numbers: Vec<u32> = document.get_pages().keys().copied().collect();
    squeezed(&document.extract_text(&numbers).unwrap())
}

fn squeezed(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace() && *c != '\u{200b}').collect()
}

/// Independent reader: lopdf.
#[test]
fn every_wire_of_the_list_can_be_searched_for_in_the_pdf() {
    let catalogue = Catalogue::built_in().unwrap();
    for name in DEMOS {
        let record = demo(name, &catalogue);
        let only = Section::wanted(&[Section::Wires]);
        let pages = laid(&record, a4(), &only, None).unwrap();
        let text = text_of_pdf(&pages.pdf().unwrap());
        // A wire list has one row for each wire, cell by cell in this order; standings are those the readings give.
        for row in wire_table(&raw(&record, &catalogue)).rows {
            let cells = squeezed(&row.concat());
            assert!(text.contains(&cells), "{name}: the row of {} is not in the text of the PDF: {cells}", row[0]);
        }
    }
}

#[test]
fn the_pdf_is_tagged_carries_its_typeface_and_no_time() {
    let pages = laid(&invented(20), a4(), &sections(false), None).unwrap();
    let pdf = pages.pdf().unwrap();
    let document = lopdf::Document::load_mem(&pdf).unwrap();
    assert_eq!(document.get_pages().len(), pages.count());
    let catalog = document.catalog().unwrap();
    assert!(catalog.has(b"StructTreeRoot"), "structure");
    assert_eq!(catalog.get(b"Lang").unwrap().as_str().unwrap(), b"en");
    let info = document.trailer.get(b"Info").and_then(|info| document.dereference(info)).map(|(_, info)| info.clone());
    if let Ok(info) = info {
        let info = info.as_dict().unwrap();
        assert!(!info.has(b"CreationDate") && !info.has(b"ModDate"), "{info:?}");
    }
    // A typeface that travels with the file is a stream of its own.
    let embedded = document.objects.values().filter_map(|object| object.as_dict().ok());
    assert!(embedded.filter(|dict| dict.has(b"FontFile3") || dict.has(b"FontFile2")).count() >= 1);
}

#[test]
fn the_same_record_gives_the_same_bytes() {
    let catalogue = Catalogue::built_in().unwrap();
    let locker = demo("pantry-locker", &catalogue);
    let photos = Section::wanted(&[Section::Photos, Section::Readings, Section::Findings]);
    let proofer = demo("proofer", &catalogue);
    let drawing = Section::wanted(&[Section::Diagram, Section::Wires]);
    let make = || {
        let pages = laid(&proofer, a4(), &drawing, None).unwrap();
        let pictures = (pages.svgs(), pages.pngs(30.0).unwrap());
        (laid(&locker, a4(), &photos, None).unwrap().pdf().unwrap(), pictures)
    };
    assert!(make() == make(), "the same record gives other bytes the second time");
}

#[test]
fn no_page_promises_that_no_harm_can_come_and_every_page_defers_to_codes() {
    let catalogue = Catalogue::built_in().unwrap();
    let banned = concat!("sa", "fe");
    for name in DEMOS {
        let pages = laid(&demo(name, &catalogue), a4(), &sections(false), None).unwrap();
        for page in pages.measured() {
            let text: String = page.letters.iter().map(|letters| letters.text.to_lowercase() + " ").collect();
            assert!(!text.split(|c: char| !c.is_alphabetic()).any(|word| word == banned), "{name}: {text}");
            assert!(squeezed(&text).contains("localcodes,themaker'sinstructionsandlicensedpractice"), "{name}: {text}");
        }
    }
}

#[test]
fn a_template_changes_the_looks_and_cannot_leave_the_cautions_out() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| {
        fs::write(folder.path().join(name), text).unwrap();
        Template { folder: folder.path().to_owned(), file: name.to_owned() }
    };
    let record = invented(5);
    let own = write(
        "own.typ",
        "#import \"/ww/wirewitness.typ\" as ww\n#let sheet(record) = ww.sheet(record, shop: [Corner workshop], \
         foot: [call before noon], sections: (\"title\", \"cautions\", \"wires\"))\n",
    );
    let pages = laid(&record, a4(), &sections(false), Some(&own)).unwrap();
    let text: String =
        pages.measured().iter().flat_map(|page| &page.letters).map(|one| one.text.clone() + " ").collect();
    assert!(text.contains("Corner workshop") && text.contains("call before noon"), "{text}");
    assert!(!text.contains("Connection diagram"), "{text}");

    let without = write(
        "without.typ",
        "#import \"/ww/wirewitness.typ\" as ww\n#let sheet(record) = ww.sheet(record, sections: (\"title\", \"wires\"))\n",
    );
    let told = laid(&record, a4(), &sections(false), Some(&without)).unwrap_err();
    assert_eq!(told, PaperError::LeftOut("cautions"));
}

#[test]
fn a_template_reads_nothing_outside_of_its_folder_and_its_mistakes_are_named() {
    let outer = tempfile::tempdir().unwrap();
    let folder = outer.path().join("templates");
    fs::create_dir(&folder).unwrap();
    fs::write(outer.path().join("secret.txt"), "secret").unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink(outer.path().join("secret.txt"), folder.join("link.txt")).unwrap();
    let record = invented(3);
    let told = |text: &str| {
        fs::write(folder.join("shop.typ"), text).unwrap();
        let template = Template { folder: folder.clone(), file: "shop.typ".to_owned() };
        laid(&record, a4(), &sections(false), Some(&template)).unwrap_err().to_string()
    };
    for file in ["../secret.txt", "/../secret.txt", &outer.path().join("secret.txt").display().to_string(), "link.txt"]
    {
        let message = told(&format!("#let sheet(record) = read(\"{file}\")\n"));
        assert!(message.contains("shop.typ:1:"), "{file}: {message}");
    }
    let message = told("#let sheet(record) = {\n  nonsense\n}\n");
    assert!(message.contains("shop.typ:2:3: unknown variable: nonsense"), "{message}");
}

/// A record is data: whatever is written in it, nothing of it is taken for a command of the typesetter.
#[test]
fn what_stands_in_a_record_stays_as_it_is_written() {
    let mut machine = invented_machine(3, 1);
    let odd = "#read(\"/etc/hostname\") *bold* $x$ \\ <title> @x = \"quoted\"";
    machine.facts.title = odd.to_owned();
    machine.facts.note = "a".repeat(400);
    let record = Record { machine: Arc::new(machine), ..invented(3) };
    let pages = laid(&record, a4(), &sections(false), None).unwrap();
    let text: String = pages.measured()[0].letters.iter().map(|one| one.text.clone()).collect();
    assert!(squeezed(&text).contains(&squeezed(odd)), "{text}");
    assert_clean(&pages, "an odd title and a word of 400 letters");
}

#[test]
fn an_empty_record_and_one_of_odd_numbers_are_laid_out() {
    let empty = Record { machine: Arc::new(Machine::default()), ..invented(0) };
    assert_clean(&laid(&empty, a4(), &sections(true), None).unwrap(), "an empty record");
    let mut machine = invented_machine(4, 1);
    for (id, part) in machine.parts.clone().iter() {
        let mut part = part.clone();
        part.pose.at.x *= 1e7;
        machine.parts.put(id, Some(Arc::new(part)));
    }
    let far = Record { machine: Arc::new(machine), ..invented(0) };
    laid(&far, a4(), &sections(false), None).unwrap();
}

#[test]
fn each_lead_gets_a_label_for_each_end() {
    let catalogue = Catalogue::built_in().unwrap();
    let record = demo("proofer", &catalogue);
    let all = labels(&raw(&record, &catalogue));
    let leads = record.machine.wires.values().filter(|wire| wire.is_present());
    let leads = leads.filter(|wire| wire.form == wirewitness::machine::WireForm::Lead).count();
    assert_eq!(all.len(), 2 * leads);
    let worked = Worked::of(&record.machine, &catalogue, &BTreeSet::new());
    let (content, _) = Content::of(&Given {
        machine: &record.machine,
        catalogue: &catalogue,
        worked: &worked,
        identity: &record.identity,
        photos: &record.photos,
        ladder: &[],
        paper: a4(),
        sections: &BTreeSet::new(),
    });
    let pages = paper::label_page(&content, &all).unwrap();
    assert_clean(&pages, "labels");
    let text = squeezed(
        &pages.measured().iter().flat_map(|page| &page.letters).map(|one| one.text.as_str()).collect::<String>(),
    );
    for label in &all {
        assert!(text.contains(&squeezed(&format!("{}to{}", label.here, label.there))), "{label:?}");
    }
}

/// Independent readers: the crates csv and calamine.
#[test]
fn lists_are_read_back_by_others_as_they_were_written() {
    let catalogue = Catalogue::built_in().unwrap();
    let record = demo("pantry-locker", &catalogue);
    let table = wire_table(&raw(&record, &catalogue));
    let mut bytes = Vec::new();
    table.write_csv(&mut bytes).unwrap();
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(bytes.as_slice());
    let rows: Vec<Vec<String>> = reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect();
    assert_eq!(rows[0], table.columns);
    assert_eq!(&rows[1..], table.rows.as_slice());

    let bytes = workbook(std::slice::from_ref(&table), "pantry").unwrap();
    let mut book: calamine::Xlsx<_> = calamine::Reader::new(std::io::Cursor::new(bytes)).unwrap();
    let range = calamine::Reader::worksheet_range(&mut book, "wires").unwrap();
    let rows: Vec<Vec<String>> = range.rows().map(|row| row.iter().map(ToString::to_string).collect()).collect();
    assert_eq!(rows[0], table.columns);
    assert_eq!(&rows[1..], table.rows.as_slice());
}

fn content_of(record: &Record, sections: &BTreeSet<Section>) -> Content {
    let catalogue = Catalogue::built_in().unwrap();
    let worked = Worked::of(&record.machine, &catalogue, sections);
    let given = Given {
        machine: &record.machine,
        catalogue: &catalogue,
        worked: &worked,
        identity: &record.identity,
        photos: &record.photos,
        ladder: &[],
        paper: a4(),
        sections,
    };
    Content::of(&given).0
}

#[test]
fn what_was_taken_out_or_capped_is_listed_and_no_longer_drawn_as_there() {
    let catalogue = Catalogue::built_in().unwrap();
    let mut record = demo("proofer", &catalogue);
    let mut machine = Machine::clone(&record.machine);
    for (key, state) in [("W20", WireState::Removed), ("W21", WireState::CappedOff)] {
        let id = machine.wire_by_key(key).unwrap();
        let wire = Wire { state, number: None, ..machine.wires.get(id).unwrap().clone() };
        machine.wires.put(id, Some(Arc::new(wire)));
    }
    record.machine = Arc::new(machine);
    let content = content_of(&record, &Section::wanted(&[Section::Dead, Section::Diagram, Section::Wires]));
    assert!(content.dead.removed.len() == 1 && content.dead.removed[0].wire.starts_with("W20"), "{:?}", content.dead);
    assert!(content.dead.capped.len() == 1 && content.dead.capped[0].wire.starts_with("W21"), "{:?}", content.dead);
    let drawn = |key: &str| {
        let prims = content.diagram.tiles.iter().flat_map(|tile| &tile.figure.prims);
        prims.filter(|prim| matches!(prim, Prim::Text { t, .. } if t == key)).count()
    };
    assert_eq!((drawn("W20"), drawn("W21")), (0, 1));
    let state = |key: &str| content.wires.iter().find(|row| row[0] == key).map(|row| row[6].clone());
    assert_eq!((state("W20").as_deref(), state("W21").as_deref()), (Some("removed"), Some("capped off")));
}

/// A wire that leaves a page comes in on the page beside it, and both say so.
#[test]
fn match_marks_of_neighbouring_pages_name_the_same_wires() {
    let catalogue = Catalogue::built_in().unwrap();
    let mut joined = 0;
    for record in [demo("pantry-locker", &catalogue), invented(200), invented(600)] {
        let content = content_of(&record, &Section::wanted(&[Section::Diagram]));
        let marks: BTreeMap<(String, String), BTreeSet<String>> = content
            .diagram
            .tiles
            .iter()
            .flat_map(|tile| {
                let said = tile.words.split("Goes on to ").skip(1);
                said.map(|said| {
                    let (to, keys) = said.split_once(": ").unwrap();
                    let keys = keys.trim().trim_end_matches('.').split(", ").map(str::to_owned).collect();
                    ((tile.name.clone(), to.to_owned()), keys)
                })
            })
            .collect();
        for ((from, to), keys) in &marks {
            let back = marks.get(&(to.clone(), from.clone()));
            assert_eq!(back, Some(keys), "from {from} to {to}");
            joined += keys.len();
        }
    }
    assert!(joined > 50, "{joined} marks were compared");
}
