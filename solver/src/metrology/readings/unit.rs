//! Units that indicators and micrometers are marked in.

use std::fmt;

use super::fault::Fault;

/// The unit of a column or list of readings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LengthUnit {
    /// mm.
    #[default]
    Millimetre,
    /// Exactly 25.4 mm (NIST SP 811, appendix B).
    Inch,
    /// A thousandth of an inch.
    Thou,
    /// A thousandth of a millimetre.
    Micrometre,
}

impl LengthUnit {
    /// Every unit with the short name that headers and options use.
    pub const ALL: [(Self, &'static str); 4] = [
        (Self::Millimetre, "mm"),
        (Self::Inch, "in"),
        (Self::Thou, "thou"),
        (Self::Micrometre, "um"),
    ];

    /// Millimetres in one.
    pub const fn mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Inch => 25.4,
            Self::Thou => 0.0254,
            Self::Micrometre => 0.001,
        }
    }

    /// Whether it is a unit of the inch system.
    pub const fn is_inch(self) -> bool {
        matches!(self, Self::Inch | Self::Thou)
    }

    /// Short name, as headers and options use it.
    pub fn name(self) -> &'static str {
        let own = Self::ALL.iter().find(|(unit, _)| *unit == self);
        own.map_or("mm", |(_, name)| name)
    }

    /// The unit of this name, in any case.
    ///
    /// ```
    /// use ringwright_solver::metrology::readings::LengthUnit;
    /// assert_eq!(LengthUnit::named("thou"), Ok(LengthUnit::Thou));
    /// assert!(LengthUnit::named("tenths").is_err(), "means two things");
    /// ```
    ///
    /// # Errors
    /// [`Fault::UnknownUnit`], or [`Fault::AmbiguousUnit`] for a word that shops read in two ways.
    pub fn named(name: &str) -> Result<Self, Fault> {
        match name.to_lowercase().as_str() {
            "mm" | "millimetre" | "millimeter" => Ok(Self::Millimetre),
            "in" | "inch" | "inches" => Ok(Self::Inch),
            "thou" => Ok(Self::Thou),
            // the micro sign and the Greek letter look alike
            "um" | "\u{b5}m" | "\u{3bc}m" | "micron" | "microns" | "micrometre" | "micrometer" => {
                Ok(Self::Micrometre)
            }
            "tenth" | "tenths" | "mil" | "mils" => Err(Fault::AmbiguousUnit { unit: name.into() }),
            _ => Err(Fault::UnknownUnit { unit: name.into() }),
        }
    }
}

/// A length for a message, in the unit that its writer used.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Amount {
    /// mm.
    pub mm: f64,
    /// Shown in this.
    pub unit: LengthUnit,
}

impl fmt::Display for Amount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // seven digits hide what conversion to mm and back has rounded
        let value = self.mm / self.unit.mm();
        let size = value.abs().log10().floor();
        let places = if size.is_finite() {
            (6.0 - size).clamp(0.0, 12.0) as usize
        } else {
            0
        };
        let text = format!("{value:.places$}");
        let text = if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.')
        } else {
            &text
        };
        write!(f, "{text} {}", self.unit.name())
    }
}

/// An angle (degrees) for a message: four decimals at most, no zero with a sign.
pub(super) fn tidy(degrees: f64) -> f64 {
    (degrees * 1e4).round() / 1e4 + 0.0
}
