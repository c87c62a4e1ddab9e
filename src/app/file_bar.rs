//! The line in which a file is asked for by its path. It stands beside the system's dialog, which not every system has.

use egui::Ui;

use super::paper::Out;
use super::request::{FileRequest, Requests};
use super::scope::Scope;
use super::view::{Asked, FileBar};
use super::widgets::{Field, field, strong, wrong};

impl Asked {
    /// What is asked, in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Open => "Open a record",
            Self::Save => "Save the record",
            Self::Photos => "Add a photo",
            Self::Out(out) => out.words(),
            Self::Pack => "Open a packed file",
            Self::UnpackInto => "Unpack it into a folder",
            Self::Template => "The shop's template",
        }
    }

    fn path_name(self) -> &'static str {
        match self {
            Self::Open => "Path of the record to open",
            Self::Save => "Path to save the record to",
            Self::Photos => "Path of the photo to add",
            Self::Out(out) => out.path_name(),
            Self::Pack => "Path of the packed file",
            Self::UnpackInto => "Folder to unpack it into",
            Self::Template => "Path of the template",
        }
    }
}

/// Draws the line.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, bar: &FileBar, out: &mut Requests) {
    ui.horizontal(|ui| {
        strong(ui, bar.asked.words());
        let verb = match (bar.asked, bar.replaces) {
            (Asked::Open, _) => "Open it",
            (Asked::Save, false) => "Save it",
            (Asked::Out(_), false) => "Write it",
            (Asked::Save | Asked::Out(_), true) => "Replace the file",
            (Asked::Photos, _) => "Add it",
            (Asked::Pack, _) => "Go on",
            (Asked::UnpackInto, _) => "Unpack it",
            (Asked::Template, _) => "Use it",
        };
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            if ui.button("Leave it").clicked() {
                out.file(FileRequest::Close);
            }
            if ui.button("Browse…").on_hover_text("Ask the system's own dialog, where there is one").clicked() {
                out.file(FileRequest::Browse);
            }
            if ui.add_enabled(!bar.path.trim().is_empty(), egui::Button::new(verb)).clicked() {
                out.file(FileRequest::TakePath);
            }
            let shown = Field::new("", &bar.path).hint("path").known_as(bar.asked.path_name());
            let written = field(ui, ("path", bar.asked), shown);
            if let Some(path) = written.changed {
                out.file(FileRequest::Path(path));
            }
            if written.entered && !bar.path.trim().is_empty() {
                out.file(FileRequest::TakePath);
            }
        });
    });
    if bar.replaces {
        let words = match bar.asked {
            Asked::Out(Out::Pictures) => {
                "Pages of this name lie there already. They are replaced without keeping the old ones; those beyond the last new page stay."
            }
            Asked::Out(_) => "A file lies there already. Replacing it does not keep the old one.",
            _ => "A file lies there already. Replacing it keeps the old one as the previous version.",
        };
        wrong(ui, scope.palette, words);
    }
}
