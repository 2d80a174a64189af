//! Values as they are typed in a study file.

use std::fmt;

use serde::Deserialize;

/// A value of a study file: a number, or text (a word, or a number with its unit).
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(untagged)]
pub enum Typed {
    /// A whole number.
    Whole(i64),
    /// A number.
    Number(f64),
    /// True or false.
    Flag(bool),
    /// Text.
    Text(String),
}

impl Typed {
    /// The number and the unit behind it, which is empty for a plain number; `None` of what is no number.
    pub fn quantity(&self) -> Option<(f64, &str)> {
        match self {
            Typed::Whole(n) => Some((*n as f64, "")),
            Typed::Number(x) => Some((*x, "")),
            Typed::Flag(_) => None,
            Typed::Text(text) => {
                let text = text.trim();
                let end = text
                    .char_indices()
                    .find(|(k, c)| {
                        !(c.is_ascii_digit() || "+-.".contains(*c) || is_power(text, *k))
                    })
                    .map_or(text.len(), |(k, _)| k);
                let (number, unit) = text.split_at(end);
                Some((number.parse().ok()?, unit.trim()))
            }
        }
    }

    /// From what is typed in a case file; `None` if that is no number, text or flag.
    pub fn read(text: &str) -> Option<Self> {
        #[derive(Deserialize)]
        struct Document {
            value: Typed,
        }
        let document = toml::from_str::<Document>(&format!("value = {text}"));
        Some(document.ok()?.value)
    }

    /// Ends of a band that is typed in a case file as `{ low, high }` or `{ nominal, plus_minus }`; `None` of what is none, and of one in two units.
    pub fn band(text: &str) -> Option<[Self; 2]> {
        #[derive(Deserialize)]
        #[serde(untagged)]
        enum Band {
            Between { low: Typed, high: Typed },
            About { nominal: Typed, plus_minus: Typed },
        }
        #[derive(Deserialize)]
        struct Document {
            value: Band,
        }
        let document: Document = toml::from_str(&format!("value = {text}")).ok()?;
        match document.value {
            Band::Between { low, high } => Some([low, high]),
            Band::About {
                nominal,
                plus_minus,
            } => {
                let ((x, unit), (by, other)) = (nominal.quantity()?, plus_minus.quantity()?);
                (unit == other).then(|| [x - by, x + by].map(|end| Self::of(end, unit)))
            }
        }
    }

    /// A number with a unit; plain where that is empty.
    pub fn of(number: f64, unit: &str) -> Self {
        match unit {
            "" => Typed::Number(number),
            unit => Typed::Text(format!("{number} {unit}")),
        }
    }

    /// As it would be typed in a case file.
    pub fn in_toml(&self) -> String {
        match self {
            Typed::Text(text) => format!("{text:?}"),
            Typed::Number(x) if x.fract() == 0.0 && x.abs() < 1e15 => format!("{x:.1}"),
            other => other.to_string(),
        }
    }
}

/// Whether the character at a place of a number is the `e` of its power of ten.
fn is_power(text: &str, at: usize) -> bool {
    let rest = &text[at..];
    let power = rest.strip_prefix(['e', 'E']);
    at > 0
        && power.is_some_and(|p| {
            p.trim_start_matches(['+', '-'])
                .starts_with(|c: char| c.is_ascii_digit())
        })
}

impl fmt::Display for Typed {
    /// As it stands in a table: the shortest digits that are the number.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Typed::Whole(n) => write!(f, "{n}"),
            Typed::Number(x) => write!(f, "{x}"),
            Typed::Flag(flag) => write!(f, "{flag}"),
            Typed::Text(text) => f.write_str(text),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_their_units() {
        let text = |t: &str| Typed::Text(t.to_owned());
        for (typed, expected) in [
            (Typed::Whole(3), Some((3.0, ""))),
            (Typed::Number(2.5), Some((2.5, ""))),
            (text("2.5 kN"), Some((2.5, "kN"))),
            (text("5e2 N"), Some((500.0, "N"))),
            (text("-1.5in"), Some((-1.5, "in"))),
            (text("bare"), None),
            (text("3 eggs"), Some((3.0, "eggs"))),
            (Typed::Flag(true), None),
        ] {
            assert_eq!(typed.quantity(), expected, "{typed:?}");
        }
        let ends = |a, b, unit| Some([Typed::of(a, unit), Typed::of(b, unit)]);
        for (typed, expected) in [
            ("{ low = 100.0, high = 200.0 }", ends(100.0, 200.0, "")),
            (
                "{ nominal = \"1.5 kN\", plus_minus = \"0.25 kN\" }",
                ends(1.25, 1.75, "kN"),
            ),
            ("{ nominal = \"1.5 kN\", plus_minus = \"250 N\" }", None),
            ("{ low = 1.0 }", None),
            ("150.0", None),
        ] {
            assert_eq!(Typed::band(typed), expected, "{typed}");
        }
        assert_eq!(Typed::of(120.0, "").in_toml(), "120.0");
        assert_eq!(Typed::of(0.1, "kN").in_toml(), "\"0.1 kN\"");
        assert_eq!(Typed::of(120.0, "").to_string(), "120");
    }
}
