//! How the service behaves as an HTTP server, whatever the calculation.

use serde_json::{Value, json};
use tests::{Service, answer};

const PATH: &str = "/v1/geometry/displacement";
const QUERY: &str = "units=inch&cylinders=8&bore=4.25&stroke=4.125";

fn request() -> Value {
    json!({"units": "inch", "cylinders": 8, "bore": 4.25, "stroke": 4.125})
}

#[tokio::test]
async fn the_query_twin_and_the_value_form_give_what_the_body_gives() {
    let service = Service::start();
    let (_, posted) = service.post_json(PATH, &request()).await;
    let twin = service.get(&format!("{PATH}?{QUERY}")).send().await.unwrap();
    assert_eq!(twin.headers()["cache-control"], "public, max-age=3600");
    assert_eq!(twin.json::<Value>().await.unwrap(), posted);
    let text = |query: &str| {
        let request = service.get(&format!("{PATH}/value?{QUERY}{query}"));
        async move { request.send().await.unwrap().text().await.unwrap() }
    };
    assert_eq!(text("").await, posted["displacement"].to_string());
    assert_eq!(text("&field=displacement_litres").await, posted["displacement_litres"].to_string());
    let three = format!("{},{},{}", posted["displacement"], posted["displacement_litres"], posted["bore"]);
    assert_eq!(text("&fields=displacement,displacement_litres,bore").await, three);
}

#[tokio::test]
async fn a_nested_sheet_works_as_a_query() {
    let service = Service::start();
    let query = "units=inch&engine.cylinders=8&engine.layout=vee&block.bore=4.155&block.deck_height=9.475&crankshaft.stroke=3.9\
                 &connecting_rod.length=6.2&piston.compression_height=1.315&piston.dish_volume=11%20cc\
                 &cylinder_head.chamber_volume=70.5&head_gasket.bore=106.68mm&head_gasket.compressed_thickness=.041";
    let path = "/v1/builds/evaluate";
    let (status, twin) = answer(service.get(&format!("{path}?{query}"))).await;
    assert_eq!(status, 200, "{twin}");
    let cell = service.get(&format!("{path}/value?{query}")).send().await.unwrap().text().await.unwrap();
    assert_eq!(cell, twin["compression"]["static_ratio"].to_string());
    let needs = service.get(&format!("{path}/value?{query}&field=compression.trapped_ratio&errors=inline"));
    let needs = needs.send().await.unwrap().text().await.unwrap();
    assert_eq!(needs, "#ERR compression.trapped_ratio needs camshaft.intake_closes_abdc.");
}

#[tokio::test]
async fn a_list_works_as_a_query() {
    let service = Service::start();
    let query = "units=metric&stroke=78&rod_length=135&crank_angles=0,90,180";
    let (status, body) = answer(service.get(&format!("/v1/geometry/piston-motion?{query}"))).await;
    assert_eq!(status, 200, "{body}");
    assert_eq!(body["points"].as_array().map(Vec::len), Some(3));
}

#[tokio::test]
async fn wrong_queries_name_their_parameters() {
    let service = Service::start();
    let (status, problem) =
        answer(service.get(&format!("{PATH}?units=inch&cylinder=8&bore=4,25&stroke=4.125&stroke=4"))).await;
    assert_eq!(status, 422);
    let places = |problem: &Value| {
        let mut places: Vec<_> = problem["errors"]
            .as_array()
            .unwrap()
            .iter()
            .map(|error| format!("{} {}", error["parameter"].as_str().unwrap(), error["code"].as_str().unwrap()))
            .collect();
        places.sort();
        places
    };
    assert_eq!(
        places(&problem),
        ["bore bad_quantity", "cylinder unknown_field", "cylinders missing", "stroke duplicate_field"]
    );
    let (_, problem) = answer(service.get(&format!("{PATH}/value?{QUERY}&field=displacment"))).await;
    assert_eq!(problem["errors"][0]["suggestion"], "displacement");
    let (_, problem) = answer(service.get(&format!("{PATH}/value?{QUERY}&field=method"))).await;
    assert_eq!(problem["errors"][0]["code"], "not_a_value");
    let (_, problem) = answer(service.get(&format!("{PATH}/value?{QUERY}&errors=loud"))).await;
    assert_eq!(places(&problem), ["errors unknown_choice"]);
    let (_, problem) = answer(service.get(&format!("{PATH}?units=inch&cylinders=8&bore=0&stroke=0"))).await;
    assert_eq!(places(&problem), ["bore out_of_range", "stroke out_of_range"]);
}

#[tokio::test]
async fn cells_get_readable_faults_and_safe_numbers() {
    let service = Service::start();
    let cell = async |query: &str| {
        let response = service.get(&format!("{PATH}/value?{query}")).send().await.unwrap();
        assert_eq!(response.headers()["content-type"], "text/plain; charset=utf-8");
        (response.status().as_u16(), response.text().await.unwrap())
    };
    let (status, text) = cell("units=inch&cylinders=8&bore=4,25&stroke=4.125&errors=inline").await;
    assert_eq!(status, 200);
    assert!(
        text.starts_with("#ERR bore '4;25' is not a number") && text.is_ascii() && !text.contains([',', '"', '\n']),
        "{text}"
    );
    assert!(text.len() <= 200);
    // Exactly three decimals would be thousands where a comma is the decimal sign.
    let (_, text) = cell("units=inch&cylinders=1&bore=1.125&stroke=2&field=bore").await;
    assert_eq!(text, "1.1250");
    let (_, text) = cell("units=inch&cylinders=1&bore=.5&stroke=5E-01&field=bore").await;
    assert_eq!(text, "0.5");
}

#[tokio::test]
async fn head_answers_like_get_without_a_body() {
    let service = Service::start();
    for path in [format!("{PATH}?{QUERY}"), format!("{PATH}/value?{QUERY}"), "/healthz".to_owned()] {
        let get = service.get(&path).send().await.unwrap();
        let head = service.request("HEAD", &path).send().await.unwrap();
        assert_eq!(head.status(), get.status(), "{path}");
        for name in ["content-type", "content-length"] {
            assert_eq!(head.headers().get(name), get.headers().get(name), "{path}: {name}");
        }
        assert!(head.bytes().await.unwrap().is_empty());
    }
}

#[tokio::test]
async fn wrong_methods_and_places_are_problems() {
    let service = Service::start();
    let response = service.request("DELETE", PATH).send().await.unwrap();
    assert_eq!(response.status(), 405);
    assert_eq!(response.headers()["allow"], "GET, HEAD, OPTIONS, POST");
    assert_eq!(response.headers()["content-type"], "application/problem+json");
    let response = service.request("POST", &format!("{PATH}/value")).send().await.unwrap();
    assert_eq!(response.status(), 405);
    let response = service.request("OPTIONS", PATH).send().await.unwrap();
    assert_eq!(
        (response.status().as_u16(), &response.headers()["allow"]),
        (204, &"GET, HEAD, OPTIONS, POST".parse().unwrap())
    );
    for path in ["/v1/geometry/displacements", "/v1/methods/none", "/problems/none", "/nothing"] {
        let (status, problem) = answer(service.get(path)).await;
        assert_eq!((status, &problem["type"]), (404, &json!("/problems/not-found")), "{path}");
    }
}

#[tokio::test]
async fn bodies_of_the_wrong_kind_or_size_are_refused() {
    let service = Service::start();
    for content_type in ["text/plain", "application/x-www-form-urlencoded", "application/json; charset=latin1", ""] {
        let post = service.request("POST", PATH).header("content-type", content_type).body(request().to_string());
        let (status, problem) = answer(post).await;
        assert_eq!((status, &problem["type"]), (415, &json!("/problems/unsupported-media-type")), "{content_type}");
    }
    let charset = service.request("POST", PATH).header("content-type", "application/json; charset=UTF-8");
    assert_eq!(answer(charset.body(request().to_string())).await.0, 200);
    let (status, _) = answer(service.post(PATH, request().to_string()).header("content-encoding", "gzip")).await;
    assert_eq!(status, 415);
    let (status, problem) = answer(service.post(PATH, vec![b' '; 2 * 1024 * 1024])).await;
    assert_eq!((status, &problem["type"]), (413, &json!("/problems/body-too-large")));
    // Without an announced length the bytes are counted.
    let chunks = futures_util::stream::iter((0..64).map(|_| Ok::<_, std::io::Error>(vec![b' '; 16 * 1024])));
    let sent = service.post(PATH, reqwest::Body::wrap_stream(chunks)).send().await;
    // The service may close the door while the client still sends; an answer, if it arrives, must be the refusal.
    if let Ok(response) = sent {
        assert_eq!(response.status(), 413);
    }
    let (status, _) = answer(service.post(PATH, vec![0xff, 0xfe])).await;
    assert_eq!(status, 400);
    // It still answers.
    assert_eq!(service.post_json(PATH, &request()).await.0, 200);
}

#[tokio::test]
async fn request_ids_are_kept_when_harmless() {
    let service = Service::start();
    let sent = service.get("/healthz").header("x-request-id", "quote-4711").send().await.unwrap();
    assert_eq!(sent.headers()["x-request-id"], "quote-4711");
    assert_eq!(sent.headers()["x-content-type-options"], "nosniff");
    let too_long = "x".repeat(65);
    for harmful in ["a b", "<script>", too_long.as_str()] {
        let sent = service.get("/healthz").header("x-request-id", harmful).send().await.unwrap();
        assert_ne!(sent.headers()["x-request-id"], harmful);
    }
    let (_, problem) = answer(service.get("/nothing").header("x-request-id", "quote-4712")).await;
    assert_eq!(problem["request_id"], "quote-4712");
}

#[tokio::test]
async fn other_origins_read_answers_only_when_allowed() {
    let closed = Service::start();
    let answer = closed.get("/healthz").header("origin", "https://sheet.example").send().await.unwrap();
    assert!(answer.headers().get("access-control-allow-origin").is_none());
    let open = Service::start_with(&["--cors-origins", "*"]);
    let answer = open.get("/healthz").header("origin", "https://sheet.example").send().await.unwrap();
    assert_eq!(answer.headers()["access-control-allow-origin"], "*");
    let preflight = open.request("OPTIONS", PATH).header("origin", "https://sheet.example");
    let preflight = preflight
        .header("access-control-request-method", "POST")
        .header("access-control-request-headers", "content-type");
    let answer = preflight.send().await.unwrap();
    assert!(answer.status().is_success());
    assert_eq!(answer.headers()["access-control-allow-origin"], "*");
    let some = Service::start_with(&["--cors-origins", "https://a.example,https://b.example"]);
    let answer = some.get("/healthz").header("origin", "https://b.example").send().await.unwrap();
    assert_eq!(answer.headers()["access-control-allow-origin"], "https://b.example");
}

#[tokio::test]
async fn the_service_tells_of_itself() {
    let service = Service::start();
    assert_eq!(service.get("/readyz").send().await.unwrap().text().await.unwrap(), "ready");
    let page = service.get("/docs/").send().await.unwrap().text().await.unwrap();
    assert!(page.contains("swagger-ui"));
    let page = service.get("/problems/invalid-request").send().await.unwrap().text().await.unwrap();
    assert!(page.contains("The request has invalid fields"));
    service.post_json(PATH, &request()).await;
    service.post_json(PATH, &json!({})).await;
    let metrics = service.get("/metrics").send().await.unwrap().text().await.unwrap();
    let counted = |class: &str| format!("blockwright_http_answers_total{{class=\"{class}\",route=\"{PATH}\"}} 1\n");
    assert!(metrics.contains(&counted("2xx")) && metrics.contains(&counted("4xx")), "{metrics}");
    assert!(metrics.contains(&format!("blockwright_http_answer_seconds_count{{route=\"{PATH}\"}} 2")), "{metrics}");
}

#[tokio::test]
async fn every_method_that_an_answer_names_has_a_page() {
    let service = Service::start();
    let (_, list) = answer(service.get("/v1/methods")).await;
    let ids: Vec<_> = list["methods"].as_array().unwrap().iter().map(|method| method["id"].as_str().unwrap()).collect();
    for id in &ids {
        let (status, page) = answer(service.get(&format!("/v1/methods/{id}"))).await;
        assert_eq!(status, 200);
        assert!(
            !page["equation"].as_str().unwrap().is_empty() && !page["sources"].as_array().unwrap().is_empty(),
            "{page}"
        );
    }
    let build = include_str!("../../fixtures/builds/harbour_launch_v8.json");
    let (_, evaluated) = answer(service.post("/v1/builds/evaluate", build)).await;
    for method in evaluated["method"].as_array().unwrap() {
        assert!(ids.contains(&method.as_str().unwrap()), "{method}");
    }
    let (_, page) = answer(service.get("/v1/methods/slider-crank-exact")).await;
    assert!(page["checks"].as_array().unwrap().iter().any(|check| check["source"].as_str().unwrap().contains("HELM")));
}
