//! The answer of `gauge`: a table that is read at a glance, and the same as JSON.

use ringwright_solver::metrology::Harmonic;
use ringwright_solver::metrology::inversion::Recovered;
use ringwright_solver::report::document::{
    CauseDocument, CircleDocument, GaugeDocument, HarmonicDocument, ZoneDocument,
};
use ringwright_solver::report::units::{Units, angle, fixed};
use serde::Serialize;

use super::summary::{NOTHING, wrapped};

/// Width of the first column, which holds the longest name of a usual gauge.
const NAME: usize = 44;

/// Width of the first column where circles and lobes stand in it.
const SHORT: usize = 30;

/// Columns of factors: those of the strongest lobes.
const FACTORS: usize = 3;

/// Width of two columns of a length, and of the ratio beside them; a factor takes less.
const LENGTHS: usize = 27;
const RATIO: usize = 8;
const FACTOR: usize = 6;

/// A nanometre, mm: a lobe or a bound below it is none.
pub(crate) const NANOMETRE: f64 = 1e-6;

/// Lengths are shown to this, mm: no gauge in a shop reads a hundredth of a micrometre.
const FINEST: f64 = 1e-5;

/// What computing leaves of nothing, mm.
const ROUNDING: f64 = 1e-9;

/// Departures from what a case says that are worth a sentence: its force is known no better.
const WORTH_SAYING: f64 = 0.05;

/// Cosine of the phase between a lobe and what a hold leaves from which on the two are taken for one.
const IN_STEP: f64 = 0.97;

/// Lobes in the table: the strongest.
const SHOWN: usize = 8;

/// Lobes below this share of the strongest are left out of the table.
const WORTH_A_ROW: f64 = 0.02;

/// Everything that `gauge` has found.
pub(crate) struct Answer {
    /// How messages call the readings.
    pub(crate) name: String,
    pub(crate) units: Units,
    /// Highest lobe count that the readings show.
    pub(crate) most_lobes: u32,
    /// The roundness against the zone, if one was asked for.
    pub(crate) verdict: Option<ZoneDocument>,
    pub(crate) document: GaugeDocument,
    /// What a trace said, or the smooth curve of a lobe limit.
    pub(crate) recovered: Option<Recovered>,
    /// Which hold left which lobe, if a case was named.
    pub(crate) causes: Option<Vec<CauseDocument>>,
}

/// The document of a measured profile, and beside it what only this command knows.
#[derive(Serialize)]
struct Json<'a> {
    #[serde(flatten)]
    document: &'a GaugeDocument,
    /// Highest lobe count that the readings show.
    most_lobes: u32,
    /// How the profile stands to the zone that was given; null without one.
    verdict: Option<ZoneDocument>,
    /// What a trace said of the lobes behind it, or the smooth curve of a lobe limit; null for readings taken as they are.
    recovered: Option<RecoveredJson>,
    /// Which hold left which lobe, with `--made-by`.
    #[serde(skip_serializing_if = "Option::is_none")]
    causes: Option<&'a [CauseDocument]>,
}

/// Lobes behind a trace. Lengths mm; null without a reading to spare.
#[derive(Serialize)]
struct RecoveredJson {
    /// What the readings were taken on, in words.
    gauge: String,
    /// Standard deviation of one reading about the curve, mm.
    noise: Option<f64>,
    /// Largest standard error of the profile round the turn, mm.
    profile_uncertainty: Option<f64>,
    /// The lobes that such a gauge can see.
    lobes: Vec<LobeJson>,
    /// Lobe counts that it does not show.
    unseen: Vec<u32>,
}

/// A lobe behind a trace.
#[derive(Serialize)]
struct LobeJson {
    /// Lobes per revolution.
    count: u32,
    /// mm, never negative.
    amplitude: f64,
    /// Of a crest, degrees.
    angle: f64,
    /// How much of it the gauge reads.
    factor: f64,
    /// Standard error of the amplitude, mm.
    uncertainty: Option<f64>,
}

impl RecoveredJson {
    fn of(r: &Recovered) -> Self {
        let lobe = |l: &ringwright_solver::metrology::inversion::SeenLobe| LobeJson {
            count: l.count,
            amplitude: l.amplitude,
            angle: l.angle_deg + 0.0,
            factor: l.factor,
            uncertainty: l.uncertainty,
        };
        Self {
            gauge: r.gauge.to_string(),
            noise: r.noise,
            profile_uncertainty: r.profile_uncertainty.map(|[_, largest]| largest),
            lobes: r.lobes.iter().map(lobe).collect(),
            unseen: r.unseen.clone(),
        }
    }
}

/// Lobe counts in words: `1, 3 and 5`, long runs as `7 to 12`.
pub(crate) fn counts(list: &[u32]) -> String {
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for &n in list {
        match runs.last_mut() {
            Some((_, end)) if *end + 1 == n => *end = n,
            _ => runs.push((n, n)),
        }
    }
    let words: Vec<String> = runs
        .iter()
        .flat_map(|&(start, end)| match end - start {
            0 => vec![start.to_string()],
            1 => vec![start.to_string(), end.to_string()],
            _ => vec![format!("{start} to {end}")],
        })
        .collect();
    match words.as_slice() {
        [] => "no".into(),
        words => listed(words),
    }
}

/// `a, b and c`.
pub(crate) fn listed(words: &[String]) -> String {
    match words.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => words.concat(),
    }
}

/// The readings that a circle rests on, by their part angles.
fn rests_on(circle: &CircleDocument) -> String {
    if !circle.unique {
        return "   can slide: its radius alone is sure".to_owned();
    }
    let angles: Vec<String> = circle
        .controlling
        .iter()
        .map(|c| fixed(c.angle, 1))
        .collect();
    if angles.is_empty() {
        return String::new();
    }
    format!("   on {} deg", angles.join(", "))
}

/// The angle of a crest; one that rounds to a whole period is that of the crest before.
fn crest(degrees: f64, count: u32) -> String {
    let period = 360.0 / f64::from(count);
    angle(if degrees > period - 0.05 {
        0.0
    } else {
        degrees
    })
}

impl Answer {
    /// The document as JSON.
    pub(crate) fn json(&self) -> String {
        let json = Json {
            document: &self.document,
            most_lobes: self.most_lobes,
            verdict: self.verdict,
            recovered: self.recovered.as_ref().map(RecoveredJson::of),
            causes: self.causes.as_deref(),
        };
        serde_json::to_string_pretty(&json).expect("numbers, texts and lists") + "\n"
    }

    /// The table.
    pub(crate) fn text(&self) -> String {
        let mut text = format!(
            "{}: {} readings, up to {} lobes per revolution\n",
            self.name, self.document.points, self.most_lobes
        );
        self.verdict(&mut text);
        self.circles(&mut text);
        self.lobes(&mut text);
        self.trace(&mut text);
        self.gauges(&mut text);
        self.causes(&mut text);
        if !self.document.cautions.is_empty() {
            text.push('\n');
        }
        for caution in &self.document.cautions {
            text += &wrapped("", &format!("Caution: {caution}"));
        }
        text
    }

    /// Whether the part is in its zone.
    fn verdict(&self, text: &mut String) {
        let Some(v) = &self.verdict else {
            return;
        };
        let behind = v.filter_upr.map_or(String::new(), |upr| {
            format!(" behind a Gaussian filter of {upr} undulations per revolution")
        });
        let least = v.lower_bound.map_or("", |_| "at least ");
        let found = self.small(v.lower_bound.or(v.roundness).unwrap_or_default());
        let zone = self.small(v.zone);
        let words = match (v.in_zone, v.over) {
            (Some(true), _) => "In zone".to_owned(),
            (Some(false), Some(over)) => {
                format!("OUT OF ZONE by {least}{}", self.small(over))
            }
            _ => "NOT SHOWN to be in zone".to_owned(),
        };
        let mut words =
            format!("{words}: minimum zone roundness{behind} {least}{found}, radial zone {zone}.");
        if v.in_zone.is_none() {
            words += " What these readings do not show may bring it out of the zone.";
        }
        *text += &wrapped("", &words);
    }

    /// The lobes that are known.
    pub(crate) fn known_lobes(&self) -> Vec<Harmonic> {
        let lobe = |h: &HarmonicDocument| Harmonic {
            count: h.count,
            amplitude: h.amplitude,
            angle_deg: h.angle,
        };
        self.document.harmonics.iter().map(lobe).collect()
    }

    /// What each hold put in, lobe by lobe, strongest first.
    fn causes(&self, text: &mut String) {
        let Some(causes) = &self.causes else {
            return;
        };
        let mut causes: Vec<&CauseDocument> = causes.iter().collect();
        causes.sort_by(|a, b| b.measured.amplitude.total_cmp(&a.measured.amplitude));
        *text += "\nSource of each lobe, and its share\n";
        let pressed = causes.first().and_then(|strongest| pressed(strongest));
        for cause in causes.into_iter().take(SHOWN) {
            *text += &format!(
                "  {:<32}{}\n",
                format!("{} lobes, measured", cause.measured.count),
                self.columns(cause.measured.amplitude)
            );
            // holds that leave more than was found, or work against each other, share nothing out
            let percent = |share: f64| (100.0 * share).round();
            let parts = || cause.parts.iter().chain([&cause.unexplained]);
            let shared = parts().all(|p| (0.0..=100.0).contains(&percent(p.share)));
            for part in parts() {
                let crest = part
                    .angle
                    .filter(|_| part.amplitude >= NOTHING)
                    .map_or(String::new(), |a| crest(a, cause.measured.count));
                let share = match shared {
                    true => format!("{:>6} percent", fixed(percent(part.share), 0)),
                    false => String::new(),
                };
                let row = format!(
                    "    {:<30}{}{crest:>13}{share}",
                    part.by,
                    self.columns(part.amplitude),
                );
                *text += row.trim_end();
                text.push('\n');
            }
        }
        if let Some(words) = pressed {
            *text += &wrapped("  ", &words);
        }
    }

    /// A length in both units, the readings' own first.
    fn small(&self, mm: f64) -> String {
        let [own, other] = both(mm, self.units.inch);
        format!("{own} ({other})")
    }

    /// A length as two columns, the readings' own unit first, with a blank before each however wide they are.
    fn columns(&self, mm: f64) -> String {
        let [own, other] = both(mm, self.units.inch);
        format!(" {own:>12} {other:>width$}", width = LENGTHS - 14)
    }

    /// What is known of a figure that rests on lobes that were not seen.
    fn at_least(&self, mm: f64) -> String {
        if mm < NANOMETRE {
            "unknown".to_owned()
        } else {
            format!("unknown; at least {}", self.small(mm))
        }
    }

    /// The row of a circle.
    fn circle(&self, name: &str, circle: Option<&CircleDocument>) -> String {
        let words = match circle {
            None => "  unknown".to_owned(),
            Some(c) => match c.lower_bound {
                Some(least) if least < NANOMETRE => "  unknown".to_owned(),
                Some(least) => format!("  at least {}{}", self.small(least), rests_on(c)),
                None => format!("{}{}", self.columns(c.roundness), rests_on(c)),
            },
        };
        format!("  {name:<SHORT$}{words}\n")
    }

    fn circles(&self, text: &mut String) {
        let read = &self.document.read;
        let four = |heading: &str, circles: [Option<&CircleDocument>; 4]| {
            let names = [
                "minimum zone",
                "least squares",
                "maximum inscribed circle",
                "minimum circumscribed circle",
            ];
            let rows = names.iter().zip(circles);
            let rows: String = rows.map(|(name, c)| self.circle(name, c)).collect();
            format!("\n{heading}\n{rows}")
        };
        *text += &four(
            "Roundness, radial zone, unfiltered",
            [
                Some(&read.minimum_zone),
                Some(&read.least_squares),
                read.maximum_inscribed.as_ref(),
                read.minimum_circumscribed.as_ref(),
            ],
        );
        if let Some(f) = &read.filtered {
            *text += &four(
                &format!(
                    "Behind a Gaussian filter of {} undulations per revolution",
                    f.filter_upr
                ),
                [
                    Some(&f.minimum_zone),
                    Some(&f.least_squares),
                    f.maximum_inscribed.as_ref(),
                    f.minimum_circumscribed.as_ref(),
                ],
            );
        }
        let circle = &read.least_squares;
        let [x, y] = circle.centre;
        *text += &format!(
            "Least-squares circle: diameter {}",
            self.units.size(2.0 * circle.radius)
        );
        *text += &if read.between_centres.range.is_none() {
            ", centre unknown\n".to_owned()
        } else if x.hypot(y) < NANOMETRE {
            ", centred\n".to_owned()
        } else {
            format!(
                "\n  off centre by {} towards {}\n",
                self.small(x.hypot(y)),
                angle(direction(x, y))
            )
        };
        for unknown in self.circles_unknown() {
            *text += &unknown;
        }
    }

    /// Why a circle is not known, where it is not for lobes unseen: these stand in a caution.
    fn circles_unknown(&self) -> impl Iterator<Item = String> {
        let read = &self.document.read;
        let names = [
            ("minimum_zone", "The minimum zone is an upper bound"),
            ("maximum_inscribed", "No maximum inscribed circle"),
            ("minimum_circumscribed", "No minimum circumscribed circle"),
        ];
        names
            .into_iter()
            .filter(|_| self.recovered.is_none())
            .filter_map(|(key, name)| {
                let why = read.unknown.iter().find(|u| u.what == key)?;
                Some(wrapped("", &format!("{name}: {}.", why.reason)))
            })
    }

    fn lobes(&self, text: &mut String) {
        let mut lobes: Vec<_> = self
            .document
            .harmonics
            .iter()
            .filter(|h| h.count >= 2)
            .collect();
        lobes.sort_by(|a, b| {
            b.amplitude
                .total_cmp(&a.amplitude)
                .then(a.count.cmp(&b.count))
        });
        let least = WORTH_A_ROW * lobes.first().map_or(0.0, |h| h.amplitude);
        lobes.retain(|h| h.amplitude > least && h.amplitude >= NANOMETRE);
        if lobes.is_empty() {
            return;
        }
        lobes.truncate(SHOWN);
        *text += "\nLobes, amplitude (\u{b1}), strongest first; angle of a crest\n";
        for lobe in lobes {
            *text += &format!(
                "  {:<SHORT$}{}{:>13}\n",
                lobe.count,
                self.columns(lobe.amplitude),
                crest(lobe.angle, lobe.count)
            );
        }
    }

    /// What noise leaves uncertain, of the lobes that the readings show.
    fn trace(&self, text: &mut String) {
        let Some(recovered) = &self.recovered else {
            return;
        };
        let Some((noise, [_, largest])) = recovered.noise.zip(recovered.profile_uncertainty) else {
            *text += "No reading is left over to judge their scatter by.\n";
            return;
        };
        let shown = |mm: f64| match mm {
            mm if mm < FINEST => "less than 0.00001 mm".to_owned(),
            mm => self.small(mm),
        };
        let unseen = recovered.unseen_lobes().next().is_some();
        let what = if unseen {
            "the lobes that they show"
        } else {
            "the profile"
        };
        let mut words = format!(
            "Scatter of the readings about {} lobes: {}; it leaves {what} uncertain by {} (standard error).",
            recovered.limit,
            shown(noise),
            shown(largest)
        );
        if unseen {
            words += " Lobes that they do not show are not in that figure.";
        }
        *text += &wrapped("", &words);
    }

    fn gauges(&self, text: &mut String) {
        let read = &self.document.read;
        let factors = &read.factors[..read.factors.len().min(FACTORS)];
        let ratios = read.readings.iter().any(|r| r.magnifies.is_some());
        let mut heading = "Full indicator movement in a turn".to_owned();
        if ratios {
            heading += ", its ratio to the radial height";
        }
        if !factors.is_empty() {
            heading += ", and by how much each gauge magnifies pure lobes";
        }
        text.push('\n');
        *text += &wrapped("", &heading);
        let ratio = if ratios { "ratio" } else { "" };
        let mut columns = format!("{ratio:>width$}", width = 2 + NAME + LENGTHS + RATIO);
        if !factors.is_empty() {
            let above = format!("{:>width$}  lobes:", "", width = columns.len());
            *text += &format!("{above}\n");
        }
        for lobe in factors {
            columns += &format!("{:>FACTOR$}", lobe.count);
        }
        if !columns.trim().is_empty() {
            *text += &format!("{columns}\n");
        }
        for (k, reading) in read.readings.iter().enumerate() {
            *text += &format!("  {:<NAME$}", reading.gauge);
            let Some(range) = reading.range else {
                *text += &format!("  {}\n", self.at_least(reading.lower_bound.unwrap_or(0.0)));
                continue;
            };
            let times = reading
                .magnifies
                .map_or(String::new(), |m| fixed(m, if m < 9.995 { 2 } else { 1 }));
            *text += &format!("{}{times:>RATIO$}", self.columns(range));
            for lobe in factors {
                *text += &format!("{:>FACTOR$}", fixed(lobe.gauges[k].factor, 2));
            }
            *text = text.trim_end().to_owned();
            text.push('\n');
        }
        self.sensitivity(text);
        self.unread(text);
    }

    /// Which gauge shows the part best, where that is known.
    fn sensitivity(&self, text: &mut String) {
        let read = &self.document.read;
        if read.unknown.iter().any(|u| u.what == "shows_best") {
            *text += &wrapped(
                "",
                "Which gauge is most sensitive is unknown: that rests on lobes that these readings do not show.",
            );
        } else if let Some(best) = &read.shows_best {
            let insensitive = match read.blind.as_slice() {
                [] => String::new(),
                blind => format!(
                    "; insensitive (shows under 20 percent): {}",
                    blind.join("; ")
                ),
            };
            *text += &wrapped("", &format!("Most sensitive: {best}{insensitive}"));
        }
    }

    /// Gauges that have no reading.
    fn unread(&self, text: &mut String) {
        let read = &self.document.read;
        let unread = read.readings.iter();
        for r in unread.filter(|r| r.range.is_none() && r.lower_bound.is_none()) {
            if let Some(why) = read.unknown.iter().find(|u| u.what == r.gauge) {
                *text += &wrapped("", &format!("No reading, {}: {}.", r.gauge, why.reason));
            }
        }
    }
}

/// A length (mm) in mm and thou, the drawing's own first: three decimals of a millimetre and one of a thou, or two significant digits, but
/// nothing finer than [`FINEST`].
fn both(mm: f64, inch_first: bool) -> [String; 2] {
    let thou = mm / 0.0254;
    let [metric, inch] = match mm.abs() {
        size if size < ROUNDING => ["0.000 mm".to_owned(), "0.0 thou".to_owned()],
        size if size < FINEST => ["<0.00001 mm".to_owned(), "<0.0004 thou".to_owned()],
        size if size < 0.01 => [
            format!("{} mm", two_digits(mm, 3, 5)),
            format!("{} thou", two_digits(thou, 1, 4)),
        ],
        _ => [
            format!("{} mm", fixed(mm, 3)),
            format!("{} thou", fixed(thou, 1)),
        ],
    };
    if inch_first {
        [inch, metric]
    } else {
        [metric, inch]
    }
}

/// Two significant digits, within so many decimals.
fn two_digits(value: f64, least: usize, most: usize) -> String {
    let lead = value.abs().log10().floor() as i32;
    let places = usize::try_from(1 - lead).unwrap_or(0);
    fixed(value, places.clamp(least, most))
}

/// A lobe that one hold left alone, and larger or smaller than the case says: lobes grow with the force.
fn pressed(cause: &CauseDocument) -> Option<String> {
    let measured = &cause.measured;
    let mut parts = cause
        .parts
        .iter()
        .filter(|p| p.amplitude >= WORTH_SAYING * measured.amplitude);
    let (hold, None) = (parts.next()?, parts.next()) else {
        return None;
    };
    hold.angle?;
    let along = hold.share * measured.amplitude / hold.amplitude;
    let times = measured.amplitude / hold.amplitude;
    let says =
        along >= IN_STEP && (times - 1.0).abs() > WORTH_SAYING && hold.by.starts_with("step");
    says.then(|| {
        format!(
            "The {} lobes are as if {} had pressed {} times as hard as the case says.",
            measured.count,
            hold.by,
            fixed(times, 2)
        )
    })
}

/// Direction of a point, degrees from 0 to 359.9 as shown.
fn direction(x: f64, y: f64) -> f64 {
    let tenths = (10.0 * y.atan2(x).to_degrees()).round();
    tenths.rem_euclid(3600.0) / 10.0
}

#[cfg(test)]
mod tests {
    use ringwright_solver::report::document::{CauseDocument, HarmonicDocument, ShareDocument};

    use super::{both, counts, pressed};

    /// A lobe of this size, of which one hold leaves `left` at an angle.
    fn cause(measured: f64, left: f64, angle: f64) -> CauseDocument {
        let turned = (3.0 * angle).to_radians().cos();
        let share = |by: &str, amplitude: f64, share: f64| ShareDocument {
            by: by.to_owned(),
            amplitude,
            angle: Some(angle),
            share,
        };
        CauseDocument {
            measured: HarmonicDocument {
                count: 3,
                amplitude: measured,
                angle: 0.0,
            },
            parts: vec![share(
                "step 1, hold \"soft\"",
                left,
                turned * left / measured,
            )],
            unexplained: share("not explained", 0.0, 0.0),
        }
    }

    #[test]
    fn a_hold_that_pressed_harder_is_named() {
        let words = pressed(&cause(0.017, 0.010, 0.0)).expect("says");
        assert!(
            words.contains("step 1, hold \"soft\" had pressed 1.70 times as hard"),
            "{words}"
        );
        // as hard as the case says, and a lobe that lies elsewhere
        assert!(pressed(&cause(0.010, 0.010, 0.0)).is_none());
        assert!(pressed(&cause(0.017, 0.010, 15.0)).is_none());
        // two holds: which of them is not told by one lobe
        let mut two = cause(0.017, 0.010, 0.0);
        two.parts.extend(two.parts.clone());
        assert!(pressed(&two).is_none());
    }

    #[test]
    fn lengths_are_shown_to_a_hundredth_of_a_micrometre() {
        for (mm, metric, inch) in [
            (0.0, "0.000 mm", "0.0 thou"),
            (1e-15, "0.000 mm", "0.0 thou"),
            (5e-6, "<0.00001 mm", "<0.0004 thou"),
            (1.23e-5, "0.00001 mm", "0.0005 thou"),
            (8.6e-5, "0.00009 mm", "0.0034 thou"),
            (0.001_8, "0.0018 mm", "0.071 thou"),
            (0.012, "0.012 mm", "0.5 thou"),
            (2.0, "2.000 mm", "78.7 thou"),
        ] {
            assert_eq!(both(mm, false), [metric, inch]);
            assert_eq!(both(mm, true), [inch, metric]);
        }
    }

    #[test]
    fn counts_in_words() {
        assert_eq!(counts(&[]), "no");
        assert_eq!(counts(&[1]), "1");
        assert_eq!(counts(&[1, 2]), "1 and 2");
        assert_eq!(counts(&[1, 3, 5, 6, 7]), "1, 3 and 5 to 7");
    }
}
