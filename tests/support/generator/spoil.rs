//! Ways to spoil a case file: what a slip of the hand, another editor, a bad copy or an ill will may do to it.

use proptest::prelude::*;

use crate::random::Random;

/// Values that upset readers, and values of the wrong kind.
const VALUES: &[&str] = &[
    "nan",
    "inf",
    "-inf",
    "-1",
    "0",
    "1e308",
    "-1e308",
    "1e-320",
    "1e12",
    "1e-12",
    "1.7976931348623157e308",
    "9223372036854775807",
    "0x7fffffffffffffffff",
    "true",
    "1979-05-27",
    "\"\"",
    "\" \"",
    "\"5 tenths\"",
    "\"1e5 mm\"",
    "\"1/0 in\"",
    "\"1e999 N\"",
    "\"nan N\"",
    "\"7/8\"",
    "\"µ\u{301}\"",
    "\"\\u0000\"",
    "'''\n'''",
    "[]",
    "[[]]",
    "[1, 2]",
    "[1, \"2 mm\", [3]]",
    "{}",
    "{ low = 1, high = 2 }",
    "{ file = \"..\" }",
    "{ readings = \"0:1 1:2\" }",
    "360",
    "180",
    "1000",
    "1001",
    "2.5",
    "\"any\"",
    "\"free\"",
    "\"jaws\"",
    "\"outer\"",
    "\"round\"",
    "\"in\"",
    "5 mm",
];

/// Lines and pieces of lines that stand where nobody expects them.
const PIECES: &[&str] = &[
    "[",
    "]",
    "{",
    "}",
    "=",
    ",",
    ".",
    "\"",
    "'",
    "\n",
    "\r\n",
    "\r",
    "\t",
    "#",
    "\u{0}",
    "\u{feff}",
    "\u{202e}",
    "\u{1b}[31m",
    "'''",
    "\"\"\"",
    "[[hold.first]]\n",
    "\n[[step]]\n",
    "\n[part]\n",
    "\n[[step.cut]]\n",
    "\n[hold]\n",
    "\n[step]\n",
    "\n[[part]]\n",
    "a.b.c = 1\n",
    "part.length = 3\n",
    "hold.first = 3\n",
    "\n[tube]\n",
    "\n[chuck]\n",
    "\nfriction = 0.2\n",
    "count = 1000\n",
    "arc = 1\n",
    "drive = \"equal-force\"\n",
    "drive = \"independent\"\n",
    "drive = \"equalised-pairs\"\n",
    "side = \"inside\"\n",
    "angles = [0, 100, 190]\n",
    "relief_width = 3\n",
    "travel = -1\n",
    "gap = 180\n",
    "accuracy = 1e-12\n",
    "force = 1e-9\n",
    "turned = \"any\"\n",
];

/// One way to spoil a text. The numbers say where, and are taken modulo what is there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    what: What,
    at: usize,
    by: usize,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum What {
    /// The value of a line is another's, or mad.
    Value,
    /// A number of a line is larger or smaller by many powers of ten.
    Magnitude,
    /// A letter of a key is another, twice there or gone.
    Misspelt,
    /// A key that nobody knows.
    Unknown,
    /// A line stands twice, the second time somewhere else.
    Repeat,
    /// A line is gone.
    Delete,
    /// A piece stands somewhere.
    Insert,
    /// A few bytes are gone.
    Remove,
    /// Some bytes are noise, hardly ever text.
    Noise,
    /// The file ends early.
    Cut,
    /// Lines end as they do elsewhere, or as they did.
    LineEnds,
    /// A byte order mark of UTF-8, or the whole text in UTF-16.
    ByteOrder,
    /// A list of thousands in the place of a value.
    Long,
    /// Lists in lists.
    Deep,
    /// Hundreds of unknown keys, tables or steps.
    Many,
}

const ALL: [What; 15] = [
    What::Value,
    What::Magnitude,
    What::Misspelt,
    What::Unknown,
    What::Repeat,
    What::Delete,
    What::Insert,
    What::Remove,
    What::Noise,
    What::Cut,
    What::LineEnds,
    What::ByteOrder,
    What::Long,
    What::Deep,
    What::Many,
];

impl Change {
    /// The next change of a sequence.
    pub fn random(random: &mut Random) -> Self {
        // what leaves the file a text that can be read is the more telling
        let few = random.chance(0.7);
        Self {
            what: ALL[random.below(if few { 7 } else { ALL.len() })],
            at: random.below(1 << 30),
            by: random.below(1 << 30),
        }
    }

    /// The text with this change in it.
    pub fn apply(&self, bytes: &[u8]) -> Vec<u8> {
        let (at, by) = (self.at, self.by);
        match self.what {
            What::Noise => noise(bytes, at, by),
            What::Cut => bytes[..at % (bytes.len() + 1)].to_vec(),
            What::LineEnds => line_ends(bytes, by),
            What::ByteOrder => byte_order(bytes, by),
            What::Insert => insert(bytes, at, PIECES[by % PIECES.len()]),
            What::Remove => {
                let start = at % (bytes.len() + 1);
                let end = (start + 1 + by % 40).min(bytes.len());
                [&bytes[..start], &bytes[end.max(start)..]].concat()
            }
            _ => self.line(bytes),
        }
    }

    /// Changes of a line.
    fn line(&self, bytes: &[u8]) -> Vec<u8> {
        let (at, by) = (self.at, self.by);
        let mut lines: Vec<Vec<u8>> = bytes.split(|b| *b == b'\n').map(<[u8]>::to_vec).collect();
        let k = at % lines.len();
        let equals = lines[k].iter().position(|b| *b == b'=');
        let value = |text: &str| {
            [
                &lines[k][..equals.map_or(0, |e| e + 1)],
                b" ",
                text.as_bytes(),
            ]
            .concat()
        };
        match (self.what, equals) {
            (What::Value, _) => lines[k] = value(VALUES[by % VALUES.len()]),
            (What::Magnitude, Some(_)) => {
                let power = [-300, -30, -12, -9, -6, -3, 3, 6, 9, 12, 30, 300][by % 12];
                lines[k] = magnified(&lines[k], power);
            }
            (What::Misspelt, Some(equals)) => misspell(&mut lines[k], equals, by),
            (What::Unknown, _) => {
                let key: String = (0..1 + by % 12)
                    .map(|n| (b'a' + ((by >> n) % 26) as u8) as char)
                    .collect();
                lines.insert(k, format!("{key} = 1").into_bytes());
            }
            (What::Repeat, _) => {
                let line = lines[k].clone();
                lines.insert(by % lines.len(), line);
            }
            (What::Delete, _) => {
                lines.remove(k);
            }
            (What::Long, _) => {
                let count = [100, 999, 1000, 1001, 5000][by % 5];
                let item = ["1", "0.5", "\"1 mm\"", "[1]", "{}"][by / 5 % 5];
                lines[k] = value(&format!("[{}]", vec![item; count].join(", ")));
            }
            (What::Deep, _) => {
                let depth = [10, 79, 81, 1000, 20_000][by % 5];
                lines[k] = value(&("[".repeat(depth) + &"]".repeat(depth)));
            }
            (What::Many, _) => lines.insert(k, many(by).into_bytes()),
            _ => {}
        }
        lines.join(&b'\n')
    }
}

/// Any change, which shrinks to an early place.
pub fn change() -> impl Strategy<Value = Change> {
    let what = prop::sample::select(ALL.to_vec());
    (what, 0usize..1 << 30, 0usize..1 << 30).prop_map(|(what, at, by)| Change { what, at, by })
}

fn insert(bytes: &[u8], at: usize, piece: &str) -> Vec<u8> {
    let at = at % (bytes.len() + 1);
    [&bytes[..at], piece.as_bytes(), &bytes[at..]].concat()
}

fn noise(bytes: &[u8], at: usize, by: usize) -> Vec<u8> {
    let mut random = Random::new(by as u64);
    let mut bytes = bytes.to_vec();
    let start = at % (bytes.len() + 1);
    for byte in bytes.iter_mut().skip(start).take(1 + by % 20) {
        *byte = random.below(256) as u8;
    }
    bytes
}

fn line_ends(bytes: &[u8], by: usize) -> Vec<u8> {
    let end: &[u8] = [&b"\r\n"[..], b"\r", b"\n\n", b"\x0b", b"\xe2\x80\xa8"][by % 5];
    bytes.split(|b| *b == b'\n').collect::<Vec<_>>().join(end)
}

fn byte_order(bytes: &[u8], by: usize) -> Vec<u8> {
    match by % 3 {
        0 => [b"\xef\xbb\xbf", bytes].concat(),
        1 => [0xff, 0xfe]
            .into_iter()
            .chain(bytes.iter().flat_map(|b| [*b, 0]))
            .collect(),
        _ => [0xfe, 0xff]
            .into_iter()
            .chain(bytes.iter().flat_map(|b| [0, *b]))
            .collect(),
    }
}

/// Puts a power of ten behind the last number of a line.
fn magnified(line: &[u8], power: i32) -> Vec<u8> {
    let Some(last) = line.iter().rposition(u8::is_ascii_digit) else {
        return line.to_vec();
    };
    let exponent = format!("e{power}");
    [&line[..=last], exponent.as_bytes(), &line[last + 1..]].concat()
}

fn misspell(line: &mut Vec<u8>, equals: usize, by: usize) {
    let letters = line[..equals]
        .iter()
        .take_while(|b| !b.is_ascii_whitespace())
        .count();
    if letters == 0 {
        return;
    }
    let k = by / 4 % letters;
    match by % 4 {
        0 => {
            line.remove(k);
        }
        1 => line.insert(k, line[k]),
        2 => line.swap(k, (k + 1) % letters),
        _ => line[k] = b'a' + (by / 7 % 26) as u8,
    }
}

fn many(by: usize) -> String {
    let count = [50, 300, 2000][by % 3];
    let numbered =
        |what: &dyn Fn(usize) -> String| (0..count).map(what).collect::<Vec<_>>().join("\n");
    match by / 3 % 5 {
        0 => numbered(&|n| format!("unknown{n} = {n}")),
        1 => numbered(&|n| format!("[[step]]\nhold = \"none{n}\"")),
        2 => numbered(&|n| format!("[[hold.h{n}]]\nscheme = \"none\"")),
        3 => numbered(&|n| format!("[[part.lobes]]\ncount = {n}\namplitude = \"{n}\"")),
        _ => format!("title = \"{}\"", "long ".repeat(20 * count)),
    }
}
