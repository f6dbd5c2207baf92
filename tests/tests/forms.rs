//! A thousand random build sheets: the same results in all six forms, to the last digit.

use serde_json::{Map, Value, json};
use tests::{Service, answer, root};

const PATH: &str = "/v1/builds/evaluate";
const COUNT: usize = 1000;

/// Numbers between 0 and 1 from a seed.
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }
}

/// Builds with random figures of many digits, optional parts now and then, some of them refused.
fn builds() -> Vec<Value> {
    let demo = std::fs::read_to_string(root().join("fixtures/builds/harbour_launch_v8.json")).unwrap();
    let demo: Value = serde_json::from_str(&demo).unwrap();
    let mut numbers = Numbers(20);
    let build = |index: usize| {
        let mut build = demo.clone();
        build["id"] = json!(format!("row {index}, \"quoted\""));
        build["engine"]["cylinders"] = json!(2 + index % 11);
        build["block"]["bore"] = json!(if index.is_multiple_of(20) { 4.0 } else { numbers.between(4.13, 4.16) });
        build["crankshaft"]["stroke"] = json!(numbers.between(3.85, 3.95));
        build["block"]["deck_height"] = json!(numbers.between(9.46, 9.52));
        build["cylinder_head"]["chamber_volume"] = json!(numbers.between(60.0, 80.0));
        if index.is_multiple_of(3) {
            build["piston"]["pin_offset"] = json!(format!("{} mm", numbers.between(-1.0, 1.0)));
        }
        if index.is_multiple_of(4) {
            build["atmosphere"] = json!({"altitude": numbers.between(0.0, 9000.0)});
        }
        if index.is_multiple_of(5) {
            build.as_object_mut().unwrap().remove("running");
        }
        build
    };
    (0..COUNT).map(build).collect()
}

/// The leaves by dotted name, as text.
fn leaves(value: &Value, prefix: &str, found: &mut Map<String, Value>) {
    for (name, inner) in value.as_object().unwrap() {
        let name = format!("{prefix}{name}");
        match inner {
            Value::Object(_) => leaves(inner, &format!("{name}."), found),
            Value::String(text) => drop(found.insert(name, json!(text))),
            other => drop(found.insert(name, json!(other.to_string()))),
        }
    }
}

fn table(rows: &[Map<String, Value>]) -> (Vec<String>, String) {
    let mut header: Vec<String> = Vec::new();
    for row in rows {
        header.extend(row.keys().filter(|name| !header.contains(name)).cloned().collect::<Vec<_>>());
    }
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(&header).unwrap();
    for row in rows {
        let cell = |name: &String| row.get(name).and_then(Value::as_str).unwrap_or_default().to_owned();
        writer.write_record(header.iter().map(cell)).unwrap();
    }
    (header, String::from_utf8(writer.into_inner().unwrap()).unwrap())
}

#[tokio::test]
async fn a_thousand_random_rows_have_the_same_results_in_all_forms() {
    let service = Service::start();
    let builds = builds();
    let items: Vec<Value> = builds.iter().map(|build| json!({"request": build})).collect();
    let (_, batch) = service.post_json(&format!("{PATH}/batch"), &json!({"items": items})).await;
    let lines = items.iter().map(|item| format!("{item}\n")).collect::<String>();
    let post = service.request("POST", &format!("{PATH}/stream")).header("content-type", "application/x-ndjson");
    let streamed = post.body(lines).send().await.unwrap().text().await.unwrap();
    let streamed: Vec<Value> = streamed.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let rows: Vec<Map<String, Value>> = builds
        .iter()
        .map(|build| {
            let mut row = Map::new();
            leaves(build, "", &mut row);
            row
        })
        .collect();
    let (header, body) = table(&rows);
    let post = service.request("POST", &format!("{PATH}/table")).header("content-type", "text/csv");
    let answered = post.body(body).send().await.unwrap().text().await.unwrap();
    let mut reader = csv::Reader::from_reader(answered.as_bytes());
    let titles = reader.headers().unwrap().clone();
    let records: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!((streamed.len(), records.len()), (COUNT + 1, COUNT));
    let mut refused = 0;
    for (index, build) in builds.iter().enumerate() {
        let (status, single) = service.post_json(PATH, build).await;
        let kind = if status == 200 { "result" } else { "problem" };
        assert_eq!(strip(&batch["items"][index][kind]), strip(&single), "{build}");
        assert_eq!(strip(&streamed[index][kind]), strip(&single));
        let query: Vec<(&str, &str)> =
            rows[index].iter().map(|(name, text)| (name.as_str(), text.as_str().unwrap())).collect();
        let (twin_status, twin) = answer(service.get(&format!("{PATH}?{}", spelled(&query)))).await;
        assert_eq!(twin_status, status);
        let cells: Vec<(&str, &str)> = titles.iter().zip(&records[index]).skip(header.len()).collect();
        if status != 200 {
            refused += 1;
            assert!(cells.last().unwrap().1.starts_with("#ERR "), "{cells:?}");
            continue;
        }
        assert_eq!(twin, single);
        assert_eq!(records[index].get(0), single["id"].as_str());
        check_cells(&service, &single, &cells, &query).await;
    }
    assert!((COUNT / 20..COUNT / 2).contains(&refused), "{refused} refused");
}

fn spelled(query: &[(&str, &str)]) -> String {
    form_urlencoded::Serializer::new(String::new()).extend_pairs(query).finish()
}

/// The request's own id differs by nature.
fn strip(value: &Value) -> Value {
    let mut value = value.clone();
    if let Some(object) = value.as_object_mut() {
        object.remove("request_id");
    }
    value
}

/// Every number of the answer is a cell of the row, and the value form gives the same.
async fn check_cells(service: &Service, single: &Value, cells: &[(&str, &str)], query: &[(&str, &str)]) {
    let mut fields = Vec::new();
    for (title, cell) in cells {
        let name = title.split(" [").next().unwrap();
        let name = name.strip_prefix("answer.").unwrap_or(name);
        match single.pointer(&format!("/{}", name.replace('.', "/"))) {
            Some(Value::Number(number)) => {
                // JSON writes a whole number as 5.0, a cell as 5.
                let cell_number: f64 = cell.parse().unwrap();
                assert_eq!(number.as_f64(), Some(cell_number), "{name}");
                fields.push((name, *cell));
            }
            Some(Value::String(text)) => assert_eq!(text, cell, "{name}"),
            _ if name == "cautions" => {
                let codes =
                    single["cautions"].as_array().unwrap().iter().map(|caution| caution["code"].as_str().unwrap());
                assert_eq!(codes.collect::<Vec<_>>().join(" "), *cell);
            }
            _ => assert_eq!(*cell, "", "{name}"),
        }
    }
    let names = fields.iter().map(|(name, _)| *name).collect::<Vec<_>>().join(",");
    let wanted = [query, &[("fields", names.as_str())]].concat();
    let values = service.get(&format!("{PATH}/value?{}", spelled(&wanted))).send().await.unwrap().text().await.unwrap();
    let values: Vec<&str> = values.split(',').collect();
    assert_eq!(values.len(), fields.len());
    for (value, (name, cell)) in values.iter().zip(&fields) {
        // A cell with three decimals gets a zero more, never another value.
        assert_eq!(value.parse::<f64>().unwrap().to_string(), cell.parse::<f64>().unwrap().to_string(), "{name}");
    }
}
