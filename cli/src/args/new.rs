//! `new` as typed: a job, and the blank that it is done on.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueEnum};

use super::{LARGEST_MM, TypedLength, length};

#[derive(Debug, ClapArgs)]
#[command(
    before_help = "ringwright new ring.toml\nringwright new wear.toml --job bore --od 4.75in --bore 4.5in --length 0.8in --material 6061 --chuck hand",
    after_help = "Sizes are mm, or with their unit (4.75in, \"3 1/8 in\", 120mm); the file is in inches if they are typed in inches. Without any option a worked example with every kind of entry is written.\n\nForces, pads, friction, jaws and speed in the file are assumptions for you to replace, and no ratings: keep to the chuck maker's ratings and instructions, local codes and competent practice."
)]
pub(crate) struct NewArgs {
    /// The file to write; without it the example goes to standard output
    #[arg(value_name = "FILE")]
    pub(crate) file: Option<PathBuf>,
    /// What is done [default, if another option is given: bore]
    #[arg(long, value_enum)]
    pub(crate) job: Option<Job>,
    /// Outside diameter of the blank as it goes into the chuck [default: 110 mm, or so that the wall is 7.5 percent of it]
    #[arg(long, value_name = "D", value_parser = diameter, allow_hyphen_values = true)]
    pub(crate) od: Option<TypedLength>,
    /// Bore diameter of the blank as it goes into the chuck [default: 85 percent of the outside]
    #[arg(long, value_name = "D", value_parser = diameter, allow_hyphen_values = true)]
    pub(crate) bore: Option<TypedLength>,
    /// Length of the blank along its axis [default: a quarter of the outside, of a tube three fifths]
    #[arg(long, value_name = "L", value_parser = axial, allow_hyphen_values = true)]
    pub(crate) length: Option<TypedLength>,
    /// A material by its name in `ringwright materials`, or by a word that only it has: 4140 annealed, 6061, nylon [default: bronze C93200]
    #[arg(long, value_name = "NAME")]
    pub(crate) material: Option<String>,
    /// What drives the jaws [default: power]
    #[arg(long, value_enum)]
    pub(crate) chuck: Option<ChuckKind>,
}

impl NewArgs {
    /// Whether anything is said of the job, so that the case is to be made for it.
    pub(crate) fn names_a_job(&self) -> bool {
        self.job.is_some()
            || self.material.is_some()
            || self.chuck.is_some()
            || self.sizes().next().is_some()
    }

    /// The sizes typed, each with its option.
    fn sizes(&self) -> impl Iterator<Item = (&'static str, &TypedLength)> {
        let all = [
            ("--od", &self.od),
            ("--bore", &self.bore),
            ("--length", &self.length),
        ];
        all.into_iter()
            .filter_map(|(option, size)| Some((option, size.as_ref()?)))
    }

    /// Whether the sizes are in inches.
    ///
    /// # Errors
    /// If one has no unit beside others in inches: it is mm by rule, but is easily meant in inches.
    pub(crate) fn in_inches(&self) -> Result<bool, String> {
        let inch = self.sizes().any(|(_, size)| size.inch);
        let doubtful = self
            .sizes()
            .find_map(|(option, size)| Some((option, size.plain.as_ref()?)));
        match doubtful {
            Some((option, number)) if inch => Err(format!(
                "{option} {number}: another size is in inches, so say which unit this is: write {number}in or {number}mm"
            )),
            _ => Ok(inch),
        }
    }
}

/// The commonest jobs on a thin ring.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Job {
    /// The outside is turned, the ring gripped in its bore by jaws that open
    Outside,
    /// The ring is gripped on its outside and bored
    Bore,
    /// Bored while gripped outside, then turned round, gripped in the finished bore and turned outside
    SecondSide,
    /// A tube gripped outside at one end and bored, followed along its length
    Tube,
}

/// What drives the jaws.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum ChuckKind {
    /// A scroll tightened with a key
    Hand,
    /// A cylinder that keeps its force
    Power,
}

fn diameter(text: &str) -> Result<TypedLength, String> {
    length(text, "diameter", LARGEST_MM)
}

fn axial(text: &str) -> Result<TypedLength, String> {
    length(text, "length", LARGEST_MM)
}
