//! What HTTP says about broken, slow and cunning clients (RFC 9112), on raw connections to the real process.

use std::time::{Duration, Instant};

use tests::Service;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

const BODY: &str = r#"{"units":"inch","cylinders":8,"bore":4.25,"stroke":4.125}"#;
const POST: &str = "POST /v1/geometry/displacement HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n";
/// What must never be answered: it stands where a body, or nothing, should be.
const SMUGGLED: &str = "GET /smuggled HTTP/1.1\r\nHost: x\r\n\r\n";
/// Longer than any clock of the service.
const PATIENCE: Duration = Duration::from_secs(40);

async fn connect(service: &Service) -> TcpStream {
    TcpStream::connect(&service.address).await.unwrap()
}

/// Everything that comes until the service closes.
async fn read_to_close(stream: &mut TcpStream) -> String {
    let mut answer = Vec::new();
    let read = async {
        let mut chunk = [0; 16 * 1024];
        loop {
            match stream.read(&mut chunk).await {
                // A connection that is closed while bytes lie unread is reset.
                Ok(0) | Err(_) => return,
                Ok(length) => answer.extend_from_slice(&chunk[..length]),
            }
        }
    };
    assert!(tokio::time::timeout(PATIENCE, read).await.is_ok(), "the connection was not closed");
    String::from_utf8_lossy(&answer).into_owned()
}

async fn exchange(service: &Service, request: &str) -> String {
    let mut stream = connect(service).await;
    // Whoever is refused early may not get rid of the rest.
    let _ = stream.write_all(request.as_bytes()).await;
    read_to_close(&mut stream).await
}

/// The status codes of all answers on a connection.
fn statuses(answer: &str) -> Vec<&str> {
    answer.match_indices("HTTP/1.").map(|(place, _)| answer[place..].split(' ').nth(1).unwrap_or_default()).collect()
}

async fn assert_refused(service: &Service, why: &str, request: &str, status: &str) {
    let answer = exchange(service, request).await;
    assert_eq!(statuses(&answer), [status], "{why}: {answer}");
}

fn high_water_mebibytes(service: &Service) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{}/status", service.process())).unwrap();
    let line = status.lines().find(|line| line.starts_with("VmHWM")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse::<u64>().unwrap() / 1024
}

#[tokio::test]
async fn heads_that_two_readers_could_read_differently_are_refused() {
    let service = Service::start();
    let length = BODY.len();
    let sent = format!("\r\n\r\n{BODY}{SMUGGLED}");
    for head in [
        format!("Content-Length: {length}\r\nTransfer-Encoding: chunked"),
        format!("Transfer-Encoding: chunked\r\nContent-Length: {length}"),
        format!("Content-Length: {length}\r\nContent-Length: 5"),
        format!("Content-Length: {length}\r\nContent-Length: {length}"),
        format!("Content-Length: {length}, {length}"),
        format!("Content-Length: +{length}"),
        "Content-Length: -1".to_owned(),
        "Content-Length: 0x5".to_owned(),
        "Content-Length: 5 7".to_owned(),
        "Content-Length: ".to_owned(),
        "Content-Length: 18446744073709551617".to_owned(),
        "Transfer-Encoding: identity".to_owned(),
        "Transfer-Encoding: xchunked".to_owned(),
        "Transfer-Encoding: gzip, chunked".to_owned(),
        "Transfer-Encoding: chunked, chunked".to_owned(),
        "Transfer-Encoding: chunked\r\nTransfer-Encoding: identity".to_owned(),
        "Transfer-Encoding: \u{b}chunked".to_owned(),
        "Transfer-Encoding: \"chunked\"".to_owned(),
        "Transfer-Encoding:\r\n chunked".to_owned(),
        format!("Content-Length: {length}\r\nX-Folded: a\r\n b: c"),
        format!("Content-Length : {length}"),
        format!("Content-Length: {length}\r\nTransfer-Encoding : chunked"),
        format!("Content-Length {length}"),
        format!("X-Bare: a\rContent-Length: 3\r\nContent-Length: {length}"),
        format!("X-Nothing: a\0b\r\nContent-Length: {length}"),
        format!("Host: other\r\nContent-Length: {length}"),
    ] {
        assert_refused(&service, &head, &format!("{POST}{head}{sent}"), "400").await;
    }
}

#[tokio::test]
async fn chunks_are_read_by_the_letter() {
    let service = Service::start();
    let size = BODY.len();
    let chunked = format!("{POST}Transfer-Encoding: chunked\r\n\r\n");
    for chunks in [
        format!("0x{size:x}\r\n{BODY}\r\n0\r\n\r\n"),
        format!("+{size:x}\r\n{BODY}\r\n0\r\n\r\n"),
        format!("-1\r\n{BODY}\r\n0\r\n\r\n"),
        format!(" {size:x}\r\n{BODY}\r\n0\r\n\r\n"),
        format!("\r\n{BODY}\r\n0\r\n\r\n"),
        format!("{size:x}\n{BODY}\n0\n\n"),
        format!("{size:x};a\nb\r\n{BODY}\r\n0\r\n\r\n"),
        format!("{size:x} 3\r\n{BODY}\r\n0\r\n\r\n"),
        format!("10000000000000000{size:x}\r\n{BODY}\r\n0\r\n\r\n"),
        format!("3\r\n{BODY}\r\n0\r\n\r\n"),
        format!("{:x}\r\n{BODY}\r\n0\r\n\r\n", size + 2),
    ] {
        assert_refused(&service, &chunks, &format!("{chunked}{chunks}{SMUGGLED}"), "400").await;
    }
    // Extensions and trailers are allowed, and mean nothing.
    for chunks in [
        format!("{size:x};a=b\r\n{BODY}\r\n0\r\n\r\n"),
        format!("{size:X}\r\n{BODY}\r\n0\r\nContent-Length: 9\r\n\r\n"),
    ] {
        let last = "GET /healthz HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n";
        let answer = exchange(&service, &format!("{chunked}{chunks}{last}")).await;
        assert_eq!(statuses(&answer), ["200", "200"], "{chunks}: {answer}");
        assert!(answer.ends_with("ok"), "{answer}");
    }
}

/// A body that nobody reads is never taken for the next request.
#[tokio::test]
async fn the_body_of_a_refused_request_is_not_a_request() {
    let service = Service::start();
    let length = SMUGGLED.len();
    for (why, head, status) in [
        ("no media type", "POST /v1/geometry/displacement HTTP/1.1".to_owned(), "415"),
        ("no such address", "POST /nothing HTTP/1.1".to_owned(), "404"),
        ("no such method", "DELETE /v1/geometry/displacement HTTP/1.1".to_owned(), "405"),
        ("a body to a reading", "GET /healthz HTTP/1.1".to_owned(), "200"),
    ] {
        for framing in [
            format!("Content-Length: {length}\r\n\r\n{SMUGGLED}"),
            format!("Transfer-Encoding: chunked\r\n\r\n{length:x}\r\n{SMUGGLED}\r\n0\r\n\r\n"),
        ] {
            let end = "GET /readyz HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n";
            let answer = exchange(&service, &format!("{head}\r\nHost: x\r\n{framing}{end}")).await;
            let found = statuses(&answer);
            // It may close, or go on with what really is the next request.
            assert!(found == [status] || found == [status, "200"], "{why}: {answer}");
        }
    }
    let large = format!("{POST}Content-Length: 99999999\r\n\r\n{SMUGGLED}");
    assert_refused(&service, "too large", &large, "413").await;
}

#[tokio::test]
async fn ten_requests_in_one_segment_get_ten_answers_in_order() {
    let service = Service::start();
    let one = |number: usize| {
        let closing = if number == 10 { "Connection: close\r\n" } else { "" };
        // Every other one has a body.
        if number.is_multiple_of(2) {
            let body = format!(r#"{{"units":"inch","cylinders":{number},"bore":4,"stroke":4}}"#);
            format!("{POST}X-Request-Id: n{number}\r\n{closing}Content-Length: {}\r\n\r\n{body}", body.len())
        } else {
            let query = format!("units=inch&cylinders={number}&bore=4&stroke=4");
            format!(
                "GET /v1/geometry/displacement?{query} HTTP/1.1\r\nHost: x\r\nX-Request-Id: n{number}\r\n{closing}\r\n"
            )
        }
    };
    let all: String = (1..=10).map(one).collect();
    let answer = exchange(&service, &all).await;
    assert_eq!(statuses(&answer), ["200"; 10], "{answer}");
    let ids: Vec<&str> = answer.split("x-request-id: ").skip(1).map(|rest| rest.lines().next().unwrap()).collect();
    assert_eq!(ids, ["n1", "n2", "n3", "n4", "n5", "n6", "n7", "n8", "n9", "n10"]);
    // The same, byte for byte in segments of their own.
    let mut stream = connect(&service).await;
    stream.set_nodelay(true).unwrap();
    for byte in [one(1), one(2), one(10)].concat().as_bytes() {
        stream.write_all(&[*byte]).await.unwrap();
        stream.flush().await.unwrap();
    }
    assert_eq!(statuses(&read_to_close(&mut stream).await), ["200"; 3]);
}

#[tokio::test]
async fn giant_heads_are_refused_in_bounded_memory() {
    let service = Service::start();
    let get = "GET /healthz HTTP/1.1\r\nHost: x\r\n";
    let headers = |count: usize| (0..count).map(|number| format!("X-{number}: a\r\n")).collect::<String>();
    let answer = exchange(&service, &format!("{get}Connection: close\r\n{}\r\n", headers(94))).await;
    assert_eq!(statuses(&answer), ["200"]);
    assert_refused(&service, "many headers", &format!("{get}{}\r\n", headers(10_000)), "431").await;
    assert_refused(&service, "long target", &format!("GET /{} HTTP/1.1\r\nHost: x\r\n\r\n", "a".repeat(70_000)), "400")
        .await;
    let before = high_water_mebibytes(&service);
    let giant = format!("{get}X: {}", "a".repeat(4 << 20));
    let asked = (0..64).map(|_| exchange(&service, &giant));
    for answer in futures_util::future::join_all(asked).await {
        // The refusal itself may be lost in the reset that follows, since so much lies unread.
        assert!(answer.is_empty() || statuses(&answer) == ["431"], "{answer}");
    }
    // Each may hold 128 KiB of head and as much of what follows; 256 MiB were sent.
    let grown = high_water_mebibytes(&service) - before;
    assert!(grown < 48, "{grown} MiB more");
    assert_eq!(service.get("/healthz").send().await.unwrap().status(), 200);
}

#[tokio::test]
async fn targets_and_versions() {
    let service = Service::start();
    let close = "Host: x\r\nConnection: close\r\n\r\n";
    for (request, status) in [
        (format!("GET http://x/healthz HTTP/1.1\r\n{close}"), "200"),
        (format!("OPTIONS * HTTP/1.1\r\n{close}"), "404"),
        (format!("CONNECT x:80 HTTP/1.1\r\n{close}"), "404"),
        ("GET /healthz HTTP/1.0\r\n\r\n".to_owned(), "200"),
        ("GET /healthz HTTP/1.1\r\n\r\n".to_owned(), "400"),
        (format!("GET /healthz HTTP/2.0\r\n{close}"), "400"),
        (format!("GET /healthz HTTP/1.2\r\n{close}"), "400"),
        (format!("GET /healthz http/1.1\r\n{close}"), "400"),
        ("GET /healthz\r\n\r\n".to_owned(), "400"),
        ("PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n".to_owned(), "400"),
        (format!("GET  /healthz HTTP/1.1\r\n{close}"), "400"),
        (format!("GET /heal thz HTTP/1.1\r\n{close}"), "400"),
        (format!("GET /heal\0thz HTTP/1.1\r\n{close}"), "400"),
        (format!("GE(T /healthz HTTP/1.1\r\n{close}"), "400"),
        ("\u{16}\u{3}\u{1}\u{2}\0\u{1}\0\u{1}".to_owned(), "400"),
        ("POST /v1/geometry/displacement HTTP/1.0\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n".to_owned(), "400"),
    ] {
        assert_refused(&service, &request, &request, status).await;
    }
    // A single line feed may end a line (RFC 9112, 2.2): then the head says the same to everybody.
    let answer = exchange(&service, &format!("GET /healthz HTTP/1.1\n{}", close.replace('\r', ""))).await;
    assert_eq!(statuses(&answer), ["200"]);
}

/// A client that closes its sending side has hung up, as a browser does when its page is left: work for it stops.
#[tokio::test]
async fn a_half_closed_connection_is_closed() {
    let service = Service::start();
    let started = Instant::now();
    for request in [
        String::new(),
        "GET /healthz HT".to_owned(),
        format!("{POST}Content-Length: 100\r\n\r\n{{"),
        format!("{POST}Transfer-Encoding: chunked\r\n\r\n5\r\nab"),
    ] {
        let mut stream = connect(&service).await;
        stream.write_all(request.as_bytes()).await.unwrap();
        stream.shutdown().await.unwrap();
        let answer = read_to_close(&mut stream).await;
        assert!(statuses(&answer).iter().all(|status| *status == "400"), "{request}: {answer}");
    }
    assert!(started.elapsed() < Duration::from_secs(8), "{:?}", started.elapsed());
}

/// A byte each second keeps nobody's place: the clocks run from the first byte, not from the last.
#[tokio::test]
async fn dripping_heads_and_bodies_are_given_up() {
    let service = Service::start();
    let drip = async |first: String| {
        let mut stream = connect(&service).await;
        let started = Instant::now();
        stream.write_all(first.as_bytes()).await.unwrap();
        let (mut reading, mut writing) = stream.split();
        let drops = async {
            loop {
                tokio::time::sleep(Duration::from_secs(1)).await;
                if writing.write_all(b"1").await.is_err() {
                    std::future::pending::<()>().await;
                }
            }
        };
        let mut answer = Vec::new();
        tokio::select! {
            () = drops => unreachable!("it never ends"),
            _ = reading.read_to_end(&mut answer) => {}
            () = tokio::time::sleep(PATIENCE) => panic!("the connection was not closed"),
        }
        (String::from_utf8_lossy(&answer).into_owned(), started.elapsed())
    };
    let all = [
        "GET /healthz HTTP/1.1\r\nHost: ".to_owned(),
        format!("{POST}Content-Length: 1000\r\n\r\n"),
        format!("{POST}Transfer-Encoding: chunked\r\n\r\n"),
        format!("{POST}Transfer-Encoding: chunked\r\n\r\nffffffffffffffff\r\n"),
        format!("{POST}Upgrade: websocket\r\nConnection: upgrade\r\n\r\n"),
        // Refused at once, and then not listened to.
        "POST /nothing HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nffffffff\r\n".to_owned(),
    ];
    let given_up = futures_util::future::join_all(all.iter().cloned().map(drip)).await;
    for (request, (answer, took)) in all.iter().zip(given_up) {
        assert!(took < Duration::from_secs(16), "{request}: {took:?}");
        let refused = statuses(&answer);
        let status = if request.contains("/nothing") { "404" } else { "408" };
        assert_eq!(refused, [status], "{request}: {answer}");
    }
}

/// Whoever sends rubbish must not be able to fill the log, or to wake somebody with its errors.
#[tokio::test]
async fn rubbish_is_no_error_in_the_log() {
    let (service, log) = Service::start_logging();
    for request in ["\0\0\0\r\n\r\n", "GET /healthz HTTP/9.9\r\n\r\n", "GET / HTTP/1.1\r\nHost : x\r\n\r\n"] {
        assert_refused(&service, request, request, "400").await;
    }
    assert!(service.end().success());
    let lines = log.join().unwrap();
    assert!(lines.iter().any(|line| line.contains("stopping")), "it is the log: {lines:?}");
    assert!(!lines.iter().any(|line| line.contains("ERROR") || line.contains("WARN")), "{lines:?}");
}
