//! What holds the part at every corner of what is known within bands.

use super::{Found, Gripped, turning};
use crate::case::material::Class;
use crate::case::{FaceClass, Friction, Grip, Material, Restraint};
use crate::geometry::Surface;
use crate::grip::{self, Band, Holding, Pressed, PressedEnd};
use crate::process::{Contact, DeadLoad, NotChecked};
use crate::scheme::{EndCondition, Supports};

/// Friction between smooth steel jaws and a part, and between toothed ones: 0.06 to 0.16 and 0.17 to 0.30 for parts of steel, read on one maker of workholding
/// hardware's page; 0.8 of it for grey iron and a little less than steel for aluminium and brass, so that the least is taken at 0.8 for every metal.
const SMOOTH: Band = Band::between(0.8 * 0.06, 0.16);
const SERRATED: Band = Band::between(0.8 * 0.17, 0.30);

impl Friction {
    /// The coefficient against a material; `None` for a class of faces on a plastic, of which none is known.
    pub fn band(&self, material: &Material) -> Option<Band> {
        match self {
            Friction::Given(band) => Some(*band),
            Friction::Of(_) if material.class != Class::Metal => None,
            Friction::Of(FaceClass::Smooth) => Some(SMOOTH),
            Friction::Of(FaceClass::Serrated) => Some(SERRATED),
        }
    }
}

/// A hold at one set of numbers out of their bands.
pub(super) struct Corner {
    pub holding: Holding,
}

/// What one scheme of a hold is known to grip with.
struct Member {
    /// Its place in the hold.
    index: usize,
    /// Friction round and along the part.
    friction: Option<[Band; 2]>,
    grip: Grip,
}

/// The schemes of a hold.
pub(super) struct Members {
    all: Vec<Member>,
    /// Friction of each scheme that it is known of.
    pub friction: Vec<(String, [Band; 2])>,
    /// Whether friction is known of something that presses.
    pub has_friction: bool,
    /// Whether it is known where along the part each of them presses.
    pub knows_tilt: bool,
    /// Whether a stop takes the feed.
    pub stopped: bool,
}

/// Which end of a band is taken.
#[derive(Clone, Copy)]
enum End {
    Low,
    High,
}

impl End {
    fn of(self, band: &Band) -> f64 {
        match self {
            End::Low => band.low,
            End::High => band.high,
        }
    }
}

impl Members {
    pub fn of(gripped: &Gripped, open: &mut Vec<NotChecked>) -> Self {
        let material = &gripped.case.part.material;
        let mut all = Vec::new();
        let mut has_friction = false;
        let mut known = Vec::new();
        let both = gripped.members.iter().zip(gripped.supports);
        for (index, (member, supports)) in both.enumerate() {
            let scheme = || member.scheme.name().to_owned();
            let friction = match friction(&member.restraint, supports) {
                None => {
                    open.push(NotChecked::Friction { scheme: scheme() });
                    None
                }
                Some([around, along]) => {
                    let both = around.band(material).zip(along.band(material));
                    if both.is_none() {
                        open.push(NotChecked::FrictionOfPlastic { scheme: scheme() });
                    }
                    both.map(|(around, along)| [around, along])
                }
            };
            has_friction |= friction.is_some();
            known.extend(friction.map(|f| (scheme(), f)));
            all.push(Member {
                index,
                friction,
                grip: member.grip,
            });
        }
        let is_slice = gripped.found.tube.is_none();
        let presses_along = |(m, s): (&Member, &Supports)| {
            let across = !(s.bodies.is_empty() && s.pressures.is_empty() && s.points.is_empty());
            across && m.grip != Grip::default()
        };
        let short = all.iter().zip(gripped.supports).any(presses_along);
        if is_slice && short {
            open.push(NotChecked::TiltOfSlice);
        }
        Self {
            all,
            friction: known,
            has_friction,
            knows_tilt: !(is_slice && short),
            stopped: gripped.members.iter().any(|m| m.restraint.axial_stop),
        }
    }

    /// Whether anything presses on the part.
    pub fn presses(&self, found: &Found) -> bool {
        found.at_rest.iter().any(|c| c.force > 0.0)
            || found.loads.iter().any(|l| l.force > 0.0)
            || found.axial_force > 0.0
    }

    /// The hold with the least and with the largest friction, and force where that is known within a band.
    pub fn corners(&self, gripped: &Gripped, contacts: &[Contact]) -> Vec<Corner> {
        let spread = |end: End| -> Vec<f64> {
            let own = gripped.supports.iter().map(|s| s.force_spread);
            own.map(|[low, high]| match end {
                End::Low => low,
                End::High => high,
            })
            .collect()
        };
        let all = [(End::Low, End::Low), (End::High, End::High)];
        all.into_iter()
            .map(|(friction, force)| Corner {
                holding: self.holding(gripped, contacts, friction, &spread(force)),
            })
            .collect()
    }

    fn holding(&self, gripped: &Gripped, contacts: &[Contact], end: End, force: &[f64]) -> Holding {
        let mut holding = Holding::default();
        let length = gripped.case.part.length;
        let section = gripped.section();
        let (mut first, mut loads) = (0, gripped.found.loads.iter());
        for ((member, supports), &force) in self.all.iter().zip(gripped.supports).zip(force) {
            let friction = member.friction.map(|[around, along]| grip::Friction {
                around: end.of(&around),
                along: end.of(&along),
            });
            let faces = supports.faces().len();
            let reserve = |k: usize| match gripped.grip_along(k) {
                Some((reach, centroid)) => (centroid - reach[0]).min(reach[1] - centroid).max(0.0),
                None => 0.5 * length,
            };
            for k in first..first + faces {
                let Some(contact) = contacts.get(k) else {
                    break;
                };
                // bodies of a sleeve press on the sleeve, and that on the part
                let on_part = supports.sleeve.is_none() || k + 1 == first + faces;
                if !on_part || contact.force <= 0.0 {
                    continue;
                }
                // of a jaw that turns the band is that of its force at rest; what turning changes is known
                let turned = turning::changed_by_turning(gripped, member.index, contact.surface);
                let at_rest = contact.force - turned;
                let share = ((force * at_rest + turned) / contact.force).max(0.0);
                holding.pressed.push(Pressed {
                    normal: share * contact.pressure_integral,
                    force: share * contact.force,
                    angle: (!contact.round).then(|| contact.angle_deg.to_radians()),
                    radius: section(contact.surface),
                    friction,
                    reserve: reserve(k),
                    yields_to_side: true,
                });
            }
            first += faces;
            let own = supports.pressures.len() + supports.points.len();
            for load in loads.by_ref().take(own).filter(|l| l.force > 0.0) {
                holding.pressed.push(Pressed {
                    normal: force * pressure_integral(load),
                    force: force * load.force,
                    angle: Some(load.angle_deg.to_radians()),
                    radius: section(load.surface),
                    friction,
                    reserve: 0.5 * length,
                    yields_to_side: false,
                });
            }
            if let Some(plates) = &supports.end_clamp {
                let found = &gripped.found;
                let of_tube = found.tube.and_then(|t| t.plates.as_ref());
                let used = match plates.ends {
                    EndCondition::Sliding => 0.0,
                    _ => of_tube.map_or(0.0, |p| p.friction_used[0].max(p.friction_used[1])),
                };
                let [outer, bore] =
                    of_tube.map_or_else(|| Surface::BOTH.map(&section), |p| p.driven_face);
                holding.end = Some(PressedEnd {
                    force: force * found.axial_force,
                    friction: member.friction.map(|[mu, _]| (end.of(&mu) - used).max(0.0)),
                    outer_radius: outer,
                    bore_radius: bore,
                });
            }
        }
        holding
    }
}

/// The friction of a scheme round and along the part, from what the case says beside it or what the scheme says itself.
fn friction(restraint: &Restraint, supports: &Supports) -> Option<[Friction; 2]> {
    let of_bodies = || {
        let all: Option<Vec<f64>> = supports.faces().iter().map(|b| b.friction).collect();
        let all = all.filter(|all| !all.is_empty())?;
        let least = all.iter().copied().fold(f64::INFINITY, f64::min);
        let most = all.iter().copied().fold(0.0, f64::max);
        Some(Friction::Given(Band::between(least, most)))
    };
    let of_ends = || {
        let plates = supports.end_clamp.as_ref()?;
        plates.friction.map(Friction::Given)
    };
    let around = restraint.friction.or_else(of_bodies).or_else(of_ends)?;
    Some([around, restraint.friction_axial.unwrap_or(around)])
}

/// Integral of the pressure of a dead load, N: even over its arc, `F a / sin a` for a resultant `F` and half of the arc `a`.
fn pressure_integral(load: &DeadLoad) -> f64 {
    let half = load.half_angle_deg.to_radians();
    match half > 0.0 {
        true => load.force * half / half.sin(),
        false => load.force,
    }
}
