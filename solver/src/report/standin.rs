use std::f64::consts::TAU;
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circle {
    pub centre: [f64; 2],
    pub radius: f64,
    pub roundness: f64,
}
pub struct Profile<'a>(&'a [f64]);
impl<'a> Profile<'a> {
    pub fn equal(r: &'a [f64]) -> Self {
        Self(r)
    }
}
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("bad profile")]
pub struct MetrologyError;
pub struct Harmonic {
    pub count: u32,
    pub amplitude: f64,
    pub angle_deg: f64,
}
fn coefs(r: &[f64], n: u32) -> (f64, f64) {
    let m = r.len() as f64;
    let (mut a, mut b) = (0.0, 0.0);
    for (k, x) in r.iter().enumerate() {
        let t = TAU * (k as f64) * f64::from(n) / m;
        a += x * t.cos();
        b += x * t.sin();
    }
    (2.0 * a / m, 2.0 * b / m)
}
pub fn least_squares_circle(p: &Profile) -> Circle {
    let (x, y) = coefs(p.0, 1);
    let m = p.0.len() as f64;
    let d: Vec<f64> =
        p.0.iter()
            .enumerate()
            .map(|(k, r)| {
                let (s, c) = (TAU * k as f64 / m).sin_cos();
                (r * c - x).hypot(r * s - y)
            })
            .collect();
    let max = d.iter().fold(f64::MIN, |a, &b| a.max(b));
    let min = d.iter().fold(f64::MAX, |a, &b| a.min(b));
    Circle {
        centre: [x, y],
        radius: d.iter().sum::<f64>() / m,
        roundness: max - min,
    }
}
pub fn minimum_zone(p: &Profile) -> Result<Circle, MetrologyError> {
    Ok(least_squares_circle(p))
}
pub fn harmonics(p: &Profile, centre: [f64; 2], max: u32) -> Vec<Harmonic> {
    let m = p.0.len() as f64;
    let d: Vec<f64> =
        p.0.iter()
            .enumerate()
            .map(|(k, r)| {
                let (s, c) = (TAU * k as f64 / m).sin_cos();
                (r * c - centre[0]).hypot(r * s - centre[1])
            })
            .collect();
    (1..=max)
        .map(|n| {
            let (a, b) = coefs(&d, n);
            Harmonic {
                count: n,
                amplitude: a.hypot(b),
                angle_deg: (b.atan2(a).to_degrees() / f64::from(n))
                    .rem_euclid(360.0 / f64::from(n)),
            }
        })
        .collect()
}
