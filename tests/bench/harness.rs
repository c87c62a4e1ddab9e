//! Networks that hang together as wiring does, for timing: pairs of rails fed through a line, from each rail contacts in a row,
//! then a load to the other rail, and now and then a link from one row to another, mostly near by; most nets have two or three
//! ends, rails 10 to 40. All by counting and SplitMix64, so the same numbers give the same network for ever.

use wirewitness::circuit::linear::{Branch, Circuit, Phasor};
use wirewitness::generate::Random;

/// A number below `n`.
fn below(random: &mut Random, n: u32) -> u32 {
    u32::try_from(random.next() % u64::from(n.max(1))).unwrap()
}

/// About so many elements, and the numbers of its closed contacts.
pub fn harness(elements: usize) -> (Circuit, Vec<usize>) {
    let mut random = Random::from_seed(elements as u64);
    let mut circuit = Circuit::default();
    let node = |circuit: &mut Circuit| {
        circuit.nodes += 1;
        circuit.nodes - 1
    };
    let contact = Branch::Resistor { ohms: 0.01 };
    let (live, neutral) = (node(&mut circuit), node(&mut circuit));
    circuit.branches.push((live, neutral, Branch::Voltage { volts: Phasor::new(230.0, 0.0), ohms: 0.1 }));
    let mut rails = vec![(live, neutral)];
    let mut rows: Vec<u32> = Vec::new();
    let mut ends = 0;
    let mut contacts = Vec::new();
    while circuit.branches.len() < elements {
        // A rail with its 10 to 40 ends taken feeds the next pair of rails.
        let (live, neutral) = rails[rails.len() - 1];
        if ends == 0 {
            ends = 10 + below(&mut random, 31);
            let from = rails[below(&mut random, u32::try_from(rails.len()).unwrap()) as usize];
            let next = (node(&mut circuit), node(&mut circuit));
            circuit.branches.push((from.0, next.0, Branch::Resistor { ohms: 0.05 }));
            circuit.branches.push((from.1, next.1, Branch::Resistor { ohms: 0.05 }));
            rails.push(next);
            continue;
        }
        ends -= 1;
        let mut at = live;
        for _ in 0..=below(&mut random, 4) {
            let next = node(&mut circuit);
            // Most contacts are closed; the open ones here have a snubber across them.
            let open = Branch::Impedance { ohms: Phasor::new(100.0, -31_831.0) };
            let closed = if below(&mut random, 8) == 0 { open } else { contact };
            if closed == contact {
                contacts.push(circuit.branches.len());
            }
            circuit.branches.push((at, next, closed));
            at = next;
            rows.push(at);
        }
        let load = match below(&mut random, 3) {
            0 => Branch::Resistor { ohms: 40.0 },
            1 => Branch::Impedance { ohms: Phasor::new(177.0, 271.8) },
            _ => Branch::Resistor { ohms: 900.0 },
        };
        circuit.branches.push((at, neutral, load));
        if below(&mut random, 5) == 0 {
            // To a row near by as a rule, once in ten times anywhere.
            let all = u32::try_from(rows.len()).unwrap();
            let reach = if below(&mut random, 10) == 0 { all } else { all.min(60) };
            let back = below(&mut random, reach);
            circuit.branches.push((at, rows[(all - 1 - back) as usize], contact));
        }
    }
    (circuit, contacts)
}
