//! `/v1/geometry/piston-motion`

use calc_core::error::Error;
use calc_core::geometry::piston_motion as core;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    AccelerationOutput, AngleInput, AngleOutput, EngineSpeedInput, LengthInput, LengthOutput, PartVolumeInput,
    PartVolumeOutput, PistonSpeedOutput, RatioOutput, out,
};

/// Crank, rod and what is wanted of their motion.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PistonMotionRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// The crank's stroke: twice its radius.
    stroke: LengthInput,
    /// Connecting rod length between the centres of its eyes; longer than the stroke.
    rod_length: LengthInput,
    /// Pin offset; positive towards the minor thrust side (the side that the crankpin swings to on the way down), negative
    /// towards the major thrust side; none when absent.
    pin_offset: Option<LengthInput>,
    /// Cylinder bore; with the clearance volume, the points get the cylinder volume.
    bore: Option<LengthInput>,
    /// Volume above the piston at top centre; with the bore, the points get the cylinder volume.
    clearance_volume: Option<PartVolumeInput>,
    /// Engine speed; with it, speeds and accelerations are given.
    engine_speed: Option<EngineSpeedInput>,
    /// Distance below top centre within which the dwell is counted.
    top_centre_distance: Option<LengthInput>,
    /// Crank angles after true top centre, at most 7201; or leave it out and give from, to and step.
    #[schema(max_items = 7201)]
    crank_angles: Option<Vec<AngleInput>>,
    /// First crank angle of a row.
    from: Option<AngleInput>,
    /// Last crank angle of a row, not below the first.
    to: Option<AngleInput>,
    /// Step of a row; at most 7201 points.
    step: Option<AngleInput>,
}

/// The motion and its marks.
#[derive(Debug, Serialize, ToSchema)]
pub struct PistonMotionResponse {
    /// Unit system of the answer.
    units: Units,
    /// Distance between the dead centres; longer than the crank's stroke when the pin is offset.
    actual_stroke: LengthOutput,
    /// Rod length divided by the crank's stroke.
    rod_stroke_ratio: RatioOutput,
    /// Crank position at true top centre, from the crank's upright position in the direction of rotation.
    top_centre_angle: AngleOutput,
    /// Crank position at true bottom centre, from the crank's upright position in the direction of rotation.
    bottom_centre_angle: AngleOutput,
    /// Largest angle between rod and cylinder axis.
    largest_rod_angle: AngleOutput,
    /// Crank angle after true top centre at which the piston goes down fastest.
    peak_piston_speed_angle: AngleOutput,
    /// Crank travel within the wanted distance of top centre, both sides together; only with the distance.
    #[serde(skip_serializing_if = "Option::is_none")]
    top_centre_dwell: Option<AngleOutput>,
    /// Mean piston speed; only with an engine speed, like the two below.
    #[serde(skip_serializing_if = "Option::is_none")]
    mean_piston_speed: Option<PistonSpeedOutput>,
    /// Highest speed on the way down.
    #[serde(skip_serializing_if = "Option::is_none")]
    peak_piston_speed: Option<PistonSpeedOutput>,
    /// Largest acceleration: that at top centre, towards the crank.
    #[serde(skip_serializing_if = "Option::is_none")]
    peak_piston_acceleration: Option<AccelerationOutput>,
    /// One point per crank angle, in the order asked for.
    points: Vec<PistonMotionPoint>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// The piston at one crank angle.
#[derive(Debug, Serialize, ToSchema)]
pub struct PistonMotionPoint {
    /// Crank angle after true top centre.
    crank_angle: AngleOutput,
    /// Distance from top centre.
    position: LengthOutput,
    /// Rod to cylinder axis; positive while the crankpin is on the side that it swings to on the way down.
    rod_angle: AngleOutput,
    /// Positive away from the head; only with an engine speed.
    #[serde(skip_serializing_if = "Option::is_none")]
    velocity: Option<PistonSpeedOutput>,
    /// Positive away from the head; only with an engine speed.
    #[serde(skip_serializing_if = "Option::is_none")]
    acceleration: Option<AccelerationOutput>,
    /// Cylinder volume; only with bore and clearance volume.
    #[serde(skip_serializing_if = "Option::is_none")]
    volume: Option<PartVolumeOutput>,
}

/// The calculation.
pub struct PistonMotion;

impl Calculation for PistonMotion {
    const PATH: &'static str = "/v1/geometry/piston-motion";
    const SUMMARY: &'static str = "Piston position, speed and acceleration over the crank circle";
    const DESCRIPTION: &'static str = "Exact slider-crank with pin offset, at a list of crank angles or at a row of them. Crank \
        angles count from true top centre in the direction of rotation.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id];
    const DEFAULT_FIELD: &'static str = "peak_piston_speed";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/geometry/piston_motion.json");
    type Request = PistonMotionRequest;
    type Response = PistonMotionResponse;

    fn run(request: PistonMotionRequest) -> Result<PistonMotionResponse, Error> {
        let units = request.units;
        let length = |length: Option<LengthInput>| length.map(|length| length.core(units));
        let angle = |angle: AngleInput| angle.core(units);
        let found = core::evaluate(&core::PistonMotionInput {
            stroke: request.stroke.core(units),
            rod_length: request.rod_length.core(units),
            pin_offset: length(request.pin_offset).unwrap_or_default(),
            bore: length(request.bore),
            clearance_volume: request.clearance_volume.map(|volume| volume.core(units)),
            engine_speed: request.engine_speed.map(|speed| speed.core(units)),
            top_centre_distance: length(request.top_centre_distance),
            crank_angles: request.crank_angles.map(|list| list.into_iter().map(angle).collect()),
            from: request.from.map(angle),
            to: request.to.map(angle),
            step: request.step.map(angle),
        })?;
        let point = |point: core::Point| PistonMotionPoint {
            crank_angle: out(point.crank_angle, units),
            position: out(point.position, units),
            rod_angle: out(point.rod_angle, units),
            velocity: point.velocity.map(|velocity| out(velocity, units)),
            acceleration: point.acceleration.map(|acceleration| out(acceleration, units)),
            volume: point.volume.map(|volume| out(volume, units)),
        };
        Ok(PistonMotionResponse {
            units,
            actual_stroke: out(found.actual_stroke, units),
            rod_stroke_ratio: RatioOutput(found.rod_stroke_ratio),
            top_centre_angle: out(found.top_centre_angle, units),
            bottom_centre_angle: out(found.bottom_centre_angle, units),
            largest_rod_angle: out(found.largest_rod_angle, units),
            peak_piston_speed_angle: out(found.peak_speed_angle, units),
            top_centre_dwell: found.top_centre_dwell.map(|dwell| out(dwell, units)),
            mean_piston_speed: found.running.map(|running| out(running.mean_speed, units)),
            peak_piston_speed: found.running.map(|running| out(running.peak_speed, units)),
            peak_piston_acceleration: found.running.map(|running| out(running.peak_acceleration, units)),
            points: found.points.into_iter().map(point).collect(),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}
