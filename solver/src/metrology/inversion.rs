//! From a gauge's trace back to the lobes that the gauge can see, with what the noise leaves uncertain.
//!
//! To first order a gauge turns the lobe `Re(c e^(i n theta))` into `Re(F c e^(i n theta))` ([`Gauge::response`]), so the terms of
//! the trace, fitted together by least squares, are divided by `F`. Where `|F|` is small, noise divided by it would pass for lobes:
//! such lobes are listed as unseen, and so is being off centre, which no gauge without an axis of its own can tell.
//! Statistics of the fit: ordinary least squares with independent, equal noise (textbook; for equal steps a term's standard error is
//! `sigma sqrt(2 / n)` and that of the fitted curve, averaged over the readings, `sigma sqrt(p / n)` for `p` unknowns).

use std::f64::consts::TAU;

use nalgebra::{DMatrix, DVector};

use super::readings::Readings;
use super::{BLIND, Gauge, Harmonic, MOST_LOBES};

/// Readings so uneven that noise comes back in some lobe more than so many times as large as from even ones do not hold that lobe.
const WORST_AMPLIFIED: f64 = 30.0;

/// Below this a response is rounding, and the lobe has no place in the fit.
const NOTHING: f64 = 1e-9;

/// Places (of 720) where the standard error of the curve is evaluated to find its largest value.
const PLACES: usize = 720;

/// Standard errors beyond which a lobe is real.
const STANDS_OUT: f64 = 3.0;

/// Places at which a trace is evaluated for what it shows at least: twelve a wave of the highest lobe count of most readings.
const TRACE_PLACES: usize = 720;

/// Why a trace cannot be inverted.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum InversionError {
    /// Fewer readings than unknowns.
    #[error(
        "{found} readings are too few for {lobes} lobes on this gauge: at least {wanted} are needed, or ask for fewer lobes"
    )]
    TooFew {
        /// Readings at different angles; where the trace repeats within a turn, within one repeat.
        found: usize,
        /// Readings needed.
        wanted: usize,
        /// Lobes asked for.
        lobes: u32,
    },
    /// Too few readings, or too far apart, for any lobe that the gauge shows.
    #[error("{}", none_shown(*gauge, *found, *first))]
    ShowsNone {
        /// What they were taken on.
        gauge: Gauge,
        /// Readings given.
        found: usize,
        /// The lowest lobe count that the gauge shows.
        first: u32,
    },
    /// The readings leave too much of the turn out.
    #[error(
        "the readings are too uneven for {lobes} lobes: their gaps could hide any of them; read more places, or ask for fewer lobes"
    )]
    TooUneven {
        /// Lobes asked for.
        lobes: u32,
    },
    /// No lobe of the asked range shows on this gauge.
    #[error("this gauge shows none of 2 to {lobes} lobes; ask for more, or use another gauge")]
    Blind {
        /// Lobes asked for.
        lobes: u32,
    },
}

/// Why readings show no lobe of a gauge whose lowest is `first`, and how many would.
fn none_shown(gauge: Gauge, found: usize, first: u32) -> String {
    let repeats = repeats(gauge);
    let in_one = 2 * first / repeats + 1;
    let wanted = repeats * in_one;
    let part = match repeats {
        2 => format!(", or {in_one} over half of it"),
        3 => format!(", or {in_one} over a third of it"),
        _ => String::new(),
    };
    let what = if found < wanted as usize {
        "too few"
    } else {
        "too far apart"
    };
    format!(
        "{found} readings are {what} for a {gauge}: the fewest lobes that it shows are {first}, which take at least {wanted} readings evenly spaced round the turn{part}"
    )
}

/// A lobe as a gauge shows it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeenLobe {
    /// Lobes per revolution.
    pub count: u32,
    /// Radial amplitude, mm: the profile has `amplitude * cos(count * (theta - angle))`.
    pub amplitude: f64,
    /// Angle of the first crest, degrees, in `[0, 360 / count)`.
    pub angle_deg: f64,
    /// What the gauge magnifies it by.
    pub factor: f64,
    /// Standard error of the amplitude, mm; none when no reading is left to judge noise by.
    pub uncertainty: Option<f64>,
}

/// What a trace says of the profile.
#[derive(Clone, Debug, PartialEq)]
pub struct Recovered {
    /// The gauge it was read on.
    pub gauge: Gauge,
    /// Highest lobe count of the fit.
    pub limit: u32,
    /// Constant part of the trace, mm: the mean radius for [`Gauge::Radius`], the mean diameter for gauges that show one.
    pub constant: f64,
    /// Lobes that the gauge sees, by rising count.
    pub lobes: Vec<SeenLobe>,
    /// Counts up to `limit` that it does not: of these the trace says nothing, so a roundness from it is a lower bound.
    pub unseen: Vec<u32>,
    /// Standard deviation of the readings about the fit, mm; none when there are no more readings than unknowns.
    pub noise: Option<f64>,
    /// Standard error of the profile, mm: root mean square round the turn, and largest.
    pub profile_uncertainty: Option<[f64; 2]>,
}

impl SeenLobe {
    /// Whether it is more than scatter makes: three standard errors, common practice.
    pub fn stands_out(&self) -> bool {
        let scatter = self.uncertainty.unwrap_or(0.0);
        self.amplitude > STANDS_OUT * scatter
    }

    /// The lobe alone.
    pub const fn harmonic(&self) -> Harmonic {
        Harmonic {
            count: self.count,
            amplitude: self.amplitude,
            angle_deg: self.angle_deg,
        }
    }
}

impl Recovered {
    /// Lobes of two or more that the readings say nothing of: while there are any, a roundness from them is a lower bound.
    pub fn unseen_lobes(&self) -> impl Iterator<Item = u32> {
        let lobes = self.unseen.iter().copied().filter(|&n| n >= 2);
        lobes.filter(|_| self.gauge != Gauge::Radius)
    }

    /// Whether the readings say all that another gauge would show: that gauge must not show a lobe that this one hides, and none but readings about an axis say how far
    /// the part is off it.
    pub fn tells(&self, gauge: Gauge) -> bool {
        let hidden = |n: u32| gauge.factor(n) > NOTHING;
        gauge == self.gauge || gauge != Gauge::Radius && !self.unseen_lobes().any(hidden)
    }

    /// What another gauge shows at least (full indicator movement, mm), whatever the unseen lobes up to the limit are; [`Gauge::Radius`]: what the
    /// roundness is at least, about any centre. `passed` is the share of each lobe count that a filter lets through.
    ///
    /// Where the seen lobes are the multiples of one number `m`, the mean of a trace over `m` equally spaced places is the trace of these lobes alone, and a mean ranges no
    /// farther than what it is of: their own range. Else a trace `T` with seen part `s` has `2 int s^2 = 2 int T s <= range(T) int |s|`, since `s` has
    /// no constant and is orthogonal to all else. First order in the lobes, as the factors are; derived here. Lobes that do not stand out from the scatter of the
    /// readings count as none.
    pub fn at_least(&self, gauge: Gauge, passed: impl Fn(u32) -> f64) -> f64 {
        let terms: Vec<(f64, [f64; 2])> = self
            .lobes
            .iter()
            .filter(|l| l.count >= 2 && l.stands_out())
            .map(|l| {
                let ([c, s], [re, im]) = (l.harmonic().terms(), gauge.response(l.count));
                let share = passed(l.count);
                // Re((re + i im)(c - i s) e^(i n t))
                let trace = [share * (re * c + im * s), share * (re * s - im * c)];
                (f64::from(l.count), trace)
            })
            .collect();
        let trace: Vec<f64> = (0..TRACE_PLACES)
            .map(|k| {
                let t = TAU * k as f64 / TRACE_PLACES as f64;
                let term = |(n, [c, s]): &(f64, [f64; 2])| {
                    let (sine, cosine) = (n * t).sin_cos();
                    c * cosine + s * sine
                };
                terms.iter().map(term).sum()
            })
            .collect();
        let [low, high] = trace
            .iter()
            .fold([0.0_f64; 2], |[a, b], &x| [a.min(x), b.max(x)]);
        if self.sees_multiples() {
            return high - low;
        }
        let squares: f64 = trace.iter().map(|x| x * x).sum();
        let sizes: f64 = trace.iter().map(|x| x.abs()).sum();
        if sizes > 0.0 {
            2.0 * squares / sizes
        } else {
            0.0
        }
    }

    /// Whether the seen lobes are all multiples of one number of two or more, up to the limit, or simply all.
    fn sees_multiples(&self) -> bool {
        let hidden = |n: u32| self.unseen_lobes().any(|u| u == n);
        let first = (2..=self.limit).find(|&n| !hidden(n));
        let all = self.unseen_lobes().next().is_none();
        all || first.is_some_and(|m| (2..=self.limit).all(|n| hidden(n) != n.is_multiple_of(m)))
    }

    /// Departure of the seen lobes from their mean circle at a part angle (rad), mm.
    pub fn departure(&self, angle: f64) -> f64 {
        let lobe = |l: &SeenLobe| {
            let n = f64::from(l.count);
            l.amplitude * (n * (angle - l.angle_deg.to_radians())).cos()
        };
        self.lobes.iter().map(lobe).sum()
    }

    /// Radii (mm) of the seen lobes about `mean_radius` at equal angles from 0.
    pub fn radii(&self, mean_radius: f64, points: usize) -> Vec<f64> {
        (0..points)
            .map(|k| mean_radius + self.departure(TAU * k as f64 / points as f64))
            .collect()
    }
}

/// How many times a turn the trace of a gauge repeats whatever the profile: reading half the diameters is reading all of them.
pub const fn repeats(gauge: Gauge) -> u32 {
    match gauge {
        Gauge::TwoPoint | Gauge::Plate => 2,
        Gauge::ThreePoint => 3,
        Gauge::Radius | Gauge::Vee(_) => 1,
    }
}

/// The highest lobe count that readings on this gauge can show: no more unknowns than readings, and two readings or more a wave in the
/// widest gap.
pub fn most_lobes(readings: &Readings, gauge: Gauge) -> u32 {
    let repeats = repeats(gauge);
    let (distinct, widest) = folded(readings.angles(), repeats);
    let by_gap = (0.5 * TAU / f64::from(repeats) / widest * (1.0 + 1e-9)).floor() as usize;
    repeats * ((distinct - 1) / 2).min(by_gap) as u32
}

/// Number of different angles (rad) and the widest gap between them, folded to one repeat.
fn folded(angles: &[f64], repeats: u32) -> (usize, f64) {
    let period = TAU / f64::from(repeats);
    let mut places: Vec<f64> = angles.iter().map(|a| a % period).collect();
    places.sort_by(f64::total_cmp);
    // a reading at the very end of a repeat is the one at its start
    let wrapped = places.partition_point(|&a| a < period - 1e-9);
    if places[0] < 1e-9 {
        places.truncate(wrapped.max(1));
    }
    places.dedup_by(|b, a| *b - *a < 1e-9);
    let last = places[0] + period - places[places.len() - 1];
    let widest = places.windows(2).map(|w| w[1] - w[0]).fold(last, f64::max);
    (places.len(), widest)
}

/// The lobes that a trace shows, up to `limit` (as many as the readings show, [`MOST_LOBES`] at most, without one).
///
/// # Errors
/// [`InversionError`]: too few or too uneven readings, or a gauge that sees none of these lobes.
pub fn invert(
    readings: &Readings,
    gauge: Gauge,
    limit: Option<u32>,
) -> Result<Recovered, InversionError> {
    let asked = limit.is_some();
    let limit = limit.unwrap_or_else(|| MOST_LOBES.min(most_lobes(readings, gauge)));
    let off_centre = |n: u32| n == 1 && gauge != Gauge::Radius;
    let fitted: Vec<u32> = (1..=limit)
        .filter(|&n| !off_centre(n) && gauge.factor(n) > NOTHING)
        .collect();
    let seen = |n: u32| fitted.contains(&n) && gauge.factor(n) >= BLIND;
    if gauge != Gauge::Radius && !fitted.iter().any(|&n| seen(n)) {
        let shown = |n: &u32| gauge.factor(*n) >= BLIND;
        return Err(match (2..=MOST_LOBES).find(shown) {
            Some(first) if !asked => InversionError::ShowsNone {
                gauge,
                found: readings.len(),
                first,
            },
            _ => InversionError::Blind { lobes: limit },
        });
    }
    let (found, _) = folded(readings.angles(), repeats(gauge));
    let wanted = 2 * fitted.len() + 1;
    if found < wanted {
        return Err(InversionError::TooFew {
            found,
            wanted,
            lobes: limit,
        });
    }
    let fit = LobeFit::of(readings.angles(), readings.values(), fitted.clone())
        .ok_or(InversionError::TooUneven { lobes: limit })?;
    let lobes = (0..fitted.len())
        .filter(|&k| seen(fitted[k]))
        .map(|k| fit.lobe(k, gauge))
        .collect();
    Ok(Recovered {
        gauge,
        limit,
        constant: fit.constant,
        lobes,
        unseen: (1..=limit).filter(|&n| !seen(n)).collect(),
        noise: fit.noise,
        profile_uncertainty: fit.noise.map(|noise| fit.profile_uncertainty(gauge, noise)),
    })
}

/// A smooth closed curve through radii or deviations read about an axis, with its uncertainty: least squares of the lobes up to
/// `lobes`, one lobe being off centre.
///
/// # Errors
/// As [`invert`].
pub fn smooth(readings: &Readings, lobes: u32) -> Result<Recovered, InversionError> {
    invert(readings, Gauge::Radius, Some(lobes))
}

/// Least squares of a constant and the chosen lobes.
struct LobeFit {
    counts: Vec<u32>,
    constant: f64,
    /// `p cos(n t) + q sin(n t)` of each.
    terms: Vec<[f64; 2]>,
    /// Inverse of the normal matrix: covariance of the unknowns over the variance of a reading.
    covariance: DMatrix<f64>,
    noise: Option<f64>,
}

impl LobeFit {
    /// None when the angles do not hold the unknowns.
    fn of(angles: &[f64], values: &[f64], counts: Vec<u32>) -> Option<Self> {
        let n = angles.len();
        let highest = counts.last().map_or(0, |&c| c as usize);
        let mean = values.iter().sum::<f64>() / n as f64;
        // means of e^(i m t), and of the values times them
        let mut powers = vec![[0.0; 2]; 2 * highest + 1];
        let mut products = vec![[0.0; 2]; highest + 1];
        for (&angle, value) in angles.iter().zip(values) {
            let share = 1.0 / n as f64;
            turn(angle, 2 * highest, |m, [c, s]| {
                powers[m][0] += share * c;
                powers[m][1] += share * s;
                if let Some(product) = products.get_mut(m) {
                    product[0] += share * (value - mean) * c;
                    product[1] += share * (value - mean) * s;
                }
            });
        }
        let factor = normal_matrix(&powers, &counts).cholesky()?;
        let right = DVector::from_iterator(
            2 * counts.len() + 1,
            std::iter::once(products[0][0])
                .chain(counts.iter().flat_map(|&c| products[c as usize])),
        );
        let solution = factor.solve(&right);
        let mut fit = Self {
            constant: mean + solution[0],
            terms: (0..counts.len())
                .map(|k| [solution[2 * k + 1], solution[2 * k + 2]])
                .collect(),
            covariance: factor.inverse() / n as f64,
            counts,
            noise: None,
        };
        let even = (2.0 / n as f64).sqrt();
        let held = (0..fit.counts.len()).all(|k| fit.spread(k) < WORST_AMPLIFIED * even);
        fit.noise = fit.noise_of(angles, values);
        held.then_some(fit)
    }

    /// Standard deviation of the readings about the fit, with as many degrees of freedom as readings are left over.
    fn noise_of(&self, angles: &[f64], values: &[f64]) -> Option<f64> {
        let left = angles.len().checked_sub(2 * self.counts.len() + 1)?;
        let squares: f64 = angles
            .iter()
            .zip(values)
            .map(|(&angle, value)| (value - self.at(angle)).powi(2))
            .sum();
        (left > 0).then(|| (squares / left as f64).sqrt())
    }

    /// The fitted trace at an angle, rad.
    fn at(&self, angle: f64) -> f64 {
        let term = |(&count, [p, q]): (&u32, &[f64; 2])| {
            let (s, c) = (f64::from(count) * angle).sin_cos();
            p * c + q * s
        };
        self.constant + self.counts.iter().zip(&self.terms).map(term).sum::<f64>()
    }

    /// The lobe of the profile behind a term of the trace.
    fn lobe(&self, k: usize, gauge: Gauge) -> SeenLobe {
        let (count, [p, q]) = (self.counts[k], self.terms[k]);
        let [re, im] = gauge.response(count);
        let factor = re.hypot(im);
        // p cos + q sin is Re((p - i q) e^(i n t)): divided by the response
        let square = factor * factor;
        let terms = [(p * re - q * im) / square, (q * re + p * im) / square];
        let lobe = Harmonic::of(count, terms);
        SeenLobe {
            count,
            amplitude: lobe.amplitude,
            angle_deg: lobe.angle_deg,
            factor,
            uncertainty: self.noise.map(|noise| noise * self.spread(k) / factor),
        }
    }

    /// Standard error of a term in its worst phase, over that of a reading: root of the larger eigenvalue of its block.
    fn spread(&self, k: usize) -> f64 {
        let at = |i: usize, j: usize| self.covariance[(2 * k + 1 + i, 2 * k + 1 + j)];
        let (a, b, d) = (at(0, 0), at(0, 1), at(1, 1));
        (0.5 * (a + d) + (0.25 * (a - d).powi(2) + b * b).sqrt()).sqrt()
    }

    /// Standard error of the profile made of the seen lobes: root mean square round the turn, and largest, mm.
    fn profile_uncertainty(&self, gauge: Gauge, noise: f64) -> [f64; 2] {
        let size = 2 * self.counts.len() + 1;
        let variance = |angle: f64| {
            let mut row = DVector::zeros(size);
            row[0] = if gauge == Gauge::Radius { 1.0 } else { 0.0 };
            for (k, &count) in self.counts.iter().enumerate() {
                let [re, im] = gauge.response(count);
                let factor = re.hypot(im);
                if factor >= BLIND {
                    let (s, c) = (f64::from(count) * angle - im.atan2(re)).sin_cos();
                    (row[2 * k + 1], row[2 * k + 2]) = (c / factor, s / factor);
                }
            }
            (&self.covariance * &row).dot(&row)
        };
        let (mut sum, mut most) = (0.0, 0.0_f64);
        for k in 0..PLACES {
            let v = variance(TAU * k as f64 / PLACES as f64);
            sum += v;
            most = most.max(v);
        }
        [noise * (sum / PLACES as f64).sqrt(), noise * most.sqrt()]
    }
}

/// `visit(m, [cos(m angle), sin(m angle)])` for m from 0 to `highest`; each is made from the one before by one complex product.
fn turn(angle: f64, highest: usize, mut visit: impl FnMut(usize, [f64; 2])) {
    let (sine, cosine) = angle.sin_cos();
    let (mut c, mut s) = (1.0, 0.0);
    for m in 0..=highest {
        visit(m, [c, s]);
        (c, s) = (c * cosine - s * sine, c * sine + s * cosine);
    }
}

/// Means of the products of the fit's functions (1, then cosine and sine of each count), from the means of `e^(i m t)`.
fn normal_matrix(powers: &[[f64; 2]], counts: &[u32]) -> DMatrix<f64> {
    let size = 2 * counts.len() + 1;
    let of = |i: usize| match i {
        0 => (0, false),
        _ => (counts[(i - 1) / 2] as usize, i.is_multiple_of(2)),
    };
    DMatrix::from_fn(size, size, |i, j| {
        let ((a, a_sine), (b, b_sine)) = (of(i), of(j));
        let (sum, difference) = (powers[a + b], powers[a.abs_diff(b)]);
        // sin((a - b) t)
        let turned = if a >= b {
            difference[1]
        } else {
            -difference[1]
        };
        0.5 * match (a_sine, b_sine) {
            (false, false) => difference[0] + sum[0],
            (true, true) => difference[0] - sum[0],
            (true, false) => sum[1] + turned,
            (false, true) => sum[1] - turned,
        }
    })
}
