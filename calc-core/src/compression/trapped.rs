//! The volume and ratio trapped when the intake valve closes.

use crate::geometry::displacement::cylinder_volume;
use crate::geometry::piston_motion::{HALF_TURN, SliderCrank};
use crate::method::Method;
use crate::units::{Angle, Length, Volume};

/// How the trapped ratio is worked out.
pub const METHOD: Method = Method {
    id: "trapped-compression-ratio",
    title: "Trapped compression ratio from the piston's position at intake closing",
    equation: "ratio = (Vc + (pi/4) B^2 x)/Vc; x travel of the piston from top centre at the crank angle 180 degrees + closing angle \
         after bottom centre, by slider-crank-exact; Vc clearance volume. Shops call it the dynamic ratio.",
    valid_for: "Closing from 0 to 150 degrees after bottom centre. Counted from true top centre: with an offset pin true bottom \
         centre is not at 180 degrees. A closing point stated at a lift is earlier than the valve's seating, and the ratio from \
         it is higher than the seated one. Gas inertia is not in it.",
    sources: &[
        "J. B. Heywood, Internal Combustion Engine Fundamentals, 1st edition, section 2.2 (cylinder volume by crank angle)",
    ],
};

/// What the closing intake valve traps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trapped {
    /// Trapped volume divided by the clearance volume.
    pub ratio: f64,
    /// Cylinder volume at closing.
    pub volume: Volume,
}

/// Cylinder volume at intake closing and its ratio to the clearance volume.
pub(crate) fn trapped(train: &SliderCrank, bore: Length, clearance: Volume, closes_after_bottom: Angle) -> Trapped {
    let travel = Length::from_metres(train.travel(HALF_TURN + closes_after_bottom.radians()));
    let volume = clearance.cubic_metres() + cylinder_volume(bore, travel).cubic_metres();
    Trapped { ratio: volume / clearance.cubic_metres(), volume: Volume::from_cubic_metres(volume) }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn trapped_is_below_static_and_falls_with_later_closing(rod in 4.5..8.0, closes in 5.0..140.0, clearance in 30.0..150.0) {
            let train = SliderCrank::new(Length::from_inches(4.0), Length::from_inches(rod), Length::default());
            let bore = Length::from_inches(4.0);
            let clearance = Volume::from_cubic_centimetres(clearance);
            let at = |degrees| trapped(&train, bore, clearance, Angle::from_degrees(degrees)).ratio;
            prop_assert!(at(closes) < at(0.0));
            prop_assert!(at(closes + 1.0) < at(closes));
            let whole = 1.0 + cylinder_volume(bore, Length::from_inches(4.0)).cubic_metres() / clearance.cubic_metres();
            prop_assert!((at(0.0) - whole).abs() < 1e-9);
        }
    }
}
