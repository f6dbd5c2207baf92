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

#[test]
fn a_batch_ends_with_its_connection() {
    let service = Service::start();
    let text = std::fs::read_to_string(root().join("fixtures/examples/compression/tolerance.json")).unwrap();
    let mut request: Value = serde_json::from_str(&text).unwrap();
    request["draws"] = 200_000.into();
    let items: Vec<_> = (0..500).map(|_| json!({"request": request})).collect();
    let connection = send(&service, "/v1/compression/tolerance/batch", &json!({"items": items}).to_string());
    let before = ticks(service.process());
    std::thread::sleep(Duration::from_millis(600));
    let busy = ticks(service.process());
    assert!(busy > before + 10, "the work is going on: {before} to {busy}");
    drop(connection);
    std::thread::sleep(Duration::from_millis(800));
    let left = ticks(service.process());
    std::thread::sleep(Duration::from_millis(500));
    let idle = ticks(service.process());
    assert!(idle <= left + 2, "nothing is left to do: {left} to {idle}");
}
