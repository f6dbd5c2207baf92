//! The commands that need no server.

use std::io::{self, Read, Write};
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpStream};
use std::path::Path;
use std::process::ExitCode;
use std::time::Duration;

use crate::{openapi, routes};

/// Prints the OpenAPI document.
///
/// # Errors
/// When standard output is closed.
pub fn print_document() -> io::Result<ExitCode> {
    io::stdout().write_all(openapi::text().as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

/// Evaluates a build sheet by the same path that a request takes.
///
/// # Errors
/// When the file cannot be read.
pub fn evaluate(file: &Path) -> io::Result<ExitCode> {
    let body = read(file).map_err(|error| io::Error::new(error.kind(), format!("{}: {error}", file.display())))?;
    let entry =
        routes::calculation("/v1/builds/evaluate").ok_or_else(|| io::Error::other("evaluate is not in the list"))?;
    match entry.answer(&body) {
        Ok(mut answer) => {
            answer.push(b'\n');
            io::stdout().write_all(&answer)?;
            Ok(ExitCode::SUCCESS)
        }
        Err(problem) => {
            let document = serde_json::to_string_pretty(&problem.document(None))?;
            writeln!(io::stderr(), "{document}")?;
            Ok(ExitCode::FAILURE)
        }
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
