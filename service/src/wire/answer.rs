//! What all answers share: cautions and the like.

use std::borrow::Cow;

use calc_core::caution;
use serde::{Deserialize, Serialize};
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
    pub pointer: Cow<'static, str>,
    /// What was found and what is considered sound.
    pub detail: Cow<'static, str>,
    /// Who considers it so: a standard, a textbook, or common practice.
    pub source: Cow<'static, str>,
    /// The caller's rule that found it; only of a caller's rule.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rule: Option<String>,
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
        pointer: if caution.path.is_empty() { "#".into() } else { format!("#/{}", caution.path).into() },
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
