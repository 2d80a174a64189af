//! The command line as typed.

use std::ffi::OsString;
use std::path::PathBuf;
use std::time::Duration;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use ringwright_solver::process::KeepFields;

/// How a thin ring comes out of the chuck: hold it, cut it round, let it go, see what is left.
#[derive(Debug, Parser)]
#[command(
    name = "ringwright",
    version,
    arg_required_else_help = true,
    after_help = "First steps:\n  ringwright new ring.toml    write a commented example\n  ringwright run ring.toml    hold, cut, release, inspect it\n\nExit status: 0 done, 1 a limit is not met (--strict), 2 wrong use, 3 wrong input or a scheme that does not conform, 4 no trustworthy answer, 5 reading or writing failed, 6 an outside scheme failed, 130 interrupted.\n\nForces are computed for distortion. They do not say that a grip is safe: keep to the chuck maker's ratings, local codes and competent practice."
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
    /// Exit with 1 when a stated limit (tolerance, yield) is not met
    #[arg(long, global = true)]
    pub(crate) strict: bool,
    /// A program that answers for a holding scheme of its own (repeatable); see README, "Your own scheme"
    #[arg(long, global = true, value_name = "COMMAND")]
    pub(crate) scheme_program: Vec<String>,
    /// Longest wait for one answer of a scheme program
    #[arg(long, global = true, value_name = "SECONDS", default_value = "10", value_parser = seconds)]
    pub(crate) scheme_timeout: Duration,
}

/// A time between a millisecond and a day.
fn seconds(text: &str) -> Result<Duration, String> {
    match text.parse::<f64>() {
        Ok(s) if (1e-3..=86_400.0).contains(&s) => Ok(Duration::from_secs_f64(s)),
        _ => Err("a number of seconds from 0.001 to 86400 is wanted".into()),
    }
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Hold, cut, release and inspect every step of a case
    Run(RunArgs),
    /// Write the mesh alone, with its boundary names, for review
    Mesh(MeshArgs),
    /// Check a case file without solving; every problem at once
    Check(CheckArgs),
    /// Write a commented example case that runs
    New(NewArgs),
    /// List the holding schemes, or show one
    Schemes(SchemesArgs),
    #[command(hide = true)]
    Compare(Rest),
    #[command(hide = true)]
    Size(Rest),
    #[command(hide = true)]
    Study(Rest),
    #[command(hide = true)]
    Gauge(Rest),
}

impl Command {
    /// Whether outside programs are wanted.
    pub(crate) fn uses_schemes(&self) -> bool {
        matches!(
            self,
            Command::Run(_) | Command::Mesh(_) | Command::Check(_) | Command::Schemes(_)
        )
    }
}

#[derive(Debug, ClapArgs)]
pub(crate) struct RunArgs {
    /// The case file; `-` reads standard input
    #[arg(value_name = "CASE.toml")]
    pub(crate) case: PathBuf,
    /// Folder for the outputs [default: the case file's stem with -out]
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
pub(crate) struct MeshArgs {
    /// The case file; `-` reads standard input
    #[arg(value_name = "CASE.toml")]
    pub(crate) case: PathBuf,
    /// The VTK file to write
    #[arg(long, value_name = "FILE.vtu")]
    pub(crate) out: PathBuf,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct CheckArgs {
    /// The case file; `-` reads standard input
    #[arg(value_name = "CASE.toml")]
    pub(crate) case: PathBuf,
}

#[derive(Debug, ClapArgs)]
pub(crate) struct NewArgs {
    /// The file to write; without it the example goes to standard output
    #[arg(value_name = "FILE")]
    pub(crate) file: Option<PathBuf>,
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

/// Whatever follows a command that is not built yet.
#[derive(Debug, ClapArgs)]
pub(crate) struct Rest {
    #[arg(trailing_var_arg = true, allow_hyphen_values = true, hide = true)]
    _rest: Vec<OsString>,
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
