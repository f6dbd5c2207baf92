//! The `blockwright` binary.

use std::io::{self, Write};
use std::process::ExitCode;

use clap::Parser;
use service::config::{Cli, Command};
use service::{command, server};

fn main() -> ExitCode {
    let outcome = match Cli::try_parse() {
        Ok(cli) => run(cli),
        // Help and version were asked for; anything else is a bad setting and gets one line.
        Err(error) if !error.use_stderr() => error.print().map(|()| ExitCode::SUCCESS),
        Err(error) => {
            Err(io::Error::other(error.to_string().lines().next().unwrap_or_default().replacen("error: ", "", 1)))
        }
    };
    outcome.unwrap_or_else(|error| {
        // Without a standard error there is nobody to tell.
        let _ = writeln!(io::stderr(), "blockwright: {error}");
        ExitCode::FAILURE
    })
}

fn run(cli: Cli) -> io::Result<ExitCode> {
    match cli.command {
        Some(Command::Openapi) => command::print_document(),
        Some(Command::Evaluate { file, explain }) => command::evaluate(&file, explain),
        Some(Command::Batch { calculation }) => command::batch(&calculation),
        Some(Command::Table { calculation, query }) => command::table(&calculation, &query),
        Some(Command::Spreadsheet { language }) => command::print_module(language),
        Some(Command::HashToken) => command::hash_token(),
        Some(Command::Healthcheck) => command::healthcheck(cli.settings.address),
        None => actix_web::rt::System::new().block_on(server::serve(cli.settings)).map(|()| ExitCode::SUCCESS),
    }
}
