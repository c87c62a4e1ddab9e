//! What of a rebuilt machine is not in the record as found: leads of coils and loads, a stray lead, a form, faults.

use std::sync::Arc;

use crate::machine::{EndAt, Guess, Lug, PartId, Point, Spot, Subject, TerminalRef, WireId};

use super::builder::Duty;
use super::rebuild::{Draft, Family, Lead, PITCH_MM, Ways};
use super::retrofit::{Hidden, UNSEEN, far_end};

impl Draft {
    /// Chooses what is hidden, within the number of mysteries: faults, a form, a stray lead, then leads of coils and of loads.
    pub(super) fn hide(&mut self, coils: &[Lead], ways: &Ways, fuse: PartId) {
        let mut left = self.size.mysteries;
        let faults = 1 + usize::from(left > 4 && self.b.random.happens(50));
        let with_form = left > faults + 2 && self.b.random.happens(60);
        let with_stray = left > faults + 3 && self.b.random.happens(50);
        let decoy = left > faults + 5 && self.b.random.happens(40);
        left -= faults + usize::from(with_form) + usize::from(with_stray) + usize::from(decoy);
        let coil_leads = left.min(coils.len());
        if coil_leads > 1 {
            self.hide_coils(coils, coil_leads);
            left -= coil_leads;
        }
        let load_leads = left.min(ways.leads.len());
        if load_leads > 1 || coil_leads < 2 {
            self.hide_ways(ways, load_leads);
        }
        let mut faulty = self.faults(ways, coils, fuse);
        if with_form && let Some(&relay) = self.relays.last() {
            let terminal = TerminalRef::new(relay, self.pins.make);
            faulty.retain(|(spot, _)| !matches!(spot, Spot::Terminal(own) if own.part == relay));
            let right = usize::from(self.b.random.happens(40));
            let guesses = vec![Guess::Named("make".to_owned()), Guess::Named("break".to_owned())];
            let name = format!("form of {}", self.b.machine.terminal_name(&terminal));
            self.hidden.push(Hidden { name, subject: Subject::ContactForm(terminal), guesses, right, set: None });
        }
        if with_stray {
            self.hide_stray(ways);
        }
        for number in 0..faults + usize::from(decoy) {
            if faulty.is_empty() {
                break;
            }
            let at = self.below(faulty.len());
            let (spot, state) = faulty.remove(at);
            // No second one on the same thing.
            faulty.retain(|(other, _)| part_of(other) != part_of(&spot));
            let name = format!("{} {state}?", self.b.machine.spot_name(&spot));
            let guesses = vec![Guess::Named("ok".to_owned()), Guess::Named(state.to_owned())];
            let right = usize::from(number < faults);
            self.hidden.push(Hidden { name, subject: Subject::Fault(spot), guesses, right, set: None });
        }
    }

    /// Leads of some coils: drivers of leads that are seen are no candidates. Now and then the leads were not seen at all.
    fn hide_coils(&mut self, coils: &[Lead], count: usize) {
        let seen: Vec<usize> = coils.iter().skip(count).map(|(_, driver)| *driver).collect();
        let open: Vec<usize> = (0..self.drivers.len()).filter(|at| !seen.contains(at)).collect();
        let terminal =
            |at: &usize| self.drivers.get(*at).map(|((part, marking), _)| TerminalRef::new(*part, marking.as_str()));
        let places: Vec<TerminalRef> = open.iter().filter_map(terminal).collect();
        let outputs = matches!(self.family, Family::Board | Family::Adapter);
        let unseen = outputs && count < 5 && self.b.random.happens(30);
        for (at, &(lead, driver)) in coils.iter().take(count).enumerate() {
            let right = open.iter().position(|&one| one == driver).unwrap_or(0);
            let tag = self.relays.get(at).map(|&relay| self.b.machine.part_name(relay).to_owned()).unwrap_or_default();
            let mut hidden = far_end(format!("what works {tag}"), lead, &places, right, Some("coils"));
            if unseen && let Some(&relay) = self.relays.get(at) {
                self.note(lead, UNSEEN);
                hidden.subject = Subject::CoilDriver(relay);
            } else {
                self.put_end(lead, Point::new(PITCH_MM * at as f64, 95.0));
            }
            self.hidden.push(hidden);
        }
    }

    fn hide_ways(&mut self, ways: &Ways, count: usize) {
        let seen: Vec<usize> = ways.leads.iter().skip(count).map(|(_, way)| *way).collect();
        let open: Vec<usize> = (0..ways.places.len()).filter(|at| !seen.contains(at)).collect();
        let places: Vec<TerminalRef> = open.iter().filter_map(|&at| ways.places.get(at).cloned()).collect();
        for (at, &(lead, way)) in ways.leads.iter().take(count).enumerate() {
            let right = open.iter().position(|&one| one == way).unwrap_or(0);
            let tag = self.relays.get(at).map(|&relay| self.b.machine.part_name(relay).to_owned()).unwrap_or_default();
            self.put_end(lead, Point::new(PITCH_MM * at as f64 + 20.0, 165.0));
            self.hidden.push(far_end(format!("what {tag} feeds"), lead, &places, right, Some("loads")));
        }
    }

    /// A lead from a rest contact that goes out of sight: to a way of the strip, to another rest contact, or to nothing.
    fn hide_stray(&mut self, ways: &Ways) {
        let (Some(&first), Some(&last)) = (self.relays.first(), self.relays.last()) else { return };
        let places = [TerminalRef::new(last, self.pins.rest), TerminalRef::new(ways.strip, "1b")];
        let (from, to) = (self.b.on(first, self.pins.rest), self.b.loose(Point::new(10.0, 150.0)));
        let Some(lead) = self.b.wire(Duty::Line, 0, from, to) else { return };
        let right = self.below(3);
        if let (Some(terminal), Some(mut entry)) = (places.get(right), self.b.machine.wires.get(lead).cloned()) {
            entry.to.at = EndAt::Terminal(terminal.clone());
            self.b.machine.wires.put(lead, Some(Arc::new(entry)));
        }
        self.note(lead, "");
        let mut hidden = far_end("stray lead".to_owned(), lead, &places, right, None);
        hidden.guesses.push(Guess::Nowhere);
        self.put_end(lead, Point::new(10.0, 150.0));
        self.hidden.push(hidden);
    }

    /// Takes the number off a lead and writes a note at it.
    fn note(&mut self, lead: WireId, note: &str) {
        let Some(mut entry) = self.b.machine.wires.get(lead).cloned() else { return };
        entry.number = None;
        note.clone_into(&mut entry.note);
        self.b.machine.wires.put(lead, Some(Arc::new(entry)));
    }

    /// Where the far end of a hidden lead is drawn.
    fn put_end(&mut self, lead: WireId, place: Point) {
        let Some(mut entry) = self.b.machine.wires.get(lead).cloned() else { return };
        entry.to.place = Some(place);
        entry.to.lug = Lug::Unsaid;
        self.b.machine.wires.put(lead, Some(Arc::new(entry)));
    }

    /// What may be faulty.
    fn faults(&self, ways: &Ways, coils: &[Lead], fuse: PartId) -> Vec<(Spot, &'static str)> {
        let hidden_lead = |wire: &WireId| coils.iter().chain(&ways.leads).any(|(lead, _)| lead == wire);
        let mut all = vec![(Spot::Part(fuse), "open")];
        all.extend(ways.documented.iter().filter(|wire| !hidden_lead(wire)).map(|&wire| (Spot::Wire(wire), "open")));
        for &relay in &self.relays {
            let contact = Spot::Terminal(TerminalRef::new(relay, self.pins.make));
            all.extend([(Spot::Part(relay), "open"), (contact.clone(), "welded"), (contact, "open")]);
        }
        all
    }
}

/// The part or wire that a fault is on.
fn part_of(spot: &Spot) -> Spot {
    match spot {
        Spot::Terminal(terminal) => Spot::Part(terminal.part),
        other => other.clone(),
    }
}
