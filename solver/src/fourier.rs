//! The discrete Fourier transform of readings at equal angles, of any number.
//!
//! Lengths whose prime factors are small are split by them (Cooley and Tukey), others are turned into a convolution of a length that is
//! a power of two (Bluestein); both common knowledge. Plain arithmetic in a fixed order, so the bits are the same on every processor.

use std::cell::RefCell;
use std::f64::consts::TAU;
use std::rc::Rc;
use std::thread::LocalKey;

use nalgebra::Complex;

/// A complex number.
pub(crate) type Complex64 = Complex<f64>;

/// The largest prime factor that is split off: a factor `p` costs `p` products a value.
const LARGEST_FACTOR: usize = 32;

/// What is kept, each with its length.
type Kept<T> = RefCell<Vec<(usize, Rc<T>)>>;

thread_local! {
    /// Making a plan costs about as much as using it, and most profiles have as many readings as the last.
    static PLANS: Kept<Plan> = const { RefCell::new(Vec::new()) };
    static TURNS: Kept<Vec<Complex64>> = const { RefCell::new(Vec::new()) };
}

/// Plans and tables kept.
const KEPT: usize = 4;

/// `sum v_k e^(-i m t_k)` over equal angles from 0, for m from 0 to half the number of values.
pub(crate) fn spectrum(values: &[f64]) -> Vec<Complex64> {
    let n = values.len();
    let half = n / 2 + 1;
    if !n.is_multiple_of(2) {
        let input: Vec<Complex64> = values.iter().map(|&v| Complex64::new(v, 0.0)).collect();
        let mut terms = forward(&input);
        terms.truncate(half);
        return terms;
    }
    // two readings as one complex number: the even ones and the odd ones come apart by their symmetry
    let input: Vec<Complex64> = values
        .chunks_exact(2)
        .map(|pair| Complex64::new(pair[0], pair[1]))
        .collect();
    let (pairs, m, turns) = (forward(&input), n / 2, turns(n));
    (0..half)
        .map(|k| {
            let (a, b) = (pairs[k % m], pairs[(m - k) % m].conj());
            let (even, odd) = (0.5 * (a + b), 0.5 * (a - b));
            // odd over i, turned by its angle
            even + Complex64::new(odd.im, -odd.re) * turns[k]
        })
        .collect()
}

/// The values with these terms from 0 to half their number `n`, times `n`: undoes [`spectrum`] but for that factor. The others are
/// their mirror image, so the first has no imaginary part, nor the last of an even number.
pub(crate) fn values(terms: &[Complex64], n: usize) -> Vec<f64> {
    // the conjugate of the forward transform of the conjugate is the transform back
    if n.is_multiple_of(2) {
        // the even and the odd values as one complex number, as in the transform there
        let (m, turns) = (n / 2, turns(n));
        let packed: Vec<Complex64> = (0..m)
            .map(|k| {
                let (a, b) = (terms[k], terms[m - k].conj());
                let odd = (a - b) * turns[k].conj();
                (a + b + Complex64::new(-odd.im, odd.re)).conj()
            })
            .collect();
        let pairs = forward(&packed);
        return pairs.iter().flat_map(|z| [z.re, -z.im]).collect();
    }
    let term = |k: usize| match k {
        k if k <= n / 2 => terms[k].conj(),
        k => terms[n - k],
    };
    let input: Vec<Complex64> = (0..n).map(term).collect();
    forward(&input).iter().map(|x| x.re).collect()
}

/// `e^(-2 pi i k / n)`.
fn turn(k: usize, n: usize) -> Complex64 {
    let (s, c) = (TAU * k as f64 / n as f64).sin_cos();
    Complex64::new(c, -s)
}

fn forward(input: &[Complex64]) -> Vec<Complex64> {
    let n = input.len();
    known(&PLANS, n, || Plan::new(n)).forward(input)
}

/// [`turn`] from 0 to half an even number.
fn turns(n: usize) -> Rc<Vec<Complex64>> {
    known(&TURNS, n, || (0..=n / 2).map(|k| turn(k, n)).collect())
}

/// What is kept of a length, or made and kept now.
fn known<T>(kept: &'static LocalKey<Kept<T>>, n: usize, make: impl FnOnce() -> T) -> Rc<T> {
    let of_length = |all: &Vec<(usize, Rc<T>)>| {
        let found = all.iter().find(|k| k.0 == n);
        found.map(|k| Rc::clone(&k.1))
    };
    kept.with_borrow(of_length).unwrap_or_else(|| {
        // not inside of the borrow: a plan may need another
        let made = Rc::new(make());
        kept.with_borrow_mut(|all| {
            all.insert(0, (n, Rc::clone(&made)));
            all.truncate(KEPT);
        });
        made
    })
}

/// What is known of a length beforehand.
enum Plan {
    Split(Split),
    Chirp(Chirp),
}

impl Plan {
    fn new(n: usize) -> Self {
        match factors(n) {
            Some(factors) => Self::Split(Split::new(n, factors)),
            None => Self::Chirp(Chirp::new(n)),
        }
    }

    fn forward(&self, input: &[Complex64]) -> Vec<Complex64> {
        match self {
            Self::Split(split) => split.forward(input),
            Self::Chirp(chirp) => chirp.forward(input),
        }
    }
}

/// Fours first, then primes, if all are small.
fn factors(n: usize) -> Option<Vec<usize>> {
    let (mut rest, mut found) = (n, Vec::new());
    for p in std::iter::once(4).chain(2..=LARGEST_FACTOR) {
        while rest > 1 && rest.is_multiple_of(p) {
            found.push(p);
            rest /= p;
        }
    }
    (rest <= 1).then_some(found)
}

/// A length that is split by its factors, one level each.
struct Split {
    levels: Vec<Level>,
}

/// Transforms of a length put together from `p` of a `p`th of it.
struct Level {
    p: usize,
    /// `e^(-2 pi i r k / length)` of part `r` from 1 on, for every `k` of a part in turn.
    turns: Vec<Complex64>,
    /// `e^(-2 pi i k / p)` where no butterfly is written out for `p`.
    roots: Vec<Complex64>,
}

impl Split {
    fn new(n: usize, factors: Vec<usize>) -> Self {
        let mut length = n;
        let levels = factors.into_iter().map(|p| {
            let level = Level::new(p, length);
            length /= p;
            level
        });
        Self {
            levels: levels.collect(),
        }
    }

    fn forward(&self, input: &[Complex64]) -> Vec<Complex64> {
        let mut output = vec![Complex64::default(); input.len()];
        match self.levels.as_slice() {
            [] => output.copy_from_slice(input),
            levels => part(levels, input, 1, &mut output),
        }
        output
    }
}

/// The transform of every `step`th value.
fn part(levels: &[Level], input: &[Complex64], step: usize, output: &mut [Complex64]) {
    let (level, others) = levels.split_first().expect("one level at least");
    let p = level.p;
    if others.is_empty() {
        for (to, from) in output.iter_mut().zip(input.iter().step_by(step)) {
            *to = *from;
        }
    } else {
        let q = output.len() / p;
        for (r, to) in output.chunks_exact_mut(q).enumerate() {
            part(others, &input[r * step..], step * p, to);
        }
    }
    match p {
        2 => level.combine(output, two),
        3 => level.combine(output, three),
        4 => level.combine(output, four),
        5 => level.combine(output, five),
        _ => level.by_definition(output),
    }
}

impl Level {
    fn new(p: usize, length: usize) -> Self {
        let turns = (0..length / p).flat_map(|k| (1..p).map(move |r| turn(r * k, length)));
        let roots = if p > 5 {
            (0..p).map(|k| turn(k, p)).collect()
        } else {
            Vec::new()
        };
        Self {
            p,
            turns: turns.collect(),
            roots,
        }
    }

    fn combine<const P: usize>(
        &self,
        output: &mut [Complex64],
        butterfly: impl Fn(&mut [Complex64; P]),
    ) {
        let q = output.len() / P;
        for (k, turns) in self.turns.chunks_exact(P - 1).enumerate() {
            let mut x: [Complex64; P] = std::array::from_fn(|r| output[r * q + k]);
            for (x, turn) in x[1..].iter_mut().zip(turns) {
                *x *= turn;
            }
            butterfly(&mut x);
            for (j, x) in x.into_iter().enumerate() {
                output[j * q + k] = x;
            }
        }
    }

    fn by_definition(&self, output: &mut [Complex64]) {
        let p = self.p;
        let q = output.len() / p;
        let mut x = [Complex64::default(); LARGEST_FACTOR];
        for (k, turns) in self.turns.chunks_exact(p - 1).enumerate() {
            for (r, x) in x[..p].iter_mut().enumerate() {
                *x = output[r * q + k];
            }
            for (x, turn) in x[1..p].iter_mut().zip(turns) {
                *x *= turn;
            }
            for j in 0..p {
                output[j * q + k] = (0..p).map(|r| x[r] * self.roots[r * j % p]).sum();
            }
        }
    }
}

/// `-i` times a number.
fn quarter(x: Complex64) -> Complex64 {
    Complex64::new(x.im, -x.re)
}

fn two(x: &mut [Complex64; 2]) {
    (x[0], x[1]) = (x[0] + x[1], x[0] - x[1]);
}

fn three(x: &mut [Complex64; 3]) {
    // sin(120 deg)
    const SINE: f64 = 0.866_025_403_784_438_6;
    let (sum, difference) = (x[1] + x[2], quarter(x[1] - x[2]) * SINE);
    let middle = x[0] - 0.5 * sum;
    (x[0], x[1], x[2]) = (x[0] + sum, middle + difference, middle - difference);
}

fn four(x: &mut [Complex64; 4]) {
    let (a, b) = (x[0] + x[2], x[0] - x[2]);
    let (c, d) = (x[1] + x[3], quarter(x[1] - x[3]));
    (x[0], x[1], x[2], x[3]) = (a + c, b + d, a - c, b - d);
}

fn five(x: &mut [Complex64; 5]) {
    // cosine and sine of 72 and 144 deg
    const C1: f64 = 0.309_016_994_374_947_45;
    const S1: f64 = 0.951_056_516_295_153_5;
    const C2: f64 = -0.809_016_994_374_947_5;
    const S2: f64 = 0.587_785_252_292_473_1;
    let (a, b) = (x[1] + x[4], x[2] + x[3]);
    let (c, d) = (quarter(x[1] - x[4]), quarter(x[2] - x[3]));
    let (near, far) = (x[0] + C1 * a + C2 * b, x[0] + C2 * a + C1 * b);
    let (aside, beyond) = (S1 * c + S2 * d, S2 * c - S1 * d);
    (x[0], x[1], x[2], x[3], x[4]) = (
        x[0] + a + b,
        near + aside,
        far + beyond,
        far - beyond,
        near - aside,
    );
}

/// A length with a large prime factor: with `jk = (j^2 + k^2 - (j - k)^2) / 2` the transform is a convolution with a chirp.
struct Chirp {
    /// `e^(-pi i k^2 / n)`.
    turns: Vec<Complex64>,
    /// The transform of the chirp over the length of the convolution.
    transformed: Vec<Complex64>,
}

impl Chirp {
    fn new(n: usize) -> Self {
        // whole turns are taken off in whole numbers
        let turns: Vec<Complex64> = (0..n)
            .map(|k| turn((k as u64 * k as u64 % (2 * n as u64)) as usize, 2 * n))
            .collect();
        let length = (2 * n - 1).next_power_of_two();
        let mut chirp = vec![Complex64::default(); length];
        for (k, t) in turns.iter().enumerate() {
            chirp[k] = t.conj();
            chirp[(length - k) % length] = t.conj();
        }
        Self {
            transformed: forward(&chirp),
            turns,
        }
    }

    fn forward(&self, input: &[Complex64]) -> Vec<Complex64> {
        let length = self.transformed.len();
        let mut wide = vec![Complex64::default(); length];
        for ((to, from), turn) in wide.iter_mut().zip(input).zip(&self.turns) {
            *to = from * turn;
        }
        let terms = forward(&wide);
        let product: Vec<Complex64> = terms
            .iter()
            .zip(&self.transformed)
            .map(|(a, b)| (a * b).conj())
            .collect();
        forward(&product)
            .iter()
            .zip(&self.turns)
            .map(|(x, turn)| x.conj() * turn / length as f64)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn noise(n: usize) -> Vec<f64> {
        let mut state = n as u64;
        let mut random = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
        };
        (0..n).map(|_| random()).collect()
    }

    /// Small factors, primes below and beyond the largest that is split off, odd and even.
    #[test]
    fn terms_are_those_of_the_definition() {
        for n in [
            3, 4, 5, 6, 8, 15, 31, 37, 60, 74, 97, 121, 360, 509, 1018, 3600,
        ] {
            let values = noise(n);
            let found = spectrum(&values);
            assert_eq!(found.len(), n / 2 + 1);
            for (m, term) in found.iter().enumerate() {
                let sum: Complex64 = (0..n).map(|k| values[k] * turn(k * m % n, n)).sum();
                assert!(
                    (sum - term).norm() < 1e-14 * n as f64,
                    "{n} {m} {sum} {term}"
                );
            }
        }
    }

    #[test]
    fn values_come_back() {
        for n in [3, 4, 7, 12, 37, 74, 1001, 3600, 99_991, 100_000] {
            let given = noise(n);
            for (a, b) in values(&spectrum(&given), n).iter().zip(&given) {
                assert!((a / n as f64 - b).abs() < 1e-14, "{n} {a} {b}");
            }
        }
    }
}
