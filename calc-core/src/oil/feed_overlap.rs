//! A bearing shell or cam bearing turned so that its hole meets the feed hole only in part: what stays open.

use validator::{Validate, ValidationError};

use crate::caution::{About, COMMON_PRACTICE, Caution, STANDING, Severity};
use crate::error::{Error, broken_rule};
use crate::limit;
use crate::method::Method;
use crate::solve::bracketed_newton;
use crate::units::{Angle, Area, Length, Quantity};

use super::overlap_law::{Opening, Overlap};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "feed-overlap",
    title: "Open area of two round holes that overlap in part",
    equation: "s = hypot(D/2 angle, axial offset); with radii a and b, the lens A = a^2 (t - sin t cos t) + b^2 (u - sin u cos u), cos t = \
         (s^2 + a^2 - b^2)/(2 s a), cos u likewise; wholly open up to s = |a - b|, shut from s = a + b. Equivalent round hole: \
         sqrt(4 A/pi). Hydraulic diameter: 4 A/edge. The turn for a wanted hole: a bracketed root, with dA/ds = -chord.",
    valid_for: "Both holes are circles on the unrolled face. A hole of diameter d drilled square into a face of diameter D is longer \
         round the face by about (d/D)^2/6 of itself: 1 percent at d/D = 0.25 (a caution above 0.35, refused from 1). Both drilled \
         towards the axis, no chamfer, no groove behind the shell: a groove that joins the holes makes the turn meaningless. The \
         equivalent hole has the same area; a thin lens passes less oil than a round hole of its area, the less the thicker the \
         oil.",
    sources: &[
        "First principles: area of two circles' intersection (I. N. Bronshtein and K. A. Semendyayev, Handbook of Mathematics, \
         segment of a circle)",
    ],
};

/// Above this, the holes are noticeably longer round the face than along it.
const NOT_FLAT: f64 = 0.35;
/// Below this, an opening's hydraulic diameter says that it is a slit.
const SLIT: f64 = 0.6;

/// Two holes and how far one is turned, or the hole that should be left.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "one_turn", skip_on_field_errors = false))]
#[validate(schema(function = "holes_fit", skip_on_field_errors = false))]
pub struct FeedOverlapInput {
    /// Hole in the shell.
    #[validate(custom(function = "limit::feed_hole"))]
    pub shell_hole: Length,
    /// Hole that feeds it.
    #[validate(custom(function = "limit::feed_hole"))]
    pub feed_hole: Length,
    /// Diameter of the face on which they meet: the shell's back, the housing bore.
    #[validate(custom(function = "limit::feed_face"))]
    pub housing_diameter: Length,
    /// How far the shell is turned from where the holes face each other.
    #[validate(custom(function = "limit::turned_angle"))]
    pub turned_angle: Option<Angle>,
    /// The same as a distance on the face.
    #[validate(custom(function = "limit::hole_distance"))]
    pub arc_distance: Option<Length>,
    /// Diameter of the equivalent round hole wanted, instead of the turn.
    #[validate(custom(function = "limit::feed_hole"))]
    pub wanted_hole: Option<Length>,
    /// Distance of the holes' centres along the shaft.
    #[validate(custom(function = "limit::hole_distance"))]
    pub axial_offset: Option<Length>,
}

/// How far open it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OpeningState {
    /// The smaller hole is wholly open.
    Open,
    /// Part of it is.
    Partial,
    /// Nothing is.
    Shut,
}

/// What is open, and the turns that matter.
#[derive(Debug, Clone, PartialEq)]
pub struct FeedOverlap {
    /// How far the shell is turned, given or found.
    pub turned_angle: Angle,
    /// The same on the face.
    pub arc_distance: Length,
    /// Distance of the holes' centres.
    pub centre_distance: Length,
    /// How far open.
    pub state: OpeningState,
    /// Open area.
    pub open_area: Area,
    /// That as a share of the smaller hole.
    pub open_share: f64,
    /// Round hole of the same area.
    pub equivalent_hole: Length,
    /// Four times the area over the edge.
    pub hydraulic_diameter: Length,
    /// The largest turn that leaves the smaller hole wholly open; none when the offset covers it already.
    pub open_up_to: Option<Angle>,
    /// The smallest turn that shuts it; none when no turn does, or the offset already did.
    pub shut_from: Option<Angle>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

fn one_turn(input: &FeedOverlapInput) -> Result<(), ValidationError> {
    let given = [
        ("turned_angle", input.turned_angle.is_some()),
        ("arc_distance", input.arc_distance.is_some()),
        ("wanted_hole", input.wanted_hole.is_some()),
    ];
    let mut given = given.into_iter().filter(|(_, given)| *given).map(|(name, _)| name);
    match (given.next(), given.next()) {
        (Some(_), None) => Ok(()),
        (Some(first), Some(second)) => {
            Err(broken_rule(second, "over_determined", format!("is given beside {first}; give one of the two.")))
        }
        _ => {
            let detail = "is missing: give it, arc_distance or wanted_hole.";
            Err(broken_rule("turned_angle", "missing", detail.to_owned()))
        }
    }
}

fn holes_fit(input: &FeedOverlapInput) -> Result<(), ValidationError> {
    // A face that is refused itself is no measure for holes.
    if limit::FEED_FACE.check(&input.housing_diameter).is_err() {
        return Ok(());
    }
    for (field, hole) in [("shell_hole", input.shell_hole), ("feed_hole", input.feed_hole)] {
        if hole >= input.housing_diameter {
            let face = input.housing_diameter.shown();
            let detail = format!("must be smaller than the face it is drilled in, {face}; got {}.", hole.shown());
            return Err(broken_rule(field, "contradiction", detail));
        }
    }
    let half_round = std::f64::consts::PI / 2.0 * input.housing_diameter.metres();
    match input.arc_distance.filter(|arc| arc.metres().abs() > half_round) {
        Some(arc) => {
            let half = Length::from_metres(half_round).shown();
            let detail = format!("must be at most half way round the face, {half}; got {}.", arc.shown());
            Err(broken_rule("arc_distance", "contradiction", detail))
        }
        None => Ok(()),
    }
}

/// What stays open of two holes of which one is turned away, or the turn that leaves a wanted hole.
///
/// **Equation** A = a^2 (t - sin t cos t) + b^2 (u - sin u cos u), the lens of two circles
///
/// **Shape** Scalars.
///
/// **Units** Any; the turn as an angle or as a distance on the face.
///
/// **Valid for** Holes small against the face's diameter, drilled towards its axis.
///
/// **Errors** [`Error::Invalid`] when a field is out of range, a hole is as wide as the face, or not exactly one of turn, distance
/// and wanted hole is given; [`Error::NoSolution`] when no turn leaves the wanted hole; [`Error::NotConverged`] when the root is
/// not found: a fault of ours.
///
/// **Source** First principles; Bronshtein and Semendyayev, Handbook of Mathematics, segment of a circle.
pub fn evaluate(input: &FeedOverlapInput) -> Result<FeedOverlap, Error> {
    input.validate()?;
    let holes = Overlap { holes: [input.shell_hole.metres(), input.feed_hole.metres()] };
    let radius = input.housing_diameter.metres() / 2.0;
    let offset = input.axial_offset.unwrap_or_default().metres();
    let arc = match (input.turned_angle, input.arc_distance) {
        (Some(angle), _) => angle.radians() * radius,
        (None, Some(arc)) => arc.metres(),
        (None, None) => arc_for(&holes, offset, radius, input.wanted_hole.unwrap_or_default().metres())?,
    };
    let distance = arc.hypot(offset);
    let opening = holes.opening(distance);
    let turn_to = |distance: f64| {
        let squared = distance * distance - offset * offset;
        let angle = squared.max(0.0).sqrt() / radius;
        (squared >= 0.0 && angle <= std::f64::consts::PI).then(|| Angle::from_radians(angle))
    };
    Ok(FeedOverlap {
        turned_angle: Angle::from_radians(arc / radius),
        arc_distance: Length::from_metres(arc),
        centre_distance: Length::from_metres(distance),
        state: match distance {
            distance if distance <= holes.open_up_to() => OpeningState::Open,
            distance if distance < holes.shut_from() => OpeningState::Partial,
            _ => OpeningState::Shut,
        },
        open_area: Area::from_square_metres(opening.area),
        open_share: opening.area / holes.opening(0.0).area,
        equivalent_hole: Length::from_metres(opening.round_hole()),
        hydraulic_diameter: Length::from_metres(hydraulic(&opening)),
        open_up_to: turn_to(holes.open_up_to()),
        shut_from: turn_to(holes.shut_from()),
        cautions: cautions(input, &opening),
    })
}

/// Four times the area over the edge; nothing where nothing is open.
fn hydraulic(opening: &Opening) -> f64 {
    if opening.area > 0.0 { 4.0 * opening.area / opening.edge } else { 0.0 }
}

/// The distance on the face that leaves a wanted hole.
fn arc_for(holes: &Overlap, offset: f64, radius: f64, wanted: f64) -> Result<f64, Error> {
    let most = holes.opening(offset.abs());
    let no_turn = |detail: String| Error::NoSolution { field: "wanted_hole", detail };
    if wanted > most.round_hole() * (1.0 + 1e-12) {
        let most = Length::from_metres(most.round_hole());
        return Err(no_turn(format!(
            "of {} is more than the holes leave when they face each other, {}.",
            Length::from_metres(wanted).shown(),
            most.shown()
        )));
    }
    if wanted >= most.round_hole() {
        return Ok((holes.open_up_to().powi(2) - offset * offset).max(0.0).sqrt());
    }
    let balance = |distance: f64| {
        let opening = holes.opening(distance);
        (opening.area - std::f64::consts::FRAC_PI_4 * wanted * wanted, opening.slope)
    };
    let [nearest, furthest] = [holes.open_up_to().max(offset.abs()), holes.shut_from()];
    let distance = bracketed_newton("turn for a wanted hole", balance, nearest, furthest, 0.5 * (nearest + furthest))?;
    let arc = (distance * distance - offset * offset).max(0.0).sqrt();
    if arc > std::f64::consts::PI * radius {
        return Err(no_turn("is not left by any turn: the holes overlap more even half way round.".to_owned()));
    }
    Ok(arc)
}

fn cautions(input: &FeedOverlapInput, opening: &Opening) -> Vec<Caution> {
    let mut cautions = Vec::new();
    limit::FEED_HOLE.unusual("shell_hole", input.shell_hole, &mut cautions);
    limit::FEED_HOLE.unusual("feed_hole", input.feed_hole, &mut cautions);
    limit::FEED_FACE.unusual("housing_diameter", input.housing_diameter, &mut cautions);
    if let Some(angle) = input.turned_angle {
        limit::TURNED_ANGLE.unusual("turned_angle", angle, &mut cautions);
    }
    let larger = if input.shell_hole > input.feed_hole { input.shell_hole } else { input.feed_hole };
    if larger.metres() > NOT_FLAT * input.housing_diameter.metres() {
        let detail =
            "The larger hole is wide for its face: it is longer round the face than along it, by more than 2 percent.";
        cautions.push(about(
            Severity::Caution,
            About::Request,
            "housing_diameter",
            "face_not_flat",
            detail,
            "first principles",
        ));
    }
    if opening.area == 0.0 {
        let detail = "Nothing is open: what this hole feeds runs dry.";
        cautions.push(about(Severity::Danger, About::Answer, "open_area", "feed_shut", detail, COMMON_PRACTICE));
    } else if hydraulic(opening) < SLIT * opening.round_hole() {
        let detail = "The opening is a thin slit: it passes less than the round hole of its area, and dirt or a small turn shuts it. A \
                      drilled restrictor of that size is surer.";
        cautions.push(about(
            Severity::Caution,
            About::Answer,
            "equivalent_hole",
            "thin_opening",
            detail,
            COMMON_PRACTICE,
        ));
    }
    cautions.push(STANDING);
    cautions
}

fn about(
    severity: Severity,
    about: About,
    path: &'static str,
    code: &'static str,
    detail: &'static str,
    source: &'static str,
) -> Caution {
    Caution { code, severity, about, path: path.into(), detail: detail.into(), source }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn bearings() -> impl Strategy<Value = FeedOverlapInput> {
        (0.1..0.4, 0.1..0.4, 1.5..4.0, 0.0..1.0, -0.05..0.05).prop_map(|(shell, feed, face, share, offset)| {
            let reach: f64 = (shell + feed) / face;
            FeedOverlapInput {
                shell_hole: Length::from_inches(shell),
                feed_hole: Length::from_inches(feed),
                housing_diameter: Length::from_inches(face),
                turned_angle: Some(Angle::from_radians(share * reach)),
                arc_distance: None,
                wanted_hole: None,
                axial_offset: Some(Length::from_inches(offset)),
            }
        })
    }

    proptest! {
        #[test]
        fn the_turn_for_a_hole_gives_back_the_hole(input in bearings()) {
            let found = evaluate(&input)?;
            prop_assume!(limit::FEED_HOLE.check(&found.equivalent_hole).is_ok());
            let wanted = FeedOverlapInput { turned_angle: None, wanted_hole: Some(found.equivalent_hole), ..input.clone() };
            let back = evaluate(&wanted)?;
            prop_assert!((back.equivalent_hole.metres() / found.equivalent_hole.metres() - 1.0).abs() < 1e-9);
            if found.open_share < 0.999 {
                prop_assert!((back.turned_angle.degrees() - found.turned_angle.degrees()).abs() < 1e-4);
            }
        }

        #[test]
        fn either_way_round_and_either_hole_first_is_the_same(input in bearings()) {
            let found = evaluate(&input)?;
            let turned_angle = input.turned_angle.map(|angle| Angle::from_radians(-angle.radians()));
            let other = evaluate(&FeedOverlapInput {
                turned_angle,
                shell_hole: input.feed_hole,
                feed_hole: input.shell_hole,
                ..input.clone()
            })?;
            prop_assert!((other.open_area.si() - found.open_area.si()).abs() < 1e-12 * found.open_area.si().max(1e-9));
            let arc = evaluate(&FeedOverlapInput { turned_angle: None, arc_distance: Some(found.arc_distance), ..input.clone() })?;
            prop_assert!((arc.open_share - found.open_share).abs() < 1e-12);
        }

        #[test]
        fn it_shuts_where_it_is_said_to_shut(input in bearings()) {
            let found = evaluate(&input)?;
            let shut = found.shut_from.map_or(0.0, Angle::radians);
            let at = |angle: f64| evaluate(&FeedOverlapInput { turned_angle: Some(Angle::from_radians(angle)), ..input.clone() });
            prop_assert!(at(shut * (1.0 - 1e-4))?.open_area.si() > 0.0);
            prop_assert_eq!(at(shut * (1.0 + 1e-9))?.state, OpeningState::Shut);
            if let Some(open) = found.open_up_to {
                prop_assert!((at(open.radians())?.open_share - 1.0).abs() < 1e-9);
            }
        }
    }
}
