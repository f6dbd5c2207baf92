//! The volume and ratio trapped when the intake valve closes, the closing for a wanted ratio, and the air that is trapped.

use std::f64::consts::PI;

use validator::{Validate, ValidationError};

use crate::caution::{Caution, STANDING};
use crate::error::{Error, broken_rule, contradiction};
use crate::geometry::displacement::cylinder_volume;
use crate::geometry::slider_crank::{SliderCrank, check_rod};
use crate::limit;
use crate::method::Method;
use crate::units::{Altitude, Angle, Length, Quantity, Ratio, Temperature, TemperatureDifference, Volume};

use super::standard_atmosphere::{Charge, charge};
use super::valve_event::{check_seat, lift_caution, seated};

/// How the trapped ratio is worked out.
pub const METHOD: Method = Method {
    id: "trapped-compression-ratio",
    title: "Trapped compression ratio from the piston's position at intake closing",
    equation: "ratio = (Vc + (pi/4) B^2 x)/Vc; x travel of the piston from top centre at the crank angle 180 degrees + closing angle \
         after bottom centre, by slider-crank-exact; Vc clearance volume. Shops call it the dynamic ratio. Closing for a wanted \
         ratio, in closed form: the pin then stands y = h - x above the crank axis (h its height at top centre) and D = hypot(e, y) \
         from it; crank r, rod L and D form a triangle, so that the crank stands acos((r^2 + D^2 - L^2)/(2 r D)) before the line \
         from crank axis to pin, atan(e/y) from upright. Charge: pressure of the air around, temperature of the intake air plus \
         the heating given, density relative to the standard's 1.225 kg/m3.",
    valid_for: "Closing from 0 to 150 degrees after bottom centre. Counted from true top centre: with an offset pin true bottom \
         centre is not at 180 degrees. A closing point stated at a lift is earlier than the valve's seating, and the ratio from \
         it is higher than the seated one. Gas inertia, throttle and boost are not in it.",
    sources: &[
        "J. B. Heywood, Internal Combustion Engine Fundamentals, 1st edition, section 2.2 (cylinder volume by crank angle)",
        "First principles (cosine rule) for the closing angle of a wanted ratio",
        "ISO 2533:1975, Standard atmosphere",
    ],
};

/// One cylinder, its intake closing (or the trapped ratio that is wanted), and the air around, when it matters.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "rod_clears_crank", skip_on_field_errors = false))]
#[validate(schema(function = "one_clearance", skip_on_field_errors = false))]
#[validate(schema(function = "closing_or_ratio", skip_on_field_errors = false))]
#[validate(schema(function = "seat_within_range", skip_on_field_errors = false))]
#[validate(schema(function = "air_needs_altitude", skip_on_field_errors = false))]
pub struct TrappedInput {
    /// Cylinder bore.
    #[validate(custom(function = "limit::bore"))]
    pub bore: Length,
    /// The crank's stroke: twice its radius.
    #[validate(custom(function = "limit::stroke"))]
    pub stroke: Length,
    /// Connecting rod length between the centres of its eyes.
    #[validate(custom(function = "limit::rod_length"))]
    pub rod_length: Length,
    /// Pin offset, positive towards the minor thrust side.
    #[validate(custom(function = "limit::pin_offset"))]
    pub pin_offset: Length,
    /// Volume above the piston at top centre; or the static ratio.
    #[validate(custom(function = "limit::clearance_volume"))]
    pub clearance_volume: Option<Volume>,
    /// Static compression ratio, instead of the clearance volume.
    #[validate(custom(function = "limit::compression_ratio"))]
    pub static_ratio: Option<Ratio>,
    /// Intake closing as stated, after bottom centre; or the wanted ratio.
    #[validate(custom(function = "limit::intake_closing"))]
    pub intake_closes_abdc: Option<Angle>,
    /// Trapped ratio wanted of the seated valve, instead of the closing.
    #[validate(custom(function = "limit::compression_ratio"))]
    pub wanted_ratio: Option<Ratio>,
    /// The lift at which the closing is stated.
    #[validate(custom(function = "limit::event_lift"))]
    pub at_lift: Option<Length>,
    /// How much later than that the valve seats.
    #[validate(custom(function = "limit::seat_difference"))]
    pub seat_difference: Option<Angle>,
    /// Geopotential altitude, for the trapped air.
    #[validate(custom(function = "limit::altitude"))]
    pub altitude: Option<Altitude>,
    /// Temperature of the intake air; the standard's at that altitude when not given.
    #[validate(custom(function = "limit::intake_temperature"))]
    pub intake_temperature: Option<Temperature>,
    /// How much warmer the charge is at closing than the intake air.
    #[validate(custom(function = "limit::charge_heating"))]
    pub charge_heating: Option<TemperatureDifference>,
}

/// What is trapped, and when.
#[derive(Debug, Clone, PartialEq)]
pub struct Trapped {
    /// Clearance volume, given or from the static ratio.
    pub clearance_volume: Volume,
    /// Static ratio over the distance that the piston really travels.
    pub static_ratio: f64,
    /// Crank angle of true bottom centre after true top centre.
    pub bottom_centre_angle: Angle,
    /// Closing as stated, after bottom centre.
    pub stated_closing_abdc: Angle,
    /// Closing at the seat, after bottom centre.
    pub seat_closing_abdc: Angle,
    /// The cylinder when the valve seats.
    pub at_seat: AtClosing,
    /// The cylinder at the stated closing, when the seat is another.
    pub at_stated: Option<AtClosing>,
    /// The air trapped, when an altitude is given.
    pub charge: Option<Charge>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// The cylinder at a closing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtClosing {
    /// Crank angle after true top centre.
    pub crank_angle: Angle,
    /// Travel of the piston from top centre.
    pub position: Length,
    /// Trapped volume divided by the clearance volume.
    pub ratio: f64,
    /// Cylinder volume.
    pub volume: Volume,
}

fn rod_clears_crank(input: &TrappedInput) -> Result<(), ValidationError> {
    check_rod("rod_length", "pin_offset", input.stroke, input.rod_length, input.pin_offset)
}

fn one_clearance(input: &TrappedInput) -> Result<(), ValidationError> {
    let given = (input.clearance_volume.is_some(), input.static_ratio.is_some());
    exactly_one("clearance_volume", "static_ratio", given)
}

fn closing_or_ratio(input: &TrappedInput) -> Result<(), ValidationError> {
    let given = (input.intake_closes_abdc.is_some(), input.wanted_ratio.is_some());
    exactly_one("intake_closes_abdc", "wanted_ratio", given)
}

fn exactly_one(first: &'static str, second: &'static str, given: (bool, bool)) -> Result<(), ValidationError> {
    match given {
        (true, true) => {
            Err(broken_rule(second, "over_determined", format!("is given beside {first}; give one of the two.")))
        }
        (false, false) => Err(broken_rule(first, "missing", format!("is missing: give it or {second}."))),
        _ => Ok(()),
    }
}

fn seat_within_range(input: &TrappedInput) -> Result<(), ValidationError> {
    let closing = input.intake_closes_abdc.unwrap_or_default();
    check_seat("at_lift", "seat_difference", closing, input.at_lift, input.seat_difference)
}

fn air_needs_altitude(input: &TrappedInput) -> Result<(), ValidationError> {
    let wanted = input.intake_temperature.is_some() || input.charge_heating.is_some();
    if wanted && input.altitude.is_none() {
        let detail = "is missing: the trapped air needs the altitude; give 0 for sea level.";
        return Err(broken_rule("altitude", "missing", detail.to_owned()));
    }
    Ok(())
}

/// Ratio, volume and air that the closing intake valve traps; or the closing that traps a wanted ratio.
///
/// **Equation** ratio = (Vc + (pi/4) B^2 x)/Vc with the piston's exact travel x; inverse by the triangle of crank, rod and pin
/// distance
///
/// **Shape** Scalars; one cylinder.
///
/// **Units** Any; closing angles count from 180 degrees after true top centre.
///
/// **Valid for** Seated closing from 0 to 150 degrees after bottom centre, L > 2 r, |e| <= r/2.
///
/// **Errors** [`Error::Invalid`] when a field is out of range, one of two alternatives is not given exactly once, or the
/// static ratio that follows is out of range; [`Error::NoSolution`] when no closing traps the wanted ratio.
///
/// **Source** Heywood, Internal Combustion Engine Fundamentals, 1st edition, section 2.2; first principles for the inverse;
/// ISO 2533:1975 for the air.
pub fn evaluate(input: &TrappedInput) -> Result<Trapped, Error> {
    input.validate()?;
    let train = SliderCrank::new(input.stroke, input.rod_length, input.pin_offset);
    let (clearance_volume, static_ratio) = clearance(input, &train)?;
    let stated = match (input.intake_closes_abdc, input.wanted_ratio) {
        (Some(closing), _) => closing,
        (None, wanted) => closing_for(input, &train, clearance_volume, wanted.unwrap_or_default().plain())?,
    };
    let seat = seated(stated, input.seat_difference);
    let at = |closing| at_closing(&train, input.bore, clearance_volume, closing);
    Ok(Trapped {
        clearance_volume,
        static_ratio,
        bottom_centre_angle: Angle::from_radians(train.bottom_centre() - train.top_centre()),
        stated_closing_abdc: stated,
        seat_closing_abdc: seat,
        at_seat: at(seat),
        at_stated: input.seat_difference.map(|_| at(stated)),
        charge: match input.altitude {
            Some(altitude) => Some(charge(altitude, input.intake_temperature, input.charge_heating)?),
            None => None,
        },
        cautions: cautions(input, stated),
    })
}

/// Clearance volume and static ratio, whichever of them is given.
fn clearance(input: &TrappedInput, train: &SliderCrank) -> Result<(Volume, f64), Error> {
    let swept = cylinder_volume(input.bore, Length::from_metres(train.actual_stroke())).cubic_metres();
    if let Some(ratio) = input.static_ratio {
        return Ok((Volume::from_cubic_metres(swept / (ratio.plain() - 1.0)), ratio.plain()));
    }
    let clearance = input.clearance_volume.unwrap_or_default();
    let ratio = 1.0 + swept / clearance.cubic_metres();
    let limit = limit::COMPRESSION_RATIO;
    limit.check(&Ratio::from_plain(ratio)).map_err(|_| {
        let (low, high) = (limit.min.shown(), limit.max.shown());
        contradiction(
            "clearance_volume",
            format!("makes a static ratio of {ratio:.4}; a ratio is from {low} to {high}."),
        )
    })?;
    Ok((clearance, ratio))
}

/// The cylinder at a closing angle after bottom centre.
pub(crate) fn at_closing(
    train: &SliderCrank,
    bore: Length,
    clearance: Volume,
    closes_after_bottom: Angle,
) -> AtClosing {
    let crank_angle = PI + closes_after_bottom.radians();
    let position = Length::from_metres(train.travel(crank_angle));
    let volume = clearance.cubic_metres() + cylinder_volume(bore, position).cubic_metres();
    AtClosing {
        crank_angle: Angle::from_radians(crank_angle),
        position,
        ratio: volume / clearance.cubic_metres(),
        volume: Volume::from_cubic_metres(volume),
    }
}

/// The stated closing that traps the wanted ratio once the valve is seated.
fn closing_for(input: &TrappedInput, train: &SliderCrank, clearance: Volume, wanted: f64) -> Result<Angle, Error> {
    let bore = input.bore.metres();
    let travel = (wanted - 1.0) * clearance.cubic_metres() / (PI / 4.0 * bore * bore);
    let difference = input.seat_difference.unwrap_or_default().radians();
    if travel <= train.actual_stroke() {
        let seat = train.angle_going_up(travel) - PI;
        let stated = Angle::from_radians(seat - difference);
        let seated = Angle::from_radians(seat);
        if stated >= limit::INTAKE_CLOSING.min && seated <= limit::INTAKE_CLOSING.max {
            return Ok(stated);
        }
    }
    let ratio = |closing| at_closing(train, input.bore, clearance, closing).ratio;
    let (lowest, highest) = (ratio(limit::INTAKE_CLOSING.max), ratio(Angle::from_radians(difference)));
    Err(Error::NoSolution {
        field: "wanted_ratio",
        detail: format!(
            "of {wanted} is not trapped by any closing of this cylinder; closings from bottom centre to {} after it (seat) trap \
             {highest:.4} down to {lowest:.4}.",
            limit::INTAKE_CLOSING.max.shown()
        ),
    })
}

fn cautions(input: &TrappedInput, stated: Angle) -> Vec<Caution> {
    let mut cautions = Vec::new();
    limit::BORE.unusual("bore", input.bore, &mut cautions);
    limit::STROKE.unusual("stroke", input.stroke, &mut cautions);
    limit::ROD_LENGTH.unusual("rod_length", input.rod_length, &mut cautions);
    limit::PIN_OFFSET.unusual("pin_offset", input.pin_offset, &mut cautions);
    let closing = if input.intake_closes_abdc.is_some() { "intake_closes_abdc" } else { "wanted_ratio" };
    limit::INTAKE_CLOSING.unusual(closing, stated, &mut cautions);
    if let Some(difference) = input.seat_difference {
        limit::SEAT_DIFFERENCE.unusual("seat_difference", difference, &mut cautions);
    }
    if let Some(altitude) = input.altitude {
        limit::ALTITUDE.unusual("altitude", altitude, &mut cautions);
    }
    if let Some(temperature) = input.intake_temperature {
        limit::INTAKE_TEMPERATURE.unusual("intake_temperature", temperature, &mut cautions);
    }
    if let Some(heating) = input.charge_heating {
        limit::CHARGE_HEATING.unusual("charge_heating", heating, &mut cautions);
    }
    cautions.extend(lift_caution(closing, input.at_lift, input.seat_difference));
    cautions.push(STANDING);
    cautions
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn cylinders() -> impl Strategy<Value = TrappedInput> {
        (4.5..8.0, -0.08..0.08, 30.0..150.0, 5.0..140.0).prop_map(|(rod, offset, clearance, closes)| TrappedInput {
            bore: Length::from_inches(4.0),
            stroke: Length::from_inches(4.0),
            rod_length: Length::from_inches(rod),
            pin_offset: Length::from_inches(offset),
            clearance_volume: Some(Volume::from_cubic_centimetres(clearance)),
            static_ratio: None,
            intake_closes_abdc: Some(Angle::from_degrees(closes)),
            wanted_ratio: None,
            at_lift: None,
            seat_difference: None,
            altitude: None,
            intake_temperature: None,
            charge_heating: None,
        })
    }

    fn later(input: &TrappedInput, degrees: f64) -> TrappedInput {
        let closing = input.intake_closes_abdc.map(|closing| Angle::from_degrees(closing.degrees() + degrees));
        TrappedInput { intake_closes_abdc: closing, ..input.clone() }
    }

    proptest! {
        #[test]
        fn trapped_is_below_static_and_falls_with_later_closing(input in cylinders()) {
            let found = evaluate(&input)?;
            prop_assert!(found.at_seat.ratio < found.static_ratio);
            prop_assert!(evaluate(&later(&input, 1.0))?.at_seat.ratio < found.at_seat.ratio);
        }

        #[test]
        fn the_closing_for_a_ratio_gives_back_the_ratio(input in cylinders(), later_seat in 0.0..10.0) {
            let input = TrappedInput {
                at_lift: Some(Length::from_inches(0.05)),
                seat_difference: Some(Angle::from_degrees(later_seat)),
                ..input
            };
            let found = evaluate(&input)?;
            let wanted_ratio = Some(Ratio::from_plain(found.at_seat.ratio));
            let back = evaluate(&TrappedInput { intake_closes_abdc: None, wanted_ratio, ..input.clone() })?;
            prop_assert!((back.at_seat.ratio - found.at_seat.ratio).abs() < 1e-10 * found.at_seat.ratio);
            let difference = back.stated_closing_abdc.degrees() - found.stated_closing_abdc.degrees();
            prop_assert!(difference.abs() < 1e-6, "{difference}");
        }

        #[test]
        fn a_static_ratio_and_its_clearance_volume_are_the_same(input in cylinders()) {
            let found = evaluate(&input)?;
            let static_ratio = Some(Ratio::from_plain(found.static_ratio));
            let same = evaluate(&TrappedInput { clearance_volume: None, static_ratio, ..input })?;
            prop_assert!((same.at_seat.ratio - found.at_seat.ratio).abs() < 1e-10 * found.at_seat.ratio);
        }
    }
}
