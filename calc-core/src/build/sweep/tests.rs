use proptest::prelude::*;

use super::super::tests::demo;
use super::*;

fn axis(path: &str, values: &[f64]) -> Axis {
    Axis { place: Input::at(path).unwrap(), values: Values::List(values.to_vec()) }
}

fn sweep(axes: Vec<Axis>, results: &[&str]) -> Result<Sweep, Error> {
    let results = results.iter().map(|path| Output::at(path).unwrap()).collect();
    evaluate(&SweepInput { build: demo(), axes, results }, &Stop::never())
}

proptest! {
    /// Every row is what a single evaluation gives.
    #[test]
    fn rows_are_single_evaluations(bores in prop::collection::vec(0.104..0.108, 1..5), speeds in prop::collection::vec(100.0..700.0, 1..5)) {
        let results = ["geometry/displacement", "geometry/mean_piston_speed", "compression/static_ratio"];
        let found = sweep(vec![axis("block/bore", &bores), axis("running/engine_speed", &speeds)], &results)?;
        prop_assert_eq!(found.rows.len(), bores.len() * speeds.len());
        for (index, row) in found.rows.iter().enumerate() {
            let (bore, speed) = (bores[index / speeds.len()], speeds[index % speeds.len()]);
            prop_assert_eq!(&row.inputs, &vec![bore, speed]);
            let mut build = demo();
            prop_assert!(Input::at("block/bore").unwrap().set(&mut build, bore));
            prop_assert!(Input::at("running/engine_speed").unwrap().set(&mut build, speed));
            match consequences(&build) {
                Ok(single) => {
                    for (path, value) in results.iter().zip(&row.results) {
                        prop_assert_eq!(Output::at(path).unwrap().get(&single), Some(*value));
                    }
                }
                Err(_) => prop_assert!(row.refusal.is_some() && row.results.is_empty()),
            }
        }
    }

    #[test]
    fn steps_end_where_they_should(from in -5.0..5.0_f64, step in 0.01..1.0_f64, count in 0_usize..50, up in any::<bool>()) {
        let step = if up { step } else { -step };
        let to = from + count as f64 * step;
        let values = steps(from, to, step, 100).unwrap();
        prop_assert_eq!(values.len(), count + 1);
        prop_assert_eq!(values[0], from);
        prop_assert!((values[count] - to).abs() <= 1e-12 * to.abs().max(1.0));
        prop_assert_eq!(steps(from, to + 0.4 * step, step, 100).unwrap().len(), count + 1);
    }
}

#[test]
fn steps_that_lead_nowhere_are_refused() {
    for (from, to, step) in [(0.0, 1.0, 0.0), (0.0, 1.0, -0.1), (0.0, 1.0, 1e-9), (0.0, f64::NAN, 1.0)] {
        assert_eq!(steps(from, to, step, 100), None);
    }
    assert_eq!(steps(2.0, 2.0, 0.5, 100), Some(vec![2.0]));
}

#[test]
fn a_value_that_the_sheet_refuses_gets_its_reason_and_the_others_go_on() {
    let found = sweep(vec![axis("block/bore", &[0.1055, 5.0])], &["compression/static_ratio"]).unwrap();
    assert!(found.rows[0].refusal.is_none());
    assert!(found.rows[1].refusal.as_ref().unwrap().contains("block.bore must be from"));
}

#[test]
fn wrong_questions_are_refused() {
    let codes = |axes, results: &[&str]| {
        let faults = sweep(axes, results).unwrap_err().faults();
        faults.into_iter().map(|fault| format!("{} {}", fault.path, fault.code)).collect::<Vec<_>>()
    };
    let bore = || axis("block/bore", &[0.1]);
    let ratio = "compression/static_ratio";
    assert_eq!(codes(vec![], &[]), ["inputs wrong_length", "results wrong_length"]);
    assert_eq!(
        codes(vec![bore(), bore()], &[ratio, ratio]),
        ["inputs/1/pointer duplicate_pointer", "results/1 duplicate_pointer"]
    );
    assert_eq!(codes(vec![axis("block/bore", &[])], &[ratio]), ["inputs/0/values wrong_length"]);
    let many = vec![0.1; 200];
    assert_eq!(
        codes(vec![axis("block/bore", &many), axis("crankshaft/stroke", &many)], &[ratio]),
        ["inputs too_much_work"]
    );
    assert_eq!(codes(vec![axis("engine/cylinders", &[4.5])], &[ratio]), ["inputs/0/values missing"]);
    let away = Axis { values: Values::Steps { from: 0.1, to: 0.2, step: -0.01 }, ..bore() };
    assert_eq!(codes(vec![away], &[ratio]), ["inputs/0/step contradiction"]);
}
