//! Laws of the deck survey.

use proptest::prelude::*;

use super::*;

/// A bank of 2 by 6 points, 600 mm long, edges at -70 and 60 mm from the bore axes.
fn bank(heights: &[f64]) -> Bank {
    let point = |(index, height): (usize, &f64)| SurfacePoint {
        along: Length::from_millimetres(120.0 * (index % 6) as f64),
        across: Length::from_millimetres(if index < 6 { -70.0 } else { 60.0 }),
        height: Length::from_millimetres(230.0 + height),
    };
    let cylinders = [80.0, 240.0, 400.0, 560.0].map(|along| CylinderPlace { along: Length::from_millimetres(along) });
    Bank { points: heights.iter().enumerate().map(point).collect(), cylinders: cylinders.to_vec() }
}

fn input(banks: Vec<Bank>, cross_slope: CrossSlope, equal_banks: bool) -> DeckSurveyInput {
    let stack = Stack {
        stroke: Length::from_millimetres(90.0),
        rod_length: Length::from_millimetres(150.0),
        compression_height: Length::from_millimetres(34.0),
        pin_offset: Length::default(),
    };
    let cleanup_allowance = Length::from_millimetres(0.02);
    DeckSurveyInput { banks, cross_slope, equal_banks, cleanup_allowance, stack: Some(stack) }
}

fn after_cutting(input: &DeckSurveyInput, found: &DeckSurvey) -> DeckSurveyInput {
    let mut cut = input.clone();
    for (bank, found) in cut.banks.iter_mut().zip(&found.banks) {
        for (point, cut) in bank.points.iter_mut().zip(&found.point_cuts) {
            point.height = Length::from_metres(point.height.metres() - cut.metres());
        }
    }
    cut
}

fn surveys() -> impl Strategy<Value = DeckSurveyInput> {
    let heights = || prop::collection::vec(-0.2..0.2, 12);
    let slope = prop_oneof![Just(CrossSlope::SquareToBore), Just(CrossSlope::Free)];
    (heights(), heights(), slope, any::<bool>())
        .prop_map(|(left, right, slope, equal)| input(vec![bank(&left), bank(&right)], slope, equal))
}

proptest! {
    #[test]
    fn a_level_deck_needs_no_cut(equal in any::<bool>()) {
        for slope in [CrossSlope::SquareToBore, CrossSlope::Free] {
            let found = evaluate(&input(vec![bank(&[0.0; 12]), bank(&[0.0; 12])], slope, equal))?;
            for bank in &found.banks {
                prop_assert!(bank.largest_cut.metres().abs() < 1e-12);
                prop_assert!(bank.flatness.is_some_and(|flatness| flatness.metres() < 1e-12));
                prop_assert!((bank.finished_height.millimetres() - 230.0).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn the_cut_touches_every_point_and_needs_no_second(input in surveys()) {
        let found = evaluate(&input)?;
        for bank in &found.banks {
            prop_assert!(bank.smallest_cut.metres() >= input.cleanup_allowance.metres() - 1e-12);
        }
        let again = evaluate(&after_cutting(&input, &found))?;
        for (bank, again) in found.banks.iter().zip(&again.banks) {
            prop_assert!(again.largest_cut.metres() < 1e-9, "{:?}", again.largest_cut);
            prop_assert!(again.flatness.is_some_and(|flatness| flatness.metres() < 1e-9));
            prop_assert!((again.finished_height.metres() - bank.finished_height.metres()).abs() < 1e-9);
            for (before, after) in bank.clearances.iter().zip(&again.clearances) {
                let now = after.before.map_or(f64::NAN, Length::metres);
                prop_assert!((now - before.after.metres()).abs() < 1e-9);
            }
        }
        let heights: Vec<_> = found.banks.iter().map(|bank| bank.finished_height.metres()).collect();
        prop_assert!(!input.equal_banks || heights[0] == heights[1]);
    }

    #[test]
    fn adding_a_constant_moves_only_heights(input in surveys(), lift in -5.0..5.0) {
        let (here, mut lifted) = (evaluate(&input)?, input.clone());
        let up = |height: Length| Length::from_millimetres(height.millimetres() + lift);
        lifted.banks.iter_mut().flat_map(|bank| &mut bank.points).for_each(|point| point.height = up(point.height));
        let there = evaluate(&lifted)?;
        let near = |one: Length, other: Length| (one.metres() - other.metres()).abs() < 1e-9;
        for (here, there) in here.banks.iter().zip(&there.banks) {
            prop_assert!(near(up(here.finished_height), there.finished_height));
            prop_assert!(here.point_cuts.iter().zip(&there.point_cuts).all(|(one, other)| near(*one, *other)));
            prop_assert!(here.flatness.zip(there.flatness).is_some_and(|(one, other)| near(one, other)));
            let (one, other) = (here.fit, there.fit);
            prop_assert!(one.zip(other).is_some_and(|(one, other)| near(one.rms, other.rms)
                && (one.slope_along - other.slope_along).abs() < 1e-9
                && (one.slope_across - other.slope_across).abs() < 1e-9));
        }
    }

    #[test]
    fn banks_swapped_give_the_same(mut input in surveys()) {
        let here = evaluate(&input)?;
        input.banks.reverse();
        let mut there = evaluate(&input)?;
        there.banks.reverse();
        prop_assert_eq!((here.banks, here.step), (there.banks, there.step));
    }

    #[test]
    fn a_free_slope_takes_no_more_metal_than_a_square_one(heights in prop::collection::vec(-0.2..0.2, 12)) {
        let metal = |slope| evaluate(&input(vec![bank(&heights)], slope, false)).map(|found| {
            found.banks.iter().flat_map(|bank| &bank.point_cuts).map(|cut| cut.metres()).sum::<f64>()
        });
        prop_assert!(metal(CrossSlope::Free)? <= metal(CrossSlope::SquareToBore)? + 1e-12);
    }

    #[test]
    fn a_deck_tilted_across_only_needs_no_cut_when_the_slope_is_free(tilt in -0.2..0.2_f64) {
        let heights: Vec<_> = (0..12).map(|index| if index < 6 { -70.0 * tilt / 100.0 } else { 60.0 * tilt / 100.0 }).collect();
        let found = evaluate(&input(vec![bank(&heights)], CrossSlope::Free, false))?;
        prop_assert!(found.banks[0].largest_cut.metres().abs() < 1e-12);
        prop_assert!((found.banks[0].finished_slope_across - tilt / 100.0).abs() < 1e-12);
    }
}

fn codes(found: &DeckSurvey) -> Vec<&str> {
    found.cautions.iter().map(|caution| caution.code).collect()
}

#[test]
fn points_in_one_line_give_a_cut_and_a_warning_but_no_plane() {
    let mut line = bank(&[0.0, 0.01, 0.02, 0.01, 0.0, 0.0]);
    line.points.truncate(6);
    let found = evaluate(&input(vec![line.clone()], CrossSlope::SquareToBore, false)).expect("a partial answer");
    assert!(found.banks[0].fit.is_none() && found.banks[0].flatness.is_none());
    assert!((found.banks[0].largest_cut.millimetres() - 0.04).abs() < 1e-9);
    assert!(codes(&found).contains(&"points_in_one_line"));
    assert!(evaluate(&input(vec![line], CrossSlope::Free, false)).is_err());
}

#[test]
fn few_points_deep_cuts_and_pistons_above_the_deck_are_said() {
    let mut few = bank(&[0.0; 12]);
    few.points.drain(4..11);
    few.points[4].height = Length::from_millimetres(226.0);
    let found = evaluate(&input(vec![few], CrossSlope::SquareToBore, false)).expect("sound");
    for code in ["too_few_points", "heavy_cut", "piston_above_deck", "heads_come_down", "measure_and_mock_up"] {
        assert!(codes(&found).contains(&code), "{code} in {:?}", codes(&found));
    }
}
