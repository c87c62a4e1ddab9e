//! Files, dialogs, drops, preferences, and leaving: the part of carrying out that reaches outside the window.

use std::path::{Path, PathBuf};

use egui::Context;

use crate::machine::Spot;
use crate::quantity::Function;

use super::action::Action;
use super::paper::{Out, with_form, would_replace};
use super::prefs::{Prefs, TEXT_SIZES};
use super::request::{FileRequest, PracticeRequest, Requests};
use super::shell::Shell;
use super::stage::Stage;
use super::view::{Asked, Leaving, Overlay};

impl Shell {
    pub(super) fn file(&mut self, ctx: &Context, request: FileRequest) {
        match request {
            FileRequest::Path(path) => {
                if let Some(bar) = &mut self.view.file_bar {
                    bar.path = path;
                    bar.replaces = false;
                }
            }
            FileRequest::TakePath => self.take_path(),
            FileRequest::Browse => self.browse(ctx),
            FileRequest::Close => {
                self.view.file_bar = None;
                self.outside.after_save = None;
            }
            FileRequest::AddPhotos(paths) => self.add_photos(paths),
            FileRequest::Recover(place) => {
                if place < self.recoveries.len() {
                    let kept = self.recoveries.remove(place);
                    self.desk.recover(&kept);
                }
                self.view.overlay = Overlay::None;
            }
            FileRequest::DiscardRecovery(place) => {
                if place < self.recoveries.len() {
                    let kept = self.recoveries.remove(place);
                    self.desk.discard(&kept);
                }
                if self.recoveries.is_empty() {
                    self.view.overlay = Overlay::None;
                }
            }
            FileRequest::SaveAndGoOn => {
                if let Overlay::Unsaved(leaving) = self.view.overlay {
                    self.outside.after_save = Some(leaving);
                    self.view.overlay = Overlay::None;
                    if !self.desk.save() {
                        self.ask_file(Asked::Save);
                    }
                }
            }
            FileRequest::Stay => {
                self.view.overlay = Overlay::None;
                self.outside.wanted_file = None;
                self.outside.after_save = None;
            }
            FileRequest::ShopFolder(folder) => self.outside.shop_folder = folder,
            FileRequest::LookThrough => {
                let folder = PathBuf::from(self.outside.shop_folder.trim());
                if folder.is_dir() {
                    self.desk.look_through(folder);
                } else {
                    let why = format!("{}: there is no such folder; check the name", folder.display());
                    self.messages.error("Machines of a folder", why);
                }
            }
            FileRequest::OpenThis(path) => {
                self.view.overlay = Overlay::None;
                self.outside.wanted_file = Some(path);
                self.leave_for(Leaving::Open);
            }
            FileRequest::GoOn => {
                if let Overlay::Unsaved(leaving) = self.view.overlay {
                    self.view.overlay = Overlay::None;
                    self.go_on(leaving);
                }
            }
        }
    }

    fn take_path(&mut self) {
        let Some(bar) = &mut self.view.file_bar else { return };
        let path = PathBuf::from(bar.path.trim());
        let asked = bar.asked;
        if let Asked::Out(what) = asked {
            let path = with_form(path, what);
            if would_replace(&path, what).is_some() && !bar.replaces {
                bar.path = path.display().to_string();
                bar.replaces = true;
                return;
            }
            self.view.file_bar = None;
            self.write_out(what, &path);
        } else if asked == Asked::Save {
            let path = with_ending(path);
            let own = self.desk.path() == Some(path.as_path());
            if path.exists() && !own && !bar.replaces {
                bar.path = path.display().to_string();
                bar.replaces = true;
                return;
            }
            let replaces = bar.replaces;
            self.view.file_bar = None;
            self.desk.save_as(&path, replaces);
        } else {
            self.view.file_bar = None;
            self.take_picked(asked, vec![path]);
        }
    }

    fn take_picked(&mut self, asked: Asked, paths: Vec<PathBuf>) {
        match asked {
            Asked::Open => match paths.into_iter().next() {
                Some(path) if is_pack(&path) => self.take_pack(path),
                Some(path) => self.desk.open(&path),
                None => {}
            },
            // The dialog has asked about the file of just this name, and about no other.
            Asked::Out(what) => {
                if let Some(path) = paths.into_iter().next() {
                    let named = with_form(path.clone(), what);
                    let asked_about = named == path && path.exists();
                    if would_replace(&named, what).is_some() && !(asked_about && what != Out::Pictures) {
                        let path = named.display().to_string();
                        self.view.file_bar = Some(super::view::FileBar { asked, path, replaces: true });
                    } else {
                        self.write_out(what, &named);
                    }
                }
            }
            Asked::Pack => {
                if let Some(path) = paths.into_iter().next() {
                    self.take_pack(path);
                }
            }
            Asked::UnpackInto => {
                if let Some(path) = paths.into_iter().next() {
                    self.unpack_into(&path);
                }
            }
            Asked::Template => {
                if let Some(path) = paths.into_iter().next() {
                    self.take_template(&path);
                }
            }
            // The system's dialog has asked whether the file of just this name is to be replaced; nothing was asked of
            // a name that gets its ending here, nor about the record's own file, which another may have changed.
            Asked::Save => {
                if let Some(path) = paths.into_iter().next() {
                    let named = with_ending(path.clone());
                    let replaces = named == path && self.desk.path() != Some(named.as_path());
                    self.desk.save_as(&named, replaces);
                }
            }
            Asked::Photos => self.add_photos(paths),
        }
    }

    fn add_photos(&mut self, paths: Vec<PathBuf>) {
        let at = self.photo_place();
        self.desk.add_photos(paths, at);
    }

    fn browse(&mut self, ctx: &Context) {
        let Some(bar) = &self.view.file_bar else { return };
        let beside = match bar.asked {
            Asked::UnpackInto => self.outside.pack.as_deref(),
            _ => self.desk.path(),
        };
        let folder = beside.and_then(Path::parent).map(Path::to_path_buf);
        let name = match bar.asked {
            Asked::Out(out) => self.name_for(out),
            _ => format!("{}.ron", title_words(&self.desk.machine().facts.title)),
        };
        self.outside.dialogs.ask(bar.asked, folder, name, ctx);
    }

    pub(super) fn take_dialogs(&mut self, ctx: &Context) {
        if std::mem::take(&mut self.outside.browse_wanted) {
            self.browse(ctx);
        }
        for picked in self.outside.dialogs.collect() {
            let still_asked = self.view.file_bar.as_ref().is_some_and(|bar| bar.asked == picked.asked);
            if !picked.paths.is_empty() && still_asked {
                self.view.file_bar = None;
                self.take_picked(picked.asked, picked.paths);
            }
        }
    }

    /// The machines of a folder; to begin with, of the one that the record lies in.
    pub(super) fn show_machines(&mut self) {
        let own = self.desk.path().and_then(Path::parent).filter(|folder| !folder.as_os_str().is_empty());
        if self.outside.shop_folder.is_empty()
            && let Some(folder) = own
        {
            self.outside.shop_folder = folder.display().to_string();
            self.desk.look_through(folder.to_owned());
        }
        self.view.overlay = Overlay::Machines;
    }

    /// Files dropped on the window: a record is opened, anything else is taken for a photo.
    pub(super) fn take_drops(&mut self, ctx: &Context, out: &mut Requests) {
        let dropped = ctx.input(|input| input.raw.dropped_files.clone());
        let paths: Vec<PathBuf> = dropped
            .into_iter()
            .map(|file| file.path().to_path_buf())
            .filter(|path| !path.as_os_str().is_empty())
            .collect();
        let (packs, paths): (Vec<PathBuf>, Vec<PathBuf>) = paths.into_iter().partition(|path| is_pack(path));
        if let Some(pack) = packs.into_iter().next() {
            self.take_pack(pack);
        }
        let (records, photos): (Vec<PathBuf>, Vec<PathBuf>) = paths
            .into_iter()
            .partition(|path| path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("ron")));
        if let Some(record) = records.into_iter().next() {
            self.outside.wanted_file = Some(record);
            self.leave_for(Leaving::Open);
        }
        if !photos.is_empty() {
            out.file(FileRequest::AddPhotos(photos));
        }
    }

    /// What is pasted while nothing is written in: a copied picture, or the paths of copied files, is put in as photos.
    pub(super) fn take_pasted(&mut self, ctx: &Context, out: &mut Requests) {
        if self.view.overlay != Overlay::None {
            return;
        }
        let writing = ctx.text_edit_focused();
        let events = ctx.input(|input| input.events.clone());
        for event in events {
            match event {
                egui::Event::PasteImage(image) => {
                    let [width, height] = image.size.map(|edge| u32::try_from(edge).unwrap_or(0));
                    let rgba = image.pixels.iter().flat_map(egui::Color32::to_srgba_unmultiplied).collect();
                    let at = self.photo_place();
                    match image::RgbaImage::from_raw(width, height, rgba) {
                        Some(picture) if width > 0 && height > 0 => self.desk.add_picture(picture, at),
                        _ => self
                            .messages
                            .error("Paste", "The copied picture is empty. Copy it again, or drop its file here."),
                    }
                }
                egui::Event::Paste(text) if !writing => {
                    let paths = pasted_paths(&text);
                    if paths.is_empty() {
                        self.messages.error(
                            "Paste",
                            "What was copied is no picture and no file. Copy the picture itself or its file; or drop the file on the window.",
                        );
                    } else {
                        out.file(FileRequest::AddPhotos(paths));
                    }
                }
                _ => {}
            }
        }
    }

    /// Begins to leave the record: at once when nothing would be lost, else after asking.
    pub(super) fn leave_for(&mut self, leaving: Leaving) {
        if self.desk.is_changed() {
            self.view.overlay = Overlay::Unsaved(leaving);
        } else {
            self.go_on(leaving);
        }
    }

    pub(super) fn go_on(&mut self, leaving: Leaving) {
        match leaving {
            Leaving::Quit => {
                self.desk.discard_autosave();
                self.outside.ends = true;
            }
            Leaving::New => {
                self.desk.new_machine();
                let view = super::view::View { shown: self.view.shown, stage: self.view.stage, ..Default::default() };
                self.view = view;
                (self.view.shown.paper.wanted, self.view.shown.paper.page) = (false, 0);
            }
            Leaving::Open => match self.outside.wanted_file.take() {
                Some(path) => self.desk.open(&path),
                None => self.ask_file(Asked::Open),
            },
            Leaving::Practise => {
                let seed = self.desk.seed();
                if let Err(why) = self.desk.practise(seed) {
                    self.messages.error("Practice", why.to_string());
                }
            }
        }
    }

    /// Carries out what was asked at practice.
    pub(super) fn practise(&mut self, request: PracticeRequest) {
        match request {
            PracticeRequest::Take => self.take_reading(),
            PracticeRequest::Hint => {
                self.desk.hint();
                self.view.stage = Stage::Mysteries;
                self.view.list_hidden = false;
            }
            PracticeRequest::Say(mystery, candidate) => self.desk.say(mystery, candidate),
            PracticeRequest::Finish => {
                self.desk.finish_practice();
                self.view.stage = Stage::Mysteries;
                self.view.list_hidden = false;
            }
        }
    }

    fn take_reading(&mut self) {
        let entry = &self.view.entry;
        let (Some(function), Some(red)) = (entry.function, self.view.probes.red.clone()) else {
            self.messages.error("No reading", "Set the red probe, and choose what the meter is set to.");
            return;
        };
        // What is looked at is a part, and needs no second probe.
        let red = match red {
            Spot::Terminal(terminal) if function == Function::Runs => Spot::Part(terminal.part),
            red => red,
        };
        let black = self.view.probes.black.clone().filter(|_| function != Function::Runs);
        if black.is_none() && !matches!(function, Function::Runs | Function::Amps) {
            self.messages.error("No reading", "Set the black probe first: point at a terminal and press 2.");
            return;
        }
        match self.desk.take_reading(red, black, function) {
            // The bar says what was shown.
            Some(Ok(_)) => self.view.entry.logged = true,
            Some(Err(refusal)) => {
                let title = if refusal.is_forbidden() { "Not to be tried" } else { "No reading" };
                self.messages.error(title, refusal.words());
            }
            None => self.messages.remark("The session is finished; begin another one from the menu.".to_owned()),
        }
    }

    pub(super) fn dress(&mut self, action: Action) {
        let mut prefs = self.prefs.clone();
        match action {
            Action::Look(theme) => prefs.theme = theme,
            Action::LargerText => prefs.text_size = (prefs.text_size + 1).min(TEXT_SIZES.1),
            Action::SmallerText => prefs.text_size = prefs.text_size.saturating_sub(1).max(TEXT_SIZES.0),
            Action::ToggleTouch => prefs.touch = !prefs.touch,
            _ => {}
        }
        self.set_prefs(prefs);
    }

    /// Keeps what the person has set, on this computer.
    pub(super) fn set_prefs(&mut self, prefs: Prefs) {
        if prefs == self.prefs {
            return;
        }
        self.prefs = prefs;
        self.desk.set_who(&self.prefs.who);
        if let Some(path) = &self.outside.prefs_file
            && let Err(message) = self.prefs.write(path)
        {
            self.messages.error("Preferences", message);
        }
    }
}

/// A title as the name of a file.
fn title_words(title: &str) -> String {
    let title = title.trim();
    let name = if title.is_empty() { "machine" } else { title };
    name.chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect::<String>().to_lowercase()
}

/// Whether a file has the ending of a packed record.
fn is_pack(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("zip"))
}

/// The path with the ending of a record, where it has none.
fn with_ending(path: PathBuf) -> PathBuf {
    if path.extension().is_some() { path } else { path.with_extension("ron") }
}

/// The files that copied text names, a line each: as paths, or as `file:` addresses with their escapes (RFC 8089, RFC 3986 2.1).
fn pasted_paths(text: &str) -> Vec<PathBuf> {
    text.lines().map(str::trim).filter_map(pasted_path).filter(|path| path.is_file()).collect()
}

fn pasted_path(line: &str) -> Option<PathBuf> {
    let Some(address) = line.strip_prefix("file://") else {
        return (!line.is_empty()).then(|| PathBuf::from(line));
    };
    let path = address.get(address.find('/')?..)?;
    let mut bytes = Vec::with_capacity(path.len());
    let mut rest = path.bytes();
    while let Some(byte) = rest.next() {
        let escaped = if byte == b'%' {
            let digits = [rest.next()?, rest.next()?].map(|digit| char::from(digit).to_digit(16));
            let [Some(high), Some(low)] = digits else { return None };
            u8::try_from(high * 16 + low).ok()?
        } else {
            byte
        };
        bytes.push(escaped);
    }
    String::from_utf8(bytes).ok().map(PathBuf::from)
}

#[cfg(test)]
mod pasted {
    use super::*;

    #[test]
    fn copied_files_are_found_by_path_and_by_address() {
        assert_eq!(pasted_path("/tmp/a b.jpg"), Some(PathBuf::from("/tmp/a b.jpg")));
        assert_eq!(pasted_path("file:///tmp/a%20b.jpg"), Some(PathBuf::from("/tmp/a b.jpg")));
        assert_eq!(pasted_path("file://localhost/tmp/%C3%A4.png"), Some(PathBuf::from("/tmp/ä.png")));
        for odd in ["", "file://", "file:///%", "file:///%zz", "file:///%ff"] {
            assert_eq!(pasted_path(odd), None, "{odd}");
        }
        assert!(pasted_paths("no such file\nnor this").is_empty());
    }
}
