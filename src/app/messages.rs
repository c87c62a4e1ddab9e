//! Words to the person: short remarks that can be put away, and errors that stay until they are.

use super::request::{Requests, Show};
use super::theme::Palette;

/// How a message is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// Something was done.
    Remark,
    /// Something could not be done; it says what to do.
    Error,
}

/// One message.
#[derive(Debug, Clone, PartialEq)]
pub struct Message {
    /// Its number.
    pub id: u64,
    /// How it is meant.
    pub tone: Tone,
    /// The first line: what it is about.
    pub title: String,
    /// What to know or do.
    pub text: String,
    /// Since when it is on the screen, in seconds of the window; none before it is drawn.
    since: Option<f64>,
}

/// The messages that are shown, oldest first.
#[derive(Debug, Clone, Default)]
pub struct Messages {
    shown: Vec<Message>,
    next: u64,
}

/// Remarks make room for newer ones; errors never do.
const MOST_REMARKS: usize = 2;

/// A remark is up for so long at least, in seconds.
const REMARK_SECONDS: f64 = 4.0;

impl Messages {
    /// Says that something was done.
    pub fn remark(&mut self, title: impl Into<String>) {
        self.push(Tone::Remark, title.into(), String::new());
        while self.shown.iter().filter(|message| message.tone == Tone::Remark).count() > MOST_REMARKS {
            if let Some(oldest) = self.shown.iter().position(|message| message.tone == Tone::Remark) {
                self.shown.remove(oldest);
            }
        }
    }

    /// Says that something could not be done, and what to do.
    pub fn error(&mut self, title: impl Into<String>, text: impl Into<String>) {
        let (title, text) = (title.into(), text.into());
        self.shown.retain(|message| message.tone == Tone::Remark || message.title != title || message.text != text);
        self.push(Tone::Error, title, text);
    }

    fn push(&mut self, tone: Tone, title: String, text: String) {
        self.next += 1;
        self.shown.push(Message { id: self.next, tone, title, text, since: None });
    }

    /// Takes a message away.
    pub fn dismiss(&mut self, id: u64) {
        self.shown.retain(|message| message.id != id);
    }

    /// Takes away the remarks that could be read by now, when the person goes on to do something; nothing moves by itself.
    pub fn pass(&mut self, time: f64, goes_on: bool) {
        for message in &mut self.shown {
            message.since.get_or_insert(time);
        }
        if goes_on {
            let is_read = |message: &Message| message.since.is_some_and(|since| time - since >= REMARK_SECONDS);
            self.shown.retain(|message| message.tone == Tone::Error || !is_read(message));
        }
    }

    /// Takes the remarks away; errors stay.
    pub fn dismiss_remarks(&mut self) {
        self.shown.retain(|message| message.tone == Tone::Error);
    }

    /// All that are shown, oldest first.
    pub fn shown(&self) -> &[Message] {
        &self.shown
    }
}

/// Draws the messages, one line each where they fit.
pub fn show(ui: &mut egui::Ui, messages: &Messages, palette: &Palette, out: &mut Requests) {
    for message in messages.shown() {
        let tint = match message.tone {
            Tone::Remark => super::theme::Tint { ground: palette.field, ink: palette.ink },
            Tone::Error => palette.severity[0],
        };
        let frame = egui::Frame::new()
            .fill(tint.ground)
            .stroke(egui::Stroke::new(1.0, palette.ink))
            .inner_margin(egui::Margin::symmetric(8, 4));
        frame.show(ui, |ui| {
            if message.tone == Tone::Error {
                ui.set_width(ui.available_width());
            }
            ui.horizontal_top(|ui| {
                if ui.button("Put away").on_hover_text("Take this message away").clicked() {
                    out.show(Show::DismissMessage(message.id));
                }
                ui.vertical(|ui| {
                    let strong = egui::RichText::new(&message.title).family(super::theme::bold()).color(tint.ink);
                    ui.add(egui::Label::new(strong).wrap());
                    if !message.text.is_empty() {
                        ui.add(egui::Label::new(egui::RichText::new(&message.text).color(tint.ink)).wrap());
                    }
                });
            });
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn errors_of(messages: &Messages) -> Vec<Message> {
        messages.shown().iter().filter(|message| message.tone == Tone::Error).cloned().collect()
    }

    #[test]
    fn errors_stay_until_put_away_and_remarks_make_room() {
        let mut messages = Messages::default();
        messages.error("Cannot open a.ron", "It is not there.");
        for n in 0..5 {
            messages.remark(format!("Saved {n}"));
        }
        messages.error("Cannot open a.ron", "It is not there.");
        assert_eq!(errors_of(&messages).len(), 1, "the same error is said once");
        assert_eq!(messages.shown().len(), 3);
        messages.pass(10.0, false);
        messages.pass(13.0, true);
        assert_eq!(messages.shown().len(), 3, "a remark can be read before it goes");
        messages.pass(15.0, false);
        assert_eq!(messages.shown().len(), 3, "nothing goes by itself");
        let id = errors_of(&messages)[0].id;
        messages.pass(15.0, true);
        assert_eq!(messages.shown(), errors_of(&messages), "errors stay");
        messages.dismiss(id);
        assert!(messages.shown().is_empty());
    }
}
