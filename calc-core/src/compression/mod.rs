//! Compression: the volumes above the piston, the ratios they make, and the gas that is compressed.

pub(crate) mod burn;
pub mod end_state;
pub(crate) mod gas;
pub mod knock_input;
pub mod knock_margin;
pub mod standard_atmosphere;
pub mod r#static;
pub mod trapped;
pub(crate) mod valve_event;
