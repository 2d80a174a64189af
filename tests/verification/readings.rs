//! Readings as typed: how they may be written, what is refused with which line, and what a trace says of the part.

use std::f64::consts::TAU;
use std::io::{BufReader, Read};

use ringwright_solver::case;
use ringwright_solver::metrology::inversion::{InversionError, invert, most_lobes, smooth};
use ringwright_solver::metrology::readings::{
    Fault, Format, LengthUnit, MOST, ReadingKind, Readings,
};
use ringwright_solver::metrology::{Curve, Gauge, Profile, Vee, harmonics};
use ringwright_tests::files;
use ringwright_tests::random::Random;

const DEVIATIONS: Format = Format {
    kind: ReadingKind::Deviations,
    unit: None,
    plain: LengthUnit::Millimetre,
    zero_at_deg: 0.0,
    clockwise: false,
    keep_jumps: false,
    lobes: None,
    repeats: 1,
};

const RADII: Format = Format {
    kind: ReadingKind::Radii,
    ..DEVIATIONS
};

fn read(text: &str, format: &Format) -> Readings {
    Readings::parse(text, format).unwrap_or_else(|e| panic!("{text}: {e}"))
}

fn degrees(readings: &Readings) -> Vec<f64> {
    let angles = readings.angles().iter();
    angles
        .map(|a| (a.to_degrees() * 1e6).round() / 1e6)
        .collect()
}

/// A table in the form that the reader documents (`angle_deg` and one column of readings), one row a reading.
fn table(column: &str, points: usize, value: impl Fn(f64) -> f64) -> String {
    let mut text = format!("angle_deg,{column}\n");
    for k in 0..points {
        let degrees = 360.0 * k as f64 / points as f64;
        text += &format!("{degrees},{}\n", value(degrees.to_radians()));
    }
    text
}

/// Truth: invariance
#[test]
fn one_list_written_in_many_ways() {
    for text in [
        "0:+0.4 90:-0.1 180:-0.9 270:.2",
        "0:0.4, 90:-0.1, 180:-0.9, 270:0.2",
        "0:0.4,90:-0.1,180:-0.9,270:0.2",
        "0 : 0.4; 90 :-0.1; 180: -0.9; 270:0.2",
        "0:0,4; 90:-0,1; 180:-0,9; 270:0,2",
        "270:0.2\n180:-0.9\n90:-0.1\n0:+0.4",
        "0.4 -0.1 -0.9 0.2",
        "0.4, -0.1, -0.9, 0.2",
        "0.4,-0.1,-0.9,0.2",
        "0,4; -0,1; -0,9; 0,2",
        "0.4 -0.1 -0.9\n0.2 # and round again",
        "0.4\n-0.1\n-0.9\n0.2\n",
        "0,4;\n-0,1;\n-0,9;\n0,2;\n",
        "0 0.4\n90 -0.1\n180 -0.9\n270 0.2",
        "0,0.4\n90,-0.1\n180,-0.9\n270,0.2\n",
        "0;0,4\r\n90;-0,1\r\n\r\n180;-0,9\r\n270;0,2\r\n",
        "angle_deg,deviation_mm\n0,0.4\n90,-0.1\n180,-0.9\n270,0.2\n",
        "\u{feff}# ring 7\nangle_deg,deviation_mm # as found\n0,0.4\n\n90,-0.1\n180,-0.9\n270,0.2",
        "Angle (deg);Deviation [mm]\n0;0,4\n90;-0,1\n180;-0,9\n270;0,2",
        "deviation_um\tangle_deg\n400\t0\n-100\t90\n-900\t180\n200\t270",
        "point,angle,deviation\n1,0,0.4\n2,90,-0.1\n3,180,-0.9\n4,270,0.2",
        "deviation_mm\n0.4\n-0.1\n-0.9\n0.2",
        "\"angle_deg\",\"reading_mm\"\n\"0\",\"0.4\"\n\"90\",\"\u{2212}0.1\"\n\"180\",\"-0.9\"\n\"270\",\"0.2\"",
        "angle_rad,deviation_mm\n0,0.4\n1.5707963267948966,-0.1\n3.141592653589793,-0.9\n4.71238898038469,0.2",
    ] {
        let readings = read(text, &DEVIATIONS);
        assert_eq!(degrees(&readings), [0.0, 90.0, 180.0, 270.0], "{text}");
        for (found, want) in readings.values().iter().zip([0.4, -0.1, -0.9, 0.2]) {
            assert!((found - want).abs() < 1e-15, "{text}: {found}");
        }
        assert_eq!(readings.kind(), ReadingKind::Deviations, "{text}");
    }
}

/// Truth: analytical; by construction of the input
#[test]
fn readings_remember_their_lines() {
    let readings = read("# three\n270:3\n\n90:1 180:2\n0:0", &DEVIATIONS);
    assert_eq!(readings.lines(), [5, 4, 4, 2]);
    assert_eq!(readings.values(), [0.0, 1.0, 2.0, 3.0]);
}

/// Exact by definition: 1 in = 25.4 mm (NIST SP 811, appendix B).
/// Truth: published; what an inch is
#[test]
fn units_of_the_trade() {
    for (column, option, typed, mm) in [
        ("radius_in", None, 2.0, 50.8),
        ("radius_mm", None, 50.0, 50.0),
        ("radius", Some(LengthUnit::Inch), 2.0, 50.8),
        ("radius", None, 2.0, 2.0),
        ("deviation_thou", None, 5.0, 0.127),
        ("deviation_um", None, 5.0, 0.005),
        ("deviation_\u{b5}m", None, 5.0, 0.005),
        ("deviation_in", Some(LengthUnit::Inch), 0.001, 0.0254),
        ("diameter_in", None, 4.0, 101.6),
    ] {
        let text = format!("angle_deg,{column}\n0,{typed}\n120,{typed}\n240,{typed}\n");
        let format = Format {
            unit: option,
            ..RADII
        };
        let found = read(&text, &format).values()[1];
        assert!((found - mm).abs() < 1e-14, "{column}: {found}");
    }
}

/// Truth: analytical; by construction of the input
#[test]
fn zero_mark_and_direction_turn_the_readings() {
    let text = "0:1 90:2 180:3 270:4";
    let turned = |zero_at_deg, clockwise| {
        let format = Format {
            zero_at_deg,
            clockwise,
            ..DEVIATIONS
        };
        let r = read(text, &format);
        (degrees(&r), r.values().to_vec())
    };
    let square = vec![0.0, 90.0, 180.0, 270.0];
    assert_eq!(
        turned(90.0, false),
        (square.clone(), vec![4.0, 1.0, 2.0, 3.0])
    );
    assert_eq!(
        turned(-270.0, false),
        (square.clone(), vec![4.0, 1.0, 2.0, 3.0])
    );
    assert_eq!(
        turned(0.0, true),
        (square.clone(), vec![1.0, 4.0, 3.0, 2.0])
    );
    assert_eq!(turned(90.0, true), (square, vec![2.0, 1.0, 4.0, 3.0]));
    assert_eq!(turned(10.0, false).0, [10.0, 100.0, 190.0, 280.0]);
    // the list without angles goes the same way
    let format = Format {
        clockwise: true,
        ..DEVIATIONS
    };
    assert_eq!(read("1 2 3 4", &format).values(), [1.0, 4.0, 3.0, 2.0]);
}

/// Truth: invariance; two ways to one profile
#[test]
fn readings_lend_a_profile() {
    let height = |t: f64| 60.0 + 0.01 * (3.0 * t - 0.5).cos() + 0.002 * t.sin();
    let text = table("radius_mm", 72, height);
    let radii = read(&text, &RADII);
    let own = radii.profile(None).unwrap();
    // evenly spaced from the zero mark: the same bits as the profile made directly
    let direct: Vec<f64> = radii.values().to_vec();
    let lobes = |profile: &Profile| harmonics(profile, [0.0, 0.0], 10);
    assert_eq!(lobes(&own.profile()), lobes(&Profile::equal(&direct)));
    // deviations lie about the radius asked for
    let text = table("deviation_um", 72, |t| 1000.0 * (height(t) - 59.5));
    let deviations = read(&text, &RADII);
    let measured = deviations.profile(Some(80.0)).unwrap();
    let mean = measured.profile().radii().iter().sum::<f64>() / 72.0;
    assert!((mean - 80.0).abs() < 1e-13);
    let found = lobes(&measured.profile());
    assert!((found[2].amplitude - 0.01).abs() < 1e-12, "{:?}", found[2]);
    let fault = |r: &Readings, radius| r.profile(radius).unwrap_err().fault;
    assert_eq!(fault(&deviations, None), Fault::NoRadius);
    assert!(matches!(
        fault(&deviations, Some(0.001)),
        Fault::SmallRadius { .. }
    ));
    assert!(matches!(
        fault(&deviations, Some(f64::NAN)),
        Fault::SmallRadius { .. }
    ));
    assert!(matches!(
        fault(&radii, Some(60.0)),
        Fault::RadiusNotWanted { .. }
    ));
    let diameters = read("diameter_mm\n120\n120.1\n120", &RADII);
    assert_eq!(fault(&diameters, None), Fault::Diameters);
}

/// Truth: analytical; by construction of the input
#[test]
fn what_is_wrong_is_told_with_its_line() {
    let many = |row: &str| format!("angle_deg,radius_mm\n0,60\n90,60.01\n{row}\n270,60\n");
    for (text, line, column, says) in [
        (String::new(), 0, 0, "no readings"),
        ("\n# nothing\n  \n".into(), 0, 0, "no readings"),
        ("angle_deg,radius_mm\n".into(), 0, 0, "no readings"),
        (";\t\n,,\n".into(), 0, 0, "no readings"),
        (many("180,abc"), 4, 5, "\"abc\" is not a number"),
        (many("180,"), 4, 0, "1 values in this row, 2 expected"),
        (many(",60"), 4, 1, "value is missing"),
        (many("180,nan"), 4, 5, "not a finite number"),
        (many("180,-inf"), 4, 5, "not a finite number"),
        (many("180,1e400"), 4, 5, "not a finite number"),
        (many("180,60,01"), 4, 0, "semicolons"),
        (many("180;60"), 4, 0, "1 values"),
        (many("180,60.01 mm"), 4, 5, "carries a unit of its own"),
        (many("180,2.3626in"), 4, 5, "radius_in"),
        (many("180,-0.4"), 4, 5, "deviation_mm"),
        (many("180,0"), 4, 5, "not above zero"),
        (many("180,1e9"), 4, 5, "kilometre"),
        (many("1800,60"), 4, 1, "-360 to 720"),
        (many("90,60"), 4, 0, "90 deg was read before, in line 3"),
        (many("450,60"), 4, 0, "450 deg was read before, in line 3"),
        (many("180,2.3622"), 4, 0, "mixed units, mm and in"),
        (many("180,60010"), 4, 0, "mixed units"),
        (many("180,2362.2"), 4, 0, "mixed units"),
        (many("180,6.001"), 4, 0, "decimal point"),
        (
            "angle_deg,radius_mm\n0,60\n120,60\n".into(),
            0,
            0,
            "2 readings are too few",
        ),
        ("0:1".into(), 0, 0, "1 readings are too few"),
        (
            "angle_deg,radius_mm\n0,60\n60,60\n120,60\n170,61\n".into(),
            5,
            0,
            "from 170 to 0 deg",
        ),
        (
            "angel_deg,radius_mm\n0,60\n".into(),
            1,
            1,
            "\"angel_deg\" is no column",
        ),
        (
            "angle_deg,radious_mm\n0,60\n".into(),
            1,
            11,
            "\"radious_mm\" is no column",
        ),
        ("angle_deg\n0\n".into(), 1, 1, "names no column of readings"),
        ("ring seven\n0,60\n".into(), 1, 1, "\"ring\" is no column"),
        (
            "angle_deg,radius_furlong\n0,60\n".into(),
            1,
            11,
            "unknown unit \"furlong\"",
        ),
        (
            "angle_deg,deviation_tenths\n0,4\n".into(),
            1,
            11,
            "means two things",
        ),
        (
            "angle_deg,deviation_mil\n0,4\n".into(),
            1,
            11,
            "means two things",
        ),
        (
            "radius_mm,deviation_mm\n60,4\n".into(),
            1,
            11,
            "two columns of readings",
        ),
        (
            "angle_deg,angle_rad,radius_mm\n".into(),
            1,
            11,
            "two columns of angles",
        ),
        ("60,01\n60,02\n60,00\n".into(), 3, 4, "semicolons"),
        ("60,01\n60,01\n60,03\n".into(), 2, 0, "semicolons"),
        (
            "0 60,01\n120 60,02\n240 60,00\n".into(),
            1,
            5,
            "decimal comma",
        ),
        ("60,01 60,02 60,00".into(), 1, 3, "decimal comma"),
        ("0:60,01 120:60,02".into(), 1, 6, "no pair"),
        ("0:60.01 120 240:60".into(), 1, 9, "no pair"),
        ("0:60.01 120:60:5".into(), 1, 9, "no pair"),
        ("0:60.01 120:".into(), 1, 9, "no pair"),
        ("0:60.01 : 120:60".into(), 1, 9, "no pair"),
        (
            "60.01 60.02 sixty".into(),
            1,
            13,
            "\"sixty\" is not a number",
        ),
        (
            "60\n60\n60 61\n".into(),
            3,
            0,
            "2 values in this row, 1 expected",
        ),
        (
            "0 60\n120 60\n240\n".into(),
            3,
            0,
            "1 values in this row, 2 expected",
        ),
        ("60 60\u{0}60".into(), 1, 6, "control character"),
    ] {
        let e = Readings::parse(&text, &RADII).expect_err(&text);
        assert_eq!((e.line, e.column), (line, column), "{text:?}: {e}");
        assert!(e.to_string().contains(says), "{text:?}: {e}");
    }
}

/// Truth: analytical; by construction of the input
#[test]
fn bytes_that_are_no_text() {
    for (bytes, line, says) in [
        (&b"angle_deg,radius_mm\n0,60\n90,\xff\n"[..], 3, "UTF-8"),
        (&b"\xff\xfea\x00n\x00"[..], 1, "UTF-16"),
        (&b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"[..], 1, "UTF-8"),
        (&b"\x7fELF\x02\x01\x01\0"[..], 1, "control character"),
    ] {
        let e = Readings::read(bytes, &RADII).unwrap_err();
        assert_eq!(e.line, line, "{e}");
        assert!(e.to_string().contains(says), "{e}");
    }
}

/// Truth: analytical; by construction of the input
#[test]
fn header_and_options_must_agree() {
    let format = Format {
        unit: Some(LengthUnit::Thou),
        ..RADII
    };
    let e = Readings::parse("angle_deg,radius_mm\n0,60\n", &format).unwrap_err();
    assert_eq!(e.line, 1);
    assert!(
        e.to_string().contains("the header says mm, but thou"),
        "{e}"
    );
}

/// Truth: analytical; as many unknowns as readings
#[test]
fn lobes_asked_for_need_their_readings() {
    let format = |lobes, repeats| Format {
        lobes: Some(lobes),
        repeats,
        ..DEVIATIONS
    };
    let twelve = "0 1 2 1 0 1 2 1 0 1 2 1";
    assert!(Readings::parse(twelve, &format(5, 1)).is_ok());
    let e = Readings::parse(twelve, &format(6, 1)).unwrap_err();
    assert_eq!(
        e.to_string(),
        "12 readings are too few for 6 lobes: at least 13 are needed"
    );
    // a diameter repeats after half a turn, so ten lobes are five to it
    assert!(Readings::parse(twelve, &format(10, 2)).is_ok());
}

/// A stream without end that counts what is taken from it.
struct Endless {
    line: &'static [u8],
    taken: usize,
}

impl Read for Endless {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        for byte in buffer.iter_mut() {
            *byte = self.line[self.taken % self.line.len()];
            self.taken += 1;
        }
        Ok(buffer.len())
    }
}

/// Truth: analytical; by construction of the input
#[test]
fn ten_million_readings_say_the_limit_soon() {
    for (line, most) in [
        (&b"60.01\n"[..], 7 * MOST),
        (&b"60.01 "[..], 6 * MOST),
        (&b"6"[..], 8_000_000),
    ] {
        let mut stream = Endless { line, taken: 0 };
        let e = Readings::read(BufReader::new(&mut stream), &RADII).unwrap_err();
        let says = e.to_string();
        assert!(
            says.contains("100000") || says.contains("longer than"),
            "{says}"
        );
        // a line without end is taken up to its limit
        assert!(stream.taken < most.max(8_000_000), "{}", stream.taken);
    }
    let stream = Endless {
        line: b"60.01\n",
        taken: 0,
    };
    let readings = Readings::read(BufReader::new(stream.take(6 * MOST as u64)), &RADII).unwrap();
    assert_eq!(readings.len(), MOST);
}

/// Truth: analytical; by construction of the input
#[test]
fn a_closing_reading_is_left_out_if_the_turn_closes() {
    let list = |last: &str| format!("0:0.4 90:-0.1 180:-0.9 270:0.2 360:{last}");
    for last in ["0.4", "0.3", "0.5"] {
        let readings = read(&list(last), &DEVIATIONS);
        assert_eq!((readings.len(), readings.values()[0]), (4, 0.4), "{last}");
        assert!(readings.cautions()[0].contains("closing reading at 360 deg (line 1)"));
    }
    let e = Readings::parse(&list("1.2"), &DEVIATIONS).unwrap_err();
    assert!(
        e.to_string()
            .contains("does not close: 360 deg reads 1.2 mm here and 0.4 mm"),
        "{e}"
    );
    // the place counts, not how it is written
    let readings = read("-90:1\n0:2\n90:3\n180:4\n270:1", &DEVIATIONS);
    assert_eq!((readings.len(), readings.lines()), (4, &[2, 3, 4, 1][..]));
    let e = Readings::parse("0:1 90:2 180:3 180:3 270:4", &DEVIATIONS).unwrap_err();
    assert!(e.to_string().contains("180 deg was read before"), "{e}");
}

/// Truth: analytical; by construction of the input
#[test]
fn missing_places_are_named() {
    let lobed = |t: f64| 60.0 + 0.01 * (2.0 * t).cos();
    let text = table("radius_mm", 36, lobed);
    assert!(read(&text, &RADII).cautions().is_empty());
    let without: String = text
        .lines()
        .filter(|l| !l.starts_with("110,") && !l.starts_with("120,"))
        .map(|l| format!("{l}\n"))
        .collect();
    let readings = read(&without, &RADII);
    assert_eq!(
        readings.cautions(),
        [
            "Nothing was read from 100 to 130 deg, elsewhere every 10 deg: lobes above 6 per revolution are not held there."
        ]
    );
    // diameters over half a turn are all there are
    let half = "0:1 30:2 60:1 90:0 120:0 150:1";
    assert!(Readings::parse(half, &DEVIATIONS).is_err());
    let format = Format {
        repeats: 2,
        ..DEVIATIONS
    };
    assert!(read(half, &format).cautions().is_empty());
}

/// What a part or its maker may do without being taken for a slip of the pen.
/// Truth: analytical; by construction of the input
#[test]
fn real_shapes_are_not_refused() {
    let mut random = Random::new(7);
    let noise: Vec<f64> = (0..3600).map(|_| random.between(-5e-4, 5e-4)).collect();
    let noise = |t: f64| noise[(t / TAU * 3600.0).round() as usize % 3600];
    let shapes: [(&str, &dyn Fn(f64) -> f64); 7] = [
        ("three lobes", &|t| 0.01 * (3.0 * t).cos()),
        ("lobes and noise", &|t| 0.01 * (2.0 * t).cos() + noise(t)),
        ("low spots that a tool left", &|t| {
            0.05 * (3.0 * t).cos().min(-0.8)
        }),
        ("a step", &|t| if t < 1.0 { 0.03 } else { noise(t) }),
        ("a kink", &|t| 0.05 * (0.5 * t).sin().abs()),
        ("two jaw marks", &|t| 0.02 * t.cos().powi(60)),
        ("perfectly round", &|_| 0.0),
    ];
    for (name, shape) in shapes {
        for points in [12, 36, 72, 360, 3600] {
            let text = table("radius_mm", points, |t| 60.0 + shape(t));
            let readings = Readings::parse(&text, &RADII);
            assert!(readings.is_ok(), "{name}, {points}: {:?}", readings.err());
        }
    }
    // a deep low spot, as soon as two readings lie in it
    for points in [72, 360, 3600] {
        let low = |t: f64| (t - 1.05).abs() < 0.1;
        let text = table("radius_mm", points, |t| {
            if low(t) { 59.8 } else { 60.0 + noise(t) }
        });
        read(&text, &RADII);
    }
    // an indicator that moves by one mark; a centre far from the origin of the readings
    read("0 0 0 0 1 0 0 0 0 0 0 0", &DEVIATIONS);
    read(&table("radius_mm", 36, |t| 60.0 + 55.0 * t.cos()), &RADII);
}

/// Truth: analytical; by construction of the input
#[test]
fn a_reading_that_jumps_is_refused_with_its_line() {
    let lobed = |t: f64| 60.0 + 0.02 * (3.0 * t).cos() + 0.005 * (2.0 * t + 1.0).cos();
    for points in [12, 36, 72, 360] {
        let good = table("radius_mm", points, lobed);
        let line = points / 2 + 2;
        for slip in ["60.5", "59.1", "66.01", "61"] {
            let row = good.lines().nth(line - 1).unwrap();
            let (angle, _) = row.split_once(',').unwrap();
            let bad = good.replace(&format!("\n{row}\n"), &format!("\n{angle},{slip}\n"));
            let e = Readings::parse(&bad, &RADII).unwrap_err();
            assert_eq!(e.line, line, "{points} {slip}: {e}");
            let words = format!("{slip} mm at {angle} deg is an outlier: ");
            assert!(e.to_string().contains(&words), "{e}");
            let format = Format {
                keep_jumps: true,
                ..RADII
            };
            let kept = read(&bad, &format);
            assert!(
                kept.cautions()[0].contains(&format!("in line {line}")),
                "{:?}",
                kept.cautions()
            );
        }
    }
    // a decimal point lost in a typed list
    let e = Readings::parse(
        "0.4 -0.1\n-9 -0.3 0.3 0.4\n0.1 -0.2 -0.5 0.0 0.2 0.4"
            .replacen("0.4 -0.1\n", "0.4 -0.1 -0.3\n", 1)
            .as_str(),
        &DEVIATIONS,
    )
    .unwrap_err();
    assert_eq!(e.line, 2, "{e}");
    // a lost sign lies among the others: worth a word, no more
    let fine = table("deviation_mm", 72, |t| 0.8 * (2.0 * t).cos());
    let slip = fine.replace("\n90,-0.8\n", "\n90,0.8\n");
    assert_ne!(fine, slip);
    let readings = read(&slip, &DEVIATIONS);
    assert!(
        readings.cautions()[0].contains("0.8 mm in line 20"),
        "{:?}",
        readings.cautions()
    );
    assert!(read(&fine, &DEVIATIONS).cautions().is_empty());
}

// From here on: what a trace says of the part.

/// Standard normal noise: the sum of twelve even ones.
fn normal(random: &mut Random) -> f64 {
    (0..12).map(|_| random.between(-0.5, 0.5)).sum()
}

/// A profile's lobes: count, amplitude (mm), angle of a crest (degrees).
const PART: &[(u32, f64, f64)] = &[
    (2, 0.008, 20.0),
    (3, 0.012, 50.0),
    (4, 0.003, 0.0),
    (5, 0.004, 11.0),
    (6, 0.002, 33.0),
    (7, 0.003, 2.0),
    (9, 0.001, 5.0),
];

/// The factor of published tables, real, on the bisector: `1 + cos(n (90 + a / 2)) / sin(a / 2)` at the summit,
/// `1 - cos(n (90 - a / 2)) / sin(a / 2)` between the flanks, `1 + cos(180 n)` for a diameter (derived; ISO 4292:1985 tabulates such factors; its table was not read).
fn factor(gauge: Gauge, count: u32) -> f64 {
    let n = f64::from(count);
    match gauge {
        Gauge::Radius => 1.0,
        Gauge::TwoPoint | Gauge::Plate => 1.0 + (n * 180_f64.to_radians()).cos(),
        Gauge::ThreePoint => 2.0 / 3.0 * (1.0 + 2.0 * (n * 120_f64.to_radians()).cos()),
        Gauge::Vee(vee) => {
            let half = 0.5 * vee.included_angle_deg.to_radians();
            let quarter = 90_f64.to_radians();
            if vee.indicator_deg == 0.0 {
                1.0 + (n * (quarter + half)).cos() / half.sin()
            } else {
                1.0 - (n * (quarter - half)).cos() / half.sin()
            }
        }
    }
}

fn trace(gauge: Gauge, angle: f64) -> f64 {
    let lobe = |&(n, amplitude, crest): &(u32, f64, f64)| {
        let phase = f64::from(n) * (angle - crest.to_radians());
        factor(gauge, n) * amplitude * phase.cos()
    };
    PART.iter().map(lobe).sum()
}

/// Readings of a trace at `angles` (degrees) with noise of a standard deviation (mm).
fn readings(gauge: Gauge, angles: &[f64], sigma: f64, random: &mut Random) -> Readings {
    let text: String = angles
        .iter()
        .map(|a| {
            let reading = 0.7 + trace(gauge, a.to_radians()) + sigma * normal(random);
            format!("{a}:{reading}\n")
        })
        .collect();
    read(&text, &DEVIATIONS)
}

fn steps(count: usize) -> Vec<f64> {
    (0..count)
        .map(|k| 360.0 * k as f64 / count as f64)
        .collect()
}

fn on_bisectors() -> Vec<Gauge> {
    let vees = [60.0, 72.0, 90.0, 108.0, 120.0];
    let mut gauges = vec![
        Gauge::Radius,
        Gauge::TwoPoint,
        Gauge::Plate,
        Gauge::ThreePoint,
    ];
    gauges.extend(vees.map(|a| Gauge::Vee(Vee::summit(a))));
    gauges.extend(vees.map(|a| Gauge::Vee(Vee::rider(a))));
    gauges
}

/// The part's lobe of a count as `[cosine, sine]`.
fn true_terms(count: u32) -> [f64; 2] {
    PART.iter()
        .find(|p| p.0 == count)
        .map_or([0.0, 0.0], |&(n, a, crest)| {
            let phase = f64::from(n) * crest.to_radians();
            [a * phase.cos(), a * phase.sin()]
        })
}

fn found_terms(lobe: &ringwright_solver::metrology::inversion::SeenLobe) -> [f64; 2] {
    let phase = f64::from(lobe.count) * lobe.angle_deg.to_radians();
    [lobe.amplitude * phase.cos(), lobe.amplitude * phase.sin()]
}

fn apart(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// Truth: analytical; by construction of the input
#[test]
fn without_noise_every_seen_lobe_comes_back() {
    // uneven: 40 places with a gap of 20 degrees
    let uneven: Vec<f64> = (0..40)
        .map(|k| 8.5 * f64::from(k) + f64::from(k * 7 % 5))
        .collect();
    for gauge in on_bisectors() {
        for angles in [steps(72), steps(25), uneven.clone()] {
            let readings = readings(gauge, &angles, 0.0, &mut Random::new(1));
            let found = invert(&readings, gauge, Some(10)).unwrap();
            let first = if gauge == Gauge::Radius { 1 } else { 2 };
            let seen: Vec<u32> = (first..=10)
                .filter(|&n| factor(gauge, n).abs() >= 0.2)
                .collect();
            let counts: Vec<u32> = found.lobes.iter().map(|l| l.count).collect();
            assert_eq!(counts, seen, "{gauge:?}");
            let unseen: Vec<u32> = (1..=10).filter(|n| !seen.contains(n)).collect();
            assert_eq!(found.unseen, unseen, "{gauge:?}");
            for lobe in &found.lobes {
                let wrong = apart(found_terms(lobe), true_terms(lobe.count));
                assert!(wrong < 1e-12, "{gauge:?} {lobe:?}: {wrong}");
                assert!((lobe.factor - factor(gauge, lobe.count).abs()).abs() < 1e-12);
            }
            assert!(found.noise.unwrap() < 1e-12, "{gauge:?}");
        }
    }
}

/// Over many turns the error of a lobe is as large as was said: the square of its distance from the truth averages twice the square of
/// the standard error, one for each of its two terms.
/// Truth: analytical; by construction of the input
#[test]
fn with_noise_the_stated_uncertainty_holds() {
    let sigma = 0.002;
    let mut random = Random::new(11);
    let uneven: Vec<f64> = (0..40)
        .map(|k| 8.5 * f64::from(k) + f64::from(k * 7 % 5))
        .collect();
    for gauge in on_bisectors() {
        for (angles, even) in [(steps(72), true), (uneven.clone(), false)] {
            let (mut squares, mut lobes, mut noise) = (0.0, 0, 0.0);
            let turns = 60;
            for _ in 0..turns {
                let readings = readings(gauge, &angles, sigma, &mut random);
                let found = invert(&readings, gauge, Some(10)).unwrap();
                noise += found.noise.unwrap().powi(2) / f64::from(turns);
                for lobe in &found.lobes {
                    let said = lobe.uncertainty.unwrap();
                    let wrong = apart(found_terms(lobe), true_terms(lobe.count));
                    assert!(wrong < 5.5 * said, "{gauge:?} {lobe:?}: {wrong}");
                    squares += (wrong / said).powi(2);
                    lobes += 1;
                    if even {
                        let plain = found.noise.unwrap() * (2.0 / 72_f64).sqrt() / lobe.factor;
                        assert!((said / plain - 1.0).abs() < 1e-9, "{gauge:?} {lobe:?}");
                    }
                }
            }
            // two or more lobes in 60 turns: the mean of their squares scatters by a tenth or so; in uneven angles the worst phase is
            // said, so the mean stays below
            let mean = squares / f64::from(lobes);
            let low = if even { 1.5 } else { 0.8 };
            assert!((low..2.6).contains(&mean), "{gauge:?} {even}: {mean}");
            assert!(
                (noise.sqrt() / sigma - 1.0).abs() < 0.06,
                "{gauge:?}: {noise}"
            );
        }
    }
}

/// Truth: analytical; by construction of the input
#[test]
fn a_diameter_shows_even_lobes_and_half_a_turn_of_them_is_enough() {
    let half: Vec<f64> = (0..12).map(|k| 15.0 * f64::from(k)).collect();
    let text: String = half
        .iter()
        .map(|a| format!("{a}:{}\n", 120.0 + trace(Gauge::TwoPoint, a.to_radians())))
        .collect();
    let format = Format {
        kind: ReadingKind::Diameters,
        repeats: 2,
        ..DEVIATIONS
    };
    let readings = read(&text, &format);
    assert_eq!(most_lobes(&readings, Gauge::TwoPoint), 10);
    let found = invert(&readings, Gauge::TwoPoint, None).unwrap();
    assert_eq!(found.unseen, [1, 3, 5, 7, 9]);
    assert!((found.constant - 120.0).abs() < 1e-10);
    for lobe in &found.lobes {
        assert!(
            apart(found_terms(lobe), true_terms(lobe.count)) < 1e-10,
            "{lobe:?}"
        );
    }
}

/// Truth: analytical; by construction of the input
#[test]
fn a_smooth_curve_states_its_uncertainty() {
    let (sigma, lobes) = (0.001, 9);
    let mut random = Random::new(3);
    let (turns, n) = (200, 36);
    let (mut squares, mut said) = (0.0, 0.0);
    for _ in 0..turns {
        let readings = readings(Gauge::Radius, &steps(n), sigma, &mut random);
        let curve = smooth(&readings, lobes).unwrap();
        for k in 0..n {
            let t = TAU * k as f64 / n as f64;
            let wrong = curve.constant + curve.departure(t) - 0.7 - trace(Gauge::Radius, t);
            squares += wrong * wrong / (f64::from(turns) * n as f64);
        }
        let [mean, most] = curve.profile_uncertainty.unwrap();
        // even steps: the same all round, sigma sqrt((2 L + 1) / n)
        let plain = curve.noise.unwrap() * (f64::from(2 * lobes + 1) / n as f64).sqrt();
        assert!((mean / plain - 1.0).abs() < 1e-9 && (most / plain - 1.0).abs() < 1e-9);
        said += mean / f64::from(turns);
    }
    assert!(
        (squares.sqrt() / said - 1.0).abs() < 0.05,
        "{} {said}",
        squares.sqrt()
    );
    // where nothing was read the curve is less certain
    let gap: Vec<f64> = steps(72)
        .into_iter()
        .filter(|a| !(40.0..80.0).contains(a))
        .collect();
    let curve = smooth(&readings(Gauge::Radius, &gap, sigma, &mut random), 6).unwrap();
    let [mean, most] = curve.profile_uncertainty.unwrap();
    assert!(most > 1.5 * mean, "{mean} {most}");
}

/// Truth: analytical; by construction of the input
#[test]
fn traces_that_cannot_be_inverted() {
    let few = readings(Gauge::Radius, &steps(12), 0.0, &mut Random::new(1));
    let vee = Gauge::Vee(Vee::summit(90.0));
    assert_eq!(most_lobes(&few, vee), 5);
    assert_eq!(
        smooth(&few, 6),
        Err(InversionError::TooFew {
            found: 12,
            wanted: 13,
            lobes: 6
        })
    );
    assert_eq!(
        invert(&few, Gauge::TwoPoint, Some(1)),
        Err(InversionError::Blind { lobes: 1 })
    );
    assert_eq!(
        invert(&few, Gauge::ThreePoint, Some(2)),
        Err(InversionError::Blind { lobes: 2 })
    );
    let exact = smooth(
        &readings(Gauge::Radius, &steps(11), 0.0, &mut Random::new(1)),
        5,
    )
    .unwrap();
    assert_eq!((exact.noise, exact.profile_uncertainty), (None, None));
    // 21 readings, but all in the first half of the turn and one beyond it
    let mut bunched: Vec<f64> = (0..20).map(|k| 9.0 * f64::from(k)).collect();
    bunched.push(270.0);
    let bunched = readings(Gauge::Radius, &bunched, 0.0, &mut Random::new(1));
    assert_eq!(
        smooth(&bunched, 9),
        Err(InversionError::TooUneven { lobes: 9 })
    );
    assert!(most_lobes(&bunched, Gauge::Radius) <= 2);
}

/// Through the exact turning of a true profile: what is left is second order, lobe height squared over the radius.
/// Truth: analytical; by construction of the input
#[test]
fn exactly_turned_traces_come_back() {
    let radii: Vec<f64> = (0..3600)
        .map(|k| 60.0 + trace(Gauge::Radius, TAU * f64::from(k) / 3600.0))
        .collect();
    let curve = Curve::through(&Profile::equal(&radii)).unwrap();
    let mut gauges = on_bisectors();
    gauges.push(Gauge::Vee(Vee {
        included_angle_deg: 120.0,
        indicator_deg: 60.0,
    }));
    for gauge in gauges {
        let turned = gauge.trace(&curve).readings;
        let text: String = (0..72).map(|k| format!("{}\n", turned[50 * k])).collect();
        let found = invert(&read(&text, &DEVIATIONS), gauge, Some(10)).unwrap();
        for lobe in &found.lobes {
            let wrong = apart(found_terms(lobe), true_terms(lobe.count));
            assert!(wrong < 1.2e-4, "{gauge:?} {lobe:?}: {wrong}");
        }
    }
}

/// `[part.readings]`: sizes, jumps and the two settings of a case arrive, and what is left out is said.
/// Truth: analytical; by construction of the input
#[test]
fn a_case_takes_measured_stock() {
    let try_case = |part: &str| {
        let ring = files::ring(47.0, 50.0, 200_000.0, 0.3, 20.0);
        let text = format!("{ring}{part}\n[[step]]\nhold = \"free\"\n");
        case::read(&text, &ringwright_plugins::registry())
    };
    let list = |of: &dyn Fn(u32) -> f64| {
        let typed: Vec<String> = (0..24)
            .map(|k| format!("{}:{:.4}", 15 * k, of(k)))
            .collect();
        typed.join(" ")
    };
    // 0.3 mm over the drawing's bore, by a two-point gauge and about an axis
    let wave = |k: u32| 0.02 * (TAU * f64::from(2 * k) / 24.0).cos();
    let diameters = list(&|k| 94.6 + 2.0 * wave(k));
    let by_diameters = format!(
        "[part.readings]\nbore = {{ readings = \"{diameters}\", gauge = {{ kind = \"two-point\" }}, reads = \"diameter\" }}"
    );
    let radii = list(&|k| 47.3 + wave(k));
    let by_radii = format!("[part.readings]\nbore = {{ readings = \"{radii}\" }}");
    for text in [&by_diameters, &by_radii] {
        let terms = try_case(text).unwrap().part.stock.bore.measured;
        assert!((terms[0][0] - 0.3).abs() < 1e-4, "{terms:?}");
        assert!((terms[2][0] - 0.02).abs() < 1e-4, "{terms:?}");
    }
    let left_out = |text: &str| {
        let assumed = try_case(text).unwrap().assumed;
        assumed.iter().any(|a| a.starts_with("off-centre part"))
    };
    assert!(left_out(&by_radii) && !left_out(&by_diameters));
    // read the other way round, and once more at the end
    let slanted =
        list(&|k| 47.0 + 0.02 * (TAU * f64::from(2 * k) / 24.0).sin() + 0.001 * f64::from(k % 3));
    let way = |more: &str| {
        let text = format!(
            "[part.readings]\nbore = {{ readings = \"{slanted} 360:47.0\", lobes = 4{more} }}"
        );
        try_case(&text).unwrap_or_else(|p| panic!("{p:?}"))
    };
    let (forth, back) = (way(""), way(", clockwise = true"));
    let sine = |case: &case::Case| case.part.stock.bore.measured[2][1];
    assert!((sine(&forth) - 0.02).abs() < 1e-3 && (sine(&back) + 0.02).abs() < 1e-3);
    let known = forth
        .part
        .measured
        .bore
        .as_ref()
        .unwrap()
        .uncertainty
        .unwrap();
    assert!(known > 1e-4 && known < 2e-3, "{known}");
    let words = format!("known to {:.1} um (one standard error)", 1e3 * known);
    for what in [&*words, "closing reading at 360 deg"] {
        assert!(
            forth.assumed.iter().any(|a| a.contains(what)),
            "{what}: {:?}",
            forth.assumed
        );
    }
    // a nick that shows in one reading: kept only when that is asked for
    let nicked = list(&|k| 47.0 + wave(k) - f64::from(u8::from(k == 7)));
    let with = |more: &str| {
        try_case(&format!(
            "[part.readings]\nbore = {{ readings = \"{nicked}\"{more} }}"
        ))
    };
    assert!(with("").err().unwrap()[0].message.contains("105"));
    assert!(with(", keep_jumps = true").is_ok());
    // an offset that is given twice
    let outer = list(&|k| 50.0 + wave(k));
    let twice = format!(
        "bore_offset = {{ distance = 0.1, angle = 90.0 }}\n[part.readings]\nouter = {{ readings = \"{outer}\" }}\n\
         bore = {{ readings = \"{radii}\" }}\none_setting = true"
    );
    let problems = try_case(&twice).err().unwrap();
    assert!(
        problems[0].message.contains("no bore_offset"),
        "{problems:?}"
    );
}

/// Truth: analytical; by construction of the input
#[test]
fn columns_that_are_not_used_are_said() {
    let text = "angle_deg,radius_mm,remark\n0,60.0,first\n120,60.1,second\n240,60.0,third\n";
    let readings = read(text, &RADII);
    assert_eq!(readings.values(), [60.0, 60.1, 60.0]);
    assert_eq!(readings.cautions(), ["Columns not used: remark."]);
}
