//! Typical values of the kinds, held against the bands that service texts and the trade give.

use crate::machine::Part;
use crate::quantity::{Rated, Rating, parse_rated};

use super::built_in;

fn typical(kind: &str, rating: Rating) -> f64 {
    let body = built_in().body(&Part { kind: kind.to_owned(), ..Part::default() });
    body.typical.get(rating).unwrap_or_else(|| panic!("{kind} has no typical {}", rating.name()))
}

/// Direct-current ohms of a winding at these rated volts, from its apparent power and the share of resistance.
fn winding_ohms(kind: &str, volts: f64, volt_amps: f64) -> f64 {
    volts * volts / volt_amps * typical(kind, Rating::ResistanceShare) / 100.0
}

#[track_caller]
fn within(what: &str, value: f64, low: f64, high: f64) {
    assert!((low..=high).contains(&value), "{what}: {value} is not in {low} to {high}");
}

/// Sources: bands of resistance that service texts and trade pages give. Where a line says so they are common practice
/// without a source.
#[test]
fn typical_values_lie_in_the_bands_that_the_trade_reads() {
    for kind in ["relay-make", "relay-change-over", "relay-octal-8", "relay-fan-change-over"] {
        // 24 V AC relay coils: 50 to 400 Ω (trade pages); a data sheet has 1.8 VA and another 177 Ω.
        within(kind, winding_ohms(kind, 24.0, typical(kind, Rating::CoilVoltAmps)), 50.0, 400.0);
    }
    // The shares themselves: 177 Ω of 24 V / 74 mA = 324 Ω, both from data sheets of such coils.
    within("relay coil", typical("relay-make", Rating::ResistanceShare), 50.0, 100.0 * 177.0 / (24.0 / 0.074) + 5.0);
    for kind in ["contactor-one-pole", "contactor-two-pole", "contactor-three-pole"] {
        // Contactor coils of 24 V AC: 8 to 20 Ω (common practice, no source).
        within(kind, winding_ohms(kind, 24.0, typical(kind, Rating::CoilVoltAmps)), 8.0, 20.0);
    }
    for volt_amps in [20.0, 40.0, 75.0] {
        // Control transformers of 20 to 75 VA: 120 V primary 5 to 50 Ω, 24 V secondary 0.3 to 2 Ω (common practice).
        within("primary", winding_ohms("control-transformer", 120.0, volt_amps), 5.0, 50.0);
        within("secondary", winding_ohms("control-transformer", 24.0, volt_amps), 0.3, 2.0);
    }
    // Shaded-pole evaporator fans at 120 V: 10 to 100 Ω (common practice, no source).
    let running = typical("evaporator-fan", Rating::Watts) / typical("evaporator-fan", Rating::PowerFactor) * 100.0;
    within("evaporator fan", winding_ohms("evaporator-fan", 120.0, running), 10.0, 100.0);
    // Timer motors: 1 to 10 kΩ (one service page).
    let timer = "defrost-timer-common-1";
    within(timer, winding_ohms(timer, 120.0, typical(timer, Rating::VoltAmps)), 1e3, 10e3);
    // Drain and frame heaters at 120 V: 200 to 2000 Ω (common practice, no source).
    for kind in ["frame-heater", "drain-heater", "crankcase-heater"] {
        within(kind, 120.0 * 120.0 / typical(kind, Rating::Watts), 200.0, 2000.0);
    }
    // Defrost heaters at 120 V: 500 W is 28.8 Ω; a service text reads 20 to 23 Ω at 550 to 600 W.
    within("defrost heater", 120.0 * 120.0 / typical("defrost-heater", Rating::Watts), 20.0, 41.2);
    for kind in ["compressor", "compressor-internal-overload"] {
        // Hermetic compressors: C to R 0.5 to 6 Ω, C to S 2 to 20 Ω, usually 3 to 5 times as much (service texts).
        let (run, start) = (typical(kind, Rating::RunOhms), typical(kind, Rating::StartOhms));
        within(kind, run, 0.5, 6.0);
        within(kind, start, 2.0, 20.0);
        within(kind, start / run, 3.0, 5.0);
    }
    // PTC start devices, cold: 3 to 20 Ω and 25 to 50 Ω (two service texts).
    within("ptc", typical("ptc-start-device", Rating::Ohms), 3.0, 50.0);
    // Coils of potential start relays: 1 to 15 kΩ (common practice, no source).
    within("potential relay", typical("potential-start-relay", Rating::Ohms), 1e3, 15e3);
}

#[test]
fn typical_values_stand_apart_from_what_is_printed_and_nothing_stands_in_for_volts_and_contacts() {
    let catalogue = built_in();
    for kind in catalogue.kinds() {
        for (rating, rated) in kind.typical.values.iter() {
            assert!(!rating.is_only_read(), "{}: {}", kind.name, rating.name());
            assert!(kind.ratings.get(rating).is_none(), "{}: {}", kind.name, rating.name());
            let (percent, most) = (rating.name().ends_with("share") || rating == Rating::PowerFactor, 100.0);
            assert!(rated.value > 0.0 && (!percent || rated.value <= most), "{}: {}", kind.name, rating.name());
        }
        assert_eq!(kind.typical.values.is_empty(), kind.typical.source.is_empty(), "{}", kind.name);
    }
    // Where nothing is honest to reckon with, nothing is given.
    for kind in ["heater", "lamp", "buzzer", "fuse", "dc-supply", "run-capacitor", "resistor", "unknown-part"] {
        let body = catalogue.body(&Part { kind: kind.to_owned(), ..Part::default() });
        assert!(body.typical.is_empty() && body.ratings.is_empty(), "{kind}");
    }
    let mut own = Part { kind: "relay-make".to_owned(), ..Part::default() };
    own.ratings.set(Rating::CoilVoltAmps, parse_rated(Rating::CoilVoltAmps, "1.8 VA").unwrap());
    let body = catalogue.body(&own);
    assert_eq!(
        (body.ratings.get(Rating::CoilVoltAmps), body.typical.get(Rating::CoilVoltAmps)),
        (Some(1.8), Some(3.0))
    );
    assert_eq!(body.ratings.get(Rating::CoilVolts).or(body.typical.get(Rating::CoilVolts)), None);
}

#[test]
fn the_second_of_two_is_never_taken_for_the_first() {
    let catalogue = built_in();
    let rated = |value| Rated { value, current: None };
    let values = |part: &Part, rating| {
        let body = catalogue.body(part);
        (0..body.elements.len()).map(|index| body.ratings_of(index).get(rating)).collect::<Vec<_>>()
    };
    // 35 and 5 µF: printed so on a dual run capacitor, the part for the compressor first (common practice, no source).
    let mut can = Part { kind: "dual-capacitor".to_owned(), ..Part::default() };
    can.ratings.set(Rating::Farads, rated(35e-6));
    assert_eq!(values(&can, Rating::Farads), [Some(35e-6), None]);
    can.ratings.set(Rating::SecondFarads, rated(5e-6));
    assert_eq!(values(&can, Rating::Farads), [Some(35e-6), Some(5e-6)]);
    let mut twin = Part { kind: "control-transformer-two-secondaries".to_owned(), ..Part::default() };
    twin.ratings.set(Rating::SecondaryVolts, rated(24.0));
    assert_eq!(values(&twin, Rating::SecondaryVolts), [Some(24.0), Some(24.0)]);
    twin.ratings.set(Rating::SecondSecondaryVolts, rated(12.0));
    assert_eq!(values(&twin, Rating::SecondaryVolts), [Some(24.0), Some(12.0)]);
}

#[test]
fn typical_values_in_a_file_of_ones_own_need_a_source_and_may_not_be_volts() {
    let file = |typical: &str| {
        format!(
            "(kinds: [(name: \"my-heater\", title: \"Mine\", family: loads, letters: (iec: \"E\", us: \"HTR\"),\n\
             typical: {typical},\n symbol: ())])"
        )
    };
    let said = |typical: &str| {
        let mistakes = built_in().with_kinds("own.ron", &file(typical)).map_or_else(|mistakes| mistakes, |_| vec![]);
        mistakes.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
    };
    assert_eq!(said("(values: {\"watts\": \"60 W\"}, source: \"its data sheet\")"), "");
    assert!(said("(values: {\"watts\": \"60 W\"}, source: \"\")").contains("source"));
    let volts = said("(values: {\"volts\": \"230 V\"}, source: \"a guess\")");
    assert!(volts.starts_with("own.ron:2:") && volts.contains("read on the part"), "{volts}");
    assert!(said("(values: {\"contact_amps\": \"16 A\"}, source: \"a guess\")").contains("read on the part"));
}
