//! The middle of the window: the canvas, and what its clicks ask for in the present stage.

use std::collections::BTreeMap;
use std::sync::Arc;

use egui::{CornerRadius, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, vec2};

use crate::desk::{Coming, Derived, Desk};
use crate::drawing::{Area, Handle, Ink, Scene};
use crate::machine::{PhotoId, Point, Spot, Thing};
use crate::tracing::PhotoPixels;

use super::alterations;
use super::callouts;
use super::candidates;
use super::canvas::{Camera, Flags, Painting, PhotoTextures, Pointing, Sheet, Shown, bands};
use super::context;
use super::fades;
use super::on_photo::{self, Live};
use super::request::Requests;
use super::scope::Scope;
use super::selection::Probe;

/// Things in sight that get a name of their own for whoever uses the window without looking; more would only be noise.
const MOST_NAMED: usize = 400;

/// What the middle of the window remembers between frames.
#[derive(Default)]
pub struct Centre {
    camera: Camera,
    pointing: Pointing,
    pictures: Pictures,
    derived: Arc<Derived>,
    sheet: Sheet,
    flags: Flags,
    names: Names,
    wants_fit: bool,
    fitted_once: bool,
    reveal: Vec<Thing>,
    held: context::Held,
    nearer: f32,
    live: Live,
    screen: Screen,
}

/// The pictures of photos.
#[derive(Default)]
struct Pictures {
    textures: PhotoTextures,
    /// Pixels of those of the record.
    pixels: BTreeMap<PhotoId, Arc<PhotoPixels>>,
    /// Those that are still being read in.
    coming: Vec<Coming>,
}

/// Where the canvas was drawn last.
struct Screen(Rect);

impl Default for Screen {
    fn default() -> Self {
        Self(Rect::ZERO)
    }
}

impl Centre {
    /// Asks for the whole drawing to be brought into sight.
    pub fn show_everything(&mut self) {
        self.wants_fit = true;
    }

    /// Asks for these things to be brought into sight.
    pub fn reveal(&mut self, things: &[Thing]) {
        self.reveal = things.to_vec();
    }

    /// Nearer by this factor, about the middle.
    pub fn zoom(&mut self, factor: f32) {
        self.nearer = factor;
    }

    /// Leaves what was begun on the canvas; `false` when nothing was.
    pub fn leave_begun(&mut self) -> bool {
        self.pointing.begun.take().is_some()
    }

    /// What lies under the pointer, for a probe.
    pub fn pointed_at(&self) -> Option<Spot> {
        match &self.pointing.under {
            Some(Handle::Thing(Thing::Spot(spot @ (Spot::Terminal(_) | Spot::End(..))))) => Some(spot.clone()),
            _ => None,
        }
    }

    /// Where a place of the canvas lies on the screen, as it was drawn last.
    pub fn on_screen(&self, at: Point) -> egui::Pos2 {
        self.camera.screen_from_canvas(self.screen.0, at)
    }

    /// The pixels of a photo, where they can be drawn.
    pub fn pixels(&self, id: PhotoId) -> Option<&Arc<PhotoPixels>> {
        self.pictures.pixels.get(&id)
    }

    /// The pixels of all photos that can be drawn.
    pub fn all_pixels(&self) -> &BTreeMap<PhotoId, Arc<PhotoPixels>> {
        &self.pictures.pixels
    }

    /// Takes the newest results and pixels from the desk.
    pub fn refresh(&mut self, desk: &mut Desk) {
        if !Arc::ptr_eq(&self.derived, desk.derived()) {
            self.derived = Arc::clone(desk.derived());
            self.flags.take(&self.derived);
        }
        let machine = Arc::clone(desk.machine());
        self.pictures.coming = desk.photos_coming();
        self.pictures.pixels =
            machine.photos.iter().filter_map(|(id, photo)| Some((id, desk.photo_pixels(photo)?))).collect();
    }

    /// Draws it.
    pub fn show(&mut self, ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
        let (response, painter) = ui.allocate_painter(ui.available_size(), Sense::click_and_drag());
        response.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, "Canvas"));
        let screen = response.rect;
        self.screen = Screen(screen);
        let scene = Arc::clone(&self.derived.scene);
        self.aim(screen, &scene, scope);
        let mut camera = self.camera;
        self.pointing.take(ui, &response, &mut camera, (&scene, &self.flags), scope, out);
        self.camera = camera;
        let under = (self.pointing.under.as_ref(), self.pointing.at);
        context::show(&response, &mut self.held, under, &scene, scope, out);
        let painting = Painting { painter: &painter, screen, camera, theme: scope.prefs.theme };
        painter.rect_filled(screen, CornerRadius::ZERO, scope.palette.sheet);
        let photos_shown = !scope.view.shown.photos_hidden;
        if photos_shown {
            self.pictures.textures.begin();
            for (id, photo) in scope.machine.photos.iter() {
                if let Some(pixels) = self.pictures.pixels.get(&id) {
                    self.pictures.textures.paint(&painting, photo, pixels);
                }
            }
            for coming in &self.pictures.coming {
                self.pictures.textures.paint(&painting, &coming.photo, &coming.pixels);
            }
        }
        if scope.view.shown.grid {
            painting.grid();
        }
        self.halos(&painting, &scene, scope);
        let photos =
            scope.machine.photos.iter().filter(|(id, _)| photos_shown && self.pictures.pixels.contains_key(id));
        let shown = Shown {
            scene: Arc::clone(&scene),
            electrical: self.derived.electrical.clone(),
            photos: photos.filter_map(|(_, photo)| Area::round(super::canvas::photo_corners(photo))).collect(),
        };
        self.sheet.paint(&painting, &shown);
        self.contacts(&painting, &scene);
        let chosen = scope.view.finding.as_ref().and_then(|key| scope.finding(key)).map(|(number, _)| number);
        let verdicts = fades::show(&painting, &scene, scope);
        // While something is done on a photo, flags would cover it.
        if !scope.view.on_photo.is_busy() {
            self.flags.paint(&painting, chosen);
            callouts::write(&painting, scope, verdicts);
        }
        alterations::show(&painting, &scene, scope);
        candidates::show(&painting, &scene, scope);
        let under = match &self.pointing.under {
            Some(Handle::Thing(thing)) => Some(thing),
            _ => None,
        };
        self.live.refresh(scope, &scene, self.pointing.at, under);
        on_photo::marks(&painting, &scene, scope, self.pointing.at, &self.live);
        self.pointing.cross.paint(&painting);
        self.begun(&painting, &scene, scope);
        if scope.machine.parts.is_empty() && scope.machine.photos.is_empty() && scope.machine.wires.is_empty() {
            begin_words(&painting, scope);
        }
        self.names.show(ui, &painting, (&scene, &self.flags), scope);
    }

    /// Brings into sight what was asked for.
    fn aim(&mut self, screen: Rect, scene: &Scene, scope: &Scope<'_>) {
        let everything = || {
            let coming = self.pictures.coming.iter().map(|coming| &coming.photo);
            let corners = scope.machine.photos.values().chain(coming).flat_map(super::canvas::photo_corners);
            Area::round(scene.area().into_iter().flat_map(Area::corners).chain(corners))
        };
        if let Some(area) = everything().filter(|_| self.wants_fit || !self.fitted_once) {
            self.camera.fit(screen, area);
            self.wants_fit = false;
            self.fitted_once = true;
        }
        let places = self.reveal.drain(..).filter_map(|thing| scene.place_of(&thing));
        if let Some(area) = Area::round(places)
            && !self.camera.sight(screen).grown(-20.0 / self.camera.scale).contains_area(area)
        {
            self.camera.middle = area.centre();
            if area.width().max(area.height()) * self.camera.scale > f64::from(screen.size().min_elem()) {
                self.camera.fit(screen, area.grown(15.0));
            }
        }
        if self.nearer > 0.0 {
            self.camera.zoom(screen, screen.center(), f64::from(self.nearer));
            self.nearer = 0.0;
        }
    }

    /// What is selected and what lies under the pointer, behind the drawing.
    fn halos(&self, painting: &Painting, scene: &Scene, scope: &Scope<'_>) {
        let chosen = painting.ink(Ink::Chosen);
        let mut pieces = Vec::new();
        for thing in scope.view.selection.things() {
            match (scene.piece_of(thing), scene.place_of(thing)) {
                (Some(piece), _) => pieces.push(piece),
                (None, Some(at)) => painting.ring(at, chosen),
                (None, None) => {}
            }
        }
        painting.painter.add(bands(painting, &pieces, chosen, 4.0));
        self.ways(painting, scene, scope);
        match &self.pointing.under {
            Some(Handle::Thing(thing)) => match (scene.piece_of(thing), scene.place_of(thing)) {
                (Some(piece), _) => {
                    let pointed = painting.ink(Ink::Pointed).gamma_multiply(0.6);
                    painting.painter.add(bands(painting, &[piece], pointed, 2.5));
                }
                (None, Some(at)) => painting.ring(at, painting.ink(Ink::Pointed)),
                (None, None) => {}
            },
            Some(Handle::Bend(..)) | None => {}
        }
    }

    /// The ways that explain the reading that is selected, or else what the probes would show: the strongest widest.
    fn ways(&self, painting: &Painting, scene: &Scene, scope: &Scope<'_>) {
        let selected = self.derived.reading.as_ref().filter(|(id, _)| scope.view.selection.has(&Thing::Reading(*id)));
        let probed = || scope.results.judgement.foreseen.as_ref();
        let Some(foreseen) = selected.map(|(_, foreseen)| foreseen).or_else(probed) else { return };
        let ink = painting.ink(Ink::Way);
        for (place, way) in foreseen.ways.iter().enumerate().rev() {
            let pieces: Vec<_> = way.things.iter().filter_map(|thing| scene.piece_of(thing)).collect();
            painting.painter.add(bands(painting, &pieces, ink, if place == 0 { 5.0 } else { 2.0 }));
        }
    }

    /// Contacts that readings prove or dispute: a line from terminal to terminal, with a dot or two strokes on it.
    fn contacts(&self, painting: &Painting, scene: &Scene) {
        for (ends, proven) in &self.derived.standings.contacts {
            let [Some(a), Some(b)] = ends.clone().map(|spot| scene.place_of(&spot.into())) else { continue };
            let ink = painting.ink(if *proven { Ink::StandingProven } else { Ink::StandingDisputed });
            let [a, b] = [a, b].map(|at| painting.camera.screen_from_canvas(painting.screen, at));
            let (middle, along) = (a.lerp(b, 0.5), (b - a).normalized());
            painting.painter.line_segment([a, b], Stroke::new(1.0, ink));
            if *proven {
                painting.painter.circle_filled(middle, 2.5, ink);
            } else {
                for shift in [-2.0, 2.0] {
                    let (at, across) = (middle + along * shift, along.rot90() * 4.0);
                    painting.painter.line_segment([at - across, at + across], Stroke::new(2.0, ink));
                }
            }
        }
    }

    /// What is being drawn, and the probes.
    fn begun(&self, painting: &Painting, scene: &Scene, scope: &Scope<'_>) {
        if let (Some(begun), Some(at)) = (&self.pointing.begun, self.pointing.at) {
            let mut points: Vec<Point> = begun.points.clone();
            points.push(at);
            painting.rubber(&points);
        }
        if let Some(area) = self.pointing.box_area() {
            let rect = painting.rect(area.min, area.max);
            painting.painter.rect_stroke(
                rect,
                CornerRadius::ZERO,
                Stroke::new(1.5, painting.ink(Ink::Chosen)),
                StrokeKind::Inside,
            );
        }
        for (probe, ink, letter) in [(Probe::Red, Ink::ProbeRed, "R"), (Probe::Black, Ink::ProbeBlack, "B")] {
            let spot = scope.view.probes.at(probe).cloned();
            if let Some(at) = spot.and_then(|spot| scene.place_of(&spot.into())) {
                painting.probe(at, ink, letter);
            }
        }
    }
}

/// What to do with an empty sheet.
fn begin_words(painting: &Painting, scope: &Scope<'_>) {
    let size = f32::from(scope.prefs.text_size);
    let lines = [
        ("An empty sheet", size + 3.0, scope.palette.ink),
        ("Drop photos of the opened machine here, or place a part.", size, scope.palette.faint),
        ("F1 shows what clicks and keys do.", size, scope.palette.faint),
    ];
    let mut at = painting.screen.center() - vec2(0.0, size * 2.0);
    for (text, size, ink) in lines {
        let font = egui::FontId::proportional(size);
        painting.painter.text(at, egui::Align2::CENTER_CENTER, text, font, ink);
        at.y += size * 1.9;
    }
}

/// What is named for whoever uses the window without looking, kept while nothing moves.
#[derive(Default)]
struct Names {
    made_for: Option<(Arc<Scene>, Camera, Rect)>,
    named: Vec<(Rect, String)>,
}

impl Names {
    /// Names parts, terminals, ends, wires, photos and flags in sight. They take no clicks: those go to the canvas beneath.
    fn show(&mut self, ui: &mut Ui, painting: &Painting, (scene, flags): (&Arc<Scene>, &Flags), scope: &Scope<'_>) {
        let same = self.made_for.as_ref().is_some_and(|(old, camera, screen)| {
            Arc::ptr_eq(old, scene) && (*camera, *screen) == (painting.camera, painting.screen)
        });
        if !same {
            self.named = names(painting, scene, flags, scope);
            self.made_for = Some((Arc::clone(scene), painting.camera, painting.screen));
        }
        for (rect, name) in &self.named {
            let response = ui.interact(*rect, ui.scope_id().with(name), Sense::hover());
            response.widget_info(|| WidgetInfo::labeled(Role::Image, true, name));
        }
    }
}

fn names(painting: &Painting, scene: &Scene, flags: &Flags, scope: &Scope<'_>) -> Vec<(Rect, String)> {
    let sight = painting.camera.sight(painting.screen);
    let on_screen = |at: Point| {
        let at = painting.camera.screen_from_canvas(painting.screen, at);
        painting.screen.contains(at).then(|| Rect::from_center_size(at, vec2(8.0, 8.0)))
    };
    // The middle of what can be seen of a photo, since it can be larger than the screen.
    let photos = scope.machine.photos.ids().filter_map(|id| {
        let area = scene.piece_of(&Thing::Photo(id))?.area;
        let seen = |least: f64, most: f64, from: f64, to: f64| least.max(from).midpoint(most.min(to));
        let x = seen(area.min.x, area.max.x, sight.min.x, sight.max.x);
        let y = seen(area.min.y, area.max.y, sight.min.y, sight.max.y);
        area.meets(sight).then_some((Thing::Photo(id), Point::new(x, y)))
    });
    let points = scene.points_in(sight, MOST_NAMED).into_iter().filter_map(|(handle, at)| match handle {
        Handle::Thing(thing) => Some((thing.clone(), at)),
        Handle::Bend(..) => None,
    });
    let named = |thing: &Thing, at: Point| {
        let word = match thing {
            Thing::Spot(Spot::Terminal(_)) => "Terminal",
            Thing::Spot(Spot::End(..)) => "End",
            Thing::Spot(Spot::Wire(_)) => "Wire",
            Thing::Photo(_) => "Photo",
            _ => "Part",
        };
        Some((on_screen(at)?, format!("{word} {}", scope.machine.thing_name(thing))))
    };
    let flags = flags.placed().iter().filter_map(|flag| {
        let numbers: Vec<String> = flag.numbers.iter().take(12).map(usize::to_string).collect();
        let word = if numbers.len() == 1 { "Flag of finding" } else { "Flag of findings" };
        Some((on_screen(flag.at)?, format!("{word} {}", numbers.join(", "))))
    });
    let first = photos.chain(points).filter_map(|(thing, at)| named(&thing, at));
    let mut all: Vec<(Rect, String)> = flags.take(MOST_NAMED / 4).chain(first).take(MOST_NAMED).collect();
    if all.len() < MOST_NAMED {
        let pieces = scene.pieces_in(sight).into_iter().filter(|piece| matches!(piece.of, Thing::Spot(_)));
        let more = pieces.filter_map(|piece| named(&piece.of, scene.place_of(&piece.of)?));
        all.extend(more.take(MOST_NAMED - all.len()));
    }
    all
}
