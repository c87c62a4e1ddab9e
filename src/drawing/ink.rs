//! Colours by what they mean. What they look like is in the tables of [`super::style`].

use crate::quantity::Colour;

/// A colour by its meaning.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Ink {
    /// Lines and letters.
    Line,
    /// Lines and letters that stand back.
    Faint,
    /// The ground.
    Paper,
    /// The inside of a part.
    Body,
    /// A thin light or dark band round lines that lie on a photo.
    Halo,
    /// Insulation of this colour.
    Insulation(Colour),
    /// Insulation whose colour is not recorded.
    InsulationUnsaid,
    /// Bare conductor, jumper bars.
    Metal,
    /// A wire that has been taken out.
    Ghost,
    /// A connection shown by readings.
    StandingProven,
    /// A connection followed by eye.
    StandingSeen,
    /// A connection taken for granted.
    StandingAssumed,
    /// A connection a reading speaks against.
    StandingDisputed,
    /// How dangerous the condition is: not known.
    HazardUnknown,
    /// No source is on.
    HazardIsolated,
    /// Control power only.
    HazardControl,
    /// Live.
    HazardLive,
    /// A net, tinted by what it carries in the condition.
    Net(NetTint),
    /// A finding: danger.
    Danger,
    /// A finding: fault.
    Fault,
    /// A finding: doubt.
    Doubt,
    /// A finding: note.
    Note,
    /// The red probe.
    ProbeRed,
    /// The black probe.
    ProbeBlack,
    /// What is selected.
    Chosen,
    /// What lies under the pointer.
    Pointed,
    /// The way of a meter's current.
    Way,
}

/// What a net carries in a condition.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum NetTint {
    /// The pole of a source at more than extra-low voltage, away from earth.
    Hot,
    /// The pole of such a source that is held near earth.
    Neutral,
    /// Extra-low voltage, first pole.
    LowFirst,
    /// Extra-low voltage, second pole.
    LowSecond,
    /// Protective earth.
    Earth,
    /// Joined to no source in this condition.
    Dead,
    /// It cannot be said.
    Unknown,
}

impl NetTint {
    /// All.
    pub const ALL: [Self; 7] =
        [Self::Hot, Self::Neutral, Self::LowFirst, Self::LowSecond, Self::Earth, Self::Dead, Self::Unknown];
}

impl Ink {
    /// Every ink.
    pub fn all() -> Vec<Self> {
        let mut all = vec![
            Self::Line,
            Self::Faint,
            Self::Paper,
            Self::Body,
            Self::Halo,
            Self::InsulationUnsaid,
            Self::Metal,
            Self::Ghost,
            Self::StandingProven,
            Self::StandingSeen,
            Self::StandingAssumed,
            Self::StandingDisputed,
            Self::HazardUnknown,
            Self::HazardIsolated,
            Self::HazardControl,
            Self::HazardLive,
            Self::Danger,
            Self::Fault,
            Self::Doubt,
            Self::Note,
            Self::ProbeRed,
            Self::ProbeBlack,
            Self::Chosen,
            Self::Pointed,
            Self::Way,
        ];
        all.extend(Colour::ALL.iter().map(|entry| Self::Insulation(entry.0)));
        all.extend(NetTint::ALL.map(Self::Net));
        all
    }
}
