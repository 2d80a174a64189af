//! `profiles.csv`: every sampled radius of every state, for plotting and for other programs; `stations.csv`: the same of the sections of a
//! tube, degree by degree.

use super::ReportError;
use crate::geometry::Surface;
use crate::process::{Outcome, Radii, Station};

/// The first line.
pub(super) const HEADER: &str = "step,state,surface,angle_deg,radius_mm\n";
/// The first line of the table of stations.
pub(super) const STATIONS_HEADER: &str = "step,state,z_mm,surface,angle_deg,radius_mm\n";
/// Angles round a station, where that many are among those sampled.
const STATION_ANGLES: usize = 360;
/// Decimals of a radius: steps of 1e-10 mm, so what is read back is off by at most half of that.
const PLACES: u32 = 10;
/// Radii from here on (mm) would not fit the fixed-point number; no chuck takes them.
const TOO_LARGE: f64 = 1e8;

/// The table `step,state,surface,angle_deg,radius_mm`: steps from 1, states in the order stock, held, cut (if the
/// step cuts) and released, the outside before the bore. mm and degrees; `cut` is the distance from the spindle axis.
///
/// # Errors
/// [`ReportError::NotFinite`] if a radius is not a number that the table can hold.
pub fn profiles(outcome: &Outcome) -> Result<Vec<u8>, ReportError> {
    let points = outcome.steps.first().map_or(0, |s| s.stock.outer.len());
    // with the commas on both sides
    let angles: Vec<Vec<u8>> = (0..points).map(|k| angle(k, points)).collect();
    let mut out = Vec::with_capacity(64 + outcome.steps.len() * 8 * points * 40);
    out.extend_from_slice(HEADER.as_bytes());
    for (n, step) in outcome.steps.iter().enumerate() {
        let states: [(&str, Option<&Radii>); 4] = [
            ("stock", Some(&step.stock)),
            ("held", Some(&step.held.shape)),
            ("cut", step.cut.as_ref()),
            ("released", Some(&step.released)),
        ];
        for (state, radii) in states {
            let Some(radii) = radii else { continue };
            for surface in Surface::BOTH {
                let head = format!("{},{state},{}", n + 1, surface.name());
                for (k, &radius) in radii.get(surface).iter().enumerate() {
                    check(radius, n, state, surface)?;
                    out.extend_from_slice(head.as_bytes());
                    match angles.get(k) {
                        Some(text) => out.extend_from_slice(text),
                        None => out.extend_from_slice(&angle(k, radii.get(surface).len())),
                    }
                    push_fixed(&mut out, radius);
                }
            }
        }
    }
    Ok(out)
}

/// The table `step,state,z_mm,surface,angle_deg,radius_mm` of the stations of a tube: steps from 1, stations in their order, states as in
/// [`profiles`], the outside before the bore, a sample a degree; `None` for a case that has none. mm and degrees.
///
/// # Errors
/// [`ReportError::NotFinite`] if a radius is not a number that the table can hold.
pub fn stations(outcome: &Outcome) -> Result<Option<Vec<u8>>, ReportError> {
    if outcome.steps.iter().all(|s| s.tube.is_none()) {
        return Ok(None);
    }
    let mut out = STATIONS_HEADER.as_bytes().to_vec();
    for (n, step) in outcome.steps.iter().enumerate() {
        for station in step.tube.iter().flat_map(|t| &t.stations) {
            push_station(&mut out, n, station)?;
        }
    }
    Ok(Some(out))
}

fn push_station(out: &mut Vec<u8>, n: usize, station: &Station) -> Result<(), ReportError> {
    let states: [(&str, Option<&Radii>); 4] = [
        ("stock", Some(&station.stock)),
        ("held", Some(&station.held)),
        ("cut", station.cut.as_ref()),
        ("released", Some(&station.released)),
    ];
    for (state, radii) in states {
        let Some(radii) = radii else { continue };
        for surface in Surface::BOTH {
            let head = format!("{},{state},{:?},{}", n + 1, station.z + 0.0, surface.name());
            let radii = radii.get(surface);
            let every = match radii.len() % STATION_ANGLES {
                0 => (radii.len() / STATION_ANGLES).max(1),
                _ => 1,
            };
            for (k, &radius) in radii.iter().enumerate().step_by(every) {
                check(radius, n, state, surface)?;
                out.extend_from_slice(head.as_bytes());
                out.extend_from_slice(&angle(k, radii.len()));
                push_fixed(out, radius);
            }
        }
    }
    Ok(())
}

/// Refuses a radius that is not a number that a table can hold.
fn check(radius: f64, n: usize, state: &str, surface: Surface) -> Result<(), ReportError> {
    if radius.is_nan() || radius.abs() >= TOO_LARGE {
        return Err(ReportError::NotFinite {
            what: format!("radius of the {} ({state}, step {})", surface.name(), n + 1),
        });
    }
    Ok(())
}

/// Angle of sample `k` of `points`, degrees, in the shortest form that reads back exactly, between two commas.
fn angle(k: usize, points: usize) -> Vec<u8> {
    let angle = 360.0 * k as f64 / points as f64;
    let tenths = (10.0 * angle).round();
    if tenths / 10.0 != angle {
        return format!(",{angle:?},").into_bytes();
    }
    // nearly every angle is one of these, and the general formatter would take as long as the radii do
    let tenths = tenths as u32;
    let mut text = Vec::with_capacity(8);
    text.push(b',');
    for size in [1000, 100] {
        if tenths >= size {
            text.push(b'0' + (tenths / size % 10) as u8);
        }
    }
    let digits = [tenths / 10 % 10, tenths % 10].map(|d| b'0' + d as u8);
    text.extend([digits[0], b'.', digits[1], b',']);
    text
}

/// Appends `value` with [`PLACES`] decimals and a line break. Written by hand because the general formatter takes ten times as
/// long on a table of this size.
fn push_fixed(out: &mut Vec<u8>, value: f64) {
    const ONE: u64 = 10_u64.pow(PLACES);
    let scaled = (value.abs() * ONE as f64).round() as u64;
    if value < 0.0 && scaled > 0 {
        out.push(b'-');
    }
    // the point, ten decimals and the line break stand at the end, up to nine digits before them
    let mut digits = [b'0'; 24];
    let (mut whole, part) = ((scaled / ONE) as u32, scaled % ONE);
    let mut at = 12;
    loop {
        at -= 1;
        digits[at] = b'0' + (whole % 10) as u8;
        whole /= 10;
        if whole == 0 {
            break;
        }
    }
    digits[12] = b'.';
    // halves, since 32 bits are divided faster than 64
    for (half, to) in [((part / 100_000) as u32, 13), ((part % 100_000) as u32, 18)] {
        let mut rest = half;
        for place in digits[to..to + 5].iter_mut().rev() {
            *place = b'0' + (rest % 10) as u8;
            rest /= 10;
        }
    }
    digits[23] = b'\n';
    out.extend_from_slice(&digits[at..]);
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::sample::sample_outcome;
    use super::super::sample::tube::tube_outcome;
    use super::*;

    #[test]
    fn a_table_reads_back_to_half_a_step() {
        let outcome = sample_outcome();
        let text = String::from_utf8(profiles(&outcome).unwrap()).unwrap();
        let mut lines = text.lines();
        assert_eq!(
            lines.next().unwrap(),
            "step,state,surface,angle_deg,radius_mm"
        );
        let step = &outcome.steps[0];
        let cut = step.cut.as_ref().unwrap();
        let mut rows = 0;
        for (state, radii) in [
            ("stock", &step.stock),
            ("held", &step.held.shape),
            ("cut", cut),
            ("released", &step.released),
        ] {
            for surface in Surface::BOTH {
                for (k, &radius) in radii.get(surface).iter().enumerate() {
                    let cells: Vec<&str> = lines.next().unwrap().split(',').collect();
                    assert_eq!(&cells[..3], &["1", state, surface.name()]);
                    assert!((cells[3].parse::<f64>().unwrap() - 0.1 * k as f64).abs() < 1e-12);
                    assert!((cells[4].parse::<f64>().unwrap() - radius).abs() <= 0.6e-10);
                    rows += 1;
                }
            }
        }
        assert_eq!(rows, 8 * 3600);
        assert_eq!(lines.next(), None);
    }

    #[test]
    fn stations_read_back_degree_by_degree() {
        assert!(stations(&sample_outcome()).unwrap().is_none());
        let outcome = tube_outcome();
        let text = String::from_utf8(stations(&outcome).unwrap().unwrap()).unwrap();
        let mut lines = text.lines();
        assert_eq!(
            lines.next().unwrap(),
            "step,state,z_mm,surface,angle_deg,radius_mm"
        );
        for station in &outcome.steps[0].tube.as_ref().unwrap().stations {
            for (state, radii) in [
                ("stock", &station.stock),
                ("held", &station.held),
                ("cut", station.cut.as_ref().unwrap()),
                ("released", &station.released),
            ] {
                for surface in Surface::BOTH {
                    for degree in 0..360 {
                        let cells: Vec<&str> = lines.next().unwrap().split(',').collect();
                        assert_eq!(&cells[..2], &["1", state]);
                        assert_eq!(cells[2].parse::<f64>().unwrap(), station.z);
                        assert_eq!(cells[3], surface.name());
                        assert_eq!(cells[4].parse::<f64>().unwrap(), f64::from(degree));
                        let radius = radii.get(surface)[10 * degree as usize];
                        assert!((cells[5].parse::<f64>().unwrap() - radius).abs() <= 0.6e-10);
                    }
                }
            }
        }
        assert_eq!(lines.next(), None);
    }

    #[test]
    fn numbers_of_every_size_are_written_whole() {
        for (value, text) in [
            (0.0, "0.0000000000"),
            (-0.0, "0.0000000000"),
            (-1e-13, "0.0000000000"),
            (60.0, "60.0000000000"),
            (0.5e-9, "0.0000000005"),
            (57.123_456_789_1, "57.1234567891"),
            (-1.5, "-1.5000000000"),
            (99_999_999.5, "99999999.5000000000"),
        ] {
            let mut out = Vec::new();
            push_fixed(&mut out, value);
            assert_eq!(String::from_utf8(out).unwrap(), format!("{text}\n"));
        }
    }

    #[test]
    fn angles_are_written_as_the_general_formatter_writes_them() {
        for points in [7, 360, 720, 3600, 7200] {
            for k in 0..points {
                let general = format!(",{:?},", 360.0 * k as f64 / points as f64);
                assert_eq!(String::from_utf8(angle(k, points)).unwrap(), general);
            }
        }
    }

    #[test]
    fn a_radius_that_is_no_number_is_refused() {
        let mut outcome = sample_outcome();
        outcome.steps[0].released.bore[7] = f64::NAN;
        assert!(matches!(
            profiles(&outcome),
            Err(ReportError::NotFinite { .. })
        ));
    }
}
