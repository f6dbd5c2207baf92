//! `/v1/compression/static`

use calc_core::compression::cylinder_spread as spread;
use calc_core::compression::r#static as core;
use calc_core::error::Error;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    AreaInput, DisplacementOutput, LengthInput, PartVolumeInput, PartVolumeOutput, RatioOutput, out,
};

/// Every volume above the piston, or what it is computed from.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StaticRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// Cylinder bore, as finished.
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
    /// What was measured cylinder by cylinder, in the order of the cylinders, 2 to 48 of them; only in a body, a query cannot
    /// spell it.
    #[schema(max_items = 48)]
    readings: Option<Vec<StaticReading>>,
}

/// What was measured on one cylinder; what is left out is as in the rest of the request.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StaticReading {
    /// Its combustion chamber.
    chamber_volume: Option<PartVolumeInput>,
    /// Its deck clearance: positive when the piston stops below the deck.
    deck_clearance: Option<LengthInput>,
    /// The dish of its piston.
    dish_volume: Option<PartVolumeInput>,
}

impl StaticReading {
    pub(crate) fn core(&self, units: Units) -> spread::CylinderReading {
        spread::CylinderReading {
            chamber_volume: self.chamber_volume.map(|volume| volume.core(units)),
            deck_clearance: self.deck_clearance.map(|length| length.core(units)),
            dish_volume: self.dish_volume.map(|volume| volume.core(units)),
        }
    }
}

/// The ratio and all that it is made of.
#[derive(Debug, Serialize, ToSchema)]
pub struct StaticResponse {
    /// Unit system of the answer.
    units: Units,
    /// Static compression ratio: (swept + clearance)/clearance.
    static_ratio: RatioOutput,
    /// Swept volume of one cylinder.
    swept_volume: DisplacementOutput,
    /// Volume above the piston at top centre.
    clearance_volume: PartVolumeOutput,
    /// The items of the clearance volume.
    volumes: ClearanceVolumes,
    /// How the cylinders differ; only with `readings`.
    #[serde(skip_serializing_if = "Option::is_none")]
    spread: Option<StaticSpread>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// Volumes above the piston at top centre: chamber + gasket + deck + dish - dome + top land is the clearance volume.
#[derive(Debug, Serialize, ToSchema)]
pub struct ClearanceVolumes {
    /// Combustion chamber.
    chamber: PartVolumeOutput,
    /// Opening of the head gasket.
    gasket: PartVolumeOutput,
    /// Between crown and deck; negative when the piston stops above the deck.
    deck: PartVolumeOutput,
    /// Dish in the crown.
    dish: PartVolumeOutput,
    /// Dome on the crown; counts off.
    dome: PartVolumeOutput,
    /// Crevice around the land above the top ring.
    top_land: PartVolumeOutput,
}

impl ClearanceVolumes {
    pub(crate) fn new(volumes: core::Volumes, units: Units) -> Self {
        Self {
            chamber: out(volumes.chamber, units),
            gasket: out(volumes.gasket, units),
            deck: out(volumes.deck, units),
            dish: out(volumes.dish, units),
            dome: out(volumes.dome, units),
            top_land: out(volumes.top_land, units),
        }
    }
}

/// The cylinders beside each other.
#[derive(Debug, Serialize, ToSchema)]
pub struct StaticSpread {
    /// One by one, in the order of the readings.
    cylinders: Vec<StaticCylinder>,
    /// Largest ratio less smallest.
    ratio_spread: RatioOutput,
    /// Largest clearance volume less smallest.
    volume_spread: PartVolumeOutput,
    /// Ratio of all cylinders once every chamber is changed by its `chamber_change`.
    equalised_ratio: RatioOutput,
    /// Ratio of all cylinders once every chamber is enlarged by its `chamber_enlargement`.
    enlarged_ratio: RatioOutput,
    /// The cylinder that stands out; absent when none does, or with two cylinders.
    #[serde(skip_serializing_if = "Option::is_none")]
    outlier: Option<StaticOutlier>,
}

/// One cylinder.
#[derive(Debug, Serialize, ToSchema)]
pub struct StaticCylinder {
    /// Its place in the readings, from one.
    cylinder: u32,
    /// Its static ratio.
    static_ratio: RatioOutput,
    /// Its clearance volume.
    clearance_volume: PartVolumeOutput,
    /// Its chamber, as measured.
    chamber_volume: PartVolumeOutput,
    /// What to add to its chamber so that all are equal with the smallest change in total; negative: to take away.
    chamber_change: PartVolumeOutput,
    /// What to add to its chamber so that all are equal when chambers can only be enlarged.
    chamber_enlargement: PartVolumeOutput,
}

/// The cylinder that stands out.
#[derive(Debug, Serialize, ToSchema)]
pub struct StaticOutlier {
    /// Its place in the readings, from one.
    cylinder: u32,
    /// What makes it stand out.
    item: StaticVolumeItem,
    /// By how much that item's volume departs from the item's median.
    item_difference: PartVolumeOutput,
    /// Its ratio less the median ratio.
    ratio_difference: RatioOutput,
}

/// What can differ from cylinder to cylinder.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum StaticVolumeItem {
    /// The combustion chamber.
    Chamber,
    /// The deck clearance.
    Deck,
    /// The dish in the crown.
    Dish,
}

impl StaticSpread {
    pub(crate) fn new(found: spread::CylinderSpread, units: Units) -> Self {
        let cylinder = |one: spread::CylinderRatio| StaticCylinder {
            cylinder: one.cylinder,
            static_ratio: RatioOutput(one.static_ratio),
            clearance_volume: out(one.clearance_volume, units),
            chamber_volume: out(one.chamber_volume, units),
            chamber_change: out(one.chamber_change, units),
            chamber_enlargement: out(one.chamber_enlargement, units),
        };
        let outlier = |one: spread::Outlier| StaticOutlier {
            cylinder: one.cylinder,
            item: match one.item {
                spread::Item::Chamber => StaticVolumeItem::Chamber,
                spread::Item::Deck => StaticVolumeItem::Deck,
                spread::Item::Dish => StaticVolumeItem::Dish,
            },
            item_difference: out(one.item_difference, units),
            ratio_difference: RatioOutput(one.ratio_difference),
        };
        Self {
            cylinders: found.cylinders.into_iter().map(cylinder).collect(),
            ratio_spread: RatioOutput(found.ratio_spread),
            volume_spread: out(found.volume_spread, units),
            equalised_ratio: RatioOutput(found.equalised_ratio),
            enlarged_ratio: RatioOutput(found.enlarged_ratio),
            outlier: found.outlier.map(outlier),
        }
    }
}

/// The calculation.
pub struct Static;

impl Calculation for Static {
    const PATH: &'static str = "/v1/compression/static";
    const SUMMARY: &'static str = "Static compression ratio from itemised volumes";
    const DESCRIPTION: &'static str = "Chamber, gasket, deck, dish, dome and top-land crevice of one cylinder, each reported, and \
        the ratio they make with the swept volume. With readings of every cylinder: the ratio of each, the spread, what stands \
        out and what equalises them.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id, spread::METHOD.id];
    const DEFAULT_FIELD: &'static str = "static_ratio";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/compression/static.json");
    type Request = StaticRequest;
    type Response = StaticResponse;

    fn run(request: StaticRequest) -> Result<StaticResponse, Error> {
        let units = request.units;
        let length = |length: Option<LengthInput>| length.map(|length| length.core(units));
        let volume = |volume: Option<PartVolumeInput>| volume.map(|volume| volume.core(units)).unwrap_or_default();
        let found = core::evaluate(&core::StaticInput {
            bore: request.bore.core(units),
            stroke: request.stroke.core(units),
            chamber_volume: request.chamber_volume.core(units),
            gasket_bore: length(request.gasket_bore),
            gasket_area: request.gasket_area.map(|area| area.core(units)),
            gasket_thickness: request.gasket_thickness.core(units),
            deck_clearance: request.deck_clearance.core(units),
            dish_volume: volume(request.dish_volume),
            dome_volume: volume(request.dome_volume),
            top_land_height: length(request.top_land_height),
            top_land_diameter: length(request.top_land_diameter),
            readings: request.readings.map(|list| list.iter().map(|reading| reading.core(units)).collect()),
        })?;
        Ok(StaticResponse {
            units,
            static_ratio: RatioOutput(found.static_ratio),
            swept_volume: out(found.swept_volume, units),
            clearance_volume: out(found.clearance_volume, units),
            volumes: ClearanceVolumes::new(found.volumes, units),
            spread: found.spread.map(|found| StaticSpread::new(found, units)),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}
