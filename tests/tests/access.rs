//! Who may ask: tokens, hosts, metrics elsewhere.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};

use reqwest::{Client, StatusCode};
use tests::{Service, binary, root, run};

const TOKEN: &str = "5b1f0c7d9e2a4386b7c8d9e0f1a2b3c4";
const NEXT_TOKEN: &str = "0a1b2c3d4e5f60718293a4b5c6d7e8f9";

fn hash(token: &str) -> String {
    let printed = run(&["hash-token"], &format!("{token}\n"));
    assert!(printed.status.success());
    String::from_utf8(printed.stdout).unwrap().trim().to_owned()
}

fn guarded() -> Service {
    Service::start_with(&["--token-hashes", &format!("{},{}", hash(TOKEN), hash(NEXT_TOKEN))])
}

async fn displacement(service: &Service, authorization: Option<&str>) -> reqwest::Response {
    let address = &service.address;
    let request =
        Client::new().get(format!("http://{address}/v1/geometry/displacement?units=inch&bore=4&stroke=3&cylinders=8"));
    let request = match authorization {
        Some(value) => request.header("authorization", value),
        None => request,
    };
    request.send().await.unwrap()
}

#[tokio::test]
async fn a_token_opens_the_calculations_and_several_are_good_at_once() {
    let service = guarded();
    for token in [TOKEN, NEXT_TOKEN] {
        assert_eq!(displacement(&service, Some(&format!("Bearer {token}"))).await.status(), StatusCode::OK);
        assert_eq!(displacement(&service, Some(&format!("bearer {token}"))).await.status(), StatusCode::OK);
    }
    let wrong = [None, Some("Bearer"), Some("Bearer "), Some("Bearer wrong"), Some("Basic dTpw"), Some(TOKEN)];
    for authorization in wrong {
        let refused = displacement(&service, authorization).await;
        assert_eq!(refused.status(), StatusCode::UNAUTHORIZED, "{authorization:?}");
        assert_eq!(refused.headers()["www-authenticate"], "Bearer");
        assert!(refused.headers().contains_key("x-request-id"));
        let problem: serde_json::Value = refused.json().await.unwrap();
        assert_eq!(problem["type"], "/problems/unauthorized");
    }
}

#[tokio::test]
async fn what_is_public_needs_no_token_and_metrics_do() {
    let service = guarded();
    let client = Client::new();
    for (path, status) in [
        ("/healthz", 200),
        ("/readyz", 200),
        ("/openapi.json", 200),
        ("/docs/", 200),
        ("/v1/methods", 200),
        ("/problems/unauthorized", 200),
        ("/metrics", 401),
        ("/v1/compression/static/value", 401),
    ] {
        let answer = client.get(format!("http://{}{path}", service.address)).send().await.unwrap();
        assert_eq!(answer.status().as_u16(), status, "{path}");
    }
    // Browsers and spreadsheets ask for the methods before they send the token.
    let url = format!("http://{}/v1/compression/static", service.address);
    let options = client.request(reqwest::Method::OPTIONS, url).send().await.unwrap();
    assert_eq!(options.status(), StatusCode::NO_CONTENT);
}

#[tokio::test]
async fn only_configured_hosts_are_answered() {
    let service = Service::start_with(&["--allowed-hosts", "engines.example,calc.example:8443"]);
    let get = |host: &'static str, path: &str| {
        Client::new().get(format!("http://{}{path}", service.address)).header("host", host).send()
    };
    for (host, status) in [
        ("engines.example", 200),
        ("ENGINES.example:80", 200),
        ("calc.example:8443", 200),
        ("calc.example", 421),
        ("evil.example", 421),
    ] {
        assert_eq!(get(host, "/v1/methods").await.unwrap().status().as_u16(), status, "{host}");
    }
    // What a proxy says of itself is no Host, and the name in an address counts before it.
    for name in ["x-forwarded-host", "forwarded"] {
        let text = if name == "forwarded" { "host=engines.example" } else { "engines.example" };
        let request = Client::new().get(format!("http://{}/v1/methods", service.address));
        let refused = request.header("host", "evil.example").header(name, text).send().await.unwrap();
        assert_eq!(refused.status().as_u16(), 421, "{name}");
    }
    assert_eq!(get("10.0.0.7", "/readyz").await.unwrap().status(), StatusCode::OK);
}

#[tokio::test]
async fn metrics_can_have_an_address_of_their_own() {
    let mut process = Command::new(binary())
        .args(["--address", "127.0.0.1:0", "--metrics-address", "127.0.0.1:0", "--log", "error"])
        .stdout(Stdio::piped())
        .current_dir(root())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(process.stdout.take().unwrap()).lines().map_while(Result::ok);
    let metrics = lines.find_map(|line| line.strip_prefix("Metrics: ").map(str::to_owned)).unwrap();
    let address = lines.find_map(|line| line.strip_prefix("Blockwright listens on ").map(str::to_owned)).unwrap();
    let client = Client::new();
    let elsewhere = client.get(&metrics).send().await.unwrap();
    let here = client.get(format!("{address}/metrics")).send().await.unwrap();
    let calculation = metrics.replace("/metrics", "/v1/methods");
    let nothing_else = client.get(calculation).send().await.unwrap();
    process.kill().unwrap();
    process.wait().unwrap();
    assert_eq!(
        (elsewhere.status(), here.status(), nothing_else.status()),
        (StatusCode::OK, StatusCode::NOT_FOUND, StatusCode::NOT_FOUND)
    );
    assert!(elsewhere.text().await.unwrap().contains("blockwright_http_answers_total"));
}

#[test]
fn a_bad_hash_or_a_short_token_is_one_clear_line() {
    let bad = run(&["--token-hashes", "abc"], "");
    let said = String::from_utf8(bad.stderr).unwrap();
    assert!(!bad.status.success() && said.lines().count() == 1 && said.contains("64 hexadecimal digits"), "{said}");
    let short = run(&["hash-token"], "secret\n");
    assert!(!short.status.success() && String::from_utf8(short.stderr).unwrap().contains("at least 32 characters"));
}

#[tokio::test]
async fn the_documentation_page_is_closed_to_foreign_code() {
    let service = Service::start();
    let page = Client::new().get(format!("http://{}/docs/", service.address)).send().await.unwrap();
    let policy = page.headers()["content-security-policy"].to_str().unwrap();
    assert!(policy.contains("default-src 'none'") && policy.contains("script-src 'self';"), "{policy}");
}
