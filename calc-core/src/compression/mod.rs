//! Compression: the volumes above the piston, the ratios they make, and the gas that is compressed.

pub(crate) mod area_profile;
pub(crate) mod burn;
pub mod cylinder_spread;
pub mod end_state;
pub mod flat_mill;
pub(crate) mod gas;
pub mod knock_input;
pub mod knock_margin;
pub mod measured_volume;
pub mod outline;
pub mod recess;
pub mod standard_atmosphere;
pub mod r#static;
pub mod target;
pub(crate) mod target_solution;
pub mod tolerance;
pub(crate) mod tolerance_draws;
pub mod tolerance_items;
pub mod trapped;
pub(crate) mod valve_event;
