//! How dangerous it is to take a reading, and what to mind.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use crate::circuit::{Hazard, Network, Situation};
use crate::machine::{ConditionId, Machine};

use super::log::Log;
use super::open::MayBe;
use super::world::World;

/// How dangerous a reading is to take, by the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Risk {
    /// No source is on.
    Dead,
    /// Extra-low voltage.
    ExtraLow,
    /// Line voltage, or it is not known.
    Line,
}

impl Risk {
    /// As it is written in results.
    pub fn word(self) -> &'static str {
        match self {
            Self::Dead => "dead",
            Self::ExtraLow => "extra-low",
            Self::Line => "line",
        }
    }
}

/// What to mind when a reading is taken in a condition, worst first.
pub(super) fn cautions(machine: &Machine, risk: Risk) -> Vec<&'static str> {
    let mut cautions = Vec::new();
    match risk {
        Risk::Dead => cautions.push(
            "Isolate and lock, let capacitors discharge, and verify absence of voltage with a meter tried on a known live source before and after.",
        ),
        Risk::ExtraLow => cautions.push(
            "WARNING: extra-low voltage is on, and what the record does not know can still be at line voltage. Verify first, and keep clear of the line side.",
        ),
        Risk::Line => cautions.push(
            "DANGER: line voltage. Live work is for licensed practice under local rules, with rated probes and gloves and no metal on the hands.",
        ),
    }
    if risk != Risk::Dead {
        if machine.facts.may_burn() {
            cautions.push("WARNING: the refrigerant burns, or it is not said that it does not. No spark where it may have leaked; ventilate first.");
        }
        cautions.push("Motors, fans and heaters can start by themselves: keep hands, tools and leads clear of them.");
        cautions.push("Follow local rules and the maker's instructions.");
    }
    cautions
}

/// How dangerous each condition is, by the record and by the worlds that are looked at: the worst counts. One that does not say of
/// every source whether it is on counts as line voltage.
pub(super) fn risks(machine: &Machine, network: &Network, worlds: &[&World]) -> BTreeMap<ConditionId, Risk> {
    let sources: BTreeSet<_> = network.sources().iter().map(|source| source.inside.part).collect();
    let ids: Vec<ConditionId> = machine.conditions.ids().collect();
    ids.into_par_iter()
        .map(|id| {
            let said = sources.is_subset(&machine.sources_said(id)) && !sources.is_empty();
            let own = Situation::of(network, &machine.setting(id)).hazard().0;
            // Nothing is worse, so no world has to be asked.
            let worst = || worlds.iter().map(|world| world.hazard(id)).fold(own, std::cmp::Ord::max);
            let risk = match own {
                _ if !said => Risk::Line,
                Hazard::Above => Risk::Line,
                _ => risk_of(worst()),
            };
            (id, risk)
        })
        .collect()
}

/// The same, raised by what else may be. `None` when nobody waits any more.
pub(super) fn raised(
    log: &Log<'_>,
    risks: BTreeMap<ConditionId, Risk>,
    others: &[MayBe],
) -> Option<BTreeMap<ConditionId, Risk>> {
    let open: Vec<ConditionId> = risks.iter().filter(|(_, risk)| **risk != Risk::Line).map(|(id, _)| *id).collect();
    if open.is_empty() {
        return Some(risks);
    }
    let of_one = |may_be: &MayBe| -> Option<Vec<Risk>> {
        let world = World::in_log(log, &may_be.answers).with_flaws_of(&log.network, &may_be.flaws);
        let risk = |&id: &ConditionId| {
            // Leads landed elsewhere bring no source into a machine on which none is on.
            let stays_dead = risks.get(&id) == Some(&Risk::Dead) && world.has_same_places();
            if stays_dead { Risk::Dead } else { risk_of(world.hazard(id)) }
        };
        (!(log.stopped)()).then(|| open.iter().map(risk).collect())
    };
    let all: Vec<Vec<Risk>> = others.par_iter().map(of_one).collect::<Option<_>>()?;
    let mut raised = risks;
    for (id, risk) in all.iter().flat_map(|own| open.iter().zip(own)) {
        raised.entry(*id).and_modify(|worst| *worst = (*worst).max(*risk));
    }
    Some(raised)
}

fn risk_of(hazard: Hazard) -> Risk {
    match hazard {
        Hazard::NoSource => Risk::Dead,
        Hazard::ExtraLow => Risk::ExtraLow,
        Hazard::Above => Risk::Line,
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::identify::Reasoned;
    use crate::identify::account::Account;
    use crate::identify::open::{likely, not_looked_at};
    use crate::machine::{Candidate, Guess};
    use crate::store;

    /// A lead that may end on the secondary of a transformer, and feed it backwards.
    const FED_BACKWARDS: &str = r#"(format: 1, machine: (title: "risk", source: "invented"), parts: [
        (tag: "X1", kind: "cord-plug", ratings: {"volts": "230 V AC", "hertz": "50 Hz"}),
        (tag: "X2", kind: "cord-plug", ratings: {"volts": "24 V AC", "hertz": "50 Hz"}),
        (tag: "T1", kind: "control-transformer", ratings: {"volts": "230 V AC", "secondary_volts": "24 V AC", "volt_amps": "40 VA"}),
        (tag: "P1", kind: "lamp", ratings: {"volts": "24 V AC", "watts": "5 W"})],
        wires: [(key: "W1", from: "X1.L", to: "P1.2"), (key: "W2", from: "X2.L", to: "unknown"), (key: "W3", from: "X2.N", to: "T1.X2")],
        conditions: [(name: "all off", sources: {"X1": false, "X2": false}),
            (name: "24 V only", sources: {"X1": false, "X2": true})],
        mysteries: [(name: "W2 end", subject: end("W2.to"), candidates: [(guess: terminal("T1.X1")), (guess: terminal("P1.1"))])])"#;

    /// What is said of the condition at extra-low voltage, by what is looked at and by all that may be.
    fn control(machine: &Machine, account: &Account) -> [Risk; 2] {
        let catalogue = crate::catalogue::Catalogue::built_in().unwrap();
        let log = Log::of(machine, &catalogue, &|| false);
        let looked = likely(account);
        let worlds: Vec<World> =
            looked.iter().flat_map(|&at| account.worlds_of(&log, &account.hypotheses[at], 1)).collect();
        let condition = machine.conditions.ids().nth(1).unwrap();
        let by_looked = risks(machine, &log.network, &worlds.iter().collect::<Vec<_>>());
        let all = raised(&log, by_looked.clone(), &not_looked_at(&log, account, &looked)).unwrap();
        [by_looked[&condition], all[&condition]]
    }

    #[test]
    fn what_is_dangerous_by_an_unlikely_answer_or_by_one_elsewhere_is_dangerous() {
        let catalogue = crate::catalogue::Catalogue::built_in().unwrap();
        let loaded = store::parse("risk", FED_BACKWARDS, &catalogue);
        let mut machine = loaded.unwrap_or_else(|errors| panic!("{errors}"));
        let (id, mystery) = machine.mysteries.iter().next().map(|(id, mystery)| (id, mystery.clone())).unwrap();
        let of = |mut mystery: crate::machine::Mystery, candidates: Vec<Candidate>| {
            mystery.candidates = candidates;
            Some(Arc::new(mystery))
        };
        let [feeds_back, lamp] = [0, 1].map(|at| mystery.candidates[at].guess.clone());
        // Half a per cent: too unlikely to be told apart from the others now.
        let three = vec![
            Candidate::new(feeds_back.clone(), 0.01),
            Candidate::new(lamp.clone(), 1.0),
            Candidate::new(Guess::Nowhere, 1.0),
        ];
        machine.mysteries.put(id, of(mystery.clone(), three));
        let account = Reasoned::of(&machine, &catalogue).accounts.remove(0);
        assert_eq!(control(&machine, &account), [Risk::ExtraLow, Risk::Line], "230 V by the transformer");
        // The same where it is a candidate of a mystery elsewhere only.
        let two = vec![Candidate::new(lamp, 1.0), Candidate::new(Guess::Nowhere, 1.0)];
        machine.mysteries.put(id, of(mystery.clone(), two));
        let account = Reasoned::of(&machine, &catalogue).accounts.remove(0);
        assert_eq!(control(&machine, &account), [Risk::ExtraLow, Risk::ExtraLow]);
        let other = of(mystery, vec![Candidate::new(feeds_back, 1.0)]);
        machine.mysteries.put(machine.mysteries.next_id(), other);
        assert_eq!(control(&machine, &account), [Risk::ExtraLow, Risk::Line]);
    }
}
