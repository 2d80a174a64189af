//! The command line as typed.

mod new;
mod pages;
mod study;

use std::path::PathBuf;
use std::time::Duration;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use ringwright_solver::case::Change;
use ringwright_solver::case::quantity::{self, Dimension, UnitSystem};
use ringwright_solver::geometry::Surface;
use ringwright_solver::metrology::readings::LengthUnit;
use ringwright_solver::metrology::{Gauge, Vee};
use ringwright_solver::process::KeepFields;

pub(crate) use new::{ChuckKind, Job, NewArgs};
pub(crate) use pages::{CompletionsArgs, ManArgs};
pub(crate) use study::{AskArgs, Keeps, MergeArgs, Shard, StudyArgs, StudyCommand, TellArgs};

/// How a thin ring comes out of the chuck: hold it, cut it round, let it go, see what is left.
#[derive(Debug, Parser)]
#[command(
    name = "ringwright",
    version,
    arg_required_else_help = true,
    after_help = "First steps:\n  ringwright new ring.toml    write a commented example\n  ringwright new --job tube   one for a job of yours, see ringwright new --help\n  ringwright run ring.toml    hold, cut, release, inspect it\n\nShells and pages: ringwright completions SHELL, ringwright man, ringwright schemes --schema; README, \"In your editor\".\n\nExit status: 0 done, 1 a limit is not met (--strict), 2 wrong use, 3 wrong input or a scheme that does not conform, 4 no trustworthy answer, 5 reading or writing failed, 6 an outside scheme failed, 130 interrupted (128 and the number of another signal).\n\nWhat is said of a grip is an estimate and no rating: keep to the chuck maker's ratings and instructions, local codes and competent practice."
)]
pub(crate) struct Args {
    #[command(subcommand)]
    pub(crate) command: Command,
    #[command(flatten)]
    pub(crate) common: Common,
}

/// Flags of every command.
#[derive(Clone, Debug, ClapArgs)]
pub(crate) struct Common {
    /// Print the command's JSON document on standard output, and nothing else there
    #[arg(long, global = true)]
    pub(crate) json: bool,
    /// Threads to use; the answer does not depend on it
    #[arg(long, global = true, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(crate) threads: Option<u16>,
    /// Say nothing but errors
    #[arg(long, short, global = true)]
    pub(crate) quiet: bool,
    /// Say more, on standard error
    #[arg(long, short, global = true, conflicts_with = "quiet")]
    pub(crate) verbose: bool,
    /// Exit with 1 when a stated limit (tolerance, yield, grip) is not met; of a study, by any row, or when a row failed
    #[arg(long, global = true)]
    pub(crate) strict: bool,
    /// A program that answers for a holding scheme of its own (repeatable); see README, "Your own scheme"
    #[arg(long, global = true, value_name = "COMMAND")]
    pub(crate) scheme_program: Vec<String>,
    /// Longest wait for one answer of a scheme program
    #[arg(long, global = true, value_name = "SECONDS", default_value = "10", value_parser = seconds)]
    pub(crate) scheme_timeout: Duration,
    /// Longest time that solving a case may take; what has no trustworthy answer by then ends with exit status 4 and the reason
    #[arg(long, global = true, value_name = "SECONDS", value_parser = seconds, allow_hyphen_values = true)]
    pub(crate) time_limit: Option<Duration>,
}

/// A time between a millisecond and a day.
fn seconds(text: &str) -> Result<Duration, String> {
    match text.parse::<f64>() {
        Ok(s) if (1e-3..=86_400.0).contains(&s) => Ok(Duration::from_secs_f64(s)),
        _ => Err("expected a number of seconds from 0.001 to 86400".into()),
    }
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Hold, cut, release and inspect every step of a case
    Run(RunArgs),
    /// The same cuts under every hold of a case, ranked
    Compare(CompareArgs),
    /// Jaw geometry and force with which a case meets its limits, over all that cannot be held exactly
    Size(SizeArgs),
    /// Many cases from one file, a row of figures each
    Study(StudyArgs),
    /// Write the mesh alone, with its boundary names, for review
    Mesh(MeshArgs),
    /// Check a case file without solving; every problem at once
    Check(CheckArgs),
    /// Write a commented example case that runs: of a job and sizes of yours, if you name them
    New(NewArgs),
    /// List the holding schemes, or show one
    Schemes(SchemesArgs),
    /// List the built-in materials, with how well each value is known, or show one
    Materials(MaterialsArgs),
    /// Roundness and lobes of a measured part, and how it reads on each gauge
    Gauge(GaugeArgs),
    /// Print what a shell completes these commands by
    #[command(hide = true)]
    Completions(CompletionsArgs),
    /// Write the manual pages, made from the same definition as the help
    #[command(hide = true)]
    Man(ManArgs),
}

impl Command {
    /// Whether outside programs are wanted.
    pub(crate) fn uses_schemes(&self) -> bool {
        match self {
            Command::Run(_)
            | Command::Compare(_)
            | Command::Size(_)
            | Command::Study(_)
            | Command::Mesh(_)
            | Command::Check(_)
            | Command::Schemes(_) => true,
            Command::Gauge(a) => a.made_by.is_some(),
            _ => false,
        }
    }

    /// Whether every scheme is wanted, and not only those that a case names.
    pub(crate) fn lists_schemes(&self) -> bool {
        matches!(self, Command::Schemes(a) if a.name.is_none())
    }
}

/// A case, and what is to be other than its file says.
#[derive(Debug, ClapArgs)]
pub(crate) struct CaseArgs {
    /// The case file; `-` reads standard input
    #[arg(value_name = "CASE.toml")]
    pub(crate) file: PathBuf,
    /// Another value for a key of the case (repeatable): hold.bare[0].force=500, part.length="1.5 in"; lists are counted from 0
    #[arg(long, value_name = "PATH=VALUE", value_parser = change)]
    pub(crate) set: Vec<Change>,
    /// The hold that every step takes, by its name in the file
    #[arg(long, value_name = "NAME")]
    pub(crate) hold: Option<String>,
}

impl CaseArgs {
    /// A case as its file says.
    pub(crate) fn of(file: PathBuf) -> Self {
        Self {
            file,
            set: Vec::new(),
            hold: None,
        }
    }
}

fn change(text: &str) -> Result<Change, String> {
    Change::parse(text).map_err(|e| e.to_string())
}

#[derive(Debug, ClapArgs)]
#[command(
    before_help = "ringwright run ring.toml\nringwright run ring.toml --set hold.bare[0].force=500 --hold bare --out lighter"
)]
pub(crate) struct RunArgs {
    #[command(flatten)]
    pub(crate) case: CaseArgs,
    /// Folder for the outputs [default: the case file's stem with -out, where the program is called]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Which states get VTK files
    #[arg(long, value_enum, default_value_t = Fields::All)]
    pub(crate) fields: Fields,
    /// Leave out the second mesh that judges a fixed [mesh]; the error estimate is then null
    #[arg(long)]
    pub(crate) no_estimate: bool,
}

#[derive(Debug, ClapArgs)]
#[command(
    before_help = "ringwright compare ring.toml\nringwright compare ring.toml --step 2 --set tolerance.roundness=0.01"
)]
pub(crate) struct CompareArgs {
    #[command(flatten)]
    pub(crate) case: CaseArgs,
    /// The step whose hold is changed; steps after it are left out [default: the last]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    pub(crate) step: Option<u16>,
    /// Folder for compare.json and compare.svg [default: the case file's stem with -out, where the program is called]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
}

#[derive(Debug, ClapArgs)]
#[command(
    before_help = "ringwright size jaws.toml\nringwright size jaws.toml --set tolerance.roundness=0.01 --json"
)]
pub(crate) struct SizeArgs {
    #[command(flatten)]
    pub(crate) case: CaseArgs,
    /// Folder for size.json [default: the case file's stem with -out, where the program is called]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
}

#[derive(Debug, ClapArgs)]
#[command(
    before_help = "ringwright mesh ring.toml --out ring.vtu\nringwright mesh ring.toml --set \"accuracy=0.001\" --out fine.msh"
)]
pub(crate) struct MeshArgs {
    #[command(flatten)]
    pub(crate) case: CaseArgs,
    /// The file to write: VTK, or MSH 2.2 with named boundaries where its name ends with .msh
    #[arg(long, value_name = "FILE.vtu")]
    pub(crate) out: PathBuf,
}

#[derive(Debug, ClapArgs)]
#[command(
    before_help = "ringwright check ring.toml\nringwright check ring.toml --set part.bore_diameter=\"3.6 in\""
)]
pub(crate) struct CheckArgs {
    #[command(flatten)]
    pub(crate) case: CaseArgs,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct MaterialsArgs {
    /// A material by its name, or a word of it: 4140, nylon
    #[arg(value_name = "NAME")]
    pub(crate) name: Vec<String>,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct SchemesArgs {
    /// The scheme to show in full
    #[arg(value_name = "NAME")]
    pub(crate) name: Option<String>,
    /// Check that the scheme (all without NAME) does what a scheme must, its examples solved; exit status 3 if it does not
    #[arg(long, conflicts_with_all = ["schema", "markdown"])]
    pub(crate) conform: bool,
    /// Print the JSON Schema (draft 2020-12) of the case file with every scheme
    #[arg(long, conflicts_with_all = ["markdown", "name"])]
    pub(crate) schema: bool,
    /// Print the reference page of the schemes in Markdown
    #[arg(long, conflicts_with_all = ["name", "json"])]
    pub(crate) markdown: bool,
}

/// Readings and how they were taken.
#[derive(Debug, ClapArgs)]
#[command(
    after_help = "Readings are a file such as\n  angle_deg,radius_mm\n  0,60.012\n  30,60.004\n  ...\nor a list, angle and reading: 0:+0.4 30:-0.1 60:-0.9 ..., or evenly spaced readings alone. Columns may be a radius, deviation, reading or diameter in mm, in, thou or um; # starts a remark. n lobes need at least 2 n + 1 readings.\n\nExamples:\n  ringwright gauge ring.csv --vee 60 --vee 90\n  ringwright gauge dial.txt --unit thou --radius \"2.36 in\" --from vee --from-angle 90\n  ringwright gauge ring.csv --zone 0.02 --strict"
)]
pub(crate) struct GaugeArgs {
    /// The readings; `-` reads standard input
    #[arg(value_name = "READINGS.csv")]
    pub(crate) readings: PathBuf,
    /// Included angle of a V-block to read the part in, degrees (repeatable) [default: 90]
    #[arg(long, value_name = "DEG", value_parser = included_angle)]
    pub(crate) vee: Vec<f64>,
    /// Mean radius of the part, which deviations lie about: mm, or with its unit ("2.36 in"); beside readings in inches it needs its unit
    #[arg(long, value_name = "R", value_parser = mean_radius, allow_hyphen_values = true)]
    pub(crate) radius: Option<TypedLength>,
    /// The surface that was read; gauges that do not reach it are left out
    #[arg(long, value_enum)]
    pub(crate) surface: Option<ReadSurface>,
    /// Unit of the readings where the header names none [default: mm]
    #[arg(long, value_enum)]
    pub(crate) unit: Option<ReadUnit>,
    /// What the readings were taken with
    #[arg(long, value_enum, default_value_t = ReadWith::Radius)]
    pub(crate) from: ReadWith,
    /// Included angle of the V-block that the readings were taken in, degrees
    #[arg(long, value_name = "DEG", default_value = "90", value_parser = included_angle)]
    pub(crate) from_angle: f64,
    /// Where the indicator stood at that V-block, degrees counter-clockwise from opposite the V; 180 is between the flanks
    #[arg(long, value_name = "DEG", default_value = "0", value_parser = indicator_angle, allow_hyphen_values = true)]
    pub(crate) from_indicator: f64,
    /// Where the zero of the readings lies on the part, degrees counter-clockwise from its zero mark
    #[arg(long, value_name = "DEG", default_value = "0", value_parser = part_angle, allow_hyphen_values = true)]
    pub(crate) zero_at: f64,
    /// The angles of the readings run clockwise, seen from the tailstock
    #[arg(long)]
    pub(crate) clockwise: bool,
    /// Highest lobe count to look at, up to 500; refused if the readings cannot show it
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(2..=MOST_LOBES_ASKED))]
    pub(crate) lobes: Option<u32>,
    /// Cut-off of a Gaussian filter, undulations per revolution [default: unfiltered]
    #[arg(long, value_name = "UPR", value_parser = cut_off)]
    pub(crate) filter: Option<f64>,
    /// Take outliers, far from all other readings, as they are: a nick or a keyway, not a typing error
    #[arg(long)]
    pub(crate) keep_jumps: bool,
    /// Radial zone that the roundness (minimum zone; behind --filter if one is given) is judged against: mm, or with its unit ("0.8 thou"); beside readings in inches it needs its unit. With --strict a zone that is missed, or not shown to be met, is exit 1
    #[arg(long, value_name = "MM", value_parser = zone, allow_hyphen_values = true)]
    pub(crate) zone: Option<TypedLength>,
    /// Write what each gauge shows over the turn, at every tenth of a degree: a column of mm a gauge
    #[arg(long, value_name = "FILE.csv")]
    pub(crate) traces: Option<PathBuf>,
    /// The case that the part was made by: says which of its holds left which lobe
    #[arg(long, value_name = "CASE.toml", requires = "surface")]
    pub(crate) made_by: Option<PathBuf>,
    /// Nothing on the part shows where the jaws were: only amplitudes are compared with the case
    #[arg(long, requires = "made_by")]
    pub(crate) no_jaw_mark: bool,
}

/// All lobes are fitted together: so many take two seconds at the most readings, ten times as many would take an hour.
const MOST_LOBES_ASKED: i64 = 500;

fn number_within(text: &str, ok: impl Fn(f64) -> bool, expected: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if ok(value) => Ok(value),
        _ => Err(format!("expected {expected}")),
    }
}

fn included_angle(text: &str) -> Result<f64, String> {
    let within = |a: f64| a > 0.0 && a < 180.0;
    number_within(text, within, "an angle above 0 and below 180 degrees")
}

fn indicator_angle(text: &str) -> Result<f64, String> {
    let within = |a: f64| (-180.0..=180.0).contains(&a);
    number_within(text, within, "an angle from -180 to 180 degrees")
}

fn part_angle(text: &str) -> Result<f64, String> {
    let within = |a: f64| (-360.0..=360.0).contains(&a);
    number_within(text, within, "an angle from -360 to 360 degrees")
}

fn cut_off(text: &str) -> Result<f64, String> {
    let within = |c: f64| (1.0..=1e5).contains(&c);
    number_within(text, within, "a number of undulations from 1 to 100000")
}

/// A length as it was typed.
#[derive(Clone, Debug)]
pub(crate) struct TypedLength {
    /// mm; of a plain number, what it is if it is meant in mm.
    pub(crate) mm: f64,
    /// The number alone, where no unit was typed beside it.
    plain: Option<String>,
    /// Whether its unit is the inch or a part or multiple of it.
    inch: bool,
}

impl TypedLength {
    /// Refuses a plain number beside readings in inches or thou: it is mm by rule, but is easily meant in the unit of the readings.
    fn beside(&self, unit: LengthUnit, option: &str) -> Result<(), String> {
        match &self.plain {
            Some(number) if unit.is_inch() => Err(format!(
                "{option} {number}: the readings are in {}, so say which unit this is: write \"{number} in\", \"{number} thou\" or \"{number} mm\"",
                unit.name()
            )),
            _ => Ok(()),
        }
    }
}

/// A length above zero of no more than `most` (mm, and in words).
fn length(text: &str, what: &str, most: (f64, &str)) -> Result<TypedLength, String> {
    let typed = text.trim();
    let plain = typed.parse::<f64>().is_ok().then(|| typed.to_owned());
    match quantity::parse(text, Dimension::Length, UnitSystem::Millimetre) {
        Ok(mm) if mm > 0.0 && mm <= most.0 => Ok(TypedLength {
            mm,
            plain,
            inch: in_inches(typed),
        }),
        Ok(_) => Err(format!("expected a {what} above zero, up to {}", most.1)),
        Err(e) => Err(e.to_string()),
    }
}

/// Whether a length that reads well is typed in a unit of inches; no other unit of length is spelt with these.
fn in_inches(text: &str) -> bool {
    let lower = text.to_lowercase();
    ["in", "thou", "ft", "\"", "\u{201d}", "\u{2033}", "''"]
        .iter()
        .any(|spelt| lower.contains(spelt))
}

/// Beyond this the squares of lengths that circles are found from keep no micrometre.
const LARGEST_MM: (f64, &str) = (1e6, "1000 m");

fn mean_radius(text: &str) -> Result<TypedLength, String> {
    length(text, "radius", LARGEST_MM)
}

fn zone(text: &str) -> Result<TypedLength, String> {
    length(text, "zone", LARGEST_MM)
}

/// The two surfaces of a ring.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum ReadSurface {
    /// The outside
    Outer,
    /// The bore
    Bore,
}

impl From<ReadSurface> for Surface {
    fn from(surface: ReadSurface) -> Self {
        match surface {
            ReadSurface::Outer => Surface::Outer,
            ReadSurface::Bore => Surface::Bore,
        }
    }
}

/// Units of readings.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum ReadUnit {
    /// Millimetres
    Mm,
    /// Inches
    #[value(alias = "inch")]
    In,
    /// Thousandths of an inch
    Thou,
    /// Micrometres
    #[value(alias = "micron")]
    Um,
}

impl From<ReadUnit> for LengthUnit {
    fn from(unit: ReadUnit) -> Self {
        match unit {
            ReadUnit::Mm => LengthUnit::Millimetre,
            ReadUnit::In => LengthUnit::Inch,
            ReadUnit::Thou => LengthUnit::Thou,
            ReadUnit::Um => LengthUnit::Micrometre,
        }
    }
}

/// What readings are taken with.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum ReadWith {
    /// An indicator, the part turning about its axis: rotary table, spindle, centres, mandrel
    Radius,
    /// Micrometer or two-point gauge
    TwoPoint,
    /// An indicator over a V-block
    Vee,
    /// Three-point bore gauge
    ThreePoint,
    /// Rolled on a surface plate under an indicator
    Plate,
}

impl GaugeArgs {
    /// The gauge that the readings were taken with.
    pub(crate) fn gauge(&self) -> Gauge {
        match self.from {
            ReadWith::Radius => Gauge::Radius,
            ReadWith::TwoPoint => Gauge::TwoPoint,
            ReadWith::Vee => Gauge::Vee(Vee {
                included_angle_deg: self.from_angle,
                indicator_deg: self.from_indicator,
            }),
            ReadWith::ThreePoint => Gauge::ThreePoint,
            ReadWith::Plate => Gauge::Plate,
        }
    }

    /// The mean radius, mm.
    pub(crate) fn radius_mm(&self) -> Option<f64> {
        self.radius.as_ref().map(|r| r.mm)
    }

    /// The radial zone, mm.
    pub(crate) fn zone_mm(&self) -> Option<f64> {
        self.zone.as_ref().map(|z| z.mm)
    }

    /// Refuses lengths whose unit is in doubt beside readings in this unit, and says what to write.
    pub(crate) fn units_are_clear(&self, unit: LengthUnit) -> Result<(), String> {
        for (length, option) in [(&self.radius, "--radius"), (&self.zone, "--zone")] {
            if let Some(length) = length {
                length.beside(unit, option)?;
            }
        }
        Ok(())
    }
}

/// Which states get VTK files.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Fields {
    /// Every state of every step
    All,
    /// The last step alone
    Last,
    /// None
    None,
}

impl From<Fields> for KeepFields {
    fn from(fields: Fields) -> Self {
        match fields {
            Fields::All => KeepFields::All,
            Fields::Last => KeepFields::Last,
            Fields::None => KeepFields::None,
        }
    }
}
