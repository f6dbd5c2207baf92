//! What spreadsheets need of the service, checked without an office: they cannot set headers, lose every body that is not a
//! success, ask HEAD and OPTIONS first, and read numbers by the rules of the user's country.

use std::time::{Duration, Instant};

use tests::{Service, answer, root, run};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

const CELL: &str = "/v1/geometry/displacement/value";
const QUERY: &str = "units=inch&cylinders=8&bore=4.25&stroke=4.125";

async fn cell(service: &Service, query: &str) -> String {
    let answer = service.get(&format!("{CELL}?errors=inline&{query}")).send().await.unwrap();
    assert_eq!(answer.status(), 200, "{query}");
    answer.text().await.unwrap()
}

#[tokio::test]
async fn numbers_are_read_as_macros_and_cells_write_them() {
    let service = Service::start();
    let bore =
        async |text: &str| cell(&service, &format!("units=inch&cylinders=1&stroke=2&field=bore&bore={text}")).await;
    for (sent, got) in [
        (".5", "0.5"),
        ("%20.5%20", "0.5"),
        ("5.", "5"),
        ("5E-01", "0.5"),
        ("5E%2B00", "5"),
        ("3%2E48", "3.48"),
        ("1.125", "1.1250"),
        ("4.0625", "4.0625"),
        ("4in", "4"),
        ("101.6%20mm", "4"),
    ] {
        assert_eq!(bore(sent).await, got, "{sent}");
    }
    for (sent, words) in [
        ("4,03", "#ERR bore '4;03' is not a number; use a point as the decimal separator."),
        ("4,03%20in", "use a point as the decimal separator."),
        ("NaN", "is not a number"),
        ("inf", "is not a number"),
        ("-.125", "#ERR bore "),
        ("", "is empty"),
        ("1E-05", "#ERR bore "),
    ] {
        let text = bore(sent).await;
        assert!(text.contains(words) && text.starts_with("#ERR bore "), "{sent}: {text}");
    }
}

#[tokio::test]
async fn a_fault_in_a_cell_is_one_plain_line() {
    let service = Service::start();
    for query in [
        "units=inch",
        "units=%C3%A4,%22%0A",
        "units=inch&cylinders=8&bore=4&stroke=4&field=nothing",
        "units=inch&cylinders=8&bore=4&stroke=4&field=",
        "units=inch&cylinders=8&bore=4&stroke=4&fields=bore,,stroke",
        "units=inch&cylinders=8&bore=4&stroke=4&errors=loud",
        &format!("{QUERY}&fields={}", "bore,".repeat(101)),
        &format!("{}=1", "x".repeat(5000)),
    ] {
        let text = cell(&service, query).await;
        let plain = text.bytes().all(|byte| (b' '..=b'~').contains(&byte) && byte != b',' && byte != b'"');
        assert!(text.starts_with("#ERR ") && plain && text.len() <= 200, "{query}: {text}");
    }
}

#[tokio::test]
async fn cautions_come_as_codes_or_as_a_word() {
    let service = Service::start();
    let request =
        "units=inch&deck_height=9.475&stroke=3.9&rod_length=6.2&compression_height=1.315&gasket_thickness=0.041";
    let path = "/v1/geometry/deck-stack";
    let (_, whole) = answer(service.get(&format!("{path}?{request}"))).await;
    let codes: Vec<_> =
        whole["cautions"].as_array().unwrap().iter().map(|caution| caution["code"].as_str().unwrap()).collect();
    assert!(!codes.is_empty(), "{whole}");
    let text = service.get(&format!("{path}/value?{request}&field=cautions")).send().await.unwrap();
    assert_eq!(text.text().await.unwrap(), codes.join(" "));
    let text = service.get(&format!("{path}/value?{request}&field=cautions.0.detail")).send().await.unwrap();
    assert_eq!(text.text().await.unwrap(), whole["cautions"][0]["detail"].as_str().unwrap());
    assert_eq!(cell(&service, &format!("{QUERY}&field=cautions")).await, "none");
}

#[tokio::test]
async fn head_has_the_headers_of_get() {
    let service = Service::start();
    for path in [
        format!("{CELL}?{QUERY}"),
        format!("{CELL}?{QUERY}&field=nothing"),
        format!("{CELL}?{QUERY}&field=nothing&errors=inline"),
        format!("{CELL}?units=inch"),
        "/v1/workbook.xlsx".to_owned(),
        "/v1/methods".to_owned(),
    ] {
        // The id of the request is part of a problem, so both ask under one.
        let get = service.get(&path).header("x-request-id", "same").send().await.unwrap();
        let head = service.request("HEAD", &path).header("x-request-id", "same").send().await.unwrap();
        assert_eq!(head.status(), get.status(), "{path}");
        let headers = |answer: &reqwest::Response| {
            let mut headers: Vec<_> =
                answer.headers().iter().map(|(name, text)| (name.clone(), text.clone())).collect();
            headers.retain(|(name, _)| name != "date");
            headers.sort_by(|a, b| a.0.as_str().cmp(b.0.as_str()));
            headers
        };
        assert_eq!(headers(&head), headers(&get), "{path}");
        assert!(head.bytes().await.unwrap().is_empty());
    }
}

#[tokio::test]
async fn options_never_asks_who_is_there() {
    let service = Service::start();
    for path in [CELL, "/v1/geometry/displacement/table", "/v1/workbook.xlsx", "/v1/methods", "/nothing"] {
        let answer = service.request("OPTIONS", path).send().await.unwrap();
        assert!([204, 404].contains(&answer.status().as_u16()), "{path}: {}", answer.status());
        assert!(answer.headers().get("dav").is_none(), "a cell would ask PROPFIND");
        assert!(answer.headers().get("www-authenticate").is_none());
    }
}

#[tokio::test]
async fn scripts_of_other_origins_can_read_refusals() {
    let service = Service::start_with(&["--cors-origins", "*"]);
    for path in [format!("{CELL}?units=inch"), "/nothing".to_owned()] {
        let refused = service.get(&path).header("origin", "https://sheet.example").send().await.unwrap();
        assert!(refused.status().is_client_error());
        assert_eq!(refused.headers()["access-control-allow-origin"], "*", "{path}");
        assert_eq!(refused.headers()["access-control-expose-headers"], "x-request-id", "{path}");
    }
}

/// The office's macros send a table in chunks and wait for leave to do so: a service that does not give it costs a second.
#[tokio::test]
async fn a_table_in_chunks_is_answered_at_once() {
    let service = Service::start();
    let mut socket = TcpStream::connect(&service.address).await.unwrap();
    let head = "POST /v1/geometry/displacement/table?units=inch&cylinders=8&errors=inline HTTP/1.1\r\nHost: x\r\n\
                Content-Type: text/csv\r\nTransfer-Encoding: chunked\r\nExpect: 100-continue\r\n\r\n";
    let started = Instant::now();
    socket.write_all(head.as_bytes()).await.unwrap();
    let leave = read_until(&mut socket, "\r\n\r\n").await;
    assert!(leave.starts_with("HTTP/1.1 100 "), "{leave}");
    assert!(started.elapsed() < Duration::from_millis(100), "{:?}", started.elapsed());
    let rows: String = (0..1000).map(|row| format!("{},4.125\r\n", 2.0 + f64::from(row) / 500.0)).collect();
    let body = format!("bore,stroke\r\n{rows}");
    for part in body.as_bytes().chunks(1000) {
        socket.write_all(format!("{:x}\r\n", part.len()).as_bytes()).await.unwrap();
        socket.write_all(part).await.unwrap();
        socket.write_all(b"\r\n").await.unwrap();
    }
    socket.write_all(b"0\r\n\r\n").await.unwrap();
    let sent = Instant::now();
    let head = read_until(&mut socket, "\r\n\r\n").await;
    assert!(head.starts_with("HTTP/1.1 200 "), "{head}");
    // The first answer of a kind also compiles its shape; a debug build on a busy machine gets some room for both.
    assert!(sent.elapsed() < Duration::from_secs(2), "{:?}", sent.elapsed());
}

async fn read_until(socket: &mut TcpStream, end: &str) -> String {
    let mut seen = String::new();
    let mut buffer = vec![0; 4096];
    while !seen.contains(end) {
        let read = tokio::time::timeout(Duration::from_secs(10), socket.read(&mut buffer)).await.unwrap().unwrap();
        assert!(read > 0, "closed after {seen}");
        seen.push_str(&String::from_utf8_lossy(&buffer[..read]));
    }
    seen
}

#[test]
fn the_committed_modules_are_the_generated_ones() {
    for (language, file) in [("basic", "Blockwright.bas"), ("vba", "BlockwrightVba.bas"), ("python", "blockwright.py")]
    {
        let generated = run(&["spreadsheet", language], "");
        assert!(generated.status.success());
        let committed = std::fs::read(root().join("fixtures/spreadsheet").join(file)).unwrap();
        assert!(
            generated.stdout == committed,
            "{file} is out of date: cargo run -p service -- spreadsheet {language} > fixtures/spreadsheet/{file}"
        );
    }
}

#[tokio::test]
async fn every_calculation_with_a_value_is_in_every_module() {
    let service = Service::start();
    let (_, document) = answer(service.get("/openapi.json")).await;
    let paths = document["paths"].as_object().unwrap();
    let mut names: Vec<_> = paths.keys().filter_map(|path| path.strip_prefix("/v1/")?.strip_suffix("/value")).collect();
    // An oil system has more inputs than a formula or a function of a macro can list.
    names.retain(|name| *name != "oil/budget");
    assert!(names.len() > 10);
    for file in ["Blockwright.bas", "BlockwrightVba.bas", "blockwright.py"] {
        let module = std::fs::read_to_string(root().join("fixtures/spreadsheet").join(file)).unwrap();
        for name in &names {
            let function = name.replace(['/', '-'], "_");
            let has = |text: String| module.contains(&text);
            assert!(has(format!("Function Bw_{function}(")) || has(format!("\ndef {function}(")), "{file}: {name}");
            assert!(has(format!("\"{name}\"")), "{file}: {name}");
        }
    }
}

#[tokio::test]
async fn the_workbook_calls_the_address_that_it_came_from() {
    let service = Service::start();
    let get = service.get("/v1/workbook.xlsx").send().await.unwrap();
    assert_eq!(get.status(), 200);
    assert_eq!(get.headers()["content-disposition"], "attachment; filename=\"blockwright.xlsx\"");
    let first = get.bytes().await.unwrap();
    assert!(first.starts_with(b"PK\x03\x04") && first.len() < 1024 * 1024, "{} bytes", first.len());
    assert_eq!(service.get("/v1/workbook.xlsx").send().await.unwrap().bytes().await.unwrap(), first);
    let proxied = service.get("/v1/workbook.xlsx").header("x-forwarded-proto", "https");
    let proxied = proxied.header("x-forwarded-host", "shop.example").send().await.unwrap().bytes().await.unwrap();
    assert_ne!(proxied, first);
    // What is no host name does not get into a cell.
    let odd = service.get("/v1/workbook.xlsx").header("x-forwarded-host", "a\"&b").send().await.unwrap();
    assert_eq!(odd.status(), 200);
}
