//! What all targets share: how long they run, and how a fault is told.

use std::time::{Duration, Instant};

use proptest::prelude::*;
use proptest::test_runner::{RngAlgorithm, TestRng, TestRunner};

/// Inputs between two looks at the clock.
const ROUND: u32 = 200;

/// The longest that any input may take to be read.
const READ_WITHIN: Duration = Duration::from_secs(1);

/// Bytes that are shown as text.
#[derive(Clone)]
pub(crate) struct Bytes(pub(crate) Vec<u8>);

impl std::fmt::Debug for Bytes {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let text = String::from_utf8_lossy(&self.0);
        let start: String = text.chars().take(1500).collect();
        write!(f, "\n{start}\n{:?}", self.0.len())
    }
}

/// Puts `few` inputs to a test, always the same, or as many as go into `RINGWRIGHT_FUZZ_SECONDS`, ever new.
///
/// # Panics
/// With the smallest input found that fails.
pub(crate) fn fuzz<S: Strategy>(
    few: u32,
    inputs: &S,
    test: impl Fn(S::Value) -> Result<(), String>,
) {
    let seconds = std::env::var("RINGWRIGHT_FUZZ_SECONDS").ok();
    let seconds = seconds.map(|s| s.parse().unwrap());
    let start = Instant::now();
    let run = |cases, rng: Option<TestRng>| {
        let config = ProptestConfig {
            cases,
            failure_persistence: None,
            ..ProptestConfig::default()
        };
        let mut runner = match rng {
            Some(rng) => TestRunner::new_with_rng(config, rng),
            None => TestRunner::new(config),
        };
        let result = runner.run(inputs, |input| test(input).map_err(TestCaseError::fail));
        result.unwrap_or_else(|e| panic!("{e}"));
    };
    let Some(seconds) = seconds else {
        let fixed = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
        return run(few, Some(fixed));
    };
    let mut inputs = 0;
    while start.elapsed() < Duration::from_secs_f64(seconds) {
        run(ROUND, None);
        inputs += ROUND;
    }
    println!("{inputs} inputs");
}

/// What `work` gives, which it must within [`READ_WITHIN`] at the best of three: the machine may be busy.
pub(crate) fn timed<T>(work: impl Fn() -> T) -> Result<T, String> {
    let mut best = Duration::MAX;
    for _ in 0..3 {
        let start = Instant::now();
        let found = work();
        best = best.min(start.elapsed());
        if best < READ_WITHIN {
            return Ok(found);
        }
    }
    Err(format!("took {:.1} s", best.as_secs_f64()))
}
