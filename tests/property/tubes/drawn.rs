//! Random jobs on tubes, of sizes that a shop might see, as case files.

use std::f64::consts::TAU;
use std::fmt::Write;

use ringwright_solver::case;
use ringwright_tests::random::Random;

/// Material and its Young's modulus, MPa: enough to size a force by.
const MATERIALS: [(&str, f64); 4] = [
    ("aluminium 6061-T6", 69e3),
    ("grey iron class 30", 100e3),
    ("titanium Ti-6Al-4V annealed", 114e3),
    ("steel 4140 annealed", 205e3),
];

/// How far a force of 1 moves its jaw in a ring of unit radius and bending stiffness, by the number of equal jaws: of a thin ring under forces at points.
const RING: [f64; 7] = [0.149, 0.149, 0.149, 0.0318, 0.0116, 0.0055, 0.003];

/// Rolls of a job until the reader has nothing to say of it.
const ROLLS: usize = 200;

/// How hard a job is to solve.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Size {
    /// Thick walls, short parts, one scheme and few jaws.
    Light,
    /// Anything that a shop might see.
    Any,
}

/// The tube of a job.
struct Stock {
    size: Size,
    outer: f64,
    bore: f64,
    length: f64,
    modulus: f64,
    /// Whether a flange or a step is at its far end, and from where, mm.
    stepped: Option<f64>,
    flipped: bool,
}

/// The text of a sound job.
pub(super) fn job(random: &mut Random, size: Size) -> String {
    let registry = ringwright_plugins::registry();
    let rolls = (0..ROLLS).map(|_| rolled(random, size));
    let mut sound = rolls.filter(|text| case::read(text, &registry).is_ok());
    sound.next().expect("a sound job in so many rolls")
}

fn rolled(random: &mut Random, size: Size) -> String {
    let (stock, mut text) = stock(random, size);
    let (hold, free) = hold(random, &stock);
    text += &hold;
    let _ = write!(
        text,
        "[[step]]\nhold = \"h\"\nflipped = {}\n",
        stock.flipped
    );
    // what nothing presses on may be cut
    let bored = random.chance(0.5);
    if random.chance(0.8) && (free[0] || free[1]) {
        text += &cut(random, &stock, (bored || !free[0]) && free[1]);
    }
    text
}

/// A number of four figures behind the point.
fn mm(x: f64) -> f64 {
    (x * 1e4).round() / 1e4
}

impl Stock {
    fn wall(&self) -> f64 {
        self.outer - self.bore
    }

    /// The force of each of so many jaws over so much of the length that moves a ring by this share of its wall.
    fn force(&self, count: usize, reach: f64, share: f64) -> f64 {
        let radius = 0.5 * (self.outer + self.bore);
        let bending = self.modulus * reach * self.wall().powi(3) / 12.0;
        let force = share * self.wall() * bending / (RING[count.min(6)] * radius.powi(3));
        (force * 100.0).round() / 100.0
    }
}

/// A tube as received, and the head of its case file.
fn stock(random: &mut Random, size: Size) -> (Stock, String) {
    let [thinnest, longest] = match size {
        Size::Light => [15.0, 0.8],
        Size::Any => [60.0, 3.0],
    };
    let outer = mm(0.5 * random.size(40.0, 250.0));
    let wall = outer / random.size(8.0, thinnest);
    let length = mm(outer * random.size(0.3, longest));
    let (name, modulus) = MATERIALS[random.below(MATERIALS.len())];
    let stepped = random
        .chance(0.2)
        .then(|| mm(length * random.between(0.6, 0.9)));
    let stock = Stock {
        size,
        outer,
        bore: mm(outer - wall),
        length,
        modulus,
        stepped,
        flipped: random.chance(0.2),
    };
    let (od, id) = (mm(2.0 * stock.outer), mm(2.0 * stock.bore));
    let mut text = format!(
        "[part]\nouter_diameter = {od:?}\nbore_diameter = {id:?}\nlength = {length:?}\nmaterial = \"{name}\"\n"
    );
    if random.chance(0.5) {
        let on = random.pick(&["outer", "bore", "both"]);
        let count = 2 + random.below(5);
        let amplitude = mm(wall * random.size(1e-3, 0.02));
        let angle = random.between(0.0, 360.0).round();
        let _ = write!(
            text,
            "[[part.lobes]]\nsurface = \"{on}\"\ncount = {count}\namplitude = {amplitude:?}\nangle = {angle:?}\n"
        );
    }
    let mut at: Vec<f64> = (0..3)
        .map(|_| mm(length * random.between(0.02, 0.98)))
        .collect();
    at.sort_by(f64::total_cmp);
    let _ = writeln!(text, "[tube]\nstations = {at:?}");
    if let Some(from) = stock.stepped {
        // a flange outside, a floor's rim inside, or a thinner end
        let [outside, inside] = match random.below(3) {
            0 => [mm(od + 4.0 * wall), id],
            1 => [od, mm(id - 2.0 * wall)],
            _ => [mm(od - 0.6 * wall), id],
        };
        let _ = writeln!(
            text,
            "outline = [[0.0, {od:?}, {id:?}], [{from:?}, {od:?}, {id:?}], [{from:?}, {outside:?}, {inside:?}], [{length:?}, {outside:?}, {inside:?}]]"
        );
    }
    (stock, text)
}

/// Where a grip lies, from the end that the step grips: its keys, and its length.
fn grip(random: &mut Random, stock: &Stock) -> (String, f64) {
    // clear of what is stepped
    let free = match (stock.stepped, stock.flipped) {
        (Some(from), false) => [0.0, 0.95 * from],
        (Some(from), true) => [stock.length - 0.95 * from, stock.length],
        (None, _) => [0.0, stock.length],
    };
    let room = free[1] - free[0];
    let long = mm(room * random.between(0.2, 1.0));
    if stock.stepped.is_none() && long > 0.9 * room {
        return (String::new(), room);
    }
    let from = match random.chance(0.6) {
        true => free[0],
        false => free[0] + (room - long) * random.between(0.0, 1.0),
    };
    let from = mm(from);
    (
        format!("grip_from = {from:?}\ngrip_length = {long:?}\n"),
        long,
    )
}

/// A hold, and which surfaces it leaves to be cut: outside, bore.
fn hold(random: &mut Random, stock: &Stock) -> (String, [bool; 2]) {
    let kinds = match stock.size {
        Size::Light => 10,
        Size::Any => 12,
    };
    let outside = |random: &mut Random| jaws(random, stock, "outside");
    match random.below(kinds) {
        0 | 1 => (patches(random, stock), [false, true]),
        2..=5 => (outside(random), [false, true]),
        6 => (jaws(random, stock, "inside"), [true, false]),
        7 => (points(random, stock), [false, true]),
        8 => (ends(random, stock), [true, true]),
        9 => (plug(random, stock), [true, false]),
        10 => (screws(random, stock) + &outside(random), [false, false]),
        _ => (plug(random, stock) + &outside(random), [false, false]),
    }
}

fn patches(random: &mut Random, stock: &Stock) -> String {
    let count = 2 + random.below(5);
    let half = random
        .between(3.0, (150.0 / count as f64).min(50.0))
        .round();
    let (grip, reach) = grip(random, stock);
    let force = stock.force(count, reach, random.size(1e-3, 0.03));
    format!(
        "[[hold.h]]\nscheme = \"pressure-patches\"\ncount = {count}\nhalf_angle = {half:?}\nforce = {force:?}\n{grip}"
    )
}

fn jaws(random: &mut Random, stock: &Stock, side: &str) -> String {
    let [counts, widest] = match stock.size {
        Size::Light => [4, 30],
        Size::Any => [7, 110],
    };
    let count = [2, 3, 3, 3, 4, 5, 6][random.below(counts)];
    let widest = (330.0 / count as f64).min(widest as f64);
    let arc = random.size(10.0, widest).round();
    let drive = random.pick(&["self-centring", "self-centring", "equal-force"]);
    let (grip, reach) = grip(random, stock);
    let force = stock.force(count, reach, random.size(1e-3, 0.03));
    let (key, nominal) = match side {
        "outside" => ("bored_diameter", 2.0 * stock.outer),
        _ => ("turned_diameter", 2.0 * stock.bore),
    };
    // exactly the part's, a little more, a little less
    let off = [0.0, 0.01, -0.003][random.below(3)] * random.between(0.1, 1.0);
    let face = mm(nominal * (1.0 + off));
    let first = random.between(0.0, 90.0).round();
    let after = random.pick(&["keeps-force", "keeps-position"]);
    format!(
        "[[hold.h]]\nscheme = \"jaws\"\nside = \"{side}\"\ncount = {count}\nfirst_angle = {first:?}\ndrive = \"{drive}\"\nforce = {force:?}\n\
         {key} = {face:?}\narc = {arc:?}\nafter_clamping = \"{after}\"\n{grip}"
    )
}

fn screws(random: &mut Random, stock: &Stock) -> String {
    let count = 3 + random.below(2);
    let crown = mm(stock.bore * random.between(0.3, 0.8));
    let first = random.between(0.0, 60.0).round();
    let (grip, reach) = grip(random, stock);
    let set = match random.chance(0.5) {
        true => "gap = 0.0".to_owned(),
        false => format!(
            "force = {:?}",
            stock.force(count, reach, random.size(1e-3, 0.01))
        ),
    };
    format!(
        "[[hold.h]]\nscheme = \"screws\"\ncount = {count}\nfirst_angle = {first:?}\ncrown_radius = {crown:?}\narc = 10.0\n{set}\n{grip}"
    )
}

fn points(random: &mut Random, stock: &Stock) -> String {
    let count = 2 + random.below(4);
    let (grip, reach) = grip(random, stock);
    let force = stock.force(count, reach, random.size(1e-3, 0.02));
    format!("[[hold.h]]\nscheme = \"points\"\ncount = {count}\nforce = {force:?}\n{grip}")
}

fn ends(random: &mut Random, stock: &Stock) -> String {
    let condition = random.pick(&["sliding", "stuck", "friction"]);
    let strain = random.size(3e-5, 5e-4);
    let area = 0.5 * TAU * (stock.outer + stock.bore) * stock.wall();
    let force = (strain * stock.modulus * area).round();
    let friction = match condition {
        "friction" => format!("friction = {:?}\n", mm(random.between(0.05, 0.2))),
        _ => String::new(),
    };
    format!(
        "[[hold.h]]\nscheme = \"end-clamp\"\naxial_force = {force:?}\n{friction}end_condition = \"{condition}\"\n"
    )
}

fn plug(random: &mut Random, stock: &Stock) -> String {
    let diameter = mm(2.0 * stock.bore * (1.0 + random.size(1e-4, 8e-4)));
    let (grip, _) = grip(random, stock);
    format!("[[hold.h]]\nscheme = \"plug\"\ndiameter = {diameter:?}\n{grip}")
}

/// A cut of the bore or the outside over all or some of the length.
fn cut(random: &mut Random, stock: &Stock, bored: bool) -> String {
    let (surface, radius, outward) = match bored {
        true => ("bore", stock.bore, -1.0),
        false => ("outer", stock.outer, 1.0),
    };
    let deep = |share: f64| mm(2.0 * (radius - outward * share * stock.wall()));
    let share = random.between(0.03, 0.2);
    let mut text = format!(
        "[[step.cut]]\nsurface = \"{surface}\"\ndiameter = {:?}\n",
        deep(share)
    );
    // counted from the end that the step grips, clear of what is stepped
    let clear = match (stock.stepped, stock.flipped) {
        (Some(from), false) => [0.0, 0.9 * from],
        (Some(from), true) => [stock.length - 0.9 * from, stock.length],
        (None, _) => [0.0, stock.length],
    };
    if stock.stepped.is_some() || random.chance(0.4) {
        let room = clear[1] - clear[0];
        let from = clear[0] + room * random.between(0.0, 0.5);
        let to = clear[1] - 0.4 * room * random.between(0.0, 1.0);
        let _ = write!(text, "from = {:?}\nto = {:?}\n", mm(from), mm(to));
    }
    if random.chance(0.15) {
        let _ = writeln!(text, "end_diameter = {:?}", deep(random.between(0.03, 0.2)));
    }
    text
}
