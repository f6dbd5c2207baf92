//! What all answers share: cautions and the like.

use std::borrow::Cow;

use calc_core::caution;
use serde::Serialize;
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
    pub source: &'static str,
}

/// How much a caution weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
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

fn wire_caution(caution: caution::Caution) -> Caution {
    Caution {
        code: caution.code,
        severity: match caution.severity {
            caution::Severity::Note => Severity::Note,
            caution::Severity::Caution => Severity::Caution,
            caution::Severity::Danger => Severity::Danger,
        },
        about: match caution.about {
            caution::About::Request => About::Request,
            caution::About::Answer => About::Answer,
        },
        pointer: if caution.path.is_empty() { "#".into() } else { format!("#/{}", caution.path).into() },
        detail: caution.detail,
        source: caution.source,
    }
}
