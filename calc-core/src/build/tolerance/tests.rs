use proptest::prelude::*;

use super::super::evaluate::numbers;
use super::super::tests::demo;
use super::*;

fn off(path: &str, tolerance: f64, distribution: Distribution) -> InputTolerance {
    InputTolerance { place: Input::at(path).unwrap(), spread: Spread::Tolerance(tolerance), distribution }
}

fn watch(path: &str) -> WatchedResult {
    WatchedResult { place: Output::at(path).unwrap(), at_least: None, at_most: None }
}

/// Tolerances of shop work, made larger or smaller by a factor.
fn usual(factor: f64, distribution: Distribution) -> Vec<InputTolerance> {
    [
        ("block/bore", 13e-6),
        ("block/deck_height", 76e-6),
        ("crankshaft/stroke", 51e-6),
        ("connecting_rod/length", 25e-6),
        ("piston/compression_height", 25e-6),
        ("cylinder_head/chamber_volume", 0.5e-6),
        ("head_gasket/compressed_thickness", 51e-6),
        ("camshaft/intake_closes_abdc", 0.017),
        ("atmosphere/intake_temperature", 2.0),
    ]
    .map(|(path, tolerance)| off(path, factor * tolerance, distribution))
    .to_vec()
}

fn input(factor: f64, distribution: Distribution) -> BuildToleranceInput {
    BuildToleranceInput {
        build: demo(),
        tolerances: usual(factor, distribution),
        results: [
            "compression/static_ratio",
            "geometry/squish_clearance",
            "compression/trapped_ratio",
            "compression/end_of_compression/end_temperature",
        ]
        .map(watch)
        .to_vec(),
        percentiles: USUAL_PERCENTILES.to_vec(),
        draws: 4000,
        seed: 7,
        threads: 2,
    }
}

fn found(input: &BuildToleranceInput) -> BuildTolerance {
    evaluate(input, &Stop::never()).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, ..ProptestConfig::default() })]

    #[test]
    fn the_three_ways_agree_for_small_tolerances(factor in 0.05..1.0_f64, normal in any::<bool>()) {
        let distribution = if normal { Distribution::Normal } else { Distribution::Rectangular };
        for result in found(&input(factor, distribution)).results {
            let shares: f64 = result.shares.iter().map(|share| share.share).sum();
            prop_assert!((shares - 1.0).abs() < 1e-12);
            let outcome = result.outcome;
            prop_assert!(outcome.worst_low < outcome.nominal && outcome.nominal < outcome.worst_high);
            prop_assert!((outcome.standard_deviation / outcome.standard_uncertainty - 1.0).abs() < 0.06);
            prop_assert!((outcome.mean - outcome.nominal).abs() < 0.1 * outcome.standard_uncertainty);
            let [low, middle, high] = result.percentiles[..] else { panic!() };
            prop_assert!(low < middle && middle < high);
            prop_assert!((low - outcome.interval_low).abs() < 0.2 * outcome.standard_uncertainty);
            prop_assert!(normal || (outcome.worst_low <= outcome.interval_low && high <= outcome.worst_high));
        }
    }

    /// First order is linear in the tolerances.
    #[test]
    fn half_the_tolerance_is_half_the_uncertainty(factor in 0.1..1.0_f64) {
        let (whole, half) = (found(&input(factor, Distribution::Normal)), found(&input(0.5 * factor, Distribution::Normal)));
        for (whole, half) in whole.results.iter().zip(&half.results) {
            let ratio = half.outcome.standard_uncertainty / whole.outcome.standard_uncertainty;
            prop_assert!((ratio - 0.5).abs() < 1e-6, "{ratio}");
        }
    }
}

#[test]
fn a_standard_uncertainty_is_a_tolerance_by_another_name() {
    for (distribution, factor) in [(Distribution::Normal, 2.0), (Distribution::Rectangular, 3.0_f64.sqrt())] {
        let by_tolerance = input(1.0, distribution);
        let mut by_uncertainty = by_tolerance.clone();
        for one in &mut by_uncertainty.tolerances {
            one.spread = Spread::StandardUncertainty(one.tolerance() / factor);
        }
        for (a, b) in found(&by_tolerance).results.iter().zip(&found(&by_uncertainty).results) {
            assert!((a.outcome.standard_uncertainty / b.outcome.standard_uncertainty - 1.0).abs() < 1e-9);
            assert!((a.outcome.worst_low / b.outcome.worst_low - 1.0).abs() < 1e-12);
        }
    }
}

/// The worst case is the worst of all combinations of ends.
#[test]
fn the_worst_case_is_that_of_every_combination() {
    for factor in [0.5, 20.0] {
        let input = input(factor, Distribution::Rectangular);
        let mut extremes = vec![[f64::INFINITY, f64::NEG_INFINITY]; input.results.len()];
        for combination in 0..1_u32 << input.tolerances.len() {
            let mut build = input.build.clone();
            for (index, one) in input.tolerances.iter().enumerate() {
                let sign = if combination >> index & 1 == 1 { 1.0 } else { -1.0 };
                let planned = one.place.get(&input.build).unwrap();
                assert!(one.place.set(&mut build, planned + sign * one.tolerance()));
            }
            let at = numbers(&build).unwrap();
            for (extreme, result) in extremes.iter_mut().zip(&input.results) {
                let value = result.place.get(&at).unwrap();
                *extreme = [extreme[0].min(value), extreme[1].max(value)];
            }
        }
        for (result, [low, high]) in found(&input).results.iter().zip(extremes) {
            assert!((result.outcome.worst_low - low).abs() <= 1e-12 * low.abs());
            assert!((result.outcome.worst_high - high).abs() <= 1e-12 * high.abs());
        }
    }
}

#[test]
fn equal_seeds_give_equal_answers_on_any_number_of_threads() {
    for distribution in [Distribution::Rectangular, Distribution::Normal] {
        let one = found(&BuildToleranceInput { threads: 1, ..input(1.0, distribution) });
        for threads in [2, 3, 0] {
            assert_eq!(one, found(&BuildToleranceInput { threads, ..input(1.0, distribution) }));
        }
        assert_ne!(one, found(&BuildToleranceInput { seed: 8, ..input(1.0, distribution) }));
    }
}

#[test]
fn chances_count_the_draws() {
    let mut input = input(1.0, Distribution::Normal);
    let planned = numbers(&input.build).unwrap().compression.static_ratio;
    input.results[0].at_least = Some(planned);
    let half = found(&input);
    let chance = half.results[0].outcome.chance_within.unwrap();
    assert!((chance - 0.5).abs() < 0.05);
    assert_eq!(half.chance_within_all, Some(chance));
    assert_eq!(half.results[1].outcome.chance_within, None);
    input.results[0].at_least = None;
    assert_eq!(found(&input).chance_within_all, None);
}

#[test]
fn wrong_questions_are_refused() {
    let codes = |change: &dyn Fn(&mut BuildToleranceInput)| {
        let mut wrong = input(1.0, Distribution::Normal);
        change(&mut wrong);
        let faults = evaluate(&wrong, &Stop::never()).unwrap_err().faults();
        faults.into_iter().map(|fault| format!("{} {}", fault.path, fault.code)).collect::<Vec<_>>()
    };
    let bore = |tolerance| off("block/bore", tolerance, Distribution::Normal);
    assert_eq!(codes(&|input| input.tolerances.clear()), ["tolerances wrong_length"]);
    assert_eq!(codes(&|input| input.tolerances = vec![bore(0.0)]), ["tolerances/0/tolerance out_of_range"]);
    assert_eq!(
        codes(&|input| input.tolerances = vec![bore(1e-5), bore(1e-5)]),
        ["tolerances/1/pointer duplicate_pointer"]
    );
    assert_eq!(
        codes(&|input| input.tolerances = vec![off("head_gasket/bore", 1e-5, Distribution::Normal)]),
        ["tolerances/0/pointer missing"]
    );
    assert_eq!(
        codes(&|input| input.tolerances = vec![off("engine/cylinders", 1.0, Distribution::Normal)]),
        ["tolerances/0/pointer not_continuous"]
    );
    // A dish of nothing cannot become less.
    assert_eq!(
        codes(&|input| input.tolerances = vec![off("piston/dome_volume", 1e-6, Distribution::Normal)]),
        ["tolerances refused_build"]
    );
    assert_eq!(codes(&|input| input.draws = 10), ["draws out_of_range"]);
    assert_eq!(codes(&|input| input.percentiles = vec![Ratio::from_plain(0.0)]), ["percentiles/0 out_of_range"]);
    let without_speed = |input: &mut BuildToleranceInput| {
        input.build.running = None;
        input.results = vec![watch("geometry/mean_piston_speed")];
    };
    assert_eq!(codes(&without_speed), ["results/0/pointer missing"]);
}
