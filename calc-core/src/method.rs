//! What a calculation rests on, as data: the service publishes it at `/v1/methods`.

/// One equation (or a closed family of them): what it says, where it holds and who says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Method {
    /// Stable identifier, named in the `method` list of every answer.
    pub id: &'static str,
    /// What it gives, in a few words.
    pub title: &'static str,
    /// The equation in plain text, with its symbols explained.
    pub equation: &'static str,
    /// Where it holds, and what happens outside.
    pub valid_for: &'static str,
    /// Textbooks and standards, with the place in them.
    pub sources: &'static [&'static str],
}

/// Every method of the crate, in the order of the job.
pub const ALL: &[Method] = &[
    crate::geometry::displacement::METHOD,
    crate::geometry::deck_stack::METHOD,
    crate::geometry::piston_motion::METHOD,
    crate::geometry::manifold_fit::METHOD,
    crate::geometry::valve_to_piston::METHOD,
    crate::geometry::bore_survey::METHOD,
    crate::geometry::deck_survey::METHOD,
    crate::geometry::line_hone::METHOD,
    crate::geometry::chain_loop::METHOD,
    crate::geometry::surface::FIT,
    crate::geometry::surface::FLATNESS,
    crate::compression::r#static::METHOD,
    crate::compression::cylinder_spread::METHOD,
    crate::compression::flat_mill::METHOD,
    crate::compression::tolerance::METHOD,
    crate::compression::measured_volume::METHOD,
    crate::compression::target::METHOD,
    crate::compression::trapped::METHOD,
    crate::build::operations::METHOD,
    crate::build::compare::METHOD,
    crate::build::sensitivity::METHOD,
    crate::build::fit::METHOD,
    crate::build::goal::METHOD,
    crate::build::tolerance::METHOD,
    crate::build::sweep::METHOD,
    crate::compression::standard_atmosphere::METHOD,
    crate::compression::end_state::METHOD,
    crate::compression::knock_margin::METHOD,
    crate::oil::law::VISCOSITY,
    crate::oil::law::DENSITY,
    crate::oil::viscosity_index::METHOD,
    crate::oil::grade::METHOD,
    crate::oil::restrictor_law::METHOD,
    crate::oil::circuit::METHOD,
    crate::oil::budget::METHOD,
    crate::oil::annulus::METHOD,
    crate::oil::passage::METHOD,
    crate::oil::feed_overlap::METHOD,
    crate::oil::bearing_load::METHOD,
    crate::oil::journal_bearing::METHOD,
    crate::oil::drills::METHOD,
    crate::oil::pipe_thread::METHOD,
];
