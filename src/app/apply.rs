//! Carries out what a frame asked for: the one place where the window changes anything.

use egui::Context;

use crate::machine::{EndAt, Machine, Point, Reading, Thing, VisitId};
use crate::quantity::{Function, Value};

use super::action::Action;
use super::on_photo::{Doing, PhotoRequest, Trace};
use super::paper::Out;
use super::request::{EntryRequest, Request, Requests, Show};
use super::selection::{Probe, Probes, Selection};
use super::shell::Shell;
use super::stage::Stage;
use super::view::{Asked, Entry, FileBar, Leaving, Overlay};
use super::{arrange, card};

/// The visit a reading of now belongs to: the last one, where it is of today and not closed.
fn visit_of(machine: &Machine, now: &str) -> Option<VisitId> {
    let (id, visit) = machine.visits.iter().next_back()?;
    let today = now.split_whitespace().next()?;
    (visit.date.trim() == today && visit.as_left.is_none()).then_some(id)
}

impl Shell {
    /// Carries out the requests of a frame, in order.
    pub(super) fn carry_out(&mut self, ctx: &Context, mut out: Requests) {
        for request in out.take() {
            match request {
                Request::Act(action) => self.act(ctx, action),
                Request::Edit(edit) => self.desk.apply(edit),
                Request::Joined(edit, key) => self.desk.apply_joined(edit, &key),
                Request::BeginVisit => self.desk.begin_visit(),
                Request::CloseVisit(id) => self.desk.close_visit(id),
                Request::Compare(copies) => self.desk.compare(copies),
                Request::Show(show) => self.show(show),
                Request::Entry(entry) => self.enter(entry),
                Request::File(file) => self.file(ctx, file),
                Request::Practice(request) => self.practise(request),
                Request::Photo(request) => self.on_photo(request),
                Request::Paper(request) => self.on_paper(request),
                Request::Prefs(prefs) => self.set_prefs(prefs),
            }
            ctx.request_repaint();
        }
    }

    fn act(&mut self, ctx: &Context, action: Action) {
        match action {
            Action::New => self.leave_for(Leaving::New),
            Action::Open => self.leave_for(Leaving::Open),
            Action::Machines => self.show_machines(),
            Action::Practise => self.leave_for(Leaving::Practise),
            Action::Quit => self.leave_for(Leaving::Quit),
            Action::Save => {
                if !self.desk.save() {
                    self.ask_file(Asked::Save);
                }
            }
            Action::SaveAs => self.ask_file(Asked::Save),
            Action::AddPhotos => self.ask_file(Asked::Photos),
            Action::Undo => {
                self.centre.leave_begun();
                if let Some(label) = self.desk.undo() {
                    self.messages.remark(format!("Undone: {label}"));
                }
            }
            Action::Redo => {
                if let Some(label) = self.desk.redo() {
                    self.messages.remark(format!("Done again: {label}"));
                }
            }
            Action::Cancel => self.cancel(ctx),
            Action::SelectAll | Action::Duplicate | Action::Remove | Action::Turn | Action::Mirror => {
                self.arrange(action);
            }
            Action::RedProbe | Action::BlackProbe => {
                let probe = if action == Action::RedProbe { Probe::Red } else { Probe::Black };
                if let Some(spot) = self.centre.pointed_at().or_else(|| self.rungs.pointed_at()) {
                    self.enter(EntryRequest::Put(probe, Some(spot)));
                }
            }
            Action::FollowWire => self.on_photo(PhotoRequest::Begin(Doing::Trace(Trace::default()))),
            Action::LogReading => {
                let text = self.view.entry.text.clone();
                self.enter(EntryRequest::Log(text));
            }
            Action::Pack => self.ask_out(Out::Pack),
            Action::Unpack => self.ask_file(Asked::Pack),
            Action::PageBack => self.turn_pages(-1),
            Action::PageForward => self.turn_pages(1),
            Action::Fit if self.view.stage == Stage::Sheet => self.zoom_page(None),
            Action::Fit => {
                self.centre.show_everything();
                self.rungs.show_everything();
            }
            Action::ZoomIn => self.zoom(1.25),
            Action::ZoomOut => self.zoom(0.8),
            Action::Go(stage) => self.go(stage),
            Action::Search => {
                self.view.list_hidden = false;
                self.view.search.wants_focus = true;
            }
            Action::ToggleList => self.view.list_hidden = !self.view.list_hidden,
            Action::ToggleGrid => self.view.shown.grid = !self.view.shown.grid,
            Action::NextSheets => self.view.shown.sheets = self.view.shown.sheets.next(),
            Action::TogglePhotos => self.view.shown.photos_hidden = !self.view.shown.photos_hidden,
            Action::Look(_) | Action::LargerText | Action::SmallerText | Action::ToggleTouch => self.dress(action),
            Action::Help => self.toggle(Overlay::Help),
            Action::About => self.toggle(Overlay::About),
        }
    }

    fn zoom(&mut self, factor: f32) {
        if self.view.stage == Stage::Sheet {
            self.zoom_page(Some(factor));
            return;
        }
        self.centre.zoom(factor);
        self.rungs.zoom(factor);
    }

    fn toggle(&mut self, overlay: Overlay) {
        self.view.overlay = if self.view.overlay == overlay { Overlay::None } else { overlay };
    }

    fn go(&mut self, stage: Stage) {
        self.view.stage = stage;
        self.centre.leave_begun();
        self.view.list_hidden = false;
        self.view.placing = None;
        self.view.lifting = None;
        self.view.on_photo.doing = None;
        if !matches!(stage, Stage::Photos | Stage::Parts | Stage::Wires) {
            self.view.on_photo.proposed = None;
        }
        if stage != Stage::Findings {
            self.view.finding = None;
        }
    }

    /// Leaves what was begun, one thing at a time; always leads back to selecting.
    fn cancel(&mut self, ctx: &Context) {
        let view = &mut self.view;
        if matches!(view.overlay, Overlay::Help | Overlay::About | Overlay::Machines | Overlay::Unsaved(_)) {
            view.overlay = Overlay::None;
            self.outside.wanted_file = None;
        } else if view.file_bar.is_some() {
            view.file_bar = None;
            self.outside.after_save = None;
        } else if self.centre.leave_begun() {
            // What was begun on the canvas is gone; the rest stays as it is.
        } else if view.on_photo.is_busy() {
            self.on_photo(PhotoRequest::Stop);
        } else if view.placing.is_some() || view.lifting.is_some() {
            view.placing = None;
            view.lifting = None;
        } else {
            view.selection = Selection::default();
            view.finding = None;
            view.probes = Probes::default();
            view.entry.logged = false;
            self.messages.dismiss_remarks();
        }
        ctx.memory_mut(|memory| {
            if let Some(id) = memory.focused() {
                memory.surrender_focus(id);
            }
        });
        self.desk.close_step();
    }

    fn arrange(&mut self, action: Action) {
        let machine = self.desk.machine().clone();
        let selection = &self.view.selection;
        match action {
            Action::SelectAll => {
                let parts = machine.parts.ids().map(Thing::from);
                self.view.selection = Selection::of_all(parts.chain(machine.wires.ids().map(Thing::from)));
            }
            Action::Duplicate => {
                let (copies, edit) = arrange::duplicate(&machine, selection);
                if !edit.is_empty() {
                    self.desk.apply(edit);
                    self.view.selection = copies;
                }
            }
            Action::Remove => {
                let edit = arrange::remove(&machine, selection);
                if !edit.is_empty() {
                    self.messages.remark(format!("{}; undo brings it back", edit.label));
                    self.desk.apply(edit);
                }
            }
            Action::Turn => self.desk.apply(arrange::turn(&machine, &selection.parts())),
            Action::Mirror => self.desk.apply(arrange::mirror(&machine, &selection.parts())),
            _ => {}
        }
    }

    fn show(&mut self, show: Show) {
        match show {
            Show::Only(selection) => {
                self.view.selection = selection;
                self.view.finding = None;
            }
            Show::Toggle(thing) => self.view.selection.toggle(thing),
            Show::GoTo(things) => {
                self.centre.reveal(&things);
                self.rungs.reveal(&things);
                self.view.selection = Selection::of_all(things);
                self.view.finding = None;
            }
            Show::Finding(key) => {
                self.centre.reveal(&key.about);
                self.rungs.reveal(&key.about);
                self.view.selection = Selection::of_all(key.about.iter().cloned());
                self.view.finding = Some(key);
            }
            Show::Condition(id) => self.desk.set_condition(id),
            Show::Search(text) => {
                self.view.search.texts.insert(self.view.stage, text);
            }
            Show::SearchFocused => self.view.search.wants_focus = false,
            Show::Place(kind) => self.view.placing = kind,
            Show::PlaceNow(at) => self.place(at),
            Show::Wire(from, to, bends, place) => self.wire(from, to, &bends, place),
            Show::Overlay(overlay) => self.view.overlay = overlay,
            Show::Compared(shown) => {
                self.view.shown.compared = shown;
                self.view.selection = Selection::default();
            }
            Show::Sheets(sheets) => self.view.shown.sheets = sheets,
            Show::FoldList => self.view.list_hidden = true,
            Show::Lift(condition) => self.view.lifting = condition,
            Show::Choose(wires, true) => self.view.removing.chosen.extend(wires),
            Show::Choose(wires, false) => self.view.removing.chosen.retain(|wire| !wires.contains(wire)),
            Show::Plan(shown) => self.view.removing.plan_shown = shown,
            Show::WorkOn => self.view.removing.effort += 1,
            Show::Enough => self.desk.end_judging(),
            Show::OutOfReach(spot, true) => {
                self.view.out_of_reach.insert(spot);
            }
            Show::OutOfReach(spot, false) => {
                self.view.out_of_reach.remove(&spot);
            }
            Show::CancelJob(id) => self.stop_job(id),
            Show::DismissMessage(id) => self.messages.dismiss(id),
        }
    }

    /// Places a part of the chosen kind; without a point, beside what is placed already.
    fn place(&mut self, at: Option<crate::machine::Point>) {
        let Some(kind) = self.view.placing.clone() else { return };
        let machine = self.desk.machine();
        let at = at.unwrap_or_else(|| arrange::free_place(machine));
        let (id, edit) = arrange::place(machine, self.desk.catalogue(), &kind, at);
        self.desk.apply(edit);
        self.view.selection = Selection::of(id);
    }

    fn wire(&mut self, from: EndAt, to: EndAt, bends: &[Point], place: Option<Point>) {
        let machine = self.desk.machine();
        let is_there = |end: &EndAt| match end {
            EndAt::Terminal(terminal) => machine.parts.contains(terminal.part),
            EndAt::Loose | EndAt::Unknown => true,
        };
        if !is_there(&from) || !is_there(&to) {
            return;
        }
        let (id, edit) = arrange::wire_between(self.desk.machine(), from, to, bends, place);
        self.desk.apply(edit);
        self.view.selection = Selection::of(id);
    }

    fn enter(&mut self, request: EntryRequest) {
        // At practice the bench says the value.
        if self.desk.practice().is_some() {
            match request {
                EntryRequest::Log(_) => return self.practise(super::request::PracticeRequest::Take),
                EntryRequest::Text(_) | EntryRequest::Typed(_) => return,
                _ => {}
            }
        }
        let entry = &mut self.view.entry;
        match request {
            EntryRequest::Put(probe, spot) => {
                let probes = &mut self.view.probes;
                // Red, put somewhere while both are set, begins a new reading.
                if probe == Probe::Red && spot.is_some() && probes.black.is_some() && probes.red.is_some() {
                    probes.put(Probe::Black, None);
                }
                probes.put(probe, spot);
                entry.logged = false;
                // Both are on: what comes next is the value.
                let writes = self.desk.practice().is_none();
                entry.wants_focus = writes && probes.red.is_some() && probes.black.is_some();
            }
            EntryRequest::Swap => {
                let probes = &mut self.view.probes;
                std::mem::swap(&mut probes.red, &mut probes.black);
            }
            EntryRequest::Function(function) => entry.function = function,
            EntryRequest::Text(text) => entry.text = text,
            EntryRequest::Typed(text) => {
                entry.text = text;
                entry.wants_focus = true;
            }
            EntryRequest::Meter(meter) => {
                entry.meter = meter;
                let name = meter.and_then(|id| self.desk.machine().meters.get(id)).map(|meter| meter.name.clone());
                self.set_prefs(super::prefs::Prefs { meter: name.unwrap_or_default(), ..self.prefs.clone() });
            }
            EntryRequest::Focused => entry.wants_focus = false,
            EntryRequest::Log(text) => self.log(&text),
        }
    }

    /// Writes the reading into the log with when, who, meter, visit and condition.
    fn log(&mut self, text: &str) {
        let machine = self.desk.machine();
        let value = match Value::parse_with(text, self.view.entry.function) {
            Ok(value) => value,
            Err(error) => {
                self.messages.error("The reading was not logged", error.to_string());
                return;
            }
        };
        let Some(red) = self.view.probes.red.clone() else {
            self.messages
                .error("The reading was not logged", "Set the red probe first: point at a terminal and press 1.");
            return;
        };
        let black = self.view.probes.black.clone();
        if black.is_none() && !matches!(value.function(), Function::Runs | Function::Amps) {
            self.messages
                .error("The reading was not logged", "Set the black probe first: point at a terminal and press 2.");
            return;
        }
        let reading = Reading {
            name: String::new(),
            red,
            black,
            value,
            condition: self.desk.condition(),
            meter: self.view.entry.meter,
            when: self.desk.now(),
            who: self.prefs.who.clone(),
            visit: visit_of(machine, &self.desk.now()),
            note: String::new(),
        };
        let (_, edit) = card::log(machine, reading);
        self.messages.remark(edit.label.clone());
        self.desk.apply(edit);
        self.view.entry = Entry { text: String::new(), wants_focus: false, logged: true, ..self.view.entry.clone() };
    }

    /// Asks for a file by its path, and by the system's dialog where that is wanted.
    pub(super) fn ask_file(&mut self, asked: Asked) {
        let path = match asked {
            Asked::Save => self.desk.path().map(|path| path.display().to_string()).unwrap_or_default(),
            Asked::Out(out) => self.path_for(out),
            Asked::UnpackInto => {
                let folder = self.outside.pack.as_deref().and_then(std::path::Path::parent);
                folder.map(|folder| folder.display().to_string()).unwrap_or_default()
            }
            Asked::Template => self.prefs.paper.template.clone(),
            Asked::Open | Asked::Photos | Asked::Pack => String::new(),
        };
        self.view.file_bar = Some(FileBar { asked, path, replaces: false });
        self.outside.browse_wanted = self.outside.dialogs_wanted;
    }
}
