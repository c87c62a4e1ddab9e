//! Laws that every linear network keeps, over random networks.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use proptest::prelude::*;
use wirewitness::circuit::linear::{Answer, Branch, Circuit, Factored, Kept, Phasor, Transformer};

const OMEGA: f64 = 314.159;

fn passive() -> impl Strategy<Value = Branch> {
    let decade = |low: i32, high: i32| (low..high, 1.0..10.0f64).prop_map(|(ten, digit)| digit * 10f64.powi(ten));
    prop_oneof![
        4 => decade(-2, 7).prop_map(|ohms| Branch::Resistor { ohms }),
        1 => (decade(0, 3), decade(0, 3)).prop_map(|(r, x)| Branch::Impedance { ohms: Phasor::new(r, x) }),
        1 => (decade(0, 3), decade(0, 3)).prop_map(|(r, x)| Branch::Impedance { ohms: Phasor::new(r, -x) }),
        1 => Just(Branch::Wire),
        1 => Just(Branch::Open),
    ]
}

/// A network of passive branches, some transformers among them, that may fall apart.
fn network() -> impl Strategy<Value = Circuit> {
    (3u32..14).prop_flat_map(|nodes| {
        let branches = prop::collection::vec((0..nodes, 0..nodes, passive()), 2..30);
        let transformers = prop::collection::vec((0..nodes, 0..nodes, 0..nodes, 0..nodes, 0.1..10.0f64), 0..2);
        (branches, transformers).prop_map(move |(mut branches, transformers)| {
            // A transformer magnetises and its windings have resistance, each at a node of its own.
            let mut whole = Circuit { nodes, branches: Vec::new(), transformers: Vec::new() };
            for (a, b, c, d, ratio) in transformers {
                let (primary, secondary) = (whole.nodes, whole.nodes + 1);
                whole.nodes += 2;
                branches.push((a, primary, Branch::Resistor { ohms: 20.0 }));
                branches.push((primary, b, Branch::Resistor { ohms: 5e3 }));
                branches.push((c, secondary, Branch::Resistor { ohms: 0.9 }));
                whole.transformers.push(Transformer { primary: [primary, b], secondary: [secondary, d], ratio });
            }
            whole.branches = branches;
            whole
        })
    })
}

fn close(a: Phasor, b: Phasor, size: f64) -> bool {
    (a - b).norm() <= 1e-7 * size.max(a.norm()).max(1e-12)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    /// A source here and a meter there read as a source there and a meter here.
    #[test]
    fn reciprocity(circuit in network(), p in 0u32..14, q in 0u32..14, r in 0u32..14, s in 0u32..14) {
        let solved = Factored::of(&circuit, OMEGA);
        if let (Ok(one), Ok(other)) = (solved.field(p, q), solved.field(r, s)) {
            let scale = solved.impedance(p, q).known().map_or(0.0, Phasor::norm)
                + solved.impedance(r, s).known().map_or(0.0, Phasor::norm);
            if solved.island(p) == solved.island(r) {
                prop_assert!(close(one.volts(r, s), other.volts(p, q), scale));
            }
        }
    }

    /// No passive network reads negative ohms.
    #[test]
    fn passive_networks_have_no_negative_resistance(circuit in network(), p in 0u32..14, q in 0u32..14) {
        let solved = Factored::of(&circuit, OMEGA);
        if let Answer::Known(z) = solved.impedance(p, q) {
            prop_assert!(z.re >= -1e-9 * z.norm() - 1e-15, "{z}");
            prop_assert!(z.re.is_finite() && z.im.is_finite());
        }
    }

    /// Two sources together do what each does alone, added.
    #[test]
    fn superposition(circuit in network(), a in 0u32..14, b in 0u32..14, c in 0u32..14, d in 0u32..14, p in 0u32..14, q in 0u32..14) {
        let with = |first: f64, second: f64| {
            let mut circuit = circuit.clone();
            circuit.nodes = circuit.nodes.max(14);
            circuit.branches.push((a, b, Branch::Voltage { volts: Phasor::new(first, 0.0), ohms: 3.0 }));
            circuit.branches.push((c, d, Branch::Voltage { volts: Phasor::new(0.0, second), ohms: 5.0 }));
            Factored::of(&circuit, OMEGA).volts(p, q)
        };
        if let (Answer::Known(both), Answer::Known(first), Answer::Known(second)) = (with(24.0, 7.0), with(24.0, 0.0), with(0.0, 7.0)) {
            prop_assert!(close(both, first + second, 31.0), "{both} {first} {second}");
        }
    }

    /// The order of branches and the numbers of nodes change nothing.
    #[test]
    fn order_and_numbers_change_nothing(circuit in network(), shift in 1u32..13, p in 0u32..14, q in 0u32..14) {
        let mut other = circuit.clone();
        other.branches.reverse();
        let turn = |node: u32| (node + shift) % circuit.nodes;
        for (a, b, _) in &mut other.branches {
            (*a, *b) = (turn(*a), turn(*b));
        }
        for transformer in &mut other.transformers {
            transformer.primary = transformer.primary.map(turn);
            transformer.secondary = transformer.secondary.map(turn);
        }
        let (one, two) = (Factored::of(&circuit, OMEGA), Factored::of(&other, OMEGA));
        if p < circuit.nodes && q < circuit.nodes {
            match (one.impedance(p, q), two.impedance(turn(p), turn(q))) {
                (Answer::Known(one), Answer::Known(two)) => prop_assert!(close(one, two, one.norm())),
                (one, two) => prop_assert_eq!(one, two),
            }
        }
    }

    /// A changed branch read by correction reads as in a network solved anew.
    #[test]
    fn a_correction_is_a_fresh_solve(
        circuit in network(),
        changes in prop::collection::vec((0usize..30, passive()), 1..4),
        p in 0u32..14,
        q in 0u32..14,
        source in (0u32..14, 0u32..14),
    ) {
        let mut circuit = circuit;
        circuit.nodes = circuit.nodes.max(14);
        circuit.branches.push((source.0, source.1, Branch::Voltage { volts: Phasor::new(24.0, 0.0), ohms: 1.0 }));
        let changes: Vec<(usize, Branch)> =
            changes.into_iter().filter(|(number, _)| *number + 1 < circuit.branches.len()).collect();
        let corrected = Factored::of(&circuit, OMEGA).with(&changes);
        for (number, branch) in changes {
            circuit.branches[number].2 = branch;
        }
        let fresh = Factored::of(&circuit, OMEGA);
        match (corrected.volts(p, q), fresh.volts(p, q)) {
            (Answer::Known(one), Answer::Known(two)) => prop_assert!(close(one, two, 24.0), "{one} {two}"),
            (one, two) => prop_assert_eq!(one, two),
        }
        match (corrected.impedance(p, q), fresh.impedance(p, q)) {
            (Answer::Known(one), Answer::Known(two)) => prop_assert!(close(one, two, one.norm().max(two.norm())), "{one} {two}"),
            (one, two) => prop_assert_eq!(one, two),
        }
        let last = circuit.branches.len() - 1;
        if let (Answer::Known(one), Answer::Known(two)) = (corrected.amps(last), fresh.amps(last)) {
            prop_assert!(close(one, two, 24.0), "{one} {two}");
        }
    }

    /// What is taken over from networks solved before changes no answer.
    #[test]
    fn what_was_solved_before_is_taken_over_as_it_is(
        circuit in network(),
        changes in prop::collection::vec((0usize..30, passive()), 1..6),
        source in (0u32..14, 0u32..14),
        p in 0u32..14,
        q in 0u32..14,
    ) {
        let mut circuit = circuit;
        circuit.nodes = circuit.nodes.max(14);
        circuit.branches.push((source.0, source.1, Branch::Voltage { volts: Phasor::new(24.0, 0.0), ohms: 0.0 }));
        let kept = Kept::default();
        for (number, branch) in changes {
            if number + 1 < circuit.branches.len() {
                circuit.branches[number].2 = branch;
            }
            let (one, two) = (Factored::keeping(&circuit, OMEGA, Some(&kept)), Factored::of(&circuit, OMEGA));
            prop_assert_eq!(one.volts(p, q), two.volts(p, q));
            prop_assert_eq!(one.impedance(p, q), two.impedance(p, q));
            prop_assert_eq!(one.remarks(), two.remarks());
        }
    }

    /// Volts do not change when every impedance grows by the same factor.
    #[test]
    fn scaled_impedances_leave_volts(resistors in prop::collection::vec((0u32..8, 0u32..8, 1.0..1000.0f64), 3..20), by in 0.01..100.0f64, p in 0u32..8) {
        let with = |by: f64| {
            let mut branches: Vec<(u32, u32, Branch)> =
                resistors.iter().map(|&(a, b, ohms)| (a, b, Branch::Resistor { ohms: ohms * by })).collect();
            branches.push((0, 1, Branch::Voltage { volts: Phasor::new(10.0, 0.0), ohms: 0.0 }));
            Factored::of(&Circuit { nodes: 8, branches, transformers: Vec::new() }, 0.0).volts(p, 0)
        };
        match (with(1.0), with(by)) {
            (Answer::Known(one), Answer::Known(two)) => prop_assert!(close(one, two, 10.0)),
            (one, two) => prop_assert_eq!(one, two),
        }
    }

    /// The first-order effect of each branch is what a small change of it makes.
    #[test]
    fn sensitivities_are_small_changes(resistors in prop::collection::vec((0u32..6, 0u32..6, 1.0..1000.0f64), 4..14), p in 0u32..6, q in 0u32..6) {
        let mut branches: Vec<(u32, u32, Branch)> =
            resistors.iter().map(|&(a, b, ohms)| (a, b, Branch::Resistor { ohms })).collect();
        branches.push((0, 1, Branch::Voltage { volts: Phasor::new(10.0, 0.0), ohms: 2.0 }));
        let circuit = Circuit { nodes: 6, branches, transformers: Vec::new() };
        let solved = Factored::of(&circuit, 0.0);
        if let (Ok(all), Answer::Known(now)) = (solved.sensitivities(p, q), solved.volts(p, q)) {
            for (number, effect) in all.iter().enumerate().take(resistors.len()) {
                let siemens = 1.0 / resistors[number].2;
                let step = siemens * 1e-5;
                let mut changed = circuit.clone();
                changed.branches[number].2 = Branch::Resistor { ohms: 1.0 / (siemens + step) };
                let then = Factored::of(&changed, 0.0).volts(p, q).known().unwrap();
                prop_assert!(((then - now) / step - effect).norm() <= 1e-3 * effect.norm().max(10.0 / siemens * 1e-3), "{effect}");
            }
        }
    }

    /// Whatever is put in, what comes out is a finite number or a reason.
    #[test]
    fn never_anything_but_numbers(
        branches in prop::collection::vec((0u32..9, 0u32..9, wild()), 0..25),
        omega in prop_oneof![Just(0.0), Just(1.0), Just(314.0), Just(f64::NAN), Just(f64::INFINITY)],
        p in 0u32..9,
        q in 0u32..9,
    ) {
        let circuit = Circuit { nodes: 8, branches, transformers: vec![Transformer { primary: [0, 1], secondary: [2, 3], ratio: 0.0 }] };
        let solved = Factored::of(&circuit, omega);
        let mut answers = vec![solved.volts(p, q), solved.impedance(p, q), solved.volts_with(p, q, Phasor::new(1e7, 0.0))];
        answers.extend((0..circuit.branches.len()).map(|number| solved.amps(number)));
        for answer in answers {
            if let Answer::Known(value) = answer {
                prop_assert!(value.re.is_finite() && value.im.is_finite());
            }
        }
    }
}

/// Any branch, with zeros, infinities and non-numbers.
fn wild() -> impl Strategy<Value = Branch> {
    let number =
        || prop_oneof![Just(0.0), Just(1.0), Just(-1.0), Just(1e-12), Just(1e12), Just(f64::INFINITY), Just(f64::NAN)];
    prop_oneof![
        number().prop_map(|ohms| Branch::Resistor { ohms }),
        number().prop_map(|henries| Branch::Inductor { henries }),
        number().prop_map(|farads| Branch::Capacitor { farads }),
        (number(), number()).prop_map(|(re, im)| Branch::Impedance { ohms: Phasor::new(re, im) }),
        (number(), number()).prop_map(|(volts, ohms)| Branch::Voltage { volts: Phasor::new(volts, 0.0), ohms }),
        number().prop_map(|amps| Branch::Current { amps: Phasor::new(amps, 0.0) }),
        Just(Branch::Wire),
        Just(Branch::Open),
    ]
}
