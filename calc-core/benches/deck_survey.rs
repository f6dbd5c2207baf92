//! Time of a deck survey of two banks with twelve points each; the yardstick is the linear programme of
//! `tests/reference/minimum_zone.py` on the same points.

use std::hint::black_box;

use calc_core::geometry::deck_survey::{Bank, CrossSlope, DeckSurveyInput, evaluate};
use calc_core::geometry::surface::{SurfacePoint, minimum_zone};
use calc_core::units::Length;
use criterion::{Criterion, criterion_group, criterion_main};

/// Twelve points of one bank: tilted, twisted and worn, the same as in the yardstick.
fn bank(index: u32) -> Bank {
    let point = |place: u32| {
        let (along, across) = (120.0 * f64::from(place % 6), if place < 6 { -70.0 } else { 60.0 });
        let worn = 0.01 * f64::from((place * 7 + index * 3) % 5);
        let height = 230.0 + 1e-4 * along - 2e-4 * across + 1e-7 * along * across + worn;
        SurfacePoint {
            along: Length::from_millimetres(along),
            across: Length::from_millimetres(across),
            height: Length::from_millimetres(height),
        }
    };
    Bank { points: (0..12).map(point).collect(), cylinders: Vec::new() }
}

fn surveys(criterion: &mut Criterion) {
    let input = DeckSurveyInput {
        banks: vec![bank(0), bank(1)],
        cross_slope: CrossSlope::SquareToBore,
        equal_banks: true,
        cleanup_allowance: Length::default(),
        stack: None,
    };
    criterion.bench_function("geometry/deck_survey/2x12", |bench| bench.iter(|| evaluate(black_box(&input))));
    let free = DeckSurveyInput { cross_slope: CrossSlope::Free, ..input.clone() };
    criterion.bench_function("geometry/deck_survey/2x12/free", |bench| bench.iter(|| evaluate(black_box(&free))));
    criterion.bench_function("geometry/minimum_zone/12", |bench| {
        bench.iter(|| minimum_zone(black_box(&input.banks[0].points)));
    });
}

criterion_group!(benches, surveys);
criterion_main!(benches);
