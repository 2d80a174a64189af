//! Holding schemes by an outside program, in any language, that speaks JSON lines on its standard streams.
//!
//! [`Programs::start`] starts each program once and asks what it is; [`Programs::schemes`] are then schemes like the
//! built-in ones. The programs end with the `Programs`. A program is named by the user, never by a case file: a case from
//! somewhere else must not be able to run anything. What is said is described in `plugins/examples/outside/six_patches.py`,
//! template and reference in one.

mod child;
mod fields;
mod protocol;
mod reply;

pub use child::stop_all;

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use ringwright_solver::conformance::{NO_REASON, TWO_ANSWERS};
use ringwright_solver::scheme::{
    HoldingScheme, Parameter, ProgramFailure, Registry, SchemeError, Section, Supports, Values,
    impossible,
};

use child::Child;

/// Takes a line that a program wrote to its standard error, with the program's name before it.
pub type Listener = Arc<dyn Fn(&str) + Send + Sync>;

/// How programs are run.
#[derive(Clone)]
pub struct Limits {
    /// Longest wait for one answer.
    pub time: Duration,
    /// Longest line of an answer, bytes.
    pub line: usize,
    /// Who hears the programs' standard error.
    pub listener: Listener,
}

impl Limits {
    /// 10 s and 16 MiB an answer.
    pub fn new(listener: Listener) -> Self {
        Self {
            time: Duration::from_secs(10),
            line: 16 << 20,
            listener,
        }
    }
}

/// A program that failed: which, and what it did.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct ProgramError(String);

/// Programs at work. They are stopped, with all they started, when this is dropped.
pub struct Programs {
    schemes: Vec<Arc<OutsideScheme>>,
}

impl Programs {
    /// Starts the programs of these command lines, split into words as a shell would (no variables, no wildcards).
    ///
    /// # Errors
    /// The first program that cannot be started, does not say what it is, or has the name of another scheme.
    pub fn start(
        commands: &[String],
        limits: &Limits,
        registry: &Registry,
    ) -> Result<Self, ProgramError> {
        let mut programs = Self {
            schemes: Vec::new(),
        };
        for command in commands {
            let scheme = OutsideScheme::start(command, limits)?;
            let name = scheme.name.clone();
            let taken =
                registry.get(&name).is_some() || programs.schemes.iter().any(|s| s.name == name);
            // a registry or a case may keep the scheme for longer; the program itself is stopped on drop
            programs.schemes.push(Arc::new(scheme));
            if taken {
                return Err(ProgramError(format!(
                    "the program `{command}` calls its scheme \"{name}\", and there is one of that name already; it \
                     must choose another"
                )));
            }
        }
        Ok(programs)
    }

    /// The schemes, in the order of the commands.
    pub fn schemes(&self) -> impl Iterator<Item = Arc<dyn HoldingScheme>> {
        let own = |s: &Arc<OutsideScheme>| Arc::clone(s) as Arc<dyn HoldingScheme>;
        self.schemes.iter().map(own)
    }
}

impl Drop for Programs {
    fn drop(&mut self) {
        for scheme in &self.schemes {
            let mut talk = scheme.lock();
            if let Line::Open(mut child) = std::mem::replace(
                &mut talk.line,
                Line::Closed("the program was stopped".to_owned()),
            ) {
                child.end();
            }
        }
    }
}

/// A scheme whose program answers.
struct OutsideScheme {
    command: String,
    limits: Limits,
    name: String,
    summary: String,
    version: String,
    parameters: Vec<Parameter>,
    example: String,
    talk: Mutex<Talk>,
}

/// What has been said.
struct Talk {
    line: Line,
    asked: u64,
    /// The question answered last, to be put again after the next one.
    last: Option<(String, reply::Answer)>,
    /// Replies by question: what is asked again gets the same answer without asking.
    replies: BTreeMap<String, Result<Supports, SchemeError>>,
}

/// The line to a program.
enum Line {
    Open(Child),
    /// Why it is closed.
    Closed(String),
}

/// Starts a program and asks what it is. An error says what the program did.
fn greet(command: &str, limits: &Limits) -> Result<(Child, protocol::Hello), String> {
    // dropped, it is stopped
    let mut child = Child::start(command, limits)?;
    let hello = child.ask(protocol::HELLO).and_then(|line| {
        protocol::hello(&line).map_err(|e| format!("{e}; {}", protocol::quoted(&line)))
    })?;
    child.rename(&hello.name);
    Ok((child, hello))
}

/// How a refusal is told.
fn refused(message: &str) -> String {
    match message.trim() {
        "" => NO_REASON.to_owned(),
        message => format!("refused: {message}"),
    }
}

impl OutsideScheme {
    fn start(command: &str, limits: &Limits) -> Result<Self, ProgramError> {
        let (child, hello) = greet(command, limits)
            .map_err(|did| ProgramError(format!("the scheme program `{command}` {did}")))?;
        Ok(Self {
            command: command.to_owned(),
            limits: limits.clone(),
            example: protocol::example(&hello),
            name: hello.name,
            summary: hello.about,
            version: hello.version,
            parameters: hello.parameters,
            talk: Mutex::new(Talk {
                line: Line::Open(child),
                asked: 0,
                last: None,
                replies: BTreeMap::new(),
            }),
        })
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, Talk> {
        self.talk.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn error(&self, parameter: Option<String>, did: &str) -> SchemeError {
        SchemeError {
            parameter,
            message: format!(
                "the scheme \"{}\" (program `{}`) {did}",
                self.name, self.command
            ),
        }
    }

    /// Puts one question and reads the answer.
    fn ask(&self, talk: &mut Talk, question: &str) -> Result<reply::Answer, String> {
        talk.asked += 1;
        let n = talk.asked;
        let child = match &mut talk.line {
            Line::Open(child) => child,
            Line::Closed(why) => return Err(why.clone()),
        };
        let answer = child
            .ask(&protocol::numbered(n, question))
            .and_then(|line| {
                reply::answer(&line, n).map_err(|e| format!("{e}; {}", protocol::quoted(&line)))
            });
        if let Err(did) = &answer {
            child.kill();
            talk.line = Line::Closed(did.clone());
        }
        answer
    }

    /// The answer to a question put for the first time. It is put twice, with the question before it in between, for a run that gets
    /// two answers to one question means nothing, and tens of microseconds are a small price for knowing.
    fn fresh(
        &self,
        talk: &mut Talk,
        question: &str,
        section: &Section,
    ) -> Result<Supports, SchemeError> {
        let first = self
            .ask(talk, question)
            .map_err(|did| self.error(None, &did))?;
        let before = talk.last.take();
        let again = before
            .as_ref()
            .map(|(question, _)| self.ask(talk, question))
            .transpose()
            .map_err(|did| self.error(None, &did))?;
        let second = self
            .ask(talk, question)
            .map_err(|did| self.error(None, &did))?;
        talk.last = Some((question.to_owned(), first.clone()));
        if first != second || again != before.map(|(_, answer)| answer) {
            return Err(self.error(None, TWO_ANSWERS));
        }
        match first {
            reply::Answer::Refused(no) => {
                let parameter = no
                    .parameter
                    .filter(|p| self.parameters.iter().any(|known| known.key == *p));
                Err(self.error(parameter, &refused(&no.message)))
            }
            reply::Answer::Hold(reply) => {
                let mut supports = reply::supports(&reply, section).map_err(|e| SchemeError {
                    parameter: None,
                    message: impossible(self, &e),
                })?;
                supports.assumed.push(format!(
                    "{}: what version {} of an outside program says",
                    self.name, self.version
                ));
                Ok(supports)
            }
        }
    }
}

impl HoldingScheme for OutsideScheme {
    fn name(&self) -> &str {
        &self.name
    }

    fn summary(&self) -> &str {
        &self.summary
    }

    fn parameters(&self) -> &[Parameter] {
        &self.parameters
    }

    fn program(&self) -> Option<&str> {
        Some(&self.command)
    }

    fn restart(&self) -> Option<ProgramFailure> {
        let mut talk = self.lock();
        let Line::Closed(did) = &talk.line else {
            return None;
        };
        let did = did.clone();
        let down = match greet(&self.command, &self.limits) {
            Ok((child, hello))
                if hello.name == self.name && hello.parameters == self.parameters =>
            {
                talk.line = Line::Open(child);
                None
            }
            Ok(_) => Some("it says that it is something else".to_owned()),
            Err(did) => Some(format!("it {did}")),
        };
        Some(ProgramFailure { did, down })
    }

    fn example(&self) -> &str {
        &self.example
    }

    fn supports(&self, section: &Section, values: &Values) -> Result<Supports, SchemeError> {
        // what is not a number cannot be said in JSON
        values.check(&self.parameters, &[])?;
        // a case has filled the defaults in; a program may count on every value
        if let Some(p) = self.parameters.iter().find(|p| !values.has(&p.key)) {
            return Err(SchemeError {
                parameter: Some(p.key.to_string()),
                message: format!("missing; give {}", p.about),
            });
        }
        let sizes = [section.outer_radius, section.bore_radius, section.length];
        if !sizes.iter().all(|x| x.is_finite()) {
            return Err(self.error(None, "was not asked: the section has no size"));
        }
        let question = protocol::question(section, values);
        let mut talk = self.lock();
        if let Some(reply) = talk.replies.get(&question) {
            return reply.clone();
        }
        let was_open = matches!(talk.line, Line::Open(_));
        let reply = self.fresh(&mut talk, &question, section);
        // a question that was never put is not answered: a program started again may yet do so
        if was_open {
            talk.replies.insert(question, reply.clone());
        }
        reply
    }
}
