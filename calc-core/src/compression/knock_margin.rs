//! An estimate of the octane number that an engine needs, against spark timing and speed.

use validator::Validate;

use crate::caution::{About, COMMON_PRACTICE, Caution, Detail, STANDING, Severity};
use crate::error::Error;
use crate::limit;
use crate::method::Method;
use crate::units::{Angle, PerAngle, PerTemperature, Pressure, Quantity, RotationalSpeed, SpecificEnergy, Temperature};

use super::burn::{Burn, Moment, octane_number};
use super::gas::HOTTEST;
use super::knock_input::{KnockMarginInput, KnockParameters, burn, parameters};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "knock-integral",
    title: "Octane number at which the Livengood-Wu integral reaches one",
    equation: "Integral of dt/tau from intake closing to the end of the burn = 1; tau = 17.68 ms (ON/100)^3.402 p^-1.7 exp(3800 K/T), \
         p in atmospheres, T of the unburnt gas. Pressure, one zone, first law: V dp = (gamma - 1) dQ - gamma p dV, gamma of air with \
         iso-octane vapour at the mean temperature (NASA polynomials). Heat Q = q m x, q heat per mass of charge = share (1 - \
         residual) (heating value) min(1, AF/AFst)/(1 + AF); x = 1 - exp(-a z^(m + 1)), z = (angle - spark)/duration. Unburnt gas: \
         dT/T = (R/cp) dp/p. Classical Runge-Kutta steps of at most 0.5 degree. The integral falls with ON^3.402, so that ON = 100 \
         (integral at ON 100)^(1/3.402).",
    valid_for: "A rough estimate for spark ignition on gasoline-like fuels: the delay was fitted on reference fuels of octane numbers \
         from 80 to 100. Good for comparing one change with another on one engine; not for the last degrees of spark. Deposits, hot \
         spots, tumble, chamber shape, cooling, fuel evaporation and pre-ignition are not in it. Gas hotter than 3500 K is refused.",
    sources: &[
        "J. C. Livengood and P. C. Wu, 5th Symposium (International) on Combustion, 1955 (the integral; from memory)",
        "A. M. Douaud and P. Eyzat, SAE paper 780080, 1978 (the ignition delay; constants from memory)",
        "J. B. Heywood, Internal Combustion Engine Fundamentals, 1st edition, equation 9.14 (Wiebe, a = 5, m = 2; from memory)",
        "Coefficients: Cantera's public data files air.yaml (GRI-Mech 3.0) and nasa_gas.yaml (NASA TM-4513)",
    ],
};

/// What the estimate rests on; every answer lists it.
pub const ASSUMPTIONS: [&str; 9] = [
    "An estimate, not a measurement: expect it to be off by several octane numbers, and use it to compare changes.",
    "The whole gas has one pressure, found from the energy balance of one zone; its heat capacity is that of air with fuel vapour \
     (as iso-octane) before and after burning.",
    "The unburnt gas is compressed without heat to or from the walls; cooler walls would help, hot spots would hurt.",
    "The burn follows Wiebe's function from the spark on, equally long in degrees at every speed; a real burn depends on chamber, \
     mixture motion and speed.",
    "The heat that reaches the gas is a fixed share of what the fuel could give; the default share of 0.85 allows for walls, crevices \
     and fuel left unburnt (common practice, no source).",
    "Pressure and temperature at intake closing are taken as given and equal at every speed; filling and mixture heating change with \
     speed on a real engine.",
    "All fuel is vapour at intake closing; fuel that still evaporates cools the charge and helps, alcohols most of all.",
    "Octane numbers mean primary reference fuels; a pump fuel answers between its research and motor octane numbers.",
    "Ignition delay constants and Wiebe parameters are textbook values written from memory; they are not fitted to this engine.",
];

/// The octane numbers on which the ignition delay was fitted (from memory).
const FITTED_OCTANE: [f64; 2] = [80.0, 100.0];

/// Half the differences over which the sensitivities are taken.
pub(crate) const SPARK_NUDGE_DEGREES: f64 = 0.5;
const TEMPERATURE_NUDGE_KELVINS: f64 = 1.0;

/// What each setting asks of the fuel.
#[derive(Debug, Clone, PartialEq)]
pub struct KnockMargin {
    /// The highest octane number among the settings.
    pub octane_number: f64,
    /// Octane number of the fuel less that, when the fuel is given.
    pub margin: Option<f64>,
    /// Heat per mass of charge that the burn gives to the gas.
    pub released_heat: SpecificEnergy,
    /// The parameters used, given or default.
    pub used: KnockParameters,
    /// One entry per spark timing, in the order asked.
    pub sparks: Vec<AtSpark>,
    /// The history, when asked for.
    pub history: Vec<HistoryPoint>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// One spark timing.
#[derive(Debug, Clone, PartialEq)]
pub struct AtSpark {
    /// Spark before top centre.
    pub spark_advance: Angle,
    /// Highest pressure of the cycle.
    pub peak_pressure: Pressure,
    /// Crank angle after top centre of it.
    pub peak_pressure_angle: Angle,
    /// Highest temperature of the unburnt gas.
    pub peak_unburned_temperature: Temperature,
    /// One entry per engine speed, in the order asked.
    pub speeds: Vec<AtSpeed>,
}

/// One engine speed at one spark timing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtSpeed {
    /// Engine speed.
    pub engine_speed: RotationalSpeed,
    /// Octane number at which the integral reaches one.
    pub octane_number: f64,
    /// Octane numbers per degree of spark advance.
    pub octane_per_spark_degree: PerAngle,
    /// Octane numbers per degree of intake (and so of trapped) temperature.
    pub octane_per_intake_degree: PerTemperature,
}

/// The gas at one crank angle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HistoryPoint {
    /// Crank angle after the top centre of the firing stroke.
    pub crank_angle: Angle,
    /// Absolute pressure.
    pub pressure: Pressure,
    /// Mean temperature of the whole gas.
    pub gas_temperature: Temperature,
    /// Temperature of the gas that has not burnt.
    pub unburned_temperature: Temperature,
    /// Burnt share of the charge.
    pub burned_share: f64,
    /// The Livengood-Wu integral at the octane number found: one at the end.
    pub knock_integral: f64,
}

/// The octane number that each spark timing and speed asks for, as an estimate.
///
/// **Equation** Integral of dt/tau = 1 (Livengood and Wu) with tau by Douaud and Eyzat, on the pressure and unburnt temperature of a
/// Wiebe burn in one zone
///
/// **Shape** Up to [`MOST_SETTINGS`](super::knock_input::MOST_SETTINGS) spark timings and as many speeds; every pair gets an answer.
///
/// **Units** Any; pressures absolute; closing counts from 180 degrees after true top centre.
///
/// **Valid for** Spark ignition on gasoline-like fuels, for comparisons; see [`METHOD`].
///
/// **Errors** [`Error::Invalid`] when a field is out of range, a spark comes before the closing, or a history is asked for more than
/// one setting; [`Error::NoSolution`] when the gas would become hotter than its polynomials reach.
///
/// **Source** Livengood and Wu 1955; Douaud and Eyzat, SAE 780080; Heywood, 1st edition, equation 9.14.
pub fn evaluate(input: &KnockMarginInput) -> Result<KnockMargin, Error> {
    input.validate()?;
    let used = parameters(input);
    let burn = burn(input, &used);
    let sparks = input.spark_advances.iter().map(|spark| at_spark(&burn, *spark, &input.engine_speeds));
    let sparks = sparks.collect::<Result<Vec<_>, _>>()?;
    let octane_numbers = sparks.iter().flat_map(|spark| &spark.speeds).map(|speed| speed.octane_number);
    let highest = octane_numbers.fold(0.0, f64::max);
    let margin = input.fuel_octane_number.map(|fuel| fuel.plain() - highest);
    Ok(KnockMargin {
        octane_number: highest,
        margin,
        released_heat: SpecificEnergy::from_joules_per_kilogram(burn.heat),
        used,
        history: if input.include_history { history(&burn, input) } else { Vec::new() },
        cautions: cautions(input, highest, margin),
        sparks,
    })
}

fn at_spark(burn: &Burn, spark_advance: Angle, speeds: &[RotationalSpeed]) -> Result<AtSpark, Error> {
    let burn = Burn { spark: -spark_advance.degrees(), ..*burn };
    let (mut peak, mut hottest_gas, mut hottest_unburned) = ((0.0, 0.0), 0.0_f64, 0.0_f64);
    let exposure = burn
        .run(|moment| {
            hottest_gas = hottest_gas.max(burn.gas_kelvins(moment));
            hottest_unburned = hottest_unburned.max(moment.unburned_kelvins);
            if moment.pressure > peak.0 {
                peak = (moment.pressure, moment.degrees);
            }
        })
        .exposure;
    // Also true when it is not a number.
    let within = hottest_gas <= HOTTEST;
    if !within {
        return Err(too_hot(hottest_gas));
    }
    // The exposures on both sides of the spark timing and of the temperature, for the sensitivities.
    let end = |burn: Burn| burn.run(|_| ()).exposure;
    let spark = [SPARK_NUDGE_DEGREES, -SPARK_NUDGE_DEGREES].map(|by| end(Burn { spark: burn.spark + by, ..burn }));
    let warm = [-TEMPERATURE_NUDGE_KELVINS, TEMPERATURE_NUDGE_KELVINS]
        .map(|by| end(Burn { trapped_temperature: burn.trapped_temperature + by, ..burn }));
    let at_speed = |speed: &RotationalSpeed| {
        let degrees_per_second = 360.0 * speed.revolutions_per_second();
        let octane = |exposure| octane_number(exposure, degrees_per_second);
        let change = |[less, more]: [f64; 2], nudge: f64| (octane(more) - octane(less)) / (2.0 * nudge);
        AtSpeed {
            engine_speed: *speed,
            octane_number: octane(exposure),
            octane_per_spark_degree: PerAngle::from_per_degree(change(spark, SPARK_NUDGE_DEGREES)),
            octane_per_intake_degree: PerTemperature::from_per_kelvin(change(warm, TEMPERATURE_NUDGE_KELVINS)),
        }
    };
    Ok(AtSpark {
        spark_advance,
        peak_pressure: Pressure::from_pascals(peak.0),
        peak_pressure_angle: Angle::from_degrees(peak.1),
        peak_unburned_temperature: Temperature::from_kelvins(hottest_unburned),
        speeds: speeds.iter().map(at_speed).collect(),
    })
}

fn too_hot(kelvins: f64) -> Error {
    let reached = Temperature::from_kelvins(kelvins).shown();
    let end = Temperature::from_kelvins(HOTTEST).shown();
    Error::NoSolution {
        field: "heating_value",
        detail: format!(
            "with this charge and these shares would heat the gas to {reached}; the heat capacities used end at {end}. Lower the \
             released share, or check the heating value and the air-fuel ratio."
        ),
    }
}

fn history(burn: &Burn, input: &KnockMarginInput) -> Vec<HistoryPoint> {
    let spark = input.spark_advances.first().copied().unwrap_or_default();
    let burn = Burn { spark: -spark.degrees(), ..*burn };
    let mut points = Vec::new();
    let whole = burn.run(|moment| points.push(point(&burn, moment))).exposure;
    for point in &mut points {
        point.knock_integral /= whole;
    }
    points
}

fn point(burn: &Burn, moment: &Moment) -> HistoryPoint {
    HistoryPoint {
        crank_angle: Angle::from_degrees(moment.degrees),
        pressure: Pressure::from_pascals(moment.pressure),
        gas_temperature: Temperature::from_kelvins(burn.gas_kelvins(moment)),
        unburned_temperature: Temperature::from_kelvins(moment.unburned_kelvins),
        burned_share: burn.burned_share(moment.degrees),
        knock_integral: moment.exposure,
    }
}

fn cautions(input: &KnockMarginInput, octane_number: f64, margin: Option<f64>) -> Vec<Caution> {
    let mut cautions = Vec::new();
    limit::STROKE.unusual("stroke", input.stroke, &mut cautions);
    limit::ROD_LENGTH.unusual("rod_length", input.rod_length, &mut cautions);
    limit::COMPRESSION_RATIO.unusual("static_ratio", input.static_ratio, &mut cautions);
    limit::INTAKE_CLOSING.unusual("intake_closes_abdc", input.intake_closes_abdc, &mut cautions);
    limit::CHARGE_PRESSURE.unusual("trapped_pressure", input.trapped_pressure, &mut cautions);
    limit::CHARGE_TEMPERATURE.unusual("trapped_temperature", input.trapped_temperature, &mut cautions);
    unusual_parameters(input, &mut cautions);
    let [low, high] = FITTED_OCTANE;
    if octane_number < low || octane_number > high {
        cautions.push(outside_fit(octane_number));
    }
    if let Some(margin) = margin.filter(|margin| *margin < 0.0) {
        cautions.push(fuel_too_weak(margin));
    }
    cautions.push(DETONATION);
    cautions.push(STANDING);
    cautions
}

fn unusual_parameters(input: &KnockMarginInput, cautions: &mut Vec<Caution>) {
    let used = parameters(input);
    limit::BURN_DURATION.unusual("burn_duration", used.burn_duration, cautions);
    limit::WIEBE_FACTOR.unusual("wiebe_factor", used.wiebe_factor, cautions);
    limit::WIEBE_FORM.unusual("wiebe_form", used.wiebe_form, cautions);
    limit::HEATING_VALUE.unusual("heating_value", used.heating_value, cautions);
    limit::AIR_FUEL_RATIO.unusual("air_fuel_ratio", used.air_fuel_ratio, cautions);
    if let Some(octane_number) = input.fuel_octane_number {
        limit::OCTANE_NUMBER.unusual("fuel_octane_number", octane_number, cautions);
    }
}

fn outside_fit(octane_number: f64) -> Caution {
    let [low, high] = FITTED_OCTANE;
    Caution {
        code: "octane_outside_fit",
        severity: Severity::Caution,
        about: About::Answer,
        path: "octane_number".into(),
        detail: format!(
            "{octane_number:.1} is outside {low} to {high}, on which the ignition delay was fitted: read it as far below or far above, \
             not as a number."
        )
        .into(),
        source: "A. M. Douaud and P. Eyzat, SAE paper 780080, 1978 (from memory)",
    }
}

fn fuel_too_weak(margin: f64) -> Caution {
    Caution {
        code: "fuel_below_estimate",
        severity: Severity::Danger,
        about: About::Answer,
        path: "margin".into(),
        detail: format!(
            "The fuel is {:.1} octane numbers short of the estimate: less spark, a lower trapped ratio, cooler air or a better fuel.",
            -margin
        )
        .into(),
        source: COMMON_PRACTICE,
    }
}

/// Stands in every answer, before the standing caution of all answers.
const DETONATION: Caution = Caution {
    code: "detonation_destroys_engines",
    severity: Severity::Danger,
    about: About::Answer,
    path: std::borrow::Cow::Borrowed(""),
    detail: Detail::words(
        "Detonation breaks ring lands, pistons, gaskets and bearings within seconds, often before it is heard. This is an estimate: \
         never set spark timing from it. The tuner decides on a dynamometer, with knock detection, starting late and rich.",
    ),
    source: COMMON_PRACTICE,
};

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::compression::gas::Gas;
    use crate::units::{Length, Ratio};

    fn engine(ratio: f64, spark: f64, celsius: f64) -> KnockMarginInput {
        KnockMarginInput {
            stroke: Length::from_millimetres(90.0),
            rod_length: Length::from_millimetres(140.0),
            pin_offset: Length::default(),
            static_ratio: Ratio::from_plain(ratio),
            intake_closes_abdc: Angle::from_degrees(60.0),
            trapped_pressure: Pressure::from_bar(1.0),
            trapped_temperature: Temperature::from_degrees_celsius(celsius),
            spark_advances: vec![Angle::from_degrees(spark)],
            engine_speeds: vec![RotationalSpeed::from_revolutions_per_minute(3000.0)],
            fuel_octane_number: None,
            burn_duration: None,
            wiebe_factor: None,
            wiebe_form: None,
            heating_value: None,
            stoichiometric_ratio: None,
            air_fuel_ratio: None,
            residual_share: None,
            released_share: None,
            include_history: true,
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]

        #[test]
        fn more_ratio_spark_heat_and_time_ask_for_more_octane(ratio in 7.0..13.0, spark in 5.0..35.0, celsius in 20.0..120.0) {
            let base = evaluate(&engine(ratio, spark, celsius))?;
            let found = base.sparks[0].speeds[0];
            for harder in [engine(ratio + 0.2, spark, celsius), engine(ratio, spark + 1.0, celsius), engine(ratio, spark, celsius + 5.0)] {
                prop_assert!(evaluate(&harder)?.octane_number > base.octane_number);
            }
            prop_assert!(found.octane_per_spark_degree.per_degree() > 0.0 && found.octane_per_intake_degree.per_kelvin() > 0.0);
            let slower = KnockMarginInput {
                engine_speeds: vec![RotationalSpeed::from_revolutions_per_minute(1500.0)],
                ..engine(ratio, spark, celsius)
            };
            let slower = evaluate(&slower)?.octane_number;
            // Twice the time: the integral doubles, and the octane number rises by its root.
            prop_assert!((slower / base.octane_number - 2.0_f64.powf(1.0 / 3.402)).abs() < 1e-9);
        }

        #[test]
        fn sensitivities_are_the_changes_they_say(spark in 10.0..30.0, celsius in 20.0..120.0) {
            let octane = |spark, celsius| evaluate(&engine(10.0, spark, celsius)).map(|found| found.octane_number);
            let found = evaluate(&engine(10.0, spark, celsius))?.sparks[0].speeds[0];
            let spark_change = octane(spark + 0.5, celsius)? - octane(spark - 0.5, celsius)?;
            let temperature_change = (octane(spark, celsius + 1.0)? - octane(spark, celsius - 1.0)?) / 2.0;
            prop_assert!((found.octane_per_spark_degree.per_degree() - spark_change).abs() < 1e-9);
            prop_assert!((found.octane_per_intake_degree.per_kelvin() - temperature_change).abs() < 1e-9);
        }

        #[test]
        fn before_the_spark_all_gas_is_compressed_alike_and_no_gas_is_lost(ratio in 7.0..13.0, celsius in 20.0..120.0) {
            let history = evaluate(&engine(ratio, 0.0, celsius))?.history;
            prop_assert!((history.last().map_or(0.0, |last| last.knock_integral) - 1.0).abs() < 1e-12);
            let at_top = history.iter().find(|point| point.crank_angle.degrees() >= -1e-9);
            let at_top = at_top.ok_or(TestCaseError::fail("no top centre"))?;
            let (all, unburned) = (at_top.gas_temperature.kelvins(), at_top.unburned_temperature.kelvins());
            prop_assert!((all / unburned - 1.0).abs() < 1e-7, "{all} {unburned}");
            // The same end state as by the entropy balance.
            let start = Temperature::from_degrees_celsius(celsius).kelvins();
            let trapped = all / start / at_top.pressure.bar();
            let end = Gas::mixture(14.7).compressed(start, 1.0 / trapped)?;
            prop_assert!((end / all - 1.0).abs() < 1e-7, "{end} {all}");
        }
    }

    #[test]
    fn gas_hotter_than_its_polynomials_is_refused() {
        let input = KnockMarginInput {
            heating_value: Some(SpecificEnergy::from_megajoules_per_kilogram(120.0)),
            ..engine(10.0, 20.0, 60.0)
        };
        assert!(matches!(evaluate(&input), Err(Error::NoSolution { field: "heating_value", .. })));
    }
}
