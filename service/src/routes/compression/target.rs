//! `/v1/compression/target`

use calc_core::compression::target as core;
use calc_core::error::Error;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    AreaInput, AreaOutput, DisplacementOutput, LengthInput, LengthOutput, PartVolumeInput, PartVolumeOutput,
    RatioInput, RatioOutput, out,
};

use super::flat_mill::FlatMillLevel;
use super::r#static::ClearanceVolumes;

/// The wanted ratio and all parts but the unknown one.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TargetRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// The static ratio wanted, 1.01 to 40.
    target_ratio: RatioInput,
    /// Which part is solved for; leave that part out.
    unknown: TargetUnknown,
    /// Cylinder bore, as finished.
    bore: Option<LengthInput>,
    /// Distance that the piston travels.
    stroke: Option<LengthInput>,
    /// Combustion chamber in the head; with a head cut as unknown, as it is before.
    chamber_volume: Option<PartVolumeInput>,
    /// Diameter of the head gasket's opening; or give its area.
    gasket_bore: Option<LengthInput>,
    /// Area of an opening that is not round, instead of the diameter.
    gasket_area: Option<AreaInput>,
    /// Thickness of the head gasket under the clamped head.
    gasket_thickness: Option<LengthInput>,
    /// Deck clearance: positive when the piston stops below the deck; follows when the compression height is the unknown.
    deck_clearance: Option<LengthInput>,
    /// Dish in the piston crown; none when absent.
    dish_volume: Option<PartVolumeInput>,
    /// Dome on the piston crown; none when absent.
    dome_volume: Option<PartVolumeInput>,
    /// Height of the land above the top ring; with its diameter, the crevice around it counts.
    top_land_height: Option<LengthInput>,
    /// Diameter of that land; smaller than the bore.
    top_land_diameter: Option<LengthInput>,
    /// Piston pin at top centre to the deck (deck height less half the stroke less the rod); only for the compression height.
    pin_to_deck: Option<LengthInput>,
    /// Open area of the chamber at 2 to 200 depths below the present face, the first at the face; only for a head cut, and
    /// only in a body.
    #[schema(max_items = 200)]
    head_levels: Option<Vec<FlatMillLevel>>,
}

/// The part that is solved for.
#[derive(Debug, Clone, Copy, Deserialize, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TargetUnknown {
    /// `chamber_volume`.
    Chamber,
    /// `dish_volume`.
    Dish,
    /// `dome_volume`.
    Dome,
    /// `gasket_thickness`.
    GasketThickness,
    /// `gasket_bore`.
    GasketBore,
    /// `deck_clearance`.
    DeckClearance,
    /// `compression_height` of the piston.
    CompressionHeight,
    /// `head_cut`: what is milled off the head.
    HeadCut,
    /// `stroke`, the deck clearance kept.
    Stroke,
    /// `bore`, the gasket's opening kept.
    Bore,
}

/// All parts, the solved one among them, and the ratio they make.
#[derive(Debug, Serialize, ToSchema)]
pub struct TargetResponse {
    /// Unit system of the answer.
    units: Units,
    /// Static compression ratio of these parts.
    static_ratio: RatioOutput,
    /// What was solved for.
    solved_for: TargetUnknown,
    /// Cylinder bore.
    bore: LengthOutput,
    /// Distance that the piston travels.
    stroke: LengthOutput,
    /// Combustion chamber in the head, after a cut.
    chamber_volume: PartVolumeOutput,
    /// Diameter of the gasket's opening; absent when its area was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    gasket_bore: Option<LengthOutput>,
    /// Area of the gasket's opening; only when it was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    gasket_area: Option<AreaOutput>,
    /// Compressed thickness of the gasket.
    gasket_thickness: LengthOutput,
    /// Deck clearance: positive when the piston stops below the deck.
    deck_clearance: LengthOutput,
    /// Dish in the crown.
    dish_volume: PartVolumeOutput,
    /// Dome on the crown.
    dome_volume: PartVolumeOutput,
    /// Compression height of the piston; only when it was the unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    compression_height: Option<LengthOutput>,
    /// What is milled off the head; only when that was the unknown.
    #[serde(skip_serializing_if = "Option::is_none")]
    head_cut: Option<LengthOutput>,
    /// Squish (quench) clearance: deck clearance plus compressed gasket.
    squish_clearance: LengthOutput,
    /// Swept volume of one cylinder.
    swept_volume: DisplacementOutput,
    /// Volume above the piston at top centre.
    clearance_volume: PartVolumeOutput,
    /// The items of the clearance volume.
    volumes: ClearanceVolumes,
    /// Every usual limit that the parts break, and what else to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

impl TargetUnknown {
    fn core(self) -> core::Unknown {
        match self {
            Self::Chamber => core::Unknown::Chamber,
            Self::Dish => core::Unknown::Dish,
            Self::Dome => core::Unknown::Dome,
            Self::GasketThickness => core::Unknown::GasketThickness,
            Self::GasketBore => core::Unknown::GasketBore,
            Self::DeckClearance => core::Unknown::DeckClearance,
            Self::CompressionHeight => core::Unknown::CompressionHeight,
            Self::HeadCut => core::Unknown::HeadCut,
            Self::Stroke => core::Unknown::Stroke,
            Self::Bore => core::Unknown::Bore,
        }
    }
}

/// The calculation.
pub struct Target;

impl Calculation for Target {
    const PATH: &'static str = "/v1/compression/target";
    const SUMMARY: &'static str = "The one part that gives a wanted compression ratio";
    const DESCRIPTION: &'static str = "Name the unknown and leave it out: chamber, dish, dome, gasket thickness or bore, deck \
        clearance, compression height, head cut, stroke or bore. Exact; where no such part can be made, the refusal says how \
        near one gets.";
    const METHODS: &'static [&'static str] =
        &[core::METHOD.id, calc_core::compression::r#static::METHOD.id, calc_core::compression::flat_mill::METHOD.id];
    const DEFAULT_FIELD: &'static str = "static_ratio";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/compression/target.json");
    type Request = TargetRequest;
    type Response = TargetResponse;

    fn run(request: TargetRequest) -> Result<TargetResponse, Error> {
        let units = request.units;
        let length = |length: Option<LengthInput>| length.map(|length| length.core(units));
        let volume = |volume: Option<PartVolumeInput>| volume.map(|volume| volume.core(units));
        let found = core::evaluate(&core::TargetInput {
            target_ratio: request.target_ratio.core(units),
            unknown: request.unknown.core(),
            bore: length(request.bore),
            stroke: length(request.stroke),
            chamber_volume: volume(request.chamber_volume),
            gasket_bore: length(request.gasket_bore),
            gasket_area: request.gasket_area.map(|area| area.core(units)),
            gasket_thickness: length(request.gasket_thickness),
            deck_clearance: length(request.deck_clearance),
            dish_volume: volume(request.dish_volume),
            dome_volume: volume(request.dome_volume),
            top_land_height: length(request.top_land_height),
            top_land_diameter: length(request.top_land_diameter),
            pin_to_deck: length(request.pin_to_deck),
            head_levels: request.head_levels.map(|list| list.iter().map(|level| level.core(units)).collect()),
        })?;
        let parts = found.parts;
        Ok(TargetResponse {
            units,
            static_ratio: RatioOutput(found.static_ratio),
            solved_for: request.unknown,
            bore: out(parts.bore, units),
            stroke: out(parts.stroke, units),
            chamber_volume: out(parts.chamber_volume, units),
            gasket_bore: parts.gasket_bore.map(|bore| out(bore, units)),
            gasket_area: parts.gasket_area.map(|area| out(area, units)),
            gasket_thickness: out(parts.gasket_thickness, units),
            deck_clearance: out(parts.deck_clearance, units),
            dish_volume: out(parts.dish_volume, units),
            dome_volume: out(parts.dome_volume, units),
            compression_height: found.compression_height.map(|height| out(height, units)),
            head_cut: found.head_cut.map(|cut| out(cut, units)),
            squish_clearance: out(found.squish_clearance, units),
            swept_volume: out(found.swept_volume, units),
            clearance_volume: out(found.clearance_volume, units),
            volumes: ClearanceVolumes::new(found.volumes, units),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}
