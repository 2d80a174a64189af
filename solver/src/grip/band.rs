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

    /// Whether its numbers stand in order, the least first; what is not a number stands in none.
    pub fn is_in_order(&self) -> bool {
        self.low <= self.nominal && self.nominal <= self.high
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

    /// The product of two bands of numbers that are zero or more.
    #[must_use]
    pub fn times(&self, other: &Self) -> Self {
        Self {
            low: self.low * other.low,
            nominal: self.nominal * other.nominal,
            high: self.high * other.high,
        }
    }

    /// The quotient of two bands: of numbers that are zero or more by numbers above zero.
    #[must_use]
    pub fn over(&self, other: &Self) -> Self {
        Self {
            low: self.low / other.high,
            nominal: self.nominal / other.nominal,
            high: self.high / other.low,
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Ends meet with ends, so that the worst that can be stays inside.
    #[test]
    fn bands_multiply_and_divide_end_by_end() {
        let (torque, share) = (Band::between(10.0, 30.0), Band::between(0.5, 2.0));
        let (low, nominal, high) = (5.0, 25.0, 60.0);
        let product = Band { low, nominal, high };
        assert_eq!(torque.times(&share), product);
        let (low, nominal, high) = (5.0, 16.0, 60.0);
        let quotient = Band { low, nominal, high };
        assert_eq!(torque.over(&share), quotient);
        assert_eq!(torque.spread(), [0.5, 1.5]);
        assert_eq!(Band::exact(0.0).spread(), [1.0; 2]);
    }
}
