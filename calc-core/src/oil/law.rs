//! Viscosity and density of one oil against temperature.

use crate::error::Error;
use crate::method::Method;
use crate::solve::bracketed_newton;
use crate::units::{Density, DynamicViscosity, KinematicViscosity, Temperature};

/// How viscosity follows temperature.
pub const VISCOSITY: Method = Method {
    id: "viscosity-temperature",
    title: "Viscosity of an oil against temperature",
    equation: "log10 log10(nu + 0.7) = A - B log10 T; nu kinematic viscosity in mm2/s, T temperature in kelvins, A and B from two \
         measured points. Dynamic viscosity mu = nu rho. Inverse: T = 10^((A - log10 log10(nu + 0.7))/B). Shear-thinned viscosity: \
         the share HTHS/mu(150 degrees C) of the viscosity at little shear, taken as the same at every temperature.",
    valid_for: "Liquid petroleum oils above their cloud point, 2 mm2/s and more (below that a caution, refused outside 1 to 2e7 \
         mm2/s); best between the two points, and within some tens of degrees of them. Multigrade oils fall off the line when \
         cold. The share of the shear-thinned viscosity is measured at 150 degrees C and 1e6 1/s and is an assumption elsewhere.",
    sources: &[
        "ASTM D341, Standard Practice for Viscosity-Temperature Equations and Charts for Liquid Petroleum or Hydrocarbon Products",
        "SAE J300, Engine Oil Viscosity Classification (high-shear viscosity at 150 degrees C)",
    ],
};

/// How density follows temperature.
pub const DENSITY: Method = Method {
    id: "oil-density",
    title: "Density of a lubricating oil against temperature",
    equation: "rho(t) = rho15 exp(-a d (1 + 0.8 a d)), a = 0.6278/rho15 in 1/degC with rho15 the density at 15 degrees C in kg/m3, \
         d = t - 15 degrees C. A density given at another temperature is brought to 15 degrees by the same equation.",
    valid_for: "Lubricating oils of 800 to 1164 kg/m3 at 15 degrees C, about -20 to 150 degrees C; used beyond, where it drifts \
         slowly. At the pressure of the air: 100 bar raise the density by about half a percent, which is left out.",
    sources: &[
        "ASTM D1250, Petroleum Measurement Tables, table 54D, lubricating oils (constants and range from memory)",
    ],
};

/// Density at 15 degrees C when none is given: common practice, no source.
pub const USUAL_DENSITY: Density = Density::from_kilograms_per_cubic_metre(870.0);

/// Where the equation ends (m2/s): below, it needs the standard's correction for thin liquids; above is the standard's end.
pub(crate) const VISCOSITY_RANGE: [f64; 2] = [1.0e-6, 20.0];
/// Below this (m2/s) the short form of the equation used here is not exact.
pub(crate) const THIN: f64 = 2.0e-6;

/// Temperature of the high-shear test.
pub(crate) const HIGH_SHEAR_TEST: Temperature = Temperature::from_degrees_celsius(150.0);

const MM2: f64 = 1e-6;
/// Added to the viscosity in mm2/s before its logarithm is taken twice.
const SHIFT: f64 = 0.7;
/// Expansion of lubricating oils: K1 of ASTM D1250, in kg/m3 per degree.
const EXPANSION: f64 = 0.6278;
const STANDARD_KELVINS: f64 = 288.15;

/// One oil, made once and asked at any temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OilLaw {
    /// ln ln(nu + 0.7) at ln T = 0.
    intercept: f64,
    /// B of ASTM D341.
    slope: f64,
    /// kg/m3 at 15 degrees C.
    density_15: f64,
    /// Share of the viscosity that is left at high shear.
    high_shear_share: Option<f64>,
}

/// One oil at one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OilState {
    /// Kinematic viscosity at little shear.
    pub kinematic_viscosity: KinematicViscosity,
    /// Dynamic viscosity at little shear.
    pub dynamic_viscosity: DynamicViscosity,
    /// Density at the pressure of the air.
    pub density: Density,
    /// Dynamic viscosity at high shear; only when the oil's high-shear viscosity at 150 degrees C was given.
    pub high_shear_viscosity: Option<DynamicViscosity>,
}

impl OilLaw {
    /// Through two points, (temperature, viscosity); of two different temperatures.
    pub(crate) fn through(
        [(cool, thick), (hot, thin)]: [(Temperature, KinematicViscosity); 2],
        density_15: Density,
    ) -> Self {
        let twice = |viscosity: KinematicViscosity| twice_log(viscosity.square_metres_per_second());
        let slope = (twice(thick) - twice(thin)) / (hot.kelvins() / cool.kelvins()).ln();
        let intercept = twice(thick) + slope * cool.kelvins().ln();
        Self { intercept, slope, density_15: density_15.kilograms_per_cubic_metre(), high_shear_share: None }
    }

    /// The same oil with its measured viscosity at 150 degrees C and high shear.
    pub(crate) fn with_high_shear(self, measured: DynamicViscosity) -> Self {
        let low_shear = self.state(HIGH_SHEAR_TEST).dynamic_viscosity;
        Self { high_shear_share: Some(measured.pascal_seconds() / low_shear.pascal_seconds()), ..self }
    }

    /// Kinematic viscosity in m2/s.
    pub(crate) fn kinematic(&self, kelvins: f64) -> f64 {
        ((self.intercept - self.slope * kelvins.ln()).exp().exp() - SHIFT) * MM2
    }

    /// Density in kg/m3.
    pub(crate) fn density(&self, kelvins: f64) -> f64 {
        density_at(self.density_15, kelvins)
    }

    /// The oil at a temperature.
    #[must_use]
    pub fn state(&self, temperature: Temperature) -> OilState {
        let kelvins = temperature.kelvins();
        let (kinematic, density) = (self.kinematic(kelvins), self.density(kelvins));
        OilState {
            kinematic_viscosity: KinematicViscosity::from_square_metres_per_second(kinematic),
            dynamic_viscosity: DynamicViscosity::from_pascal_seconds(kinematic * density),
            density: Density::from_kilograms_per_cubic_metre(density),
            high_shear_viscosity: self
                .high_shear_share
                .map(|share| DynamicViscosity::from_pascal_seconds(share * kinematic * density)),
        }
    }

    /// The temperature at which the oil has this kinematic viscosity.
    #[must_use]
    pub fn temperature_of(&self, viscosity: KinematicViscosity) -> Temperature {
        let twice = twice_log(viscosity.square_metres_per_second());
        Temperature::from_kelvins(((self.intercept - twice) / self.slope).exp())
    }

    /// A of ASTM D341, for logarithms to base ten.
    #[must_use]
    pub fn a(&self) -> f64 {
        (self.intercept - std::f64::consts::LN_10.ln()) / std::f64::consts::LN_10
    }

    /// B of ASTM D341.
    #[must_use]
    pub fn b(&self) -> f64 {
        self.slope
    }

    /// Density at 15 degrees C.
    #[must_use]
    pub fn density_15(&self) -> Density {
        Density::from_kilograms_per_cubic_metre(self.density_15)
    }

    /// The share of the viscosity that is left at high shear; only when it was given.
    #[must_use]
    pub fn high_shear_share(&self) -> Option<f64> {
        self.high_shear_share
    }
}

fn twice_log(square_metres_per_second: f64) -> f64 {
    (square_metres_per_second / MM2 + SHIFT).ln().ln()
}

fn density_at(density_15: f64, kelvins: f64) -> f64 {
    let step = EXPANSION / density_15 * (kelvins - STANDARD_KELVINS);
    density_15 * (-step * (1.0 + 0.8 * step)).exp()
}

/// The density at 15 degrees C of an oil whose density is known at another temperature.
///
/// **Equation** rho(t) = rho15 exp(-a d (1 + 0.8 a d)), a = 0.6278/rho15, d = t - 15 degrees C, solved for rho15
///
/// **Shape** Scalars.
///
/// **Units** Density and temperature in, density out.
///
/// **Valid for** Lubricating oils of 800 to 1164 kg/m3, about -20 to 150 degrees C.
///
/// **Errors** [`Error::NotConverged`] when the root is not found: a fault of ours.
///
/// **Source** ASTM D1250, table 54D (constants from memory).
pub fn density_at_15(density: Density, temperature: Temperature) -> Result<Density, Error> {
    let wanted = density.kilograms_per_cubic_metre();
    let kelvins = temperature.kelvins();
    let residual = |density_15: f64| {
        let step = EXPANSION / density_15 * (kelvins - STANDARD_KELVINS);
        let found = density_at(density_15, kelvins);
        (found - wanted, found / density_15 * (1.0 + step + 1.6 * step * step))
    };
    let found = bracketed_newton("density at 15 degrees C", residual, 0.5 * wanted, 2.0 * wanted, wanted)?;
    Ok(Density::from_kilograms_per_cubic_metre(found))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn celsius(degrees: f64) -> Temperature {
        Temperature::from_degrees_celsius(degrees)
    }

    fn oil(at_40: f64, at_100: f64, density: f64) -> OilLaw {
        let viscosity = KinematicViscosity::from_square_millimetres_per_second;
        OilLaw::through(
            [(celsius(40.0), viscosity(at_40)), (celsius(100.0), viscosity(at_100))],
            Density::from_kilograms_per_cubic_metre(density),
        )
    }

    proptest! {
        #[test]
        fn the_line_goes_through_its_points_and_back(at_40 in 20.0..400.0, share in 0.08_f64..0.25, degrees in -20.0..160.0) {
            let law = oil(at_40, at_40 * share, 870.0);
            let at = |degrees: f64| law.state(celsius(degrees)).kinematic_viscosity.square_millimetres_per_second();
            prop_assert!((at(40.0) / at_40 - 1.0).abs() < 1e-12);
            prop_assert!((at(100.0) / (at_40 * share) - 1.0_f64).abs() < 1e-12);
            prop_assert!(at(degrees + 1.0) < at(degrees));
            let back = law.temperature_of(law.state(celsius(degrees)).kinematic_viscosity);
            prop_assert!((back.degrees_celsius() - degrees).abs() < 1e-7);
            let decadic = law.a() - law.b() * celsius(degrees).kelvins().log10();
            let same = 10_f64.powf(10_f64.powf(decadic)) - 0.7;
            prop_assert!((same / at(degrees) - 1.0).abs() < 1e-9);
        }

        #[test]
        fn density_falls_with_heat_and_comes_back_to_15_degrees(density in 780.0..1000.0, degrees in -30.0..160.0) {
            let law = oil(100.0, 12.0, density);
            let there = law.state(celsius(degrees)).density;
            prop_assert!(law.state(celsius(degrees + 1.0)).density < there);
            let back = density_at_15(there, celsius(degrees))?;
            prop_assert!((back.kilograms_per_cubic_metre() / density - 1.0).abs() < 1e-12);
        }

        #[test]
        fn the_high_shear_viscosity_is_the_one_given_at_150_degrees(at_40 in 40.0..200.0, measured in 1.5..6.0) {
            let law = oil(at_40, 0.15 * at_40, 860.0).with_high_shear(DynamicViscosity::from_millipascal_seconds(measured));
            let found = law.state(HIGH_SHEAR_TEST).high_shear_viscosity.map(DynamicViscosity::millipascal_seconds);
            prop_assert!(found.is_some_and(|found| (found / measured - 1.0).abs() < 1e-12));
        }
    }
}
