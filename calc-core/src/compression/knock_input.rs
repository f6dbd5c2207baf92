//! What the knock estimate takes: its input, the defaults of what is left out, and its rules.

use validator::{Validate, ValidationError};

use crate::error::broken_rule;
use crate::geometry::slider_crank::{SliderCrank, check_rod};
use crate::limit;
use crate::units::{Angle, Length, Pressure, Quantity, Ratio, RotationalSpeed, SpecificEnergy, Temperature};

use super::burn::{Burn, Cylinder};
use super::gas::Gas;
use super::knock_margin::SPARK_NUDGE_DEGREES;

/// Most spark timings, and most speeds, of one request.
pub const MOST_SETTINGS: usize = 25;

/// Crank travel of the burn when none is given: inside Heywood's 30 to 90 degrees (from memory).
const BURN_DURATION: Angle = Angle::from_degrees(50.0);
/// Wiebe's a and m when none are given: Heywood, equation 9.14 (from memory).
const WIEBE_FACTOR: Ratio = Ratio::from_plain(5.0);
const WIEBE_FORM: Ratio = Ratio::from_plain(2.0);
/// Gasoline's lower heating value: 18676 Btu/lb, US DOE Alternative Fuels Data Center, Properties of Fuels.
const HEATING_VALUE: SpecificEnergy = SpecificEnergy::from_btu_per_pound(18_676.0);
/// Gasoline's stoichiometric mass ratio of air to fuel: same source.
const STOICHIOMETRIC_RATIO: Ratio = Ratio::from_plain(14.7);
/// Share of residual gas with the throttle open (Heywood, section 6.4; from memory).
const RESIDUAL_SHARE: Ratio = Ratio::from_plain(0.05);
/// Share of the fuel's heat that reaches the gas: common practice, no source.
const RELEASED_SHARE: Ratio = Ratio::from_plain(0.85);

/// The cylinder, its charge, and the settings to look at.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "rod_clears_crank", skip_on_field_errors = false))]
#[validate(schema(function = "spark_after_closing", skip_on_field_errors = false))]
#[validate(schema(function = "history_of_one_spark", skip_on_field_errors = false))]
pub struct KnockMarginInput {
    /// The crank's stroke: twice its radius.
    #[validate(custom(function = "limit::stroke"))]
    pub stroke: Length,
    /// Connecting rod length between the centres of its eyes.
    #[validate(custom(function = "limit::rod_length"))]
    pub rod_length: Length,
    /// Pin offset, positive towards the minor thrust side.
    #[validate(custom(function = "limit::pin_offset"))]
    pub pin_offset: Length,
    /// Static compression ratio.
    #[validate(custom(function = "limit::compression_ratio"))]
    pub static_ratio: Ratio,
    /// Closing of the intake valve at its seat, after bottom centre.
    #[validate(custom(function = "limit::intake_closing"))]
    pub intake_closes_abdc: Angle,
    /// Absolute pressure in the cylinder at closing.
    #[validate(custom(function = "limit::charge_pressure"))]
    pub trapped_pressure: Pressure,
    /// Temperature in the cylinder at closing.
    #[validate(custom(function = "limit::charge_temperature"))]
    pub trapped_temperature: Temperature,
    /// Spark timings before top centre.
    #[validate(custom(function = "check_sparks"))]
    pub spark_advances: Vec<Angle>,
    /// Engine speeds.
    #[validate(custom(function = "check_speeds"))]
    pub engine_speeds: Vec<RotationalSpeed>,
    /// Octane number of the fuel at hand, for the margin.
    #[validate(custom(function = "limit::octane_number"))]
    pub fuel_octane_number: Option<Ratio>,
    /// Crank travel from spark to the end of the burn.
    #[validate(custom(function = "limit::burn_duration"))]
    pub burn_duration: Option<Angle>,
    /// Wiebe's a.
    #[validate(custom(function = "limit::wiebe_factor"))]
    pub wiebe_factor: Option<Ratio>,
    /// Wiebe's m, of the exponent m + 1.
    #[validate(custom(function = "limit::wiebe_form"))]
    pub wiebe_form: Option<Ratio>,
    /// Lower heating value of the fuel.
    #[validate(custom(function = "limit::heating_value"))]
    pub heating_value: Option<SpecificEnergy>,
    /// Mass of air that burns a mass of the fuel just wholly.
    #[validate(custom(function = "limit::air_fuel_ratio"))]
    pub stoichiometric_ratio: Option<Ratio>,
    /// Mass of air per mass of fuel in the charge; the stoichiometric one when not given.
    #[validate(custom(function = "limit::air_fuel_ratio"))]
    pub air_fuel_ratio: Option<Ratio>,
    /// Share of burnt gas from the cycle before.
    #[validate(custom(function = "limit::share"))]
    pub residual_share: Option<Ratio>,
    /// Share of the fuel's heat that reaches the gas.
    #[validate(custom(function = "limit::share"))]
    pub released_share: Option<Ratio>,
    /// Whether to give the history over the crank circle; of one spark timing and one speed only.
    pub include_history: bool,
}

fn check_sparks(sparks: &[Angle]) -> Result<(), ValidationError> {
    check_count(sparks.len())?;
    sparks.iter().try_for_each(limit::spark_advance)
}

fn check_speeds(speeds: &[RotationalSpeed]) -> Result<(), ValidationError> {
    check_count(speeds.len())?;
    speeds.iter().try_for_each(limit::engine_speed)
}

fn check_count(count: usize) -> Result<(), ValidationError> {
    if (1..=MOST_SETTINGS).contains(&count) {
        return Ok(());
    }
    let code = if count == 0 { "missing" } else { "too_many" };
    let message = format!("must have from 1 to {MOST_SETTINGS} entries; got {count}.");
    Err(ValidationError::new(code).with_message(message.into()))
}

fn rod_clears_crank(input: &KnockMarginInput) -> Result<(), ValidationError> {
    check_rod("rod_length", "pin_offset", input.stroke, input.rod_length, input.pin_offset)
}

fn spark_after_closing(input: &KnockMarginInput) -> Result<(), ValidationError> {
    let latest = 180.0 - input.intake_closes_abdc.degrees() - 2.0 * SPARK_NUDGE_DEGREES;
    match input.spark_advances.iter().find(|spark| spark.degrees() > latest) {
        None => Ok(()),
        Some(spark) => Err(broken_rule(
            "spark_advances",
            "contradiction",
            format!(
                "holds {} before top centre, when the intake valve is still open; with this closing at most {}.",
                spark.shown(),
                Angle::from_degrees(latest).shown()
            ),
        )),
    }
}

fn history_of_one_spark(input: &KnockMarginInput) -> Result<(), ValidationError> {
    let one = input.spark_advances.len() <= 1 && input.engine_speeds.len() <= 1;
    if input.include_history && !one {
        let detail = "is given for one spark timing and one engine speed only.";
        return Err(broken_rule("include_history", "contradiction", detail.to_owned()));
    }
    Ok(())
}

/// The parameters of burn and fuel that were used: as given, or the defaults.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnockParameters {
    /// Crank travel from spark to the end of the burn.
    pub burn_duration: Angle,
    /// Wiebe's a.
    pub wiebe_factor: Ratio,
    /// Wiebe's m.
    pub wiebe_form: Ratio,
    /// Lower heating value of the fuel.
    pub heating_value: SpecificEnergy,
    /// Mass of air that burns a mass of the fuel just wholly.
    pub stoichiometric_ratio: Ratio,
    /// Mass of air per mass of fuel in the charge.
    pub air_fuel_ratio: Ratio,
    /// Share of burnt gas from the cycle before.
    pub residual_share: Ratio,
    /// Share of the fuel's heat that reaches the gas.
    pub released_share: Ratio,
}

/// What is given, and the defaults for what is not.
pub(crate) fn parameters(input: &KnockMarginInput) -> KnockParameters {
    let stoichiometric_ratio = input.stoichiometric_ratio.unwrap_or(STOICHIOMETRIC_RATIO);
    KnockParameters {
        burn_duration: input.burn_duration.unwrap_or(BURN_DURATION),
        wiebe_factor: input.wiebe_factor.unwrap_or(WIEBE_FACTOR),
        wiebe_form: input.wiebe_form.unwrap_or(WIEBE_FORM),
        heating_value: input.heating_value.unwrap_or(HEATING_VALUE),
        stoichiometric_ratio,
        air_fuel_ratio: input.air_fuel_ratio.unwrap_or(stoichiometric_ratio),
        residual_share: input.residual_share.unwrap_or(RESIDUAL_SHARE),
        released_share: input.released_share.unwrap_or(RELEASED_SHARE),
    }
}

/// The cycle that the input describes; its spark is set for every timing in turn.
pub(crate) fn burn(input: &KnockMarginInput, used: &KnockParameters) -> Burn {
    let train = SliderCrank::new(input.stroke, input.rod_length, input.pin_offset);
    let closing = input.intake_closes_abdc.degrees() - 180.0;
    Burn {
        cylinder: Cylinder::new(train, input.static_ratio.plain(), closing),
        spark: 0.0,
        duration: used.burn_duration.degrees(),
        wiebe_factor: used.wiebe_factor.plain(),
        wiebe_form: used.wiebe_form.plain(),
        gas: Gas::mixture(used.air_fuel_ratio.plain()),
        trapped_pressure: input.trapped_pressure.pascals(),
        trapped_temperature: input.trapped_temperature.kelvins(),
        heat: released_heat(used),
    }
}

/// J per kg of charge: a rich mixture burns only as much fuel as there is air for.
fn released_heat(used: &KnockParameters) -> f64 {
    let air_fuel = used.air_fuel_ratio.plain();
    let burnable = (air_fuel / used.stoichiometric_ratio.plain()).min(1.0) / (1.0 + air_fuel);
    let fresh = 1.0 - used.residual_share.plain();
    used.released_share.plain() * fresh * burnable * used.heating_value.joules_per_kilogram()
}
