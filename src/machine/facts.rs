//! What is written about the machine as a whole.

/// Title, nameplate and habits of the place.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Facts {
    /// What people call it.
    pub title: String,
    /// Where it stands.
    pub location: String,
    /// The nameplate, line by line as written on it.
    pub nameplate: Vec<String>,
    /// Refrigerant as the plate names it; empty when there is none or it is not known.
    pub refrigerant: String,
    /// Whether that refrigerant burns. `None`: not known.
    pub flammable: Option<bool>,
    /// Units, colours and symbols used here.
    pub habits: Habits,
    /// Voltages that part the hazard classes.
    pub limits: HazardLimits,
    /// Where the record comes from: `invented`, or from what it was taken.
    pub source: String,
    /// Anything else.
    pub note: String,
}

/// The habits of a region.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Habits {
    /// mm², IEC 60445 colours, IEC 60617-like symbols.
    #[default]
    Iec,
    /// AWG, NFPA 79 colours, IEEE 315-like symbols.
    NorthAmerica,
}

/// Voltages that part the hazard classes of a condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HazardLimits {
    /// Highest voltage still called extra-low, in volts AC.
    pub extra_low_volts_ac: f64,
    /// The same for DC.
    pub extra_low_volts_dc: f64,
}

impl Default for HazardLimits {
    /// 50 V AC and 60 V DC: the pair of NEC 250.119 (from a public reproduction); a shop may set lower ones.
    fn default() -> Self {
        Self { extra_low_volts_ac: 50.0, extra_low_volts_dc: 60.0 }
    }
}

impl Facts {
    /// Whether the refrigerant burns, or it is not said that the one named does not.
    pub fn may_burn(&self) -> bool {
        self.flammable == Some(true) || self.flammable.is_none() && !self.refrigerant.is_empty()
    }
}
