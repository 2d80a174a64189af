//! Numbers for people: both unit systems side by side, the drawing's own first.
//!
//! Exact factors: 1 in = 25.4 mm, 1 thou = 0.0254 mm, 1 lbf = 4.448 221 615 260 5 N (NIST SP 811, appendix B),
//! so 1 psi = 1 lbf / in2 = 6.894 757 293 kPa.

/// Millimetres an inch.
pub const MM_PER_INCH: f64 = 25.4;
/// Millimetres a thousandth of an inch.
const MM_PER_THOU: f64 = MM_PER_INCH / 1000.0;
/// Newtons a pound-force.
pub(crate) const NEWTON_PER_LBF: f64 = 4.448_221_615_260_5;
/// Megapascals a ksi (1000 lbf / in2).
pub(crate) const MPA_PER_KSI: f64 = 1000.0 * NEWTON_PER_LBF / (MM_PER_INCH * MM_PER_INCH);

/// Outside diameters (mm) that make one ask for the unit: the usual slip is a factor of 25.4, which takes a ring that a chuck
/// holds (2 to 12 in) below or above these.
const DOUBTFUL_MM: [f64; 2] = [13.0, 1250.0];

/// A caution when a part's outside diameter (mm) looks as if inches and millimetres were mixed up.
///
/// ```
/// use ringwright_solver::report::units::units_in_doubt;
/// assert!(units_in_doubt(120.0).is_none());
/// assert!(units_in_doubt(4.75).is_some_and(|words| words.contains("4.750 mm")));
/// assert!(units_in_doubt(120.0 * 25.4).is_some());
/// ```
pub fn units_in_doubt(outside_diameter_mm: f64) -> Option<String> {
    let [small, large] = DOUBTFUL_MM;
    let doubtful = !(small..=large).contains(&outside_diameter_mm);
    doubtful.then(|| {
        format!(
            "The outside diameter is {}: if that is not meant, look at `units` in the case.",
            Units::new(false).size(outside_diameter_mm)
        )
    })
}

/// A length below this is rounding error, mm: nothing to show.
const NO_LENGTH: f64 = 0.5e-6;

/// A length below this is not told by its figure, mm: no gauge of a shop shows it.
const LEAST_SHOWN: f64 = 1e-5;

/// Which system stands first.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Units {
    /// Whether the drawing is in inches.
    pub inch: bool,
}

impl Units {
    /// The order for a drawing in inches or in millimetres.
    pub const fn new(inch: bool) -> Self {
        Self { inch }
    }

    fn pair(self, metric: String, inch: String) -> String {
        if self.inch {
            format!("{inch} ({metric})")
        } else {
            format!("{metric} ({inch})")
        }
    }

    /// A size, mm: `152.400 mm (6.0000 in)`.
    ///
    /// ```
    /// use ringwright_solver::report::units::Units;
    /// assert_eq!(Units::new(false).size(152.4), "152.400 mm (6.0000 in)");
    /// assert_eq!(Units::new(true).size(152.4), "6.0000 in (152.400 mm)");
    /// ```
    pub fn size(self, mm: f64) -> String {
        self.size_within(mm, None)
    }

    /// As [`Units::size`], with no more digits than its error (mm) supports, see [`figure`].
    pub fn size_within(self, mm: f64, error: Option<f64>) -> String {
        self.pair(
            format!("{} mm", figure(mm, 3, error)),
            format!(
                "{} in",
                figure(mm / MM_PER_INCH, 4, error.map(|e| e / MM_PER_INCH))
            ),
        )
    }

    /// A place along the part, mm, to a tenth of a millimetre, or a hundredth where it does not lie on one: `60.0 mm (2.362 in)`.
    ///
    /// ```
    /// use ringwright_solver::report::units::Units;
    /// assert_eq!(Units::new(false).position(60.0), "60.0 mm (2.362 in)");
    /// assert_eq!(Units::new(true).position(6.35), "0.250 in (6.35 mm)");
    /// ```
    pub fn position(self, mm: f64) -> String {
        let tenths = 10.0 * mm;
        let places = if (tenths - tenths.round()).abs() < 1e-6 {
            1
        } else {
            2
        };
        self.pair(
            format!("{} mm", fixed(mm, places)),
            format!("{} in", fixed(mm / MM_PER_INCH, 3)),
        )
    }

    /// A small length such as a deviation, mm: `0.020 mm (0.8 thou)`. What is too small for those places keeps
    /// two significant digits instead, down to a hundredth of a micrometre: below that it is `less than 0.00001 mm (0.0004 thou)`, and
    /// rounding errors of under a millionth of a millimetre are 0.
    ///
    /// ```
    /// use ringwright_solver::report::units::Units;
    /// assert_eq!(Units::new(false).small(0.02), "0.020 mm (0.8 thou)");
    /// assert_eq!(Units::new(false).small(0.000_4), "0.00040 mm (0.016 thou)");
    /// ```
    pub fn small(self, mm: f64) -> String {
        self.small_within(mm, None)
    }

    /// As [`Units::small`], with no more digits than its error (mm) supports, see [`figure`].
    ///
    /// ```
    /// use ringwright_solver::report::units::Units;
    /// assert_eq!(Units::new(false).small_within(0.065_148, Some(2e-3)), "0.065 \u{b1}0.002 mm (2.56 \u{b1}0.08 thou)");
    /// assert_eq!(Units::new(false).small_within(0.265_148, Some(2e-3)), "0.27 mm (10.4 thou)");
    /// ```
    pub fn small_within(self, mm: f64, error: Option<f64>) -> String {
        self.small_by(mm, error, figure)
    }

    /// The same for a column of a table, where digits are left out and no error is written.
    pub fn small_in_column(self, mm: f64, error: Option<f64>) -> String {
        self.small_by(mm, error, digits)
    }

    fn small_by(
        self,
        mm: f64,
        error: Option<f64>,
        shown: impl Fn(f64, usize, Option<f64>) -> String,
    ) -> String {
        // the error of nothing says nothing
        let error = error.filter(|_| mm.abs() >= NO_LENGTH);
        let known = error.is_none_or(|e| e < LEAST_SHOWN);
        if (NO_LENGTH..LEAST_SHOWN).contains(&mm.abs()) && known {
            let least = self.pair("0.00001 mm".into(), "0.0004 thou".into());
            return format!("less than {least}");
        }
        let thou = mm / MM_PER_THOU;
        let (metric, inch) = small_places(mm);
        self.pair(
            format!("{} mm", shown(mm, metric, error)),
            format!("{} thou", shown(thou, inch, error.map(|e| e / MM_PER_THOU))),
        )
    }

    /// Two small lengths, mm, as [`Units::small`] but with up to three more places where they would look alike.
    ///
    /// ```
    /// use ringwright_solver::report::units::Units;
    /// let [found, allowed] = Units::new(false).small_apart([0.021_4, 0.02]);
    /// assert_eq!(found, "0.021 mm (0.84 thou)");
    /// assert_eq!(allowed, "0.020 mm (0.79 thou)");
    /// ```
    pub fn small_apart(self, lengths: [f64; 2]) -> [String; 2] {
        let (metric, inch) = small_places(lengths[0]);
        let apart = |[a, b]: [f64; 2], places: usize| {
            let shown = |more: usize| [a, b].map(|v| fixed(v, places + more));
            let told = |more: &usize| shown(*more)[0] != shown(*more)[1];
            shown((0..=3).find(told).unwrap_or(0))
        };
        let [a, b] = apart(lengths, metric);
        let [c, d] = apart(lengths.map(|mm| mm / MM_PER_THOU), inch);
        [(a, c), (b, d)].map(|(mm, thou)| self.pair(format!("{mm} mm"), format!("{thou} thou")))
    }

    /// As [`Units::small`], with the sign shown for values above zero too.
    pub fn signed(self, mm: f64) -> String {
        self.signed_within(mm, None)
    }

    /// As [`Units::signed`], with no more digits than its error (mm) supports, see [`figure`].
    pub fn signed_within(self, mm: f64, error: Option<f64>) -> String {
        let plus = |text: String, value: f64| {
            let shown_zero = !text.bytes().any(|b| b.is_ascii_digit() && b != b'0');
            if value > 0.0 && !shown_zero {
                format!("+{text}")
            } else {
                text
            }
        };
        let (metric, inch) = small_places(mm);
        let thou = mm / MM_PER_THOU;
        let (metric, inch) = (
            figure(mm, metric, error),
            figure(thou, inch, error.map(|e| e / MM_PER_THOU)),
        );
        self.pair(
            format!("{} mm", plus(metric, mm)),
            format!("{} thou", plus(inch, mm)),
        )
    }

    /// A force, N: `60 N (13 lbf)`.
    ///
    /// ```
    /// use ringwright_solver::report::units::Units;
    /// assert_eq!(Units::new(false).force(60.0), "60 N (13 lbf)");
    /// ```
    pub fn force(self, newton: f64) -> String {
        self.force_within(newton, None)
    }

    /// As [`Units::force`], with no more digits than its error (N) supports, see [`figure`].
    pub fn force_within(self, newton: f64, error: Option<f64>) -> String {
        self.rounded_pair(newton, ["N", "lbf"], NEWTON_PER_LBF, 2, error)
    }

    /// A figure with so many significant digits in both units, `one` of the second in the first.
    fn rounded_pair(
        self,
        value: f64,
        [metric, inch]: [&str; 2],
        one: f64,
        digits: i32,
        error: Option<f64>,
    ) -> String {
        let shown =
            |value: f64, error| figure(value, places_for_digits(value, digits, 0, 6), error);
        self.pair(
            format!("{} {metric}", shown(value, error)),
            format!("{} {inch}", shown(value / one, error.map(|e| e / one))),
        )
    }

    /// A force that somebody is to set, N: `600 N (135 lbf)`, three digits each.
    ///
    /// ```
    /// use ringwright_solver::report::units::Units;
    /// assert_eq!(Units::new(true).set_force(169.0), "38.0 lbf (169 N)");
    /// ```
    pub fn set_force(self, newton: f64) -> String {
        self.rounded_pair(newton, ["N", "lbf"], NEWTON_PER_LBF, 3, None)
    }

    /// A torque, N mm: `104 N m (76.7 ft-lb)`.
    ///
    /// ```
    /// use ringwright_solver::report::units::Units;
    /// assert_eq!(Units::new(false).torque(104e3), "104 N m (76.7 ft-lb)");
    /// ```
    pub fn torque(self, newton_mm: f64) -> String {
        // a foot is 0.3048 m
        let one = NEWTON_PER_LBF * 12.0 * MM_PER_INCH / 1000.0;
        self.rounded_pair(newton_mm / 1000.0, ["N m", "ft-lb"], one, 3, None)
    }

    /// A force spread along the axis, N/mm: `3.00 N/mm (17.1 lbf/in)`.
    pub fn force_per_length(self, newton_per_mm: f64) -> String {
        self.force_per_length_within(newton_per_mm, None)
    }

    /// As [`Units::force_per_length`], with no more digits than its error (N/mm) supports, see [`figure`].
    pub fn force_per_length_within(self, newton_per_mm: f64, error: Option<f64>) -> String {
        let one = NEWTON_PER_LBF / MM_PER_INCH;
        self.rounded_pair(newton_per_mm, ["N/mm", "lbf/in"], one, 3, error)
    }

    /// A stress, MPa: `125 MPa (18.1 ksi)`.
    ///
    /// ```
    /// use ringwright_solver::report::units::Units;
    /// assert_eq!(Units::new(false).stress(125.0), "125 MPa (18.1 ksi)");
    /// ```
    pub fn stress(self, mpa: f64) -> String {
        self.stress_within(mpa, None)
    }

    /// As [`Units::stress`], with no more digits than its error (MPa) supports, see [`figure`].
    ///
    /// ```
    /// use ringwright_solver::report::units::Units;
    /// assert_eq!(Units::new(false).stress_within(55.7, Some(0.5)), "56 MPa (8.1 ksi)");
    /// assert_eq!(Units::new(false).stress_within(55.7, Some(3.7)), "56 \u{b1}4 MPa (8.1 \u{b1}0.5 ksi)");
    /// ```
    pub fn stress_within(self, mpa: f64, error: Option<f64>) -> String {
        self.rounded_pair(mpa, ["MPa", "ksi"], MPA_PER_KSI, 3, error)
    }
}

/// An error of more than this share of its figure stands beside it.
const BESIDE: f64 = 0.01;

/// An error of more than so many times its figure leaves nothing of it.
const BEYOND: f64 = 2.0;

/// A figure with at most so many decimals, and no more digits than its estimated error supports: the last one shown is off by one at most. Where
/// the error is more than a hundredth of the figure, so that two digits might not be left, it stands beside it, and both end at its first digit.
///
/// ```
/// use ringwright_solver::report::units::figure;
/// assert_eq!(figure(55.7, 1, Some(0.03)), "55.7");
/// assert_eq!(figure(55.7, 1, Some(0.5)), "56");
/// assert_eq!(figure(55.7, 1, Some(0.6)), "55.7 \u{b1}0.6");
/// assert_eq!(figure(55.7, 1, Some(3.7)), "56 \u{b1}4");
/// assert_eq!(figure(1234.0, 0, Some(3.0)), "1230");
/// assert_eq!(figure(3401.0, 0, Some(3402.0)), "3000 \u{b1}3000");
/// assert_eq!(figure(2.0, 1, Some(30.0)), "0");
/// ```
pub fn figure(value: f64, places: usize, error: Option<f64>) -> String {
    match error {
        Some(error) if error < BEYOND * value.abs() && error > BESIDE * value.abs() => {
            // 0.96 is 1 to its first digit, which stands where that of 1.0 does
            let place = (error / 0.95).log10().floor() as i32;
            let places = places.max(usize::try_from(-place).unwrap_or(0));
            format!(
                "{} \u{b1}{}",
                to_place(value, place, places),
                to_place(error, place, places)
            )
        }
        _ => digits(value, places, error),
    }
}

/// As [`figure`], and never with the error beside it.
pub fn digits(value: f64, places: usize, error: Option<f64>) -> String {
    match error {
        Some(error) if error > 0.0 => to_place(value, last_place(error), places),
        _ => fixed(value, places),
    }
}

/// Power of ten of the last digit that an error supports: it is off by one at most.
fn last_place(error: f64) -> i32 {
    (error.log10() - 1e-9).ceil() as i32
}

/// A value to a power of ten, with at most so many decimals.
fn to_place(value: f64, place: i32, places: usize) -> String {
    match usize::try_from(-place) {
        Ok(decimals) => fixed(value, places.min(decimals)),
        Err(_) => {
            let one = 10_f64.powi(place);
            fixed((value / one).round() * one, 0)
        }
    }
}

/// An angle, degrees, to a tenth: `37.5 deg`; the sign of zero is dropped.
pub fn angle(degrees: f64) -> String {
    format!("{} deg", fixed(degrees, 1))
}

/// As [`angle`], in whole degrees where its error is more than a tenth, and with that error beside it where it is more than one.
///
/// ```
/// use ringwright_solver::report::units::angle_within;
/// assert_eq!(angle_within(59.94, Some(0.05)), "59.9 deg");
/// assert_eq!(angle_within(59.94, Some(0.7)), "60 deg");
/// assert_eq!(angle_within(59.94, Some(4.2)), "60 \u{b1}5 deg");
/// ```
pub fn angle_within(degrees: f64, error: Option<f64>) -> String {
    match error {
        Some(error) if error > 1.0 => {
            format!("{} \u{b1}{} deg", fixed(degrees, 0), fixed(error.ceil(), 0))
        }
        Some(error) if error > 0.1 => format!("{} deg", fixed(degrees, 0)),
        _ => angle(degrees),
    }
}

/// A share as a whole percentage: `31 percent`. Below one percent two significant digits are kept.
pub fn percent(share: f64) -> String {
    let p = 100.0 * share;
    format!("{} percent", fixed(p, percent_places(p)))
}

/// Decimals of a percentage.
fn percent_places(p: f64) -> usize {
    if p == 0.0 || p.abs() >= 1.0 {
        0
    } else {
        places_for_digits(p, 2, 0, 4)
    }
}

/// As [`percent`], with no more digits than its error (a share) supports.
///
/// ```
/// use ringwright_solver::report::units::percent_within;
/// assert_eq!(percent_within(0.314, Some(0.003)), "31 percent");
/// assert_eq!(percent_within(0.314, Some(0.03)), "31 \u{b1}3 percent");
/// assert_eq!(percent_within(0.0042, Some(0.0008)), "0.4 percent");
/// ```
pub fn percent_within(share: f64, error: Option<f64>) -> String {
    let p = 100.0 * share;
    match error.map(|e| 100.0 * e) {
        Some(error) if error > 1.0 => format!("{} percent", figure(p, 0, Some(error))),
        Some(error) => format!("{} percent", digits(p, percent_places(p), Some(error))),
        None => percent(share),
    }
}

/// `value` with so many decimals; a result of zero never carries a sign.
pub fn fixed(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(rest) if !rest.bytes().any(|b| b.is_ascii_digit() && b != b'0') => rest.to_owned(),
        _ => text,
    }
}

/// Decimals of a small length in mm and in thou: three and one, or two significant digits each where three decimals of a millimetre would
/// hold fewer.
fn small_places(mm: f64) -> (usize, usize) {
    if mm.abs() >= 0.01 || mm.abs() < NO_LENGTH {
        (3, 1)
    } else {
        let thou = mm / MM_PER_THOU;
        (
            places_for_digits(mm, 2, 3, 6),
            places_for_digits(thou, 2, 1, 6),
        )
    }
}

fn places_for_digits(value: f64, digits: i32, least: usize, most: usize) -> usize {
    if value == 0.0 || !value.is_finite() {
        return least;
    }
    let lead = value.abs().log10().floor() as i32;
    usize::try_from(digits - 1 - lead)
        .unwrap_or(0)
        .clamp(least, most)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_drawing_unit_stands_first() {
        let (mm, inch) = (Units::new(false), Units::new(true));
        assert_eq!(mm.force(2000.0), "2000 N (450 lbf)");
        assert_eq!(inch.force(2000.0), "450 lbf (2000 N)");
        assert_eq!(mm.force(0.0), "0 N (0 lbf)");
        assert_eq!(mm.force(2.5), "2.5 N (0.56 lbf)");
        assert_eq!(mm.force_per_length(3.0), "3.00 N/mm (17.1 lbf/in)");
        assert_eq!(inch.stress(45.0), "6.53 ksi (45.0 MPa)");
        assert_eq!(inch.small(0.0254), "1.0 thou (0.025 mm)");
        assert_eq!(mm.signed(0.0123), "+0.012 mm (+0.5 thou)");
        assert_eq!(mm.signed(-0.0123), "-0.012 mm (-0.5 thou)");
    }

    #[test]
    fn nothing_is_shown_as_minus_zero() {
        let u = Units::new(false);
        for text in [
            u.size(-1e-9),
            u.small(-1e-12),
            u.signed(-1e-12),
            u.signed(-0.0),
            u.force(-0.0),
            u.stress(-1e-12),
            angle(-0.01),
            percent(-1e-9),
            fixed(-0.04, 1),
        ] {
            assert!(!text.contains('-'), "{text}");
        }
        assert_eq!(fixed(-0.06, 1), "-0.1");
        assert_eq!(u.signed(0.0), "0.000 mm (0.0 thou)");
    }

    #[test]
    fn small_values_keep_two_digits() {
        let u = Units::new(false);
        assert_eq!(u.small(0.0), "0.000 mm (0.0 thou)");
        assert_eq!(u.small(-3e-8), "0.000 mm (0.0 thou)");
        assert_eq!(u.small(0.000_012_3), "0.000012 mm (0.00048 thou)");
        assert_eq!(u.small(0.000_004), "less than 0.00001 mm (0.0004 thou)");
        assert_eq!(percent(0.31), "31 percent");
        assert_eq!(percent(0.0042), "0.42 percent");
    }
}
