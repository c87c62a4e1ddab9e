//! Conductor sizes: American Wire Gauge by its formula, metric by nominal area.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::QuantityError;
use super::scaled::split_number;

/// Resistivity of annealed copper at 20 °C, in ohm metres (International Annealed Copper Standard, 1/58 Ω·mm²/m).
pub const COPPER_OHM_METRE_20C: f64 = 0.017_241e-6;

/// The size of a conductor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WireSize {
    /// American Wire Gauge number, 0 to 40.
    Awg(u8),
    /// Nominal cross-section in square millimetres.
    SquareMillimetres(f64),
}

impl WireSize {
    /// Conductor diameter in millimetres. AWG: ASTM B258, d = 0.127·92^((36−n)/39).
    pub fn diameter_mm(self) -> f64 {
        match self {
            Self::Awg(number) => 0.127 * 92_f64.powf((36.0 - f64::from(number)) / 39.0),
            Self::SquareMillimetres(area) => (area * 4.0 / std::f64::consts::PI).sqrt(),
        }
    }

    /// Cross-section in square millimetres.
    pub fn area_mm2(self) -> f64 {
        match self {
            Self::Awg(_) => std::f64::consts::FRAC_PI_4 * self.diameter_mm().powi(2),
            Self::SquareMillimetres(area) => area,
        }
    }

    /// Resistance in ohms per metre at 20 °C, solid annealed copper (stranded and plated wire lies some per cent above).
    pub fn ohms_per_metre(self) -> f64 {
        COPPER_OHM_METRE_20C / (self.area_mm2() * 1e-6)
    }
}

impl fmt::Display for WireSize {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Awg(number) => write!(f, "{number} AWG"),
            Self::SquareMillimetres(area) => write!(f, "{area} mm2"),
        }
    }
}

impl FromStr for WireSize {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let (number, unit) = split_number(text)?;
        match unit {
            "AWG" | "awg" => (0..=40_u8)
                .find(|&gauge| f64::from(gauge) == number)
                .map(Self::Awg)
                .ok_or_else(|| QuantityError(format!("'{text}': AWG sizes here are whole numbers from 0 to 40"))),
            "mm2" | "mm²" if number > 0.0 && number <= 300.0 => Ok(Self::SquareMillimetres(number)),
            "mm2" | "mm²" => Err(QuantityError(format!("'{text}': a cross-section lies above 0 and at most 300 mm2"))),
            _ => Err(QuantityError(format!("'{text}' is no wire size; write '18 AWG' or '0.75 mm2'"))),
        }
    }
}

impl Serialize for WireSize {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for WireSize {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: ASTM B258 formula; resistances published at 20 °C in a copied wire table (12 to 24 AWG, ohms per 1000 ft).
    #[test]
    fn awg_diameter_area_and_resistance_match_the_published_table() {
        let table = [
            (10, 2.588, 5.261, 0.9988),
            (12, 2.053, 3.309, 1.588),
            (14, 1.628, 2.081, 2.525),
            (16, 1.291, 1.309, 4.016),
            (18, 1.024, 0.823, 6.385),
            (20, 0.812, 0.518, 10.15),
            (22, 0.644, 0.326, 16.14),
            (24, 0.511, 0.205, 25.67),
        ];
        for (number, diameter, area, ohms_per_kft) in table {
            let size = WireSize::Awg(number);
            assert!((size.diameter_mm() - diameter).abs() <= 0.000_51, "{number}: {}", size.diameter_mm());
            assert!((size.area_mm2() - area).abs() <= 0.000_6, "{number}: {}", size.area_mm2());
            let computed = size.ohms_per_metre() * 304.8;
            assert!((computed / ohms_per_kft - 1.0).abs() < 5e-4, "{number}: {computed}");
        }
    }

    /// Source: IEC 60228 maxima at 20 °C, plain copper, classes 1 and 2 (Ω/km); ideal copper lies 0 to 8 % below them.
    #[test]
    fn metric_sizes_lie_below_the_iec_60228_maxima() {
        for (area, maximum) in
            [(0.5, 36.0), (0.75, 24.5), (1.0, 18.1), (1.5, 12.1), (2.5, 7.41), (4.0, 4.61), (6.0, 3.08)]
        {
            let ideal = WireSize::SquareMillimetres(area).ohms_per_metre() * 1000.0;
            assert!(ideal < maximum && ideal > 0.9 * maximum, "{area}: {ideal} against {maximum}");
        }
    }

    #[test]
    fn sizes_are_read_and_wrong_ones_refused() {
        assert_eq!("18 AWG".parse::<WireSize>(), Ok(WireSize::Awg(18)));
        assert_eq!("0.75 mm²".parse::<WireSize>().unwrap().to_string(), "0.75 mm2");
        for wrong in ["18", "-1 AWG", "18.5 AWG", "0 mm2", "3 m"] {
            assert!(wrong.parse::<WireSize>().is_err(), "{wrong}");
        }
    }
}
