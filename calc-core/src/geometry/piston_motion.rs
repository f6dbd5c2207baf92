//! Motion of the piston over the crank circle: the exact slider-crank with pin offset.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use validator::{Validate, ValidationError};

use crate::caution::{About, COMMON_PRACTICE, Caution, Severity};
use crate::error::{Error, broken_rule};
use crate::limit;
use crate::method::Method;
use crate::solve::bracketed_newton;
use crate::units::{Acceleration, Angle, Length, Quantity, RotationalSpeed, Speed, Volume};

use super::displacement::cylinder_volume;

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "slider-crank-exact",
    title: "Exact slider-crank motion with pin offset",
    equation: "y = r cos t + sqrt(L^2 - (r sin t - e)^2): pin height above the crank axis at crank position t; r half the crank's \
         stroke, L rod length, e pin offset. Velocity w dy/dt and acceleration w^2 d2y/dt2 by exact differentiation, w the speed \
         of rotation. True top centre at t = asin(e/(L + r)), true bottom centre at t = pi + asin(e/(L - r)). Crank angles in \
         requests and answers count from true top centre in the direction of rotation. e is positive when the pin lies on the \
         side that the crankpin swings to on the way down (the minor thrust side), negative towards the major thrust side.",
    valid_for: "Rigid parts at constant speed; rod longer than the crank's stroke; offset at most half the crank radius.",
    sources: &[
        "J. B. Heywood, Internal Combustion Engine Fundamentals, 1st edition, section 2.2, equations 2.3 to 2.11 (without offset; numbers from memory)",
        "First principles (geometry of the offset slider-crank)",
    ],
};

/// Most points of one request: half-degree steps over five turns, and both ends.
pub const MOST_POINTS: usize = 7201;

/// Mean piston speed above which race practice, too, calls for proof (m/s).
const FAST_MEAN_SPEED: Speed = Speed::from_metres_per_second(25.0);

/// Crank, rod and what is wanted of their motion.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "rod_clears_crank", skip_on_field_errors = false))]
#[validate(schema(function = "distance_within_stroke", skip_on_field_errors = false))]
#[validate(schema(function = "list_or_row", skip_on_field_errors = false))]
pub struct PistonMotionInput {
    /// The crank's stroke: twice its radius.
    #[validate(custom(function = "limit::stroke"))]
    pub stroke: Length,
    /// Connecting rod length between the centres of its eyes.
    #[validate(custom(function = "limit::rod_length"))]
    pub rod_length: Length,
    /// Pin offset, positive towards the minor thrust side.
    #[validate(custom(function = "limit::pin_offset"))]
    pub pin_offset: Length,
    /// Cylinder bore, for volumes.
    #[validate(custom(function = "limit::bore"))]
    pub bore: Option<Length>,
    /// Volume above the piston at top centre, for volumes.
    #[validate(custom(function = "limit::clearance_volume"))]
    pub clearance_volume: Option<Volume>,
    /// Engine speed, for velocities and accelerations.
    #[validate(custom(function = "limit::engine_speed"))]
    pub engine_speed: Option<RotationalSpeed>,
    /// How far below top centre the dwell is counted.
    pub top_centre_distance: Option<Length>,
    /// Crank angles after true top centre; or none, and a row of them.
    #[validate(custom(function = "check_crank_angles"))]
    pub crank_angles: Option<Vec<Angle>>,
    /// First crank angle of a row.
    #[validate(custom(function = "limit::crank_angle"))]
    pub from: Option<Angle>,
    /// Last crank angle of a row.
    #[validate(custom(function = "limit::crank_angle"))]
    pub to: Option<Angle>,
    /// Step of a row.
    pub step: Option<Angle>,
}

/// The motion and its marks.
#[derive(Debug, Clone, PartialEq)]
pub struct PistonMotion {
    /// Distance the piston really travels.
    pub actual_stroke: Length,
    /// Rod length divided by the crank's stroke.
    pub rod_stroke_ratio: f64,
    /// Crank position at true top centre, from the crank's own upright position.
    pub top_centre_angle: Angle,
    /// Crank position at true bottom centre, from the crank's own upright position.
    pub bottom_centre_angle: Angle,
    /// Largest angle between rod and cylinder axis.
    pub largest_rod_angle: Angle,
    /// Crank angle after top centre at which the downward speed is highest.
    pub peak_speed_angle: Angle,
    /// Crank travel within the wanted distance of top centre, both sides together.
    pub top_centre_dwell: Option<Angle>,
    /// Speeds and accelerations, when an engine speed is given.
    pub running: Option<Running>,
    /// One point per crank angle asked for, in the order asked.
    pub points: Vec<Point>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// What the engine speed adds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Running {
    /// Twice the actual stroke per revolution.
    pub mean_speed: Speed,
    /// Highest speed on the way down.
    pub peak_speed: Speed,
    /// Largest acceleration in either direction: that at top centre.
    pub peak_acceleration: Acceleration,
}

/// The piston at one crank angle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Crank angle after true top centre.
    pub crank_angle: Angle,
    /// Distance from top centre.
    pub position: Length,
    /// Rod to cylinder axis; positive while the crankpin is on the side it swings to on the way down.
    pub rod_angle: Angle,
    /// Positive away from the head.
    pub velocity: Option<Speed>,
    /// Positive away from the head.
    pub acceleration: Option<Acceleration>,
    /// Clearance volume plus what the piston has uncovered.
    pub volume: Option<Volume>,
}

fn check_crank_angles(angles: &[Angle]) -> Result<(), ValidationError> {
    if angles.len() > MOST_POINTS {
        let detail = format!("asks for {} crank angles; at most {MOST_POINTS} are answered at once.", angles.len());
        return Err(ValidationError::new("too_many").with_message(detail.into()));
    }
    angles.iter().try_for_each(limit::crank_angle)
}

fn rod_clears_crank(input: &PistonMotionInput) -> Result<(), ValidationError> {
    check_rod("rod_length", "pin_offset", input.stroke, input.rod_length, input.pin_offset)
}

fn distance_within_stroke(input: &PistonMotionInput) -> Result<(), ValidationError> {
    match input.top_centre_distance {
        Some(distance) if !(distance > Length::default() && distance < input.stroke) => Err(broken_rule(
            "top_centre_distance",
            "out_of_range",
            format!("must be above 0 and below the stroke, {}; got {}.", input.stroke.shown(), distance.shown()),
        )),
        _ => Ok(()),
    }
}

fn list_or_row(input: &PistonMotionInput) -> Result<(), ValidationError> {
    let contradiction = |field, detail: String| Err(broken_rule(field, "contradiction", detail));
    match (&input.crank_angles, input.from, input.to, input.step) {
        (_, None, None, None) => Ok(()),
        (Some(_), ..) => {
            contradiction("crank_angles", "are given beside a row (from, to, step); give one of the two.".to_owned())
        }
        (None, Some(from), Some(to), Some(step)) => {
            if to < from {
                return contradiction("to", format!("must not be below from, {}; got {}.", from.shown(), to.shown()));
            }
            let steps = (to.radians() - from.radians()) / step.radians();
            // Also refuses a step that is zero, negative or not a number.
            if step > Angle::default() && steps < MOST_POINTS as f64 {
                return Ok(());
            }
            let least = Angle::from_radians((to.radians() - from.radians()) / (MOST_POINTS - 1) as f64);
            let detail = format!(
                "must be above 0 and give at most {MOST_POINTS} points, here at least {}; got {}.",
                least.shown(),
                step.shown()
            );
            Err(broken_rule("step", "out_of_range", detail))
        }
        (None, from, to, _) => {
            let field = if from.is_none() {
                "from"
            } else if to.is_none() {
                "to"
            } else {
                "step"
            };
            Err(broken_rule(field, "missing", "is missing: a row of crank angles needs from, to and step.".to_owned()))
        }
    }
}

/// The crank angles that the list or the row asks for; a row's end is hit when the steps lead to it.
fn wanted_angles(input: &PistonMotionInput) -> Vec<Angle> {
    match (&input.crank_angles, input.from, input.to, input.step) {
        (None, Some(from), Some(to), Some(step)) => {
            let (from, to, step) = (from.degrees(), to.degrees(), step.degrees());
            let steps = ((to - from) / step + 1e-9).floor() as u32;
            (0..=steps).map(|index| Angle::from_degrees(from + f64::from(index) * step)).collect()
        }
        (list, ..) => list.clone().unwrap_or_default(),
    }
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
struct Height {
    value: f64,
    first: f64,
    second: f64,
    third: f64,
}

impl SliderCrank {
    pub(crate) fn new(stroke: Length, rod_length: Length, pin_offset: Length) -> Self {
        Self { radius: stroke.metres() / 2.0, rod: rod_length.metres(), offset: pin_offset.metres() }
    }

    /// y = r cos t + u with u = sqrt(L^2 - x^2), x = r sin t - e, and y', y'', y''' by differentiating.
    fn height(&self, t: f64) -> Height {
        let (sin, cos) = t.sin_cos();
        let (rs, rc) = (self.radius * sin, self.radius * cos);
        let x = rs - self.offset;
        let u = (self.rod * self.rod - x * x).sqrt();
        let u1 = -x * rc / u;
        let u2 = -(rc * rc - x * rs + u1 * u1) / u;
        let u3 = (3.0 * rs * rc + x * rc - 3.0 * u1 * u2) / u;
        Height { value: rc + u, first: u1 - rs, second: u2 - rc, third: u3 + rs }
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
        let slope = |t: f64| {
            let height = self.height(t);
            (height.second, height.third)
        };
        let t = bracketed_newton("peak piston speed", slope, self.top_centre(), PI, guess)?;
        Ok((t, -self.height(t).first))
    }

    /// The largest |d2y/dt2|: at top centre without offset, close to it with one.
    pub(crate) fn peak_acceleration(&self) -> Result<f64, Error> {
        if self.offset == 0.0 {
            return Ok(-self.height(0.0).second);
        }
        // The jerk vanishes where the acceleration peaks; its own slope is taken as the difference over a small step.
        let jerk = |t: f64| {
            const STEP: f64 = 1e-5;
            let slope = (self.height(t + STEP).third - self.height(t - STEP).third) / (2.0 * STEP);
            (self.height(t).third, slope)
        };
        let t = bracketed_newton("peak piston acceleration", jerk, -0.5, 0.5, self.top_centre())?;
        Ok(-self.height(t).second)
    }

    /// Crank travel during which the piston is within `distance` of top centre.
    fn dwell(&self, distance: f64) -> f64 {
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

    fn rod_angle(&self, t: f64) -> f64 {
        ((self.radius * t.sin() - self.offset) / self.rod).asin()
    }

    /// Reached with the crank at 90 degrees from upright, on the side away from the offset.
    fn largest_rod_angle(&self) -> f64 {
        ((self.radius + self.offset.abs()) / self.rod).asin()
    }
}

/// Mean piston speed.
///
/// **Equation** v = 2 S N; S distance between the dead centres, N revolutions per unit of time.
///
/// **Shape** Scalars.
///
/// **Units** Length and speed of rotation in, speed out.
///
/// **Valid for** Any.
///
/// **Errors** None.
///
/// **Source** Heywood, Internal Combustion Engine Fundamentals, 1st edition, equation 2.9; ISO 7967-1.
#[must_use]
pub fn mean_speed(actual_stroke: Length, engine_speed: RotationalSpeed) -> Speed {
    Speed::from_metres_per_second(2.0 * actual_stroke.metres() * engine_speed.revolutions_per_second())
}

/// Motion of the piston at the crank angles asked for, with its centres, peaks and dwell.
///
/// **Equation** y = r cos t + sqrt(L^2 - (r sin t - e)^2) and its exact derivatives; the peak speed is the root of y'' = 0.
///
/// **Shape** One mechanism; a list of up to [`MOST_POINTS`] crank angles gives as many points.
///
/// **Units** Any; crank angles count from true top centre.
///
/// **Valid for** L > 2 r and |e| <= r/2, rigid parts, constant speed.
///
/// **Errors** [`Error::Invalid`] outside that, or when a field is out of range.
///
/// **Source** Heywood, Internal Combustion Engine Fundamentals, 1st edition, section 2.2; first principles for the offset.
pub fn evaluate(input: &PistonMotionInput) -> Result<PistonMotion, Error> {
    input.validate()?;
    let train = SliderCrank::new(input.stroke, input.rod_length, input.pin_offset);
    let actual_stroke = Length::from_metres(train.actual_stroke());
    let (peak_at, peak_rate) = train.peak_speed()?;
    let top_centre = train.top_centre();
    let running = match input.engine_speed {
        Some(speed) => Some(running(&train, peak_rate, speed)?),
        None => None,
    };
    let mut cautions = input_cautions(input);
    cautions.extend(running.and_then(|running| fast_caution("mean_piston_speed", running.mean_speed)));
    Ok(PistonMotion {
        actual_stroke,
        rod_stroke_ratio: input.rod_length.metres() / input.stroke.metres(),
        top_centre_angle: Angle::from_radians(top_centre),
        bottom_centre_angle: Angle::from_radians(train.bottom_centre()),
        largest_rod_angle: Angle::from_radians(train.largest_rod_angle()),
        peak_speed_angle: Angle::from_radians(peak_at - top_centre),
        top_centre_dwell: input.top_centre_distance.map(|distance| Angle::from_radians(train.dwell(distance.metres()))),
        running,
        points: wanted_angles(input).into_iter().map(|angle| point(input, &train, angle)).collect(),
        cautions,
    })
}

/// Speeds and accelerations at an engine speed; `peak_rate` is the peak of dy/dt per radian.
pub(crate) fn running(train: &SliderCrank, peak_rate: f64, speed: RotationalSpeed) -> Result<Running, Error> {
    let omega = speed.radians_per_second();
    Ok(Running {
        mean_speed: mean_speed(Length::from_metres(train.actual_stroke()), speed),
        peak_speed: Speed::from_metres_per_second(omega * peak_rate),
        peak_acceleration: Acceleration::from_metres_per_second_squared(omega * omega * train.peak_acceleration()?),
    })
}

fn point(input: &PistonMotionInput, train: &SliderCrank, crank_angle: Angle) -> Point {
    // Whole turns are taken off first: the sine of a large angle would lose digits.
    let t = train.top_centre() + crank_angle.radians() % TAU;
    let height = train.height(t);
    let position = Length::from_metres(train.top_height() - height.value);
    let omega = input.engine_speed.map(RotationalSpeed::radians_per_second);
    Point {
        crank_angle,
        position,
        rod_angle: Angle::from_radians(train.rod_angle(t)),
        velocity: omega.map(|omega| Speed::from_metres_per_second(-omega * height.first)),
        acceleration: omega.map(|omega| Acceleration::from_metres_per_second_squared(-omega * omega * height.second)),
        volume: input.bore.zip(input.clearance_volume).map(|(bore, clearance)| {
            Volume::from_cubic_metres(clearance.cubic_metres() + cylinder_volume(bore, position).cubic_metres())
        }),
    }
}

fn input_cautions(input: &PistonMotionInput) -> Vec<Caution> {
    let mut cautions = Vec::new();
    limit::STROKE.unusual("stroke", input.stroke, &mut cautions);
    limit::ROD_LENGTH.unusual("rod_length", input.rod_length, &mut cautions);
    limit::PIN_OFFSET.unusual("pin_offset", input.pin_offset, &mut cautions);
    cautions
}

/// The caution for a mean piston speed beyond what race engines are usually built for.
pub(crate) fn fast_caution(path: &'static str, mean: Speed) -> Option<Caution> {
    (mean > FAST_MEAN_SPEED).then(|| Caution {
        code: "mean_piston_speed_high",
        severity: Severity::Danger,
        about: About::Answer,
        path: path.into(),
        detail: format!(
            "{} is above {}: rods, bolts and pistons for it need the maker's own rating at this speed. Road engines run at 8 \
             to 15 m/s (Heywood, section 2.2; range from memory).",
            mean.shown(),
            FAST_MEAN_SPEED.shown()
        )
        .into(),
        source: COMMON_PRACTICE,
    })
}

/// Half a turn: crank angle of nominal bottom centre.
pub(crate) const HALF_TURN: f64 = 2.0 * FRAC_PI_2;

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
            prop_assert!(height.second.abs() <= train.peak_acceleration()? + 1e-9);
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
