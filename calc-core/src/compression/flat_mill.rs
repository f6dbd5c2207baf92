//! What flat-milling takes from a chamber, from the area of the chamber's opening at each depth.

use validator::{Validate, ValidationError};

use crate::caution::{About, COMMON_PRACTICE, Caution, Detail, STANDING, Severity};
use crate::error::{Error, all_faults, broken_rule};
use crate::limit;
use crate::method::Method;
use crate::units::{Angle, Area, Length, Quantity, Volume};

use super::area_profile::{AreaProfile, check_level_count, check_levels};
use super::outline::{OutlinePoint, check_outline};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "flat-mill",
    title: "Volume that flat-milling takes from a chamber",
    equation: "V(q) = integral of A(z) dz from 0 to q; A open area of the chamber at depth z below the present face. Between measured \
         levels A is taken as linear in z. From an outline traced at the face with a straight wall: A(z) = A0 - P d + d^2 sum \
         tan(turn/2) at d = z tan(wall angle), A0 and P area and perimeter of the outline, turn the angle at each of its corners. \
         Inverse: the depth at which V is the wanted volume.",
    valid_for: "Cuts parallel to the present face, no deeper than the profile or the straight wall goes: beyond it there is no answer. \
         Valve heads and plug must not reach into the cut. Rules of so many thousandths for each cubic centimetre hold for one \
         chamber only.",
    sources: &[
        "First principles (volume is the integral of the area; parallel curves of a polygon with mitred corners)",
        "J. Steiner's formula for parallel curves (from memory): area less perimeter times distance, plus the corners' share",
    ],
};

/// A chamber's opening by depth, and the cut or the volume wanted.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct FlatMillInput {
    /// Open area at depths below the present face, the first at the face itself.
    #[validate(nested)]
    pub levels: Option<Vec<AreaLevel>>,
    /// The opening traced at the present face, instead of levels.
    #[validate(nested)]
    pub outline: Option<Vec<OutlinePoint>>,
    /// Angle of the wall from the bore axis, positive where the chamber narrows with depth.
    #[validate(custom(function = "limit::wall_angle"))]
    pub wall_angle: Option<Angle>,
    /// How deep the straight wall goes.
    #[validate(custom(function = "limit::chamber_depth"))]
    pub wall_depth: Option<Length>,
    /// What is to be milled off.
    #[validate(custom(function = "limit::head_cut"))]
    pub cut: Option<Length>,
    /// What is to be taken from the chamber, instead of a cut.
    #[validate(custom(function = "limit::chamber_volume"))]
    pub volume_removed: Option<Volume>,
    /// The chamber as it is.
    #[validate(custom(function = "limit::chamber_volume"))]
    pub chamber_volume: Option<Volume>,
}

/// Open area of the chamber at one depth.
#[derive(Debug, Clone, Copy, PartialEq, Validate)]
pub struct AreaLevel {
    /// Below the present face.
    #[validate(custom(function = "limit::chamber_depth"))]
    pub depth: Length,
    /// Open area there.
    #[validate(custom(function = "limit::chamber_area"))]
    pub area: Area,
}

/// A cut and what it takes.
#[derive(Debug, Clone, PartialEq)]
pub struct FlatMill {
    /// What is milled off.
    pub cut: Length,
    /// What that takes from the chamber.
    pub volume_removed: Volume,
    /// What is left of the chamber, when it was given.
    pub chamber_volume: Option<Volume>,
    /// Open area at the present face.
    pub area_at_face: Area,
    /// Open area at the new face.
    pub area_at_cut: Area,
    /// The further cut that takes one more cubic centimetre, where the profile goes so deep.
    pub next_cubic_centimetre: Option<Length>,
    /// How deep the profile goes.
    pub profile_depth: Length,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// Volume for a cut, or cut for a volume.
///
/// **Equation** V(q) = integral of A(z) dz from 0 to q, and its inverse
///
/// **Shape** Levels (2 to 200, depth growing) or an outline (3 to 500 points) with its wall; one cut or one volume.
///
/// **Units** Lengths, areas, volumes and angles, any.
///
/// **Valid for** 0 <= q <= depth of the profile.
///
/// **Errors** [`Error::Invalid`] when the profile does not grow in depth, is given twice or not at all, the outline crosses
/// itself, or not exactly one of cut and volume is given; [`Error::NoSolution`] when the cut goes beyond the profile or takes
/// more than the chamber holds.
///
/// **Source** First principles.
pub fn evaluate(input: &FlatMillInput) -> Result<FlatMill, Error> {
    all_faults(input.validate(), rules(input))?;
    let profile = profile(input)?;
    let (cut, removed) = match (input.cut, input.volume_removed) {
        (Some(cut), _) => (cut.metres(), profile.volume_to("cut", cut.metres())?),
        (None, wanted) => {
            let wanted = wanted.unwrap_or_default().cubic_metres();
            (profile.depth_for("volume_removed", wanted)?, wanted)
        }
    };
    let chamber_volume = input.chamber_volume.map(|chamber| chamber_left(chamber, removed)).transpose()?;
    let next = profile.depth_for("", removed + 1e-6).ok().map(|depth| Length::from_metres(depth - cut));
    let mut cautions = Vec::new();
    limit::HEAD_CUT.unusual("cut", Length::from_metres(cut), &mut cautions);
    cautions.push(cut_moves_valves("cut"));
    cautions.extend(input.outline.is_some().then_some(STRAIGHT_WALL));
    cautions.push(STANDING);
    Ok(FlatMill {
        cut: Length::from_metres(cut),
        volume_removed: Volume::from_cubic_metres(removed),
        chamber_volume,
        area_at_face: Area::from_square_metres(profile.area_at(0.0)),
        area_at_cut: Area::from_square_metres(profile.area_at(cut)),
        next_cubic_centimetre: next,
        profile_depth: Length::from_metres(profile.depth()),
        cautions,
    })
}

/// The note on what a cut does elsewhere.
pub(crate) fn cut_moves_valves(path: &'static str) -> Caution {
    Caution {
        code: "cut_moves_valves",
        severity: Severity::Caution,
        about: About::Answer,
        path: path.into(),
        detail: "The head comes down by the cut: valves come closer to the pistons by as much along the bore, pushrods grow too \
                 long, and on a vee engine the intake faces move. Check seats, guides and the thickness left in the deck of the \
                 head."
            .into(),
        source: COMMON_PRACTICE,
    }
}

const STRAIGHT_WALL: Caution = Caution {
    code: "straight_wall_assumed",
    severity: Severity::Note,
    about: About::Request,
    path: std::borrow::Cow::Borrowed("outline"),
    detail: Detail::words(
        "The wall is taken as straight and at one angle all round. Pour the chamber at two depths, or measure the area at \
         several, before a cut that must hit a volume.",
    ),
    source: "First principles",
};

fn rules(input: &FlatMillInput) -> Vec<ValidationError> {
    let mut broken = Vec::new();
    match (&input.levels, &input.outline) {
        (None, None) => broken.push(broken_rule("levels", "missing", ONE_PROFILE.to_owned())),
        (Some(_), Some(_)) => broken.push(broken_rule("outline", "over_determined", TWO_PROFILES.to_owned())),
        _ => {}
    }
    broken.extend(input.levels.as_ref().and_then(|levels| check_level_count("levels", levels.len()).err()));
    broken.extend(input.levels.as_ref().and_then(|levels| check_levels("levels", levels).err()));
    broken.extend(input.outline.as_ref().and_then(|outline| check_outline("outline", outline).err()));
    if input.outline.is_some() && input.wall_depth.is_none() {
        let detail = "is missing: an outline holds only as deep as the wall is straight; say how deep that is.";
        broken.push(broken_rule("wall_depth", "missing", detail.to_owned()));
    }
    match (input.cut, input.volume_removed) {
        (None, None) => broken.push(broken_rule("cut", "missing", ONE_WANTED.to_owned())),
        (Some(_), Some(_)) => broken.push(broken_rule("volume_removed", "over_determined", TWO_WANTED.to_owned())),
        _ => {}
    }
    broken
}

const ONE_PROFILE: &str =
    "is missing: give the open area at several depths, or an outline traced at the face with its wall.";
const TWO_PROFILES: &str = "is given beside levels; give one of the two.";
const ONE_WANTED: &str = "is missing: give the cut, or the volume that it is to take.";
const TWO_WANTED: &str = "is given beside the cut; give one of the two, the other is computed.";

fn profile(input: &FlatMillInput) -> Result<AreaProfile, Error> {
    match (&input.levels, &input.outline) {
        (Some(levels), _) => Ok(AreaProfile::from_levels(levels)),
        (None, outline) => AreaProfile::from_outline(
            outline.as_deref().unwrap_or_default(),
            input.wall_angle.unwrap_or_default(),
            input.wall_depth.unwrap_or_default(),
        ),
    }
}

fn chamber_left(chamber: Volume, removed: f64) -> Result<Volume, Error> {
    let left = chamber.cubic_metres() - removed;
    if left >= 0.0 {
        return Ok(Volume::from_cubic_metres(left));
    }
    Err(Error::NoSolution {
        field: "chamber_volume",
        detail: format!(
            "holds {}; the cut would take {}. Profile and chamber contradict each other, or the cut is too deep.",
            chamber.shown(),
            Volume::from_cubic_metres(removed).shown()
        ),
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn bowl() -> impl Strategy<Value = Vec<AreaLevel>> {
        prop::collection::vec((0.5..3.0, 5.0..60.0), 2..8).prop_map(|steps| {
            let mut depth = 0.0;
            let mut levels = Vec::new();
            for (step, area) in steps {
                levels.push(AreaLevel {
                    depth: Length::from_millimetres(depth),
                    area: Area::from_square_centimetres(area),
                });
                depth += step;
            }
            levels
        })
    }

    fn input(levels: Vec<AreaLevel>) -> FlatMillInput {
        FlatMillInput {
            levels: Some(levels),
            outline: None,
            wall_angle: None,
            wall_depth: None,
            cut: None,
            volume_removed: None,
            chamber_volume: None,
        }
    }

    proptest! {
        #[test]
        fn the_cut_for_the_volume_of_a_cut_is_that_cut(levels in bowl(), share in 0.0..1.0) {
            let deepest = levels.last().map_or(0.0, |level| level.depth.metres());
            let cut = Some(Length::from_metres(deepest * share));
            let there = evaluate(&FlatMillInput { cut, ..input(levels.clone()) })?;
            let back = evaluate(&FlatMillInput { volume_removed: Some(there.volume_removed), ..input(levels) })?;
            prop_assert!((back.cut.metres() - there.cut.metres()).abs() < 1e-12);
        }

        #[test]
        fn a_deeper_cut_takes_more(levels in bowl(), share in 0.0..0.99) {
            let deepest = levels.last().map_or(0.0, |level| level.depth.metres());
            let at = |share: f64| evaluate(&FlatMillInput { cut: Some(Length::from_metres(deepest * share)), ..input(levels.clone()) });
            prop_assert!(at(share + 0.01)?.volume_removed > at(share)?.volume_removed);
        }

        #[test]
        fn a_square_opening_is_a_frustum_of_a_pyramid(side in 30.0..90.0, angle in -20.0..40.0, depth in 1.0..5.0) {
            let corner = |x: f64, y: f64| OutlinePoint {
                x: Length::from_millimetres(x),
                y: Length::from_millimetres(y),
                arc_radius: None,
                arc_inwards: false,
            };
            let square = vec![corner(0.0, 0.0), corner(side, 0.0), corner(side, side), corner(0.0, side)];
            let found = evaluate(&FlatMillInput {
                levels: None,
                outline: Some(square),
                wall_angle: Some(Angle::from_degrees(angle)),
                wall_depth: Some(Length::from_millimetres(depth)),
                cut: Some(Length::from_millimetres(depth)),
                ..input(Vec::new())
            })?;
            let inner = side - 2.0 * depth * angle.to_radians().tan();
            let expected = depth / 3.0 * (side * side + side * inner + inner * inner);
            prop_assert!((found.volume_removed.cubic_centimetres() * 1000.0 - expected).abs() < 1e-6 * expected);
        }
    }
}
