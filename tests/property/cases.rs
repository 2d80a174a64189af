//! What is no part of a case changes nothing of it.

use ringwright_solver::case::{Case, HoldMember, Origin, Place};
use ringwright_tests::files;
use ringwright_tests::generator;
use ringwright_tests::random::Random;

/// Two cases are one, but for the text that they were read from.
fn same((a, of_a): &(Case, Origin), (b, of_b): &(Case, Origin)) {
    assert_eq!(
        (&a.title, of_a.units, a.accuracy),
        (&b.title, of_b.units, b.accuracy)
    );
    assert_eq!((&a.part, &a.steps), (&b.part, &b.steps));
    assert_eq!((&a.tolerance, &a.inspection), (&b.tolerance, &b.inspection));
    assert_eq!((a.mesh, &a.assumed), (b.mesh, &b.assumed));
    assert_eq!(a.holds.len(), b.holds.len());
    let said = |m: &HoldMember| (m.scheme.name().to_owned(), m.values.clone());
    for (x, y) in a.holds.iter().zip(&b.holds) {
        let [x_said, y_said] = [x, y].map(|h| h.members.iter().map(said).collect::<Vec<_>>());
        assert_eq!((&x.name, x_said), (&y.name, y_said));
        for scheme in 0..x.members.len() {
            let place = Place::Scheme {
                hold: x.name.clone(),
                scheme,
                parameter: None,
            };
            assert!(of_a.line_of(&place).is_some(), "{place}");
            assert_eq!(of_a.line_of(&place), of_b.line_of(&place), "{place}");
        }
    }
}

/// Line ends of another system, blanks, remarks and a byte order mark leave a case what it is.
/// Truth: invariance
#[test]
fn what_stands_beside_the_values_changes_nothing() {
    let registry = ringwright_plugins::registry();
    let mut random = Random::new(20_261_129);
    let mut ran = 0;
    while ran < 200 {
        let generated = generator::sound(&mut random, &registry);
        if !generated.beside.is_empty() {
            continue;
        }
        let text = String::from_utf8(generated.bytes).unwrap();
        let plain = files::read_with_origin(&text);
        let ends = text.replace('\n', "\r\n");
        let remarks = text.replace('\n', "  \t # remark = [\"\n");
        let mark = format!("\u{feff}{text}");
        let indented = format!("  {}", text.replace('\n', "\n  "));
        for other in [ends, remarks, mark, indented] {
            same(&plain, &files::read_with_origin(&other));
        }
        ran += 1;
    }
}
