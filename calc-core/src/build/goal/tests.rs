use proptest::prelude::*;

use super::super::tests::demo;
use super::*;
use crate::units::Length;

fn unknown(path: &str, min: f64, max: f64) -> Unknown {
    Unknown { place: Input::at(path).unwrap(), min, max }
}

fn wanted(path: &str, at_least: Option<f64>, at_most: Option<f64>) -> Wanted {
    Wanted { place: Output::at(path).unwrap(), at_least, at_most }
}

fn equal(path: &str, value: f64) -> Wanted {
    wanted(path, Some(value), Some(value))
}

fn goal(unknowns: Vec<Unknown>, wanted: Vec<Wanted>) -> Result<Goal, Error> {
    evaluate(&GoalInput { build: demo(), unknowns, wanted }, &Stop::never())
}

/// Ranges round the demo build in which every sheet is accepted.
fn ranges() -> [Unknown; 6] {
    let inches = |path, min, max| unknown(path, Length::from_inches(min).metres(), Length::from_inches(max).metres());
    [
        unknown("cylinder_head/chamber_volume", 55e-6, 90e-6),
        inches("block/deck_height", 9.40, 9.60),
        inches("crankshaft/stroke", 3.6, 4.1),
        inches("block/bore", 4.13, 4.25),
        inches("head_gasket/compressed_thickness", 0.02, 0.08),
        unknown("camshaft/intake_closes_abdc", 0.5, 1.2),
    ]
}

const RESULTS: [&str; 6] = [
    "compression/static_ratio",
    "geometry/squish_clearance",
    "geometry/mean_piston_speed",
    "geometry/displacement",
    "compression/trapped_ratio",
    "compression/end_of_compression/end_pressure",
];

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, ..ProptestConfig::default() })]

    /// What some inputs give is wanted: then it is found, whatever acts on what, and it is what these inputs give.
    #[test]
    fn a_goal_that_can_be_met_is_met(
        order in Just([0_usize, 1, 2, 3, 4, 5]).prop_shuffle(),
        which in Just([0_usize, 1, 2, 3, 4, 5]).prop_shuffle(),
        shares in prop::array::uniform3(0.02..0.98),
        count in 1_usize..=3,
    ) {
        let unknowns: Vec<_> = order[..count].iter().map(|index| ranges()[*index]).collect();
        let mut build = demo();
        for (unknown, share) in unknowns.iter().zip(shares) {
            prop_assert!(unknown.place.set(&mut build, unknown.min + share * (unknown.max - unknown.min)));
        }
        let Ok(there) = consequences(&build) else { return Ok(()) };
        let wanted: Vec<_> = which[..count]
            .iter()
            .map(|index| equal(RESULTS[*index], Output::at(RESULTS[*index]).unwrap().get(&there).unwrap()))
            .collect();
        let found = goal(unknowns, wanted.clone())?;
        prop_assert!(found.found, "{:?}", found.reason);
        for (one, met) in wanted.iter().zip(&found.wanted) {
            let (value, target) = (one.place.get(&found.evaluation).unwrap(), one.at_least.unwrap());
            prop_assert!(met.met && (value - target).abs() <= 2e-9 * target.abs(), "{} {value} {target}", one.place.path);
        }
    }

    /// One unknown that moves the result: it is always found, at the value that gave it.
    #[test]
    fn one_unknown_comes_back_to_where_the_result_was_taken(index in 0_usize..6, share in 0.0..1.0_f64) {
        let unknown = ranges()[index];
        let mut build = demo();
        let value = unknown.min + share * (unknown.max - unknown.min);
        prop_assert!(unknown.place.set(&mut build, value));
        let result = Output::at("compression/trapped_ratio").unwrap();
        let target = result.get(&consequences(&build).unwrap()).unwrap();
        let found = goal(vec![unknown], vec![equal("compression/trapped_ratio", target)])?;
        prop_assert!(found.found, "{:?}", found.reason);
        prop_assert!((found.unknowns[0].value - value).abs() <= 1e-7 * (unknown.max - unknown.min));
    }

    /// The nearest miss of a result that is monotone in its unknown is at an end of the range.
    #[test]
    fn what_is_out_of_reach_ends_at_the_end_of_the_range(excess in 0.1..3.0_f64) {
        let chamber = ranges()[0];
        let mut build = demo();
        prop_assert!(chamber.place.set(&mut build, chamber.min));
        let most = consequences(&build).unwrap().compression.static_ratio;
        let found = goal(vec![chamber], vec![wanted("compression/static_ratio", Some(most + excess), None)])?;
        prop_assert!(!found.found);
        prop_assert_eq!(found.unknowns[0].at_end, Some(End::Min));
        prop_assert!((found.wanted[0].highest - most).abs() < 1e-9);
        prop_assert!(found.reason.unwrap().contains("does not come above"));
    }
}

#[test]
fn a_limit_that_holds_changes_nothing_and_one_that_does_not_is_met_at_its_end() {
    let present = consequences(&demo()).unwrap().compression.static_ratio;
    let with = |limit| goal(vec![ranges()[0]], vec![wanted("compression/static_ratio", None, Some(limit))]).unwrap();
    let holds = with(present + 0.5);
    assert!(holds.found);
    assert_eq!(Some(holds.unknowns[0].value), holds.unknowns[0].present);
    let broken = with(present - 0.5);
    let ratio = broken.evaluation.compression.static_ratio;
    assert!(broken.found && ratio <= present - 0.5 && ratio > present - 0.5 - 1e-9, "{ratio}");
}

#[test]
fn the_fewest_inputs_are_changed() {
    // The deck alone can give the squish clearance, and the ratio then stays inside its limit.
    let found = goal(
        vec![ranges()[0], ranges()[1]],
        vec![
            equal("geometry/squish_clearance", Length::from_inches(0.045).metres()),
            wanted("compression/static_ratio", None, Some(20.0)),
        ],
    )
    .unwrap();
    assert!(found.found);
    assert_eq!(Some(found.unknowns[0].value), found.unknowns[0].present);
    assert_ne!(Some(found.unknowns[1].value), found.unknowns[1].present);
}

#[test]
fn unknowns_that_act_on_each_other_are_nested() {
    let (bore, stroke, chamber) = (ranges()[3], ranges()[2], ranges()[0]);
    let found = goal(
        vec![bore, stroke, chamber],
        vec![
            equal("geometry/displacement", 6.9e-3),
            equal("compression/trapped_ratio", 8.2),
            equal("geometry/bore_stroke_ratio", 1.08),
        ],
    )
    .unwrap();
    assert!(found.found, "{:?}", found.reason);
    assert!((found.evaluation.geometry.bore_stroke_ratio - 1.08).abs() < 1e-8);
    assert!(found.evaluations < 10_000, "{}", found.evaluations);
}

#[test]
fn the_sheets_own_refusals_bound_the_search() {
    // Below some deck height the piston leaves no volume; the ratio grows beyond all bounds towards it.
    let deck = unknown("block/deck_height", Length::from_inches(8.0).metres(), Length::from_inches(9.6).metres());
    let found = goal(vec![deck], vec![equal("compression/static_ratio", 30.0)]).unwrap();
    assert!(found.found, "{:?}", found.reason);
    let nothing = unknown("block/bore", 20.0, 30.0);
    let refused = goal(vec![nothing], vec![equal("compression/static_ratio", 9.0)]).unwrap_err();
    assert_eq!(refused.faults()[0].code, "no_sound_value");
}

#[test]
fn wrong_questions_are_refused() {
    let chamber = ranges()[0];
    let ratio = equal("compression/static_ratio", 9.0);
    let codes = |unknowns, wanted| {
        let error: Error = goal(unknowns, wanted).unwrap_err();
        error.faults().into_iter().map(|fault| format!("{} {}", fault.path, fault.code)).collect::<Vec<_>>()
    };
    assert_eq!(codes(vec![], vec![]), ["unknowns wrong_length"]);
    assert_eq!(codes(vec![chamber], vec![]), ["wanted wrong_length"]);
    assert_eq!(
        codes(vec![chamber, chamber], vec![ratio, ratio]),
        ["unknowns/1/pointer duplicate_pointer", "wanted/1/pointer duplicate_pointer"]
    );
    let turned = Unknown { min: chamber.max, max: chamber.min, ..chamber };
    assert_eq!(codes(vec![turned], vec![ratio]), ["unknowns/0/max contradiction"]);
    let limits = wanted("compression/static_ratio", Some(10.0), Some(9.0));
    assert_eq!(codes(vec![chamber], vec![limits]), ["wanted/0/at_most contradiction"]);
    let nothing = wanted("compression/static_ratio", None, None);
    assert_eq!(codes(vec![chamber], vec![nothing]), ["wanted/0 missing"]);
    let count = unknown("engine/cylinders", 4.0, 8.0);
    assert_eq!(codes(vec![count], vec![ratio]), ["unknowns/0/pointer not_continuous"]);
}

#[test]
fn a_search_that_nobody_waits_for_ends() {
    let stop = Stop::never();
    stop.set();
    let input =
        GoalInput { build: demo(), unknowns: vec![ranges()[0]], wanted: vec![equal("compression/static_ratio", 9.0)] };
    assert_eq!(evaluate(&input, &stop), Err(Error::Stopped));
}
