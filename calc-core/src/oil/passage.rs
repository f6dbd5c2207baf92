//! A drilled gallery: flow, pressure drop and diameter, the one of them that is missing.

use std::f64::consts::FRAC_PI_4;

use validator::{Validate, ValidationError};

use crate::caution::{About, Caution, STANDING, Severity};
use crate::error::{Error, broken_rule};
use crate::limit;
use crate::method::Method;
use crate::solve::bracketed_newton;
use crate::units::{Flow, Length, Pressure, Quantity, Ratio, Speed, Temperature};

use super::checked_oil::checked_oil;
use super::law::{OilLaw, OilState};
use super::oil_input::OilInput;
use super::passage_law::{CHANGE_OVER, Fluid, Passage, friction_factor};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "passage-flow",
    title: "Pressure drop of oil in a drilled passage",
    equation: "dp = rho v^2/2 (f l/d + K), v = 4 Q/(n pi d^2), Re = v d/nu. Friction in all regimes: f = 8 ((8/Re)^12 + (A + \
         B)^-1.5)^(1/12), A = (2.457 ln(1/((7/Re)^0.9 + 0.27 e/d)))^16, B = (37530/Re)^16, e roughness; 64/Re below Re 1000, where \
         both agree to the thirteenth digit. Open ends, entry and exit together: K = 1.5 turbulent, 2.28 laminar, a smooth step in \
         ln Re from 2000 to 4000. Each square turn: K = 1.15 + 1000/Re. Other losses: K as given. The missing one of Q, dp and d \
         is found by a bracketed root.",
    valid_for: "Round passages run full of oil without air, steady flow, any Reynolds number. Between Re 2000 and 4000 flow may be of \
         either kind (a caution). Shorter than ten diameters it is a restrictor (a caution). Turns are two drilled holes that meet \
         square, several diameters apart. Heights are left out: a foot of oil is about 0.4 psi.",
    sources: &[
        "S. W. Churchill, Friction-factor equation spans all fluid-flow regimes, Chem. Eng. 84, 24 (1977) 91",
        "W. B. Hooper, The two-K method predicts head losses in pipe fittings, Chem. Eng. 88, 17 (1981) 96 (mitred elbow of 90 degrees; \
         its term for the pipe's size is left out)",
        "F. M. White, Fluid Mechanics, chapter 6 (entry 0.5, exit 1; from memory); R. K. Shah and A. L. London, Laminar Flow Forced \
         Convection in Ducts (1.28 more for the developing profile; from memory)",
    ],
};

/// Shorter than this many diameters it is a restrictor.
const SHORT: f64 = 10.0;

/// How a passage begins and ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ends {
    /// In spaces much wider than itself.
    Open,
    /// In passages of its own size: their ends are counted elsewhere.
    Joined,
}

/// The passage, the oil, and two of diameter, flow and pressure drop.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "exactly_one_left_out", skip_on_field_errors = false))]
pub struct PassageInput {
    /// Diameter of the passage.
    #[validate(custom(function = "limit::passage_bore"))]
    pub diameter: Option<Length>,
    /// Its length along the flow.
    #[validate(custom(function = "limit::passage_length"))]
    pub length: Length,
    /// Height of its wall's roughness; smooth when not given.
    #[validate(custom(function = "limit::wall_roughness"))]
    pub roughness: Option<Length>,
    /// How it begins and ends.
    pub ends: Ends,
    /// How many square turns it makes.
    #[validate(custom(function = "limit::bends"))]
    pub bends: u32,
    /// Sum of other loss coefficients.
    #[validate(custom(function = "limit::loss_coefficient"))]
    pub loss_coefficient: Option<Ratio>,
    /// How many passages alike, side by side.
    #[validate(custom(function = "limit::alike"))]
    pub count: u32,
    /// Which oil.
    #[validate(nested)]
    pub oil: OilInput,
    /// Temperature of the oil.
    #[validate(custom(function = "limit::oil_temperature"))]
    pub temperature: Temperature,
    /// Flow through all passages together.
    #[validate(custom(function = "limit::oil_flow"))]
    pub flow: Option<Flow>,
    /// Pressure before less that behind.
    #[validate(custom(function = "limit::pressure_drop"))]
    pub pressure_drop: Option<Pressure>,
}

/// What kind of flow it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Regime {
    /// Reynolds number up to 2000.
    Laminar,
    /// From 2000 to 4000.
    Transitional,
    /// Above 4000.
    Turbulent,
}

/// Diameter, flow and pressure drop complete.
#[derive(Debug, Clone, PartialEq)]
pub struct PassageFlow {
    /// Diameter, given or found.
    pub diameter: Length,
    /// Flow through all passages together.
    pub flow: Flow,
    /// Flow through one.
    pub flow_each: Flow,
    /// The whole pressure drop.
    pub pressure_drop: Pressure,
    /// Its parts.
    pub parts: DropParts,
    /// Mean velocity.
    pub velocity: Speed,
    /// Reynolds number.
    pub reynolds_number: f64,
    /// What kind of flow it is.
    pub regime: Regime,
    /// Darcy's friction factor.
    pub friction_factor: f64,
    /// The oil in the passage.
    pub oil: OilState,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// A pressure drop by cause.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DropParts {
    /// Friction on the wall.
    pub friction: Pressure,
    /// Entry and exit.
    pub ends: Pressure,
    /// Square turns.
    pub bends: Pressure,
    /// Other losses.
    pub other: Pressure,
}

fn exactly_one_left_out(input: &PassageInput) -> Result<(), ValidationError> {
    let given = [input.diameter.is_some(), input.flow.is_some(), input.pressure_drop.is_some()];
    match given.iter().filter(|given| **given).count() {
        2 => Ok(()),
        3 => {
            let detail = "is given beside diameter and flow; leave one of the three out, it is computed.";
            Err(broken_rule("pressure_drop", "over_determined", detail.to_owned()))
        }
        _ => {
            let detail = "give exactly two of diameter, flow and pressure_drop; the third is computed.";
            Err(broken_rule("", "under_determined", detail.to_owned()))
        }
    }
}

/// Flow, pressure drop or diameter of a drilled passage from the other two.
///
/// **Equation** dp = rho v^2/2 (f l/d + K), f after Churchill, K of ends, turns and others
///
/// **Shape** Scalars; `count` passages alike, side by side.
///
/// **Units** Any.
///
/// **Valid for** Round passages full of oil, steady flow, any Reynolds number.
///
/// **Errors** [`Error::Invalid`] when a field is out of range, not exactly two of diameter, flow and pressure drop are given, or
/// the oil cannot be asked at the temperature; [`Error::NoSolution`] when no accepted diameter fits, or the flow or drop that
/// follows is outside the accepted range; [`Error::NotConverged`] when the root is not found: a fault of ours.
///
/// **Source** S. W. Churchill, Chem. Eng. 84, 24 (1977) 91; W. B. Hooper, Chem. Eng. 88, 17 (1981) 96.
pub fn evaluate(input: &PassageInput) -> Result<PassageFlow, Error> {
    let law = checked_oil(input.validate(), &input.oil, "temperature", input.temperature)?;
    let oil = law.state(input.temperature);
    let fluid =
        Fluid { density: oil.density.kilograms_per_cubic_metre(), viscosity: oil.dynamic_viscosity.pascal_seconds() };
    let count = f64::from(input.count);
    let flow_each = input.flow.map(|flow| flow.cubic_metres_per_second() / count);
    let (passage, flow) = match (input.diameter, flow_each, input.pressure_drop) {
        (Some(diameter), Some(flow), _) => (passage(input, diameter.metres()), flow),
        (Some(diameter), None, drop) => {
            let passage = passage(input, diameter.metres());
            (passage, passage.flow(fluid, drop.unwrap_or_default().pascals(), 0.0)?.0)
        }
        (None, flow, drop) => {
            let (flow, drop) = (flow.unwrap_or_default(), drop.unwrap_or_default().pascals());
            (passage(input, diameter_for(input, fluid, flow, drop)?), flow)
        }
    };
    let found = complete(&passage, fluid, flow, count, oil);
    possible(input, &found)?;
    Ok(PassageFlow { cautions: cautions(input, &found, &law), ..found })
}

fn passage(input: &PassageInput, diameter: f64) -> Passage {
    Passage {
        diameter,
        length: input.length.metres(),
        roughness: input.roughness.unwrap_or_default().metres(),
        open_ends: input.ends == Ends::Open,
        bends: f64::from(input.bends),
        loss_coefficient: input.loss_coefficient.unwrap_or_default().plain(),
    }
}

/// The diameter at which the drop is the wanted one: the drop falls as the passage widens.
fn diameter_for(input: &PassageInput, fluid: Fluid, flow: f64, drop: f64) -> Result<f64, Error> {
    let [least, most] = [limit::PASSAGE_BORE.min, limit::PASSAGE_BORE.max];
    let excess = |log: f64| (passage(input, log.exp()).drop(fluid, flow).total() / drop).ln();
    // In logarithms the drop is all but a straight line; its slope is a difference over a small step.
    let balance = |log: f64| {
        const STEP: f64 = 1e-5;
        (excess(log), (excess(log + STEP) - excess(log - STEP)) / (2.0 * STEP))
    };
    let [low, high] = [least.metres().ln(), most.metres().ln()];
    if excess(low) < 0.0 || excess(high) > 0.0 {
        let end = if excess(low) < 0.0 { least } else { most };
        let there = Pressure::from_pascals(drop * excess(end.metres().ln()).exp());
        let detail = format!(
            "of {} is not reached by any diameter from {} to {}: at {} the drop is {}.",
            Pressure::from_pascals(drop).shown(),
            least.shown(),
            most.shown(),
            end.shown(),
            there.shown()
        );
        return Err(Error::NoSolution { field: "pressure_drop", detail });
    }
    Ok(bracketed_newton("diameter of a passage", balance, low, high, 0.5 * (low + high))?.exp())
}

fn complete(passage: &Passage, fluid: Fluid, flow: f64, count: f64, oil: OilState) -> PassageFlow {
    let drop = passage.drop(fluid, flow);
    let reynolds = passage.reynolds(fluid, flow);
    PassageFlow {
        diameter: Length::from_metres(passage.diameter),
        flow: Flow::from_cubic_metres_per_second(count * flow),
        flow_each: Flow::from_cubic_metres_per_second(flow),
        pressure_drop: Pressure::from_pascals(drop.total()),
        parts: DropParts {
            friction: Pressure::from_pascals(drop.friction),
            ends: Pressure::from_pascals(drop.ends),
            bends: Pressure::from_pascals(drop.bends),
            other: Pressure::from_pascals(drop.other),
        },
        velocity: Speed::from_metres_per_second(flow / (FRAC_PI_4 * passage.diameter.powi(2))),
        reynolds_number: reynolds,
        regime: regime(reynolds),
        friction_factor: friction_factor(reynolds, passage.roughness / passage.diameter),
        oil,
        cautions: Vec::new(),
    }
}

fn regime(reynolds: f64) -> Regime {
    let [laminar, turbulent] = CHANGE_OVER;
    match reynolds {
        reynolds if reynolds <= laminar => Regime::Laminar,
        reynolds if reynolds <= turbulent => Regime::Transitional,
        _ => Regime::Turbulent,
    }
}

/// Refuses a computed flow or drop that is beyond any oil system; a tiny one is an answer like any other.
fn possible(input: &PassageInput, found: &PassageFlow) -> Result<(), Error> {
    if input.flow.is_none() {
        at_most(limit::OIL_FLOW.max, found.flow, "pressure_drop", "flow")?;
    }
    if input.pressure_drop.is_none() {
        at_most(limit::PRESSURE_DROP.max, found.pressure_drop, "flow", "pressure drop")?;
    }
    Ok(())
}

fn at_most<Q: Quantity>(most: Q, found: Q, field: &'static str, what: &str) -> Result<(), Error> {
    if found <= most {
        return Ok(());
    }
    let detail = format!("makes a {what} of {}, above the accepted {}.", found.shown(), most.shown());
    Err(Error::NoSolution { field, detail })
}

fn cautions(input: &PassageInput, found: &PassageFlow, law: &OilLaw) -> Vec<Caution> {
    let mut cautions = Vec::new();
    if let Some(diameter) = input.diameter {
        limit::PASSAGE_BORE.unusual("diameter", diameter, &mut cautions);
    }
    limit::PASSAGE_LENGTH.unusual("length", input.length, &mut cautions);
    if let Some(roughness) = input.roughness {
        limit::WALL_ROUGHNESS.unusual("roughness", roughness, &mut cautions);
    }
    if let Some(loss) = input.loss_coefficient {
        limit::LOSS_COEFFICIENT.unusual("loss_coefficient", loss, &mut cautions);
    }
    if let Some(flow) = input.flow {
        limit::OIL_FLOW.unusual("flow", flow, &mut cautions);
    }
    if let Some(drop) = input.pressure_drop {
        limit::PRESSURE_DROP.unusual("pressure_drop", drop, &mut cautions);
    }
    input.oil.cautions("oil", &mut cautions);
    input.oil.temperature_cautions(law, "temperature", input.temperature, &mut cautions);
    if found.regime == Regime::Transitional {
        let detail = "The Reynolds number is between 2000 and 4000: flow may be laminar or turbulent here, and the drop lies between.";
        cautions.push(note(
            "transitional_flow",
            "reynolds_number",
            detail,
            "S. W. Churchill, Chem. Eng. 84, 24 (1977) 91",
        ));
    }
    if input.length.metres() < SHORT * found.diameter.metres() {
        let detail =
            "Shorter than ten diameters: flow does not take its shape on the way, and a restrictor's law is nearer.";
        let source = "A. Lichtarowicz, R. K. Duggins and E. Markland, J. Mech. Eng. Sci. 7 (1965) 210";
        cautions.push(note("short_passage", "pressure_drop", detail, source));
    }
    cautions.push(STANDING);
    cautions
}

fn note(code: &'static str, path: &'static str, detail: &'static str, source: &'static str) -> Caution {
    Caution {
        code,
        severity: Severity::Caution,
        about: About::Answer,
        path: path.into(),
        detail: detail.into(),
        source,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::oil::grade::Grade;

    fn galleries() -> impl Strategy<Value = PassageInput> {
        (0.1..0.5, 2.0..40.0, 0_u32..5, any::<bool>(), 1_u32..8, 0.0..130.0, 0.2..60.0).prop_map(
            |(diameter, length, bends, open, count, celsius, psi)| PassageInput {
                diameter: Some(Length::from_inches(diameter)),
                length: Length::from_inches(length),
                roughness: None,
                ends: if open { Ends::Open } else { Ends::Joined },
                bends,
                loss_coefficient: None,
                count,
                oil: OilInput { grade: Grade::named("10W-30"), ..OilInput::default() },
                temperature: Temperature::from_degrees_celsius(celsius),
                flow: None,
                pressure_drop: Some(Pressure::from_pounds_per_square_inch(psi)),
            },
        )
    }

    proptest! {
        #[test]
        fn each_of_the_three_comes_back_from_the_other_two(input in galleries()) {
            let found = evaluate(&input)?;
            let flow = Some(found.flow);
            let drop = evaluate(&PassageInput { flow, pressure_drop: None, ..input.clone() })?.pressure_drop;
            prop_assert!((drop.pascals() / found.pressure_drop.pascals() - 1.0).abs() < 1e-8);
            let diameter = evaluate(&PassageInput { flow, diameter: None, ..input.clone() })?.diameter;
            prop_assert!((diameter.metres() / found.diameter.metres() - 1.0).abs() < 1e-7, "{:?}", diameter);
        }

        #[test]
        fn the_parts_make_the_whole_and_more_pressure_makes_more_flow(input in galleries()) {
            let found = evaluate(&input)?;
            let parts = found.parts;
            let sum = parts.friction.si() + parts.ends.si() + parts.bends.si() + parts.other.si();
            prop_assert!((sum / found.pressure_drop.si() - 1.0).abs() < 1e-12);
            let pressure_drop = input.pressure_drop.map(|drop| Pressure::from_pascals(1.01 * drop.pascals()));
            let pressed = evaluate(&PassageInput { pressure_drop, ..input.clone() })?;
            prop_assert!(pressed.flow > found.flow);
            let wider = input.diameter.map(|diameter| Length::from_metres(1.01 * diameter.metres()));
            let wider = evaluate(&PassageInput { diameter: wider, ..input.clone() })?;
            prop_assert!(wider.flow > found.flow);
        }
    }
}
