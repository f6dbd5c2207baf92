//! The rules that tie the fields of a bore survey together.

use validator::ValidationError;

use super::{BoreSurveyInput, CylinderFound, CylinderSurvey};
use crate::error::{Error, broken_rule, contradiction};
use crate::limit::{self, MOST_CYLINDERS};
use crate::units::{Length, Quantity, Volume};

/// Most depths at which one cylinder is gauged.
pub const MOST_READINGS: usize = 50;
/// Most wall readings of one cylinder.
pub const MOST_WALLS: usize = 100;

/// A reading farther than this share from the present size belongs to another engine, or to another unit.
const FAR_FROM_SIZE: f64 = 0.1;

pub(super) fn count_of_cylinders(input: &BoreSurveyInput) -> Result<(), ValidationError> {
    let count = input.cylinders.len();
    if (1..=MOST_CYLINDERS as usize).contains(&count) {
        return Ok(());
    }
    let detail = format!("must hold 1 to {MOST_CYLINDERS} cylinders; got {count}.");
    Err(broken_rule("cylinders", "wrong_count", detail))
}

/// Every cylinder has as many readings as the first, and not too many.
pub(super) fn equal_counts(input: &BoreSurveyInput) -> Result<(), ValidationError> {
    let wanted = input.cylinders.first().map_or(0, |cylinder| cylinder.readings.len());
    let wrong = |cylinder: &CylinderSurvey| {
        let count = cylinder.readings.len();
        !(1..=MOST_READINGS).contains(&count) || count != wanted
    };
    if let Some(index) = input.cylinders.iter().position(wrong) {
        let count = input.cylinders[index].readings.len();
        let detail = if (1..=MOST_READINGS).contains(&count) {
            format!("has {count} entries and the first cylinder has {wanted}; gauge all cylinders at the same depths.")
        } else {
            format!("must hold 1 to {MOST_READINGS} readings; got {count}.")
        };
        return Err(broken_rule(&format!("cylinders/{index}/readings"), "wrong_count", detail));
    }
    match input.cylinders.iter().position(|cylinder| cylinder.walls.len() > MOST_WALLS) {
        Some(index) => Err(broken_rule(
            &format!("cylinders/{index}/walls"),
            "wrong_count",
            format!("must hold at most {MOST_WALLS} readings; got {}.", input.cylinders[index].walls.len()),
        )),
        None => Ok(()),
    }
}

/// A reading that is far from the size said to be there is a slip of the keyboard or of the unit.
pub(super) fn readings_near_size(input: &BoreSurveyInput) -> Result<(), ValidationError> {
    let size = input.present_size.metres();
    let far = |reading: Length| ((reading.metres() - size) / size).abs() > FAR_FROM_SIZE;
    for (index, cylinder) in input.cylinders.iter().enumerate() {
        for (depth, reading) in cylinder.readings.iter().enumerate() {
            for (name, found) in [("thrust", reading.thrust), ("crank_axis", reading.crank_axis)] {
                // What is out of range altogether has its own fault.
                if far(found) && [found, input.present_size].iter().all(|size| limit::bore(size).is_ok()) {
                    let detail = format!(
                        "of {} is more than {} percent from the present size, {}: is it the right engine and unit?",
                        found.shown(),
                        100.0 * FAR_FROM_SIZE,
                        input.present_size.shown()
                    );
                    let path = format!("cylinders/{index}/readings/{depth}/{name}");
                    return Err(broken_rule(&path, "contradiction", detail));
                }
            }
        }
    }
    Ok(())
}

/// Oversizes are positive steps, not sizes.
pub(super) fn listed_sizes(input: &BoreSurveyInput) -> Result<(), ValidationError> {
    let refused = input.oversizes.iter().enumerate().find_map(|(index, oversize)| {
        let message = limit::oversize(oversize).err()?.message.unwrap_or_default();
        Some(broken_rule(&format!("oversizes/{index}"), "out_of_range", message.into_owned()))
    });
    refused.map_or(Ok(()), Err)
}

pub(super) fn thrust_side_known(input: &BoreSurveyInput) -> Result<(), ValidationError> {
    if input.major_thrust.is_some() || input.cylinders.iter().all(|cylinder| cylinder.walls.is_empty()) {
        return Ok(());
    }
    let detail = "is missing: wall readings need the side of the major thrust, seen from the deck with the engine's front at 12 \
         o'clock (three_o_clock when the engine turns clockwise seen from its front).";
    Err(broken_rule("major_thrust", "missing", detail.to_owned()))
}

pub(super) fn engine_has_them_all(input: &BoreSurveyInput) -> Result<(), ValidationError> {
    let surveyed = input.cylinders.len();
    match input.engine_cylinders {
        Some(count) if count > MOST_CYLINDERS || (count as usize) < surveyed => {
            let detail = format!("must be from the {surveyed} surveyed to {MOST_CYLINDERS}; got {count}.");
            Err(broken_rule("engine_cylinders", "out_of_range", detail))
        }
        _ => Ok(()),
    }
}

pub(super) fn clearance_is_some(input: &BoreSurveyInput) -> Result<(), ValidationError> {
    if input.clearance_volume != Some(Volume::default()) {
        return Ok(());
    }
    let detail = "must be more than nothing: a ratio needs a volume above the piston.";
    Err(broken_rule("clearance_volume", "out_of_range", detail.to_owned()))
}

/// A planned size must cover what the gauge found.
pub(super) fn planned_covers(input: &BoreSurveyInput, planned: f64) -> Result<(), Error> {
    let short = |cylinder: &CylinderSurvey| planned < cylinder.covered();
    let Some(index) = input.cylinders.iter().position(short) else { return Ok(()) };
    let cylinder = &input.cylinders[index];
    let detail = format!(
        "of {} does not cover cylinders/{index}: its largest reading is {}, so on the centre given it needs at least {}, honing \
         apart.",
        Length::from_metres(planned).shown(),
        Length::from_metres(cylinder.largest()).shown(),
        Length::from_metres(cylinder.covered()).shown()
    );
    Err(contradiction("planned_size", detail))
}

/// And must not take more than a measured wall.
pub(super) fn planned_leaves_walls(input: &BoreSurveyInput, cylinders: &[CylinderFound]) -> Result<(), Error> {
    let gone = |cylinder: &CylinderFound| cylinder.walls.iter().position(|wall| wall.left <= Length::default());
    let through = cylinders.iter().enumerate().find_map(|(index, cylinder)| Some((index, gone(cylinder)?)));
    let Some((index, place)) = through else { return Ok(()) };
    let thickness = input.cylinders[index].walls[place].thickness;
    let cut = Length::from_metres(thickness.metres() - cylinders[index].walls[place].left.metres());
    let detail = format!(
        "is {}, and the planned size takes {} off there: the bore would break through. Plan a smaller size, another centre or a \
         sleeve.",
        thickness.shown(),
        cut.shown()
    );
    Err(contradiction(&format!("cylinders/{index}/walls/{place}/thickness"), detail))
}
