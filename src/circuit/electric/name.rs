//! Names of elements for people, and the thing of the record each belongs to.

use crate::machine::{Machine, PartId, Side, Spot, Thing, WireId};

use super::super::network::{Inside, Network, Node};
use super::stamp::What;

impl What {
    /// Names in order, each once in a row; a bar goes by its part's tag, and the landings of a wire that is named itself go
    /// without saying.
    pub fn names(whats: &[Self], machine: &Machine, network: &Network) -> Vec<String> {
        let is_said = |what: &&Self| match what {
            Self::Landing(wire, _) => !whats.contains(&Self::Wire(*wire)),
            _ => true,
        };
        let name = |what: &Self| match (what, what.part(network)) {
            (Self::Join(_), Some(part)) => machine.part_name(part).to_owned(),
            _ => what.name(machine, network),
        };
        let mut names: Vec<String> = whats.iter().filter(is_said).map(name).collect();
        names.dedup();
        names
    }

    /// The part it is inside of; `None` for wires, the meter and the supply's earthing.
    pub fn part(self, network: &Network) -> Option<PartId> {
        self.inside(network).map(|inside| inside.part)
    }

    /// The wire it belongs to.
    pub fn wire(self, network: &Network) -> Option<WireId> {
        let (Self::Wire(index) | Self::Landing(index, _)) = self else { return None };
        network.wires().get(index).map(|conductor| conductor.wire)
    }

    fn inside(self, network: &Network) -> Option<Inside> {
        match self {
            Self::Wire(_) | Self::Landing(..) | Self::Meter | Self::Earthing => None,
            Self::Join(index) => network.joins().get(index).copied(),
            Self::Fuse(index) => network.fuses().get(index).copied(),
            Self::Contact(index) => network.contacts().get(index).map(|contact| contact.inside),
            Self::Coil(index) => network.relays().get(index).map(|relay| relay.inside),
            Self::Load(index) => network.loads().get(index).map(|load| load.inside),
            Self::Source(index) => network.sources().get(index).map(|source| source.inside),
            Self::Input(index) => network.derived().get(index).map(|one| Inside { ends: one.input, ..one.inside }),
            Self::Output(index) => network.derived().get(index).map(|one| one.inside),
            Self::Passive(index) => network.passives().get(index).map(|(_, inside)| *inside),
        }
    }

    /// Its two ends; `None` for the meter and the supply's earthing.
    pub fn ends(self, network: &Network) -> Option<[Node; 2]> {
        match self {
            Self::Wire(index) => network.wires().get(index).map(|conductor| conductor.ends),
            Self::Landing(index, end) => {
                let conductor = network.wires().get(index)?;
                Some([*conductor.ends.get(end)?, (*conductor.landed.get(end)?)?])
            }
            _ => self.inside(network).map(|inside| inside.ends),
        }
    }

    /// The thing of the record it belongs to; `None` for the meter and the supply's earthing.
    pub fn thing(self, network: &Network) -> Option<Thing> {
        match self {
            Self::Landing(index, end) => {
                let wire = network.wires().get(index)?.wire;
                Some(Spot::End(wire, if end == 0 { Side::From } else { Side::To }).into())
            }
            Self::Wire(_) => self.wire(network).map(Thing::from),
            _ => self.part(network).map(Thing::from),
        }
    }

    /// As a person reads it: `W7`, `W7.from`, `K1.11-14`, `M1`.
    pub fn name(self, machine: &Machine, network: &Network) -> String {
        if let Some(Thing::Spot(spot @ (Spot::End(..) | Spot::Wire(_)))) = self.thing(network) {
            return machine.spot_name(&spot);
        }
        let Some(inside) = self.inside(network) else {
            return if self == Self::Earthing { "the supply's earthing" } else { "the meter" }.to_owned();
        };
        let tag = machine.part_name(inside.part);
        match self {
            Self::Contact(_) | Self::Fuse(_) | Self::Join(_) => {
                let marking = |node| match network.info(node) {
                    Some(info) if !info.inner => match &info.spot {
                        Spot::Terminal(terminal) => Some(terminal.marking.to_string()),
                        _ => None,
                    },
                    _ => None,
                };
                match inside.ends.map(marking) {
                    [Some(a), Some(b)] => format!("{tag}.{a}-{b}"),
                    // One of its ends is inside the part, where nobody can point at it.
                    _ => tag.to_owned(),
                }
            }
            _ => tag.to_owned(),
        }
    }
}
