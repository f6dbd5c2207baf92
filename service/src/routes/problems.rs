//! `/problems/<slug>`: what a kind of problem means.

use actix_web::{HttpResponse, web};

use crate::problem::{self, Problem};

pub(crate) async fn page(slug: web::Path<String>) -> Result<HttpResponse, Problem> {
    let Some(kind) = problem::ALL.iter().find(|kind| kind.slug == *slug) else {
        return Err(Problem::new(problem::NOT_FOUND, "There is no kind of problem of this name."));
    };
    let page = format!(
        "<!doctype html>\n<html lang=\"en\">\n<meta charset=\"utf-8\">\n<title>{title}</title>\n<h1>{title}</h1>\n\
         <p>Status {status}, type <code>/problems/{slug}</code>.</p>\n<p>{text}</p>\n</html>\n",
        title = kind.title,
        status = kind.status,
        slug = kind.slug,
        text = kind.page,
    );
    Ok(HttpResponse::Ok().content_type("text/html; charset=utf-8").body(page))
}
