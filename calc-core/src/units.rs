//! Quantities: newtypes over `f64` in SI units, all made by the one table at the end of this file.
//!
//! A factor is the exact definition where there is one. Source of all factors: NIST Special Publication 811 (2008),
//! appendix B.8 "Factors for units listed alphabetically"; the litre and the degree: the SI Brochure, 9th edition, table 8.
//! Only a temperature has an offset as well: a temperature difference is another quantity, so that the two cannot be mixed up.

use std::f64::consts::PI;

/// One unit of a quantity: how it may be written, and how many SI units it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// Accepted spellings; the first is the one that answers and messages use.
    pub symbols: &'static [&'static str],
    /// SI units in one of this unit.
    pub factor: f64,
    /// SI value of this unit's zero; zero but for temperatures.
    pub offset: f64,
}

impl Unit {
    /// The SI value of a figure in this unit.
    #[must_use]
    pub const fn to_si(&self, figure: f64) -> f64 {
        figure * self.factor + self.offset
    }

    /// The figure in this unit of an SI value.
    #[must_use]
    pub const fn of_si(&self, value: f64) -> f64 {
        (value - self.offset) / self.factor
    }

    /// The spelling used in answers and messages.
    #[must_use]
    pub const fn symbol(&self) -> &'static str {
        self.symbols[0]
    }
}

/// What all quantities have in common: a value in SI units and a table of the units it may be written in.
pub trait Quantity: Copy + PartialOrd + std::fmt::Debug + 'static {
    /// What the quantity is called in messages: `length`.
    const NAME: &'static str;
    /// Every unit that may be written for this quantity.
    const UNITS: &'static [Unit];
    /// The units in which messages show it: the inch system's, then the metric system's; empty for a plain number.
    const SHOP: [&'static str; 2];

    /// From a value in SI units.
    fn from_si(value: f64) -> Self;
    /// The value in SI units.
    fn si(self) -> f64;

    /// The unit with this spelling, if it is one of this quantity's.
    #[must_use]
    fn unit(symbol: &str) -> Option<&'static Unit> {
        Self::UNITS.iter().find(|unit| unit.symbols.contains(&symbol))
    }

    /// The value in shop units for a message: `0.0410 in (1.041 mm)`.
    #[must_use]
    fn shown(self) -> String {
        let [inch, metric] = Self::SHOP;
        let mut text = String::with_capacity(LONGEST_SHOWN);
        push_figure(&mut text, self, inch);
        if inch != metric {
            text.push_str(" (");
            push_figure(&mut text, self, metric);
            text.push(')');
        }
        text
    }
}

/// Most texts of [`Quantity::shown`] are shorter.
const LONGEST_SHOWN: usize = 48;

fn push_figure<Q: Quantity>(text: &mut String, quantity: Q, symbol: &str) {
    let figure = Q::unit(symbol).map_or(quantity.si(), |unit| unit.of_si(quantity.si()));
    push_rounded(text, figure);
    if !symbol.is_empty() {
        text.push(' ');
        text.push_str(symbol);
    }
}

/// Six significant digits without trailing zeros: enough for a message, never used for an answer.
pub(crate) fn rounded(value: f64) -> String {
    let mut text = String::with_capacity(LONGEST_SHOWN);
    push_rounded(&mut text, value);
    text
}

fn push_rounded(text: &mut String, value: f64) {
    if value == 0.0 || !value.is_finite() {
        text.push_str(&value.to_string());
        return;
    }
    let decimals = (5 - value.abs().log10().floor() as i64).clamp(0, 12) as usize;
    let start = text.len();
    push_fixed(text, value, decimals);
    if decimals > 0 {
        let kept = text[start..].trim_end_matches('0').trim_end_matches('.').len();
        text.truncate(start + kept);
    }
}

/// Appends a value with so many decimals: what `{value:.decimals$}` gives, without its long arithmetic where the last digit
/// is beyond doubt. Cautions are written for every line of a stream, and this is most of their cost.
pub(crate) fn push_fixed(text: &mut String, value: f64, decimals: usize) {
    // Below this the product is off by less than a thousandth; a rest nearer to a half than that is left to the exact way.
    const LARGEST: f64 = 1e12;
    let scaled = value.abs() * 10_f64.powi(decimals as i32);
    let whole = scaled.floor();
    let rest = scaled - whole;
    if !(scaled < LARGEST && (rest - 0.5).abs() > 1e-3) {
        text.push_str(&format!("{value:.decimals$}"));
        return;
    }
    let mut digits = [b'0'; 32];
    let mut at = digits.len();
    let mut left = whole as u64 + u64::from(rest > 0.5);
    // The decimals, the point, and one digit before it at least.
    for place in 0.. {
        if left == 0 && place > decimals {
            break;
        }
        if place == decimals && place > 0 {
            at -= 1;
            digits[at] = b'.';
        }
        at -= 1;
        digits[at] = b'0' + (left % 10) as u8;
        left /= 10;
    }
    if value.is_sign_negative() {
        text.push('-');
    }
    // Digits and a point are always text.
    text.push_str(std::str::from_utf8(&digits[at..]).unwrap_or_default());
}

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident $label:literal [$inch:literal, $metric:literal] {
        $($from:ident, $to:ident: [$($symbol:literal),+] = $factor:expr $(, zero at $offset:expr)?;)+
    })+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, serde::Serialize)]
        pub struct $name(f64);

        impl Quantity for $name {
            const NAME: &'static str = $label;
            const UNITS: &'static [Unit] = &[$(
                Unit { symbols: &[$($symbol),+], factor: $factor, offset: 0.0 $(+ $offset)? }
            ),+];
            const SHOP: [&'static str; 2] = [$inch, $metric];
            fn from_si(value: f64) -> Self { Self(value) }
            fn si(self) -> f64 { self.0 }
        }

        impl $name {$(
            #[doc = concat!("From a value in ", $($symbol, " ",)+ "(first spelling is the usual one).")]
            #[must_use]
            pub const fn $from(value: f64) -> Self { Self(value * $factor $(+ $offset)?) }
            #[doc = concat!("The value in ", $($symbol, " ",)+ "(first spelling is the usual one).")]
            #[must_use]
            pub const fn $to(self) -> f64 { (self.0 $(- $offset)?) / $factor }
        )+}
    )+};
}

const INCH: f64 = 0.0254;
const FOOT: f64 = 12.0 * INCH;
/// Standard gravity in m/s2.
const GRAVITY: f64 = 9.806_65;
const POUND: f64 = 0.453_592_37;
const PSI: f64 = POUND * GRAVITY / (INCH * INCH);
/// The gallon of the United States: 231 cubic inches.
const US_GALLON: f64 = 231.0 * INCH * INCH * INCH;
const RANKINE: f64 = 5.0 / 9.0;
/// One British thermal unit (International Table) per pound: 2326 J/kg by definition.
const BTU_PER_POUND: f64 = 2326.0;

quantities! {
    /// A length, in metres.
    Length "length" ["in", "mm"] {
        from_metres, metres: ["m"] = 1.0;
        from_centimetres, centimetres: ["cm"] = 0.01;
        from_millimetres, millimetres: ["mm"] = 0.001;
        from_micrometres, micrometres: ["um", "µm"] = 1e-6;
        from_feet, feet: ["ft"] = FOOT;
        from_inches, inches: ["in", "inch", "inches", "\""] = INCH;
        from_thousandths, thousandths: ["thou", "mil"] = INCH / 1000.0;
    }
    /// An area, in square metres.
    Area "area" ["in2", "mm2"] {
        from_square_metres, square_metres: ["m2", "m^2", "m²"] = 1.0;
        from_square_centimetres, square_centimetres: ["cm2", "cm^2", "cm²"] = 1e-4;
        from_square_millimetres, square_millimetres: ["mm2", "mm^2", "mm²"] = 1e-6;
        from_square_inches, square_inches: ["in2", "in^2", "in²", "sq in"] = INCH * INCH;
    }
    /// A volume, in cubic metres.
    Volume "volume" ["in3", "cm3"] {
        from_cubic_metres, cubic_metres: ["m3", "m^3", "m³"] = 1.0;
        from_litres, litres: ["L", "l", "litre", "litres", "liter", "liters"] = 0.001;
        from_cubic_centimetres, cubic_centimetres: ["cm3", "cc", "cm^3", "cm³", "mL", "ml"] = 1e-6;
        from_cubic_millimetres, cubic_millimetres: ["mm3", "mm^3", "mm³"] = 1e-9;
        from_cubic_inches, cubic_inches: ["in3", "in^3", "in³", "cu in"] = INCH * INCH * INCH;
    }
    /// A plane angle, in radians.
    Angle "angle" ["deg", "deg"] {
        from_radians, radians: ["rad"] = 1.0;
        from_degrees, degrees: ["deg", "°", "degree", "degrees"] = PI / 180.0;
    }
    /// A speed of rotation, in radians per second.
    RotationalSpeed "rotational speed" ["rev/min", "rev/min"] {
        from_radians_per_second, radians_per_second: ["rad/s"] = 1.0;
        from_revolutions_per_second, revolutions_per_second: ["rev/s"] = 2.0 * PI;
        from_revolutions_per_minute, revolutions_per_minute: ["rev/min", "rpm", "r/min", "1/min"] = 2.0 * PI / 60.0;
    }
    /// A linear speed, in metres per second.
    Speed "speed" ["ft/min", "m/s"] {
        from_metres_per_second, metres_per_second: ["m/s"] = 1.0;
        from_feet_per_second, feet_per_second: ["ft/s"] = FOOT;
        from_feet_per_minute, feet_per_minute: ["ft/min"] = FOOT / 60.0;
    }
    /// A linear acceleration, in metres per second squared.
    Acceleration "acceleration" ["ft/s2", "m/s2"] {
        from_metres_per_second_squared, metres_per_second_squared: ["m/s2", "m/s^2", "m/s²"] = 1.0;
        from_feet_per_second_squared, feet_per_second_squared: ["ft/s2", "ft/s^2", "ft/s²"] = FOOT;
        from_standard_gravities, standard_gravities: ["g"] = GRAVITY;
    }
    /// A height above sea level, in metres: a length that nobody gives in inches.
    Altitude "altitude" ["ft", "m"] {
        from_altitude_metres, altitude_metres: ["m"] = 1.0;
        from_altitude_feet, altitude_feet: ["ft"] = FOOT;
        from_altitude_kilometres, altitude_kilometres: ["km"] = 1000.0;
    }
    /// An absolute or gauge pressure, or a difference of pressures, in pascals.
    Pressure "pressure" ["psi", "bar"] {
        from_pascals, pascals: ["Pa"] = 1.0;
        from_hectopascals, hectopascals: ["hPa", "mbar"] = 100.0;
        from_kilopascals, kilopascals: ["kPa"] = 1e3;
        from_megapascals, megapascals: ["MPa"] = 1e6;
        from_bar, bar: ["bar"] = 1e5;
        from_standard_atmospheres, standard_atmospheres: ["atm"] = 101_325.0;
        from_pounds_per_square_inch, pounds_per_square_inch: ["psi", "lbf/in2"] = PSI;
        from_inches_of_mercury, inches_of_mercury: ["inHg"] = INCH * 1000.0 * 133.322_387_415;
    }
    /// A temperature, in kelvins.
    Temperature "temperature" ["degF", "degC"] {
        from_kelvins, kelvins: ["K"] = 1.0;
        from_degrees_celsius, degrees_celsius: ["degC", "°C", "C"] = 1.0, zero at 273.15;
        from_degrees_fahrenheit, degrees_fahrenheit: ["degF", "°F", "F"] = RANKINE, zero at 459.67 * RANKINE;
    }
    /// A difference of two temperatures, in kelvins.
    TemperatureDifference "temperature difference" ["degF", "degC"] {
        from_kelvin_steps, kelvin_steps: ["K"] = 1.0;
        from_celsius_steps, celsius_steps: ["degC", "°C", "C"] = 1.0;
        from_fahrenheit_steps, fahrenheit_steps: ["degF", "°F", "F"] = RANKINE;
    }
    /// A mass per volume, in kilograms per cubic metre.
    Density "density" ["lb/ft3", "kg/m3"] {
        from_kilograms_per_cubic_metre, kilograms_per_cubic_metre: ["kg/m3", "kg/m^3", "kg/m³"] = 1.0;
        from_grams_per_cubic_centimetre, grams_per_cubic_centimetre: ["g/cm3", "g/cm^3", "g/cm³", "g/mL"] = 1000.0;
        from_pounds_per_cubic_foot, pounds_per_cubic_foot: ["lb/ft3", "lb/ft^3", "lb/ft³"] = POUND / (FOOT * FOOT * FOOT);
    }
    /// A kinematic viscosity, in square metres per second.
    KinematicViscosity "kinematic viscosity" ["mm2/s", "mm2/s"] {
        from_square_metres_per_second, square_metres_per_second: ["m2/s", "m^2/s", "m²/s"] = 1.0;
        from_square_millimetres_per_second, square_millimetres_per_second: ["mm2/s", "cSt", "mm^2/s", "mm²/s"] = 1e-6;
        from_stokes, stokes: ["St", "cm2/s"] = 1e-4;
    }
    /// A dynamic viscosity, in pascal seconds.
    DynamicViscosity "dynamic viscosity" ["mPa s", "mPa s"] {
        from_pascal_seconds, pascal_seconds: ["Pa s", "Pa.s", "Pa·s"] = 1.0;
        from_millipascal_seconds, millipascal_seconds: ["mPa s", "cP", "mPa.s", "mPa·s", "cp"] = 1e-3;
        from_poises, poises: ["P"] = 0.1;
        from_reyns, reyns: ["lbf s/in2", "reyn"] = PSI;
    }
    /// A volume per time, in cubic metres per second.
    Flow "flow" ["US gal/min", "L/min"] {
        from_cubic_metres_per_second, cubic_metres_per_second: ["m3/s", "m^3/s", "m³/s"] = 1.0;
        from_litres_per_minute, litres_per_minute: ["L/min", "l/min"] = 0.001 / 60.0;
        from_litres_per_hour, litres_per_hour: ["L/h", "l/h"] = 0.001 / 3600.0;
        from_cubic_centimetres_per_second, cubic_centimetres_per_second: ["cm3/s", "cc/s", "mL/s"] = 1e-6;
        from_cubic_centimetres_per_minute, cubic_centimetres_per_minute: ["cm3/min", "cc/min", "mL/min"] = 1e-6 / 60.0;
        from_us_gallons_per_minute, us_gallons_per_minute: ["US gal/min", "gal/min", "gpm"] = US_GALLON / 60.0;
        from_us_quarts_per_minute, us_quarts_per_minute: ["US qt/min", "qt/min"] = US_GALLON / 240.0;
        from_cubic_inches_per_second, cubic_inches_per_second: ["in3/s", "in^3/s"] = INCH * INCH * INCH;
    }
    /// A force, in newtons.
    Force "force" ["lbf", "N"] {
        from_newtons, newtons: ["N"] = 1.0;
        from_kilonewtons, kilonewtons: ["kN"] = 1e3;
        from_pounds_force, pounds_force: ["lbf", "lb"] = POUND * GRAVITY;
        from_kilograms_force, kilograms_force: ["kgf"] = GRAVITY;
    }
    /// A mass, in kilograms.
    Mass "mass" ["g", "g"] {
        from_kilograms, kilograms: ["kg"] = 1.0;
        from_grams, grams: ["g", "gram", "grams"] = 0.001;
        from_pounds, pounds: ["lb"] = POUND;
        from_ounces, ounces: ["oz"] = POUND / 16.0;
    }
    /// A power, in watts.
    Power "power" ["hp", "kW"] {
        from_watts, watts: ["W"] = 1.0;
        from_kilowatts, kilowatts: ["kW"] = 1e3;
        from_horsepower, horsepower: ["hp"] = 550.0 * FOOT * POUND * GRAVITY;
    }
    /// Heat per mass and degree, in joules per kilogram and kelvin.
    SpecificHeat "specific heat" ["Btu/lb/degF", "kJ/kg/K"] {
        from_joules_per_kilogram_kelvin, joules_per_kilogram_kelvin: ["J/kg/K"] = 1.0;
        from_kilojoules_per_kilogram_kelvin, kilojoules_per_kilogram_kelvin: ["kJ/kg/K"] = 1e3;
        from_btu_per_pound_fahrenheit, btu_per_pound_fahrenheit: ["Btu/lb/degF"] = BTU_PER_POUND / RANKINE;
    }
    /// An energy per mass, in joules per kilogram.
    SpecificEnergy "energy per mass" ["Btu/lb", "MJ/kg"] {
        from_joules_per_kilogram, joules_per_kilogram: ["J/kg"] = 1.0;
        from_kilojoules_per_kilogram, kilojoules_per_kilogram: ["kJ/kg"] = 1e3;
        from_megajoules_per_kilogram, megajoules_per_kilogram: ["MJ/kg"] = 1e6;
        from_btu_per_pound, btu_per_pound: ["Btu/lb"] = BTU_PER_POUND;
    }
    /// A ratio, a share or another plain number; a compression ratio may be written `9.5:1`, a share `85 %`.
    Ratio "ratio" ["", ""] {
        from_plain, plain: [":1"] = 1.0;
        from_percent, percent: ["%"] = 0.01;
    }
    /// A price in the caller's currency.
    Price "price" ["", ""] {
        from_per_set, per_set: ["per set"] = 1.0;
    }
    /// A change per degree of crank angle, in 1/rad.
    PerAngle "change per angle" ["1/deg", "1/deg"] {
        from_per_radian, per_radian: ["1/rad"] = 1.0;
        from_per_degree, per_degree: ["1/deg"] = 180.0 / PI;
    }
    /// A change per degree of temperature, in 1/K.
    PerTemperature "change per temperature" ["1/degF", "1/degC"] {
        from_per_kelvin, per_kelvin: ["1/K"] = 1.0;
        from_per_degree_celsius, per_degree_celsius: ["1/degC"] = 1.0;
        from_per_degree_fahrenheit, per_degree_fahrenheit: ["1/degF"] = 1.0 / RANKINE;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_show_both_systems_without_noise() {
        assert_eq!(Length::from_inches(0.041).shown(), "0.041 in (1.0414 mm)");
        assert_eq!(Length::from_millimetres(-0.5).shown(), "-0.019685 in (-0.5 mm)");
        assert_eq!(Angle::from_degrees(90.0).shown(), "90 deg");
        assert_eq!(Length::from_metres(1234.5).shown(), "48602.4 in (1234500 mm)");
        assert_eq!(Length::default().shown(), "0 in (0 mm)");
    }

    #[test]
    fn the_quick_decimals_are_those_of_the_standard_library() {
        let mut draw = 0x9e37_79b9_7f4a_7c15_u64;
        for count in 0..200_000_u32 {
            draw ^= draw << 13;
            draw ^= draw >> 7;
            draw ^= draw << 17;
            let exponent = i32::try_from(count % 30).unwrap_or_default() - 14;
            let value = ((draw >> 11) as f64 / 2_f64.powi(53) - 0.5) * 10_f64.powi(exponent);
            let ties = (draw % 4000) as f64 / 8.0;
            for (value, decimals) in [(value, count as usize % 13), (ties, count as usize % 4), (-ties / 1000.0, 5)] {
                let mut text = String::new();
                push_fixed(&mut text, value, decimals);
                assert_eq!(text, format!("{value:.decimals$}"));
            }
        }
    }

    #[test]
    fn every_spelling_belongs_to_one_unit_and_the_shop_units_exist() {
        fn check<Q: Quantity>() {
            let spellings: Vec<_> = Q::UNITS.iter().flat_map(|unit| unit.symbols).collect();
            for (index, spelling) in spellings.iter().enumerate() {
                assert!(!spellings[index + 1..].contains(spelling), "{} has {spelling} twice", Q::NAME);
            }
            assert!(Q::SHOP.iter().all(|symbol| symbol.is_empty() || Q::unit(symbol).is_some()), "{}", Q::NAME);
        }
        check::<Length>();
        check::<Area>();
        check::<Volume>();
        check::<Angle>();
        check::<RotationalSpeed>();
        check::<Speed>();
        check::<Acceleration>();
        check::<Altitude>();
        check::<Pressure>();
        check::<Temperature>();
        check::<TemperatureDifference>();
        check::<Density>();
        check::<KinematicViscosity>();
        check::<DynamicViscosity>();
        check::<Flow>();
        check::<Force>();
        check::<Mass>();
        check::<Power>();
        check::<SpecificHeat>();
        check::<SpecificEnergy>();
        check::<Ratio>();
        check::<Price>();
        check::<PerAngle>();
        check::<PerTemperature>();
    }

    #[test]
    fn a_temperature_has_an_offset_and_a_difference_has_none() {
        assert_eq!(Temperature::from_degrees_celsius(15.0).shown(), "59 degF (15 degC)");
        assert_eq!(TemperatureDifference::from_celsius_steps(15.0).shown(), "27 degF (15 degC)");
        assert!((Temperature::from_degrees_fahrenheit(98.6).kelvins() - 310.15).abs() < 1e-12);
        for unit in Temperature::UNITS {
            assert!((unit.of_si(unit.to_si(-40.0)) + 40.0).abs() < 1e-12, "{}", unit.symbol());
        }
    }

    #[test]
    fn a_plain_number_is_shown_without_a_unit() {
        assert_eq!(Ratio::from_plain(9.5).shown(), "9.5");
    }
}
