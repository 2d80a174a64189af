//! Repeatable numbers for tests: the same on every machine and in every run.

/// A linear congruential generator (Knuth, *The Art of Computer Programming*, vol. 2, from memory; MMIX's constants).
#[derive(Clone, Debug)]
pub struct Random(u64);

impl Random {
    /// A sequence of its own for each seed.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next number, evenly spread between two.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// The next size between two above zero, each power of ten as likely as the next.
    pub fn size(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// The next whole number below `end`, which is above zero.
    pub fn below(&mut self, end: usize) -> usize {
        (self.between(0.0, end as f64) as usize).min(end - 1)
    }

    /// True once in a while: this share of the calls.
    pub fn chance(&mut self, share: f64) -> bool {
        self.between(0.0, 1.0) < share
    }

    /// One of some, each as likely.
    pub fn pick<'a, T: ?Sized>(&mut self, of: &[&'a T]) -> &'a T {
        of[self.below(of.len())]
    }
}
