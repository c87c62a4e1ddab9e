//! A kind joined with what one part says itself: its terminals, inner elements, switches and ratings.

use crate::machine::{Marking, Part, Pin, PinRole, Point};
use crate::quantity::{Rating, Ratings};

use super::element::{Driver, Element, Form, LoadKind};
use super::kind::{Kind, Repeat, SwitchSpec, TerminalSpec};
use super::library::Catalogue;

/// The most positions a repeating part may have.
pub const MOST_POSITIONS: u16 = 400;

/// Distance between own pins that have no place, in millimetres.
const PIN_PITCH_MM: f64 = 5.0;

/// What one part of a record consists of.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Body {
    /// Terminals, in the order of the kind, then the part's own pins.
    pub terminals: Vec<BodyTerminal>,
    /// Points inside that no probe and no wire reaches (between an overload and a winding, say).
    pub inner: Vec<Marking>,
    /// Inner elements; their ends are markings of `terminals` or points of `inner`.
    pub elements: Vec<Element>,
    /// Switches, with the part's own rest position first.
    pub switches: Vec<SwitchSpec>,
    /// The kind's ratings with the part's on top.
    pub ratings: Ratings,
    /// Typical values of the kind, kept apart from what is printed: a result that rests on one is in doubt. Not known is
    /// what stands in neither.
    pub typical: Ratings,
    /// Whether metal that can be touched is on it.
    pub exposed_metal: bool,
    /// Whether the catalogue knows the kind.
    pub kind_known: bool,
}

/// One terminal of a part.
#[derive(Debug, Clone, PartialEq)]
pub struct BodyTerminal {
    /// Marking, as the kind has it; references use this one.
    pub marking: Marking,
    /// Marking as printed on this machine, where it differs.
    pub printed: Option<String>,
    /// Place in the part's own millimetres.
    pub at: Point,
    /// What can land on it.
    pub lands: String,
    /// How many wires it may hold; 0 means not limited.
    pub holds: u8,
    /// Whether what lies behind it is not known.
    pub unknown: bool,
}

impl Body {
    /// The terminal with this marking.
    pub fn terminal(&self, marking: &str) -> Option<&BodyTerminal> {
        self.terminals.iter().find(|terminal| terminal.marking.as_str() == marking)
    }

    /// The ratings of one element, by its place in `elements`: those of the part, except where the part says something
    /// of its second capacitor or its second secondary apart. What was said of the first capacitor is never taken for the
    /// second; a second secondary is like the first where nothing else is said.
    pub fn ratings_of(&self, element: usize) -> Ratings {
        let mut own = self.ratings.clone();
        let Some(this) = self.elements.get(element) else { return own };
        let alike = std::mem::discriminant(this);
        let earlier =
            self.elements.iter().take(element).filter(|other| std::mem::discriminant(*other) == alike).count();
        if earlier != 1 {
            return own;
        }
        match this {
            Element::Capacitor { .. } => match self.ratings.rated(Rating::SecondFarads) {
                Some(second) => own.set(Rating::Farads, second),
                None => own.clear(Rating::Farads),
            },
            Element::Transformer { .. } => {
                if let Some(second) = self.ratings.rated(Rating::SecondSecondaryVolts) {
                    own.set(Rating::SecondaryVolts, second);
                }
            }
            _ => {}
        }
        own
    }
}

impl BodyTerminal {
    /// The marking a person sees: as printed, else as the kind has it.
    pub fn label(&self) -> &str {
        self.printed.as_deref().unwrap_or_else(|| self.marking.as_str())
    }
}

impl Catalogue {
    /// What this part consists of. A kind the catalogue does not know leaves the part's own pins alone.
    pub fn body(&self, part: &Part) -> Body {
        let mut body = Body::default();
        if let Some(kind) = self.kind(&part.kind) {
            body.kind_known = true;
            body.exposed_metal = part.exposed_metal.unwrap_or(kind.exposed_metal);
            body.ratings = kind.ratings.overridden_by(&part.ratings);
            body.typical = kind.typical.values.clone();
            body.switches = kind.switches.iter().map(|switch| at_rest(switch, part)).collect();
            add_kind(&mut body, kind, part.count);
        } else {
            body.exposed_metal = part.exposed_metal.unwrap_or(false);
            body.ratings = part.ratings.clone();
        }
        add_pins(&mut body, &part.pins);
        for terminal in &mut body.terminals {
            if let Some(note) = part.terminals.get(terminal.marking.as_str()) {
                terminal.printed = note.printed.clone();
                if let Some(lands) = &note.lands {
                    terminal.lands.clone_from(lands);
                }
                if let Some(holds) = note.holds {
                    terminal.holds = holds;
                }
            }
        }
        body
    }
}

/// The switch with the position this part rests in put first.
fn at_rest(switch: &SwitchSpec, part: &Part) -> SwitchSpec {
    let mut own = switch.clone();
    if let Some(rest) = part.rest.get(&switch.name)
        && let Some(found) = own.positions.iter().position(|position| position == rest)
    {
        own.positions.swap(0, found);
    }
    own
}

fn add_kind(body: &mut Body, kind: &Kind, count: u16) {
    let unknown = kind.family == super::Family::Unknown;
    body.terminals.extend(kind.terminals.iter().map(|spec| terminal(spec, &spec.marking, (0.0, 0.0), unknown)));
    body.inner.extend(kind.inner.iter().map(|point| Marking::from(point.as_str())));
    body.elements.extend(kind.elements.iter().cloned());
    if let Some(repeat) = &kind.repeat {
        add_repeats(body, repeat, count, unknown);
    }
}

fn add_repeats(body: &mut Body, repeat: &Repeat, count: u16, unknown: bool) {
    let count = if count == 0 { repeat.count } else { count }.min(MOST_POSITIONS);
    for position in 1..=count {
        let steps = f64::from(position - 1);
        let shift = (repeat.pitch.0 * steps, repeat.pitch.1 * steps);
        for spec in &repeat.terminals {
            body.terminals.push(terminal(spec, &numbered(&spec.marking, position), shift, unknown));
        }
        body.elements.extend(repeat.elements.iter().map(|element| element.at_position(position)));
        if position < count {
            body.elements.extend(repeat.between.iter().map(|element| element.at_position(position)));
        }
    }
}

fn terminal(spec: &TerminalSpec, marking: &str, shift: (f64, f64), unknown: bool) -> BodyTerminal {
    BodyTerminal {
        marking: marking.into(),
        printed: None,
        at: Point::new(spec.at.0 + shift.0, spec.at.1 + shift.1),
        lands: spec.lands.clone(),
        holds: spec.holds,
        unknown: unknown || spec.unknown,
    }
}

/// `{n}` becomes the position, `{m}` the next one.
pub(super) fn numbered(text: &str, position: u16) -> String {
    text.replace("{n}", &position.to_string()).replace("{m}", &(u32::from(position) + 1).to_string())
}

/// The part's own pins: their terminals, and what their roles put between them.
fn add_pins(body: &mut Body, pins: &[Pin]) {
    let mut laid = 0.0;
    for pin in pins {
        let at = pin.at.unwrap_or_else(|| {
            laid += 1.0;
            Point::new(PIN_PITCH_MM * (laid - 1.0), 0.0)
        });
        body.terminals.push(BodyTerminal {
            marking: pin.marking.clone(),
            printed: None,
            at,
            lands: String::new(),
            holds: 0,
            unknown: pin.role == PinRole::Unknown,
        });
        body.elements.extend(inside(pin));
    }
}

/// The element that a pin's role stands for.
fn inside(pin: &Pin) -> Option<Element> {
    let own = pin.marking.to_string();
    let between = |other: &Marking| (other.to_string(), own.clone());
    match &pin.role {
        PinRole::Unknown | PinRole::Plain => None,
        PinRole::Joined(other) => Some(Element::Join { ends: between(other) }),
        PinRole::Supply(other) => {
            Some(Element::Load { name: "electronics".to_owned(), ends: between(other), what: LoadKind::Electronics })
        }
        PinRole::Input(other) => Some(Element::Sense { ends: between(other) }),
        PinRole::OutputFrom(other)
        | PinRole::OutputTo(other)
        | PinRole::OutputDry(other)
        | PinRole::OutputTriac(other) => {
            Some(Element::Contact { ends: between(other), form: Form::Make, driver: Driver::Output(own.clone()) })
        }
    }
}
