//! The ladder diagram: derived from the record, laid out in millimetres, once for screen and paper.
//!
//! Rungs run between the two poles of a supply, from series-parallel reduction of the record's nets; what is not
//! series-parallel is drawn with vertical links, and no contact is drawn twice. What has no place on a rung (a lead with an
//! open end, a contact nothing is joined to, a part whose pins are not known) is listed with the reason. Nothing here changes
//! the record or judges it.

mod arrange;
mod board;
mod bridge;
mod compose;
mod fabric;
mod finish;
mod graph;
mod joints;
mod layout;
mod names;
mod numbers;
mod off;
mod paint;
mod reduce;
mod supply;
mod symbol;

pub use layout::{
    Device, DeviceEnd, Drawing, DrawnNet, Ladder, Off, Options, Pole, Reason, Reference, Rung, Section, SectionKind,
    Stretch, What,
};

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::circuit::Network;
use crate::machine::{Machine, PartId};

use board::Board;
use finish::Finish;
use graph::Graph;
use off::Survey;
use paint::Painter;

/// Lays out the ladder diagram of a record. The same record gives the same ladder for ever.
pub fn lay_out(machine: &Machine, catalogue: &Catalogue, options: &Options) -> Ladder {
    let network = Network::of(machine, catalogue);
    let graph = Graph::of(machine, catalogue, &network);
    let groups = supply::groups(machine, &graph);
    let mut drawn = vec![false; graph.edges.len()];
    for edge in groups.iter().flat_map(|group| group.edges.iter().copied().chain(group.sense)) {
        drawn[edge] = true; // groups hold edges of this graph
    }
    let shown: BTreeSet<PartId> =
        graph.edges.iter().zip(&drawn).filter(|(_, drawn)| **drawn).map(|(edge, _)| edge.part).collect();
    let parts: Vec<PartId> = shown.iter().copied().collect();
    let state = names::state(machine, catalogue, &network, &parts);
    let mut painter = Painter::new(machine, catalogue, &network, options.style);
    let cells: Vec<f64> = graph
        .edges
        .iter()
        .map(|edge| painter.cell_mm(edge, edge.nets.map(|net| graph.nets.get(net).map_or(&[][..], |net| &net.wires))))
        .collect();
    let first_y = painter.paint_heading(&machine.facts.title, &state);

    let mut board = Board::new(&graph, &cells);
    let composed = compose::composed(machine, catalogue, &mut board, &groups, first_y);
    let finish = Finish { machine, network: &network, graph: &graph, groups: &groups };
    let finished = finish.finished(&board.lines, &board.puts, &composed);

    let poles = off::all_poles(&graph, &groups);
    let given = given(&graph, &groups, &composed);
    let mut nets_drawn = vec![false; graph.nets.len()];
    for &net in finished.drawn.keys() {
        nets_drawn[net] = true; // drawn nets are nets of this graph
    }
    let family =
        machine.parts.iter().map(|(id, part)| (id, catalogue.kind(&part.kind).map(|kind| kind.family))).collect();
    let survey = Survey {
        machine,
        network: &network,
        graph: &graph,
        poles: &poles,
        drawn: &drawn,
        given: &given,
        nets_drawn: &nets_drawn,
        family,
    };
    let off = survey.list();
    let crossings = joints::crossings(&board.lines);
    let dots = joints::dots(
        &board.lines,
        &finished
            .puts
            .iter()
            .map(|(put, edge)| (*put, if put.turned { [edge.nets[1], edge.nets[0]] } else { edge.nets }))
            .collect::<Vec<_>>(),
    );
    let (scene, drawings) = painter.painted(&finished, &composed, &dots, &off);
    Ladder {
        title: machine.facts.title.clone(),
        state,
        sections: finished.sections,
        rungs: finished.rungs,
        devices: finished.devices,
        nets: finished.nets,
        stretches: finished.stretches,
        off,
        crossings,
        scene: Arc::new(scene),
        drawings,
    }
}

/// Which of what gives a supply is on the ladder: drawn as a winding, or by its poles.
fn given(graph: &Graph, groups: &[supply::Group], composed: &compose::Composed) -> Vec<bool> {
    let mut given = vec![false; graph.givers.len()];
    for (giver, _) in &composed.givers {
        given[*giver] = true; // composed from this graph
    }
    for section in &composed.sections {
        let poles: Vec<usize> = section.poles.iter().map(|pole| pole.net).collect();
        let Some(group) = groups.get(section.group) else { continue };
        for &giver in &group.givers {
            let one = &graph.givers[giver];
            let either = one.nets.iter().any(|net| poles.contains(net));
            given[giver] |= one.what == What::Source && either;
        }
    }
    given
}
