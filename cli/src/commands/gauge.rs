//! `gauge`: a measured part on every gauge.

use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::Path;

use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::inversion::{self, InversionError, Recovered, most_lobes};
use ringwright_solver::metrology::readings::{
    Fault, Format, Kind, MeasuredProfile, Readings, ReadingsError,
};
use ringwright_solver::metrology::{
    Gauge, MOST_LOBES, MetrologyError, Resolution, Sheet, Vee, Wanted,
};
use ringwright_solver::report::document::{GaugeDocument, usual_gauges};
use ringwright_solver::report::units::Units;
use ringwright_solver::scheme::Registry;

use super::cause::causes;
use crate::Exit;
use crate::args::{Common, GaugeArgs};
use crate::render::gauge;
use crate::screen::Screen;

/// Places at which a profile made of lobes is sampled.
const SAMPLES: usize = 3600;

/// Points that show fewer lobes than this leave much of a turned surface unseen: common practice asks for 15 undulations a turn at
/// least; no source.
const FEW_LOBES: u32 = 15;

/// A wave of which the readings show less than this share of its height is called hidden.
const NOTHING_SHOWN: f64 = 0.02;

/// What goes wrong on the way: words, and how to exit.
struct Stop(Exit, String);

type Step<T> = Result<T, Stop>;

pub(crate) fn run(
    args: &GaugeArgs,
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Exit {
    match answer(args) {
        Ok(mut answer) => {
            if let (Some(case), Some(surface)) = (&args.made_by, args.surface) {
                let marked = !args.no_jaw_mark;
                let lobes = answer.known_lobes();
                match causes(
                    case,
                    surface.into(),
                    &lobes,
                    marked,
                    common,
                    registry,
                    screen,
                ) {
                    Ok(causes) => answer.causes = Some(causes),
                    Err(exit) => return exit,
                }
            }
            if screen.json {
                screen.answer(&answer.json());
            }
            screen.say(&answer.text());
            Exit::Done
        }
        Err(Stop(exit, words)) => {
            screen.error(&words);
            exit
        }
    }
}

fn answer(args: &GaugeArgs) -> Step<gauge::Answer> {
    let gauges = gauges(args)?;
    let name = match args.readings.as_path() {
        path if path == Path::new("-") => "standard input".to_owned(),
        path => path.display().to_string(),
    };
    let readings = read(args, &name)?;
    let taken_with = args.gauge();
    let part = match taken_with {
        Gauge::Radius => direct(args, &readings),
        _ => behind(args, &readings, taken_with),
    };
    let part = part.map_err(|Stop(exit, words)| Stop(exit, format!("{name}: {words}")))?;
    let wanted = Wanted {
        gauges,
        cut_off: args.filter,
    };
    let sheet = Sheet::of(&part.profile.profile(), &wanted)
        .map_err(|e| Stop(exit_of(&e), format!("{name}: {e}")))?;
    let mut cautions = readings.cautions().to_vec();
    cautions.extend(part.cautions.iter().cloned());
    if taken_with == Gauge::Radius {
        cautions.extend(between_the_readings(&sheet.resolution));
    }
    let vees: Vec<f64> = vees(args);
    let mut document = GaugeDocument::of(&sheet, &vees, cautions);
    document.points = readings.len();
    document
        .harmonics
        .retain(|h| h.count <= part.most_lobes && part.shows(h.count));
    Ok(gauge::Answer {
        name,
        units: Units::new(readings.unit().is_inch()),
        most_lobes: part.most_lobes,
        document,
        recovered: part.recovered,
        causes: None,
    })
}

/// Included angles of the Vs asked for.
fn vees(args: &GaugeArgs) -> Vec<f64> {
    match args.surface {
        Some(surface) if !Gauge::Vee(Vee::summit(90.0)).reaches(surface.into()) => Vec::new(),
        _ if args.vee.is_empty() => vec![90.0],
        _ => args.vee.clone(),
    }
}

/// The gauges to compare: those of most shops that reach the surface, and the Vs asked for.
fn gauges(args: &GaugeArgs) -> Step<Vec<Gauge>> {
    let surface: Option<Surface> = args.surface.map(Into::into);
    let unreached = |gauge: Gauge| surface.filter(|s| !gauge.reaches(*s));
    let asked: Vec<Gauge> = args
        .vee
        .iter()
        .map(|&a| Gauge::Vee(Vee::summit(a)))
        .collect();
    for &gauge in asked.iter().chain([&args.gauge()]) {
        if let Some(surface) = unreached(gauge) {
            let words = format!("ringwright: no {gauge} reaches the {}", surface.name());
            return Err(Stop(Exit::Usage, words));
        }
    }
    let mut all = usual_gauges(surface);
    let asked: Vec<Gauge> = vees(args)
        .iter()
        .map(|&a| Gauge::Vee(Vee::summit(a)))
        .collect();
    all.retain(|g| !asked.contains(g));
    let first = all.iter().position(|g| matches!(g, Gauge::Vee(_)));
    let at = first.unwrap_or(all.len());
    all.splice(at..at, asked);
    Ok(all)
}

/// Reads the file, or standard input.
fn read(args: &GaugeArgs, name: &str) -> Step<Readings> {
    let taken_with = args.gauge();
    let deviations = args.radius.is_some() || taken_with != Gauge::Radius;
    let format = Format {
        kind: if deviations {
            Kind::Deviations
        } else {
            Kind::Radii
        },
        unit: args.unit.map(Into::into),
        zero_at_deg: args.zero_at,
        clockwise: args.clockwise,
        keep_jumps: args.keep_jumps,
        lobes: args.lobes,
        repeats: inversion::repeats(taken_with),
    };
    let reader: Box<dyn BufRead> = if args.readings == Path::new("-") {
        Box::new(std::io::stdin().lock())
    } else {
        match File::open(&args.readings) {
            Ok(file) => Box::new(BufReader::new(file)),
            Err(e) => {
                return Err(Stop(
                    Exit::Io,
                    format!("ringwright: cannot read {name}: {e}"),
                ));
            }
        }
    };
    Readings::read(reader, &format).map_err(|e| refused(&e, name))
}

/// `file:line:column: what is wrong`, with the option that would do where one would.
fn refused(error: &ReadingsError, name: &str) -> Stop {
    let fault = &error.fault;
    if let Fault::Unreadable { message } = fault {
        return Stop(
            Exit::Io,
            format!("ringwright: cannot read {name}: {message}"),
        );
    }
    let place = match (error.line, error.column) {
        (0, _) => name.to_owned(),
        (line, 0) => format!("{name}:{line}"),
        (line, column) => format!("{name}:{line}:{column}"),
    };
    let option = match fault {
        Fault::Jump { .. } => " (--keep-jumps)",
        Fault::NotPositive { .. } => " (--radius)",
        Fault::UnitOnValue { .. } => " (--unit)",
        _ => "",
    };
    Stop(Exit::Input, format!("{place}: {fault}{option}"))
}

/// A profile, however it was come by.
struct Part {
    profile: MeasuredProfile,
    most_lobes: u32,
    recovered: Option<Recovered>,
    cautions: Vec<String>,
}

impl Part {
    /// Whether anything is known of a lobe.
    fn shows(&self, count: u32) -> bool {
        let unseen = |r: &Recovered| r.gauge != Gauge::Radius && r.unseen.contains(&count);
        !self.recovered.as_ref().is_some_and(unseen)
    }
}

/// Radii, or deviations about a radius, as they are.
fn direct(args: &GaugeArgs, readings: &Readings) -> Step<Part> {
    let mut cautions = Vec::new();
    let radius = match (readings.kind(), args.radius) {
        (Kind::Deviations, None) => {
            let words = format!("{}; give it with --radius", Fault::NoRadius);
            return Err(Stop(Exit::Usage, words));
        }
        (Kind::Radii, Some(radius)) => {
            cautions.push(format!(
                "The readings are radii themselves: --radius {radius} mm is not used."
            ));
            None
        }
        (_, radius) => radius,
    };
    let profile = readings.profile(radius).map_err(|e| {
        let option = match e.fault {
            Fault::Diameters => " (--from two-point, --from three-point)",
            _ => "",
        };
        Stop(Exit::Input, format!("{}{option}", e.fault))
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
        cautions,
    })
}

fn few(most: u32, readings: usize) -> Option<String> {
    (most < FEW_LOBES).then(|| {
        format!(
            "{readings} readings show {most} lobes a turn at most: what lies between them is not seen, and every roundness here is at least."
        )
    })
}

/// What readings about an axis may miss, where they show few lobes.
fn between_the_readings(resolution: &Resolution) -> Option<String> {
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
    if let Some([least, most]) = spread(false) {
        words += &format!(
            " Of {} lobes they show {} to {} percent of the height, as the crests happen to lie",
            counts_up_to(2, highest),
            percent(least),
            percent(most)
        );
    }
    if let Some([least, most]) = spread(true) {
        words += &format!(
            "; of a finer wave of up to {MOST_LOBES}, {} to {} percent",
            percent(least),
            percent(most)
        );
    }
    if !hidden.is_empty() {
        words += &format!("; of {} nothing", gauge::counts(&hidden));
    }
    Some(words + ".")
}

fn counts_up_to(first: u32, last: u32) -> String {
    gauge::counts(&(first..=last).collect::<Vec<_>>())
}

/// The lobes that a gauge's trace lets be seen.
fn behind(args: &GaugeArgs, readings: &Readings, gauge: Gauge) -> Step<Part> {
    if readings.kind() == Kind::Radii {
        let words = "the column says radius, but a radius is read about an axis: with --from, name the column `reading`, `deviation` or `diameter`";
        return Err(Stop(Exit::Input, words.into()));
    }
    let recovered = inversion::invert(readings, gauge, args.lobes).map_err(|e| not_inverted(&e))?;
    let of_diameters = (readings.kind() == Kind::Diameters).then_some(0.5 * recovered.constant);
    let Some(radius) = args.radius.or(of_diameters) else {
        let words = format!("{}; give it with --radius", Fault::NoRadius);
        return Err(Stop(Exit::Usage, words));
    };
    let radii = recovered.radii(radius, SAMPLES);
    let sound = radii.iter().all(|r| *r > 0.0);
    let Some(profile) = MeasuredProfile::equal(radii).filter(|_| sound) else {
        let words = format!(
            "lobes as large as the mean radius of {radius} mm cannot be: look at --unit and --radius"
        );
        return Err(Stop(Exit::Input, words));
    };
    let mut cautions = vec![format!(
        "Read on a {gauge}: of {} lobes a turn it says nothing, so every roundness here is at least; being off centre is unknown.",
        gauge::counts(&recovered.unseen)
    )];
    cautions.extend(few(most_lobes(readings, gauge), readings.len()));
    Ok(Part {
        profile,
        most_lobes: recovered.limit,
        recovered: Some(recovered),
        cautions,
    })
}

fn not_inverted(error: &InversionError) -> Stop {
    let exit = match error {
        InversionError::Blind { .. } => Exit::Usage,
        InversionError::TooFew { .. } | InversionError::TooUneven { .. } => Exit::Input,
    };
    Stop(exit, error.to_string())
}

/// What could not be proven is no fault of the readings.
fn exit_of(error: &MetrologyError) -> Exit {
    match error {
        MetrologyError::NotProven { .. } | MetrologyError::InscribedNotProven { .. } => {
            Exit::NotTrustworthy
        }
        _ => Exit::Input,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_proven_is_not_the_readings_fault() {
        let zone = MetrologyError::NotProven {
            width: 2.0,
            lower_bound: 1.0,
        };
        let inscribed = MetrologyError::InscribedNotProven {
            radius: 1.0,
            upper_bound: 2.0,
        };
        assert_eq!(exit_of(&zone), Exit::NotTrustworthy);
        assert_eq!(exit_of(&inscribed), Exit::NotTrustworthy);
        assert_eq!(exit_of(&MetrologyError::Degenerate), Exit::Input);
    }
}
