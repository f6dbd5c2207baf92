//! The log: structured lines on standard error, never a body.

use std::io::IsTerminal;

use tracing::level_filters::LevelFilter;
use tracing_subscriber::filter::Targets;
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::util::SubscriberInitExt;

use crate::config::{LogFormat, LogLevel, Settings};

/// What reads connections. It calls it an error when bytes from outside are not HTTP: whoever sends rubbish could fill the log.
const CONNECTIONS: &str = "actix_http::h1::dispatcher";

/// Starts logging for the whole process.
pub(crate) fn start(settings: &Settings) {
    let level = match settings.log {
        LogLevel::Error => LevelFilter::ERROR,
        LogLevel::Warn => LevelFilter::WARN,
        LogLevel::Info => LevelFilter::INFO,
        LogLevel::Debug => LevelFilter::DEBUG,
    };
    let connections = if level == LevelFilter::DEBUG { level } else { LevelFilter::OFF };
    let shown = Targets::new().with_default(level).with_target(CONNECTIONS, connections);
    let colours = std::io::stderr().is_terminal();
    let lines = tracing_subscriber::fmt()
        .with_ansi(colours)
        .with_writer(std::io::stderr)
        .with_max_level(level)
        .with_target(false);
    match settings.log_format {
        LogFormat::Text => lines.finish().with(shown).init(),
        LogFormat::Json => lines.json().flatten_event(true).finish().with(shown).init(),
    }
}
