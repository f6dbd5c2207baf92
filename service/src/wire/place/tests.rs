//! The core's table of places and the published schemas must name the same numbers.

use super::figure::Figure;
use super::*;

/// Numbers of the answer that say nothing about the engine.
const NOT_OF_THE_ENGINE: [&str; 1] = ["formula_revision"];

fn numbers<P>(document: &Document<P>) -> Vec<&str> {
    let apart = |path: &str| NOT_OF_THE_ENGINE.contains(&path) || path.starts_with(BALANCED);
    let number = |lead: &&Lead| matches!(lead.to, To::Number(_)) && !apart(&lead.path);
    document.leads.iter().filter(number).map(|lead| lead.path.as_str()).collect()
}

/// A field that is added to the build sheet or to its answer fails here until it has a line in the core's table.
#[test]
fn every_number_of_sheet_and_answer_has_a_place() {
    let mut sheet: Vec<_> = INPUTS.iter().map(|place| place.path).collect();
    let mut answer: Vec<_> = RESULTS.iter().map(|place| place.path).collect();
    let (mut in_sheet, mut in_answer) = (numbers(&SHEET), numbers(&ANSWER));
    for list in [&mut sheet, &mut answer, &mut in_sheet, &mut in_answer] {
        list.sort_unstable();
    }
    assert_eq!(sheet, in_sheet);
    assert_eq!(answer, in_answer);
    assert_eq!(inputs().count(), INPUTS.len());
    assert_eq!(results().count(), RESULTS.len());
}

/// The unit comes from the schema, the quantity from the core: both must mean the same.
#[test]
fn every_place_measures_what_its_field_measures() {
    for place in INPUTS {
        let field = InputPointer(pointer(place.path)).resolve("").unwrap();
        assert_eq!(field.kind.quantity, place.dimension.name, "{}", place.path);
    }
    for place in RESULTS {
        let field = ResultPointer(pointer(place.path)).resolve("").unwrap();
        assert_eq!(field.kind.quantity, place.dimension.name, "{}", place.path);
    }
}

/// The numbers read through the table are those that the answer holds.
#[test]
fn every_result_is_what_evaluate_answers() {
    for text in [
        include_str!("../../../../fixtures/builds/beach_racer_v8.json"),
        include_str!("../../../../fixtures/builds/harbour_launch_v8.json"),
        include_str!("../../../../fixtures/builds/lifeboat_v6.json"),
    ] {
        let request: BuildRequest = serde_json::from_str(text).unwrap();
        let units = request.units;
        let found = calc_core::build::evaluate::evaluate(&request.core()).unwrap();
        let entry = crate::routes::calculation("/v1/builds/evaluate").unwrap();
        let answer: Value = serde_json::from_slice(&entry.answer(text.as_bytes()).unwrap()).unwrap();
        let mut seen = 0;
        for place in RESULTS {
            let field = ResultPointer(pointer(place.path)).resolve("").unwrap();
            let answered = answer.pointer(&pointer(place.path)).map(|value| value.as_f64().unwrap());
            let read = field.place.get(&found).map(|si| field.number(si, units).0);
            seen += usize::from(read.is_some());
            match (read, answered) {
                (Some(read), Some(answered)) => {
                    assert!((read - answered).abs() <= 1e-15 * answered.abs(), "{}: {read} {answered}", place.path);
                }
                (None, None) => {}
                other => panic!("{}: {other:?}", place.path),
            }
        }
        assert!(seen >= 20);
    }
}

#[test]
fn what_the_sheet_says_is_what_is_read_through_the_table() {
    let text = include_str!("../../../../fixtures/builds/beach_racer_v8.json");
    let request: BuildRequest = serde_json::from_str(text).unwrap();
    let (units, build) = (request.units, request.core());
    let sheet: Value = serde_json::from_str(text).unwrap();
    let mut seen = 0;
    for place in INPUTS {
        let Some(given) = sheet.pointer(&pointer(place.path)) else { continue };
        let field = InputPointer(format!("#/{}", place.path)).resolve("").unwrap();
        let quantity: PlaceQuantity = serde_json::from_value(given.clone()).unwrap();
        let si = field.si(&quantity, units, "").unwrap();
        assert_eq!(place.get(&build), Some(si), "{}", place.path);
        seen += 1;
    }
    assert!(seen >= 15);
}

#[test]
fn temperatures_differ_without_an_offset() {
    let field = InputPointer("/atmosphere/intake_temperature".to_owned()).resolve("").unwrap();
    let nine = PlaceQuantity(Figure::Bare(9.0));
    assert!((field.difference_si(&nine, Units::Inch, "").unwrap() - 5.0).abs() < 1e-12);
    assert!((field.si(&nine, Units::Metric, "").unwrap() - 282.15).abs() < 1e-12);
    let PlaceNumber(step) = field.difference(5.0, Units::Inch);
    assert!((step - 9.0).abs() < 1e-12);
    assert_eq!(field.unit(Units::Inch), "degF");
}

#[test]
fn wrong_pointers_are_refused_with_what_would_be_right() {
    for (text, code, says) in [
        ("/block/boar", "unknown_pointer", "Did you mean /block/bore?"),
        ("block/bore", "unknown_pointer", "each begins with '/'. Did you mean /block/bore?"),
        ("", "unknown_pointer", "/v1/builds/places"),
        ("/", "unknown_pointer", "leads to nothing"),
        ("/block", "not_a_number", "/block/bore, /block/deck_height"),
        ("/engine/layout", "not_a_number", "a text"),
        ("/units", "not_a_number", "a text"),
        ("/measured/chamber_volumes", "not_a_number", "a list"),
        ("/measured/chamber_volumes/0", "not_a_number", "into a list"),
        ("/geometry/squish_clearance", "unknown_pointer", "is a result"),
    ] {
        let refused = InputPointer(text.to_owned()).resolve("unknowns/0/pointer").unwrap_err();
        assert_eq!(refused.code, code, "{text}");
        assert!(refused.message.as_ref().unwrap().contains(says), "{text}: {:?}", refused.message);
    }
    for (text, code, says) in [
        ("/block/bore", "unknown_pointer", "is an input"),
        ("/compression/cylinders/0/static_ratio", "not_a_number", "into a list"),
        ("/formula_revision", "not_a_number", "no number of the engine"),
        ("/compression/static_rato", "unknown_pointer", "Did you mean /compression/static_ratio?"),
    ] {
        let refused = ResultPointer(text.to_owned()).resolve("").unwrap_err();
        assert_eq!(refused.code, code, "{text}");
        assert!(refused.message.as_ref().unwrap().contains(says), "{text}: {:?}", refused.message);
    }
}

#[test]
fn a_quantity_of_the_wrong_kind_is_refused() {
    let field = InputPointer("/block/bore".to_owned()).resolve("").unwrap();
    let weight = PlaceQuantity(Figure::Text("64 cc".to_owned()));
    let refused = field.si(&weight, Units::Inch, "wanted/0/value").unwrap_err();
    assert_eq!(refused.code, "bad_quantity");
    assert!(refused.message.unwrap().contains("is not a unit of length"));
}
