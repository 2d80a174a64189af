//! What the conformance kit found, in words.

use ringwright_solver::conformance::{Check, Fault};

pub(crate) fn words(name: &str, faults: &[Fault]) -> String {
    let mut text = format!("{name}\n");
    for check in Check::ALL {
        let found: Vec<&Fault> = faults.iter().filter(|f| f.check() == check).collect();
        let mark = match found.is_empty() {
            // the kit solves nothing once something else than nonsense is wrong
            true if check == Check::Runs && faults.iter().any(|f| f.check() != Check::Nonsense) => {
                "left out"
            }
            true => "ok",
            false => "FAULT",
        };
        text += &format!("  {mark:9} {}\n", check.about());
        for fault in found {
            text += &format!("            {fault}\n");
        }
    }
    text
}
