//! `gauge`: a measured part on every gauge.

mod cause;
mod measured;

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};

use ringwright_solver::case::open_input;
use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::inversion;
use ringwright_solver::metrology::readings::{Fault, Format, ReadingKind, Readings, ReadingsError};
use ringwright_solver::metrology::{
    Curve, Gauge, MetrologyError, Profile, Sheet, Trace, Vee, Wanted,
};
use ringwright_solver::report::ReportError;
use ringwright_solver::report::document::{GaugeDocument, usual_gauges};
use ringwright_solver::report::files::OneFile;
use ringwright_solver::report::units::{Units, fixed};
use ringwright_solver::scheme::Registry;

use crate::Exit;
use crate::args::{Common, GaugeArgs};
use crate::commands::name_of;
use crate::failure::{Failure, FailureKind, Outcome};
use crate::render::gauge;
use crate::screen::Screen;
use crate::{interrupt, outputs};
use cause::causes;
use measured::{FOR_DIAMETERS, behind, between_the_readings, direct, taken_as};

/// First column of the traces, which tells a file of them.
const FIRST_COLUMN: &str = "part_angle_deg";

/// What is wrong with readings as a whole.
struct Stop(FailureKind, String);

type Checked<T> = Result<T, Stop>;

pub(crate) fn run(
    args: &GaugeArgs,
    common: &Common,
    registry: &Registry,
    screen: &mut Screen,
) -> Outcome {
    let traces = traces_file(args)?;
    let (mut answer, text) = answer(args)?;
    if let (Some(case), Some(surface)) = (&args.made_by, args.surface) {
        let lobes = answer.known_lobes();
        let found = causes(args, case, surface.into(), &lobes, common, registry, screen)?;
        answer.causes = Some(found);
    }
    interrupt::check()?;
    // last, so that a command that fails leaves no file
    if let Some(file) = traces {
        file.write(|out| out.write_all(text.as_bytes()))?;
    }
    if screen.json {
        screen.answer(&answer.json());
    }
    screen.say(&answer.text());
    Ok(answer
        .verdict
        .map_or(Exit::Done, |v| strict(v.in_zone, common, screen)))
}

/// The file for the traces, if they are asked for: tried before anything is computed.
fn traces_file(args: &GaugeArgs) -> Result<Option<OneFile>, ReportError> {
    let made_by = args.made_by.as_deref();
    let inputs: Vec<_> = std::iter::once(args.readings.as_path())
        .chain(made_by)
        .map(outputs::file_of)
        .collect();
    let open = |file: &PathBuf| OneFile::open(file, &inputs, FIRST_COLUMN);
    args.traces.as_ref().map(open).transpose()
}

/// How `--strict` ends: a zone that is missed fails, and so does one that is not shown to be met, for a gate passes only what is known to be good.
fn strict(in_zone: Option<bool>, common: &Common, screen: &mut Screen) -> Exit {
    match in_zone {
        Some(false) if common.strict => {
            screen.note("ringwright: the zone is missed (--strict)");
            Exit::Limit
        }
        None if common.strict => {
            screen.note("ringwright: the zone is not shown to be met (--strict)");
            Exit::Limit
        }
        _ => Exit::Done,
    }
}

/// The answer, and the text of the traces if they are asked for.
fn answer(args: &GaugeArgs) -> Result<(gauge::Answer, String), Failure> {
    let gauges = gauges(args)?;
    let unclear = |words: String| Failure::new(FailureKind::Usage, words);
    if let Some(unit) = args.unit {
        args.units_are_clear(unit.into()).map_err(unclear)?;
    }
    let name = name_of(&args.readings);
    let whole = |kind: FailureKind, words: String| Failure::at(kind, &name, [0, 0], words);
    let readings = read(args, &name)?;
    // a header may have named inches
    args.units_are_clear(readings.unit()).map_err(unclear)?;
    let taken_with = args.gauge();
    let part = match taken_with {
        Gauge::Radius => direct(args, &readings),
        _ => behind(args, &readings, taken_with),
    };
    let part = part.map_err(|Stop(kind, words)| whole(kind, words))?;
    let wanted = Wanted {
        gauges,
        cut_off: args.filter,
    };
    let traces = match &args.traces {
        Some(_) => traces(&part.profile.profile(), &wanted.gauges)?,
        None => String::new(),
    };
    let sheet = Sheet::of(&part.profile.profile(), &wanted)
        .map_err(|e| whole(kind_of(&e), e.to_string()))?;
    if !(sheet.least_squares.radius + sheet.minimum_zone.circle.roundness).is_finite() {
        let words = "readings of such size cannot be computed with; look at the unit";
        return Err(whole(FailureKind::Input, words.into()));
    }
    let mut cautions = readings.cautions().to_vec();
    cautions.extend(taken_as(&readings));
    cautions.extend(part.cautions.iter().cloned());
    let missed = match taken_with {
        Gauge::Radius => between_the_readings(&sheet.resolution),
        _ => None,
    };
    let few = part.few || missed.is_some();
    cautions.extend(missed);
    let vees: Vec<f64> = vees(args);
    let mut document = GaugeDocument::of(&sheet, &vees, cautions);
    document.points = readings.len();
    if let Some(recovered) = &part.recovered {
        document.read.keep_what_is_seen(recovered);
    }
    if taken_with != Gauge::Radius {
        let diameters = readings.kind() == ReadingKind::Diameters;
        document
            .read
            .show_what_was_read(taken_with, readings.limits(), diameters);
    }
    if few {
        document.read.few_readings();
    }
    let verdict = args.zone_mm().map(|zone| document.read.in_zone(zone));
    document
        .harmonics
        .retain(|h| h.count <= part.most_lobes && part.shows(h.count));
    let lobes = &document.harmonics;
    let there = |n: u32| {
        lobes
            .iter()
            .any(|h| h.count == n && h.amplitude >= gauge::NANOMETRE)
    };
    document.read.factors.retain(|f| there(f.count));
    let answer = gauge::Answer {
        name,
        units: Units::new(readings.unit().is_inch()),
        most_lobes: part.most_lobes,
        verdict,
        document,
        recovered: part.recovered,
        causes: None,
    };
    Ok((answer, traces))
}

/// The traces of a turn: `part_angle_deg` and a column of mm a gauge, at every tenth of a degree.
fn traces(profile: &Profile, gauges: &[Gauge]) -> Result<String, Failure> {
    let curve = Curve::through(profile).map_err(|e| Failure::new(kind_of(&e), e.to_string()))?;
    let traces: Vec<Trace> = gauges.iter().map(|g| g.trace(&curve)).collect();
    let mut text = FIRST_COLUMN.to_owned();
    for gauge in gauges {
        // a name holds commas
        text += &format!(",\"{gauge}\"");
    }
    text.push('\n');
    let places = traces.first().map_or(0, |t| t.readings.len());
    for k in 0..places {
        text += &format!("{}", 360.0 * k as f64 / places as f64);
        for trace in &traces {
            text += &format!(",{}", fixed(trace.readings[k], 7));
        }
        text.push('\n');
    }
    Ok(text)
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
fn gauges(args: &GaugeArgs) -> Result<Vec<Gauge>, Failure> {
    let surface: Option<Surface> = args.surface.map(Into::into);
    let unreached = |gauge: Gauge| surface.filter(|s| !gauge.reaches(*s));
    let asked: Vec<Gauge> = args
        .vee
        .iter()
        .map(|&a| Gauge::Vee(Vee::summit(a)))
        .collect();
    for &gauge in asked.iter().chain([&args.gauge()]) {
        if let Some(surface) = unreached(gauge) {
            let words = format!("no {gauge} reaches the {}", surface.name());
            return Err(Failure::new(FailureKind::Usage, words));
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
fn read(args: &GaugeArgs, name: &str) -> Result<Readings, Failure> {
    let taken_with = args.gauge();
    let format = Format {
        // a micrometer and a bore gauge show a size, unless a mean radius is given for their readings to lie about
        kind: match (args.radius.is_some(), taken_with) {
            (false, Gauge::Radius) => ReadingKind::Radii,
            (false, Gauge::TwoPoint | Gauge::ThreePoint) => ReadingKind::Diameters,
            _ => ReadingKind::Deviations,
        },
        unit: args.unit.map(Into::into),
        zero_at_deg: args.zero_at,
        clockwise: args.clockwise,
        keep_jumps: args.keep_jumps,
        lobes: args.lobes,
        repeats: inversion::repeats(taken_with),
        ..Format::default()
    };
    let reader: Box<dyn BufRead> = if args.readings == Path::new("-") {
        Box::new(std::io::stdin().lock())
    } else {
        match open_input(&args.readings) {
            Ok(file) => Box::new(BufReader::new(file)),
            Err(e) => {
                return Err(Failure::io(
                    &args.readings,
                    format!("cannot read {name}: {e}"),
                ));
            }
        }
    };
    Readings::read(reader, &format).map_err(|e| refused(&e, name))
}

/// `file:line:column: what is wrong`, with the option that would do where one would.
fn refused(error: &ReadingsError, name: &str) -> Failure {
    let fault = &error.fault;
    if let Fault::Unreadable { message } = fault {
        return Failure::io(Path::new(name), format!("cannot read {name}: {message}"));
    }
    let option = match fault {
        Fault::Jump { .. } => " (--keep-jumps)",
        Fault::NotPositive { .. } => " (--radius)",
        Fault::UnitOnValue { .. } => " (--unit)",
        Fault::Diameters => FOR_DIAMETERS,
        _ => "",
    };
    let words = format!("{fault}{option}");
    Failure::at(FailureKind::Input, name, [error.line, error.column], words)
}

/// What could not be proven is no fault of the readings.
fn kind_of(error: &MetrologyError) -> FailureKind {
    match error {
        MetrologyError::NotProven { .. } | MetrologyError::InscribedNotProven { .. } => {
            FailureKind::NotConverged
        }
        _ => FailureKind::Input,
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
        assert_eq!(kind_of(&zone), FailureKind::NotConverged);
        assert_eq!(kind_of(&inscribed), FailureKind::NotConverged);
        assert_eq!(kind_of(&MetrologyError::Degenerate), FailureKind::Input);
    }
}
