//! Costs of the compression calculations. Yardsticks: 100 ns for a static ratio, 50 ms for 100,000 draws, and beside the draws
//! a bare sum of as many random numbers, in the same run.

use std::hint::black_box;

use calc_core::compression::cylinder_spread::CylinderReading;
use calc_core::compression::r#static::{self, StaticInput};
use calc_core::compression::tolerance::{self, Distribution, Limits, ToleranceInput, Tolerances, USUAL_DRAWS};
use calc_core::random::Random;
use calc_core::units::{Length, Volume};
use criterion::{Criterion, criterion_group, criterion_main};

fn engine() -> StaticInput {
    StaticInput {
        bore: Length::from_inches(4.155),
        stroke: Length::from_inches(3.9),
        chamber_volume: Volume::from_cubic_centimetres(70.5),
        gasket_bore: Some(Length::from_inches(4.2)),
        gasket_area: None,
        gasket_thickness: Length::from_inches(0.041),
        deck_clearance: Length::from_inches(0.01),
        dish_volume: Volume::from_cubic_centimetres(11.0),
        dome_volume: Volume::default(),
        top_land_height: Some(Length::from_inches(0.25)),
        top_land_diameter: Some(Length::from_inches(4.125)),
        readings: None,
    }
}

fn toleranced(distribution: Distribution) -> ToleranceInput {
    ToleranceInput {
        nominal: engine(),
        tolerances: Tolerances {
            bore: Some(Length::from_inches(0.0005)),
            stroke: Some(Length::from_inches(0.002)),
            chamber_volume: Some(Volume::from_cubic_centimetres(0.5)),
            gasket_thickness: Some(Length::from_inches(0.002)),
            deck_clearance: Some(Length::from_inches(0.003)),
            dish_volume: Some(Volume::from_cubic_centimetres(0.3)),
            ..Tolerances::default()
        },
        distribution,
        limits: Limits::default(),
        draws: USUAL_DRAWS,
        seed: 1,
    }
}

fn compression(criterion: &mut Criterion) {
    let plain = engine();
    criterion
        .bench_function("compression/static", |bench| bench.iter(|| black_box(r#static::evaluate(black_box(&plain)))));
    criterion.bench_function("compression/static/volumes", |bench| {
        bench.iter(|| black_box(r#static::volumes(black_box(&plain)).clearance()));
    });
    let reading = CylinderReading {
        chamber_volume: Some(Volume::from_cubic_centimetres(70.0)),
        deck_clearance: None,
        dish_volume: None,
    };
    let eight = StaticInput { readings: Some(vec![reading; 8]), ..engine() };
    criterion.bench_function("compression/static/8", |bench| {
        bench.iter(|| black_box(r#static::evaluate(black_box(&eight))))
    });
    let mut slow = criterion.benchmark_group("compression/tolerance");
    slow.sample_size(20);
    for (name, distribution) in [("rectangular", Distribution::Rectangular), ("normal", Distribution::Normal)] {
        let input = toleranced(distribution);
        slow.bench_function(name, |bench| bench.iter(|| black_box(tolerance::evaluate(black_box(&input)))));
    }
    slow.bench_function("yardstick", |bench| {
        bench.iter(|| {
            let mut random = Random::new(black_box(1));
            black_box((0..6 * USUAL_DRAWS).map(|_| random.uniform()).sum::<f64>())
        });
    });
}

criterion_group!(benches, compression);
criterion_main!(benches);
