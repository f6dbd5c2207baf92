//! Volumes above the piston and the ratios they make.

pub mod flat_mill;
pub mod r#static;
pub mod target;
