//! A number that is known within a band.

/// A number and the least and the largest that it may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// The least.
    pub low: f64,
    /// What is reckoned with where one number is needed.
    pub nominal: f64,
    /// The largest.
    pub high: f64,
}

impl Band {
    /// A number that is known exactly.
    pub const fn exact(x: f64) -> Self {
        Self {
            low: x,
            nominal: x,
            high: x,
        }
    }

    /// From the least to the largest, the middle between them nominal.
    pub const fn between(low: f64, high: f64) -> Self {
        Self {
            low,
            nominal: 0.5 * (low + high),
            high,
        }
    }

    /// Whether it is one number.
    pub fn is_exact(&self) -> bool {
        self.low == self.high
    }

    /// Its three numbers, the least first, each as `f` has it; `f` must not turn their order round.
    #[must_use]
    pub fn map(&self, f: impl Fn(f64) -> f64) -> Self {
        Self {
            low: f(self.low),
            nominal: f(self.nominal),
            high: f(self.high),
        }
    }

    /// The least and the largest as shares of the nominal number; `[1, 1]` of zero.
    pub fn spread(&self) -> [f64; 2] {
        match self.nominal {
            0.0 => [1.0; 2],
            nominal => [self.low / nominal, self.high / nominal],
        }
    }
}

impl From<f64> for Band {
    fn from(x: f64) -> Self {
        Self::exact(x)
    }
}
