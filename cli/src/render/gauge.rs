//! The answer of `gauge`: a table that is read at a glance, and the same as JSON.

use ringwright_solver::metrology::Harmonic;
use ringwright_solver::metrology::inversion::Recovered;
use ringwright_solver::report::document::{
    CauseDocument, CircleDocument, GaugeDocument, HarmonicDocument,
};
use ringwright_solver::report::units::{Units, angle, fixed};
use serde::Serialize;

use super::summary::{NOTHING, wrapped};

/// Width of the first column, which holds the longest name of a gauge.
const NAME: usize = 42;

/// Columns of factors: those of the strongest lobes.
const FACTORS: usize = 3;

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
    match words.split_last() {
        None => "no".into(),
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
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
            recovered: self.recovered.as_ref().map(RecoveredJson::of),
            causes: self.causes.as_deref(),
        };
        serde_json::to_string_pretty(&json).expect("numbers, texts and lists") + "\n"
    }

    /// The table.
    pub(crate) fn text(&self) -> String {
        let mut text = format!(
            "{}: {} readings, lobes up to {} a turn\n",
            self.name, self.document.points, self.most_lobes
        );
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
        *text += "\nWhat left the lobes, and its share of each\n";
        for cause in causes.into_iter().take(SHOWN) {
            *text += &format!(
                "  {:<32}{}\n",
                format!("{} lobes, measured", cause.measured.count),
                self.columns(cause.measured.amplitude)
            );
            for part in cause.parts.iter().chain([&cause.unexplained]) {
                let crest = part
                    .angle
                    .filter(|_| part.amplitude >= NOTHING)
                    .map_or(String::new(), |a| crest(a, cause.measured.count));
                *text += &format!(
                    "    {:<30}{}{crest:>13}{:>6} percent\n",
                    part.by,
                    self.columns(part.amplitude),
                    fixed(100.0 * part.share, 0)
                );
            }
        }
    }

    /// A length as two columns, the readings' own unit first.
    fn columns(&self, mm: f64) -> String {
        let pair = self.units.small(mm);
        let (own, other) = pair.split_once(" (").unwrap_or((&pair, ""));
        format!("{own:>14}{:>16}", other.trim_end_matches(')'))
    }

    fn circles(&self, text: &mut String) {
        let read = &self.document.read;
        let four = |heading: &str, circles: [&CircleDocument; 4]| {
            let names = [
                "minimum zone",
                "least squares",
                "largest circle inside",
                "smallest circle around",
            ];
            let mut rows = format!("\n{heading}\n");
            for (name, circle) in names.iter().zip(circles) {
                rows += &format!(
                    "  {name:<NAME$}{}{}\n",
                    self.columns(circle.roundness),
                    rests_on(circle)
                );
            }
            rows
        };
        *text += &four(
            "Roundness, radial zone, unfiltered",
            [
                &read.minimum_zone,
                &read.least_squares,
                &read.maximum_inscribed,
                &read.minimum_circumscribed,
            ],
        );
        if let Some(f) = &read.filtered {
            *text += &four(
                &format!(
                    "Behind a Gaussian filter of {} undulations a turn",
                    f.filter_upr
                ),
                [
                    &f.minimum_zone,
                    &f.least_squares,
                    &f.maximum_inscribed,
                    &f.minimum_circumscribed,
                ],
            );
        }
        let circle = &read.least_squares;
        let [x, y] = circle.centre;
        *text += &format!(
            "Least-squares circle: diameter {}",
            self.units.size(2.0 * circle.radius)
        );
        *text += &if x.hypot(y) < 1e-6 {
            ", centred\n".to_owned()
        } else {
            format!(
                ", off centre by {} towards {}\n",
                self.units.small(x.hypot(y)),
                angle(direction(x, y))
            )
        };
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
        lobes.retain(|h| h.amplitude > least);
        if lobes.is_empty() {
            return;
        }
        lobes.truncate(SHOWN);
        *text += "\nLobes, amplitude each way, strongest first; angle of a crest\n";
        for lobe in lobes {
            *text += &format!(
                "  {:<NAME$}{}{:>13}\n",
                lobe.count,
                self.columns(lobe.amplitude),
                crest(lobe.angle, lobe.count)
            );
        }
    }

    /// What noise leaves uncertain.
    fn trace(&self, text: &mut String) {
        let Some(recovered) = &self.recovered else {
            return;
        };
        *text += &match (recovered.noise, recovered.profile_uncertainty) {
            (Some(noise), Some([_, largest])) => wrapped(
                "",
                &format!(
                    "Scatter of the readings about {} lobes: {}; it leaves the profile uncertain by {} (standard error).",
                    recovered.limit,
                    self.units.small(noise),
                    self.units.small(largest)
                ),
            ),
            _ => "No reading is left over to judge their scatter by.\n".to_owned(),
        };
    }

    fn gauges(&self, text: &mut String) {
        let read = &self.document.read;
        let factors = &read.factors[..read.factors.len().min(FACTORS)];
        *text +=
            "\nFull indicator movement in a turn, and how many times the radial height that is";
        if !factors.is_empty() {
            *text += "; factors of pure lobes";
            *text += &format!("\n{:>width$}", "times", width = NAME + 41);
            for lobe in factors {
                *text += &format!("{:>9}", format!("{} lobes", lobe.count));
            }
        }
        text.push('\n');
        for (k, reading) in read.readings.iter().enumerate() {
            let times = reading.magnifies.map_or(String::new(), |m| fixed(m, 2));
            *text += &format!(
                "  {:<NAME$}{}{times:>9}",
                reading.gauge,
                self.columns(reading.range)
            );
            for lobe in factors {
                *text += &format!("{:>9}", fixed(lobe.gauges[k].factor, 2));
            }
            text.push('\n');
        }
        if let Some(best) = &read.shows_best {
            *text += &format!("Shows it best: {best}");
            *text += &match read.blind.as_slice() {
                [] => "\n".to_owned(),
                blind => format!("; blind to it: {}\n", blind.join(", ")),
            };
        }
    }
}

/// Direction of a point, degrees from 0 to 359.9 as shown.
fn direction(x: f64, y: f64) -> f64 {
    let tenths = (10.0 * y.atan2(x).to_degrees()).round();
    tenths.rem_euclid(3600.0) / 10.0
}

#[cfg(test)]
mod tests {
    use super::counts;

    #[test]
    fn counts_in_words() {
        assert_eq!(counts(&[]), "no");
        assert_eq!(counts(&[1]), "1");
        assert_eq!(counts(&[1, 2]), "1 and 2");
        assert_eq!(counts(&[1, 3, 5, 6, 7]), "1, 3 and 5 to 7");
    }
}
