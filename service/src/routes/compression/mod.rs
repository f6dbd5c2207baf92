//! Volumes above the piston and the ratios they make.

pub mod flat_mill;
pub mod measured_volume;
pub mod r#static;
pub mod target;
pub mod tolerance;
