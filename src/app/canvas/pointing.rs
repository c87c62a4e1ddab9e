//! What pointing, clicking and dragging mean in the present stage. Everything comes out as requests.

use egui::{Modifiers, PointerButton, Pos2, Rect, Response, Ui};

use crate::app::changes;
use crate::app::on_photo::PhotoRequest;
use crate::app::request::{EntryRequest, Request, Requests, Show};
use crate::app::scope::Scope;
use crate::app::selection::{Probe, Selection};
use crate::app::stage::Stage;
use crate::app::theme::TOUCH_SIDE;
use crate::app::view::FindingKey;
use crate::drawing::{Area, Handle, PlacedFlag, Scene};
use crate::machine::{ConditionId, EndAt, Point, Side, Spot, Thing, WireId};

use super::camera::Camera;
use super::cross::Cross;
use super::flags::Flags;

/// How far off a terminal, an end or a wire a finger may come down, in screen points: as large as everything else that is
/// pressed in touch mode.
const FINGER: f64 = TOUCH_SIDE as f64 / 2.0;

/// The same for a mouse or a pen.
const MOUSE: f64 = 7.0;

/// A wire that is being drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Begun {
    /// Where it starts.
    pub from: EndAt,
    /// Its start and the bends so far.
    pub points: Vec<Point>,
}

/// What a drag does.
#[derive(Debug, Clone, PartialEq)]
enum Drag {
    /// Moves the drawing under the eye.
    Pan,
    /// Draws a box round things.
    Box(Point),
    /// Moves what is selected.
    Move { last: Point, key: String },
    /// Moves a bend of a wire.
    Bend { handle: Handle, key: String },
}

/// What has been begun with the pointer.
#[derive(Debug, Default)]
pub struct Pointing {
    /// The wire that is being drawn.
    pub begun: Option<Begun>,
    /// The pointer of whoever points with the keys.
    pub cross: Cross,
    drag: Option<Drag>,
    drags: u64,
    /// What lies under the pointer.
    pub under: Option<Handle>,
    /// Where the pointer is.
    pub at: Option<Point>,
}

impl Pointing {
    /// The box that is being drawn.
    pub fn box_area(&self) -> Option<Area> {
        match (&self.drag, self.at) {
            (Some(Drag::Box(from)), Some(to)) => Some(Area::between(*from, to)),
            _ => None,
        }
    }

    /// Takes the pointer's doings of this frame.
    pub fn take(
        &mut self,
        ui: &Ui,
        response: &Response,
        camera: &mut Camera,
        (scene, flags): (&Scene, &Flags),
        scope: &Scope<'_>,
        out: &mut Requests,
    ) {
        let screen = response.rect;
        navigate(ui, response, camera);
        let reach = if scope.prefs.touch { FINGER } else { MOUSE } / camera.scale;
        let pointer = response.hover_pos().or_else(|| response.interact_pointer_pos());
        let marked = self.cross.steer(ui, camera, screen, pointer, scope);
        self.at = marked.or_else(|| pointer.map(|at| camera.canvas_from_screen(screen, at)));
        self.under = self.at.and_then(|at| scene.pick_handle(at, reach));
        let (modifiers, space) = ui.input(|input| (input.modifiers, input.key_down(egui::Key::Space)));
        if marked.is_some() && self.cross.pressed() {
            self.click(flags, scope, modifiers, out);
            return;
        }
        if response.drag_started() {
            self.start_drag(response, camera, screen, (scene, reach), scope, modifiers, space, out);
        }
        if response.dragged() {
            self.go_on(response, camera, scope, out);
        }
        if response.drag_stopped() {
            self.stop_drag(scene, modifiers, out);
        }
        let entered = !ui.ctx().text_edit_focused() && ui.input(|input| input.key_pressed(egui::Key::Enter));
        if response.double_clicked() && scope.view.on_photo.trace().is_some() {
            out.photo(PhotoRequest::Finish);
            return;
        }
        // The second click of a double that ended a wire begins no other.
        let second = response.double_clicked() && self.begun.is_none() && scope.view.stage == Stage::Wires;
        if (response.double_clicked() || entered) && self.begun.is_some() {
            self.finish_loose(out);
        } else if response.clicked() && !second {
            self.click(flags, scope, modifiers, out);
        }
    }

    #[allow(clippy::too_many_arguments)] // one gesture, told once
    fn start_drag(
        &mut self,
        response: &Response,
        camera: &Camera,
        screen: Rect,
        (scene, reach): (&Scene, f64),
        scope: &Scope<'_>,
        modifiers: Modifiers,
        space: bool,
        out: &mut Requests,
    ) {
        self.drags += 1;
        let key = format!("drag {}", self.drags);
        let from = response
            .ctx
            .input(|input| input.pointer.press_origin())
            .map(|at: Pos2| camera.canvas_from_screen(screen, at));
        let Some(from) = from.or(self.at) else { return };
        let primary = response.drag_started_by(PointerButton::Primary);
        // While points are taken on a photo, a drag moves the sheet: nothing is moved or selected by a shaky hand.
        if !primary || space || scope.view.on_photo.is_busy() {
            self.drag = Some(Drag::Pan);
            return;
        }
        self.drag = Some(match scene.pick_handle(from, reach) {
            Some(handle @ Handle::Bend(..)) => Drag::Bend { handle, key },
            Some(Handle::Thing(thing)) if may_move(&thing, scope) => {
                let whole = whole(&thing);
                if !scope.view.selection.has(&whole) {
                    out.show(Show::Only(Selection::of(whole)));
                }
                Drag::Move { last: from, key }
            }
            _ if modifiers.shift || modifiers.command || !scope.prefs.touch => Drag::Box(from),
            _ => Drag::Pan,
        });
    }

    fn go_on(&mut self, response: &Response, camera: &mut Camera, scope: &Scope<'_>, out: &mut Requests) {
        let Some(at) = self.at else { return };
        match &mut self.drag {
            Some(Drag::Pan) => camera.pan(response.drag_delta()),
            Some(Drag::Move { last, key }) => {
                let by = (at.x - last.x, at.y - last.y);
                let chosen = &scope.view.selection;
                let edit = scope.machine.move_things(&chosen.parts(), &chosen.wires(), &chosen.photos(), by);
                if !edit.is_empty() {
                    *last = at;
                    out.joined(edit, key.clone());
                }
            }
            Some(Drag::Bend { handle: Handle::Bend(wire, bend), key }) => {
                let edit = scope.machine.edit_wire(*wire, "Move a bend", |wire| {
                    if let Some(point) = wire.path.get_mut(*bend) {
                        point.at = at;
                    }
                });
                out.joined(edit, key.clone());
            }
            _ => {}
        }
    }

    fn stop_drag(&mut self, scene: &Scene, modifiers: Modifiers, out: &mut Requests) {
        if let Some(area) = self.box_area() {
            let found = scene.things_in(area);
            if modifiers.shift || modifiers.command {
                for thing in found {
                    out.show(Show::Toggle(thing));
                }
            } else {
                out.show(Show::Only(Selection::of_all(found)));
            }
        }
        self.drag = None;
    }

    fn click(&mut self, flags: &Flags, scope: &Scope<'_>, modifiers: Modifiers, out: &mut Requests) {
        let Some(at) = self.at else { return };
        let under = match &self.under {
            Some(Handle::Thing(thing)) => Some(thing.clone()),
            Some(Handle::Bend(wire, _)) => Some((*wire).into()),
            None => None,
        };
        if scope.view.on_photo.doing.is_some() {
            out.photo(PhotoRequest::Click(at, under));
            return;
        }
        if scope.view.placing.is_some() {
            out.show(Show::PlaceNow(Some(at)));
            return;
        }
        if let Some(condition) = scope.view.lifting {
            lift(scope, condition, under.as_ref(), out);
            return;
        }
        // A flag covers what lies under it, except where a terminal or an end is wanted.
        let wants_spot = matches!(scope.view.stage, Stage::Wires | Stage::Readings)
            && matches!(under, Some(Thing::Spot(Spot::Terminal(_) | Spot::End(..))));
        if let Some(flag) = flags.at(at).filter(|_| self.begun.is_none() && !wants_spot)
            && let Some(key) = next_finding(flag, scope)
        {
            out.show(Show::Finding(key));
            return;
        }
        match scope.view.stage {
            Stage::Wires => self.click_wire(at, under, modifiers, out),
            Stage::Readings => click_reading(scope, under, modifiers, out),
            _ => select(under, modifiers, out),
        }
    }

    /// From terminal to terminal; a click on bare canvas bends the wire.
    fn click_wire(&mut self, at: Point, under: Option<Thing>, modifiers: Modifiers, out: &mut Requests) {
        let terminal = match &under {
            Some(Thing::Spot(Spot::Terminal(terminal))) => Some(EndAt::Terminal(terminal.clone())),
            _ => None,
        };
        match (&mut self.begun, terminal) {
            (None, Some(from)) => self.begun = Some(Begun { from, points: vec![at] }),
            (None, None) => select(under, modifiers, out),
            (Some(begun), Some(to)) => {
                if begun.from != to {
                    out.show(Show::Wire(begun.from.clone(), to, begun.points[1..].to_vec(), None)); // the start is always there
                }
                self.begun = None;
            }
            (Some(begun), None) => begun.points.push(at),
        }
    }

    /// Ends the wire that is being drawn on nothing, at the last point.
    fn finish_loose(&mut self, out: &mut Requests) {
        if let Some(mut begun) = self.begun.take()
            && begun.points.len() > 1
            && let Some(place) = begun.points.pop()
        {
            let bends = begun.points.split_off(1);
            out.show(Show::Wire(begun.from, EndAt::Loose, bends, Some(place)));
        }
    }
}

/// Lifts the end that was clicked, or lands it again: for a condition only. A terminal stands for the end on it where it is one.
fn lift(scope: &Scope<'_>, condition: ConditionId, under: Option<&Thing>, out: &mut Requests) {
    let end = match under {
        Some(Thing::Spot(Spot::End(wire, side))) => Some((*wire, *side)),
        Some(Thing::Spot(Spot::Terminal(terminal))) => {
            let mut on_it = scope.machine.wires_at(terminal);
            on_it.next().filter(|_| on_it.next().is_none())
        }
        _ => None,
    };
    let on_terminal = |&(wire, side): &(WireId, Side)| {
        scope.machine.wires.get(wire).is_some_and(|wire| matches!(wire.end(side).at, EndAt::Terminal(_)))
    };
    if let Some(end) = end.filter(on_terminal) {
        out.edit(changes::lift(scope.machine, condition, end));
    }
}

/// The finding a flag is read for: its first; where it stands for several, the one after that which is read now.
fn next_finding(flag: &PlacedFlag, scope: &Scope<'_>) -> Option<FindingKey> {
    let read = scope.view.finding.as_ref().and_then(|key| scope.finding(key)).map(|(number, _)| number);
    let here = flag.numbers.iter().position(|number| Some(*number) == read);
    let number = *flag.numbers.get(here.map_or(0, |place| (place + 1) % flag.numbers.len()))?;
    let finding = scope.results.findings.get(number.checked_sub(1)?)?;
    Some(FindingKey { rule: finding.rule.to_owned(), about: finding.about.clone() })
}

/// Wheel and pinch zoom to the pointer; a two-finger way pans.
pub fn navigate(ui: &Ui, response: &Response, camera: &mut Camera) {
    let Some(at) = response.hover_pos() else { return };
    let (pinch, scroll, shift) =
        ui.input(|input| (input.zoom_delta(), input.smooth_scroll_delta(), input.modifiers.shift));
    if (pinch - 1.0).abs() > 1e-4 {
        camera.zoom(response.rect, at, f64::from(pinch));
    } else if scroll.x.abs() > 0.0 || (shift && scroll.y.abs() > 0.0) {
        camera.pan(scroll);
    } else if scroll.y.abs() > 0.0 {
        camera.zoom(response.rect, at, (f64::from(scroll.y) / 240.0).exp());
    }
}

/// A click on something of the record where nothing is drawn: it is selected, or a probe is put there.
pub fn click_on(under: Option<Thing>, scope: &Scope<'_>, modifiers: Modifiers, out: &mut Requests) {
    match scope.view.stage {
        Stage::Readings => click_reading(scope, under, modifiers, out),
        _ => select(under, modifiers, out),
    }
}

fn select(under: Option<Thing>, modifiers: Modifiers, out: &mut Requests) {
    match under {
        Some(thing) if modifiers.shift || modifiers.command => out.show(Show::Toggle(thing)),
        Some(thing) => out.show(Show::Only(Selection::of(thing))),
        None if modifiers.shift || modifiers.command => {}
        None => out.show(Show::Only(Selection::default())),
    }
}

/// Red first, then black; a third click begins again with red.
fn click_reading(scope: &Scope<'_>, under: Option<Thing>, modifiers: Modifiers, out: &mut Requests) {
    match under {
        Some(Thing::Spot(spot @ (Spot::Terminal(_) | Spot::End(..)))) => {
            let probes = &scope.view.probes;
            let which = if probes.red.is_some() && probes.black.is_none() { Probe::Black } else { Probe::Red };
            out.ask(Request::Entry(EntryRequest::Put(which, Some(spot))));
        }
        other => select(other, modifiers, out),
    }
}

/// What is taken along when this is dragged.
fn whole(thing: &Thing) -> Thing {
    match thing {
        Thing::Spot(Spot::Terminal(terminal)) => terminal.part.into(),
        Thing::Spot(Spot::End(wire, _)) => (*wire).into(),
        other => other.clone(),
    }
}

/// Photos move in their own stage only, so that a drag on the drawing does not take the photo along.
fn may_move(thing: &Thing, scope: &Scope<'_>) -> bool {
    match thing {
        Thing::Photo(_) => scope.view.stage == Stage::Photos && scope.view.selection.has(thing),
        Thing::Spot(Spot::Part(_)) => matches!(scope.view.stage, Stage::Photos | Stage::Parts | Stage::Wires),
        Thing::Spot(Spot::Wire(_)) => scope.view.selection.has(thing) && scope.view.stage == Stage::Wires,
        _ => false,
    }
}
