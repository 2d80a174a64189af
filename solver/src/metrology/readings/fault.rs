//! What can be wrong with readings, and what would be right.

use std::fmt;

use super::unit::{Amount, LengthUnit};

/// What is wrong with readings, and where.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadingsError {
    /// Line of the text, from 1; 0 where the whole is at fault.
    pub line: usize,
    /// Column in characters, from 1; 0 where the whole line is at fault.
    pub column: usize,
    /// What is wrong.
    pub fault: Fault,
}

impl ReadingsError {
    pub(super) const fn new(line: usize, column: usize, fault: Fault) -> Self {
        Self {
            line,
            column,
            fault,
        }
    }

    /// Of the text as a whole.
    pub(super) const fn whole(fault: Fault) -> Self {
        Self::new(0, 0, fault)
    }
}

impl std::error::Error for ReadingsError {}

impl fmt::Display for ReadingsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.line, self.column) {
            (0, _) => {}
            (line, 0) => write!(f, "line {line}: ")?,
            (line, column) => write!(f, "line {line}, column {column}: ")?,
        }
        self.fault.fmt(f)
    }
}

/// Where commas may have been meant as decimal commas.
pub(super) const DECIMAL_COMMAS: &str =
    "; if commas stand for decimal points here, separate the columns with semicolons";

/// What is wrong with readings. The words say what would be right.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Fault {
    /// The reader failed.
    #[error("reading failed: {message}")]
    Unreadable {
        /// Words of the system.
        message: String,
    },
    /// Bytes that are no text.
    #[error("not UTF-8 text ({why}); save the readings as plain text, UTF-8")]
    NotText {
        /// What was met.
        why: &'static str,
    },
    /// A line without end.
    #[error("this line is longer than {limit} bytes; put the readings on lines of their own")]
    LongLine {
        /// Longest that is read.
        limit: usize,
    },
    /// A text without end.
    #[error("more than {} MB of text; leave out what is no reading", limit / 1_000_000)]
    TooLong {
        /// Most bytes that are read.
        limit: usize,
    },
    /// Nothing but blanks and comments.
    #[error(
        "there are no readings; wanted: a row `angle_deg,radius_mm` and one row a reading, or a list such as `0:+0.4 30:-0.1`"
    )]
    Empty,
    /// More readings than are taken.
    #[error("more than {limit} readings; thin them out: ten a degree show every lobe that matters")]
    TooMany {
        /// Most that are taken.
        limit: usize,
    },
    /// Too few readings.
    #[error("{found} readings are too few{for_what}: at least {wanted} are needed")]
    TooFew {
        /// Readings given.
        found: usize,
        /// Readings needed.
        wanted: usize,
        /// " for 6 lobes", or nothing.
        for_what: String,
    },
    /// A column name that is not known.
    #[error(
        "\"{name}\" is no column of readings; a header is `angle_deg` and one of radius, deviation, reading or diameter with a unit, as in `angle_deg,radius_mm`; a remark starts with #"
    )]
    UnknownColumn {
        /// As typed.
        name: String,
    },
    /// A header without readings.
    #[error(
        "the header names no column of readings; add `radius_mm` or `deviation_mm` (or another unit: in, thou, um)"
    )]
    NoColumn,
    /// A header that names a thing twice.
    #[error("the header names two columns of {what}; keep one")]
    TwoColumns {
        /// Angles or readings.
        what: &'static str,
    },
    /// A unit that is not known.
    #[error("unknown unit \"{unit}\"; units of readings are mm, in, thou and um")]
    UnknownUnit {
        /// As typed.
        unit: String,
    },
    /// A unit that shops read in two ways.
    #[error(
        "\"{unit}\" means two things (of an inch to some, of a millimetre to others); use mm, in, thou or um"
    )]
    AmbiguousUnit {
        /// As typed.
        unit: String,
    },
    /// Header and caller differ.
    #[error("the header says {header}, but {asked} was asked for; leave one of them out")]
    UnitsDiffer {
        /// Unit of the header.
        header: &'static str,
        /// Unit asked for.
        asked: &'static str,
    },
    /// A word where a number belongs.
    #[error("\"{text}\" is not a number{hint}")]
    NotANumber {
        /// As typed.
        text: String,
        /// What may be meant.
        hint: &'static str,
    },
    /// NaN or infinite.
    #[error("\"{text}\" is not a finite number; leave the row out if there is no reading")]
    NotFinite {
        /// As typed.
        text: String,
    },
    /// A unit beside one value.
    #[error(
        "\"{text}\" carries a unit of its own; one unit holds for all readings: name it in the header (`radius_{unit}`) or beside the list, and write numbers alone"
    )]
    UnitOnValue {
        /// As typed.
        text: String,
        /// Its unit.
        unit: &'static str,
    },
    /// A number that no part has.
    #[error("a reading of {value} is beyond a kilometre")]
    TooLarge {
        /// The reading.
        value: Amount,
    },
    /// Row and header differ in length.
    #[error("{found} values in this row, {wanted} expected{hint}")]
    FieldCount {
        /// Values of this row.
        found: usize,
        /// Values of the header or the first row.
        wanted: usize,
        /// What may be meant.
        hint: &'static str,
    },
    /// Blanks and commas both between numbers.
    #[error(
        "blanks and commas both stand between these numbers, so a comma may be a decimal comma; write decimal points, or separate with semicolons"
    )]
    DoubtfulComma,
    /// A word without its colon in a list of pairs.
    #[error(
        "\"{text}\" is no pair of angle and reading; write `30:-0.1`, with decimal points (or decimal commas and semicolons between the pairs)"
    )]
    NotAPair {
        /// As typed.
        text: String,
    },
    /// An angle out of range.
    #[error("an angle of {degrees} deg is out of range; angles are degrees from -360 to 720")]
    Angle {
        /// As typed, in degrees.
        degrees: f64,
    },
    /// A radius or diameter that is not above zero.
    #[error("a {kind} of {value} is not above zero{hint}; signed readings are deviations: name the column `deviation_{}` and give the mean radius", value.unit.name())]
    NotPositive {
        /// "radius" or "diameter".
        kind: &'static str,
        /// The reading.
        value: Amount,
        /// What may be meant.
        hint: &'static str,
    },
    /// Two readings at one angle.
    #[error("{angle} deg was read before, in line {other}; keep one reading an angle{hint}")]
    RepeatedAngle {
        /// As the readings count it, degrees.
        angle: f64,
        /// Line of the other.
        other: usize,
        /// What may be meant.
        hint: &'static str,
    },
    /// The turn does not close.
    #[error(
        "the turn does not close: {angle} deg reads {last} here and {first} in line {other}; something moved during the turn: read it again, or leave the closing reading out"
    )]
    NotClosed {
        /// As the readings count it, degrees.
        angle: f64,
        /// Closing reading.
        last: Amount,
        /// Opening reading.
        first: Amount,
        /// Line of the opening reading.
        other: usize,
    },
    /// Much of the turn was not read.
    #[error(
        "nothing was read from {from} to {to} deg; a closed profile needs readings all round, at most {limit} deg apart"
    )]
    Gap {
        /// Angle before the gap, degrees.
        from: f64,
        /// Angle after it, degrees.
        to: f64,
        /// Widest gap taken, degrees.
        limit: f64,
    },
    /// One reading unlike all others.
    #[error(
        "{value} at {angle} deg is an outlier: {height} from the readings beside it, and all others lie within {range}. A typing error? correct it, or keep it if it is real (a nick, a keyway)"
    )]
    Jump {
        /// The reading.
        value: Amount,
        /// Part angle, degrees.
        angle: f64,
        /// How far it stands out.
        height: Amount,
        /// Largest minus smallest of the others.
        range: Amount,
    },
    /// Readings in two sizes.
    #[error("{value} here and {usual} elsewhere in one column, {ratio:.3} times as much: {guess}")]
    MixedUnits {
        /// The reading.
        value: Amount,
        /// The middle one of the others.
        usual: Amount,
        /// The larger by the smaller.
        ratio: f64,
        /// What may have happened.
        guess: &'static str,
    },
    /// Deviations without a radius.
    #[error("deviations need the mean radius of the part")]
    NoRadius,
    /// A radius beside radii.
    #[error("the readings are radii, so no mean radius is expected; name the column `deviation_{}` if they are deviations", unit.name())]
    RadiusNotWanted {
        /// Unit of the readings.
        unit: LengthUnit,
    },
    /// Diameters taken for a profile.
    #[error(
        "diameters do not make a profile; say that they come from a two-point or three-point gauge"
    )]
    Diameters,
    /// A mean radius that the deviations use up.
    #[error(
        "a mean radius of {radius} mm is not larger than the deviations; it must be above {least} mm"
    )]
    SmallRadius {
        /// As given, mm.
        radius: f64,
        /// What it must exceed, mm.
        least: f64,
    },
}
