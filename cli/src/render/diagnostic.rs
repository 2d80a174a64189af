//! Problems of a case file, each with its line.

use ringwright_solver::case::{Problem, steers};

use crate::commands::Source;

/// Longest piece of a source line that is shown.
const WINDOW: usize = 100;

/// `file:line:column: field: message`, then the line with a caret, for each problem.
pub(crate) fn problems(problems: &[Problem], source: &Source) -> String {
    let mut text = String::new();
    let lines: Vec<&str> = source.text.lines().collect();
    for p in problems {
        if p.line == 0 {
            // a place that is not known is not shown
            text += &format!("{}: {}: {}\n", source.name, p.field, p.message);
            continue;
        }
        text += &format!("{}:{p}\n", source.name);
        if let Some(line) = lines.get(p.line - 1)
            && !line.trim().is_empty()
        {
            text += &excerpt(line, p.line, p.column);
        }
    }
    // the last of very many says how many more there are
    if problems.len() > 1 && problems.last().is_some_and(|p| !p.is_rest()) {
        text += &format!("{} problems\n", problems.len());
    }
    text
}

fn excerpt(line: &str, number: usize, column: usize) -> String {
    let start = if column > WINDOW {
        column - WINDOW / 2
    } else {
        1
    };
    let shown: String = line
        .chars()
        .skip(start - 1)
        .take(WINDOW)
        .map(|c| if steers(c) { ' ' } else { c })
        .collect();
    let margin = number.to_string().len().max(4);
    format!(
        "{number:>margin$} | {}\n{:margin$} | {}^\n",
        shown.trim_end(),
        "",
        " ".repeat(column - start)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use ringwright_solver::case::ProblemKind;

    #[test]
    fn the_caret_stands_under_the_place() {
        let source = Source::new("case.toml".into(), "a = 1\nµ = -2\n".into());
        let problem = Problem {
            line: 2,
            column: 5,
            field: "b".into(),
            message: "is -2; it must be above zero".into(),
            kind: ProblemKind::Input,
        };
        assert_eq!(
            problems(&[problem], &source),
            "case.toml:2:5: b: is -2; it must be above zero\n   2 | µ = -2\n     |     ^\n"
        );
    }

    #[test]
    fn a_long_line_is_shown_around_the_place() {
        let line = format!("{}x", "a".repeat(500));
        let text = excerpt(&line, 1, 501);
        let lines: Vec<_> = text.lines().collect();
        assert_eq!(lines[0].find('x'), lines[1].find('^'));
        assert!(lines[0].len() < 120);
    }
}
