use ringwright_solver::geometry::Surface;
use ringwright_solver::scheme::Face;
use ringwright_solver::series::Annulus;
use ringwright_tests::oracle::Jaws;

#[test]
fn probe() {
    for (ri, ro, e, nu, w, rho, f) in [
        (47.5, 52.5, 70e3, 0.33, 20.0, 52.5, 1000.0),
        (47.5, 52.5, 70e3, 0.33, 20.0, 55.125, 1000.0),
        (48.75, 51.25, 70e3, 0.33, 30.0, 51.7625, 100.0),
        (47.5, 52.5, 105e3, 0.34, 86.0, 52.5, 2000.0),
    ] {
        let t0 = std::time::Instant::now();
        let a = Jaws {
            annulus: Annulus {
                inner_radius: ri,
                outer_radius: ro,
                young_modulus: e,
                poisson_ratio: nu,
                length: 20.0,
            },
            count: 3,
            surface: Surface::Outer,
            half_angle: (w / (2.0 * ro) as f64).asin(),
            face: Face::Concave { radius: rho },
            force: f,
        }
        .solve();
        eprintln!(
            "appr {:.8} oor {:.8} {:.8} change {:.1e} nodes {} arcs {:?} forces {:?} peak {} t {:?}",
            a.approach,
            a.roundness.outer,
            a.roundness.bore,
            a.change,
            a.nodes,
            a.arcs
                .iter()
                .map(|a| (a.start.to_degrees(), a.end.to_degrees(), a.length() * ro))
                .collect::<Vec<_>>(),
            a.arc_forces,
            a.peak_pressure,
            t0.elapsed()
        );
    }
}
