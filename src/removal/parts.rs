//! A verdict for each part: by what is in it, else by the wires on it.

use crate::machine::{EndAt, PartId, Side};

use super::judge::{Bench, lacking, plain, undecided};
use super::model::{Is, Model};
use super::prove::{Ask, Found, Method};
use super::state::state;
use super::verdict::{Judged, Proof, Verdict, Verdicts};
use super::words::{edge_name, witness};

impl Bench<'_, '_, '_> {
    pub(super) fn part(&self, id: PartId, kind: &str, verdicts: &Verdicts) -> Judged {
        let model = self.model;
        let machine = model.machine;
        let name = machine.part_name(id);
        let unknown = model.unknown_parts.contains(&id) || model.network.body(id).is_none_or(|body| !body.kind_known);
        if unknown {
            return lacking(
                format!("What {name} is, is not known."),
                vec![format!("Its kind '{kind}' is not settled.")],
            );
        }
        if model.network.earths().iter().any(|(part, _)| *part == id)
            && !model.network.loads().iter().any(|load| load.inside.part == id)
            && model.network.sources().iter().all(|source| source.inside.part != id)
        {
            return plain(Verdict::InUse, format!("{name} belongs to the protective earth."));
        }
        let own: Vec<usize> = (0..model.edges.len()).filter(|&at| edge_part(model, at) == Some(id)).collect();
        if let Some((edge, number)) = own.iter().find_map(|&at| Some((at, self.shown.carries[at]?))) {
            let tried = &self.shown.tried[number];
            let mut judged = plain(Verdict::InUse, format!("{} carries current.", edge_name(model, edge)));
            judged.witness = Some(witness(model, tried, &[edge]));
            judged.proof = Some(Proof { method: Method::OneCondition, conditions: Some(1.0) });
            judged.live = Some(true);
            let Some(rests_on) = self.rests_on(&tried.bits, |bits| state(model, bits, &[]).carries[edge]) else {
                return undecided(name);
            };
            judged.rests_on = rests_on;
            return judged;
        }
        let landed = machine.wires.iter().filter(|(_, wire)| {
            Side::BOTH.into_iter().any(|side| matches!(&wire.end(side).at, EndAt::Terminal(at) if at.part == id))
        });
        let all: Vec<&Judged> = landed.filter_map(|(wire, _)| verdicts.wires.get(&wire)).collect();
        let has = |verdict: Verdict| all.iter().any(|judged| judged.verdict == verdict);
        let is_supply = model.network.sources().iter().any(|source| source.inside.part == id);
        let supply = || {
            let reason = format!(
                "{name} feeds nothing, by the record, but it is a supply: its terminals are live whenever it is on."
            );
            let mut judged = plain(Verdict::LiveStub, reason);
            judged.live = Some(true);
            judged
        };
        let stores = model
            .network
            .passives()
            .iter()
            .any(|(what, inside)| inside.part == id && *what == crate::circuit::Passive::Capacitor);
        let charge = if stores { " A capacitor can hold a charge: discharge it, and verify." } else { "" };
        if all.is_empty() {
            return if is_supply { supply() } else { plain(Verdict::Dead, format!("No wire is on {name}.{charge}")) };
        }
        if own.is_empty() && (has(Verdict::InUse) || has(Verdict::Redundant)) {
            return plain(Verdict::InUse, format!("A wire that is in use lands on {name}."));
        }
        for view in [&self.recorded, self.open()] {
            for &edge in &own {
                match view.find(edge, Ask::Carries, self.purse) {
                    Found::In(found) => {
                        if std::ptr::eq(view, &raw const self.recorded) {
                            let mut judged =
                                plain(Verdict::InUse, format!("{} carries current.", edge_name(model, edge)));
                            judged.witness = Some(witness(model, &self.made(view, &found), &[edge]));
                            return judged;
                        }
                        return self.open_question(edge, name, &found, Ask::Carries);
                    }
                    Found::NotDecided => return undecided(name),
                    Found::Never(_) => {}
                }
            }
        }
        for (verdict, reason) in [
            (Verdict::CannotBeSaid, format!("Nothing in {name} carries current, but a wire on it cannot be judged.")),
            (Verdict::NotDecided, format!("A wire on {name} was not decided.")),
            (Verdict::LiveStub, format!("Nothing in {name} carries current, but a wire on it can be live.")),
        ] {
            if has(verdict) {
                let mut judged = plain(verdict, reason);
                judged.missing = all.iter().flat_map(|one| one.missing.clone()).collect();
                judged.missing.sort();
                judged.missing.dedup();
                return judged;
            }
        }
        if is_supply {
            return supply();
        }
        let mut judged = plain(Verdict::Dead, format!("Nothing in {name} carries current in any condition.{charge}"));
        judged.proof = Some(self.proof(Method::Structure));
        judged
    }
}

/// The part an edge is in.
fn edge_part(model: &Model<'_>, edge: usize) -> Option<PartId> {
    let network = &model.network;
    match model.edges.get(edge)?.is {
        Is::Contact(at) => network.contacts().get(at).map(|one| one.inside.part),
        Is::Fuse(at) => network.fuses().get(at).map(|one| one.part),
        Is::Load(at) => network.loads().get(at).map(|one| one.inside.part),
        Is::Coil(at) => network.relays().get(at).map(|one| one.inside.part),
        Is::Passive(at) | Is::Sense(at) => network.passives().get(at).map(|(_, one)| one.part),
        Is::Input(at) | Is::Output(at) => network.derived().get(at).map(|one| one.inside.part),
        Is::Source(at) => network.sources().get(at).map(|one| one.inside.part),
        _ => None,
    }
}
