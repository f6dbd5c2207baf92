//! The fixtures against the running service: published values, refusals, examples and demo builds.

use serde_json::Value;
use tests::{Service, answer, fixtures};

#[tokio::test]
async fn published_values_are_met() {
    let service = Service::start();
    let mut compared = 0;
    for (file, fixture) in fixtures("published") {
        let path = fixture["path"].as_str().expect("a path");
        for check in fixture["checks"].as_array().expect("checks") {
            let source = check["source"].as_str().expect("a source");
            let (status, body) = service.post_json(path, &check["request"]).await;
            assert_eq!(status, 200, "{file}, {source}: {body}");
            let methods = body["method"].as_array().expect("methods");
            assert!(
                methods.contains(&check["method"]),
                "{file}, {source}: the answer does not use {}",
                check["method"]
            );
            for expected in check["expect"].as_array().expect("expected values") {
                let pointer = expected["pointer"].as_str().expect("a pointer");
                let found = body.pointer(pointer).and_then(Value::as_f64);
                let found = found.unwrap_or_else(|| panic!("{file}, {source}: {pointer} is not in {body}"));
                let (value, within) = (expected["value"].as_f64().unwrap(), expected["within"].as_f64().unwrap());
                assert!(
                    (found - value).abs() <= within,
                    "{file}, {source}: {pointer} is {found}, printed {value} +- {within}"
                );
                compared += 1;
            }
        }
    }
    assert!(compared > 20, "the files hold values");
}

#[tokio::test]
async fn refusals_name_every_fault_and_nothing_else() {
    let service = Service::start();
    for (file, fixture) in fixtures("refused") {
        let path = fixture["path"].as_str().expect("a path");
        for case in fixture["cases"].as_array().expect("cases") {
            let why = case["why"].as_str().expect("a reason");
            let body = case["text"].as_str().map_or_else(|| case["body"].to_string(), ToOwned::to_owned);
            let (status, problem) = answer(service.post(path, body)).await;
            assert_eq!(Some(u64::from(status)), case["status"].as_u64(), "{file}, {why}: {problem}");
            assert!(problem["request_id"].is_string() && problem["title"].is_string(), "{file}, {why}: {problem}");
            assert_eq!(problem["status"].as_u64(), case["status"].as_u64(), "{file}, {why}");
            let place =
                |error: &Value| format!("{} {}", error["pointer"].as_str().unwrap(), error["code"].as_str().unwrap());
            let mut found: Vec<_> = problem["errors"].as_array().into_iter().flatten().map(place).collect();
            let mut wanted: Vec<_> = case["errors"].as_array().into_iter().flatten().map(place).collect();
            found.sort();
            wanted.sort();
            assert_eq!(found, wanted, "{file}, {why}: {problem}");
            if let Some(says) = case["says"].as_str() {
                assert!(problem.to_string().contains(says), "{file}, {why}: '{says}' is not said in {problem}");
            }
        }
    }
}

#[tokio::test]
async fn every_calculation_has_an_example_that_works_and_fixtures_of_its_own() {
    let service = Service::start();
    let (_, document) = answer(service.get("/openapi.json")).await;
    let (published, refused) = (fixtures("published"), fixtures("refused"));
    let mut calculations = 0;
    for (path, item) in document["paths"].as_object().expect("paths") {
        let example = &item["post"]["requestBody"]["content"]["application/json"]["example"];
        let bulk = ["/batch", "/stream", "/table", "/csv"].iter().any(|suffix| path.ends_with(suffix));
        if !path.starts_with("/v1/") || item["post"].is_null() || bulk {
            continue;
        }
        calculations += 1;
        let (status, body) = service.post_json(path, example).await;
        assert_eq!(status, 200, "{path}: {body}");
        for (kind, files) in [("published", &published), ("refused", &refused)] {
            assert!(files.iter().any(|(_, fixture)| fixture["path"] == path.as_str()), "{path} has no fixtures/{kind}");
        }
    }
    assert!(calculations >= 5);
}

#[tokio::test]
async fn every_demo_build_evaluates() {
    let service = Service::start();
    let builds = fixtures("builds");
    assert!(builds.len() >= 6);
    let mut layouts = Vec::new();
    for (file, build) in builds {
        let (status, body) = service.post_json("/v1/builds/evaluate", &build).await;
        assert_eq!(status, 200, "{file}: {body}");
        assert_eq!(body["title"], build["title"]);
        layouts.push(build["engine"]["layout"].as_str().unwrap().to_owned());
    }
    layouts.sort();
    layouts.dedup();
    assert_eq!(layouts, ["flat", "inline", "radial", "vee"]);
}
