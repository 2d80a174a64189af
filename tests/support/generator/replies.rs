//! What a scheme's program might say: good lines of the protocol, and the same spoilt.

use proptest::prelude::*;
use serde_json::{Map, Value, json};

use crate::random::Random;

/// Names that a good scheme has not taken.
pub const NAME: &str = "recorded";

/// What a program says that is asked about one section: its hello and the same answer twice, a line each, some of them spoilt.
pub fn lines(seed: u64) -> Vec<u8> {
    let mut random = Random::new(seed);
    random.between(0.0, 1.0);
    let mut hello = hello(&mut random);
    let mut first = answer(&mut random);
    let times = if random.chance(0.15) {
        0
    } else {
        1 + random.below(3)
    };
    for _ in 0..times {
        let of = if random.chance(0.4) {
            &mut hello
        } else {
            &mut first
        };
        spoil(of, &mut random);
    }
    let mut second = first.clone();
    second["n"] = json!(2);
    let mut lines: Vec<Vec<u8>> = [hello, first, second]
        .iter()
        .map(|v| v.to_string().into_bytes())
        .collect();
    if random.chance(0.15) {
        let k = random.below(lines.len());
        noise(&mut lines[k], &mut random);
    }
    if random.chance(0.05) {
        let k = random.below(lines.len());
        lines.remove(k);
    }
    lines
        .iter()
        .flat_map(|l| [l, &b"\n"[..]].concat())
        .collect()
}

/// What any program says.
pub fn any_lines() -> impl Strategy<Value = Vec<u8>> {
    any::<u64>().prop_map(lines).no_shrink()
}

fn hello(random: &mut Random) -> Value {
    let mut parameters =
        vec![json!({ "key": "force", "unit": "N", "default": 100.0, "about": "a force" })];
    for key in ["reach", "kind", "teeth", "turn"] {
        if random.chance(0.6) {
            continue;
        }
        parameters.push(match key {
            "reach" => json!({ "key": key, "unit": "mm", "default": 1.0, "about": "", "min": 0.0, "max": 10.0 }),
            "kind" => json!({ "key": key, "unit": "", "default": "a", "about": "", "choices": ["a", "b"] }),
            "teeth" => json!({ "key": key, "unit": "", "default": 3, "about": "", "whole": true }),
            _ => json!({ "key": key, "unit": "deg", "default": "0.5 rad", "about": "" }),
        });
    }
    json!({ "ringwright": 1, "scheme": NAME, "version": "1", "about": "answers from a file", "parameters": parameters })
}

fn answer(random: &mut Random) -> Value {
    if random.chance(0.1) {
        return json!({ "n": 1, "error": { "message": "a wall this thin wants a plug", "parameter": "force" } });
    }
    let count = 2 + random.below(5);
    let surface = *random.pick(&[&"outer", &"bore"]);
    let kind = random.below(4);
    let one = |k: usize| {
        let angle = 360.0 * k as f64 / count as f64;
        match kind {
            0 => json!({ "surface": surface, "angle": angle, "half_angle": 10.0, "force": 100.0 }),
            1 => json!({ "surface": surface, "angle": angle, "force": 100.0 }),
            2 => {
                json!({ "surface": surface, "angle": angle, "outline": "flat", "width": 10.0, "drive": "force", "force": 100.0 })
            }
            _ => {
                json!({ "surface": surface, "angle": angle, "outline": "convex", "radius": 20.0, "width": 10.0, "drive": "fixed", "gap": -0.01, "friction": 0.1 })
            }
        }
    };
    let all: Vec<Value> = (0..count).map(one).collect();
    let list = ["pressures", "points", "bodies", "bodies"][kind];
    json!({ "n": 1, "ok": { list: all, "notes": ["recorded"] } })
}

/// What stands in the place of a good value.
fn other(random: &mut Random) -> Value {
    match random.below(16) {
        0 => Value::Null,
        1 => json!(true),
        2 => json!(-1.0),
        3 => json!(0),
        4 => json!(1e308),
        5 => json!(1e-300),
        6 => json!(-1e12),
        7 => json!(1.5),
        8 => json!(u64::MAX),
        9 => json!(""),
        10 => json!("free"),
        11 => json!("outer"),
        12 => json!("\u{1b}[31mred\n\u{202e}"),
        13 => json!("x".repeat(5000)),
        14 => json!([]),
        _ => json!({}),
    }
}

/// Walks down to some place and changes what stands there.
fn spoil(value: &mut Value, random: &mut Random) {
    match value {
        Value::Object(map) if !map.is_empty() => {
            let keys: Vec<String> = map.keys().cloned().collect();
            let key = keys[random.below(keys.len())].clone();
            match random.below(8) {
                0 => {
                    map.remove(&key);
                }
                1 => rename(map, &key, random),
                2 => map[&key] = other(random),
                _ => spoil(&mut map[&key], random),
            }
        }
        Value::Array(list) if !list.is_empty() => {
            let k = random.below(list.len());
            match random.below(8) {
                0 => {
                    list.remove(k);
                }
                1 => {
                    let times = [1, 120, 2000][random.below(3)];
                    let item = list[k].clone();
                    list.extend(std::iter::repeat_n(item, times));
                }
                2 => list[k] = other(random),
                _ => spoil(&mut list[k], random),
            }
        }
        _ => *value = other(random),
    }
}

fn rename(map: &mut Map<String, Value>, key: &str, random: &mut Random) {
    if let Some(value) = map.remove(key) {
        let name = match random.below(3) {
            0 => format!("{key}s"),
            1 => String::new(),
            _ => "k".repeat(3000),
        };
        map.insert(name, value);
    }
}

fn noise(line: &mut Vec<u8>, random: &mut Random) {
    let at = random.below(line.len() + 1);
    match random.below(7) {
        0 => line.truncate(at),
        1 => line.insert(at, 0xff),
        2 => line.insert(at, 0),
        3 => line.splice(at..at, b"NaN".iter().copied()).for_each(drop),
        4 => line.splice(at..at, "[".repeat(5000).bytes()).for_each(drop),
        // what stands twice: the second counts in some readers, the first in others
        5 => line
            .splice(
                1..1.min(line.len()),
                br#""n": 1, "scheme": "twice","#.iter().copied(),
            )
            .for_each(drop),
        _ => line.clear(),
    }
}
