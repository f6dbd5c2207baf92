//! Leakage of a round part in its bore: a lifter, a pin in its bush, a plunger.

use validator::{Validate, ValidationError};

use crate::caution::{About, Caution, STANDING, Severity};
use crate::error::{Error, broken_rule};
use crate::limit;
use crate::method::Method;
use crate::units::{Flow, Length, Pressure, Quantity, Ratio, Speed, Temperature};

use super::annulus_law::Annulus;
use super::checked_oil::checked_oil;
use super::law::{OilLaw, OilState};
use super::oil_input::OilInput;

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "annular-leakage",
    title: "Leakage of oil along a thin annular gap",
    equation: "Q = n pi D c^3 dp (1 + 1.5 e^2)/(12 mu l); D diameter of the bore, c radial clearance (half the difference of the \
         diameters), e how far the part is off centre as a share of c, l length of the gap, mu dynamic viscosity, n gaps alike. \
         Inverse in closed form: c = (12 mu l Q/(n pi D dp (1 + 1.5 e^2)))^(1/3). Reynolds number v 2 c/nu with v = Q/(n pi D c).",
    valid_for: "A gap thinner than a tenth of the radius, laminar flow (Reynolds number below 2000; above, a caution), a part that lies \
         parallel to its bore: a tilted one leaks an amount between. Against the wall (e = 1) 2.5 times the centred leakage. Left \
         out: what a moving part drags along, and the losses of entry and exit, which lower the flow of a short wide gap (a \
         caution where they matter).",
    sources: &[
        "R. B. Bird, W. E. Stewart and E. N. Lightfoot, Transport Phenomena, 2nd edition, section 2.4 (flow through an \
         annulus, of which a thin one is the limit; from memory)",
        "H. E. Merritt, Hydraulic Control Systems, section 3-2 (leakage past an eccentric piston; from memory)",
    ],
};

/// Laminar up to this Reynolds number, on twice the clearance.
const LAMINAR: f64 = 2000.0;
/// Share of the pressure drop that entry and exit may take before it is worth a caution.
const INERTIA: f64 = 0.05;

/// The gap, the oil, and the pressure across it; the clearance, or the leakage that it should have.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "clearance_or_flow", skip_on_field_errors = false))]
#[validate(schema(function = "gap_is_thin", skip_on_field_errors = false))]
pub struct AnnulusInput {
    /// Diameter of the bore.
    #[validate(custom(function = "limit::gap_diameter"))]
    pub diameter: Length,
    /// Diameter of the bore less that of the part; or the wanted flow.
    #[validate(custom(function = "limit::gap_clearance"))]
    pub clearance: Option<Length>,
    /// Length of the gap along the flow.
    #[validate(custom(function = "limit::gap_length"))]
    pub length: Length,
    /// Off centre as a share of the radial clearance; centred when not given.
    #[validate(custom(function = "limit::share"))]
    pub eccentricity: Option<Ratio>,
    /// How many gaps alike.
    #[validate(custom(function = "limit::alike"))]
    pub count: u32,
    /// Which oil.
    #[validate(nested)]
    pub oil: OilInput,
    /// Temperature of the oil in the gap.
    #[validate(custom(function = "limit::oil_temperature"))]
    pub temperature: Temperature,
    /// Pressure before the gap less that behind it.
    #[validate(custom(function = "limit::pressure_drop"))]
    pub pressure_drop: Pressure,
    /// Leakage wanted of all gaps together, instead of the clearance.
    #[validate(custom(function = "limit::oil_flow"))]
    pub wanted_flow: Option<Flow>,
}

/// What leaks.
#[derive(Debug, Clone, PartialEq)]
pub struct AnnulusLeakage {
    /// Of all gaps together.
    pub flow: Flow,
    /// Of one gap.
    pub flow_each: Flow,
    /// Of all gaps with every part centred: the least.
    pub flow_centred: Flow,
    /// Of all gaps with every part against its wall: the most.
    pub flow_against_wall: Flow,
    /// Diameter of the bore less that of the part, given or found.
    pub clearance: Length,
    /// Mean velocity in the gap.
    pub velocity: Speed,
    /// On twice the radial clearance.
    pub reynolds_number: f64,
    /// The oil in the gap.
    pub oil: OilState,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

fn clearance_or_flow(input: &AnnulusInput) -> Result<(), ValidationError> {
    match (input.clearance, input.wanted_flow) {
        (Some(_), Some(_)) => {
            let detail = "is given beside clearance; give one of the two, the other is computed.";
            Err(broken_rule("wanted_flow", "over_determined", detail.to_owned()))
        }
        (None, None) => {
            Err(broken_rule("clearance", "missing", "is missing: give it, or wanted_flow to find it.".to_owned()))
        }
        _ => Ok(()),
    }
}

fn gap_is_thin(input: &AnnulusInput) -> Result<(), ValidationError> {
    let most = thickest(input.diameter);
    match input.clearance.filter(|clearance| *clearance > most) {
        Some(clearance) => Err(broken_rule(
            "clearance",
            "contradiction",
            format!(
                "must be at most a tenth of the diameter, {}, to be a thin gap; got {}.",
                most.shown(),
                clearance.shown()
            ),
        )),
        None => Ok(()),
    }
}

fn thickest(diameter: Length) -> Length {
    Length::from_metres(diameter.metres() / 10.0)
}

/// What leaks along a thin annular gap, or the clearance that leaks a wanted flow.
///
/// **Equation** Q = n pi D c^3 dp (1 + 1.5 e^2)/(12 mu l)
///
/// **Shape** Scalars; `count` gaps alike.
///
/// **Units** Any; clearance on the diameter.
///
/// **Valid for** c below a tenth of the radius; laminar flow; parallel axes.
///
/// **Errors** [`Error::Invalid`] when a field is out of range, not exactly one of clearance and wanted flow is given, the gap is
/// not thin, or the oil cannot be asked at the temperature; [`Error::NoSolution`] when the clearance for the wanted flow is
/// outside the accepted range.
///
/// **Source** Bird, Stewart and Lightfoot, Transport Phenomena, section 2.4; Merritt, Hydraulic Control Systems, section 3-2.
pub fn evaluate(input: &AnnulusInput) -> Result<AnnulusLeakage, Error> {
    let law = checked_oil(input.validate(), &input.oil, "temperature", input.temperature)?;
    let oil = law.state(input.temperature);
    let (count, drop) = (f64::from(input.count), input.pressure_drop.pascals());
    let gap = |clearance: f64, eccentricity: f64| Annulus {
        diameter: input.diameter.metres(),
        radial_clearance: clearance / 2.0,
        length: input.length.metres(),
        eccentricity,
    };
    let flow = |gap: Annulus| count * gap.conductance(oil.dynamic_viscosity.pascal_seconds()) * drop;
    let eccentricity = input.eccentricity.unwrap_or_default().plain();
    let clearance = match (input.clearance, input.wanted_flow) {
        (Some(clearance), _) => clearance,
        (None, wanted) => {
            let per_cube = flow(gap(2.0, eccentricity));
            let wanted = wanted.unwrap_or_default().cubic_metres_per_second();
            possible(input, Length::from_metres(2.0 * (wanted / per_cube).cbrt()))?
        }
    };
    let here = gap(clearance.metres(), eccentricity);
    let velocity = flow(here) / (count * here.area());
    let of = |eccentricity| Flow::from_cubic_metres_per_second(flow(gap(clearance.metres(), eccentricity)));
    let found = AnnulusLeakage {
        flow: of(eccentricity),
        flow_each: Flow::from_cubic_metres_per_second(flow(here) / count),
        flow_centred: of(0.0),
        flow_against_wall: of(1.0),
        clearance,
        velocity: Speed::from_metres_per_second(velocity),
        reynolds_number: velocity * clearance.metres() / oil.kinematic_viscosity.square_metres_per_second(),
        oil,
        cautions: Vec::new(),
    };
    Ok(AnnulusLeakage { cautions: cautions(input, &found, &law), ..found })
}

/// A computed clearance inside the accepted range and thin.
fn possible(input: &AnnulusInput, clearance: Length) -> Result<Length, Error> {
    let most = thickest(input.diameter);
    if limit::GAP_CLEARANCE.check(&clearance).is_ok() && clearance <= most {
        return Ok(clearance);
    }
    let limit = limit::GAP_CLEARANCE;
    let most = if most < limit.max { most } else { limit.max };
    Err(Error::NoSolution {
        field: "wanted_flow",
        detail: format!(
            "would need a clearance of {}; a thin gap here has {} to {}.",
            clearance.shown(),
            limit.min.shown(),
            most.shown()
        ),
    })
}

fn cautions(input: &AnnulusInput, found: &AnnulusLeakage, law: &OilLaw) -> Vec<Caution> {
    let mut cautions = Vec::new();
    limit::GAP_DIAMETER.unusual("diameter", input.diameter, &mut cautions);
    if input.clearance.is_some() {
        limit::GAP_CLEARANCE.unusual("clearance", found.clearance, &mut cautions);
    }
    limit::GAP_LENGTH.unusual("length", input.length, &mut cautions);
    limit::PRESSURE_DROP.unusual("pressure_drop", input.pressure_drop, &mut cautions);
    input.oil.cautions("oil", &mut cautions);
    input.oil.temperature_cautions(law, "temperature", input.temperature, &mut cautions);
    let (reynolds, velocity) = (found.reynolds_number, found.velocity.metres_per_second());
    if reynolds > LAMINAR {
        cautions.push(about_flow(
            "gap_not_laminar",
            format!(
                "The Reynolds number is {reynolds:.0}: above {LAMINAR} the flow is turbulent and less than computed."
            ),
        ));
    }
    // One and a half velocity heads, as of a sharp entry and an exit into the open.
    let inertia =
        0.75 * found.oil.density.kilograms_per_cubic_metre() * velocity * velocity / input.pressure_drop.pascals();
    if inertia > INERTIA {
        cautions.push(about_flow("entry_losses_left_out", format!(
            "Entry and exit would take {:.0} percent of the pressure: the flow is less than computed. For a gap as short as this \
             a restrictor's law is nearer.",
            100.0 * inertia.min(1.0)
        )));
    }
    cautions.push(STANDING);
    cautions
}

fn about_flow(code: &'static str, detail: String) -> Caution {
    Caution {
        code,
        severity: Severity::Caution,
        about: About::Answer,
        path: "flow".into(),
        detail: detail.into(),
        source: "F. M. White, Fluid Mechanics, chapter 6 (laminar flow up to Reynolds numbers of about 2000; from memory)",
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::oil::grade::Grade;

    fn lifters() -> impl Strategy<Value = AnnulusInput> {
        (0.5..1.2, 0.0005..0.004, 0.5..3.0, 0.0..1.0, 1_u32..32, 0.0..130.0, 1.0..100.0).prop_map(
            |(diameter, clearance, length, eccentricity, count, celsius, psi)| AnnulusInput {
                diameter: Length::from_inches(diameter),
                clearance: Some(Length::from_inches(clearance)),
                length: Length::from_inches(length),
                eccentricity: Some(Ratio::from_plain(eccentricity)),
                count,
                oil: OilInput { grade: Grade::named("10W-30"), ..OilInput::default() },
                temperature: Temperature::from_degrees_celsius(celsius),
                pressure_drop: Pressure::from_pounds_per_square_inch(psi),
                wanted_flow: None,
            },
        )
    }

    proptest! {
        #[test]
        fn the_clearance_for_a_flow_gives_back_the_flow(input in lifters()) {
            let found = evaluate(&input)?;
            // A flow outside the accepted range is no input.
            prop_assume!(limit::OIL_FLOW.check(&found.flow).is_ok());
            let back = evaluate(&AnnulusInput { clearance: None, wanted_flow: Some(found.flow), ..input.clone() })?;
            prop_assert!((back.clearance.metres() / found.clearance.metres() - 1.0).abs() < 1e-12);
            prop_assert!((back.flow.si() / found.flow.si() - 1.0).abs() < 1e-12);
        }

        #[test]
        fn the_flow_is_between_centred_and_against_the_wall_and_follows_count_and_pressure(input in lifters()) {
            let found = evaluate(&input)?;
            prop_assert!(found.flow >= found.flow_centred && found.flow <= found.flow_against_wall);
            prop_assert!((found.flow_against_wall.si() / found.flow_centred.si() - 2.5).abs() < 1e-12);
            prop_assert!((found.flow.si() / found.flow_each.si() - f64::from(input.count)).abs() < 1e-9);
            let twice = Pressure::from_pascals(2.0 * input.pressure_drop.pascals());
            let doubled = evaluate(&AnnulusInput { pressure_drop: twice, ..input.clone() })?;
            prop_assert!((doubled.flow.si() / found.flow.si() - 2.0).abs() < 1e-12);
        }
    }
}
