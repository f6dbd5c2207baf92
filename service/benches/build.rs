//! What a build costs: the arithmetic alone, beside reading and writing the same build as JSON.

#![allow(missing_docs, clippy::expect_used)]

use std::hint::black_box;

use calc_core::build::evaluate::evaluate;
use criterion::{Criterion, criterion_group, criterion_main};
use service::routes::builds::compare::Compare;
use service::routes::builds::evaluate::Evaluate;
use service::routes::builds::sheet::{BuildRequest, EvaluateRequest};
use service::{Calculation, routes};

fn build(criterion: &mut Criterion) {
    let pretty = include_str!("../../fixtures/builds/harbour_launch_v8.json");
    let value: serde_json::Value = serde_json::from_str(pretty).expect("the demo is JSON");
    let text = value.to_string();
    let sheet = serde_json::from_str::<BuildRequest>(&text).expect("the demo is a build").core();
    let request: EvaluateRequest = serde_json::from_str(&text).expect("the demo is a build");
    let answer = Evaluate::run(request).expect("the demo evaluates");
    let entry = routes::calculation("/v1/builds/evaluate").expect("it is in the list");

    let compare = routes::calculation(Compare::PATH).expect("it is in the list");
    let with = |name: &str, more: serde_json::Value| {
        let mut sheet = value.clone();
        sheet[name] = more;
        sheet.to_string().into_bytes()
    };
    let rules: serde_json::Value =
        serde_json::from_str(include_str!("../../fixtures/rules/street_v8.json")).expect("the rules are JSON");
    let (ruled, explained) = (with("rules", rules["rules"].clone()), with("explain", true.into()));
    assert!(entry.answer(&ruled).is_ok() && entry.answer(&explained).is_ok());

    let mut group = criterion.benchmark_group("build");
    group.bench_function("core/evaluate", |bench| bench.iter(|| evaluate(black_box(&sheet))));
    group.bench_function("json/read", |bench| {
        bench.iter(|| serde_json::from_slice::<EvaluateRequest>(black_box(text.as_bytes())));
    });
    group.bench_function("json/read the sheet alone", |bench| {
        bench.iter(|| serde_json::from_slice::<BuildRequest>(black_box(text.as_bytes())));
    });
    group.bench_function("json/write", |bench| bench.iter(|| serde_json::to_vec(black_box(&answer))));
    group.bench_function("whole/answer", |bench| bench.iter(|| entry.answer(black_box(text.as_bytes()))));
    group.bench_function("whole/answer with eleven rules", |bench| bench.iter(|| entry.answer(black_box(&ruled))));
    group.bench_function("whole/answer explained", |bench| bench.iter(|| entry.answer(black_box(&explained))));
    group.bench_function("whole/compare two", |bench| {
        bench.iter(|| compare.answer(black_box(Compare::EXAMPLE.as_bytes())))
    });
    let largest = largest_comparison(&value).to_string();
    assert!(compare.answer(largest.as_bytes()).is_ok());
    group.bench_function("whole/compare ten of 48 measured cylinders", |bench| {
        bench.iter(|| compare.answer(black_box(largest.as_bytes())));
    });
    group.finish();
}

/// Ten builds of 48 cylinders, every reading of each its own.
fn largest_comparison(demo: &serde_json::Value) -> serde_json::Value {
    let build = |number: u32| {
        let mut build = demo.clone();
        build["engine"] = serde_json::json!({"cylinders": 48, "layout": "radial"});
        let list = |of: f64| (0..48).map(|cylinder| of + 1e-3 * f64::from(cylinder + number)).collect::<Vec<_>>();
        build["measured"] = serde_json::json!({"chamber_volumes": list(70.0), "deck_heights": list(9.47)});
        serde_json::json!({"name": number.to_string(), "build": build})
    };
    serde_json::json!({"units": "inch", "builds": (0..10).map(build).collect::<Vec<_>>()})
}

criterion_group!(benches, build);
criterion_main!(benches);
