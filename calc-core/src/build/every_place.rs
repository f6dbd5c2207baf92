//! Every number of a build sheet and of its consequences: those of the table of places, and those of single cylinders, which are
//! lists and like one of the table each.

use crate::units::Quantity;

use super::cylinders::Cylinder;
use super::evaluate::Evaluation;
use super::place::{INPUTS, Input, Output, RESULTS};
use super::sheet::{Build, Measured};

/// Where a number stands.
#[derive(Debug, Clone)]
pub enum Place {
    /// An input of the table of places.
    Input(&'static Input),
    /// A result of that table.
    Output(&'static Output),
    /// A reading of one cylinder: an input.
    Reading {
        /// `measured/deck_heights/0`.
        path: String,
        /// The input of the whole engine that it stands for.
        like: &'static Input,
        /// Place of the cylinder in the list, from zero.
        cylinder: usize,
    },
    /// A result of one cylinder.
    Cylinder {
        /// `compression/cylinders/0/static_ratio`.
        path: String,
        /// The result of the whole engine that it is like.
        like: &'static Output,
        /// Place of the cylinder in the list, from zero.
        cylinder: usize,
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

    /// What it measures.
    #[must_use]
    pub fn dimension(&self) -> &'static str {
        match self {
            Self::Input(place) | Self::Reading { like: place, .. } => place.dimension.name,
            Self::Output(place) | Self::Cylinder { like: place, .. } => place.dimension.name,
        }
    }

    /// Whether it counts things.
    pub(crate) fn is_whole(&self) -> bool {
        matches!(self, Self::Input(place) if place.whole)
    }

    /// Gives the sheet another value here; false when that cannot be, and for a result.
    pub(crate) fn set(&self, build: &mut Build, si: f64) -> bool {
        match self {
            Self::Input(place) => place.set(build, si),
            Self::Reading { path, cylinder, .. } => set_reading(build, path, *cylinder, si).is_some(),
            Self::Output(_) | Self::Cylinder { .. } => false,
        }
    }
}

fn set_reading(build: &mut Build, path: &str, cylinder: usize, si: f64) -> Option<()> {
    let measured = build.measured.as_mut()?;
    if path.starts_with(CHAMBERS) {
        *measured.chamber_volumes.as_mut()?.get_mut(cylinder)? = Quantity::from_si(si);
    } else {
        *measured.deck_heights.as_mut()?.get_mut(cylinder)? = Quantity::from_si(si);
    }
    Some(())
}

pub(crate) const CHAMBERS: &str = "measured/chamber_volumes";
pub(crate) const DECKS: &str = "measured/deck_heights";
const CYLINDERS: &str = "compression/cylinders";

/// A list of readings, the input that stands for it, and how one of them is read.
type Readings = (&'static str, &'static str, fn(&Measured, usize) -> Option<f64>);
/// A result of one cylinder, the one of the whole engine that it is like, and how it is read.
type OfCylinder = (&'static str, &'static str, fn(&Cylinder) -> f64);

/// Every list of readings.
const READINGS: [Readings; 2] = [
    (CHAMBERS, "cylinder_head/chamber_volume", |of, index| Some(of.chamber_volumes.as_ref()?.get(index)?.si())),
    (DECKS, "block/deck_height", |of, index| Some(of.deck_heights.as_ref()?.get(index)?.si())),
];

/// Every result of a single cylinder.
const OF_A_CYLINDER: [OfCylinder; 3] = [
    ("deck_clearance", "geometry/deck_clearance", |one| one.deck_clearance.si()),
    ("clearance_volume", "compression/clearance_volume", |one| one.clearance_volume.si()),
    ("static_ratio", "compression/static_ratio", |one| one.static_ratio),
];

/// Path of a result of one cylinder.
pub(crate) fn of_cylinder(cylinder: usize, name: &str) -> String {
    format!("{CYLINDERS}/{cylinder}/{name}")
}

/// The reading of a list, when it was taken.
pub(crate) fn reading(build: &Build, list: &str, cylinder: usize) -> Option<f64> {
    let (_, _, get) = READINGS.iter().find(|(name, ..)| *name == list)?;
    get(build.measured.as_ref()?, cylinder)
}

/// Every input with its value; readings of as many cylinders as are wanted.
pub(crate) fn inputs(build: &Build, cylinders: usize) -> Vec<(Place, Option<f64>)> {
    let mut all: Vec<_> = INPUTS.iter().map(|place| (Place::Input(place), place.get(build))).collect();
    for (list, like, get) in READINGS {
        let Some(like) = Input::at(like) else { continue };
        all.extend((0..cylinders).map(|cylinder| {
            let path = format!("{list}/{cylinder}");
            let value = build.measured.as_ref().and_then(|measured| get(measured, cylinder));
            (Place::Reading { path, like, cylinder }, value)
        }));
    }
    all
}

/// Every result with its value; those of as many single cylinders as are wanted.
pub(crate) fn results(evaluation: &Evaluation, cylinders: usize) -> Vec<(Place, Option<f64>)> {
    let mut all: Vec<_> = RESULTS.iter().map(|place| (Place::Output(place), place.get(evaluation))).collect();
    for cylinder in 0..cylinders {
        for (name, like, get) in OF_A_CYLINDER {
            let Some(like) = Output::at(like) else { continue };
            let value = evaluation.compression.cylinders.get(cylinder).map(get);
            all.push((Place::Cylinder { path: of_cylinder(cylinder, name), like, cylinder }, value));
        }
    }
    all
}

/// The values alone of [`results`], in the same order.
pub(crate) fn values(evaluation: &Evaluation, cylinders: usize) -> Vec<Option<f64>> {
    let of_engine = RESULTS.iter().map(|place| place.get(evaluation));
    let of_cylinders = (0..cylinders).flat_map(|cylinder| {
        let one = evaluation.compression.cylinders.get(cylinder);
        OF_A_CYLINDER.iter().map(move |(_, _, get)| one.map(get))
    });
    of_engine.chain(of_cylinders).collect()
}

#[cfg(test)]
mod tests {
    use super::super::evaluate::evaluate;
    use super::super::tests::demo;
    use super::*;
    use crate::error::Error;

    #[test]
    fn every_place_of_a_list_is_like_one_of_the_table() {
        for (_, like, _) in READINGS {
            assert!(Input::at(like).is_some(), "{like}");
        }
        for (_, like, _) in OF_A_CYLINDER {
            assert!(Output::at(like).is_some(), "{like}");
        }
    }

    #[test]
    fn places_and_values_have_one_order_and_what_is_set_is_read_back() -> Result<(), Error> {
        let evaluation = evaluate(&demo())?;
        let alone: Vec<_> = results(&evaluation, 8).into_iter().map(|(_, value)| value).collect();
        assert_eq!(alone, values(&evaluation, 8));
        for (place, value) in inputs(&demo(), 8) {
            let Some(value) = value else { continue };
            let mut build = demo();
            assert!(place.set(&mut build, value + 1.0), "{}", place.path());
            let found = inputs(&build, 8).into_iter().find(|(other, _)| other.path() == place.path());
            assert_eq!(found.and_then(|(_, value)| value), Some(value + 1.0), "{}", place.path());
        }
        Ok(())
    }
}
