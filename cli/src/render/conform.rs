//! What the conformance kit found, in words.

use ringwright_solver::conformance::{Check, Report, Verdict};

pub(crate) fn words(name: &str, report: &Report) -> String {
    let mut text = format!("{name}\n");
    for check in Check::ALL {
        let mark = match report.verdict(check) {
            Verdict::Sound => "ok",
            Verdict::Faulty => "FAULT",
            Verdict::LeftOut => "left out",
        };
        text += &format!("  {mark:9} {}\n", check.about());
        for fault in report.faults.iter().filter(|f| f.check() == check) {
            text += &format!("            {fault}\n");
        }
    }
    for note in &report.notes {
        text += &format!("  note:     {note}\n");
    }
    text
}
