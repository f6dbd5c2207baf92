//! What all answers share: cautions and the like.

use std::borrow::Cow;

use calc_core::caution::{self, Detail};
use serde::{Deserialize, Serialize, Serializer};
use utoipa::ToSchema;

/// A warning about a number that could be computed.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Caution {
    /// Stable code in snake_case.
    pub code: &'static str,
    /// How much it weighs.
    pub severity: Severity,
    /// Which document `pointer` points into.
    pub about: About,
    /// JSON Pointer (RFC 6901, as a URI fragment) of the number concerned; `#` for the whole.
    #[schema(value_type = String)]
    pub pointer: Pointer,
    /// What was found and what is considered sound.
    #[schema(value_type = String)]
    pub detail: Detail,
    /// Who considers it so: a standard, a textbook, or common practice.
    pub source: Cow<'static, str>,
    /// The caller's rule that found it; only of a caller's rule.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rule: Option<String>,
}

/// A path of the core as the JSON Pointer that it becomes when it is written: `block/bore` as `#/block/bore`.
#[derive(Debug, Clone, PartialEq)]
pub struct Pointer(pub(crate) Cow<'static, str>);

impl Serialize for Pointer {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        const LONGEST: usize = 128;
        let path = self.0.as_bytes();
        if path.is_empty() {
            return serializer.serialize_str("#");
        }
        // Answers hold many of them; most are put together without asking for memory.
        let mut text = [0; LONGEST];
        let end = path.len() + 2;
        match text.get_mut(..end) {
            Some(room) => {
                room[..2].copy_from_slice(b"#/");
                room[2..].copy_from_slice(path);
                serializer.serialize_str(std::str::from_utf8(room).map_err(serde::ser::Error::custom)?)
            }
            None => serializer.collect_str(&format_args!("#/{}", self.0)),
        }
    }
}

/// How much a caution weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Good to know.
    Note,
    /// Check it before you go on.
    Caution,
    /// Parts may touch or break.
    Danger,
}

/// Which document a pointer points into.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum About {
    /// The request: an input.
    Request,
    /// The answer: a result.
    Answer,
}

/// The core's cautions as they travel.
pub(crate) fn cautions(cautions: Vec<caution::Caution>) -> Vec<Caution> {
    cautions.into_iter().map(wire_caution).collect()
}

pub(crate) fn wire_caution(caution: caution::Caution) -> Caution {
    Caution {
        code: caution.code,
        severity: caution.severity.into(),
        about: match caution.about {
            caution::About::Request => About::Request,
            caution::About::Answer => About::Answer,
        },
        pointer: Pointer(caution.path),
        detail: caution.detail,
        source: caution.source.into(),
        rule: None,
    }
}

impl From<caution::Severity> for Severity {
    fn from(severity: caution::Severity) -> Self {
        match severity {
            caution::Severity::Note => Self::Note,
            caution::Severity::Caution => Self::Caution,
            caution::Severity::Danger => Self::Danger,
        }
    }
}

impl From<Severity> for caution::Severity {
    fn from(severity: Severity) -> Self {
        match severity {
            Severity::Note => Self::Note,
            Severity::Caution => Self::Caution,
            Severity::Danger => Self::Danger,
        }
    }
}
