//! Volumes above the piston, the ratios they make, and the gas that is compressed.

pub mod end_state;
pub mod flat_mill;
pub mod knock_margin;
pub mod measured_volume;
pub mod r#static;
pub mod target;
pub mod tolerance;
pub mod trapped;
