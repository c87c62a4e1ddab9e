//! Letters of tags in the IEC habit, one class per kind, against the classes of IEC 81346-2.

use std::collections::BTreeMap;

use super::built_in;

/// Classes of IEC 81346-2 and the kinds that bear them.
///
/// Sources: those marked `page` were seen in public pages on IEC 81346-2:2009 (trade articles, previews); those marked
/// `memory` are from memory. The edition of 2019 regroups lamps and sensors.
const CLASSES: &[(&str, &str)] = &[
    // Assemblies that do several things. memory
    ("A", "control-board display-board electronic-thermostat unknown-part"),
    // What senses a quantity or a position and gives a signal or a contact: not worked by hand. memory
    (
        "B",
        "door-switch door-switch-break door-switch-change-over thermostat-cool thermostat-heat thermostat-change-over \
         defrost-termination pressure-switch-low pressure-switch-high pressure-switch-dual float-switch flow-switch \
         humidity-switch reed-switch sensor-probe thermistor-ntc thermistor-ptc",
    ),
    // Capacitors. page
    ("C", "run-capacitor start-capacitor start-capacitor-with-bleed dual-capacitor"),
    // Heaters. memory
    ("E", "heater defrost-heater frame-heater drain-heater crankcase-heater"),
    // What protects by itself. page
    (
        "F",
        "fuse thermal-fuse breaker-one-pole breaker-two-pole breaker-three-pole residual-current-device \
         thermal-cut-out thermal-cut-out-hand-reset overload-external overload-relay surge-arrester",
    ),
    // Batteries. memory
    ("G", "battery"),
    // Relays, time relays and timers. page
    (
        "K",
        "relay-make relay-break relay-change-over relay-two-change-over relay-three-change-over relay-four-change-over \
         relay-com-no-nc relay-octal-8 relay-octal-11 relay-blade-14 relay-fan-change-over time-relay-on-delay \
         time-relay-off-delay solid-state-relay current-start-relay potential-start-relay timer-contact defrost-timer \
         defrost-timer-common-1 defrost-timer-common-3",
    ),
    // Motors (page), and solenoids that move something (memory; the body of a valve is Q).
    (
        "M",
        "compressor compressor-internal-overload condenser-fan evaporator-fan fan-with-capacitor motor-three-phase \
         gear-motor pump solenoid-valve",
    ),
    // What shows or sounds; lamps were E in earlier editions. memory
    ("P", "lamp lamp-strip lamp-driver-with-strip ballast buzzer"),
    // Contactors. page
    ("Q", "contactor-one-pole contactor-two-pole contactor-three-pole"),
    // What restricts a flow: resistors (page), diodes, chokes, thermistors that start a motor (memory).
    ("R", "resistor bleed-resistor diode choke ptc-start-device"),
    // Worked by hand. page
    (
        "S",
        "toggle-switch toggle-switch-change-over toggle-switch-two-pole rocker-switch rocker-switch-lit \
         push-button-make push-button-break push-button-make-break selector-switch",
    ),
    // Transformers (page); what converts one kind of current to another (memory).
    (
        "T",
        "control-transformer control-transformer-two-secondaries control-transformer-centre-tap \
         control-transformer-tapped dc-supply lamp-driver bridge-rectifier",
    ),
    // Terminals, plugs and sockets. page
    (
        "X",
        "cord-plug cord-plug-split-phase cord-plug-three-phase terminal-strip jumper-bar splice wire-nut plug-and-socket \
         plug socket feed-through feed-through-joined earth-stud chassis bus-bar earth-bar inline-tab test-point",
    ),
    // Filters and snubbers. memory
    ("Z", "snubber"),
];

#[test]
fn every_kind_bears_the_letter_of_its_class_after_iec_81346_2() {
    let mut classes: BTreeMap<&str, &str> = BTreeMap::new();
    for (letter, kinds) in CLASSES {
        for kind in kinds.split_whitespace() {
            assert_eq!(classes.insert(kind, letter), None, "{kind} is listed once");
        }
    }
    let catalogue = built_in();
    for kind in catalogue.kinds() {
        assert_eq!(classes.remove(kind.name.as_str()), Some(kind.letters.iec.as_str()), "{}", kind.name);
    }
    assert!(classes.is_empty(), "no such kinds: {classes:?}");
}
