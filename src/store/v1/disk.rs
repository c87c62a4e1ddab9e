//! The file of format 1 as it lies on disk: the top, the facts, photos, meters, decisions, visits.

use serde::{Deserialize, Serialize};

use super::log::{Condition, Constraint, Mystery, Reading};
use super::part::Part;
use super::short::{Num, Xy, is_default};
use super::wire::{Loom, Wire};

/// The whole file.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct File {
    pub format: u32,
    #[serde(default)]
    pub machine: Facts,
    #[serde(default, skip_serializing_if = "is_default")]
    pub photos: Vec<Photo>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub parts: Vec<Part>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub wires: Vec<Wire>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub looms: Vec<Loom>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub conditions: Vec<Condition>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub constraints: Vec<Constraint>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub meters: Vec<Meter>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub readings: Vec<Reading>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub mysteries: Vec<Mystery>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub decisions: Vec<Decision>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub ticks: Vec<Tick>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub visits: Vec<Visit>,
}

/// The machine as a whole.
#[derive(Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Facts {
    #[serde(skip_serializing_if = "is_default")]
    pub title: String,
    #[serde(skip_serializing_if = "is_default")]
    pub location: String,
    #[serde(skip_serializing_if = "is_default")]
    pub nameplate: Vec<String>,
    #[serde(skip_serializing_if = "is_default")]
    pub refrigerant: String,
    #[serde(skip_serializing_if = "is_default")]
    pub flammable: Option<bool>,
    #[serde(skip_serializing_if = "is_default")]
    pub habits: Habits,
    #[serde(skip_serializing_if = "is_default")]
    pub extra_low_volts_ac: Option<Num>,
    #[serde(skip_serializing_if = "is_default")]
    pub extra_low_volts_dc: Option<Num>,
    #[serde(skip_serializing_if = "is_default")]
    pub source: String,
    #[serde(skip_serializing_if = "is_default")]
    pub note: String,
}

/// Region of habits.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Habits {
    #[default]
    Iec,
    NorthAmerica,
}

/// A photo.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Photo {
    pub name: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub hash: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub original_name: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub size_px: (u32, u32),
    #[serde(default, skip_serializing_if = "is_default")]
    pub taken: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub quarter_turns: u8,
    #[serde(default, skip_serializing_if = "is_default")]
    pub placement: Placement,
    #[serde(default, skip_serializing_if = "is_default")]
    pub caption: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub side: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub faded: u8,
}

/// Where a photo lies.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
pub(super) enum Placement {
    Similarity {
        #[serde(default, skip_serializing_if = "is_default")]
        origin: Xy,
        mm_per_px: Num,
        #[serde(default, skip_serializing_if = "is_default")]
        turn_deg: Num,
    },
    Homography([Num; 9]),
}

impl Default for Placement {
    fn default() -> Self {
        Self::Similarity { origin: Xy::default(), mm_per_px: Num(0.2), turn_deg: Num(0.0) }
    }
}

/// A meter.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Meter {
    pub name: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub tone_below_ohms: Option<Num>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub silent_above_ohms: Option<Num>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub input_ohms: Option<Num>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub low_impedance_ohms: Option<Num>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub ohm_ranges: Vec<Num>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub volt_ranges: Vec<Num>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub percent: Option<Num>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub digits: Option<Num>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub lead_ohms: Option<Num>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub category: String,
}

/// A decision.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Decision {
    pub rule: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub about: Vec<String>,
    pub verdict: Verdict,
    #[serde(default, skip_serializing_if = "is_default")]
    pub when: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub who: String,
}

/// What was decided.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Verdict {
    Mended,
    Accepted(String),
    NextVisit,
}

/// A step of a removal that was ticked off.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Tick {
    pub step: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub at: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub back: Back,
    #[serde(default, skip_serializing_if = "is_default")]
    pub when: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub who: String,
}

/// What takes a step back.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Back {
    #[default]
    Nothing,
    Land,
    InPlace,
    Cap,
}

/// A visit.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Visit {
    pub name: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub date: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub who: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub why: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub as_found: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub as_left: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub work: Vec<String>,
}
