//! The system's own file dialogs, each on a thread of its own so that the window never waits.

use std::path::PathBuf;
use std::sync::mpsc::{Receiver, Sender, channel};

use super::view::Asked;

/// What a dialog came back with. No paths: it was left, or the system has no dialog to show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picked {
    /// What was asked for.
    pub asked: Asked,
    /// What was chosen.
    pub paths: Vec<PathBuf>,
}

/// The dialogs that are open, and the way their answers come back.
#[derive(Debug)]
pub struct Dialogs {
    sender: Sender<Picked>,
    receiver: Receiver<Picked>,
    open: Option<Asked>,
}

impl Default for Dialogs {
    fn default() -> Self {
        let (sender, receiver) = channel();
        Self { sender, receiver, open: None }
    }
}

impl Dialogs {
    /// Shows a dialog, unless one is open.
    pub fn ask(&mut self, asked: Asked, folder: Option<PathBuf>, name: String, ctx: &egui::Context) {
        if self.open.is_some() {
            return;
        }
        self.open = Some(asked);
        let (sender, ctx) = (self.sender.clone(), ctx.clone());
        let started = std::thread::Builder::new().name("dialog".to_owned()).spawn(move || {
            let mut dialog = rfd::FileDialog::new();
            if let Some(folder) = folder {
                dialog = dialog.set_directory(folder);
            }
            let paths = match asked {
                Asked::Open => dialog.add_filter("Records", &["ron"]).pick_file().into_iter().collect(),
                Asked::Save => {
                    dialog.add_filter("Records", &["ron"]).set_file_name(name).save_file().into_iter().collect()
                }
                Asked::Out(out) => {
                    let dialog = dialog.add_filter(out.words(), out.endings());
                    dialog.set_file_name(name).save_file().into_iter().collect()
                }
                Asked::Pack => dialog.add_filter("Packed records", &["zip"]).pick_file().into_iter().collect(),
                Asked::UnpackInto => dialog.pick_folder().into_iter().collect(),
                Asked::Template => dialog.add_filter("Templates", &["typ"]).pick_file().into_iter().collect(),
                Asked::Photos => {
                    let kinds = ["jpg", "jpeg", "png", "webp", "tif", "tiff"];
                    dialog.add_filter("Photos", &kinds).pick_files().unwrap_or_default()
                }
            };
            // The window may be gone by now; then nobody waits for the answer.
            drop(sender.send(Picked { asked, paths }));
            ctx.request_repaint();
        });
        if started.is_err() {
            self.open = None;
        }
    }

    /// The answers that have come in.
    pub fn collect(&mut self) -> Vec<Picked> {
        let picked: Vec<Picked> = self.receiver.try_iter().collect();
        if !picked.is_empty() {
            self.open = None;
        }
        picked
    }
}
