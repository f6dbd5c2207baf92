//! `/v1/compression/knock-margin`

use calc_core::compression::knock_input as input;
use calc_core::compression::knock_margin as core;
use calc_core::error::Error;
use calc_core::geometry::piston_motion;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    AngleInput, AngleOutput, EngineSpeedInput, EngineSpeedOutput, GivenRatioOutput, LengthInput, PerAngleOutput,
    PerTemperatureOutput, PercentOutput, PressureInput, PressureOutput, RatioInput, RatioOutput, SpecificEnergyInput,
    SpecificEnergyOutput, TemperatureInput, TemperatureOutput, out,
};

/// The cylinder, its charge, and the settings to look at.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct KnockMarginRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// The crank's stroke: twice its radius.
    stroke: LengthInput,
    /// Connecting rod length between the centres of its eyes; longer than the stroke.
    rod_length: LengthInput,
    /// Pin offset, positive towards the minor thrust side; none when absent.
    pin_offset: Option<LengthInput>,
    /// Static compression ratio, 1.01 to 40.
    static_ratio: RatioInput,
    /// Closing of the intake valve at its seat, in degrees after bottom centre (180 degrees after true top centre), 0 to 150.
    intake_closes_abdc: AngleInput,
    /// Absolute pressure in the cylinder at closing; see the trapped calculation.
    trapped_pressure: PressureInput,
    /// Temperature in the cylinder at closing, warmed by port, walls and residual gas: well above that of the intake air.
    trapped_temperature: TemperatureInput,
    /// Spark timings in degrees before top centre, 1 to 25 of them.
    #[schema(max_items = 25)]
    spark_advances: Vec<AngleInput>,
    /// Engine speeds, 1 to 25 of them.
    #[schema(max_items = 25)]
    engine_speeds: Vec<EngineSpeedInput>,
    /// Octane number of the fuel at hand; with it, the margin is given.
    fuel_octane_number: Option<RatioInput>,
    /// Crank travel from spark to the end of the burn; 50 degrees when absent.
    burn_duration: Option<AngleInput>,
    /// Wiebe's a, how complete the burn is at its end; 5 when absent.
    wiebe_factor: Option<RatioInput>,
    /// Wiebe's m of the exponent m + 1, how slowly the burn starts; 2 when absent.
    wiebe_form: Option<RatioInput>,
    /// Lower heating value of the fuel; gasoline's 18676 Btu/lb (43.44 MJ/kg) when absent.
    heating_value: Option<SpecificEnergyInput>,
    /// Mass of air that burns a mass of the fuel just wholly; gasoline's 14.7 when absent.
    stoichiometric_ratio: Option<RatioInput>,
    /// Mass of air per mass of fuel in the charge; the stoichiometric one when absent.
    air_fuel_ratio: Option<RatioInput>,
    /// Share of burnt gas from the cycle before, 0 to 1 or text such as "5 %"; 0.05 when absent.
    residual_share: Option<RatioInput>,
    /// Share of the fuel's heat that reaches the gas, 0 to 1 or text such as "85 %"; 0.85 when absent.
    released_share: Option<RatioInput>,
    /// Whether to give the history over the crank circle; for one spark timing and one engine speed only. Not when absent.
    include_history: Option<bool>,
}

/// What each setting asks of the fuel, as an estimate.
#[derive(Debug, Serialize, ToSchema)]
pub struct KnockMarginResponse {
    /// Unit system of the answer.
    units: Units,
    /// Estimated octane number that the most demanding of the settings needs.
    octane_number: RatioOutput,
    /// Octane number of the fuel less that; only with the fuel's octane number.
    #[serde(skip_serializing_if = "Option::is_none")]
    margin: Option<RatioOutput>,
    /// Heat per mass of charge that the burn gives to the gas.
    released_heat: SpecificEnergyOutput,
    /// The parameters used, given or default.
    parameters: KnockParameters,
    /// One entry per spark timing, in the order asked for.
    sparks: Vec<KnockAtSpark>,
    /// The gas over the crank circle; only when asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    history: Option<Vec<KnockHistoryPoint>>,
    /// What the estimate rests on, in words.
    assumptions: &'static [&'static str],
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// Parameters of burn and fuel, given or default.
#[derive(Debug, Serialize, ToSchema)]
pub struct KnockParameters {
    /// Crank travel from spark to the end of the burn.
    burn_duration: AngleOutput,
    /// Wiebe's a.
    wiebe_factor: GivenRatioOutput,
    /// Wiebe's m.
    wiebe_form: GivenRatioOutput,
    /// Lower heating value of the fuel.
    heating_value: SpecificEnergyOutput,
    /// Mass of air that burns a mass of the fuel just wholly.
    stoichiometric_ratio: GivenRatioOutput,
    /// Mass of air per mass of fuel in the charge.
    air_fuel_ratio: GivenRatioOutput,
    /// Share of burnt gas from the cycle before.
    residual_share: GivenRatioOutput,
    /// Share of the fuel's heat that reaches the gas.
    released_share: GivenRatioOutput,
}

/// One spark timing.
#[derive(Debug, Serialize, ToSchema)]
pub struct KnockAtSpark {
    /// Spark in degrees before top centre.
    spark_advance: AngleOutput,
    /// Highest pressure of the cycle, absolute.
    peak_pressure: PressureOutput,
    /// Crank angle after top centre of that.
    peak_pressure_angle: AngleOutput,
    /// Highest temperature of the gas that has not burnt.
    peak_unburned_temperature: TemperatureOutput,
    /// One entry per engine speed, in the order asked for.
    speeds: Vec<KnockAtSpeed>,
}

/// One engine speed at one spark timing.
#[derive(Debug, Serialize, ToSchema)]
pub struct KnockAtSpeed {
    /// Engine speed.
    engine_speed: EngineSpeedOutput,
    /// Octane number at which the knock integral reaches one.
    octane_number: RatioOutput,
    /// Change of that per degree of spark advance.
    octane_per_spark_degree: PerAngleOutput,
    /// Change of that per degree of intake temperature, when the trapped temperature rises with it.
    octane_per_intake_degree: PerTemperatureOutput,
}

/// The gas at one crank angle.
#[derive(Debug, Serialize, ToSchema)]
pub struct KnockHistoryPoint {
    /// Crank angle after the top centre of the firing stroke.
    crank_angle: AngleOutput,
    /// Absolute pressure.
    pressure: PressureOutput,
    /// Mean temperature of the whole gas.
    gas_temperature: TemperatureOutput,
    /// Temperature of the gas that has not burnt.
    unburned_temperature: TemperatureOutput,
    /// Burnt share of the charge.
    burned_percent: PercentOutput,
    /// The knock integral at the octane number found; one at the end of the burn.
    knock_integral: RatioOutput,
}

/// The calculation.
pub struct KnockMargin;

impl Calculation for KnockMargin {
    const PATH: &'static str = "/v1/compression/knock-margin";
    const SUMMARY: &'static str = "Estimate of the octane number needed, against spark timing and speed";
    const DESCRIPTION: &'static str = "Pressure of a Wiebe burn in one zone, unburnt gas compressed by it, and the Livengood-Wu \
        integral with the Douaud-Eyzat ignition delay. A rough estimate for comparing changes, with its assumptions listed; \
        never set spark timing from it.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id, piston_motion::METHOD.id];
    const DEFAULT_FIELD: &'static str = "octane_number";
    const IS_LONG: bool = true;
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/compression/knock_margin.json");
    type Request = KnockMarginRequest;
    type Response = KnockMarginResponse;

    fn run(request: KnockMarginRequest) -> Result<KnockMarginResponse, Error> {
        let units = request.units;
        let wants_history = request.include_history == Some(true);
        let found = core::evaluate(&request.core())?;
        let history = found.history.into_iter().map(|point| KnockHistoryPoint::new(point, units));
        Ok(KnockMarginResponse {
            units,
            octane_number: RatioOutput(found.octane_number),
            margin: found.margin.map(RatioOutput),
            released_heat: out(found.released_heat, units),
            parameters: KnockParameters::new(&found.used, units),
            sparks: found.sparks.into_iter().map(|spark| KnockAtSpark::new(spark, units)).collect(),
            history: wants_history.then(|| history.collect()),
            assumptions: &core::ASSUMPTIONS,
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}

impl KnockMarginRequest {
    fn core(self) -> input::KnockMarginInput {
        let units = self.units;
        let ratio = |ratio: Option<RatioInput>| ratio.map(|ratio| ratio.core(units));
        input::KnockMarginInput {
            stroke: self.stroke.core(units),
            rod_length: self.rod_length.core(units),
            pin_offset: self.pin_offset.map(|offset| offset.core(units)).unwrap_or_default(),
            static_ratio: self.static_ratio.core(units),
            intake_closes_abdc: self.intake_closes_abdc.core(units),
            trapped_pressure: self.trapped_pressure.core(units),
            trapped_temperature: self.trapped_temperature.core(units),
            spark_advances: self.spark_advances.into_iter().map(|spark| spark.core(units)).collect(),
            engine_speeds: self.engine_speeds.into_iter().map(|speed| speed.core(units)).collect(),
            fuel_octane_number: ratio(self.fuel_octane_number),
            burn_duration: self.burn_duration.map(|duration| duration.core(units)),
            wiebe_factor: ratio(self.wiebe_factor),
            wiebe_form: ratio(self.wiebe_form),
            heating_value: self.heating_value.map(|value| value.core(units)),
            stoichiometric_ratio: ratio(self.stoichiometric_ratio),
            air_fuel_ratio: ratio(self.air_fuel_ratio),
            residual_share: ratio(self.residual_share),
            released_share: ratio(self.released_share),
            include_history: self.include_history.unwrap_or_default(),
        }
    }
}

impl KnockParameters {
    fn new(used: &input::KnockParameters, units: Units) -> Self {
        Self {
            burn_duration: out(used.burn_duration, units),
            wiebe_factor: out(used.wiebe_factor, units),
            wiebe_form: out(used.wiebe_form, units),
            heating_value: out(used.heating_value, units),
            stoichiometric_ratio: out(used.stoichiometric_ratio, units),
            air_fuel_ratio: out(used.air_fuel_ratio, units),
            residual_share: out(used.residual_share, units),
            released_share: out(used.released_share, units),
        }
    }
}

impl KnockAtSpark {
    fn new(spark: core::AtSpark, units: Units) -> Self {
        let speed = |speed: core::AtSpeed| KnockAtSpeed {
            engine_speed: out(speed.engine_speed, units),
            octane_number: RatioOutput(speed.octane_number),
            octane_per_spark_degree: out(speed.octane_per_spark_degree, units),
            octane_per_intake_degree: out(speed.octane_per_intake_degree, units),
        };
        Self {
            spark_advance: out(spark.spark_advance, units),
            peak_pressure: out(spark.peak_pressure, units),
            peak_pressure_angle: out(spark.peak_pressure_angle, units),
            peak_unburned_temperature: out(spark.peak_unburned_temperature, units),
            speeds: spark.speeds.into_iter().map(speed).collect(),
        }
    }
}

impl KnockHistoryPoint {
    fn new(point: core::HistoryPoint, units: Units) -> Self {
        Self {
            crank_angle: out(point.crank_angle, units),
            pressure: out(point.pressure, units),
            gas_temperature: out(point.gas_temperature, units),
            unburned_temperature: out(point.unburned_temperature, units),
            burned_percent: PercentOutput::from_share(point.burned_share),
            knock_integral: RatioOutput(point.knock_integral),
        }
    }
}
