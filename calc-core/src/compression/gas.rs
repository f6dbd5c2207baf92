//! Dry air, and air with fuel vapour, as ideal gases whose heat capacity rises with temperature.

use crate::error::Error;
use crate::solve::bracketed_newton;

/// Universal gas constant, J/(mol K): exact by the SI's definitions of 2019 (SI Brochure, 9th edition).
const UNIVERSAL: f64 = 8.314_462_618;

/// The NASA polynomials of a substance: seven coefficients up to 1000 K and seven above it.
struct Species {
    /// g/mol.
    molar_mass: f64,
    low: [f64; 7],
    high: [f64; 7],
}

/// Where the two halves of a polynomial meet (K).
const BREAK: f64 = 1000.0;

/// Above this the polynomial of oxygen ends (K).
pub(crate) const HOTTEST: f64 = 3500.0;

// Coefficients: Cantera's public data files air.yaml (nitrogen, oxygen, argon; from GRI-Mech 3.0) and nasa_gas.yaml
// (iso-octane; NASA TM-4513, 1993). Nitrogen's and argon's are stated from 300 K, oxygen's and iso-octane's from 200 K. Used
// below that, nitrogen's heat capacity is 0.6 percent low at 250 K; no end state from 215 K on is off by 0.15 percent (against
// CoolProp's ideal-gas heat capacities).
const NITROGEN: Species = Species {
    molar_mass: 28.014,
    low: [3.298_677, 1.408_240_4e-3, -3.963_222e-6, 5.641_515e-9, -2.444_854e-12, -1_020.899_9, 3.950_372],
    high: [2.926_64, 1.487_976_8e-3, -5.684_76e-7, 1.009_703_8e-10, -6.753_351e-15, -922.797_7, 5.980_528],
};
const OXYGEN: Species = Species {
    molar_mass: 31.998,
    low: [
        3.782_456_36,
        -2.996_734_16e-3,
        9.847_302_01e-6,
        -9.681_295_09e-9,
        3.243_728_37e-12,
        -1_063.943_56,
        3.657_675_73,
    ],
    high: [
        3.282_537_84,
        1.483_087_54e-3,
        -7.579_666_69e-7,
        2.094_705_55e-10,
        -2.167_177_94e-14,
        -1_088.457_72,
        5.453_231_29,
    ],
};
const ARGON: Species = Species {
    molar_mass: 39.95,
    low: [2.5, 0.0, 0.0, 0.0, 0.0, -745.375, 4.366],
    high: [2.5, 0.0, 0.0, 0.0, 0.0, -745.375, 4.366],
};
const ISO_OCTANE: Species = Species {
    molar_mass: 114.232,
    low: [
        0.815_737_338,
        0.073_264_395_9,
        1.783_006_88e-5,
        -6.935_896_2e-8,
        3.216_293_82e-11,
        -30_477.286_2,
        24.150_999_4,
    ],
    high: [
        15.989_927_3,
        0.055_318_479,
        -1.952_670_72e-5,
        3.117_791_72e-9,
        -1.853_125_77e-13,
        -35_875.797_3,
        -60.116_141_4,
    ],
};

/// Dry air as air.yaml mixes it, by amount of substance.
const DRY_AIR: [(f64, &Species); 3] = [(0.78, &NITROGEN), (0.21, &OXYGEN), (0.01, &ARGON)];

/// An ideal gas of fixed composition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Gas {
    molar_mass: f64,
    low: [f64; 7],
    high: [f64; 7],
}

impl Gas {
    pub(crate) fn dry_air() -> Self {
        Self::mixed(&DRY_AIR)
    }

    /// Air with the vapour of a fuel, taken as iso-octane, by mass of air per mass of fuel.
    pub(crate) fn mixture(air_fuel_ratio: f64) -> Self {
        let (air, fuel) = (air_fuel_ratio / Self::dry_air().molar_mass, 1.0 / ISO_OCTANE.molar_mass);
        let share = air / (air + fuel);
        let [nitrogen, oxygen, argon] = DRY_AIR.map(|(of_air, species)| (share * of_air, species));
        Self::mixed(&[nitrogen, oxygen, argon, (1.0 - share, &ISO_OCTANE)])
    }

    /// Molar properties of a mixture of ideal gases are the shares' sums, and so are the coefficients.
    fn mixed(parts: &[(f64, &Species)]) -> Self {
        let sum = |of: &dyn Fn(&Species) -> f64| parts.iter().map(|(share, species)| share * of(species)).sum();
        Self {
            molar_mass: sum(&|species| species.molar_mass),
            low: std::array::from_fn(|index| sum(&|species| species.low[index])),
            high: std::array::from_fn(|index| sum(&|species| species.high[index])),
        }
    }

    /// J/(kg K).
    pub(crate) fn gas_constant(&self) -> f64 {
        1000.0 * UNIVERSAL / self.molar_mass
    }

    fn coefficients(&self, kelvins: f64) -> &[f64; 7] {
        if Self::is_hot(kelvins) { &self.high } else { &self.low }
    }

    /// Whether the polynomials' upper halves hold.
    pub(crate) fn is_hot(kelvins: f64) -> bool {
        kelvins > BREAK
    }

    /// Coefficients below the break.
    pub(crate) fn cold(&self) -> &[f64; 7] {
        &self.low
    }

    /// Coefficients above it.
    pub(crate) fn hot(&self) -> &[f64; 7] {
        &self.high
    }

    /// cp/R = a1 + a2 T + a3 T^2 + a4 T^3 + a5 T^4.
    pub(crate) fn heat_capacity(&self, t: f64) -> f64 {
        let [a1, a2, a3, a4, a5, ..] = self.coefficients(t);
        a1 + t * (a2 + t * (a3 + t * (a4 + t * a5)))
    }

    /// s0/R = a1 ln T + a2 T + a3 T^2/2 + a4 T^3/3 + a5 T^4/4 + a7 (mixing at constant composition left out).
    fn entropy(&self, t: f64, ln_t: f64) -> f64 {
        let [a1, a2, a3, a4, a5, _, a7] = self.coefficients(t);
        a1 * ln_t + t * (a2 + t * (a3 / 2.0 + t * (a4 / 3.0 + t * a5 / 4.0))) + a7
    }

    /// The temperature after compression by `ratio` in volume without friction or heat: s0(T2) - s0(T1) = R ln(ratio T2/T1).
    pub(crate) fn compressed(&self, start_kelvins: f64, ratio: f64) -> Result<f64, Error> {
        let ln_start = start_kelvins.ln();
        // What is left when ln T2 is taken out: it stands in the entropy too, and a logarithm takes as long as the rest.
        let start = self.entropy(start_kelvins, ln_start) + ratio.ln() - ln_start;
        let balance = |t: f64| {
            let ln_t = t.ln();
            (self.entropy(t, ln_t) - ln_t - start, (self.heat_capacity(t) - 1.0) / t)
        };
        // No gas of ours has cv below 2 R (argon alone would): the end temperature stays below T1 ratio^(1/2).
        let highest = start_kelvins * ratio.sqrt();
        bracketed_newton("end of compression", balance, start_kelvins, highest, start_kelvins * ratio.powf(0.36))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_halves_of_the_polynomials_meet() {
        for gas in [Gas::dry_air(), Gas::mixture(14.7), Gas::mixture(9.0)] {
            let (below, above) = (gas.heat_capacity(BREAK), gas.heat_capacity(BREAK + 1e-9));
            assert!((above / below - 1.0).abs() < 1e-4, "{below} {above}");
            let entropy = |t: f64| gas.entropy(t, t.ln());
            assert!((entropy(BREAK + 1e-9) / entropy(BREAK) - 1.0).abs() < 1e-4);
        }
    }

    #[test]
    fn entropy_is_the_integral_of_heat_capacity_over_temperature() {
        let gas = Gas::mixture(13.0);
        let entropy = |t: f64| gas.entropy(t, t.ln());
        for t in [260.0, 500.0, 900.0, 1500.0, 2500.0] {
            let slope = (entropy(t + 0.01) - entropy(t - 0.01)) / 0.02;
            assert!((slope * t / gas.heat_capacity(t) - 1.0).abs() < 1e-8);
        }
    }
}
