//! Calculations over a whole build: one evaluation as the yardstick, then what is made of many.

#![allow(missing_docs, clippy::expect_used)]

use std::hint::black_box;

use calc_core::build::evaluate::{evaluate, numbers};
use calc_core::build::goal::{self, GoalInput, Unknown, Wanted};
use calc_core::build::place::{Input, Output};
use calc_core::build::sheet::{
    Atmosphere, Block, Build, Camshaft, ConnectingRod, Crankshaft, CylinderHead, Engine, HeadGasket, Layout, Measured,
    Piston, Running,
};
use calc_core::build::tolerance::{
    self, BuildToleranceInput, InputTolerance, Spread, USUAL_PERCENTILES, WatchedResult,
};
use calc_core::compression::tolerance::Distribution;
use calc_core::stop::Stop;
use calc_core::units::{Altitude, Angle, Area, Length, RotationalSpeed, Temperature, Volume};
use criterion::{Criterion, criterion_group, criterion_main};

fn build() -> Build {
    Build {
        engine: Engine {
            cylinders: 8,
            layout: Layout::Vee,
            bank_angle: Some(Angle::from_degrees(90.0)),
            label_displacement: Some(Volume::from_cubic_inches(423.0)),
        },
        block: Block { bore: Length::from_inches(4.155), deck_height: Length::from_inches(9.475) },
        crankshaft: Crankshaft { stroke: Length::from_inches(3.9) },
        connecting_rod: ConnectingRod { length: Length::from_inches(6.2) },
        piston: Piston {
            compression_height: Length::from_inches(1.315),
            dish_volume: Volume::from_cubic_centimetres(11.0),
            dome_volume: Volume::from_cubic_centimetres(0.0),
            pin_offset: Length::from_inches(0.03),
            top_land_height: Some(Length::from_inches(0.24)),
            top_land_diameter: Some(Length::from_inches(4.128)),
        },
        cylinder_head: CylinderHead { chamber_volume: Volume::from_cubic_centimetres(70.5) },
        head_gasket: HeadGasket {
            bore: None,
            opening_area: Some(Area::from_square_inches(13.9)),
            compressed_thickness: Length::from_inches(0.041),
        },
        camshaft: Some(Camshaft {
            intake_closes_abdc: Angle::from_degrees(48.0),
            at_lift: Some(Length::from_inches(0.05)),
            seat_difference: Some(Angle::from_degrees(20.0)),
        }),
        running: Some(Running { engine_speed: RotationalSpeed::from_revolutions_per_minute(4600.0) }),
        atmosphere: Some(Atmosphere {
            altitude: Altitude::from_altitude_metres(150.0),
            intake_temperature: Some(Temperature::from_degrees_celsius(25.0)),
        }),
        oil: None,
        measured: Some(Measured {
            chamber_volumes: Some((0..8).map(|i| Volume::from_cubic_centimetres(70.2 + 0.1 * f64::from(i))).collect()),
            deck_heights: None,
        }),
    }
}

fn whole_build(criterion: &mut Criterion) {
    let build = build();
    let mut group = criterion.benchmark_group("whole_build");
    group.bench_function("evaluate", |bench| bench.iter(|| evaluate(black_box(&build))));
    group.bench_function("numbers", |bench| bench.iter(|| numbers(black_box(&build))));
    let unmeasured = Build { measured: None, ..build.clone() };
    group.bench_function("numbers/unmeasured", |bench| bench.iter(|| numbers(black_box(&unmeasured))));
    for draws in [10_000, 100_000] {
        for threads in [1, 2] {
            let input = tolerance(draws, threads);
            group.sample_size(10).bench_function(format!("tolerance/{draws}/threads/{threads}"), |bench| {
                bench.iter(|| tolerance::evaluate(black_box(&input), &Stop::never()));
            });
        }
    }
    for (name, input) in [("one", goal(1)), ("two", goal(2)), ("three", goal(3))] {
        group.bench_function(format!("goal/{name}"), |bench| {
            bench.iter(|| goal::evaluate(black_box(&input), &Stop::never()))
        });
    }
    group.finish();
}

fn tolerance(draws: u32, threads: usize) -> BuildToleranceInput {
    let off = |path: &str, tolerance: f64| InputTolerance {
        place: Input::at(path).expect("a place"),
        spread: Spread::Tolerance(tolerance),
        distribution: Distribution::Rectangular,
    };
    let watch = |path: &str| WatchedResult { place: Output::at(path).expect("a place"), at_least: None, at_most: None };
    BuildToleranceInput {
        build: build(),
        tolerances: vec![
            off("block/bore", 13e-6),
            off("block/deck_height", 76e-6),
            off("crankshaft/stroke", 51e-6),
            off("connecting_rod/length", 25e-6),
            off("piston/compression_height", 25e-6),
            off("cylinder_head/chamber_volume", 0.5e-6),
            off("head_gasket/compressed_thickness", 51e-6),
            off("camshaft/intake_closes_abdc", 0.017),
            off("atmosphere/intake_temperature", 2.0),
        ],
        results: vec![
            watch("compression/static_ratio"),
            watch("geometry/squish_clearance"),
            watch("compression/trapped_ratio"),
            watch("compression/end_of_compression/end_temperature"),
        ],
        percentiles: USUAL_PERCENTILES.to_vec(),
        draws,
        seed: 1,
        threads,
    }
}

/// One to three unknowns, each acting on the last result.
fn goal(count: usize) -> GoalInput {
    let unknown = |path: &str, min: f64, max: f64| Unknown { place: Input::at(path).expect("a place"), min, max };
    let equal = |path: &str, value: f64| Wanted {
        place: Output::at(path).expect("a place"),
        at_least: Some(value),
        at_most: Some(value),
    };
    let unknowns = [
        unknown("cylinder_head/chamber_volume", 55e-6, 90e-6),
        unknown("block/deck_height", 0.2395, 0.2420),
        unknown("crankshaft/stroke", 0.096, 0.100),
    ];
    let wanted = [
        equal("compression/static_ratio", 9.4),
        equal("geometry/squish_clearance", 0.0012),
        equal("geometry/displacement", 6.9e-3),
    ];
    GoalInput { build: build(), unknowns: unknowns[..count].to_vec(), wanted: wanted[..count].to_vec() }
}

criterion_group!(benches, whole_build);
criterion_main!(benches);
