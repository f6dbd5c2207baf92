//! The command line and its settings; every flag has an environment variable of the same name.

use std::net::SocketAddr;
use std::path::PathBuf;

use crate::access::TokenHash;
use crate::memory;
use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::spreadsheet::Language;

/// Engine-build calculations over HTTP and JSON.
#[derive(Debug, Parser)]
#[command(name = "blockwright", version)]
pub struct Cli {
    /// What to do; without it, serve.
    #[command(subcommand)]
    pub command: Option<Command>,
    /// How to serve.
    #[command(flatten)]
    pub settings: Settings,
}

/// What the binary can do besides serving.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Print the OpenAPI document.
    Openapi,
    /// Evaluate a build sheet without a server; exit code 1 when it is refused.
    Evaluate {
        /// A JSON file, or - for standard input.
        file: PathBuf,
        /// Give each result's equation with the numbers put in, and its sensitivities.
        #[arg(long)]
        explain: bool,
    },
    /// Answer lines of JSON from standard input, as the stream form does; exit code 1 when any line is refused.
    Batch {
        /// The calculation: builds/evaluate, or just its last name.
        calculation: String,
    },
    /// Answer a CSV table from standard input, as the table form does.
    Table {
        /// The calculation: compression/static, or just its last name.
        calculation: String,
        /// What counts for every row, as in an address: units=inch&dec=comma
        #[arg(long, default_value = "")]
        query: String,
    },
    /// Print a ready-made module for spreadsheets; they are kept in fixtures/spreadsheet.
    Spreadsheet {
        /// What it is written in.
        language: Language,
    },
    /// Print the hash of a bearer token, read as one line from standard input, for the setting token-hashes.
    HashToken,
    /// Ask a running service at the address whether it takes requests; exit code 1 when it does not.
    Healthcheck,
}

/// How to serve.
#[derive(Debug, Clone, Args)]
pub struct Settings {
    /// Address and port to listen on; port 0 takes any free one.
    #[arg(long, env = "BLOCKWRIGHT_ADDRESS", default_value = "127.0.0.1:8080", global = true)]
    pub address: SocketAddr,
    /// Worker threads; one per core when not given.
    #[arg(long, env = "BLOCKWRIGHT_WORKERS", value_parser = clap::value_parser!(u16).range(1..=512))]
    pub workers: Option<u16>,
    /// Connections at once; more wait to be let in. Each may take 20 kB.
    #[arg(long, env = "BLOCKWRIGHT_MOST_CONNECTIONS", default_value_t = 1024, value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub most_connections: u32,
    /// MiB for bodies that are not complete and answers that are not sent; beyond it requests are turned away with 503.
    #[arg(long, env = "BLOCKWRIGHT_BODY_MEMORY", default_value_t = memory::DEFAULT_MEBIBYTES, value_parser = clap::value_parser!(u16).range(1..))]
    pub body_memory: u16,
    /// Names under which the service may be addressed, separated by commas, with or without a port; any when not given.
    #[arg(long, env = "BLOCKWRIGHT_ALLOWED_HOSTS", value_delimiter = ',')]
    pub allowed_hosts: Vec<String>,
    /// SHA-256 of the bearer tokens that open the calculations, separated by commas; see hash-token. Open when not given.
    #[arg(long, env = "BLOCKWRIGHT_TOKEN_HASHES", value_delimiter = ',', hide_env_values = true)]
    pub token_hashes: Vec<TokenHash>,
    /// Address for /metrics alone, which is then not served beside the calculations.
    #[arg(long, env = "BLOCKWRIGHT_METRICS_ADDRESS")]
    pub metrics_address: Option<SocketAddr>,
    /// Origins whose pages may read answers, separated by commas; * is any. None when not given.
    #[arg(long, env = "BLOCKWRIGHT_CORS_ORIGINS", value_delimiter = ',')]
    pub cors_origins: Vec<String>,
    /// What is logged to standard error: error, warn, info (a line per request), debug.
    #[arg(long, env = "BLOCKWRIGHT_LOG", default_value = "info")]
    pub log: LogLevel,
    /// How log lines are written.
    #[arg(long, env = "BLOCKWRIGHT_LOG_FORMAT", default_value = "text")]
    pub log_format: LogFormat,
}

/// What is logged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum LogLevel {
    /// Faults of the service.
    Error,
    /// Doubtful settings, too.
    Warn,
    /// A line per request, too.
    Info,
    /// Everything.
    Debug,
}

/// How log lines are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum LogFormat {
    /// For people.
    Text,
    /// One JSON object per line.
    Json,
}
