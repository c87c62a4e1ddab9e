//! Numbers with an SI prefix and a unit, as they are written on nameplates: `40 VA`, `8 µF`, `4.7k`, `0.5 mH`.

use thiserror::Error;

/// Why a written quantity could not be taken. The text is a whole sentence for the person who wrote it.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{0}")]
pub struct QuantityError(pub String);

const PREFIXES: &[(&str, i32)] =
    &[("p", -12), ("n", -9), ("µ", -6), ("\u{3bc}", -6), ("u", -6), ("m", -3), ("k", 3), ("K", 3), ("M", 6)];

/// Splits a text into its leading number and the rest, both trimmed. A decimal comma is read as a point.
///
/// # Errors
/// Says so when the text does not begin with a finite number.
pub(crate) fn split_number(text: &str) -> Result<(f64, &str), QuantityError> {
    let text = text.trim();
    let end = text
        .char_indices()
        .find(|&(at, c)| {
            let sign = at == 0 && (c == '-' || c == '+');
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
        .parse()
        .map_err(|_| QuantityError(format!("'{text}' does not begin with a number; write for example '24 V'")))?;
    if !value.is_finite() {
        return Err(QuantityError(format!("'{text}' is too large to be a real value")));
    }
    Ok((value, rest.trim()))
}

/// Reads a number with an optional SI prefix and one of `units` (the first is the one suggested in errors).
///
/// The result is in the bare unit. A bare number is accepted as that unit.
///
/// # Errors
/// A sentence when the text is no number, is negative, or carries another unit.
pub fn parse_scaled(text: &str, units: &[&str]) -> Result<f64, QuantityError> {
    let (number, rest) = split_number(text)?;
    let wanted = units.first().copied().unwrap_or("");
    if number < 0.0 {
        return Err(QuantityError(format!("'{}' is negative; this quantity cannot be below zero", text.trim())));
    }
    if rest.is_empty() || units.contains(&rest) {
        return Ok(number);
    }
    for (prefix, exponent) in PREFIXES {
        if let Some(unit) = rest.strip_prefix(prefix)
            && (unit.trim().is_empty() || units.contains(&unit.trim()))
        {
            // Through text, so that 350 m is the number nearest to 0.35 and not one rounding beside it.
            return format!("{number}e{exponent}").parse().map_err(|_| QuantityError(format!("'{text}' is too large")));
        }
    }
    Err(QuantityError(format!(
        "'{}' has the unit '{rest}'; expected {wanted}, for example '{number} {wanted}'",
        text.trim()
    )))
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
        assert_eq!(parse_scaled("4.7k", &["Ω", "ohm"]), Ok(4700.0));
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
    fn values_are_written_as_a_technician_reads_them() {
        assert_eq!(format_scaled(4700.0, "Ω"), "4.7 kΩ");
        assert_eq!(format_scaled(24.6, "V"), "24.6 V");
        assert_eq!(format_scaled(8e-6, "F"), "8 µF");
        assert_eq!(format_scaled(0.0, "V"), "0 V");
    }
}
