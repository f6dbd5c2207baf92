//! Volumes above the piston, the ratios they make, and the gas that is compressed.

pub mod end_state;
pub mod knock_margin;
pub mod r#static;
pub mod trapped;
