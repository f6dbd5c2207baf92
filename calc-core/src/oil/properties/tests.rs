use proptest::prelude::*;

use super::*;

fn mm2(value: f64) -> KinematicViscosity {
    KinematicViscosity::from_square_millimetres_per_second(value)
}

fn ask(oil: OilInput, celsius: f64) -> PropertiesInput {
    PropertiesInput {
        oil,
        temperature: Temperature::from_degrees_celsius(celsius),
        wanted_viscosity: None,
        temperatures: None,
    }
}

proptest! {
    #[test]
    fn the_wanted_viscosity_is_found_where_the_oil_has_it(at_40 in 30.0..300.0, share in 0.1..0.22, celsius in -10.0..150.0) {
        let oil = OilInput { cool_viscosity: Some(mm2(at_40)), hot_viscosity: Some(mm2(at_40 * share)), ..OilInput::default() };
        let there = evaluate(&ask(oil.clone(), celsius))?.state.kinematic_viscosity;
        let found = evaluate(&PropertiesInput { wanted_viscosity: Some(there), ..ask(oil, 60.0) })?;
        let found = found.wanted_temperature.map(Temperature::degrees_celsius);
        prop_assert!(found.is_some_and(|found| (found - celsius).abs() < 1e-7));
    }

    #[test]
    fn two_points_of_the_line_make_the_same_line(at_40 in 30.0..300.0, share in 0.1..0.22, cool in 0.0..50.0, span in 20.0..80.0) {
        let oil = OilInput { cool_viscosity: Some(mm2(at_40)), hot_viscosity: Some(mm2(at_40 * share)), ..OilInput::default() };
        let at = |celsius: f64| evaluate(&ask(oil.clone(), celsius)).map(|found| found.state.kinematic_viscosity);
        let again = OilInput {
            cool_viscosity: Some(at(cool)?),
            cool_temperature: Some(Temperature::from_degrees_celsius(cool)),
            hot_viscosity: Some(at(cool + span)?),
            hot_temperature: Some(Temperature::from_degrees_celsius(cool + span)),
            ..OilInput::default()
        };
        let [first, second] = [evaluate(&ask(oil, 90.0))?, evaluate(&ask(again, 90.0))?];
        prop_assert!((first.line_b / second.line_b - 1.0).abs() < 1e-9);
        let indices = first.viscosity_index.zip(second.viscosity_index);
        prop_assert!(indices.is_none_or(|(first, second)| (first - second).abs() < 1e-5));
    }

    #[test]
    fn anything_gets_an_answer_or_a_refusal(
        viscosities in (0.1..2000.0, 0.1..200.0), temperatures in (-80.0..120.0, -20.0..320.0), celsius in -80.0..320.0,
        density in 500.0..1400.0, density_celsius in -80.0..320.0, high_shear in proptest::option::of(0.3..30.0),
        wanted in proptest::option::of(0.5..200_000.0),
    ) {
        let oil = OilInput {
            cool_viscosity: Some(mm2(viscosities.0)),
            cool_temperature: Some(Temperature::from_degrees_celsius(temperatures.0)),
            hot_viscosity: Some(mm2(viscosities.1)),
            hot_temperature: Some(Temperature::from_degrees_celsius(temperatures.1)),
            density: Some(Density::from_kilograms_per_cubic_metre(density)),
            density_temperature: Some(Temperature::from_degrees_celsius(density_celsius)),
            high_shear_viscosity: high_shear.map(DynamicViscosity::from_millipascal_seconds),
            ..OilInput::default()
        };
        match evaluate(&PropertiesInput { wanted_viscosity: wanted.map(mm2), ..ask(oil, celsius) }) {
            Ok(found) => {
                prop_assert!(found.state.dynamic_viscosity.si().is_finite() && found.state.density.si() > 0.0);
                prop_assert!(found.viscosity_index.is_none_or(f64::is_finite) && found.viscosity_at_40.si().is_finite());
            }
            Err(error) => prop_assert!(!error.faults().is_empty(), "{error}"),
        }
    }

    #[test]
    fn the_window_of_a_grade_stays_in_order(place in 0_usize..52, celsius in -20.0..150.0) {
        let grade = Grade::all().nth(place);
        let found = evaluate(&ask(OilInput { grade, ..OilInput::default() }, celsius))?;
        let window = found.window.ok_or_else(|| TestCaseError::fail("a grade has a window"))?;
        prop_assert!(window.low.kinematic_viscosity < window.typical.kinematic_viscosity);
        prop_assert!(window.typical.kinematic_viscosity < window.high.kinematic_viscosity);
        prop_assert_eq!(window.typical.kinematic_viscosity, found.state.kinematic_viscosity);
    }
}

#[test]
fn below_the_pour_point_nothing_is_said() {
    let oil = OilInput {
        cool_viscosity: Some(mm2(100.0)),
        hot_viscosity: Some(mm2(14.0)),
        pour_point: Some(Temperature::from_degrees_celsius(-12.0)),
        ..OilInput::default()
    };
    let refused = evaluate(&ask(oil.clone(), -13.0)).err().map(|error| error.faults());
    assert_eq!(refused.map(|faults| faults[0].code.clone()).as_deref(), Some("below_pour_point"));
    assert!(evaluate(&ask(oil, -11.0)).is_ok());
}
