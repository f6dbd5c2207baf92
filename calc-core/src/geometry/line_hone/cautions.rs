//! What to look at twice before main housings are cut.

use super::{HousingFound, LineHoneInput};
use crate::caution::{About, COMMON_PRACTICE, Caution, Detail, STANDING, Severity};
use crate::limit;
use crate::units::{Length, Quantity};

/// Less than this, a nanometre, is rounding.
const ROUNDING: f64 = 1e-9;
/// An axis that tilts by more than this over the crank leaves the decks visibly out of parallel.
const TILT: Length = Length::from_inches(0.0005);
/// Beyond this the camshaft drive usually needs a shorter chain.
const FAR: Length = Length::from_inches(0.010);

pub(super) fn cautions(
    input: &LineHoneInput,
    housings: &[HousingFound],
    tilt: f64,
    chain_slack: Option<Length>,
) -> Vec<Caution> {
    let mut cautions = Vec::new();
    limit::MAIN_HOUSING.unusual("finished_size", input.finished_size, &mut cautions);
    limit::CAP_CUT.unusual("cap_cut", input.cap_cut, &mut cautions);
    for (index, deck) in input.decks.iter().enumerate() {
        limit::DECK_HEIGHT.unusual(format!("decks/{index}/deck_height"), deck.deck_height, &mut cautions);
    }
    if let Some(camshaft) = input.camshaft {
        limit::CAM_DISTANCE.unusual("camshaft/distance", camshaft.distance, &mut cautions);
    }
    cautions.extend(housings.iter().enumerate().filter_map(|(index, found)| not_cleaned_up(index, found)));
    let farthest = housings.iter().map(|found| found.movement.metres()).fold(0.0, |far: f64, one| far.max(one.abs()));
    if tilt.abs() > TILT.metres() {
        cautions.push(tilt_caution(tilt));
    }
    if farthest > FAR.metres() {
        cautions.push(far_caution(farthest));
    }
    if chain_slack.is_some_and(|slack| slack.metres() < -ROUNDING) {
        cautions.push(CHAIN_TIGHT);
    }
    if farthest > ROUNDING {
        cautions.push(AXIS_MOVES);
    }
    cautions.push(STANDING);
    cautions
}

const AXIS_MOVES: Caution = Caution {
    code: "crank_axis_moves",
    severity: Severity::Note,
    about: About::Answer,
    path: std::borrow::Cow::Borrowed("movement"),
    detail: Detail::words(
        "What is fixed to the block stays where it was: look at the crankshaft seals, the gearbox dowels, the timing drive and the \
         oil pump's drive. Survey the decks from the new axis before they are cut.",
    ),
    source: COMMON_PRACTICE,
};

const CHAIN_TIGHT: Caution = Caution {
    code: "chain_too_short",
    severity: Severity::Danger,
    about: About::Answer,
    path: std::borrow::Cow::Borrowed("chain_slack"),
    detail: Detail::words("The shafts move apart: a chain that was taut becomes too short."),
    source: COMMON_PRACTICE,
};

fn not_cleaned_up(index: usize, found: &HousingFound) -> Option<Caution> {
    let stocks = [("saddle", found.saddle_stock), ("cap", found.cap_stock)];
    let (part, stock) = stocks.into_iter().find(|(_, stock)| stock.metres() < -ROUNDING)?;
    Some(Caution {
        code: "housing_not_cleaned_up",
        severity: Severity::Danger,
        about: About::Answer,
        path: format!("housings/{index}/{part}_stock").into(),
        detail: format!(
            "The {part} stands {} away from the finished circle and keeps its old surface there. Cut the caps more, or finish \
             larger.",
            Length::from_metres(-stock.metres()).shown()
        )
        .into(),
        source: COMMON_PRACTICE,
    })
}

fn tilt_caution(tilt: f64) -> Caution {
    Caution {
        code: "crank_axis_tilts",
        severity: Severity::Caution,
        about: About::Answer,
        path: "tilt".into(),
        detail: format!(
            "The axis moves by {} more at one end than at the other, more than {}: decks that were parallel to it no longer are.",
            Length::from_metres(tilt.abs()).shown(),
            TILT.shown()
        )
        .into(),
        source: COMMON_PRACTICE,
    }
}

fn far_caution(farthest: f64) -> Caution {
    Caution {
        code: "crank_axis_far",
        severity: Severity::Caution,
        about: About::Answer,
        path: "movement".into(),
        detail: format!(
            "The axis moves by up to {}; beyond {} the camshaft drive usually needs a shorter chain or other gears.",
            Length::from_metres(farthest).shown(),
            FAR.shown()
        )
        .into(),
        source: COMMON_PRACTICE,
    }
}
