//! Two round holes that meet only in part, in SI units: what [`super::feed_overlap`] and the circuit share.

use std::f64::consts::PI;

/// Two round holes in one plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Overlap {
    /// Diameters.
    pub(crate) holes: [f64; 2],
}

/// What is open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Opening {
    pub(crate) area: f64,
    /// Length of its edge.
    pub(crate) edge: f64,
    /// d(area)/d(distance of the centres): less the chord between the circles' crossings.
    pub(crate) slope: f64,
}

impl Opening {
    /// Diameter of the round hole of the same area.
    pub(crate) fn round_hole(&self) -> f64 {
        (4.0 * self.area / PI).sqrt()
    }
}

impl Overlap {
    /// Up to this distance of the centres the smaller hole is wholly open.
    pub(crate) fn open_up_to(&self) -> f64 {
        (self.holes[0] - self.holes[1]).abs() / 2.0
    }

    /// From this distance on nothing is open.
    pub(crate) fn shut_from(&self) -> f64 {
        (self.holes[0] + self.holes[1]) / 2.0
    }

    /// The lens that two circles share, by the distance of their centres: the sectors less the kite between centres and
    /// crossings.
    pub(crate) fn opening(&self, distance: f64) -> Opening {
        let [a, b] = self.holes.map(|diameter| diameter / 2.0);
        if distance >= self.shut_from() {
            return Opening { area: 0.0, edge: 0.0, slope: 0.0 };
        }
        if distance <= self.open_up_to() {
            let smaller = a.min(b);
            return Opening { area: PI * smaller * smaller, edge: 2.0 * PI * smaller, slope: 0.0 };
        }
        // Heron's product stays exact where the lens or the crescent is thin; the angles come from their tangents.
        let product = (a + b - distance) * (a + b + distance) * (distance + a - b) * (distance - a + b);
        let chord = product.max(0.0).sqrt() / distance;
        let half_angle = |near: f64, far: f64| {
            let along = (distance * distance + near * near - far * far) / (2.0 * distance);
            (chord / 2.0).atan2(along)
        };
        let (at_a, at_b) = (half_angle(a, b), half_angle(b, a));
        let area = segment(a, at_a) + segment(b, at_b);
        Opening { area, edge: 2.0 * (a * at_a + b * at_b), slope: -chord }
    }
}

/// Circle's part beyond a chord that is seen under twice this angle: r^2 (t - sin t cos t), by its series where it is small.
fn segment(radius: f64, half_angle: f64) -> f64 {
    let t = half_angle;
    let part = if t < 0.01 {
        t.powi(3) * (2.0 / 3.0) * (1.0 - t * t / 5.0 * (1.0 - 2.0 * t * t / 21.0))
    } else {
        t - t.sin() * t.cos()
    };
    radius * radius * part
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn the_lens_is_the_integral_of_its_chord(a in 0.1..10.0, b in 0.1..10.0, share in 0.0..1.0) {
            let holes = Overlap { holes: [a, b] };
            let distance = holes.open_up_to() + share * (holes.shut_from() - holes.open_up_to());
            // Simpson's rule from here to where nothing is open; the root at the end costs it its order.
            const STEPS: i32 = 4000;
            let step = (holes.shut_from() - distance) / f64::from(STEPS);
            let sum: f64 = (0..STEPS).map(|i| {
                let at = |part: f64| -holes.opening(distance + (f64::from(i) + part) * step).slope;
                (at(0.0) + 4.0 * at(0.5) + at(1.0)) / 6.0 * step
            }).sum();
            let area = holes.opening(distance).area;
            prop_assert!((area - sum).abs() < 2e-5 * (a.min(b) * a.min(b)), "{area} {sum}");
        }

        #[test]
        fn the_order_of_the_holes_does_not_matter(a in 0.1..10.0, b in 0.1..10.0, distance in 0.0..12.0) {
            let (one, other) = (Overlap { holes: [a, b] }.opening(distance), Overlap { holes: [b, a] }.opening(distance));
            prop_assert!((one.area - other.area).abs() <= 1e-14 * a * b && (one.edge - other.edge).abs() < 1e-13 * (a + b));
        }

        #[test]
        fn the_opening_never_grows_with_distance_and_the_edge_encloses_it(a in 0.1..10.0, b in 0.1..10.0, distance in 0.0..12.0) {
            let holes = Overlap { holes: [a, b] };
            let (here, further) = (holes.opening(distance), holes.opening(1.001 * distance + 1e-6));
            prop_assert!(further.area <= here.area);
            // No shape encloses more than the circle with its edge.
            prop_assert!(4.0 * PI * here.area <= here.edge * here.edge * (1.0 + 1e-9));
            prop_assert!(here.round_hole() <= a.min(b) * (1.0 + 1e-12));
        }

        #[test]
        fn areas_scale_with_the_square(a in 0.1_f64..10.0, b in 0.1_f64..10.0, distance in 0.0..12.0, scale in 0.001_f64..100.0) {
            let scaled: f64 = Overlap { holes: [a * scale, b * scale] }.opening(distance * scale).area;
            let area = Overlap { holes: [a, b] }.opening(distance).area;
            prop_assert!((scaled - area * scale * scale).abs() <= 1e-9 * a * b * scale * scale);
        }
    }
}
