//! Strain and stress of a tube's surfaces in their own plane.

use super::field::{GRID, NOTHING, SurfaceField, sine, summed};
use super::response::Responses;
use crate::element::meridian::Isotropic;
use crate::geometry::Surface;
use crate::linear::collected;

/// One of the Gauss points of a column's side.
struct SidePoint {
    shape: [f64; 3],
    /// Derivatives along the axis, 1/mm.
    slope: [f64; 3],
    radius: f64,
}

fn side_points(places: &[[f64; 2]; 3]) -> [SidePoint; 3] {
    let half = 0.5 * (places[2][1] - places[0][1]);
    super::GAUSS.map(|(x, _)| {
        let shape = super::side_shape(x);
        let slope = [x - 0.5, -2.0 * x, x + 0.5].map(|d| d / half);
        SidePoint {
            radius: shape.iter().zip(places).map(|(n, p)| n * p[0]).sum(),
            shape,
            slope,
        }
    })
}

/// Strains `[hoop, axial, shear]` of a surface at a point of a column's side: at equal angles.
fn strains(
    field: &SurfaceField,
    places: [usize; 3],
    point: &SidePoint,
    angles: usize,
) -> [Vec<f64>; 3] {
    let (mut hoop, mut axial, mut shear) = (Vec::new(), Vec::new(), Vec::new());
    for (n, harmonic) in field.all().iter().enumerate() {
        let order = n as f64;
        let (mut h, mut a, mut g) = (NOTHING[0], NOTHING[0], NOTHING[0]);
        for (k, &place) in places.iter().enumerate() {
            let [u, w, v] = harmonic[place];
            h += (u + v * order) * (point.shape[k] / point.radius);
            a += w * point.slope[k];
            g += v * point.slope[k] - w * (order * point.shape[k] / point.radius);
        }
        hoop.push(h);
        axial.push(a);
        shear.push(sine(g));
    }
    [hoop, axial, shear].map(|c| summed(c.into_iter(), angles))
}

/// A position, the radius there (mm) and von Mises stress at equal angles, MPa: one angle where the field is the same all round, else [`GRID`].
pub(crate) type StressRow = (f64, f64, Vec<f64>);

impl SurfaceField {
    /// Von Mises stress of a surface with no load on it, from the stress in its own plane, at the Gauss points of every column.
    pub(crate) fn surface_stress(
        &self,
        responses: &Responses,
        law: &Isotropic,
        surface: Surface,
    ) -> Vec<StressRow> {
        let nodes = responses.surface().nodes.get(surface);
        let places = responses.surface().places.get(surface);
        let nu = law.poisson_ratio;
        let plane = law.young_modulus / (1.0 - nu * nu);
        let modulus = law.lame()[1];
        let angles = if self.is_axisymmetric() { 1 } else { GRID };
        let columns: Vec<usize> = (0..nodes.len()).collect();
        collected(columns, true, |c| {
            let own = nodes[c].map(|n| responses.place(n));
            let points = side_points(&places[c]);
            points.map(|point| {
                let [hoop, axial, shear] = strains(self, own, &point, angles);
                let at = point.shape.iter().zip(&places[c]);
                let z = at.map(|(n, p)| n * p[1]).sum();
                let von_mises = (0..angles).map(|k| {
                    let h = plane * (hoop[k] + nu * axial[k]);
                    let a = plane * (axial[k] + nu * hoop[k]);
                    let s = modulus * shear[k];
                    (h * h + a * a - h * a + 3.0 * s * s).sqrt()
                });
                (z, point.radius, von_mises.collect())
            })
        })
        .concat()
    }
}
