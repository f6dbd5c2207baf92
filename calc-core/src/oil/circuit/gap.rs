//! Leakage through thin gaps, in proportion to pressure.

use crate::oil::annulus_law::Annulus;
use crate::oil::bearing_law::{Bearing, Feed};
use crate::units::{Angle, Length};

use super::element::{BearingFeed, Element};

/// Flow over drop of a thin annulus.
pub(super) fn annulus(element: &Element, viscosity: f64) -> f64 {
    let gap = Annulus {
        diameter: metres(element.diameter),
        radial_clearance: 0.5 * metres(element.clearance),
        length: metres(element.length),
        eccentricity: eccentricity(element),
    };
    gap.conductance(viscosity)
}

/// Flow over drop of a journal bearing.
pub(super) fn bearing(element: &Element, viscosity: f64) -> f64 {
    let width = metres(element.length);
    let land = 0.5 * (width - metres(element.groove_width));
    let angle = |value: Option<Angle>| value.map_or(0.0, |value| value.radians());
    let centre = angle(element.feed_angle);
    let bearing = Bearing {
        radius: 0.5 * metres(element.diameter),
        radial_clearance: 0.5 * metres(element.clearance),
        eccentricity: eccentricity(element),
        feed: match element.bearing_feed.unwrap_or(BearingFeed::FullGroove) {
            BearingFeed::FullGroove => Feed::Full { land },
            BearingFeed::PartialGroove => Feed::PartialArc { land, arc: angle(element.groove_arc), centre },
            BearingFeed::Hole => Feed::SingleHole { width, diameter: metres(element.feed_hole), centre },
        },
    };
    bearing.conductance(viscosity)
}

fn metres(value: Option<Length>) -> f64 {
    value.map_or(0.0, |value| value.metres())
}

fn eccentricity(element: &Element) -> f64 {
    element.eccentricity.map_or(0.0, |value| value.plain())
}
