//! How far a change of a result goes, so that changes of different quantities can be put in an order.

use crate::compression::r#static::SPARK_IGNITION_RATIOS;
use crate::geometry::deck_stack::{LOOSE_SQUISH, TIGHT_SQUISH};
use crate::geometry::piston_motion::FAST_MEAN_SPEED;
use crate::limit;

use super::evaluate::{Evaluation, ROD_STROKE_RATIOS};
use super::place::{Output, RESULTS};
use super::rule::Rule;

/// What a change is measured by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// The width between the two limits of the caller's narrowest rule on the result.
    Rule,
    /// The width of the result's usual range.
    UsualRange,
    /// The whole that the result is a part of.
    Whole,
    /// The larger of the result's two values.
    Value,
}

/// A change as a share of what it is measured by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Consequence {
    /// The share.
    pub share: f64,
    /// What it is a share of.
    pub of: Measure,
    /// The result that changes so far.
    pub result: &'static str,
}

/// How far a change of a result goes.
///
/// **Equation** |new - old|/width; the width is that of the narrowest rule with two limits, else that of the usual range, else the
/// whole of which the result is a part (a volume above the piston: the clearance volume; a difference to the label: the label),
/// else the larger of |old| and |new|.
///
/// **Shape** One result in two states.
///
/// **Units** SI units in, a share out.
///
/// **Valid for** Any two values; two that are equal go nowhere.
///
/// **Errors** None.
///
/// **Source** The usual ranges are those of the cautions on the results, each with its source there.
#[must_use]
pub fn consequence(
    result: &'static Output,
    [old, new]: [f64; 2],
    reference: &Evaluation,
    rules: &[Rule],
) -> Consequence {
    let of_rule =
        |rule: &Rule| (rule.result.path == result.path).then(|| Some(rule.at_most? - rule.at_least?)).flatten();
    let narrowest = rules.iter().filter_map(of_rule).filter(|width| *width > 0.0).reduce(f64::min);
    let (width, of) = match (narrowest, usual_width(result.path), whole(result.path, reference)) {
        (Some(width), ..) => (width, Measure::Rule),
        (None, Some(width), _) => (width, Measure::UsualRange),
        (None, None, Some(whole)) => (whole, Measure::Whole),
        (None, None, None) => (old.abs().max(new.abs()), Measure::Value),
    };
    let change = (new - old).abs();
    Consequence { share: if change > 0.0 { change / width } else { 0.0 }, of, result: result.path }
}

/// The result that changes furthest between two states of a build.
pub(crate) fn furthest(old: &Evaluation, new: &Evaluation, rules: &[Rule]) -> Option<Consequence> {
    let each = RESULTS.iter().filter_map(|result| {
        let values = [result.get(old)?, result.get(new)?];
        Some(consequence(result, values, old, rules))
    });
    each.reduce(|furthest, one| if one.share > furthest.share { one } else { furthest })
}

/// Width of the range that a caution calls usual.
fn usual_width(path: &str) -> Option<f64> {
    let [low, high] = match path {
        "geometry/rod_stroke_ratio" => ROD_STROKE_RATIOS,
        "geometry/deck_clearance" => {
            [limit::DECK_CLEARANCE.usual_min.metres(), limit::DECK_CLEARANCE.usual_max.metres()]
        }
        "geometry/squish_clearance" => [TIGHT_SQUISH.metres(), LOOSE_SQUISH.metres()],
        "geometry/mean_piston_speed" => [0.0, FAST_MEAN_SPEED.metres_per_second()],
        "compression/static_ratio" => SPARK_IGNITION_RATIOS,
        _ => return None,
    };
    Some(high - low)
}

/// What a result is a part of.
fn whole(path: &str, reference: &Evaluation) -> Option<f64> {
    if path.starts_with("compression/volumes/") {
        return Some(reference.compression.clearance_volume.cubic_metres());
    }
    (path == "geometry/label_difference_percent").then_some(1.0)
}
