//! The yardstick of the load run: a bare actix-web handler that parses the same typed request with `serde_json` and
//! serialises a constant answer of the same type and size. No checks, ids, metrics, log or arithmetic.

#![allow(clippy::expect_used)]

use actix_web::{App, HttpResponse, HttpServer, web};
use service::Calculation;
use service::routes::builds::evaluate::Evaluate;
use service::routes::builds::sheet::BuildRequest;

#[actix_web::main]
async fn main() -> std::io::Result<()> {
    let demo = include_str!("../../fixtures/builds/harbour_launch_v8.json");
    let server = HttpServer::new(move || {
        let request = serde_json::from_str(demo).expect("the demo build parses");
        let constant = web::Data::new(Evaluate::run(request).expect("the demo build evaluates"));
        App::new().app_data(constant.clone()).route(
            "/v1/builds/evaluate",
            web::post().to(move |request: web::Json<BuildRequest>| {
                std::hint::black_box(&request);
                let answer = HttpResponse::Ok().json(constant.get_ref());
                async move { answer }
            }),
        )
    })
    .workers(1)
    .bind(("127.0.0.1", 0))?;
    println!("{}", server.addrs()[0]);
    server.run().await
}
