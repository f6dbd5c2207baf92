//! Leakage through thin gaps, in proportion to pressure.

use std::f64::consts::PI;

use super::element::Element;
use super::law::Running;

/// Flow over drop of a thin annulus.
pub(super) fn annulus(element: &Element, running: &Running) -> f64 {
    let [diameter, length, radial, eccentricity] = numbers(element);
    PI * diameter * radial.powi(3) * (1.0 + 1.5 * eccentricity * eccentricity) / (12.0 * running.viscosity * length)
}

/// Flow over drop of a bearing with a full groove in its middle, both lands.
pub(super) fn bearing(element: &Element, viscosity: f64) -> f64 {
    let [diameter, length, radial, eccentricity] = numbers(element);
    let land = 0.5 * length;
    PI * 0.5 * diameter * radial.powi(3) * (1.0 + 1.5 * eccentricity * eccentricity) / (3.0 * viscosity * land)
}

fn numbers(element: &Element) -> [f64; 4] {
    let length = |value: Option<crate::units::Length>| value.map_or(0.0, |value| value.metres());
    [
        length(element.diameter),
        length(element.length),
        0.5 * length(element.clearance),
        element.eccentricity.map_or(0.0, |value| value.plain()),
    ]
}
