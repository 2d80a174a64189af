//! Parameters of a scheme and the values a case gives them.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::Arc;

use crate::grip::Band;

/// Text of a description: a constant of a scheme in code, or what an outside program said.
pub type Text = Cow<'static, str>;

/// The words of a choice.
#[derive(Clone, Debug)]
pub enum Words {
    /// Constants of a scheme in code.
    Fixed(&'static [&'static str]),
    /// What an outside program said.
    Told(Arc<[String]>),
}

impl Words {
    /// The words in the order they are shown.
    pub fn iter(&self) -> impl Iterator<Item = &str> + Clone {
        let (fixed, told): (&[&str], &[String]) = match self {
            Words::Fixed(words) => (words, &[]),
            Words::Told(words) => (&[], words),
        };
        fixed.iter().copied().chain(told.iter().map(String::as_str))
    }

    /// Whether this is one of them.
    pub fn has(&self, word: &str) -> bool {
        self.iter().any(|w| w == word)
    }

    /// All of them.
    pub fn list(&self) -> Vec<&str> {
        self.iter().collect()
    }
}

impl PartialEq for Words {
    fn eq(&self, other: &Self) -> bool {
        self.iter().eq(other.iter())
    }
}

/// Classes of gripping faces that a coefficient of friction may be given by.
pub const FRICTION_WORDS: &[&str] = &["smooth", "serrated"];

/// The word that a case gives for a force which nobody knows.
pub const UNKNOWN: &str = "unknown";

/// What is reckoned with where a force is not known, N.
pub const UNIT_FORCE: f64 = 100.0;

/// Keys of forces that drive a hold and may be unknown.
const DRIVING: [&str; 2] = ["force", "axial_force"];

/// What a parameter holds, and the range it may have.
#[derive(Clone, Debug, PartialEq)]
pub enum ParameterKind {
    /// A length, mm, above zero.
    Length,
    /// A length, mm, of either sign.
    Offset,
    /// Lengths, mm, of either sign: one for all or a list, one for each body.
    Offsets,
    /// A force, N, zero or more.
    Force,
    /// Forces, N, zero or more: one for all or a list, one for each body.
    Forces,
    /// An angle, degrees.
    Angle,
    /// A list of angles, degrees.
    Angles,
    /// An arc, degrees, above zero and no more than `most`.
    Arc {
        /// The most it may be.
        most: f64,
    },
    /// A stress or modulus, MPa, above zero.
    Modulus,
    /// A pressure of air or oil, MPa, zero or more.
    Pressure,
    /// Force a length, N/mm, above zero.
    Stiffness,
    /// A bare number, zero or more.
    Ratio,
    /// A coefficient of friction, or one of the words of [`FRICTION_WORDS`] for a class of faces.
    Friction,
    /// A torque, N mm, zero or more.
    Torque,
    /// A mass, kg, above zero.
    Mass,
    /// True or false.
    Flag,
    /// A bare number.
    Number,
    /// A whole number, one or more.
    Count,
    /// One of these words.
    Choice(Words),
}

impl ParameterKind {
    /// One of these words.
    pub const fn choice(words: &'static [&'static str]) -> Self {
        ParameterKind::Choice(Words::Fixed(words))
    }

    /// Unit of a plain number in results and help; empty for counts and words.
    pub const fn unit(&self) -> &'static str {
        match self {
            ParameterKind::Length | ParameterKind::Offset | ParameterKind::Offsets => "mm",
            ParameterKind::Force | ParameterKind::Forces => "N",
            ParameterKind::Angle | ParameterKind::Angles | ParameterKind::Arc { .. } => "deg",
            ParameterKind::Modulus | ParameterKind::Pressure => "MPa",
            ParameterKind::Stiffness => "N/mm",
            ParameterKind::Torque => "N mm",
            ParameterKind::Mass => "kg",
            ParameterKind::Ratio
            | ParameterKind::Friction
            | ParameterKind::Flag
            | ParameterKind::Number
            | ParameterKind::Count
            | ParameterKind::Choice(_) => "",
        }
    }

    /// Whether a list of numbers is taken, one for each body.
    pub const fn takes_list(&self) -> bool {
        matches!(
            self,
            ParameterKind::Offsets | ParameterKind::Forces | ParameterKind::Angles
        )
    }
}

/// One parameter of a scheme: the single description from which help, checks and messages are made.
#[derive(Clone, Debug, PartialEq)]
pub struct Parameter {
    /// Key in the case file.
    pub key: Text,
    /// Kind and range.
    pub kind: ParameterKind,
    /// Default, as it would be typed in a case file (strings with quotes); `None` if it may be left out
    /// without a default or must be given, see `required`.
    pub default: Option<Text>,
    /// Whether a case must give it.
    pub required: bool,
    /// Meaning, one line.
    pub about: Text,
    /// Narrower than its kind, if it is.
    pub limits: Limits,
    /// Whether a band is taken for a number: `{ low = 100, high = 200 }`.
    pub band: bool,
}

impl Parameter {
    /// One that may be left out and then has no value.
    pub const fn optional(key: &'static str, kind: ParameterKind, about: &'static str) -> Self {
        Self::new(key, kind, about, None, false)
    }

    /// One that may be left out and then has no value, or a band of them.
    pub const fn uncertain(key: &'static str, kind: ParameterKind, about: &'static str) -> Self {
        let mut parameter = Self::new(key, kind, about, None, false);
        parameter.band = true;
        parameter
    }

    /// The same, of which no more than this is taken.
    #[must_use]
    pub const fn at_most(mut self, most: f64) -> Self {
        self.limits.most = Some(most);
        self
    }

    /// Whether the word [`UNKNOWN`] is taken for it: a force that drives the hold.
    pub fn may_be_unknown(&self) -> bool {
        matches!(self.kind, ParameterKind::Force | ParameterKind::Forces)
            && DRIVING.contains(&&*self.key)
    }

    /// One that a case must give, or a band of them.
    pub const fn required_uncertain(
        key: &'static str,
        kind: ParameterKind,
        about: &'static str,
    ) -> Self {
        let mut parameter = Self::new(key, kind, about, None, true);
        parameter.band = true;
        parameter
    }

    /// One that a case must give.
    pub const fn required(key: &'static str, kind: ParameterKind, about: &'static str) -> Self {
        Self::new(key, kind, about, None, true)
    }

    /// One that may be left out and then has this value, as it would be typed in a case file: words with their quotes.
    pub const fn defaulting(
        key: &'static str,
        kind: ParameterKind,
        default: &'static str,
        about: &'static str,
    ) -> Self {
        Self::new(key, kind, about, Some(Cow::Borrowed(default)), false)
    }

    const fn new(
        key: &'static str,
        kind: ParameterKind,
        about: &'static str,
        default: Option<Text>,
        required: bool,
    ) -> Self {
        Self {
            key: Cow::Borrowed(key),
            kind,
            default,
            required,
            about: Cow::Borrowed(about),
            limits: Limits::NONE,
            band: false,
        }
    }
}

/// How much narrower than its kind a parameter of numbers is. In the kind's unit.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Limits {
    /// Whole numbers alone.
    pub whole: bool,
    /// The least it may be, itself allowed.
    pub least: Option<f64>,
    /// The most it may be, itself allowed.
    pub most: Option<f64>,
}

impl Limits {
    /// As wide as the kind.
    pub const NONE: Self = Self {
        whole: false,
        least: None,
        most: None,
    };
}

/// Keys of which a case must give one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Need {
    /// What they say, for messages: "the size of a pad".
    pub what: &'static str,
    /// The keys, the usual one first.
    pub keys: &'static [&'static str],
}

impl Need {
    /// What to say where none of them is given.
    pub fn missing(&self) -> String {
        let keys = match self.keys {
            [others @ .., last] if !others.is_empty() => {
                format!("{} or {last}", others.join(", "))
            }
            keys => keys.concat(),
        };
        format!("missing; give {}: {keys}", self.what)
    }
}

/// A checked value: lengths mm, forces N, moduli MPa, stiffnesses N/mm, angles degrees.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A number.
    Number(f64),
    /// A list of numbers.
    Numbers(Vec<f64>),
    /// A number within a band.
    Band(Band),
    /// A word.
    Text(String),
    /// True or false.
    Flag(bool),
}

impl From<Band> for Value {
    fn from(band: Band) -> Self {
        Value::Band(band)
    }
}

impl From<bool> for Value {
    fn from(flag: bool) -> Self {
        Value::Flag(flag)
    }
}

impl From<f64> for Value {
    fn from(x: f64) -> Self {
        Value::Number(x)
    }
}

impl From<i32> for Value {
    fn from(n: i32) -> Self {
        Value::Number(f64::from(n))
    }
}

impl From<Vec<f64>> for Value {
    fn from(list: Vec<f64>) -> Self {
        Value::Numbers(list)
    }
}

impl<const N: usize> From<[f64; N]> for Value {
    fn from(list: [f64; N]) -> Self {
        Value::Numbers(list.to_vec())
    }
}

impl From<&str> for Value {
    fn from(text: &str) -> Self {
        Value::Text(text.to_owned())
    }
}

/// The values that a case gives to a scheme, defaults filled in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Values(BTreeMap<String, Value>);

impl Values {
    /// Sets a value.
    pub fn set(&mut self, key: &str, value: Value) {
        self.0.insert(key.to_owned(), value);
    }

    /// A value, if given.
    pub fn get(&self, key: &str) -> Option<&Value> {
        self.0.get(key)
    }

    /// A number, if given; of a band the nominal one.
    pub fn number(&self, key: &str) -> Option<f64> {
        self.band(key).map(|band| band.nominal)
    }

    /// A number with its band, if given.
    pub fn band(&self, key: &str) -> Option<Band> {
        match self.0.get(key) {
            Some(Value::Number(x)) => Some(Band::exact(*x)),
            Some(Value::Band(band)) => Some(*band),
            _ => None,
        }
    }

    /// Puts [`UNIT_FORCE`] in place of forces that are not known; whether there were any.
    pub fn reckon_with_unknown(&mut self) -> bool {
        let mut any = false;
        for value in self.0.values_mut() {
            if matches!(value, Value::Text(word) if word == UNKNOWN) {
                *value = Value::Number(UNIT_FORCE);
                any = true;
            }
        }
        any
    }

    /// A list of numbers, if one was given.
    pub fn numbers(&self, key: &str) -> Option<&[f64]> {
        match self.0.get(key) {
            Some(Value::Numbers(list)) => Some(list),
            _ => None,
        }
    }

    /// All values with their keys, in the order of the keys.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &Value)> {
        self.0.iter().map(|(k, v)| (k.as_str(), v))
    }

    /// Whether a value was given or has a default.
    pub fn has(&self, key: &str) -> bool {
        self.0.contains_key(key)
    }

    /// A word, if given.
    pub fn text(&self, key: &str) -> Option<&str> {
        match self.0.get(key) {
            Some(Value::Text(t)) => Some(t),
            _ => None,
        }
    }
}

/// A value as a case gives it to a scheme that plans more than it has: a key, or one word of a choice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Planned {
    /// The key.
    pub key: &'static str,
    /// The word that is not built yet; `None` if the whole key is not.
    pub word: Option<&'static str>,
    /// What does for it until then, as advice: "give force"; `None` if nothing does.
    pub instead: Option<&'static str>,
}

impl<const N: usize> From<[(&str, Value); N]> for Values {
    fn from(pairs: [(&str, Value); N]) -> Self {
        Self(pairs.into_iter().map(|(k, v)| (k.to_owned(), v)).collect())
    }
}
