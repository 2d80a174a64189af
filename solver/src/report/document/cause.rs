//! What left which lobe of a measured part: the holds of a solved case against the lobes found.

use serde::Serialize;

use super::HarmonicDocument;
use crate::geometry::Surface;
use crate::metrology::{
    Cause, Harmonic, MOST_LOBES, Print, Profile, Share, causes, harmonics, least_squares_circle,
};
use crate::process::Outcome;

/// A measured lobe below this share of the strongest has no cause worth looking for.
const WORTH_EXPLAINING: f64 = 0.02;

/// One lobe count of the measured part.
#[derive(Clone, Debug, Serialize)]
pub struct CauseDocument {
    /// As measured.
    #[serde(flatten)]
    pub measured: HarmonicDocument,
    /// What the stock and each step's hold put in.
    pub parts: Vec<ShareDocument>,
    /// What none of them explains.
    pub unexplained: ShareDocument,
}

/// What one hold adds to a lobe.
#[derive(Clone, Debug, Serialize)]
pub struct ShareDocument {
    /// What adds it, in words.
    pub by: String,
    /// mm.
    pub amplitude: f64,
    /// Of a crest, degrees; null for a part without a jaw mark.
    pub angle: Option<f64>,
    /// Share of the measured amplitude. With a jaw mark the shares add up to 1 and may be negative.
    pub share: f64,
}

/// Shares the lobes found on a surface of a finished part out among the steps of the case that made it. `marked`: angles of
/// the readings are those of the case, known by where a jaw was.
pub fn cause_documents(
    outcome: &Outcome,
    surface: Surface,
    measured: &[Harmonic],
    marked: bool,
) -> Vec<CauseDocument> {
    let prints = prints(outcome, surface);
    let lobes = measured.iter().filter(|h| h.count >= 2);
    let strongest = lobes.fold(0.0, |m: f64, h| m.max(h.amplitude));
    let worth: Vec<Harmonic> = measured
        .iter()
        .filter(|h| h.amplitude >= WORTH_EXPLAINING * strongest)
        .copied()
        .collect();
    causes(&worth, &prints, marked)
        .into_iter()
        .map(|c| document(&c, &prints, marked))
        .collect()
}

fn document(cause: &Cause, prints: &[Print], marked: bool) -> CauseDocument {
    let share = |by: &str, s: &Share| ShareDocument {
        by: by.to_owned(),
        amplitude: s.lobe.amplitude,
        angle: marked.then_some(s.lobe.angle_deg + 0.0),
        share: s.share + 0.0,
    };
    CauseDocument {
        measured: HarmonicDocument {
            count: cause.measured.count,
            amplitude: cause.measured.amplitude,
            angle: cause.measured.angle_deg + 0.0,
        },
        parts: prints
            .iter()
            .zip(&cause.parts)
            .map(|(p, s)| share(&p.name, s))
            .collect(),
        unexplained: share(
            if marked {
                "not explained"
            } else {
                "not explained, at least"
            },
            &cause.left,
        ),
    }
}

/// What is in the finished surface, by where it came from. A step that cuts the whole surface anew leaves nothing of what was there before but
/// through the shape that it held; any other step adds the difference that it makes.
fn prints(outcome: &Outcome, surface: Surface) -> Vec<Print> {
    let mut prints = Vec::new();
    if let Some(first) = outcome.steps.first() {
        prints.push(Print {
            name: "the stock as received".into(),
            lobes: lobes(first.stock.get(surface)),
        });
    }
    for (k, step) in outcome.steps.iter().enumerate() {
        let name = format!("step {}, hold \"{}\"", k + 1, step.hold);
        let after = lobes(step.released.get(surface));
        let cuts = step.cuts.iter().filter(|c| c.surface == surface);
        let made_anew = cuts.clone().any(|c| c.cleaned_up >= 1.0);
        if made_anew {
            prints.clear();
            prints.push(Print { name, lobes: after });
            continue;
        }
        let before = lobes(step.stock.get(surface));
        let change = |(a, b): (&Harmonic, &Harmonic)| {
            let ([ac, a_s], [bc, bs]) = (a.terms(), b.terms());
            Harmonic::of(a.count, [ac - bc, a_s - bs])
        };
        prints.push(Print {
            name,
            lobes: after.iter().zip(&before).map(change).collect(),
        });
    }
    prints
}

fn lobes(radii: &[f64]) -> Vec<Harmonic> {
    let profile = Profile::equal(radii);
    harmonics(&profile, least_squares_circle(&profile).centre, MOST_LOBES)
}
