//! Case files made from a seed: mostly sound, from tiny rings to huge ones and from thin to thick, held by every scheme that is
//! plugged in, and a share of them spoilt. The same seed gives the same bytes on every machine.
//!
//! Start at [`case()`]. Nothing here knows a scheme by name: its keys, kinds and ranges come from the registry, and what does not go
//! together is found by asking the reader and rolling again.

mod hold;
mod part;
pub mod readings;
pub mod replies;
pub mod spoil;
mod step;
mod text;

use std::fs;
use std::io;
use std::path::Path;

use ringwright_solver::case;
use ringwright_solver::scheme::Registry;

use crate::random::Random;
use text::Units;

/// Share of the cases that are spoilt.
const SPOILT: f64 = 0.4;
/// How often a piece that the reader refuses is rolled again.
const ROLLS: usize = 100;

/// A case file and the files that it names.
#[derive(Clone, Debug, PartialEq)]
pub struct Generated {
    /// The case file as it stands on the disk.
    pub bytes: Vec<u8>,
    /// Readings beside it: name and text.
    pub beside: Vec<(String, String)>,
    /// Whether it was spoilt after it was made.
    pub spoilt: bool,
}

impl Generated {
    /// Writes the case file `name` and what it names into a folder.
    ///
    /// # Errors
    /// Those of writing.
    pub fn write(&self, folder: &Path, name: &str) -> io::Result<()> {
        for (beside, text) in &self.beside {
            fs::write(folder.join(beside), text)?;
        }
        fs::write(folder.join(name), &self.bytes)
    }
}

/// The case of a seed: sound, or spoilt in one to four places.
pub fn case(seed: u64, registry: &Registry) -> Generated {
    let mut random = Random::new(seed);
    // neighbouring seeds are far apart from their second number on
    random.between(0.0, 1.0);
    let mut case = sound(&mut random, registry);
    if random.chance(SPOILT) {
        for _ in 0..=random.below(4) {
            let change = spoil::Change::random(&mut random);
            case.bytes = change.apply(&case.bytes);
        }
        case.spoilt = true;
    }
    case
}

/// A case that the reader takes.
///
/// # Panics
/// If none comes of so many rolls, which is a fault of the generator.
pub fn sound(random: &mut Random, registry: &Registry) -> Generated {
    for _ in 0..ROLLS {
        if let Some(case) = attempt(random, registry) {
            return case;
        }
    }
    panic!("no sound case in {ROLLS} rolls");
}

/// A round ring in one hold, nothing cut: no limits, no accuracy, no mesh of its own, so that a test can add them above `[part]`.
///
/// # Panics
/// If none comes of so many rolls, which is a fault of the generator.
pub fn round_hold(random: &mut Random, registry: &Registry) -> String {
    rolled(|| {
        let part = part::Ring::random(random);
        plain(random, registry, &part, false)
    })
}

/// A lobed ring in one hold, one or two cuts, nothing else (see [`round_hold`]). Walls are from 3 to 30 percent of the outside diameter, lobes
/// up to 2 percent of the wall, and cuts deep enough to clean the surface up more often than not.
///
/// # Panics
/// If none comes of so many rolls, which is a fault of the generator.
pub fn lobed_and_cut(random: &mut Random, registry: &Registry) -> String {
    rolled(|| {
        let part = part::Ring::usual(random);
        plain(random, registry, &part, true)
    })
}

fn rolled(mut roll: impl FnMut() -> Option<String>) -> String {
    let text = (0..ROLLS).find_map(|_| roll());
    text.unwrap_or_else(|| panic!("no sound case in {ROLLS} rolls"))
}

/// A ring, lobed and cut or neither, in one hold.
fn plain(
    random: &mut Random,
    registry: &Registry,
    part: &part::Ring,
    worked: bool,
) -> Option<String> {
    let units = Units::Millimetre;
    let mut text = part.alone(random, worked);
    text += &hold::write(random, units, part, &text, "first", registry)?;
    text += "[[step]]\nhold = \"first\"\n";
    if worked {
        text += &step::shallow_cuts(random, part);
    }
    case::read(&text, registry).is_ok().then_some(text)
}

fn attempt(random: &mut Random, registry: &Registry) -> Option<Generated> {
    let units = Units::random(random);
    let part = part::Ring::random(random);
    let head = part.write(random, units);
    let mut holds = Vec::new();
    let mut text = head.text.clone();
    for name in ["first", "second", "third"] {
        if !holds.is_empty() && random.chance(0.85) {
            continue;
        }
        let hold = hold::write(random, units, &part, &head.text, name, registry)?;
        text += &hold;
        holds.push(name);
    }
    text += &step::write(random, units, &part, &holds);
    case::read(&text, registry).ok()?;
    // what is read from a file beside the case says the same as what stood in it
    let (text, beside) = head.beside(random, text);
    Some(Generated {
        bytes: text.into_bytes(),
        beside,
        spoilt: false,
    })
}
