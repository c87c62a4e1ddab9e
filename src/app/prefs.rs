//! What a person has set for this program on this computer: colours, size of writing, touch, name, meter. Kept in one small file.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::theme::{Look, Theme};

/// Smallest and largest writing, in points.
pub const TEXT_SIZES: (u8, u8) = (11, 24);

/// What a person has set.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Prefs {
    /// Colours.
    pub theme: Theme,
    /// Height of the writing in points.
    pub text_size: u8,
    /// Large targets.
    pub touch: bool,
    /// Nothing slides or fades.
    pub reduced_motion: bool,
    /// Who takes the readings.
    pub who: String,
    /// The meter used last, by name.
    pub meter: String,
    /// The cautions were read on this computer.
    pub cautions_read: bool,
    /// The paper in the printer here.
    pub paper: PaperPrefs,
}

/// What a person has set for paper.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct PaperPrefs {
    /// Letter, not A4.
    pub letter: bool,
    /// Every page on its long side.
    pub landscape: bool,
    /// Path of the shop's own template; empty where there is none.
    pub template: String,
}

impl Default for Prefs {
    fn default() -> Self {
        Self {
            theme: Theme::Day,
            text_size: 13,
            touch: false,
            reduced_motion: true,
            who: String::new(),
            meter: String::new(),
            cautions_read: false,
            paper: PaperPrefs::default(),
        }
    }
}

impl Prefs {
    /// The look they ask for.
    pub fn look(&self) -> Look {
        Look {
            theme: self.theme,
            text_size: f32::from(self.text_size.clamp(TEXT_SIZES.0, TEXT_SIZES.1)),
            touch: self.touch,
            still: self.reduced_motion,
        }
    }

    /// Where they are kept for this person on this computer; none where the system names no such folder.
    pub fn usual_path() -> Option<PathBuf> {
        directories::ProjectDirs::from("", "", "wirewitness").map(|dirs| dirs.config_dir().join("window.json"))
    }

    /// Reads them. A file that is not there gives the usual ones.
    ///
    /// # Errors
    /// A sentence that names the file and what is wrong with it; it is then left as it is.
    pub fn read(path: &Path) -> Result<Self, String> {
        match fs::read_to_string(path) {
            Ok(text) => serde_json::from_str(&text).map_err(|error| {
                format!(
                    "The window's preferences in {} cannot be read ({error}). The usual ones are used; mend the file or remove it.",
                    path.display()
                )
            }),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(Self::default()),
            Err(error) => Err(format!("The window's preferences in {} cannot be read: {error}.", path.display())),
        }
    }

    /// Writes them, whole or not at all.
    ///
    /// # Errors
    /// A sentence that names the file and what went wrong.
    pub fn write(&self, path: &Path) -> Result<(), String> {
        let failed =
            |error: std::io::Error| format!("The window's preferences cannot be kept in {}: {error}.", path.display());
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(failed)?;
        }
        let text = serde_json::to_string_pretty(self).map_err(|error| failed(error.into()))?;
        let mut file = atomic_write_file::AtomicWriteFile::open(path).map_err(failed)?;
        file.write_all(text.as_bytes()).map_err(failed)?;
        file.commit().map_err(failed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_set_is_read_back_and_a_missing_file_gives_the_usual() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("deep/window.json");
        assert_eq!(Prefs::read(&path), Ok(Prefs::default()));
        let prefs = Prefs { theme: Theme::Sun, text_size: 18, who: "A. N. Other".into(), ..Prefs::default() };
        prefs.write(&path).unwrap();
        assert_eq!(Prefs::read(&path), Ok(prefs));
    }

    #[test]
    fn a_damaged_file_is_named_and_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("window.json");
        fs::write(&path, "{ not json").unwrap();
        let message = Prefs::read(&path).unwrap_err();
        assert!(message.contains("window.json"), "{message}");
        assert_eq!(fs::read_to_string(&path).unwrap(), "{ not json");
    }
}
