//! The elements of an oil circuit as they travel: the same names in the same order as the core's.

use calc_core::oil::circuit as core;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wire::quantity::{
    AngleInput, DynamicViscosityInput, FlowInput, LengthInput, PartVolumeInput, PressureInput, RatioInput,
    TemperatureDifferenceInput,
};
use crate::wire::{ShortText, Units};

/// What an element is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CircuitKind {
    /// Displacement pump, from its inlet to its outlet: displacement, and drive_ratio and slip if known.
    Pump,
    /// Spring-loaded valve: opening_pressure, rated_flow at rated_pressure, and the diameter of its port if known.
    ReliefValve,
    /// Filter: rated_flow at rated_pressure and rated_viscosity, and its bypass if it has one.
    Filter,
    /// Cooler: as a filter.
    Cooler,
    /// Drilled or tubular passage: diameter, length, and bends, loss_coefficient, roughness.
    Passage,
    /// Drilled plug or another short hole: diameter, length, and discharge_coefficient.
    Restrictor,
    /// Thin gap round a lifter, pin or bush: diameter, length, clearance, and eccentricity.
    Annulus,
    /// Journal bearing, draining into its second node: diameter, length, clearance, and eccentricity, feed, film_temperature_rise.
    JournalBearing,
    /// Passage drilled in a turning shaft: diameter, length, entry_radius, exit_radius, and inner_radius.
    RotatingDrilling,
    /// Hole that squirts into an open space: as a restrictor.
    Jet,
    /// Consumer that takes the same flow at any pressure: flow.
    FixedConsumer,
}

/// Whose oil it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CircuitGroup {
    /// Main and rod bearings and what feeds them.
    BottomEnd,
    /// Lifters, camshaft, pushrods and rockers.
    TopEnd,
    /// Everything else.
    Other,
}

/// How oil comes into a journal bearing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CircuitBearingFeed {
    /// By a groove all round, in the middle.
    FullGroove,
    /// By a groove over an arc, in the middle: groove_arc.
    PartialGroove,
    /// By one hole, in the middle: feed_hole.
    Hole,
}

/// One element, or several alike side by side.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CircuitElement {
    /// What it is called; the only one of that name.
    pub(super) name: ShortText,
    /// What it is; which numbers it needs follows from that.
    pub(super) kind: CircuitKind,
    /// Whose oil it is, for the totals; other when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) group: Option<CircuitGroup>,
    /// Name of the node that oil comes from.
    pub(super) from: ShortText,
    /// Name of the node that oil goes to.
    pub(super) to: ShortText,
    /// How many alike stand side by side, 1 to 1000; one when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) count: Option<u32>,
    /// How oil comes into a journal bearing; a full groove when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    bearing_feed: Option<CircuitBearingFeed>,
    /// Of the hole, passage, gap or journal; of a relief valve, its port when wide open, without which its spring alone limits it.
    #[serde(skip_serializing_if = "Option::is_none")]
    diameter: Option<LengthInput>,
    /// Of the hole, passage or gap along the flow; of a journal bearing, its width.
    #[serde(skip_serializing_if = "Option::is_none")]
    length: Option<LengthInput>,
    /// Of a restrictor or jet whose edge is chamfered or rounded, at high Reynolds number; sharp-edged when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    discharge_coefficient: Option<RatioInput>,
    /// Square turns where drilled holes meet; none when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    bends: Option<RatioInput>,
    /// Sum of other loss coefficients on the passage's own speed, ends included; none when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    loss_coefficient: Option<RatioInput>,
    /// Height of the roughness of a passage's wall; smooth when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    roughness: Option<LengthInput>,
    /// Diameter of the bore less that of what runs in it, of an annulus or a journal bearing.
    #[serde(skip_serializing_if = "Option::is_none")]
    clearance: Option<LengthInput>,
    /// Off centre as a share of the radial clearance, 0 to 1; centred when absent, which leaks least.
    #[serde(skip_serializing_if = "Option::is_none")]
    eccentricity: Option<RatioInput>,
    /// Width of a bearing's groove; what is left of its width are two equal lands. None when absent: the lands are half the width each.
    #[serde(skip_serializing_if = "Option::is_none")]
    groove_width: Option<LengthInput>,
    /// How far a partial groove goes round.
    #[serde(skip_serializing_if = "Option::is_none")]
    groove_arc: Option<AngleInput>,
    /// Diameter of the hole that feeds a bearing.
    #[serde(skip_serializing_if = "Option::is_none")]
    feed_hole: Option<LengthInput>,
    /// Where the middle of a partial groove or of a feed hole is, from the thickest film along the motion; there when absent, which leaks most.
    #[serde(skip_serializing_if = "Option::is_none")]
    feed_angle: Option<AngleInput>,
    /// How much warmer a bearing's film is than the circuit's oil, as the journal-bearing calculation gives it; none when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    film_temperature_rise: Option<TemperatureDifferenceInput>,
    /// What a fixed consumer takes, each.
    #[serde(skip_serializing_if = "Option::is_none")]
    flow: Option<FlowInput>,
    /// Displacement of a pump in one of its own revolutions.
    #[serde(skip_serializing_if = "Option::is_none")]
    displacement: Option<PartVolumeInput>,
    /// Pump revolutions per revolution of the crankshaft; 1 when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    drive_ratio: Option<RatioInput>,
    /// What slips back inside a pump at the slip pressure; a pump without slip delivers whatever the pressure. Goes with slip_pressure and slip_viscosity.
    #[serde(skip_serializing_if = "Option::is_none")]
    slip_flow: Option<FlowInput>,
    /// Pressure rise of the pump at which the slip was found.
    #[serde(skip_serializing_if = "Option::is_none")]
    slip_pressure: Option<PressureInput>,
    /// Viscosity at which the slip was found: it falls as the oil thickens.
    #[serde(skip_serializing_if = "Option::is_none")]
    slip_viscosity: Option<DynamicViscosityInput>,
    /// Pressure difference at which a relief valve begins to open.
    #[serde(skip_serializing_if = "Option::is_none")]
    opening_pressure: Option<PressureInput>,
    /// Flow at the rated pressure, of a relief valve, a filter or a cooler.
    #[serde(skip_serializing_if = "Option::is_none")]
    rated_flow: Option<FlowInput>,
    /// Pressure difference at the rated flow.
    #[serde(skip_serializing_if = "Option::is_none")]
    rated_pressure: Option<PressureInput>,
    /// Viscosity at which a filter or cooler was rated: its flow falls as the oil thickens.
    #[serde(skip_serializing_if = "Option::is_none")]
    rated_viscosity: Option<DynamicViscosityInput>,
    /// Pressure difference at which the bypass of a filter or cooler begins to open; no bypass when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    bypass_opening_pressure: Option<PressureInput>,
    /// Flow through the bypass at its rated pressure.
    #[serde(skip_serializing_if = "Option::is_none")]
    bypass_rated_flow: Option<FlowInput>,
    /// Pressure difference at that flow.
    #[serde(skip_serializing_if = "Option::is_none")]
    bypass_rated_pressure: Option<PressureInput>,
    /// Where oil enters a rotating drilling, from the shaft's axis: the journal's radius when it enters at its surface.
    #[serde(skip_serializing_if = "Option::is_none")]
    entry_radius: Option<LengthInput>,
    /// Where oil leaves a rotating drilling, from the shaft's axis.
    #[serde(skip_serializing_if = "Option::is_none")]
    exit_radius: Option<LengthInput>,
    /// The innermost point of the drilling's way; the smaller of both ends when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    inner_radius: Option<LengthInput>,
}

/// A number of an element.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CircuitNumber {
    /// Of the hole, passage, gap or journal.
    Diameter,
    /// Of the hole, passage or gap along the flow.
    Length,
    /// Of a restrictor or jet whose edge is chamfered or rounded, at high Reynolds number.
    DischargeCoefficient,
    /// Square turns where drilled holes meet.
    Bends,
    /// Sum of other loss coefficients on the passage's own speed, ends included.
    LossCoefficient,
    /// Height of the roughness of a passage's wall.
    Roughness,
    /// Diameter of the bore less that of what runs in it, of an annulus or a journal bearing.
    Clearance,
    /// Off centre as a share of the radial clearance, 0 to 1.
    Eccentricity,
    /// Width of a bearing's groove.
    GrooveWidth,
    /// How far a partial groove goes round.
    GrooveArc,
    /// Diameter of the hole that feeds a bearing.
    FeedHole,
    /// Where the middle of a partial groove or of a feed hole is, from the thickest film along the motion.
    FeedAngle,
    /// How much warmer a bearing's film is than the circuit's oil, as the journal-bearing calculation gives it.
    FilmTemperatureRise,
    /// What a fixed consumer takes, each.
    Flow,
    /// Displacement of a pump in one of its own revolutions.
    Displacement,
    /// Pump revolutions per revolution of the crankshaft.
    DriveRatio,
    /// What slips back inside a pump at the slip pressure.
    SlipFlow,
    /// Pressure rise of the pump at which the slip was found.
    SlipPressure,
    /// Viscosity at which the slip was found.
    SlipViscosity,
    /// Pressure difference at which a relief valve begins to open.
    OpeningPressure,
    /// Flow at the rated pressure, of a relief valve, a filter or a cooler.
    RatedFlow,
    /// Pressure difference at the rated flow.
    RatedPressure,
    /// Viscosity at which a filter or cooler was rated.
    RatedViscosity,
    /// Pressure difference at which the bypass of a filter or cooler begins to open.
    BypassOpeningPressure,
    /// Flow through the bypass at its rated pressure.
    BypassRatedFlow,
    /// Pressure difference at that flow.
    BypassRatedPressure,
    /// Where oil enters a rotating drilling, from the shaft's axis.
    EntryRadius,
    /// Where oil leaves a rotating drilling, from the shaft's axis.
    ExitRadius,
    /// The innermost point of the drilling's way.
    InnerRadius,
}

impl CircuitElement {
    pub(super) fn core(&self, units: Units) -> core::Element {
        core::Element {
            name: self.name.as_str().to_owned(),
            kind: self.kind.core(),
            group: self.group.map_or(core::Group::Other, CircuitGroup::core),
            from: self.from.as_str().to_owned(),
            to: self.to.as_str().to_owned(),
            count: self.count.unwrap_or(1),
            bearing_feed: self.bearing_feed.map(CircuitBearingFeed::core),
            diameter: self.diameter.map(|value| value.core(units)),
            length: self.length.map(|value| value.core(units)),
            discharge_coefficient: self.discharge_coefficient.map(|value| value.core(units)),
            bends: self.bends.map(|value| value.core(units)),
            loss_coefficient: self.loss_coefficient.map(|value| value.core(units)),
            roughness: self.roughness.map(|value| value.core(units)),
            clearance: self.clearance.map(|value| value.core(units)),
            eccentricity: self.eccentricity.map(|value| value.core(units)),
            groove_width: self.groove_width.map(|value| value.core(units)),
            groove_arc: self.groove_arc.map(|value| value.core(units)),
            feed_hole: self.feed_hole.map(|value| value.core(units)),
            feed_angle: self.feed_angle.map(|value| value.core(units)),
            film_temperature_rise: self.film_temperature_rise.map(|value| value.core(units)),
            flow: self.flow.map(|value| value.core(units)),
            displacement: self.displacement.map(|value| value.core(units)),
            drive_ratio: self.drive_ratio.map(|value| value.core(units)),
            slip_flow: self.slip_flow.map(|value| value.core(units)),
            slip_pressure: self.slip_pressure.map(|value| value.core(units)),
            slip_viscosity: self.slip_viscosity.map(|value| value.core(units)),
            opening_pressure: self.opening_pressure.map(|value| value.core(units)),
            rated_flow: self.rated_flow.map(|value| value.core(units)),
            rated_pressure: self.rated_pressure.map(|value| value.core(units)),
            rated_viscosity: self.rated_viscosity.map(|value| value.core(units)),
            bypass_opening_pressure: self.bypass_opening_pressure.map(|value| value.core(units)),
            bypass_rated_flow: self.bypass_rated_flow.map(|value| value.core(units)),
            bypass_rated_pressure: self.bypass_rated_pressure.map(|value| value.core(units)),
            entry_radius: self.entry_radius.map(|value| value.core(units)),
            exit_radius: self.exit_radius.map(|value| value.core(units)),
            inner_radius: self.inner_radius.map(|value| value.core(units)),
        }
    }

    pub(super) fn of(element: &core::Element, units: Units) -> Self {
        Self {
            name: ShortText::of(&element.name),
            kind: CircuitKind::of(element.kind),
            group: Some(CircuitGroup::of(element.group)),
            from: ShortText::of(&element.from),
            to: ShortText::of(&element.to),
            count: (element.count != 1).then_some(element.count),
            bearing_feed: element.bearing_feed.map(CircuitBearingFeed::of),
            diameter: element.diameter.map(|value| LengthInput::of(value, units)),
            length: element.length.map(|value| LengthInput::of(value, units)),
            discharge_coefficient: element.discharge_coefficient.map(|value| RatioInput::of(value, units)),
            bends: element.bends.map(|value| RatioInput::of(value, units)),
            loss_coefficient: element.loss_coefficient.map(|value| RatioInput::of(value, units)),
            roughness: element.roughness.map(|value| LengthInput::of(value, units)),
            clearance: element.clearance.map(|value| LengthInput::of(value, units)),
            eccentricity: element.eccentricity.map(|value| RatioInput::of(value, units)),
            groove_width: element.groove_width.map(|value| LengthInput::of(value, units)),
            groove_arc: element.groove_arc.map(|value| AngleInput::of(value, units)),
            feed_hole: element.feed_hole.map(|value| LengthInput::of(value, units)),
            feed_angle: element.feed_angle.map(|value| AngleInput::of(value, units)),
            film_temperature_rise: element
                .film_temperature_rise
                .map(|value| TemperatureDifferenceInput::of(value, units)),
            flow: element.flow.map(|value| FlowInput::of(value, units)),
            displacement: element.displacement.map(|value| PartVolumeInput::of(value, units)),
            drive_ratio: element.drive_ratio.map(|value| RatioInput::of(value, units)),
            slip_flow: element.slip_flow.map(|value| FlowInput::of(value, units)),
            slip_pressure: element.slip_pressure.map(|value| PressureInput::of(value, units)),
            slip_viscosity: element.slip_viscosity.map(|value| DynamicViscosityInput::of(value, units)),
            opening_pressure: element.opening_pressure.map(|value| PressureInput::of(value, units)),
            rated_flow: element.rated_flow.map(|value| FlowInput::of(value, units)),
            rated_pressure: element.rated_pressure.map(|value| PressureInput::of(value, units)),
            rated_viscosity: element.rated_viscosity.map(|value| DynamicViscosityInput::of(value, units)),
            bypass_opening_pressure: element.bypass_opening_pressure.map(|value| PressureInput::of(value, units)),
            bypass_rated_flow: element.bypass_rated_flow.map(|value| FlowInput::of(value, units)),
            bypass_rated_pressure: element.bypass_rated_pressure.map(|value| PressureInput::of(value, units)),
            entry_radius: element.entry_radius.map(|value| LengthInput::of(value, units)),
            exit_radius: element.exit_radius.map(|value| LengthInput::of(value, units)),
            inner_radius: element.inner_radius.map(|value| LengthInput::of(value, units)),
        }
    }
}

macro_rules! both_ways {
    ($($wire:ident $core:ident: $($variant:ident),+;)+) => {$(
        impl $wire {
            pub(super) fn core(self) -> core::$core {
                match self { $(Self::$variant => core::$core::$variant),+ }
            }

            pub(super) fn of(core: core::$core) -> Self {
                match core { $(core::$core::$variant => Self::$variant),+ }
            }
        }
    )+};
}

both_ways! {
    CircuitKind Kind: Pump, ReliefValve, Filter, Cooler, Passage, Restrictor, Annulus, JournalBearing, RotatingDrilling, Jet,
        FixedConsumer;
    CircuitGroup Group: BottomEnd, TopEnd, Other;
    CircuitBearingFeed BearingFeed: FullGroove, PartialGroove, Hole;
}

impl CircuitNumber {
    pub(super) fn core(self) -> core::Number {
        match self {
            Self::Diameter => core::Number::Diameter,
            Self::Length => core::Number::Length,
            Self::DischargeCoefficient => core::Number::DischargeCoefficient,
            Self::Bends => core::Number::Bends,
            Self::LossCoefficient => core::Number::LossCoefficient,
            Self::Roughness => core::Number::Roughness,
            Self::Clearance => core::Number::Clearance,
            Self::Eccentricity => core::Number::Eccentricity,
            Self::GrooveWidth => core::Number::GrooveWidth,
            Self::GrooveArc => core::Number::GrooveArc,
            Self::FeedHole => core::Number::FeedHole,
            Self::FeedAngle => core::Number::FeedAngle,
            Self::FilmTemperatureRise => core::Number::FilmTemperatureRise,
            Self::Flow => core::Number::Flow,
            Self::Displacement => core::Number::Displacement,
            Self::DriveRatio => core::Number::DriveRatio,
            Self::SlipFlow => core::Number::SlipFlow,
            Self::SlipPressure => core::Number::SlipPressure,
            Self::SlipViscosity => core::Number::SlipViscosity,
            Self::OpeningPressure => core::Number::OpeningPressure,
            Self::RatedFlow => core::Number::RatedFlow,
            Self::RatedPressure => core::Number::RatedPressure,
            Self::RatedViscosity => core::Number::RatedViscosity,
            Self::BypassOpeningPressure => core::Number::BypassOpeningPressure,
            Self::BypassRatedFlow => core::Number::BypassRatedFlow,
            Self::BypassRatedPressure => core::Number::BypassRatedPressure,
            Self::EntryRadius => core::Number::EntryRadius,
            Self::ExitRadius => core::Number::ExitRadius,
            Self::InnerRadius => core::Number::InnerRadius,
        }
    }
}
