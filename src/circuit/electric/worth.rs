//! What each element is worth in ohms and farads, and how well that is known.
//!
//! From the part's ratings where they say it; else from what is typical of the kind, with a wide band; else from the widest
//! band the trade knows for such a thing. Everything computed from a value carries its band and its basis on.

use crate::catalogue::{Body, LoadKind};
use crate::quantity::{Band, Current, Rating, Ratings, WireSize};

use super::super::linear::Phasor;
use super::super::network::{Derived, Network, Passive};

/// How a value is known, best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Basis {
    /// From the ratings of the part, or from size and length of the wire.
    Recorded,
    /// Typical of the kind of part.
    Typical,
    /// Nothing is recorded: the widest band known for such a thing.
    Assumed,
}

/// A value with its band, both positive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worth {
    /// The value computed with, in ohms or farads.
    pub nominal: f64,
    /// Where it can lie.
    pub band: Band,
    /// How it is known.
    pub basis: Basis,
}

impl Worth {
    /// A value that may be off by this share either way.
    pub fn within(nominal: f64, share: f64, basis: Basis) -> Self {
        Self { nominal, band: Band::new(nominal * (1.0 - share), nominal * (1.0 + share)), basis }
    }

    /// A value of which only the band is known; the geometric mean stands for it.
    pub fn between(low: f64, high: f64, basis: Basis) -> Self {
        Self { nominal: (low * high).sqrt(), band: Band::new(low, high), basis }
    }

    /// With the spread and the basis of another value taken over as well.
    fn spread(self, other: Self) -> Self {
        let (low, high) = (other.band.low / other.nominal, other.band.high / other.nominal);
        Self {
            nominal: self.nominal,
            band: Band::new(self.band.low * low, self.band.high * high),
            basis: self.basis.max(other.basis),
        }
    }

    /// The value times a positive number.
    pub fn times(self, factor: f64) -> Self {
        Self {
            nominal: self.nominal * factor,
            band: Band::new(self.band.low * factor, self.band.high * factor),
            basis: self.basis,
        }
    }

    /// The value at one end of its band, or in the middle.
    pub fn at(self, corner: Corner) -> f64 {
        match corner {
            Corner::Low => self.band.low,
            Corner::Nominal => self.nominal,
            Corner::High => self.band.high,
        }
    }
}

/// What lies between an earthed pole or a protective earth and the earth where they meet: a fraction of an ohm where both come
/// back to one point, tens of ohms by way of the ground (common practice, no source).
pub fn earthing() -> Worth {
    Worth { nominal: 0.5, band: Band::new(0.01, 50.0), basis: Basis::Typical }
}

/// What is said of one element: its own ratings, and what is typical of its kind.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Said {
    /// As recorded.
    pub own: Ratings,
    /// As such parts usually are.
    pub typical: Ratings,
}

impl Said {
    /// What a body says of one of its elements.
    pub fn of(body: &Body, element: usize) -> Self {
        Self { own: body.ratings_of(element), typical: body.typical.clone() }
    }
}

/// Which value of a band is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Corner {
    /// The lower end.
    Low,
    /// The value computed with.
    Nominal,
    /// The upper end.
    High,
}

/// What a coil, load or winding is to a supply and to an ohmmeter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Consumer {
    /// Ohms to direct current; what an ohmmeter sees.
    pub dc: Worth,
    /// Size of the impedance to alternating current at rated frequency, in ohms.
    pub ac: Worth,
    /// Share of that which is resistance; the rest is inductive.
    pub power_factor: f64,
}

/// Two to one either way around a typical value. Common practice, no source.
const TYPICAL_SHARE: f64 = 0.5;
/// Spread of a resistance against its rating: heaters of IEC 60335-1 (from memory) may take +5/−10 % of rated power; coils
/// are usually given within 10 % (common practice, no source).
const RATED_SHARE: f64 = 0.1;

/// Resistance of a closed contact: a new one is below 0.1 Ω (reference: relay data sheets); the lower end is common practice.
pub fn closed_contact() -> Worth {
    Worth { nominal: 0.03, band: Band::new(0.002, 0.1), basis: Basis::Recorded }
}

/// Volts of a source. Mains may be off by a tenth (IEC 60038 from memory: 230 V ±10 %); a battery or DC source by an eighth
/// (common practice, no source).
pub fn source(volts: f64, current: Current) -> Worth {
    Worth::within(volts, if current == Current::Ac { 0.1 } else { 0.125 }, Basis::Recorded)
}

/// Cold resistance of a fuse, breaker or thermal protector (common practice, no source).
pub fn closed_protector() -> Worth {
    Worth { nominal: 0.02, band: Band::new(0.001, 0.3), basis: Basis::Recorded }
}

/// Resistance of a wire of known size and length at 20 °C. Stranded and plated wire lies up to a tenth above solid copper
/// (IEC 60228 maxima lie 4 to 16 % above the ideal), and warm wire higher still: 75 °C adds 22 %. `None`: not known.
pub fn wire(size: Option<WireSize>, length_mm: Option<f64>) -> Option<Worth> {
    let ohms = size?.ohms_per_metre() * length_mm? / 1000.0;
    (ohms.is_finite() && ohms > 0.0).then(|| Worth {
        nominal: ohms,
        band: Band::new(ohms * 0.98, ohms * 1.4),
        basis: Basis::Recorded,
    })
}

/// A rating of the part with its spread, else the typical one of its kind.
fn rated(said: &Said, rating: Rating) -> Option<Worth> {
    let positive = |value: &f64| value.is_finite() && *value > 0.0;
    let own = said.own.get(rating).filter(positive).map(|value| Worth::within(value, RATED_SHARE, Basis::Recorded));
    own.or_else(|| {
        let typical = said.typical.get(rating).filter(positive)?;
        Some(Worth::within(typical, TYPICAL_SHARE, Basis::Typical))
    })
}

/// A quotient of two worths, bands and basis carried on.
fn quotient(a: Worth, b: Worth) -> Worth {
    Worth {
        nominal: a.nominal / b.nominal,
        band: Band::new(a.band.low / b.band.high, a.band.high / b.band.low),
        basis: a.basis.max(b.basis),
    }
}

/// Rated volts that a quotient is formed with: exact, since they define the other rating.
fn exact(said: &Said, rating: Rating) -> Option<Worth> {
    let value = rated(said, rating)?;
    Some(Worth { band: Band::new(value.nominal, value.nominal), ..value })
}

/// A coil. AC: |Z| = V²/VA (sealed); its DC resistance is below that. DC: the resistance is all.
pub fn coil(said: &Said, alternating: bool) -> Consumer {
    let volts = exact(said, Rating::CoilVolts);
    let ohms = rated(said, Rating::CoilOhms).or_else(|| rated(said, Rating::Ohms));
    let apparent = volts.zip(rated(said, Rating::CoilVoltAmps)).map(|(v, va)| quotient(v.times(v.nominal), va));
    if !alternating {
        let dc = ohms.or(apparent).unwrap_or_else(|| Worth::between(50.0, 20_000.0, Basis::Assumed));
        return Consumer { dc, ac: dc, power_factor: 1.0 };
    }
    let share = rated(said, Rating::ResistanceShare);
    let by_share = apparent.zip(share).map(|(z, share)| z.times(share.nominal / 100.0).spread(share));
    // A 24 V AC relay coil: 177 Ω DC and about 324 Ω in all (data sheets in the trade): the resistance is about half. Volts and
    // amps alone bound it and do not give it.
    let dc = ohms
        .or(by_share)
        .or_else(|| apparent.map(|z| Worth::between(z.band.low * 0.2, z.band.high * 0.9, Basis::Assumed)));
    let dc = dc.unwrap_or_else(|| Worth::between(8.0, 20_000.0, Basis::Assumed));
    let ac = apparent.unwrap_or_else(|| Worth {
        nominal: dc.nominal * 1.8,
        band: Band::new(dc.band.low, dc.band.high * 5.0),
        basis: dc.basis.max(Basis::Typical),
    });
    let power_factor = (dc.nominal / ac.nominal).clamp(0.05, 1.0);
    Consumer { dc, ac, power_factor }
}

/// A load by its ratings and what kind it is.
pub fn load(said: &Said, what: LoadKind) -> Consumer {
    let volts = exact(said, Rating::Volts);
    let ohms = rated(said, Rating::Ohms);
    let power_factor = rated(said, Rating::PowerFactor).map_or(power_factor(what), |percent| percent.nominal / 100.0);
    // Z = V²·cos φ / P, or V / I.
    let by_watts = volts.zip(rated(said, Rating::Watts)).map(|(v, w)| quotient(v.times(v.nominal * power_factor), w));
    let by_amps = volts.zip(rated(said, Rating::Amps)).map(|(v, i)| quotient(v, i));
    let running = by_amps.or(by_watts);
    if what == LoadKind::Heater {
        let ohms = ohms.or(running).unwrap_or_else(|| Worth::between(10.0, 2000.0, Basis::Assumed));
        return Consumer { dc: ohms, ac: ohms, power_factor: 1.0 };
    }
    let (low, high) = cold_band(what);
    let share = running.zip(rated(said, Rating::ResistanceShare));
    let by_share = share.map(|(z, share)| z.times(share.nominal / 100.0).spread(share));
    let dc = ohms.or(by_share).unwrap_or_else(|| match running {
        // A motor at rest has less resistance than its impedance when it runs, and so has a solenoid; what it is is not known.
        Some(z) => {
            Worth::between((z.band.low * 0.02).max(low.min(z.band.low)), z.band.high.max(low * 1.01), Basis::Assumed)
        }
        None => Worth::between(low, high, Basis::Assumed),
    });
    let ac = running.unwrap_or_else(|| Worth {
        nominal: dc.nominal * 3.0,
        band: Band::new(dc.band.low, dc.band.high * 10.0),
        basis: dc.basis,
    });
    Consumer { dc, ac, power_factor }
}

/// Share of resistance in the running impedance, by kind of load (common practice, no source).
fn power_factor(what: LoadKind) -> f64 {
    match what {
        LoadKind::Heater | LoadKind::Sounder => 1.0,
        LoadKind::Lamp | LoadKind::Electronics => 0.9,
        LoadKind::Motor => 0.75,
        LoadKind::Fan | LoadKind::TimerMotor => 0.6,
        LoadKind::Solenoid => 0.4,
    }
}

/// Ohms that such things show an ohmmeter when nothing is recorded: shaded-pole fans 10 to 100 Ω, timer motors 1 to 10 kΩ
/// and heaters 10 to 2000 Ω (trade figures); the others are common practice, no source. Electronics may show anything.
fn cold_band(what: LoadKind) -> (f64, f64) {
    match what {
        LoadKind::Heater => (10.0, 2000.0),
        LoadKind::Motor => (0.5, 100.0),
        LoadKind::Fan => (10.0, 200.0),
        LoadKind::Lamp => (1.0, 1e6),
        LoadKind::Solenoid => (5.0, 2000.0),
        LoadKind::Sounder => (50.0, 1e5),
        LoadKind::Electronics => (100.0, 1e7),
        LoadKind::TimerMotor => (1000.0, 10_000.0),
    }
}

/// A winding of a motor with several: `run` or `start` by its name, else any.
///
/// Running, the run winding takes the rated current at rated volts; a start winding in circuit takes a few times its
/// resistance in impedance. Bands of C–R 0.5 to 6 Ω and C–S 2 to 20 Ω are trade figures.
pub fn winding(said: &Said, name: &str) -> Consumer {
    let start = name.starts_with("start") || name.starts_with("aux");
    let rating = if start { Rating::StartOhms } else { Rating::RunOhms };
    let (low, high) = if start { (2.0, 20.0) } else { (0.5, 6.0) };
    let dc = rated(said, rating).unwrap_or_else(|| Worth::between(low, high, Basis::Assumed));
    let running = exact(said, Rating::Volts).zip(rated(said, Rating::Amps)).map(|(v, i)| quotient(v, i));
    let spread = |factor: f64| Worth {
        nominal: dc.nominal * factor,
        band: Band::new(dc.band.low, dc.band.high * factor * 4.0),
        basis: dc.basis.max(Basis::Typical),
    };
    if start {
        return Consumer { dc, ac: spread(4.0), power_factor: 0.6 };
    }
    Consumer { dc, ac: running.unwrap_or_else(|| spread(20.0)), power_factor: 0.75 }
}

/// Resistance of a transformer's primary and secondary winding.
///
/// Where they are not recorded: a small control transformer loses about a tenth of its voltage at rated load, half in each
/// winding (common practice, no source); 120 V primaries of 20 to 75 VA read 5 to 50 Ω, 24 V secondaries 0.3 to 2 Ω.
pub fn transformer(said: &Said, primary_volts: f64, secondary_volts: f64) -> (Worth, Worth) {
    let by_va = rated(said, Rating::VoltAmps).map(|va| {
        let base = Worth { basis: va.basis.max(Basis::Typical), ..quotient(Worth::within(1.0, 0.0, va.basis), va) };
        let wide = |ohms: f64| Worth::between(ohms / 3.0, ohms * 3.0, base.basis);
        (
            wide(0.05 * primary_volts * primary_volts * base.nominal),
            wide(0.05 * secondary_volts * secondary_volts * base.nominal),
        )
    });
    let (assumed_primary, assumed_secondary) = by_va.unwrap_or((
        Worth::between(2.0 * primary_volts / 50.0 + 1e-3, primary_volts + 1e-2, Basis::Assumed),
        Worth::between(0.01 * secondary_volts + 1e-3, 0.1 * secondary_volts + 1e-2, Basis::Assumed),
    ));
    (
        rated(said, Rating::PrimaryOhms).unwrap_or(assumed_primary),
        rated(said, Rating::SecondaryOhms).unwrap_or(assumed_secondary),
    )
}

/// What a transformer takes to be magnetised: without load a small one takes about a fifth of its rated current, nearly all of
/// it reactive (common practice, no source). In ohms.
pub fn magnetising(network: &Network, one: &Derived) -> Phasor {
    let volts = one.input_volts.unwrap_or(100.0);
    let said = network.body(one.inside.part).map(|body| Said::of(body, one.inside.element));
    let rated = said.and_then(|said| rated(&said, Rating::VoltAmps));
    let ohms = 5.0 * volts * volts / rated.map_or(40.0, |va| va.nominal);
    Phasor::from_polar(ohms, 1.4)
}

/// What a DC supply is to its AC side: it takes its rated power at an efficiency of about 0.8 (common practice, no source),
/// anything less when little hangs on it.
pub fn supply_input(said: &Said, volts: f64) -> Worth {
    let watts = rated(said, Rating::Watts).or_else(|| {
        let amps = rated(said, Rating::Amps)?;
        Some(amps.times(said.own.get(Rating::SecondaryVolts)?))
    });
    match watts {
        Some(watts) => {
            let full = volts * volts * 0.8 / watts.nominal;
            Worth { nominal: full, band: Band::new(full * 0.8, full * 50.0), basis: watts.basis.max(Basis::Typical) }
        }
        None => Worth::between(volts * volts / 500.0 + 1.0, volts * volts + 10.0, Basis::Assumed),
    }
}

/// A passive element: what it is in the circuit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Dipole {
    /// Ohms at any frequency.
    Resistor(Worth),
    /// Ohms cold, as an ohmmeter finds it; ohms in use.
    Thermistor {
        /// Cold.
        cold: Worth,
        /// In use.
        hot: Worth,
    },
    /// Farads.
    Capacitor(Worth),
    /// Henries, and ohms in series with them.
    Choke(Worth, Worth),
    /// Conducts one way.
    Diode,
    /// Carries nothing below its voltage.
    Open,
}

/// A passive element by its ratings.
/// `rises`: a thermistor whose ohms rise with temperature.
pub fn passive(said: &Said, what: Passive, rises: bool) -> Dipole {
    match what {
        Passive::Resistor => {
            Dipole::Resistor(rated(said, Rating::Ohms).unwrap_or_else(|| Worth::between(1.0, 1e6, Basis::Assumed)))
        }
        Passive::Sense => Dipole::Resistor(
            rated(said, Rating::InputOhms)
                .or_else(|| rated(said, Rating::Ohms))
                .unwrap_or_else(|| Worth::between(1e3, 1e6, Basis::Assumed)),
        ),
        // Start devices read 3 to 50 Ω cold and some kΩ to 30 kΩ hot (service texts).
        Passive::Thermistor if rises => Dipole::Thermistor {
            cold: rated(said, Rating::Ohms).unwrap_or_else(|| Worth::between(3.0, 50.0, Basis::Assumed)),
            hot: Worth::between(1e3, 3e4, Basis::Assumed),
        },
        // A sensor follows its temperature: rated at 25 °C, several times that in the cold, a tenth in the heat.
        Passive::Thermistor => {
            let ohms = rated(said, Rating::Ohms).map_or_else(
                || Worth::between(500.0, 2e5, Basis::Assumed),
                |at_25| Worth { band: Band::new(at_25.nominal * 0.1, at_25.nominal * 6.0), ..at_25 },
            );
            Dipole::Thermistor { cold: ohms, hot: ohms }
        }
        Passive::Capacitor => {
            Dipole::Capacitor(rated(said, Rating::Farads).unwrap_or_else(|| Worth::between(1e-7, 2e-4, Basis::Assumed)))
        }
        Passive::Choke => Dipole::Choke(
            rated(said, Rating::Henries).unwrap_or_else(|| Worth::between(1e-3, 10.0, Basis::Assumed)),
            rated(said, Rating::Ohms).unwrap_or_else(|| Worth::between(0.1, 100.0, Basis::Assumed)),
        ),
        Passive::Diode => Dipole::Diode,
        Passive::Arrester => Dipole::Open,
    }
}
