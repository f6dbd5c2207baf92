//! Steady flow in a network: pressures at nodes from the balance of what flows in and out.
//!
//! Every link's flow rises with the drop along it, so the balance is the gradient of a convex function of the pressures and
//! its matrix is symmetric: Newton's step, shortened where it overshoots, finds the one solution from any start.

mod factor;
mod ordering;
mod solver;
#[cfg(test)]
mod tests;

pub(crate) use solver::{Balance, Law, Solver, Through};
