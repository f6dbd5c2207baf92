//! Cylinders as gauged: wear, the smallest size that cleans them up, and the wall that is left.

use validator::Validate;

use crate::build::evaluate::Missing;
use crate::caution::Caution;
use crate::error::Error;
use crate::limit;
use crate::method::Method;
use crate::units::{Angle, Length, Volume};

use super::displacement::cylinder_volume;

mod cautions;
mod rules;
#[cfg(test)]
mod tests;
mod walls;

use cautions::cautions;
pub use rules::{MOST_READINGS, MOST_WALLS};
use rules::{
    clearance_is_some, count_of_cylinders, engine_has_them_all, equal_counts, listed_sizes, planned_covers,
    planned_leaves_walls, readings_near_size, thrust_side_known,
};
use walls::{core_shift, walls_left};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "bore-survey",
    title: "Smallest finished bore that cleans up, and the wall that is left",
    equation: "out-of-round = largest |thrust - crank axis| at one depth; taper = largest difference over depth in one direction; \
         smallest finished size = largest reading + 2 |e| + honing allowance, e offset of the new centre from the present one. \
         Wall left at clock angle a = t - (e.u + sqrt(R^2 - |e|^2 + (e.u)^2) - D/2); t wall as measured, u direction of the \
         angle, R half the chosen size, D smallest reading of the cylinder.",
    valid_for: "Readings are diameters, taken to lie evenly about the present centre; between the two directions the bore is \
         taken to be inside the circle of its largest reading. Bored on the present centre unless an offset is given. The wall \
         is counted from the smallest reading, so that what is left is not overstated by wear.",
    sources: &[
        "First principles (a circle that holds a circle; a ray from inside a circle)",
        "common practice, no source: bores are gauged at several depths along and across the crank",
    ],
};

/// The cylinders as gauged and what is wanted of them.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "count_of_cylinders", skip_on_field_errors = false))]
#[validate(schema(function = "equal_counts", skip_on_field_errors = false))]
#[validate(schema(function = "readings_near_size", skip_on_field_errors = false))]
#[validate(schema(function = "listed_sizes", skip_on_field_errors = false))]
#[validate(schema(function = "thrust_side_known", skip_on_field_errors = false))]
#[validate(schema(function = "engine_has_them_all", skip_on_field_errors = false))]
#[validate(schema(function = "clearance_is_some", skip_on_field_errors = false))]
pub struct BoreSurveyInput {
    /// One entry each.
    #[validate(nested)]
    pub cylinders: Vec<CylinderSurvey>,
    /// The size that the cylinders were last finished to.
    #[validate(custom(function = "limit::bore"))]
    pub present_size: Length,
    /// What oversizes count from; the present size when absent.
    #[validate(custom(function = "limit::bore"))]
    pub standard_size: Option<Length>,
    /// Oversizes that pistons are to be had in.
    pub oversizes: Vec<Length>,
    /// A finished size that is already decided.
    #[validate(custom(function = "limit::bore"))]
    pub planned_size: Option<Length>,
    /// Left on the diameter for the hone.
    #[validate(custom(function = "limit::cleanup_allowance"))]
    pub honing_allowance: Length,
    /// Where the major thrust side is; needed with wall readings.
    pub major_thrust: Option<ThrustSide>,
    /// The caller's own limit for what must be left of a wall.
    #[validate(custom(function = "limit::wall"))]
    pub least_wall: Option<Length>,
    /// Piston stroke, for the displacement.
    #[validate(custom(function = "limit::stroke"))]
    pub stroke: Option<Length>,
    /// Volume above the piston at top centre, for the ratio.
    #[validate(custom(function = "limit::clearance_volume"))]
    pub clearance_volume: Option<Volume>,
    /// How many cylinders the engine has; as many as surveyed when absent.
    pub engine_cylinders: Option<u32>,
}

/// Side of a cylinder that the piston leans on in the power stroke, seen from the deck with the engine's front at 12 o'clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ThrustSide {
    /// 90 degrees: engines that turn clockwise seen from their front.
    ThreeOClock,
    /// 270 degrees: engines that turn the other way.
    NineOClock,
}

/// One cylinder.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct CylinderSurvey {
    /// What the gauge showed.
    #[validate(nested)]
    pub readings: Vec<BoreReading>,
    /// What the ultrasonic gauge showed.
    #[validate(nested)]
    pub walls: Vec<WallReading>,
    /// New centre off the present one, towards the major thrust side.
    #[validate(custom(function = "limit::bore_offset"))]
    pub offset_thrust: Length,
    /// New centre off the present one, towards the engine's front.
    #[validate(custom(function = "limit::bore_offset"))]
    pub offset_front: Length,
}

/// Two diameters at one depth.
#[derive(Debug, Clone, Copy, PartialEq, Validate)]
pub struct BoreReading {
    /// Below the deck.
    #[validate(custom(function = "limit::depth"))]
    pub depth: Length,
    /// Across the crank.
    #[validate(custom(function = "limit::bore"))]
    pub thrust: Length,
    /// Along the crank.
    #[validate(custom(function = "limit::bore"))]
    pub crank_axis: Length,
}

/// Wall at one place.
#[derive(Debug, Clone, Copy, PartialEq, Validate)]
pub struct WallReading {
    /// Clockwise from the engine's front, seen from the deck.
    #[validate(custom(function = "limit::clock_angle"))]
    pub clock_angle: Angle,
    /// Wall as measured.
    #[validate(custom(function = "limit::wall"))]
    pub thickness: Length,
}

/// Side of a cylinder.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The piston leans on it in the power stroke.
    MajorThrust,
    /// The opposite one.
    MinorThrust,
    /// Towards the engine's front.
    Front,
    /// Towards the engine's rear.
    Rear,
}

/// How the size was chosen for which walls and displacement are given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChosenBy {
    /// It is the planned size.
    Plan,
    /// It is the smallest listed oversize that cleans up all.
    ListedOversize,
    /// It is the smallest size that cleans up all, whether or not pistons are to be had.
    CleanUp,
}

/// The block as it is and as it would be.
#[derive(Debug, Clone, PartialEq)]
pub struct BoreSurvey {
    /// In the order given.
    pub cylinders: Vec<CylinderFound>,
    /// The smallest size that cleans up all.
    pub smallest_common_size: Length,
    /// The smallest listed oversize that does.
    pub common_oversize: Option<Length>,
    /// The size for which the rest is given.
    pub chosen_size: Length,
    /// How it was chosen.
    pub chosen_by: ChosenBy,
    /// Chosen less present size.
    pub growth: Length,
    /// Displacement before and after, with a stroke.
    pub displacement: Option<[Volume; 2]>,
    /// Static ratio before and after, all else unchanged; with stroke and clearance volume.
    pub static_ratio: Option<[f64; 2]>,
    /// Results that need an input which is not there.
    pub missing: Vec<Missing>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// One cylinder as it is and as it would be.
#[derive(Debug, Clone, PartialEq)]
pub struct CylinderFound {
    /// Largest difference over depth in one direction; none from one depth.
    pub taper: Option<Length>,
    /// Largest difference between the directions at one depth.
    pub out_of_round: Length,
    /// Largest diameter.
    pub largest_reading: Length,
    /// Smallest diameter.
    pub smallest_reading: Length,
    /// Smallest finished size that cleans up on the centre given.
    pub smallest_finished_size: Length,
    /// Smallest listed oversize that does.
    pub listed_oversize: Option<Length>,
    /// Walls for the chosen size, in the order given.
    pub walls: Vec<WallLeft>,
    /// Thinnest of them.
    pub least_wall_left: Option<Length>,
    /// Half of what the wall is thicker on the major thrust than on the minor thrust side.
    pub core_shift_thrust: Option<Length>,
    /// Half of what the wall is thicker in front than in the rear.
    pub core_shift_front: Option<Length>,
}

/// Wall at one place for the chosen size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallLeft {
    /// Which side that is.
    pub side: Side,
    /// What is left; negative when the bore breaks through.
    pub left: Length,
}

impl CylinderSurvey {
    fn diameters(&self) -> impl Iterator<Item = f64> + Clone {
        self.readings.iter().flat_map(|reading| [reading.thrust.metres(), reading.crank_axis.metres()])
    }

    fn largest(&self) -> f64 {
        self.diameters().fold(f64::MIN, f64::max)
    }

    fn smallest(&self) -> f64 {
        self.diameters().fold(f64::MAX, f64::min)
    }

    /// The smallest circle about the new centre that leaves nothing of the present bore, allowance apart.
    fn covered(&self) -> f64 {
        self.largest() + 2.0 * self.offset_thrust.metres().hypot(self.offset_front.metres())
    }
}

/// Wear, clean-up sizes and walls of all cylinders, and the one size that cleans up the block.
///
/// **Equation** smallest finished size = largest reading + 2 |e| + honing allowance; wall left = t - (e.u + sqrt(R^2 - |e|^2 +
/// (e.u)^2) - D/2)
///
/// **Shape** 1 to 48 cylinders with equally many readings, any number of wall readings.
///
/// **Units** Lengths, angles and volumes, any.
///
/// **Valid for** Readings that lie evenly about the present centre; the offset given, or none.
///
/// **Errors** [`Error::Invalid`] when a field is out of range, the cylinders have different numbers of readings, wall readings
/// lack the thrust side, a planned size does not cover a cylinder or takes more than a measured wall.
///
/// **Source** First principles.
pub fn evaluate(input: &BoreSurveyInput) -> Result<BoreSurvey, Error> {
    input.validate()?;
    let needed = |cylinder: &CylinderSurvey| cylinder.covered() + input.honing_allowance.metres();
    let common = input.cylinders.iter().map(needed).fold(f64::MIN, f64::max);
    let common_oversize = smallest_oversize(input, common);
    let (chosen, chosen_by) = match (input.planned_size, common_oversize) {
        (Some(planned), _) => (planned.metres(), ChosenBy::Plan),
        (None, Some(oversize)) => (standard(input) + oversize.metres(), ChosenBy::ListedOversize),
        (None, None) => (common, ChosenBy::CleanUp),
    };
    if chosen_by == ChosenBy::Plan {
        planned_covers(input, chosen)?;
    }
    let cylinders: Vec<_> = input.cylinders.iter().map(|cylinder| found(input, cylinder, chosen)).collect();
    if chosen_by == ChosenBy::Plan {
        planned_leaves_walls(input, &cylinders)?;
    }
    let sizes = [input.present_size, Length::from_metres(chosen)];
    let survey = BoreSurvey {
        smallest_common_size: Length::from_metres(common),
        common_oversize,
        chosen_size: Length::from_metres(chosen),
        chosen_by,
        growth: Length::from_metres(chosen - input.present_size.metres()),
        displacement: input.stroke.map(|stroke| sizes.map(|size| displacement(input, size, stroke))),
        static_ratio: input.stroke.zip(input.clearance_volume).map(|(stroke, clearance)| {
            sizes.map(|size| 1.0 + cylinder_volume(size, stroke).cubic_metres() / clearance.cubic_metres())
        }),
        missing: missing(input),
        cautions: cautions(input, &cylinders, chosen_by, Length::from_metres(chosen)),
        cylinders,
    };
    Ok(survey)
}

fn standard(input: &BoreSurveyInput) -> f64 {
    input.standard_size.unwrap_or(input.present_size).metres()
}

/// The smallest listed oversize that reaches a size, to within a nanometre.
fn smallest_oversize(input: &BoreSurveyInput, size: f64) -> Option<Length> {
    const ROUNDING: f64 = 1e-9;
    let reaches = |oversize: &Length| standard(input) + oversize.metres() >= size - ROUNDING;
    let listed = input.oversizes.iter().copied().filter(reaches);
    listed.min_by(|one, other| one.metres().total_cmp(&other.metres()))
}

fn found(input: &BoreSurveyInput, cylinder: &CylinderSurvey, chosen: f64) -> CylinderFound {
    let needed = cylinder.covered() + input.honing_allowance.metres();
    let spread = |direction: fn(&BoreReading) -> Length| {
        let sizes = cylinder.readings.iter().map(|reading| direction(reading).metres());
        sizes.clone().fold(f64::MIN, f64::max) - sizes.fold(f64::MAX, f64::min)
    };
    let taper = spread(|reading| reading.thrust).max(spread(|reading| reading.crank_axis));
    let unround = |reading: &BoreReading| (reading.thrust.metres() - reading.crank_axis.metres()).abs();
    let walls = input.major_thrust.map_or_else(Vec::new, |thrust| walls_left(cylinder, thrust, chosen));
    CylinderFound {
        taper: (cylinder.readings.len() > 1).then(|| Length::from_metres(taper)),
        out_of_round: Length::from_metres(cylinder.readings.iter().map(unround).fold(0.0, f64::max)),
        largest_reading: Length::from_metres(cylinder.largest()),
        smallest_reading: Length::from_metres(cylinder.smallest()),
        smallest_finished_size: Length::from_metres(needed),
        listed_oversize: smallest_oversize(input, needed),
        least_wall_left: walls
            .iter()
            .map(|wall| wall.left)
            .min_by(|one, other| one.metres().total_cmp(&other.metres())),
        core_shift_thrust: core_shift(cylinder, &walls, Side::MajorThrust, Side::MinorThrust),
        core_shift_front: core_shift(cylinder, &walls, Side::Front, Side::Rear),
        walls,
    }
}

fn displacement(input: &BoreSurveyInput, size: Length, stroke: Length) -> Volume {
    let count = input.engine_cylinders.map_or(input.cylinders.len() as f64, f64::from);
    Volume::from_cubic_metres(count * cylinder_volume(size, stroke).cubic_metres())
}

fn missing(input: &BoreSurveyInput) -> Vec<Missing> {
    let mut missing = Vec::new();
    let mut add = |result, needs, absent: bool| missing.extend(absent.then_some(Missing { result, needs }));
    add("displacement_after", "stroke", input.stroke.is_none());
    add("static_ratio_after", "stroke", input.stroke.is_none());
    add("static_ratio_after", "clearance_volume", input.clearance_volume.is_none());
    add("cylinders/0/walls", "cylinders/0/walls", input.cylinders.iter().all(|cylinder| cylinder.walls.is_empty()));
    add("common_oversize", "oversizes", input.oversizes.is_empty());
    missing
}
