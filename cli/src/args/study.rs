//! `study` and its subcommands as typed.

use std::path::PathBuf;

use clap::{Args as ClapArgs, Subcommand, ValueEnum};
use ringwright_solver::case::Change;

use super::change;

#[derive(Debug, ClapArgs)]
#[command(
    before_help = "ringwright study forces.toml\nringwright study forces.toml --shard 2/8 --resume",
    args_conflicts_with_subcommands = true
)]
pub(crate) struct StudyArgs {
    #[command(subcommand)]
    pub(crate) command: Option<StudyCommand>,
    /// The study file
    #[arg(value_name = "STUDY.toml")]
    pub(crate) study: Option<PathBuf>,
    /// Another value for a key of the base case (repeatable)
    #[arg(long, value_name = "PATH=VALUE", value_parser = change)]
    pub(crate) set: Vec<Change>,
    /// The hold that every step of the base case takes
    #[arg(long, value_name = "NAME")]
    pub(crate) hold: Option<String>,
    /// Work out share I of N alone; `study merge` puts the shares together
    #[arg(long, value_name = "I/N", value_parser = shard)]
    pub(crate) shard: Option<Shard>,
    /// Go on after the rows that are there already
    #[arg(long)]
    pub(crate) resume: bool,
    /// What to keep of each row beside its figures: profiles, some 1 MB a row, go to profiles/ROW.csv in the folder
    #[arg(long, value_enum, value_name = "WHAT")]
    pub(crate) keep: Vec<Keeps>,
    /// Folder for the tables [default: the study file's stem with -out, where the program is called]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
}

/// What a study keeps of a row beside its figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Keeps {
    /// Every sampled radius of every state, as profiles.csv of `run` has them
    Profiles,
}

#[derive(Debug, Subcommand)]
pub(crate) enum StudyCommand {
    /// Put the tables of shards together
    Merge(MergeArgs),
    /// Hand out the next points of a study, for an optimiser of yours
    Ask(AskArgs),
    /// Work out points that `ask` handed out or that you chose, and print their rows
    Tell(TellArgs),
}

#[derive(Debug, ClapArgs)]
#[command(
    before_help = "ringwright study ask forces.toml --count 8\nringwright study ask forces.toml --count 8 --to - | ringwright study tell -"
)]
pub(crate) struct AskArgs {
    /// The study file
    #[arg(value_name = "STUDY.toml")]
    pub(crate) study: PathBuf,
    /// How many points; a sampled design goes on beyond its count, another ends with its last row
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=10_000_000))]
    pub(crate) count: u64,
    /// File for the points, `-` for standard output [default: asked-1.csv, asked-2.csv ... in the folder]
    #[arg(long, value_name = "FILE")]
    pub(crate) to: Option<PathBuf>,
    /// Another value for a key of the base case (repeatable); `tell` finds it in the file
    #[arg(long, value_name = "PATH=VALUE", value_parser = change)]
    pub(crate) set: Vec<Change>,
    /// The hold that every step of the base case takes; `tell` finds it in the file
    #[arg(long, value_name = "NAME")]
    pub(crate) hold: Option<String>,
    /// Folder that remembers what was handed out [default: the study file's stem with -out, where the program is called]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
}

#[derive(Debug, ClapArgs)]
#[command(
    before_help = "ringwright study tell forces-out/asked-1.csv\nringwright study tell mine.csv --study forces.toml --json"
)]
pub(crate) struct TellArgs {
    /// The points: a CSV file with the paths that vary as its columns, from `ask` or your own; `-` reads standard input
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// The study file [default: what the file's line "# study: ..." names]
    #[arg(long, value_name = "STUDY.toml")]
    pub(crate) study: Option<PathBuf>,
    /// Another value for a key of the base case (repeatable) [default: as `ask` was given it]
    #[arg(long, value_name = "PATH=VALUE", value_parser = change)]
    pub(crate) set: Vec<Change>,
    /// The hold that every step of the base case takes [default: as `ask` was given it]
    #[arg(long, value_name = "NAME")]
    pub(crate) hold: Option<String>,
    /// Folder whose told.csv the rows are added to [default: that of FILE if it is of this plan, else the study file's stem with -out, where the program is called]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
}

#[derive(Debug, ClapArgs)]
#[command(
    before_help = "ringwright study merge forces-out\nringwright study merge shard-1 shard-2 --out whole"
)]
pub(crate) struct MergeArgs {
    /// Folders with tables of shards
    #[arg(value_name = "DIR", required = true)]
    pub(crate) folders: Vec<PathBuf>,
    /// Folder for the whole table [default: the first of them]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
}

/// A share of the rows of a study.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Shard {
    /// From 1.
    pub(crate) number: u64,
    pub(crate) of: u64,
}

impl Shard {
    /// Its rows, of so many: neighbours, and as many as the next, or one more.
    pub(crate) fn rows(self, rows: u64) -> std::ops::Range<u64> {
        let start = |k: u64| (u128::from(rows) * u128::from(k) / u128::from(self.of)) as u64;
        start(self.number - 1)..start(self.number)
    }
}

fn shard(text: &str) -> Result<Shard, String> {
    let read = || {
        let (number, of) = text.split_once('/')?;
        let (number, of) = (number.parse().ok()?, of.parse().ok()?);
        (1..=of).contains(&number).then_some(Shard { number, of })
    };
    read().ok_or_else(|| "expected I/N with I from 1 to N, such as 2/8".into())
}
