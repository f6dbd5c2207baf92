//! `/v1/compression/end-state`

use calc_core::compression::end_state as core;
use calc_core::error::Error;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    PressureInput, PressureOutput, RatioInput, RatioOutput, TemperatureInput, TemperatureOutput, out,
};

/// The state at the start and the ratio.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EndStateRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// Volume at the start over volume at the end, 1.01 to 40; of an engine, the trapped ratio of the seated valve.
    ratio: RatioInput,
    /// Absolute pressure at the start.
    start_pressure: PressureInput,
    /// Temperature at the start.
    start_temperature: TemperatureInput,
    /// How the gas is taken; dry air when absent.
    gas_model: Option<GasModel>,
    /// Exponent of a polytropic compression, 1 to 1.67; only with that gas model.
    polytropic_exponent: Option<RatioInput>,
    /// Absolute pressure of the air around, for the cranking pressure; the start pressure when absent.
    ambient_pressure: Option<PressureInput>,
}

/// How the gas is taken.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum GasModel {
    /// Dry air with variable heat capacity, no heat lost.
    DryAir,
    /// Pressure times volume to the power of a given exponent stays constant.
    Polytropic,
}

/// The state at the end.
#[derive(Debug, Serialize, ToSchema)]
pub struct EndStateResponse {
    /// Unit system of the answer.
    units: Units,
    /// Absolute pressure at the end.
    end_pressure: PressureOutput,
    /// Temperature at the end.
    end_temperature: TemperatureOutput,
    /// End pressure over start pressure.
    pressure_ratio: RatioOutput,
    /// The exponent of the polytropic compression with the same ends.
    mean_exponent: RatioOutput,
    /// What a gauge at the spark plug hole may show on the starter.
    cranking_gauge_pressure: CrankingBand,
    /// What that band rests on.
    cranking_assumptions: &'static [&'static str],
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// Gauge pressure of a sound cylinder on the starter, above the air around.
#[derive(Debug, Serialize, ToSchema)]
pub struct CrankingBand {
    /// Polytropic exponent 1.2: slow, cold.
    low: PressureOutput,
    /// Polytropic exponent 1.3: quick, warm.
    high: PressureOutput,
}

/// The calculation.
pub struct EndState;

impl Calculation for EndState {
    const PATH: &'static str = "/v1/compression/end-state";
    const SUMMARY: &'static str = "Pressure and temperature at the end of compression";
    const DESCRIPTION: &'static str = "Dry air with variable heat capacity and no heat lost, or a polytropic compression; and the \
        band in which a cranking gauge may read. Use the trapped ratio, not the static one.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id];
    const DEFAULT_FIELD: &'static str = "end_pressure";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/compression/end_state.json");
    type Request = EndStateRequest;
    type Response = EndStateResponse;

    fn run(request: EndStateRequest) -> Result<EndStateResponse, Error> {
        let units = request.units;
        let found = core::evaluate(&core::EndStateInput {
            ratio: request.ratio.core(units),
            start_pressure: request.start_pressure.core(units),
            start_temperature: request.start_temperature.core(units),
            gas_model: match request.gas_model {
                None | Some(GasModel::DryAir) => core::GasModel::DryAir,
                Some(GasModel::Polytropic) => core::GasModel::Polytropic,
            },
            polytropic_exponent: request.polytropic_exponent.map(|exponent| exponent.core(units)),
            ambient_pressure: request.ambient_pressure.map(|pressure| pressure.core(units)),
        })?;
        Ok(EndStateResponse {
            units,
            end_pressure: out(found.end_pressure, units),
            end_temperature: out(found.end_temperature, units),
            pressure_ratio: RatioOutput(found.pressure_ratio),
            mean_exponent: RatioOutput(found.mean_exponent),
            cranking_gauge_pressure: CrankingBand::new(found.cranking, units),
            cranking_assumptions: &core::CRANKING_ASSUMPTIONS,
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}

impl CrankingBand {
    pub(crate) fn new(band: core::CrankingBand, units: Units) -> Self {
        Self { low: out(band.low, units), high: out(band.high, units) }
    }
}
