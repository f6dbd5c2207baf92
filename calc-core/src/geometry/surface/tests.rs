//! Laws of measured faces.

use proptest::prelude::*;

use super::*;

fn points(places: &[[f64; 3]]) -> Vec<SurfacePoint> {
    let point = |[x, y, z]: &[f64; 3]| SurfacePoint {
        along: Length::from_millimetres(*x),
        across: Length::from_millimetres(*y),
        height: Length::from_millimetres(*z),
    };
    places.iter().map(point).collect()
}

fn zone(places: &[[f64; 3]]) -> f64 {
    minimum_zone(&points(places)).ok().flatten().map_or(f64::NAN, Length::millimetres)
}

fn grid(height: impl Fn(f64, f64) -> f64) -> Vec<[f64; 3]> {
    let steps = [0.0, 50.0, 100.0];
    steps.iter().flat_map(|x| steps.map(|y| [*x, y, height(*x, y)])).collect()
}

#[test]
fn zones_that_can_be_proved_by_hand() {
    let centre = |x: f64, y: f64| if x == 50.0 && y == 50.0 { 0.05 } else { 0.0 };
    for (what, places, expected) in [
        ("three and one", vec![[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [0.0, 10.0, 0.0], [2.0, 2.0, 0.03]], 0.03),
        ("two and two", vec![[0.0, 0.0, 0.0], [10.0, 10.0, 0.0], [10.0, 0.0, 0.02], [0.0, 10.0, 0.02]], 0.02),
        ("peak", grid(centre), 0.05),
        ("saddle", grid(|x, y| 4e-6 * (x - 50.0) * (y - 50.0)), 0.02),
        // Along the normal, not along the height.
        ("tilted peak", grid(|x, y| centre(x, y) + 0.001 * x - 0.0005 * y), 0.05 / (1.0_f64 + 1.25e-6).sqrt()),
    ] {
        assert!((zone(&places) - expected).abs() < 1e-12, "{what}: {} for {expected}", zone(&places));
    }
}

#[test]
fn a_line_has_no_plane_and_a_cross_shows_no_twist() {
    let line = points(&[[0.0, 0.0, 230.0], [10.0, 5.0, 230.0], [20.0, 10.0, 230.1], [40.0, 20.0, 230.0]]);
    assert_eq!((fit(&line), minimum_zone(&line)), (None, Ok(None)));
    let cross = points(&[[-1.0, 0.0, 9.0], [1.0, 0.0, 9.1], [0.0, -1.0, 9.0], [0.0, 1.0, 9.2], [0.0, 0.0, 9.1]]);
    assert!(fit(&cross).is_some_and(|fit| fit.twist.is_none()));
}

proptest! {
    #[test]
    fn a_plane_or_a_saddle_is_found_again(a in -0.01..0.01_f64, b in -0.01..0.01_f64, d in -1e-5..1e-5_f64) {
        let places = grid(|x, y| 230.0 + a * x + b * y + d * (x - 50.0) * (y - 50.0));
        let Some(saddle) = fit(&points(&places)) else { return Err(TestCaseError::fail("a grid has a plane")) };
        prop_assert!((saddle.slope_along - a).abs() < 1e-12 && (saddle.slope_across - b).abs() < 1e-12);
        prop_assert!(saddle.twist.is_some_and(|twist| (twist.millimetres() - d * 1e4).abs() < 1e-9));
        prop_assert!((saddle.rms.millimetres() - d.abs() * 2500.0 * (4.0_f64 / 9.0).sqrt()).abs() < 1e-9);
    }

    #[test]
    fn flatness_does_not_change_when_the_face_is_turned_or_moved(
        heights in prop::collection::vec(-0.1..0.1, 9), a in -0.02..0.02, b in -0.02..0.02, lift in 100.0..300.0,
    ) {
        let mut flat = grid(|x, y| heights[(x / 50.0) as usize * 3 + (y / 50.0) as usize]);
        let before = zone(&flat);
        turn(&mut flat, a, b);
        flat.iter_mut().for_each(|point| point[2] += lift);
        // Planes that tie along the height differ by half the square of their angle, here 0.004: a millionth of a millimetre.
        prop_assert!((zone(&flat) - before).abs() < 2e-6);
    }

    #[test]
    fn flatness_is_at_most_the_range_about_the_least_squares_plane(heights in prop::collection::vec(-0.1..0.1, 9)) {
        let places = grid(|x, y| 230.0 + heights[(x / 50.0) as usize * 3 + (y / 50.0) as usize]);
        let face = points(&places);
        let Some(fit) = fit(&face) else { return Ok(()) };
        let off = |point: &SurfacePoint| point.height.millimetres() - fit.height_at(point.along, point.across).millimetres();
        let range = face.iter().map(off).fold(f64::MIN, f64::max) - face.iter().map(off).fold(f64::MAX, f64::min);
        prop_assert!(zone(&places) <= range + 1e-12);
    }

    #[test]
    fn no_points_make_it_fail(
        places in prop::collection::vec((-1000.0..1000.0, -1.0..1.0, 0.5..400.0), 3..12),
        breadth in -8_i32..1, relief in -6_i32..1, diagonal in 0.0..2.0, round in any::<bool>(),
    ) {
        let (breadth, relief) = (10.0_f64.powi(breadth), 10.0_f64.powi(relief));
        let place = |(x, y, z): &(f64, f64, f64)| {
            let x = if round { (x / 100.0).round() * 100.0 } else { *x };
            [x, 1000.0 * y * breadth + diagonal * x, 10.0 + relief * z]
        };
        prop_assert!(minimum_zone(&points(&places.iter().map(place).collect::<Vec<_>>())).is_ok());
    }
}
