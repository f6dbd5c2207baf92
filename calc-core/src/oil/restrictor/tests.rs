use proptest::prelude::*;

use super::*;
use crate::oil::grade::Grade;
use crate::units::Quantity;

fn input(diameter: f64, psi: f64, celsius: f64) -> RestrictorInput {
    RestrictorInput {
        oil: OilInput {
            cool_viscosity: Some(KinematicViscosity::from_square_millimetres_per_second(100.0)),
            hot_viscosity: Some(KinematicViscosity::from_square_millimetres_per_second(14.0)),
            ..OilInput::default()
        },
        temperature: Temperature::from_degrees_celsius(celsius),
        diameter: Some(Length::from_inches(diameter)),
        wanted_flow: None,
        length: Length::from_inches(0.25),
        count: 1,
        edge: Edge::Sharp,
        edge_coefficient: None,
        upstream_pressure: Pressure::from_pounds_per_square_inch(psi),
        downstream_pressure: Pressure::default(),
        air_pressure: None,
        plug_size: None,
        plug_thread: None,
        diameters: None,
        temperatures: None,
    }
}

fn flow(input: &RestrictorInput) -> Result<f64, Error> {
    Ok(evaluate(input)?.point.flow.litres_per_minute())
}

proptest! {
    #[test]
    fn flow_rises_with_pressure_and_diameter_and_counts(
        diameter in 0.02..0.4, psi in 0.1..150.0, celsius in 0.0..140.0, count in 2_u32..50,
    ) {
        let base = flow(&input(diameter, psi, celsius))?;
        prop_assert!(flow(&input(1.01 * diameter, psi, celsius))? > base);
        prop_assert!(flow(&input(diameter, 1.01 * psi, celsius))? > base);
        let many = flow(&RestrictorInput { count, ..input(diameter, psi, celsius) })?;
        prop_assert!((many / (f64::from(count) * base) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn the_diameter_for_a_flow_is_the_one_that_gave_it(diameter in 0.01..1.5, psi in 0.5..150.0, celsius in -10.0..140.0) {
        let base = input(diameter, psi, celsius);
        let wanted = evaluate(&base)?.point.flow;
        let back = evaluate(&RestrictorInput { diameter: None, wanted_flow: Some(wanted), ..base })?;
        prop_assert!((back.point.diameter.inches() / diameter - 1.0).abs() < 1e-7, "{}", back.point.diameter.inches());
        prop_assert!((back.point.flow.si() / wanted.si() - 1.0).abs() < 1e-7);
    }

    #[test]
    fn exchanged_pressures_turn_the_flow_round(diameter in 0.02..0.4, psi in 0.1..150.0, celsius in 0.0..140.0) {
        let ahead = input(diameter, psi, celsius);
        let back = RestrictorInput {
            upstream_pressure: ahead.downstream_pressure,
            downstream_pressure: ahead.upstream_pressure,
            ..ahead.clone()
        };
        prop_assert_eq!(flow(&ahead)?, -flow(&back)?);
        let band = evaluate(&back)?.flow_band;
        prop_assert!(band[0] < band[1] && band[1] < Flow::default());
    }

    #[test]
    fn the_drills_around_a_diameter_let_less_and_more_through(diameter in 0.02..0.9, psi in 1.0..100.0) {
        let found = evaluate(&input(diameter, psi, 90.0))?;
        prop_assert!(!found.drills.is_empty());
        for drill in &found.drills {
            prop_assert_eq!(drill.is_above, drill.flow_share > 1.0, "{:?}", drill);
        }
    }

    #[test]
    fn the_table_holds_what_single_questions_get(diameters in proptest::collection::vec(0.03..0.3, 1..5), celsius in 0.0..120.0) {
        let table = RestrictorInput {
            diameters: Some(diameters.iter().map(|inches| Length::from_inches(*inches)).collect()),
            temperatures: Some([celsius, celsius + 20.0].map(Temperature::from_degrees_celsius).to_vec()),
            ..input(0.1, 50.0, 60.0)
        };
        let points = evaluate(&table)?.points;
        prop_assert_eq!(points.len(), 2 * diameters.len());
        for (index, point) in points.iter().enumerate() {
            let single = input(diameters[index / 2], 50.0, celsius + 20.0 * (index % 2) as f64);
            prop_assert!((flow(&single)? / point.flow.litres_per_minute() - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn a_grades_flows_lie_around_its_typical_one(place in 0_usize..52, celsius in 0.0..130.0) {
        let oil = OilInput { grade: Grade::all().nth(place), ..OilInput::default() };
        let found = evaluate(&RestrictorInput { oil, ..input(0.06, 50.0, celsius) })?;
        let flows = found.grade_flows.ok_or_else(|| TestCaseError::fail("a grade has a window"))?;
        prop_assert!(flows[0] < found.point.flow && found.point.flow < flows[1]);
    }

    #[test]
    fn anything_gets_an_answer_or_a_refusal(
        diameter in prop_oneof![Just(0.0), -1.0..1.0, 0.0..10.0], length in prop_oneof![Just(0.0), -1.0..100.0],
        up in -100.0..20000.0, down in -100.0..20000.0, celsius in -300.0..1000.0, count in 0_u32..2000,
    ) {
        let asked = RestrictorInput {
            length: Length::from_inches(length),
            downstream_pressure: Pressure::from_pounds_per_square_inch(down),
            count,
            ..input(diameter, up, celsius)
        };
        match evaluate(&asked) {
            Ok(found) => prop_assert!(found.point.flow.si().is_finite() && found.point.velocity.si().is_finite()),
            Err(error) => prop_assert!(!error.faults().is_empty(), "{error}"),
        }
    }
}

#[test]
fn nothing_flows_without_a_difference() {
    let still =
        evaluate(&input(0.1, 0.0, 90.0)).map(|found| (found.point.flow.si(), found.point.regime, found.cautions.len()));
    assert!(matches!(still, Ok((0.0, Regime::Still, _))), "{still:?}");
}

#[test]
fn a_flow_that_no_hole_gives_is_refused_with_what_there_is() {
    let wanted = Some(Flow::from_us_gallons_per_minute(1500.0));
    let asked = RestrictorInput { diameter: None, wanted_flow: wanted, ..input(0.1, 5.0, 20.0) };
    assert!(matches!(evaluate(&asked), Err(Error::NoSolution { field: "wanted_flow", .. })));
}
