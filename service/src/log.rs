//! The log: structured lines on standard error, never a body.

use std::io::IsTerminal;

use tracing::level_filters::LevelFilter;

use crate::config::{LogFormat, LogLevel, Settings};

/// Starts logging for the whole process.
pub(crate) fn start(settings: &Settings) {
    let level = match settings.log {
        LogLevel::Error => LevelFilter::ERROR,
        LogLevel::Warn => LevelFilter::WARN,
        LogLevel::Info => LevelFilter::INFO,
        LogLevel::Debug => LevelFilter::DEBUG,
    };
    let colours = std::io::stderr().is_terminal();
    let lines = tracing_subscriber::fmt()
        .with_ansi(colours)
        .with_writer(std::io::stderr)
        .with_max_level(level)
        .with_target(false);
    match settings.log_format {
        LogFormat::Text => lines.init(),
        LogFormat::Json => lines.json().flatten_event(true).init(),
    }
}
