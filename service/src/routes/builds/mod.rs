//! The whole build sheet.

pub mod evaluate;
mod measured_block;
pub mod operations;
pub mod sheet;
