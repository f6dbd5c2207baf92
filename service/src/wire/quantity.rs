//! Quantities on the wire: a bare number in the unit of the request's `units`, or text with its unit.
//!
//! Texts are read in `quantity/text.rs`. The table at the end names, per kind of field, the unit of each system. Input types
//! accept both forms; output types are plain numbers.

use std::borrow::Cow;

use calc_core::units::{self, Quantity, Unit};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use utoipa::openapi::RefOr;
use utoipa::openapi::extensions::Extensions;
use utoipa::openapi::schema::{KnownFormat, ObjectBuilder, OneOfBuilder, Schema, SchemaFormat, Type};

use super::Units;
pub(crate) use text::{bare, is_sound, too_small, trimmed};
use text::{read, symbols};

mod text;

/// A number as it was given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Given {
    pub(super) value: f64,
    /// Unknown for a bare number: then the request's `units` decides.
    pub(super) unit: Option<&'static Unit>,
}

/// A kind of field, as the document, the check of a request's shape and quantities beside a pointer know it.
#[derive(Debug)]
pub(crate) struct Kind {
    /// Name of the schema.
    pub(crate) schema: &'static str,
    /// Name of the schema in answers.
    pub(crate) output: &'static str,
    /// What it measures: `length`.
    pub(crate) quantity: &'static str,
    /// Unit of a bare number, by system: inch, metric.
    pub(crate) units: [&'static str; 2],
    /// Reads one text; the error says what would be right.
    pub(crate) check_text: fn(&str) -> Result<(), String>,
    /// The same, for its number.
    pub(super) read: fn(&str) -> Result<Given, String>,
    /// The SI value of a bare number.
    pub(super) to_si: fn(f64, Units) -> f64,
    /// The bare number of an SI value.
    pub(super) of_si: fn(f64, Units) -> f64,
}

/// An output type: how a core quantity becomes a plain number.
pub(crate) trait Output {
    type Core;
    fn new(core: Self::Core, units: Units) -> Self;
}

/// A core quantity as the number that the answer's field wants.
pub(crate) fn out<O: Output>(core: O::Core, units: Units) -> O {
    O::new(core, units)
}

struct GivenVisitor<Q>(std::marker::PhantomData<Q>);

impl<Q: Quantity> serde::de::Visitor<'_> for GivenVisitor<Q> {
    type Value = Given;

    fn expecting(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "a {} as a number or as text with its unit", Q::NAME)
    }

    fn visit_f64<E: serde::de::Error>(self, value: f64) -> Result<Given, E> {
        if is_sound(value) { Ok(Given { value, unit: None }) } else { Err(E::custom("no number to calculate with")) }
    }

    fn visit_i64<E: serde::de::Error>(self, value: i64) -> Result<Given, E> {
        Ok(Given { value: value as f64, unit: None })
    }

    fn visit_u64<E: serde::de::Error>(self, value: u64) -> Result<Given, E> {
        Ok(Given { value: value as f64, unit: None })
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Given, E> {
        read::<Q>(text).map_err(E::custom)
    }
}

/// A result that is not finite is a fault of ours; the JSON writer would make it a `null` and say nothing.
pub(super) fn finite<S: Serializer>(value: f64, serializer: S) -> Result<S::Ok, S::Error> {
    if value.is_finite() {
        return serializer.serialize_f64(value);
    }
    Err(serde::ser::Error::custom("a result is not a finite number"))
}

pub(super) fn number() -> ObjectBuilder {
    ObjectBuilder::new().schema_type(Type::Number).format(Some(SchemaFormat::KnownFormat(KnownFormat::Double)))
}

pub(super) fn unit_extension([inch, metric]: [&str; 2]) -> Option<Extensions> {
    Some(Extensions::builder().add("x-unit", serde_json::json!({"inch": inch, "metric": metric})).build())
}

/// A number or a text, whose pattern lists the units.
fn input_schema<Q: Quantity>(shown: [&str; 2]) -> RefOr<Schema> {
    let spellings: Vec<_> =
        Q::UNITS.iter().flat_map(|unit| unit.symbols).map(|symbol| symbol.replace('^', "\\^")).collect();
    let pattern = format!(r"^\s*[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?\s*({})?\s*$", spellings.join("|"));
    OneOfBuilder::new()
        .item(number())
        .item(ObjectBuilder::new().schema_type(Type::String).pattern(Some(pattern)).max_length(Some(64)))
        .description(Some(format!(
            "A {}: a bare number in the unit of the request's system ({} with inch, {} with metric), or text with its own unit \
             ({}).",
            Q::NAME,
            shown[0],
            shown[1],
            symbols::<Q>()
        )))
        .extensions(unit_extension(shown))
        .into()
}

macro_rules! wire_quantities {
    ($($(#[$doc:meta])* $core:ident $inch:literal $from_inch:ident $to_inch:ident,
       $metric:literal $from_metric:ident $to_metric:ident: $input:ident, $output:ident;)+) => {
        $(
            $(#[$doc])*
            #[derive(Debug, Clone, Copy, PartialEq)]
            pub struct $input(Given);

            impl $input {
                /// The core quantity, a bare number read in the unit of `units`.
                #[must_use]
                pub fn core(self, units: Units) -> units::$core {
                    match (self.0.unit, units) {
                        (Some(unit), _) => units::$core::from_si(unit.to_si(self.0.value)),
                        (None, Units::Inch) => units::$core::$from_inch(self.0.value),
                        (None, Units::Metric) => units::$core::$from_metric(self.0.value),
                    }
                }
            }

            impl $input {
                /// A bare number in the unit of `units`: for a request that the service writes itself.
                #[must_use]
                pub fn of(core: units::$core, units: Units) -> Self {
                    let value = match units {
                        Units::Inch => core.$to_inch(),
                        Units::Metric => core.$to_metric(),
                    };
                    Self(Given { value, unit: None })
                }
            }

            impl Serialize for $input {
                fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                    match self.0.unit {
                        Some(unit) => serializer.collect_str(&format_args!("{} {}", self.0.value, unit.symbol())),
                        None => finite(self.0.value, serializer),
                    }
                }
            }

            impl<'de> Deserialize<'de> for $input {
                fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                    let visitor = GivenVisitor::<units::$core>(std::marker::PhantomData);
                    deserializer.deserialize_any(visitor).map(Self)
                }
            }

            impl utoipa::PartialSchema for $input {
                fn schema() -> RefOr<Schema> {
                    input_schema::<units::$core>([$inch, $metric])
                }
            }

            impl utoipa::ToSchema for $input {
                fn name() -> Cow<'static, str> {
                    stringify!($input).into()
                }
            }

            $(#[$doc])*
            #[derive(Debug, Clone, Copy, PartialEq)]
            pub struct $output(f64);

            impl Serialize for $output {
                fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                    finite(self.0, serializer)
                }
            }

            impl Output for $output {
                type Core = units::$core;
                fn new(core: units::$core, units: Units) -> Self {
                    Self(match units {
                        Units::Inch => core.$to_inch(),
                        Units::Metric => core.$to_metric(),
                    })
                }
            }

            impl utoipa::PartialSchema for $output {
                fn schema() -> RefOr<Schema> {
                    number().extensions(unit_extension([$inch, $metric])).into()
                }
            }

            impl utoipa::ToSchema for $output {
                fn name() -> Cow<'static, str> {
                    stringify!($output).into()
                }
            }
        )+

        /// Every kind of quantity that a request may hold.
        pub(crate) const KINDS: &[Kind] = &[$(
            Kind {
                schema: stringify!($input),
                output: stringify!($output),
                quantity: units::$core::NAME,
                units: [$inch, $metric],
                check_text: |text| read::<units::$core>(text).map(|_| ()),
                read: read::<units::$core>,
                to_si: |value, units| $input(Given { value, unit: None }).core(units).si(),
                of_si: |si, units| $output::new(units::$core::from_si(si), units).0,
            },
        )+];
    };
}

wire_quantities! {
    /// A length.
    Length "in" from_inches inches, "mm" from_millimetres millimetres: LengthInput, LengthOutput;
    /// An area.
    Area "in2" from_square_inches square_inches, "mm2" from_square_millimetres square_millimetres: AreaInput, AreaOutput;
    /// A part's volume; shops pour it in cubic centimetres in either system.
    Volume "cc" from_cubic_centimetres cubic_centimetres, "cc" from_cubic_centimetres cubic_centimetres:
        PartVolumeInput, PartVolumeOutput;
    /// A displacement or swept volume.
    Volume "in3" from_cubic_inches cubic_inches, "cm3" from_cubic_centimetres cubic_centimetres:
        DisplacementInput, DisplacementOutput;
    /// A displacement in litres, whatever the system.
    Volume "L" from_litres litres, "L" from_litres litres: LitreInput, LitreOutput;
    /// A displacement in cubic inches, whatever the system.
    Volume "in3" from_cubic_inches cubic_inches, "in3" from_cubic_inches cubic_inches: CubicInchInput, CubicInchOutput;
    /// A displacement in cubic centimetres, whatever the system.
    Volume "cm3" from_cubic_centimetres cubic_centimetres, "cm3" from_cubic_centimetres cubic_centimetres:
        CubicCentimetreInput, CubicCentimetreOutput;
    /// An angle.
    Angle "deg" from_degrees degrees, "deg" from_degrees degrees: AngleInput, AngleOutput;
    /// An engine speed.
    RotationalSpeed "rev/min" from_revolutions_per_minute revolutions_per_minute,
        "rev/min" from_revolutions_per_minute revolutions_per_minute: EngineSpeedInput, EngineSpeedOutput;
    /// A piston speed.
    Speed "ft/min" from_feet_per_minute feet_per_minute, "m/s" from_metres_per_second metres_per_second:
        PistonSpeedInput, PistonSpeedOutput;
    /// An acceleration.
    Acceleration "ft/s2" from_feet_per_second_squared feet_per_second_squared,
        "m/s2" from_metres_per_second_squared metres_per_second_squared: AccelerationInput, AccelerationOutput;
    /// An altitude.
    Altitude "ft" from_altitude_feet altitude_feet, "m" from_altitude_metres altitude_metres: AltitudeInput, AltitudeOutput;
    /// A pressure.
    Pressure "psi" from_pounds_per_square_inch pounds_per_square_inch, "bar" from_bar bar: PressureInput, PressureOutput;
    /// A temperature.
    Temperature "degF" from_degrees_fahrenheit degrees_fahrenheit, "degC" from_degrees_celsius degrees_celsius:
        TemperatureInput, TemperatureOutput;
    /// A temperature difference.
    TemperatureDifference "degF" from_fahrenheit_steps fahrenheit_steps, "degC" from_celsius_steps celsius_steps:
        TemperatureDifferenceInput, TemperatureDifferenceOutput;
    /// A density.
    Density "lb/ft3" from_pounds_per_cubic_foot pounds_per_cubic_foot,
        "kg/m3" from_kilograms_per_cubic_metre kilograms_per_cubic_metre: DensityInput, DensityOutput;
    /// A kinematic viscosity; data sheets print it in mm2/s (cSt) in either system.
    KinematicViscosity "mm2/s" from_square_millimetres_per_second square_millimetres_per_second,
        "mm2/s" from_square_millimetres_per_second square_millimetres_per_second:
        KinematicViscosityInput, KinematicViscosityOutput;
    /// A dynamic viscosity; data sheets print it in mPa s (cP) in either system.
    DynamicViscosity "mPa s" from_millipascal_seconds millipascal_seconds,
        "mPa s" from_millipascal_seconds millipascal_seconds: DynamicViscosityInput, DynamicViscosityOutput;
    /// Density of an oil; data sheets print it in kg/m3 or a thousandth of it in either system.
    Density "kg/m3" from_kilograms_per_cubic_metre kilograms_per_cubic_metre,
        "kg/m3" from_kilograms_per_cubic_metre kilograms_per_cubic_metre: OilDensityInput, OilDensityOutput;
    /// A flow of oil.
    Flow "US gal/min" from_us_gallons_per_minute us_gallons_per_minute, "L/min" from_litres_per_minute litres_per_minute:
        FlowInput, FlowOutput;
    /// Speed of a flow.
    Speed "ft/s" from_feet_per_second feet_per_second, "m/s" from_metres_per_second metres_per_second:
        FlowSpeedInput, FlowSpeedOutput;
    /// A force.
    Force "lbf" from_pounds_force pounds_force, "N" from_newtons newtons: ForceInput, ForceOutput;
    /// A mass; shops weigh parts in grams in either system.
    Mass "g" from_grams grams, "g" from_grams grams: MassInput, MassOutput;
    /// A power.
    Power "hp" from_horsepower horsepower, "kW" from_kilowatts kilowatts: PowerInput, PowerOutput;
    /// Heat per mass and degree.
    SpecificHeat "Btu/lb/degF" from_btu_per_pound_fahrenheit btu_per_pound_fahrenheit,
        "kJ/kg/K" from_kilojoules_per_kilogram_kelvin kilojoules_per_kilogram_kelvin:
        SpecificHeatInput, SpecificHeatOutput;
    /// An energy per mass.
    SpecificEnergy "Btu/lb" from_btu_per_pound btu_per_pound, "MJ/kg" from_megajoules_per_kilogram megajoules_per_kilogram:
        SpecificEnergyInput, SpecificEnergyOutput;
    /// A ratio or another number without a unit.
    Ratio "1" from_plain plain, "1" from_plain plain: RatioInput, GivenRatioOutput;
    /// A share in percent.
    Ratio "%" from_percent percent, "%" from_percent percent: PercentInput, GivenPercentOutput;
    /// A price in the caller's currency, of the set that one engine needs.
    Price "per set" from_per_set per_set, "per set" from_per_set per_set: PriceInput, PriceOutput;
    /// A change per degree of crank angle.
    PerAngle "1/deg" from_per_degree per_degree, "1/deg" from_per_degree per_degree: PerAngleInput, PerAngleOutput;
    /// A change per degree of temperature.
    PerTemperature "1/degF" from_per_degree_fahrenheit per_degree_fahrenheit,
        "1/degC" from_per_degree_celsius per_degree_celsius: PerTemperatureInput, PerTemperatureOutput;
}

/// A ratio or another number without a unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatioOutput(pub f64);

impl Serialize for RatioOutput {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        finite(self.0, serializer)
    }
}

impl utoipa::PartialSchema for RatioOutput {
    fn schema() -> RefOr<Schema> {
        number().extensions(unit_extension(["1", "1"])).into()
    }
}

impl utoipa::ToSchema for RatioOutput {}

/// A share in percent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PercentOutput(f64);

impl Serialize for PercentOutput {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        finite(self.0, serializer)
    }
}

impl PercentOutput {
    /// From a share of one.
    #[must_use]
    pub fn from_share(share: f64) -> Self {
        Self(100.0 * share)
    }
}

impl utoipa::PartialSchema for PercentOutput {
    fn schema() -> RefOr<Schema> {
        number().extensions(unit_extension(["%", "%"])).into()
    }
}

impl utoipa::ToSchema for PercentOutput {}

#[cfg(test)]
mod tests;
