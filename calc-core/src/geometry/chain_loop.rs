//! A chain over two sprockets: how long its loop is, and what a smaller centre distance leaves slack.

use std::f64::consts::{PI, TAU};

use crate::method::Method;
use crate::units::Length;

/// How [`loop_length`] works.
pub const METHOD: Method = Method {
    id: "two-run-chain",
    title: "Length of a chain round two sprockets, and its slack",
    equation: "P = 2 sqrt(C^2 - (R - r)^2) + p N (pi + 2 b)/(2 pi) + p n (pi - 2 b)/(2 pi), sin b = (R - r)/C; C centre \
         distance, p pitch, N and n teeth, R = p/(2 sin(pi/N)) and r likewise the pitch radii. Slack = P(before) - P(after); an \
         even sag of a run of length L that holds all of it is sqrt(3 L slack/8).",
    valid_for: "Two sprockets without a guide or tensioner between, centres farther apart than both pitch radii together, a chain \
         that was just taut; wear comes on top.",
    sources: &[
        "First principles (outer tangents of two circles; the links lie on the sprocket as chords)",
        "Chain makers' catalogues, chain length in pitches: 2 C + (N + n)/2 + ((N - n)/(2 pi))^2/C, the series form of the same",
    ],
};

/// Pitch radius of a sprocket: its links are chords of that circle.
///
/// **Equation** R = p/(2 sin(pi/N))
///
/// **Shape** Scalars.
///
/// **Units** Length.
///
/// **Valid for** Three teeth or more.
///
/// **Errors** None.
///
/// **Source** First principles (side and circle of a regular polygon).
#[must_use]
pub fn pitch_radius(pitch: Length, teeth: u32) -> Length {
    Length::from_metres(pitch.metres() / (2.0 * (PI / f64::from(teeth)).sin()))
}

/// Length of a taut chain round two sprockets.
///
/// **Equation** P = 2 sqrt(C^2 - (R - r)^2) + p N (pi + 2 b)/(2 pi) + p n (pi - 2 b)/(2 pi), sin b = (R - r)/C
///
/// **Shape** Scalars.
///
/// **Units** Lengths.
///
/// **Valid for** C > R + r; the order of the sprockets does not matter.
///
/// **Errors** None.
///
/// **Source** First principles (outer tangents of two circles).
#[must_use]
pub fn loop_length(distance: Length, pitch: Length, teeth: [u32; 2]) -> Length {
    let [large, small] = teeth.map(|count| pitch_radius(pitch, count).metres());
    let lean = ((large - small) / distance.metres()).asin();
    let wrapped = |count: u32, angle: f64| f64::from(count) * pitch.metres() * angle / TAU;
    let wraps = wrapped(teeth[0], PI + 2.0 * lean) + wrapped(teeth[1], PI - 2.0 * lean);
    Length::from_metres(2.0 * run_length(distance, pitch, teeth).metres() + wraps)
}

/// Length of one free run of the chain.
///
/// **Equation** L = sqrt(C^2 - (R - r)^2)
///
/// **Shape** Scalars.
///
/// **Units** Lengths.
///
/// **Valid for** C > R + r.
///
/// **Errors** None.
///
/// **Source** First principles (outer tangent of two circles).
#[must_use]
pub fn run_length(distance: Length, pitch: Length, teeth: [u32; 2]) -> Length {
    let [large, small] = teeth.map(|count| pitch_radius(pitch, count).metres());
    Length::from_metres((distance.metres().powi(2) - (large - small).powi(2)).sqrt())
}

/// Sag in the middle of a run that holds so much slack.
///
/// **Equation** f = sqrt(3 L s/8)
///
/// **Shape** Scalars.
///
/// **Units** Lengths.
///
/// **Valid for** A flat arc, slack far smaller than the run; none or negative slack sags by nothing.
///
/// **Errors** None.
///
/// **Source** First principles (length of a flat parabola, L + 8 f^2/(3 L)).
#[must_use]
pub fn sag(run: Length, slack: Length) -> Length {
    Length::from_metres((3.0 * run.metres() * slack.metres().max(0.0) / 8.0).sqrt())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn equal_sprockets_free_twice_the_approach(distance in 5.0..10.0, nearer in 0.0..0.05_f64, teeth in 12_u32..40) {
            let pitch = Length::from_inches(0.375);
            let length = |distance: f64| loop_length(Length::from_inches(distance), pitch, [teeth, teeth]).inches();
            prop_assert!((length(distance) - length(distance - nearer) - 2.0 * nearer).abs() < 1e-12);
            prop_assert!((length(distance) - 2.0 * distance - 0.375 * f64::from(teeth)).abs() < 1e-12);
        }

        #[test]
        fn the_catalogues_series_form_agrees(distance in 11.0..30.0, teeth in 16_u32..24) {
            let pitch = Length::from_inches(0.375);
            let distance = Length::from_inches(0.375 * distance);
            let exact = loop_length(distance, pitch, [teeth, 2 * teeth]).metres() / pitch.metres();
            let (pitches, count) = (distance.metres() / pitch.metres(), f64::from(teeth));
            let series = 2.0 * pitches + 1.5 * count + (count / TAU).powi(2) / pitches;
            prop_assert!((exact - series).abs() < 0.05, "{exact} and {series}");
        }

        #[test]
        fn the_sprockets_may_change_places(distance in 5.0..10.0, one in 12_u32..40, other in 12_u32..40) {
            let (distance, pitch) = (Length::from_inches(distance), Length::from_inches(0.375));
            let difference = loop_length(distance, pitch, [one, other]).metres() - loop_length(distance, pitch, [other, one]).metres();
            prop_assert!(difference.abs() < 1e-12);
        }
    }
}
