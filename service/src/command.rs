//! The commands that need no server.

use std::io::{self, IsTerminal, Read, Write};
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpStream};
use std::path::Path;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use crate::access::TokenHash;
use crate::bulk::{stream, table};
use crate::calculation::{Entry, answer_changed};
use crate::problem::Problem;
use crate::routes::builds::evaluate::Evaluate;
use crate::spreadsheet::{self, Language};
use crate::{openapi, routes};

/// Prints the OpenAPI document.
///
/// # Errors
/// When standard output is closed.
pub fn print_document() -> io::Result<ExitCode> {
    io::stdout().write_all(openapi::text().as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

/// Prints a module for spreadsheets.
///
/// # Errors
/// When standard output is closed.
pub fn print_module(language: Language) -> io::Result<ExitCode> {
    io::stdout().write_all(spreadsheet::module(language).as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

/// Evaluates a build sheet by the same path that a request takes, with explanations when they are wanted here or in the sheet.
///
/// # Errors
/// When the file cannot be read.
pub fn evaluate(file: &Path, explain: bool) -> io::Result<ExitCode> {
    let body = read(file).map_err(|error| io::Error::new(error.kind(), format!("{}: {error}", file.display())))?;
    print(answer_changed::<Evaluate>(&body, |request| request.explain_too(explain)))
}

/// An answer goes to standard output, a problem to standard error.
fn print(answer: Result<Vec<u8>, Problem>) -> io::Result<ExitCode> {
    match answer {
        Ok(answer) => {
            let mut out = io::stdout().lock();
            out.write_all(&answer)?;
            if !answer.ends_with(b"\n") {
                out.write_all(b"\n")?;
            }
            Ok(ExitCode::SUCCESS)
        }
        Err(problem) => refuse(&problem),
    }
}

fn refuse(problem: &Problem) -> io::Result<ExitCode> {
    let document = serde_json::to_string_pretty(&problem.document(None))?;
    writeln!(io::stderr(), "{document}")?;
    Ok(ExitCode::FAILURE)
}

/// Answers lines of JSON from standard input on all cores.
///
/// # Errors
/// When there is no such calculation, or a stream is closed.
pub fn batch(calculation: &str) -> io::Result<ExitCode> {
    let entry = find(calculation)?;
    let counts = stream::answer_all(entry, Watched::new(io::stdin()), io::stdout())?;
    Ok(if counts.failed == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// Answers a CSV table from standard input.
///
/// # Errors
/// When there is no such calculation, or a stream is closed.
pub fn table(calculation: &str, query: &str) -> io::Result<ExitCode> {
    let entry = find(calculation)?;
    if !entry.has_query {
        return Err(io::Error::other(format!("{calculation} takes lists, which a table has no place for; use batch")));
    }
    match table::answer_all(entry, query, Watched::new(io::stdin()), io::stdout())? {
        Ok(()) => Ok(ExitCode::SUCCESS),
        Err(problem) => refuse(&problem),
    }
}

fn find(name: &str) -> io::Result<&'static Entry> {
    let found = routes::CALCULATIONS.iter().find(|entry| entry.path.ends_with(&format!("/{name}")));
    found.ok_or_else(|| {
        let names: Vec<_> = routes::CALCULATIONS.iter().map(|entry| entry.path.trim_start_matches("/v1/")).collect();
        io::Error::other(format!("{name} is not a calculation; there are {}", names.join(", ")))
    })
}

/// A line on a terminal that says how much has been read; nothing anywhere else.
struct Progress {
    shown: Option<Instant>,
    bytes: usize,
    told: bool,
}

impl Progress {
    fn new() -> Self {
        Self { shown: io::stderr().is_terminal().then(Instant::now), bytes: 0, told: false }
    }

    fn add(&mut self, bytes: usize) {
        const OFTEN_ENOUGH: Duration = Duration::from_millis(500);
        self.bytes += bytes;
        if let Some(shown) = &mut self.shown
            && shown.elapsed() > OFTEN_ENOUGH
        {
            *shown = Instant::now();
            self.told = true;
            // A terminal that is gone must not stop the work.
            let _ = write!(io::stderr(), "\r{} MiB read", self.bytes / (1024 * 1024));
        }
    }
}

impl Drop for Progress {
    /// What follows begins on a line of its own.
    fn drop(&mut self) {
        if self.told {
            let _ = writeln!(io::stderr(), "\r{} MiB read", self.bytes / (1024 * 1024));
        }
    }
}

/// A reader that reports its progress.
struct Watched<R> {
    input: R,
    progress: Progress,
}

impl<R> Watched<R> {
    fn new(input: R) -> Self {
        Self { input, progress: Progress::new() }
    }
}

impl<R: Read> Read for Watched<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let length = self.input.read(buffer)?;
        self.progress.add(length);
        Ok(length)
    }
}

fn read(file: &Path) -> io::Result<Vec<u8>> {
    if file == Path::new("-") {
        let mut body = Vec::new();
        io::stdin().read_to_end(&mut body)?;
        return Ok(body);
    }
    std::fs::read(file)
}

/// Prints the hash of a token.
///
/// # Errors
/// When standard input has no token, or a stream is closed.
pub fn hash_token() -> io::Result<ExitCode> {
    const SHORTEST: usize = 32;
    let mut line = String::new();
    io::stdin().read_line(&mut line)?;
    let token = line.trim();
    if token.len() < SHORTEST {
        // A hash hides only what cannot be guessed.
        return Err(io::Error::other(format!(
            "a token needs at least {SHORTEST} characters; `openssl rand -hex 32` makes one"
        )));
    }
    writeln!(io::stdout(), "{}", TokenHash::of(token.as_bytes()))?;
    Ok(ExitCode::SUCCESS)
}

/// Asks the service at an address whether it takes requests.
///
/// # Errors
/// When it cannot be reached.
pub fn healthcheck(address: SocketAddr) -> io::Result<ExitCode> {
    const CLOCK: Duration = Duration::from_secs(3);
    // A service that listens on every address is asked on the loopback.
    let ip = if address.ip().is_unspecified() { IpAddr::V4(Ipv4Addr::LOCALHOST) } else { address.ip() };
    let mut stream = TcpStream::connect_timeout(&SocketAddr::new(ip, address.port()), CLOCK)?;
    stream.set_read_timeout(Some(CLOCK))?;
    write!(stream, "GET /readyz HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n")?;
    let mut head = [0; 12];
    stream.read_exact(&mut head)?;
    let ready = head.ends_with(b" 200");
    writeln!(io::stdout(), "{}", if ready { "ready" } else { "not ready" })?;
    Ok(if ready { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}
