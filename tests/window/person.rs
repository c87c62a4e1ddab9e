//! A person at the window: looks for controls by their names, presses them, writes in fields.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::accessibility::is_input;
use egui::{Key, Modifiers, Vec2};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use egui_kittest::{Harness, Node};
use wirewitness::app::{Outside, Prefs, Shell, Stage, theme};
use wirewitness::catalogue::Catalogue;
use wirewitness::desk::{Desk, Folders};
use wirewitness::machine::Point;

/// The time the tests take place at.
pub const NOW: &str = "2026-03-02 10:15";

pub struct Person {
    pub harness: Harness<'static, Shell>,
}

/// What a person has set who has used the program before.
pub fn prefs() -> Prefs {
    Prefs { cautions_read: true, who: "A. Witness".to_owned(), ..Prefs::default() }
}

/// A demonstration machine of the project.
pub fn diagram(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("diagrams").join(name)
}

fn shell(prefs: Prefs, folders: Folders, outside: Outside) -> Shell {
    let catalogue = Catalogue::built_in().unwrap();
    let desk = Desk::new(catalogue, Arc::new(|| NOW.to_owned()), folders);
    Shell::new(desk, prefs, outside)
}

impl Person {
    /// Sits down at a window of this size.
    pub fn at(size: (f32, f32), prefs: Prefs) -> Self {
        Self::with_folders(size, prefs, Folders::default())
    }

    /// As [`Self::at`], with folders that autosaves are kept in.
    pub fn with_folders(size: (f32, f32), prefs: Prefs, folders: Folders) -> Self {
        Self::built(size, shell(prefs, folders, Outside::new(None, false)))
    }

    /// As [`Self::at`], with something of what lies outside the window.
    #[cfg(feature = "sheet")]
    pub fn with_outside(size: (f32, f32), prefs: Prefs, outside: Outside) -> Self {
        Self::built(size, shell(prefs, Folders::default(), outside))
    }

    fn built(size: (f32, f32), shell: Shell) -> Self {
        let harness = Harness::builder()
            .with_size(Vec2::new(size.0, size.1))
            .with_max_steps(24)
            .with_context_setup(theme::install_fonts)
            .build_ui_state(|ui, shell: &mut Shell| shell.ui(ui), shell);
        let mut person = Self { harness };
        person.look();
        person
    }

    /// As [`Self::at`], with a picture to be taken; `None` where this computer has nothing to draw it with.
    pub fn with_pictures(size: (f32, f32), prefs: Prefs) -> Option<Self> {
        let built = std::panic::catch_unwind(|| {
            Harness::builder()
                .with_size(Vec2::new(size.0, size.1))
                .with_max_steps(24)
                .with_context_setup(theme::install_fonts)
                .wgpu()
                .build_ui_state(
                    |ui, shell: &mut Shell| shell.ui(ui),
                    shell(prefs, Folders::default(), Outside::new(None, false)),
                )
        });
        let mut person = Self { harness: built.ok()? };
        person.look();
        Some(person)
    }

    /// Waits until nothing is under way, then looks again.
    pub fn look(&mut self) {
        let begun = Instant::now();
        loop {
            self.harness.run_steps(3);
            let desk = self.harness.state().desk();
            if !desk.is_looking() && !desk.is_following() && desk.jobs().is_empty() {
                break;
            }
            assert!(begun.elapsed() < Duration::from_mins(1), "still at work: {:?}", desk.jobs());
            std::thread::sleep(Duration::from_millis(5));
        }
        self.harness.run_steps(2);
    }

    /// The control with this name.
    #[track_caller]
    fn control<'a>(&'a self, name: &'a str) -> Node<'a> {
        let control = self.harness.query_all_by_label(name).find(|node| is_input(node.accesskit_node().role()));
        control.unwrap_or_else(|| panic!("there is no control '{name}' here, only {:?}", self.names()))
    }

    /// Presses the control with this name.
    #[track_caller]
    pub fn press(&mut self, name: &str) {
        self.control(name).click_accesskit();
        self.look();
    }

    /// Presses the first control whose name has this in it.
    #[track_caller]
    pub fn press_like(&mut self, part: &str) {
        let control =
            self.harness.query_all_by_label_contains(part).find(|node| is_input(node.accesskit_node().role()));
        let control = control.unwrap_or_else(|| panic!("there is nothing like '{part}' here, only {:?}", self.names()));
        control.click_accesskit();
        self.look();
    }

    /// Writes in the field with this name, in place of what stands in it, and presses Enter.
    #[track_caller]
    pub fn write(&mut self, name: &str, text: &str) {
        self.type_in(name, text);
        self.key(Key::Enter);
    }

    /// Writes in the field with this name, in place of what stands in it.
    #[track_caller]
    pub fn type_in(&mut self, name: &str, text: &str) {
        self.control(name).focus();
        self.look();
        self.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        self.look();
        self.control(name).type_text(text);
        self.look();
    }

    /// Types on the keyboard as a person does: each sign is a key and, where something is written in, a letter.
    pub fn types(&mut self, text: &str) {
        for sign in text.chars() {
            if let Some(key) = Key::from_name(&sign.to_uppercase().to_string()) {
                self.harness.key_press(key);
            }
            self.harness.event(egui::Event::Text(sign.to_string()));
            self.harness.run_steps(1);
        }
        self.look();
    }

    /// Opens a record, as a person does who gives its file on the way in.
    pub fn open(&mut self, path: &Path) {
        self.harness.state_mut().desk_mut().open(path);
        self.look();
    }

    /// Opens a copy of a demonstration machine, for tests that write beside it. The copy lies in the folder that is given back.
    #[must_use]
    pub fn open_copy(&mut self, name: &str) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        let copy = folder.path().join(name);
        std::fs::copy(diagram(name), &copy).unwrap();
        self.open(&copy);
        folder
    }

    /// Rests the pointer on what has this name on the canvas.
    #[track_caller]
    pub fn point_at(&mut self, name: &str) {
        self.harness.get_by_label(name).hover();
        self.look();
    }

    /// Clicks on what has this name on the canvas.
    #[track_caller]
    pub fn click_on(&mut self, name: &str) {
        self.harness.get_by_label(name).click();
        self.look();
    }

    /// Moves the pointer to a place of the canvas, in millimetres.
    pub fn move_to(&mut self, at: Point) {
        let at = self.harness.state().on_screen(at);
        self.harness.event(egui::Event::PointerMoved(at));
        self.look();
    }

    /// Clicks on a place of the canvas, in millimetres.
    pub fn click_at(&mut self, at: Point) {
        self.clicks_at(at, 1);
    }

    /// Clicks so many times on a place of the canvas, as quickly as a double click is done.
    pub fn clicks_at(&mut self, at: Point, times: usize) {
        self.move_to(at);
        let pos = self.harness.state().on_screen(at);
        let usual = self.harness.ctx.options(|options| options.input_options.max_double_click_delay);
        // A frame of the tests takes longer than a double click may.
        let delay = |seconds: f64, person: &Self| {
            person.harness.ctx.options_mut(|options| options.input_options.max_double_click_delay = seconds);
        };
        delay(if times > 1 { 10.0 } else { usual }, self);
        for _ in 0..times {
            for pressed in [true, false] {
                let button = egui::PointerButton::Primary;
                self.harness.event(egui::Event::PointerButton { pos, button, pressed, modifiers: Modifiers::NONE });
                self.harness.run_steps(1);
            }
        }
        delay(usual, self);
        self.look();
        // The next click is no second click of a double.
        self.harness.run_steps(30);
        self.look();
    }

    /// Presses a key.
    pub fn key(&mut self, key: Key) {
        self.harness.key_press(key);
        self.look();
    }

    /// Presses a key with the command key held down.
    pub fn command(&mut self, key: Key) {
        self.harness.key_press_modifiers(Modifiers::COMMAND, key);
        self.look();
    }

    /// Goes to a stage by its key.
    pub fn go(&mut self, stage: Stage) {
        let keys = [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5, Key::Num6, Key::Num7, Key::Num8];
        let place = Stage::ALL.iter().position(|&other| other == stage).unwrap();
        self.harness.key_press_modifiers(Modifiers::ALT, keys[place]);
        self.look();
        assert_eq!(self.harness.state().view().stage, stage);
    }

    /// Whether something with this in its name or text can be found.
    pub fn sees(&self, part: &str) -> bool {
        self.harness.query_all_by_label_contains(part).next().is_some()
    }

    /// Every name that can be found, for messages of tests.
    pub fn names(&self) -> Vec<String> {
        let mut names = Vec::new();
        let mut open = vec![self.harness.root()];
        while let Some(node) = open.pop() {
            names.extend(node.accesskit_node().label());
            open.extend(node.children());
        }
        names.sort();
        names
    }
}
