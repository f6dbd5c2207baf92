//! What to look at twice before a deck is cut.

use super::{BankSurvey, Clearance, DeckSurveyInput, SurfacePoint};
use crate::caution::{About, COMMON_PRACTICE, Caution, Detail, STANDING, Severity};
use crate::geometry::surface::{in_one_line, spread_ratio};
use crate::limit;
use crate::units::{Length, Quantity};

/// Both edges at the ends and the middle: fewer points than that leave much of a deck unseen.
const FEW_POINTS: usize = 6;
/// A field of points that is narrower than this share of its length shows the tilt across poorly.
const SLENDER: f64 = 0.05;
/// Cuts deeper than this change the parts around the deck noticeably.
const HEAVY_CUT: Length = Length::from_inches(0.030);

pub(super) fn cautions(input: &DeckSurveyInput, banks: &[BankSurvey]) -> Vec<Caution> {
    let mut cautions = Vec::new();
    for (index, (bank, found)) in input.banks.iter().zip(banks).enumerate() {
        cautions.extend(points_caution(index, &bank.points));
        if found.flatness.is_none() && found.fit.is_some() {
            cautions.push(flatness_unknown(index));
        }
        limit::DECK_HEIGHT.unusual(format!("banks/{index}/points"), found.finished_height, &mut cautions);
        cautions.extend(heavy_cut(index, found));
        cautions.extend(
            found.clearances.iter().enumerate().filter_map(|(place, clearance)| proud(index, place, clearance)),
        );
        cautions.extend(unmeasured(index, bank));
    }
    if banks.iter().any(|bank| bank.largest_cut > Length::default()) {
        cautions.push(HEADS_COME_DOWN);
    }
    cautions.push(STANDING);
    cautions
}

const HEADS_COME_DOWN: Caution = Caution {
    code: "heads_come_down",
    severity: Severity::Note,
    about: About::Answer,
    path: std::borrow::Cow::Borrowed("banks"),
    detail: Detail::words(
        "Heads come down with the deck: compression, valve-to-piston clearance, pushrod length and, on a vee, the manifold faces \
         change with it. Cut sparingly where pushrods pass through the intake ports: clearance there is lost first.",
    ),
    source: COMMON_PRACTICE,
};

fn points_caution(bank: usize, points: &[SurfacePoint]) -> Option<Caution> {
    let (code, severity, detail) = if in_one_line(points) {
        let what = "The points are in one line: tilt across the line, twist and flatness are not known, and the cut is only \
             known to clean up that line. Measure along both edges of the deck.";
        ("points_in_one_line", Severity::Danger, what.to_owned())
    } else if points.len() < FEW_POINTS {
        let what = format!(
            "{} points leave much of the deck unseen, and three are always flat; measure at least {FEW_POINTS}, along both edges \
             at the ends and in the middle.",
            points.len()
        );
        ("too_few_points", Severity::Caution, what)
    } else if spread_ratio(points) < SLENDER {
        let what =
            "The points are nearly in one line: the tilt across it is uncertain. Measure along both edges of the deck.";
        ("points_nearly_in_line", Severity::Caution, what.to_owned())
    } else {
        return None;
    };
    let path = format!("banks/{bank}/points").into();
    Some(Caution { code, severity, about: About::Request, path, detail: detail.into(), source: COMMON_PRACTICE })
}

fn flatness_unknown(bank: usize) -> Caution {
    Caution {
        code: "flatness_unknown",
        severity: Severity::Caution,
        about: About::Request,
        path: format!("banks/{bank}/points").into(),
        detail: "The points lie too close to one line, for heights that differ so much, to tell how flat the deck is."
            .into(),
        source: COMMON_PRACTICE,
    }
}

fn heavy_cut(bank: usize, found: &BankSurvey) -> Option<Caution> {
    (found.largest_cut > HEAVY_CUT).then(|| Caution {
        code: "heavy_cut",
        severity: Severity::Caution,
        about: About::Answer,
        path: format!("banks/{bank}/largest_cut").into(),
        detail: format!(
            "A cut of {} is more than {}: look for a slip in the readings, and check what is left of the deck over the water \
             jacket and what the heads coming down does elsewhere.",
            found.largest_cut.shown(),
            HEAVY_CUT.shown()
        )
        .into(),
        source: COMMON_PRACTICE,
    })
}

fn proud(bank: usize, cylinder: usize, clearance: &Clearance) -> Option<Caution> {
    (clearance.after < Length::default()).then(|| Caution {
        code: "piston_above_deck",
        severity: Severity::Caution,
        about: About::Answer,
        path: format!("banks/{bank}/cylinders/{cylinder}/deck_clearance_after").into(),
        detail: format!(
            "The piston would stop {} above the cut deck; only the gasket keeps it off the head.",
            Length::from_metres(-clearance.after.metres()).shown()
        )
        .into(),
        source: COMMON_PRACTICE,
    })
}

/// A cylinder beyond the measured points, where the plane is only drawn out.
fn unmeasured(index: usize, bank: &super::Bank) -> Option<Caution> {
    let places = bank.points.iter().map(|point| point.along);
    let beyond = |along: Length| places.clone().all(|place| place > along) || places.clone().all(|place| place < along);
    let place = bank.cylinders.iter().position(|cylinder| beyond(cylinder.along))?;
    Some(Caution {
        code: "cylinder_outside_points",
        severity: Severity::Caution,
        about: About::Request,
        path: format!("banks/{index}/cylinders/{place}/along").into(),
        detail: "The cylinder is beyond the measured points; the deck there is not known.".into(),
        source: COMMON_PRACTICE,
    })
}
