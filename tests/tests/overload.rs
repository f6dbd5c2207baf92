//! More long work than the service can do: what is too much is refused at once, what is taken is answered, and neither long
//! work nor clients that have gone keep the others waiting.

use std::time::{Duration, Instant};

use serde_json::{Value, json};
use tests::{Service, answer, root};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::sync::Mutex;
use tokio::task::JoinSet;

/// Each of these tests wants all cores for its service.
static CORES: Mutex<()> = Mutex::const_new(());

const PATH: &str = "/v1/builds/tolerance";

fn tolerance(draws: u32) -> Value {
    let text = std::fs::read_to_string(root().join("fixtures/examples/builds/tolerance.json")).unwrap();
    let mut request: Value = serde_json::from_str(&text).unwrap();
    request["draws"] = draws.into();
    request
}

/// Milliseconds to the answer, its status, and whether it is what its status asks for.
async fn asked(request: reqwest::RequestBuilder) -> (f64, u16, bool) {
    let sent = Instant::now();
    let response = request.send().await.unwrap();
    let (status, headers) = (response.status().as_u16(), response.headers().clone());
    let body: Value = serde_json::from_str(&response.text().await.unwrap()).unwrap();
    let milliseconds = sent.elapsed().as_secs_f64() * 1e3;
    let sound = match status {
        200 => body["results"].is_array(),
        503 => {
            let header = |name: &str| headers.get(name).and_then(|text| text.to_str().ok()).unwrap_or_default();
            header("retry-after").parse::<u32>().is_ok_and(|seconds| seconds > 0)
                && header("content-type") == "application/problem+json"
                && body["type"] == "/problems/overloaded"
                && body["status"] == 503
                // It may come again over the same connection.
                && !headers.contains_key("connection")
        }
        _ => false,
    };
    (milliseconds, status, sound)
}

fn at(share: f64, sorted: &[f64]) -> f64 {
    sorted[(share * (sorted.len() - 1) as f64) as usize]
}

#[tokio::test]
async fn what_is_too_much_is_refused_at_once_and_the_rest_is_answered() {
    let _cores = CORES.lock().await;
    let service = Service::start();
    let body = tolerance(1_000).to_string();
    let mut alone = f64::INFINITY;
    for _ in 0..5 {
        let (milliseconds, status, _) = asked(service.post(PATH, body.clone())).await;
        assert_eq!(status, 200);
        alone = alone.min(milliseconds);
    }
    // Four times what the cores could do if each request used one only; on a schedule, whatever is answered.
    let cores = std::thread::available_parallelism().unwrap().get();
    let every = Duration::from_secs_f64(alone / 1e3 / (4 * cores) as f64).max(Duration::from_millis(1));
    let (mut asking, began, mut sent) = (JoinSet::new(), Instant::now(), 0);
    while began.elapsed() < Duration::from_secs(3) {
        tokio::time::sleep((every * sent).saturating_sub(began.elapsed())).await;
        asking.spawn(asked(service.post(PATH, body.clone())));
        sent += 1;
    }
    let answers = asking.join_all().await;
    assert_eq!(answers.len(), sent as usize, "nothing is lost");
    let wrong: Vec<_> = answers.iter().filter(|(_, _, sound)| !sound).collect();
    assert!(wrong.is_empty(), "{wrong:?}");
    let times = |wanted| {
        let mut times: Vec<f64> = answers.iter().filter(|(_, status, _)| *status == wanted).map(|one| one.0).collect();
        times.sort_by(f64::total_cmp);
        times
    };
    let (served, refused) = (times(200), times(503));
    assert!(served.len() > 20 && refused.len() > 20, "{} served, {} refused", served.len(), refused.len());
    assert!(at(0.5, &refused) < 5.0, "median of the refusals: {} ms", at(0.5, &refused));
    assert!(at(0.99, &refused) < 100.0, "the slowest refusals: {} ms", at(0.99, &refused));
    // Half a second in the line and the work itself, on a machine with other work.
    assert!(at(0.99, &served) < 3_000.0, "the slowest answers: {} ms", at(0.99, &served));
    let (milliseconds, status, _) = asked(service.post(PATH, body)).await;
    assert_eq!(status, 200);
    assert!(milliseconds < 10.0 * alone + 100.0, "{milliseconds} ms after the load, {alone} ms before");
}

#[tokio::test]
async fn batches_of_minutes_do_not_keep_others_from_their_turn() {
    let _cores = CORES.lock().await;
    let service = Service::start();
    let cores = std::thread::available_parallelism().unwrap().get();
    let items: Vec<_> = (0..1000).map(|_| json!({"request": tolerance(20_000)})).collect();
    let batch = json!({"items": items}).to_string();
    let mut batches = JoinSet::new();
    for _ in 0..=cores {
        batches.spawn(service.post(&format!("{PATH}/batch"), batch.clone()).send());
    }
    tokio::time::sleep(Duration::from_millis(500)).await;
    for _ in 0..3 {
        let began = Instant::now();
        let (status, body) = answer(service.post(PATH, tolerance(1_000).to_string())).await;
        assert_eq!(status, 200, "{body}");
        assert!(began.elapsed() < Duration::from_secs(3), "{:?}", began.elapsed());
    }
    assert!(batches.try_join_next().is_none(), "the batches are still under way");
}

#[tokio::test]
async fn who_hangs_up_leaves_the_line() {
    let _cores = CORES.lock().await;
    let service = Service::start();
    let body = tolerance(200_000).to_string();
    let head = format!(
        "POST {PATH} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n",
        body.len()
    );
    let mut waiting = Vec::new();
    let mut full = false;
    while !full && waiting.len() < 2_000 {
        let mut connection = TcpStream::connect(&service.address).await.unwrap();
        connection.write_all(format!("{head}{body}").as_bytes()).await.unwrap();
        let mut first = [0; 12];
        let answered = tokio::time::timeout(Duration::from_millis(20), connection.read_exact(&mut first)).await;
        full = answered.is_ok() && &first == b"HTTP/1.1 503";
        waiting.push(connection);
    }
    assert!(full, "{} are in the line", waiting.len());
    drop(waiting);
    let began = Instant::now();
    let mut status = 503;
    while status == 503 && began.elapsed() < Duration::from_secs(5) {
        tokio::time::sleep(Duration::from_millis(50)).await;
        status = asked(service.post(PATH, tolerance(1_000).to_string())).await.1;
    }
    assert_eq!(status, 200);
    assert!(began.elapsed() < Duration::from_secs(5), "{:?}", began.elapsed());
}

/// A stream whose client sends until nothing more is taken, and reads nothing.
async fn unread_stream(service: &Service) -> TcpStream {
    let mut stream = TcpStream::connect(&service.address).await.unwrap();
    let head = "POST /v1/geometry/displacement/stream HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-ndjson\r\nTransfer-Encoding: chunked\r\n\r\n";
    stream.write_all(head.as_bytes()).await.unwrap();
    let lines = LINE.repeat(500);
    let chunk = format!("{:x}\r\n{lines}\r\n", lines.len());
    while tokio::time::timeout(Duration::from_millis(500), stream.write_all(chunk.as_bytes())).await.is_ok() {}
    stream
}

const LINE: &str = "{\"request\":{\"units\":\"inch\",\"cylinders\":8,\"bore\":4.25,\"stroke\":4.125}}\n";

#[tokio::test]
async fn streams_that_nobody_reads_hold_no_place() {
    let _cores = CORES.lock().await;
    let service = Service::start();
    let unread = futures_util::future::join_all((0..16).map(|_| unread_stream(&service))).await;
    let body = LINE.repeat(10_000);
    let request =
        service.request("POST", "/v1/geometry/displacement/stream").header("content-type", "application/x-ndjson");
    let answered =
        tokio::time::timeout(Duration::from_secs(10), async { request.body(body).send().await?.text().await });
    let text = answered.await.expect("it waits for no other stream").unwrap();
    assert!(
        text.ends_with("{\"type\":\"summary\",\"lines\":10000,\"ok\":10000,\"failed\":0}\n"),
        "{}",
        &text[text.len() - 200..]
    );
    drop(unread);
}
