//! A case file of any bytes ends in a case or in problems that point into it.

use proptest::prelude::*;
use ringwright_solver::case::read_beside;
use ringwright_tests::generator::{self, spoil};
use ringwright_tests::random::Random;

use crate::judge;
use crate::target::{Bytes, fuzz, timed};

/// Reads a case file whose text is anything.
pub(crate) fn reads(bytes: &[u8], folder: &std::path::Path) -> Result<bool, String> {
    let registry = ringwright_plugins::registry();
    let Ok(text) = std::str::from_utf8(bytes) else {
        return by_program(bytes, folder);
    };
    match timed(|| read_beside(text, &registry, folder))? {
        Ok(case) => {
            let stock = &case.part.stock;
            if case.steps.is_empty() || stock.bore.radius >= stock.outer.radius {
                return Err("taken without steps or without a wall".into());
            }
            Ok(true)
        }
        Err(problems) => judge::problems(text, &problems).map(|()| false),
    }
}

/// What is no text never reaches the reader: the command says so.
fn by_program(bytes: &[u8], folder: &std::path::Path) -> Result<bool, String> {
    let file = folder.join("bytes.toml");
    std::fs::write(&file, bytes).map_err(|e| e.to_string())?;
    let args = ["ringwright", "check"].map(Into::into).into_iter();
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let registry = ringwright_plugins::registry();
    let exit = ringwright::run_with(args.chain([file.into()]), &registry, &mut out, &mut err);
    let err = String::from_utf8_lossy(&err);
    if exit as u8 != 3 || !err.contains("UTF-8") || err.len() >= 2000 {
        return Err(format!(
            "bytes that are no text: exit {}, {err}",
            exit as u8
        ));
    }
    Ok(false)
}

/// A sound case of the generator, spoilt anew.
fn spoilt() -> impl Strategy<Value = Bytes> {
    let sound = any::<u64>()
        .prop_map(|seed| generator::sound(&mut Random::new(seed), &ringwright_plugins::registry()))
        .no_shrink();
    let changes = prop::collection::vec(spoil::change(), 1..6);
    (sound, changes).prop_map(|(case, changes)| {
        let spoil = |bytes: Vec<u8>, change: &spoil::Change| change.apply(&bytes);
        Bytes(changes.iter().fold(case.bytes, spoil))
    })
}

#[test]
fn any_case_file_ends_in_a_case_or_in_problems() {
    let folder = tempfile::tempdir().unwrap();
    fuzz(1500, &spoilt(), |Bytes(bytes)| {
        reads(&bytes, folder.path()).map(drop)
    });
}

#[test]
fn any_bytes_end_in_problems() {
    let folder = tempfile::tempdir().unwrap();
    fuzz(300, &prop::collection::vec(any::<u8>(), 0..300), |bytes| {
        reads(&bytes, folder.path()).map(drop)
    });
}

/// The generator gives the same bytes for a seed, and what it calls sound is.
#[test]
fn generated_cases_are_sound_and_repeat() {
    let registry = ringwright_plugins::registry();
    let folder = tempfile::tempdir().unwrap();
    let mut spoilt = 0;
    for seed in 0..200 {
        let case = generator::case(seed, &registry);
        assert_eq!(case, generator::case(seed, &registry));
        case.write(folder.path(), "case.toml").unwrap();
        let taken = reads(&case.bytes, folder.path()).unwrap();
        assert!(case.spoilt || taken, "{seed}");
        spoilt += usize::from(case.spoilt);
    }
    assert!((40..120).contains(&spoilt), "{spoilt}");
}

/// Every scheme and every one of its keys turns up in sound cases: what the generator cannot make, nothing here tries.
#[test]
fn generated_cases_use_every_key_of_every_scheme() {
    let registry = ringwright_plugins::registry();
    let mut random = Random::new(1);
    let mut missing: std::collections::BTreeSet<(&str, &str)> = registry
        .all()
        .iter()
        .flat_map(|s| s.parameters().iter().map(|p| (s.name(), &*p.key)))
        .collect();
    for _ in 0..3000 {
        let case = generator::sound(&mut random, &registry);
        let text = String::from_utf8(case.bytes).unwrap();
        let case =
            ringwright_solver::case::read_beside(&text, &registry, std::path::Path::new("."));
        let Ok(case) = case else { continue };
        for member in case.holds.iter().flat_map(|h| &h.members) {
            for (key, _) in member.values.iter() {
                missing.retain(|m| *m != (member.scheme.name(), key));
            }
        }
        if missing.is_empty() {
            return;
        }
    }
    panic!("never used: {missing:?}");
}
