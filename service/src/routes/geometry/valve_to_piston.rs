//! `/v1/geometry/valve-to-piston`

use calc_core::error::Error;
use calc_core::geometry::valve_to_piston as core;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{AngleInput, LengthInput, LengthOutput, out};

/// A measured clearance and what is changed.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ValveToPistonRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// Which valve.
    valve: ValveToPistonValve,
    /// Smallest clearance over the crank circle, as measured before the changes.
    measured_clearance: LengthInput,
    /// The direction in which it was measured.
    measured_along: ValveToPistonDirection,
    /// Valve axis to bore axis, 0 to 60 degrees; 0 when absent.
    valve_inclination: Option<AngleInput>,
    /// What the valve comes close to.
    crown: ValveToPistonCrown,
    /// Taken off the block's deck; nothing when absent.
    deck_cut: Option<LengthInput>,
    /// Taken off the head's face; nothing when absent.
    head_cut: Option<LengthInput>,
    /// New compressed gasket thickness less the old one: negative for a thinner gasket; none when absent.
    gasket_change: Option<LengthInput>,
    /// How much deeper the valve sits in the head, along its axis; negative when it stands out further; none when absent.
    valve_sinking: Option<LengthInput>,
    /// The smallest clearance along the valve that the part maker allows.
    least_clearance: Option<LengthInput>,
}

/// Which valve.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum ValveToPistonValve {
    /// Lets the charge in.
    Intake,
    /// Lets the burnt gas out.
    Exhaust,
}

/// The direction of a measurement.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum ValveToPistonDirection {
    /// Along the bore: the piston was moved, or clay measured upright.
    Bore,
    /// Along the valve: the valve was pushed down until it touched.
    Valve,
}

/// What a valve comes close to.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum ValveToPistonCrown {
    /// A relief whose floor is parallel to the valve's head.
    Relief,
    /// A crown square to the bore.
    Flat,
}

/// The clearance before and after.
#[derive(Debug, Serialize, ToSchema)]
pub struct ValveToPistonResponse {
    /// Unit system of the answer.
    units: Units,
    /// As measured.
    before: ValveToPistonGap,
    /// After the changes; negative when valve and piston would run into each other.
    after: ValveToPistonGap,
    /// After less before.
    change: ValveToPistonGap,
    /// What may still come off deck or head before the least clearance is reached, negative when it is passed; only with a least
    /// clearance.
    #[serde(skip_serializing_if = "Option::is_none")]
    cut_left: Option<LengthOutput>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// A clearance, or a change of it, in both directions.
#[derive(Debug, Serialize, ToSchema)]
pub struct ValveToPistonGap {
    /// Along the bore.
    along_bore: LengthOutput,
    /// Along the valve.
    along_valve: LengthOutput,
}

/// The calculation.
pub struct ValveToPiston;

impl Calculation for ValveToPiston {
    const PATH: &'static str = "/v1/geometry/valve-to-piston";
    const SUMMARY: &'static str = "What cuts, gaskets and sunk valves do to a measured valve-to-piston clearance";
    const DESCRIPTION: &'static str = "One for one along the bore; along an inclined valve by its cosine. What milling a head \
        does to the chamber's volume is another calculation.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id];
    const DEFAULT_FIELD: &'static str = "after.along_valve";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/geometry/valve_to_piston.json");
    type Request = ValveToPistonRequest;
    type Response = ValveToPistonResponse;

    fn run(request: ValveToPistonRequest) -> Result<ValveToPistonResponse, Error> {
        let units = request.units;
        let length = |length: Option<LengthInput>| length.map(|length| length.core(units));
        let found = core::evaluate(&core::ValveToPistonInput {
            valve: match request.valve {
                ValveToPistonValve::Intake => core::Valve::Intake,
                ValveToPistonValve::Exhaust => core::Valve::Exhaust,
            },
            measured_clearance: request.measured_clearance.core(units),
            measured_along: match request.measured_along {
                ValveToPistonDirection::Bore => core::Along::Bore,
                ValveToPistonDirection::Valve => core::Along::Valve,
            },
            valve_inclination: request.valve_inclination.map(|angle| angle.core(units)).unwrap_or_default(),
            crown: match request.crown {
                ValveToPistonCrown::Relief => core::Crown::Relief,
                ValveToPistonCrown::Flat => core::Crown::Flat,
            },
            deck_cut: length(request.deck_cut).unwrap_or_default(),
            head_cut: length(request.head_cut).unwrap_or_default(),
            gasket_change: length(request.gasket_change).unwrap_or_default(),
            valve_sinking: length(request.valve_sinking).unwrap_or_default(),
            least_clearance: length(request.least_clearance),
        })?;
        let gap = |gap: core::Gap| ValveToPistonGap {
            along_bore: out(gap.along_bore, units),
            along_valve: out(gap.along_valve, units),
        };
        Ok(ValveToPistonResponse {
            units,
            before: gap(found.before),
            after: gap(found.after),
            change: gap(found.change),
            cut_left: found.cut_left.map(|cut| out(cut, units)),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}
