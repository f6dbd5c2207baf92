//! What the oil calculations cost, beside one exponential as a yardstick.

use std::hint::black_box;

use calc_core::oil::OilInput;
use calc_core::oil::restrictor::{self, Edge, RestrictorInput};
use calc_core::oil::restrictor_law;
use calc_core::units::{KinematicViscosity, Length, Pressure, Temperature};
use criterion::{Criterion, criterion_group, criterion_main};

fn oil() -> OilInput {
    OilInput {
        cool_viscosity: Some(KinematicViscosity::from_square_millimetres_per_second(100.0)),
        hot_viscosity: Some(KinematicViscosity::from_square_millimetres_per_second(14.0)),
        ..OilInput::default()
    }
}

fn question() -> RestrictorInput {
    RestrictorInput {
        oil: oil(),
        temperature: Temperature::from_degrees_celsius(95.0),
        diameter: Some(Length::from_inches(0.09)),
        wanted_flow: None,
        length: Length::from_inches(0.25),
        count: 1,
        edge: Edge::Sharp,
        edge_coefficient: None,
        upstream_pressure: Pressure::from_pounds_per_square_inch(60.0),
        downstream_pressure: Pressure::default(),
        air_pressure: None,
        plug_size: None,
        plug_thread: None,
        diameters: None,
        temperatures: None,
    }
}

fn restrictor(criterion: &mut Criterion) {
    criterion.bench_function("yardstick/exp", |bencher| bencher.iter(|| black_box(black_box(1.25_f64).exp())));
    let Ok(law) = oil().law() else { return };
    let temperature = Temperature::from_degrees_celsius(95.0);
    let state = law.state(temperature);
    let drop = Pressure::from_pounds_per_square_inch(60.0);
    criterion.bench_function("oil/state", |bencher| bencher.iter(|| law.state(black_box(temperature))));
    // Length over diameter: thin plate and mix, orifice, orifice fading into a pipe, pipe.
    for slenderness in [0.5, 2.8, 15.0, 40.0] {
        let size = [Length::from_inches(0.09), Length::from_inches(0.09 * slenderness)];
        criterion.bench_function(&format!("oil/restrictor/{slenderness}"), |bencher| {
            bencher.iter(|| restrictor_law::flow(black_box(size), None, black_box(drop), black_box(&state)))
        });
    }
    let question = question();
    criterion.bench_function("oil/restrictor-question", |bencher| {
        bencher.iter(|| restrictor::evaluate(black_box(&question)))
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20).measurement_time(std::time::Duration::from_secs(2));
    targets = restrictor
}
criterion_main!(benches);
