//! Opens the window: the frame of the system round the shell.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use thiserror::Error;

use crate::catalogue::Catalogue;
use crate::desk::{Desk, Folders};

use super::prefs::Prefs;
use super::shell::{Outside, Shell};
use super::theme;

/// Why no window came up.
#[derive(Debug, Error)]
#[error("no window can be opened ({0}); on Linux it needs X11 or Wayland with OpenGL")]
pub struct RunError(String);

/// Opens the window, on a record where one is given, and stays until it is closed.
///
/// # Errors
/// When the system gives no window.
pub fn run(file: Option<&Path>, catalogue: Arc<Catalogue>) -> Result<(), RunError> {
    let prefs_file = Prefs::usual_path();
    let recovery = recovery_folder();
    let (prefs, complaint) = match prefs_file.as_deref().map(Prefs::read) {
        Some(Ok(prefs)) => (prefs, None),
        Some(Err(message)) => (Prefs::default(), Some(message)),
        None => (Prefs::default(), None),
    };
    let file = file.map(Path::to_path_buf);
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_title("Wirewitness")
            .with_app_id("wirewitness")
            .with_inner_size([1366.0, 768.0])
            .with_min_inner_size([800.0, 560.0])
            .with_drag_and_drop(true),
        ..eframe::NativeOptions::default()
    };
    let start = move |cc: &eframe::CreationContext<'_>| -> Result<Box<dyn eframe::App>, Box<dyn std::error::Error + Send + Sync>> {
        theme::install_fonts(&cc.egui_ctx);
        let folders = Folders { recovery, who: prefs.who.clone() };
        let mut desk = Desk::new(catalogue, Arc::new(now), folders);
        let ctx = cc.egui_ctx.clone();
        desk.set_waker(Arc::new(move || ctx.request_repaint()));
        // A preferences file that cannot be read is left as it is: nothing is written over it.
        let prefs_file = if complaint.is_some() { None } else { prefs_file };
        let opener = |file: &Path| open::that(file).map_err(|why| why.to_string());
        let outside = Outside::new(prefs_file, true).with_opener(Arc::new(opener));
        let mut shell = Shell::new(desk, prefs, outside);
        if let Some(message) = complaint {
            shell.say_error("Preferences", &message);
        }
        if let Some(file) = file {
            shell.desk_mut().open(&file);
        }
        Ok(Box::new(Window { shell, title: String::new() }))
    };
    eframe::run_native("wirewitness", options, Box::new(start)).map_err(|error| RunError(error.to_string()))
}

/// Where work is kept that was not saved; none where the system names no such folder.
fn recovery_folder() -> Option<PathBuf> {
    directories::ProjectDirs::from("", "", "wirewitness").map(|dirs| dirs.data_local_dir().join("recovery"))
}

/// Date and time of this computer, as readings carry it.
fn now() -> String {
    jiff::Zoned::now().strftime("%Y-%m-%d %H:%M").to_string()
}

struct Window {
    shell: Shell,
    title: String,
}

impl eframe::App for Window {
    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        let ctx = ui.ctx().clone();
        if ctx.input(|input| input.viewport().close_requested()) && !self.shell.ends() && self.shell.desk().is_changed()
        {
            ctx.send_viewport_cmd(egui::ViewportCommand::CancelClose);
            self.shell.ask_to_leave();
        }
        self.shell.ui(ui);
        let title = self.title_now();
        if title != self.title {
            ctx.send_viewport_cmd(egui::ViewportCommand::Title(title.clone()));
            self.title = title;
        }
        if self.shell.ends() {
            ctx.send_viewport_cmd(egui::ViewportCommand::Close);
        }
    }

    fn clear_color(&self, _visuals: &egui::Visuals) -> [f32; 4] {
        self.shell.prefs().theme.palette().paper.to_normalized_gamma_f32()
    }
}

impl Window {
    fn title_now(&self) -> String {
        let desk = self.shell.desk();
        let title = desk.machine().facts.title.trim();
        let title = if title.is_empty() { "Untitled machine" } else { title };
        let mark = if desk.is_changed() { " (not saved)" } else { "" };
        format!("{title}{mark} – Wirewitness")
    }
}
