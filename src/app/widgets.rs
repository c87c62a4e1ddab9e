//! Small pieces that every list and card is made of: named fields, choosers, headings, keys.

use egui::{Id, RichText, TextEdit, Ui, WidgetText};

use super::theme::{Palette, bold};

/// Gives a control the name that screen readers and tests know it by.
pub fn name(ui: &Ui, id: Id, name: &str) {
    ui.ctx().accesskit_node_builder(id, |node| node.set_label(name));
}

/// A line of writing that stands back.
pub fn faint(ui: &mut Ui, palette: &Palette, text: impl Into<String>) {
    ui.add(egui::Label::new(RichText::new(text).color(palette.faint)).wrap());
}

/// A line of strong writing.
pub fn strong(ui: &mut Ui, text: impl Into<String>) {
    ui.add(egui::Label::new(RichText::new(text).family(bold())).wrap());
}

/// A heading over a group of fields, with a line above it.
pub fn group(ui: &mut Ui, title: &str) {
    ui.add_space(6.0);
    ui.separator();
    strong(ui, title);
}

/// Says what is wrong with an entry.
pub fn wrong(ui: &mut Ui, palette: &Palette, text: impl Into<String>) {
    ui.add(egui::Label::new(RichText::new(text).color(palette.disputes)).wrap());
}

/// A field of writing with its name before it.
#[derive(Debug, Clone, Copy)]
pub struct Field<'a> {
    /// Its name: visible, and the name it is known by.
    pub name: &'a str,
    /// The name it is known by where the visible one is too short to tell.
    pub full_name: Option<&'a str>,
    /// What is in the record.
    pub value: &'a str,
    /// What could be written, shown while it is empty.
    pub hint: &'a str,
    /// Several lines.
    pub lines: usize,
}

impl<'a> Field<'a> {
    /// A field of one line.
    pub fn new(name: &'a str, value: &'a str) -> Self {
        Self { name, full_name: None, value, hint: "", lines: 1 }
    }

    /// With a hint.
    pub fn hint(self, hint: &'a str) -> Self {
        Self { hint, ..self }
    }

    /// With the name it is known by.
    pub fn known_as(self, full_name: &'a str) -> Self {
        Self { full_name: Some(full_name), ..self }
    }

    /// With several lines.
    pub fn lines(self, lines: usize) -> Self {
        Self { lines, ..self }
    }
}

/// What became of a field in this frame.
#[derive(Debug, Clone, Default)]
pub struct Written {
    /// What it was changed to in this frame.
    pub changed: Option<String>,
    /// What stands in it while it is being written in.
    pub draft: Option<String>,
    /// Enter was pressed in it.
    pub entered: bool,
    /// Changes made in one go at the field share this key.
    pub key: String,
}

#[derive(Debug, Clone, Default)]
struct Draft {
    text: String,
    begun: u64,
}

/// Width of the names before fields, in points.
pub fn name_width(ui: &Ui) -> f32 {
    (egui::TextStyle::Body.resolve(ui.style()).size * 6.2).min(ui.available_width() * 0.4)
}

/// Draws a row: its name at the left, what is added at the right.
pub fn row<R>(ui: &mut Ui, row_name: &str, add: impl FnOnce(&mut Ui) -> R) -> R {
    ui.horizontal_top(|ui| {
        let width = name_width(ui);
        let height = ui.spacing().interact_size.y;
        ui.allocate_ui_with_layout(egui::vec2(width, height), egui::Layout::left_to_right(egui::Align::Center), |ui| {
            ui.set_min_width(width);
            let faint = ui.visuals().weak_text_color();
            ui.add(egui::Label::new(RichText::new(row_name).color(faint)).truncate());
        });
        // What does not fit beside the name goes on below: a row is never wider than its card.
        let room = egui::vec2(ui.available_width(), height);
        let layout = egui::Layout::left_to_right(egui::Align::Center).with_main_wrap(true);
        ui.allocate_ui_with_layout(room, layout, add).inner
    })
    .inner
}

/// Draws a field with its name before it.
///
/// While it is written in, the field keeps what was written apart from the record, so that what cannot be read yet
/// is not lost; when it is left, it shows the record again.
pub fn field(ui: &mut Ui, salt: impl std::hash::Hash + std::fmt::Debug, field: Field<'_>) -> Written {
    let id = ui.scope_id().with(("field", format!("{salt:?}")));
    if field.name.is_empty() { bare_field(ui, id, field) } else { row(ui, field.name, |ui| bare_field(ui, id, field)) }
}

fn bare_field(ui: &mut Ui, id: Id, field: Field<'_>) -> Written {
    let focused = ui.memory(|memory| memory.has_focus(id));
    let mut draft: Draft = if focused { ui.data(|data| data.get_temp(id)) } else { None }
        .unwrap_or_else(|| Draft { text: field.value.to_owned(), begun: ui.ctx().cumulative_frame_nr() });
    let edit = if field.lines > 1 {
        TextEdit::multiline(&mut draft.text).desired_rows(field.lines)
    } else {
        TextEdit::singleline(&mut draft.text)
    };
    let height = ui.spacing().interact_size.y;
    let response = ui
        .add(edit.id(id).hint_text(field.hint).desired_width(ui.available_width()).min_size(egui::vec2(40.0, height)));
    name(ui, response.id, field.full_name.unwrap_or(field.name));
    let written = Written {
        changed: response.changed().then(|| draft.text.clone()),
        draft: response.has_focus().then(|| draft.text.clone()),
        entered: response.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter)),
        key: format!("{id:?}-{}", draft.begun),
    };
    if response.has_focus() || response.changed() {
        ui.data_mut(|data| data.insert_temp(id, draft));
    }
    written
}

/// Draws a chooser with its name before it; returns the place of the choice that was made.
pub fn choose(
    ui: &mut Ui,
    salt: impl std::hash::Hash + std::fmt::Debug,
    chooser_name: &str,
    shown: &str,
    options: &[(String, bool)],
) -> Option<usize> {
    row(ui, chooser_name, |ui| choose_bare(ui, salt, chooser_name, shown, options))
}

/// As [`choose`], without the name before it; it is still known by that name.
pub fn choose_bare(
    ui: &mut Ui,
    salt: impl std::hash::Hash + std::fmt::Debug,
    chooser_name: &str,
    shown: &str,
    options: &[(String, bool)],
) -> Option<usize> {
    let mut chosen = None;
    let response = egui::ComboBox::from_id_salt(("choose", format!("{salt:?}")))
        .selected_text(shown)
        .width(ui.available_width().min(320.0))
        .height(420.0)
        .truncate()
        .show_ui(ui, |ui| {
            for (place, (text, selected)) in options.iter().enumerate() {
                if ui.selectable_label(*selected, text).clicked() {
                    chosen = Some(place);
                    // Also for whoever chooses without a pointer, whose press does not close the list by itself.
                    ui.close();
                }
            }
        });
    name(ui, response.response.id, chooser_name);
    chosen
}

/// A check box; returns what it was changed to.
pub fn tick(ui: &mut Ui, on: bool, text: impl Into<WidgetText>) -> Option<bool> {
    let mut now = on;
    let text: WidgetText = text.into();
    ui.checkbox(&mut now, text).changed().then_some(now)
}

/// Whether something is said to be so, said not to be so, or not said: three keys side by side.
/// The outer `None` says that nothing was pressed.
#[allow(clippy::option_option)] // 'not said' is one of the three answers
pub fn three_ways(ui: &mut Ui, about: &str, said: Option<bool>, words: [&str; 3]) -> Option<Option<bool>> {
    let mut chosen = None;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 2.0;
        for (value, word) in [(Some(true), words[0]), (Some(false), words[1]), (None, words[2])] {
            let response = ui.add(egui::Button::selectable(said == value, word));
            name(ui, response.id, &format!("{about}: {word}"));
            if response.clicked() && said != value {
                chosen = Some(value);
            }
        }
    });
    chosen
}
