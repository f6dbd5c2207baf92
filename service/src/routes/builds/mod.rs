//! The whole build sheet.

pub mod evaluate;
pub mod goal;
mod measured_block;
pub mod operations;
pub mod places;
pub mod sheet;
pub mod sweep;
pub mod tolerance;
