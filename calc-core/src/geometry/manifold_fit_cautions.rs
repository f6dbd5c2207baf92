//! The cautions of [`super::manifold_fit`].

use crate::caution::{About, Caution, STANDING, Severity};
use crate::limit;
use crate::units::{Length, Quantity};

use super::manifold_fit::{ManifoldFit, ManifoldFitInput};
use super::pushrod;

/// What to look at twice; the standing caution comes last.
pub(crate) fn cautions(input: &ManifoldFitInput, fit: &ManifoldFit) -> Vec<Caution> {
    let mut cautions = Vec::new();
    unusual_inputs(input, &mut cautions);
    cautions.extend(missing_material("bank/face/side_cut", fit.bank.face.map(|face| face.side_cut)));
    let other = fit.other_bank.and_then(|bank| bank.face);
    cautions.extend(missing_material("other_bank/face/side_cut", other.map(|face| face.side_cut)));
    cautions.extend(missing_material("manifold/end_rail_cut", fit.manifold.map(|manifold| manifold.end_rail_cut)));
    let shift = fit.manifold.map(|manifold| manifold.sideways_shift);
    cautions.extend(shift.filter(|shift| shift.metres().abs() > 1e-9).map(|shift| Caution {
        code: "banks_differ",
        severity: Severity::Caution,
        about: About::Answer,
        path: "manifold/sideways_shift".into(),
        detail: format!(
            "The banks are lowered by different amounts, so the manifold fits only {} off the middle; its end rails and what \
             stands in it shift too. Banks at one height avoid that.",
            Length::from_metres(shift.metres().abs()).shown()
        )
        .into(),
        source: "First principles",
    }));
    if let Some(room) = fit.pushrod.and_then(|rod| rod.clearance) {
        cautions.extend(pushrod::cautions(fit.bank.lowered, room));
    }
    cautions.push(STANDING);
    cautions
}

fn unusual_inputs(input: &ManifoldFitInput, cautions: &mut Vec<Caution>) {
    let names = ["bank/deck_cut", "bank/head_cut", "bank/gasket_change"];
    let other_names = ["other_bank/deck_cut", "other_bank/head_cut", "other_bank/gasket_change"];
    for (names, bank) in [(names, Some(input.bank)), (other_names, input.other_bank)] {
        if let Some(bank) = bank {
            limit::FACE_CUT.unusual(names[0], bank.deck_cut, cautions);
            limit::FACE_CUT.unusual(names[1], bank.head_cut, cautions);
            limit::GASKET_CHANGE.unusual(names[2], bank.gasket_change, cautions);
        }
    }
    if let Some(angle) = input.bank_angle {
        limit::BANK_ANGLE.unusual("bank_angle", angle, cautions);
    }
    if let Some(angle) = input.intake_face_angle {
        limit::FACE_ANGLE.unusual("intake_face_angle", angle, cautions);
    }
    if let Some(rod) = &input.pushrod {
        limit::PUSHROD_DIAMETER.unusual("pushrod/diameter", rod.diameter, cautions);
        if let Some(passage) = &rod.passage {
            limit::PASSAGE_DIAMETER.unusual("pushrod/passage/diameter", passage.diameter, cautions);
        }
    }
}

fn missing_material(path: &'static str, cut: Option<Length>) -> Option<Caution> {
    cut.filter(|cut| cut.metres() < -1e-9).map(|cut| Caution {
        code: "material_missing",
        severity: Severity::Caution,
        about: About::Answer,
        path: path.into(),
        detail: format!(
            "{} would have to be added here, by a thicker gasket or a spacer: a cut cannot do it.",
            Length::from_metres(-cut.metres()).shown()
        )
        .into(),
        source: "First principles",
    })
}
