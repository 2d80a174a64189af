//! A line of JSON, read key by key, so that whatever is wrong with it is said in the words of the protocol: which key, of what, and
//! what was expected.

use std::fmt;

use serde::Deserialize;
use serde::de::{Deserializer, MapAccess, SeqAccess, Visitor};

/// A JSON value as it came. All keys of an object are kept, for `serde_json`'s own value keeps the last of two without a word.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Node {
    Null,
    Flag(bool),
    Number(f64),
    Text(String),
    List(Vec<Node>),
    Object(Vec<(String, Node)>),
}

impl Node {
    fn kind(&self) -> &'static str {
        match self {
            Node::Null => "null",
            Node::Flag(_) => "true or false",
            Node::Number(_) => "a number",
            Node::Text(_) => "text",
            Node::List(_) => "a list",
            Node::Object(_) => "an object",
        }
    }
}

impl<'de> Deserialize<'de> for Node {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(AnyNode)
    }
}

struct AnyNode;

impl<'de> Visitor<'de> for AnyNode {
    type Value = Node;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("JSON")
    }

    fn visit_unit<E>(self) -> Result<Node, E> {
        Ok(Node::Null)
    }

    fn visit_bool<E>(self, flag: bool) -> Result<Node, E> {
        Ok(Node::Flag(flag))
    }

    fn visit_u64<E>(self, n: u64) -> Result<Node, E> {
        Ok(Node::Number(n as f64))
    }

    fn visit_i64<E>(self, n: i64) -> Result<Node, E> {
        Ok(Node::Number(n as f64))
    }

    fn visit_f64<E>(self, x: f64) -> Result<Node, E> {
        Ok(Node::Number(x))
    }

    fn visit_str<E>(self, text: &str) -> Result<Node, E> {
        Ok(Node::Text(text.to_owned()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Node, A::Error> {
        let mut nodes = Vec::new();
        while let Some(node) = list.next_element()? {
            nodes.push(node);
        }
        Ok(Node::List(nodes))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Node, A::Error> {
        let mut entries = Vec::new();
        while let Some(entry) = map.next_entry()? {
            entries.push(entry);
        }
        Ok(Node::Object(entries))
    }
}

/// One JSON document; NaN and infinities are not JSON.
pub(super) fn json_line(line: &str) -> Result<Node, String> {
    serde_json::from_str(line).map_err(|e| {
        let why = if e.to_string().starts_with("number out of range") {
            "a number in it is too large".to_owned()
        } else if line.contains("NaN") || line.contains("Infinity") {
            "NaN and infinity are no numbers of JSON".to_owned()
        } else if line.trim().is_empty() {
            "it is empty".to_owned()
        } else if e.is_eof() {
            "it ends in the middle".to_owned()
        } else {
            format!("stopped at character {}", e.column())
        };
        format!("gave a line that is not JSON: {why}")
    })
}

/// What a program wrote, as it can be shown: cut short, without control characters.
pub(super) fn shown(text: &str) -> String {
    const SHOWN: usize = 60;
    let start: String = one_line(text).chars().take(SHOWN).collect();
    if text.chars().nth(SHOWN).is_some() {
        start + "..."
    } else {
        start
    }
}

/// Cut short, without control characters: what is shown stays on its line and does not steer the terminal.
pub(super) fn one_line(text: &str) -> String {
    text.chars()
        .take(300)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

/// The keys of an object, taken out one by one. Errors name the key and what it belongs to.
pub(super) struct Fields {
    of: String,
    left: Vec<(String, Node)>,
}

impl Fields {
    /// The keys of what should be an object, each there once; `of` is what it is called.
    pub(super) fn new(node: Node, of: &str) -> Result<Self, String> {
        let of = of.to_owned();
        let left = match node {
            Node::Object(entries) => entries,
            other => return Err(format!("{of} is {}; expected an object", other.kind())),
        };
        let mut keys: Vec<&str> = left.iter().map(|(key, _)| key.as_str()).collect();
        keys.sort_unstable();
        if let Some(pair) = keys.windows(2).find(|pair| pair[0] == pair[1]) {
            let key = shown(pair[0]);
            return Err(format!("{of} has the key \"{key}\" twice"));
        }
        Ok(Self { of, left })
    }

    /// A key's value, if it is there and not null.
    pub(super) fn take(&mut self, key: &str) -> Option<Node> {
        let at = self.left.iter().position(|(k, _)| k == key)?;
        match self.left.swap_remove(at).1 {
            Node::Null => None,
            node => Some(node),
        }
    }

    fn needed<T>(&self, key: &str, value: Option<T>) -> Result<T, String> {
        value.ok_or_else(|| format!("the key \"{key}\" of {} is missing", self.of))
    }

    fn wrong(&self, key: &str, node: &Node, expected: &str) -> String {
        let of = &self.of;
        let kind = node.kind();
        format!("the key \"{key}\" of {of} is {kind}; expected {expected}")
    }

    /// A number that may be left out.
    pub(super) fn number_if_any(&mut self, key: &str) -> Result<Option<f64>, String> {
        match self.take(key) {
            None => Ok(None),
            Some(Node::Number(x)) => Ok(Some(x)),
            Some(other) => Err(self.wrong(key, &other, "a number")),
        }
    }

    /// A number.
    pub(super) fn number(&mut self, key: &str) -> Result<f64, String> {
        let number = self.number_if_any(key)?;
        self.needed(key, number)
    }

    /// A text that may be left out.
    pub(super) fn text_if_any(&mut self, key: &str) -> Result<Option<String>, String> {
        match self.take(key) {
            None => Ok(None),
            Some(Node::Text(text)) => Ok(Some(text)),
            Some(other) => Err(self.wrong(key, &other, "text")),
        }
    }

    /// A text.
    pub(super) fn text(&mut self, key: &str) -> Result<String, String> {
        let text = self.text_if_any(key)?;
        self.needed(key, text)
    }

    /// One of some words, as what it stands for.
    pub(super) fn word<T: Copy>(&mut self, key: &str, words: &[(&str, T)]) -> Result<T, String> {
        let text = self.text(key)?;
        let found = words.iter().find(|(word, _)| *word == text);
        found.map(|(_, meaning)| *meaning).ok_or_else(|| {
            let known: Vec<String> = words.iter().map(|(w, _)| format!("\"{w}\"")).collect();
            format!(
                "the key \"{key}\" of {} is \"{}\"; expected {}",
                self.of,
                shown(&text),
                known.join(" or ")
            )
        })
    }

    /// True or false; left out it is false.
    pub(super) fn flag(&mut self, key: &str) -> Result<bool, String> {
        match self.take(key) {
            None => Ok(false),
            Some(Node::Flag(flag)) => Ok(flag),
            Some(other) => Err(self.wrong(key, &other, "true or false")),
        }
    }

    /// A list of no more than `most`; left out it is empty.
    pub(super) fn list(&mut self, key: &str, most: usize) -> Result<Vec<Node>, String> {
        match self.take(key) {
            None => Ok(Vec::new()),
            Some(Node::List(list)) if list.len() <= most => Ok(list),
            Some(Node::List(list)) => Err(format!(
                "the key \"{key}\" of {} lists {}; {most} are the most",
                self.of,
                list.len()
            )),
            Some(other) => Err(self.wrong(key, &other, "a list")),
        }
    }

    /// A list of texts.
    pub(super) fn texts(&mut self, key: &str, most: usize) -> Result<Vec<String>, String> {
        let list = self.list(key, most)?;
        let text = |node| match node {
            Node::Text(text) => Ok(text),
            other => Err(self.wrong(key, &other, "texts in it")),
        };
        list.into_iter().map(text).collect()
    }

    /// What is left is not known; `known` are the keys that are.
    pub(super) fn end(self, known: &[&str]) -> Result<(), String> {
        match self.left.first() {
            None => Ok(()),
            Some((key, _)) => Err(format!(
                "{} has an unknown key \"{}\"; known: {}",
                self.of,
                shown(key),
                known.join(", ")
            )),
        }
    }
}
