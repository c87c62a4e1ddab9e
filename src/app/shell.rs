//! The window without its frame: holds the desk and the view, draws one frame, carries out what was asked.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use egui::{Frame, Margin, Panel, Stroke, Ui};

use crate::desk::{Desk, Event, Recovery};
use crate::machine::{Point, Thing};
use crate::quantity::Value;

use super::centre::Centre;
use super::dialogs::Dialogs;
use super::judge::{self, Judgement};
use super::lists::Lists;
use super::messages::{self, Messages};
use super::on_photo::Doing;
use super::paper::{self, Opener, Preview, Viewer};
use super::prefs::Prefs;
use super::request::{Requests, Show};
use super::rungs::{self, Rungs};
use super::scope::{FileFacts, PaperFacts, PhotoFacts, Results, Scope};
use super::stage::Stage;
use super::theme::{self, Look};
use super::view::{Leaving, Overlay, Sheets, View};
use super::{card, file_bar, marks, on_photo, overlays, panels, shortcuts};

/// Seconds between two autosaves.
const AUTOSAVE_SECONDS: f64 = 5.0;

/// Seconds after which the work on a removal ends with what is decided; each further try has four times as long.
const JUDGING_SECONDS: u64 = 20;

/// A window less wide than this many times its writing is high is a narrow one.
const NARROW: f32 = 90.0;

/// What lies outside the window and the record.
#[derive(Debug, Default)]
pub struct Outside {
    pub(super) prefs_file: Option<PathBuf>,
    pub(super) dialogs_wanted: bool,
    pub(super) ends: bool,
    pub(super) dialogs: Dialogs,
    pub(super) after_save: Option<Leaving>,
    pub(super) wanted_file: Option<PathBuf>,
    pub(super) browse_wanted: bool,
    /// The folder whose machines are looked through, as it is written so far.
    pub(super) shop_folder: String,
    /// The packed record that is to be unpacked.
    pub(super) pack: Option<PathBuf>,
    pub(super) viewer: Viewer,
}

impl Outside {
    /// Preferences kept in this file, and whether the system's own dialogs are asked.
    pub fn new(prefs_file: Option<PathBuf>, dialogs_wanted: bool) -> Self {
        Self { prefs_file, dialogs_wanted, ..Self::default() }
    }

    /// With a way to hand files to the programs of this system that show them.
    #[must_use]
    pub fn with_opener(self, opener: Opener) -> Self {
        Self { viewer: Viewer::new(opener), ..self }
    }
}

/// The window without its frame.
pub struct Shell {
    pub(super) desk: Desk,
    pub(super) view: View,
    pub(super) prefs: Prefs,
    pub(super) messages: Messages,
    pub(super) outside: Outside,
    pub(super) recoveries: Vec<Recovery>,
    pub(super) centre: Centre,
    pub(super) rungs: Rungs,
    pub(super) preview: Preview,
    lists: Lists,
    judgement: Judgement,
    worn: Option<Look>,
    seen_revision: u64,
    autosaved_at: f64,
    /// Since when the removal is being worked out.
    judging_since: Option<Instant>,
}

impl Shell {
    /// A window on a desk.
    pub fn new(mut desk: Desk, prefs: Prefs, outside: Outside) -> Self {
        desk.set_who(&prefs.who);
        let recoveries = desk.recoveries();
        let overlay = if !prefs.cautions_read {
            Overlay::Caution
        } else if recoveries.is_empty() {
            Overlay::None
        } else {
            Overlay::Recovery
        };
        Self {
            desk,
            view: View { overlay, ..View::default() },
            prefs,
            messages: Messages::default(),
            outside,
            recoveries,
            centre: Centre::default(),
            rungs: Rungs::default(),
            preview: Preview::default(),
            lists: Lists::default(),
            judgement: Judgement::default(),
            worn: None,
            seen_revision: 0,
            autosaved_at: 0.0,
            judging_since: None,
        }
    }

    /// The desk.
    pub fn desk(&self) -> &Desk {
        &self.desk
    }

    /// The desk, for whoever sets it up before the window is drawn.
    pub fn desk_mut(&mut self) -> &mut Desk {
        &mut self.desk
    }

    /// What the window shows.
    pub fn view(&self) -> &View {
        &self.view
    }

    /// What the window shows, for whoever sets it up before it is drawn.
    pub fn view_mut(&mut self) -> &mut View {
        &mut self.view
    }

    /// What the person has set.
    pub fn prefs(&self) -> &Prefs {
        &self.prefs
    }

    /// The messages that are shown.
    pub fn messages(&self) -> &[messages::Message] {
        self.messages.shown()
    }

    /// Where a place of the canvas, in millimetres, lies on the screen, as it was drawn last.
    pub fn on_screen(&self, at: Point) -> egui::Pos2 {
        self.centre.on_screen(at)
    }

    /// Whether the program is to end.
    pub fn ends(&self) -> bool {
        self.outside.ends
    }

    /// Begins to leave the program; asks first where changes would be lost.
    pub fn ask_to_leave(&mut self) {
        self.leave_for(Leaving::Quit);
    }

    /// Says something that went wrong before there was a window.
    pub fn say_error(&mut self, title: &str, text: &str) {
        self.messages.error(title, text);
    }

    /// Draws one frame and carries out what was asked in it.
    pub fn ui(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        let look = self.prefs.look();
        if self.worn != Some(look) {
            theme::put_on(&ctx, &look);
            self.worn = Some(look);
        }
        let (time, goes_on) = ctx.input(|input| {
            let key = input.events.iter().any(|event| matches!(event, egui::Event::Key { pressed: true, .. }));
            (input.time, key || input.pointer.any_pressed())
        });
        self.messages.pass(time, goes_on);
        self.take_events(&ctx);
        self.take_dialogs(&ctx);
        let mut out = Requests::default();
        self.take_drops(&ctx, &mut out);
        self.take_pasted(&ctx, &mut out);
        shortcuts::take(&ctx, &self.view, &mut out);
        self.refresh();
        self.look();
        self.centre.refresh(&mut self.desk);
        self.follow_on_photo();
        self.refresh_paper();
        if !self.desk.jobs().is_empty() {
            // How far work is goes on being shown.
            ctx.request_repaint_after(std::time::Duration::from_millis(200));
        }
        self.draw(ui, &mut out);
        self.carry_out(&ctx, out);
        if self.desk.is_judging() {
            // To see that its time is over; nothing on the screen moves by it.
            ctx.request_repaint_after(Duration::from_secs(1));
        }
        self.autosave(&ctx);
    }

    /// Lets go of what the record no longer has, and makes the lists anew where they changed.
    fn refresh(&mut self) {
        let machine = self.desk.machine();
        if self.seen_revision != self.desk.revision() {
            self.seen_revision = self.desk.revision();
            self.view.selection.keep_present(machine);
            self.view.probes.keep_present(machine);
            self.view.entry.meter = self.view.entry.meter.filter(|&meter| machine.meters.contains(meter));
            self.view.removing.chosen.retain(|&wire| machine.wires.contains(wire));
            self.view.lifting = self.view.lifting.filter(|&condition| machine.conditions.contains(condition));
            self.keep_on_photo();
        }
        let colour = self.view.on_photo.colour.as_ref();
        if colour.is_some_and(|colour| !self.view.selection.wires().contains(&colour.wire)) {
            self.view.on_photo.colour = None;
        }
        let machine = self.desk.machine();
        let derived = self.desk.derived();
        self.lists.refresh(
            (machine, self.desk.revision()),
            self.desk.catalogue(),
            (&derived.findings, derived.revision),
            &self.view.search.texts,
        );
        self.lists.refresh_removal(
            (machine, self.desk.removal()),
            self.desk.removal().revision == self.desk.revision(),
            self.view.search.texts.get(&Stage::Removal).map_or("", String::as_str),
        );
        self.judgement = Judgement::of(derived, &self.view.probes, self.desk.condition(), self.view.entry.meter);
    }

    /// Tells the desk where the probes are and which reading is looked at.
    fn look(&mut self) {
        let entry = &self.view.entry;
        let value = Value::parse_with(&entry.text, entry.function).ok();
        let probes = judge::asked(&self.view.probes, self.desk.condition(), entry.meter, value);
        let reading = match self.view.selection.only() {
            Some(Thing::Reading(id)) => Some(*id),
            _ => None,
        };
        self.desk.look_at(probes, reading);
        self.desk.look_at_ladder(self.view.shown.sheets != Sheets::Diagram);
        // Mysteries take longer: only while somebody looks at them.
        let hidden = self.desk.practice().is_some_and(|practice| !practice.is_hinted());
        if self.view.stage == Stage::Mysteries && !hidden {
            self.desk.identify(&self.view.out_of_reach);
        }
        self.judge();
    }

    /// Has the removal worked out while its stage is shown, and ends that work when its time is over.
    fn judge(&mut self) {
        let removing = &self.view.removing;
        if self.view.stage == Stage::Removal && self.desk.judge_removal(&removing.chosen, removing.effort) {
            self.judging_since = Some(Instant::now());
        }
        let most = Duration::from_secs(JUDGING_SECONDS.saturating_mul(4_u64.saturating_pow(removing.effort)));
        if self.desk.is_judging() && self.judging_since.is_some_and(|since| since.elapsed() > most) {
            self.desk.end_judging();
        }
    }

    fn draw(&mut self, ui: &mut Ui, out: &mut Requests) {
        let palette = self.prefs.theme.palette();
        let machine = self.desk.machine().clone();
        let catalogue = self.desk.catalogue().clone();
        let derived = self.desk.derived().clone();
        let identified = self.desk.identified().clone();
        let removal = self.desk.removal().clone();
        let compared = self.desk.compared().cloned();
        let jobs = self.desk.jobs();
        let now = self.desk.now();
        let band = marks::Band::of(&derived, self.desk.condition(), self.desk.is_deriving());
        let band_reason = marks::band_reason(&derived, &machine.facts, band);
        let pixels = self.centre.all_pixels().clone();
        let (pages, pages_state) = (self.pages_shown().cloned(), self.pages_state());
        let remark = |photo: &_| self.desk.photo_remark(photo).map(str::to_owned);
        let remarks = machine.photos.iter().filter_map(|(id, photo)| Some((id, remark(photo)?))).collect();
        let scope = Scope {
            machine: &machine,
            catalogue: &catalogue,
            results: Results {
                revision: self.desk.revision(),
                condition: self.desk.condition(),
                derived: &derived,
                identified: &identified,
                identified_fresh: self.desk.practice().is_none_or(crate::desk::Practice::is_hinted)
                    && identified.revision == self.desk.revision()
                    && !self.desk.is_identifying(),
                removal: &removal,
                removal_fresh: removal.revision == self.desk.revision() && !self.desk.is_judging(),
                judging_long: self.desk.is_judging()
                    && self.judging_since.is_some_and(|since| since.elapsed() > Duration::from_secs(1)),
                compared: compared.as_deref(),
                band,
                band_reason: &band_reason,
                findings: &derived.findings,
                fresh: !self.desk.is_deriving(),
                judgement: &self.judgement,
            },
            file: FileFacts {
                path: self.desk.path(),
                changed: self.desk.is_changed(),
                undo: self.desk.undo_label(),
                redo: self.desk.redo_label(),
                shop: self.desk.shop().map(std::convert::AsRef::as_ref),
                shop_folder: &self.outside.shop_folder,
            },
            photos: PhotoFacts { pixels: &pixels, remarks: &remarks, followed: self.desk.followed() },
            view: &self.view,
            lists: &self.lists,
            prefs: &self.prefs,
            palette: &palette,
            now: &now,
            messages: &self.messages,
            jobs: &jobs,
            recoveries: &self.recoveries,
            practice: self.desk.practice(),
            paper: PaperFacts { laid: pages.as_ref(), state: &pages_state, times: self.preview.times() },
        };
        let on_paper = scope.view.stage == Stage::Sheet;
        let edge = Stroke::new(self.prefs.theme.line_width(), palette.line);
        let frame = |margin: Margin| Frame::new().fill(palette.paper).stroke(edge).inner_margin(margin);
        let touch = self.prefs.touch;
        let text = f32::from(self.prefs.text_size);
        Panel::top("condition strip")
            .exact_size((text * 3.2).max(if touch { 56.0 } else { 48.0 }))
            .frame(frame(Margin::symmetric(8, 4)))
            .show_separator_line(false)
            .show(ui, |ui| panels::strip(ui, &scope, out));
        if let Some(bar) = &scope.view.file_bar {
            Panel::top("file bar")
                .frame(frame(Margin::symmetric(8, 6)))
                .show_separator_line(false)
                .show(ui, |ui| file_bar::show(ui, &scope, bar, out));
        }
        if let Some(practice) = scope.practice {
            Panel::top("practice bar")
                .frame(frame(Margin::symmetric(8, 6)).fill(palette.severity[3].ground))
                .show_separator_line(false)
                .show(ui, |ui| panels::practice_bar(ui, &scope, practice, out));
        }
        Panel::bottom("reading bar").frame(frame(Margin::symmetric(8, 6))).show_separator_line(false).show(ui, |ui| {
            if on_paper {
                paper::bar(ui, &scope, out);
            } else if scope.view.on_photo.is_busy() {
                on_photo::bar(ui, &scope, out);
            } else {
                panels::reading_bar(ui, &scope, out);
            }
        });
        let width = ui.ctx().content_rect().width();
        let narrow = width < text * NARROW;
        let [rail, list, card] = widths(width, text);
        Panel::left("rail")
            .exact_size(rail)
            .resizable(false)
            .frame(frame(Margin::ZERO))
            .show_separator_line(false)
            .show(ui, |ui| panels::rail(ui, &scope, out));
        if !scope.view.list_hidden {
            let panel = Panel::left("list").exact_size(list).resizable(false).frame(frame(Margin::symmetric(8, 2)));
            panel.show(ui, |ui| steady(ui, |ui| panels::list(ui, &scope, out)));
        }
        // On a narrow window the card of the machine stands back while a list is open, so that the drawing keeps its room.
        let plan = panels::plan_is_shown(&scope);
        let nothing_chosen = scope.view.selection.is_empty() && scope.view.finding.is_none() && !plan;
        // While points are taken on a photo, a narrow window gives it the room of the card.
        let taken = scope.view.on_photo.doing.as_ref().is_some_and(|doing| *doing != Doing::Grey);
        // A page needs the room, and nothing on it is selected.
        if !on_paper && !(narrow && (taken || nothing_chosen && !scope.view.list_hidden)) {
            let panel = Panel::right("card").exact_size(card).resizable(false).frame(frame(Margin::symmetric(8, 2)));
            panel.show(ui, |ui| {
                steady(ui, |ui| {
                    panels::plan_or_card(ui, &scope, out);
                    let salt = if plan { "plan" } else { "card" };
                    egui::ScrollArea::vertical().id_salt(salt).auto_shrink([false, false]).show(ui, |ui| {
                        if plan {
                            panels::plan(ui, &scope, out);
                        } else {
                            card::show(ui, &scope, out);
                        }
                        ui.add_space(12.0);
                    });
                });
            });
        }
        egui::CentralPanel::no_frame().show(ui, |ui| {
            let rect = ui.max_rect();
            ui.painter().rect_filled(rect, 0.0, palette.sheet);
            let before = out.len();
            if on_paper {
                within(ui, rect, |ui| self.preview.show(ui, &scope, out));
                floating(ui, rect, &scope, out);
                return;
            }
            let (diagram, ladder) = rungs::rooms(rect, scope.view.shown.sheets);
            if let Some(room) = diagram {
                within(ui, room, |ui| self.centre.show(ui, &scope, out));
            }
            if let Some(room) = ladder {
                within(ui, room, |ui| self.rungs.show(ui, &scope, out));
                if diagram.is_some() {
                    ui.painter().rect_stroke(room, 0.0, edge, egui::StrokeKind::Inside);
                }
            }
            rungs::sheets(ui, diagram.unwrap_or(rect), &scope, out);
            // Of list and card a narrow window has room for one; what was pointed at has the newer claim.
            if narrow && out.selects_since(before) {
                out.show(Show::FoldList);
            }
            panels::hazard_frame(ui, rect, &scope);
            floating(ui, rect, &scope, out);
        });
        overlays::show(ui.ctx(), &scope, out);
    }

    fn take_events(&mut self, ctx: &egui::Context) {
        for event in self.desk.poll() {
            match event {
                Event::Opened(path) => {
                    // Cautions not yet read and work not yet had back stay in front.
                    let overlay = match self.view.overlay {
                        waiting @ (Overlay::Caution | Overlay::Recovery) => waiting,
                        _ => Overlay::None,
                    };
                    // In the stage of photos a drag moves them: a record that is begun opens where it cannot.
                    let begun = !self.desk.machine().parts.is_empty();
                    let stage = match self.view.stage {
                        Stage::Photos if begun => Stage::Parts,
                        stage => stage,
                    };
                    self.view = View { stage, shown: self.view.shown, overlay, ..View::default() };
                    self.view.entry.meter = self.desk.machine().meter_by_name(&self.prefs.meter);
                    self.centre.leave_begun();
                    self.centre.show_everything();
                    self.rungs = Rungs::default();
                    let paper = &mut self.view.shown.paper;
                    (paper.wanted, paper.page) = (false, 0);
                    if !path.as_os_str().is_empty() {
                        self.messages.remark(format!("Opened {}", name_of(&path)));
                    }
                }
                Event::Saved(path) => {
                    self.messages.remark(format!("Saved {}", name_of(&path)));
                    // An older save may come in first; what was written since is still to be saved.
                    if !self.desk.is_changed()
                        && let Some(leaving) = self.outside.after_save.take()
                    {
                        self.go_on(leaving);
                    }
                }
                Event::PhotoAdded(id) => {
                    self.view.selection = super::selection::Selection::of(Thing::Photo(id));
                    self.centre.show_everything();
                }
                Event::PhotoReady(_) => {}
                Event::WiresProposed(photo, wires) => self.take_proposals(photo, wires),
                Event::Warned { what, message } => self.messages.error(what, message),
                Event::Failed { what, message } => {
                    self.outside.after_save = None;
                    self.messages.error(what, message);
                }
                Event::ToView(file) => self.hand_to_viewer(file, ctx),
                Event::Unpacked(record) => self.take_unpacked(record),
                Event::Remark(text) => self.messages.remark(text),
            }
        }
    }

    fn autosave(&mut self, ctx: &egui::Context) {
        if !self.desk.is_changed() {
            return;
        }
        let time = ctx.input(|input| input.time);
        if time - self.autosaved_at >= AUTOSAVE_SECONDS {
            self.autosaved_at = time;
            self.desk.autosave();
        }
        // Only to be awake for the next autosave; nothing on the screen moves by it.
        ctx.request_repaint_after(Duration::from_secs(6));
    }

    /// Where new photos are laid down: beside what lies there.
    pub(super) fn photo_place(&self) -> Point {
        let right = self
            .desk
            .machine()
            .photos
            .values()
            .map(|photo| {
                let [wide, high] = photo.size_px.map(f64::from);
                let corners = [(0.0, 0.0), (wide, 0.0), (0.0, high), (wide, high)];
                corners.map(|(x, y)| photo.placement.canvas_from_photo(x, y).x).into_iter().fold(f64::MIN, f64::max)
            })
            .filter(|x| x.is_finite())
            .fold(f64::MIN, f64::max);
        if right > f64::MIN { Point::new(right + 20.0, 0.0) } else { Point::default() }
    }
}

/// Widths of the rail, the list and the card: by the window and its writing alone, so that nothing they show moves the drawing.
fn widths(window: f32, text: f32) -> [f32; 3] {
    let side = window * 0.24;
    [text * 8.0, side.clamp(text * 13.0, text * 25.0), side.clamp(text * 16.0, text * 25.0)].map(f32::round)
}

/// Draws into a part of the room.
fn within(ui: &mut Ui, room: egui::Rect, add: impl FnOnce(&mut Ui)) {
    let mut part = ui.new_child(
        egui::UiBuilder::new().id_salt(("sheet", room.min.x.to_bits(), room.min.y.to_bits())).max_rect(room),
    );
    part.shrink_clip_rect(room);
    add(&mut part);
}

/// Draws into the room there is, neither more nor less of it, whatever is drawn.
fn steady(ui: &mut Ui, add: impl FnOnce(&mut Ui)) {
    let room = ui.available_rect_before_wrap();
    let mut within = ui.new_child(egui::UiBuilder::new().max_rect(room).layout(*ui.layout()));
    within.shrink_clip_rect(room);
    add(&mut within);
    ui.allocate_rect(room, egui::Sense::hover());
}

/// The name of a file, without the folders it lies in.
fn name_of(path: &std::path::Path) -> String {
    path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned())
}

/// Messages and work going on, over the upper left of the canvas, so that nothing else moves when they come and go.
fn floating(ui: &Ui, rect: egui::Rect, scope: &Scope<'_>, out: &mut Requests) {
    if scope.messages.shown().is_empty() && scope.jobs.iter().all(|job| job.quiet) {
        return;
    }
    let width = (rect.width() - 20.0).clamp(160.0, 560.0);
    egui::Area::new(egui::Id::unique("messages"))
        .fixed_pos(rect.left_top() + egui::vec2(8.0, 8.0))
        .constrain_to(rect)
        .order(egui::Order::Middle)
        .show(ui.ctx(), |ui| {
            ui.set_width(width);
            messages::show(ui, scope.messages, scope.palette, out);
            for job in scope.jobs.iter().filter(|job| !job.quiet) {
                Frame::new()
                    .fill(scope.palette.field)
                    .stroke(Stroke::new(1.0, scope.palette.ink))
                    .inner_margin(6)
                    .show(ui, |ui| {
                        ui.set_width(width - 14.0);
                        ui.horizontal(|ui| {
                            if job.can_cancel && !job.stopping {
                                let stop = ui.button("Stop");
                                super::widgets::name(ui, stop.id, &format!("Stop: {}", job.what));
                                if stop.clicked() {
                                    out.show(Show::CancelJob(job.id));
                                }
                            }
                            let text = match job.done {
                                _ if job.stopping => format!("{}: stopping…", job.what),
                                Some(done) => format!("{}: {:.0} %", job.what, done * 100.0),
                                None => format!("{}…", job.what),
                            };
                            ui.add(egui::Label::new(text).truncate());
                        });
                    });
            }
        });
}
