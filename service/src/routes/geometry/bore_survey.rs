//! `/v1/geometry/bore-survey`

use calc_core::error::Error;
use calc_core::geometry::{bore_survey as core, displacement};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::routes::builds::evaluate::{MissingResult, missing_result};
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    AngleInput, AngleOutput, DisplacementOutput, LengthInput, LengthOutput, PartVolumeInput, RatioOutput, out,
};
use crate::wire::{ShortText, Units};

/// The cylinders as gauged and what is wanted of them.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BoreSurveyRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// One entry each, 1 to 48; all gauged at equally many depths.
    #[schema(min_items = 1, max_items = 48)]
    cylinders: Vec<BoreSurveyCylinder>,
    /// The size that the cylinders were last finished to.
    present_size: LengthInput,
    /// The size that oversizes count from; the present size when absent.
    standard_size: Option<LengthInput>,
    /// Oversizes that pistons are to be had in, planned or from a catalogue, in any order.
    #[schema(max_items = 100)]
    oversizes: Option<Vec<LengthInput>>,
    /// A finished size that is already decided; otherwise the smallest oversize that cleans up all is taken.
    planned_size: Option<LengthInput>,
    /// Left on the diameter for the hone after boring; none when absent.
    honing_allowance: Option<LengthInput>,
    /// Where the major thrust side is, seen from the deck with the engine's front at 12 o'clock; needed with wall readings.
    major_thrust: Option<BoreSurveyThrust>,
    /// Your own limit for what must be left of a wall; without it walls are reported, not judged.
    least_wall: Option<LengthInput>,
    /// Piston stroke, for the displacement.
    stroke: Option<LengthInput>,
    /// All the volume above the piston at top centre, for the change of the static ratio.
    clearance_volume: Option<PartVolumeInput>,
    /// How many cylinders the engine has; as many as surveyed when absent.
    engine_cylinders: Option<u32>,
}

/// Side that the piston leans on in the power stroke.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum BoreSurveyThrust {
    /// Engines that turn clockwise seen from their front.
    ThreeOClock,
    /// Engines that turn the other way.
    NineOClock,
}

/// One cylinder.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct BoreSurveyCylinder {
    /// What it is called, given back.
    name: Option<ShortText>,
    /// What the bore gauge showed, 1 to 50 depths.
    #[schema(min_items = 1, max_items = 50)]
    readings: Vec<BoreSurveyReading>,
    /// What the ultrasonic wall gauge showed, at most 100 places.
    #[schema(max_items = 100)]
    walls: Option<Vec<BoreSurveyWall>>,
    /// New centre off the present one, towards the major thrust side; on the present centre when absent.
    offset_thrust: Option<LengthInput>,
    /// New centre off the present one, towards the engine's front; on the present centre when absent.
    offset_front: Option<LengthInput>,
}

/// Two diameters at one depth.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct BoreSurveyReading {
    /// Below the deck.
    depth: LengthInput,
    /// Diameter in the thrust direction, across the crank.
    thrust: LengthInput,
    /// Diameter along the crank axis.
    crank_axis: LengthInput,
}

/// Wall at one place.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct BoreSurveyWall {
    /// Clockwise from the engine's front, seen from the deck: 30 degrees for each hour of a clock position.
    clock_angle: AngleInput,
    /// Wall as measured.
    thickness: LengthInput,
}

/// The block as it is and as it would be.
#[derive(Debug, Serialize, ToSchema)]
pub struct BoreSurveyResponse {
    /// Unit system of the answer.
    units: Units,
    /// In the order given.
    cylinders: Vec<BoreSurveyCylinderResult>,
    /// The smallest finished size that cleans up all cylinders.
    smallest_common_size: LengthOutput,
    /// The smallest listed oversize that cleans up all; absent when none does.
    #[serde(skip_serializing_if = "Option::is_none")]
    common_oversize: Option<LengthOutput>,
    /// The finished size for which walls, displacement and ratio are given.
    chosen_size: LengthOutput,
    /// How it was chosen.
    chosen_by: BoreSurveyChoice,
    /// Chosen size less present size: what is taken out of the diameter.
    growth: LengthOutput,
    /// Displacement of the present size; only with a stroke.
    #[serde(skip_serializing_if = "Option::is_none")]
    displacement_before: Option<DisplacementOutput>,
    /// Displacement of the chosen size; only with a stroke.
    #[serde(skip_serializing_if = "Option::is_none")]
    displacement_after: Option<DisplacementOutput>,
    /// Static ratio of the present size; only with stroke and clearance volume.
    #[serde(skip_serializing_if = "Option::is_none")]
    static_ratio_before: Option<RatioOutput>,
    /// Static ratio of the chosen size, clearance volume and all else unchanged.
    #[serde(skip_serializing_if = "Option::is_none")]
    static_ratio_after: Option<RatioOutput>,
    /// Results that need an input which is not in the request.
    missing: Vec<MissingResult>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// How the size was chosen.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BoreSurveyChoice {
    /// It is the planned size.
    Plan,
    /// It is the smallest listed oversize that cleans up all.
    ListedOversize,
    /// It is the smallest size that cleans up all, whether or not pistons are to be had.
    CleanUp,
}

/// One cylinder as it is and as it would be.
#[derive(Debug, Serialize, ToSchema)]
pub struct BoreSurveyCylinderResult {
    /// The name given.
    #[serde(skip_serializing_if = "Option::is_none")]
    name: Option<ShortText>,
    /// Largest difference over depth in one direction; absent when gauged at one depth.
    #[serde(skip_serializing_if = "Option::is_none")]
    taper: Option<LengthOutput>,
    /// Largest difference between the two directions at one depth.
    out_of_round: LengthOutput,
    /// Largest diameter.
    largest_reading: LengthOutput,
    /// Smallest diameter.
    smallest_reading: LengthOutput,
    /// Smallest finished size that cleans up on the centre given, honing allowance included.
    smallest_finished_size: LengthOutput,
    /// Smallest listed oversize that does; absent when none does.
    #[serde(skip_serializing_if = "Option::is_none")]
    listed_oversize: Option<LengthOutput>,
    /// Walls for the chosen size and the centre given, in the order given.
    walls: Vec<BoreSurveyWallLeft>,
    /// Thinnest wall that is left; only with wall readings.
    #[serde(skip_serializing_if = "Option::is_none")]
    least_wall_left: Option<LengthOutput>,
    /// Core shift: half of what the measured wall is thicker on the major thrust than on the minor thrust side.
    #[serde(skip_serializing_if = "Option::is_none")]
    core_shift_thrust: Option<LengthOutput>,
    /// Core shift along the crank: half of what the measured wall is thicker in front than in the rear.
    #[serde(skip_serializing_if = "Option::is_none")]
    core_shift_front: Option<LengthOutput>,
}

/// Wall at one place for the chosen size.
#[derive(Debug, Serialize, ToSchema)]
pub struct BoreSurveyWallLeft {
    /// Where it was measured.
    clock_angle: AngleOutput,
    /// Which side that is.
    side: BoreSurveySide,
    /// What is left of it; negative when the bore breaks through.
    left: LengthOutput,
}

/// Side of a cylinder.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BoreSurveySide {
    /// The piston leans on it in the power stroke.
    MajorThrust,
    /// Opposite the major thrust side.
    MinorThrust,
    /// Towards the engine's front.
    Front,
    /// Towards the engine's rear.
    Rear,
}

/// The calculation.
pub struct BoreSurvey;

impl Calculation for BoreSurvey {
    const PATH: &'static str = "/v1/geometry/bore-survey";
    const SUMMARY: &'static str = "Cylinders as gauged: wear, the size that cleans them up, and the wall that is left";
    const DESCRIPTION: &'static str = "Gauge readings at several depths in thrust and crank-axis direction, and wall readings by \
        clock position. Gives taper, out-of-round, the smallest finished size of each cylinder and of the block, the listed \
        oversize that reaches it, walls left, displacement and ratio. Bored on the present centre unless an offset is given; the \
        present bore is taken to lie inside the circle of its largest reading.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id, displacement::METHOD.id];
    const DEFAULT_FIELD: &'static str = "smallest_common_size";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/geometry/bore_survey.json");
    const HAS_QUERY: bool = false;
    type Request = BoreSurveyRequest;
    type Response = BoreSurveyResponse;

    fn run(request: BoreSurveyRequest) -> Result<BoreSurveyResponse, Error> {
        let units = request.units;
        let input = request.core();
        let found = core::evaluate(&input)?;
        let names = request.cylinders.into_iter().map(|cylinder| cylinder.name);
        let cylinders = names.zip(&input.cylinders).zip(found.cylinders);
        let displacement = |place: usize| found.displacement.map(|both| out(both[place], units));
        let ratio = |place: usize| found.static_ratio.map(|both| RatioOutput(both[place]));
        Ok(BoreSurveyResponse {
            units,
            cylinders: cylinders.map(|((name, given), found)| cylinder_result(name, given, found, units)).collect(),
            smallest_common_size: out(found.smallest_common_size, units),
            common_oversize: found.common_oversize.map(|oversize| out(oversize, units)),
            chosen_size: out(found.chosen_size, units),
            chosen_by: match found.chosen_by {
                core::ChosenBy::Plan => BoreSurveyChoice::Plan,
                core::ChosenBy::ListedOversize => BoreSurveyChoice::ListedOversize,
                core::ChosenBy::CleanUp => BoreSurveyChoice::CleanUp,
            },
            growth: out(found.growth, units),
            displacement_before: displacement(0),
            displacement_after: displacement(1),
            static_ratio_before: ratio(0),
            static_ratio_after: ratio(1),
            missing: found.missing.into_iter().map(missing_result).collect(),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}

impl BoreSurveyRequest {
    fn core(&self) -> core::BoreSurveyInput {
        let units = self.units;
        let length = |length: Option<LengthInput>| length.map(|length| length.core(units));
        core::BoreSurveyInput {
            cylinders: self.cylinders.iter().map(|cylinder| cylinder.core(units)).collect(),
            present_size: self.present_size.core(units),
            standard_size: length(self.standard_size),
            oversizes: self.oversizes.iter().flatten().map(|oversize| oversize.core(units)).collect(),
            planned_size: length(self.planned_size),
            honing_allowance: length(self.honing_allowance).unwrap_or_default(),
            major_thrust: self.major_thrust.map(|side| match side {
                BoreSurveyThrust::ThreeOClock => core::ThrustSide::ThreeOClock,
                BoreSurveyThrust::NineOClock => core::ThrustSide::NineOClock,
            }),
            least_wall: length(self.least_wall),
            stroke: length(self.stroke),
            clearance_volume: self.clearance_volume.map(|volume| volume.core(units)),
            engine_cylinders: self.engine_cylinders,
        }
    }
}

impl BoreSurveyCylinder {
    fn core(&self, units: Units) -> core::CylinderSurvey {
        let reading = |reading: &BoreSurveyReading| core::BoreReading {
            depth: reading.depth.core(units),
            thrust: reading.thrust.core(units),
            crank_axis: reading.crank_axis.core(units),
        };
        let wall = |wall: &BoreSurveyWall| core::WallReading {
            clock_angle: wall.clock_angle.core(units),
            thickness: wall.thickness.core(units),
        };
        core::CylinderSurvey {
            readings: self.readings.iter().map(reading).collect(),
            walls: self.walls.iter().flatten().map(wall).collect(),
            offset_thrust: self.offset_thrust.map(|offset| offset.core(units)).unwrap_or_default(),
            offset_front: self.offset_front.map(|offset| offset.core(units)).unwrap_or_default(),
        }
    }
}

fn cylinder_result(
    name: Option<ShortText>,
    given: &core::CylinderSurvey,
    found: core::CylinderFound,
    units: Units,
) -> BoreSurveyCylinderResult {
    let wall = |(given, found): (&core::WallReading, core::WallLeft)| BoreSurveyWallLeft {
        clock_angle: out(given.clock_angle, units),
        side: match found.side {
            core::Side::MajorThrust => BoreSurveySide::MajorThrust,
            core::Side::MinorThrust => BoreSurveySide::MinorThrust,
            core::Side::Front => BoreSurveySide::Front,
            core::Side::Rear => BoreSurveySide::Rear,
        },
        left: out(found.left, units),
    };
    BoreSurveyCylinderResult {
        name,
        taper: found.taper.map(|taper| out(taper, units)),
        out_of_round: out(found.out_of_round, units),
        largest_reading: out(found.largest_reading, units),
        smallest_reading: out(found.smallest_reading, units),
        smallest_finished_size: out(found.smallest_finished_size, units),
        listed_oversize: found.listed_oversize.map(|oversize| out(oversize, units)),
        walls: given.walls.iter().zip(found.walls).map(wall).collect(),
        least_wall_left: found.least_wall_left.map(|left| out(left, units)),
        core_shift_thrust: found.core_shift_thrust.map(|shift| out(shift, units)),
        core_shift_front: found.core_shift_front.map(|shift| out(shift, units)),
    }
}
