//! The cautions of [`super::operations`].

use crate::caution::{About, COMMON_PRACTICE, Caution, STANDING, Severity};
use crate::limit;
use crate::units::{Length, Quantity};

use super::measured_block::{MeasuredCylinder, OperationsInput, below};
use super::operation_rules::Operation;
use super::operations::{MachineOperation, WallLeft};

/// What to look at twice; the standing caution comes last.
pub(crate) fn cautions(input: &OperationsInput, operations: &[MachineOperation], walls: &[WallLeft]) -> Vec<Caution> {
    let plan = &input.plan;
    let mut cautions = Vec::new();
    if let Some(bore) = plan.bore {
        limit::BORE.unusual("plan/bore", bore, &mut cautions);
    }
    if let Some(allowance) = plan.honing_allowance {
        limit::HONING_ALLOWANCE.unusual("plan/honing_allowance", allowance, &mut cautions);
    }
    if let Some(height) = plan.deck_height {
        limit::DECK_HEIGHT.unusual("plan/deck_height", height, &mut cautions);
    }
    cautions.extend(walls.iter().enumerate().filter_map(|(index, left)| wall_caution(plan.least_wall, index, left)));
    cautions.extend(input.measured.cylinders.iter().enumerate().filter_map(|one| hone_caution(input, one)));
    let has = |wanted| operations.iter().any(|line| line.operation == wanted);
    if has(Operation::LineHone) && has(Operation::DeckBlock) {
        cautions.push(Caution {
            code: "deck_heights_move",
            severity: Severity::Caution,
            about: About::Request,
            path: "measured/banks".into(),
            detail:
                "The line-hone moves the crank axis: measure the deck heights again after it, before the decks are cut."
                    .into(),
            source: COMMON_PRACTICE,
        });
    }
    cautions.push(STANDING);
    cautions
}

fn wall_caution(least: Option<Length>, index: usize, left: &WallLeft) -> Option<Caution> {
    let (code, why) = if left.wall <= Length::default() {
        ("sleeve_breaks_through", "boring for the sleeve cuts through the wall".to_owned())
    } else if least.is_some_and(|least| !left.sleeved && below(left.wall, least)) {
        ("wall_thin", format!("the least wall given is {}", least.unwrap_or_default().shown()))
    } else {
        return None;
    };
    Some(Caution {
        code,
        severity: Severity::Danger,
        about: About::Answer,
        path: format!("walls/{index}/wall").into(),
        detail: format!("Cylinder {} keeps {} of wall: {why}.", left.cylinder, left.wall.shown()).into(),
        source: "the request",
    })
}

fn hone_caution(input: &OperationsInput, (index, cylinder): (usize, &MeasuredCylinder)) -> Option<Caution> {
    let (finished, allowance) = (input.plan.bore?, input.plan.honing_allowance?);
    let bored = Length::from_metres(finished.metres() - allowance.metres());
    let bare = below(bored, cylinder.largest_bore) && below(cylinder.tightest(), finished);
    (bare && !input.needs_sleeve(cylinder, finished)).then(|| Caution {
        code: "hone_must_clean_up",
        severity: Severity::Caution,
        about: About::Request,
        path: format!("measured/cylinders/{index}/largest_bore").into(),
        detail: format!(
            "Cylinder {} reads up to {}, above the bored size of {}: the boring bar leaves a place that only the hone reaches.",
            cylinder.number,
            cylinder.largest_bore.shown(),
            bored.shown()
        )
        .into(),
        source: "First principles",
    })
}
