//! Volumes above the piston and the ratios they make.

pub mod r#static;
