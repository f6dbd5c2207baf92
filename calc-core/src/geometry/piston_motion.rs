//! Motion of the piston over the crank circle: the exact slider-crank with pin offset.

use std::f64::consts::TAU;

use validator::{Validate, ValidationError};

use crate::caution::{About, COMMON_PRACTICE, Caution, Severity};
use crate::error::{Error, broken_rule};
use crate::limit;
use crate::method::Method;
use crate::units::{Acceleration, Angle, Length, Quantity, RotationalSpeed, Speed, Volume};

use super::displacement::cylinder_volume;
use super::slider_crank::{SliderCrank, check_rod};

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
pub(crate) const FAST_MEAN_SPEED: Speed = Speed::from_metres_per_second(25.0);

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
        peak_acceleration: Acceleration::from_metres_per_second_squared(omega * omega * train.peak_acceleration()?.1),
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
