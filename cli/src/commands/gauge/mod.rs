//! `gauge`: a measured part on every gauge.

mod cause;
mod measured;

use std::io::{BufRead, BufReader, Write};
use std::path::Path;

use ringwright_solver::case::open_input;
use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::inversion;
use ringwright_solver::metrology::readings::{Fault, Format, Kind, Readings, ReadingsError};
use ringwright_solver::metrology::{
    Curve, Gauge, MetrologyError, Profile, Sheet, Trace, Vee, Wanted,
};
use ringwright_solver::report::document::{GaugeDocument, usual_gauges};
use ringwright_solver::report::files::write_whole;
use ringwright_solver::report::units::{Units, fixed};
use ringwright_solver::scheme::Registry;

use crate::Exit;
use crate::args::{Common, GaugeArgs};
use crate::render::gauge;
use crate::screen::Screen;
use cause::causes;
use measured::{FOR_DIAMETERS, behind, between_the_readings, direct, taken_as};

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
            answer
                .verdict
                .map_or(Exit::Done, |v| strict(v.in_zone, common, screen))
        }
        Err(Stop(exit, words)) => {
            screen.error(&words);
            exit
        }
    }
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

fn answer(args: &GaugeArgs) -> Step<gauge::Answer> {
    let gauges = gauges(args)?;
    let unclear = |words| Stop(Exit::Usage, format!("ringwright: {words}"));
    if let Some(unit) = args.unit {
        args.units_are_clear(unit.into()).map_err(unclear)?;
    }
    let name = match args.readings.as_path() {
        path if path == Path::new("-") => "standard input".to_owned(),
        path => path.display().to_string(),
    };
    let readings = read(args, &name)?;
    // a header may have named inches
    args.units_are_clear(readings.unit()).map_err(unclear)?;
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
    if let Some(file) = &args.traces {
        traces(file, &part.profile.profile(), &wanted.gauges)?;
    }
    let sheet = Sheet::of(&part.profile.profile(), &wanted)
        .map_err(|e| Stop(exit_of(&e), format!("{name}: {e}")))?;
    if !(sheet.least_squares.radius + sheet.minimum_zone.circle.roundness).is_finite() {
        let words =
            format!("{name}: readings of such size cannot be computed with; look at the unit");
        return Err(Stop(Exit::Input, words));
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
        let diameters = readings.kind() == Kind::Diameters;
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
    Ok(gauge::Answer {
        name,
        units: Units::new(readings.unit().is_inch()),
        most_lobes: part.most_lobes,
        verdict,
        document,
        recovered: part.recovered,
        causes: None,
    })
}

/// Writes the traces of a turn: `part_angle_deg` and a column of mm a gauge, at every tenth of a degree.
fn traces(file: &Path, profile: &Profile, gauges: &[Gauge]) -> Step<()> {
    let curve = Curve::through(profile).map_err(|e| Stop(exit_of(&e), e.to_string()))?;
    let traces: Vec<Trace> = gauges.iter().map(|g| g.trace(&curve)).collect();
    let mut text = "part_angle_deg".to_owned();
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
    write_whole(file, |out| out.write_all(text.as_bytes()))
        .map_err(|e| Stop(Exit::Io, format!("ringwright: {e}")))
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
    let format = Format {
        // a micrometer and a bore gauge show a size, unless a mean radius is given for their readings to lie about
        kind: match (args.radius.is_some(), taken_with) {
            (false, Gauge::Radius) => Kind::Radii,
            (false, Gauge::TwoPoint | Gauge::ThreePoint) => Kind::Diameters,
            _ => Kind::Deviations,
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
        Fault::Diameters => FOR_DIAMETERS,
        _ => "",
    };
    Stop(Exit::Input, format!("{place}: {fault}{option}"))
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
