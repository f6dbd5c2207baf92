//! Cautions: what the trade or an equation's range says about an answer that could still be computed.

use std::borrow::Cow;

/// How much a caution weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Good to know.
    Note,
    /// Check it before you go on.
    Caution,
    /// Parts may touch or break.
    Danger,
}

/// Which document a caution's path points into.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum About {
    /// An input of the request.
    Request,
    /// A result in the answer.
    Answer,
}

/// One caution.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caution {
    /// Stable snake_case code.
    pub code: &'static str,
    /// How much it weighs.
    pub severity: Severity,
    /// Which document `path` points into.
    pub about: About,
    /// Names down to the number concerned, joined by `/`; empty for the whole answer.
    pub path: Cow<'static, str>,
    /// What was found and what is considered sound.
    pub detail: Cow<'static, str>,
    /// Who considers it so.
    pub source: &'static str,
}

/// The source of a rule that the trade shares and nobody wrote down.
pub const COMMON_PRACTICE: &str = "common practice, no source";

/// Stands once in every answer that feeds a cut, a clearance or an assembly decision.
pub const STANDING: Caution = Caution {
    code: "measure_and_mock_up",
    severity: Severity::Caution,
    about: About::Answer,
    path: Cow::Borrowed(""),
    detail: Cow::Borrowed(
        "Computed from the figures given. Measure the actual parts, mock the assembly up, follow the part maker's own limits \
         first, and have the work done or checked by a qualified machinist. Nothing returned here replaces that.",
    ),
    source: COMMON_PRACTICE,
};
