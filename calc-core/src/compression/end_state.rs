//! Pressure and temperature at the end of compression, and the band of cranking pressure.

use validator::{Validate, ValidationError};

use crate::caution::{About, COMMON_PRACTICE, Caution, STANDING, Severity};
use crate::error::{Error, broken_rule};
use crate::limit;
use crate::method::Method;
use crate::units::{Pressure, Ratio, Temperature};

use super::gas::Gas;
use super::standard_atmosphere::Air;

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "end-of-compression",
    title: "End of compression of dry air with variable heat capacity",
    equation: "s0(T2) - s0(T1) = R ln(ratio T2/T1), p2 = p1 ratio T2/T1: no friction, no heat. s0/R = a1 ln T + a2 T + a3 T^2/2 + a4 \
         T^3/3 + a5 T^4/4 + a7 and cp/R its slope times T, by NASA seven-coefficient polynomials for nitrogen, oxygen and argon \
         0.78 : 0.21 : 0.01 by amount. Polytropic instead: p2 = p1 ratio^n, T2 = T1 ratio^(n - 1). Cranking gauge pressure: pa \
         (ratio^n - 1), n from 1.2 to 1.3. Mean exponent: ln(p2/p1)/ln(ratio).",
    valid_for: "Ratios from 1.01 to 40, the trapped ratio of the seated valve rather than the static one; start from -60 to 250 \
         degrees C. Ideal gas: real air's pressure is higher by about 1.2 to 1.8 percent at ratios 8 to 12 from 20 degrees C and \
         one atmosphere, and by 0.7 to 2.9 percent over ratios 6 to 16 and -20 to 80 degrees C. A fired engine's charge also \
         holds fuel vapour and residual gas and loses heat: its mean exponent is nearer 1.3 than 1.37.",
    sources: &[
        "M. J. Moran and H. N. Shapiro, Fundamentals of Engineering Thermodynamics, chapter 9 (air-standard compression)",
        "Coefficients: Cantera's public data file air.yaml, from GRI-Mech 3.0",
        "J. B. Heywood, Internal Combustion Engine Fundamentals, 1st edition, section 5.2 and 9.2 (polytropic exponents; from memory)",
    ],
};

/// How the gas is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GasModel {
    /// Dry air with variable heat capacity, no heat lost.
    DryAir,
    /// p V^n constant with a given exponent.
    Polytropic,
}

/// The state at the start and the ratio.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "exponent_belongs_to_polytropic", skip_on_field_errors = false))]
pub struct EndStateInput {
    /// Volume at the start over volume at the end.
    #[validate(custom(function = "limit::compression_ratio"))]
    pub ratio: Ratio,
    /// Absolute pressure at the start.
    #[validate(custom(function = "limit::charge_pressure"))]
    pub start_pressure: Pressure,
    /// Temperature at the start.
    #[validate(custom(function = "limit::charge_temperature"))]
    pub start_temperature: Temperature,
    /// How the gas is taken.
    pub gas_model: GasModel,
    /// Exponent of a polytropic compression.
    #[validate(custom(function = "limit::polytropic_exponent"))]
    pub polytropic_exponent: Option<Ratio>,
    /// Absolute pressure of the air around, for the cranking pressure; the start pressure when not given.
    #[validate(custom(function = "limit::charge_pressure"))]
    pub ambient_pressure: Option<Pressure>,
}

/// The state at the end.
#[derive(Debug, Clone, PartialEq)]
pub struct EndState {
    /// Absolute pressure.
    pub end_pressure: Pressure,
    /// Temperature.
    pub end_temperature: Temperature,
    /// End pressure over start pressure.
    pub pressure_ratio: f64,
    /// The exponent of the polytropic compression with the same ends.
    pub mean_exponent: f64,
    /// What a gauge at the spark plug hole may show on the starter.
    pub cranking: CrankingBand,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// Gauge pressure of a sound cylinder on the starter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrankingBand {
    /// Slow, cold, some leakage.
    pub low: Pressure,
    /// Quick, warm, tight.
    pub high: Pressure,
}

/// What the cranking band rests on.
pub const CRANKING_ASSUMPTIONS: [&str; 5] = [
    "Throttle wide open, every spark plug out, battery full, several strokes: the gauge has reached its highest reading.",
    "The cylinder fills to the pressure of the air around and the ratio is that from the seated intake valve.",
    "Heat lost to the walls and leakage past the rings are in the exponent: 1.2 slow and cold, 1.3 quick and warm (common practice, \
     no source).",
    "The volume of the gauge's hose and adapter is not in it: a check valve at the plug end keeps it out, a long hose reads low.",
    "Cylinders of one engine compare better with each other than with the band.",
];

/// Exponents of the cranking band: common practice, no source.
pub(crate) const CRANKING_EXPONENTS: [f64; 2] = [1.2, 1.3];

fn exponent_belongs_to_polytropic(input: &EndStateInput) -> Result<(), ValidationError> {
    match (input.gas_model, input.polytropic_exponent) {
        (GasModel::Polytropic, None) => {
            let detail = "is missing: a polytropic compression needs its exponent.";
            Err(broken_rule("polytropic_exponent", "missing", detail.to_owned()))
        }
        (GasModel::DryAir, Some(_)) => {
            let detail = "belongs to the polytropic gas model; dry air finds its own.";
            Err(broken_rule("polytropic_exponent", "contradiction", detail.to_owned()))
        }
        _ => Ok(()),
    }
}

/// Pressure and temperature at the end of compression.
///
/// **Equation** s0(T2) - s0(T1) = R ln(ratio T2/T1), p2 = p1 ratio T2/T1; or p2 = p1 ratio^n
///
/// **Shape** Scalars.
///
/// **Units** Any; pressures absolute, but the cranking band's, which a gauge shows.
///
/// **Valid for** Ratios from 1.01 to 40, start from -60 to 250 degrees C, ideal gas.
///
/// **Errors** [`Error::Invalid`] when a field is out of range, or the exponent does not go with the gas model.
///
/// **Source** Moran and Shapiro, Fundamentals of Engineering Thermodynamics, chapter 9; coefficients of Cantera's air.yaml.
pub fn evaluate(input: &EndStateInput) -> Result<EndState, Error> {
    input.validate()?;
    let (ratio, start) = (input.ratio.plain(), input.start_temperature.kelvins());
    let end = match input.polytropic_exponent {
        Some(exponent) => start * ratio.powf(exponent.plain() - 1.0),
        None => Gas::dry_air().compressed(start, ratio)?,
    };
    let pressure_ratio = ratio * end / start;
    Ok(EndState {
        end_pressure: Pressure::from_pascals(input.start_pressure.pascals() * pressure_ratio),
        end_temperature: Temperature::from_kelvins(end),
        pressure_ratio,
        mean_exponent: pressure_ratio.ln() / ratio.ln(),
        cranking: cranking(input.ambient_pressure.unwrap_or(input.start_pressure), ratio),
        cautions: cautions(input),
    })
}

/// Air compressed as dry air: pressure and temperature at the end.
pub(crate) fn compressed_air(start: &Air, ratio: f64) -> Result<(Pressure, Temperature), Error> {
    let start_kelvins = start.temperature.kelvins();
    let end = Gas::dry_air().compressed(start_kelvins, ratio)?;
    let pressure = start.pressure.pascals() * ratio * end / start_kelvins;
    Ok((Pressure::from_pascals(pressure), Temperature::from_kelvins(end)))
}

/// pa (ratio^n - 1) for the two exponents.
pub(crate) fn cranking(ambient: Pressure, ratio: f64) -> CrankingBand {
    let gauge = |exponent| Pressure::from_pascals(ambient.pascals() * (ratio.powf(exponent) - 1.0));
    let [low, high] = CRANKING_EXPONENTS;
    CrankingBand { low: gauge(low), high: gauge(high) }
}

fn cautions(input: &EndStateInput) -> Vec<Caution> {
    let mut cautions = Vec::new();
    limit::COMPRESSION_RATIO.unusual("ratio", input.ratio, &mut cautions);
    limit::CHARGE_PRESSURE.unusual("start_pressure", input.start_pressure, &mut cautions);
    limit::CHARGE_TEMPERATURE.unusual("start_temperature", input.start_temperature, &mut cautions);
    if let Some(exponent) = input.polytropic_exponent {
        limit::POLYTROPIC_EXPONENT.unusual("polytropic_exponent", exponent, &mut cautions);
    } else {
        cautions.push(real_gas_note("end_pressure"));
    }
    cautions.push(cranking_note("cranking_gauge_pressure"));
    cautions.push(STANDING);
    cautions
}

/// How far real air is from the ideal gas.
pub(crate) fn real_gas_note(path: &'static str) -> Caution {
    Caution {
        code: "real_air_differs",
        severity: Severity::Note,
        about: About::Answer,
        path: path.into(),
        detail: "Air is taken as an ideal gas. From one atmosphere, real air's pressure is higher by 0.7 to 2.9 percent at ratios 6 to \
                 16, more with boost. The charge of a fired engine also loses heat and carries fuel, so that it ends lower."
            .into(),
        source: "E. W. Lemmon et al., J. Phys. Chem. Ref. Data 29 (2000) 331, as in the CoolProp library; compared by the test suite",
    }
}

/// What the cranking band is good for.
pub(crate) fn cranking_note(path: &'static str) -> Caution {
    Caution {
        code: "cranking_pressure_is_a_band",
        severity: Severity::Note,
        about: About::Answer,
        path: path.into(),
        detail: "A gauge reading depends on cranking speed, oil, leakage and the gauge. Use the band to see that a reading is \
                 possible, and compare the cylinders with each other."
            .into(),
        source: COMMON_PRACTICE,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn air(ratio: f64, celsius: f64) -> EndStateInput {
        EndStateInput {
            ratio: Ratio::from_plain(ratio),
            start_pressure: Pressure::from_bar(1.0),
            start_temperature: Temperature::from_degrees_celsius(celsius),
            gas_model: GasModel::DryAir,
            polytropic_exponent: None,
            ambient_pressure: None,
        }
    }

    proptest! {
        #[test]
        fn two_compressions_in_a_row_are_one(first in 1.1..5.0, second in 1.1..5.0, celsius in -50.0..200.0) {
            let half_way = evaluate(&air(first, celsius))?.end_temperature;
            let whole = evaluate(&air(first * second, celsius))?.end_temperature.kelvins();
            // The limit of the start is for callers; the gas itself does not care.
            let in_two = Gas::dry_air().compressed(half_way.kelvins(), second)?;
            prop_assert!((in_two / whole - 1.0).abs() < 1e-6, "{in_two} {whole}");
        }

        #[test]
        fn the_exponent_of_air_falls_with_heat_and_the_pressure_rises_with_ratio(ratio in 2.0..30.0, celsius in -50.0..200.0) {
            let base = evaluate(&air(ratio, celsius))?;
            prop_assert!(base.mean_exponent > 1.25 && base.mean_exponent < 1.41);
            prop_assert!(evaluate(&air(ratio, celsius + 20.0))?.mean_exponent < base.mean_exponent);
            prop_assert!(evaluate(&air(ratio + 0.1, celsius))?.end_pressure > base.end_pressure);
        }

        #[test]
        fn a_polytropic_compression_with_the_mean_exponent_ends_at_the_same_state(ratio in 2.0..30.0, celsius in -50.0..200.0) {
            let base = evaluate(&air(ratio, celsius))?;
            let polytropic = EndStateInput {
                gas_model: GasModel::Polytropic,
                polytropic_exponent: Some(Ratio::from_plain(base.mean_exponent)),
                ..air(ratio, celsius)
            };
            let same = evaluate(&polytropic)?;
            prop_assert!((same.end_pressure.bar() / base.end_pressure.bar() - 1.0).abs() < 1e-12);
            prop_assert!((same.end_temperature.kelvins() / base.end_temperature.kelvins() - 1.0).abs() < 1e-12);
        }
    }
}
