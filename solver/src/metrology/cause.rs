//! Which hold printed which lobe: a measured part against the lobes that its holds leave.

use super::Harmonic;

/// The lobes that one hold leaves, by computation, in the axes of the part.
#[derive(Clone, Debug)]
pub struct Print {
    /// What left them.
    pub name: String,
    /// Its lobes.
    pub lobes: Vec<Harmonic>,
}

/// One lobe count of a measured part, shared out.
#[derive(Clone, Debug)]
pub struct Cause {
    /// As measured.
    pub measured: Harmonic,
    /// What each hold puts in, in the order given.
    pub parts: Vec<Share>,
    /// What no hold explains. Without a jaw mark its angle means nothing and its amplitude is the least it can be.
    pub left: Share,
}

/// What one hold adds to a lobe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// The lobe itself.
    pub lobe: Harmonic,
    /// Its share of the measured lobe: the part of it in step with the measured one, over the measured amplitude. The shares of all
    /// holds and of what is left add up to 1; one that works against the lobe is negative. Without a jaw mark: plain amplitude
    /// over amplitude.
    pub share: f64,
}

/// Shares out every measured lobe of two or more among the holds.
///
/// A lobe is a phasor, `a e^(-i n angle)`, and phasors add: measured = sum of the holds + what is left. With `marked` the part
/// shows where the jaws were, so angles count. Without, the part may lie anyhow against its computed twin, which leaves
/// amplitudes alone to be compared: what is left is then at least the difference between the measured amplitude and that of all
/// holds together.
pub fn causes(measured: &[Harmonic], prints: &[Print], marked: bool) -> Vec<Cause> {
    measured
        .iter()
        .filter(|m| m.count >= 2 && m.amplitude > 0.0)
        .map(|m| {
            let phasors: Vec<[f64; 2]> = prints
                .iter()
                .map(|p| {
                    let same = p.lobes.iter().find(|h| h.count == m.count);
                    same.map_or([0.0, 0.0], |h| h.terms())
                })
                .collect();
            let all = phasors
                .iter()
                .fold([0.0, 0.0], |s, p| [s[0] + p[0], s[1] + p[1]]);
            let [mx, my] = m.terms();
            let square = m.amplitude * m.amplitude;
            let part = |[x, y]: [f64; 2]| {
                let lobe = Harmonic::of(m.count, [x, y]);
                let share = if marked {
                    (x * mx + y * my) / square
                } else {
                    lobe.amplitude / m.amplitude
                };
                Share { lobe, share }
            };
            let left = if marked {
                part([mx - all[0], my - all[1]])
            } else {
                part([(m.amplitude - all[0].hypot(all[1])).abs(), 0.0])
            };
            Cause {
                measured: *m,
                parts: phasors.into_iter().map(part).collect(),
                left,
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lobe(count: u32, amplitude: f64, angle_deg: f64) -> Harmonic {
        Harmonic {
            count,
            amplitude,
            angle_deg,
        }
    }

    fn prints() -> Vec<Print> {
        let print = |name: &str, lobes| Print {
            name: name.into(),
            lobes,
        };
        vec![
            print("first", vec![lobe(3, 0.02, 10.0), lobe(6, 0.001, 0.0)]),
            print("second", vec![lobe(3, 0.01, 40.0)]),
        ]
    }

    #[test]
    fn shares_add_up_and_what_is_left_is_the_rest() {
        // first cos 3(t - 10) and second cos 3(t - 40), a quarter wave apart, and 0.005 more at 10 deg
        let sum = 0.025_f64.hypot(0.01);
        let angle = 10.0 + (0.01_f64 / 0.025).atan().to_degrees() / 3.0;
        let causes = causes(&[lobe(1, 0.3, 0.0), lobe(3, sum, angle)], &prints(), true);
        assert_eq!(causes.len(), 1, "off centre is nobody's doing");
        let [first, second] = [causes[0].parts[0], causes[0].parts[1]];
        let left = causes[0].left;
        assert!((first.share + second.share + left.share - 1.0).abs() < 1e-12);
        assert!((first.share - 0.02 * 0.025 / (sum * sum)).abs() < 1e-12);
        assert!((left.lobe.amplitude - 0.005).abs() < 1e-12);
        assert!((left.lobe.angle_deg - 10.0).abs() < 1e-9);
        assert!((second.lobe.angle_deg - 40.0).abs() < 1e-9);
    }

    #[test]
    fn without_a_mark_only_amplitudes_count() {
        let turned = [lobe(3, 0.02_f64.hypot(0.01), 77.0), lobe(6, 0.003, 5.0)];
        let causes = causes(&turned, &prints(), false);
        assert!(causes[0].left.lobe.amplitude < 1e-12);
        assert!((causes[1].left.lobe.amplitude - 0.002).abs() < 1e-12);
        assert!((causes[1].parts[0].share - 1.0 / 3.0).abs() < 1e-12);
        assert_eq!(causes[1].parts[1].share, 0.0);
    }
}
