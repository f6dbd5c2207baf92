//! `/v1/geometry/displacement`

use calc_core::error::Error;
use calc_core::geometry::displacement as core;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    CubicCentimetreOutput, CubicInchOutput, DisplacementInput, DisplacementOutput, LengthInput, LengthOutput,
    LitreOutput, PercentOutput, RatioOutput, out,
};

/// Exactly two of bore, stroke and displacement.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DisplacementRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// How many cylinders, 1 to 48.
    cylinders: u32,
    /// Cylinder bore, as finished.
    bore: Option<LengthInput>,
    /// Piston stroke.
    stroke: Option<LengthInput>,
    /// Displacement of the whole engine, when bore or stroke is wanted.
    displacement: Option<DisplacementInput>,
    /// What the engine is called, to compare with what it is.
    label_displacement: Option<DisplacementInput>,
}

/// Bore, stroke and displacement complete.
#[derive(Debug, Serialize, ToSchema)]
pub struct DisplacementResponse {
    /// Unit system of the answer.
    units: Units,
    /// Cylinder bore.
    bore: LengthOutput,
    /// Piston stroke.
    stroke: LengthOutput,
    /// Displacement of the whole engine.
    displacement: DisplacementOutput,
    /// The same in cubic inches.
    displacement_cubic_inches: CubicInchOutput,
    /// The same in cubic centimetres.
    displacement_cubic_centimetres: CubicCentimetreOutput,
    /// The same in litres.
    displacement_litres: LitreOutput,
    /// Swept volume of one cylinder.
    swept_volume: DisplacementOutput,
    /// Bore divided by stroke.
    bore_stroke_ratio: RatioOutput,
    /// Displacement less the label; only with a label.
    #[serde(skip_serializing_if = "Option::is_none")]
    label_difference: Option<DisplacementOutput>,
    /// That difference in percent of the label.
    #[serde(skip_serializing_if = "Option::is_none")]
    label_difference_percent: Option<PercentOutput>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// The calculation.
pub struct Displacement;

impl Calculation for Displacement {
    const PATH: &'static str = "/v1/geometry/displacement";
    const SUMMARY: &'static str = "Displacement from bore and stroke, or the one that is missing";
    const DESCRIPTION: &'static str = "Give exactly two of bore, stroke and displacement; the third is computed. With a label \
        (what the engine is called) the difference is reported, and a caution when it exceeds 0.5 percent.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id];
    const DEFAULT_FIELD: &'static str = "displacement";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/geometry/displacement.json");
    type Request = DisplacementRequest;
    type Response = DisplacementResponse;

    fn run(request: DisplacementRequest) -> Result<DisplacementResponse, Error> {
        let units = request.units;
        let found = core::evaluate(&core::DisplacementInput {
            cylinders: request.cylinders,
            bore: request.bore.map(|bore| bore.core(units)),
            stroke: request.stroke.map(|stroke| stroke.core(units)),
            displacement: request.displacement.map(|displacement| displacement.core(units)),
            label_displacement: request.label_displacement.map(|label| label.core(units)),
        })?;
        Ok(DisplacementResponse {
            units,
            bore: out(found.bore, units),
            stroke: out(found.stroke, units),
            displacement: out(found.displacement, units),
            displacement_cubic_inches: out(found.displacement, units),
            displacement_cubic_centimetres: out(found.displacement, units),
            displacement_litres: out(found.displacement, units),
            swept_volume: out(found.swept_volume, units),
            bore_stroke_ratio: RatioOutput(found.bore_stroke_ratio),
            label_difference: found.label_difference.map(|difference| out(difference, units)),
            label_difference_percent: found.label_difference_ratio.map(PercentOutput::from_share),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}
