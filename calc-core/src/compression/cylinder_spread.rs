//! How the cylinders of one engine differ in ratio, which one stands out, and what makes them equal.

use validator::{Validate, ValidationError};

use crate::caution::{About, COMMON_PRACTICE, Caution, Severity};
use crate::error::{Error, broken_rule};
use crate::geometry::displacement::cylinder_volume;
use crate::limit;
use crate::method::Method;
use crate::units::{Length, Quantity, Volume};

use super::r#static::{StaticInput, volumes};

/// How [`cylinder_spread`] works.
pub const METHOD: Method = Method {
    id: "cylinder-spread",
    title: "Spread of the compression ratio between cylinders",
    equation: "ratio of cylinder i = (Vs + Vi)/Vi. Change that equalises = median(V) - Vi, added to that chamber: no other common \
         volume needs less change in total. By enlarging only: max(V) - Vi. Outlier: the cylinder farthest from the median \
         ratio; its item is the one whose departure from that item's median does most of it.",
    valid_for: "Cylinders of one bore and stroke; what was not measured cylinder by cylinder is the same in all. An outlier needs at \
         least three cylinders. A change counts in the chamber whatever item caused the difference.",
    sources: &[
        "J. B. Heywood, Internal Combustion Engine Fundamentals, 1st edition, equation 2.1 (the ratio of each cylinder)",
        "First principles (the median makes the sum of absolute differences smallest)",
    ],
};

/// Clearance volumes that differ by more than this are usually matched.
const MATCHED: Volume = Volume::from_cubic_centimetres(1.0);

/// Fewest and most cylinders that can be compared.
const COUNT: std::ops::RangeInclusive<usize> = 2..=limit::MOST_CYLINDERS as usize;

/// What was measured on one cylinder; what is absent is as in the rest of the request.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct CylinderReading {
    /// Its chamber.
    #[validate(custom(function = "limit::chamber_volume"))]
    pub chamber_volume: Option<Volume>,
    /// Its deck clearance.
    #[validate(custom(function = "limit::deck_clearance"))]
    pub deck_clearance: Option<Length>,
    /// The dish of its piston.
    #[validate(custom(function = "limit::crown_volume"))]
    pub dish_volume: Option<Volume>,
}

/// The cylinders beside each other.
#[derive(Debug, Clone, PartialEq)]
pub struct CylinderSpread {
    /// One by one, in the order of the readings.
    pub cylinders: Vec<CylinderRatio>,
    /// Largest ratio less smallest.
    pub ratio_spread: f64,
    /// Largest clearance volume less smallest.
    pub volume_spread: Volume,
    /// The ratio of all once every chamber is changed by its `chamber_change`.
    pub equalised_ratio: f64,
    /// The ratio of all once every chamber is enlarged by its `chamber_enlargement`.
    pub enlarged_ratio: f64,
    /// The cylinder that stands out, if one does.
    pub outlier: Option<Outlier>,
}

/// One cylinder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CylinderRatio {
    /// Its place in the readings, from one.
    pub cylinder: u32,
    /// Its static ratio.
    pub static_ratio: f64,
    /// Its clearance volume.
    pub clearance_volume: Volume,
    /// Its chamber, as measured.
    pub chamber_volume: Volume,
    /// What to add to its chamber for the smallest change in total; negative to take away.
    pub chamber_change: Volume,
    /// What to add to its chamber when chambers can only be made larger.
    pub chamber_enlargement: Volume,
}

/// What can differ from cylinder to cylinder.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Item {
    /// The chamber.
    Chamber,
    /// The deck clearance.
    Deck,
    /// The dish.
    Dish,
}

/// The cylinder that stands out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outlier {
    /// Its place in the readings, from one.
    pub cylinder: u32,
    /// What makes it stand out.
    pub item: Item,
    /// By how much that item's volume departs from the median of that item.
    pub item_difference: Volume,
    /// Its ratio less the median ratio.
    pub ratio_difference: f64,
}

/// Two cylinders at least, and no more than an engine has.
pub(crate) fn check_count(count: usize) -> Result<(), ValidationError> {
    if COUNT.contains(&count) {
        return Ok(());
    }
    let detail = format!("must hold {} to {} cylinders; got {count}.", COUNT.start(), COUNT.end());
    Err(broken_rule("readings", "wrong_length", detail))
}

/// Ratio of each cylinder, the spread, what stands out and what equalises them.
///
/// **Equation** ratio_i = (Vs + Vi)/Vi; change_i = median(V) - Vi; enlargement_i = max(V) - Vi
///
/// **Shape** One input for what all cylinders share, one reading for each cylinder.
///
/// **Units** Lengths and volumes, any.
///
/// **Valid for** Cylinders of one bore and stroke; an input and readings that pass their own validation.
///
/// **Errors** [`Error::NoSolution`] when a cylinder has no clearance volume left.
///
/// **Source** Heywood, Internal Combustion Engine Fundamentals, 1st edition, equation 2.1; the median minimises the sum of
/// absolute differences (first principles).
pub fn cylinder_spread(shared: &StaticInput, readings: &[CylinderReading]) -> Result<CylinderSpread, Error> {
    let items: Vec<_> = readings.iter().map(|reading| item_volumes(shared, reading)).collect();
    let rest = volumes(shared);
    let measured = rest.chamber.cubic_metres() + rest.deck.cubic_metres() + rest.dish.cubic_metres();
    let unmeasured = rest.clearance().cubic_metres() - measured;
    let clearances: Vec<_> = items.iter().map(|item| unmeasured + item.iter().sum::<f64>()).collect();
    let swept = cylinder_volume(shared.bore, shared.stroke).cubic_metres();
    let smallest = clearances.iter().copied().fold(f64::INFINITY, f64::min);
    if smallest <= 0.0 {
        return Err(nothing_left(&clearances, smallest));
    }
    let largest = clearances.iter().copied().fold(0.0, f64::max);
    let middle = median(&clearances);
    let ratio = |clearance: f64| (swept + clearance) / clearance;
    let cylinder = |(index, (clearance, item)): (usize, (&f64, &[f64; 3]))| CylinderRatio {
        cylinder: number(index),
        static_ratio: ratio(*clearance),
        clearance_volume: Volume::from_cubic_metres(*clearance),
        chamber_volume: Volume::from_cubic_metres(item[0]),
        chamber_change: Volume::from_cubic_metres(middle - clearance),
        chamber_enlargement: Volume::from_cubic_metres(largest - clearance),
    };
    let cylinders: Vec<_> = clearances.iter().zip(&items).enumerate().map(cylinder).collect();
    Ok(CylinderSpread {
        outlier: outlier(&cylinders, &items),
        cylinders,
        ratio_spread: ratio(smallest) - ratio(largest),
        volume_spread: Volume::from_cubic_metres(largest - smallest),
        equalised_ratio: ratio(middle),
        enlarged_ratio: ratio(largest),
    })
}

fn number(index: usize) -> u32 {
    u32::try_from(index + 1).unwrap_or(u32::MAX)
}

/// Volumes of chamber, deck and dish of one cylinder, in the order of [`ITEMS`].
fn item_volumes(shared: &StaticInput, reading: &CylinderReading) -> [f64; 3] {
    let deck = reading.deck_clearance.unwrap_or(shared.deck_clearance);
    [
        reading.chamber_volume.unwrap_or(shared.chamber_volume).cubic_metres(),
        cylinder_volume(shared.bore, deck).cubic_metres(),
        reading.dish_volume.unwrap_or(shared.dish_volume).cubic_metres(),
    ]
}

const ITEMS: [Item; 3] = [Item::Chamber, Item::Deck, Item::Dish];

fn nothing_left(clearances: &[f64], smallest: f64) -> Error {
    let index = clearances.iter().position(|clearance| *clearance == smallest).unwrap_or_default();
    let shown = Volume::from_cubic_metres(smallest).shown();
    Error::NoSolution {
        field: "readings",
        detail: format!("leave {shown} above the piston of cylinder {}; more than nothing must be left.", index + 1),
    }
}

/// The middle value, or the mean of the two middle ones.
fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    if sorted.len() % 2 == 1 { sorted[half] } else { 0.5 * (sorted[half - 1] + sorted[half]) }
}

/// The cylinder farthest from the median ratio; of two, neither stands out more than the other.
fn outlier(cylinders: &[CylinderRatio], items: &[[f64; 3]]) -> Option<Outlier> {
    let ratios: Vec<_> = cylinders.iter().map(|cylinder| cylinder.static_ratio).collect();
    let middle = median(&ratios);
    let distance = |index: &usize| (ratios[*index] - middle).abs();
    let farthest = (0..ratios.len()).max_by(|a, b| distance(a).total_cmp(&distance(b)))?;
    if ratios.len() < 3 || distance(&farthest) <= 1e-12 * middle {
        return None;
    }
    let difference = |item: usize| {
        let all: Vec<_> = items.iter().map(|volumes| volumes[item]).collect();
        items[farthest][item] - median(&all)
    };
    // A cylinder is high in ratio because an item is small, and the other way round.
    let high = ratios[farthest] > middle;
    let towards = |item: usize| if high { -difference(item) } else { difference(item) };
    let item = (0..ITEMS.len()).max_by(|a, b| towards(*a).total_cmp(&towards(*b)))?;
    Some(Outlier {
        cylinder: cylinders[farthest].cylinder,
        item: ITEMS[item],
        item_difference: Volume::from_cubic_metres(difference(item)),
        ratio_difference: ratios[farthest] - middle,
    })
}

/// The caution for clearance volumes that are not matched.
pub(crate) fn unmatched_caution(path: &'static str, spread: &CylinderSpread) -> Option<Caution> {
    (spread.volume_spread > MATCHED).then(|| Caution {
        code: "cylinders_unmatched",
        severity: Severity::Note,
        about: About::Answer,
        path: path.into(),
        detail: format!(
            "The clearance volumes differ by {}. Up to {} is usual in a blueprinted engine; the tune must suit the highest ratio.",
            spread.volume_spread.shown(),
            MATCHED.shown()
        )
        .into(),
        source: COMMON_PRACTICE,
    })
}

/// The caution for an equalising change that takes more from a chamber than it holds.
pub(crate) fn impossible_change(path: &'static str, spread: &CylinderSpread) -> Option<Caution> {
    let left =
        |cylinder: &CylinderRatio| cylinder.chamber_volume.cubic_metres() + cylinder.chamber_change.cubic_metres();
    let short = spread.cylinders.iter().find(|cylinder| left(cylinder) < 0.0)?;
    Some(Caution {
        code: "chamber_change_impossible",
        severity: Severity::Caution,
        about: About::Answer,
        path: path.into(),
        detail: format!(
            "The chamber of cylinder {} holds {} and cannot give up {}; equalise by enlarging the others, or at the dish or deck.",
            short.cylinder,
            short.chamber_volume.shown(),
            Volume::from_cubic_metres(-short.chamber_change.cubic_metres()).shown()
        )
        .into(),
        source: "First principles",
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::r#static::tests::sound;
    use super::*;

    fn readings() -> impl Strategy<Value = Vec<CylinderReading>> {
        let one = (40.0..160.0, 0.0..0.05, 0.0..30.0).prop_map(|(chamber, deck, dish)| CylinderReading {
            chamber_volume: Some(Volume::from_cubic_centimetres(chamber)),
            deck_clearance: Some(Length::from_inches(deck)),
            dish_volume: Some(Volume::from_cubic_centimetres(dish)),
        });
        prop::collection::vec(one, 2..12)
    }

    fn changed(readings: &[CylinderReading], by: impl Fn(usize) -> Volume) -> Vec<CylinderReading> {
        let add = |(index, reading): (usize, &CylinderReading)| {
            let chamber = reading.chamber_volume.unwrap_or_default().cubic_metres() + by(index).cubic_metres();
            CylinderReading { chamber_volume: Some(Volume::from_cubic_metres(chamber)), ..reading.clone() }
        };
        readings.iter().enumerate().map(add).collect()
    }

    proptest! {
        #[test]
        fn equalising_leaves_no_spread_and_no_outlier(input in sound(), readings in readings()) {
            let found = cylinder_spread(&input, &readings)?;
            for (change, ratio) in [
                (found.cylinders.iter().map(|cylinder| cylinder.chamber_change).collect::<Vec<_>>(), found.equalised_ratio),
                (found.cylinders.iter().map(|cylinder| cylinder.chamber_enlargement).collect(), found.enlarged_ratio),
            ] {
                let equal = cylinder_spread(&input, &changed(&readings, |index| change[index]))?;
                prop_assert!(equal.ratio_spread.abs() < 1e-9);
                prop_assert!(equal.outlier.is_none());
                prop_assert!((equal.cylinders[0].static_ratio - ratio).abs() < 1e-9);
            }
        }

        #[test]
        fn no_other_common_volume_needs_less_change(input in sound(), readings in readings(), off in -5.0..5.0) {
            let found = cylinder_spread(&input, &readings)?;
            let total = |off: f64| found.cylinders.iter().map(|one| (one.chamber_change.cubic_centimetres() + off).abs()).sum::<f64>();
            prop_assert!(total(0.0) <= total(off) + 1e-9);
        }

        #[test]
        fn one_odd_reading_is_found(input in sound(), which in 0_usize..6, off in 1.0..15.0) {
            let same = CylinderReading { chamber_volume: None, deck_clearance: None, dish_volume: None };
            let mut readings = vec![same; 6];
            let dish = input.dish_volume.cubic_centimetres() + off;
            readings[which].dish_volume = Some(Volume::from_cubic_centimetres(dish));
            if let Ok(found) = cylinder_spread(&input, &readings) {
                let outlier = found.outlier.map(|outlier| (outlier.cylinder, outlier.item));
                prop_assert_eq!(outlier, Some((number(which), Item::Dish)));
            }
        }
    }
}
