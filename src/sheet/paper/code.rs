//! The code in the head of a sheet, for readers of codes.

use qrcode::{Color, EcLevel, QrCode};
use serde::Serialize;

/// Free modules round a code. Source: ISO/IEC 18004, quiet zone of a QR code (4 modules), as public descriptions have it.
const QUIET: usize = 4;

/// The dots of a code, row by row, with the free edge round them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Dots {
    /// Dots to a side.
    pub(super) side: usize,
    /// 0 for a dark dot, 255 for a light one.
    pub(super) dots: Vec<u8>,
}

impl Dots {
    /// The code of a text. One that is too long for a code is cut short: its end is the revision, so the beginning goes.
    pub(super) fn of(text: &str) -> Self {
        let mut rest = text;
        loop {
            if let Ok(code) = QrCode::with_error_correction_level(rest, EcLevel::M) {
                return Self::with_edge(&code);
            }
            let half = rest.chars().count().div_ceil(2);
            let Some((at, _)) = rest.char_indices().nth(half) else { return Self { side: 1, dots: vec![255] } };
            rest = &rest[at..];
        }
    }

    fn with_edge(code: &QrCode) -> Self {
        let inner = code.width();
        let side = inner + 2 * QUIET;
        let mut dots = vec![255; side * side];
        for (at, colour) in code.to_colors().into_iter().enumerate() {
            if colour == Color::Dark
                && let Some(dot) = dots.get_mut((at / inner + QUIET) * side + at % inner + QUIET)
            {
                *dot = 0;
            }
        }
        Self { side, dots }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: ISO/IEC 18004 as public descriptions have it: three finder patterns of 7 by 7 modules, dark-light-dark 1:1:3:1:1, at the
    /// corners but the lower right one; sides of 17 + 4 × version.
    #[test]
    fn the_code_has_its_finders_in_three_corners_and_a_free_edge() {
        let dots = Dots::of("wirewitness record pantry-locker revision 0123456789ab");
        let inner = dots.side - 2 * QUIET;
        assert_eq!((inner - 17) % 4, 0);
        let dark = |x: usize, y: usize| dots.dots[(y + QUIET) * dots.side + x + QUIET] == 0;
        let run = |x: usize, y: usize| (0..7).map(|n| dark(x + n, y)).collect::<Vec<_>>();
        let finder = [true, false, true, true, true, false, true];
        for (x, y) in [(0, 3), (inner - 7, 3), (0, inner - 4)] {
            assert_eq!(run(x, y), finder);
        }
        assert_ne!(run(inner - 7, inner - 4), finder);
        assert!(dots.dots[..QUIET * dots.side].iter().all(|dot| *dot == 255));
    }

    #[test]
    fn a_text_too_long_for_a_code_keeps_its_end() {
        let long = format!("wirewitness record {} revision 0123456789ab", "x".repeat(9000));
        assert!(Dots::of(&long).side > 21);
    }
}
