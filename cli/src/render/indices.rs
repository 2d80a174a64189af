//! Sensitivity indices in words.

use ringwright_solver::report::units::{fixed, percent};

use super::summary::wrapped;
use crate::commands::study::{Estimated, IndexOf, IndicesOf};

/// Most keys of a figure that are listed.
const MOST_KEYS: usize = 6;

/// Shares below this are told as under 0.1 percent.
const LEAST: f64 = 0.001;

/// What each figure is called.
fn name(output: &str) -> &str {
    match output {
        "released_roundness_outer_mm" => "Roundness of the outside, released",
        "released_roundness_bore_mm" => "Roundness of the bore, released",
        "held_roundness_outer_mm" => "Roundness of the outside, held",
        "held_roundness_bore_mm" => "Roundness of the bore, held",
        "tolerance_used" => "Share of the tolerance used up",
        "slip_safety" => "Safety against slip",
        "yield_margin" => "Margin to yield",
        other => other,
    }
}

/// Why a figure that is not known everywhere has none.
pub(crate) fn unknown(unknown: u64, rows: u64, failed: u64) -> String {
    if unknown == rows && failed < rows {
        return "not known in any row".into();
    }
    let failed = match failed {
        0 => String::new(),
        n if n == unknown => " (they failed)".into(),
        n => format!(" ({n} of them failed)"),
    };
    format!(
        "not known in {unknown} of {rows} rows{failed}; indices take every row, and none is estimated from what is left"
    )
}

/// Why a figure that is the same everywhere has none.
pub(crate) fn constant(value: f64) -> String {
    let value: f64 = format!("{value:.3e}").parse().unwrap_or(value);
    format!("the same in every row ({value}), so nothing that varies here changes it")
}

/// What the figures' own error may do to their indices.
pub(crate) fn noise(error: f64, share: f64) -> String {
    format!(
        "estimated errors of up to {} could make {} of this variance, so smaller shares may be numerical; a finer accuracy or mesh makes them less",
        percent(error),
        percent(share)
    )
}

/// `81 (70 to 92)`: percent, as many digits as the interval bears, and no further than shares of a whole go.
fn shown(of: Estimated) -> String {
    if of.high < LEAST {
        return "under 0.1".into();
    }
    let places = usize::from(of.high - of.low < 0.02);
    let [value, low, high] =
        [of.value, of.low, of.high].map(|x| fixed(100.0 * x.clamp(0.0, 1.0), places));
    format!("{value} ({low} to {high})")
}

/// What the indices of a key say.
pub(crate) fn of_one(first: Estimated, total: Estimated) -> String {
    if total.may_be_zero() && first.may_be_zero() {
        return "indistinguishable from 0: no effect shows in this sample".into();
    }
    if first.may_be_zero() {
        return format!(
            "alone indistinguishable from 0; together with others {} percent of the variance",
            shown(total)
        );
    }
    format!(
        "alone {} percent of the variance, with what it does together with others {}",
        shown(first),
        shown(total)
    )
}

/// What is said of a key where the sample does not settle the indices.
pub(crate) const UNSETTLED: &str = "not settled by this sample";

/// Totals add up to the whole or more, and none is more than the whole: how far a sample may miss that.
const SHORT: f64 = 0.9;
const LONG: f64 = 1.2;

/// Why indices are not to be read: estimates that cannot be shares of one variance.
pub(crate) fn unsettled(indices: &[IndexOf]) -> Option<String> {
    let sum: f64 = indices.iter().map(|i| i.total.value).sum();
    let most = indices.iter().map(|i| i.total.value).fold(0.0, f64::max);
    let why = if sum < SHORT {
        format!(
            "the shares in all add up to {}, and to the whole or more in truth",
            percent(sum.max(0.0))
        )
    } else if most > LONG {
        format!("one share in all comes out as {}", percent(most))
    } else {
        return None;
    };
    Some(format!(
        "NOT SETTLED BY THIS SAMPLE: {why}. A few rows carry most of the variance; take a larger count or narrower ranges, and read no share off this."
    ))
}

/// That rows yield whose roundness is told.
pub(crate) fn yields(yields: u64, rows: u64) -> String {
    format!(
        "{yields} of {rows} rows yield: their parts would stay bent, and their shapes do not apply"
    )
}

/// What to do about the spread of a figure.
pub(crate) fn advice(indices: &[IndexOf]) -> String {
    let mut leaders: Vec<&IndexOf> = indices.iter().filter(|i| !i.first.may_be_zero()).collect();
    leaders.sort_by(|x, y| y.first.value.total_cmp(&x.first.value));
    let mut text = match leaders[..] {
        [] => "No key moves it by itself as far as this sample shows".to_owned(),
        [one, ..] if one.is_choice => format!("The choice of {} matters most", one.path),
        [one, ..] => format!("To narrow its spread, tighten {} first", one.path),
    };
    if let [one, next, ..] = leaders[..]
        && next.first.high >= one.first.low
    {
        text += &format!(
            ", or {}: which of them counts more takes a larger count to tell",
            next.path
        );
    }
    text += ".";
    let idle = indices.iter().filter(|i| is_idle(i));
    let idle: Vec<&str> = idle.map(|i| i.path.as_str()).collect();
    if !idle.is_empty() {
        text += &format!(" Indistinguishable from 0: {}.", idle.join(", "));
    }
    text
}

fn is_idle(index: &IndexOf) -> bool {
    index.total.may_be_zero() && index.first.may_be_zero()
}

/// Tables of the indices, the most influential key first.
pub(crate) fn tables(all: &[IndicesOf], base: u64) -> String {
    let mut text = wrapped(
        "",
        &format!(
            "Where the spread comes from: shares of each figure's variance in percent, from a base sample of {base} (in brackets with a confidence of 95 percent). \
             Alone: what would go, on average, if that key were held exactly. In all: what would stay if all others were. Which way a key moves a figure they do not say."
        ),
    );
    let with = || all.iter().filter(|of| of.unavailable.is_none());
    let paths = with().flat_map(|of| &of.indices);
    let widths = paths.map(|i| i.path.chars().count() + 2);
    let width = widths.chain(with().map(|of| name(&of.output).chars().count()));
    let width = width.max().unwrap_or(0);
    for of in with() {
        text += &table(of, width);
    }
    let mut without: Vec<(&str, Vec<&str>)> = Vec::new();
    for of in all {
        let Some(why) = of.unavailable.as_deref() else {
            continue;
        };
        match without.iter_mut().find(|(reason, _)| *reason == why) {
            Some((_, names)) => names.push(name(&of.output)),
            None => without.push((why, vec![name(&of.output)])),
        }
    }
    for (why, names) in without {
        text += &wrapped("", &format!("No indices of {}: {why}.", names.join("; ")));
    }
    text
}

fn table(of: &IndicesOf, width: usize) -> String {
    let alone = "indistinguishable from 0".len();
    let row =
        |name: &str, first: &str, total: &str| format!("{name:width$}  {first:alone$}  {total}\n");
    let mut text = row(name(&of.output), "alone", "in all");
    let all = unsettled(&of.indices).is_some();
    let listed = || of.indices.iter().filter(|i| all || !is_idle(i));
    for index in listed().take(MOST_KEYS) {
        let name = format!("  {}", index.path);
        let first = match index.first.may_be_zero() {
            true => "indistinguishable from 0".to_owned(),
            false => shown(index.first),
        };
        text += &row(&name, &first, &shown(index.total));
    }
    let more = listed().count().saturating_sub(MOST_KEYS);
    if more > 0 {
        text += &format!("  {more} more with smaller shares are in study.json\n");
    }
    text += &wrapped("  ", &of.says);
    if let Some(caution) = &of.caution {
        text += &wrapped("  ", &format!("Caution: {caution}."));
    }
    text
}

/// `99.12 to 99.90 percent`: two figures of the interval's width, and its ends never nearer than they are.
pub(crate) fn chance([low, high]: [f64; 2]) -> String {
    let width = 100.0 * (high - low);
    let places = match width > 0.0 {
        true => (1.0 - width.log10().floor()).clamp(0.0, 6.0) as usize,
        false => 0,
    };
    let one = 10_f64.powi(places as i32);
    let (low, high) = (100.0 * low * one, 100.0 * high * one);
    // what is an end but for rounding is that end
    let (low, high) = ((low + 1e-6).floor() / one, (high - 1e-6).ceil() / one);
    let text = |x: f64| match x {
        0.0 | 100.0 => fixed(x, 0),
        x => fixed(x, places),
    };
    format!("{} to {} percent", text(low), text(high))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chances_have_the_digits_that_their_interval_bears() {
        for (ends, text) in [
            ([0.991_217, 0.998_979], "99.12 to 99.90 percent"),
            ([0.996_173, 1.0], "99.61 to 100 percent"),
            ([0.0, 0.003_827], "0 to 0.39 percent"),
            ([0.356_145, 0.547_554], "35 to 55 percent"),
            ([0.107_8, 0.603_2], "10 to 61 percent"),
            ([0.5, 0.55], "50.0 to 55.0 percent"),
            ([0.0, 1.0], "0 to 100 percent"),
        ] {
            assert_eq!(chance(ends), text);
        }
    }
}
