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

/// The service gives a connection up after 40 s, and may find it 10 s later; a busy machine is later still.
const GIVEN_UP: std::ops::Range<u64> = 38..90;

const GET: &str = "GET /healthz HTTP/1.1\r\nHost: x\r\n\r\n";

/// Reads until a text has come.
async fn read_until(stream: &mut TcpStream, text: &str) -> String {
    let mut answer = Vec::new();
    while !String::from_utf8_lossy(&answer).contains(text) {
        let length = stream.read_buf(&mut answer).await.unwrap();
        assert!(length > 0, "closed after {}", String::from_utf8_lossy(&answer));
    }
    String::from_utf8_lossy(&answer).into_owned()
}

/// Asks well once, sends the given text in so many pieces, one every three seconds, and sees that the connection is closed.
async fn is_given_up(service: &Service, why: &str, text: &str, pieces: usize) {
    let mut stream = TcpStream::connect(&service.address).await.unwrap();
    stream.write_all(GET.as_bytes()).await.unwrap();
    read_until(&mut stream, "\r\n\r\nok").await;
    let answered = Instant::now();
    let (mut reader, mut writer) = stream.into_split();
    let drip = async {
        for piece in text.as_bytes().chunks(text.len().div_ceil(pieces).max(1)) {
            if writer.write_all(piece).await.is_err() {
                break;
            }
            tokio::time::sleep(Duration::from_secs(3)).await;
        }
        std::future::pending::<()>().await;
    };
    let mut rest = Vec::new();
    let read = tokio::time::timeout(Duration::from_secs(GIVEN_UP.end), reader.read_to_end(&mut rest));
    let closed = tokio::select! {
        closed = read => closed,
        () = drip => unreachable!("it waits for ever"),
    };
    assert!(closed.is_ok(), "{why}: still open");
    assert_eq!(String::from_utf8_lossy(&rest), "", "{why}");
    assert!(GIVEN_UP.contains(&answered.elapsed().as_secs()), "{why}: {:?}", answered.elapsed());
}

/// A client that comes back after half a minute is still known.
async fn an_idle_connection_is_kept_half_a_minute(service: &Service) {
    let mut stream = TcpStream::connect(&service.address).await.unwrap();
    for pause in [30, 0] {
        stream.write_all(GET.as_bytes()).await.unwrap();
        read_until(&mut stream, "\r\n\r\nok").await;
        tokio::time::sleep(Duration::from_secs(pause)).await;
    }
}

/// Nothing more comes after the first answer, so nothing of the client's makes the service look at the second body again.
async fn a_half_body_behind_another_request_is_given_up(service: &Service) {
    let started = Instant::now();
    let body = r#"{"units":"inch","cylinders":8,"bore":4.25,"stroke":4.125}"#;
    let head = "POST /v1/geometry/displacement HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n";
    let whole = format!("{head}Content-Length: {}\r\n\r\n{body}", body.len());
    let half = format!("{head}Content-Length: {}\r\n\r\n{body}", body.len() + 1);
    let mut stream = TcpStream::connect(&service.address).await.unwrap();
    stream.write_all(format!("{whole}{half}").as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    let read = tokio::time::timeout(Duration::from_secs(60), stream.read_to_end(&mut answer)).await;
    let answer = String::from_utf8_lossy(&answer);
    assert!(read.is_ok(), "still open: {answer}");
    assert!(answer.starts_with("HTTP/1.1 200") && answer.contains("HTTP/1.1 408"), "{answer}");
    assert!(answer.contains("/problems/slow-body"), "{answer}");
    assert!((9..60).contains(&started.elapsed().as_secs()), "{:?}", started.elapsed());
}

/// A stream gets on by whole lines, and by pieces of one to which nothing is answered for longer than any clock.
async fn a_stream_lasts_as_long_as_something_comes(service: &Service) {
    let mut stream = TcpStream::connect(&service.address).await.unwrap();
    let head = "POST /v1/geometry/displacement/stream HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-ndjson\r\nTransfer-Encoding: chunked\r\n\r\n";
    stream.write_all(head.as_bytes()).await.unwrap();
    let line = "{\"request\":{\"units\":\"inch\",\"cylinders\":8,\"bore\":4.25,\"stroke\":4.125}}\n";
    let chunk = |text: &str| format!("{:x}\r\n{text}\r\n", text.len());
    for number in 1..=3 {
        stream.write_all(chunk(line).as_bytes()).await.unwrap();
        read_until(&mut stream, &format!("\"line\":{number},")).await;
        tokio::time::sleep(Duration::from_secs(5)).await;
    }
    let (pieces, last) = line.split_at(13);
    for piece in pieces.split_inclusive(|_| true) {
        stream.write_all(chunk(piece).as_bytes()).await.unwrap();
        tokio::time::sleep(Duration::from_secs(5)).await;
    }
    stream.write_all(format!("{}0\r\n\r\n", chunk(last)).as_bytes()).await.unwrap();
    let end = read_until(&mut stream, "\r\n0\r\n\r\n").await;
    assert!(end.contains("\"line\":4,") && end.contains("\"failed\":0"), "{end}");
}

#[tokio::test]
async fn a_connection_on_which_nothing_gets_on_is_closed_and_no_other() {
    let service = Service::start();
    let half = "GET /healthz HTTP/1.1\r\nHos";
    let slow = format!("{half}{}", "t".repeat(30));
    tokio::join!(
        is_given_up(&service, "idle", "", 1),
        is_given_up(&service, "half a second head", half, 1),
        is_given_up(&service, "a second head that drips", &slow, 50),
        an_idle_connection_is_kept_half_a_minute(&service),
        a_half_body_behind_another_request_is_given_up(&service),
        a_stream_lasts_as_long_as_something_comes(&service),
    );
}
