//! The forms for many requests at once.

use std::process::Command;
use std::time::{Duration, Instant};

use futures_util::StreamExt;
use serde_json::{Value, json};
use tests::{Service, answer, run};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

const PATH: &str = "/v1/geometry/displacement";

fn request(bore: f64) -> Value {
    json!({"units": "inch", "cylinders": 8, "bore": bore, "stroke": 4.125})
}

fn lines(text: &str) -> Vec<Value> {
    text.lines().map(|line| serde_json::from_str(line).unwrap_or_else(|error| panic!("{error}: {line}"))).collect()
}

async fn stream(service: &Service, body: impl Into<reqwest::Body>) -> Vec<Value> {
    let post = service.request("POST", &format!("{PATH}/stream")).header("content-type", "application/x-ndjson");
    let response = post.body(body).send().await.unwrap();
    assert_eq!(response.status(), 200);
    assert_eq!(response.headers()["content-type"], "application/x-ndjson");
    lines(&response.text().await.unwrap())
}

async fn table(service: &Service, query: &str, body: &str) -> (u16, String) {
    let post = service.request("POST", &format!("{PATH}/table{query}")).header("content-type", "text/csv");
    let response = post.body(body.to_owned()).send().await.unwrap();
    (response.status().as_u16(), response.text().await.unwrap())
}

fn rows(text: &str, delimiter: u8) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).delimiter(delimiter).from_reader(text.as_bytes());
    reader.records().map(|row| row.unwrap().iter().map(ToOwned::to_owned).collect()).collect()
}

#[tokio::test]
async fn a_batch_answers_every_item_in_order() {
    let service = Service::start();
    let batch = json!({"items": [
        {"id": "first", "request": request(4.25)},
        {"request": {"units": "inch", "cylinders": 8, "bore": 0, "stroke": 4}},
        {"id": "odd", "request": 7},
        {"id": "last", "requests": {}},
        {"id": "again", "request": request(4.25)},
    ]});
    let (status, body) = service.post_json(&format!("{PATH}/batch"), &batch).await;
    assert_eq!(status, 200, "{body}");
    let items = body["items"].as_array().unwrap();
    let kinds: Vec<_> = items.iter().map(|item| item["type"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["result", "error", "error", "error", "result"]);
    let numbers: Vec<_> = items.iter().map(|item| item["line"].as_u64().unwrap()).collect();
    assert_eq!(numbers, [1, 2, 3, 4, 5]);
    assert_eq!(body["summary"], json!({"lines": 5, "ok": 2, "failed": 3}));
    assert_eq!((&items[0]["id"], &items[4]["id"]), (&json!("first"), &json!("again")));
    assert_eq!(items[1]["problem"]["errors"][0]["pointer"], "#/bore");
    assert_eq!(items[2]["problem"]["errors"][0]["code"], "wrong_type");
    let codes: Vec<_> = items[3]["problem"]["errors"].as_array().unwrap().iter().map(|error| &error["code"]).collect();
    assert_eq!(codes, ["missing", "unknown_field"]);
    let (_, single) = service.post_json(PATH, &request(4.25)).await;
    assert_eq!(items[0]["result"], single);
}

#[tokio::test]
async fn a_batch_of_the_wrong_shape_is_refused_whole() {
    let service = Service::start();
    for (body, code) in [
        (json!({}), "missing"),
        (json!({"items": []}), "wrong_length"),
        (json!({"items": vec![json!({"request": request(4.0)}); 1001]}), "too_many"),
        (json!({"items": {}}), "wrong_type"),
        (json!([1]), "wrong_type"),
        (json!({"items": [{}], "more": 1}), "unknown_field"),
    ] {
        let (status, problem) = service.post_json(&format!("{PATH}/batch"), &body).await;
        assert_eq!(status, 422);
        let found = problem["errors"][0]["code"].as_str().unwrap();
        assert!(found == code || (code == "too_many" && found == "wrong_length"), "{found} for {code}");
    }
    let (status, _) = answer(service.post(&format!("{PATH}/batch"), "{\"items\":[")).await;
    assert_eq!(status, 400);
    let (status, _) = answer(service.post(&format!("{PATH}/batch"), vec![b' '; 9 * 1024 * 1024])).await;
    assert_eq!(status, 413);
}

#[tokio::test]
async fn a_stream_keeps_order_counts_blank_lines_and_ends_with_a_summary() {
    let service = Service::start();
    let mut body = String::new();
    for number in 0..5000 {
        body.push_str(
            &json!({"id": number.to_string(), "request": request(3.0 + f64::from(number) / 5000.0)}).to_string(),
        );
        body.push('\n');
    }
    body.push_str("\n  \r\n");
    body.push_str("{\"id\":\"no line end\",\"request\":{\"units\":\"inch\"}}");
    let answered = stream(&service, body).await;
    assert_eq!(answered.len(), 5002);
    for (number, line) in answered.iter().take(5000).enumerate() {
        assert_eq!((&line["id"], &line["line"]), (&json!(number.to_string()), &json!(number + 1)));
        assert!(line["result"]["displacement"].is_f64());
    }
    assert_eq!((&answered[5000]["type"], &answered[5000]["line"]), (&json!("error"), &json!(5003)));
    assert_eq!(answered[5001], json!({"type": "summary", "lines": 5003, "ok": 5000, "failed": 1}));
}

#[tokio::test]
async fn a_stream_survives_bad_lines() {
    let service = Service::start();
    let good = json!({"request": request(4.25)}).to_string();
    let mut body = Vec::new();
    for line in [&b"not json"[..], b"\xff\xfe", b"{\"request\":", b"[]", b"null"] {
        body.extend_from_slice(line);
        body.push(b'\n');
    }
    body.extend_from_slice(&vec![b'x'; 200_000]);
    body.extend_from_slice(format!("\n{good}\n").as_bytes());
    let answered = stream(&service, body).await;
    let kinds: Vec<_> = answered.iter().map(|line| line["type"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["error", "error", "error", "error", "error", "error", "result", "summary"]);
    assert!(answered[5]["problem"]["detail"].as_str().unwrap().contains("65536"));
    assert_eq!(answered[6]["line"], 7);
}

#[tokio::test]
async fn a_stream_answers_a_line_before_the_next_is_sent() {
    let service = Service::start();
    let mut socket = TcpStream::connect(&service.address).await.unwrap();
    let head = format!(
        "POST {PATH}/stream HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-ndjson\r\nTransfer-Encoding: chunked\r\n\r\n"
    );
    socket.write_all(head.as_bytes()).await.unwrap();
    let mut seen = String::new();
    let mut buffer = vec![0; 65536];
    for round in 1..=3 {
        let line = format!("{}\n", json!({"id": format!("round {round}"), "request": request(4.0)}));
        socket.write_all(format!("{:x}\r\n{line}\r\n", line.len()).as_bytes()).await.unwrap();
        let wanted = format!("round {round}");
        while !seen.contains(&wanted) {
            let length = tokio::time::timeout(Duration::from_secs(5), socket.read(&mut buffer)).await.unwrap().unwrap();
            seen.push_str(&String::from_utf8_lossy(&buffer[..length]));
        }
    }
    assert!(!seen.contains("summary"));
    socket.write_all(b"0\r\n\r\n").await.unwrap();
    while !seen.contains("\"type\":\"summary\",\"lines\":3,\"ok\":3,\"failed\":0") {
        let length = tokio::time::timeout(Duration::from_secs(5), socket.read(&mut buffer)).await.unwrap().unwrap();
        assert!(length > 0, "{seen}");
        seen.push_str(&String::from_utf8_lossy(&buffer[..length]));
    }
}

#[tokio::test]
async fn other_requests_stay_fast_beside_a_stream() {
    let service = Service::start_with(&["--workers", "1"]);
    let line = format!("{}\n", json!({"request": request(4.25)}));
    let block = line.repeat(2000);
    let chunks = futures_util::stream::iter((0..40).map(move |_| Ok::<_, std::io::Error>(block.clone())));
    let post = service.request("POST", &format!("{PATH}/stream")).header("content-type", "application/x-ndjson");
    let post = post.body(reqwest::Body::wrap_stream(chunks));
    let running = tokio::spawn(async move {
        let mut body = post.send().await.unwrap().bytes_stream();
        let mut last = Vec::new();
        while let Some(chunk) = body.next().await {
            last = chunk.unwrap().to_vec();
        }
        String::from_utf8_lossy(&last).contains("\"lines\":80000")
    });
    let mut slowest = Duration::ZERO;
    while !running.is_finished() {
        let started = Instant::now();
        assert_eq!(service.get("/healthz").send().await.unwrap().status(), 200);
        slowest = slowest.max(started.elapsed());
        tokio::time::sleep(Duration::from_millis(2)).await;
    }
    assert!(running.await.unwrap());
    // A debug build on a machine that is busy with the stream itself: what counts is that nothing waits for its end.
    assert!(slowest < Duration::from_secs(1), "{slowest:?}");
}

#[tokio::test]
async fn termination_lets_a_stream_end_whole() {
    let service = Service::start();
    let line = format!("{}\n", json!({"request": request(4.25)}));
    let lines_sent = 40;
    let chunks = futures_util::stream::iter(0..lines_sent).then(move |_| {
        let line = line.clone();
        async move {
            tokio::time::sleep(Duration::from_millis(100)).await;
            Ok::<_, std::io::Error>(line)
        }
    });
    let post = service.request("POST", &format!("{PATH}/stream")).header("content-type", "application/x-ndjson");
    let running = tokio::spawn(post.body(reqwest::Body::wrap_stream(chunks)).send());
    tokio::time::sleep(Duration::from_millis(600)).await;
    assert!(Command::new("kill").args(["-TERM", &service.process().to_string()]).status().unwrap().success());
    let text = running.await.unwrap().unwrap().text().await.unwrap();
    let answered = lines(&text);
    assert_eq!(
        answered.last().unwrap(),
        &json!({"type": "summary", "lines": lines_sent, "ok": lines_sent, "failed": 0})
    );
}

#[tokio::test]
async fn a_table_gives_its_rows_back_with_results_and_faults() {
    let service = Service::start();
    let body = "\u{feff}id,units,cylinders,bore [mm],stroke,displacement\r\n\
                a,inch,8,107.95,4.125,\r\n\
                =1+1,inch,8,4.25 in,4.125,\r\n\
                b,inch,8,\"4,25\",4.125,\r\n\
                c,metric,8,,104.775,7671.55\r\n\
                short,inch\r\n";
    let (status, text) = table(&service, "", body).await;
    assert_eq!(status, 200, "{text}");
    assert!(text.contains("\r\n"));
    let rows = rows(&text, b',');
    assert_eq!(rows.len(), 6);
    assert!(rows.iter().all(|row| row.len() == rows[0].len()));
    assert_eq!(rows[0][..6], ["id", "units", "cylinders", "bore [mm]", "stroke", "displacement"]);
    let column = |name: &str| {
        rows[0].iter().position(|title| title == name).unwrap_or_else(|| panic!("{name} in {:?}", rows[0]))
    };
    assert_eq!(rows[0].last().unwrap(), "error");
    let found = column("answer.displacement");
    for row in [1, 2] {
        assert!((rows[row][found].parse::<f64>().unwrap() - 468.146).abs() < 5e-4);
    }
    assert_eq!(rows[2][0], "'=1+1");
    assert!(rows[3].last().unwrap().starts_with("#ERR bore '4;25' is not a number"), "{:?}", rows[3]);
    assert!((rows[4][column("answer.bore")].parse::<f64>().unwrap() - 107.95).abs() < 1e-3);
    assert!(rows[5].last().unwrap().starts_with("#ERR cylinders is missing"), "{:?}", rows[5]);
    assert_eq!(rows[0][column("displacement_litres [L]")], "displacement_litres [L]");
}

#[tokio::test]
async fn a_text_that_is_given_back_stands_in_its_own_column_alone() {
    let service = Service::start();
    for (header, wanted) in [("id,title,units", vec![]), ("units", vec!["id", "title"])] {
        let request = service.request("POST", "/v1/builds/evaluate/table").header("content-type", "text/csv");
        let text = request.body(format!("{header}\r\n")).send().await.unwrap().text().await.unwrap();
        let titles = &rows(&text, b',')[0];
        let of_the_answer = &titles[header.split(',').count()..];
        let texts: Vec<_> =
            of_the_answer.iter().filter(|title| title.ends_with("id") || title.ends_with("title")).collect();
        assert_eq!(texts, wanted, "{titles:?}");
    }
}

#[tokio::test]
async fn a_table_takes_constants_and_decimal_commas() {
    let service = Service::start();
    let body = "cylinders;bore;stroke\n8;4,25;4,125\n";
    let (status, text) = table(&service, "?units=inch&dec=comma", body).await;
    assert_eq!(status, 200, "{text}");
    let rows = rows(&text, b';');
    let place = rows[0].iter().position(|title| title == "displacement [in3]").unwrap();
    assert!(rows[1][place].starts_with("468,14"), "{text}");
}

#[tokio::test]
async fn a_table_with_a_wrong_header_is_refused_whole() {
    let service = Service::start();
    for (header, code) in [
        ("units,cylinders,bor,stroke", "unknown_field"),
        ("units,bore,bore", "duplicate_field"),
        ("units,bore [cc]", "bad_quantity"),
        ("units [mm],bore", "bad_quantity"),
    ] {
        let (status, text) = table(&service, "", &format!("{header}\n")).await;
        assert_eq!(status, 422, "{header}");
        let problem: Value = serde_json::from_str(&text).unwrap();
        assert_eq!(problem["errors"][0]["code"], code, "{header}");
    }
    let (status, text) = table(&service, "?errors=inline", "units,bor\ninch,4\n").await;
    assert_eq!(status, 200);
    assert!(text.starts_with("error\r\n#ERR bor is not a field here. Did you mean bore?"), "{text}");
    let many = vec!["bore"; 10_000].join(",");
    assert_eq!(table(&service, "", &many).await.0, 422);
}

#[tokio::test]
async fn all_forms_agree_to_the_last_digit() {
    let service = Service::start();
    let bores: Vec<f64> = (0..50).map(|step| 2.0 + 0.0437 * f64::from(step)).collect();
    let items: Vec<_> = bores.iter().map(|bore| json!({"request": request(*bore)})).collect();
    let (_, batch) = service.post_json(&format!("{PATH}/batch"), &json!({"items": items})).await;
    let body = items.iter().map(|item| format!("{item}\n")).collect::<String>();
    let streamed = stream(&service, body).await;
    let csv: String = bores.iter().map(|bore| format!("{bore}\n")).collect();
    let (_, csv) = table(&service, "?units=inch&cylinders=8&stroke=4.125", &format!("bore\n{csv}")).await;
    let csv = rows(&csv, b',');
    let place = csv[0].iter().position(|title| title == "displacement [in3]").unwrap();
    for (index, bore) in bores.iter().enumerate() {
        let (_, single) = service.post_json(PATH, &request(*bore)).await;
        let query = format!("units=inch&cylinders=8&bore={bore}&stroke=4.125");
        let (_, twin) = answer(service.get(&format!("{PATH}?{query}"))).await;
        let cell = service.get(&format!("{PATH}/value?{query}")).send().await.unwrap().text().await.unwrap();
        assert_eq!(single, twin);
        assert_eq!(single, batch["items"][index]["result"]);
        assert_eq!(single, streamed[index]["result"]);
        assert_eq!(single["displacement"].to_string(), csv[index + 1][place]);
        // The cell may have a zero more, never another value.
        assert_eq!(single["displacement"].as_f64(), cell.parse().ok());
    }
}

#[test]
fn the_command_line_has_the_same_forms() {
    let line = json!({"id": "a", "request": request(4.25)}).to_string();
    let output = run(&["batch", "displacement"], &format!("{line}\n{line}"));
    assert!(output.status.success());
    let answered = lines(&String::from_utf8(output.stdout).unwrap());
    assert_eq!(answered.len(), 3);
    assert_eq!(answered[2], json!({"type": "summary", "lines": 2, "ok": 2, "failed": 0}));
    let output = run(&["batch", "geometry/displacement"], "{}\n");
    assert_eq!(output.status.code(), Some(1));
    let output = run(&["table", "displacement", "--query", "units=inch&cylinders=8"], "bore,stroke\n4.25,4.125\n");
    assert!(output.status.success());
    assert!(String::from_utf8(output.stdout).unwrap().contains("468.146"));
    let output = run(&["batch", "nothing"], "");
    assert!(String::from_utf8(output.stderr).unwrap().contains("is not a calculation; there are"));
}
