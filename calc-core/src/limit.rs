//! The physical limits of the inputs, each written once.
//!
//! Two ranges belong to every input. Outside the first the value is refused: nothing that a machine shop can hold has it, so
//! it is a slip of the keyboard or of the unit. Outside the second it is computed with a caution. Both ranges span what is
//! built, from model engines to marine diesels, and the narrower one shop work on road, race, marine and farm engines:
//! common practice, no source. A part maker's own limits are narrower still and are the caller's to check.

use std::borrow::Cow;

use validator::ValidationError;

use crate::caution::{About, COMMON_PRACTICE, Caution, Severity};
use crate::units::{Quantity, rounded};

pub use ranges::*;

mod ranges;

/// The two ranges of one input.
#[derive(Debug, Clone, Copy)]
pub struct Limit<Q> {
    /// The smallest value accepted.
    pub min: Q,
    /// The largest value accepted.
    pub max: Q,
    /// The smallest value that needs no caution.
    pub usual_min: Q,
    /// The largest value that needs no caution.
    pub usual_max: Q,
}

impl<Q: Quantity> Limit<Q> {
    /// Refuses a value outside the accepted range (and one that is not a number).
    ///
    /// # Errors
    /// `out_of_range`, with both ends of the range and, where it looks like one, the mistaken unit.
    #[inline]
    pub fn check(&self, value: &Q) -> Result<(), ValidationError> {
        if self.accepts(value) { Ok(()) } else { Err(self.refusal(value)) }
    }

    /// Whether a value is inside the accepted range.
    #[inline]
    pub fn accepts(&self, value: &Q) -> bool {
        *value >= self.min && *value <= self.max
    }

    /// Kept out of line: a sound input pays for two comparisons only.
    #[cold]
    fn refusal(&self, value: &Q) -> ValidationError {
        let message = format!(
            "must be from {} to {}; got {}.{}",
            self.min.shown(),
            self.max.shown(),
            value.shown(),
            self.mistaken_unit(*value)
        );
        ValidationError::new("out_of_range").with_message(message.into())
    }

    /// Adds a caution when an accepted value is outside the usual range.
    #[inline]
    pub fn unusual(&self, path: impl Into<Cow<'static, str>>, value: Q, cautions: &mut Vec<Caution>) {
        if !(value >= self.usual_min && value <= self.usual_max) {
            cautions.push(self.unusual_caution(path.into(), value));
        }
    }

    #[cold]
    fn unusual_caution(&self, path: Cow<'static, str>, value: Q) -> Caution {
        let hint = self.mistaken_unit(value);
        Caution {
            code: if hint.is_empty() { "unusual_value" } else { "unit_suspected" },
            severity: Severity::Caution,
            about: About::Request,
            path,
            detail: format!(
                "{} is outside the usual {} to {}.{hint}",
                value.shown(),
                self.usual_min.shown(),
                self.usual_max.shown()
            )
            .into(),
            source: COMMON_PRACTICE,
        }
    }

    /// What to add to a message when the same figure in the other system's unit would be usual.
    fn mistaken_unit(&self, value: Q) -> String {
        let (Some(inch), Some(metric)) = (Q::unit(Q::SHOP[0]), Q::unit(Q::SHOP[1])) else { return String::new() };
        // Written in inches but read as metric, or the other way round.
        for (meant, read_as) in [(inch, metric), (metric, inch)] {
            let figure = read_as.of_si(value.si());
            let other = Q::from_si(meant.to_si(figure));
            if meant != read_as && other >= self.usual_min && other <= self.usual_max {
                return format!(" \"{} {}\" would be usual: is the unit right?", rounded(figure), meant.symbol());
            }
        }
        String::new()
    }
}

/// Most cylinders of one engine: the largest radials built have fewer.
pub const MOST_CYLINDERS: u32 = 48;

/// Most recesses of one size in one crown.
pub const MOST_RECESSES: u32 = 16;

/// Most rules that a build is judged by at once.
pub const MOST_RULES: usize = 200;

/// Fewest and most builds that are compared at once.
pub const COMPARED_BUILDS: [usize; 2] = [2, 10];

/// Fewest and most draws of a Monte Carlo calculation.
pub const DRAWS: [u32; 2] = [1_000, 200_000];

/// Fewest and most teeth of a sprocket: fewer run rough, more nobody cuts.
pub const SPROCKET_TEETH: [u32; 2] = [8, 200];

/// A sprocket's teeth as a check for `#[validate(custom)]`.
pub(crate) fn teeth(count: u32) -> Result<(), ValidationError> {
    check_count(count, SPROCKET_TEETH)
}

/// The count of cylinders as a check for `#[validate(custom)]`.
pub(crate) fn cylinders(count: u32) -> Result<(), ValidationError> {
    check_count(count, [1, MOST_CYLINDERS])
}

/// Most equal holes in parallel.
pub const MOST_HOLES: u32 = 1000;

/// The count of holes as a check for `#[validate(custom)]`.
pub(crate) fn holes(count: u32) -> Result<(), ValidationError> {
    check_count(count, [1, MOST_HOLES])
}

/// The count of recesses as a check for `#[validate(custom)]`.
pub(crate) fn recesses(count: u32) -> Result<(), ValidationError> {
    check_count(count, [1, MOST_RECESSES])
}

/// The count of draws as a check for `#[validate(custom)]`.
pub(crate) fn draws(count: u32) -> Result<(), ValidationError> {
    check_count(count, DRAWS)
}

/// Most parts of one kind that an oil calculation takes side by side, and most turns of a passage.
pub const MOST_ALIKE: u32 = 1000;

/// How many alike stand side by side, as a check for `#[validate(custom)]`.
pub(crate) fn alike(count: u32) -> Result<(), ValidationError> {
    check_count(count, [1, MOST_ALIKE])
}

/// How many turns a passage has, as a check for `#[validate(custom)]`.
pub(crate) fn bends(count: u32) -> Result<(), ValidationError> {
    check_count(count, [0, MOST_ALIKE])
}

fn check_count(count: u32, [fewest, most]: [u32; 2]) -> Result<(), ValidationError> {
    if (fewest..=most).contains(&count) {
        return Ok(());
    }
    let message = format!("must be a whole number from {fewest} to {most}; got {count}.");
    Err(ValidationError::new("out_of_range").with_message(message.into()))
}

/// Both ends are accepted, a little outside is not, and the usual range lies inside.
#[cfg(test)]
fn holds_from_end_to_end<Q: Quantity>(limit: &Limit<Q>) {
    let (min, max) = (limit.min.si(), limit.max.si());
    let step = 1e-9 * (max - min);
    assert!(limit.check(&limit.min).is_ok() && limit.check(&limit.max).is_ok());
    assert!(limit.check(&Q::from_si(min + step)).is_ok() && limit.check(&Q::from_si(max - step)).is_ok());
    assert!(limit.check(&Q::from_si(min - step)).is_err() && limit.check(&Q::from_si(max + step)).is_err());
    assert!(limit.min <= limit.usual_min && limit.usual_min < limit.usual_max && limit.usual_max <= limit.max);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Length;

    #[test]
    fn a_mistaken_unit_is_named() {
        let refused = BORE.check(&Length::from_millimetres(4.03)).err().and_then(|error| error.message);
        assert!(refused.is_some_and(|text| text.contains("\"4.03 in\" would be usual")));
        let mut cautions = Vec::new();
        GASKET_THICKNESS.unusual("x", Length::from_millimetres(0.041), &mut cautions);
        assert_eq!(cautions.iter().map(|caution| caution.code).collect::<Vec<_>>(), ["unit_suspected"]);
    }

    #[test]
    fn not_a_number_is_refused() {
        assert!(BORE.check(&Length::from_metres(f64::NAN)).is_err());
    }
}
