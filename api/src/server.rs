//! The framework's app: every route of the list, one resource for each path, problems for everything else.

use actix_web::{
    App, Error, HttpRequest, HttpResponse, Resource,
    body::BoxBody,
    dev::{ServiceFactory, ServiceRequest, ServiceResponse},
    http::{
        Method,
        header::{self, HeaderValue},
    },
    middleware, web,
};

use infra::store::Store;

use crate::{
    context::Context,
    edge,
    http::{self, ROUTES, Route},
    metrics::{self, Metrics},
    problem::{self, Code, Problem},
};

/// The app of one thread.
pub(crate) fn app(
    ctx: web::Data<Context>,
) -> App<
    impl ServiceFactory<
        ServiceRequest,
        Config = (),
        Response = ServiceResponse<BoxBody>,
        Error = Error,
        InitError = (),
    >,
> {
    App::new()
        .app_data(ctx)
        .app_data(web::JsonConfig::default().error_handler(problem::json_fault))
        .app_data(web::PathConfig::default().error_handler(problem::path_fault))
        .app_data(web::QueryConfig::default().error_handler(problem::query_fault))
        .configure(routes)
        .default_service(web::to(nothing))
        .wrap(middleware::from_fn(edge::serve))
}

/// The app of the second listener.
pub(crate) fn metrics_app(
    metrics: web::Data<Metrics>,
    store: web::Data<Store>,
) -> App<
    impl ServiceFactory<
        ServiceRequest,
        Config = (),
        Response = ServiceResponse<BoxBody>,
        Error = Error,
        InitError = (),
    >,
> {
    App::new()
        .app_data(metrics)
        .app_data(store)
        .service(web::resource("/metrics").get(metrics::show))
}

/// One resource for each path: that is what makes another method 405 and not 404. Resources of one kind stand below
/// their common prefix, so that a request is compared with the patterns of its kind and not with all there are.
fn routes(config: &mut web::ServiceConfig) {
    let mut paths: Vec<&str> = ROUTES.iter().map(|route| route.path).collect();
    paths.dedup();
    for kind in paths.chunk_by(|one, next| prefix(one) == prefix(next)) {
        let prefix = kind.first().map_or("", |path| prefix(path));
        if prefix.is_empty() {
            for path in kind {
                config.service(resource(path, path));
            }
        } else {
            let scope = kind.iter().fold(web::scope(prefix), |scope, path| {
                scope.service(resource(path, path.strip_prefix(prefix).unwrap_or(path)))
            });
            config.service(scope);
        }
    }
}

/// The part of a versioned path that names the kind of its resource, such as `/v1/plans`.
fn prefix(path: &str) -> &str {
    let Some(rest) = path.strip_prefix("/v1/") else {
        return "";
    };
    let behind = rest
        .find('/')
        .map_or("", |end| rest.get(end..).unwrap_or_default());
    path.strip_suffix(behind).unwrap_or(path)
}

/// The resource of a whole path, to be served at `pattern` below its prefix.
fn resource(path: &str, pattern: &str) -> Resource {
    let offered: Vec<&Route> = ROUTES.iter().filter(|route| route.path == path).collect();
    let allow = http::allow(&offered);
    let refuse = web::to(move |request: HttpRequest| {
        let answer = other_method(&request, &allow);
        async move { answer }
    });
    let resource = offered
        .iter()
        .fold(web::resource(pattern), |resource, route| {
            resource.route(route.build())
        });
    resource.default_service(refuse)
}

/// The answer to a method that a path does not offer; `OPTIONS` asks just that.
fn other_method(request: &HttpRequest, allow: &str) -> Result<HttpResponse, Problem> {
    let allow = HeaderValue::from_str(allow).map_err(|error| Problem::internal(&error))?;
    if request.method() == Method::OPTIONS {
        return Ok(HttpResponse::NoContent()
            .insert_header((header::ALLOW, allow))
            .finish());
    }
    Err(Problem::new(Code::MethodNotAllowed, "See `Allow`.").header(header::ALLOW, allow))
}

async fn nothing() -> Result<HttpResponse, Problem> {
    Err(Problem::not_found())
}
