//! Lengths, angles and the swept volume: what the parts are and how they move.

pub mod bore_survey;
pub mod chain_loop;
pub mod deck_stack;
pub mod deck_survey;
pub mod displacement;
pub mod line_hone;
pub mod manifold_fit;
mod manifold_fit_cautions;
pub mod piston_motion;
pub mod pushrod;
pub(crate) mod slider_crank;
pub mod surface;
pub mod valve_to_piston;
