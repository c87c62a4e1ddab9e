//! Keys to actions. A key belongs to the field that is written in before it belongs to the window.

use egui::{Context, KeyboardShortcut};

use super::action::Action;
use super::request::Requests;
use super::stage::Stage;
use super::view::{Overlay, View};

/// Takes the keys of this frame that ask for an action.
pub fn take(ctx: &Context, view: &View, out: &mut Requests) {
    // What asks for an answer is not to be passed over by a key.
    if matches!(view.overlay, Overlay::Caution | Overlay::Recovery) {
        return;
    }
    let writing = ctx.text_edit_focused();
    let pointing = ctx.memory(|memory| memory.focused().is_some());
    let mut keys: Vec<(KeyboardShortcut, Action)> = Action::ALL
        .into_iter()
        .filter(|action| !(writing && action.yields_to_writing()))
        .filter(|&action| is_meant(action, view, pointing))
        .flat_map(|action| action.keys().into_iter().map(move |keys| (keys, action)))
        .collect();
    // A key pressed with more held down is the more special one: Shift+Ctrl+Z before Ctrl+Z.
    keys.sort_by_key(|(keys, _)| {
        let held = keys.modifiers;
        std::cmp::Reverse(u8::from(held.shift) + u8::from(held.alt) + u8::from(held.command))
    });
    for (keys, action) in keys {
        if ctx.input_mut(|input| input.consume_shortcut(&keys)) {
            out.act(action);
        }
    }
}

/// Enter logs only where a reading is being entered, and never takes the place of pressing the key that has the focus.
fn is_meant(action: Action, view: &View, pointing: bool) -> bool {
    match action {
        Action::LogReading => view.stage == Stage::Readings && !pointing && !view.entry.text.trim().is_empty(),
        _ => true,
    }
}
