//! Force of the tool, friction of a hold and speed of jaws against published factors and worked numbers.

use std::f64::consts::TAU;

use ringwright_solver::grip::{Chip, Demand, Friction, GripOn, Kienzle, SpeedFactors, TurningJaws};
use ringwright_solver::tube::plates::face_torque;
use ringwright_tests::random::Random;
use ringwright_tests::reference::metrology;

fn given(path: &str) -> f64 {
    metrology(path).as_f64().unwrap()
}

fn near(found: f64, expected: f64) {
    assert!(
        (found / expected - 1.0).abs() < 1e-8,
        "{found}, not {expected}"
    );
}

/// A quenched and tempered steel of the catalogue's table (1675 MPa, 0.24), 1 mm deep at 0.2 mm a turn and a right angle: 492.944 N. At another entering angle
/// the chip is thinner and wider, and its force larger by the sine to the minus exponent.
/// Truth: published; constants from a tool maker's catalogue by VDI 3323 groups, number worked apart from the program
#[test]
fn cutting_force_by_kienzle() {
    let of = |key: &str| given(&format!("/kienzle/example/{key}"));
    let steel = Kienzle {
        kc11: of("kc11"),
        mc: of("m"),
    };
    let chip = |degrees: f64| Chip {
        feed: of("f"),
        depth: of("ap"),
        entering_angle: degrees.to_radians(),
    };
    let square = steel.force(&chip(of("kappa")), 0.5);
    near(square.tangential, of("Fc"));
    near(square.axial, 0.5 * of("Fc"));
    assert!(square.radial.abs() < 1e-9);
    let slanted = steel.force(&chip(45.0), 0.5);
    let ratio = slanted.tangential / square.tangential;
    near(ratio, 0.5_f64.sqrt().powf(-0.24));
    near(slanted.axial, slanted.radial);
    // a chip of 1 by 1 mm is what the constant is of
    let one = Chip {
        feed: 1.0,
        depth: 1.0,
        entering_angle: TAU / 4.0,
    };
    near(steel.force(&one, 0.0).tangential, 1675.0);
    assert_eq!(
        steel.force(&Chip { depth: 0.0, ..one }, 0.5).tangential,
        0.0
    );
    assert!(one.is_in_range() && !Chip { feed: 0.01, ..one }.is_in_range());
}

/// 3000 N needed at 1500 rev/min with jaws of 0.009 kg m and factors of 1.5: 222.066 N are lost to turning, 7083.099 N are set at rest, and that force permits
/// that speed. In the bore turning gives as much instead, and nothing limits the speed.
/// Truth: published; factors and formula of VDI 3106:2004 as quoted in manuals of lathes and chucks, numbers worked apart from the program
#[test]
fn permitted_speed_of_jaws() {
    let of = |key: &str| given(&format!("/grip_speed/example/{key}"));
    let factors = SpeedFactors::default();
    assert_eq!([factors.cutting, factors.gripping], [of("Sz"), of("Ssp")]);
    let (needed, speed) = (of("Fspz"), of("n"));
    let outside = TurningJaws {
        moment: 1000.0 * of("sum_mr_kgm"),
        inwards: true,
    };
    near(outside.centrifugal(speed), of("Fc"));
    let at_rest = outside.force_at_rest(needed, speed, factors);
    near(at_rest, of("Fsp0"));
    near(
        outside.permitted_speed(at_rest, needed, factors).unwrap(),
        of("n_perm_from_that"),
    );
    assert_eq!(outside.permitted_speed(6749.0, needed, factors), Some(0.0));
    let inside = TurningJaws {
        inwards: false,
        ..outside
    };
    let at_rest = inside.force_at_rest(needed, speed, factors);
    near(at_rest, 1.5 * (1.5 * needed - of("Fc")));
    assert_eq!(inside.permitted_speed(at_rest, needed, factors), None);
}

/// A ring of radii 45 and 50 mm between plates drawn together by 1000 N with a coefficient of 0.12 takes 11410.526 N mm on two faces, an arm of
/// 47.54386 mm.
/// Truth: published; friction clutch of any textbook of machine elements, number worked apart from the program
#[test]
fn torque_of_two_faces() {
    let of = |key: &str| given(&format!("/grip_static/end_clamp_example/{key}"));
    let torque = 2.0 * face_torque(of("mu"), of("A"), of("ro"), of("ri"));
    near(torque, of("T_two_faces_Nmm"));
    near(torque, 2.0 * of("mu") * of("A") * of("r_eff"));
}

/// Of one coefficient torque and axial force add as the sides of a right triangle; a hold is never safer with less friction or force, or against more; without
/// friction nothing holds, and nothing asked is held without end.
/// Truth: analytical; Coulomb's circle
#[test]
fn friction_is_shared_by_torque_and_axial_force() {
    let mut random = Random::new(31_415);
    for _ in 0..200 {
        let mu = random.between(0.05, 0.3);
        let grip = GripOn {
            pressure_integral: random.between(100.0, 9000.0),
            radius: random.between(10.0, 90.0),
            friction: Friction {
                around: mu,
                along: mu,
            },
        };
        let demand = Demand {
            torque: random.between(1e2, 1e5),
            axial: random.between(1.0, 2000.0),
        };
        let force = (demand.torque / grip.radius).hypot(demand.axial);
        let safety = grip.safety(&demand);
        near(safety, mu * grip.pressure_integral / force);
        let slippery = GripOn {
            friction: Friction {
                along: 0.7 * mu,
                ..grip.friction
            },
            ..grip
        };
        assert!(slippery.safety(&demand) < safety);
        let dry = GripOn {
            friction: Friction {
                around: 0.0,
                along: 0.0,
            },
            ..grip
        };
        assert_eq!(dry.safety(&demand), 0.0);
        assert_eq!(dry.safety(&Demand::default()), f64::INFINITY);
    }
}
