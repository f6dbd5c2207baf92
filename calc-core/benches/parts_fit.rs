//! The search of a parts catalogue beside a plain loop over the same combinations.

use std::f64::consts::PI;
use std::hint::black_box;

use calc_core::build::fit::catalogue::{
    BearingFields, Catalogue, ConnectingRodFields, CrankshaftFields, CylinderHeadFields, FitBase, HeadGasketFields,
    Part, PistonFields,
};
use calc_core::build::fit::evaluate;
use calc_core::build::fit::question::{Criterion, FitInput, ResultLimit};
use calc_core::build::fit::search::Running;
use calc_core::build::place::Output;
use calc_core::build::sheet::{Block, Engine, Layout};
use calc_core::random::Random;
use calc_core::stop::Stop;
use calc_core::units::{Length, Price, Quantity, Ratio, Volume};
use criterion::{Criterion as Bench, criterion_group, criterion_main};

/// A random catalogue of these sizes: crankshafts, rods, pistons, gaskets, heads.
fn input(sizes: [usize; 5]) -> FitInput {
    let mut random = Random::new(1);
    let mut from = |low: f64, high: f64, step: f64| (low + random.uniform() * (high - low)).div_euclid(step) * step;
    let inch = |value: f64| Some(Length::from_inches(value));
    let cc = |value: f64| Some(Volume::from_cubic_centimetres(value));
    fn part<F>(index: usize, price: f64, fields: F) -> Part<F> {
        Part { part_number: format!("{index}"), price: Some(Price::from_per_set(price)), note: None, fields }
    }
    let [cranks, rods, pistons, gaskets, heads] = sizes;
    let catalogue = Catalogue {
        crankshaft: Some(
            (0..cranks)
                .map(|index| {
                    let fields = CrankshaftFields {
                        stroke: inch(from(3.25, 4.0, 0.005)),
                        rod_journal: inch(2.0 + 0.1 * (index % 2) as f64),
                        bearing_width: None,
                    };
                    part(index, from(300.0, 1500.0, 0.01), fields)
                })
                .collect(),
        ),
        connecting_rod: Some(
            (0..rods)
                .map(|index| {
                    let fields = ConnectingRodFields {
                        length: inch(from(5.7, 6.25, 0.005)),
                        rod_journal: inch(2.0 + 0.1 * (index / 2 % 2) as f64),
                        pin_diameter: inch(if index % 2 == 0 { 0.927 } else { 0.912 }),
                        bearing_width: None,
                    };
                    part(index, from(200.0, 1200.0, 0.01), fields)
                })
                .collect(),
        ),
        piston: Some(
            (0..pistons)
                .map(|index| {
                    let volume = from(-12.0, 25.0, 0.1);
                    let fields = PistonFields {
                        compression_height: inch(from(1.0, 1.8, 0.001)),
                        dish_volume: cc(volume.max(0.0)),
                        dome_volume: cc((-volume).max(0.0)),
                        pin_diameter: inch(if index % 2 == 0 { 0.927 } else { 0.912 }),
                        ..PistonFields::default()
                    };
                    part(index, from(300.0, 1100.0, 0.01), fields)
                })
                .collect(),
        ),
        head_gasket: Some(
            (0..gaskets)
                .map(|index| {
                    let fields = HeadGasketFields {
                        bore: inch(from(4.06, 4.2, 0.01)),
                        compressed_thickness: inch(from(0.015, 0.08, 0.001)),
                        ..HeadGasketFields::default()
                    };
                    part(index, from(20.0, 200.0, 0.01), fields)
                })
                .collect(),
        ),
        cylinder_head: Some(
            (0..heads)
                .map(|index| {
                    part(
                        index,
                        from(500.0, 2500.0, 0.01),
                        CylinderHeadFields {
                            chamber_volume: cc(from(54.0, 80.0, 0.1)),
                            ..CylinderHeadFields::default()
                        },
                    )
                })
                .collect(),
        ),
        bearings: None,
    };
    let limit = |path: &str, low: f64, high: f64| {
        let result = Output::at(path)?;
        Some(ResultLimit { result, at_least: Some(low), at_most: Some(high) })
    };
    FitInput {
        base: FitBase {
            engine: Engine { cylinders: 8, layout: Layout::Vee, bank_angle: None, label_displacement: None },
            block: Block { bore: Length::from_inches(4.03), deck_height: Length::from_inches(9.025) },
            crankshaft: CrankshaftFields::default(),
            connecting_rod: ConnectingRodFields::default(),
            piston: PistonFields::default(),
            head_gasket: HeadGasketFields::default(),
            cylinder_head: CylinderHeadFields::default(),
            bearings: BearingFields::default(),
            camshaft: None,
            running: None,
            atmosphere: None,
        },
        catalogue,
        places: ["catalogue"; 6],
        deck_cut: None,
        head_cut: None,
        limits: [
            limit("geometry/deck_clearance", 0.0, Length::from_inches(0.012).si()),
            limit("geometry/squish_clearance", Length::from_inches(0.036).si(), Length::from_inches(0.046).si()),
            limit("compression/static_ratio", 9.4, 9.6),
        ]
        .into_iter()
        .flatten()
        .collect(),
        preference: vec![
            Criterion::StaticRatio { wanted: Ratio::from_plain(9.5), step: Ratio::from_plain(0.02) },
            Criterion::Price,
        ],
        best: 20,
    }
}

fn threads() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

fn fit(bench: &mut Bench) {
    let stop = Stop::never();
    for (name, sizes, samples) in
        [("432-million", [40, 60, 120, 50, 30], 50), ("million-million", [200, 500, 1000, 200, 50], 10)]
    {
        let mut group = bench.benchmark_group(format!("build/fit/{name}"));
        group.sample_size(samples);
        let input = input(sizes);
        for (order, preference) in [
            ("ratio-then-price", input.preference.clone()),
            ("price-then-ratio", input.preference.iter().rev().copied().collect()),
        ] {
            let input = FitInput { preference, ..input.clone() };
            for threads in [1, threads()] {
                let found = evaluate(&input, &Running { stop: &stop, threads });
                if let Ok(found) = found {
                    println!("{name}: {} considered, {} fit", found.considered, found.fitting);
                }
                group.bench_function(format!("{order}/{threads}-threads"), |bench| {
                    bench.iter(|| evaluate(black_box(&input), &Running { stop: &stop, threads }))
                });
            }
        }
    }
    let input = input([40, 60, 120, 50, 30]);
    let mut group = bench.benchmark_group("build/fit/432-million");
    group.sample_size(10);
    group.bench_function("plain-loop", |bench| bench.iter(|| plain_loop(black_box(&input))));
}

/// The yardstick: counts what fits by three nested conditions, without keys, ranking or answers.
fn plain_loop(input: &FitInput) -> u64 {
    let catalogue = &input.catalogue;
    let si = |length: Option<Length>| length.unwrap_or_default().metres();
    let strokes: Vec<f64> = catalogue.crankshaft.iter().flatten().map(|part| si(part.fields.stroke)).collect();
    let rods: Vec<f64> = catalogue.connecting_rod.iter().flatten().map(|part| si(part.fields.length)).collect();
    let volume = |volume: Option<Volume>| volume.unwrap_or_default().cubic_metres();
    let pistons: Vec<(f64, f64)> = catalogue
        .piston
        .iter()
        .flatten()
        .map(|part| {
            (si(part.fields.compression_height), volume(part.fields.dish_volume) - volume(part.fields.dome_volume))
        })
        .collect();
    let gaskets: Vec<(f64, f64)> = catalogue
        .head_gasket
        .iter()
        .flatten()
        .map(|part| {
            let (bore, thickness) = (si(part.fields.bore), si(part.fields.compressed_thickness));
            (thickness, PI / 4.0 * bore * bore * thickness)
        })
        .collect();
    let chambers: Vec<f64> =
        catalogue.cylinder_head.iter().flatten().map(|part| volume(part.fields.chamber_volume)).collect();
    let ends = |place: usize| [input.limits[place].at_least.unwrap_or(0.0), input.limits[place].at_most.unwrap_or(0.0)];
    let within = |value: f64, [low, high]: [f64; 2]| value >= low && value <= high;
    let area = PI / 4.0 * input.base.block.bore.metres().powi(2);
    let mut count = 0;
    for stroke in &strokes {
        for rod in &rods {
            for (crown, crown_volume) in &pistons {
                let clearance = input.base.block.deck_height.metres() - stroke / 2.0 - rod - crown;
                if !within(clearance, ends(0)) {
                    continue;
                }
                for (thickness, gasket) in &gaskets {
                    if !within(clearance + thickness, ends(1)) {
                        continue;
                    }
                    for chamber in &chambers {
                        let above = chamber + gasket + crown_volume + area * clearance;
                        count += u64::from(within((area * stroke + above) / above, ends(2)));
                    }
                }
            }
        }
    }
    count
}

criterion_group!(benches, fit);
criterion_main!(benches);
