//! What is inside a part, electrically, between its terminals.

use serde::{Deserialize, Serialize};

use crate::quantity::Current;

/// One inner element. Terminals are given by marking; `{n}` in a repeated element stands for the position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
pub enum Element {
    /// An ideal conductor inside the part.
    Join {
        /// Its two ends.
        ends: (String, String),
    },
    /// A terminal that is protective earth, or is to be bonded to it.
    Earth {
        /// The terminal.
        at: String,
    },
    /// A source of supply that a condition switches on or off.
    Source {
        /// Hot or positive pole, then neutral or negative pole.
        ends: (String, String),
        /// Alternating or direct.
        current: Current,
        /// Phase angle in degrees (AC).
        #[serde(default)]
        phase_deg: f64,
        /// Share of the part's rated volts between the two ends (0.5 for each half of a split phase).
        #[serde(default = "one")]
        share: f64,
        /// Whether the second pole is held near earth (neutral).
        #[serde(default)]
        earthed: bool,
    },
    /// A transformer: the secondary is a source whenever the primary is fed.
    Transformer {
        /// Primary ends.
        primary: (String, String),
        /// Secondary ends.
        secondary: (String, String),
        /// Share of the rated secondary volts between these two ends.
        #[serde(default = "one")]
        share: f64,
    },
    /// A DC supply: the output is a DC source whenever the input is fed.
    DcSupply {
        /// AC ends.
        input: (String, String),
        /// Positive, then negative.
        output: (String, String),
    },
    /// A coil that works contacts of the same part.
    Coil {
        /// Name, unique in the part.
        name: String,
        /// Its two ends; on DC the first is positive where it matters.
        ends: (String, String),
        /// Alternating or direct.
        current: Current,
    },
    /// A contact.
    Contact {
        /// Its two ends, the common or moving side first.
        ends: (String, String),
        /// Make or break, as drawn at rest.
        form: Form,
        /// What works it.
        driver: Driver,
    },
    /// A load.
    Load {
        /// Name, unique in the part.
        name: String,
        /// Its two ends.
        ends: (String, String),
        /// What kind of load.
        what: LoadKind,
    },
    /// A winding of a motor or compressor that has more than one.
    Winding {
        /// Name, unique in the part: `run`, `start`.
        name: String,
        /// Its two ends.
        ends: (String, String),
    },
    /// A fuse or another protector that opens for good until it is reset or replaced. Closed at rest.
    Fuse {
        /// Its two ends.
        ends: (String, String),
    },
    /// A capacitor.
    Capacitor {
        /// Its two ends.
        ends: (String, String),
    },
    /// A resistor.
    Resistor {
        /// Its two ends.
        ends: (String, String),
    },
    /// A diode.
    Diode {
        /// Anode.
        anode: String,
        /// Cathode.
        cathode: String,
    },
    /// A thermistor.
    Thermistor {
        /// Its two ends.
        ends: (String, String),
        /// Rises with temperature (PTC), else falls (NTC).
        rises: bool,
    },
    /// A choke.
    Choke {
        /// Its two ends.
        ends: (String, String),
    },
    /// A surge arrester: open below its voltage.
    Arrester {
        /// Its two ends.
        ends: (String, String),
    },
    /// A sensing input: high resistance, no load.
    Sense {
        /// Its two ends.
        ends: (String, String),
    },
}

fn one() -> f64 {
    1.0
}

/// Form of a contact at rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// Open at rest.
    Make,
    /// Closed at rest.
    Break,
}

/// What works a contact.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
pub enum Driver {
    /// The coil of this name in the same part. A make contact closes when it is worked.
    Coil(String),
    /// A switch of the part: the contact is closed exactly in these positions.
    Switch {
        /// The switch's name.
        name: String,
        /// Positions in which the contact is closed.
        closed_in: Vec<String>,
    },
    /// The output at the terminal of this marking: a make contact closes when it is commanded.
    Output(String),
}

/// What kind of load.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LoadKind {
    /// Resistive.
    Heater,
    /// A motor.
    Motor,
    /// A fan motor.
    Fan,
    /// A lamp or lamp driver.
    Lamp,
    /// A solenoid.
    Solenoid,
    /// A sounder.
    Sounder,
    /// Electronics.
    Electronics,
    /// Timer motor or other small drive.
    TimerMotor,
}

impl Element {
    /// This element with `{n}` and `{m}` in its markings and names filled in.
    #[must_use]
    pub fn at_position(&self, position: u16) -> Self {
        let n = |text: &String| super::body::numbered(text, position);
        let two = |ends: &(String, String)| (n(&ends.0), n(&ends.1));
        match self {
            Self::Join { ends } => Self::Join { ends: two(ends) },
            Self::Earth { at } => Self::Earth { at: n(at) },
            Self::Source { ends, current, phase_deg, share, earthed } => Self::Source {
                ends: two(ends),
                current: *current,
                phase_deg: *phase_deg,
                share: *share,
                earthed: *earthed,
            },
            Self::Transformer { primary, secondary, share } => {
                Self::Transformer { primary: two(primary), secondary: two(secondary), share: *share }
            }
            Self::DcSupply { input, output } => Self::DcSupply { input: two(input), output: two(output) },
            Self::Coil { name, ends, current } => Self::Coil { name: n(name), ends: two(ends), current: *current },
            Self::Contact { ends, form, driver } => {
                let driver = match driver {
                    Driver::Coil(name) => Driver::Coil(n(name)),
                    Driver::Output(pin) => Driver::Output(n(pin)),
                    Driver::Switch { name, closed_in } => {
                        Driver::Switch { name: n(name), closed_in: closed_in.clone() }
                    }
                };
                Self::Contact { ends: two(ends), form: *form, driver }
            }
            Self::Load { name, ends, what } => Self::Load { name: n(name), ends: two(ends), what: *what },
            Self::Winding { name, ends } => Self::Winding { name: n(name), ends: two(ends) },
            Self::Fuse { ends } => Self::Fuse { ends: two(ends) },
            Self::Capacitor { ends } => Self::Capacitor { ends: two(ends) },
            Self::Resistor { ends } => Self::Resistor { ends: two(ends) },
            Self::Diode { anode, cathode } => Self::Diode { anode: n(anode), cathode: n(cathode) },
            Self::Thermistor { ends, rises } => Self::Thermistor { ends: two(ends), rises: *rises },
            Self::Choke { ends } => Self::Choke { ends: two(ends) },
            Self::Arrester { ends } => Self::Arrester { ends: two(ends) },
            Self::Sense { ends } => Self::Sense { ends: two(ends) },
        }
    }

    /// The name of a coil, load or winding, unique in the part.
    pub fn name(&self) -> Option<&str> {
        match self {
            Self::Coil { name, .. } | Self::Load { name, .. } | Self::Winding { name, .. } => Some(name),
            _ => None,
        }
    }

    /// The markings this element stands between.
    pub fn markings(&self) -> Vec<&str> {
        match self {
            Self::Earth { at } => vec![at],
            Self::Transformer { primary, secondary, .. } => {
                vec![&primary.0, &primary.1, &secondary.0, &secondary.1]
            }
            Self::DcSupply { input, output } => vec![&input.0, &input.1, &output.0, &output.1],
            Self::Diode { anode, cathode } => vec![anode, cathode],
            Self::Join { ends }
            | Self::Source { ends, .. }
            | Self::Coil { ends, .. }
            | Self::Contact { ends, .. }
            | Self::Load { ends, .. }
            | Self::Winding { ends, .. }
            | Self::Fuse { ends }
            | Self::Capacitor { ends }
            | Self::Resistor { ends }
            | Self::Thermistor { ends, .. }
            | Self::Choke { ends }
            | Self::Arrester { ends }
            | Self::Sense { ends } => vec![&ends.0, &ends.1],
        }
    }
}
