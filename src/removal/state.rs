//! A machine with everything set one way: what carries current, what is held together, what is live.

use crate::circuit::{Partition, blocks};
use crate::quantity::Current;

use super::model::{Edge, Is, Model};
use super::term::Var;

/// What there is with every variable set.
pub(super) struct State {
    /// For each edge: current can flow in it, by loops alone.
    pub(super) carries: Vec<bool>,
    /// For each edge: its two ends are joined besides, by wires and closed contacts.
    pub(super) doubled: Vec<bool>,
    /// For each edge: it conducts.
    pub(super) closed: Vec<bool>,
}

/// With these edges left out.
pub(super) fn state(model: &Model<'_>, bits: &[bool], out: &[usize]) -> State {
    let count = model.edges.len();
    let mut closed: Vec<bool> = model.edges.iter().map(|edge| edge.when.holds(bits)).collect();
    for &edge in out {
        if let Some(slot) = closed.get_mut(edge) {
            *slot = false;
        }
    }
    let of = |wanted: &dyn Fn(&Edge) -> bool| -> (Vec<usize>, Vec<u32>) {
        let all: Vec<usize> = (0..count).filter(|&at| closed[at] && wanted(&model.edges[at])).collect();
        let ends: Vec<(u32, u32)> = all.iter().map(|&at| model.edges[at].ends.into()).collect();
        let block = blocks(model.places, &ends);
        (all, block)
    };
    let (all, block) = of(&|_| true);
    let mut of_edge = vec![None; count];
    for (&at, &block) in all.iter().zip(&block) {
        of_edge[at] = Some(block as usize);
    }
    let mut edges_in = vec![0u32; all.len() + 1];
    for &block in &block {
        edges_in[block as usize] += 1;
    }
    let mut live = vec![false; all.len() + 1];
    let mut derived: Vec<[Option<usize>; 2]> = vec![[None; 2]; model.network.derived().len()];
    for &at in &all {
        match model.edges[at].is {
            Is::Source(_) | Is::Sense(_) | Is::Unknown => {
                // A source in no loop feeds nothing.
                if let Some(block) = of_edge[at].filter(|&block| edges_in[block] > 1) {
                    live[block] = true;
                }
            }
            Is::Input(one) => derived[one][0] = of_edge[at],
            Is::Output(one) => derived[one][1] = of_edge[at],
            _ => {}
        }
    }
    loop {
        let mut grew = false;
        for (one, ends) in derived.iter().enumerate() {
            let [Some(input), Some(output)] = *ends else { continue };
            if live[input] && !live[output] {
                live[output] = true;
                grew = true;
            }
            let backwards = model.network.derived()[one].current == Current::Ac;
            if backwards && live[output] && !live[input] {
                live[input] = true;
                grew = true;
            }
        }
        if !grew {
            break;
        }
    }
    let carries: Vec<bool> = of_edge.iter().map(|block| block.is_some_and(|block| live[block])).collect();
    let (joining, block) = of(&Edge::joins);
    let mut size = vec![0u32; joining.len() + 1];
    for &block in &block {
        size[block as usize] += 1;
    }
    let mut doubled = vec![false; count];
    for (&at, &block) in joining.iter().zip(&block) {
        let [a, b] = model.edges[at].ends;
        doubled[at] = size[block as usize] > 1 || a == b;
    }
    State { carries, doubled, closed }
}

/// Places that are held at a potential other than that of a pole near earth, directly or through loads.
pub(super) fn hot(model: &Model<'_>, bits: &[bool], state: &State) -> Vec<bool> {
    let mut hot = vec![false; model.places];
    let mut cold = vec![false; model.places];
    let mut open = Vec::new();
    for (at, edge) in model.edges.iter().enumerate() {
        let [a, b] = edge.ends;
        let earthed = |one: usize| model.network.sources().get(one).is_some_and(|source| source.earthed);
        match edge.is {
            Is::Source(one) if edge.when.holds(bits) => {
                open.push(a);
                if earthed(one) {
                    cold[b as usize] = true;
                } else {
                    open.push(b);
                }
            }
            Is::Output(_) if state.closed[at] && state.carries[at] => open.extend([a, b]),
            Is::Unknown if state.closed[at] => open.extend(model.hub),
            Is::Input(one) => {
                // Fed from its secondary by something else.
                let output = model.edges.iter().position(|other| other.is == Is::Output(one));
                let is_ac = model.network.derived().get(one).is_some_and(|one| one.current == Current::Ac);
                if is_ac && state.carries[at] && output.is_some_and(|output| state.carries[output]) {
                    open.extend([a, b]);
                }
            }
            Is::Output(one) => {
                // A secondary in no loop of its own is live all the same when its input is.
                let input = model.edges.iter().position(|other| other.is == Is::Input(one));
                if input.is_some_and(|input| state.carries[input]) {
                    open.extend([a, b]);
                }
            }
            _ => {}
        }
    }
    let mut next: Vec<Vec<u32>> = vec![Vec::new(); model.places];
    for (edge, _) in model.edges.iter().zip(&state.closed).filter(|(edge, closed)| **closed && !edge.feeds_only()) {
        next[edge.ends[0] as usize].push(edge.ends[1]);
        next[edge.ends[1] as usize].push(edge.ends[0]);
    }
    // What is held to a pole near earth by wires, closed contacts and fuses is as cold as the pole.
    let mut joined = Partition::new(model.places);
    for (edge, _) in model.edges.iter().zip(&state.closed).filter(|(_, closed)| **closed) {
        if edge.joins() || matches!(edge.is, Is::Fuse(_)) {
            joined.join(edge.ends[0], edge.ends[1]);
        }
    }
    let classes = joined.classes();
    let mut cold_class = vec![false; model.places];
    for (&class, _) in classes.iter().zip(&cold).filter(|(_, cold)| **cold) {
        cold_class[class as usize] = true;
    }
    let cold: Vec<bool> = classes.iter().map(|&class| cold_class[class as usize]).collect();
    open.retain(|&place| !cold[place as usize]);
    while let Some(place) = open.pop() {
        if std::mem::replace(&mut hot[place as usize], true) {
            continue;
        }
        open.extend(next[place as usize].iter().copied().filter(|&other| !cold[other as usize]));
    }
    hot
}

/// For each edge: its ends are joined to poles that differ, with no load between.
pub(super) fn driven(model: &Model<'_>, bits: &[bool], out: &[usize]) -> Vec<bool> {
    let state = state(model, bits, out);
    let mut joined = Partition::new(model.places);
    for (edge, _) in model.edges.iter().zip(&state.closed).filter(|(_, closed)| **closed) {
        if edge.joins() || matches!(edge.is, Is::Fuse(_)) {
            joined.join(edge.ends[0], edge.ends[1]);
        }
    }
    let mut input_carries = vec![false; model.network.derived().len()];
    for (edge, carries) in model.edges.iter().zip(&state.carries) {
        if let Is::Input(one) = edge.is {
            input_carries[one] = *carries;
        }
    }
    let mut pole = vec![false; model.places];
    for (at, edge) in model.edges.iter().enumerate() {
        let is_live = match edge.is {
            Is::Source(_) => state.closed[at],
            Is::Output(one) => input_carries[one],
            _ => false,
        };
        if is_live {
            for end in edge.ends {
                pole[joined.root(end) as usize] = true;
            }
        }
    }
    let is_driven = |(edge, carries): (&Edge, &bool)| {
        let [a, b] = edge.ends.map(|end| joined.root(end));
        *carries && a != b && pole[a as usize] && pole[b as usize]
    };
    model.edges.iter().zip(&state.carries).map(is_driven).collect()
}

/// Which coils pull in: fed by poles on both ends, with no load between.
fn fed(model: &Model<'_>, bits: &[bool]) -> Vec<bool> {
    let mut fed = vec![false; model.network.relays().len()];
    for (edge, driven) in model.edges.iter().zip(driven(model, bits, &[])) {
        if let Is::Coil(relay) = edge.is {
            fed[relay] = driven;
        }
    }
    fed
}

/// The same condition with its relays come to rest; `None` when they do not within a few moves.
pub(super) fn settled(model: &Model<'_>, bits: &[bool]) -> Option<Vec<bool>> {
    let mut bits = bits.to_vec();
    let relays: Vec<(usize, usize)> = model
        .vars
        .iter()
        .enumerate()
        .filter_map(|(at, var)| match var {
            Var::Relay(relay) => Some((at, *relay)),
            _ => None,
        })
        .collect();
    if relays.is_empty() {
        return Some(bits);
    }
    for _ in 0..2 * relays.len() + 4 {
        let fed = fed(model, &bits);
        let mut moved = false;
        for &(var, relay) in &relays {
            moved |= bits[var] != fed[relay];
            bits[var] = fed[relay];
        }
        if !moved {
            return Some(bits);
        }
    }
    None
}
