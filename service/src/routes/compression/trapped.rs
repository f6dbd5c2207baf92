//! `/v1/compression/trapped`

use calc_core::compression::standard_atmosphere;
use calc_core::compression::trapped as core;
use calc_core::error::Error;
use calc_core::geometry::piston_motion;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    AltitudeInput, AngleInput, AngleOutput, DensityOutput, LengthInput, LengthOutput, PartVolumeInput,
    PartVolumeOutput, PressureOutput, RatioInput, RatioOutput, TemperatureDifferenceInput, TemperatureInput,
    TemperatureOutput, out,
};

/// One cylinder, its intake closing (or the trapped ratio that is wanted), and the air around, when it matters.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TrappedRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// Cylinder bore.
    bore: LengthInput,
    /// The crank's stroke: twice its radius.
    stroke: LengthInput,
    /// Connecting rod length between the centres of its eyes; longer than the stroke.
    rod_length: LengthInput,
    /// Pin offset, positive towards the minor thrust side; none when absent.
    pin_offset: Option<LengthInput>,
    /// Volume above the piston at top centre; or give the static ratio.
    clearance_volume: Option<PartVolumeInput>,
    /// Static compression ratio, instead of the clearance volume; 1.01 to 40.
    static_ratio: Option<RatioInput>,
    /// Intake closing in degrees after bottom centre (180 degrees after true top centre), 0 to 150; or give the wanted ratio.
    intake_closes_abdc: Option<AngleInput>,
    /// Trapped ratio wanted of the seated valve, instead of the closing: the closing is then computed.
    wanted_ratio: Option<RatioInput>,
    /// Valve lift at which the closing is stated, often 0.050 in or 1 mm; the seat when absent.
    at_lift: Option<LengthInput>,
    /// How many degrees later than at that lift the valve seats, from the camshaft's own card; needs the lift.
    seat_difference: Option<AngleInput>,
    /// Geopotential altitude above mean sea level; with it, the trapped air is given.
    altitude: Option<AltitudeInput>,
    /// Temperature of the intake air; the standard atmosphere's at that altitude when absent.
    intake_temperature: Option<TemperatureInput>,
    /// How much warmer the charge is at closing than the intake air (port, walls, residual gas); none when absent.
    charge_heating: Option<TemperatureDifferenceInput>,
}

/// What is trapped, and when.
#[derive(Debug, Serialize, ToSchema)]
pub struct TrappedResponse {
    /// Unit system of the answer.
    units: Units,
    /// Trapped (dynamic) compression ratio of the seated valve.
    trapped_ratio: RatioOutput,
    /// Cylinder volume when the valve seats.
    trapped_volume: PartVolumeOutput,
    /// Travel of the piston from top centre when the valve seats: the stroke that compresses.
    piston_position: LengthOutput,
    /// Crank angle after true top centre at which the valve seats.
    crank_angle: AngleOutput,
    /// Closing at the stated lift in degrees after bottom centre, given or computed.
    stated_closing_abdc: AngleOutput,
    /// Closing at the seat in degrees after bottom centre.
    seat_closing_abdc: AngleOutput,
    /// Ratio that the stated closing alone would give; only with a seat difference.
    #[serde(skip_serializing_if = "Option::is_none")]
    ratio_at_stated_closing: Option<RatioOutput>,
    /// Static compression ratio, over the distance that the piston really travels.
    static_ratio: RatioOutput,
    /// Volume above the piston at top centre.
    clearance_volume: PartVolumeOutput,
    /// Crank angle of true bottom centre after true top centre; 180 degrees without pin offset.
    bottom_centre_angle: AngleOutput,
    /// The air around and the air trapped; only with an altitude.
    #[serde(skip_serializing_if = "Option::is_none")]
    charge: Option<TrappedCharge>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// The air around and the air trapped, without throttle, boost or waves.
#[derive(Debug, Serialize, ToSchema)]
pub struct TrappedCharge {
    /// Standard pressure at the altitude, absolute.
    ambient_pressure: PressureOutput,
    /// Standard temperature at the altitude.
    ambient_temperature: TemperatureOutput,
    /// Standard density at the altitude.
    ambient_density: DensityOutput,
    /// Pressure in the cylinder at closing, absolute: that of the air around.
    trapped_pressure: PressureOutput,
    /// Temperature in the cylinder at closing: intake air plus heating.
    trapped_temperature: TemperatureOutput,
    /// Density of the trapped air.
    trapped_density: DensityOutput,
    /// That density relative to standard air at sea level, 1.225 kg/m3.
    density_ratio: RatioOutput,
}

/// The calculation.
pub struct Trapped;

impl Calculation for Trapped {
    const PATH: &'static str = "/v1/compression/trapped";
    const SUMMARY: &'static str = "Ratio after intake closing, and the closing for a wanted ratio";
    const DESCRIPTION: &'static str = "Trapped (dynamic) compression ratio from the exact piston position with pin offset. Closing \
        angles count from bottom centre, meaning 180 degrees after true top centre; a closing stated at a lift becomes the \
        seated one by the difference given. With an altitude, the pressure and density of the trapped air too.";
    const METHODS: &'static [&'static str] =
        &[core::METHOD.id, piston_motion::METHOD.id, standard_atmosphere::METHOD.id];
    const DEFAULT_FIELD: &'static str = "trapped_ratio";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/compression/trapped.json");
    type Request = TrappedRequest;
    type Response = TrappedResponse;

    fn run(request: TrappedRequest) -> Result<TrappedResponse, Error> {
        let units = request.units;
        let found = core::evaluate(&request.core())?;
        Ok(TrappedResponse {
            units,
            trapped_ratio: RatioOutput(found.at_seat.ratio),
            trapped_volume: out(found.at_seat.volume, units),
            piston_position: out(found.at_seat.position, units),
            crank_angle: out(found.at_seat.crank_angle, units),
            stated_closing_abdc: out(found.stated_closing_abdc, units),
            seat_closing_abdc: out(found.seat_closing_abdc, units),
            ratio_at_stated_closing: found.at_stated.map(|stated| RatioOutput(stated.ratio)),
            static_ratio: RatioOutput(found.static_ratio),
            clearance_volume: out(found.clearance_volume, units),
            bottom_centre_angle: out(found.bottom_centre_angle, units),
            charge: found.charge.map(|charge| TrappedCharge::new(charge, units)),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}

impl TrappedRequest {
    fn core(&self) -> core::TrappedInput {
        let units = self.units;
        core::TrappedInput {
            bore: self.bore.core(units),
            stroke: self.stroke.core(units),
            rod_length: self.rod_length.core(units),
            pin_offset: self.pin_offset.map(|offset| offset.core(units)).unwrap_or_default(),
            clearance_volume: self.clearance_volume.map(|volume| volume.core(units)),
            static_ratio: self.static_ratio.map(|ratio| ratio.core(units)),
            intake_closes_abdc: self.intake_closes_abdc.map(|angle| angle.core(units)),
            wanted_ratio: self.wanted_ratio.map(|ratio| ratio.core(units)),
            at_lift: self.at_lift.map(|lift| lift.core(units)),
            seat_difference: self.seat_difference.map(|angle| angle.core(units)),
            altitude: self.altitude.map(|altitude| altitude.core(units)),
            intake_temperature: self.intake_temperature.map(|temperature| temperature.core(units)),
            charge_heating: self.charge_heating.map(|heating| heating.core(units)),
        }
    }
}

impl TrappedCharge {
    fn new(charge: standard_atmosphere::Charge, units: Units) -> Self {
        Self {
            ambient_pressure: out(charge.ambient.pressure, units),
            ambient_temperature: out(charge.ambient.temperature, units),
            ambient_density: out(charge.ambient.density, units),
            trapped_pressure: out(charge.trapped.pressure, units),
            trapped_temperature: out(charge.trapped.temperature, units),
            trapped_density: out(charge.trapped.density, units),
            density_ratio: RatioOutput(charge.density_ratio),
        }
    }
}
