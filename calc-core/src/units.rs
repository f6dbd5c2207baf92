//! Quantities: newtypes over `f64` in SI units, all made by the one table at the end of this file.
//!
//! A factor is the exact definition where there is one. Source of all factors: NIST Special Publication 811 (2008),
//! appendix B.8 "Factors for units listed alphabetically"; the litre and the degree: the SI Brochure, 9th edition, table 8.

use std::f64::consts::PI;

/// One unit of a quantity: how it may be written, and how many SI units it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// Accepted spellings; the first is the one that answers and messages use.
    pub symbols: &'static [&'static str],
    /// SI units in one of this unit.
    pub factor: f64,
}

impl Unit {
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
    /// The units in which messages show it: the inch system's, then the metric system's.
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
        let parts = Self::SHOP.map(|symbol| {
            let factor = Self::unit(symbol).map_or(1.0, |unit| unit.factor);
            format!("{} {symbol}", rounded(self.si() / factor))
        });
        let [inch, metric] = parts;
        if Self::SHOP[0] == Self::SHOP[1] { inch } else { format!("{inch} ({metric})") }
    }
}

/// Six significant digits without trailing zeros: enough for a message, never used for an answer.
pub(crate) fn rounded(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    let digits = (5 - value.abs().log10().floor() as i64).clamp(0, 12) as usize;
    let text = format!("{value:.digits$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident $label:literal [$inch:literal, $metric:literal] {
        $($from:ident, $to:ident: [$($symbol:literal),+] = $factor:expr;)+
    })+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, serde::Serialize)]
        pub struct $name(f64);

        impl Quantity for $name {
            const NAME: &'static str = $label;
            const UNITS: &'static [Unit] = &[$(Unit { symbols: &[$($symbol),+], factor: $factor }),+];
            const SHOP: [&'static str; 2] = [$inch, $metric];
            fn from_si(value: f64) -> Self { Self(value) }
            fn si(self) -> f64 { self.0 }
        }

        impl $name {$(
            #[doc = concat!("From a value in ", $($symbol, " ",)+ "(first spelling is the usual one).")]
            #[must_use]
            pub const fn $from(value: f64) -> Self { Self(value * $factor) }
            #[doc = concat!("The value in ", $($symbol, " ",)+ "(first spelling is the usual one).")]
            #[must_use]
            pub const fn $to(self) -> f64 { self.0 / $factor }
        )+}
    )+};
}

const INCH: f64 = 0.0254;
const FOOT: f64 = 12.0 * INCH;

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
    /// A ratio of two like quantities, such as a compression ratio.
    Ratio "ratio" [":1", ":1"] {
        from_plain, plain: [":1", "1"] = 1.0;
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
        from_standard_gravities, standard_gravities: ["g"] = 9.806_65;
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
    fn every_spelling_belongs_to_one_unit_and_the_shop_units_exist() {
        fn check<Q: Quantity>() {
            let spellings: Vec<_> = Q::UNITS.iter().flat_map(|unit| unit.symbols).collect();
            for (index, spelling) in spellings.iter().enumerate() {
                assert!(!spellings[index + 1..].contains(spelling), "{} has {spelling} twice", Q::NAME);
            }
            assert!(Q::SHOP.iter().all(|symbol| Q::unit(symbol).is_some()), "{}", Q::NAME);
        }
        check::<Length>();
        check::<Area>();
        check::<Volume>();
        check::<Angle>();
        check::<Ratio>();
        check::<RotationalSpeed>();
        check::<Speed>();
        check::<Acceleration>();
    }
}
