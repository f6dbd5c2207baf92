//! The one part that gives a wanted static ratio.

use validator::{Validate, ValidationError};

use crate::caution::{About, Caution, STANDING};
use crate::error::{Error, all_faults, broken_rule};
use crate::geometry::deck_stack::squish_caution;
use crate::geometry::displacement::cylinder_volume;
use crate::limit;
use crate::method::Method;
use crate::units::{Area, Length, Ratio, Volume};

use super::area_profile::{check_level_count, check_levels};
use super::flat_mill::{AreaLevel, cut_moves_valves};
use super::r#static::{
    self, Names, StaticInput, Volumes, check_gasket_opening, check_top_land, gasket_overhang, ratio_caution, volumes,
};
use super::target_solution::{head_cut, known, solve};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "compression-target",
    title: "The part that gives a wanted compression ratio",
    equation: "Vc = Vs/(ratio - 1), with Vs and Vc as in static-compression-ratio, solved for one item. Volumes and thickness are \
         linear in it; gasket bore = sqrt(4 V/(pi t)); S = (ratio - 1) Vc/((pi/4) B^2); \
         B^2 = (ratio - 1) C/((pi/4)(S - (ratio - 1)(c + h))), C the clearance volume less all that grows with the bore. \
         Compression height = pin to deck - c. A head cut by flat-mill.",
    valid_for: "What static-compression-ratio is valid for. A new stroke keeps the deck clearance, a new bore the gasket's opening. \
         A cut of the head leaves the squish clearance as it is.",
    sources: &[
        "J. B. Heywood, Internal Combustion Engine Fundamentals, 1st edition, equation 2.1, solved for one volume",
        "First principles (volumes of cylinders)",
    ],
};

/// The item that is solved for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// Combustion chamber.
    Chamber,
    /// Dish in the crown.
    Dish,
    /// Dome on the crown.
    Dome,
    /// Compressed thickness of the gasket.
    GasketThickness,
    /// Diameter of the gasket's opening.
    GasketBore,
    /// Deck clearance.
    DeckClearance,
    /// Compression height of the piston.
    CompressionHeight,
    /// What is milled off the head.
    HeadCut,
    /// Stroke.
    Stroke,
    /// Bore.
    Bore,
}

/// The wanted ratio and all parts but one.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct TargetInput {
    /// The static ratio wanted.
    #[validate(custom(function = "limit::compression_ratio"))]
    pub target_ratio: Ratio,
    /// Which part is solved for.
    pub unknown: Unknown,
    /// Cylinder bore.
    #[validate(custom(function = "limit::bore"))]
    pub bore: Option<Length>,
    /// Distance that the piston travels.
    #[validate(custom(function = "limit::stroke"))]
    pub stroke: Option<Length>,
    /// Combustion chamber in the head.
    #[validate(custom(function = "limit::chamber_volume"))]
    pub chamber_volume: Option<Volume>,
    /// Diameter of the gasket's round opening.
    #[validate(custom(function = "limit::gasket_bore"))]
    pub gasket_bore: Option<Length>,
    /// Area of the gasket's opening, instead of the diameter.
    #[validate(custom(function = "limit::gasket_area"))]
    pub gasket_area: Option<Area>,
    /// Compressed thickness of the gasket.
    #[validate(custom(function = "limit::gasket_thickness"))]
    pub gasket_thickness: Option<Length>,
    /// Positive when the piston stops below the deck.
    #[validate(custom(function = "limit::deck_clearance"))]
    pub deck_clearance: Option<Length>,
    /// Dish in the crown.
    #[validate(custom(function = "limit::crown_volume"))]
    pub dish_volume: Option<Volume>,
    /// Dome on the crown.
    #[validate(custom(function = "limit::crown_volume"))]
    pub dome_volume: Option<Volume>,
    /// Height of the land above the top ring; needs the diameter too.
    #[validate(custom(function = "limit::top_land_height"))]
    pub top_land_height: Option<Length>,
    /// Diameter of that land.
    #[validate(custom(function = "limit::bore"))]
    pub top_land_diameter: Option<Length>,
    /// Piston pin at top centre to deck, for the compression height.
    #[validate(custom(function = "limit::pin_to_deck"))]
    pub pin_to_deck: Option<Length>,
    /// Open area of the chamber by depth, for the head cut.
    #[validate(nested)]
    pub head_levels: Option<Vec<AreaLevel>>,
}

/// The parts complete.
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// The ratio of these parts.
    pub static_ratio: f64,
    /// What was solved for.
    pub solved_for: Unknown,
    /// All parts; the chamber as it is after a cut.
    pub parts: StaticInput,
    /// Compression height, when it was the unknown.
    pub compression_height: Option<Length>,
    /// What is milled off the head, when that was the unknown.
    pub head_cut: Option<Length>,
    /// Deck clearance plus compressed gasket.
    pub squish_clearance: Length,
    /// Swept volume of one cylinder.
    pub swept_volume: Volume,
    /// Volume above the piston at top centre.
    pub clearance_volume: Volume,
    /// The items of the clearance volume.
    pub volumes: Volumes,
    /// Every limit that the parts break, and what else to look at twice.
    pub cautions: Vec<Caution>,
}

pub(crate) const NAMES: Names = Names {
    gasket_bore: "gasket_bore",
    gasket_area: "gasket_area",
    top_land_height: "top_land_height",
    top_land_diameter: "top_land_diameter",
    dome: "target_ratio",
};

/// The part that gives the wanted ratio, with all that follows from it.
///
/// **Equation** Vc = Vs/(ratio - 1), solved for the unknown; see [`METHOD`]
///
/// **Shape** Scalars, one cylinder; for a head cut 2 to 200 levels.
///
/// **Units** Lengths, areas and volumes, any.
///
/// **Valid for** A part inside its own accepted range; outside the usual range with a caution.
///
/// **Errors** [`Error::Invalid`] when a part is missing, given though it is the unknown, or out of range; [`Error::NoSolution`]
/// when no such part can be made, with the nearest ratio that can be had.
///
/// **Source** Heywood, Internal Combustion Engine Fundamentals, 1st edition, equation 2.1.
pub fn evaluate(input: &TargetInput) -> Result<Target, Error> {
    all_faults(input.validate(), rules(input))?;
    let known = known(input);
    let (parts, head_cut) = match input.unknown {
        Unknown::HeadCut => head_cut(input, &known)?,
        _ => (solve(input, &known)?, None),
    };
    let volumes = volumes(&parts);
    let (swept_volume, clearance_volume) = (cylinder_volume(parts.bore, parts.stroke), volumes.clearance());
    let squish = parts.deck_clearance.metres() + parts.gasket_thickness.metres();
    let height = input.pin_to_deck.filter(|_| input.unknown == Unknown::CompressionHeight);
    let target = Target {
        static_ratio: r#static::ratio(&NAMES, swept_volume, clearance_volume)?,
        solved_for: input.unknown,
        compression_height: height.map(|pin| Length::from_metres(pin.metres() - parts.deck_clearance.metres())),
        head_cut,
        squish_clearance: Length::from_metres(squish),
        swept_volume,
        clearance_volume,
        volumes,
        parts,
        cautions: Vec::new(),
    };
    Ok(Target { cautions: cautions(&target), ..target })
}

/// Every broken rule at once.
fn rules(input: &TargetInput) -> Vec<ValidationError> {
    use Unknown::{
        Bore, Chamber, CompressionHeight, DeckClearance, Dish, Dome, GasketBore, GasketThickness, HeadCut, Stroke,
    };
    let unknown = input.unknown;
    let mut broken = Vec::new();
    let mut field = |name: &'static str, given: bool, needed: bool, wanted: bool| match (given, needed, wanted) {
        (false, true, _) => broken.push(broken_rule(name, "missing", NEEDED.to_owned())),
        (true, _, false) => broken.push(broken_rule(name, "over_determined", UNWANTED.to_owned())),
        _ => {}
    };
    let deck_known = ![DeckClearance, CompressionHeight].contains(&unknown);
    for (name, given, known) in [
        ("bore", input.bore.is_some(), unknown != Bore),
        ("stroke", input.stroke.is_some(), unknown != Stroke),
        ("chamber_volume", input.chamber_volume.is_some(), unknown != Chamber),
        ("gasket_thickness", input.gasket_thickness.is_some(), unknown != GasketThickness),
        ("deck_clearance", input.deck_clearance.is_some(), deck_known),
        ("pin_to_deck", input.pin_to_deck.is_some(), unknown == CompressionHeight),
        ("head_levels", input.head_levels.is_some(), unknown == HeadCut),
    ] {
        field(name, given, known, known);
    }
    field("dish_volume", input.dish_volume.is_some(), false, unknown != Dish);
    field("dome_volume", input.dome_volume.is_some(), false, unknown != Dome);
    if unknown == GasketBore {
        field("gasket_bore", input.gasket_bore.is_some(), false, false);
        field("gasket_area", input.gasket_area.is_some(), false, false);
    } else {
        broken.extend(check_gasket_opening(&NAMES, input.gasket_bore, input.gasket_area).err());
    }
    if unknown == GasketBore && input.gasket_thickness == Some(Length::default()) {
        broken.push(broken_rule("gasket_thickness", "contradiction", NO_GASKET.to_owned()));
    }
    let bore = input.bore.unwrap_or(limit::BORE.max);
    broken.extend(check_top_land(&NAMES, bore, input.top_land_height, input.top_land_diameter).err());
    broken.extend(input.head_levels.as_ref().and_then(|levels| check_level_count("head_levels", levels.len()).err()));
    broken.extend(input.head_levels.as_ref().and_then(|levels| check_levels("head_levels", levels).err()));
    broken
}

const NEEDED: &str = "is missing: it is needed for this unknown.";
const UNWANTED: &str =
    "is given but has no place with this unknown: it is what is solved for, follows from it, or belongs to another.";
const NO_GASKET: &str = "is zero: without a gasket its opening has no volume.";

fn cautions(target: &Target) -> Vec<Caution> {
    let (parts, mut cautions) = (&target.parts, Vec::new());
    limit::BORE.unusual("bore", parts.bore, &mut cautions);
    limit::STROKE.unusual("stroke", parts.stroke, &mut cautions);
    limit::CHAMBER_VOLUME.unusual("chamber_volume", parts.chamber_volume, &mut cautions);
    limit::GASKET_THICKNESS.unusual("gasket_thickness", parts.gasket_thickness, &mut cautions);
    limit::DECK_CLEARANCE.unusual("deck_clearance", parts.deck_clearance, &mut cautions);
    limit::CROWN_VOLUME.unusual("dish_volume", parts.dish_volume, &mut cautions);
    limit::CROWN_VOLUME.unusual("dome_volume", parts.dome_volume, &mut cautions);
    if let Some(gasket) = parts.gasket_bore {
        limit::GASKET_BORE.unusual("gasket_bore", gasket, &mut cautions);
    }
    if let Some(height) = target.compression_height {
        limit::COMPRESSION_HEIGHT.unusual("compression_height", height, &mut cautions);
    }
    if let Some(cut) = target.head_cut {
        limit::HEAD_CUT.unusual("head_cut", cut, &mut cautions);
        cautions.push(cut_moves_valves("head_cut"));
    }
    cautions.extend(gasket_overhang("gasket_bore", parts.bore, parts.gasket_bore));
    cautions.extend(squish_caution("squish_clearance", target.squish_clearance));
    cautions.extend(ratio_caution("static_ratio", target.static_ratio));
    cautions.push(STANDING);
    // All parts stand in the answer, the solved one only there.
    cautions.into_iter().map(|caution| Caution { about: About::Answer, ..caution }).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::r#static::tests::sound;
    use super::*;

    fn without(parts: &StaticInput, ratio: f64, unknown: Unknown) -> TargetInput {
        use Unknown::*;
        let pin_to_deck = Length::from_metres(parts.deck_clearance.metres() + Length::from_inches(1.4).metres());
        let level = |depth: f64, area: f64| AreaLevel {
            depth: Length::from_millimetres(depth),
            area: Area::from_square_centimetres(area),
        };
        TargetInput {
            target_ratio: Ratio::from_plain(ratio),
            unknown,
            bore: (unknown != Bore).then_some(parts.bore),
            stroke: (unknown != Stroke).then_some(parts.stroke),
            chamber_volume: (unknown != Chamber).then_some(parts.chamber_volume),
            gasket_bore: parts.gasket_bore.filter(|_| unknown != GasketBore),
            gasket_area: None,
            gasket_thickness: (unknown != GasketThickness).then_some(parts.gasket_thickness),
            deck_clearance: (![DeckClearance, CompressionHeight].contains(&unknown)).then_some(parts.deck_clearance),
            dish_volume: (unknown != Dish).then_some(parts.dish_volume),
            dome_volume: (unknown != Dome).then_some(parts.dome_volume),
            top_land_height: parts.top_land_height,
            top_land_diameter: parts.top_land_diameter,
            pin_to_deck: (unknown == CompressionHeight).then_some(pin_to_deck),
            head_levels: (unknown == HeadCut).then(|| vec![level(0.0, 60.0), level(1.0, 55.0), level(3.0, 40.0)]),
        }
    }

    proptest! {
        #[test]
        fn every_part_comes_back_from_the_ratio_that_it_made(parts in sound()) {
            use Unknown::*;
            let Ok(whole) = r#static::evaluate(&parts) else { return Ok(()) };
            prop_assume!(whole.static_ratio < 40.0 && whole.static_ratio > 1.5);
            for unknown in [Chamber, Dish, Dome, GasketThickness, GasketBore, DeckClearance, CompressionHeight, Stroke, Bore] {
                if unknown == GasketBore && parts.gasket_thickness.metres() < 1e-5 {
                    continue;
                }
                let found = evaluate(&without(&parts, whole.static_ratio, unknown))?;
                prop_assert!((found.static_ratio - whole.static_ratio).abs() < 1e-9 * whole.static_ratio);
                let near = |a: f64, b: f64| (a - b).abs() < 1e-6 * b.abs().max(1e-4);
                prop_assert!(near(found.parts.bore.metres(), parts.bore.metres()), "{unknown:?}");
                prop_assert!(near(found.parts.stroke.metres(), parts.stroke.metres()), "{unknown:?}");
                prop_assert!(near(found.parts.deck_clearance.metres(), parts.deck_clearance.metres()), "{unknown:?}");
                prop_assert!(near(found.parts.gasket_thickness.metres(), parts.gasket_thickness.metres()), "{unknown:?}");
                prop_assert!(near(found.volumes.gasket.cubic_metres(), whole.volumes.gasket.cubic_metres()), "{unknown:?}");
                prop_assert!(near(found.volumes.chamber.cubic_metres(), whole.volumes.chamber.cubic_metres()), "{unknown:?}");
                prop_assert!(near(found.volumes.dish.cubic_metres(), whole.volumes.dish.cubic_metres()), "{unknown:?}");
                prop_assert!(near(found.volumes.dome.cubic_metres(), whole.volumes.dome.cubic_metres()), "{unknown:?}");
            }
        }

        #[test]
        fn a_cut_head_has_the_wanted_ratio(parts in sound(), more in 0.0_f64..0.5) {
            let Ok(whole) = r#static::evaluate(&parts) else { return Ok(()) };
            prop_assume!(whole.static_ratio < 40.0);
            if let Ok(cut) = evaluate(&without(&parts, whole.static_ratio + more, Unknown::HeadCut)) {
                prop_assert!(f64::abs(cut.static_ratio - whole.static_ratio - more) < 1e-9 * whole.static_ratio);
                prop_assert!(cut.parts.chamber_volume <= parts.chamber_volume);
            }
        }
    }
}
