//! Lengths, angles and the swept volume: what the parts are and how they move.

pub mod deck_stack;
pub mod displacement;
pub mod manifold_fit;
mod manifold_fit_cautions;
pub mod piston_motion;
pub mod pushrod;
pub mod valve_to_piston;
