//! Gas and masses that load a crankshaft bearing: part of the request and the answer of `/v1/oil/journal-bearing`.

use calc_core::oil::bearing_load as core;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wire::Units;
use crate::wire::quantity::{
    AngleInput, AngleOutput, ForceOutput, LengthInput, MassInput, PressureInput, RatioInput, out,
};

/// What loads a crankshaft bearing; its engine speed is the journal's.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EngineLoadRequest {
    /// Cylinder bore.
    bore: LengthInput,
    /// The crank's stroke: twice its radius.
    stroke: LengthInput,
    /// Connecting rod length between the centres of its eyes; longer than the stroke.
    rod_length: LengthInput,
    /// Highest gauge pressure of the gas in the cylinder.
    gas_pressure: PressureInput,
    /// Crank angle after top centre at which it is reached; 12 degrees when absent.
    gas_angle: Option<AngleInput>,
    /// What goes up and down: piston, pin, rings and the rod's small end.
    reciprocating_mass: MassInput,
    /// What goes round with the crankpin and hangs on this bearing: the rod's big end; for a main bearing also what of crank and
    /// counterweights is unbalanced there.
    rotating_mass: MassInput,
    /// Share of the load that this bearing takes, 0 to 1: all for a rod bearing, about a half for a main bearing beside one
    /// cylinder; all when absent.
    load_share: Option<RatioInput>,
}

/// Which stroke is the worst.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum EngineLoadCase {
    /// The gas at its highest pressure.
    Firing,
    /// Inertia without gas, between exhaust and intake.
    Inertia,
}

/// The worst load and its parts.
#[derive(Debug, Serialize, ToSchema)]
pub struct EngineLoadResponse {
    /// Load on the bearing at the worst crank angle.
    load: ForceOutput,
    /// Which stroke that is.
    worst_case: EngineLoadCase,
    /// Crank angle after top centre.
    crank_angle: AngleOutput,
    /// Push of the gas on the piston there.
    gas_force: ForceOutput,
    /// Inertia of what reciprocates there, positive towards the crank.
    inertia_force: ForceOutput,
    /// Centrifugal force of what rotates.
    rotating_force: ForceOutput,
    /// Load at the highest gas pressure.
    firing_load: ForceOutput,
    /// The most that inertia alone does.
    inertia_load: ForceOutput,
}

impl EngineLoadRequest {
    pub(crate) fn core(&self, units: Units) -> core::EngineLoadInput {
        core::EngineLoadInput {
            bore: self.bore.core(units),
            stroke: self.stroke.core(units),
            rod_length: self.rod_length.core(units),
            gas_pressure: self.gas_pressure.core(units),
            gas_angle: self.gas_angle.map(|angle| angle.core(units)),
            reciprocating_mass: self.reciprocating_mass.core(units),
            rotating_mass: self.rotating_mass.core(units),
            load_share: self.load_share.map(|share| share.core(units)),
        }
    }
}

impl EngineLoadResponse {
    pub(crate) fn new(found: core::EngineLoad, units: Units) -> Self {
        Self {
            load: out(found.load, units),
            worst_case: match found.worst_case {
                core::WorstCase::Firing => EngineLoadCase::Firing,
                core::WorstCase::Inertia => EngineLoadCase::Inertia,
            },
            crank_angle: out(found.crank_angle, units),
            gas_force: out(found.gas_force, units),
            inertia_force: out(found.inertia_force, units),
            rotating_force: out(found.rotating_force, units),
            firing_load: out(found.firing_load, units),
            inertia_load: out(found.inertia_load, units),
        }
    }
}
