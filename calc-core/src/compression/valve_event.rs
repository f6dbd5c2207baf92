//! A valve's closing as a camshaft's card states it, at a lift, and the seating that follows.

use validator::ValidationError;

use crate::caution::{About, COMMON_PRACTICE, Caution, Severity};
use crate::error::broken_rule;
use crate::limit;
use crate::units::{Angle, Length, Quantity};

/// The seated closing of a stated one.
pub(crate) fn seated(stated: Angle, seat_difference: Option<Angle>) -> Angle {
    Angle::from_radians(stated.radians() + seat_difference.unwrap_or_default().radians())
}

/// A seat difference belongs to a closing at a lift, and the seated closing is a closing too.
pub(crate) fn check_seat(
    lift_name: &'static str,
    difference_name: &'static str,
    closing: Angle,
    at_lift: Option<Length>,
    seat_difference: Option<Angle>,
) -> Result<(), ValidationError> {
    let Some(difference) = seat_difference else { return Ok(()) };
    match at_lift {
        None => {
            let detail = "is missing: a seat difference needs the lift at which the closing is stated.";
            return Err(broken_rule(lift_name, "missing", detail.to_owned()));
        }
        Some(lift) if lift <= Length::default() => {
            let detail = "belongs to a closing that is stated at a lift; at no lift the valve is seated already.";
            return Err(broken_rule(difference_name, "contradiction", detail.to_owned()));
        }
        Some(_) => {}
    }
    let latest = limit::INTAKE_CLOSING.max;
    if seated(closing, Some(difference)) > latest {
        let detail = format!(
            "puts the valve on its seat {} after bottom centre; at most {} is taken.",
            seated(closing, Some(difference)).shown(),
            latest.shown()
        );
        return Err(broken_rule(difference_name, "contradiction", detail));
    }
    Ok(())
}

/// The caution for a closing stated at a lift without saying when the valve seats.
pub(crate) fn lift_caution(
    path: &'static str,
    at_lift: Option<Length>,
    seat_difference: Option<Angle>,
) -> Option<Caution> {
    let stated = at_lift.is_some_and(|lift| lift > Length::default()) && seat_difference.is_none();
    stated.then(|| Caution {
        code: "closing_stated_at_lift",
        severity: Severity::Note,
        about: About::Request,
        path: path.into(),
        detail: "The closing is stated at a lift; the valve seats later, so that the truly trapped ratio is lower. Compare only \
                 ratios from events at one lift."
            .into(),
        source: COMMON_PRACTICE,
    })
}
