//! The yardstick for the stream: a loop on one core that only reads the same lines and writes as long an answer to each, with
//! the same JSON library; no arithmetic, no checks.

#![allow(clippy::expect_used)]

use std::io::{BufRead, BufReader, Write};

use serde::{Deserialize, Serialize};
use service::Calculation;
use service::routes::builds::evaluate::{BuildResponse, Evaluate};
use service::routes::builds::sheet::BuildRequest;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Item {
    id: Option<String>,
    request: BuildRequest,
}

#[derive(Serialize)]
struct Outcome<'a> {
    r#type: &'static str,
    line: u64,
    id: Option<&'a str>,
    result: &'a BuildResponse,
}

fn main() -> std::io::Result<()> {
    let demo = include_str!("../../fixtures/builds/harbour_launch_v8.json");
    let request = serde_json::from_str(demo).expect("the demo build parses");
    let result = Evaluate::run(request).expect("the demo build evaluates");
    let mut input = BufReader::with_capacity(64 * 1024, std::io::stdin());
    let mut output = std::io::stdout();
    let (mut line, mut number, mut out) = (Vec::new(), 0, Vec::with_capacity(512 * 1024));
    while input.read_until(b'\n', &mut line)? > 0 {
        number += 1;
        let item: Item = serde_json::from_slice(&line).expect("the lines are sound");
        std::hint::black_box(&item.request);
        let outcome = Outcome { r#type: "result", line: number, id: item.id.as_deref(), result: &result };
        serde_json::to_writer(&mut out, &outcome).expect("a vector takes everything");
        out.push(b'\n');
        if out.len() > 256 * 1024 {
            output.write_all(&out)?;
            out.clear();
        }
        line.clear();
    }
    output.write_all(&out)
}
