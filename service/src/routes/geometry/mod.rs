//! Bore, stroke, deck and the motion of the piston.

pub mod bore_survey;
pub mod deck_stack;
pub mod deck_survey;
pub mod displacement;
pub mod line_hone;
pub mod manifold_fit;
pub mod piston_motion;
pub mod valve_to_piston;
