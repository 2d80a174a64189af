//! `gauge --json` on any readings ends in a document that agrees with itself, or in what is wrong.

use std::ffi::OsString;
use std::path::Path;

use proptest::prelude::*;
use ringwright_tests::generator::readings::mutated;
use serde_json::Value;

use crate::judge;
use crate::target::{fuzz, timed};

/// Options that change what is made of the readings.
const OPTIONS: [&[&str]; 14] = [
    &[],
    &["--radius", "60"],
    &["--radius", "1e-3"],
    &["--radius", "2.36 in"],
    &["--surface", "bore"],
    &["--surface", "outer"],
    &["--from", "vee"],
    &[
        "--from",
        "vee",
        "--from-angle",
        "60",
        "--from-indicator",
        "180",
    ],
    &["--from", "two-point"],
    &["--from", "three-point", "--surface", "bore"],
    &["--unit", "thou"],
    &["--clockwise", "--zero-at", "-359.9", "--keep-jumps"],
    &["--filter", "15", "--lobes", "4"],
    &[
        "--zone", "0.02", "--strict", "--vee", "60", "--vee", "179.9",
    ],
];

/// What `gauge --json` makes of a file of readings.
pub(crate) fn gauges(bytes: &[u8], options: &[&str], folder: &Path) -> Result<(), String> {
    let file = folder.join("readings.csv");
    std::fs::write(&file, bytes).map_err(|e| e.to_string())?;
    let args: Vec<OsString> = ["ringwright", "gauge", "--json"]
        .iter()
        .chain(options)
        .map(OsString::from)
        .chain([file.into()])
        .collect();
    let registry = ringwright_plugins::registry();
    let (exit, out, err) = timed(|| {
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let exit = ringwright::run_with(args.clone(), &registry, &mut out, &mut err);
        (exit as u8, out, err)
    })?;
    let err = String::from_utf8_lossy(&err);
    match exit {
        0 | 1 => {
            let document = serde_json::from_slice(&out).map_err(|e| format!("not JSON: {e}"))?;
            agrees(&document).map_err(|e| format!("{e}: {document}"))
        }
        2..=4 => {
            if err.trim().is_empty() && out.is_empty() {
                return Err(format!("exit {exit} without a word"));
            }
            err.lines()
                .filter(|l| !l.is_empty())
                .try_for_each(judge::message)
        }
        _ => Err(format!("exit {exit}: {err}")),
    }
}

/// What the figures of a document must be to each other.
fn agrees(document: &Value) -> Result<(), String> {
    if document["format"] != "ringwright-gauge-1" {
        return Err("no gauge document".into());
    }
    let number = |pointer: &str| {
        document
            .pointer(pointer)
            .and_then(Value::as_f64)
            .ok_or_else(|| format!("no number at {pointer}"))
    };
    let (radius, about) = (
        number("/least_squares/radius")?,
        number("/least_squares/roundness")?,
    );
    let zone = number("/minimum_zone/roundness")?;
    // figures have twelve digits
    let rounding = 1e-9 * (radius.abs() + about);
    if zone < 0.0 || zone > about + rounding {
        return Err("the minimum zone is wider than about the least-squares circle".into());
    }
    if let (Ok(inside), Ok(round)) = (
        number("/maximum_inscribed/radius"),
        number("/minimum_circumscribed/radius"),
    ) && inside > round + rounding
    {
        return Err("the inscribed circle is larger than the circumscribed one".into());
    }
    for key in ["maximum_inscribed", "minimum_circumscribed"] {
        let unknown = document["unknown"].as_array().cloned().unwrap_or_default();
        let told = unknown
            .iter()
            .any(|u| u["what"] == key && u["reason"] != "");
        if document[key].is_null() && !told {
            return Err(format!("{key} is null without a reason"));
        }
    }
    let lobes = document["harmonics"].as_array().ok_or("no harmonics")?;
    let counts: Vec<u64> = lobes.iter().filter_map(|l| l["count"].as_u64()).collect();
    if counts.len() != lobes.len() || !counts.is_sorted() {
        return Err("harmonics out of order".into());
    }
    if !lobes
        .iter()
        .all(|l| l["amplitude"].as_f64().is_some_and(|a| a >= 0.0))
    {
        return Err("a lobe without an amplitude".into());
    }
    let ranges = document["readings"].as_array().ok_or("no readings")?;
    let is_range =
        |r: &Value| r["range"].is_null() || r["range"].as_f64().is_some_and(|x| x >= 0.0);
    if !ranges.iter().all(is_range) {
        return Err("a gauge with a movement below zero".into());
    }
    Ok(())
}

#[test]
fn any_readings_end_in_a_document_that_agrees_with_itself() {
    let folder = tempfile::tempdir().unwrap();
    let options = prop::collection::vec(prop::sample::select(OPTIONS.to_vec()), 0..3);
    fuzz(300, &(mutated(), options), |(text, options)| {
        let mut all: Vec<&str> = Vec::new();
        for option in options {
            // an option may be given once
            if !option
                .iter()
                .any(|o| o.starts_with("--") && all.contains(o))
            {
                all.extend(option);
            }
        }
        gauges(text.as_bytes(), &all, folder.path())
    });
}
