//! One line per request on standard error: when, which id, which route, which status, how long. Never a body.
//!
//! Lines are gathered and written together. The event formatter of the logging library, which writes all other lines, costs
//! a tenth of a whole request (`tests/load/run.py`); a line here costs a hundredth.

use std::io::Write;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use actix_web::http::{Method, StatusCode};

use crate::config::{LogFormat, LogLevel, Settings};

/// Lines wait at most this long...
const PATIENCE: Duration = Duration::from_millis(200);
/// ...or until this many bytes have gathered: few enough to stay in the processor's nearest cache, beside what a request uses.
const LARGEST: usize = 4 * 1024;

/// What one line says.
pub(crate) struct Line<'a> {
    pub(crate) id: &'a str,
    pub(crate) method: &'a Method,
    pub(crate) route: &'a str,
    pub(crate) status: StatusCode,
    pub(crate) took: Duration,
}

/// The gathered lines; `None` inside when requests are not logged.
#[derive(Clone)]
pub(crate) struct AccessLog(Option<Arc<Gathered>>);

struct Gathered {
    format: LogFormat,
    lines: Mutex<Vec<u8>>,
}

impl AccessLog {
    /// Starts the log, and the thread that writes lines which have waited long enough.
    pub(crate) fn start(settings: &Settings) -> Self {
        if matches!(settings.log, LogLevel::Error | LogLevel::Warn) {
            return Self(None);
        }
        let gathered =
            Arc::new(Gathered { format: settings.log_format, lines: Mutex::new(Vec::with_capacity(2 * LARGEST)) });
        let waiting = Arc::downgrade(&gathered);
        std::thread::spawn(move || {
            while let Some(gathered) = waiting.upgrade() {
                gathered.write_out();
                drop(gathered);
                std::thread::sleep(PATIENCE);
            }
        });
        Self(Some(gathered))
    }

    /// Adds a line.
    pub(crate) fn add(&self, line: &Line) {
        let Some(gathered) = &self.0 else { return };
        let mut lines = gathered.lines.lock().unwrap_or_else(PoisonError::into_inner);
        write_line(&mut lines, gathered.format, line);
        if lines.len() > LARGEST {
            write_out(&mut lines);
        }
    }

    /// Writes what has gathered, before the process ends.
    pub(crate) fn finish(&self) {
        if let Some(gathered) = &self.0 {
            gathered.write_out();
        }
    }
}

impl Gathered {
    fn write_out(&self) {
        write_out(&mut self.lines.lock().unwrap_or_else(PoisonError::into_inner));
    }
}

fn write_out(lines: &mut Vec<u8>) {
    // A log that cannot be written must not stop the answers.
    let _ = std::io::stderr().write_all(lines);
    lines.clear();
}

fn write_line(lines: &mut Vec<u8>, format: LogFormat, line: &Line) {
    let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    let parts: [&[u8]; 7] = match format {
        LogFormat::Text => [b"", b" INFO id=", b" method=", b" route=", b" status=", b" microseconds=", b"\n"],
        LogFormat::Json => [
            b"{\"timestamp\":",
            b",\"level\":\"INFO\",\"id\":\"",
            b"\",\"method\":\"",
            b"\",\"route\":\"",
            b"\",\"status\":",
            b",\"microseconds\":",
            b"}\n",
        ],
    };
    let (mut number, mut decimals) = (itoa::Buffer::new(), itoa::Buffer::new());
    // Seconds since 1970 with three decimals: of 1000 and the thousandths, all but the one is wanted.
    let values = [number.format(now.as_secs()), ".", &decimals.format(1000 + now.subsec_millis())[1..]];
    lines.extend_from_slice(parts[0]);
    values.iter().for_each(|value| lines.extend_from_slice(value.as_bytes()));
    let took = number.format(line.took.as_micros() as u64);
    let values = [line.id, line.method.as_str(), line.route, line.status.as_str(), took, ""];
    for (part, value) in parts[1..].iter().zip(values) {
        lines.extend_from_slice(part);
        lines.extend_from_slice(value.as_bytes());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_json_or_text() {
        let took = Duration::from_micros(35);
        let line =
            Line { id: "abc", method: &Method::POST, route: "/v1/builds/evaluate", status: StatusCode::OK, took };
        let mut lines = Vec::new();
        write_line(&mut lines, LogFormat::Json, &line);
        let json: serde_json::Value = serde_json::from_slice(&lines).unwrap();
        assert_eq!((&json["status"], &json["microseconds"], &json["id"]), (&200.into(), &35.into(), &"abc".into()));
        assert!(json["timestamp"].as_f64().is_some_and(|seconds| seconds > 1.7e9));
        lines.clear();
        write_line(&mut lines, LogFormat::Text, &line);
        let text = String::from_utf8(lines).unwrap();
        assert!(text.ends_with(" INFO id=abc method=POST route=/v1/builds/evaluate status=200 microseconds=35\n"));
    }
}
