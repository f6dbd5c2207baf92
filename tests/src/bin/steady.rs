//! Sends one request again and again at a steady rate, whether or not answers come, and tells what came back as JSON.
//!
//!     steady <url> <file with a JSON body> <requests per second> <seconds>
//!
//! Ends earlier when its standard input does.
//! A latency counts from the moment at which the request was due, so that a stall is not hidden by requests that were not sent.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use reqwest::Client;
use serde_json::json;
use tokio::sync::Semaphore;
use tokio::task::JoinSet;

/// Requests under way; when all wait, the next are late and count from when they were due.
const MOST_AT_ONCE: usize = 128;

#[tokio::main(flavor = "current_thread")]
async fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [url, file, rate, seconds] = arguments.as_slice() else {
        return Err("steady <url> <file> <requests per second> <seconds>".into());
    };
    let body = std::fs::read(file)?;
    let (rate, seconds): (u32, u32) = (rate.parse()?, seconds.parse()?);
    let client = Client::builder().timeout(Duration::from_secs(20)).pool_max_idle_per_host(MOST_AT_ONCE).build()?;
    let places = Arc::new(Semaphore::new(MOST_AT_ONCE));
    let ended = Arc::new(AtomicBool::new(false));
    let end = Arc::clone(&ended);
    std::thread::spawn(move || {
        // Whatever comes, or goes wrong, the input is over.
        let _ = std::io::copy(&mut std::io::stdin(), &mut std::io::sink());
        end.store(true, Ordering::Relaxed);
    });
    let start = Instant::now();
    let mut running = JoinSet::new();
    for count in 0..rate * seconds {
        let due = start + Duration::from_secs(1) * count / rate;
        tokio::time::sleep_until(due.into()).await;
        if ended.load(Ordering::Relaxed) {
            break;
        }
        let place = Arc::clone(&places).acquire_owned().await?;
        let request = client.post(url).header("content-type", "application/json").body(body.clone());
        running.spawn(async move {
            let outcome = match request.send().await {
                Ok(answer) => match (answer.status().as_u16(), answer.bytes().await) {
                    (status, Ok(_)) => status.to_string(),
                    (_, Err(error)) => format!("answer broke off: {error:?}"),
                },
                Err(error) => format!("no answer: {error:?}"),
            };
            drop(place);
            (outcome, due.elapsed())
        });
    }
    let sending = start.elapsed().as_secs_f64();
    let mut outcomes: BTreeMap<String, u32> = BTreeMap::new();
    let mut milliseconds = Vec::new();
    for (outcome, took) in running.join_all().await {
        *outcomes.entry(outcome).or_default() += 1;
        milliseconds.push(took.as_secs_f64() * 1e3);
    }
    milliseconds.sort_by(f64::total_cmp);
    let at = |share: f64| milliseconds.get((share * milliseconds.len() as f64) as usize).copied();
    let report = json!({
        "outcomes": outcomes,
        "milliseconds": {"p50": at(0.5), "p99": at(0.99), "most": milliseconds.last()},
        "sent_per_second": milliseconds.len() as f64 / sending,
    });
    println!("{report}");
    Ok(())
}
