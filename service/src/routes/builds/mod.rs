//! The whole build sheet.

pub mod evaluate;
mod measured_block;
pub mod operations;
pub mod places;
pub mod sheet;
