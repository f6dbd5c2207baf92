//! What may be asked of an oil circuit beside its balance: a rule, a sweep, a map, a diameter.

use calc_core::oil::circuit as core;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wire::quantity::{
    DynamicViscosityInput, EngineSpeedInput, FlowInput, LengthInput, PartVolumeInput, PressureInput, RatioInput,
    TemperatureInput,
};
use crate::wire::{ShortText, Units};

use super::circuit_element::CircuitNumber;

/// What pressure is wanted where; the larger of both when both are given.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CircuitRule {
    /// Name of the node.
    node: ShortText,
    /// Pressure wanted for every 1,000 rev/min.
    #[serde(skip_serializing_if = "Option::is_none")]
    per_thousand_revolutions: Option<PressureInput>,
    /// Pressure wanted at any speed.
    #[serde(skip_serializing_if = "Option::is_none")]
    least: Option<PressureInput>,
}

/// One number of one element over several values: one list, that of the number's kind.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CircuitSweep {
    /// Name of the element.
    element: ShortText,
    /// Which of its numbers.
    number: CircuitNumber,
    /// Values of a length, a diameter, a clearance or a radius.
    #[schema(max_items = 400)]
    #[serde(skip_serializing_if = "Option::is_none")]
    lengths: Option<Vec<LengthInput>>,
    /// Values of a pressure.
    #[schema(max_items = 400)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pressures: Option<Vec<PressureInput>>,
    /// Values of a flow.
    #[schema(max_items = 400)]
    #[serde(skip_serializing_if = "Option::is_none")]
    flows: Option<Vec<FlowInput>>,
    /// Values of a pump's displacement.
    #[schema(max_items = 400)]
    #[serde(skip_serializing_if = "Option::is_none")]
    volumes: Option<Vec<PartVolumeInput>>,
    /// Values of a viscosity.
    #[schema(max_items = 400)]
    #[serde(skip_serializing_if = "Option::is_none")]
    viscosities: Option<Vec<DynamicViscosityInput>>,
    /// Values of a number without a unit.
    #[schema(max_items = 400)]
    #[serde(skip_serializing_if = "Option::is_none")]
    ratios: Option<Vec<RatioInput>>,
}

/// Speeds times temperatures, at most 400 points.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CircuitMap {
    /// Speeds of the crankshaft.
    #[schema(max_items = 400)]
    engine_speeds: Vec<EngineSpeedInput>,
    /// Temperatures of the oil.
    #[schema(max_items = 400)]
    oil_temperatures: Vec<TemperatureInput>,
}

/// The diameter of one element that gives one wanted thing: give one of flow, share and pressure.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CircuitSize {
    /// Name of the passage, drilling, restrictor or jet whose diameter is sought.
    element: ShortText,
    /// Smallest diameter that may be.
    smallest: LengthInput,
    /// Largest diameter that may be.
    largest: LengthInput,
    /// Name of the element whose flow or share is wanted, or of the node whose pressure is.
    at: ShortText,
    /// Flow wanted through that element, all side by side.
    #[serde(skip_serializing_if = "Option::is_none")]
    flow: Option<FlowInput>,
    /// Share of the supply wanted through that element.
    #[serde(skip_serializing_if = "Option::is_none")]
    share: Option<RatioInput>,
    /// Pressure wanted at that node.
    #[serde(skip_serializing_if = "Option::is_none")]
    pressure: Option<PressureInput>,
}

impl CircuitRule {
    pub(super) fn core(&self, units: Units) -> core::PressureRule {
        core::PressureRule {
            node: self.node.as_str().to_owned(),
            per_thousand_revolutions: self.per_thousand_revolutions.map(|pressure| pressure.core(units)),
            least: self.least.map(|pressure| pressure.core(units)),
        }
    }

    pub(super) fn of(rule: &core::PressureRule, units: Units) -> Self {
        Self {
            node: ShortText::of(&rule.node),
            per_thousand_revolutions: rule.per_thousand_revolutions.map(|one| PressureInput::of(one, units)),
            least: rule.least.map(|one| PressureInput::of(one, units)),
        }
    }
}

impl CircuitSweep {
    pub(super) fn core(&self, units: Units) -> core::Sweep {
        core::Sweep {
            element: self.element.as_str().to_owned(),
            number: self.number.core(),
            values: core::Values {
                lengths: self.lengths.as_ref().map(|list| list.iter().map(|one| one.core(units)).collect()),
                pressures: self.pressures.as_ref().map(|list| list.iter().map(|one| one.core(units)).collect()),
                flows: self.flows.as_ref().map(|list| list.iter().map(|one| one.core(units)).collect()),
                volumes: self.volumes.as_ref().map(|list| list.iter().map(|one| one.core(units)).collect()),
                viscosities: self.viscosities.as_ref().map(|list| list.iter().map(|one| one.core(units)).collect()),
                ratios: self.ratios.as_ref().map(|list| list.iter().map(|one| one.core(units)).collect()),
            },
        }
    }
}

impl CircuitMap {
    pub(super) fn core(&self, units: Units) -> core::OperatingMap {
        core::OperatingMap {
            engine_speeds: self.engine_speeds.iter().map(|speed| speed.core(units)).collect(),
            oil_temperatures: self.oil_temperatures.iter().map(|temperature| temperature.core(units)).collect(),
        }
    }
}

impl CircuitSize {
    pub(super) fn core(&self, units: Units) -> core::Size {
        core::Size {
            element: self.element.as_str().to_owned(),
            smallest: self.smallest.core(units),
            largest: self.largest.core(units),
            at: self.at.as_str().to_owned(),
            flow: self.flow.map(|flow| flow.core(units)),
            share: self.share.map(|share| share.core(units)),
            pressure: self.pressure.map(|pressure| pressure.core(units)),
        }
    }
}
