use proptest::prelude::*;

use super::*;

/// Any hole: a sharp one, or one with a coefficient.
fn holes() -> impl Strategy<Value = Hole> {
    let slenderness = prop_oneof![0.02..1.5, 1.5..2.0, 2.0..10.0, 10.0..200.0];
    (0.0002..0.02, slenderness, proptest::option::of(0.6..0.95))
        .prop_map(|(diameter, slenderness, given)| Hole::new(diameter, slenderness * diameter, given))
}

fn flow(hole: &Hole, drop: f64, viscosity: f64) -> Result<f64, Error> {
    Ok(hole.flow(drop, viscosity, 850.0)?.value)
}

proptest! {
    #[test]
    fn more_pressure_is_more_flow_and_the_sign_follows(hole in holes(), log_drop in 0.0..7.5, log_viscosity in -6.0..-2.0) {
        let (drop, viscosity) = (10_f64.powf(log_drop), 10_f64.powf(log_viscosity));
        let here = flow(&hole, drop, viscosity)?;
        prop_assert!(flow(&hole, 1.001 * drop, viscosity)? > here);
        prop_assert_eq!(flow(&hole, -drop, viscosity)?, -here);
    }

    #[test]
    fn the_slope_is_that_of_the_flow(hole in holes(), log_drop in 1.0..7.5, log_viscosity in -6.0..-2.0) {
        let (drop, viscosity) = (10_f64.powf(log_drop), 10_f64.powf(log_viscosity));
        let step = 1e-5 * drop;
        let sloped = hole.flow(drop, viscosity, 850.0)?;
        let creeping = |ideal: f64| -> Result<bool, Error> { Ok(hole.reynolds(ideal)?.creeping) };
        let ideal = |drop: f64| hole.diameter * (2.0 * drop / 850.0).sqrt() / viscosity;
        // At the limit's edge the law has a corner.
        prop_assume!(creeping(ideal(0.99 * drop))? == creeping(ideal(1.01 * drop))?);
        let rise = (flow(&hole, drop + step, viscosity)? - flow(&hole, drop - step, viscosity)?) / (2.0 * step);
        prop_assert!((rise / sloped.slope - 1.0).abs() < 2e-4, "{rise} {}", sloped.slope);
    }

    #[test]
    fn a_wider_hole_of_the_same_length_lets_more_through(hole in holes(), log_drop in 2.0..7.0, log_viscosity in -6.0..-2.5) {
        let (drop, viscosity) = (10_f64.powf(log_drop), 10_f64.powf(log_viscosity));
        let length = hole.slenderness * hole.diameter;
        let wider = Hole::new(1.02 * hole.diameter, length, hole.given);
        prop_assert!(flow(&wider, drop, viscosity)? > flow(&hole, drop, viscosity)?);
    }

    #[test]
    fn no_pressure_is_no_flow_with_the_creeping_slope(hole in holes(), log_viscosity in -6.0..-2.0) {
        let viscosity = 10_f64.powf(log_viscosity);
        let still = hole.flow(0.0, viscosity, 850.0)?;
        let little = hole.flow(1e-9, viscosity, 850.0)?;
        prop_assert_eq!(still.value, 0.0);
        prop_assert!((little.slope / still.slope - 1.0).abs() < 1e-9);
        prop_assert!(still.slope.is_finite() && still.slope > 0.0);
    }

    #[test]
    fn nothing_passes_faster_than_the_ideal_velocity(hole in holes(), log_ideal in -8.0..7.0) {
        let ideal = 10_f64.powf(log_ideal);
        let found = hole.reynolds(ideal)?;
        prop_assert!(found.value > 0.0 && found.value < ideal, "{found:?}");
        prop_assert!(found.slope > 0.0 && found.slope.is_finite());
    }

    #[test]
    fn the_laws_of_neighbouring_lengths_meet(log_ideal in -2.0..5.5, place in 0_usize..4) {
        let edge = [1.5, 2.0, 10.0, 20.0][place];
        let at = |slenderness: f64| Hole::new(0.002, 0.002 * slenderness, None).reynolds(10_f64.powf(log_ideal));
        let (below, above) = (at(edge - 1e-9)?.value, at(edge + 1e-9)?.value);
        prop_assert!((below / above - 1.0).abs() < 1e-6, "{below} {above}");
    }

    #[test]
    fn a_long_thin_hole_is_a_pipe_of_hagen_and_poiseuille(diameter in 0.0005..0.01, viscosity in 1e-4..1e-2) {
        let hole = Hole::new(diameter, 200.0 * diameter, None);
        let found = flow(&hole, 100.0, viscosity)?;
        let pipe = PI * diameter.powi(3) * 100.0 / (128.0 * 200.0 * 850.0 * viscosity);
        // The entry's creeping resistance is 12 pi/(64 * 200) of the whole; inertia takes a little more.
        prop_assert!(found <= pipe && found > 0.9 * pipe, "{found} {pipe}");
    }
}

proptest! {
    #[test]
    fn between_ten_and_twenty_diameters_orifice_and_pipe_are_near(log_ideal in -2.0..6.0, slenderness in 10.0..20.0) {
        let ideal = 10_f64.powf(log_ideal);
        let faded = Hole::new(0.002, 0.002 * slenderness, None).reynolds(ideal)?.value;
        let creeping = ideal * ideal / (12.0 * PI + 64.0 * slenderness);
        let whole_pipe = pipe(ideal, slenderness, None)?.value.min(creeping);
        prop_assert!((faded / whole_pipe - 1.0).abs() < 0.13, "{faded} {whole_pipe}");
    }
}

#[test]
fn a_creeping_thin_plate_is_sampsons() {
    let hole = Hole::new(0.001, 1e-9, None);
    let found = flow(&hole, 1.0, 1e-3).unwrap_or_default();
    let sampson = 0.001_f64.powi(3) / (24.0 * 850.0 * 1e-3);
    assert!((found / sampson - 1.0).abs() < 1e-5, "{found} {sampson}");
}
