//! The hidden machine (tests/oracle) and the program's own circuit, which share no line, on the same invented retrofits with their faults: what the
//! one shows at places taken at random lies within what the other expects there, and the one finds no more danger than the other.
//!
//! Two circuits written apart are each the other's check; both are held against books elsewhere (tests/linear_handbook.rs).
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

mod oracle;

use std::collections::BTreeMap;

use oracle::{Ask, Dice, Drawn, Oracle};
use wirewitness::catalogue::Catalogue;
use wirewitness::circuit::Hazard;
use wirewitness::circuit::electric::{Agreement, Expected};
use wirewitness::generate::{Size, retrofit};
use wirewitness::identify::{Place, World};
use wirewitness::machine::{MysteryId, Spot, TerminalRef};
use wirewitness::quantity::Function;

#[test]
fn what_the_hidden_machine_shows_is_what_the_program_expects_of_the_truth() {
    let catalogue = Catalogue::built_in().unwrap();
    let (mut agrees, mut cannot_say, mut disputes) = (0, 0, Vec::new());
    for seed in 0..24 {
        let truth =
            retrofit(seed, Size { relays: 2 + u16::try_from(seed % 4).unwrap(), mysteries: 7, beside: 1 }).truth;
        let record = &truth.record;
        let answers: Vec<(MysteryId, usize)> = record.mysteries.ids().map(|id| (id, 0)).collect();
        let world = World::of(record, &catalogue, &answers, &[]);
        let mut hidden = Oracle::new(record, &catalogue, &BTreeMap::new(), Drawn::Anyhow(seed));
        let mut dice = Dice::new(seed, 77);
        let spots: Vec<Spot> = record
            .parts
            .iter()
            .flat_map(|(id, part)| {
                let terminals = catalogue.body(part).terminals;
                terminals.into_iter().map(move |terminal| Spot::Terminal(TerminalRef::new(id, terminal.marking)))
            })
            .collect();
        let mut places = Vec::new();
        for condition in record.conditions.ids().take(4) {
            let danger = hidden.danger(condition);
            let said = match world.hazard(condition) {
                Hazard::NoSource => 0,
                Hazard::ExtraLow => 1,
                Hazard::Above => 2,
            };
            assert!(said >= danger, "seed {seed}: {condition:?} is said to be {said} and is {danger}");
            let functions: &[Function] =
                if danger == 0 { &[Function::Tone, Function::Ohms] } else { &[Function::VoltsAc] };
            for _ in 0..24 {
                let (red, black) = (spots[dice.below(spots.len())].clone(), spots[dice.below(spots.len())].clone());
                let function = functions[dice.below(functions.len())];
                places.push(Place { condition, red, black: Some(black), function, meter: None });
            }
            if danger > 0 {
                let loads = record.parts.iter().filter(|(_, part)| part.tag.starts_with('E'));
                places.extend(loads.map(|(part, _)| Place {
                    condition,
                    red: Spot::Part(part),
                    black: None,
                    function: Function::Runs,
                    meter: None,
                }));
            }
        }
        for (place, expectation) in places.iter().zip(world.expectations(&places)) {
            let ask = Ask {
                condition: place.condition,
                red: &place.red,
                black: place.black.as_ref(),
                function: place.function,
            };
            let shown = hidden.ask(ask).unwrap();
            let expectation = expectation.unwrap();
            match expectation.compare(shown) {
                Agreement::Agrees => agrees += 1,
                Agreement::CannotSay => {
                    cannot_say += 1;
                    assert!(!matches!(expectation.expected, Expected::Danger { .. }), "seed {seed}: {place:?}");
                }
                Agreement::Disputes => disputes.push(format!(
                    "seed {seed}, {}: {:?} {} {}: {shown:?}, expected {:?}",
                    record.conditions.get(place.condition).unwrap().name,
                    place.function,
                    record.spot_name(&place.red),
                    place.black.as_ref().map(|black| record.spot_name(black)).unwrap_or_default(),
                    expectation.expected
                )),
            }
        }
    }
    println!("agrees {agrees}, cannot say {cannot_say}, disputes {}", disputes.len());
    assert!(disputes.is_empty(), "{disputes:#?}");
    assert!(agrees > 2 * cannot_say, "agrees {agrees}, cannot say {cannot_say}");
}
