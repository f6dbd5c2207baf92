//! A shop's own rules, builds side by side, and answers that explain themselves.

use serde_json::{Value, json};
use tests::{Service, answer, fixtures, root, run};

const EVALUATE: &str = "/v1/builds/evaluate";
const COMPARE: &str = "/v1/builds/compare";

fn demo() -> Value {
    build("beach_racer_v8.json")
}

fn build(name: &str) -> Value {
    fixtures("builds").into_iter().find(|(file, _)| file == name).unwrap_or_else(|| panic!("no {name}")).1
}

fn with(mut build: Value, name: &str, value: Value) -> Value {
    build[name] = value;
    build
}

fn named(name: &str, build: &Value) -> Value {
    json!({"name": name, "build": build})
}

#[tokio::test]
async fn the_rule_sheet_is_data_that_every_demo_build_takes() {
    let service = Service::start();
    for (file, sheet) in fixtures("rules") {
        let rules = sheet["rules"].as_array().expect("rules");
        for rule in rules {
            let source = rule["source"].as_str().expect("a source");
            assert!(source == "common practice, no source" || source.contains("edition"), "{file}: {source}");
        }
        for (name, build) in fixtures("builds") {
            let (_, plain) = service.post_json(EVALUATE, &build).await;
            let (status, judged) = service.post_json(EVALUATE, &with(build, "rules", sheet["rules"].clone())).await;
            assert_eq!(status, 200, "{file} on {name}: {judged}");
            let (of_rules, own): (Vec<_>, Vec<_>) =
                judged["cautions"].as_array().unwrap().iter().cloned().partition(|one| one["rule"].is_string());
            assert_eq!(&Value::Array(own), &plain["cautions"], "{file} on {name}");
            assert_eq!(judged["cautions"].as_array().unwrap().last(), plain["cautions"].as_array().unwrap().last());
            for rule in rules {
                let found: Vec<_> = of_rules.iter().filter(|one| one["rule"] == rule["name"]).collect();
                let pointer = rule["pointer"].as_str().unwrap();
                match judged.pointer(pointer).and_then(Value::as_f64) {
                    None => {
                        let codes: Vec<_> = found.iter().map(|one| (&one["code"], &one["severity"])).collect();
                        assert_eq!(codes, [(&json!("rule_not_judged"), &json!("note"))], "{name}: {rule}");
                    }
                    // Limits that are bare numbers stand in the unit that the plain ratio has in either system.
                    Some(value) if rule["at_most"].is_number() => {
                        let kept = rule["at_least"].as_f64().is_none_or(|least| value >= least)
                            && value <= rule["at_most"].as_f64().unwrap();
                        assert_eq!(found.is_empty(), kept, "{name}: {rule} for {value}");
                    }
                    Some(_) => assert!(found.len() <= 1),
                }
                for one in found {
                    assert_eq!(one["pointer"], format!("#{pointer}"));
                    assert!(one["detail"].as_str().unwrap().starts_with(rule["name"].as_str().unwrap()));
                    let source = rule["source"].as_str().unwrap();
                    assert_eq!(one["source"], format!("the caller's rule: {source}"));
                }
            }
        }
    }
}

#[tokio::test]
async fn a_bare_limit_stands_in_the_unit_of_its_result() {
    let service = Service::start();
    // The demo's squish clearance is 0.0509 in, 1.294 mm.
    for (limit, broken) in
        [(json!(0.05), true), (json!(0.0515), false), (json!("1.29 mm"), true), (json!("1.3 mm"), false)]
    {
        let rule = json!([{"name": "squish", "pointer": "#/geometry/squish_clearance", "at_most": limit, "severity": "danger",
                           "text": "Too wide."}]);
        let (_, judged) = service.post_json(EVALUATE, &with(demo(), "rules", rule)).await;
        let found: Vec<_> =
            judged["cautions"].as_array().unwrap().iter().filter(|one| one["code"] == "rule_broken").collect();
        assert_eq!(!found.is_empty(), broken, "{limit}");
        for one in found {
            assert_eq!(one["source"], "the caller's rule");
            assert_eq!(one["severity"], "danger");
            assert!(one["detail"].as_str().unwrap().ends_with("Too wide."), "{one}");
        }
    }
}

#[tokio::test]
async fn explanations_come_when_asked_for_and_change_nothing_else() {
    let service = Service::start();
    for (name, build) in fixtures("builds") {
        let (_, plain) = service.post_json(EVALUATE, &build).await;
        let (status, mut explained) = service.post_json(EVALUATE, &with(build.clone(), "explain", json!(true))).await;
        assert_eq!(status, 200, "{name}: {explained}");
        let explanations = explained.as_object_mut().unwrap().remove("explanations").unwrap();
        assert_eq!(explained, plain, "{name}");
        let (_, places) = answer(service.get("/v1/builds/places")).await;
        let results = places["results"].as_array().unwrap().iter().map(|place| place["pointer"].as_str().unwrap());
        let present = results.filter(|pointer| plain.pointer(pointer).is_some()).map(ToOwned::to_owned);
        let cylinders = plain["compression"]["cylinders"].as_array().map_or(0, Vec::len);
        let of_cylinder = |cylinder: usize| {
            let names = ["deck_clearance", "clearance_volume", "static_ratio"].into_iter();
            names.map(move |name| format!("/compression/cylinders/{cylinder}/{name}"))
        };
        let present: Vec<_> = present.chain((0..cylinders).flat_map(of_cylinder)).collect();
        let found: Vec<_> =
            explanations.as_array().unwrap().iter().map(|one| one["pointer"].as_str().unwrap()).collect();
        assert_eq!(found, present, "{name}");
        for one in explanations.as_array().unwrap() {
            let pointer = one["pointer"].as_str().unwrap();
            assert_eq!(plain.pointer(pointer), Some(&one["value"]), "{name} {pointer}");
            assert!(!one["sources"].as_array().unwrap().is_empty());
            assert!(plain["method"].as_array().unwrap().contains(&one["method"]), "{name} {pointer}");
        }
        let (_, without) = service.post_json(EVALUATE, &with(build, "explain", json!(false))).await;
        assert_eq!(without, plain);
    }
}

#[tokio::test]
async fn the_query_and_the_command_line_explain_too() {
    let service = Service::start();
    let query = "units=inch&engine.cylinders=8&engine.layout=vee&block.bore=4.155&block.deck_height=9.475&crankshaft.stroke=3.9\
                 &connecting_rod.length=6.2&piston.compression_height=1.315&cylinder_head.chamber_volume=70.5\
                 &head_gasket.bore=4.2&head_gasket.compressed_thickness=.041";
    let (status, plain) = answer(service.get(&format!("{EVALUATE}?{query}"))).await;
    assert_eq!((status, &plain["explanations"]), (200, &Value::Null), "{plain}");
    let (status, explained) = answer(service.get(&format!("{EVALUATE}?{query}&explain=true"))).await;
    assert_eq!(status, 200, "{explained}");
    assert!(explained["explanations"].as_array().unwrap().len() > 15);

    let file = root().join("fixtures/builds/beach_racer_v8.json").display().to_string();
    let by_command = run(&["evaluate", "--explain", &file], "");
    assert!(by_command.status.success());
    let by_http = service.post(EVALUATE, with(demo(), "explain", json!(true)).to_string());
    let by_http: Value = by_http.send().await.unwrap().json().await.unwrap();
    assert_eq!(serde_json::from_slice::<Value>(&by_command.stdout).unwrap(), by_http);
    let refused = run(&["evaluate", "--explain", "-"], "{\"units\":\"inch\",\"explain\":1}");
    assert_eq!(refused.status.code(), Some(1));
    let problem: Value = serde_json::from_slice(&refused.stderr).unwrap();
    assert!(problem["errors"].as_array().unwrap().iter().any(|one| one["pointer"] == "#/explain"), "{problem}");
}

#[tokio::test]
async fn one_sheet_in_two_unit_systems_is_one_build() {
    let service = Service::start();
    let inch = json!({"units": "inch", "engine": {"cylinders": 4, "layout": "inline"},
        "block": {"bore": 3.7, "deck_height": 8.2}, "crankshaft": {"stroke": 3.1}, "connecting_rod": {"length": 5.3},
        "piston": {"compression_height": 1.33, "pin_offset": 0.03, "dish_volume": 6}, "cylinder_head": {"chamber_volume": 48},
        "head_gasket": {"bore": 3.8, "compressed_thickness": 0.045}, "running": {"engine_speed": 5500},
        "atmosphere": {"altitude": 1000, "intake_temperature": 68}, "camshaft": {"intake_closes_abdc": 50}});
    let metric = json!({"units": "metric", "engine": {"cylinders": 4, "layout": "inline"},
        "block": {"bore": 93.98, "deck_height": 208.28}, "crankshaft": {"stroke": 78.74}, "connecting_rod": {"length": 134.62},
        "piston": {"compression_height": 33.782, "pin_offset": 0.762, "dish_volume": 6}, "cylinder_head": {"chamber_volume": 48},
        "head_gasket": {"bore": 96.52, "compressed_thickness": 1.143}, "running": {"engine_speed": 5500},
        "atmosphere": {"altitude": 304.8, "intake_temperature": 20}, "camshaft": {"intake_closes_abdc": 50}});
    for units in ["inch", "metric"] {
        let request = json!({"units": units, "builds": [named("inch", &inch), named("metric", &metric)]});
        let (status, compared) = service.post_json(COMPARE, &request).await;
        assert_eq!(status, 200, "{compared}");
        let found = &compared["comparisons"][0];
        assert_eq!(found["differences"], json!([]));
        assert_eq!((&found["cautions_gained"], &found["cautions_lost"]), (&json!([]), &json!([])));
    }
    let mut bored = metric.clone();
    bored["block"]["bore"] = json!("3.73 in");
    let request = json!({"units": "inch", "builds": [named("inch", &inch), named("bored", &bored)]});
    let (_, compared) = service.post_json(COMPARE, &request).await;
    let differences = compared["comparisons"][0]["differences"].as_array().unwrap();
    let inputs: Vec<_> = differences.iter().filter(|one| one["about"] == "request").collect();
    assert_eq!(inputs.len(), 1, "{inputs:?}");
    assert_eq!((&inputs[0]["pointer"], &inputs[0]["unit"]), (&json!("/block/bore"), &json!("in")));
    assert!((inputs[0]["difference"].as_f64().unwrap() - 0.03).abs() < 1e-12);
}

#[tokio::test]
async fn differences_are_those_of_two_single_answers() {
    let service = Service::start();
    let (old, mut new) = (demo(), demo());
    new["block"]["deck_height"] = json!(9.782);
    new["camshaft"]["intake_closes_abdc"] = json!(55);
    new["atmosphere"]["intake_temperature"] = json!(60);
    new["units"] = json!("inch");
    let request = json!({"units": "inch", "builds": [named("old", &old), named("new", &new)], "reference": "old"});
    let (status, compared) = service.post_json(COMPARE, &request).await;
    assert_eq!(status, 200, "{compared}");
    let (_, first) = service.post_json(EVALUATE, &old).await;
    let (_, second) = service.post_json(EVALUATE, &new).await;
    let differences = compared["comparisons"][0]["differences"].as_array().unwrap();
    let (_, places) = answer(service.get("/v1/builds/places")).await;
    for place in places["results"].as_array().unwrap() {
        let pointer = place["pointer"].as_str().unwrap();
        let values = (first.pointer(pointer).and_then(Value::as_f64), second.pointer(pointer).and_then(Value::as_f64));
        let found = differences.iter().find(|one| one["pointer"] == pointer);
        match (values, found) {
            ((Some(before), Some(after)), Some(found)) => {
                assert_eq!((&found["old"], &found["new"]), (&json!(before), &json!(after)), "{pointer}");
                assert!((found["difference"].as_f64().unwrap() - (after - before)).abs() < 1e-9 * before.abs());
            }
            ((before, after), found) => assert!(before == after && found.is_none(), "{pointer}: {found:?}"),
        }
    }
    let codes = |answer: &Value, name: &str| -> Vec<(String, String)> {
        let list = answer[name].as_array().unwrap().iter();
        let text = |one: &Value, name: &str| one[name].as_str().unwrap().to_owned();
        list.map(|one| (text(one, "code"), text(one, "pointer"))).collect()
    };
    let (before, after) = (codes(&first, "cautions"), codes(&second, "cautions"));
    let only = |some: &[(String, String)], others: &[(String, String)]| -> Vec<(String, String)> {
        some.iter().filter(|one| !others.contains(one)).cloned().collect()
    };
    let found = &compared["comparisons"][0];
    assert_eq!(codes(found, "cautions_gained"), only(&after, &before));
    assert_eq!(codes(found, "cautions_lost"), only(&before, &after));
    // The squish clearance has gone below what is usual: that comes first.
    assert_eq!(
        codes(found, "cautions_gained"),
        [("squish_tight".to_owned(), "#/geometry/squish_clearance".to_owned())]
    );
    assert_eq!(differences[0]["pointer"], "/geometry/squish_clearance");
    assert_eq!(differences[0]["crosses_limit"], true);
}

#[tokio::test]
async fn ten_builds_are_compared_with_the_one_named() {
    let service = Service::start();
    let variant = |bore: u32| {
        let mut build = demo();
        build["block"]["bore"] = json!(4.15 + 0.005 * f64::from(bore));
        build["piston"]["top_land_diameter"] = json!(4.1);
        named(&format!("bore {bore}"), &build)
    };
    let builds: Vec<_> = (0..10).map(variant).collect();
    let request = json!({"id": "variants", "units": "metric", "builds": builds, "reference": "bore 4"});
    let (status, compared) = service.post_json(COMPARE, &request).await;
    assert_eq!(status, 200, "{compared}");
    assert_eq!((&compared["id"], &compared["reference"]), (&json!("variants"), &json!("bore 4")));
    let comparisons = compared["comparisons"].as_array().unwrap();
    let names: Vec<_> = comparisons.iter().map(|one| one["name"].as_str().unwrap()).collect();
    let others: Vec<_> = (0..10).filter(|bore| *bore != 4).map(|bore| format!("bore {bore}")).collect();
    assert_eq!(names, others);
    for (comparison, bore) in comparisons.iter().zip([0.0, 1.0, 2.0, 3.0, 5.0, 6.0, 7.0, 8.0, 9.0_f64]) {
        let differences = comparison["differences"].as_array().unwrap();
        let of_bore = differences.iter().find(|one| one["pointer"] == "/block/bore").unwrap();
        assert!((of_bore["difference"].as_f64().unwrap() - 0.127 * (bore - 4.0)).abs() < 1e-9, "{of_bore}");
        assert_eq!(of_bore["unit"], "mm");
    }
    assert_eq!(compared["cautions"][0]["code"], "measure_and_mock_up");
}

#[tokio::test]
async fn rules_are_gained_and_lost_like_cautions() {
    let service = Service::start();
    let mut thick = demo();
    thick["head_gasket"]["compressed_thickness"] = json!(0.06);
    let rules = json!([
        {"name": "wide", "pointer": "/geometry/squish_clearance", "at_most": 0.055, "severity": "caution", "text": "Wide."},
        {"name": "high", "pointer": "/compression/static_ratio", "at_most": 12, "severity": "caution", "text": "High."},
    ]);
    let request = json!({"units": "inch", "builds": [named("thin", &demo()), named("thick", &thick)], "rules": rules});
    let (status, compared) = service.post_json(COMPARE, &request).await;
    assert_eq!(status, 200, "{compared}");
    let found = &compared["comparisons"][0];
    let of_rules = |name: &str| -> Vec<&str> {
        found[name].as_array().unwrap().iter().filter_map(|one| one["rule"].as_str()).collect()
    };
    assert_eq!((of_rules("cautions_gained"), of_rules("cautions_lost")), (vec!["wide"], vec!["high"]));
    let crossing: Vec<_> = found["differences"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|one| one["crosses_limit"] == true)
        .map(|one| one["pointer"].as_str().unwrap())
        .collect();
    assert!(crossing.contains(&"/geometry/squish_clearance") && crossing.contains(&"/compression/static_ratio"));
}
