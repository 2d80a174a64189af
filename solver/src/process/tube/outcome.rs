//! What a solved step of a tube comes to.

use super::along;
use super::fields;
use super::judged::JudgedStep;
use super::part::thinned;
use super::sections;
use super::setting::TubeSetting;
use super::step::{HeldTube, TubeSolved};
use super::stress;
use crate::case::{Step, Tube};
use crate::contact::Clamp;
use crate::geometry::{PerSurface, Surface};
use crate::metrology::ProfileError;
use crate::process::caution;
use crate::process::figures::{self, Carried, Unknown};
use crate::process::inspect::{Named, contacts, dead_loads, wall};
use crate::process::sample::difference;
use crate::process::{
    AfterCut, Balance, Caution, Contact, ContactError, FigureErrors, GripAlong, GripOutcome,
    HeldState, MeridianField, PROFILE_POINTS, PlatesOutcome, ProcessError, Radii, Stage, Station,
    StepOutcome, StressSummary, TubeOutcome, TubeState,
};
use crate::scheme::{EndCondition, Placing};
use crate::tube::plates::Plated;

/// Positions and angles of the grids kept for pictures.
const GRID_POSITIONS: usize = 61;
const GRID_ANGLES: usize = 180;

/// Times that the difference of two divisions is stated of shapes, and of sizes and forces: where a pad's edge is loaded error falls with the size of the
/// elements, and it does so slower than that where contact moves with them. Of 39 random tubes 9 of 138 shapes were off by up to 1.7 times the difference,
/// 6 of 46 sizes and forces by up to 5 times.
const SHAPE_MARGIN: f64 = 1.5;
const MARGIN: f64 = 3.0;

/// Angles at which displacements are reported.
const REPORTED: usize = 360;

/// A solved step and what it is told with.
pub(super) struct Telling<'a> {
    pub setting: &'a TubeSetting<'a>,
    pub tube: &'a Tube,
    pub names: &'a [Named],
    pub judged: &'a JudgedStep,
    pub carried: &'a Carried,
    /// All steps, once the last of them is told.
    pub finished: Option<&'a [Step]>,
}

/// A held state with what its bodies do.
struct Told {
    contacts: Vec<Contact>,
    grips: Vec<GripAlong>,
    stress: StressSummary,
}

impl Telling<'_> {
    /// The outcome of the step.
    pub fn step(&self, placing: Placing, keep: bool) -> Result<StepOutcome, ProcessError> {
        let Self {
            setting, judged, ..
        } = self;
        let (fine, z) = (&judged.fine, judged.section);
        let (held, after) = self.told_of(fine);
        let coarse = self.told_of(&judged.coarse);
        let section = self.station(z);
        let released = section.released.clone();
        let errors = self.errors(
            (&held, after.as_ref()),
            (&coarse.0, coarse.1.as_ref()),
            &section,
        );
        let mut outcome = StepOutcome {
            hold: setting.step.step.hold.clone(),
            placing,
            from_squeeze: None,
            spindle: fine.spindle,
            stock: section.stock,
            held: HeldState {
                shape: section.held,
                displacement: section.held_displacement,
                contacts: held.contacts,
                loads: dead_loads(self.names, &fine.clamp, setting.step.supports),
                axial_force: fine.clamp.axial_force(),
                rigid_body_modes: free_motions(&fine.held),
                stress: held.stress,
                balance: balance(&fine.held),
                energy: energy(fine),
            },
            cuts: fine.cuts.clone(),
            stress_between_cuts: Vec::new(),
            after_cut: after.as_ref().map(|a| AfterCut {
                contacts: a.contacts.clone(),
                stress: a.stress,
            }),
            cut: section.cut,
            wall: wall(&released),
            released,
            estimate: judged.estimate.clone(),
            errors: Some(errors),
            fields: Vec::new(),
            mesh_size: mesh_size(&fine.held),
            held_at_speed: None,
            grip: GripOutcome::default(),
            tube: Some(self.tube(held.grips, after.map_or(Vec::new(), |a| a.grips))),
        };
        let (before, then) = coarse;
        let coarse = std::iter::once(before).chain(then).map(|t| t.stress);
        figures::judge_stress(&mut outcome, &coarse.collect::<Vec<_>>(), 0.0);
        if let (true, Some(tube)) = (keep, &mut outcome.tube) {
            tube.fields = self.fields()?;
        }
        Ok(outcome)
    }

    /// The r-z fields of every state, at the angle where the section moves most.
    fn fields(&self) -> Result<Vec<MeridianField>, ProcessError> {
        let fine = &self.judged.fine;
        let moved = fine
            .held
            .moved(Surface::Outer, self.judged.section, REPORTED);
        let most = (0..REPORTED).max_by(|&a, &b| {
            moved[a][0]
                .abs()
                .total_cmp(&moved[b][0].abs())
                .then(b.cmp(&a))
        });
        let angle = most.unwrap_or(0) as f64;
        let mut all = vec![fields::held(&fine.held, Stage::Held, angle)?];
        if let Some(after) = &fine.after {
            all.push(fields::held(after, Stage::Cut, angle)?);
        }
        let last = fine.after.as_ref().unwrap_or(&fine.held);
        all.push(fields::released(last, angle));
        Ok(all)
    }

    fn told(&self, clamp: &Clamp, held: &HeldTube) -> Told {
        let setting = self.setting;
        let grips = along::grips(setting, clamp, held);
        let mut all = contacts(&setting.step, self.names, clamp, &held.rest.contact.section);
        for (k, (contact, grip)) in all.iter_mut().zip(&grips).enumerate() {
            let at_end = |t: &[f64; 2]| t[0] == grip.reach[0] || t[1] == grip.reach[1];
            let peak = held.contact.along(&held.rest.contact, k);
            let peak = peak.iter().map(|l| l.pressure).fold(0.0, f64::max);
            // a pad that bears at its end along the part has no largest pressure there either
            let bounded =
                contact.edge_force_per_length.is_none() && !grip.touching.iter().any(at_end);
            contact.peak_pressure = bounded.then_some(peak);
        }
        let strength = setting.step.part.material.yield_strength;
        Told {
            stress: stress::summary(held, clamp, &grips, setting.wall(), strength),
            contacts: all,
            grips,
        }
    }

    /// What a division says before the first cut and after the last.
    fn told_of(&self, solved: &TubeSolved) -> (Told, Option<Told>) {
        let after = solved.after.as_ref();
        (
            self.told(&solved.clamp, &solved.held),
            after.map(|a| self.told(&solved.clamp_after_clamping, a)),
        )
    }

    /// The shapes of a section of one division.
    fn shapes(&self, solved: &TubeSolved, z: f64) -> [Radii; 2] {
        [
            solved.held.shape(z, PROFILE_POINTS),
            solved.released(z, PROFILE_POINTS),
        ]
    }

    /// Errors of the held and the released shapes of a section.
    fn shape_errors(&self, z: f64) -> [PerSurface<ProfileError>; 2] {
        let judged = self.judged;
        let rough = self.shapes(&judged.coarse, z);
        let sharp = self.shapes(&judged.fine, z);
        std::array::from_fn(|k| {
            PerSurface::from_fn(|s| {
                let off = difference(rough[k].get(s), sharp[k].get(s));
                let mean = off.iter().sum::<f64>() / off.len() as f64;
                let stated = |d: &f64| SHAPE_MARGIN * (d - mean) + MARGIN * mean;
                let off = off.iter().map(stated).collect();
                ProfileError::new(off, judged.floor + self.carried.roundness)
            })
        })
    }

    fn station(&self, z: f64) -> Station {
        let fine = &self.judged.fine;
        let stock = PerSurface::from_fn(|s| self.setting.part.profile(s, z, PROFILE_POINTS));
        let displacement = PerSurface::from_fn(|s| {
            let moved = fine.held.moved(s, z, 2 * REPORTED);
            thinned(&moved.iter().map(|u| u[0]).collect::<Vec<_>>(), REPORTED)
        });
        let after = fine.after.as_ref();
        Station {
            z,
            stock,
            held: fine.held.shape(z, PROFILE_POINTS),
            held_displacement: displacement,
            cut: after.map(|a| a.distances(fine.spindle, z, PROFILE_POINTS)),
            released: fine.released(z, PROFILE_POINTS),
            errors: Some(self.shape_errors(z)),
        }
    }

    /// Errors of all figures, those of shapes at the section that the step tells.
    fn errors(
        &self,
        (sharp, sharp_after): (&Told, Option<&Told>),
        (rough, rough_after): (&Told, Option<&Told>),
        section: &Station,
    ) -> FigureErrors {
        let judged = self.judged;
        let (coarse, fine) = (&judged.coarse, &judged.fine);
        let [held, released] = section.errors.clone().unwrap_or_default();
        let left = judged.floor + self.carried.roundness;
        let unknown = Unknown {
            series: 0.0,
            shape: left,
            moved: fine.held.field().largest(),
            line: figures::line_deg(&self.setting.radii()),
        };
        let of = |a: &Told, b: &Told| contact_errors(&a.contacts, &b.contacts, &unknown);
        FigureErrors {
            contacts: of(rough, sharp),
            contacts_after_cut: match (rough_after, sharp_after) {
                (Some(rough), Some(sharp)) => of(rough, sharp),
                _ => Vec::new(),
            },
            cuts: figures::cut_errors(&coarse.cuts, &fine.cuts, left),
            wall: figures::wall_error(&section.released, &released),
            energy: (energy(coarse) - energy(fine)).abs(),
            held,
            released,
        }
    }

    fn tube(&self, grips: Vec<GripAlong>, grips_after_cut: Vec<GripAlong>) -> TubeOutcome {
        let (judged, setting) = (self.judged, self.setting);
        let fine = &judged.fine;
        let [start, end] = fine.part.nominal.ends();
        TubeOutcome {
            length: end - start,
            flipped: setting.step.step.flipped,
            section: judged.section,
            stations: self
                .tube
                .stations
                .iter()
                .map(|&z| self.station(z))
                .collect(),
            judged: PerSurface::from_fn(|s| {
                let lines = fine.held.lines();
                let at = |steps| sections::judged(&fine.part, lines, steps, s);
                let places = self.finished.map_or(Vec::new(), at);
                places.into_iter().map(|z| self.station(z)).collect()
            }),
            grips,
            grips_after_cut,
            along: along::cuts(&judged.coarse, fine),
            plates: self.plates(&fine.held),
            states: states(fine),
            fields: Vec::new(),
            mesh_size: mesh_size(&fine.held),
            harmonics: fine.held.stage.responses.ladder().highest(),
        }
    }

    fn plates(&self, held: &HeldTube) -> Option<PlatesOutcome> {
        let setting = self.setting;
        let plated = held.rest.plates.as_ref()?;
        let clamp = setting.plates()?;
        let force = self.judged.fine.clamp.axial_force();
        let material = &setting.step.part.material;
        let outline = &held.part.nominal;
        let plain = outline.pieces().len() == 1;
        let [start, end] = outline.ends();
        let buckling = plain.then(|| {
            let [outer, bore] = [Surface::Outer, Surface::Bore].map(|s| outline.radius(s, start));
            crate::tube::buckling::buckling_forces(
                0.5 * (outer + bore),
                outer - bore,
                material.young_modulus,
                material.poisson_ratio,
            )
        });
        let friction_used = plated.radial_friction.map(|f| f.abs() / force);
        let used = match clamp.ends {
            EndCondition::Sliding => 0.0,
            _ => friction_used[0].max(friction_used[1]),
        };
        let friction = clamp.friction.map(|f| f.nominal);
        // of a band the end that grips least
        let driven = if setting.step.step.flipped {
            end
        } else {
            start
        };
        let driven_face = Surface::BOTH.map(|s| outline.radius(s, driven));
        let torque = clamp.friction.map(|mu| {
            let left = (mu.low - used).max(0.0);
            crate::grip::face_torque(left, force, driven_face[0], driven_face[1])
        });
        let bodies = setting.step.supports.iter().any(|s| !s.bodies.is_empty());
        let bulge = PerSurface::from_fn(|s| {
            let field = |z: f64| held.moved(s, z, 8);
            let lines = held.lines().iter();
            lines.map(|&z| [z, field(z)[0][0]]).collect()
        });
        Some(PlatesOutcome {
            force,
            friction,
            sliding: clamp.ends == EndCondition::Sliding,
            approach: plated.approach,
            bulge: if bodies { even(held, plated) } else { bulge },
            mean_pressure: [0, 1].map(|f| mean_pressure(plated, f, force)),
            friction_used,
            sliding_share: match clamp.ends {
                EndCondition::Friction => [0, 1].map(|f| sliding_share(plated, f, friction)),
                _ => [0.0; 2],
            },
            driven_face,
            torque,
            buckling,
            located: bodies,
        })
    }

    /// What has to be known of the step.
    pub fn cautions(&self) -> Vec<Caution> {
        let setting = self.setting;
        let (step, index) = (setting.step.step, setting.step.index);
        let fine = &self.judged.fine;
        let mut all = Vec::new();
        let largest = fine.held.field().largest();
        let share = largest / setting.wall();
        if share > caution::LARGE_FLEXING {
            all.push(Caution::LargeFlexing { step: index, share });
        }
        if !self.judged.estimate.converged {
            all.push(Caution::AccuracyNotReached {
                step: index,
                error: self.judged.estimate.relative_error.unwrap_or(0.0),
                accuracy: setting.step.accuracy,
            });
        }
        let points = setting.step.supports.iter().flat_map(|s| &s.points);
        if points.into_iter().any(|p| p.force != 0.0) {
            all.push(Caution::PointForce { step: index });
        }
        let plates = setting.plates();
        let bodies = setting.step.supports.iter().any(|s| !s.bodies.is_empty());
        if plates.is_some() && !bodies {
            all.push(Caution::ShiftsSideways { step: index });
        }
        if bodies && plates.is_some_and(|e| e.ends != EndCondition::Sliding) {
            all.push(Caution::EndsHeldRound { step: index });
        }
        if step.cuts.iter().any(|c| c.tool.is_known()) {
            all.push(Caution::NoToolAlong { step: index });
        }
        all.extend(caution::spring_passes(step, &fine.cuts, index));
        all.extend(caution::hardly_held(&fine.held.rest.contact.section, index));
        all.extend(sections::cut_where_gripped(
            setting,
            self.names,
            &fine.paths,
        ));
        all
    }
}

/// Errors of what bodies do, [`MARGIN`] times what two divisions differ by.
fn contact_errors(rough: &[Contact], sharp: &[Contact], unknown: &Unknown) -> Vec<ContactError> {
    let mut all = figures::contact_errors(rough, sharp, unknown);
    for error in &mut all {
        error.force *= MARGIN;
        error.approach *= MARGIN;
        error.pressure_integral *= MARGIN;
    }
    all
}

/// Displacement by plates alone along the part.
fn even(held: &HeldTube, plated: &Plated) -> PerSurface<Vec<[f64; 2]>> {
    let body = &held.stage.body;
    PerSurface::from_fn(|s| {
        let lines = held.lines().iter();
        lines
            .map(|&z| [z, body.at(s, z, &plated.displacement)[0]])
            .collect()
    })
}

/// Mean pressure of a face, MPa.
fn mean_pressure(plated: &Plated, face: usize, force: f64) -> f64 {
    let radii = plated.faces[face].iter().map(|p| p.radius);
    let (low, high) = radii.fold((f64::INFINITY, 0.0_f64), |(a, b), r| (a.min(r), b.max(r)));
    force / (std::f64::consts::PI * (high * high - low * low))
}

/// Share of the points of a face that slide.
fn sliding_share(plated: &Plated, face: usize, friction: Option<f64>) -> f64 {
    let points = &plated.faces[face];
    let Some(mu) = friction else { return 0.0 };
    let slides = |p: &&crate::tube::plates::FacePoint| {
        p.pressure > 0.0 && p.shear.abs() >= mu * p.pressure * (1.0 - 1e-9)
    };
    points.iter().filter(slides).count() as f64 / points.len() as f64
}

fn mesh_size(held: &HeldTube) -> [usize; 2] {
    let topology = held.stage.body.mesh().topology();
    [topology.around(), topology.through()]
}

/// Balance of all loads on the held part: forces across the axis, N, and moment about the middle, N mm.
fn balance(held: &HeldTube) -> Balance {
    let [x, y, tilt_x, tilt_y] = held.contact.resultant(&held.rest.contact);
    let [start, end] = held.part.nominal.ends();
    Balance {
        force: x.abs().max(y.abs()),
        moment: tilt_x.hypot(tilt_y) * 0.5 * (end - start),
    }
}

/// Half the work of the loads, N mm.
fn energy(solved: &TubeSolved) -> f64 {
    let held = &solved.held;
    let axial = held.rest.plates.as_ref().map_or(0.0, |p| p.approach);
    held.contact.energy(&held.rest.contact, &held.rest.field)
        + 0.5 * solved.clamp.axial_force() * axial
}

/// Motions that nothing resists, in the user's words.
fn free_motions(held: &HeldTube) -> Vec<String> {
    let mut motions = vec!["turning about the axis".to_owned()];
    let plates = held.rest.plates.is_some();
    if !plates {
        motions.push("sliding along the axis".to_owned());
    }
    let names = [
        "sliding along x",
        "sliding along y",
        "tilting towards x",
        "tilting towards y",
    ];
    // plates stop a part from tilting
    let names = if plates { &names[..2] } else { &names[..] };
    for (k, &name) in names.iter().enumerate() {
        let share: f64 = held.rest.contact.free.iter().map(|q| q[k] * q[k]).sum();
        if share > 0.5 {
            motions.push(name.to_owned());
        }
    }
    motions
}

/// The surfaces in every state, for pictures.
fn states(solved: &TubeSolved) -> Vec<TubeState> {
    let [start, end] = solved.part.nominal.ends();
    let positions: Vec<f64> = (0..GRID_POSITIONS)
        .map(|k| start + (end - start) * k as f64 / (GRID_POSITIONS - 1) as f64)
        .collect();
    let grid = |stage: Stage, held: Option<&HeldTube>| {
        let part = held.map_or(&solved.part, |h| &h.part);
        let rows = |s: Surface| positions.iter().map(move |&z| (s, z));
        TubeState {
            stage,
            angles: GRID_ANGLES,
            reference: PerSurface::from_fn(|s| {
                let row = |(s, z)| part.profile(s, z, GRID_ANGLES);
                rows(s).flat_map(row).collect()
            }),
            displacement: PerSurface::from_fn(|s| match held {
                Some(held) => rows(s)
                    .flat_map(|(s, z)| thinned(&held.moved(s, z, 4 * GRID_ANGLES), GRID_ANGLES))
                    .collect(),
                None => vec![[0.0; 3]; positions.len() * GRID_ANGLES],
            }),
            z: positions.clone(),
        }
    };
    let mut all = vec![grid(Stage::Held, Some(&solved.held))];
    if let Some(after) = &solved.after {
        all.push(grid(Stage::Cut, Some(after)));
    }
    all.push(grid(Stage::Released, None));
    all
}
