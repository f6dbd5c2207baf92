//! Laws of the bore survey.

use proptest::prelude::*;

use super::*;

fn inches(value: f64) -> Length {
    Length::from_inches(value)
}

fn cylinder(worn: &[(f64, f64)], offset: (f64, f64), walls: &[(f64, f64)]) -> CylinderSurvey {
    let reading = |(index, (thrust, axis)): (usize, &(f64, f64))| BoreReading {
        depth: inches(0.5 + 2.0 * index as f64),
        thrust: inches(4.0 + thrust),
        crank_axis: inches(4.0 + axis),
    };
    let wall = |(angle, thickness): &(f64, f64)| WallReading {
        clock_angle: Angle::from_degrees(*angle),
        thickness: inches(*thickness),
    };
    CylinderSurvey {
        readings: worn.iter().enumerate().map(reading).collect(),
        walls: walls.iter().map(wall).collect(),
        offset_thrust: inches(offset.0),
        offset_front: inches(offset.1),
    }
}

fn input(cylinders: Vec<CylinderSurvey>) -> BoreSurveyInput {
    BoreSurveyInput {
        cylinders,
        present_size: inches(4.0),
        standard_size: None,
        oversizes: vec![inches(0.06), inches(0.02), inches(0.03), inches(0.04)],
        planned_size: None,
        honing_allowance: inches(0.004),
        major_thrust: Some(ThrustSide::ThreeOClock),
        least_wall: None,
        stroke: Some(inches(3.5)),
        clearance_volume: Some(Volume::from_cubic_centimetres(80.0)),
        engine_cylinders: None,
    }
}

const ROUND: [(f64, f64); 4] = [(0.0, 0.2), (90.0, 0.2), (180.0, 0.2), (270.0, 0.2)];

fn blocks() -> impl Strategy<Value = BoreSurveyInput> {
    let worn = prop::collection::vec((0.0..0.012, 0.0..0.012), 3);
    let one = (worn, -0.005..0.005, -0.005..0.005, 0.1..0.3)
        .prop_map(|(worn, thrust, front, wall)| cylinder(&worn, (thrust, front), &ROUND.map(|(at, _)| (at, wall))));
    prop::collection::vec(one, 1..9).prop_map(input)
}

proptest! {
    #[test]
    fn the_common_size_covers_every_point_of_every_cylinder(block in blocks(), angle in 0.0..360.0_f64) {
        let found = evaluate(&block)?;
        for cylinder in &block.cylinders {
            let offset = [cylinder.offset_thrust.metres(), cylinder.offset_front.metres()];
            let (sin, cos) = angle.to_radians().sin_cos();
            for reading in &cylinder.readings {
                // The gauged section as an ellipse about the present centre.
                let edge = [reading.thrust.metres() / 2.0 * sin, reading.crank_axis.metres() / 2.0 * cos];
                let reach = (edge[0] - offset[0]).hypot(edge[1] - offset[1]);
                prop_assert!(2.0 * reach <= found.smallest_common_size.metres() - block.honing_allowance.metres() + 1e-12);
            }
        }
        prop_assert!(found.chosen_size >= found.smallest_common_size);
        prop_assert!(found.cylinders.iter().all(|one| one.smallest_finished_size <= found.smallest_common_size));
    }

    #[test]
    fn finishing_to_the_answer_and_gauging_again_finds_no_wear(block in blocks()) {
        let found = evaluate(&block)?;
        let size = found.chosen_size;
        let gauged = |cylinder: &CylinderSurvey| CylinderSurvey {
            readings: cylinder.readings.iter().map(|one| BoreReading { thrust: size, crank_axis: size, ..*one }).collect(),
            walls: Vec::new(),
            offset_thrust: Length::default(),
            offset_front: Length::default(),
        };
        let again = evaluate(&BoreSurveyInput {
            cylinders: block.cylinders.iter().map(gauged).collect(),
            present_size: size,
            honing_allowance: Length::default(),
            planned_size: Some(size),
            ..block
        })?;
        prop_assert_eq!(again.growth, Length::default());
        prop_assert!(again.cylinders.iter().all(|one| one.taper == Some(Length::default())
            && one.out_of_round == Length::default() && one.smallest_finished_size == size));
    }

    #[test]
    fn on_the_present_centre_every_wall_loses_half_the_growth_of_the_smallest_reading(wear in 0.0..0.01, angle in 0.0..360.0) {
        let found = evaluate(&input(vec![cylinder(&[(wear, 0.0)], (0.0, 0.0), &[(angle, 0.2)])]))?;
        let loss = (found.chosen_size.inches() - 4.0) / 2.0;
        prop_assert!((found.cylinders[0].walls[0].left.inches() - (0.2 - loss)).abs() < 1e-12);
    }

    #[test]
    fn moving_the_centre_takes_from_one_side_what_it_leaves_on_the_other(thrust in -0.02..0.02, front in -0.02..0.02) {
        let mut block = input(vec![cylinder(&[(0.0, 0.0)], (thrust, front), &ROUND)]);
        block.planned_size = Some(inches(4.06));
        let found = evaluate(&block)?;
        let left = |side: Side| {
            found.cylinders[0].walls.iter().find(|wall| wall.side == side).map_or(f64::NAN, |wall| wall.left.inches())
        };
        prop_assert!((left(Side::MinorThrust) - left(Side::MajorThrust) - 2.0 * thrust).abs() < 1e-9);
        prop_assert!((left(Side::Rear) - left(Side::Front) - 2.0 * front).abs() < 1e-9);
    }
}

#[test]
fn the_order_of_cylinders_and_oversizes_does_not_matter() {
    let worn = |wear: f64| cylinder(&[(wear, 0.001), (wear / 2.0, 0.0)], (0.0, 0.0), &ROUND);
    let mut block = input(vec![worn(0.004), worn(0.017), worn(0.009)]);
    let here = evaluate(&block).expect("sound");
    assert_eq!(here.common_oversize, Some(inches(0.03)));
    assert_eq!(here.cylinders[0].listed_oversize, Some(inches(0.02)));
    block.cylinders.reverse();
    block.oversizes.reverse();
    let mut there = evaluate(&block).expect("sound");
    there.cylinders.reverse();
    assert_eq!((here.cylinders, here.chosen_size), (there.cylinders, there.chosen_size));
}

#[test]
fn thin_walls_are_said_by_the_callers_limit_only() {
    let codes = |block: &BoreSurveyInput| {
        evaluate(block).expect("sound").cautions.iter().map(|caution| caution.code).collect::<Vec<_>>()
    };
    let mut block = input(vec![cylinder(&[(0.0, 0.0), (0.001, 0.0)], (0.0, 0.0), &[(90.0, 0.011), (270.0, 0.009)])]);
    assert!(codes(&block).contains(&"wall_gone") && codes(&block).contains(&"walls_not_judged"));
    block.cylinders[0].walls[0].thickness = inches(0.03);
    block.cylinders[0].walls[1].thickness = inches(0.1);
    assert!(!codes(&block).contains(&"wall_under_limit"));
    block.least_wall = Some(inches(0.025));
    assert!(codes(&block).contains(&"wall_under_limit"));
    let shift = evaluate(&block).expect("sound").cylinders[0].core_shift_thrust.map_or(f64::NAN, Length::inches);
    assert!((shift + 0.035).abs() < 1e-12);
}
