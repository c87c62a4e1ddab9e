//! Hands a file to the program of this system that shows it, on a thread of its own so that the window never waits.

use std::fmt;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};

/// Hands a file to the program that shows such files; says why that did not work.
pub type Opener = Arc<dyn Fn(&Path) -> Result<(), String> + Send + Sync>;

/// The way to the viewer, and what came back from there.
pub struct Viewer {
    opener: Option<Opener>,
    sender: Sender<(PathBuf, String)>,
    receiver: Receiver<(PathBuf, String)>,
}

impl Default for Viewer {
    fn default() -> Self {
        let (sender, receiver) = channel();
        Self { opener: None, sender, receiver }
    }
}

impl fmt::Debug for Viewer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Viewer").field("is_there", &self.opener.is_some()).finish_non_exhaustive()
    }
}

impl Viewer {
    /// With a way to open files.
    pub fn new(opener: Opener) -> Self {
        Self { opener: Some(opener), ..Self::default() }
    }

    /// Hands a file over. What goes wrong is collected later.
    pub fn open(&self, file: PathBuf, ctx: &egui::Context) {
        let (sender, ctx) = (self.sender.clone(), ctx.clone());
        let failed = |file: PathBuf, why: String| {
            // The window is there: it holds the other end.
            drop(self.sender.send((file, why)));
        };
        let Some(opener) = self.opener.clone() else {
            failed(file, "there is no way to it here".to_owned());
            return;
        };
        let own = file.clone();
        let started = std::thread::Builder::new().name("viewer".to_owned()).spawn(move || {
            if let Err(why) = opener(&own) {
                // The window may be gone by now; then nobody waits for it.
                drop(sender.send((own, why)));
                ctx.request_repaint();
            }
        });
        if let Err(why) = started {
            failed(file, why.to_string());
        }
    }

    /// Files that no program would show, each with the reason.
    pub fn failed(&self) -> Vec<(PathBuf, String)> {
        self.receiver.try_iter().collect()
    }
}
