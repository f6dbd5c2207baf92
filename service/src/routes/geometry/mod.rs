//! Bore, stroke, deck and the motion of the piston.

pub mod deck_stack;
pub mod displacement;
pub mod manifold_fit;
pub mod piston_motion;
pub mod valve_to_piston;
