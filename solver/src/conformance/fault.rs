//! What the kit checks, and what it may find.

use crate::scheme::{Loose, Unsound};

/// How the error ends that stands for two different answers of an outside program to one question: nothing was refused.
pub const TWO_ANSWERS: &str =
    "gave two answers to one question; the same question must get the same answer";

/// How the error ends that stands for an outside program's refusal with an empty message.
pub const NO_REASON: &str = "refused without giving a reason";

/// One of the things that the kit checks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Check {
    /// Name, words, parameters.
    Description,
    /// The example and those of the recipes, as texts.
    Examples,
    /// What is put against the part.
    Replies,
    /// Simple statics.
    Balance,
    /// Same request, same reply.
    Repeats,
    /// Values out of range or without meaning.
    Nonsense,
    /// The examples solved.
    Runs,
}

impl Check {
    /// All, in the order they are made.
    pub const ALL: [Check; 7] = [
        Check::Description,
        Check::Examples,
        Check::Replies,
        Check::Balance,
        Check::Repeats,
        Check::Nonsense,
        Check::Runs,
    ];

    /// What is checked, in one line.
    pub const fn about(self) -> &'static str {
        match self {
            Check::Description => {
                "name, keys, words, kinds and defaults say what they must, once each"
            }
            Check::Examples => "the example and those of the recipes read, and use the scheme",
            Check::Replies => {
                "bodies and loads are finite, as wide as they can be and on their side of the wall; each body is driven"
            }
            Check::Balance => "the forces balance, or something takes what is left",
            Check::Repeats => {
                "the same request has the same reply, in any order and between other sections"
            }
            Check::Nonsense => "nonsense is refused by name, and never panics",
            Check::Runs => {
                "the examples are solved to the accuracy asked, and what is loose is named"
            }
        }
    }
}

/// What is wrong with a scheme. `example` names the text: `example`, or `recipe NAME`.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Fault {
    /// The name is no name.
    #[error(
        "the name \"{name}\" must be lower-case words joined by hyphens, such as \"soft-jaws\""
    )]
    BadName {
        /// As it is.
        name: String,
    },
    /// Two schemes of one name.
    #[error("another scheme is called \"{name}\" too; choose a name of your own")]
    NameTaken {
        /// The name.
        name: String,
    },
    /// The name of the built-in hold.
    #[error("\"free\" is the built-in hold in which nothing touches the part; choose another name")]
    NameReserved,
    /// A text for people is missing, or not one line.
    #[error("{what} is empty or not one line of text; say it in one line")]
    NoWords {
        /// Which text.
        what: String,
    },
    /// A key is no key.
    #[error(
        "the key \"{key}\" must be lower-case words joined by underscores, and not \"scheme\", which names the scheme"
    )]
    BadKey {
        /// As it is.
        key: String,
    },
    /// A key comes twice, or is both built and planned.
    #[error("\"{key}\" comes twice; describe each parameter and each word once")]
    Twice {
        /// The key, or key and word.
        key: String,
    },
    /// A kind that no value fits, or whose unit cannot be.
    #[error("the kind of \"{key}\" is not sane: {why}")]
    BadKind {
        /// The key.
        key: String,
        /// Why.
        why: String,
    },
    /// A default that is no value of the parameter.
    #[error("the default {default} of \"{key}\" {why}")]
    BadDefault {
        /// The key.
        key: String,
        /// As it is.
        default: String,
        /// Why.
        why: String,
    },
    /// An example that the case reader refuses.
    #[error("{example}, line {line}: {message}")]
    Unreadable {
        /// Which text.
        example: String,
        /// Line, from 1.
        line: usize,
        /// The reader's words.
        message: String,
    },
    /// An example without the scheme.
    #[error("no step of {example} holds the part with the scheme; let it show the scheme")]
    NotUsed {
        /// Which text.
        example: String,
    },
    /// A reply that cannot be put against the part.
    #[error("asked with {asked}: {why}")]
    Unsound {
        /// What was asked.
        asked: String,
        /// What is wrong with the reply.
        why: Unsound,
    },
    /// A hold that leaves the part loose.
    #[error("{example}, hold \"{hold}\": {why}")]
    Loose {
        /// Which text.
        example: String,
        /// Which hold.
        hold: String,
        /// Why.
        why: Loose,
    },
    /// Another reply to the same request.
    #[error(
        "asked with {asked} the reply is not always the same; let it depend on section and values alone"
    )]
    Unsteady {
        /// What was asked.
        asked: String,
    },
    /// The scheme panics.
    #[error("asked with {asked} the scheme panics; return an error that names the parameter")]
    Panics {
        /// What was asked.
        asked: String,
    },
    /// The outside program fails on the values of an example.
    #[error("asked with {asked} its program {did}; nothing else can be checked until it answers")]
    NoReply {
        /// What was asked.
        asked: String,
        /// What it did.
        did: String,
    },
    /// The outside program fails on values that its parameters allow.
    #[error(
        "asked with {asked} its program {did}; let it answer with an error that names the parameter, or describe the parameter with \
         \"min\" and \"max\" so that it is never asked"
    )]
    ProgramFails {
        /// What was asked.
        asked: String,
        /// What it did.
        did: String,
    },
    /// The outside program cannot be started again after it failed.
    #[error("its program cannot be started again: {why}; the checks after that are left out")]
    Down {
        /// Why.
        why: String,
    },
    /// Nonsense that was taken.
    #[error("{asked} is taken; describe the parameter so that it is refused")]
    Taken {
        /// What was asked.
        asked: String,
    },
    /// A refusal that does not name a parameter of the scheme.
    #[error(
        "asked with {asked} the scheme refuses without naming a parameter of its own: {message}"
    )]
    Unnamed {
        /// What was asked.
        asked: String,
        /// Its words.
        message: String,
    },
    /// A refusal without words.
    #[error(
        "asked with {asked} the scheme refuses without giving a reason; say why not, and what would do"
    )]
    Wordless {
        /// What was asked.
        asked: String,
    },
    /// An example without an answer.
    #[error("{example} has no answer: {message}")]
    NoAnswer {
        /// Which text.
        example: String,
        /// The solver's words.
        message: String,
    },
    /// An example that misses its accuracy.
    #[error(
        "{example}, step {step}: the accuracy asked is not reached; leave [mesh] out or ask for less"
    )]
    NotConverged {
        /// Which text.
        example: String,
        /// Step, from 1.
        step: usize,
    },
    /// A free rigid-body mode that the result does not name.
    #[error(
        "{example}, step {step}: {found} rigid-body motions are named, and nothing resists {least}"
    )]
    RigidBodyMode {
        /// Which text.
        example: String,
        /// Step, from 1.
        step: usize,
        /// How many are named.
        found: usize,
        /// How many there are at least.
        least: usize,
    },
}

impl Fault {
    /// The check that finds it.
    pub const fn check(&self) -> Check {
        match self {
            Fault::BadName { .. }
            | Fault::NameTaken { .. }
            | Fault::NameReserved
            | Fault::NoWords { .. }
            | Fault::BadKey { .. }
            | Fault::Twice { .. }
            | Fault::BadKind { .. }
            | Fault::BadDefault { .. } => Check::Description,
            Fault::Unreadable { .. } | Fault::NotUsed { .. } => Check::Examples,
            Fault::Unsound { .. } | Fault::NoReply { .. } => Check::Replies,
            Fault::Loose { .. } => Check::Balance,
            Fault::Unsteady { .. } => Check::Repeats,
            Fault::Panics { .. }
            | Fault::ProgramFails { .. }
            | Fault::Down { .. }
            | Fault::Taken { .. }
            | Fault::Unnamed { .. }
            | Fault::Wordless { .. } => Check::Nonsense,
            Fault::NoAnswer { .. } | Fault::NotConverged { .. } | Fault::RigidBodyMode { .. } => {
                Check::Runs
            }
        }
    }
}
