//! Bad bodies for the forms that take many requests: each gets what it should, and other requests stay fast meanwhile.

use std::time::{Duration, Instant};

use serde_json::{Value, json};
use tests::Service;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

const PATH: &str = "/v1/geometry/displacement";
const GOOD: &str = "{\"request\":{\"units\":\"inch\",\"cylinders\":8,\"bore\":4.25,\"stroke\":4.125}}\n";
/// Far above what other requests take in a debug build on a busy machine, far below what waiting for a bad body would take.
const FAST: Duration = Duration::from_secs(2);

fn media(form: &str) -> &'static str {
    match form.split('?').next() {
        Some("stream") => "application/x-ndjson",
        Some("table") => "text/csv",
        _ => "application/json",
    }
}

async fn post(service: &Service, form: &str, body: impl Into<reqwest::Body>) -> (u16, String) {
    let request = service.request("POST", &format!("{PATH}/{form}")).header("content-type", media(form));
    let response = request.body(body).send().await.unwrap();
    (response.status().as_u16(), response.text().await.unwrap())
}

/// Asks for something small again and again until the work is done; gives its outcome and the slowest answer.
async fn beside<T>(service: &Service, work: impl Future<Output = T>) -> (T, Duration) {
    let mut slowest = Duration::ZERO;
    let ask = async {
        loop {
            let started = Instant::now();
            assert_eq!(service.get("/healthz").send().await.unwrap().status(), 200);
            slowest = slowest.max(started.elapsed());
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
    };
    let outcome = tokio::select! { outcome = work => outcome, () = ask => unreachable!("it asks for ever") };
    (outcome, slowest)
}

fn resident_mebibytes(service: &Service) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{}/status", service.process())).unwrap();
    let line = status.lines().find(|line| line.starts_with("VmHWM")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse::<u64>().unwrap() / 1024
}

fn last_cells(table: &str) -> Vec<String> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(table.as_bytes());
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert!(rows.iter().all(|row| row.len() == rows[0].len()), "every row has every column");
    rows.iter().map(|row| row.iter().next_back().unwrap_or_default().to_owned()).collect()
}

#[tokio::test]
async fn a_header_of_a_million_columns_is_refused_at_once() {
    let service = Service::start();
    let ((status, text), slowest) = beside(&service, post(&service, "table", vec!["bore"; 1_000_000].join(","))).await;
    assert_eq!(status, 413, "{text}");
    assert!(text.contains("The header of a table may have at most 65536 bytes"), "{text}");
    let unknown: Vec<String> = (0..9000).map(|number| format!("c{number}")).collect();
    let ((status, text), _) = beside(&service, post(&service, "table", unknown.join(","))).await;
    let problem: Value = serde_json::from_str(&text).unwrap();
    assert_eq!((status, problem["errors"].as_array().map(Vec::len)), (422, Some(100)));
    assert!(slowest < FAST, "{slowest:?}");
}

#[tokio::test]
async fn headers_that_do_not_fit_name_the_column() {
    let service = Service::start();
    for (query, header, parameter, code) in [
        ("", "units,bore,stroke,bore", "bore", "duplicate_field"),
        ("?bore=4", "units,bore,stroke", "bore", "duplicate_field"),
        ("?bor=4", "units,stroke", "bor", "unknown_field"),
        ("", "units,stroek", "stroek", "unknown_field"),
    ] {
        let (status, text) = post(&service, &format!("table{query}"), header).await;
        assert_eq!(status, 422, "{header}");
        let problem: Value = serde_json::from_str(&text).unwrap();
        assert_eq!(
            (&problem["errors"][0]["parameter"], &problem["errors"][0]["code"]),
            (&json!(parameter), &json!(code)),
            "{header}: {problem}"
        );
    }
}

#[tokio::test]
async fn a_second_header_and_ragged_rows_are_rows_with_a_fault() {
    let service = Service::start();
    let body = "units,cylinders,bore,stroke\nunits,cylinders,bore,stroke\ninch,8,4.25\ninch,8,4.25,4.125,9\n\ninch,8,4.25,4.125\n";
    let (status, text) = post(&service, "table", body).await;
    assert_eq!(status, 200);
    let faults = last_cells(&text);
    assert_eq!(faults.len(), 5, "{text}");
    assert!(faults[1].starts_with("#ERR "), "{text}");
    assert!(faults[2].contains("stroke") || faults[2].contains("displacement"), "{text}");
    assert!(faults[3].contains("has 5 cells; the header has 4"), "{text}");
    assert_eq!(faults[4], "");
}

#[tokio::test]
async fn a_row_that_is_no_text_gets_its_fault_and_the_next_is_answered() {
    let service = Service::start();
    let mut body = b"units,cylinders,bore,stroke\ninch,8,4.25,4.125\n".to_vec();
    body.extend_from_slice(b"inch,8,4\xff25,4.125\ninch,8,4.25,4.125\n");
    let (status, text) = post(&service, "table", body).await;
    let faults = last_cells(&text);
    assert_eq!((status, faults.len()), (200, 4), "{text}");
    assert_eq!((faults[1].as_str(), faults[3].as_str()), ("", ""), "{text}");
    assert!(faults[2] == "#ERR row is not text in UTF-8.", "{text}");
    let (status, _) = post(&service, "table", b"units,\xff\n".to_vec()).await;
    assert_eq!(status, 400);
    assert_eq!(post(&service, "table", "").await.0, 400);
}

#[tokio::test]
async fn a_line_of_a_hundred_megabytes_is_forgotten_and_the_rest_goes_on() {
    let service = Service::start();
    let long = |first: &str, last: &str| {
        let parts = [vec![first.to_owned()], vec!["9".repeat(1 << 20); 100], vec![format!("\n{last}")]];
        reqwest::Body::wrap_stream(futures_util::stream::iter(parts.concat().into_iter().map(Ok::<_, std::io::Error>)))
    };
    let ((_, text), slowest) = beside(&service, post(&service, "stream", long(GOOD, GOOD))).await;
    let kinds: Vec<Value> =
        text.lines().map(|line| serde_json::from_str::<Value>(line).unwrap()["type"].clone()).collect();
    assert_eq!(kinds, ["result", "error", "result", "summary"]);
    assert!(text.contains("\"lines\":3,\"ok\":2,\"failed\":1"));
    let row = "inch,8,4.25,4.125\n";
    let table = long(&format!("units,cylinders,bore,stroke\n{row}"), row);
    let ((_, text), also) = beside(&service, post(&service, "table", table)).await;
    let faults = last_cells(&text);
    assert_eq!((faults.len(), faults[1].as_str(), faults[3].as_str()), (4, "", ""));
    assert!(faults[2] == "#ERR row has more than 65536 bytes.", "{text}");
    assert!(slowest.max(also) < FAST, "{slowest:?} {also:?}");
    assert!(resident_mebibytes(&service) < 96, "{} MiB", resident_mebibytes(&service));
}

#[tokio::test]
async fn compressed_bodies_are_refused() {
    let service = Service::start();
    for form in ["batch", "stream", "table"] {
        let request = service.request("POST", &format!("{PATH}/{form}")).header("content-type", media(form));
        let request = request.header("content-encoding", "gzip").body(b"\x1f\x8b\x08\x00".to_vec());
        assert_eq!(request.send().await.unwrap().status(), 415, "{form}");
    }
}

#[tokio::test]
async fn a_stream_cut_in_the_middle_of_a_line_ends_without_a_summary() {
    let service = Service::start();
    let mut socket = TcpStream::connect(&service.address).await.unwrap();
    let head = format!(
        "POST {PATH}/stream HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-ndjson\r\nContent-Length: 100000\r\n\r\n"
    );
    socket.write_all(format!("{head}{GOOD}{{\"request\":{{\"uni").as_bytes()).await.unwrap();
    let mut buffer = vec![0; 65536];
    let mut seen = String::new();
    while !seen.contains("\"line\":1") {
        let length = tokio::time::timeout(Duration::from_secs(5), socket.read(&mut buffer)).await.unwrap().unwrap();
        seen.push_str(&String::from_utf8_lossy(&buffer[..length]));
    }
    socket.shutdown().await.unwrap();
    let mut rest = Vec::new();
    let _ = tokio::time::timeout(Duration::from_secs(10), socket.read_to_end(&mut rest)).await.unwrap();
    assert!(!String::from_utf8_lossy(&rest).contains("summary"));
    // And the service goes on.
    assert_eq!(post(&service, "stream", GOOD).await.0, 200);
}

#[tokio::test]
async fn a_client_that_never_stops_sending_gets_answers_in_bounded_memory() {
    let service = Service::start();
    let endless = futures_util::stream::iter(std::iter::repeat_with(|| Ok::<_, std::io::Error>(GOOD.repeat(500))));
    let request = service.request("POST", &format!("{PATH}/stream")).header("content-type", media("stream"));
    let work = async {
        let mut response = request.body(reqwest::Body::wrap_stream(endless)).send().await.unwrap();
        let (started, mut length) = (Instant::now(), 0);
        while started.elapsed() < Duration::from_secs(3) {
            length += response.chunk().await.unwrap().map_or(0, |chunk| chunk.len());
        }
        length
    };
    let (length, slowest) = beside(&service, work).await;
    assert!(length > 1 << 20, "{length}");
    assert!(slowest < FAST, "{slowest:?}");
    assert!(resident_mebibytes(&service) < 96, "{} MiB", resident_mebibytes(&service));
    // Where a body must have an end, it is refused at its limit.
    let endless = futures_util::stream::iter(std::iter::repeat_with(|| Ok::<_, std::io::Error>(GOOD.repeat(500))));
    let request = service.request("POST", &format!("{PATH}/batch")).header("content-type", "application/json");
    let refused = request.body(reqwest::Body::wrap_stream(endless)).send().await;
    assert!(refused.map_or(true, |response| response.status() == 413));
}
