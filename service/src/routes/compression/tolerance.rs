//! `/v1/compression/tolerance`

use calc_core::compression::r#static::{self, StaticInput};
use calc_core::compression::tolerance as core;
use calc_core::compression::tolerance_items::Item;
use calc_core::error::Error;
use calc_core::units::{Length, Ratio};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    AreaInput, GivenRatioOutput, LengthInput, LengthOutput, PartVolumeInput, PercentOutput, RatioInput, out,
};

/// The parts, their tolerances and what ratio and squish clearance must keep.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ToleranceRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// The parts as planned.
    nominal: ToleranceNominal,
    /// How far each part may be off, either way; at least one above zero.
    tolerances: ToleranceTolerances,
    /// How the parts lie inside their tolerances; rectangular when absent.
    distribution: Option<ToleranceDistribution>,
    /// What ratio and squish clearance must keep, to get the chance that they do.
    limits: Option<ToleranceLimits>,
    /// How many random engines, 1000 to 200000; 100000 when absent.
    draws: Option<u32>,
    /// Start of the random numbers; equal seeds give equal answers; 1 when absent.
    seed: Option<u32>,
}

/// The parts as planned.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ToleranceNominal {
    /// Cylinder bore.
    bore: LengthInput,
    /// Distance that the piston travels.
    stroke: LengthInput,
    /// Combustion chamber in the head, valves and plug in place.
    chamber_volume: PartVolumeInput,
    /// Diameter of the head gasket's opening; or give its area.
    gasket_bore: Option<LengthInput>,
    /// Area of an opening that is not round, instead of the diameter.
    gasket_area: Option<AreaInput>,
    /// Thickness of the head gasket under the clamped head.
    gasket_thickness: LengthInput,
    /// Deck clearance: positive when the piston stops below the deck.
    deck_clearance: LengthInput,
    /// Dish in the piston crown; none when absent.
    dish_volume: Option<PartVolumeInput>,
    /// Dome on the piston crown; none when absent.
    dome_volume: Option<PartVolumeInput>,
    /// Height of the land above the top ring; with its diameter, the crevice around it counts.
    top_land_height: Option<LengthInput>,
    /// Diameter of that land; smaller than the bore.
    top_land_diameter: Option<LengthInput>,
}

/// How far each part may be off, either way; exact when absent.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ToleranceTolerances {
    /// Of the bore.
    bore: Option<LengthInput>,
    /// Of the stroke.
    stroke: Option<LengthInput>,
    /// Of the combustion chamber.
    chamber_volume: Option<PartVolumeInput>,
    /// Of the diameter of the gasket's opening.
    gasket_bore: Option<LengthInput>,
    /// Of the area of the gasket's opening.
    gasket_area: Option<AreaInput>,
    /// Of the compressed thickness of the gasket.
    gasket_thickness: Option<LengthInput>,
    /// Of the deck clearance.
    deck_clearance: Option<LengthInput>,
    /// Of the dish.
    dish_volume: Option<PartVolumeInput>,
    /// Of the dome.
    dome_volume: Option<PartVolumeInput>,
    /// Of the height of the top land.
    top_land_height: Option<LengthInput>,
    /// Of the diameter of the top land.
    top_land_diameter: Option<LengthInput>,
}

/// How a part lies inside its tolerance.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ToleranceDistribution {
    /// Every size inside the tolerance is equally likely, none outside is possible.
    Rectangular,
    /// Normal, the tolerance being two standard deviations.
    Normal,
}

/// What ratio and squish clearance must keep.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ToleranceLimits {
    /// Smallest ratio.
    ratio_min: Option<RatioInput>,
    /// Largest ratio.
    ratio_max: Option<RatioInput>,
    /// Smallest squish clearance.
    squish_min: Option<LengthInput>,
    /// Largest squish clearance.
    squish_max: Option<LengthInput>,
}

/// Ratio and squish clearance with their tolerances.
#[derive(Debug, Serialize, ToSchema)]
pub struct ToleranceResponse {
    /// Unit system of the answer.
    units: Units,
    /// The static compression ratio.
    ratio: ToleranceRatio,
    /// The squish (quench) clearance: deck clearance plus compressed gasket.
    squish: ToleranceSquish,
    /// What each part with a tolerance contributes.
    shares: Vec<ToleranceShare>,
    /// Share of the draws that keep every limit; only with limits.
    #[serde(skip_serializing_if = "Option::is_none")]
    chance_within_all: Option<PercentOutput>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// The ratio with its tolerance.
#[derive(Debug, Serialize, ToSchema)]
pub struct ToleranceRatio {
    /// With all parts as planned.
    nominal: GivenRatioOutput,
    /// Standard uncertainty to first order.
    standard_uncertainty: GivenRatioOutput,
    /// The least that the tolerances allow.
    worst_low: GivenRatioOutput,
    /// The most that they allow.
    worst_high: GivenRatioOutput,
    /// Mean of the draws.
    mean: GivenRatioOutput,
    /// Standard deviation of the draws.
    standard_deviation: GivenRatioOutput,
    /// 2.5 percent of the draws are below.
    interval_low: GivenRatioOutput,
    /// 2.5 percent of the draws are above.
    interval_high: GivenRatioOutput,
    /// Share of the draws inside the limits of the ratio; only with such a limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    chance_within: Option<PercentOutput>,
}

/// The squish clearance with its tolerance.
#[derive(Debug, Serialize, ToSchema)]
pub struct ToleranceSquish {
    /// With all parts as planned.
    nominal: LengthOutput,
    /// Standard uncertainty to first order.
    standard_uncertainty: LengthOutput,
    /// The least that the tolerances allow.
    worst_low: LengthOutput,
    /// The most that they allow.
    worst_high: LengthOutput,
    /// Mean of the draws.
    mean: LengthOutput,
    /// Standard deviation of the draws.
    standard_deviation: LengthOutput,
    /// 2.5 percent of the draws are below.
    interval_low: LengthOutput,
    /// 2.5 percent of the draws are above.
    interval_high: LengthOutput,
    /// Share of the draws inside the limits of the squish clearance; only with such a limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    chance_within: Option<PercentOutput>,
}

/// What one part contributes.
#[derive(Debug, Serialize, ToSchema)]
pub struct ToleranceShare {
    /// The part.
    item: TolerancePart,
    /// Its contribution to the ratio's standard uncertainty.
    ratio_uncertainty: GivenRatioOutput,
    /// Its share of the ratio's variance.
    ratio_share: PercentOutput,
    /// Its share of the squish clearance's variance.
    squish_share: PercentOutput,
}

/// A part that can have a tolerance.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TolerancePart {
    /// Cylinder bore.
    Bore,
    /// Stroke.
    Stroke,
    /// Combustion chamber.
    ChamberVolume,
    /// Diameter of the gasket's opening.
    GasketBore,
    /// Area of the gasket's opening.
    GasketArea,
    /// Compressed thickness of the gasket.
    GasketThickness,
    /// Deck clearance.
    DeckClearance,
    /// Dish.
    DishVolume,
    /// Dome.
    DomeVolume,
    /// Height of the top land.
    TopLandHeight,
    /// Diameter of the top land.
    TopLandDiameter,
}

impl ToleranceNominal {
    fn core(&self, units: Units) -> StaticInput {
        let length = |length: Option<LengthInput>| length.map(|length| length.core(units));
        let volume = |volume: Option<PartVolumeInput>| volume.map(|volume| volume.core(units)).unwrap_or_default();
        StaticInput {
            bore: self.bore.core(units),
            stroke: self.stroke.core(units),
            chamber_volume: self.chamber_volume.core(units),
            gasket_bore: length(self.gasket_bore),
            gasket_area: self.gasket_area.map(|area| area.core(units)),
            gasket_thickness: self.gasket_thickness.core(units),
            deck_clearance: self.deck_clearance.core(units),
            dish_volume: volume(self.dish_volume),
            dome_volume: volume(self.dome_volume),
            top_land_height: length(self.top_land_height),
            top_land_diameter: length(self.top_land_diameter),
            readings: None,
        }
    }
}

impl ToleranceTolerances {
    fn core(&self, units: Units) -> core::Tolerances {
        let length = |length: Option<LengthInput>| length.map(|length| length.core(units));
        let volume = |volume: Option<PartVolumeInput>| volume.map(|volume| volume.core(units));
        core::Tolerances {
            bore: length(self.bore),
            stroke: length(self.stroke),
            chamber_volume: volume(self.chamber_volume),
            gasket_bore: length(self.gasket_bore),
            gasket_area: self.gasket_area.map(|area| area.core(units)),
            gasket_thickness: length(self.gasket_thickness),
            deck_clearance: length(self.deck_clearance),
            dish_volume: volume(self.dish_volume),
            dome_volume: volume(self.dome_volume),
            top_land_height: length(self.top_land_height),
            top_land_diameter: length(self.top_land_diameter),
        }
    }
}

impl ToleranceLimits {
    fn core(&self, units: Units) -> core::Limits {
        let ratio = |ratio: Option<RatioInput>| ratio.map(|ratio| ratio.core(units));
        let length = |length: Option<LengthInput>| length.map(|length| length.core(units));
        core::Limits {
            ratio_min: ratio(self.ratio_min),
            ratio_max: ratio(self.ratio_max),
            squish_min: length(self.squish_min),
            squish_max: length(self.squish_max),
        }
    }
}

impl ToleranceRatio {
    fn new(found: core::Outcome<Ratio>, units: Units) -> Self {
        Self {
            nominal: out(found.nominal, units),
            standard_uncertainty: out(found.standard_uncertainty, units),
            worst_low: out(found.worst_low, units),
            worst_high: out(found.worst_high, units),
            mean: out(found.mean, units),
            standard_deviation: out(found.standard_deviation, units),
            interval_low: out(found.interval_low, units),
            interval_high: out(found.interval_high, units),
            chance_within: found.chance_within.map(PercentOutput::from_share),
        }
    }
}

impl ToleranceSquish {
    fn new(found: core::Outcome<Length>, units: Units) -> Self {
        Self {
            nominal: out(found.nominal, units),
            standard_uncertainty: out(found.standard_uncertainty, units),
            worst_low: out(found.worst_low, units),
            worst_high: out(found.worst_high, units),
            mean: out(found.mean, units),
            standard_deviation: out(found.standard_deviation, units),
            interval_low: out(found.interval_low, units),
            interval_high: out(found.interval_high, units),
            chance_within: found.chance_within.map(PercentOutput::from_share),
        }
    }
}

impl ToleranceShare {
    fn new(found: core::Share, units: Units) -> Self {
        Self {
            item: match found.item {
                Item::Bore => TolerancePart::Bore,
                Item::Stroke => TolerancePart::Stroke,
                Item::ChamberVolume => TolerancePart::ChamberVolume,
                Item::GasketBore => TolerancePart::GasketBore,
                Item::GasketArea => TolerancePart::GasketArea,
                Item::GasketThickness => TolerancePart::GasketThickness,
                Item::DeckClearance => TolerancePart::DeckClearance,
                Item::DishVolume => TolerancePart::DishVolume,
                Item::DomeVolume => TolerancePart::DomeVolume,
                Item::TopLandHeight => TolerancePart::TopLandHeight,
                Item::TopLandDiameter => TolerancePart::TopLandDiameter,
            },
            ratio_uncertainty: out(found.ratio_uncertainty, units),
            ratio_share: PercentOutput::from_share(found.ratio_share),
            squish_share: PercentOutput::from_share(found.squish_share),
        }
    }
}

/// The calculation.
pub struct Tolerance;

impl Calculation for Tolerance {
    const PATH: &'static str = "/v1/compression/tolerance";
    const SUMMARY: &'static str = "Tolerance of compression ratio and squish clearance";
    const DESCRIPTION: &'static str = "From the tolerances of the parts: first-order uncertainty with each part's share, worst \
        case, and Monte Carlo with the chance of landing inside given limits. The draws are reproducible.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id, r#static::METHOD.id];
    const DEFAULT_FIELD: &'static str = "ratio.standard_uncertainty";
    const IS_LONG: bool = true;
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/compression/tolerance.json");
    type Request = ToleranceRequest;
    type Response = ToleranceResponse;

    fn run(request: ToleranceRequest) -> Result<ToleranceResponse, Error> {
        let units = request.units;
        let found = core::evaluate(&core::ToleranceInput {
            nominal: request.nominal.core(units),
            tolerances: request.tolerances.core(units),
            distribution: match request.distribution {
                Some(ToleranceDistribution::Normal) => core::Distribution::Normal,
                Some(ToleranceDistribution::Rectangular) | None => core::Distribution::Rectangular,
            },
            limits: request.limits.unwrap_or_default().core(units),
            draws: request.draws.unwrap_or(core::USUAL_DRAWS),
            seed: request.seed.unwrap_or(core::USUAL_SEED),
        })?;
        Ok(ToleranceResponse {
            units,
            ratio: ToleranceRatio::new(found.ratio, units),
            squish: ToleranceSquish::new(found.squish, units),
            shares: found.shares.into_iter().map(|share| ToleranceShare::new(share, units)).collect(),
            chance_within_all: found.chance_within_all.map(PercentOutput::from_share),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}
