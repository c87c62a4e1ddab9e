//! Any bytes as a record: read, then checked and solved in each condition. Looked for: a panic, and no end.

#![no_main]

use std::sync::{Arc, LazyLock};

use libfuzzer_sys::{Corpus, fuzz_target};
use wirewitness::catalogue::Catalogue;
use wirewitness::circuit::electric::{Ask, Elements, Live, Points, Profile, expected};
use wirewitness::circuit::{Network, Node, Situation};
use wirewitness::findings::check_with;
use wirewitness::quantity::Function;
use wirewitness::removal::{Budget, judge, plan};
use wirewitness::store::{parse, text_of};

static CATALOGUE: LazyLock<Arc<Catalogue>> = LazyLock::new(|| Catalogue::built_in().expect("the built-in kinds are good"));

/// In larger machines one record takes so long that little gets tried.
const MOST_NODES: usize = 400;

fuzz_target!(|bytes: &[u8]| -> Corpus {
    let Ok(text) = std::str::from_utf8(bytes) else { return Corpus::Reject };
    let Ok(machine) = parse("fuzz.ron", text, &CATALOGUE) else { return Corpus::Keep };
    // What was read is written in a form that reads back to the same.
    let written = text_of(&machine);
    let again = parse("fuzz.ron", &written, &CATALOGUE).expect("what was written can be read");
    assert_eq!(text_of(&again), written);
    let network = Network::of(&machine, &CATALOGUE);
    if network.len() > MOST_NODES {
        return Corpus::Keep;
    }
    for finding in check_with(&machine, &network) {
        assert!(!finding.what.is_empty());
    }
    let budget = Budget { most_nodes: 2_000, most_steps: 20_000, ..Budget::default() };
    let verdicts = judge(&machine, &CATALOGUE, budget);
    assert!(plan(&machine, &CATALOGUE, &verdicts, &verdicts.may_go()).iter().all(|step| !step.what.is_empty()));
    let elements = Elements::of(&network);
    let profile = Profile::default();
    let count = u32::try_from(network.len()).expect("bounded above");
    for condition in machine.conditions.ids() {
        let setting = machine.setting(condition);
        let _ = Situation::of(&network, &setting).hazard();
        let live = Live::of(&network, &elements, &setting);
        for pair in 0..3.min(count) {
            let points = Points::Probes(Node(pair), Node(count - 1 - pair));
            for function in [Function::Tone, Function::Ohms, Function::VoltsAc, Function::VoltsDc] {
                let _ = expected(&live, &profile, Ask { points, function, low_impedance: false }).expected.words(function);
            }
        }
    }
    Corpus::Keep
});
