//! Colours as the eye orders them: CIE L*a*b* from sRGB, and the difference of two by CIEDE2000.

use std::sync::OnceLock;

/// A colour in CIE L*a*b*, white point D65.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Lab {
    /// Lightness, 0 to 100.
    pub l: f32,
    /// Green (negative) to red.
    pub a: f32,
    /// Blue (negative) to yellow.
    pub b: f32,
}

impl Lab {
    /// The colour of an sRGB pixel.
    ///
    /// IEC 61966-2-1 for the curve and the primaries, CIE 15 for L*a*b*.
    pub fn of_srgb(rgb: [u8; 3]) -> Self {
        let curve = curve();
        Self::of_linear(rgb.map(|value| curve[usize::from(value)]))
    }

    /// The colour of linear light of the sRGB primaries, 1 being white.
    pub fn of_linear([r, g, b]: [f32; 3]) -> Self {
        let x = (0.412_456_4 * r + 0.357_576_1 * g + 0.180_437_5 * b) / 0.950_47;
        let y = 0.212_672_9 * r + 0.715_152_2 * g + 0.072_175 * b;
        let z = (0.019_333_9 * r + 0.119_192 * g + 0.950_304_1 * b) / 1.088_83;
        let f = |t: f32| if t > 216.0 / 24_389.0 { t.cbrt() } else { (24_389.0 / 27.0 * t + 16.0) / 116.0 };
        let (x, y, z) = (f(x), f(y), f(z));
        Self { l: 116.0 * y - 16.0, a: 500.0 * (x - y), b: 200.0 * (y - z) }
    }

    /// Distance from grey of the same lightness.
    pub fn chroma(self) -> f32 {
        self.a.hypot(self.b)
    }
}

/// The linear light of an sRGB pixel, 1 being white.
pub(super) fn linear(rgb: [u8; 3]) -> [f32; 3] {
    let curve = curve();
    rgb.map(|value| curve[usize::from(value)])
}

fn curve() -> &'static [f32; 256] {
    static CURVE: OnceLock<[f32; 256]> = OnceLock::new();
    CURVE.get_or_init(|| {
        let mut curve = [0.0; 256];
        for (place, value) in curve.iter_mut().enumerate() {
            let v = place as f32 / 255.0;
            *value = if v <= 0.040_45 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) };
        }
        curve
    })
}

/// The difference of two colours by CIEDE2000 with all weights 1.
///
/// Sharma, Wu and Dalal, "The CIEDE2000 Color-Difference Formula", Color Research and Application 30 (2005) 21-30. Hues half a
/// turn apart are told by the sign of a cross product: there arctangents differ in their last figure, and with them the mean hue.
pub fn ciede2000(first: [f64; 3], second: [f64; 3]) -> f64 {
    let [l1, a1, b1] = first;
    let [l2, a2, b2] = second;
    let seven = |chroma: f64| (chroma.powi(7) / (chroma.powi(7) + 25.0_f64.powi(7))).sqrt();
    let g = 0.5 * (1.0 - seven(0.5 * (a1.hypot(b1) + a2.hypot(b2))));
    let (a1, a2) = ((1.0 + g) * a1, (1.0 + g) * a2);
    let (c1, c2) = (a1.hypot(b1), a2.hypot(b2));
    let hue = |a: f64, b: f64| if a == 0.0 && b == 0.0 { 0.0 } else { b.atan2(a).to_degrees().rem_euclid(360.0) };
    let (h1, h2) = (hue(a1, b1), hue(a2, b2));
    let grey = c1 * c2 == 0.0;
    let opposite = a1 * b2 - b1 * a2 == 0.0 && a1 * a2 + b1 * b2 < 0.0;
    let far = !opposite && (h2 - h1).abs() > 180.0;
    let turn = match (grey, far) {
        (true, _) => 0.0,
        (_, false) => h2 - h1,
        (_, true) if h2 <= h1 => h2 - h1 + 360.0,
        _ => h2 - h1 - 360.0,
    };
    let dh = 2.0 * (c1 * c2).sqrt() * (turn / 2.0).to_radians().sin();
    let mean_h = match (grey, far) {
        (true, _) => h1 + h2,
        (_, false) => f64::midpoint(h1, h2),
        (_, true) if h1 + h2 < 360.0 => (h1 + h2 + 360.0) / 2.0,
        _ => (h1 + h2 - 360.0) / 2.0,
    };
    let (mean_l, mean_c) = (f64::midpoint(l1, l2), f64::midpoint(c1, c2));
    let cosine = |degrees: f64| degrees.to_radians().cos();
    let t = 1.0 - 0.17 * cosine(mean_h - 30.0) + 0.24 * cosine(2.0 * mean_h) + 0.32 * cosine(3.0 * mean_h + 6.0)
        - 0.20 * cosine(4.0 * mean_h - 63.0);
    let turning = 30.0 * (-((mean_h - 275.0) / 25.0).powi(2)).exp();
    let middle = (mean_l - 50.0).powi(2);
    let dl = (l2 - l1) / (1.0 + 0.015 * middle / (20.0 + middle).sqrt());
    let dc = (c2 - c1) / (1.0 + 0.045 * mean_c);
    let dh = dh / (1.0 + 0.015 * mean_c * t);
    let rt = -(2.0 * turning).to_radians().sin() * 2.0 * seven(mean_c);
    (dl * dl + dc * dc + dh * dh + rt * dc * dh).max(0.0).sqrt()
}
