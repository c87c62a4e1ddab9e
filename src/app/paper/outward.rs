//! Carries out what was asked about paper: pages made, written, handed to the viewer; packed records opened.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::Context;

use super::choices::AT_PRACTICE;
use super::{Out, PaperRequest, Zoom, optional};
use crate::app::prefs::{PaperPrefs, Prefs};
use crate::app::shell::Shell;
use crate::app::stage::Stage;
use crate::app::view::{Asked, Leaving};
use crate::desk::{JobId, LaidPages, ListFile, PageForm, PagesState, PaperOrder, PictureForm, Print, Section, ToWrite};

impl Shell {
    /// What is ordered by what is chosen.
    pub(in crate::app) fn paper_order(&self) -> PaperOrder {
        self.view.shown.paper.order(&self.prefs)
    }

    /// Has the pages made anew while they are wanted and looked at, and takes their newest picture.
    pub(in crate::app) fn refresh_paper(&mut self) {
        for (file, why) in self.outside.viewer.failed() {
            let text = format!(
                "{}: no program of this system would show it ({why}). The file lies there: open it from its folder to print it.",
                file.display()
            );
            self.messages.error("Open in the viewer", text);
        }
        if self.view.stage != Stage::Sheet || self.desk.practice().is_some() {
            return;
        }
        let order = self.paper_order();
        if self.view.shown.paper.wanted {
            self.desk.make_pages(&order);
        }
        self.preview.refresh(&mut self.desk);
    }

    /// How it stands with the pages of what is chosen.
    pub(in crate::app) fn pages_state(&self) -> PagesState {
        if self.desk.practice().is_some() {
            return PagesState::NotAsked;
        }
        match self.desk.pages_state(&self.paper_order()) {
            // Others are ended first.
            PagesState::NotAsked if self.view.shown.paper.wanted => PagesState::Working,
            state => state,
        }
    }

    /// The pages that are shown: those of the sheet, or those of labels.
    pub(in crate::app) fn pages_shown(&self) -> Option<&Arc<LaidPages>> {
        let print = self.view.shown.paper.print;
        self.desk.pages().filter(|laid| laid.order.print == print && self.desk.practice().is_none())
    }

    /// Asks a job to stop. Pages whose making is stopped are not wanted any more.
    pub(in crate::app) fn stop_job(&mut self, job: JobId) {
        if self.desk.pages_job() == Some(job) {
            self.on_paper(PaperRequest::Stop);
        } else {
            self.desk.cancel(job);
        }
    }

    /// Carries out one request.
    pub(in crate::app) fn on_paper(&mut self, request: PaperRequest) {
        let paper = &mut self.view.shown.paper;
        match request {
            PaperRequest::Print(print) => {
                paper.print = print;
                paper.page = 0;
            }
            PaperRequest::Section(section, on) => {
                let place = Section::ALL.iter().position(|&other| other == section);
                if let Some(left_out) = place.and_then(|place| paper.left_out.get_mut(place)) {
                    *left_out = !on;
                }
            }
            PaperRequest::AllSections(on) => {
                for (place, _) in optional() {
                    if let Some(left_out) = paper.left_out.get_mut(place) {
                        *left_out = !on;
                    }
                }
            }
            PaperRequest::Make => {
                paper.wanted = true;
                self.desk.forget_asked_pages();
            }
            PaperRequest::Stop => {
                paper.wanted = false;
                self.desk.stop_pages();
            }
            PaperRequest::Page(page) => paper.page = page,
            PaperRequest::Zoom(zoom) => paper.zoom = zoom,
            PaperRequest::Write(out) => self.ask_out(out),
            PaperRequest::View => {
                if self.may_go_out() {
                    let order = self.paper_order();
                    self.desk.write_to_view(&order);
                }
            }
            PaperRequest::Template => self.ask_file(Asked::Template),
            PaperRequest::Unpack => self.ask_file(Asked::Pack),
        }
    }

    /// Turns so many pages.
    pub(in crate::app) fn turn_pages(&mut self, by: isize) {
        let count = self.pages_shown().map_or(0, |laid| laid.sizes_mm.len());
        let paper = &mut self.view.shown.paper;
        if self.view.stage == Stage::Sheet {
            paper.page = paper.page.min(count.saturating_sub(1)).saturating_add_signed(by).min(count.saturating_sub(1));
        }
    }

    /// Nearer to the page by this factor, or all of it where there is none.
    pub(in crate::app) fn zoom_page(&mut self, factor: Option<f32>) {
        self.view.shown.paper.zoom = factor.map_or(Zoom::Page, |factor| self.preview.zoomed(factor));
    }

    fn may_go_out(&mut self) -> bool {
        let may = self.desk.practice().is_none();
        if !may {
            self.messages.error("Not at practice", AT_PRACTICE);
        }
        may
    }

    /// Asks where to write something.
    pub(in crate::app) fn ask_out(&mut self, out: Out) {
        if !self.may_go_out() {
            return;
        }
        if out == Out::Pack && (self.desk.is_changed() || self.desk.path().is_none()) {
            self.messages.error(
                "Pack the record",
                "The record has changes that are not saved, and a pack is made of its file. Save it (Ctrl+S), then pack it.",
            );
            return;
        }
        self.ask_file(Asked::Out(out));
    }

    /// The path that is offered for something: beside the record's file, where it has one.
    pub(in crate::app) fn path_for(&self, out: Out) -> String {
        let own = self.desk.path().and_then(Path::parent);
        own.map(|folder| folder.join(self.name_for(out)).display().to_string()).unwrap_or_default()
    }

    /// The name that is offered for something.
    pub(in crate::app) fn name_for(&self, out: Out) -> String {
        let print = self.view.shown.paper.print;
        let ending = out.endings().first().copied().unwrap_or_default();
        format!("{}{}.{ending}", self.desk.file_words(), out.behind(print))
    }

    /// Writes something into a file.
    pub(in crate::app) fn write_out(&mut self, out: Out, path: &Path) {
        let pages = |form| ToWrite::Pages(self.paper_order(), form);
        let what = match out {
            Out::Pdf => pages(PageForm::Pdf),
            Out::Pictures => {
                let ending = path.extension().map(|ending| ending.to_string_lossy().into_owned()).unwrap_or_default();
                pages(PageForm::by_ending(&ending).unwrap_or(PageForm::Pictures(PictureForm::Png)))
            }
            Out::Wires => ToWrite::List(ListFile::Wires),
            Out::Readings => ToWrite::List(ListFile::Readings),
            Out::Workbook => ToWrite::List(ListFile::Workbook),
            Out::Drawing => {
                let order = PaperOrder { print: Print::Drawing, ..PaperOrder::default() };
                ToWrite::Pages(order, PageForm::Pictures(PictureForm::Svg))
            }
            Out::Pack => ToWrite::Pack,
        };
        self.desk.write_out(what, path);
    }

    /// Takes the path of a packed record, and asks for the folder to unpack it into: to begin with, the one it lies in.
    pub(in crate::app) fn take_pack(&mut self, pack: PathBuf) {
        if !pack.is_file() {
            let why = format!("{}: there is no such file; check the name", pack.display());
            self.messages.error("Open a packed file", why);
            return;
        }
        self.outside.pack = Some(pack);
        self.ask_file(Asked::UnpackInto);
    }

    /// Unpacks into this folder.
    pub(in crate::app) fn unpack_into(&mut self, folder: &Path) {
        if !folder.is_dir() {
            let why = format!("{}: there is no such folder; make it, or write another one", folder.display());
            self.messages.error("Open a packed file", why);
        } else if let Some(pack) = self.outside.pack.take() {
            self.desk.unpack(pack, folder.to_owned());
        }
    }

    /// Opens what was unpacked, after asking where changes would be lost.
    pub(in crate::app) fn take_unpacked(&mut self, record: PathBuf) {
        self.outside.wanted_file = Some(record);
        self.leave_for(Leaving::Open);
    }

    /// Takes a file as the shop's template.
    pub(in crate::app) fn take_template(&mut self, file: &Path) {
        let paper = PaperPrefs { template: file.display().to_string(), ..self.prefs.paper.clone() };
        self.set_prefs(Prefs { paper, ..self.prefs.clone() });
    }

    /// A file was written for the viewer.
    pub(in crate::app) fn hand_to_viewer(&mut self, file: PathBuf, ctx: &Context) {
        self.messages.remark(format!("Handed to the viewer: {}; print it there", file.display()));
        self.outside.viewer.open(file, ctx);
    }
}

/// The path with an ending that says its form.
pub(in crate::app) fn with_form(path: PathBuf, out: Out) -> PathBuf {
    let own = path.extension().map(|ending| ending.to_string_lossy().to_lowercase()).unwrap_or_default();
    let ending = out.endings().first().copied().unwrap_or_default();
    if out.endings().contains(&own.as_str()) {
        return path;
    }
    // What looks like another ending stays a part of the name.
    let mut name = path.file_name().map(std::ffi::OsStr::to_owned).unwrap_or_default();
    name.push(format!(".{ending}"));
    path.with_file_name(name)
}

/// A file that writing there would replace, or that would stay among new ones; pages as pictures get numbers behind the name.
pub(in crate::app) fn would_replace(path: &Path, out: Out) -> Option<PathBuf> {
    if path.exists() || out != Out::Pictures {
        return path.exists().then(|| path.to_owned());
    }
    let part =
        |part: Option<&std::ffi::OsStr>| part.map(|part| part.to_string_lossy().into_owned()).unwrap_or_default();
    let (stem, ending) = (part(path.file_stem()), part(path.extension()));
    let is_page = |name: &str| {
        let number = name.strip_prefix(&stem).and_then(|rest| rest.strip_prefix('-'));
        let number = number.and_then(|rest| rest.strip_suffix(&ending)).and_then(|rest| rest.strip_suffix('.'));
        number.is_some_and(|number| !number.is_empty() && number.chars().all(|c| c.is_ascii_digit()))
    };
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut pages: Vec<PathBuf> = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .filter(|entry| is_page(&entry.file_name().to_string_lossy()))
        .map(|entry| entry.path())
        .collect();
    pages.sort();
    pages.into_iter().next()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_gets_the_ending_of_its_form_and_keeps_what_it_has() {
        let named = |path: &str, out| with_form(PathBuf::from(path), out).display().to_string();
        assert_eq!(named("/a/sheet", Out::Pdf), "/a/sheet.pdf");
        assert_eq!(named("/a/sheet.PDF", Out::Pdf), "/a/sheet.PDF");
        assert_eq!(named("/a/visit 2.3", Out::Pdf), "/a/visit 2.3.pdf");
        assert_eq!(named("/a/sheet.svg", Out::Pictures), "/a/sheet.svg");
        assert_eq!(named("/a/sheet.jpg", Out::Pictures), "/a/sheet.jpg.png");
        assert_eq!(named("/a/pack", Out::Pack), "/a/pack.zip");
    }
}
