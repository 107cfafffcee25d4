//! Paper and ink.
//!
//! One blue for water and its curve, one vermillion kept for what needs a hand (Okabe and Ito's two,
//! which stay apart for colour-blind eyes, made darker for paper and lighter for the dark). Every
//! text has at least 4.5:1 against its ground and every line that means something 3:1 (WCAG 2.2,
//! 1.4.3 and 1.4.11); the tests hold that.

/// A colour in sRGB.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Rgb(pub u8, pub u8, pub u8);

impl Rgb {
    /// `share` of this laid over `ground`, 0 to 1: an opaque colour, so that shapes that overlap
    /// look alike in every format.
    #[must_use]
    pub fn over(self, ground: Self, share: f64) -> Self {
        let mix = |a: u8, b: u8| {
            (f64::from(a) * share + f64::from(b) * (1.0 - share)).round().clamp(0.0, 255.0) as u8
        };
        Self(mix(self.0, ground.0), mix(self.1, ground.1), mix(self.2, ground.2))
    }

    /// Relative luminance, 0 to 1 (WCAG 2.2).
    #[must_use]
    pub fn luminance(self) -> f64 {
        let linear = |v: u8| {
            let v = f64::from(v) / 255.0;
            if v <= 0.040_45 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(self.0) + 0.7152 * linear(self.1) + 0.0722 * linear(self.2)
    }

    /// Contrast ratio, 1 to 21 (WCAG 2.2).
    #[must_use]
    pub fn contrast(self, other: Self) -> f64 {
        let (a, b) = (self.luminance(), other.luminance());
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }
}

/// The colours of one drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Palette {
    pub ground: Rgb,
    pub ink: Rgb,
    /// For what is said in passing.
    pub muted: Rgb,
    /// Hairlines that only guide the eye.
    pub hair: Rgb,
    /// Water and its curve.
    pub water: Rgb,
    /// What needs a hand.
    pub hand: Rgb,
    /// The gravy in the pot.
    pub gravy: Rgb,
}

/// For daylight and for paper.
pub const PAPER: Palette = Palette {
    ground: Rgb(0xfb, 0xfa, 0xf7),
    ink: Rgb(0x1c, 0x1b, 0x19),
    muted: Rgb(0x59, 0x55, 0x4d),
    hair: Rgb(0xe3, 0xdf, 0xd6),
    water: Rgb(0x00, 0x72, 0xb2),
    hand: Rgb(0xc2, 0x4a, 0x00),
    gravy: Rgb(0xec, 0xdd, 0xbd),
};

/// For night kitchens.
pub const NIGHT: Palette = Palette {
    ground: Rgb(0x17, 0x16, 0x14),
    ink: Rgb(0xf1, 0xed, 0xe4),
    muted: Rgb(0xae, 0xa8, 0x9c),
    hair: Rgb(0x38, 0x35, 0x30),
    water: Rgb(0x5f, 0xb8, 0xee),
    hand: Rgb(0xff, 0x84, 0x3d),
    gravy: Rgb(0x40, 0x36, 0x25),
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_text_and_line_can_be_told_from_its_ground() {
        for p in [PAPER, NIGHT] {
            for text in [p.ink, p.muted, p.hand, p.water] {
                assert!(text.contrast(p.ground) > 4.5, "{text:?} {}", text.contrast(p.ground));
            }
            assert!(p.ink.contrast(p.gravy) >= 4.5);
            assert!(p.muted.contrast(p.gravy) >= 4.5);
            assert!(p.water.contrast(p.gravy) >= 3.0);
            assert!(p.hand.contrast(p.gravy) >= 3.0);
        }
    }

    #[test]
    fn contrast_is_that_of_the_guideline() {
        // WCAG 2.2: black on white is 21:1; #767676 on white 4.54:1 (from memory).
        let white = Rgb(255, 255, 255);
        assert!((Rgb(0, 0, 0).contrast(white) - 21.0).abs() < 1e-9);
        assert!((Rgb(0x76, 0x76, 0x76).contrast(white) - 4.54).abs() < 0.01);
    }
}
