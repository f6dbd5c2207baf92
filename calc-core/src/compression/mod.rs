//! Compression: the volumes above the piston and the ratios they make.

pub(crate) mod area_profile;
pub mod cylinder_spread;
pub mod flat_mill;
pub mod measured_volume;
pub mod outline;
pub mod recess;
pub mod r#static;
pub mod target;
pub(crate) mod target_solution;
pub mod tolerance;
pub(crate) mod tolerance_draws;
pub mod tolerance_items;
pub mod trapped;
