//! Static compression ratio from every volume above the piston at top centre.

use std::f64::consts::PI;

use validator::{Validate, ValidationError};

use crate::caution::{About, COMMON_PRACTICE, Caution, STANDING, Severity};
use crate::error::{Error, broken_rule};
use crate::geometry::displacement::cylinder_volume;
use crate::limit;
use crate::method::Method;
use crate::units::{Area, Length, Quantity, Volume};

use super::cylinder_spread::{
    CylinderReading, CylinderSpread, check_count, cylinder_spread, impossible_change, unmatched_caution,
};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "static-compression-ratio",
    title: "Static compression ratio from itemised volumes",
    equation: "ratio = (Vs + Vc)/Vc. Vs = (pi/4) B^2 S swept volume of one cylinder; Vc = chamber + gasket + deck + dish - dome + \
         top land; gasket = area of its opening times compressed thickness; deck = (pi/4) B^2 c, negative when the piston stops \
         above the deck; top land = (pi/4)(B^2 - D^2) h.",
    valid_for: "Cold volumes as measured, valves shut. Dish and dome are counted from the flat that the deck clearance is measured \
         to. Leakage and valve timing are not in it.",
    sources: &[
        "J. B. Heywood, Internal Combustion Engine Fundamentals, 1st edition, equation 2.1 (number from memory)",
        "ISO 7967-1, Reciprocating internal combustion engines, vocabulary: compression volume, compression ratio",
    ],
};

/// The range of ratios that Heywood names for spark ignition, section 2.2.
pub(crate) const SPARK_IGNITION_RATIOS: [f64; 2] = [8.0, 12.0];

/// Every volume above the piston, or what it is computed from.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "one_gasket_opening", skip_on_field_errors = false))]
#[validate(schema(function = "whole_top_land", skip_on_field_errors = false))]
#[validate(schema(function = "enough_readings", skip_on_field_errors = false))]
pub struct StaticInput {
    /// Cylinder bore.
    #[validate(custom(function = "limit::bore"))]
    pub bore: Length,
    /// Distance that the piston travels.
    #[validate(custom(function = "limit::stroke"))]
    pub stroke: Length,
    /// Combustion chamber in the head.
    #[validate(custom(function = "limit::chamber_volume"))]
    pub chamber_volume: Volume,
    /// Diameter of the gasket's round opening.
    #[validate(custom(function = "limit::gasket_bore"))]
    pub gasket_bore: Option<Length>,
    /// Area of the gasket's opening, instead of the diameter.
    #[validate(custom(function = "limit::gasket_area"))]
    pub gasket_area: Option<Area>,
    /// Compressed thickness of the gasket.
    #[validate(custom(function = "limit::gasket_thickness"))]
    pub gasket_thickness: Length,
    /// Positive when the piston stops below the deck.
    #[validate(custom(function = "limit::deck_clearance"))]
    pub deck_clearance: Length,
    /// Dish in the crown.
    #[validate(custom(function = "limit::crown_volume"))]
    pub dish_volume: Volume,
    /// Dome on the crown.
    #[validate(custom(function = "limit::crown_volume"))]
    pub dome_volume: Volume,
    /// Height of the land above the top ring; needs the diameter too.
    #[validate(custom(function = "limit::top_land_height"))]
    pub top_land_height: Option<Length>,
    /// Diameter of that land.
    #[validate(custom(function = "limit::bore"))]
    pub top_land_diameter: Option<Length>,
    /// What was measured cylinder by cylinder, in the order of the cylinders; [`evaluate`] checks them.
    pub readings: Option<Vec<CylinderReading>>,
}

/// The volumes above the piston at top centre; they add up, dome less, to the clearance volume.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Volumes {
    /// Combustion chamber.
    pub chamber: Volume,
    /// Opening of the head gasket.
    pub gasket: Volume,
    /// Between crown and deck; negative when the piston stops above the deck.
    pub deck: Volume,
    /// Dish in the crown.
    pub dish: Volume,
    /// Dome on the crown; counts off.
    pub dome: Volume,
    /// Crevice around the land above the top ring.
    pub top_land: Volume,
}

impl Volumes {
    /// Chamber + gasket + deck + dish - dome + top land.
    #[must_use]
    pub fn clearance(&self) -> Volume {
        let parts = [self.chamber, self.gasket, self.deck, self.dish, self.top_land];
        let sum: f64 = parts.iter().map(|part| part.cubic_metres()).sum();
        Volume::from_cubic_metres(sum - self.dome.cubic_metres())
    }
}

/// The ratio and all that it is made of.
#[derive(Debug, Clone, PartialEq)]
pub struct Static {
    /// (Vs + Vc)/Vc.
    pub static_ratio: f64,
    /// Swept volume of one cylinder.
    pub swept_volume: Volume,
    /// Volume above the piston at top centre.
    pub clearance_volume: Volume,
    /// The items of the clearance volume.
    pub volumes: Volumes,
    /// How the cylinders differ, when they were measured one by one.
    pub spread: Option<CylinderSpread>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// Names of the fields to blame, which differ between the flat request and the build sheet.
pub(crate) struct Names {
    pub(crate) gasket_bore: &'static str,
    pub(crate) gasket_area: &'static str,
    pub(crate) top_land_height: &'static str,
    pub(crate) top_land_diameter: &'static str,
    pub(crate) dome: &'static str,
}

const NAMES: Names = Names {
    gasket_bore: "gasket_bore",
    gasket_area: "gasket_area",
    top_land_height: "top_land_height",
    top_land_diameter: "top_land_diameter",
    dome: "dome_volume",
};

fn one_gasket_opening(input: &StaticInput) -> Result<(), ValidationError> {
    check_gasket_opening(&NAMES, input.gasket_bore, input.gasket_area)
}

fn whole_top_land(input: &StaticInput) -> Result<(), ValidationError> {
    check_top_land(&NAMES, input.bore, input.top_land_height, input.top_land_diameter)
}

fn enough_readings(input: &StaticInput) -> Result<(), ValidationError> {
    input.readings.as_ref().map_or(Ok(()), |readings| check_count(readings.len()))
}

/// A gasket opening is a diameter or an area, not both and not neither.
pub(crate) fn check_gasket_opening(
    names: &Names,
    bore: Option<Length>,
    area: Option<Area>,
) -> Result<(), ValidationError> {
    match (bore, area) {
        (None, None) => Err(broken_rule(
            names.gasket_bore,
            "missing",
            "is missing: give the diameter of the gasket's opening, or its area when it is not round.".to_owned(),
        )),
        (Some(_), Some(_)) => Err(broken_rule(
            names.gasket_area,
            "over_determined",
            "is given beside the opening's diameter; give one of the two.".to_owned(),
        )),
        _ => Ok(()),
    }
}

/// A top-land crevice needs height and diameter, and the land must fit into the bore.
pub(crate) fn check_top_land(
    names: &Names,
    bore: Length,
    height: Option<Length>,
    diameter: Option<Length>,
) -> Result<(), ValidationError> {
    match (height, diameter) {
        (Some(_), None) => Err(broken_rule(
            names.top_land_diameter,
            "missing",
            "is missing: the top-land crevice needs the land's height and diameter.".to_owned(),
        )),
        (None, Some(_)) => Err(broken_rule(
            names.top_land_height,
            "missing",
            "is missing: the top-land crevice needs the land's height and diameter.".to_owned(),
        )),
        (Some(_), Some(diameter)) if diameter >= bore => Err(broken_rule(
            names.top_land_diameter,
            "contradiction",
            format!("must be smaller than the bore, {}; got {}.", bore.shown(), diameter.shown()),
        )),
        _ => Ok(()),
    }
}

/// Static compression ratio and every volume it is made of.
///
/// **Equation** ratio = (Vs + Vc)/Vc; Vc = chamber + gasket + deck + dish - dome + top land
///
/// **Shape** Scalars; one cylinder.
///
/// **Units** Lengths, areas and volumes, any.
///
/// **Valid for** Cold volumes as measured, valves shut.
///
/// **Errors** [`Error::Invalid`] when a field is out of range, the gasket's opening is given twice or not at all, or only half
/// of the top land is given; [`Error::NoSolution`] when the dome leaves no clearance volume, in one cylinder or in all.
///
/// **Source** Heywood, Internal Combustion Engine Fundamentals, 1st edition, equation 2.1; ISO 7967-1.
pub fn evaluate(input: &StaticInput) -> Result<Static, Error> {
    check(input)?;
    let volumes = volumes(input);
    let swept_volume = cylinder_volume(input.bore, input.stroke);
    let clearance_volume = volumes.clearance();
    let static_ratio = ratio(&NAMES, swept_volume, clearance_volume)?;
    // A sound engine gets the standing caution only.
    let mut cautions = Vec::with_capacity(1);
    limit::BORE.unusual("bore", input.bore, &mut cautions);
    limit::STROKE.unusual("stroke", input.stroke, &mut cautions);
    limit::GASKET_THICKNESS.unusual("gasket_thickness", input.gasket_thickness, &mut cautions);
    limit::DECK_CLEARANCE.unusual("deck_clearance", input.deck_clearance, &mut cautions);
    limit::CHAMBER_VOLUME.unusual("chamber_volume", input.chamber_volume, &mut cautions);
    cautions.extend(gasket_overhang("gasket_bore", input.bore, input.gasket_bore));
    cautions.extend(ratio_caution("static_ratio", static_ratio));
    let spread = input.readings.as_ref().map(|readings| cylinder_spread(input, readings)).transpose()?;
    if let Some(spread) = &spread {
        cautions.extend(unmatched_caution("spread/volume_spread", spread));
        cautions.extend(impossible_change("spread/cylinders", spread));
    }
    cautions.push(STANDING);
    Ok(Static { static_ratio, swept_volume, clearance_volume, volumes, spread, cautions })
}

/// All rules at once. The readings are merged by hand: the derived form fills a hash table even when there are none.
fn check(input: &StaticInput) -> Result<(), Error> {
    let readings = input.readings.as_ref().map_or(Ok(()), Validate::validate);
    match (input.validate(), readings) {
        (Ok(()), Ok(())) => Ok(()),
        (parts, readings) => {
            let mut errors = parts.err().unwrap_or_default();
            errors.merge_self("readings", readings);
            Err(errors.into())
        }
    }
}

/// The volumes above the piston at top centre, one by one.
///
/// **Equation** gasket = A t, A = (pi/4) Bg^2 for a round opening; deck = (pi/4) B^2 c; top land = (pi/4)(B^2 - D^2) h
///
/// **Shape** Scalars; one cylinder.
///
/// **Units** Lengths, areas and volumes, any.
///
/// **Valid for** An input that passes its own validation; a missing gasket opening or top land counts as no volume.
///
/// **Errors** None.
///
/// **Source** First principles (volumes of cylinders).
#[must_use]
pub fn volumes(input: &StaticInput) -> Volumes {
    let gasket = match (input.gasket_area, input.gasket_bore) {
        (Some(area), _) => Volume::from_cubic_metres(area.square_metres() * input.gasket_thickness.metres()),
        (None, Some(bore)) => cylinder_volume(bore, input.gasket_thickness),
        (None, None) => Volume::default(),
    };
    Volumes {
        chamber: input.chamber_volume,
        gasket,
        deck: cylinder_volume(input.bore, input.deck_clearance),
        dish: input.dish_volume,
        dome: input.dome_volume,
        top_land: top_land_volume(input.bore, input.top_land_height, input.top_land_diameter),
    }
}

/// Crevice around the land above the top ring; none when height or diameter is unknown.
pub(crate) fn top_land_volume(bore: Length, height: Option<Length>, diameter: Option<Length>) -> Volume {
    let volume = height.zip(diameter).map_or(0.0, |(height, diameter)| {
        let (bore, land) = (bore.metres(), diameter.metres());
        PI / 4.0 * (bore * bore - land * land) * height.metres()
    });
    Volume::from_cubic_metres(volume)
}

/// (Vs + Vc)/Vc, refused when nothing is left above the piston.
pub(crate) fn ratio(names: &Names, swept: Volume, clearance: Volume) -> Result<f64, Error> {
    if clearance > Volume::default() {
        return Ok((swept.cubic_metres() + clearance.cubic_metres()) / clearance.cubic_metres());
    }
    Err(Error::NoSolution {
        field: names.dome,
        detail: format!(
            "leaves {} above the piston at top centre; the dome and a piston above its deck must leave more than nothing.",
            clearance.shown()
        ),
    })
}

/// The caution for a gasket that reaches into the cylinder.
pub(crate) fn gasket_overhang(path: &'static str, bore: Length, gasket_bore: Option<Length>) -> Option<Caution> {
    gasket_bore.filter(|gasket| *gasket < bore).map(|gasket| Caution {
        code: "gasket_overhangs_bore",
        severity: Severity::Danger,
        about: About::Request,
        path: path.into(),
        detail: format!(
            "The opening of {} is smaller than the bore of {}: the gasket reaches into the fire and may be struck by the piston.",
            gasket.shown(),
            bore.shown()
        )
        .into(),
        source: COMMON_PRACTICE,
    })
}

/// The caution for a ratio outside what Heywood gives for spark ignition.
pub(crate) fn ratio_caution(path: &'static str, ratio: f64) -> Option<Caution> {
    let [low, high] = SPARK_IGNITION_RATIOS;
    (ratio < low || ratio > high).then(|| Caution {
        code: "ratio_outside_spark_ignition_range",
        severity: if ratio > high { Severity::Caution } else { Severity::Note },
        about: About::Answer,
        path: path.into(),
        detail: format!(
            "A ratio of {ratio:.2} is outside {low} to {high}, usual for spark ignition. Above it the fuel's knock resistance, the \
             chamber and the tune decide; compression ignition uses 12 to 24."
        )
        .into(),
        source: "J. B. Heywood, Internal Combustion Engine Fundamentals, 1st edition, section 2.2 (range from memory)",
    })
}

#[cfg(test)]
pub(crate) mod tests {
    use proptest::prelude::*;

    use super::*;

    pub(crate) fn sound() -> impl Strategy<Value = StaticInput> {
        (2.5..6.0, 2.0..6.0, 20.0..150.0, 0.0..0.1, -0.02..0.1, 0.0..40.0, 0.0..15.0).prop_map(
            |(bore, stroke, chamber, gasket, deck, dish, dome)| StaticInput {
                bore: Length::from_inches(bore),
                stroke: Length::from_inches(stroke),
                chamber_volume: Volume::from_cubic_centimetres(chamber),
                gasket_bore: Some(Length::from_inches(bore + 0.05)),
                gasket_area: None,
                gasket_thickness: Length::from_inches(gasket),
                deck_clearance: Length::from_inches(deck),
                dish_volume: Volume::from_cubic_centimetres(dish),
                dome_volume: Volume::from_cubic_centimetres(dome),
                top_land_height: Some(Length::from_inches(0.25)),
                top_land_diameter: Some(Length::from_inches(bore - 0.03)),
                readings: None,
            },
        )
    }

    proptest! {
        #[test]
        fn the_ratio_falls_when_any_clearance_item_grows(input in sound()) {
            let Ok(base) = evaluate(&input) else { return Ok(()) };
            let more = Volume::from_cubic_centimetres(1.0).cubic_metres();
            let grown = |volume: Volume| Volume::from_cubic_metres(volume.cubic_metres() + more);
            let thicker = |length: Length| Length::from_inches(length.inches() + 0.01);
            for larger in [
                StaticInput { chamber_volume: grown(input.chamber_volume), ..input.clone() },
                StaticInput { dish_volume: grown(input.dish_volume), ..input.clone() },
                StaticInput { gasket_thickness: thicker(input.gasket_thickness), ..input.clone() },
                StaticInput { deck_clearance: thicker(input.deck_clearance), ..input.clone() },
                StaticInput { top_land_height: input.top_land_height.map(thicker), ..input.clone() },
            ] {
                prop_assert!(evaluate(&larger)?.static_ratio < base.static_ratio);
            }
            let domed = StaticInput { dome_volume: grown(input.dome_volume), ..input.clone() };
            if let Ok(domed) = evaluate(&domed) {
                prop_assert!(domed.static_ratio > base.static_ratio);
            }
        }

        #[test]
        fn a_round_opening_and_its_area_are_the_same(input in sound()) {
            let area = input.gasket_bore.map(|bore| Area::from_square_metres(PI / 4.0 * bore.metres().powi(2)));
            let by_area = StaticInput { gasket_bore: None, gasket_area: area, ..input.clone() };
            if let (Ok(round), Ok(traced)) = (evaluate(&input), evaluate(&by_area)) {
                prop_assert!((round.static_ratio - traced.static_ratio).abs() < 1e-12 * round.static_ratio);
            }
        }
    }
}
