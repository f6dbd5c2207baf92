//! An oil at any temperature: viscosity, density, viscosity index, and the temperature of a wanted viscosity.

#[cfg(test)]
mod tests;

use validator::{Validate, ValidationError};

use crate::caution::{About, Caution, Severity};
use crate::error::{Error, all_faults};
use crate::limit;
use crate::units::{Density, DynamicViscosity, KinematicViscosity, Quantity, Temperature};

use super::grade::{Grade, GradePoint};
use super::law::{OilLaw, OilState};
use super::oil_input::OilInput;
use super::viscosity_index::viscosity_index;

/// Most temperatures of one request.
pub const MOST_TEMPERATURES: usize = 500;

/// An oil and the temperatures that are asked about.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct PropertiesInput {
    /// Which oil.
    #[validate(nested)]
    pub oil: OilInput,
    /// Temperature of the oil.
    #[validate(custom(function = "limit::oil_temperature"))]
    pub temperature: Temperature,
    /// Kinematic viscosity whose temperature is wanted.
    #[validate(custom(function = "limit::oil_viscosity"))]
    pub wanted_viscosity: Option<KinematicViscosity>,
    /// Temperatures of a table.
    #[validate(custom(function = "check_temperatures"))]
    pub temperatures: Option<Vec<Temperature>>,
}

/// The oil at the temperatures.
#[derive(Debug, Clone, PartialEq)]
pub struct Properties {
    /// At the temperature asked about.
    pub state: OilState,
    /// How little it thins with heat; none for an oil thinner than 2 mm2/s at 100 degrees C.
    pub viscosity_index: Option<f64>,
    /// Kinematic viscosity at 40 degrees C.
    pub viscosity_at_40: KinematicViscosity,
    /// Kinematic viscosity at 100 degrees C.
    pub viscosity_at_100: KinematicViscosity,
    /// Density at 15 degrees C.
    pub density_at_15: Density,
    /// A of ASTM D341.
    pub line_a: f64,
    /// B of ASTM D341.
    pub line_b: f64,
    /// Share of the viscosity left at high shear; only when the high-shear viscosity was given.
    pub high_shear_share: Option<f64>,
    /// Where the oil has the wanted viscosity.
    pub wanted_temperature: Option<Temperature>,
    /// The grade's window; only for an oil known by its grade.
    pub window: Option<Window>,
    /// One row per temperature of the table, in order.
    pub points: Vec<(Temperature, OilState)>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// What a grade leaves open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// The thinnest oil of the grade.
    pub low: WindowOil,
    /// The middle of the window.
    pub typical: WindowOil,
    /// The thickest.
    pub high: WindowOil,
    /// The viscosity index that all three are taken to have.
    pub assumed_index: f64,
    /// Least viscosity at 150 degrees C and high shear that the grade asks for.
    pub least_high_shear_viscosity: DynamicViscosity,
    /// Temperature down to which the W grade's oils are proved to be pumped.
    pub pumping_limit: Option<Temperature>,
}

/// One oil of a grade's window at the temperature asked about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WindowOil {
    /// Kinematic viscosity at 100 degrees C.
    pub viscosity_at_100: KinematicViscosity,
    /// Kinematic viscosity.
    pub kinematic_viscosity: KinematicViscosity,
    /// Dynamic viscosity.
    pub dynamic_viscosity: DynamicViscosity,
    /// Where it has the wanted viscosity.
    pub wanted_temperature: Option<Temperature>,
}

fn check_temperatures(temperatures: &[Temperature]) -> Result<(), ValidationError> {
    if temperatures.len() > MOST_TEMPERATURES {
        let detail =
            format!("asks for {} temperatures; at most {MOST_TEMPERATURES} are answered at once.", temperatures.len());
        return Err(ValidationError::new("too_many").with_message(detail.into()));
    }
    temperatures.iter().try_for_each(limit::oil_temperature)
}

/// The oil's viscosity and density at a temperature, its viscosity index, and the temperature of a wanted viscosity.
///
/// **Equation** log10 log10(nu + 0.7) = A - B log10 T; mu = nu rho; rho = rho15 exp(-a d (1 + 0.8 a d))
///
/// **Shape** One oil; up to [`MOST_TEMPERATURES`] temperatures give as many points.
///
/// **Units** Any; viscosities are at the pressure of the air.
///
/// **Valid for** Liquid petroleum oils from 1 to 2e7 mm2/s, exact from 2 mm2/s on, above the pour point.
///
/// **Errors** [`Error::Invalid`] when a field is out of range, the oil's fields contradict each other, or a temperature is
/// below the pour point or outside the equation; [`Error::NoSolution`] when no accepted temperature gives the viscosity.
///
/// **Source** ASTM D341, D2270 and D1250; SAE J300 for grades.
pub fn evaluate(input: &PropertiesInput) -> Result<Properties, Error> {
    all_faults(input.validate(), rules(input))?;
    let law = input.oil.law()?;
    let at = |celsius: f64| law.state(Temperature::from_degrees_celsius(celsius)).kinematic_viscosity;
    let wanted_temperature = match input.wanted_viscosity {
        Some(wanted) => Some(wanted_temperature(input, &law, wanted)?),
        None => None,
    };
    let list = input.temperatures.iter().flatten();
    Ok(Properties {
        state: law.state(input.temperature),
        viscosity_index: viscosity_index(at(40.0), at(100.0)),
        viscosity_at_40: at(40.0),
        viscosity_at_100: at(100.0),
        density_at_15: law.density_15(),
        line_a: law.a(),
        line_b: law.b(),
        high_shear_share: law.high_shear_share(),
        wanted_temperature,
        window: input.oil.grade.map(|grade| window(input, grade)).transpose()?,
        points: list.map(|temperature| (*temperature, law.state(*temperature))).collect(),
        cautions: cautions(input, &law, wanted_temperature),
    })
}

/// What only the oil's law can judge: none while the oil itself is at fault.
fn rules(input: &PropertiesInput) -> Vec<ValidationError> {
    let (Ok(()), Ok(law)) = (input.oil.validate(), input.oil.law()) else { return Vec::new() };
    let list = input.temperatures.iter().flatten().take(MOST_TEMPERATURES).enumerate();
    let mut temperatures = vec![("temperature".to_owned(), input.temperature)];
    temperatures.extend(list.map(|(index, temperature)| (format!("temperatures/{index}"), *temperature)));
    let accepted =
        temperatures.into_iter().filter(|(_, temperature)| limit::OIL_TEMPERATURE.check(temperature).is_ok());
    accepted.filter_map(|(field, temperature)| input.oil.temperature_fault(&law, &field, temperature)).collect()
}

fn wanted_temperature(input: &PropertiesInput, law: &OilLaw, wanted: KinematicViscosity) -> Result<Temperature, Error> {
    let found = law.temperature_of(wanted);
    let limit = limit::OIL_TEMPERATURE;
    let field = "wanted_viscosity";
    if limit.check(&found).is_err() {
        let [thickest, thinnest] = [limit.min, limit.max].map(|end| law.state(end).kinematic_viscosity.shown());
        let detail = format!(
            "would be reached at {}, outside {} to {}, where the oil has {thickest} to {thinnest}.",
            found.shown(),
            limit.min.shown(),
            limit.max.shown()
        );
        return Err(Error::NoSolution { field, detail });
    }
    if let Some(fault) = input.oil.temperature_fault(law, field, found) {
        let reason = fault.message.as_ref().map_or_else(String::new, ToString::to_string);
        return Err(Error::NoSolution { field, detail: format!("is reached at a temperature that {reason}") });
    }
    Ok(found)
}

fn window(input: &PropertiesInput, grade: Grade) -> Result<Window, Error> {
    let oil = |point| -> Result<WindowOil, Error> {
        let law = OilInput { grade_point: Some(point), ..input.oil.clone() }.law()?;
        let state = law.state(input.temperature);
        Ok(WindowOil {
            viscosity_at_100: grade.viscosity_at_100(point),
            kinematic_viscosity: state.kinematic_viscosity,
            dynamic_viscosity: state.dynamic_viscosity,
            wanted_temperature: input.wanted_viscosity.map(|wanted| law.temperature_of(wanted)),
        })
    };
    Ok(Window {
        low: oil(GradePoint::Low)?,
        typical: oil(GradePoint::Typical)?,
        high: oil(GradePoint::High)?,
        assumed_index: grade.assumed_index(),
        least_high_shear_viscosity: grade.least_high_shear(),
        pumping_limit: grade.pumping_limit(),
    })
}

fn cautions(input: &PropertiesInput, law: &OilLaw, wanted: Option<Temperature>) -> Vec<Caution> {
    let mut cautions = Vec::new();
    input.oil.cautions("oil", &mut cautions);
    input.oil.temperature_cautions(law, "temperature", input.temperature, &mut cautions);
    if let Some(wanted) = wanted {
        input.oil.temperature_cautions(law, "wanted_viscosity", wanted, &mut cautions);
    }
    for (index, temperature) in input.temperatures.iter().flatten().enumerate() {
        input.oil.temperature_cautions(law, &format!("temperatures/{index}"), *temperature, &mut cautions);
    }
    if law.high_shear_share().is_some() {
        cautions.push(Caution {
            code: "high_shear_share_assumed",
            severity: Severity::Note,
            about: About::Answer,
            path: "high_shear_viscosity".into(),
            detail: "Measured at 150 degrees C and 1e6 1/s; the share that is left of the viscosity is taken as the same at every \
                     temperature. Where the oil is sheared less, it is thicker than this."
                .into(),
            source: crate::caution::COMMON_PRACTICE,
        });
    }
    cautions
}
