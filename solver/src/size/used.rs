//! How much of each limit a case uses up.

use crate::case::Case;
use crate::geometry::Surface;
use crate::judge::{ENOUGH, judge_limits};
use crate::metrology::{MetrologyError, Profile, minimum_zone};
use crate::process::{Beyond, Outcome};

/// A limit of a size.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Limit {
    /// A limit of the drawing: roundness, a diameter, a wall.
    Tolerance,
    /// Slip, with the guideline's factor.
    Slip,
    /// Marks on the part.
    Marking,
    /// Yield.
    Yield,
    /// The chuck's own limits.
    Chuck,
    /// Nothing that has an answer: it is loose, cut through or does not settle.
    NoAnswer,
    /// The end of what may vary.
    Bound,
}

impl Limit {
    /// As documents name it.
    pub const fn name(self) -> &'static str {
        match self {
            Limit::Tolerance => "roundness",
            Limit::Slip => "slip",
            Limit::Marking => "marking",
            Limit::Yield => "yield",
            Limit::Chuck => "chuck",
            Limit::NoAnswer => "no answer",
            Limit::Bound => "bound",
        }
    }
}

/// What a case uses up of its limits; `None` of what has none, or is not known.
#[derive(Clone, Debug, PartialEq)]
pub struct Used {
    /// Of the drawing's limits, the most.
    pub tolerance: Option<f64>,
    /// Of slip: the guideline's 1.5 over what the hold takes of what the cut asks, at the unfavourable ends.
    pub slip: Option<f64>,
    /// Of marks.
    pub marking: Option<f64>,
    /// Of yield.
    pub yields: Option<f64>,
    /// Whether a limit of the chuck is passed.
    pub chuck: bool,
    /// Largest roundness (minimum zone) of what is cut, mm.
    pub roundness: f64,
    /// Least safety against slip, at the unfavourable ends.
    pub safety: Option<f64>,
    /// Largest gap that a jaw closes past first touch, mm.
    pub approach: f64,
}

impl Used {
    /// Of a solved case.
    ///
    /// # Errors
    /// [`MetrologyError`] if a surface cannot be measured.
    pub fn of(case: &Case, outcome: &Outcome) -> Result<Self, MetrologyError> {
        let judgement = judge_limits(case, outcome)?;
        let most = |shares: &mut dyn Iterator<Item = f64>| shares.reduce(f64::max);
        let limits = judgement.limits.iter().map(crate::judge::Limit::used);
        let tolerance = most(&mut limits.collect::<Vec<_>>().into_iter());
        let cutting = || outcome.steps.iter().filter(|s| !s.cuts.is_empty());
        let safety = cutting()
            .map(|s| s.grip.safety.map(|s| s[0]))
            .collect::<Option<Vec<f64>>>();
        let safety = safety.and_then(|all| all.into_iter().reduce(f64::min));
        let marks = outcome
            .steps
            .iter()
            .filter_map(|s| s.grip.marking.map(|m| m.pressure / m.limit));
        let margin = judgement.worst_stress.and_then(|w| w.stress.yield_margin);
        let dangerous = |b: &Beyond| !matches!(b, Beyond::LowestSteadyForce { .. });
        let mut roundness: f64 = 0.0;
        if let Some(last) = outcome.steps.last() {
            for surface in Surface::BOTH
                .into_iter()
                .filter(|s| case.last_to_cut(*s).is_some())
            {
                let zone = minimum_zone(&Profile::equal(last.released.get(surface)))?;
                roundness = roundness.max(zone.circle.roundness);
            }
        }
        let contacts = outcome.steps.iter().flat_map(|s| &s.held.contacts);
        Ok(Self {
            tolerance,
            slip: safety.map(|s| ENOUGH / s.max(1e-12)),
            marking: most(&mut marks.collect::<Vec<_>>().into_iter()),
            yields: margin.map(|m| 1.0 / (1.0 + m)),
            chuck: outcome
                .steps
                .iter()
                .any(|s| s.grip.beyond.iter().any(dangerous)),
            roundness,
            safety,
            approach: contacts.map(|c| c.approach).fold(0.0, f64::max),
        })
    }

    /// The limit that is used up most, and how much of it; nothing is used up of a case without limits.
    pub fn most(&self) -> (f64, Limit) {
        let all = [
            (self.tolerance, Limit::Tolerance),
            (self.slip, Limit::Slip),
            (self.marking, Limit::Marking),
            (self.yields, Limit::Yield),
            (self.chuck.then_some(2.0), Limit::Chuck),
        ];
        all.into_iter()
            .filter_map(|(share, limit)| Some((share?, limit)))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .unwrap_or((0.0, Limit::Bound))
    }
}
