//! Every number that differs between two builds, in the order of its consequence.

use crate::units::Quantity;

use super::consequence::{Consequence, consequence, furthest};
use super::evaluate::{Evaluation, numbers};
use super::place::{INPUTS, Input, Output, RESULTS};
use super::rule::Rule;
use super::sensitivity::magnitude;
use super::sheet::{Build, Measured};

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

/// Where a number stands.
#[derive(Debug, Clone)]
pub enum Place {
    /// An input of the table of places.
    Input(&'static Input),
    /// A result of that table.
    Output(&'static Output),
    /// A reading of one cylinder: an input, in the unit of the one that it stands for.
    Reading {
        /// `measured/deck_heights/0`.
        path: String,
        /// The input of the whole engine.
        like: &'static Input,
    },
    /// A result of one cylinder, in the unit of the engine's.
    Cylinder {
        /// `compression/cylinders/0/static_ratio`.
        path: String,
        /// The result of the whole engine.
        like: &'static Output,
    },
}

impl Place {
    /// Names down to the number, joined by `/`.
    #[must_use]
    pub fn path(&self) -> &str {
        match self {
            Self::Input(place) => place.path,
            Self::Output(place) => place.path,
            Self::Reading { path, .. } | Self::Cylinder { path, .. } => path,
        }
    }

    fn dimension(&self) -> &'static str {
        match self {
            Self::Input(place) | Self::Reading { like: place, .. } => place.dimension.name,
            Self::Output(place) | Self::Cylinder { like: place, .. } => place.dimension.name,
        }
    }

    /// Results before inputs, the table before the lists.
    pub(crate) fn rank(&self) -> u8 {
        match self {
            Self::Output(_) => 0,
            Self::Cylinder { .. } => 1,
            Self::Input(_) => 2,
            Self::Reading { .. } => 3,
        }
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
                    let alone = after.and_then(|after| alone(old.0, &place, after));
                    alone.and_then(|build| furthest(old.1, &numbers(&build).ok()?, rules))
                }
                _ => None,
            };
            let crosses = place.rank() == 0 && crossed.contains(&place.path());
            Difference { crosses, place, old: before, new: after, consequence }
        })
        .collect();
    let share = |one: &Difference| one.consequence.map_or(-1.0, |found| found.share);
    found.sort_by(|a, b| {
        (!a.crosses, a.place.rank()).cmp(&(!b.crosses, b.place.rank())).then(share(b).total_cmp(&share(a)))
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

/// The reference with one input of the other build.
fn alone(reference: &Build, place: &Place, value: f64) -> Option<Build> {
    let mut build = reference.clone();
    match place {
        Place::Input(input) => input.set(&mut build, value).then_some(build),
        Place::Reading { path, .. } => {
            let index: usize = path.rsplit('/').next()?.parse().ok()?;
            let measured = build.measured.as_mut()?;
            if path.starts_with(CHAMBERS) {
                *measured.chamber_volumes.as_mut()?.get_mut(index)? = Quantity::from_si(value);
            } else {
                *measured.deck_heights.as_mut()?.get_mut(index)? = Quantity::from_si(value);
            }
            Some(build)
        }
        _ => None,
    }
}

const CHAMBERS: &str = "measured/chamber_volumes";
const DECKS: &str = "measured/deck_heights";
/// Results of single cylinders, and those of the whole engine that they are like.
const OF_A_CYLINDER: [(&str, &str); 3] = [
    ("deck_clearance", "geometry/deck_clearance"),
    ("clearance_volume", "compression/clearance_volume"),
    ("static_ratio", "compression/static_ratio"),
];

/// All numbers of a build in a fixed order: the same places for every build, with or without a value.
fn numbers_of((build, evaluation): (&Build, &Evaluation)) -> Vec<(Place, Option<f64>)> {
    let mut all: Vec<_> = RESULTS.iter().map(|place| (Place::Output(place), place.get(evaluation))).collect();
    all.extend(INPUTS.iter().map(|place| (Place::Input(place), place.get(build))));
    let measured = build.measured.as_ref();
    for index in 0..crate::limit::MOST_CYLINDERS as usize {
        let cylinder = evaluation.compression.cylinders.get(index);
        let of_cylinder = cylinder.map(|one| [one.deck_clearance.si(), one.clearance_volume.si(), one.static_ratio]);
        for (which, (name, like)) in OF_A_CYLINDER.into_iter().enumerate() {
            let path = format!("compression/cylinders/{index}/{name}");
            let value = of_cylinder.map(|values| values[which]);
            all.extend(Output::at(like).map(|like| (Place::Cylinder { path, like }, value)));
        }
        let chamber = |of: &Measured| of.chamber_volumes.as_ref()?.get(index).map(|volume| volume.si());
        let deck = |of: &Measured| of.deck_heights.as_ref()?.get(index).map(|height| height.si());
        for (list, like, value) in [
            (CHAMBERS, "cylinder_head/chamber_volume", measured.and_then(chamber)),
            (DECKS, "block/deck_height", measured.and_then(deck)),
        ] {
            let path = format!("{list}/{index}");
            all.extend(Input::at(like).map(|like| (Place::Reading { path, like }, value)));
        }
    }
    all
}
