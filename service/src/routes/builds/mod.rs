//! The whole build sheet.

pub mod evaluate;
pub mod sheet;
