//! The parts catalogue beyond what one example shows: its size, its bound of work, a client that hangs up, and progress.

use std::fmt::Write as _;
use std::io::Write as _;
use std::net::TcpStream;
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use tests::{Service, answer};

const PATH: &str = "/v1/builds/fit";

/// Rows of CSV: a number of parts whose one dimension goes from `low` on in steps.
fn rows(header: &str, count: usize, low: f64, step: f64) -> String {
    let mut text = format!("part_number,{header}\n");
    for index in 0..count {
        writeln!(text, "{index},{:.4}", low + step * index as f64).unwrap();
    }
    text
}

/// Crankshafts, rods and pistons in these numbers, and no limit that would narrow them.
fn question([cranks, rods, pistons]: [usize; 3]) -> Value {
    json!({
        "units": "inch",
        "base": {
            "engine": {"cylinders": 8, "layout": "vee"},
            "block": {"bore": 4.03, "deck_height": 8.75},
            "head_gasket": {"bore": 4.1, "compressed_thickness": 0.04},
            "cylinder_head": {"chamber_volume": 64},
        },
        "catalogue_csv": {
            "crankshaft": rows("stroke", cranks, 3.2, 0.0004),
            "connecting_rod": rows("length", rods, 5.9, 0.0003),
            "piston": rows("compression_height", pistons, 1.1, 0.0002),
        },
        "limits": [{"pointer": "/compression/static_ratio", "at_least": 9.4, "at_most": 9.6}],
        "preference": [{"by": "static_ratio", "wanted_ratio": 9.5}],
        "best": 3,
    })
}

#[tokio::test]
async fn a_hundred_thousand_parts_are_taken_and_one_more_is_not() {
    let service = Service::start();
    let mut request = question([20, 20, 0]);
    request["catalogue_csv"].as_object_mut().unwrap().remove("piston");
    let piston = |index: usize| {
        json!({
            "part_number": format!("piston number {index}"),
            "note": "one of a great many, each with its own height and dish",
            "price": 1.0 + index as f64 / 100.0,
            "compression_height": 1.1 + (index % 900) as f64 / 1000.0,
            "dish_volume": (index % 37) as f64,
        })
    };
    let pistons = |count: usize| (0..count).map(piston).collect::<Vec<_>>();
    request["catalogue"] = json!({"piston": pistons(100_000 - 40)});
    request["limits"] = json!([{"pointer": "/geometry/deck_clearance", "at_least": 0, "at_most": 0.005},
                               {"pointer": "/compression/static_ratio", "at_least": 9.4, "at_most": 9.6}]);
    request["preference"] = json!([{"by": "static_ratio", "wanted_ratio": 9.5}]);
    assert!(request.to_string().len() > 8 * 1024 * 1024);
    let (status, found) = service.post_json(PATH, &request).await;
    assert_eq!(status, 200, "{found}");
    assert_eq!(found["considered"], 20 * 20 * (100_000 - 40));
    assert_eq!(found["best"].as_array().unwrap().len(), 3);
    request["catalogue"] = json!({"piston": pistons(100_000 - 39)});
    let (status, problem) = service.post_json(PATH, &request).await;
    assert_eq!((status, &problem["errors"][0]["code"]), (422, &json!("too_many")), "{problem}");
}

#[tokio::test]
async fn a_search_that_is_too_large_is_refused_with_the_slot_to_narrow() {
    let service = Service::start();
    let started = Instant::now();
    let (status, problem) = service.post_json(PATH, &question([700, 800, 900])).await;
    assert_eq!(status, 422, "{problem}");
    let fault = &problem["errors"][0];
    assert_eq!((&fault["pointer"], &fault["code"]), (&json!("#/catalogue_csv/piston"), &json!("too_much_work")));
    assert!(fault["detail"].as_str().unwrap().contains("limit geometry/deck_clearance"), "{problem}");
    assert!(started.elapsed() < Duration::from_secs(2), "it is refused before it is begun");
}

#[tokio::test]
async fn a_long_search_of_a_stream_tells_how_far_it_is() {
    let service = Service::start();
    let line = |request: &Value| format!("{}\n", json!({"id": "x", "request": request}));
    let body = line(&question([2, 2, 2])) + &line(&question([80, 100, 1000]));
    assert!(body.len() < 64 * 1024);
    let post = service.request("POST", &format!("{PATH}/stream")).header("content-type", "application/x-ndjson");
    let text = post.body(body).send().await.unwrap().text().await.unwrap();
    let lines: Vec<Value> = text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let of = |kind: &str| lines.iter().filter(|line| line["type"] == kind).collect::<Vec<_>>();
    assert_eq!((of("result").len(), of("error").len()), (2, 0), "{text}");
    let told: Vec<f64> = of("progress").iter().map(|line| line["done"].as_f64().unwrap()).collect();
    assert!(!told.is_empty(), "the second search takes longer than half a second");
    assert!(told.is_sorted() && told.iter().all(|done| (0.0..=1.0).contains(done)), "{told:?}");
    assert!(of("progress").iter().all(|line| line["line"] == 2));
    assert_eq!(lines.last().unwrap()["type"], "summary");
    // The same search on its own finds the same.
    let (_, single) = answer(service.post(PATH, question([80, 100, 1000]).to_string())).await;
    assert_eq!(of("result")[1]["result"], single);
}

/// Processor time of a process, user and system, in clock ticks.
fn ticks(process: u32) -> u64 {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap();
    let fields: Vec<&str> = stat.rsplit(") ").next().unwrap().split(' ').collect();
    fields[11].parse::<u64>().unwrap() + fields[12].parse::<u64>().unwrap()
}

#[test]
fn a_search_ends_with_its_connection() {
    let service = Service::start();
    let body = question([300, 400, 1500]).to_string();
    let mut connection = TcpStream::connect(&service.address).unwrap();
    let head = format!(
        "POST {PATH} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n",
        body.len()
    );
    connection.write_all(head.as_bytes()).unwrap();
    connection.write_all(body.as_bytes()).unwrap();
    let soon = |holds: &dyn Fn() -> bool| {
        let started = Instant::now();
        while !holds() {
            assert!(started.elapsed() < Duration::from_secs(30), "it takes too long");
            std::thread::sleep(Duration::from_millis(100));
        }
    };
    let before = ticks(service.process());
    soon(&|| ticks(service.process()) > before + 20);
    drop(connection);
    let busy = ticks(service.process());
    soon(&|| {
        let now = ticks(service.process());
        std::thread::sleep(Duration::from_millis(500));
        ticks(service.process()) <= now + 1
    });
    // The whole search would take many times as long.
    let left = ticks(service.process());
    assert!(left < busy + 200, "the work ended: {busy} to {left}");
}
