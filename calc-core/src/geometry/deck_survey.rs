//! Decks as measured: how they lie, how flat they are, and the smallest cut that makes them flat and parallel to the crank.

use validator::{Validate, ValidationError};

use crate::build::evaluate::Missing;
use crate::error::{Error, broken_rule};
use crate::limit;
use crate::method::Method;
use crate::units::{Angle, Length, Quantity};

use super::deck_stack::pin_height_at_top_centre;
use super::slider_crank::check_rod;
use super::surface::{FEWEST_POINTS, Fit, SurfacePoint, fit, in_one_line, minimum_zone};

mod cautions;
mod finished;
#[cfg(test)]
mod tests;

use cautions::cautions;
use finished::{Level, finished_decks};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "deck-survey",
    title: "Smallest cut that makes each deck flat and parallel to the crank axis",
    equation: "finished deck: z = h + b y, no slope along the crank; h + b y <= zi at every measured point, as high as possible. \
         Square to the bore: b = 0, h = lowest point. Free: h + b ym highest at the mean ym of the positions across, which takes \
         the least metal; of equal ones the b nearest to zero. Then less the clean-up allowance, where metal comes off at all; \
         equal banks: h of the lowest bank for all. Cut at a point = zi - h - b yi. Deck clearance = deck height at the bore \
         axis - pin height at top centre - compression height.",
    valid_for: "Heights measured along the bore, above the crank axis as it will run (line-hone first). Only measured points are \
         known to clean up. Before the cut a cylinder's deck height is that of the least-squares plane.",
    sources: &[
        "First principles (a supporting plane of the measured points)",
        "common practice, no source: decks are cut flat, parallel to the crank axis and square to the bores",
    ],
};

/// Most banks of one block, and most points of one bank.
pub const MOST_BANKS: usize = 4;
/// Most measured points of one bank.
pub const MOST_POINTS: usize = 200;
/// The steepest least-squares plane that is taken for a deck, as a rise per length.
const MOST_LEAN: f64 = 0.1;

/// The decks as measured and what is wanted of them.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "count_of_banks", skip_on_field_errors = false))]
#[validate(schema(function = "free_slope_needs_breadth", skip_on_field_errors = false))]
pub struct DeckSurveyInput {
    /// One deck each.
    #[validate(nested)]
    pub banks: Vec<Bank>,
    /// Which slope across the finished deck may have.
    pub cross_slope: CrossSlope,
    /// Whether all banks are to finish at one height.
    pub equal_banks: bool,
    /// Taken off beyond the lowest point of a deck that must be cut.
    #[validate(custom(function = "limit::cleanup_allowance"))]
    pub cleanup_allowance: Length,
    /// What stands between crank axis and crown, for the deck clearances.
    #[validate(nested)]
    pub stack: Option<Stack>,
}

/// One deck.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "count_of_points", skip_on_field_errors = false))]
#[validate(schema(function = "deck_is_level"))]
pub struct Bank {
    /// Where it was measured.
    #[validate(nested)]
    pub points: Vec<SurfacePoint>,
    /// Its cylinders.
    #[validate(nested)]
    pub cylinders: Vec<CylinderPlace>,
}

/// Where a cylinder stands; its axis is at zero across.
#[derive(Debug, Clone, Copy, PartialEq, Validate)]
pub struct CylinderPlace {
    /// Along the crank.
    #[validate(custom(function = "limit::position"))]
    pub along: Length,
}

/// Slope across the finished deck.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CrossSlope {
    /// None: square to the bore.
    SquareToBore,
    /// Whatever takes the least metal.
    Free,
}

/// Crank, rod and piston.
#[derive(Debug, Clone, Copy, PartialEq, Validate)]
#[validate(schema(function = "rod_clears_crank", skip_on_field_errors = false))]
pub struct Stack {
    /// Twice the crank radius.
    #[validate(custom(function = "limit::stroke"))]
    pub stroke: Length,
    /// Rod length.
    #[validate(custom(function = "limit::rod_length"))]
    pub rod_length: Length,
    /// Pin axis to the flat of the crown.
    #[validate(custom(function = "limit::compression_height"))]
    pub compression_height: Length,
    /// Pin offset.
    #[validate(custom(function = "limit::pin_offset"))]
    pub pin_offset: Length,
}

/// The decks as they are and as they would be.
#[derive(Debug, Clone, PartialEq)]
pub struct DeckSurvey {
    /// In the order given.
    pub banks: Vec<BankSurvey>,
    /// Highest less lowest bank before the cut, at the middle of the measured length on the bore axes.
    pub step: Option<Length>,
    /// Results that need an input which is not there.
    pub missing: Vec<Missing>,
    /// What to look at twice.
    pub cautions: Vec<crate::caution::Caution>,
}

/// One deck as it is and as it would be.
#[derive(Debug, Clone, PartialEq)]
pub struct BankSurvey {
    /// Least-squares plane; none when the points are in one line.
    pub fit: Option<Fit>,
    /// Rise of that plane over the measured length.
    pub rise_along: Option<Length>,
    /// Rise of that plane over the measured breadth.
    pub rise_across: Option<Length>,
    /// Minimum zone; none when the points are in one line.
    pub flatness: Option<Length>,
    /// Deck height at the bore axis after the cut.
    pub finished_height: Length,
    /// Rise per length across after the cut.
    pub finished_slope_across: f64,
    /// Deepest cut at a measured point: from first touch to finished.
    pub largest_cut: Length,
    /// Shallowest cut at a measured point.
    pub smallest_cut: Length,
    /// Cut at each point, in the order given.
    pub point_cuts: Vec<Length>,
    /// Deck clearances of the cylinders; empty without a stack.
    pub clearances: Vec<Clearance>,
}

/// Deck clearance of a cylinder; positive when the piston stops below the deck.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clearance {
    /// Before the cut; none when the points are in one line.
    pub before: Option<Length>,
    /// After the cut.
    pub after: Length,
}

fn count_of_banks(input: &DeckSurveyInput) -> Result<(), ValidationError> {
    if (1..=MOST_BANKS).contains(&input.banks.len()) {
        return Ok(());
    }
    let detail = format!("must hold 1 to {MOST_BANKS} banks; got {}.", input.banks.len());
    Err(broken_rule("banks", "wrong_count", detail))
}

fn count_of_points(bank: &Bank) -> Result<(), ValidationError> {
    let count = bank.points.len();
    if (FEWEST_POINTS..=MOST_POINTS).contains(&count) {
        return Ok(());
    }
    let detail = format!(
        "must hold {FEWEST_POINTS} to {MOST_POINTS} measured points, best at least six along both edges; got {count}: fewer \
         than three do not describe a face."
    );
    Err(broken_rule("points", "wrong_count", detail))
}

/// A deck that leans far is a slip in the readings or in a unit.
fn deck_is_level(bank: &Bank) -> Result<(), ValidationError> {
    let lean = fit(&bank.points).map_or(0.0, |fit| fit.slope_along.hypot(fit.slope_across));
    if lean <= MOST_LEAN {
        return Ok(());
    }
    let detail = format!(
        "make a deck that leans by {}; more than {} is no deck: look at the readings and at their units.",
        Angle::from_radians(lean.atan()).shown(),
        Angle::from_radians(MOST_LEAN.atan()).shown()
    );
    Err(broken_rule("points", "contradiction", detail))
}

fn free_slope_needs_breadth(input: &DeckSurveyInput) -> Result<(), ValidationError> {
    let line = input.banks.iter().position(|bank| in_one_line(&bank.points));
    match (input.cross_slope, line) {
        (CrossSlope::Free, Some(index)) => Err(broken_rule(
            &format!("banks/{index}/points"),
            "under_determined",
            "are in one line, which leaves a free cross slope open: measure along both edges, or cut square to the bore."
                .to_owned(),
        )),
        _ => Ok(()),
    }
}

fn rod_clears_crank(stack: &Stack) -> Result<(), ValidationError> {
    check_rod("rod_length", "pin_offset", stack.stroke, stack.rod_length, stack.pin_offset)
}

/// Each deck as measured, and the smallest cut that makes it flat and parallel to the crank axis.
///
/// **Equation** finished deck z = h + b y with h + b y <= zi at all points and as high as possible, less the allowance; the
/// plane that fits best and the flatness are those of [`super::surface`].
///
/// **Shape** 1 to 4 banks of 3 to 200 points; any number of cylinders.
///
/// **Units** Lengths; slopes are ratios.
///
/// **Valid for** Heights along the bore above the crank axis; what lies between the measured points is not known.
///
/// **Errors** [`Error::Invalid`] when a field is out of range, a bank has fewer than three points or leans too far, or a free cross
/// slope is asked of points in one line; [`Error::NotConverged`] should the linear programme fail.
///
/// **Source** First principles; ISO 1101:2017 for the flatness.
pub fn evaluate(input: &DeckSurveyInput) -> Result<DeckSurvey, Error> {
    input.validate()?;
    let finished = finished_decks(input);
    let decks = input.banks.iter().zip(finished);
    let banks = decks.map(|(bank, deck)| survey(bank, deck, input.stack)).collect::<Result<Vec<_>, _>>()?;
    let step = step(input, &banks);
    let mut missing = Vec::new();
    if input.stack.is_none() && input.banks.iter().any(|bank| !bank.cylinders.is_empty()) {
        missing.push(Missing { result: "banks/0/cylinders/0/deck_clearance_after", needs: "stack" });
    }
    if input.stack.is_some() && input.banks.iter().all(|bank| bank.cylinders.is_empty()) {
        missing.push(Missing { result: "banks/0/cylinders/0/deck_clearance_after", needs: "banks/0/cylinders" });
    }
    let cautions = cautions(input, &banks);
    Ok(DeckSurvey { banks, step, missing, cautions })
}

fn survey(bank: &Bank, deck: Level, stack: Option<Stack>) -> Result<BankSurvey, Error> {
    let points = &bank.points;
    let fit = fit(points);
    let span = |place: fn(&SurfacePoint) -> Length| {
        let places = points.iter().map(|point| place(point).metres());
        places.clone().fold(f64::MIN, f64::max) - places.fold(f64::MAX, f64::min)
    };
    let cuts = deck.cuts(points);
    let clearances =
        stack.iter().flat_map(|stack| bank.cylinders.iter().map(|place| clearance(stack, place, &fit, deck)));
    Ok(BankSurvey {
        fit,
        rise_along: fit.map(|fit| Length::from_metres(fit.slope_along * span(|point| point.along))),
        rise_across: fit.map(|fit| Length::from_metres(fit.slope_across * span(|point| point.across))),
        flatness: minimum_zone(points)?,
        finished_height: Length::from_metres(deck.height),
        finished_slope_across: deck.slope_across,
        largest_cut: Length::from_metres(cuts.clone().fold(f64::MIN, f64::max)),
        smallest_cut: Length::from_metres(cuts.clone().fold(f64::MAX, f64::min)),
        point_cuts: cuts.map(Length::from_metres).collect(),
        clearances: clearances.collect(),
    })
}

fn clearance(stack: &Stack, place: &CylinderPlace, fit: &Option<Fit>, deck: Level) -> Clearance {
    let pin = pin_height_at_top_centre(stack.stroke, stack.rod_length, stack.pin_offset).metres();
    let below = |height: f64| Length::from_metres(height - pin - stack.compression_height.metres());
    let before = fit.map(|fit| below(fit.height_at(place.along, Length::default()).metres()));
    Clearance { before, after: below(deck.height) }
}

fn step(input: &DeckSurveyInput, banks: &[BankSurvey]) -> Option<Length> {
    if banks.len() < 2 {
        return None;
    }
    let places = input.banks.iter().flat_map(|bank| &bank.points).map(|point| point.along.metres());
    let middle = (places.clone().fold(f64::MIN, f64::max) + places.fold(f64::MAX, f64::min)) / 2.0;
    let height =
        |bank: &BankSurvey| bank.fit.map(|fit| fit.height_at(Length::from_metres(middle), Length::default()).metres());
    let heights = banks.iter().map(height).collect::<Option<Vec<_>>>()?;
    let highest = heights.iter().copied().fold(f64::MIN, f64::max);
    Some(Length::from_metres(highest - heights.into_iter().fold(f64::MAX, f64::min)))
}
