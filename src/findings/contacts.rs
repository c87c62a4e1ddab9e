//! Rules on contacts: what one contact switches, and contacts that switch nothing.

use std::collections::{BTreeMap, BTreeSet};

use crate::catalogue::Element;
use crate::machine::{PartId, TerminalRef, Thing};
use crate::quantity::{Rating, format_scaled};

use super::consumers::{is_motor, rated_amps};
use super::finding::{Finding, Severity};
use super::graph::{NetId, Sort, is_worked};
use super::labels::listed;
use super::reach::{Pieces, is_met, nets_over};
use super::rule::{COMMON_PRACTICE, Rule};
use super::survey::Survey;

pub(super) const TWO_LOADS: Rule = Rule {
    name: "two-loads-on-one-contact",
    severity: Severity::Fault,
    looks_for: "A relay contact or an output that switches two or more loads which do not work as one.",
    why: "The loads cannot be worked apart, and the contact carries their currents together.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: two_loads,
};

pub(super) const DRIVES_NOTHING: Rule = Rule {
    name: "contact-drives-nothing",
    severity: Severity::Doubt,
    looks_for: "A wired relay contact or output behind which there is no load, coil, input or supply.",
    why: "Something was taken out or never put in, and what hangs there may be live when the contact closes.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: idle_contacts,
};

/// One worked contact.
struct Contact {
    item: usize,
    part: PartId,
    /// Terminals of its ends.
    terminals: [TerminalRef; 2],
    nets: [NetId; 2],
    /// What works it, as text: contacts of one change-over share it.
    driver: String,
    /// By a coil, not an output.
    by_coil: bool,
}

fn worked_contacts(survey: &Survey) -> Vec<Contact> {
    let mut all = Vec::new();
    for (at, item) in survey.graph.items.iter().enumerate().filter(|(_, item)| item.sort == Sort::Contact) {
        let Some(Element::Contact { ends, driver, .. }) = survey.element(item) else { continue };
        if is_worked(driver) {
            all.push(Contact {
                item: at,
                part: item.part,
                terminals: [&ends.0, &ends.1].map(|marking| TerminalRef::new(item.part, marking.as_str())),
                nets: item.nets,
                driver: format!("{driver:?}"),
                by_coil: matches!(driver, crate::catalogue::Driver::Coil(_)),
            });
        }
    }
    all
}

/// Loads joined to a net by wire and fuses alone, by the group or part they count as.
fn loads_on(survey: &Survey, net: NetId) -> BTreeMap<String, BTreeSet<PartId>> {
    let mut loads: BTreeMap<String, BTreeSet<PartId>> = BTreeMap::new();
    for &net in &nets_over(survey.graph, net, |item| survey.graph.items[item].sort == Sort::Fuse) {
        for &item in &survey.graph.nets[net].items {
            let what = &survey.graph.items[item];
            if what.sort != Sort::Load || what.nets[0] == what.nets[1] {
                continue;
            }
            let Some(part) = survey.machine.parts.get(what.part) else { continue };
            let key =
                part.group.as_ref().map_or_else(|| format!("part {:?}", what.part), |group| format!("group {group}"));
            loads.entry(key).or_default().insert(what.part);
        }
    }
    loads
}

fn two_loads(survey: &Survey, out: &mut Vec<Finding>) {
    let contacts = worked_contacts(survey);
    let mut group: BTreeMap<(PartId, &str), Vec<&Contact>> = BTreeMap::new();
    for contact in &contacts {
        group.entry((contact.part, &contact.driver)).or_default().push(contact);
    }
    let marked = |net: NetId| survey.poles_at.contains_key(&net) || !survey.graph.nets[net].doubts.is_empty();
    let mut loads_by_net: BTreeMap<NetId, BTreeMap<String, BTreeSet<PartId>>> = BTreeMap::new();
    let mut shared: Vec<(&Contact, usize, BTreeSet<usize>)> = Vec::new();
    for contact in &contacts {
        for side in [0, 1] {
            let net = contact.nets[side];
            if marked(net) || loads_by_net.entry(net).or_insert_with(|| loads_on(survey, net)).len() < 2 {
                continue;
            }
            // Arms of one change-over open and close together: none of them is another way to the supply.
            let arms = group.get(&(contact.part, contact.driver.as_str())).into_iter().flatten();
            let own = arms.filter(|other| other.terminals.iter().any(|t| contact.terminals.contains(t)));
            shared.push((contact, side, own.map(|other| other.item).collect()));
        }
    }
    let opened: BTreeSet<usize> = shared.iter().flat_map(|(_, _, own)| own).copied().collect();
    let pieces = Pieces::of(survey.graph, &opened, marked);
    for (contact, side, own) in shared {
        let net = contact.nets[side];
        let fed_or_unsure = pieces.lead_to_mark(net, &own);
        if let Some(loads) = loads_by_net.get(&net).filter(|_| !fed_or_unsure) {
            out.push(two_loads_finding(survey, contact, side, loads));
        }
    }
}

fn two_loads_finding(
    survey: &Survey,
    contact: &Contact,
    side: usize,
    loads: &BTreeMap<String, BTreeSet<PartId>>,
) -> Finding {
    let parts: BTreeSet<PartId> = loads.values().flatten().copied().collect();
    let names = listed(parts.iter().map(|&part| survey.machine.part_name(part).to_owned()));
    let terminal = contact.terminals[side].clone();
    let at = survey.machine.terminal_name(&terminal);
    let bodies: Vec<_> = parts.iter().filter_map(|part| survey.bodies.get(part)).collect();
    let amps: Option<f64> = bodies.iter().map(|body| rated_amps(body)).sum();
    let motor = bodies.iter().any(|body| is_motor(body));
    let ratings = survey.bodies.get(&contact.part).map(|body| &body.ratings);
    let limit = ratings.and_then(|r| {
        let motor_limit = r.get(Rating::ContactMotorAmps).filter(|_| motor).map(|amps| (amps, "with motors"));
        motor_limit.or_else(|| r.get(Rating::ContactAmps).map(|amps| (amps, "resistive")))
    });
    let mut about: Vec<Thing> = parts.iter().map(|&part| part.into()).collect();
    about.push(terminal.into());
    let (sum, severity) = match (amps, limit) {
        (Some(amps), Some((limit, kind))) => (
            format!(": together {} on a contact for {} {kind}", format_scaled(amps, "A"), format_scaled(limit, "A")),
            if amps > limit { Severity::Danger } else { Severity::Fault },
        ),
        (Some(amps), None) => (
            format!(": together {}, on a contact whose rating is not recorded", format_scaled(amps, "A")),
            Severity::Fault,
        ),
        (None, _) => (String::new(), Severity::Fault),
    };
    TWO_LOADS
        .finding(
            about,
            format!("The contact at {at} switches {names}{sum}."),
            "If they are meant to work as one load, give them one group; else isolate, verify absence of voltage, and put one \
             of them on a contact of its own.",
        )
        .with_severity(severity)
}

/// What lies behind one side of a contact.
#[derive(PartialEq, Eq, Clone, Copy)]
enum Behind {
    NoWire,
    Nothing,
    Something,
    NotKnown,
}

fn behind(survey: &Survey, contact: &Contact, side: usize) -> Behind {
    let from = contact.nets[side];
    if !survey.graph.nets[from].doubts.is_empty() {
        return Behind::NotKnown;
    }
    if !survey.has_wire(from) {
        return Behind::NoWire;
    }
    let mut unsure = false;
    let something = is_met(
        survey.graph,
        from,
        |item| item != contact.item,
        |net| {
            let what = &survey.graph.nets[net];
            unsure |= !what.doubts.is_empty();
            let works = |&item: &usize| !matches!(survey.graph.items[item].sort, Sort::Contact | Sort::Fuse);
            survey.poles_at.contains_key(&net) || what.items.iter().any(works)
        },
    );
    if something {
        return Behind::Something;
    }
    if unsure { Behind::NotKnown } else { Behind::Nothing }
}

fn idle_contacts(survey: &Survey, out: &mut Vec<Finding>) {
    let contacts = worked_contacts(survey);
    let mut by_coil: BTreeMap<PartId, Vec<[Behind; 2]>> = BTreeMap::new();
    for contact in &contacts {
        let sides = [behind(survey, contact, 0), behind(survey, contact, 1)];
        if contact.by_coil {
            by_coil.entry(contact.part).or_default().push(sides);
        }
        let Some(empty) = [1, 0].into_iter().find(|&side| sides[side] == Behind::Nothing) else { continue };
        if sides[1 - empty] == Behind::NotKnown {
            continue;
        }
        let terminal = contact.terminals[empty].clone();
        out.push(DRIVES_NOTHING.finding(
            vec![terminal.clone().into()],
            format!("A wire is on {}, but nothing that works lies behind it.", survey.machine.terminal_name(&terminal)),
            "Take it for live; isolate, verify absence of voltage with a meter tried on a known live source before and after, \
             then follow the wire and land it, or cap and tag it.",
        ));
    }
    for (part, sides) in by_coil {
        let coil_wired = survey
            .consumers
            .iter()
            .filter(|consumer| consumer.part == part && consumer.is_coil)
            .any(|coil| coil.ends.iter().all(|&net| survey.has_wire(net)));
        let used = |sides: &[Behind; 2]| sides.iter().all(|&side| side != Behind::NoWire);
        let clear = sides.iter().flatten().all(|&side| side != Behind::NotKnown);
        if coil_wired && clear && !sides.iter().any(used) {
            out.push(DRIVES_NOTHING.finding(
                vec![part.into()],
                format!("The coil of {} is wired, but none of its contacts has a wire on both sides.", survey.part_words(part)),
                "With the machine isolated, look for leads that came off its contacts; if it serves nothing, record it as a \
                 spare.",
            ));
        }
    }
}
