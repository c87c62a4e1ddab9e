//! `sheet`, `labels` and `export`: a record on paper, and its lists for other programs.

use std::collections::BTreeSet;
use std::io::Write;
use std::path::Path;
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::machine::Machine;
#[cfg(feature = "sheet")]
use crate::sheet::Identity;
use crate::sheet::{Section, Worked, reading_table, wire_table, workbook};
use crate::store::{self, write_whole};

use super::FINE;
use super::args::{Export, Labels, List, Sheet};
use super::failure::Failure;
use super::kinds::catalogue;

/// A record with what it is called on paper.
struct Record {
    machine: Arc<Machine>,
    #[cfg(feature = "sheet")]
    identity: Identity,
}

fn opened(file: &Path, catalogue: &Catalogue) -> Result<Record, Failure> {
    let loaded = store::load(file, catalogue).map_err(|error| Failure::Told(error.to_string()))?;
    #[cfg(feature = "sheet")]
    let name = file.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    Ok(Record {
        machine: Arc::new(loaded.machine),
        #[cfg(feature = "sheet")]
        identity: Identity::new(&name, &loaded.hash),
    })
}

/// The ending of a file to write, which says its form.
fn ending<'a>(output: &Path, known: &[&'a str]) -> Result<&'a str, Failure> {
    let own = output.extension().map(|ending| ending.to_string_lossy().to_lowercase()).unwrap_or_default();
    known.iter().copied().find(|ending| *ending == own).ok_or_else(|| {
        let forms = known.iter().map(|ending| format!(".{ending}")).collect::<Vec<_>>().join(", ");
        Failure::with_file(output, format_args!("the ending says the form, and this one is none of {forms}"))
    })
}

fn write(output: &Path, bytes: &[u8]) -> Result<(), Failure> {
    write_whole(output, bytes).map_err(|why| {
        Failure::with_file(
            output,
            format_args!("could not be written: {why}; check the folder, its free space and your permissions"),
        )
    })
}

#[cfg(feature = "sheet")]
fn pages(count: usize) -> String {
    if count == 1 { "1 page".to_owned() } else { format!("{count} pages") }
}

/// `export`.
pub(super) fn export(what: &Export, kinds: Option<&Path>, out: &mut dyn Write) -> Result<u8, Failure> {
    let form = ending(&what.output, &["csv", "xlsx", "svg"])?;
    let catalogue = catalogue(kinds)?;
    let record = opened(&what.file, &catalogue)?;
    let machine = &record.machine;
    if form == "svg" {
        return printed::drawing(&record, &catalogue, &what.output, out);
    }
    let worked = Worked::of(machine, &catalogue, &BTreeSet::new());
    let readings = || reading_table(machine, &worked.judgement);
    let bytes = if form == "csv" {
        let mut bytes = Vec::new();
        match what.list {
            List::Wires => wire_table(&worked).write_csv(&mut bytes)?,
            List::Readings => readings().write_csv(&mut bytes)?,
        }
        bytes
    } else {
        workbook(&[wire_table(&worked), readings()], &machine.facts.title)
            .map_err(|why| Failure::with_file(&what.output, why))?
    };
    write(&what.output, &bytes)?;
    match (form, what.list) {
        ("csv", List::Readings) => writeln!(out, "{}: {} readings", what.output.display(), machine.readings.len())?,
        ("csv", List::Wires) => writeln!(out, "{}: {} wires", what.output.display(), machine.wires.len())?,
        _ => writeln!(
            out,
            "{}: {} wires, {} readings",
            what.output.display(),
            machine.wires.len(),
            machine.readings.len()
        )?,
    }
    Ok(FINE)
}

/// `sheet`.
pub(super) fn run(what: &Sheet, kinds: Option<&Path>, out: &mut dyn Write) -> Result<u8, Failure> {
    let form = ending(&what.output, &["pdf", "svg", "png"])?;
    let catalogue = catalogue(kinds)?;
    let record = opened(&what.file, &catalogue)?;
    let sections = Section::wanted(&what.only);
    printed::sheet(what, &record, &catalogue, &sections, form, out)
}

/// `labels`.
pub(super) fn labels(what: &Labels, kinds: Option<&Path>, out: &mut dyn Write) -> Result<u8, Failure> {
    let form = ending(&what.output, &["pdf", "svg", "png"])?;
    let catalogue = catalogue(kinds)?;
    let record = opened(&what.file, &catalogue)?;
    printed::labels(what, &record, &catalogue, form, out)
}

#[cfg(feature = "sheet")]
mod printed {
    use std::collections::BTreeMap;
    use std::path::PathBuf;

    use crate::drawing::style_of;
    use crate::ladder::{Options, lay_out};
    use crate::machine::PhotoId;
    use crate::sheet::paper::{Pages, PaperError, Template};
    use crate::sheet::{Content, Format, Given, Paper, labels as labels_of, paper};
    use crate::store::photos;
    use crate::tracing;

    use super::{
        Arc, BTreeSet, Catalogue, FINE, Failure, Labels, Machine, Path, Record, Section, Sheet, Worked, Write, pages,
        write,
    };

    /// Dots to the inch of pages as pictures: enough to be read on a screen and to be printed.
    const DOTS: f64 = 150.0;

    fn failed(file: &Path) -> impl Fn(PaperError) -> Failure + '_ {
        move |why| match why {
            // It names the template's own file and place.
            PaperError::Layout(told) if told.contains(": ") => Failure::Told(told),
            why => Failure::with_file(file, why),
        }
    }

    /// Files of the photos that lie beside the record. One that cannot be read is left out; the sheet says so in its place.
    fn photo_files(machine: &Machine, file: &Path) -> BTreeMap<PhotoId, Vec<u8>> {
        let bytes = |photo| tracing::read_file(&photos::path_of(file, photo)?).ok();
        machine.photos.iter().filter_map(|(id, photo)| Some((id, bytes(photo)?))).collect()
    }

    pub(super) fn sheet(
        what: &Sheet,
        record: &Record,
        catalogue: &Arc<Catalogue>,
        sections: &BTreeSet<Section>,
        form: &str,
        out: &mut dyn Write,
    ) -> Result<u8, Failure> {
        let worked = Worked::of(&record.machine, catalogue, sections);
        let files = if sections.contains(&Section::Photos) {
            photo_files(&record.machine, &what.file)
        } else {
            BTreeMap::new()
        };
        let ladder = if sections.contains(&Section::Ladder) {
            lay_out(&record.machine, catalogue, &Options { style: style_of(&record.machine) }).drawings()
        } else {
            Vec::new()
        };
        let (content, pictures) = Content::of(&Given {
            machine: &record.machine,
            catalogue,
            worked: &worked,
            identity: &record.identity,
            photos: &files,
            ladder: &ladder,
            paper: Paper::new(what.paper, what.landscape),
            sections,
        });
        let template = what.template.as_ref().map(|file| template(file)).transpose()?;
        let laid = paper::sheet(&content, pictures, template.as_ref()).map_err(failed(&what.file))?;
        save(&laid, &what.output, form, out)
    }

    fn template(file: &Path) -> Result<Template, Failure> {
        let name = file.file_name().and_then(|name| name.to_str()).filter(|_| file.is_file());
        let name = name.ok_or_else(|| Failure::with_file(file, "there is no such template; check the name"))?;
        let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        Ok(Template { folder: folder.to_owned(), file: name.to_owned() })
    }

    /// What is needed of a record without any of the sections that take long.
    fn plain(record: &Record, catalogue: &Arc<Catalogue>, format: Format, sections: &[Section]) -> Content {
        let sections: BTreeSet<Section> = sections.iter().copied().collect();
        let worked = Worked::of(&record.machine, catalogue, &sections);
        Content::of(&Given {
            machine: &record.machine,
            catalogue,
            worked: &worked,
            identity: &record.identity,
            photos: &BTreeMap::new(),
            ladder: &[],
            paper: Paper::new(format, false),
            sections: &sections,
        })
        .0
    }

    pub(super) fn labels(
        what: &Labels,
        record: &Record,
        catalogue: &Arc<Catalogue>,
        form: &str,
        out: &mut dyn Write,
    ) -> Result<u8, Failure> {
        let content = plain(record, catalogue, what.paper, &[]);
        let all = labels_of(&Worked::of(&record.machine, catalogue, &BTreeSet::new()));
        let laid = paper::label_page(&content, &all).map_err(failed(&what.file))?;
        save(&laid, &what.output, form, out)
    }

    pub(super) fn drawing(
        record: &Record,
        catalogue: &Arc<Catalogue>,
        output: &Path,
        out: &mut dyn Write,
    ) -> Result<u8, Failure> {
        let mut content = plain(record, catalogue, Format::A4, &[]);
        content.draw_whole(&Worked::of(&record.machine, catalogue, &BTreeSet::new()).shown, catalogue);
        let laid = paper::drawing(&content).map_err(failed(output))?;
        save(&laid, output, "svg", out)
    }

    /// Writes pages in their form. A picture has one page: of more, each gets a number behind its name.
    fn save(laid: &Pages, output: &Path, form: &str, out: &mut dyn Write) -> Result<u8, Failure> {
        let count = laid.count();
        let files: Vec<Vec<u8>> = match form {
            "pdf" => vec![laid.pdf().map_err(failed(output))?],
            "svg" => laid.svgs().into_iter().map(String::into_bytes).collect(),
            _ => laid.pngs(DOTS).map_err(failed(output))?,
        };
        let alone = files.len() == 1;
        for (number, bytes) in files.iter().enumerate() {
            write(&if alone { output.to_owned() } else { numbered(output, number + 1, count) }, bytes)?;
        }
        let name = if alone { output.to_owned() } else { numbered(output, 1, count) };
        writeln!(out, "{}: {}", name.display(), pages(count))?;
        let missing: String = laid.letters_missing().into_iter().collect();
        if !missing.is_empty() {
            writeln!(out, "The typeface of the sheet does not have these letters, which come out as boxes: {missing}")?;
        }
        Ok(FINE)
    }

    /// `sheet.png` is `sheet-01.png`, `sheet-02.png`, ...
    fn numbered(output: &Path, number: usize, of: usize) -> PathBuf {
        let digits = of.to_string().len().max(2);
        let stem = output.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
        let ending = output.extension().map(|ending| ending.to_string_lossy().into_owned()).unwrap_or_default();
        output.with_file_name(format!("{stem}-{number:0digits$}.{ending}"))
    }
}

#[cfg(not(feature = "sheet"))]
mod printed {
    use super::{Arc, BTreeSet, Catalogue, Failure, Labels, Path, Record, Section, Sheet, Write};

    fn left_out() -> Failure {
        Failure::Told("this build leaves paper out; use one with the feature 'sheet'".to_owned())
    }

    pub(super) fn sheet(
        _: &Sheet,
        _: &Record,
        _: &Arc<Catalogue>,
        _: &BTreeSet<Section>,
        _: &str,
        _: &mut dyn Write,
    ) -> Result<u8, Failure> {
        Err(left_out())
    }

    pub(super) fn labels(
        _: &Labels,
        _: &Record,
        _: &Arc<Catalogue>,
        _: &str,
        _: &mut dyn Write,
    ) -> Result<u8, Failure> {
        Err(left_out())
    }

    pub(super) fn drawing(_: &Record, _: &Arc<Catalogue>, _: &Path, _: &mut dyn Write) -> Result<u8, Failure> {
        Err(left_out())
    }
}
