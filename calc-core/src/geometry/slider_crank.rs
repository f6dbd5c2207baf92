//! The slider-crank itself: where the pin is at a crank position, and the marks of its travel. [`super::piston_motion`] tells the
//! equations' story.

use std::cell::Cell;
use std::f64::consts::{PI, TAU};

use validator::ValidationError;

use crate::error::{Error, broken_rule};
use crate::solve::bracketed_newton;
use crate::units::{Length, Quantity};

/// Whether the rules that [`check_rod`] explains are kept.
pub(crate) fn clears_crank(stroke: Length, rod_length: Length, pin_offset: Length) -> bool {
    rod_length > stroke && pin_offset.metres().abs() <= stroke.metres() / 4.0
}

/// The rules that tie rod, crank and offset together; `rod` and `offset` name the fields to blame.
pub(crate) fn check_rod(
    rod: &'static str,
    offset: &'static str,
    stroke: Length,
    rod_length: Length,
    pin_offset: Length,
) -> Result<(), ValidationError> {
    if rod_length <= stroke {
        return Err(broken_rule(
            rod,
            "contradiction",
            format!(
                "must be longer than the stroke, {}: with {} the piston pin would enter the crank circle at bottom centre.",
                stroke.shown(),
                rod_length.shown()
            ),
        ));
    }
    if pin_offset.metres().abs() > stroke.metres() / 4.0 {
        return Err(broken_rule(
            offset,
            "contradiction",
            format!(
                "must be at most half the crank radius, {}; got {}.",
                Length::from_metres(stroke.metres() / 4.0).shown(),
                pin_offset.shown()
            ),
        ));
    }
    Ok(())
}

/// Crank radius, rod and offset in metres, already checked; angles in radians from the crank's upright position.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SliderCrank {
    radius: f64,
    rod: f64,
    offset: f64,
}

/// Pin height above the crank axis and its derivatives by crank angle.
pub(crate) struct Height {
    pub(crate) value: f64,
    pub(crate) first: f64,
    pub(crate) second: f64,
    pub(crate) third: f64,
    pub(crate) fourth: f64,
}

impl SliderCrank {
    pub(crate) fn new(stroke: Length, rod_length: Length, pin_offset: Length) -> Self {
        Self { radius: stroke.metres() / 2.0, rod: rod_length.metres(), offset: pin_offset.metres() }
    }

    /// y = r cos t + u with u = sqrt(L^2 - x^2), x = r sin t - e, and y' to y'''' by differentiating.
    pub(crate) fn height(&self, t: f64) -> Height {
        let (sin, cos) = t.sin_cos();
        let (rs, rc) = (self.radius * sin, self.radius * cos);
        let x = rs - self.offset;
        let u = (self.rod * self.rod - x * x).sqrt();
        // One division instead of four: the roots below take most of a build's time.
        let inverse = 1.0 / u;
        let u1 = -x * rc * inverse;
        let u2 = -(rc * rc - x * rs + u1 * u1) * inverse;
        let u3 = (3.0 * rs * rc + x * rc - 3.0 * u1 * u2) * inverse;
        let u4 = -(3.0 * rs * rs - 4.0 * rc * rc + x * rs + 4.0 * u1 * u3 + 3.0 * u2 * u2) * inverse;
        Height { value: rc + u, first: u1 - rs, second: u2 - rc, third: u3 + rs, fourth: u4 + rc }
    }

    /// Crank position of true top centre.
    pub(crate) fn top_centre(&self) -> f64 {
        (self.offset / (self.rod + self.radius)).asin()
    }

    /// Crank position of true bottom centre.
    pub(crate) fn bottom_centre(&self) -> f64 {
        PI + (self.offset / (self.rod - self.radius)).asin()
    }

    /// Pin height at true top centre.
    pub(crate) fn top_height(&self) -> f64 {
        ((self.rod + self.radius).powi(2) - self.offset * self.offset).sqrt()
    }

    /// Distance between the dead centres.
    pub(crate) fn actual_stroke(&self) -> f64 {
        self.top_height() - ((self.rod - self.radius).powi(2) - self.offset * self.offset).sqrt()
    }

    /// Travel from top centre at a crank angle after true top centre.
    pub(crate) fn travel(&self, after_top_centre: f64) -> f64 {
        self.top_height() - self.height(self.top_centre() + after_top_centre).value
    }

    /// Travel from top centre and its slope, at a crank angle after true top centre.
    pub(crate) fn travel_and_slope(&self, after_top_centre: f64) -> (f64, f64) {
        let height = self.height(self.top_centre() + after_top_centre);
        (self.top_height() - height.value, -height.first)
    }

    /// Crank position at which the piston goes down fastest, and dy/dt there.
    pub(crate) fn peak_speed(&self) -> Result<(f64, f64), Error> {
        // Near where the rod is square to the crank, tan t = L/r; the other terms are fitted to exact roots, so that one or
        // two of Newton's steps are enough.
        let (lambda, shift) = (self.radius / self.rod, self.offset / self.rod);
        let square = self.rod.atan2(self.radius);
        let guess = square + lambda.powi(3) * (1.06 - 0.9 * lambda) + shift * (1.05 - 0.8 * lambda);
        // At a peak the speed before the last step, of less than 1e-9, is that at the root.
        let speed = Cell::new(0.0);
        let slope = |t: f64| {
            let height = self.height(t);
            speed.set(-height.first);
            (height.second, height.third)
        };
        let t = bracketed_newton("peak piston speed", slope, self.top_centre(), PI, guess)?;
        Ok((t, speed.get()))
    }

    /// Where |d2y/dt2| is largest, and how large: at top centre without offset, close to it with one.
    pub(crate) fn peak_acceleration(&self) -> Result<(f64, f64), Error> {
        if self.offset == 0.0 {
            return Ok((0.0, -self.height(0.0).second));
        }
        // The jerk vanishes where the acceleration peaks.
        let acceleration = Cell::new(0.0);
        let jerk = |t: f64| {
            let height = self.height(t);
            acceleration.set(-height.second);
            (height.third, height.fourth)
        };
        // The jerk's series in t and offset, to the third power of r/L.
        let lambda = self.radius / self.rod;
        let guess = self.offset / self.rod * (1.0 - 3.0 * lambda.powi(2)) / (1.0 + 4.0 * lambda - 3.0 * lambda.powi(3));
        let t = bracketed_newton("peak piston acceleration", jerk, -0.5, 0.5, guess)?;
        Ok((t, acceleration.get()))
    }

    /// Crank travel during which the piston is within `distance` of top centre.
    pub(crate) fn dwell(&self, distance: f64) -> f64 {
        2.0 * self.pin_triangle(distance).1
    }

    /// Crank angle after true top centre at which the piston, on its way up, is `travel` below top centre.
    pub(crate) fn angle_going_up(&self, travel: f64) -> f64 {
        let (pin_line, crank_to_line) = self.pin_triangle(travel);
        TAU + pin_line - crank_to_line - self.top_centre()
    }

    /// With the piston `distance` below top centre: the angle of the line from crank axis to pin, from upright, and the angle
    /// between that line and the crank.
    ///
    /// The pin is D = hypot(e, y) from the crank axis; crank, rod and D form a triangle (cosine rule).
    fn pin_triangle(&self, distance: f64) -> (f64, f64) {
        let height = self.top_height() - distance;
        let pin = self.offset.hypot(height);
        let cosine = (self.radius.powi(2) + pin * pin - self.rod * self.rod) / (2.0 * self.radius * pin);
        (self.offset.atan2(height), cosine.clamp(-1.0, 1.0).acos())
    }

    pub(crate) fn rod_angle(&self, t: f64) -> f64 {
        ((self.radius * t.sin() - self.offset) / self.rod).asin()
    }

    /// Reached with the crank at 90 degrees from upright, on the side away from the offset.
    pub(crate) fn largest_rod_angle(&self) -> f64 {
        ((self.radius + self.offset.abs()) / self.rod).asin()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Any mechanism that the validity range admits: crank radius 1, rod 2 to 8, offset up to half the radius.
    fn mechanisms() -> impl Strategy<Value = SliderCrank> {
        (2.0..8.0, -0.5..0.5).prop_map(|(rod, offset)| SliderCrank { radius: 1.0, rod, offset })
    }

    proptest! {
        #[test]
        fn each_derivative_is_the_slope_of_the_one_before(train in mechanisms(), t in -7.0..7.0) {
            const STEP: f64 = 1e-5;
            let (before, here, after) = (train.height(t - STEP), train.height(t), train.height(t + STEP));
            prop_assert!((here.first - (after.value - before.value) / (2.0 * STEP)).abs() < 1e-7);
            prop_assert!((here.second - (after.first - before.first) / (2.0 * STEP)).abs() < 1e-7);
            prop_assert!((here.third - (after.second - before.second) / (2.0 * STEP)).abs() < 1e-7);
            prop_assert!((here.fourth - (after.third - before.third) / (2.0 * STEP)).abs() < 1e-6);
        }

        #[test]
        fn the_motion_repeats_each_turn(train in mechanisms(), t in -7.0..7.0) {
            prop_assert!((train.travel(t) - train.travel(t + TAU)).abs() < 1e-12);
        }

        #[test]
        fn the_centres_are_the_ends_of_the_travel(train in mechanisms(), t in 0.0..TAU) {
            let travel = train.travel(t);
            prop_assert!(travel >= -1e-12 && travel <= train.actual_stroke() + 1e-12);
            let bottom = train.bottom_centre() - train.top_centre();
            prop_assert!((train.travel(bottom) - train.actual_stroke()).abs() < 1e-12);
        }

        #[test]
        fn nothing_is_faster_than_the_peaks(train in mechanisms(), t in 0.0..TAU) {
            let height = train.height(t);
            prop_assert!(-height.first <= train.peak_speed()?.1 + 1e-12);
            prop_assert!(height.second.abs() <= train.peak_acceleration()?.1 + 1e-9);
        }

        #[test]
        fn the_dwell_ends_where_the_travel_is_the_distance(train in mechanisms(), share in 0.001..0.95) {
            let distance = share * train.actual_stroke();
            // Both ends of the dwell lie symmetrically about the line from the crank axis to the pin.
            let pin_line = (train.offset).atan2(train.top_height() - distance) - train.top_centre();
            for side in [-0.5, 0.5] {
                let travel = train.travel(pin_line + side * train.dwell(distance));
                prop_assert!((travel - distance).abs() < 1e-9, "{travel} for {distance}");
            }
        }

        #[test]
        fn offset_lengthens_the_travel(rod in 2.0..8.0, offset in 0.01..0.5) {
            let travel = |offset| SliderCrank { radius: 1.0, rod, offset }.actual_stroke();
            prop_assert!((travel(0.0) - 2.0_f64).abs() < 1e-12);
            prop_assert!(travel(offset) > 2.0);
            prop_assert!((travel(offset) - travel(-offset)).abs() < 1e-12);
        }
    }
}
