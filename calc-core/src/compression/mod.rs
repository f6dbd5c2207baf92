//! Compression: the volumes above the piston and the ratios they make.

pub mod cylinder_spread;
pub mod r#static;
pub mod trapped;
