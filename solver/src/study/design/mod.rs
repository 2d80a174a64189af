//! Where in the unit cube the cases of a study lie: Latin hypercubes and scrambled Sobol sequences.
//!
//! Every point is a function of its index, the number of points and the seed alone, so any share of a design can be made by itself.

mod directions;
mod latin;
mod saltelli;
mod sobol;

pub use latin::LatinHypercube;
pub use saltelli::{MOST_FACTORS, Saltelli, Sample};
pub use sobol::{MOST_DIMENSIONS, MOST_POINTS, Sobol};

/// Mixes bits: the finaliser of SplitMix64 (Steele, Lea and Flood, Fast splittable pseudorandom number generators, OOPSLA 2014; from memory, and held to the
/// generator's published first values).
pub(crate) fn mixed(x: u64) -> u64 {
    let x = x.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    x ^ (x >> 31)
}

/// A number that depends on all of these, as if it were random.
pub(crate) fn hashed(parts: &[u64]) -> u64 {
    parts.iter().fold(0, |h, &part| mixed(h ^ part))
}

/// The middle of one of 2^52 equal parts of the interval from 0 to 1: neither end comes up.
pub(crate) fn unit(bits: u64) -> f64 {
    ((bits >> 12) as f64 + 0.5) / (1_u64 << 52) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first numbers of SplitMix64 from seed 0, as its authors' code prints them (read on several pages, from memory here).
    #[test]
    fn bits_are_mixed_as_published() {
        let second = mixed(0x9e37_79b9_7f4a_7c15);
        assert_eq!(
            (mixed(0), second),
            (0xe220_a839_7b1d_cdaf, 0x6e78_9e6a_a1b9_65f4)
        );
    }

    #[test]
    fn numbers_lie_inside_the_interval() {
        for bits in [0, 1, u64::MAX, u64::MAX / 2] {
            let x = unit(bits);
            assert!(x > 0.0 && x < 1.0, "{x}");
        }
    }
}
