//! An invented block with taper, tilted decks and one thin wall, against a calculation by hand.
//!
//! The block is `fixtures/blocks/slipway_v8.json`: a vee eight at 90 degrees whose intake faces turn up 10 degrees.

use serde_json::{Value, json};
use tests::{Service, root};

fn block() -> Value {
    let text = std::fs::read_to_string(root().join("fixtures/blocks/slipway_v8.json")).unwrap();
    serde_json::from_str(&text).unwrap()
}

fn near(found: &Value, expected: f64, within: f64) -> bool {
    found.as_f64().is_some_and(|found| (found - expected).abs() <= within)
}

/// One line of the list by hand: operation, numbers, count, from, to, stock, passes, and the lines it must follow.
type Line = (&'static str, &'static [u64], u64, Option<f64>, Option<f64>, Option<f64>, Option<u64>, &'static [u64]);

/// By hand, in inches. Passes: boring takes 0.060 on the diameter at most, milling 0.004.
///
/// - Housings read 2.7503 to 2.7508. Caps cut by 0.003 leave the tightest at 2.7503 - 0.003 = 2.7473; to 2.7500 are 0.0027.
/// - Bored size 4.030 - 0.005 = 4.025.
/// - Cylinder 6: wall 0.105, bored it keeps 0.105 - (4.030 - 4.002)/2 = 0.091, below 0.100: sleeve. Its housing is
///   4.190 - 0.002 = 4.188; 4.188 - 4.002 = 0.186 are 3.1 passes, so 4. The sleeve comes at 4.005, 0.020 below 4.025.
/// - Decks: 9.012 - 9.000 = 0.012 are 3 passes, 9.008 - 9.000 = 0.008 are 2.
/// - Tightest bores: 4.001 in 1, 3, 7; 4.002 in 2, 5, 8; 4.003 in 4: 0.024, 0.023, 0.022 to 4.025.
/// - Heads 0.006 are 1.5 passes, so 2; intake sides 0.018: 4.5, so 5; 0.0215: 5.375, so 6; rails 0.0275: 6.875, so 7.
const BY_HAND: [Line; 15] = [
    ("cut_main_caps", &[1, 2, 3, 4, 5], 5, None, None, Some(0.003), Some(1), &[]),
    ("line_hone", &[1, 2, 3, 4, 5], 5, Some(2.7473), Some(2.75), Some(0.0027), None, &[1]),
    ("bore_for_sleeve", &[6], 1, Some(4.002), Some(4.188), Some(0.186), Some(4), &[2]),
    ("fit_sleeve", &[6], 1, None, None, None, None, &[3]),
    ("deck_block", &[1], 1, Some(9.012), Some(9.0), Some(0.012), Some(3), &[2, 4]),
    ("deck_block", &[2], 1, Some(9.008), Some(9.0), Some(0.008), Some(2), &[2, 4]),
    ("bore_cylinder", &[1, 3, 7], 3, Some(4.001), Some(4.025), Some(0.024), Some(1), &[2, 4, 5, 6]),
    ("bore_cylinder", &[2, 5, 8], 3, Some(4.002), Some(4.025), Some(0.023), Some(1), &[2, 4, 5, 6]),
    ("bore_cylinder", &[4], 1, Some(4.003), Some(4.025), Some(0.022), Some(1), &[2, 4, 5, 6]),
    ("bore_cylinder", &[6], 1, Some(4.005), Some(4.025), Some(0.02), Some(1), &[2, 4, 5, 6]),
    ("hone_cylinder", &[1, 2, 3, 4, 5, 6, 7, 8], 8, Some(4.025), Some(4.03), Some(0.005), None, &[5, 6, 7, 8, 9, 10]),
    ("mill_head", &[1, 2], 2, None, None, Some(0.006), Some(2), &[]),
    ("mill_intake_side", &[1], 1, None, None, Some(0.018), Some(5), &[5, 6, 12]),
    ("mill_intake_side", &[2], 1, None, None, Some(0.0215), Some(6), &[5, 6, 12]),
    ("mill_end_rails", &[], 2, None, None, Some(0.0275), Some(7), &[5, 6, 12]),
];

/// Walls left by hand: the thinnest reading less half of what the tightest diameter gains; cylinder 6 is bored to 4.188.
const WALLS: [f64; 8] = [
    0.152 - 0.029 / 2.0,
    0.148 - 0.028 / 2.0,
    0.155 - 0.029 / 2.0,
    0.149 - 0.027 / 2.0,
    0.160 - 0.028 / 2.0,
    0.105 - 0.186 / 2.0,
    0.151 - 0.029 / 2.0,
    0.147 - 0.028 / 2.0,
];

#[tokio::test]
async fn the_operations_are_those_found_by_hand() {
    let (status, answer) = Service::start().post_json("/v1/builds/operations", &block()).await;
    assert_eq!(status, 200, "{answer}");
    let lines = answer["operations"].as_array().unwrap();
    let names: Vec<_> = lines.iter().map(|line| line["operation"].as_str().unwrap()).collect();
    assert_eq!(names, BY_HAND.map(|line| line.0));
    for (line, (name, numbers, count, from, to, stock, passes, follows)) in lines.iter().zip(BY_HAND) {
        assert_eq!(line["numbers"], json!(numbers), "{name}");
        assert_eq!(line["count"], json!(count), "{name}");
        for (field, expected) in [("from_size", from), ("to_size", to), ("stock", stock)] {
            match expected {
                Some(expected) => assert!(near(&line[field], expected, 1e-12), "{name}: {field} {}", line[field]),
                None => assert!(line[field].is_null(), "{name}: {field} is given"),
            }
        }
        assert_eq!(line["passes"].as_u64(), passes, "{name}");
        assert_eq!(line["torque_plate"], json!(name == "hone_cylinder"));
        let constraints = line["constraints"].as_array().unwrap();
        let mut after: Vec<_> = constraints.iter().map(|constraint| constraint["after"].as_u64().unwrap()).collect();
        after.sort_unstable();
        assert_eq!(after, follows, "{name}");
        assert!(constraints.iter().all(|constraint| constraint["source"] == "common practice, no source"));
        for when in ["measure_before", "measure_after"] {
            assert!(!line[when].as_array().unwrap().is_empty(), "{name}: {when}");
        }
    }
    for (index, expected) in WALLS.iter().enumerate() {
        let wall = &answer["walls"][index];
        assert!(near(&wall["wall"], *expected, 1e-12), "{wall}");
        assert_eq!(wall["sleeved"], json!(index == 5));
    }
    let codes: Vec<_> = answer["cautions"].as_array().unwrap().iter().map(|caution| &caution["code"]).collect();
    assert_eq!(codes, ["deck_heights_move", "measure_and_mock_up"]);
}

#[tokio::test]
async fn without_a_sleeve_the_thin_wall_is_a_danger() {
    let mut request = block();
    request["plan"].as_object_mut().unwrap().remove("sleeve");
    let (status, answer) = Service::start().post_json("/v1/builds/operations", &request).await;
    assert_eq!(status, 200, "{answer}");
    let thin = &answer["cautions"][0];
    assert_eq!((&thin["code"], &thin["severity"]), (&json!("wall_thin"), &json!("danger")));
    let pointer = thin["pointer"].as_str().unwrap().trim_start_matches('#');
    assert!(near(answer.pointer(pointer).unwrap(), 0.091, 1e-12));
}

/// Tilted decks lose different amounts front and rear, so the manifold's sides want a tapered cut.
///
/// By hand, with sin 45 = cos 45 = 0.707107, cos 10 = 0.984808, sin 10 = 0.173648, sin 55 = 0.819152, cos 55 = 0.573576.
/// Factors: side 0.707107/0.573576 = 1.232805; rail 0.984808/0.573576 = 1.716964; unequal banks 0.707107/0.819152 = 0.863219;
/// shift 0.707107 + 0.707107 x 0.573576/0.819152 = 1.202228.
/// Front: deck cuts 0.012 and 0.008, heads 0.006 each: q = 0.018 and 0.014, mean 0.016.
///   sides 0.016 x 1.232805 -+ 0.002 x 0.863219 = 0.017998 and 0.021451; rail 0.016 x 1.716964 = 0.027471;
///   shift -0.002 x 1.202228 = -0.002404; ports miss by 0.018 x 0.984808 = 0.017727 and 0.014 x 0.984808 = 0.013787.
/// Rear: deck cuts 0.004 and 0.005: q = 0.010 and 0.011, mean 0.0105.
///   sides 0.0105 x 1.232805 +- 0.0005 x 0.863219 = 0.013376 and 0.012513; rail 0.0105 x 1.716964 = 0.018028;
///   shift 0.0005 x 1.202228 = 0.000601; ports miss by 0.009848 and 0.010833.
#[tokio::test]
async fn the_manifold_fits_as_found_by_hand() {
    let service = Service::start();
    for (cuts, sides, rail, shift, ports) in [
        ([0.012, 0.008], [0.017998, 0.021451], 0.027471, -0.002404, [0.017727, 0.013787]),
        ([0.004, 0.005], [0.013376, 0.012513], 0.018028, 0.000601, [0.009848, 0.010833]),
    ] {
        let request = json!({
            "units": "inch", "bank_angle": 90, "manifold": "valley", "intake_face_angle": 10,
            "bank": {"deck_cut": cuts[0], "head_cut": 0.006}, "other_bank": {"deck_cut": cuts[1], "head_cut": 0.006},
        });
        let (status, answer) = service.post_json("/v1/geometry/manifold-fit", &request).await;
        assert_eq!(status, 200, "{answer}");
        // Half of the last digit that is written above, and as much for the rounded factors.
        const WITHIN: f64 = 1e-6;
        const SIN_45: f64 = std::f64::consts::FRAC_1_SQRT_2;
        for (bank, cut, side, port) in
            [("bank", cuts[0], sides[0], ports[0]), ("other_bank", cuts[1], sides[1], ports[1])]
        {
            let found = &answer[bank];
            assert!(near(&found["lowered"], cut + 0.006, 1e-12), "{found}");
            assert!(near(&found["down"], (cut + 0.006) * SIN_45, WITHIN), "{found}");
            assert!(near(&found["inward"], (cut + 0.006) * SIN_45, WITHIN), "{found}");
            assert!(near(&found["face"]["side_cut"], side, WITHIN), "{found}");
            assert!(near(&found["face"]["port_mismatch"], port, WITHIN), "{found}");
            assert!(near(&found["face"]["face_gap"], (cut + 0.006) * 0.173648, WITHIN), "{found}");
        }
        assert!(near(&answer["manifold"]["end_rail_cut"], rail, WITHIN), "{answer}");
        assert!(near(&answer["manifold"]["sideways_shift"], shift, WITHIN), "{answer}");
    }
}
