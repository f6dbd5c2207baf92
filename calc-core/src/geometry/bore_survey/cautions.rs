//! What to look at twice before a block is bored.

use super::{BoreSurveyInput, ChosenBy, CylinderFound};
use crate::caution::{About, COMMON_PRACTICE, Caution, Detail, STANDING, Severity};
use crate::limit;
use crate::units::{Length, Quantity};

pub(super) fn cautions(
    input: &BoreSurveyInput,
    cylinders: &[CylinderFound],
    chosen_by: ChosenBy,
    chosen: Length,
) -> Vec<Caution> {
    let mut cautions = Vec::new();
    limit::BORE.unusual("present_size", input.present_size, &mut cautions);
    limit::CLEANUP_ALLOWANCE.unusual("honing_allowance", input.honing_allowance, &mut cautions);
    for (index, cylinder) in input.cylinders.iter().enumerate() {
        limit::BORE_OFFSET.unusual(format!("cylinders/{index}/offset_thrust"), cylinder.offset_thrust, &mut cautions);
        limit::BORE_OFFSET.unusual(format!("cylinders/{index}/offset_front"), cylinder.offset_front, &mut cautions);
    }
    if input.cylinders.iter().any(|cylinder| cylinder.readings.len() < 2) {
        cautions.push(ONE_DEPTH);
    }
    if chosen_by == ChosenBy::CleanUp && !input.oversizes.is_empty() {
        cautions.push(NO_LISTED_OVERSIZE);
    }
    cautions.extend(cylinders.iter().enumerate().filter_map(|(index, found)| allowance_caution(index, found, chosen)));
    let walls = cylinders.iter().enumerate();
    cautions.extend(walls.filter_map(|(index, found)| wall_caution(index, found, input.least_wall)));
    if input.least_wall.is_none() && cylinders.iter().any(|found| !found.walls.is_empty()) {
        cautions.push(WALLS_NOT_JUDGED);
    }
    cautions.push(STANDING);
    cautions
}

const fn fixed(
    code: &'static str,
    severity: Severity,
    about: About,
    path: &'static str,
    detail: &'static str,
) -> Caution {
    use std::borrow::Cow::Borrowed;
    Caution { code, severity, about, path: Borrowed(path), detail: Detail::words(detail), source: COMMON_PRACTICE }
}

const ONE_DEPTH: Caution = fixed(
    "one_depth",
    Severity::Caution,
    About::Request,
    "cylinders",
    "Gauged at one depth only: taper is not known, and wear elsewhere may be larger. Gauge near the top of the ring travel, in the \
     middle and near the bottom.",
);
const NO_LISTED_OVERSIZE: Caution = fixed(
    "no_listed_oversize_cleans_up",
    Severity::Caution,
    About::Request,
    "oversizes",
    "No listed oversize cleans up all cylinders; walls and displacement are given for the smallest size that does. Sleeve the worst \
     cylinder or look for larger pistons.",
);
const WALLS_NOT_JUDGED: Caution = fixed(
    "walls_not_judged",
    Severity::Note,
    About::Request,
    "least_wall",
    "Walls are reported, not judged: how thin one may be depends on casting and load, so give least_wall. The major thrust side \
     carries the most.",
);

fn allowance_caution(index: usize, found: &CylinderFound, chosen: Length) -> Option<Caution> {
    (chosen.metres() < found.smallest_finished_size.metres() - 1e-9).then(|| Caution {
        code: "honing_allowance_not_left",
        severity: Severity::Caution,
        about: About::Request,
        path: "planned_size".into(),
        detail: format!(
            "cylinders/{index} cleans up at {} with the honing allowance; {} leaves less for the hone.",
            found.smallest_finished_size.shown(),
            chosen.shown()
        )
        .into(),
        source: COMMON_PRACTICE,
    })
}

fn wall_caution(index: usize, found: &CylinderFound, least: Option<Length>) -> Option<Caution> {
    let left = found.least_wall_left?;
    let (code, why) = if left <= Length::default() {
        (
            "wall_gone",
            "the bore breaks through; this cylinder needs a sleeve, another centre or another block".to_owned(),
        )
    } else if least.is_some_and(|least| left < least) {
        ("wall_under_limit", format!("less than the {} asked for", least.unwrap_or_default().shown()))
    } else {
        return None;
    };
    Some(Caution {
        code,
        severity: Severity::Danger,
        about: About::Answer,
        path: format!("cylinders/{index}/least_wall_left").into(),
        detail: format!("{} of wall would be left: {why}.", left.shown()).into(),
        source: "the caller's own limit; no default is assumed",
    })
}
