//! Blockwright's service: it reads requests, converts units, calls one core function and writes the answer. No formula and no
//! physical limit lives here.

mod access;
mod access_log;
mod app;
mod bulk;
mod calculation;
pub mod command;
pub mod config;
mod connection;
mod direct;
mod http;
mod json_writer;
mod log;
mod long_work;
mod memory;
mod metrics;
mod no_null;
mod observe;
pub mod openapi;
pub mod problem;
mod query;
mod recent;
pub mod routes;
mod scan;
pub mod server;
mod shape;
pub mod spreadsheet;
mod strict_json;
mod unread;
mod value;
pub mod wire;

pub use calculation::{Calculation, Entry};
