//! The binary without HTTP: commands, settings, starting and stopping.

use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;
use tests::{Service, answer, binary, root, run};

fn one_line(output: &Output) -> String {
    let text = String::from_utf8(output.stderr.clone()).unwrap();
    assert_eq!(text.trim_end().lines().count(), 1, "{text}");
    text
}

#[tokio::test]
async fn evaluate_gives_the_bytes_that_http_gives() {
    let file = root().join("fixtures/builds/harbour_launch_v8.json");
    let build = std::fs::read_to_string(&file).unwrap();
    let by_file = run(&["evaluate", &file.display().to_string()], "");
    assert!(by_file.status.success());
    let service = Service::start();
    let by_http = service.post("/v1/builds/evaluate", build.clone()).send().await.unwrap().text().await.unwrap();
    assert_eq!(String::from_utf8(by_file.stdout).unwrap(), format!("{by_http}\n"));
    let by_input = run(&["evaluate", "-"], &build);
    assert_eq!(String::from_utf8(by_input.stdout).unwrap(), format!("{by_http}\n"));
}

#[test]
fn a_refused_sheet_is_a_problem_and_an_exit_code() {
    let output = run(&["evaluate", "-"], "{\"units\":\"inch\"}");
    assert_eq!(output.status.code(), Some(1));
    assert!(output.stdout.is_empty());
    let problem: Value = serde_json::from_slice(&output.stderr).unwrap();
    assert_eq!(problem["status"], 422);
    let output = run(&["evaluate", "no-such-file.json"], "");
    assert_eq!(output.status.code(), Some(1));
    assert!(one_line(&output).contains("no-such-file.json"));
}

#[tokio::test]
async fn the_printed_curl_line_works_as_it_stands() {
    let mut process = Command::new(binary())
        .args(["--address", "127.0.0.1:0", "--log", "error"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = std::io::BufRead::lines(std::io::BufReader::new(process.stdout.take().unwrap()));
    let printed: Vec<_> = (0..4).map(|_| lines.next().unwrap().unwrap()).collect();
    let curl = printed.iter().find(|line| line.starts_with("curl ")).unwrap();
    let output = Command::new("sh").args(["-c", curl]).output().unwrap();
    process.kill().unwrap();
    process.wait().unwrap();
    let evaluated: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert!(evaluated["compression"]["static_ratio"].is_f64(), "{evaluated}");
    assert!(printed[1].contains("/docs/"));
}

#[test]
fn bad_settings_are_one_clear_line_each() {
    let taken = Service::start();
    let output = run(&["--address", &taken.address], "");
    assert_eq!(output.status.code(), Some(1));
    assert!(one_line(&output).contains(&format!("cannot listen on {}", taken.address)));
    for arguments in [["--address", "nowhere"], ["--workers", "0"], ["--log", "loud"]] {
        let output = run(&arguments, "");
        assert_eq!(output.status.code(), Some(1));
        assert!(one_line(&output).starts_with("blockwright: invalid value"));
    }
    let output = Command::new(binary()).env("BLOCKWRIGHT_ADDRESS", "nowhere").output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(one_line(&output).contains("'nowhere'"));
    assert!(run(&["--help"], "").status.success());
}

#[tokio::test]
async fn healthcheck_follows_the_service() {
    let service = Service::start();
    let asked = run(&["healthcheck", "--address", &service.address], "");
    assert!(asked.status.success());
    let address = service.address.clone();
    drop(service);
    assert!(!run(&["healthcheck", "--address", &address], "").status.success());
}

#[tokio::test]
async fn termination_is_announced_before_the_door_closes() {
    let service = Service::start();
    // A client that is connected already sees "stopping" while the service gives notice.
    assert_eq!(service.get("/readyz").send().await.unwrap().status(), 200);
    assert!(Command::new("kill").args(["-TERM", &service.process().to_string()]).status().unwrap().success());
    let started = Instant::now();
    let mut seen = false;
    while started.elapsed() < Duration::from_secs(1) {
        seen |= service.get("/readyz").send().await.is_ok_and(|response| response.status() == 503);
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    assert!(seen);
    while started.elapsed() < Duration::from_secs(15) {
        if service.get("/readyz").send().await.is_err() {
            return;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    panic!("it did not stop");
}

#[tokio::test]
async fn it_starts_fast_and_stays_small() {
    // Debug builds are slower and larger; the limits are the release build's times a margin for a busy machine.
    let started = Instant::now();
    let service = Service::start();
    assert_eq!(answer(service.get("/v1/methods")).await.0, 200);
    let first = started.elapsed();
    assert!(first < Duration::from_millis(2000), "the first answer took {first:?}");
    let status = std::fs::read_to_string(format!("/proc/{}/status", service.process())).unwrap();
    let resident = status.lines().find(|line| line.starts_with("VmRSS")).unwrap();
    let kibibytes: u64 = resident.split_whitespace().nth(1).unwrap().parse().unwrap();
    assert!(kibibytes < 64 * 1024, "{kibibytes} KiB resident");
}
