//! What a new bore leaves of the walls.

use super::{CylinderSurvey, Side, ThrustSide, WallLeft, WallReading};
use crate::units::Length;

/// Unit vector of a clock angle: to the right, and to the front.
fn direction(wall: &WallReading) -> [f64; 2] {
    let (right, front) = wall.clock_angle.radians().sin_cos();
    [right, front]
}

/// Right is positive; the major thrust side is there or opposite.
fn thrust_sign(thrust: ThrustSide) -> f64 {
    match thrust {
        ThrustSide::ThreeOClock => 1.0,
        ThrustSide::NineOClock => -1.0,
    }
}

fn side(wall: &WallReading, thrust: ThrustSide) -> Side {
    let [right, front] = direction(wall);
    let major = right * thrust_sign(thrust);
    // Half past the hours, both are as near; the thrust side matters more. The margin is for the rounding of the sine.
    if major.abs() >= front.abs() - 1e-9 {
        if major > 0.0 { Side::MajorThrust } else { Side::MinorThrust }
    } else if front > 0.0 {
        Side::Front
    } else {
        Side::Rear
    }
}

/// Each wall less what the ray from the present centre passes through between the present bore and the new one.
pub(super) fn walls_left(cylinder: &CylinderSurvey, thrust: ThrustSide, chosen: f64) -> Vec<WallLeft> {
    let offset = [cylinder.offset_thrust.metres() * thrust_sign(thrust), cylinder.offset_front.metres()];
    let (radius, present) = (chosen / 2.0, cylinder.smallest() / 2.0);
    let left = |wall: &WallReading| {
        let [right, front] = direction(wall);
        let towards = offset[0] * right + offset[1] * front;
        let sideways = offset[0] * front - offset[1] * right;
        let reach = towards + (radius * radius - sideways * sideways).sqrt();
        let left = Length::from_metres(wall.thickness.metres() - (reach - present));
        WallLeft { side: side(wall, thrust), left }
    };
    cylinder.walls.iter().map(left).collect()
}

/// Half the difference of the mean measured walls of two opposite sides; none when one of them was not measured.
pub(super) fn core_shift(cylinder: &CylinderSurvey, walls: &[WallLeft], thick: Side, thin: Side) -> Option<Length> {
    let mean = |side: Side| {
        let measured = cylinder.walls.iter().zip(walls).filter(|(_, found)| found.side == side);
        let thickness: Vec<_> = measured.map(|(wall, _)| wall.thickness.metres()).collect();
        (!thickness.is_empty()).then(|| thickness.iter().sum::<f64>() / thickness.len() as f64)
    };
    Some(Length::from_metres((mean(thick)? - mean(thin)?) / 2.0))
}
