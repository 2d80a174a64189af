//! The estimated errors of the figures of a step, each beside its figure.

use super::{
    CircleDocument, ContactDocument, ContactErrorDocument, CutErrorDocument, ReadDocument, Shape,
    ShapeErrorDocument, StepDocument,
};
use crate::geometry::{PerSurface, Surface};
use crate::metrology::{Circle, MetrologyError, OneSided, Profile, ProfileError, Sheet};
use crate::process::{ContactError, FigureErrors, Radii};

/// Both surfaces in one state: what was read off them, and their radii at equal angles from 0, mm.
pub(super) type Measured<'a> = (&'a PerSurface<Sheet>, &'a Radii);

impl StepDocument {
    /// Puts the errors of a step beside its figures, of which those of the gauges were read held and released; stress has its own.
    pub(super) fn put_errors(&mut self, errors: &FigureErrors, measured: [Measured; 2]) {
        put_shape(&mut self.held.outer, &errors.held.outer);
        put_shape(&mut self.held.bore, &errors.held.bore);
        put_contacts(&mut self.held.contacts, &errors.contacts);
        self.held.energy_error = Some(errors.energy);
        if let Some(after) = &mut self.after_cut {
            put_contacts(&mut after.contacts, &errors.contacts_after_cut);
        }
        for (cut, error) in self.cuts.iter_mut().zip(&errors.cuts) {
            cut.error = Some(CutErrorDocument {
                cleaned_up: error.cleaned_up,
                depth: error.depth,
                stock_to_clean_up: error.stock_to_clean_up,
            });
            if let Some(tool) = &mut cut.tool_dip {
                tool.error = error.tool_dip;
            }
        }
        let of = &errors.released;
        let released = &mut self.released;
        put_shape(&mut released.outer, &of.outer);
        put_shape(&mut released.bore, &of.bore);
        released.average_diameter_error =
            PerSurface::from_fn(|s| Some(2.0 * of.get(s).mean_radius()));
        // the axis of the other surface may be off too, and shows twice
        let runout = |s: Surface| of.get(s).about_origin() + 2.0 * of.get(s.other()).centre();
        released.runout_error = PerSurface::from_fn(|s| Some(runout(s)));
        released.wall.error = Some(errors.wall.size);
        released.wall.min_angle_error = Some(errors.wall.min_angle);
        released.wall.max_angle_error = Some(errors.wall.max_angle);
        let [held, released] = measured;
        for (reads, shapes, (sheets, radii)) in [
            (&mut self.gauges.held, &errors.held, held),
            (&mut self.gauges.released, &errors.released, released),
        ] {
            for s in Surface::BOTH {
                put_readings(reads.get_mut(s), shapes.get(s));
                put_circles(reads.get_mut(s), sheets.get(s), radii.get(s), shapes.get(s));
            }
        }
    }
}

pub(super) fn put_shape(shape: &mut Shape, error: &ProfileError) {
    let largest = error.off().iter().fold(0.0_f64, |m, d| m.max(d.abs()));
    shape.error = Some(ShapeErrorDocument {
        mean_radius: error.mean_radius(),
        centre: error.centre(),
        roundness: error.roundness(),
        harmonics: error.lobes(),
        radius: largest + error.floor(),
    });
}

fn put_contacts(contacts: &mut [ContactDocument], errors: &[ContactError]) {
    for (contact, error) in contacts.iter_mut().zip(errors) {
        contact.error = Some(ContactErrorDocument {
            force: error.force,
            approach: error.approach,
            pressure_integral: error.pressure_integral,
            peak_pressure: error.peak_pressure,
            edge_force_per_length: error.edge_force_per_length,
            arcs: error.arcs,
            gap: error.gap,
        });
    }
}

fn put_readings(read: &mut ReadDocument, error: &ProfileError) {
    let roundness = Some(error.roundness());
    read.least_squares.error = roundness;
    read.minimum_zone.error = roundness;
    if let Some(f) = &mut read.filtered {
        f.least_squares.error = roundness;
        f.minimum_zone.error = roundness;
    }
    for row in &mut read.readings {
        row.error = row.range.map(|_| error.reading(row.kind));
    }
}

/// The errors of the circles that a profile touches from one side.
fn put_circles(read: &mut ReadDocument, sheet: &Sheet, radii: &[f64], error: &ProfileError) {
    type Fitted = Result<OneSided, MetrologyError>;
    let put = |to: Option<&mut CircleDocument>, of: &Fitted, profile: &Profile, axes: [f64; 2]| {
        let (Some(to), Ok(of)) = (to, of) else {
            return;
        };
        let [x, y] = of.circle.centre;
        let fitted = OneSided {
            circle: Circle {
                centre: [x - axes[0], y - axes[1]],
                ..of.circle
            },
            ..of.clone()
        };
        let errors = error.one_sided(&fitted, profile);
        let finite = |e: f64| e.is_finite().then_some(e);
        to.error = finite(errors.roundness);
        to.centre_error = finite(errors.centre);
        to.radius_error = finite(errors.radius);
    };
    let profile = Profile::equal(radii);
    let (inside, round) = (&mut read.maximum_inscribed, &mut read.minimum_circumscribed);
    put(inside.as_mut(), &sheet.inscribed, &profile, [0.0; 2]);
    put(round.as_mut(), &sheet.circumscribed, &profile, [0.0; 2]);
    if let (Some(to), Some(of)) = (&mut read.filtered, &sheet.filtered)
        && let Ok((smooth, axes)) = of.profile(radii)
    {
        let smooth = Profile::equal(&smooth);
        let (inside, round) = (&mut to.maximum_inscribed, &mut to.minimum_circumscribed);
        put(inside.as_mut(), &of.inscribed, &smooth, axes);
        put(round.as_mut(), &of.circumscribed, &smooth, axes);
    }
}
