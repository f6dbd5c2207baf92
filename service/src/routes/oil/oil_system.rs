//! The oil system of a build as it travels: the same names as the core's.

use calc_core::oil::budget as core;
use calc_core::oil::circuit::{Element, Group, Kind};
use serde::Deserialize;
use utoipa::ToSchema;

use crate::wire::Units;
use crate::wire::quantity::{
    DynamicViscosityInput, FlowInput, LengthInput, PartVolumeInput, PressureInput, RatioInput,
    TemperatureDifferenceInput, TemperatureInput,
};

use super::oil_request::OilRequest;

/// Pump, gallery, bearings, lifters and restrictors: what a circuit is made from.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OilSystem {
    /// Which oil.
    pub(super) lubricant: OilRequest,
    /// Temperature of the oil in the whole circuit.
    oil_temperature: TemperatureInput,
    /// The way of the oil.
    feeding_order: OilFeedingOrder,
    /// The pump.
    pump: OilPump,
    /// The relief valve behind the pump.
    relief_valve: OilReliefValve,
    /// The filter; none when absent.
    filter: Option<OilFilter>,
    /// The gallery that feeds the main bearings, its whole length from its entry to the farthest.
    gallery: OilPassage,
    /// From the gallery to one main bearing.
    main_feed: OilPassage,
    /// The main bearings.
    main_bearings: OilBearings,
    /// From a main bearing to a rod bearing, one for each.
    crank_drilling: OilDrilling,
    /// The rod bearings.
    rod_bearings: OilRodBearings,
    /// The camshaft bearings, fed from the main bearings; none when absent.
    cam_bearings: Option<OilBearings>,
    /// The lifters.
    lifters: OilLifters,
    /// The hole of each lifter or pushrod that meters oil to the rocker.
    metering: OilHole,
    /// The open feed of the top end: with the main gallery first, from the gallery's far end to each lifter gallery; with the
    /// top end first, the hole from the gallery to each lifter.
    top_feed: OilTopFeed,
    /// What takes the place of each open feed, such as a drilled plug; without it only the open system is balanced.
    restrictor: Option<OilHole>,
    /// Pressure wanted at the farthest main bearing for every 1,000 rev/min.
    per_thousand_revolutions: Option<PressureInput>,
    /// Pressure wanted there at any speed.
    least_pressure: Option<PressureInput>,
    /// What you decided that the whole top end needs.
    top_end_needs: Option<FlowInput>,
}

/// The way of the oil.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum OilFeedingOrder {
    /// The main gallery is fed first; the top end hangs on its far end.
    MainGalleryFirst,
    /// The lifters' gallery is fed first; the main bearings hang on it.
    TopEndFirst,
}

/// The pump.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OilPump {
    /// Displacement in one of its own revolutions.
    displacement: PartVolumeInput,
    /// Pump revolutions per revolution of the crankshaft; 1 when absent.
    drive_ratio: Option<RatioInput>,
    /// What slips back inside it at the slip pressure; goes with slip_pressure and slip_viscosity, none when absent.
    slip_flow: Option<FlowInput>,
    /// Pressure rise at which the slip was found.
    slip_pressure: Option<PressureInput>,
    /// Viscosity at which the slip was found.
    slip_viscosity: Option<DynamicViscosityInput>,
}

/// The relief valve behind the pump.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OilReliefValve {
    /// Pressure at which it begins to open.
    opening_pressure: PressureInput,
    /// Flow through it at the rated pressure.
    rated_flow: FlowInput,
    /// Pressure at that flow.
    rated_pressure: PressureInput,
    /// Of its port when wide open; only the spring limits it when absent.
    diameter: Option<LengthInput>,
}

/// The filter.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OilFilter {
    /// Flow at the rated pressure.
    rated_flow: FlowInput,
    /// Pressure difference at that flow.
    rated_pressure: PressureInput,
    /// Viscosity at which it was rated.
    rated_viscosity: DynamicViscosityInput,
    /// Pressure difference at which its bypass begins to open; no bypass when absent.
    bypass_opening_pressure: Option<PressureInput>,
    /// Flow through the bypass at its rated pressure.
    bypass_rated_flow: Option<FlowInput>,
    /// Pressure difference at that flow.
    bypass_rated_pressure: Option<PressureInput>,
}

/// A drilled passage.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OilPassage {
    /// Of the hole.
    diameter: LengthInput,
    /// Along the flow.
    length: LengthInput,
    /// Square turns where drilled holes meet; none when absent.
    bends: Option<RatioInput>,
    /// Sum of other loss coefficients on its own speed; none when absent.
    loss_coefficient: Option<RatioInput>,
}

/// The drilling from a main journal to a rod journal; entry and exit follow from journals and stroke.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OilDrilling {
    /// Of the hole.
    diameter: LengthInput,
    /// Along the flow.
    length: LengthInput,
    /// Innermost point of its way, from the shaft's axis; where oil enters when absent.
    inner_radius: Option<LengthInput>,
}

/// Bearings alike, fed by a full groove.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OilBearings {
    /// How many, 1 to 50.
    count: u32,
    /// Of the journal.
    diameter: LengthInput,
    /// Width of the bearing.
    length: LengthInput,
    /// Diameter of the bearing less that of the journal.
    clearance: LengthInput,
    /// Width of the groove; the lands are half the width each when absent.
    groove_width: Option<LengthInput>,
    /// Off centre as a share of the radial clearance; 0.6 is assumed when absent.
    eccentricity: Option<RatioInput>,
    /// How much warmer the film is than the oil that feeds it; none when absent.
    film_temperature_rise: Option<TemperatureDifferenceInput>,
}

/// The rod bearings, one for each cylinder, fed by the hole in the journal.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OilRodBearings {
    /// Of the journal.
    diameter: LengthInput,
    /// Width of the bearing.
    length: LengthInput,
    /// Diameter of the bearing less that of the journal.
    clearance: LengthInput,
    /// Diameter of the hole in the journal; the drilling's when absent.
    feed_hole: Option<LengthInput>,
    /// Off centre as a share of the radial clearance; 0.6 is assumed when absent.
    eccentricity: Option<RatioInput>,
    /// How much warmer the film is than the oil that feeds it; none when absent.
    film_temperature_rise: Option<TemperatureDifferenceInput>,
}

/// The lifters in their bores.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OilLifters {
    /// How many, 1 to 200.
    count: u32,
    /// Of the lifter bore.
    diameter: LengthInput,
    /// Of the gap along the leak, both sides of the gallery together counted as one.
    length: LengthInput,
    /// Diameter of the bore less that of the lifter.
    clearance: LengthInput,
    /// Off centre as a share of the radial clearance; 0.5 is assumed when absent.
    eccentricity: Option<RatioInput>,
}

/// A short drilled hole.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OilHole {
    /// Of the hole.
    diameter: LengthInput,
    /// Of the hole.
    length: LengthInput,
    /// Of an edge that is chamfered or rounded, at high Reynolds number; sharp-edged when absent.
    discharge_coefficient: Option<RatioInput>,
}

/// The open feeds of the top end.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct OilTopFeed {
    /// How many lifter galleries are fed, 1 to 50; one when absent. With the top end first every lifter has its own feed and this is left out.
    count: Option<u32>,
    /// Of each.
    diameter: LengthInput,
    /// Of each.
    length: LengthInput,
    /// Square turns where drilled holes meet; none when absent.
    bends: Option<RatioInput>,
    /// Sum of other loss coefficients on its own speed; none when absent.
    loss_coefficient: Option<RatioInput>,
}

/// A part without name and nodes.
fn part(kind: Kind) -> Element {
    Element::new("", kind, Group::Other, "", "")
}

impl OilSystem {
    /// The system in core quantities.
    pub(crate) fn core(&self, units: Units) -> core::OilSystem {
        core::OilSystem {
            lubricant: self.lubricant.core(units),
            oil_temperature: self.oil_temperature.core(units),
            feeding_order: match self.feeding_order {
                OilFeedingOrder::MainGalleryFirst => core::FeedingOrder::MainGalleryFirst,
                OilFeedingOrder::TopEndFirst => core::FeedingOrder::TopEndFirst,
            },
            pump: self.pump.core(units),
            relief_valve: self.relief_valve.core(units),
            filter: self.filter.as_ref().map(|filter| filter.core(units)),
            gallery: self.gallery.core(units),
            main_feed: self.main_feed.core(units),
            main_bearings: self.main_bearings.core(units),
            crank_drilling: self.crank_drilling.core(units),
            rod_bearings: self.rod_bearings.core(units),
            cam_bearings: self.cam_bearings.as_ref().map(|cams| cams.core(units)),
            lifters: self.lifters.core(units),
            metering: self.metering.core(units, Kind::Jet),
            top_feed: self.top_feed.core(units),
            restrictor: self.restrictor.as_ref().map(|restrictor| restrictor.core(units, Kind::Restrictor)),
            per_thousand_revolutions: self.per_thousand_revolutions.map(|pressure| pressure.core(units)),
            least_pressure: self.least_pressure.map(|pressure| pressure.core(units)),
            top_end_needs: self.top_end_needs.map(|flow| flow.core(units)),
        }
    }
}

impl OilPump {
    fn core(&self, units: Units) -> Element {
        Element {
            displacement: Some(self.displacement.core(units)),
            drive_ratio: self.drive_ratio.map(|value| value.core(units)),
            slip_flow: self.slip_flow.map(|value| value.core(units)),
            slip_pressure: self.slip_pressure.map(|value| value.core(units)),
            slip_viscosity: self.slip_viscosity.map(|value| value.core(units)),
            ..part(Kind::Pump)
        }
    }
}

impl OilReliefValve {
    fn core(&self, units: Units) -> Element {
        Element {
            opening_pressure: Some(self.opening_pressure.core(units)),
            rated_flow: Some(self.rated_flow.core(units)),
            rated_pressure: Some(self.rated_pressure.core(units)),
            diameter: self.diameter.map(|value| value.core(units)),
            ..part(Kind::ReliefValve)
        }
    }
}

impl OilFilter {
    fn core(&self, units: Units) -> Element {
        Element {
            rated_flow: Some(self.rated_flow.core(units)),
            rated_pressure: Some(self.rated_pressure.core(units)),
            rated_viscosity: Some(self.rated_viscosity.core(units)),
            bypass_opening_pressure: self.bypass_opening_pressure.map(|value| value.core(units)),
            bypass_rated_flow: self.bypass_rated_flow.map(|value| value.core(units)),
            bypass_rated_pressure: self.bypass_rated_pressure.map(|value| value.core(units)),
            ..part(Kind::Filter)
        }
    }
}

impl OilPassage {
    fn core(&self, units: Units) -> Element {
        Element {
            diameter: Some(self.diameter.core(units)),
            length: Some(self.length.core(units)),
            bends: self.bends.map(|value| value.core(units)),
            loss_coefficient: self.loss_coefficient.map(|value| value.core(units)),
            ..part(Kind::Passage)
        }
    }
}

impl OilDrilling {
    fn core(&self, units: Units) -> Element {
        Element {
            diameter: Some(self.diameter.core(units)),
            length: Some(self.length.core(units)),
            inner_radius: self.inner_radius.map(|value| value.core(units)),
            ..part(Kind::RotatingDrilling)
        }
    }
}

impl OilBearings {
    fn core(&self, units: Units) -> Element {
        Element {
            count: self.count,
            diameter: Some(self.diameter.core(units)),
            length: Some(self.length.core(units)),
            clearance: Some(self.clearance.core(units)),
            groove_width: self.groove_width.map(|value| value.core(units)),
            eccentricity: self.eccentricity.map(|value| value.core(units)),
            film_temperature_rise: self.film_temperature_rise.map(|value| value.core(units)),
            ..part(Kind::JournalBearing)
        }
    }
}

impl OilRodBearings {
    fn core(&self, units: Units) -> Element {
        Element {
            diameter: Some(self.diameter.core(units)),
            length: Some(self.length.core(units)),
            clearance: Some(self.clearance.core(units)),
            feed_hole: self.feed_hole.map(|value| value.core(units)),
            eccentricity: self.eccentricity.map(|value| value.core(units)),
            film_temperature_rise: self.film_temperature_rise.map(|value| value.core(units)),
            ..part(Kind::JournalBearing)
        }
    }
}

impl OilLifters {
    fn core(&self, units: Units) -> Element {
        Element {
            count: self.count,
            diameter: Some(self.diameter.core(units)),
            length: Some(self.length.core(units)),
            clearance: Some(self.clearance.core(units)),
            eccentricity: self.eccentricity.map(|value| value.core(units)),
            ..part(Kind::Annulus)
        }
    }
}

impl OilHole {
    fn core(&self, units: Units, kind: Kind) -> Element {
        Element {
            diameter: Some(self.diameter.core(units)),
            length: Some(self.length.core(units)),
            discharge_coefficient: self.discharge_coefficient.map(|value| value.core(units)),
            ..part(kind)
        }
    }
}

impl OilTopFeed {
    fn core(&self, units: Units) -> Element {
        Element {
            count: self.count.unwrap_or(1),
            diameter: Some(self.diameter.core(units)),
            length: Some(self.length.core(units)),
            bends: self.bends.map(|value| value.core(units)),
            loss_coefficient: self.loss_coefficient.map(|value| value.core(units)),
            ..part(Kind::Passage)
        }
    }
}
