//! Blockwright's calculations: typed quantities in, typed quantities out.
//!
//! Nothing here reads a file, a clock or a network, and nothing here knows of HTTP or JSON. Every public calculation is a
//! pure function whose documentation gives its equation, shapes, units, range, errors and source.

pub mod build;
pub mod caution;
pub mod compression;
pub mod error;
pub mod geometry;
pub mod limit;
pub mod method;
mod minimax;
mod network;
pub mod oil;
pub mod random;
pub mod solve;
pub mod stop;
pub mod units;

#[cfg(test)]
mod documentation_tests;
