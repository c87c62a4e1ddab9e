//! Numbers with an SI prefix and a unit, as they are written on nameplates: `40 VA`, `8 µF`, `4.7k`, `0.5 mH`.

use thiserror::Error;

/// Why a written quantity could not be taken. The text is a whole sentence for the person who wrote it.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{0}")]
pub struct QuantityError(pub String);

const PREFIXES: &[(&str, i32)] =
    &[("p", -12), ("n", -9), ("µ", -6), ("\u{3bc}", -6), ("u", -6), ("m", -3), ("k", 3), ("K", 3), ("M", 6)];

/// The largest and the smallest size that a quantity may have in its bare unit, other than 0. Megohmmeters end at some TΩ and
/// capacitances begin at parts of a pF; beyond, squares and quotients of values would run out of numbers.
const LARGEST: f64 = 1e13;
const SMALLEST: f64 = 1e-15;

/// The preferred spelling of degrees Celsius, the one unit here whose values may lie below zero.
pub(super) const CELSIUS: &str = "°C";

/// Splits a text into its leading number and the rest, both trimmed. A decimal comma is read as a point, and the
/// typographic minus as a minus.
///
/// # Errors
/// Says so when the text does not begin with a finite number.
pub(crate) fn split_number(text: &str) -> Result<(f64, &str), QuantityError> {
    let text = text.trim();
    let end = text
        .char_indices()
        .find(|&(at, c)| {
            let sign = at == 0 && matches!(c, '-' | '+' | '\u{2212}');
            !(c.is_ascii_digit() || c == '.' || c == ',' || sign)
        })
        .map_or(text.len(), |(at, _)| at);
    let (number, rest) = text.split_at(end);
    if number.rsplit_once(',').is_some_and(|(_, digits)| digits.len() == 3) {
        return Err(QuantityError(format!(
            "'{text}': a comma with three digits behind it can mean two things; write 1200 or 1.2"
        )));
    }
    let value: f64 = number
        .replace(',', ".")
        .replace('\u{2212}', "-")
        .parse()
        .map_err(|_| QuantityError(format!("'{text}' does not begin with a number; write for example '24 V'")))?;
    if !value.is_finite() {
        return Err(QuantityError(format!("'{text}' is too large to be a real value")));
    }
    Ok((value, rest.trim()))
}

/// Reads a number with an optional SI prefix and one of `units` (the first is the one suggested in errors).
///
/// The result is in the bare unit. The unit must be there: a bare number says too little to be put in a record. Degrees
/// Celsius may lie below zero, down to absolute zero; nothing else may.
///
/// # Errors
/// A sentence that shows the right way of writing when the text is no number, has no unit or another one, is negative, or is
/// of a size that nothing on a machine has.
pub fn parse_scaled(text: &str, units: &[&str]) -> Result<f64, QuantityError> {
    let value = scaled(text, units)?;
    let written = text.trim();
    if value.abs() > LARGEST {
        return Err(QuantityError(format!("'{written}' is too large to be a real value")));
    }
    if value != 0.0 && value.abs() < SMALLEST {
        return Err(QuantityError(format!("'{written}' is too small to be a real value; write 0 for none at all")));
    }
    Ok(value)
}

fn scaled(text: &str, units: &[&str]) -> Result<f64, QuantityError> {
    let (number, rest) = split_number(text)?;
    let wanted = units.first().copied().unwrap_or("");
    let written = text.trim();
    if wanted == CELSIUS {
        if number < -273.15 {
            return Err(QuantityError(format!("'{written}' lies below absolute zero, -273.15 °C; write it in °C")));
        }
    } else if number < 0.0 {
        return Err(QuantityError(format!(
            "'{written}' is negative; this quantity cannot be below zero, write it without the minus"
        )));
    }
    if units.contains(&rest) {
        // Adding zero takes the sign off a negative zero.
        return Ok(number + 0.0);
    }
    if rest.is_empty() {
        return Err(QuantityError(format!("'{written}' has no unit; write '{number} {wanted}'")));
    }
    // Nobody writes thousandths of a degree or of a per cent with a prefix.
    let prefixes = if wanted == CELSIUS || wanted == "%" { &[] } else { PREFIXES };
    for (prefix, exponent) in prefixes {
        let Some(unit) = rest.strip_prefix(prefix).map(str::trim) else { continue };
        if unit.is_empty() {
            return Err(QuantityError(format!("'{written}' has no unit; write '{number} {prefix}{wanted}'")));
        }
        if units.contains(&unit) {
            return with_prefix(number, *exponent)
                .ok_or_else(|| QuantityError(format!("'{written}' is too large to be a real value")));
        }
    }
    Err(QuantityError(format!("'{written}' has the unit '{rest}'; expected {wanted}, for example '{number} {wanted}'")))
}

/// A text with the unit put behind it where it is a number with at most a prefix: `4.7k` with `Ω` gives `4.7 kΩ`. For
/// what a meter shows, where the unit is known from elsewhere.
pub(super) fn with_unit(text: &str, unit: &str) -> Result<String, QuantityError> {
    let (_, rest) = split_number(text)?;
    let bare = rest.is_empty() || PREFIXES.iter().any(|(prefix, _)| *prefix == rest);
    Ok(if bare { format!("{}{unit}", text.trim()) } else { text.trim().to_owned() })
}

/// Through text, so that 350 m is the number nearest to 0.35 and not one rounding beside it.
fn with_prefix(number: f64, exponent: i32) -> Option<f64> {
    format!("{number}e{exponent}").parse().ok().filter(|value: &f64| value.is_finite())
}

/// Writes a number with the SI prefix a technician would use, at most four significant figures, and the unit.
pub fn format_scaled(value: f64, unit: &str) -> String {
    let size = value.abs();
    let (factor, prefix) = if size == 0.0 || !size.is_finite() {
        (1.0, "")
    } else if size >= 1e6 {
        (1e6, "M")
    } else if size >= 1e3 {
        (1e3, "k")
    } else if size >= 1.0 || unit == "A" && size >= 0.1 || unit == "Ω" && size >= 0.01 || unit == "V" && size >= 0.1 {
        (1.0, "")
    } else if size >= 1e-3 {
        (1e-3, "m")
    } else if size >= 1e-6 {
        (1e-6, "µ")
    } else if size >= 1e-9 {
        (1e-9, "n")
    } else {
        (1e-12, "p")
    };
    format!("{} {prefix}{unit}", significant(value / factor, 4))
}

/// A number with at most `figures` significant figures and no trailing zeros.
fn significant(value: f64, figures: usize) -> String {
    let size = value.abs();
    let whole = [10.0, 100.0, 1000.0].iter().filter(|&&step| size >= step).count() + 1;
    let places = figures.saturating_sub(whole);
    let text = format!("{value:.places$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nameplate_quantities_are_read() {
        assert_eq!(parse_scaled("40 VA", &["VA"]), Ok(40.0));
        assert_eq!(parse_scaled("4.7 kohm", &["Ω", "ohm"]), Ok(4700.0));
        assert_eq!(parse_scaled("4,7 kΩ", &["Ω"]), Ok(4700.0));
        assert!((parse_scaled("8 µF", &["F"]).unwrap() - 8e-6).abs() < 1e-18);
    }

    #[test]
    fn foreign_units_and_negative_values_are_refused_with_advice() {
        let error = parse_scaled("24 A", &["V"]).unwrap_err().to_string();
        assert!(error.contains("expected V") && error.contains("24 A"), "{error}");
        assert!(parse_scaled("-3 V", &["V"]).unwrap_err().to_string().contains("negative"));
        assert!(parse_scaled("NaN", &["V"]).is_err());
        assert!(parse_scaled("1,200 W", &["W"]).is_err(), "a thousand or one and a fifth");
        assert!(parse_scaled("1e999 V", &["V"]).is_err());
    }

    #[test]
    fn a_number_without_its_unit_is_refused_and_the_right_way_shown() {
        for (text, units, right) in [
            ("24", &["V"][..], "'24 V'"),
            ("4.7k", &["Ω", "ohm"], "'4.7 kΩ'"),
            ("50m", &["A"], "'50 mA'"),
            ("80", &["%"], "'80 %'"),
            ("4", &["°C", "C"], "'4 °C'"),
        ] {
            let error = parse_scaled(text, units).unwrap_err().to_string();
            assert!(error.contains("no unit") && error.contains(right), "{text}: {error}");
        }
        assert!(parse_scaled("80 m%", &["%"]).is_err() && parse_scaled("4 k°C", &["°C"]).is_err());
    }

    /// Absolute zero: -273.15 °C, the International System of Units (BIPM, SI brochure, 9th edition).
    #[test]
    fn only_celsius_goes_below_zero() {
        for text in ["-18 C", "-18 °C", "\u{2212}18 °C", "-18,0 C"] {
            assert_eq!(parse_scaled(text, &["°C", "C"]), Ok(-18.0), "{text}");
        }
        assert!(parse_scaled("-273.15 C", &["°C", "C"]).is_ok());
        assert!(parse_scaled("-274 C", &["°C", "C"]).unwrap_err().to_string().contains("absolute zero"));
        for (text, unit) in [("-5 Ω", "Ω"), ("-24 V", "V"), ("-1 A", "A"), ("-3 %", "%"), ("-2 s", "s")] {
            assert!(parse_scaled(text, &[unit]).unwrap_err().to_string().contains("without the minus"), "{text}");
        }
        assert!(parse_scaled("-0 V", &["V"]).is_ok_and(f64::is_sign_positive));
    }

    #[test]
    fn what_no_machine_has_is_refused() {
        for text in ["10000000 MΩ", "0.001 pΩ", "0 Ω"] {
            assert!(parse_scaled(text, &["Ω"]).is_ok(), "{text}");
        }
        let nines = "9".repeat(300);
        assert!(parse_scaled(&format!("{nines} Ω"), &["Ω"]).unwrap_err().to_string().contains("too large"));
        assert!(
            parse_scaled(&format!("0.{}1 Ω", "0".repeat(200)), &["Ω"]).unwrap_err().to_string().contains("too small")
        );
    }

    #[test]
    fn values_are_written_as_a_technician_reads_them() {
        assert_eq!(format_scaled(4700.0, "Ω"), "4.7 kΩ");
        assert_eq!(format_scaled(24.6, "V"), "24.6 V");
        assert_eq!(format_scaled(8e-6, "F"), "8 µF");
        assert_eq!(format_scaled(0.0, "V"), "0 V");
    }
}
