//! `[part.readings]`: the stock as somebody measured it, made into a smooth closed curve.

mod source;

use toml::de::DeValue;

use super::node::{Item, Reader, Table};
use crate::case::MeasuredStock;
use crate::case::quantity::UnitSystem;
use crate::geometry::{PerSurface, StockOutline, Surface};
use crate::metrology::inversion::{Recovered, invert};
use crate::metrology::readings::{Format, LengthUnit, ReadingKind, Readings};
use crate::metrology::{Gauge, harmonics, least_squares_circle};
use source::{Source, source};

/// Words for what readings are, where no header says so.
pub(super) const READS: [&str; 3] = ["radius", "deviation", "diameter"];

/// Words for their units.
pub(super) const UNITS: [&str; 4] = ["mm", "in", "thou", "um"];

/// In place of readings: that surface was not measured, and is round about the centre of the other.
pub(super) const ROUND: &str = "round";

/// Farthest that a measured size may be from the drawing's, share of it.
const NEAR: f64 = 0.05;

/// What was taken of a measured surface.
fn measured_in_words(stock: &MeasuredStock, surface: Surface) -> String {
    let known = match stock.uncertainty {
        // a tenth of a micron is the last figure shown
        Some(u) if u < 5e-5 => "known to better than 0.1 um (one standard error)".to_owned(),
        Some(u) => format!("known to {:.1} um (one standard error)", 1e3 * u),
        None => "as many unknowns as readings, so not known how well".to_owned(),
    };
    let mut words = format!(
        "{} as measured: {} readings of {} ({}), a smooth curve of up to {} lobes, {known}",
        named(surface),
        stock.readings,
        stock.source,
        stock.gauge,
        stock.lobes
    );
    if !stock.unseen.is_empty() {
        let counts: Vec<_> = stock.unseen.iter().map(u32::to_string).collect();
        words += &format!("; of {} lobes that gauge shows nothing", counts.join(", "));
    }
    words
}

/// What is known of one surface.
struct Curve {
    stock: MeasuredStock,
    cautions: Vec<String>,
    /// Centre of the least-squares circle in the axes of the readings, mm; `None` if they say nothing of it.
    centre: Option<[f64; 2]>,
    terms: Vec<[f64; 2]>,
}

/// Puts measured surfaces in place of drawn ones, and says what was taken for granted. `Some` where a surface was measured.
pub(super) fn readings<'a>(
    reader: &mut Reader<'a>,
    part: &Table<'a>,
    stock: &mut PerSurface<StockOutline>,
    assumed: &mut Vec<String>,
) -> PerSurface<Option<MeasuredStock>> {
    let mut measured = PerSurface::default();
    let Some(table) = part.get("readings").and_then(|i| reader.table(&i)) else {
        return measured;
    };
    reader.check_keys(&table, &["outer", "bore", "one_setting"], &[]);
    let one_setting = table
        .get("one_setting")
        .and_then(|i| reader.flag(&i))
        .unwrap_or(false);
    let mut centres = PerSurface::<Option<[f64; 2]>>::default();
    let mut round = PerSurface::<bool>::default();
    // surfaces that the table says something of, and those of which it could be read
    let (mut given, mut understood) = (0, 0);
    for surface in Surface::BOTH {
        let Some(item) = table.get(surface.name()) else {
            continue;
        };
        given += 1;
        let outline = stock.get_mut(surface);
        let is_round = is_word(&item, ROUND);
        if !outline.lobes.is_empty() {
            let what = if is_round {
                "it cannot be round as well"
            } else {
                "readings hold all of its lobes"
            };
            reader.wrong(
                &item,
                format!(
                    "{} has [[part.lobes]] too; {what}, so give one or the other",
                    named(surface)
                ),
            );
            continue;
        }
        if is_round {
            *round.get_mut(surface) = true;
            understood += 1;
            continue;
        }
        if let Some(curve) = curve(reader, &item, surface, outline.radius) {
            understood += 1;
            assumed.push(measured_in_words(&curve.stock, surface));
            assumed.extend(curve.cautions);
            *centres.get_mut(surface) = curve.centre;
            outline.measured = curve.terms;
            *measured.get_mut(surface) = Some(curve.stock);
        }
    }
    if round.outer && round.bore {
        let message =
            "neither surface was measured; give readings of one, or leave [part.readings] out";
        reader.problem(table.span.clone(), &table.path, message);
    }
    unmeasured(&table, &measured, &round, stock, assumed);
    let surfaces = Surfaces {
        measured,
        centres,
        understood: understood == given,
    };
    offset_of_bore(
        reader,
        [part, &table],
        one_setting,
        &surfaces,
        stock,
        assumed,
    );
    surfaces.measured
}

/// Says what is taken of a surface that was not measured: it follows the other, or is round about the other's centre.
fn unmeasured(
    table: &Table,
    measured: &PerSurface<Option<MeasuredStock>>,
    round: &PerSurface<bool>,
    stock: &mut PerSurface<StockOutline>,
    assumed: &mut Vec<String>,
) {
    for surface in Surface::BOTH {
        if measured.get(surface).is_some() && table.get(surface.other().name()).is_none() {
            follow(stock, surface, assumed);
        }
        if *round.get(surface) && measured.get(surface.other()).is_some() {
            assumed.push(format!(
                "{} round about the centre of {} (the case says so)",
                named(surface),
                named(surface.other())
            ));
        }
    }
}

/// What the readings of the surfaces came to.
struct Surfaces {
    measured: PerSurface<Option<MeasuredStock>>,
    /// Centres of the least-squares circles in the axes of the readings, mm.
    centres: PerSurface<Option<[f64; 2]>>,
    /// Whether everything that the table says of the surfaces could be read.
    understood: bool,
}

/// Takes the offset of the bore from readings of both surfaces in one setting, or says that an off-centre part of readings is left out.
fn offset_of_bore<'a>(
    reader: &mut Reader<'a>,
    [part, table]: [&Table<'a>; 2],
    one_setting: bool,
    surfaces: &Surfaces,
    stock: &mut PerSurface<StockOutline>,
    assumed: &mut Vec<String>,
) {
    let Surfaces {
        measured,
        centres,
        understood,
    } = surfaces;
    match (one_setting, centres.outer, centres.bore) {
        (true, Some(o), Some(b)) if part.get("bore_offset").is_none() => {
            stock.bore.centre = [b[0] - o[0], b[1] - o[1]];
        }
        (true, _, _) => {
            // of readings that are wrong themselves nothing more is said
            if *understood && let Some(i) = table.get("one_setting") {
                reader.wrong(
                    &i,
                    "says that outside and bore were read about one axis, from which the offset of the bore is found: \
                     give radii or deviations about an axis of both surfaces, and no bore_offset",
                );
            }
        }
        (false, o, b) => {
            if o.is_some() || b.is_some() {
                let both = measured.outer.is_some() && measured.bore.is_some();
                let keeps = if both {
                    " (one_setting = true keeps the offset of the bore against the outside)"
                } else {
                    ""
                };
                assumed.push(format!(
                    "off-centre part of the readings: a matter of setting up, left out{keeps}"
                ));
            }
        }
    }
}

/// How a surface is called in messages.
const fn named(surface: Surface) -> &'static str {
    match surface {
        Surface::Outer => "the outside",
        Surface::Bore => "the bore",
    }
}

fn is_word(item: &Item, word: &str) -> bool {
    matches!(item.value.get_ref(), DeValue::String(s) if s == word)
}

/// Gives the lobes measured on one surface to the other, of which nothing is known: a wall that is bent as a whole keeps its
/// thickness. Sizes stay the drawing's. Lobes that the case gives the other surface are its own, and it follows nothing.
fn follow(stock: &mut PerSurface<StockOutline>, measured: Surface, assumed: &mut Vec<String>) {
    let other = measured.other();
    if !stock.get(other).lobes.is_empty() {
        return;
    }
    let mut lobes = stock.get(measured).measured.clone();
    if let Some(size) = lobes.first_mut() {
        *size = [0.0; 2];
    }
    stock.get_mut(other).measured = lobes;
    assumed.push(format!(
        "{0} not measured: its lobes are those of {1}, as of a bent wall of even thickness ({2} = \"{ROUND}\" makes {0} round)",
        named(other),
        named(measured),
        other.name()
    ));
}

/// One surface: `"file.csv"`, or a table with the file or the readings themselves.
fn curve<'a>(
    reader: &mut Reader<'a>,
    item: &Item<'a>,
    surface: Surface,
    nominal: f64,
) -> Option<Curve> {
    let plain = Format {
        plain: match reader.findings.system {
            UnitSystem::Millimetre => LengthUnit::Millimetre,
            UnitSystem::Inch => LengthUnit::Inch,
        },
        ..Format::default()
    };
    let Source {
        name,
        readings,
        format,
        on,
        in_a_file,
    } = source(reader, item, surface, plain)?;
    let recovered = match invert(&readings, on, format.lobes) {
        Ok(recovered) => recovered,
        Err(e) => {
            reader.wrong(item, e.to_string());
            return None;
        }
    };
    let size = match (on, readings.kind()) {
        (_, ReadingKind::Deviations) => None,
        (Gauge::Radius, _) => Some(recovered.constant),
        _ => Some(0.5 * recovered.constant),
    };
    if let Some(size) = size.filter(|s| (s - nominal).abs() > NEAR * nominal) {
        let (size, nominal) = (
            reader.findings.length(2.0 * size),
            reader.findings.length(2.0 * nominal),
        );
        reader.wrong(
            item,
            format!(
                "the readings make the {} {size} across, the drawing {nominal}: mixed units, or radii and diameters?",
                surface.name()
            ),
        );
        return None;
    }
    let cautions = readings
        .cautions()
        .iter()
        .map(|c| format!("{name}: {c}"))
        .collect();
    let (terms, centre) = terms(&readings, &recovered, on, nominal);
    let file = reader.folder.filter(|_| in_a_file).map(|f| f.join(&name));
    Some(Curve {
        terms,
        centre,
        stock: MeasuredStock {
            source: name,
            file,
            readings: readings.len(),
            gauge: on,
            lobes: recovered.limit,
            unseen: recovered
                .unseen
                .iter()
                .copied()
                .filter(|&n| n > 1)
                .collect(),
            uncertainty: recovered.profile_uncertainty.map(|[rms, _]| rms),
        },
        cautions,
    })
}

/// Terms of the deviation from the nominal circle, and the centre. Radii about an axis are taken about their own centre first, by
/// true distances: being off centre by `e` looks like a second lobe of `e^2 / 4R`.
fn terms(
    readings: &Readings,
    recovered: &Recovered,
    on: Gauge,
    nominal: f64,
) -> (Vec<[f64; 2]>, Option<[f64; 2]>) {
    let of_lobes = || {
        let mut terms = vec![[0.0; 2]; recovered.limit as usize + 1];
        for lobe in recovered.lobes.iter().filter(|l| l.count > 1) {
            terms[lobe.count as usize] = lobe.harmonic().terms();
        }
        terms
    };
    let about = match readings.kind() {
        ReadingKind::Radii => None,
        _ => Some(nominal),
    };
    let profile = (on == Gauge::Radius)
        .then(|| readings.profile(about).ok())
        .flatten();
    let Some(profile) = profile else {
        let mut terms = of_lobes();
        if readings.kind() == ReadingKind::Diameters {
            terms[0][0] = 0.5 * recovered.constant - nominal;
        }
        return (terms, None);
    };
    let profile = profile.profile();
    let circle = least_squares_circle(&profile);
    let mut terms = vec![[circle.radius - nominal, 0.0], [0.0, 0.0]];
    let lobes = harmonics(&profile, circle.centre, recovered.limit);
    terms.extend(lobes.iter().skip(1).map(|h| h.terms()));
    (terms, Some(circle.centre))
}
