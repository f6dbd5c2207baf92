//! Every public calculation tells its whole story: a function that lacks a part of it fails here.

const PARTS: [&str; 6] = ["**Equation**", "**Shape**", "**Units**", "**Valid for**", "**Errors**", "**Source**"];

/// Every file that holds public calculations.
const FILES: &[(&str, &str)] = &[
    ("build/cylinders.rs", include_str!("build/cylinders.rs")),
    ("build/compare.rs", include_str!("build/compare.rs")),
    ("build/consequence.rs", include_str!("build/consequence.rs")),
    ("build/difference.rs", include_str!("build/difference.rs")),
    ("build/rule.rs", include_str!("build/rule.rs")),
    ("build/equations.rs", include_str!("build/equations.rs")),
    ("build/every_place.rs", include_str!("build/every_place.rs")),
    ("build/explain.rs", include_str!("build/explain.rs")),
    ("build/sensitivity.rs", include_str!("build/sensitivity.rs")),
    ("build/evaluate.rs", include_str!("build/evaluate.rs")),
    ("compression/cylinder_spread.rs", include_str!("compression/cylinder_spread.rs")),
    ("compression/area_profile.rs", include_str!("compression/area_profile.rs")),
    ("compression/flat_mill.rs", include_str!("compression/flat_mill.rs")),
    ("compression/measured_volume.rs", include_str!("compression/measured_volume.rs")),
    ("compression/recess.rs", include_str!("compression/recess.rs")),
    ("compression/outline.rs", include_str!("compression/outline.rs")),
    ("build/measured_block.rs", include_str!("build/measured_block.rs")),
    ("build/operation_cautions.rs", include_str!("build/operation_cautions.rs")),
    ("build/operation_rules.rs", include_str!("build/operation_rules.rs")),
    ("build/goal.rs", include_str!("build/goal.rs")),
    ("build/goal_roots.rs", include_str!("build/goal_roots.rs")),
    ("build/goal_search.rs", include_str!("build/goal_search.rs")),
    ("build/sweep.rs", include_str!("build/sweep.rs")),
    ("build/tolerance.rs", include_str!("build/tolerance.rs")),
    ("build/tolerance_draws.rs", include_str!("build/tolerance_draws.rs")),
    ("build/fit.rs", include_str!("build/fit.rs")),
    ("build/fit/assemble.rs", include_str!("build/fit/assemble.rs")),
    ("build/fit/catalogue.rs", include_str!("build/fit/catalogue.rs")),
    ("build/fit/fields.rs", include_str!("build/fit/fields.rs")),
    ("build/fit/limits.rs", include_str!("build/fit/limits.rs")),
    ("build/fit/merge.rs", include_str!("build/fit/merge.rs")),
    ("build/fit/pools.rs", include_str!("build/fit/pools.rs")),
    ("build/fit/question.rs", include_str!("build/fit/question.rs")),
    ("build/fit/rank.rs", include_str!("build/fit/rank.rs")),
    ("build/fit/rules.rs", include_str!("build/fit/rules.rs")),
    ("build/fit/search.rs", include_str!("build/fit/search.rs")),
    ("build/fit/settle.rs", include_str!("build/fit/settle.rs")),
    ("build/fit/sums.rs", include_str!("build/fit/sums.rs")),
    ("build/fit/tests/naive.rs", include_str!("build/fit/tests/naive.rs")),
    ("build/fit/trio.rs", include_str!("build/fit/trio.rs")),
    ("build/fit/why.rs", include_str!("build/fit/why.rs")),
    ("build/place.rs", include_str!("build/place.rs")),
    ("build/operations.rs", include_str!("build/operations.rs")),
    ("compression/burn.rs", include_str!("compression/burn.rs")),
    ("compression/knock_input.rs", include_str!("compression/knock_input.rs")),
    ("compression/knock_margin.rs", include_str!("compression/knock_margin.rs")),
    ("compression/end_state.rs", include_str!("compression/end_state.rs")),
    ("compression/gas.rs", include_str!("compression/gas.rs")),
    ("compression/standard_atmosphere.rs", include_str!("compression/standard_atmosphere.rs")),
    ("compression/static.rs", include_str!("compression/static.rs")),
    ("compression/target.rs", include_str!("compression/target.rs")),
    ("compression/target_solution.rs", include_str!("compression/target_solution.rs")),
    ("compression/tolerance.rs", include_str!("compression/tolerance.rs")),
    ("compression/tolerance_draws.rs", include_str!("compression/tolerance_draws.rs")),
    ("compression/tolerance_items.rs", include_str!("compression/tolerance_items.rs")),
    ("compression/trapped.rs", include_str!("compression/trapped.rs")),
    ("compression/valve_event.rs", include_str!("compression/valve_event.rs")),
    ("geometry/bore_survey.rs", include_str!("geometry/bore_survey.rs")),
    ("geometry/bore_survey/cautions.rs", include_str!("geometry/bore_survey/cautions.rs")),
    ("geometry/bore_survey/rules.rs", include_str!("geometry/bore_survey/rules.rs")),
    ("geometry/bore_survey/walls.rs", include_str!("geometry/bore_survey/walls.rs")),
    ("geometry/chain_loop.rs", include_str!("geometry/chain_loop.rs")),
    ("geometry/deck_stack.rs", include_str!("geometry/deck_stack.rs")),
    ("geometry/deck_survey.rs", include_str!("geometry/deck_survey.rs")),
    ("geometry/deck_survey/cautions.rs", include_str!("geometry/deck_survey/cautions.rs")),
    ("geometry/deck_survey/finished.rs", include_str!("geometry/deck_survey/finished.rs")),
    ("geometry/displacement.rs", include_str!("geometry/displacement.rs")),
    ("geometry/manifold_fit.rs", include_str!("geometry/manifold_fit.rs")),
    ("geometry/manifold_fit_cautions.rs", include_str!("geometry/manifold_fit_cautions.rs")),
    ("geometry/pushrod.rs", include_str!("geometry/pushrod.rs")),
    ("geometry/piston_motion.rs", include_str!("geometry/piston_motion.rs")),
    ("geometry/slider_crank.rs", include_str!("geometry/slider_crank.rs")),
    ("geometry/valve_to_piston.rs", include_str!("geometry/valve_to_piston.rs")),
    ("geometry/line_hone.rs", include_str!("geometry/line_hone.rs")),
    ("geometry/line_hone/cautions.rs", include_str!("geometry/line_hone/cautions.rs")),
    ("geometry/line_hone/rules.rs", include_str!("geometry/line_hone/rules.rs")),
    ("geometry/piston_motion.rs", include_str!("geometry/piston_motion.rs")),
    ("geometry/slider_crank.rs", include_str!("geometry/slider_crank.rs")),
    ("geometry/surface.rs", include_str!("geometry/surface.rs")),
    ("oil/drills.rs", include_str!("oil/drills.rs")),
    ("oil/pipe_thread.rs", include_str!("oil/pipe_thread.rs")),
    ("oil/properties.rs", include_str!("oil/properties.rs")),
    ("oil/restrictor.rs", include_str!("oil/restrictor.rs")),
    ("oil/restrictor/cautions.rs", include_str!("oil/restrictor/cautions.rs")),
    ("oil/restrictor/rules.rs", include_str!("oil/restrictor/rules.rs")),
    ("oil/grade.rs", include_str!("oil/grade.rs")),
    ("oil/law.rs", include_str!("oil/law.rs")),
    ("oil/oil_input.rs", include_str!("oil/oil_input.rs")),
    ("oil/restrictor_law.rs", include_str!("oil/restrictor_law.rs")),
    ("oil/viscosity_index.rs", include_str!("oil/viscosity_index.rs")),
    ("oil/annulus_law.rs", include_str!("oil/annulus_law.rs")),
    ("oil/bearing_film.rs", include_str!("oil/bearing_film.rs")),
    ("oil/bearing_law.rs", include_str!("oil/bearing_law.rs")),
    ("oil/bearing_table.rs", include_str!("oil/bearing_table.rs")),
    ("oil/overlap_law.rs", include_str!("oil/overlap_law.rs")),
    ("oil/passage_law.rs", include_str!("oil/passage_law.rs")),
    ("oil/annulus.rs", include_str!("oil/annulus.rs")),
    ("oil/checked_oil.rs", include_str!("oil/checked_oil.rs")),
    ("oil/feed_overlap.rs", include_str!("oil/feed_overlap.rs")),
    ("oil/passage.rs", include_str!("oil/passage.rs")),
    ("oil/bearing_load.rs", include_str!("oil/bearing_load.rs")),
    ("oil/journal_bearing.rs", include_str!("oil/journal_bearing.rs")),
    ("oil/journal_bearing/balance.rs", include_str!("oil/journal_bearing/balance.rs")),
    ("oil/journal_bearing/cautions.rs", include_str!("oil/journal_bearing/cautions.rs")),
    ("oil/journal_bearing/rules.rs", include_str!("oil/journal_bearing/rules.rs")),
    ("oil/budget.rs", include_str!("oil/budget.rs")),
    ("oil/budget/generate.rs", include_str!("oil/budget/generate.rs")),
    ("oil/budget/places.rs", include_str!("oil/budget/places.rs")),
    ("oil/circuit.rs", include_str!("oil/circuit.rs")),
    ("oil/circuit/cautions.rs", include_str!("oil/circuit/cautions.rs")),
    ("oil/circuit/element.rs", include_str!("oil/circuit/element.rs")),
    ("oil/circuit/gap.rs", include_str!("oil/circuit/gap.rs")),
    ("oil/circuit/law.rs", include_str!("oil/circuit/law.rs")),
    ("oil/circuit/pipe.rs", include_str!("oil/circuit/pipe.rs")),
    ("oil/circuit/plan.rs", include_str!("oil/circuit/plan.rs")),
    ("oil/circuit/report.rs", include_str!("oil/circuit/report.rs")),
    ("oil/circuit/rules.rs", include_str!("oil/circuit/rules.rs")),
    ("oil/circuit/size.rs", include_str!("oil/circuit/size.rs")),
    ("oil/circuit/study.rs", include_str!("oil/circuit/study.rs")),
    ("oil/circuit/study_rules.rs", include_str!("oil/circuit/study_rules.rs")),
    ("solve.rs", include_str!("solve.rs")),
];

#[test]
fn every_public_function_tells_its_story() {
    let mut seen = 0;
    for (file, text) in FILES {
        let mut docs = String::new();
        for line in text.lines() {
            if let Some(doc) = line.strip_prefix("///") {
                docs.push_str(doc);
                continue;
            }
            if let Some(signature) = line.strip_prefix("pub fn ") {
                seen += 1;
                for part in PARTS {
                    assert!(docs.contains(part), "{file}: {signature} lacks {part}");
                }
            }
            if !line.starts_with("#[") {
                docs.clear();
            }
        }
    }
    assert!(seen >= FILES.len() / 2, "the search finds the functions");
}

#[test]
fn every_file_of_the_areas_is_searched() {
    fn walk(folder: &std::path::Path, found: &mut Vec<String>) {
        let entries = std::fs::read_dir(folder).expect("the sources are there");
        for entry in entries.map(|entry| entry.expect("readable").path()) {
            if entry.is_dir() {
                walk(&entry, found);
            } else if !["mod.rs", "sheet.rs", "tests.rs"].iter().any(|name| entry.ends_with(name)) {
                found.push(entry.display().to_string());
            }
        }
    }
    for area in ["build", "compression", "geometry", "oil"] {
        let mut found = Vec::new();
        walk(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src").join(area), &mut found);
        for file in found {
            assert!(FILES.iter().any(|(name, _)| file.ends_with(name)), "{file} is not searched");
        }
    }
}

#[test]
fn methods_have_unique_names_and_all_their_parts() {
    for (index, method) in crate::method::ALL.iter().enumerate() {
        assert!(
            crate::method::ALL[index + 1..].iter().all(|other| other.id != method.id),
            "{} stands twice",
            method.id
        );
        assert!(
            !method.equation.is_empty() && !method.valid_for.is_empty() && !method.sources.is_empty(),
            "{}",
            method.id
        );
    }
}
