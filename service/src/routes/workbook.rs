//! `/v1/workbook.xlsx`: a spreadsheet that calls the service it came from.

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, web};

use crate::calculation::internal;
use crate::problem::Problem;
use crate::spreadsheet;

const MEDIA: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

pub(crate) async fn download(request: HttpRequest) -> Result<HttpResponse, Problem> {
    let address = address(&request);
    let made = web::block(move || spreadsheet::workbook(&address)).await;
    let workbook = made.unwrap_or_else(|error| Err(internal(&error.to_string())))?;
    Ok(HttpResponse::Ok()
        .insert_header((header::CONTENT_TYPE, MEDIA))
        .insert_header((header::CONTENT_DISPOSITION, "attachment; filename=\"blockwright.xlsx\""))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .body(workbook))
}

/// Where the caller reached the service, as far as it and the proxies between say so.
fn address(request: &HttpRequest) -> String {
    const LONGEST: usize = 200;
    let info = request.connection_info();
    let (scheme, host) = (info.scheme(), info.host());
    let plain = |character: char| character.is_ascii_alphanumeric() || "-._:[]".contains(character);
    let sound = !host.is_empty() && host.len() <= LONGEST && host.chars().all(plain);
    if sound && matches!(scheme, "http" | "https") {
        format!("{scheme}://{host}")
    } else {
        "http://127.0.0.1:8080".to_owned()
    }
}
