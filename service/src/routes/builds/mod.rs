//! The whole build sheet.

pub mod compare;
pub mod evaluate;
pub mod explain;
pub mod fit;
pub mod goal;
mod measured_block;
pub mod operations;
pub mod places;
pub mod rules;
pub mod sheet;
pub mod sweep;
pub mod tolerance;
