//! What the charge calculations cost, beside one exponential as a yardstick.

use std::hint::black_box;

use calc_core::compression::end_state::{self, EndStateInput, GasModel};
use calc_core::compression::knock_input::KnockMarginInput;
use calc_core::compression::knock_margin;
use calc_core::units::{Angle, Length, Pressure, Ratio, RotationalSpeed, Temperature};
use criterion::{Criterion, criterion_group, criterion_main};

fn end() -> EndStateInput {
    EndStateInput {
        ratio: Ratio::from_plain(9.0),
        start_pressure: Pressure::from_bar(1.0),
        start_temperature: Temperature::from_degrees_celsius(40.0),
        gas_model: GasModel::DryAir,
        polytropic_exponent: None,
        ambient_pressure: None,
    }
}

fn knock() -> KnockMarginInput {
    KnockMarginInput {
        stroke: Length::from_millimetres(90.0),
        rod_length: Length::from_millimetres(140.0),
        pin_offset: Length::default(),
        static_ratio: Ratio::from_plain(10.0),
        intake_closes_abdc: Angle::from_degrees(60.0),
        trapped_pressure: Pressure::from_bar(1.0),
        trapped_temperature: Temperature::from_degrees_celsius(70.0),
        spark_advances: vec![Angle::from_degrees(25.0)],
        engine_speeds: vec![RotationalSpeed::from_revolutions_per_minute(3000.0)],
        fuel_octane_number: None,
        burn_duration: None,
        wiebe_factor: None,
        wiebe_form: None,
        heating_value: None,
        stoichiometric_ratio: None,
        air_fuel_ratio: None,
        residual_share: None,
        released_share: None,
        include_history: false,
    }
}

fn charge(criterion: &mut Criterion) {
    let (end, knock) = (end(), knock());
    criterion.bench_function("yardstick/exp", |bencher| bencher.iter(|| black_box(black_box(1.25_f64).exp())));
    criterion.bench_function("compression/end-state", |bencher| bencher.iter(|| end_state::evaluate(black_box(&end))));
    criterion.bench_function("compression/knock-margin", |bencher| {
        bencher.iter(|| knock_margin::evaluate(black_box(&knock)))
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20).measurement_time(std::time::Duration::from_secs(2));
    targets = charge
}
criterion_main!(benches);
