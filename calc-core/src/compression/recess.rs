//! Volumes of the simple recesses that are machined into a crown.

use std::f64::consts::PI;

use crate::units::{Angle, Area, Length, Volume};

/// Volume of a dish with a floor smaller or larger than its opening.
///
/// **Equation** V = (pi h/3)(R^2 + R r + r^2); a cylinder where R = r
///
/// **Shape** Scalars.
///
/// **Units** Diameters and depth in, volume out.
///
/// **Valid for** A flat floor parallel to the crown.
///
/// **Errors** None.
///
/// **Source** Euclid, Elements, book XII (from memory); volume of a conical frustum.
#[must_use]
pub fn frustum(opening: Length, floor: Length, depth: Length) -> Volume {
    let (upper, lower) = (opening.metres() / 2.0, floor.metres() / 2.0);
    Volume::from_cubic_metres(PI / 3.0 * depth.metres() * (upper * upper + upper * lower + lower * lower))
}

/// Volume of a dish that is part of a sphere.
///
/// **Equation** V = (pi h/6)(3 R^2 + h^2), R radius of the opening
///
/// **Shape** Scalars.
///
/// **Units** Diameter and depth in, volume out.
///
/// **Valid for** A depth up to half the opening's diameter, where the cap is half a sphere.
///
/// **Errors** None.
///
/// **Source** Archimedes, On the Sphere and Cylinder (from memory); volume of a spherical cap.
#[must_use]
pub fn cap(opening: Length, depth: Length) -> Volume {
    let (radius, depth) = (opening.metres() / 2.0, depth.metres());
    Volume::from_cubic_metres(PI * depth / 6.0 * (3.0 * radius * radius + depth * depth))
}

/// Area that a round pocket takes from a crown when its axis is off the cylinder's.
///
/// **Equation** Two circles of radii R and r, e apart: r^2 acos(u/r) - u sqrt(r^2 - u^2) + R^2 acos(v/R) - v sqrt(R^2 - v^2), with
/// u = (e^2 + r^2 - R^2)/(2 e) and v = e - u; the smaller circle where it lies in the larger
///
/// **Shape** Scalars.
///
/// **Units** Diameters and distance in, area out.
///
/// **Valid for** Any two circles; zero where they do not meet.
///
/// **Errors** None.
///
/// **Source** First principles: two circular segments.
#[must_use]
pub fn overlap(bore: Length, pocket: Length, offset: Length) -> Area {
    let (large, small, apart) = (bore.metres() / 2.0, pocket.metres() / 2.0, offset.metres());
    if apart >= large + small {
        return Area::default();
    }
    if apart <= (large - small).abs() {
        let inner = large.min(small);
        return Area::from_square_metres(PI * inner * inner);
    }
    let chord = (apart * apart + small * small - large * large) / (2.0 * apart);
    Area::from_square_metres(segment(small, chord) + segment(large, apart - chord))
}

/// Volume of a flat-bottomed round relief whose axis leans against the bore's, one edge deeper than the other.
///
/// **Equation** The cylinder's part between its floor and the crown: with H = depth/cos(tilt), a = R - H/tan(tilt):
/// V = tan(tilt) ((2/3)(R^2 - a^2)^1.5 - a A(a)), A(a) the circular segment beyond a; pi R^2 (H - R tan(tilt)) where the whole
/// floor is below the crown (a <= -R)
///
/// **Shape** Scalars.
///
/// **Units** Diameter, deepest depth square to the crown and tilt in, volume out.
///
/// **Valid for** A floor square to the relief's axis, a flat crown, a relief that does not run out of the crown's edge.
///
/// **Errors** None.
///
/// **Source** First principles; at a = 0 the hoof of Archimedes, The Method (from memory).
#[must_use]
pub fn leaning_relief(diameter: Length, depth: Length, tilt: Angle) -> Volume {
    let (radius, slope) = (diameter.metres() / 2.0, tilt.radians().tan());
    let height = depth.metres() / tilt.radians().cos();
    if height >= 2.0 * radius * slope {
        return Volume::from_cubic_metres(PI * radius * radius * (height - radius * slope));
    }
    let edge = radius - height / slope;
    let moment = 2.0 / 3.0 * (radius * radius - edge * edge).max(0.0).powf(1.5);
    Volume::from_cubic_metres(slope * (moment - edge * segment(radius, edge)))
}

/// Part of a circle beyond a chord at a distance from its centre; more than half of it for a negative distance.
fn segment(radius: f64, distance: f64) -> f64 {
    let distance = distance.clamp(-radius, radius);
    radius * radius * (distance / radius).acos() - distance * (radius * radius - distance * distance).sqrt()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn shapes_that_are_cylinders_are_cylinders(diameter in 0.5..4.0, depth in 0.01..0.4) {
            let (width, depth) = (Length::from_inches(diameter), Length::from_inches(depth));
            let cylinder = frustum(width, width, depth).cubic_metres();
            let upright = leaning_relief(width, depth, Angle::default()).cubic_metres();
            let centred = overlap(Length::from_inches(4.0), width, Length::default()).square_metres() * depth.metres();
            prop_assert!((upright - cylinder).abs() < 1e-12 * cylinder);
            prop_assert!((centred - cylinder).abs() < 1e-12 * cylinder);
        }

        #[test]
        fn deeper_holds_more_and_the_branches_meet(diameter in 0.5..2.0, tilt in 1.0..60.0) {
            let (width, tilt) = (Length::from_inches(diameter), Angle::from_degrees(tilt));
            // The depth at which the shallow edge just reaches the crown.
            let whole = diameter * tilt.radians().tan() * tilt.radians().cos();
            let at = |share: f64| leaning_relief(width, Length::from_inches(whole * share), tilt).cubic_metres();
            for share in [0.1, 0.5, 0.9, 1.0, 1.5] {
                prop_assert!(at(share + 0.01) > at(share));
            }
            prop_assert!((at(1.0 + 1e-9) - at(1.0 - 1e-9)).abs() < 1e-6 * at(1.0));
        }

        #[test]
        fn a_pocket_farther_out_takes_less(pocket in 0.5..3.0, offset in 0.0..4.0) {
            let at = |offset: f64| overlap(Length::from_inches(4.0), Length::from_inches(pocket), Length::from_inches(offset));
            prop_assert!(at(offset + 0.01).square_metres() <= at(offset).square_metres() * (1.0 + 1e-12));
        }
    }
}
