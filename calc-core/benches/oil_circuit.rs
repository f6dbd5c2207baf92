//! Costs of the oil circuit. Yardsticks: 0.035 ms for the cold iteration of 68 elements, 5 ms for a map of 200 points; beside it
//! `tests/load/oil_network.py` measures EPANET's engine on a pipe network of as many links and scipy on this one.

#![allow(clippy::expect_used)]

use std::hint::black_box;

use calc_core::oil::OilInput;
use calc_core::oil::circuit::{self, CircuitInput, Element, Group, Kind, Node, OperatingMap, Study};
use calc_core::units::{
    DynamicViscosity, Flow, KinematicViscosity, Length, Pressure, Ratio, RotationalSpeed, Temperature,
    TemperatureDifference, Volume,
};
use criterion::{Criterion, criterion_group, criterion_main};

fn mm(value: f64) -> Option<Length> {
    Some(Length::from_millimetres(value))
}

/// Pump, relief valve, filter and feed, then for each station along the gallery eight elements: 4 + 8 n.
fn engine(stations: usize) -> CircuitInput {
    let mut nodes = vec!["sump".to_owned(), "pump".to_owned(), "filtered".to_owned(), "gallery 0".to_owned()];
    let mut elements = vec![
        Element {
            displacement: Some(Volume::from_cubic_centimetres(2.4 * stations as f64)),
            drive_ratio: Some(Ratio::from_plain(0.5)),
            slip_flow: Some(Flow::from_litres_per_minute(3.0)),
            slip_pressure: Some(Pressure::from_bar(4.0)),
            slip_viscosity: Some(DynamicViscosity::from_millipascal_seconds(12.0)),
            ..Element::new("pump", Kind::Pump, Group::Other, "sump", "pump")
        },
        Element {
            opening_pressure: Some(Pressure::from_bar(4.0)),
            rated_flow: Some(Flow::from_litres_per_minute(40.0)),
            rated_pressure: Some(Pressure::from_bar(5.0)),
            ..Element::new("relief", Kind::ReliefValve, Group::Other, "pump", "sump")
        },
        Element {
            rated_flow: Some(Flow::from_litres_per_minute(40.0)),
            rated_pressure: Some(Pressure::from_bar(0.3)),
            rated_viscosity: Some(DynamicViscosity::from_millipascal_seconds(12.0)),
            bypass_opening_pressure: Some(Pressure::from_bar(1.0)),
            bypass_rated_flow: Some(Flow::from_litres_per_minute(40.0)),
            bypass_rated_pressure: Some(Pressure::from_bar(1.5)),
            ..Element::new("filter", Kind::Filter, Group::Other, "pump", "filtered")
        },
        Element {
            diameter: mm(12.0),
            length: mm(200.0),
            loss_coefficient: Some(Ratio::from_plain(3.0)),
            ..Element::new("feed", Kind::Passage, Group::Other, "filtered", "gallery 0")
        },
    ];
    for station in 0..stations {
        let name = |what: &str| format!("{what} {station}");
        let (before, here) = (format!("gallery {station}"), format!("gallery {}", station + 1));
        let (main, rod, lifter) = (name("main"), name("rod"), name("lifter"));
        nodes.extend([here.clone(), main.clone(), rod.clone(), lifter.clone()]);
        let passage = |label: &str, from: &str, to: &str, diameter, length| Element {
            diameter: mm(diameter),
            length: mm(length),
            loss_coefficient: Some(Ratio::from_plain(1.0)),
            ..Element::new(&name(label), Kind::Passage, Group::Other, from, to)
        };
        let bearing = |label: &str, from: &str| Element {
            diameter: mm(60.0),
            length: mm(20.0),
            clearance: mm(0.06),
            eccentricity: Some(Ratio::from_plain(0.6)),
            film_temperature_rise: Some(TemperatureDifference::from_celsius_steps(15.0)),
            ..Element::new(&name(label), Kind::JournalBearing, Group::BottomEnd, from, "sump")
        };
        elements.extend([
            passage("gallery", &before, &here, 11.0, 110.0),
            passage("main feed", &here, &main, 7.0, 60.0),
            bearing("main bearing", &main),
            Element {
                diameter: mm(6.0),
                length: mm(90.0),
                entry_radius: mm(30.0),
                exit_radius: mm(42.0),
                inner_radius: mm(18.0),
                ..Element::new(&name("drilling"), Kind::RotatingDrilling, Group::BottomEnd, &main, &rod)
            },
            bearing("rod bearing", &rod),
            Element {
                diameter: mm(2.0),
                length: mm(6.0),
                ..Element::new(&name("restrictor"), Kind::Restrictor, Group::TopEnd, &here, &lifter)
            },
            Element {
                diameter: mm(21.4),
                length: mm(30.0),
                clearance: mm(0.035),
                count: 2,
                ..Element::new(&name("lifters"), Kind::Annulus, Group::TopEnd, &lifter, "sump")
            },
            Element {
                diameter: mm(1.0),
                length: mm(2.0),
                count: 2,
                ..Element::new(&name("rockers"), Kind::Jet, Group::TopEnd, &lifter, "sump")
            },
        ]);
    }
    let node = |name: String| Node { pressure: (name == "sump").then(Pressure::default), name };
    CircuitInput {
        oil: OilInput {
            cool_viscosity: Some(KinematicViscosity::from_square_millimetres_per_second(105.0)),
            hot_viscosity: Some(KinematicViscosity::from_square_millimetres_per_second(14.0)),
            ..OilInput::default()
        },
        oil_temperature: Temperature::from_degrees_celsius(100.0),
        engine_speed: RotationalSpeed::from_revolutions_per_minute(4000.0),
        nodes: nodes.into_iter().map(node).collect(),
        elements,
        pressure_rule: None,
        velocity_limit: None,
        watch: Vec::new(),
        sweep: None,
        map: None,
        size: None,
    }
}

/// The pipes of `tests/load/oil_network.py` between two known pressures: what EPANET can be given.
fn pipes() -> CircuitInput {
    let mut links: Vec<(String, String, f64, f64)> = Vec::new();
    let mut add =
        |from: &str, to: &str, diameter, length| links.push((from.to_owned(), to.to_owned(), diameter, length));
    for (from, to) in [("feed", "a"), ("a", "b"), ("b", "c"), ("c", "g0")] {
        add(from, to, 12.0, 50.0);
    }
    for at in 0..8 {
        let [here, main, rod, lifter] = [format!("g{}", at + 1), format!("m{at}"), format!("r{at}"), format!("l{at}")];
        add(&format!("g{at}"), &here, 11.0, 110.0);
        add(&here, &main, 7.0, 60.0);
        add(&main, "sump", 1.5, 500.0);
        add(&main, &rod, 6.0, 90.0);
        add(&rod, "sump", 1.5, 500.0);
        add(&here, &lifter, 2.0, 100.0);
        add(&lifter, "sump", 1.0, 500.0);
        add(&lifter, "sump", 1.4, 100.0);
    }
    let mut names: Vec<_> = links.iter().flat_map(|(from, to, _, _)| [from.clone(), to.clone()]).collect();
    names.sort();
    names.dedup();
    let known = |name: &str| match name {
        "feed" => Some(Pressure::from_bar(4.0)),
        "sump" => Some(Pressure::default()),
        _ => None,
    };
    let element = |(place, (from, to, diameter, length)): (usize, &(String, String, f64, f64))| Element {
        diameter: mm(*diameter),
        length: mm(*length),
        ..Element::new(&format!("p{place}"), Kind::Passage, Group::Other, from, to)
    };
    CircuitInput {
        nodes: names.into_iter().map(|name| Node { pressure: known(&name), name }).collect(),
        elements: links.iter().enumerate().map(element).collect(),
        ..engine(1)
    }
}

/// Best and median of many single runs, as the counterparts are measured: on a busy machine a mean says little.
fn single_runs(name: &str, runs: usize, mut run: impl FnMut()) {
    let mut times: Vec<_> = (0..runs)
        .map(|_| {
            let begin = std::time::Instant::now();
            run();
            begin.elapsed()
        })
        .collect();
    times.sort_unstable();
    println!("{name}: best {:.1?}, median {:.1?} of {runs} single runs", times[0], times[runs / 2]);
}

fn oil_circuit(criterion: &mut Criterion) {
    // 8 stations are 68 elements, 25 stations 204.
    for stations in [8, 25] {
        let input = engine(stations);
        let count = input.elements.len();
        let mut study = Study::new(&input).expect("the circuit is sound");
        let steps = study.balance(input.engine_speed, input.oil_temperature).map(|(_, steps)| steps);
        println!("{count} elements: {steps:?} steps from a cold start");
        single_runs(&format!("oil/circuit/{count}"), 5000, || {
            study.forget();
            let _ = black_box(study.balance(black_box(input.engine_speed), input.oil_temperature));
        });
        criterion.bench_function(&format!("oil/circuit/{count}"), |bench| {
            bench.iter(|| {
                study.forget();
                black_box(study.balance(black_box(input.engine_speed), input.oil_temperature))
            });
        });
        let speeds = [3990.0, 4010.0].map(RotationalSpeed::from_revolutions_per_minute);
        let mut turn = 0;
        single_runs(&format!("oil/circuit/{count}/warm"), 5000, || {
            turn = 1 - turn;
            let _ = black_box(study.balance(black_box(speeds[turn]), input.oil_temperature));
        });
        criterion.bench_function(&format!("oil/circuit/{count}/warm"), |bench| {
            bench.iter(|| {
                turn = 1 - turn;
                black_box(study.balance(black_box(speeds[turn]), input.oil_temperature))
            });
        });
        criterion.bench_function(&format!("oil/circuit/{count}/whole"), |bench| {
            bench.iter(|| black_box(circuit::evaluate(black_box(&input))));
        });
    }
    let pipes = pipes();
    let mut study = Study::new(&pipes).expect("the network is sound");
    let steps = study.balance(pipes.engine_speed, pipes.oil_temperature).map(|(_, steps)| steps);
    println!("{} pipes: {steps:?} steps from a cold start", pipes.elements.len());
    single_runs("oil/circuit/68 pipes", 5000, || {
        study.forget();
        let _ = black_box(study.balance(black_box(pipes.engine_speed), pipes.oil_temperature));
    });
    criterion.bench_function("oil/circuit/68 pipes", |bench| {
        bench.iter(|| {
            study.forget();
            black_box(study.balance(black_box(pipes.engine_speed), pipes.oil_temperature))
        });
    });
    let map = OperatingMap {
        engine_speeds: (1..=20)
            .map(|step| RotationalSpeed::from_revolutions_per_minute(350.0 * f64::from(step)))
            .collect(),
        oil_temperatures: (0..10)
            .map(|step| Temperature::from_degrees_celsius(40.0 + 10.0 * f64::from(step)))
            .collect(),
    };
    let mapped = CircuitInput { map: Some(map), ..engine(8) };
    single_runs("oil/circuit/68/map of 200", 200, || {
        let _ = black_box(circuit::evaluate(black_box(&mapped)));
    });
    criterion.bench_function("oil/circuit/68/map of 200", |bench| {
        bench.iter(|| black_box(circuit::evaluate(black_box(&mapped))));
    });
}

criterion_group!(benches, oil_circuit);
criterion_main!(benches);
