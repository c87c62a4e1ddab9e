//! The machines of a folder: a card each, with its drawing small and what is open on it.

use egui::{Pos2, Rect, Role, Sense, Stroke, Ui, WidgetInfo, vec2};

use crate::desk::{Miniature, ShopMachine};
use crate::drawing::style::rgba;

use super::request::{FileRequest, Requests};
use super::scope::Scope;
use super::theme::colour;
use super::widgets::{self, faint, group, strong, wrong};

/// Width and height of a small drawing, in points.
const PICTURE: egui::Vec2 = vec2(150.0, 96.0);

/// Draws the field for the folder, and a card for each machine in it.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    ui.horizontal(|ui| {
        let mut folder = scope.file.shop_folder.to_owned();
        let field =
            ui.add(egui::TextEdit::singleline(&mut folder).desired_width(380.0).hint_text("folder with records"));
        widgets::name(ui, field.id, "Folder of machines");
        if field.changed() {
            out.file(FileRequest::ShopFolder(folder));
        }
        let entered = field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
        if ui.button("Look through").clicked() || entered {
            out.file(FileRequest::LookThrough);
        }
    });
    let Some(shop) = scope.file.shop else {
        faint(ui, scope.palette, "Write the folder that your records lie in; those in folders below it count too.");
        return;
    };
    if shop.machines.is_empty() {
        faint(ui, scope.palette, "No record is there.");
    }
    for (place, machine) in shop.machines.iter().enumerate() {
        ui.push_id(place, |ui| card(ui, machine, scope, out));
    }
    for remark in &shop.remarks {
        faint(ui, scope.palette, remark.clone());
    }
    if !shop.unreadable.is_empty() {
        group(ui, "Could not be read");
        for (_, why) in &shop.unreadable {
            wrong(ui, scope.palette, why.clone());
        }
    }
}

fn card(ui: &mut Ui, machine: &ShopMachine, scope: &Scope<'_>, out: &mut Requests) {
    ui.separator();
    ui.horizontal(|ui| {
        picture(ui, machine, scope);
        ui.vertical(|ui| {
            let title = if machine.title.is_empty() { "Without a name" } else { machine.title.as_str() };
            strong(ui, title);
            if !machine.location.is_empty() {
                faint(ui, scope.palette, machine.location.clone());
            }
            ui.add(egui::Label::new(open_words(machine)).wrap());
            let visit = machine.last_visit.as_deref().unwrap_or("none recorded");
            faint(ui, scope.palette, format!("last visit: {visit}"));
            let button = ui.button("Open");
            widgets::name(ui, button.id, &format!("Open {title}"));
            if button.clicked() {
                out.file(FileRequest::OpenThis(machine.file.clone()));
            }
        });
    });
}

/// What is open on a machine, worst first.
fn open_words(machine: &ShopMachine) -> String {
    let counts = [
        (machine.dangers, "danger", "dangers"),
        (machine.faults, "fault", "faults"),
        (machine.doubts, "doubt", "doubts"),
        (machine.mysteries, "mystery", "mysteries"),
    ];
    let words: Vec<String> = counts
        .into_iter()
        .filter(|(count, ..)| *count > 0)
        .map(|(count, one, more)| format!("{count} {}", if count == 1 { one } else { more }))
        .collect();
    if words.is_empty() { "nothing open".to_owned() } else { words.join(", ") }
}

/// The drawing of a machine, in the colours of the sheet.
fn picture(ui: &mut Ui, machine: &ShopMachine, scope: &Scope<'_>) {
    let (room, response) = ui.allocate_exact_size(PICTURE, Sense::hover());
    let [parts, wires, _] = machine.size;
    response.widget_info(|| {
        WidgetInfo::labeled(Role::Image, true, format!("Drawing of {}: {parts} parts, {wires} wires", machine.title))
    });
    if !ui.is_rect_visible(room) {
        return;
    }
    let painter = ui.painter_at(room);
    painter.rect_filled(room, 3.0, scope.palette.sheet);
    let Some(miniature) = &machine.picture else { return };
    let at = placed(room.shrink(4.0), miniature);
    let ground = scope.prefs.theme.ground();
    for (ink, points) in &miniature.lines {
        let line: Vec<Pos2> = points.iter().map(|&[x, y]| at.min + vec2(x, y) * at.width()).collect();
        painter.line(line, Stroke::new(1.0, colour(rgba(*ink, ground))));
    }
}

/// Where a miniature lies so that all of it is seen.
fn placed(room: Rect, miniature: &Miniature) -> Rect {
    #[expect(clippy::cast_possible_truncation, reason = "a proportion within bounds")]
    let proportion = miniature.proportion as f32;
    let width = room.width().min(room.height() / proportion);
    Rect::from_center_size(room.center(), vec2(width, width * proportion))
}
