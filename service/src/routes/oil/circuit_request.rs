//! An oil circuit as it travels, in the request and, written by the service itself, in a budget's answer.

use calc_core::oil::circuit as core;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wire::quantity::{EngineSpeedInput, FlowSpeedInput, PressureInput, TemperatureInput};
use crate::wire::{ShortText, Units};

use super::circuit_element::CircuitElement;
use super::circuit_study::{CircuitMap, CircuitRule, CircuitSize, CircuitSweep};
use super::oil_request::OilRequest;

/// Nodes, what joins them, the oil and how the engine runs.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CircuitRequest {
    /// Unit system of bare numbers and of the answer.
    pub(super) units: Units,
    /// Which oil.
    pub(super) oil: OilRequest,
    /// Temperature of the oil in the whole circuit.
    pub(super) oil_temperature: TemperatureInput,
    /// Speed of the crankshaft.
    pub(super) engine_speed: EngineSpeedInput,
    /// Places that have one pressure, 2 to 1000; at least one of known pressure.
    #[schema(min_items = 2, max_items = 1000)]
    pub(super) nodes: Vec<CircuitNode>,
    /// What joins them, 1 to 1000; every node must be tied to a known pressure.
    #[schema(min_items = 1, max_items = 1000)]
    pub(super) elements: Vec<CircuitElement>,
    /// Your rule for the pressure at a place, such as the farthest main bearing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) pressure_rule: Option<CircuitRule>,
    /// Your limit for the velocity in passages and drillings.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) velocity_limit: Option<FlowSpeedInput>,
    /// Names of nodes whose pressures are wanted in sweep and map, at most 50.
    #[schema(max_items = 50)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) watch: Option<Vec<ShortText>>,
    /// One number of one element over several values.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) sweep: Option<CircuitSweep>,
    /// Speeds times temperatures.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) map: Option<CircuitMap>,
    /// The diameter of one element that gives a wanted flow, share or pressure.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) size: Option<CircuitSize>,
}

/// A place that has one pressure.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CircuitNode {
    /// What it is called; the only one of that name.
    pub(super) name: ShortText,
    /// Gauge pressure when it is known, such as 0 of the sump; found when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pressure: Option<PressureInput>,
}

impl CircuitRequest {
    pub(super) fn core(&self) -> core::CircuitInput {
        let units = self.units;
        core::CircuitInput {
            oil: self.oil.core(units),
            oil_temperature: self.oil_temperature.core(units),
            engine_speed: self.engine_speed.core(units),
            nodes: self.nodes.iter().map(|node| node.core(units)).collect(),
            elements: self.elements.iter().map(|element| element.core(units)).collect(),
            pressure_rule: self.pressure_rule.as_ref().map(|rule| rule.core(units)),
            velocity_limit: self.velocity_limit.map(|limit| limit.core(units)),
            watch: self.watch.iter().flatten().map(|name| name.as_str().to_owned()).collect(),
            sweep: self.sweep.as_ref().map(|sweep| sweep.core(units)),
            map: self.map.as_ref().map(|map| map.core(units)),
            size: self.size.as_ref().map(|size| size.core(units)),
        }
    }

    /// A circuit that the core made, with the oil as it was given.
    pub(super) fn of(input: &core::CircuitInput, oil: OilRequest, units: Units) -> Self {
        Self {
            units,
            oil,
            oil_temperature: TemperatureInput::of(input.oil_temperature, units),
            engine_speed: EngineSpeedInput::of(input.engine_speed, units),
            nodes: input.nodes.iter().map(|node| CircuitNode::of(node, units)).collect(),
            elements: input.elements.iter().map(|element| CircuitElement::of(element, units)).collect(),
            pressure_rule: input.pressure_rule.as_ref().map(|rule| CircuitRule::of(rule, units)),
            velocity_limit: input.velocity_limit.map(|limit| FlowSpeedInput::of(limit, units)),
            watch: None,
            sweep: None,
            map: None,
            size: None,
        }
    }
}

impl CircuitNode {
    fn core(&self, units: Units) -> core::Node {
        core::Node { name: self.name.as_str().to_owned(), pressure: self.pressure.map(|pressure| pressure.core(units)) }
    }

    fn of(node: &core::Node, units: Units) -> Self {
        Self {
            name: ShortText::of(&node.name),
            pressure: node.pressure.map(|pressure| PressureInput::of(pressure, units)),
        }
    }
}
