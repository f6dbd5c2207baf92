//! Compression: the volumes above the piston and the ratios they make.

pub mod r#static;
pub mod trapped;
