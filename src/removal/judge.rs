//! A verdict for every wire and part of a record.

use std::collections::BTreeMap;

use crate::catalogue::Catalogue;
use crate::circuit::electric::{Elements, Judgement};
use crate::circuit::{Network, Partition};
use crate::machine::{EndAt, Known, Machine, Mounting, PartId, Side, Spot, WireId, WireState};
use crate::quantity::Colour;

use super::model::{Is, Model};
use super::prove::{Ask, Found, Method, View};
use super::relays;
use super::sets::{Budget, Purse};
use super::state::{hot, settled, state};
use super::tries::{Shown, Tried, at_rest, made_valid};
use super::verdict::{Judged, Proof, Verdict, Verdicts, Witness};
use super::words::{doubt, witness};

/// Judges every wire and part, within a budget.
pub fn judge(machine: &Machine, catalogue: &Catalogue, budget: Budget<'_>) -> Verdicts {
    let network = Network::of(machine, catalogue);
    let judgement = if machine.readings.is_empty() {
        Judgement::default()
    } else {
        Judgement::of(machine, &network, &Elements::of(&network))
    };
    let mut model = Model::of(machine, network, &judgement);
    let purse = Purse::new(budget);
    if !relays::any_valid(&model, &purse) {
        model.valid.clear();
        model.contradicts = true;
    }
    Bench::of(&model, &purse, budget).verdicts()
}

/// A model with everything that is worked out once for all wires.
pub(super) struct Bench<'b, 'm, 'a> {
    pub(super) model: &'b Model<'m>,
    pub(super) purse: &'b Purse<'a>,
    pub(super) shown: Shown,
    pub(super) recorded: View<'b, 'm>,
    /// With all that is in doubt left open; `None` where nothing is.
    pub(super) open: Option<View<'b, 'm>>,
    pub(super) conditions: Option<f64>,
    /// For each place: it is on the protective earth, by wires alone.
    earthed: Vec<bool>,
    /// For each wire of the network: ends on its net that are not known, as sentences.
    open_ends: Vec<Vec<String>>,
    /// For each wire of the network: a part on its net that is gone.
    gone: Vec<Option<PartId>>,
}

impl<'b, 'm, 'a> Bench<'b, 'm, 'a> {
    pub(super) fn of(model: &'b Model<'m>, purse: &'b Purse<'a>, budget: Budget<'a>) -> Self {
        let shown = Shown::of(model, &[], budget.go_on);
        let made = |as_recorded: bool| {
            let mut view = View::of(model, as_recorded, &[]);
            view.relays = relays::reachable(&view, purse);
            // A transformer that is never fed is no source; gone round until nothing more is fed.
            let inputs: Vec<(usize, usize)> = model
                .edges
                .iter()
                .enumerate()
                .filter_map(|(at, edge)| match edge.is {
                    Is::Input(one) => Some((at, one)),
                    _ => None,
                })
                .collect();
            let mut known: Vec<bool> = vec![false; view.fed.len()];
            for &(at, one) in &inputs {
                known[one] = shown.carries[at].is_some();
            }
            view.fed.clone_from(&known);
            loop {
                let mut grew = false;
                for &(at, one) in &inputs {
                    if !view.fed[one] && !matches!(view.find(at, Ask::Carries, purse), Found::Never(_)) {
                        view.fed[one] = true;
                        grew = true;
                        // What never carried may do so now that more is fed.
                        view.forget();
                    }
                }
                if !grew {
                    break;
                }
            }
            view.forget();
            view
        };
        let recorded = made(true);
        let conditions = relays::conditions(model, recorded.relays.as_ref(), purse);
        let in_doubt = model.vars.iter().any(|var| var.nominal().is_some());
        let open = in_doubt.then(|| made(false));
        let mut bench = Self {
            model,
            purse,
            shown,
            recorded,
            open,
            conditions,
            earthed: Vec::new(),
            open_ends: Vec::new(),
            gone: Vec::new(),
        };
        bench.look_round();
        bench
    }

    pub(super) fn open(&self) -> &View<'b, 'm> {
        self.open.as_ref().unwrap_or(&self.recorded)
    }

    /// What hangs on what by wires alone: protective earth, and parts that are gone.
    fn look_round(&mut self) {
        let model = self.model;
        let mut nets = Partition::new(model.places);
        for edge in model.edges.iter().filter(|edge| matches!(edge.is, Is::Wire(_) | Is::Landing(..))) {
            nets.join(edge.ends[0], edge.ends[1]);
        }
        let classes = nets.classes();
        let mut earthed = vec![false; model.places];
        for (_, node) in model.network.earths() {
            earthed[classes[model.at(*node) as usize] as usize] = true;
        }
        self.earthed = classes.iter().map(|&class| earthed[class as usize]).collect();
        let mut gone: BTreeMap<u32, PartId> = BTreeMap::new();
        for (node, info) in model.network.nodes() {
            if let Spot::Terminal(terminal) = &info.spot
                && model.machine.parts.get(terminal.part).is_some_and(|part| part.mounting == Mounting::Missing)
            {
                gone.insert(classes[model.at(node) as usize], terminal.part);
            }
        }
        let mut open_ends: BTreeMap<u32, Vec<String>> = BTreeMap::new();
        for wire in model.network.wires() {
            let Some(entry) = model.machine.wires.get(wire.wire) else { continue };
            for (side, node) in Side::BOTH.into_iter().zip(wire.ends) {
                let spot = model.machine.spot_name(&Spot::End(wire.wire, side));
                let said = match super::landings::mystery_of(model.machine, wire.wire, side) {
                    Some((_, mystery)) => format!("The mystery '{}' is open: where {spot} belongs.", mystery.name),
                    None if entry.end(side).at == EndAt::Unknown => {
                        format!("{spot} goes out of sight: find where it ends.")
                    }
                    None => continue,
                };
                open_ends.entry(classes[model.at(node) as usize]).or_default().push(said);
            }
        }
        let class_of = |wire: &crate::circuit::Conductor| classes[model.at(wire.ends[0]) as usize];
        self.open_ends = model
            .network
            .wires()
            .iter()
            .map(|wire| open_ends.get(&class_of(wire)).cloned().unwrap_or_default())
            .collect();
        let wires = model.network.wires().iter();
        self.gone = wires.map(|wire| gone.get(&classes[model.at(wire.ends[0]) as usize]).copied()).collect();
    }

    pub(super) fn verdicts(&self) -> Verdicts {
        let mut verdicts = Verdicts { conditions: self.conditions, ..Verdicts::default() };
        for (at, wire) in self.model.network.wires().iter().enumerate() {
            verdicts.wires.insert(wire.wire, self.wire(at, wire.wire));
        }
        self.in_sets(&mut verdicts);
        for (id, part) in self.model.machine.parts.iter().filter(|(_, part)| part.mounting != Mounting::Missing) {
            let judged = self.part(id, part.kind.as_str(), &verdicts);
            verdicts.parts.insert(id, judged);
        }
        verdicts.cautions = super::cautions::beside(self.model);
        verdicts
    }

    pub(super) fn proof(&self, method: Method) -> Proof {
        Proof { method, conditions: self.conditions }
    }

    fn wire(&self, at: usize, id: WireId) -> Judged {
        let model = self.model;
        let machine = model.machine;
        let edge = model.wire_edge[at];
        let Some(wire) = machine.wires.get(id) else { return plain(Verdict::CannotBeSaid, String::new()) };
        let name = wire.key.as_str();
        let unseen: Vec<String> = Side::BOTH
            .into_iter()
            .filter(|&side| wire.end(side).at == EndAt::Unknown)
            .map(|side| format!("{} goes out of sight: find where it ends.", machine.spot_name(&Spot::End(id, side))))
            .collect();
        if !unseen.is_empty() {
            return lacking(format!("An end of {name} is not known."), unseen);
        }
        if wire.state == WireState::CappedOff {
            let mut judged =
                plain(Verdict::Dead, format!("{name} is recorded as capped off at its ends: it is on nothing."));
            judged.proof = Some(self.proof(Method::Structure));
            judged.live = Some(false);
            return judged;
        }
        let green = match wire.colour.map(|colour| colour.base) {
            // Plain green was earth on older machines, whatever the habits.
            Some(Colour::GreenYellow | Colour::Green) => true,
            _ => false,
        };
        let ends = model.network.wires()[at].ends.map(|node| model.at(node));
        let on_earth = ends.iter().any(|&end| self.earthed[end as usize]);
        if on_earth || green {
            return self.earth(id, on_earth);
        }
        if let Some(number) = self.shown.needed[edge] {
            return self.in_use(edge, name, &self.shown.tried[number]);
        }
        // What never carries is never needed; the answer is kept for what follows.
        let carries = self.shown.carries[edge].is_some()
            || !matches!(self.recorded.find(edge, Ask::Carries, self.purse), Found::Never(_));
        let needed =
            if carries { self.recorded.find(edge, Ask::Needed, self.purse) } else { Found::Never(Method::Structure) };
        match needed {
            Found::In(found) => {
                let tried = self.made(&self.recorded, &found);
                if !tried.moving || self.shown.carries[edge].is_some() {
                    return self.in_use(edge, name, &tried);
                }
                return self.moving(edge, name, &tried);
            }
            Found::NotDecided => return undecided(name),
            Found::Never(_) => {}
        }
        self.not_needed(edge, at, id)
    }

    /// A wire that is needed while relays move; whether it carries at rest too is decided over all conditions.
    fn moving(&self, edge: usize, name: &str, tried: &Tried) -> Judged {
        let model = self.model;
        match self.recorded.find(edge, Ask::AtRest, self.purse) {
            Found::Never(method) => {
                let reason = format!("{name} carries current only while relays move, never while they rest. It stays.");
                let mut judged = plain(Verdict::TransientOnly, reason);
                judged.witness = Some(witness(model, tried, &[edge]));
                judged.proof = Some(self.proof(method));
                judged.live = Some(true);
                judged
            }
            Found::In(found) => {
                let at_rest = self.made(&self.recorded, &found);
                let state = state(model, &at_rest.bits, &[]);
                let is_needed = !at_rest.moving && state.carries[edge] && !state.doubled[edge];
                self.in_use(edge, name, if is_needed { &at_rest } else { tried })
            }
            Found::NotDecided => undecided(name),
        }
    }

    /// Whether a wire hangs on the protective earth.
    pub(super) fn is_earth(&self, id: WireId) -> bool {
        let wire = self.model.network.wires().iter().find(|wire| wire.wire == id);
        wire.is_some_and(|wire| wire.ends.iter().any(|&end| self.earthed[self.model.at(end) as usize]))
    }

    /// A wire that nothing needs in the record as it is.
    fn not_needed(&self, edge: usize, at: usize, id: WireId) -> Judged {
        let machine = self.model.machine;
        let name = machine.wire_name(id);
        let Some(wire) = machine.wires.get(id) else { return undecided(name) };
        let both_landed = Side::BOTH.into_iter().all(|side| matches!(wire.end(side).at, EndAt::Terminal(_)));
        if !self.open_ends[at].is_empty() {
            let reason =
                format!("The record shows nothing that needs {name}, but it hangs on an end that is not known.");
            return lacking(reason, self.open_ends[at].clone());
        }
        let wild: Vec<String> = self
            .model
            .wild
            .iter()
            .filter(|wild| wild.0 != id)
            .map(|wild| {
                format!(
                    "{} goes out of sight and may end anywhere: find it, or write a mystery with the places it may be.",
                    machine.spot_name(&Spot::End(wild.0, wild.1))
                )
            })
            .collect();
        if both_landed && !wild.is_empty() {
            return lacking(
                format!("The record shows nothing that needs {name}, but an end elsewhere is not known."),
                wild,
            );
        }
        let own_doubts: Vec<String> = Side::BOTH
            .into_iter()
            .filter(|&side| matches!(wire.end(side).known, Known::Assumed | Known::Disputed))
            .filter_map(|side| {
                let var = super::term::Var::Assumed(id, side);
                self.model.vars.iter().position(|one| *one == var).map(|var| doubt(self.model, var))
            })
            .collect();
        if !own_doubts.is_empty() {
            return lacking(format!("Where {name} ends is assumed."), own_doubts);
        }
        let carries = self.shown.carries[edge].is_some()
            || match self.recorded.find(edge, Ask::Carries, self.purse) {
                Found::In(_) => true,
                Found::Never(_) => false,
                Found::NotDecided => return undecided(name),
            };
        // What holds in the record must hold whatever turns out of what is in doubt.
        let ask = if carries { Ask::Needed } else { Ask::Carries };
        let method = match self.open().find(edge, ask, self.purse) {
            Found::In(found) => return self.open_question(edge, name, &found, ask),
            Found::NotDecided => return undecided(name),
            Found::Never(method) => method,
        };
        if carries {
            let reason = format!("{name} carries current, but a way beside it does its work in every condition.");
            let mut judged = plain(Verdict::Redundant, reason);
            judged.proof = Some(self.proof(method));
            judged.live = Some(true);
            return judged;
        }
        let gone = self.gone[at].map(|part| machine.part_name(part).to_owned());
        let seen = self.shown.hot[edge].and_then(|number| self.shown.tried.get(number)).cloned();
        let asked = match seen {
            Some(tried) => Ok(tried),
            None => match self.recorded.find(edge, Ask::Hot, self.purse) {
                Found::In(found) => Ok(self.made(&self.recorded, &found)),
                never => Err(never),
            },
        };
        let never = match asked {
            Ok(tried) => {
                let mut reason =
                    format!("{name} carries nothing in any condition, but it can be live: it is dangerous to touch.");
                if let Some(gone) = gone {
                    reason = format!("{reason} It led to {gone}, which is gone.");
                }
                let mut judged = plain(Verdict::LiveStub, reason);
                let Some(rests_on) = self.rests_on(&tried.bits, |bits| self.is_hot(edge, bits)) else {
                    return undecided(name);
                };
                judged.rests_on = rests_on;
                judged.witness = Some(Witness { loads: Vec::new(), ..witness(self.model, &tried, &[edge]) });
                judged.proof = Some(self.proof(method));
                judged.live = Some(true);
                return judged;
            }
            Err(Found::Never(method)) => method,
            Err(_) => return undecided(name),
        };
        if !wild.is_empty() {
            return lacking(format!("{name} is not shown to be live, but an end elsewhere is not known."), wild);
        }
        let open = self.open.as_ref().map_or(Found::Never(never), |open| open.find(edge, Ask::Hot, self.purse));
        let hot_method = match open {
            Found::In(found) => return self.open_question(edge, name, &found, Ask::Hot),
            Found::NotDecided => return undecided(name),
            Found::Never(method) => method,
        };
        let mut judged = match gone {
            Some(gone) => plain(
                Verdict::ServesNothingLeft,
                format!("{name} led to {gone}, which is gone; it carries nothing and is not live in any condition."),
            ),
            None => plain(Verdict::Dead, format!("{name} carries nothing and is not live in any condition.")),
        };
        judged.proof = Some(self.proof(method.max(hot_method)));
        judged.live = Some(false);
        judged
    }

    pub(super) fn is_hot(&self, edge: usize, bits: &[bool]) -> bool {
        let state = state(self.model, bits, &[]);
        let hot = hot(self.model, bits, &state);
        self.model.edges[edge].ends.iter().any(|&end| hot[end as usize])
    }

    /// A whole condition out of the variables that matter, with relays come to rest where they do without changing what is asked.
    pub(super) fn made(&self, view: &View<'_, '_>, found: &[(usize, bool)]) -> Tried {
        let model = self.model;
        let mut bits = at_rest(model);
        let mut held = vec![false; bits.len()];
        let relays = relays::completed(model, view.relays.as_ref(), found, self.purse);
        for &(var, value) in relays.iter().chain(found) {
            bits[var] = value;
            held[var] = true;
        }
        let bits = made_valid(model, &bits, &|var| held[var]).unwrap_or(bits);
        let from_rest = |bits: &[bool]| {
            let mut rest = bits.to_vec();
            for (at, var) in model.vars.iter().enumerate() {
                if matches!(var, super::term::Var::Relay(_)) {
                    rest[at] = false;
                }
            }
            settled(model, &rest)
        };
        let says = |bits: &[bool]| found.iter().all(|&(var, value)| bits[var] == value);
        for rest in [from_rest(&bits), settled(model, &bits)].into_iter().flatten() {
            if says(&rest) {
                return Tried { bits: rest, before: None, moving: false };
            }
        }
        Tried { bits, before: None, moving: true }
    }

    fn in_use(&self, edge: usize, name: &str, tried: &Tried) -> Judged {
        let witness = witness(self.model, tried, &[edge]);
        let mut judged = plain(
            Verdict::InUse,
            match witness.loads.as_slice() {
                [] => format!("{name} carries current that has no other way."),
                loads => format!("{name} is needed by {}.", loads.join(", ")),
            },
        );
        let rests_on = self.rests_on(&tried.bits, |bits| {
            let state = state(self.model, bits, &[]);
            state.carries[edge] && !state.doubled[edge]
        });
        let Some(rests_on) = rests_on else { return undecided(name) };
        judged.rests_on = rests_on;
        judged.witness = Some(witness);
        judged.proof = Some(Proof { method: Method::OneCondition, conditions: Some(1.0) });
        judged.live = Some(true);
        judged
    }

    /// Protective earth carries nothing until something fails, and is never dead.
    fn earth(&self, id: WireId, on_earth: bool) -> Judged {
        let machine = self.model.machine;
        let name = machine.wire_name(id);
        let loose: Vec<String> = Side::BOTH
            .into_iter()
            .filter(|&side| machine.wires.get(id).is_some_and(|wire| wire.end(side).at == EndAt::Loose))
            .map(|side| {
                format!("What {} was the protective earth of is not recorded.", machine.spot_name(&Spot::End(id, side)))
            })
            .collect();
        if !loose.is_empty() {
            return lacking(format!("{name} is a lead of the protective earth with a loose end."), loose);
        }
        if !on_earth {
            let missing =
                vec![format!("{name} has the colour of protective earth, and the record shows no earth on it.")];
            return lacking(format!("What {name} is for is not clear."), missing);
        }
        let mut judged =
            plain(Verdict::InUse, format!("{name} is protective earth: it carries current only when something fails."));
        judged.proof = Some(Proof { method: Method::Structure, conditions: self.conditions });
        judged.live = Some(false);
        judged
    }

    /// Redundant wires taken together: of those that do one another's work not all may go.
    fn in_sets(&self, verdicts: &mut Verdicts) {
        let redundant: Vec<WireId> =
            verdicts.wires.iter().filter(|(_, one)| one.verdict == Verdict::Redundant).map(|(&id, _)| id).collect();
        let edge_of = |id: WireId| {
            let at = self.model.network.wires().iter().position(|wire| wire.wire == id)?;
            self.model.wire_edge.get(at).copied()
        };
        let mut gone: Vec<(WireId, usize)> = Vec::new();
        for id in redundant {
            let Some(edge) = edge_of(id) else { continue };
            let is_free = |out: &[(WireId, usize)]| {
                let out: Vec<usize> = out.iter().map(|one| one.1).collect();
                [Some(&self.recorded), self.open.as_ref()].into_iter().flatten().all(|view| {
                    let mut less = View::of(self.model, std::ptr::eq(view, &raw const self.recorded), &out);
                    less.fed.clone_from(&view.fed);
                    less.relays.clone_from(&view.relays);
                    matches!(less.find(edge, Ask::Needed, self.purse), Found::Never(_))
                })
            };
            if is_free(&gone) {
                gone.push((id, edge));
                continue;
            }
            let single: Vec<WireId> = (0..gone.len())
                .filter(|&at| {
                    let mut fewer = gone.clone();
                    fewer.remove(at);
                    is_free(&fewer)
                })
                .map(|at| gone[at].0)
                .collect();
            let with = if single.is_empty() { gone.iter().map(|one| one.0).collect() } else { single };
            for other in &with {
                if let Some(judged) = verdicts.wires.get_mut(other) {
                    judged.not_with.push(id);
                }
            }
            if let Some(judged) = verdicts.wires.get_mut(&id) {
                judged.not_with.extend(with);
            }
        }
        let names: BTreeMap<WireId, Vec<String>> = verdicts
            .wires
            .iter()
            .filter(|(_, judged)| !judged.not_with.is_empty())
            .map(|(&id, judged)| {
                (id, judged.not_with.iter().map(|&w| self.model.machine.wire_name(w).to_owned()).collect())
            })
            .collect();
        for (id, names) in names {
            if let Some(judged) = verdicts.wires.get_mut(&id) {
                judged.reason = format!("{} Not to be taken out together with {}.", judged.reason, names.join(", "));
            }
        }
    }
}

pub(super) fn plain(verdict: Verdict, reason: String) -> Judged {
    Judged {
        verdict,
        reason,
        proof: None,
        witness: None,
        live: None,
        missing: Vec::new(),
        rests_on: Vec::new(),
        not_with: Vec::new(),
    }
}

pub(super) fn lacking(reason: String, missing: Vec<String>) -> Judged {
    Judged { missing, ..plain(Verdict::CannotBeSaid, reason) }
}

pub(super) fn undecided(name: &str) -> Judged {
    plain(Verdict::NotDecided, format!("The work ended before {name} was decided. It counts as in use until it is."))
}
