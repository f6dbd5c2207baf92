//! A client that hangs up stops the work it asked for.

use std::io::Write;
use std::net::TcpStream;
use std::time::Duration;

use serde_json::{Value, json};
use tests::{Service, root};

/// Processor time of a process, user and system, in clock ticks.
fn ticks(process: u32) -> u64 {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap();
    let fields: Vec<&str> = stat.rsplit(") ").next().unwrap().split(' ').collect();
    fields[11].parse::<u64>().unwrap() + fields[12].parse::<u64>().unwrap()
}

fn send(service: &Service, path: &str, body: &str) -> TcpStream {
    let mut connection = TcpStream::connect(&service.address).unwrap();
    let head = format!(
        "POST {path} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n",
        body.len()
    );
    connection.write_all(head.as_bytes()).unwrap();
    connection.write_all(body.as_bytes()).unwrap();
    connection
}

/// Asks, sees that the work has begun, hangs up, and sees that nothing is left to do.
fn work_ends_with_its_connection(path: &str, body: &str) {
    let service = Service::start();
    let before = ticks(service.process());
    let connection = send(&service, path, body);
    let mut busy = before;
    for _ in 0..100 {
        std::thread::sleep(Duration::from_millis(20));
        busy = ticks(service.process());
        if busy > before + 5 {
            break;
        }
    }
    assert!(busy > before + 5, "the work is going on: {before} to {busy}");
    drop(connection);
    std::thread::sleep(Duration::from_millis(800));
    let left = ticks(service.process());
    std::thread::sleep(Duration::from_millis(500));
    let idle = ticks(service.process());
    assert!(idle <= left + 2, "nothing is left to do: {left} to {idle}");
}

fn example(file: &str) -> Value {
    let text = std::fs::read_to_string(root().join("fixtures/examples").join(file)).unwrap();
    serde_json::from_str(&text).unwrap()
}

#[test]
fn a_batch_ends_with_its_connection() {
    let mut request = example("compression/tolerance.json");
    request["draws"] = 200_000.into();
    let items: Vec<_> = (0..500).map(|_| json!({"request": request})).collect();
    work_ends_with_its_connection("/v1/compression/tolerance/batch", &json!({"items": items}).to_string());
}

/// Each item takes about a second here: it is given up between two pieces of it.
#[test]
fn a_batch_of_whole_builds_ends_inside_an_item() {
    let mut request = example("builds/tolerance.json");
    request["draws"] = 200_000.into();
    let items: Vec<_> = (0..100).map(|_| json!({"request": request})).collect();
    work_ends_with_its_connection("/v1/builds/tolerance/batch", &json!({"items": items}).to_string());
}
