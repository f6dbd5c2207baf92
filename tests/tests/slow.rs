//! Clocks and limits that need a raw connection.

use std::time::{Duration, Instant};

use tests::Service;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

async fn exchange(service: &Service, text: &str) -> String {
    let mut stream = TcpStream::connect(&service.address).await.unwrap();
    stream.write_all(text.as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    let read = tokio::time::timeout(Duration::from_secs(20), stream.read_to_end(&mut answer)).await;
    assert!(read.is_ok(), "the connection was not closed");
    String::from_utf8_lossy(&answer).into_owned()
}

#[tokio::test]
async fn half_a_body_is_given_up_after_ten_seconds() {
    let service = Service::start();
    let started = Instant::now();
    let head = "POST /v1/geometry/displacement HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\n{\"units\"";
    let answer = exchange(&service, head).await;
    assert!(answer.starts_with("HTTP/1.1 408"), "{answer}");
    assert!(answer.contains("/problems/slow-body"), "{answer}");
    assert!((9..15).contains(&started.elapsed().as_secs()), "{:?}", started.elapsed());
}

#[tokio::test]
async fn half_a_head_is_given_up_after_ten_seconds() {
    let service = Service::start();
    let answer = exchange(&service, "GET /healthz HTTP/1.1\r\nHost:").await;
    assert!(answer.starts_with("HTTP/1.1 408"), "{answer}");
}

#[tokio::test]
async fn a_client_that_waits_for_leave_to_send_gets_it_at_once() {
    let service = Service::start();
    let mut stream = TcpStream::connect(&service.address).await.unwrap();
    let body = r#"{"units":"inch","cylinders":8,"bore":4.25,"stroke":4.125}"#;
    let head = "POST /v1/geometry/displacement HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nExpect: 100-continue\r\nTransfer-Encoding: chunked\r\n\r\n";
    let started = Instant::now();
    stream.write_all(head.as_bytes()).await.unwrap();
    let mut buffer = vec![0; 4096];
    let length = stream.read(&mut buffer).await.unwrap();
    assert!(String::from_utf8_lossy(&buffer[..length]).starts_with("HTTP/1.1 100"));
    stream.write_all(format!("{:x}\r\n{body}\r\n0\r\n\r\n", body.len()).as_bytes()).await.unwrap();
    let length = stream.read(&mut buffer).await.unwrap();
    assert!(String::from_utf8_lossy(&buffer[..length]).starts_with("HTTP/1.1 200"));
    assert!(started.elapsed() < Duration::from_millis(500));
}

#[tokio::test]
async fn a_client_that_stops_reading_is_dropped_and_the_others_do_not_wait() {
    let service = Service::start();
    let mut stream = TcpStream::connect(&service.address).await.unwrap();
    let head = "POST /v1/geometry/displacement/stream HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-ndjson\r\nTransfer-Encoding: chunked\r\n\r\n";
    stream.write_all(head.as_bytes()).await.unwrap();
    let line = "{\"request\":{\"units\":\"inch\",\"cylinders\":8,\"bore\":4.25,\"stroke\":4.125}}\n".repeat(500);
    let chunk = format!("{:x}\r\n{line}\r\n", line.len());
    let started = Instant::now();
    // It sends and never reads: writing stalls once the buffers are full, and ends in an error when it is dropped.
    let dropped = tokio::spawn(async move { while stream.write_all(chunk.as_bytes()).await.is_ok() {} });
    let mut slowest = Duration::ZERO;
    while !dropped.is_finished() && started.elapsed() < Duration::from_secs(60) {
        let asked = Instant::now();
        assert_eq!(service.get("/healthz").send().await.unwrap().status(), 200);
        slowest = slowest.max(asked.elapsed());
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    assert!(dropped.is_finished(), "it still holds its connection after {:?}", started.elapsed());
    assert!(started.elapsed() > Duration::from_secs(10), "{:?}", started.elapsed());
    assert!(slowest < Duration::from_secs(2), "{slowest:?}");
}
