//! Stopping while there is work: what runs ends whole.

use std::time::{Duration, Instant};

use tests::Service;
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::TcpStream;

const LINE: &str = "{\"request\":{\"units\":\"inch\",\"cylinders\":8,\"bore\":4.25,\"stroke\":4.125}}\n";
const HEAD: &str = "POST /v1/geometry/displacement/stream HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-ndjson\r\nTransfer-Encoding: chunked\r\n\r\n";

fn chunk(text: &str) -> String {
    format!("{:x}\r\n{text}\r\n", text.len())
}

#[tokio::test]
async fn a_stream_that_runs_at_termination_ends_whole() {
    let service = Service::start();
    let stream = TcpStream::connect(&service.address).await.unwrap();
    let (reading, mut writing) = stream.into_split();
    let mut reading = BufReader::new(reading);
    writing.write_all(format!("{HEAD}{}", chunk(LINE)).as_bytes()).await.unwrap();
    let mut first = String::new();
    while !first.contains("\"line\":1") {
        assert!(reading.read_line(&mut first).await.unwrap() > 0, "{first}");
    }
    assert!(first.starts_with("HTTP/1.1 200"), "{first}");

    service.terminate();
    let told = Instant::now();
    // A balancer asks on connections of its own, and is told at once.
    let mut ready = true;
    while ready && told.elapsed() < Duration::from_secs(1) {
        ready = service.get("/readyz").send().await.unwrap().status() != 503;
    }
    assert!(!ready, "it says that it is stopping");
    assert!(told.elapsed() < Duration::from_millis(500), "{:?}", told.elapsed());

    // The stream goes on for longer than the notice, and the door is closed meanwhile.
    for _ in 0..16 {
        tokio::time::sleep(Duration::from_millis(250)).await;
        writing.write_all(chunk(LINE).as_bytes()).await.unwrap();
    }
    assert!(TcpStream::connect(&service.address).await.is_err(), "nobody new gets in");
    writing.write_all(b"0\r\n\r\n").await.unwrap();
    let mut rest = String::new();
    tokio::time::timeout(Duration::from_secs(10), reading.read_to_string(&mut rest)).await.unwrap().unwrap();
    assert!(rest.contains("{\"type\":\"summary\",\"lines\":17,\"ok\":17,\"failed\":0}"), "{rest}");
    assert!(rest.ends_with("0\r\n\r\n"), "the last chunk is there: {rest}");
    assert_eq!(service.wait().code(), Some(0));
}
