//! The text of a proposed case: every number that the user should look at with a plain word beside it.

use std::fmt::Write as _;

use ringwright_solver::case::material::Class;
use ringwright_solver::report::units::MM_PER_INCH;

use super::blank::Blank;
use super::job::{ARC, Clamping, JAWS, KEY_INCH, KEY_MM, PLASTIC_FRICTION, Proposal, SPREAD};
use crate::args::{ChuckKind, Job, NewArgs};

/// Column that remarks begin at.
const REMARKS: usize = 36;

/// Numbers in the units of the file.
#[derive(Clone, Copy)]
pub(super) struct Writer {
    pub(super) inch: bool,
}

impl Writer {
    /// A length as a plain number of the file.
    pub(super) fn length(self, mm: f64) -> String {
        if self.inch {
            plain(mm / MM_PER_INCH, 5)
        } else {
            plain(mm, 4)
        }
    }

    /// A length as it would be typed on the command line.
    pub(super) fn with_unit(self, mm: f64) -> String {
        let number = self.length(mm);
        let number = number.strip_suffix(".0").unwrap_or(&number);
        format!("{number}{}", if self.inch { "in" } else { "mm" })
    }

    fn newton(self) -> f64 {
        if self.inch { 4.448_221_615_260_5 } else { 1.0 }
    }

    /// A force as a plain number of the file.
    pub(super) fn force(self, newton: f64) -> String {
        plain(newton / self.newton(), 1)
    }

    /// A force, N, rounded up to two figures of the file's unit.
    pub(super) fn force_up(self, newton: f64) -> f64 {
        up(newton / self.newton()) * self.newton()
    }
}

/// A positive number rounded up to two figures.
fn up(value: f64) -> f64 {
    let step = 10f64.powf(value.log10().floor() - 1.0);
    (value / step - 1e-9).ceil() * step
}

/// A number with up to so many decimals, and one at least.
fn plain(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let short = text.trim_end_matches('0');
    if short.ends_with('.') {
        format!("{short}0")
    } else {
        short.to_owned()
    }
}

/// A case in the making.
struct Page {
    text: String,
    write: Writer,
}

impl Page {
    fn remark(&mut self, words: &str) {
        let _ = writeln!(self.text, "{}", format!("# {words}").trim_end());
    }

    fn raw(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    /// A key, its value as it stands in TOML, and what is to be said of it.
    fn key(&mut self, key: &str, value: &str, remark: &str) {
        let entry = format!("{key} = {value}");
        let line = if remark.is_empty() {
            entry
        } else {
            // a long entry pushes its remark on
            let entry = format!("{entry}  ");
            format!("{entry:<REMARKS$}# {remark}")
        };
        self.raw(&line);
    }

    fn length(&mut self, key: &str, mm: f64, remark: &str) {
        self.key(key, &self.write.length(mm), remark);
    }
}

/// The whole case.
pub(super) fn case(blank: &Blank, args: &NewArgs) -> String {
    let job = args.job.unwrap_or(Job::Bore);
    let chuck = args.chuck.unwrap_or(ChuckKind::Power);
    let proposal = Proposal::of(blank);
    let clampings = proposal.clampings(blank, job, chuck);
    let write = Writer { inch: blank.inch };
    let mut page = Page {
        text: String::new(),
        write,
    };
    head(&mut page, blank, job, chuck);
    part(&mut page, blank, &proposal);
    if job == Job::Tube {
        tube(&mut page, blank, &proposal);
    }
    for (clamping, name) in clampings.iter().zip(names(job)) {
        hold(&mut page, (clamping, name), &proposal, (job, chuck));
    }
    for (n, (clamping, name)) in clampings.iter().zip(names(job)).enumerate() {
        step(&mut page, (clamping, name), &proposal, n == 1);
    }
    chuck_plate(&mut page);
    page.text
}

/// What the holds are called.
fn names(job: Job) -> [&'static str; 2] {
    match job {
        Job::SecondSide => ["outside-grip", "bore-grip"],
        _ => ["chuck", ""],
    }
}

fn head(page: &mut Page, blank: &Blank, job: Job, chuck: ChuckKind) {
    let (title, what) = match job {
        Job::Outside => (
            "Ring gripped in its bore, turned outside",
            "A ring, gripped in its bore by jaws that open, is turned outside.",
        ),
        Job::Bore => (
            "Ring gripped outside, bored",
            "A ring, gripped on its outside, is bored.",
        ),
        Job::SecondSide => (
            "Ring bored, then turned round and turned outside",
            "A ring is gripped outside and bored, let go, turned round, gripped in its finished bore and turned outside.",
        ),
        Job::Tube => (
            "Tube gripped at one end, bored",
            "A tube, gripped outside at one end, is bored from end to end; it is followed along its length.",
        ),
    };
    let drive = match chuck {
        ChuckKind::Hand => "a scroll tightened with a key",
        ChuckKind::Power => "a power chuck",
    };
    page.remark(what);
    page.remark(&format!("The chuck: three soft jaws, {drive}."));
    page.remark("");
    page.remark("  ringwright check FILE     looks for mistakes");
    page.remark(
        "  ringwright run FILE       holds it, cuts it, releases it and measures what is left",
    );
    page.remark("");
    page.remark("A part that leaves the chuck can kill. What stands here is an ASSUMPTION wherever it says so, chosen so that");
    page.remark("the example runs, and no rating: put your own numbers in before you go by what comes out. The ratings and");
    page.remark("instructions of the chuck's maker, local codes and the judgement of a competent person come first. Guard the");
    page.remark("machine; take the key out of the chuck; keep the jaws' stroke within what the maker allows.");
    page.remark("");
    page.remark(if blank.inch {
        "Plain numbers are in, lbf, psi; degrees. Any value may carry its own unit as text: \"450 lbf\", \"5 thou\", \"20 mm\"."
    } else {
        "Plain numbers are mm, N, MPa; degrees. Any value may carry its own unit as text: \"2.5 kN\", \"5 thou\", \"3 1/8 in\"."
    });
    page.raw("");
    page.key("title", &format!("\"{title}\""), "");
    page.key("units", if blank.inch { "\"inch\"" } else { "\"mm\"" }, "");
    if job == Job::Tube {
        let remark = "asked relative mesh error; finer takes longer along a tube";
        page.key("accuracy", "0.03", remark);
    }
    page.raw("");
}

fn part(page: &mut Page, blank: &Blank, proposal: &Proposal) {
    page.raw("[tolerance]");
    page.length(
        "roundness",
        proposal.roundness,
        "ASSUMPTION: what your drawing asks, a zone on the radius",
    );
    page.raw("");
    page.raw("[part]");
    page.length(
        "outer_diameter",
        blank.outside,
        "the blank as it goes into the chuck",
    );
    page.length("bore_diameter", blank.bore, "");
    page.length("length", blank.length, "along the axis");
    page.key(
        "material",
        &format!("\"{}\"", blank.material.name),
        "`ringwright materials` tells how well its values are known",
    );
    if blank.material.class != Class::Metal {
        page.remark("A plastic creeps while it is held: hold it as short a time, and as lightly, as you can.");
    }
    page.remark("A blank that is not round: [[part.lobes]], or its readings in [part.readings]; see README, \"Measuring\".");
    page.raw("");
}

fn tube(page: &mut Page, blank: &Blank, proposal: &Proposal) {
    let at = [
        0.0,
        proposal.grip,
        (proposal.grip + blank.length) / 2.0,
        blank.length,
    ];
    let at = at.map(|z| page.write.length(z));
    page.raw("[tube]");
    page.key(
        "stations",
        &format!("[{}]", at.join(", ")),
        "where to report, from the gripped end",
    );
    page.raw("");
}

fn hold(
    page: &mut Page,
    (clamping, name): (&Clamping, &str),
    proposal: &Proposal,
    (job, chuck): (Job, ChuckKind),
) {
    page.raw(&format!("[[hold.{name}]]"));
    page.key(
        "scheme",
        "\"jaws\"",
        "`ringwright schemes jaws` lists what it takes",
    );
    page.key("count", "3", "");
    page.key(
        "side",
        if clamping.inside {
            "\"inside\""
        } else {
            "\"outside\""
        },
        if clamping.inside {
            "the jaws open in the bore"
        } else {
            "the jaws close on the outside"
        },
    );
    page.key("drive", "\"self-centring\"", "the jaws move together");
    let write = page.write;
    let apart = write.with_unit(proposal.clearance);
    if clamping.inside {
        let words = format!("PADS! soft jaws turned {apart} under the bore: measure yours");
        page.length(
            "turned_diameter",
            clamping.gripped - proposal.clearance,
            &words,
        );
    } else {
        let words = format!("PADS! soft jaws bored {apart} over the part: measure yours");
        page.length(
            "bored_diameter",
            clamping.gripped + proposal.clearance,
            &words,
        );
    }
    page.key(
        "arc",
        &plain(ARC, 1),
        "degrees that each pad covers; or width = ..., straight across",
    );
    if job == Job::Tube {
        page.length("grip_length", proposal.grip, "from the end in the chuck");
    }
    match chuck {
        ChuckKind::Hand => by_key(page, clamping),
        ChuckKind::Power => by_cylinder(page, clamping),
    }
    let on_plastic = format!(
        "{{ low = {}, high = {} }}",
        PLASTIC_FRICTION.0, PLASTIC_FRICTION.1
    );
    let (friction, remark) = if proposal.plastic {
        (
            on_plastic.as_str(),
            "FRICTION! ASSUMPTION, no source: what these pads have on this plastic",
        )
    } else {
        (
            "\"smooth\"",
            "FRICTION! smooth pads, a wide band; or \"serrated\", or { low = ..., high = ... }",
        )
    };
    page.key("friction", friction, remark);
    page.key(
        "jaw_mass",
        &plain(proposal.jaw_mass, 1),
        "ASSUMPTION: kg, whatever the units; weigh one",
    );
    page.length(
        "jaw_centroid_radius",
        clamping.jaw_radius,
        "ASSUMPTION: its centre of mass from the spindle axis",
    );
    page.key(
        "axial_stop",
        "true",
        "the part rests against a stop, which takes the feed",
    );
    page.raw("");
}

fn by_key(page: &mut Page, clamping: &Clamping) {
    let (force, torque, unit, big, per_big) = if page.write.inch {
        (KEY_INCH.0, KEY_INCH.1, 4.448_221_615_260_5, "ft-lb", 12.0)
    } else {
        (KEY_MM.0, KEY_MM.1, 1.0, "N m", 1000.0)
    };
    let key = up(clamping.force / unit / force * torque / per_big);
    for line in [
        "FORCE! What a key gives differs several times over from chuck to chuck, and with dirt and grease. Measure",
        "the force of a jaw on this chuck with these jaws, and the torque on the key then. The pair below is an",
        "ASSUMPTION (common practice, no source); the torque is set so that by this estimate the hold takes the",
        "cut with something to spare.",
    ] {
        page.remark(line);
    }
    page.key(
        "key_torque",
        &format!("\"{} {big}\"", plain(key, 2)),
        "what you pull on the key",
    );
    page.key(
        "calibration_torque",
        &format!("\"{} {big}\"", plain(torque / per_big, 1)),
        "ASSUMPTION: at this torque ...",
    );
    let band = format!(
        "{{ nominal = {}, plus_minus = {} }}",
        plain(force, 1),
        plain(force * SPREAD.0, 1)
    );
    page.key("calibration_force", &band, "... each jaw pressed so hard");
    page.key(
        "after_clamping",
        "\"keeps-position\"",
        "a scroll stays where it was tightened while metal goes",
    );
}

fn by_cylinder(page: &mut Page, clamping: &Clamping) {
    let total = page.write.force_up(clamping.force * JAWS);
    for line in [
        "FORCE! Read it with a force gauge between these jaws at the pressure set. This one is an ASSUMPTION (common",
        "practice, no source), set so that by this estimate the hold takes the cut with something to spare. Instead",
        "of it: drawbar_force with drawbar_ratio, or air_pressure with cylinder_diameter and drawbar_ratio.",
    ] {
        page.remark(line);
    }
    let band = format!(
        "{{ nominal = {}, plus_minus = {} }}",
        page.write.force(total),
        page.write.force(total * SPREAD.1)
    );
    page.key("total_force", &band, "of all jaws together");
    page.key(
        "after_clamping",
        "\"keeps-force\"",
        "the cylinder keeps pressing while metal goes",
    );
}

fn step(page: &mut Page, (clamping, name): (&Clamping, &str), proposal: &Proposal, second: bool) {
    page.raw("[[step]]");
    page.key("hold", &format!("\"{name}\""), "");
    if second {
        page.key("flipped", "true", "turned end for end");
    }
    let inwards = "rev/min, ASSUMPTION: turning takes force from jaws that grip inwards";
    page.key(
        "speed",
        &plain(clamping.speed, 1),
        if clamping.inside {
            "rev/min, ASSUMPTION"
        } else {
            inwards
        },
    );
    page.raw("[[step.cut]]");
    page.key(
        "surface",
        if clamping.inside {
            "\"outer\""
        } else {
            "\"bore\""
        },
        "",
    );
    let words = format!(
        "a light cut, {} deep: put the size of your drawing here",
        page.write.with_unit(proposal.depth)
    );
    page.length("diameter", clamping.cut_to, &words);
    if let Some([round, along, across]) = proposal.forces {
        page.remark("The built-in table has no cutting constants for this material: the tool's force is an ASSUMPTION, no source.");
        let write = page.write;
        let band = |(low, high): (f64, f64)| {
            format!(
                "{{ low = {}, high = {} }}",
                write.force(low),
                write.force(high)
            )
        };
        page.key("tangential_force", &band(round), "round the part");
        page.key("axial_force", &band(along), "along it");
        page.key(
            "radial_force",
            &band(across),
            "across it: pushes the wall away",
        );
    } else {
        page.length(
            "feed",
            proposal.feed,
            "a turn: with the depth and the material it gives the tool's force",
        );
        page.key(
            "entering_angle",
            "90.0",
            "degrees between the cutting edge and the feed",
        );
    }
    page.raw("");
}

fn chuck_plate(page: &mut Page) {
    page.remark("From the maker's plate and data sheet; until they stand here, the chuck's limits are not checked.");
    page.remark("[chuck]");
    page.remark("rated_force = ...               # of all jaws together");
    page.remark("rated_speed = ...               # rev/min");
}
