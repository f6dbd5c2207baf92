//! Every number that differs between two builds, in the order of its consequence.

use crate::limit;

use super::consequence::{Consequence, consequence, furthest};
use super::evaluate::{Evaluation, numbers};
use super::every_place::{Place, inputs, results};
use super::rule::Rule;
use super::sensitivity::magnitude;
use super::sheet::Build;

/// One number that differs.
#[derive(Debug, Clone)]
pub struct Difference {
    /// Where it stands.
    pub place: Place,
    /// In the reference, in SI units; none when the reference lacks it.
    pub old: Option<f64>,
    /// In the other build; none when that lacks it.
    pub new: Option<f64>,
    /// Whether a caution on this result was gained or lost.
    pub crosses: bool,
    /// How far a result goes; of an input, how far it alone makes a result go, when the reference allows that change alone.
    pub consequence: Option<Consequence>,
}

/// Results before inputs, the table before the lists.
pub(crate) fn rank(place: &Place) -> u8 {
    match place {
        Place::Output(_) => 0,
        Place::Cylinder { .. } => 1,
        Place::Input(_) => 2,
        Place::Reading { .. } => 3,
    }
}

/// Every number of sheet and answer that differs, the most consequential first: results on which a caution was gained or lost,
/// other results, results of single cylinders, inputs, readings of single cylinders; the larger share first within each.
///
/// **Equation** That of [`consequence`] for results; an input goes as far as the result that it moves furthest when it alone is
/// changed in the reference.
///
/// **Shape** One entry for each number that differs by more than rounding, 1e-12 of itself.
///
/// **Units** SI units.
///
/// **Valid for** Two builds with their own evaluations.
///
/// **Errors** None.
///
/// **Source** Definition of a difference.
#[must_use]
pub fn differences(
    old: (&Build, &Evaluation),
    new: (&Build, &Evaluation),
    rules: &[Rule],
    crossed: &[&str],
) -> Vec<Difference> {
    let (before, after) = (numbers_of(old), numbers_of(new));
    let differing =
        before.into_iter().zip(after).filter(|((place, old), (_, new))| differs(place.dimension(), *old, *new));
    let mut found: Vec<_> = differing
        .map(|((place, before), (_, after))| {
            let values = before.zip(after).map(|(before, after)| [before, after]);
            let consequence = match (&place, values) {
                (Place::Output(result) | Place::Cylinder { like: result, .. }, Some(values)) => {
                    Some(consequence(result, values, old.1, rules))
                }
                (Place::Input(_) | Place::Reading { .. }, _) => {
                    let mut alone = old.0.clone();
                    let changed = after.is_some_and(|after| place.set(&mut alone, after));
                    let moved = changed.then(|| numbers(&alone).ok()).flatten();
                    moved.and_then(|moved| furthest(old.1, &moved, rules))
                }
                _ => None,
            };
            let crosses = rank(&place) == 0 && crossed.contains(&place.path());
            Difference { crosses, place, old: before, new: after, consequence }
        })
        .collect();
    let share = |one: &Difference| one.consequence.map_or(-1.0, |found| found.share);
    found.sort_by(|a, b| {
        (!a.crosses, rank(&a.place)).cmp(&(!b.crosses, rank(&b.place))).then(share(b).total_cmp(&share(a)))
    });
    found
}

/// Rounding of a conversion between units is no difference.
fn differs(dimension: &str, old: Option<f64>, new: Option<f64>) -> bool {
    match (old, new) {
        (Some(old), Some(new)) => (new - old).abs() > 1e-12 * magnitude(dimension, old.abs().max(new.abs())),
        (None, None) => false,
        _ => true,
    }
}

/// All numbers of a build in a fixed order: the same places for every build, with or without a value.
fn numbers_of((build, evaluation): (&Build, &Evaluation)) -> Vec<(Place, Option<f64>)> {
    let cylinders = limit::MOST_CYLINDERS as usize;
    let mut all = results(evaluation, cylinders);
    all.extend(inputs(build, cylinders));
    all
}
