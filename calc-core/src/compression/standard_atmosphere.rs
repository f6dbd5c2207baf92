//! The standard atmosphere: pressure, temperature and density of the air by altitude, and of the charge that is drawn from it.

use crate::error::Error;
use crate::limit;
use crate::method::Method;
use crate::units::{Altitude, Density, Pressure, Quantity, Temperature, TemperatureDifference};

/// How [`standard_atmosphere`] works.
pub const METHOD: Method = Method {
    id: "standard-atmosphere",
    title: "Standard atmosphere by geopotential altitude",
    equation: "Up to 11 km: T = T0 + b H, p = p0 (T/T0)^(-g/(b R)). From 11 to 20 km: T = 216.65 K, p = p11 exp(-g (H - 11 km)/(R T)). \
         rho = p/(R T). T0 = 288.15 K, p0 = 101325 Pa, b = -0.0065 K/m, g = 9.80665 m/s2, R = 287.05287 J/(kg K); H geopotential \
         altitude, T temperature, p pressure, rho density.",
    valid_for: "Geopotential altitude from -2000 to 20000 m; a surveyed (geometric) altitude is larger by 0.05 percent at 3000 m. \
         Dry air on an average day: weather moves the pressure by a few percent, and humid air is lighter.",
    sources: &["ISO 2533:1975, Standard atmosphere, tables 5 to 7"],
};

const SEA_LEVEL_TEMPERATURE: f64 = 288.15;
const SEA_LEVEL_PRESSURE: f64 = 101_325.0;
const LAPSE: f64 = -0.0065;
const GRAVITY: f64 = 9.806_65;
/// The gas constant of dry air that ISO 2533 prints; its tables need it to the last digit.
const GAS_CONSTANT: f64 = 287.052_87;
/// Where the temperature stops falling (m).
const TROPOPAUSE: f64 = 11_000.0;

/// Air at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Absolute pressure.
    pub pressure: Pressure,
    /// Temperature.
    pub temperature: Temperature,
    /// Density.
    pub density: Density,
}

impl Air {
    /// Dry air of this pressure and temperature.
    pub(crate) fn new(pressure: Pressure, temperature: Temperature) -> Self {
        let density = pressure.pascals() / (GAS_CONSTANT * temperature.kelvins());
        Self { pressure, temperature, density: Density::from_kilograms_per_cubic_metre(density) }
    }

    /// The standard's air at sea level.
    pub(crate) fn at_sea_level() -> Self {
        Self::new(Pressure::from_pascals(SEA_LEVEL_PRESSURE), Temperature::from_kelvins(SEA_LEVEL_TEMPERATURE))
    }
}

/// The air around and the air trapped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Charge {
    /// Standard air at the altitude.
    pub ambient: Air,
    /// The air in the cylinder at closing.
    pub trapped: Air,
    /// Its density relative to standard air at sea level.
    pub density_ratio: f64,
}

/// Standard air at an altitude.
///
/// **Equation** T = T0 + b H, p = p0 (T/T0)^(-g/(b R)) up to 11 km; p = p11 exp(-g (H - 11 km)/(R T)) above; rho = p/(R T)
///
/// **Shape** Scalars.
///
/// **Units** An altitude in; pressure, temperature and density out.
///
/// **Valid for** Geopotential altitude from -2000 to 20000 m.
///
/// **Errors** [`Error::NoSolution`] outside that.
///
/// **Source** ISO 2533:1975, Standard atmosphere.
pub fn standard_atmosphere(altitude: Altitude) -> Result<Air, Error> {
    if limit::ALTITUDE.check(&altitude).is_err() {
        let detail =
            format!("is outside the standard atmosphere used here, -2000 to 20000 m; got {}.", altitude.shown());
        return Err(Error::NoSolution { field: "altitude", detail });
    }
    let below = altitude.altitude_metres().min(TROPOPAUSE);
    let temperature = SEA_LEVEL_TEMPERATURE + LAPSE * below;
    let exponent = -GRAVITY / (LAPSE * GAS_CONSTANT);
    let troposphere = SEA_LEVEL_PRESSURE * (temperature / SEA_LEVEL_TEMPERATURE).powf(exponent);
    let above = altitude.altitude_metres() - below;
    let pressure = troposphere * (-GRAVITY * above / (GAS_CONSTANT * temperature)).exp();
    Ok(Air::new(Pressure::from_pascals(pressure), Temperature::from_kelvins(temperature)))
}

/// The air around at an altitude, and that air as the cylinder traps it: at the same pressure, as warm as given.
pub(crate) fn charge(
    altitude: Altitude,
    intake: Option<Temperature>,
    heating: Option<TemperatureDifference>,
) -> Result<Charge, Error> {
    let ambient = standard_atmosphere(altitude)?;
    let intake = intake.unwrap_or(ambient.temperature);
    let warmed = intake.kelvins() + heating.unwrap_or_default().kelvin_steps();
    let trapped = Air::new(ambient.pressure, Temperature::from_kelvins(warmed));
    let standard = Air::at_sea_level().density.kilograms_per_cubic_metre();
    Ok(Charge { ambient, trapped, density_ratio: trapped.density.kilograms_per_cubic_metre() / standard })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn warm_and_high_air_is_thin(altitude in 0.0..6000.0, celsius in -20.0..50.0) {
            let at = |altitude, celsius| {
                charge(Altitude::from_altitude_metres(altitude), Some(Temperature::from_degrees_celsius(celsius)), None)
            };
            let base = at(altitude, celsius)?.density_ratio;
            prop_assert!(at(altitude + 1.0, celsius)?.density_ratio < base);
            prop_assert!(at(altitude, celsius + 1.0)?.density_ratio < base);
        }

        #[test]
        fn the_air_thins_with_height_and_carries_what_is_above_it(altitude in -2000.0..19999.0) {
            let at = |metres| standard_atmosphere(Altitude::from_altitude_metres(metres));
            let (low, middle, high) = (at(altitude)?, at(altitude + 0.5)?, at(altitude + 1.0)?);
            prop_assert!(high.pressure < low.pressure && high.density < low.density);
            let weight = GRAVITY * middle.density.kilograms_per_cubic_metre();
            let fall = low.pressure.pascals() - high.pressure.pascals();
            // At 11 km the temperature's slope breaks, which a metre across the break feels.
            prop_assert!((fall - weight).abs() < 1e-5 * weight, "{fall} for {weight}");
        }
    }

    #[test]
    fn nothing_is_said_about_air_outside_the_range() {
        for metres in [-2001.0, 20001.0, f64::NAN] {
            assert!(standard_atmosphere(Altitude::from_altitude_metres(metres)).is_err());
        }
    }
}
