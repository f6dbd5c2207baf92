//! The physical limits of the inputs, each written once.
//!
//! Two ranges belong to every input. Outside the first the value is refused: nothing that a machine shop can hold has it, so
//! it is a slip of the keyboard or of the unit. Outside the second it is computed with a caution. Both ranges span what is
//! built, from model engines to marine diesels, and the narrower one shop work on road, race, marine and farm engines:
//! common practice, no source. A part maker's own limits are narrower still and are the caller's to check.

use std::borrow::Cow;

use validator::ValidationError;

use crate::caution::{About, COMMON_PRACTICE, Caution, Severity};
use crate::units::{Angle, Area, Length, Quantity, RotationalSpeed, Volume};

/// The two ranges of one input.
#[derive(Debug, Clone, Copy)]
pub struct Limit<Q> {
    /// The smallest value accepted.
    pub min: Q,
    /// The largest value accepted.
    pub max: Q,
    /// The smallest value that needs no caution.
    pub usual_min: Q,
    /// The largest value that needs no caution.
    pub usual_max: Q,
}

impl<Q: Quantity> Limit<Q> {
    /// Refuses a value outside the accepted range (and one that is not a number).
    ///
    /// # Errors
    /// `out_of_range`, with both ends of the range and, where it looks like one, the mistaken unit.
    pub fn check(&self, value: &Q) -> Result<(), ValidationError> {
        if *value >= self.min && *value <= self.max {
            return Ok(());
        }
        let message = format!(
            "must be from {} to {}; got {}.{}",
            self.min.shown(),
            self.max.shown(),
            value.shown(),
            self.mistaken_unit(*value)
        );
        Err(ValidationError::new("out_of_range").with_message(message.into()))
    }

    /// Adds a caution when an accepted value is outside the usual range.
    pub fn unusual(&self, path: impl Into<Cow<'static, str>>, value: Q, cautions: &mut Vec<Caution>) {
        if value >= self.usual_min && value <= self.usual_max {
            return;
        }
        let hint = self.mistaken_unit(value);
        cautions.push(Caution {
            code: if hint.is_empty() { "unusual_value" } else { "unit_suspected" },
            severity: Severity::Caution,
            about: About::Request,
            path: path.into(),
            detail: format!(
                "{} is outside the usual {} to {}.{hint}",
                value.shown(),
                self.usual_min.shown(),
                self.usual_max.shown()
            )
            .into(),
            source: COMMON_PRACTICE,
        });
    }

    /// What to add to a message when the same figure in the other system's unit would be usual.
    fn mistaken_unit(&self, value: Q) -> String {
        let factor = |symbol| Q::unit(symbol).map_or(1.0, |unit| unit.factor);
        let ratio = factor(Q::SHOP[0]) / factor(Q::SHOP[1]);
        let usual = |other: f64| {
            let other = Q::from_si(other);
            other >= self.usual_min && other <= self.usual_max
        };
        // Read as metric though written in inches, or the other way round.
        for (meant, scale, right) in [(Q::SHOP[0], ratio, Q::SHOP[0]), (Q::SHOP[1], 1.0 / ratio, Q::SHOP[1])] {
            if ratio != 1.0 && usual(value.si() * scale) {
                return format!(
                    " The same figure in {meant} would be usual: is the unit right? Write it as \"... {right}\"."
                );
            }
        }
        String::new()
    }
}

macro_rules! limits {
    ($($(#[$doc:meta])* $name:ident $check:ident: $quantity:ident::$from:ident,
       $min:literal to $max:literal, usual $usual_min:literal to $usual_max:literal;)+) => {$(
        $(#[$doc])*
        pub const $name: Limit<$quantity> = Limit {
            min: $quantity::$from($min),
            max: $quantity::$from($max),
            usual_min: $quantity::$from($usual_min),
            usual_max: $quantity::$from($usual_max),
        };

        /// The same limit as a check for `#[validate(custom)]`.
        pub(crate) fn $check(value: &$quantity) -> Result<(), ValidationError> {
            $name.check(value)
        }
    )+};
}

limits! {
    /// Cylinder bore.
    BORE bore: Length::from_inches, 0.2 to 40.0, usual 1.5 to 8.0;
    /// Piston stroke; also twice the crank radius.
    STROKE stroke: Length::from_inches, 0.2 to 100.0, usual 1.5 to 10.0;
    /// Connecting rod length between the centres of its eyes.
    ROD_LENGTH rod_length: Length::from_inches, 0.4 to 250.0, usual 3.0 to 16.0;
    /// Deck height: crank axis to the block's deck.
    DECK_HEIGHT deck_height: Length::from_inches, 0.5 to 400.0, usual 5.0 to 25.0;
    /// Piston compression height: pin axis to the flat of the crown.
    COMPRESSION_HEIGHT compression_height: Length::from_inches, 0.1 to 60.0, usual 0.7 to 4.0;
    /// Deck clearance: positive when the piston stops below the deck.
    DECK_CLEARANCE deck_clearance: Length::from_inches, -1.0 to 5.0, usual -0.08 to 0.25;
    /// A place on a face: along the crank, or across the bank.
    POSITION position: Length::from_inches, -1000.0 to 1000.0, usual -60.0 to 60.0;
    /// What is taken off a face or a bore beyond what it needs to clean up.
    CLEANUP_ALLOWANCE cleanup_allowance: Length::from_inches, 0.0 to 0.1, usual 0.0 to 0.01;
    /// What a piston is larger than standard.
    OVERSIZE oversize: Length::from_inches, 0.0 to 1.0, usual 0.0 to 0.125;
    /// New bore centre off the present one, in one direction.
    BORE_OFFSET bore_offset: Length::from_inches, -0.25 to 0.25, usual -0.03 to 0.03;
    /// Thickness of a cylinder wall.
    WALL wall: Length::from_inches, 0.005 to 6.0, usual 0.08 to 1.0;
    /// Depth below the deck.
    DEPTH depth: Length::from_inches, 0.0 to 200.0, usual 0.0 to 12.0;
    /// Clock position round a cylinder, from the engine's front: 30 degrees an hour.
    CLOCK_ANGLE clock_angle: Angle::from_degrees, 0.0 to 360.0, usual 0.0 to 360.0;
    /// Diameter of a main bearing's housing.
    MAIN_HOUSING main_housing: Length::from_inches, 0.2 to 40.0, usual 1.2 to 6.0;
    /// Taken off the parting face of a bearing cap.
    CAP_CUT cap_cut: Length::from_inches, 0.0 to 0.1, usual 0.0 to 0.02;
    /// A saddle off the line through the end saddles.
    SADDLE_DEVIATION saddle_deviation: Length::from_inches, -0.05 to 0.05, usual -0.006 to 0.006;
    /// A cylinder's axis to the normal of the main caps' parting faces.
    BORE_ANGLE bore_angle: Angle::from_degrees, 0.0 to 90.0, usual 0.0 to 90.0;
    /// The camshaft's direction to that normal.
    CAM_ANGLE cam_angle: Angle::from_degrees, 0.0 to 180.0, usual 0.0 to 120.0;
    /// Crank axis to camshaft axis.
    CAM_DISTANCE cam_distance: Length::from_inches, 0.5 to 200.0, usual 2.0 to 30.0;
    /// Pitch of a chain.
    CHAIN_PITCH chain_pitch: Length::from_inches, 0.1 to 4.0, usual 0.2 to 1.0;
    /// Piston-pin offset from the cylinder axis, or the cylinder axis's from the crank axis.
    PIN_OFFSET pin_offset: Length::from_inches, -2.0 to 2.0, usual -0.12 to 0.12;
    /// Compressed thickness of the head gasket; zero for a head that seals without one.
    GASKET_THICKNESS gasket_thickness: Length::from_inches, 0.0 to 0.5, usual 0.008 to 0.15;
    /// Diameter of the head gasket's round opening.
    GASKET_BORE gasket_bore: Length::from_inches, 0.2 to 42.0, usual 1.5 to 8.3;
    /// Area of the head gasket's opening, round or not.
    GASKET_AREA gasket_area: Area::from_square_inches, 0.03 to 1400.0, usual 1.7 to 55.0;
    /// Volume of the combustion chamber in the head; zero for a flat head.
    CHAMBER_VOLUME chamber_volume: Volume::from_cubic_centimetres, 0.0 to 50000.0, usual 4.0 to 250.0;
    /// Volume of a dish in, or of a dome on, the piston crown.
    CROWN_VOLUME crown_volume: Volume::from_cubic_centimetres, 0.0 to 50000.0, usual 0.0 to 120.0;
    /// All the volume above the piston at top centre.
    CLEARANCE_VOLUME clearance_volume: Volume::from_cubic_centimetres, 0.0 to 100000.0, usual 10.0 to 400.0;
    /// Height of the land above the top ring.
    TOP_LAND_HEIGHT top_land_height: Length::from_inches, 0.0 to 6.0, usual 0.0 to 1.0;
    /// Whole displacement of an engine.
    DISPLACEMENT displacement: Volume::from_cubic_inches, 0.05 to 2000000.0, usual 15.0 to 1500.0;
    /// Bank angle of a vee engine.
    BANK_ANGLE bank_angle: Angle::from_degrees, 1.0 to 180.0, usual 10.0 to 180.0;
    /// A crank angle after top centre.
    CRANK_ANGLE crank_angle: Angle::from_degrees, -7200.0 to 7200.0, usual -720.0 to 720.0;
    /// Intake closing, degrees after bottom centre.
    INTAKE_CLOSING intake_closing: Angle::from_degrees, 0.0 to 150.0, usual 20.0 to 110.0;
    /// The lift at which a valve event is stated.
    EVENT_LIFT event_lift: Length::from_inches, 0.0 to 1.5, usual 0.0 to 0.1;
    /// Engine speed.
    ENGINE_SPEED engine_speed: RotationalSpeed::from_revolutions_per_minute, 1.0 to 30000.0, usual 200.0 to 12000.0;
}

/// Most cylinders of one engine: the largest radials built have fewer.
pub const MOST_CYLINDERS: u32 = 48;

/// A sprocket's teeth: fewer than 8 run rough, more than 200 nobody cuts.
pub(crate) fn teeth(count: u32) -> Result<(), ValidationError> {
    if (8..=200).contains(&count) {
        return Ok(());
    }
    let message = format!("must be a whole number from 8 to 200; got {count}.");
    Err(ValidationError::new("out_of_range").with_message(message.into()))
}

/// The count of cylinders as a check for `#[validate(custom)]`.
pub(crate) fn cylinders(count: u32) -> Result<(), ValidationError> {
    if (1..=MOST_CYLINDERS).contains(&count) {
        return Ok(());
    }
    let message = format!("must be a whole number from 1 to {MOST_CYLINDERS}; got {count}.");
    Err(ValidationError::new("out_of_range").with_message(message.into()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mistaken_unit_is_named() {
        let refused = BORE.check(&Length::from_millimetres(4.03)).err().and_then(|error| error.message);
        assert!(refused.is_some_and(|text| text.contains("The same figure in in would be usual")));
        let mut cautions = Vec::new();
        GASKET_THICKNESS.unusual("x", Length::from_millimetres(0.041), &mut cautions);
        assert_eq!(cautions.iter().map(|caution| caution.code).collect::<Vec<_>>(), ["unit_suspected"]);
    }

    #[test]
    fn not_a_number_is_refused() {
        assert!(BORE.check(&Length::from_metres(f64::NAN)).is_err());
    }

    #[test]
    fn the_ends_are_accepted_and_one_step_outside_is_not() {
        for (end, outward) in [(BORE.min, -1e-9), (BORE.max, 1e-9)] {
            assert!(BORE.check(&end).is_ok());
            assert!(BORE.check(&Length::from_metres(end.metres() + outward)).is_err());
        }
    }
}
