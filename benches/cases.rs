//! The named cases of the benches: rings of round numbers, each for one code path, as case files.

use std::fmt::{self, Write};

/// A section mesh of equal elements: how many round, how many through the wall.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Size {
    /// Elements round the ring.
    pub around: usize,
    /// Elements through the wall.
    pub through: usize,
}

impl Size {
    /// Elements of the mesh.
    pub fn elements(self) -> usize {
        self.around * self.through
    }
}

impl fmt::Display for Size {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}x{}", self.around, self.through)
    }
}

/// Small, middle and large: each sixteen times the elements of the one before, or eight.
pub const SIZES: [Size; 3] = [
    Size {
        around: 360,
        through: 4,
    },
    Size {
        around: 1440,
        through: 8,
    },
    Size {
        around: 5760,
        through: 16,
    },
];

/// A named case. All share an aluminium ring of 120 mm outside and 20 mm length in three jaws bored to 121.2 mm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Job {
    /// A thin round ring, held: pads touch at their edges, few rounds of contact.
    J1,
    /// A stouter round ring, held: pads touch over part of their arc, several rounds of contact.
    J1b,
    /// J1b with a two-lobed blank: no column of the mesh equals another, so the mean ring's factor is corrected.
    J1c,
    /// J1 held lightly, its gripped outside turned, released: the accelerated cut.
    J3,
}

/// Every case, in the order of the tables.
pub const JOBS: [Job; 4] = [Job::J1, Job::J1b, Job::J1c, Job::J3];

impl Job {
    /// Name in the tables.
    pub fn name(self) -> &'static str {
        match self {
            Self::J1 => "J1",
            Self::J1b => "J1b",
            Self::J1c => "J1c",
            Self::J3 => "J3",
        }
    }

    /// The case file; without a size the mesh is graded and refined by the program.
    pub fn case(self, size: Option<Size>) -> String {
        let bore = if matches!(self, Self::J1b | Self::J1c) {
            100
        } else {
            114
        };
        let force = if self == Self::J3 { 200 } else { 2000 };
        let mut text = format!(
            r#"title = "{name}"
accuracy = 0.01
[part]
outer_diameter = 120
bore_diameter = {bore}
length = 20
material = {{ young_modulus = 70e3, poisson_ratio = 0.33 }}
"#,
            name = self.name()
        );
        if self == Self::J1c {
            text += "[[part.lobes]]\nsurface = \"both\"\ncount = 2\namplitude = 0.05\n";
        }
        let _ = write!(
            text,
            r#"[[hold.bare]]
scheme = "jaws"
count = 3
force = {force}
bored_diameter = 121.2
width = 20
[[step]]
hold = "bare"
"#
        );
        if self == Self::J3 {
            text += "[[step.cut]]\nsurface = \"outer\"\ndiameter = 119.4\n";
        }
        if let Some(Size { around, through }) = size {
            let _ = write!(text, "[mesh]\naround = {around}\nthrough = {through}\n");
        }
        text
    }

    /// Out-of-roundness about the least-squares circle that an independent program finds, mm: of the held outside, of
    /// the released outside for J3. Equal meshes of J1 stay at 3.3840 beside the loaded pad edges, resolved it is 3.3845.
    /// J1c has none.
    pub fn known(self) -> Option<[f64; 2]> {
        match self {
            Self::J1 => Some([3.3840, 3.3845]),
            Self::J1b => Some([0.09045; 2]),
            Self::J1c => None,
            Self::J3 => Some([0.44819; 2]),
        }
    }

    /// Seconds of a well-built general-purpose finite element library for the same answer: quiet machine, whole process,
    /// one thread. Fixed numbers, measured once. J1c is set against J1, which costs that library the same.
    pub fn library_seconds(self, size: Size) -> Option<f64> {
        let at = SIZES.iter().position(|s| *s == size)?;
        match self {
            Self::J1 => Some([0.70, 1.90, 14.0][at]),
            Self::J1b => [None, Some(4.67), None][at],
            Self::J1c => [None, None, Some(14.0)][at],
            Self::J3 => [Some(1.18), Some(6.5), None][at],
        }
    }

    /// How many times faster than that library we want to be.
    pub fn wanted_ratio(self, size: Size) -> Option<f64> {
        let at = SIZES.iter().position(|s| *s == size)?;
        match self {
            Self::J1 => Some([35.0, 15.0, 10.0][at]),
            Self::J1b => [None, Some(20.0), None][at],
            Self::J1c => [None, None, Some(25.0)][at],
            Self::J3 => [Some(18.0), Some(40.0), None][at],
        }
    }
}

/// Everyday jobs, each a name and a case file: walls of 3 to 25 percent of the radius in one hold or another, cut and released at
/// default accuracy. What a user waits for.
pub const EVERYDAY: [(&str, &str); 12] = [
    ("bored-to-size", include_str!("everyday/bored-to-size.toml")),
    ("bored-over", include_str!("everyday/bored-over.toml")),
    ("pie-jaws", include_str!("everyday/pie-jaws.toml")),
    ("six-jaws", include_str!("everyday/six-jaws.toml")),
    ("flat-jaws", include_str!("everyday/flat-jaws.toml")),
    ("crowned", include_str!("everyday/crowned.toml")),
    ("inside-jaws", include_str!("everyday/inside-jaws.toml")),
    ("mandrel", include_str!("everyday/mandrel.toml")),
    ("lined", include_str!("everyday/lined.toml")),
    ("screws", include_str!("everyday/screws.toml")),
    (
        "lobed-two-steps",
        include_str!("everyday/lobed-two-steps.toml"),
    ),
    ("thin", include_str!("everyday/thin.toml")),
];

/// Seconds of that library for J1 without its start: assembly and solution alone, at each of [`SIZES`].
pub const LIBRARY_WORK_SECONDS: [f64; 3] = [0.07, 0.85, 12.4];

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn cases_are_valid() {
        let registry = ringwright_plugins::registry();
        for job in JOBS {
            for size in SIZES.map(Some).into_iter().chain([None]) {
                let case = ringwright_solver::case::read(&job.case(size), &registry).unwrap();
                assert_eq!(
                    case.mesh.map(|m| (m.around, m.through)),
                    size.map(|s| (s.around, s.through))
                );
            }
        }
        for (name, text) in EVERYDAY {
            assert!(
                ringwright_solver::case::read(text, &registry).is_ok(),
                "{name}"
            );
        }
    }
}
