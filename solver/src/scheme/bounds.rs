//! The numbers that a parameter takes, in words too.

/// The numbers that a parameter takes: finite, from `least` to `most`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// The least.
    pub least: f64,
    /// Whether `least` itself is left out.
    pub above: bool,
    /// The most.
    pub most: f64,
}

/// A number as a person reads it: very large and very small ones as powers of ten, without a row of zeros.
pub fn number_in_words(x: f64) -> String {
    if x != 0.0 && x.is_finite() && !(1e-6..1e9).contains(&x.abs()) {
        format!("{x:e}")
    } else {
        x.to_string()
    }
}

impl Bounds {
    /// Most bodies of one scheme; beyond it the pads could not be meshed apart.
    pub const MOST_BODIES: u32 = 1000;
    /// No length, force or modulus of the trade comes near this; beyond it squares would overflow.
    pub const LARGEST: f64 = 1e12;

    /// The numbers in words: "from 1 to 12, whole", "above 0 mm".
    pub fn in_words(&self, whole: bool, unit: &str) -> String {
        let unit = if unit.is_empty() {
            String::new()
        } else {
            format!(" {unit}")
        };
        let kind = if whole { "a whole number " } else { "" };
        let (least, most) = (number_in_words(self.least), number_in_words(self.most));
        let (has_least, has_most) = (self.least > -Self::LARGEST, self.most < Self::LARGEST);
        let range = match (has_least, self.above, has_most) {
            (false, _, false) if whole => return "a whole number".to_owned(),
            (false, _, false) => return "a number".to_owned(),
            (false, _, true) => format!("up to {most}{unit}"),
            (true, true, false) => format!("above {least}{unit}"),
            (true, true, true) => format!("above {least}, up to {most}{unit}"),
            (true, false, false) => format!("{least}{unit} or more"),
            (true, false, true) => format!("from {least} to {most}{unit}"),
        };
        format!("{kind}{range}")
    }

    /// Whether a number lies within.
    pub fn hold(&self, x: f64) -> bool {
        let over = if self.above {
            x > self.least
        } else {
            x >= self.least
        };
        over && x <= self.most
    }
}
