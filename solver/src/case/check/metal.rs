//! The nominal part while cuts take metal off it: whether a wall is left, and what diameters it comes to.

use std::mem;

use super::{Findings, key_path, step};
use crate::case::problem::ProblemKind;
use crate::case::{Cut, Part, Tube};
use crate::geometry::{Meridian, MeridianPiece, PerSurface, Surface};
use crate::scheme::Section;

/// The part that steps are given, and whether the case has it along its length.
pub(in crate::case) struct Workpiece {
    /// Its metal; `None` if the part is wrong.
    pub metal: Option<Metal>,
    /// Whether the case has `[tube]`, right or wrong.
    pub is_tube: bool,
}

impl Workpiece {
    /// The part as received.
    pub fn of(part: Option<&Part>, tube: Option<&Tube>, is_tube: bool) -> Self {
        Self {
            metal: part.map(|p| Metal::of(p.section(), tube, is_tube)),
            is_tube,
        }
    }
}

/// Nominal metal that is left, mm.
pub(in crate::case) struct Metal {
    section: Section,
    is_tube: bool,
    /// Along the part, in the frame of a step that is not flipped; none for a ring, and for a tube that is wrong.
    pieces: Vec<MeridianPiece>,
}

/// What a finished part is drawn to, as far as the case says it.
pub(in crate::case) struct Finished {
    /// Nominal section after the last cut.
    pub section: Section,
    /// Diameters of each surface, mm.
    pub diameters: PerSurface<Vec<f64>>,
}

/// The path of the tool in the frame of a step that is not flipped, mm.
struct ToolPath {
    surface: Surface,
    z: [f64; 2],
    radii: [f64; 2],
}

/// A place where a cut leaves no wall.
struct Through {
    /// Axial position in the frame of a step that is not flipped, mm.
    z: f64,
    /// Radius of the other surface there, mm.
    other: f64,
    /// By how much the tool passes it, mm.
    by: f64,
}

impl ToolPath {
    fn of(cut: &Cut, flipped: bool, length: f64) -> Self {
        let mut z = cut.reach.on(length);
        let mut radii = [cut.diameter, cut.reach.end_diameter.unwrap_or(cut.diameter)];
        if flipped {
            z = [length - z[1], length - z[0]];
            radii.reverse();
        }
        Self {
            surface: cut.surface,
            z,
            radii: radii.map(|d| 0.5 * d),
        }
    }

    fn radius(&self, z: f64) -> f64 {
        let [from, to] = self.z;
        let share = (z - from) / (to - from);
        self.radii[0] + (self.radii[1] - self.radii[0]) * share
    }

    fn is_over(&self, piece: &MeridianPiece) -> bool {
        let middle = 0.5 * (piece.z[0] + piece.z[1]);
        (self.z[0]..=self.z[1]).contains(&middle)
    }

    /// Positive where the tool takes metal off a surface of this radius.
    fn depth(&self, z: f64, own: f64) -> f64 {
        match self.surface {
            Surface::Outer => own - self.radius(z),
            Surface::Bore => self.radius(z) - own,
        }
    }
}

/// The pieces with ends at this position too.
fn split(pieces: Vec<MeridianPiece>, z: f64) -> Vec<MeridianPiece> {
    let divided = pieces.into_iter().flat_map(|p| {
        let [from, to] = p.z;
        let least = 1e-9 * (to - from);
        if z - from <= least || to - z <= least {
            return vec![p];
        }
        let half = |ends: [f64; 2]| MeridianPiece {
            z: ends,
            radii: PerSurface::from_fn(|s| ends.map(|z| p.radius(s, z))),
        };
        vec![half([from, z]), half([z, to])]
    });
    divided.collect()
}

impl Metal {
    fn of(section: Section, tube: Option<&Tube>, is_tube: bool) -> Self {
        let plain = || {
            let Section {
                outer_radius,
                bore_radius,
                length,
            } = section;
            Meridian::tube(outer_radius, bore_radius, length).ok()
        };
        let along = tube.and_then(|t| t.outline.clone().or_else(plain));
        Self {
            section,
            is_tube,
            pieces: along.map_or_else(Vec::new, |m| m.pieces().to_vec()),
        }
    }

    /// Length of the part, mm.
    pub fn length(&self) -> f64 {
        self.section.length
    }

    /// What is left, given the nominal section after the last cut.
    pub fn finished(&self, section: Section) -> Finished {
        let along = |s: Surface| -> Vec<f64> {
            let radii = self.pieces.iter().flat_map(|p| *p.radii.get(s));
            radii.map(|r| 2.0 * r).collect()
        };
        let of = |s: Surface| match self.is_tube {
            true => along(s),
            false => vec![2.0 * section.radius(s)],
        };
        Finished {
            diameters: PerSurface::from_fn(of),
            section,
        }
    }

    /// Takes a cut off, or notes that it cannot be. `path` is that of the cut.
    pub fn cut(&mut self, findings: &mut Findings, path: &str, cut: &Cut, flipped: bool) {
        let diameter = key_path(path, "diameter");
        if !self.is_tube {
            let this = (cut.surface, cut.diameter);
            step::cut(findings, &diameter, this, &mut self.section);
            return;
        }
        let length = self.length();
        let tool = ToolPath::of(cut, flipped, length);
        let pieces = mem::take(&mut self.pieces);
        let pieces = tool.z.into_iter().fold(pieces, split);
        if let Some(message) = removes_nothing(findings, &pieces, &tool) {
            findings.wrong(diameter, message);
            self.pieces = pieces;
            return;
        }
        let left = cut_off(&pieces, &tool);
        let Some(through) = through(&left, &tool) else {
            self.pieces = left;
            return;
        };
        self.pieces = pieces;
        let z = if flipped {
            length - through.z
        } else {
            through.z
        };
        let at_end = z >= cut.reach.on(length)[1] - 1e-9 * length;
        let key = match cut.reach.end_diameter {
            Some(_) if at_end => key_path(path, "end_diameter"),
            _ => diameter,
        };
        let [to, other] = [tool.radius(through.z), through.other].map(|r| findings.length(2.0 * r));
        let (doing, facing, way) = match cut.surface {
            Surface::Bore => ("boring", "outside", "below"),
            Surface::Outer => ("turning", "bore", "above"),
        };
        let message = format!(
            "{doing} to {to} cuts through the wall: the {facing} is {other} at {} from the gripped end; stay {way} that",
            findings.length(z)
        );
        findings.note(ProblemKind::CutThrough, key, message);
    }
}

/// What the tool leaves of the pieces, which end where it begins and ends.
fn cut_off(pieces: &[MeridianPiece], tool: &ToolPath) -> Vec<MeridianPiece> {
    let mut left = Vec::with_capacity(pieces.len() + 1);
    for piece in pieces {
        if !tool.is_over(piece) {
            left.push(piece.clone());
            continue;
        }
        let depth = |end: usize| tool.depth(piece.z[end], piece.radii.get(tool.surface)[end]);
        let (first, last) = (depth(0), depth(1));
        let parts = if first * last < 0.0 {
            let crossing = piece.z[0] + (piece.z[1] - piece.z[0]) * first / (first - last);
            split(vec![piece.clone()], crossing)
        } else {
            vec![piece.clone()]
        };
        left.extend(parts.into_iter().map(|mut part| {
            let middle = 0.5 * (part.z[0] + part.z[1]);
            if tool.depth(middle, part.radius(tool.surface, middle)) > 0.0 {
                *part.radii.get_mut(tool.surface) = part.z.map(|z| tool.radius(z));
            }
            part
        }));
    }
    left
}

/// Where the tool passes the other surface the farthest, also that of the piece beside a step, if it does.
fn through(left: &[MeridianPiece], tool: &ToolPath) -> Option<Through> {
    let facing = match tool.surface {
        Surface::Outer => Surface::Bore,
        Surface::Bore => Surface::Outer,
    };
    let mut worst: Option<Through> = None;
    for (k, piece) in left.iter().enumerate().filter(|(_, p)| tool.is_over(p)) {
        let neighbours = [k.checked_sub(1), Some(k + 1)].map(|n| left.get(n?));
        for end in [0, 1] {
            let own = piece.radii.get(tool.surface)[end];
            let beside = neighbours[end].map(|n| n.radii.get(facing)[1 - end]);
            for other in [Some(piece.radii.get(facing)[end]), beside]
                .into_iter()
                .flatten()
            {
                let by = match tool.surface {
                    Surface::Outer => other - own,
                    Surface::Bore => own - other,
                };
                if by >= 0.0 && worst.as_ref().is_none_or(|w| by > w.by) {
                    let z = piece.z[end];
                    worst = Some(Through { z, other, by });
                }
            }
        }
    }
    worst
}

/// What to say of a tool that stays clear of the metal by more than a whole wall wherever it passes.
fn removes_nothing(
    findings: &Findings,
    pieces: &[MeridianPiece],
    tool: &ToolPath,
) -> Option<String> {
    let own = |p: &MeridianPiece, end: usize| p.radii.get(tool.surface)[end];
    let clear = |p: &MeridianPiece, end: usize| {
        let wall = p.radii.outer[end] - p.radii.bore[end];
        tool.depth(p.z[end], own(p, end)) < -wall
    };
    let under: Vec<&MeridianPiece> = pieces.iter().filter(|p| tool.is_over(p)).collect();
    if !under.iter().all(|p| clear(p, 0) && clear(p, 1)) {
        return None;
    }
    let radii = under.iter().flat_map(|p| [own(p, 0), own(p, 1)]);
    let nearest = |a: f64, b: f64| match tool.surface {
        Surface::Outer => a.max(b),
        Surface::Bore => a.min(b),
    };
    let metal = findings.length(2.0 * radii.reduce(nearest)?);
    let to = findings.length(2.0 * tool.radii[0]);
    Some(match tool.surface {
        Surface::Bore => format!(
            "boring to {to} removes nothing: the bore is already {metal} there; bore to more than that"
        ),
        Surface::Outer => format!(
            "turning to {to} removes nothing: the outside is already {metal} there; turn to less than that"
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::Reach;

    fn metal() -> Metal {
        let section = Section {
            outer_radius: 30.0,
            bore_radius: 25.0,
            length: 40.0,
        };
        Metal::of(section, Some(&Tube::default()), true)
    }

    fn along(surface: Surface, diameters: [f64; 2], [from, to]: [f64; 2]) -> Cut {
        let reach = Reach {
            from,
            to: Some(to),
            end_diameter: Some(diameters[1]),
        };
        Cut {
            reach,
            ..Cut::whole(surface, diameters[0])
        }
    }

    fn radius(metal: &Metal, surface: Surface, z: f64) -> f64 {
        let piece = metal.pieces.iter().find(|p| z < p.z[1]);
        piece.map_or(f64::NAN, |p| p.radius(surface, z))
    }

    /// A taper that comes out of the metal half way leaves the stock beyond, and the pieces stay one after the other.
    #[test]
    fn a_taper_that_runs_out_leaves_the_stock() {
        let mut metal = metal();
        let mut findings = Findings::default();
        let taper = along(Surface::Outer, [58.0, 62.0], [10.0, 30.0]);
        metal.cut(&mut findings, "step[0].cut[0]", &taper, false);
        assert!(findings.list.is_empty());
        for (z, outer) in [(5.0, 30.0), (10.0, 29.0), (15.0, 29.5), (25.0, 30.0)] {
            assert!((radius(&metal, Surface::Outer, z) - outer).abs() < 1e-12);
        }
        assert!(metal.pieces.windows(2).all(|p| p[0].z[1] == p[1].z[0]));
        let drawn = metal.finished(metal.section).diameters.outer;
        assert!(drawn.contains(&58.0) && drawn.contains(&60.0) && !drawn.contains(&62.0));
    }

    /// In a step turned end for end the tool comes from the other end.
    #[test]
    fn a_flipped_cut_lies_at_the_other_end() {
        let mut metal = metal();
        let mut findings = Findings::default();
        let taper = along(Surface::Bore, [52.0, 54.0], [0.0, 10.0]);
        metal.cut(&mut findings, "step[0].cut[0]", &taper, true);
        assert!((radius(&metal, Surface::Bore, 39.0) - 26.1).abs() < 1e-12);
        assert_eq!(radius(&metal, Surface::Bore, 29.0), 25.0);
    }

    /// A cut that is refused takes nothing off.
    #[test]
    fn a_cut_through_the_wall_is_not_taken() {
        let mut metal = metal();
        let mut findings = Findings::default();
        let deep = along(Surface::Bore, [52.0, 62.0], [0.0, 10.0]);
        metal.cut(&mut findings, "step[0].cut[0]", &deep, false);
        assert_eq!(findings.list[0].path, "step[0].cut[0].end_diameter");
        assert_eq!(findings.list[0].kind, ProblemKind::CutThrough);
        assert_eq!(radius(&metal, Surface::Bore, 1.0), 25.0);
    }
}
