//! Laws of the line-hone.

use proptest::prelude::*;

use super::*;

fn inches(value: f64) -> Length {
    Length::from_inches(value)
}

/// Five housings, 4.4 in apart; `bow` for the three in the middle.
fn input(sizes: [f64; 5], bow: [f64; 3], cap_cut: f64, finished: f64) -> LineHoneInput {
    let housing = |index: usize| Housing {
        along: inches(4.4 * index as f64),
        size: inches(sizes[index]),
        deviation: (1..4).contains(&index).then(|| inches(bow[index.clamp(1, 3) - 1])),
    };
    LineHoneInput {
        housings: (0..5).map(housing).collect(),
        cap_cut: inches(cap_cut),
        finished_size: inches(finished),
        set_movement: None,
        decks: vec![Deck { deck_height: inches(9.5), bore_angle: Angle::from_degrees(45.0) }; 2],
        camshaft: Some(CamshaftPlace { distance: inches(4.6), angle: Angle::default() }),
        chain: Some(Chain { pitch: inches(0.375), crank_teeth: 18, camshaft_teeth: 36 }),
    }
}

proptest! {
    #[test]
    fn a_straight_block_moves_its_axis_by_half_the_cap_cut(cut in 0.0..0.02_f64, growth in 0.0..0.01_f64) {
        let found = evaluate(&input([2.7; 5], [0.0; 3], cut, 2.7 + growth))?;
        prop_assert!((found.movement.inches() - cut / 2.0).abs() < 1e-12 && found.tilt.metres().abs() < 1e-12);
        for housing in &found.housings {
            prop_assert!((housing.saddle_stock.inches() - (growth + cut) / 2.0).abs() < 1e-12);
            prop_assert!((housing.cap_stock.inches() - (growth + cut) / 2.0).abs() < 1e-12);
        }
        let along_the_bore = cut / 2.0 * 45.0_f64.to_radians().cos();
        for deck in &found.decks {
            prop_assert!((deck.deck_height.inches() - 9.5 + along_the_bore).abs() < 1e-12);
            prop_assert!((deck.axis_offset.inches() - along_the_bore).abs() < 1e-12);
        }
        prop_assert!(found.cam_distance.is_some_and(|distance| (distance.inches() - 4.6 + cut / 2.0).abs() < 1e-12));
        // Two runs become longer than needed, by a little less than the approach each: they lean.
        let slack = found.chain_slack.map_or(f64::NAN, Length::inches);
        prop_assert!(slack <= cut + 1e-12 && slack >= 0.9 * cut);
    }

    #[test]
    fn stock_of_saddle_and_cap_is_what_the_circle_grows_by(
        wear in prop::collection::vec(0.0..0.003, 5), bow in prop::collection::vec(-0.003..0.003, 3), cut in 0.0..0.02,
    ) {
        let sizes = std::array::from_fn(|index| 2.7 + wear[index]);
        let found = evaluate(&input(sizes, [bow[0], bow[1], bow[2]], cut, 2.705))?;
        for (housing, size) in found.housings.iter().zip(sizes) {
            let both = housing.saddle_stock.inches() + housing.cap_stock.inches();
            prop_assert!((both - (2.705 - size + cut)).abs() < 1e-12);
        }
    }

    #[test]
    fn the_smallest_size_cleans_up_and_a_second_hone_finds_nothing(
        wear in prop::collection::vec(0.0..0.003, 5), bow in prop::collection::vec(-0.003..0.003, 3), cut in 0.0..0.02,
    ) {
        let sizes = std::array::from_fn(|index| 2.7 + wear[index]);
        let first = input(sizes, [bow[0], bow[1], bow[2]], cut, 2.705);
        let size = evaluate(&first)?.smallest_finished_size;
        let found = evaluate(&LineHoneInput { finished_size: size, ..first.clone() })?;
        let clean = |found: &HousingFound| found.saddle_stock.metres() > -1e-12 && found.cap_stock.metres() > -1e-12;
        prop_assert!(found.housings.iter().all(clean));
        let again = evaluate(&input([size.inches(); 5], [0.0; 3], 0.0, size.inches()))?;
        prop_assert!(again.movement.metres().abs() < 1e-12);
        prop_assert!(again.housings.iter().all(|found| found.saddle_stock.metres().abs() < 1e-12));
        prop_assert!(again.chain_slack.is_some_and(|slack| slack.metres().abs() < 1e-12));
    }

    #[test]
    fn a_set_bar_goes_where_it_is_set(set in -0.01..0.01, cut in 0.0..0.03) {
        let found = evaluate(&LineHoneInput { set_movement: Some(inches(set)), ..input([2.7; 5], [0.001; 3], cut, 2.701) })?;
        prop_assert!(found.housings.iter().all(|housing| (housing.movement.inches() - set).abs() < 1e-12));
        prop_assert!(found.chain_slack.is_some_and(|slack| set.abs() < 1e-9 || (slack.metres() > 0.0) == (set > 0.0)));
    }
}

#[test]
fn what_does_not_clean_up_tilts_or_goes_far_is_said() {
    let codes = |input: &LineHoneInput| {
        evaluate(input).expect("sound").cautions.iter().map(|caution| caution.code).collect::<Vec<_>>()
    };
    assert!(codes(&input([2.7; 5], [0.0, 0.004, 0.0], 0.0, 2.7)).contains(&"housing_not_cleaned_up"));
    assert!(codes(&input([2.7, 2.7, 2.7, 2.7, 2.71], [0.0; 3], 0.01, 2.71)).contains(&"crank_axis_tilts"));
    assert!(codes(&input([2.7; 5], [0.0; 3], 0.024, 2.7)).contains(&"crank_axis_far"));
    let apart = LineHoneInput { set_movement: Some(inches(-0.002)), ..input([2.7; 5], [0.0; 3], 0.01, 2.706) };
    assert!(codes(&apart).contains(&"chain_too_short"));
    assert_eq!(codes(&input([2.7; 5], [0.0; 3], 0.0, 2.7)), ["measure_and_mock_up"]);
}
