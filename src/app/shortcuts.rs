//! Keys to actions. A key belongs to the field that is written in before it belongs to the window.

use egui::{Context, Event, Key, KeyboardShortcut, Modifiers};

use super::action::Action;
use super::on_photo::PhotoRequest;
use super::request::{EntryRequest, Requests};
use super::stage::Stage;
use super::view::{Overlay, View};

/// Takes the keys of this frame that ask for an action.
pub fn take(ctx: &Context, view: &View, out: &mut Requests) {
    // What asks for an answer is not to be passed over by a key.
    if matches!(view.overlay, Overlay::Caution | Overlay::Recovery) {
        return;
    }
    on_photo_keys(ctx, view, out);
    value_typed(ctx, view, out);
    let writing = ctx.text_edit_focused();
    let pointing = ctx.memory(|memory| memory.focused().is_some());
    let mut keys: Vec<(KeyboardShortcut, Action)> = Action::ALL
        .into_iter()
        .filter(|action| !(writing && action.yields_to_writing()))
        .filter(|action| !matches!(view.overlay, Overlay::Unsaved(_)) || *action == Action::Cancel)
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

/// While something is done on a photo, Enter ends it and Backspace takes the last point back; neither means anything else.
fn on_photo_keys(ctx: &Context, view: &View, out: &mut Requests) {
    let elsewhere = view.overlay != Overlay::None || view.file_bar.is_some() || ctx.text_edit_focused();
    if !view.on_photo.is_busy() || elsewhere {
        return;
    }
    let pointing = ctx.memory(|memory| memory.focused().is_some());
    let pressed = |key| ctx.input_mut(|input| input.consume_key(Modifiers::NONE, key));
    if pressed(Key::Backspace) || pressed(Key::Delete) {
        out.photo(PhotoRequest::Back);
    }
    // Enter on a key that has the focus presses that key.
    if !pointing && pressed(Key::Enter) {
        out.photo(PhotoRequest::Finish);
    }
}

/// Takes what is typed while a value is awaited and no field is written in, so that no sign of it is lost or means something
/// else: a figure begins a value, and what follows before the field has the writing mark belongs to it.
fn value_typed(ctx: &Context, view: &View, out: &mut Requests) {
    if !view.awaits_value() || view.overlay != Overlay::None || view.file_bar.is_some() || ctx.text_edit_focused() {
        return;
    }
    let mut text = view.entry.text.clone();
    let begun = view.entry.wants_focus;
    let mut taken = false;
    ctx.input_mut(|input| {
        if input.modifiers.command || input.modifiers.alt {
            return;
        }
        input.events.retain(|event| match event {
            Event::Text(more)
                if begun || taken || more.starts_with(|sign: char| sign.is_ascii_digit() || "-.".contains(sign)) =>
            {
                text.push_str(more);
                taken = true;
                false
            }
            _ => true,
        });
    });
    if taken {
        out.entry(EntryRequest::Typed(text));
    }
}

/// Enter logs only where a reading is being entered, and never takes the place of pressing the key that has the focus.
fn is_meant(action: Action, view: &View, pointing: bool) -> bool {
    match action {
        // Pages turn where there are pages; and what cannot be seen there is not to be changed by a key.
        Action::PageBack | Action::PageForward => view.stage == Stage::Sheet,
        Action::Remove
        | Action::Duplicate
        | Action::Turn
        | Action::Mirror
        | Action::SelectAll
        | Action::FollowWire
        | Action::Search
        | Action::ToggleGrid
        | Action::TogglePhotos
        | Action::NextSheets
        | Action::RedProbe
        | Action::BlackProbe
            if view.stage == Stage::Sheet =>
        {
            false
        }
        // Their keys are the first signs of many values.
        Action::RedProbe | Action::BlackProbe | Action::ZoomOut => !view.awaits_value(),
        Action::LogReading => view.stage == Stage::Readings && !pointing && !view.entry.text.trim().is_empty(),
        _ => true,
    }
}
