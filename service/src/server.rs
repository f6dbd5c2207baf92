//! Starting and stopping.

use std::io::{self, Write};
use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use actix_http::error::DispatchError;
use actix_http::{Extensions, HttpService, KeepAlive};
use actix_service::{ServiceFactoryExt, fn_service, map_config};
use actix_web::dev::{AppConfig, Server, ServerHandle};
use actix_web::middleware::{Condition, from_fn};
use actix_web::rt::net::TcpStream;
use actix_web::{App, HttpServer};
use socket2::{Domain, SockRef, Socket, Type};
use tokio::signal::unix::{SignalKind, signal};

use crate::access::{Access, guard};
use crate::access_log::AccessLog;
use crate::app::{self, Shared};
use crate::config::Settings;
use crate::connection::Connection;
use crate::log;
use crate::long_work;
use crate::memory;
use crate::metrics::Metrics;
use crate::observe::{Watch, observe};
use crate::routes::operation::Draining;

/// A client that stops reading is dropped after this time.
const STALLED_READER: Duration = Duration::from_secs(20);
/// A connection's first head must be there in this time.
const HEAD_CLOCK: Duration = Duration::from_secs(10);
/// A connection on which nothing gets on is closed after four of these: idle for three, and one for a further head.
const TICK: Duration = Duration::from_secs(10);
/// A client has this long to take leave of a connection that is closed.
const LEAVE: Duration = Duration::from_secs(1);
/// Connections that may wait to be let in.
const BACKLOG: i32 = 1024;
/// Between "not ready" and closing the door, so that a balancer can look away.
const DRAIN_NOTICE: Duration = Duration::from_secs(2);
/// Longest wait for running requests, in seconds.
const DRAIN_CLOCK: u64 = 20;

/// Serves until told to stop.
///
/// # Errors
/// When the address cannot be had.
pub async fn serve(settings: Settings) -> io::Result<()> {
    log::start(&settings);
    let draining = Draining::default();
    let metrics = Arc::new(Metrics::new().map_err(io::Error::other)?);
    let log = AccessLog::start(&settings);
    let watch = Arc::new(Watch { metrics: Arc::clone(&metrics), log: log.clone() });
    let shared = Shared { metrics, draining: Arc::clone(&draining) };
    let origins = settings.cors_origins.clone();
    let access = Arc::new(Access::new(&settings));
    let metrics_elsewhere = settings.metrics_address.map(|address| serve_metrics(address, &shared)).transpose()?;
    let shown_here = metrics_elsewhere.is_none();
    warn_when_open(&settings);
    memory::set_bound(settings.body_memory);
    let workers = settings.workers.map_or_else(cores, usize::from);
    let listener = listen(settings.address).map_err(|error| cannot_listen(settings.address, &error))?;
    greet(listener.local_addr()?)?;
    let server = Server::build();
    let stopping = server.graceful_shutdown_signal();
    let server = server
        .workers(workers)
        .worker_max_blocking_threads(long_work::most_threads())
        .max_concurrent_connections((settings.most_connections as usize).div_ceil(workers))
        .shutdown_timeout(DRAIN_CLOCK)
        .shutdown_signal(stop(draining))
        .listen("http", listener, move || {
            let watch = Arc::clone(&watch);
            let access = Arc::clone(&access);
            let stopping = stopping.clone();
            let app = App::new()
                .configure(|config| app::configure(config, &shared, shown_here))
                .wrap(Condition::new(
                    access.is_limited(),
                    from_fn(move |request, next| guard(Arc::clone(&access), request, next)),
                ))
                .wrap(Condition::new(!origins.is_empty(), app::cors(&origins)))
                .wrap_fn(move |request, service| observe(&watch, request, service));
            let http = HttpService::build()
                .client_request_timeout(HEAD_CLOCK)
                // The connection's own clock closes idle ones too, and costs a request less.
                .keep_alive(KeepAlive::Os)
                .client_disconnect_timeout(LEAVE)
                // A client that closes its side has hung up: its response is dropped, and long work with it.
                .h1_allow_half_closed(false)
                .graceful_shutdown_signal(move || {
                    let stopping = stopping.clone();
                    async move { stopping.notified().await }
                })
                .on_connect_ext(|connection: &Connection, data: &mut Extensions| {
                    data.insert(connection.work());
                })
                .h1(map_config(app, |()| AppConfig::default()));
            fn_service(|stream: TcpStream| async {
                drop_stalled_reader(&stream);
                Ok::<_, DispatchError>((Connection::new(stream, TICK), None))
            })
            .and_then(http)
        })?
        .run();
    let outcome = server.await;
    if let Some(metrics) = metrics_elsewhere {
        metrics.stop(true).await;
    }
    log.finish();
    outcome
}

fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

/// Counts on an address of their own, for a network that the callers are not in.
fn serve_metrics(address: SocketAddr, shared: &Shared) -> io::Result<ServerHandle> {
    let shared = shared.clone();
    let server = HttpServer::new(move || App::new().configure(|config| app::configure_metrics(config, &shared)))
        .workers(1)
        .disable_signals()
        .bind(address)
        .map_err(|error| cannot_listen(address, &error))?;
    let address = server.addrs().first().copied().unwrap_or(address);
    writeln!(io::stdout(), "Metrics: http://{address}/metrics")?;
    let server = server.run();
    let handle = server.handle();
    actix_web::rt::spawn(server);
    Ok(handle)
}

fn listen(address: SocketAddr) -> io::Result<TcpListener> {
    let socket = Socket::new(Domain::for_address(address), Type::STREAM, None)?;
    socket.set_reuse_address(true)?;
    socket.bind(&address.into())?;
    socket.listen(BACKLOG)?;
    Ok(socket.into())
}

fn cannot_listen(address: SocketAddr, error: &io::Error) -> io::Error {
    io::Error::new(error.kind(), format!("cannot listen on {address}: {error}"))
}

fn warn_when_open(settings: &Settings) {
    if !settings.address.ip().is_loopback() && settings.token_hashes.is_empty() {
        tracing::warn!(
            address = %settings.address,
            "listening beyond this machine without a token: anybody who reaches the address may use it"
        );
    }
}

/// Tells the person who started it where the service is and how to try it.
fn greet(address: SocketAddr) -> io::Result<()> {
    let demo: serde_json::Value = serde_json::from_str(DEMO)?;
    let mut out = io::stdout().lock();
    writeln!(out, "Blockwright listens on http://{address}")?;
    writeln!(out, "Documentation: http://{address}/docs/")?;
    writeln!(out, "Try it:")?;
    writeln!(out, "curl -s http://{address}/v1/builds/evaluate -H 'Content-Type: application/json' -d '{demo}'")?;
    out.flush()
}

const DEMO: &str = include_str!("../../fixtures/builds/harbour_launch_v8.json");

/// The kernel gives up on a connection whose peer takes nothing for a while; the server itself has no such clock.
fn drop_stalled_reader(stream: &TcpStream) {
    let outcome = SockRef::from(stream).set_tcp_user_timeout(Some(STALLED_READER));
    if let Err(error) = outcome {
        tracing::warn!(%error, "the clock on stalled readers could not be set");
    }
}

/// Ends when the process is asked to stop: at once on an interrupt from the keyboard, after a notice on a termination.
async fn stop(draining: Draining) {
    let (Ok(mut terminate), Ok(mut interrupt)) = (signal(SignalKind::terminate()), signal(SignalKind::interrupt()))
    else {
        tracing::error!("signals cannot be received; the service runs until it is killed");
        return std::future::pending().await;
    };
    let notice = tokio::select! {
        _ = terminate.recv() => DRAIN_NOTICE,
        _ = interrupt.recv() => Duration::ZERO,
    };
    draining.store(true, Ordering::Relaxed);
    tracing::info!("stopping");
    tokio::time::sleep(notice).await;
}
