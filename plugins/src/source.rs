//! Where the force of jaws comes from: a force, a torque on the chuck's key, a drawbar, a cylinder of air, or what the ring shows once it
//! is held.

use std::f64::consts::{FRAC_PI_4, TAU};

use ringwright_solver::grip::Band;
use ringwright_solver::scheme::{
    Need, Parameter, ParameterKind, SchemeError, SetBy, SetByKind, Supports, Values,
    number_in_words,
};

use crate::common::{self, wrong};

/// Keys of which a case gives one, where jaws are driven.
pub(crate) const GRIP: Need = Need {
    what: "the grip",
    keys: &[
        "force",
        "total_force",
        "travel",
        "key_torque",
        "drawbar_force",
        "air_pressure",
        "squeeze",
    ],
};

/// The same where all jaws get their force from one place.
const SOURCES: &[&str] = &[
    "force",
    "total_force",
    "key_torque",
    "drawbar_force",
    "air_pressure",
    "squeeze",
];

/// Share of the work at the key that comes out at the jaws of a scroll chuck: from memory, no source.
const SCROLL_EFFICIENCY: Band = Band::between(0.05, 0.15);

pub(crate) const KEY_TORQUE: Parameter = Parameter::uncertain(
    "key_torque",
    ParameterKind::Torque,
    "the torque on the chuck's key, instead of force (give scroll_lead and key_gear_ratio, or calibration_torque and calibration_force)",
);
pub(crate) const SCROLL_LEAD: Parameter = Parameter::optional(
    "scroll_lead",
    ParameterKind::Length,
    "how far a jaw moves in one turn of the scroll",
);
pub(crate) const KEY_GEAR_RATIO: Parameter = Parameter::optional(
    "key_gear_ratio",
    ParameterKind::Ratio,
    "turns of the key for one turn of the scroll",
);
pub(crate) const EFFICIENCY: Parameter = Parameter::uncertain(
    "scroll_efficiency",
    ParameterKind::Ratio,
    "share of the work at the key that comes out at the jaws; left out: 0.05 to 0.15 (from memory, no source)",
)
.at_most(1.0);
pub(crate) const CALIBRATION_TORQUE: Parameter = Parameter::optional(
    "calibration_torque",
    ParameterKind::Torque,
    "a torque on the key at which the force of a jaw was measured (give calibration_force too)",
);
pub(crate) const CALIBRATION_FORCE: Parameter = Parameter::uncertain(
    "calibration_force",
    ParameterKind::Force,
    "the force of one jaw measured at calibration_torque, on this chuck, with these jaws",
);
pub(crate) const DRAWBAR_FORCE: Parameter = Parameter::uncertain(
    "drawbar_force",
    ParameterKind::Force,
    "the force on the drawbar of a power chuck, instead of force (give drawbar_ratio)",
);
pub(crate) const DRAWBAR_RATIO: Parameter = Parameter::uncertain(
    "drawbar_ratio",
    ParameterKind::Ratio,
    "the force of all jaws together over the force on the drawbar",
);
pub(crate) const AIR_PRESSURE: Parameter = Parameter::uncertain(
    "air_pressure",
    ParameterKind::Pressure,
    "the gauge pressure in the cylinder that draws the drawbar, instead of force (give cylinder_diameter and drawbar_ratio)",
);
pub(crate) const CYLINDER_DIAMETER: Parameter = Parameter::optional(
    "cylinder_diameter",
    ParameterKind::Length,
    "the bore of that cylinder",
);
pub(crate) const CYLINDER_ROD_DIAMETER: Parameter = Parameter::optional(
    "cylinder_rod_diameter",
    ParameterKind::Length,
    "the rod on the side of its piston that the air is let in; left out: none",
);
pub(crate) const SQUEEZE: Parameter = Parameter::uncertain(
    "squeeze",
    ParameterKind::Length,
    "what the ring shows of its grip, instead of force: on the surface that is not gripped, each reading clamped minus free, over the jaws and midway between them, the mean difference of the two, along the radius, without sign; the force that makes it is found",
);

/// Keys that mean something beside another alone.
pub(crate) const BESIDE: &[(&str, &[&str])] = &[
    ("scroll_lead", &["key_torque"]),
    ("key_gear_ratio", &["key_torque"]),
    ("scroll_efficiency", &["key_torque"]),
    ("calibration_torque", &["key_torque"]),
    ("calibration_force", &["key_torque"]),
    ("drawbar_ratio", &["drawbar_force", "air_pressure"]),
    ("cylinder_diameter", &["air_pressure"]),
    ("cylinder_rod_diameter", &["air_pressure"]),
];

/// The force of one of several bodies, and what it was worked out from.
pub(crate) struct Source {
    /// N.
    pub each: Band,
    pub set_by: Option<SetBy>,
    /// What the ring shows under it, mm, where it is to be found from that: `each` is then a unit force.
    pub squeeze: Option<Band>,
    pub assumed: Vec<String>,
}

impl From<Band> for Source {
    fn from(each: Band) -> Self {
        Self {
            each,
            set_by: None,
            squeeze: None,
            assumed: Vec::new(),
        }
    }
}

impl Source {
    /// What it says of its forces beside their nominal size.
    pub fn told(self, supports: Supports) -> Supports {
        let mut assumed = supports.assumed;
        assumed.extend(self.assumed);
        Supports {
            force_spread: self.each.spread(),
            set_by: self.set_by,
            squeeze: self.squeeze,
            assumed,
            ..supports
        }
    }
}

/// A quantity that forces are worked out from, as a person reads it.
fn set_to(by: &SetBy) -> String {
    let key = &by.key;
    match by.kind {
        SetByKind::Force => format!("{key} {} N", brief(by.value)),
        SetByKind::Torque => format!("{key} {} N m", brief(1e-3 * by.value)),
        SetByKind::Pressure => format!("{key} {} MPa", brief(by.value)),
    }
}

/// Four figures of a number, or all before its point.
fn brief(x: f64) -> String {
    if x.abs() >= 1000.0 && x.abs() < 1e9 {
        return format!("{x:.0}");
    }
    let four = format!("{x:.3e}").parse().unwrap_or(x);
    number_in_words(four)
}

/// What a force was worked out from and what it came to, in words: "force worked out from key_torque 20 N m: 812 N a jaw (790 to 834)".
pub(crate) fn worked_out(from: &SetBy, force: &Band, on: &str) -> String {
    let [low, nominal, high] = [force.low, force.nominal, force.high].map(brief);
    let band = match force.is_exact() {
        true => String::new(),
        false => format!(" ({low} to {high})"),
    };
    format!(
        "force worked out from {}: {nominal} N {on}{band}",
        set_to(from)
    )
}

/// The force of one of `count` jaws, from whichever key gives it.
pub(crate) fn of_jaws(values: &Values, count: usize, noun: &str) -> Result<Source, SchemeError> {
    let key = common::one_of(values, SOURCES, GRIP.what)?;
    common::idle(values, BESIDE, key)?;
    let given = values
        .band(key)
        .ok_or_else(|| wrong(key, "is no number; give one for all jaws, or a band"))?;
    let share = |total: Band| total.map(|f| f / count as f64);
    let (each, kind, called, assumed) = match key {
        "squeeze" => return by_squeeze(given, count),
        "key_torque" => {
            let (each, assumed) = by_key(values, given, count)?;
            (each, SetByKind::Torque, "on this key", assumed)
        }
        "drawbar_force" => {
            let ratio = common::positive(values, "drawbar_ratio", key)?;
            let each = share(given.times(&ratio));
            (each, SetByKind::Force, "at the drawbar", None)
        }
        "air_pressure" => {
            let ratio = common::positive(values, "drawbar_ratio", key)?;
            let area = piston(values)?;
            let each = share(given.map(|p| p * area).times(&ratio));
            (each, SetByKind::Pressure, "of air", None)
        }
        "total_force" => return Ok(share(given).into()),
        _ => return Ok(given.into()),
    };
    let set_by = SetBy {
        key: key.to_owned(),
        called: called.to_owned(),
        kind,
        value: given.nominal,
    };
    let worked_out = worked_out(&set_by, &each, &format!("a {noun}"));
    Ok(Source {
        each,
        set_by: Some(set_by),
        squeeze: None,
        assumed: assumed.into_iter().chain([worked_out]).collect(),
    })
}

/// Force of one of `count` jaws (N) under a torque on the key (N mm), and what was taken for granted.
///
/// By the scroll's geometry (derived here): while the scroll makes one turn, the key makes `key_gear_ratio` and does the work
/// `2 pi key_gear_ratio T`; each jaw goes `scroll_lead` against its force, so the forces of all jaws do `scroll_lead F`. The share
/// `scroll_efficiency` of the first is the second: `F = T eta 2 pi ratio / lead`. By a measurement: in proportion to the torque.
fn by_key(
    values: &Values,
    torque: Band,
    count: usize,
) -> Result<(Band, Option<String>), SchemeError> {
    const SCROLL: &[&str] = &["scroll_lead", "key_gear_ratio", "scroll_efficiency"];
    const MEASURED: &[&str] = &["calibration_torque", "calibration_force"];
    let first = |keys: &[&'static str]| keys.iter().copied().find(|k| values.has(k));
    match (first(MEASURED), first(SCROLL)) {
        (None, None) => Err(wrong(
            "calibration_torque",
            "missing; key_torque does not say the force by itself: give calibration_torque and calibration_force (the force of a jaw measured at a torque), or \
             scroll_lead and key_gear_ratio",
        )),
        (Some(measured), Some(scroll)) => Err(wrong(
            scroll,
            format!(
                "{measured} and {scroll} cannot both be given; a measured force says all, so leave {scroll} out"
            ),
        )),
        (Some(_), None) => {
            let for_what = "key_torque by calibration";
            let at = common::positive(values, "calibration_torque", for_what)?;
            let force = common::positive(values, "calibration_force", for_what)?;
            Ok((torque.times(&force).over(&at), None))
        }
        (None, Some(_)) => {
            let for_what = "key_torque by the scroll";
            let lead = common::positive(values, "scroll_lead", for_what)?;
            let ratio = common::positive(values, "key_gear_ratio", for_what)?;
            let (efficiency, assumed) = match values.has("scroll_efficiency") {
                true => (
                    common::positive(values, "scroll_efficiency", for_what)?,
                    None,
                ),
                false => (SCROLL_EFFICIENCY, Some(UNKNOWN_SCROLL.to_owned())),
            };
            let gain = efficiency.times(&ratio).over(&lead);
            let each = torque.times(&gain).map(|f| TAU * f / count as f64);
            Ok((each, assumed))
        }
    }
}

const UNKNOWN_SCROLL: &str = "scroll efficiency 0.05 to 0.15 (from memory, no source; a force measured on the chuck says more: \
                              calibration_torque and calibration_force)";

/// Area of a piston that the air presses on, mm2.
fn piston(values: &Values) -> Result<f64, SchemeError> {
    let bore = common::positive(values, "cylinder_diameter", "air_pressure")?.nominal;
    let rod = values.number("cylinder_rod_diameter").unwrap_or(0.0);
    if rod >= bore {
        return Err(wrong(
            "cylinder_rod_diameter",
            format!(
                "is {rod:.3} mm, and the cylinder's bore {bore:.3} mm; the rod is the thinner of the two"
            ),
        ));
    }
    Ok(FRAC_PI_4 * (bore * bore - rod * rod))
}

/// A unit force, to be found from what the ring shows.
fn by_squeeze(reading: Band, count: usize) -> Result<Source, SchemeError> {
    if count < 2 {
        return Err(wrong(
            "squeeze",
            "needs two jaws or more, to be read over them and midway between them; give force",
        ));
    }
    Ok(Source {
        squeeze: Some(reading),
        ..Band::exact(1.0).into()
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::Jaws;
    use crate::testing::{SECTION, refused, values};
    use ringwright_solver::scheme::{Drive, HoldingScheme, Value};

    /// Three jaws with what gives their force.
    fn jaws(given: &[(&str, f64)]) -> Values {
        let mut jaws = values(&[("count", 3.0), ("width", 20.0)]);
        given.iter().for_each(|&(k, x)| jaws.set(k, x.into()));
        jaws
    }

    fn held(values: &Values) -> Supports {
        Jaws.supports(&SECTION, values).unwrap()
    }

    fn is_near(found: f64, wanted: f64) -> bool {
        (found / wanted - 1.0).abs() < 1e-10
    }

    /// The least, the nominal and the largest force of a jaw, N.
    fn forces(supports: &Supports) -> [f64; 3] {
        let Drive::SelfCentring { force } = supports.drive else {
            panic!("{:?}", supports.drive);
        };
        let [low, high] = supports.force_spread;
        [low * force, force, high * force]
    }

    fn are(supports: &Supports, wanted: [f64; 3]) {
        let found = forces(supports);
        let near = found.iter().zip(wanted).all(|(f, w)| is_near(*f, w));
        assert!(near, "{found:?} {wanted:?}");
    }

    /// 20 N m on a key that turns three times for a turn of a scroll of 8 mm: all jaws together get 20000 * 2 pi * 3 / 8 = 47124 N mm a mm
    /// times the efficiency, each a third, so 15708 N times the efficiency.
    #[test]
    fn a_torque_on_the_key_by_the_scroll() {
        let scroll = [("key_torque", 2e4), ("scroll_lead", 8.0)];
        let mut v = jaws(&scroll);
        v.set("key_gear_ratio", 3.0.into());
        let s = held(&v);
        are(&s, [785.398163397, 1570.796326795, 2356.194490192]);
        let said = &s.assumed[s.assumed.len() - 2..];
        assert!(said[0].contains("0.05 to 0.15 (from memory"), "{said:?}");
        let told = "force worked out from key_torque 20 N m: 1571 N a jaw (785.4 to 2356)";
        assert_eq!(said[1], told);
        let by = s.set_by.unwrap();
        assert_eq!(
            (by.key.as_str(), by.kind),
            ("key_torque", SetByKind::Torque)
        );
        assert_eq!((by.called.as_str(), by.value), ("on this key", 2e4));
        // what is given is not assumed
        v.set("scroll_efficiency", 0.2.into());
        let s = held(&v);
        are(&s, [3141.59265359; 3]);
        assert!(!s.assumed.iter().any(|a| a.contains("efficiency")));
    }

    /// 3 kN measured at 30 N m is 2 kN at 20 N m; bands of both go end by end.
    #[test]
    fn a_torque_on_the_key_by_a_measured_force() {
        let measured = [("calibration_torque", 3e4), ("calibration_force", 3e3)];
        let mut v = jaws(&measured);
        v.set("key_torque", 2e4.into());
        are(&held(&v), [2000.0; 3]);
        v.set("key_torque", Band::between(1.5e4, 2.5e4).into());
        v.set("calibration_force", Band::between(2.7e3, 3.3e3).into());
        are(&held(&v), [1350.0, 2000.0, 2750.0]);
    }

    /// 10 kN at the drawbar with 0.5 to 0.7 of it at three jaws together; 0.6 MPa on a piston of 100 mm with a rod of 20 mm is
    /// 0.6 * 7539.82 = 4523.89 N, twice that at the jaws together.
    #[test]
    fn a_drawbar_and_what_draws_it() {
        let mut v = jaws(&[("drawbar_force", 1e4)]);
        v.set("drawbar_ratio", Band::between(0.5, 0.7).into());
        let s = held(&v);
        are(&s, [1e4 / 6.0, 2000.0, 7e3 / 3.0]);
        assert_eq!(s.set_by.unwrap().called, "at the drawbar");
        let cylinder = [
            ("cylinder_diameter", 100.0),
            ("cylinder_rod_diameter", 20.0),
        ];
        let mut v = jaws(&cylinder);
        v.set("air_pressure", 0.6.into());
        v.set("drawbar_ratio", 2.0.into());
        let s = held(&v);
        are(&s, [3015.928947447; 3]);
        let by = s.set_by.unwrap();
        let said = (by.called.as_str(), by.kind, by.value);
        assert_eq!(said, ("of air", SetByKind::Pressure, 0.6));
    }

    /// Bands of a plain force and of the force of all jaws; a list is exact.
    #[test]
    fn forces_within_bands() {
        for (key, wanted) in [
            ("force", [100.0, 150.0, 200.0]),
            ("total_force", [100.0 / 3.0, 50.0, 200.0 / 3.0]),
        ] {
            let mut v = jaws(&[]);
            v.set(key, Band::between(100.0, 200.0).into());
            let s = held(&v);
            are(&s, wanted);
            assert_eq!((s.set_by, s.squeeze), (None, None));
        }
    }

    #[test]
    fn what_is_missing_or_said_twice_is_refused() {
        let number = Value::Number;
        let scroll = jaws(&[
            ("key_torque", 2e4),
            ("scroll_lead", 8.0),
            ("key_gear_ratio", 3.0),
        ]);
        let twice = [
            ("force", number(10.0), "key_torque"),
            ("drawbar_force", number(10.0), "drawbar_force"),
            ("squeeze", number(0.05), "squeeze"),
            ("calibration_force", number(10.0), "scroll_lead"),
            ("drawbar_ratio", number(1.0), "drawbar_ratio"),
            ("scroll_efficiency", number(0.0), "scroll_efficiency"),
            ("key_gear_ratio", number(0.0), "key_gear_ratio"),
        ];
        refused(&Jaws, &scroll, &twice);
        let air = jaws(&[
            ("air_pressure", 0.6),
            ("cylinder_diameter", 100.0),
            ("drawbar_ratio", 2.0),
        ]);
        let rod = (
            "cylinder_rod_diameter",
            number(100.0),
            "cylinder_rod_diameter",
        );
        refused(&Jaws, &air, &[rod]);
        for (given, at) in [
            (&[("key_torque", 2e4)][..], "calibration_torque"),
            (
                &[("key_torque", 2e4), ("scroll_lead", 8.0)],
                "key_gear_ratio",
            ),
            (
                &[("key_torque", 2e4), ("scroll_efficiency", 0.1)],
                "scroll_lead",
            ),
            (
                &[("key_torque", 2e4), ("calibration_force", 9.0)],
                "calibration_torque",
            ),
            (&[("drawbar_force", 1e4)], "drawbar_ratio"),
            (
                &[("air_pressure", 0.6), ("drawbar_ratio", 2.0)],
                "cylinder_diameter",
            ),
            (&[("force", 9.0), ("scroll_lead", 8.0)], "scroll_lead"),
            (&[("count", 1.0), ("squeeze", 0.05)], "squeeze"),
        ] {
            let e = Jaws.supports(&SECTION, &jaws(given)).unwrap_err();
            assert_eq!(e.parameter.as_deref(), Some(at), "{given:?}: {e}");
        }
    }
}
