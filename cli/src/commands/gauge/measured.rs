//! The profile behind the readings: about an axis as it is, from any other gauge by the lobes that it shows.

use ringwright_solver::metrology::inversion::{self, InversionError, Recovered, most_lobes};
use ringwright_solver::metrology::readings::{Fault, MeasuredProfile, ReadingKind, Readings};
use ringwright_solver::metrology::{Gauge, MOST_LOBES, Resolution};
use ringwright_solver::report::units::Units;

use super::{Checked, Stop};
use crate::args::GaugeArgs;
use crate::failure::FailureKind;
use crate::render::gauge;

/// Places at which a profile made of lobes is sampled.
const SAMPLES: usize = 3600;

/// A wave of which the readings show less than this share of its height is called hidden.
const NOTHING_SHOWN: f64 = 0.02;

/// Points that show fewer lobes than this leave much of a turned surface unseen: common practice asks for 15 undulations per
/// revolution at least; no source.
const FEW_LOBES: u32 = 15;

/// Readings in a V whose scatter is more than this share of their movement do not fit it: a wave that the V does not show at all leaves 0.35 of its
/// movement, scatter alone a fifth to a third. Common practice, no source.
const MISFIT: f64 = 0.15;

/// Scatter of this share of the indicator's step is what reading to that step makes: half of it where the pointer flickers between two marks.
const OF_A_STEP: f64 = 0.6;

/// What to do with diameters that nobody said the gauge of.
pub(super) const FOR_DIAMETERS: &str =
    ": add --from two-point (of a three-point bore gauge --from three-point)";

/// A profile, however it was come by.
pub(super) struct Part {
    pub(super) profile: MeasuredProfile,
    pub(super) most_lobes: u32,
    pub(super) recovered: Option<Recovered>,
    /// Whether a trace was read at so few places that every roundness is a lower bound.
    pub(super) few: bool,
    pub(super) cautions: Vec<String>,
}

impl Part {
    /// Whether anything is known of a lobe.
    pub(super) fn shows(&self, count: u32) -> bool {
        let unseen = |r: &Recovered| r.gauge != Gauge::Radius && r.unseen.contains(&count);
        !self.recovered.as_ref().is_some_and(unseen)
    }
}

/// Radii, or deviations about a radius, as they are.
pub(super) fn direct(args: &GaugeArgs, readings: &Readings) -> Checked<Part> {
    let mut cautions = Vec::new();
    let radius = match (readings.kind(), args.radius_mm()) {
        (ReadingKind::Deviations, None) => {
            let words = format!("{}; give it with --radius", Fault::NoRadius);
            return Err(Stop(FailureKind::Usage, words));
        }
        (ReadingKind::Radii, Some(radius)) => {
            cautions.push(format!(
                "The readings are radii themselves: --radius {radius} mm is not used."
            ));
            None
        }
        (_, radius) => radius,
    };
    let profile = readings.profile(radius).map_err(|e| {
        let option = match e.fault {
            Fault::Diameters => FOR_DIAMETERS,
            _ => "",
        };
        Stop(FailureKind::Input, format!("{}{option}", e.fault))
    })?;
    let recovered = match args.lobes {
        Some(lobes) => Some(inversion::smooth(readings, lobes).map_err(|e| not_inverted(&e))?),
        None => None,
    };
    let most = most_lobes(readings, Gauge::Radius);
    Ok(Part {
        profile,
        most_lobes: args.lobes.unwrap_or(most.min(MOST_LOBES)),
        recovered,
        few: false,
        cautions,
    })
}

/// What was assumed of readings that do not say it themselves.
pub(super) fn taken_as(readings: &Readings) -> Vec<String> {
    let mut words = Vec::new();
    if !readings.unit_is_named() {
        words.push(format!(
            "No unit was given: the readings are taken as {}; if they are not, add --unit in, thou or um.",
            readings.unit().name()
        ));
    }
    match readings.kind() {
        _ if readings.kind_is_named() => {}
        ReadingKind::Radii => words.push(
            "The readings are taken as radii; if they are diameters from a micrometer or bore gauge add --from two-point."
                .to_owned(),
        ),
        ReadingKind::Diameters => words.push(
            "The readings are taken as diameters; if they are changes that an indicator shows, give the mean radius with --radius."
                .to_owned(),
        ),
        ReadingKind::Deviations => {}
    }
    words
}

/// Readings that leave much over when the lobes that a V shows are taken out.
fn misfit(gauge: Gauge, readings: &Readings, recovered: &Recovered) -> Option<String> {
    let (Gauge::Vee(vee), Some(noise)) = (gauge, recovered.noise) else {
        return None;
    };
    let [low, high] = readings.limits();
    let fits = noise <= MISFIT * (high - low) || noise <= OF_A_STEP * readings.step();
    let units = Units::new(readings.unit().is_inch());
    let more = if recovered.limit < most_lobes(readings, gauge) {
        ", or ask for more lobes (--lobes)"
    } else {
        ""
    };
    (!fits).then(|| {
        format!(
            "These readings do not fit a {} deg V: scatter {} about the lobes that it shows, against a movement of {}. Check the set-up and the angle of the V{more}.",
            vee.included_angle_deg,
            units.small(noise),
            units.small(high - low)
        )
    })
}

fn few(most: u32, readings: usize) -> Option<String> {
    (most < FEW_LOBES).then(|| {
        format!(
            "{readings} readings show waves of up to {most} per revolution: what lies between them is not seen, and every roundness here is a lower bound."
        )
    })
}

/// What readings about an axis may miss, where they show few lobes.
pub(super) fn between_the_readings(resolution: &Resolution) -> Option<String> {
    let highest = resolution.highest_lobe;
    let mut words = few(highest, resolution.points)?;
    let shown = resolution.up_to(MOST_LOBES);
    let percent = |share: f64| format!("{:.0}", 100.0 * share);
    let hidden: Vec<u32> = shown
        .iter()
        .filter(|s| s.count > highest && s.most < NOTHING_SHOWN)
        .map(|s| s.count)
        .collect();
    let spread = |above: bool| {
        shown
            .iter()
            .filter(|s| (s.count > highest) == above && s.most >= NOTHING_SHOWN)
            .fold(None, |span: Option<[f64; 2]>, s| {
                let [least, most] = span.unwrap_or([s.least, s.most]);
                Some([least.min(s.least), most.max(s.most)])
            })
    };
    let mut clauses = Vec::new();
    for (above, of) in [
        (false, format!("{} lobes", counts_up_to(2, highest))),
        (true, format!("finer ones (to {MOST_LOBES})")),
    ] {
        if let Some([least, most]) = spread(above) {
            clauses.push(format!(
                "{} to {} percent of the height of {of}",
                percent(least),
                percent(most)
            ));
        }
    }
    if !hidden.is_empty() {
        clauses.push(format!("nothing of {} lobes", gauge::counts(&hidden)));
    }
    words += &format!(
        " Depending on where the crests lie between the readings, they show {}",
        gauge::listed(&clauses)
    );
    Some(words + ".")
}

fn counts_up_to(first: u32, last: u32) -> String {
    gauge::counts(&(first..=last).collect::<Vec<_>>())
}

/// The lobes that a gauge's trace lets be seen.
pub(super) fn behind(args: &GaugeArgs, readings: &Readings, gauge: Gauge) -> Checked<Part> {
    if readings.kind() == ReadingKind::Radii {
        let words = "the column says radius, but a radius is read about an axis: with --from, name the column `reading`, `deviation` or `diameter`";
        return Err(Stop(FailureKind::Input, words.into()));
    }
    let recovered = inversion::invert(readings, gauge, args.lobes).map_err(|e| not_inverted(&e))?;
    let of_diameters =
        (readings.kind() == ReadingKind::Diameters).then_some(0.5 * recovered.constant);
    let Some(radius) = args.radius_mm().or(of_diameters) else {
        let words = format!("{}; give it with --radius", Fault::NoRadius);
        return Err(Stop(FailureKind::Usage, words));
    };
    let radii = recovered.radii(radius, SAMPLES);
    let sound = radii.iter().all(|r| *r > 0.0);
    let Some(profile) = MeasuredProfile::equal(radii).filter(|_| sound) else {
        let words = format!(
            "lobes as large as the mean radius of {radius} mm cannot be: look at --unit and --radius"
        );
        return Err(Stop(FailureKind::Input, words));
    };
    let mut cautions = vec![format!(
        "Read on a {gauge}: it says nothing of {} lobes per revolution{}. How far the part is off its axis is not known.",
        gauge::counts(&recovered.unseen),
        match recovered.unseen_lobes().next() {
            Some(_) => ", so every roundness here is a lower bound",
            None => "",
        }
    )];
    cautions.extend(misfit(gauge, readings, &recovered));
    let most = most_lobes(readings, gauge);
    cautions.extend(few(most, readings.len()));
    Ok(Part {
        profile,
        most_lobes: recovered.limit,
        recovered: Some(recovered),
        few: most < FEW_LOBES,
        cautions,
    })
}

fn not_inverted(error: &InversionError) -> Stop {
    let kind = match error {
        InversionError::Blind { .. } => FailureKind::Usage,
        InversionError::ShowsNone { .. }
        | InversionError::TooFew { .. }
        | InversionError::TooUneven { .. } => FailureKind::Input,
    };
    Stop(kind, error.to_string())
}
