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
#[derive(Debug, Clone, PartialEq)]
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
    pub detail: Detail,
    /// Who considers it so.
    pub source: &'static str,
}

/// What a caution says. One that may stand beside every build of a long list keeps its figures, and is put into words only when
/// somebody reads it: a table shows no more than its code.
#[derive(Debug, Clone)]
pub struct Detail(Said);

#[derive(Debug, Clone)]
enum Said {
    Words(Cow<'static, str>),
    Figures { figures: [f64; 3], into_words: fn([f64; 3]) -> String },
}

impl Detail {
    /// Words that are always the same.
    #[must_use]
    pub const fn words(words: &'static str) -> Self {
        Self(Said::Words(Cow::Borrowed(words)))
    }

    /// Figures, and how they are put into words.
    #[must_use]
    pub const fn of(figures: [f64; 3], into_words: fn([f64; 3]) -> String) -> Self {
        Self(Said::Figures { figures, into_words })
    }

    /// The words.
    #[must_use]
    pub fn text(&self) -> Cow<'_, str> {
        match &self.0 {
            Said::Words(words) => Cow::Borrowed(words),
            Said::Figures { figures, into_words } => into_words(*figures).into(),
        }
    }
}

impl From<Cow<'static, str>> for Detail {
    fn from(words: Cow<'static, str>) -> Self {
        Self(Said::Words(words))
    }
}

impl From<String> for Detail {
    fn from(words: String) -> Self {
        Cow::<'static, str>::Owned(words).into()
    }
}

impl From<&'static str> for Detail {
    fn from(words: &'static str) -> Self {
        Self::words(words)
    }
}

impl PartialEq for Detail {
    fn eq(&self, other: &Self) -> bool {
        self.text() == other.text()
    }
}

impl serde::Serialize for Detail {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.text())
    }
}

/// The source of a rule that the trade shares and nobody wrote down.
pub const COMMON_PRACTICE: &str = "common practice, no source";

/// Stands once in every answer that feeds a cut, a clearance or an assembly decision.
pub const STANDING: Caution = Caution {
    code: "measure_and_mock_up",
    severity: Severity::Caution,
    about: About::Answer,
    path: Cow::Borrowed(""),
    detail: Detail::words(
        "Computed from the figures given. Measure the actual parts, mock the assembly up, follow the part maker's own limits \
         first, and have the work done or checked by a qualified machinist. Nothing returned here replaces that.",
    ),
    source: COMMON_PRACTICE,
};
