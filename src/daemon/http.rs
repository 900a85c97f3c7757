//! The routes of the HTTP port.

use std::sync::Arc;

use axum::Router;
use axum::extract::ws::WebSocketUpgrade;
use axum::extract::{ConnectInfo, Path, Request, State};
use axum::http::header::{self, HeaderMap, HeaderValue};
use axum::http::{Method, StatusCode, Uri};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use axum::routing::{any, get, post};
use serde_json::{Value, json};

use super::crowd::Place;
use super::gate::STRANGER;
use super::house::House;
use super::hub::Client;
use super::serve::{Ends, STOP_ONLY_MAX, STOP_ONLY_OF_ONE};
use super::{assets, doors, enter, metrics, rpc, takes};
use crate::engine::{Role, StopLane};
use crate::wire::Barred;
use crate::wire::rpc::TEXT_MAX;

/// The longest name that a WebSocket client may give itself.
const NAME_MAX: usize = 40;

#[derive(Clone)]
pub struct Port {
    pub house: Arc<House>,
}

/// From the inside out: what needs a role; what needs one of our names; and what is had by anyone.
pub fn router(house: Arc<House>) -> Router {
    let port = Port { house };
    let of_observers = Router::new()
        .route("/status", get(status))
        .route("/show", get(show))
        .route("/cue/{number}", get(cue))
        .route("/takes", get(takes_kept))
        .route("/take/{name}", get(take))
        .route("/metrics", get(figures))
        .layer(middleware::from_fn_with_state(port.clone(), check_role));
    let of_visitors = of_observers
        .route("/rpc", any(open_rpc))
        .route("/access", get(enter::access))
        .route("/enter", post(enter::enter))
        .fallback(asset)
        .layer(middleware::from_fn_with_state(port.clone(), check_host));
    // A stop is taken from anyone, whatever else is wrong with the request.
    let of_anyone =
        Router::new().route("/stop", post(stop).fallback(stop_needs_post)).route("/health", get(health));
    of_anyone.merge(of_visitors).layer(middleware::map_response(mark)).with_state(port)
}

/// Where there is no room for a connection: the stop, and why nothing else is had.
pub fn stop_alone(house: Arc<House>, why: String) -> Router {
    let full = move || async move { failure(StatusCode::SERVICE_UNAVAILABLE, &why) };
    let router = Router::new().route("/stop", post(stop).fallback(stop_needs_post)).fallback(full);
    router.layer(middleware::map_response(close)).layer(middleware::map_response(mark)).with_state(Port { house })
}

/// On every response: nothing is kept by anyone in between, and a page of ours loads from us alone.
async fn mark(mut response: Response) -> Response {
    let headers = response.headers_mut();
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    headers.insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static("default-src 'self'"));
    headers.insert(header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    headers.insert(header::REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    response
}

async fn close(mut response: Response) -> Response {
    response.headers_mut().insert(header::CONNECTION, HeaderValue::from_static("close"));
    response
}

async fn check_host(
    State(port): State<Port>,
    ConnectInfo(ends): ConnectInfo<Ends>,
    request: Request,
    next: Next,
) -> Response {
    let host = host(request.headers(), request.uri());
    let own = doors::is_own_host(&host, ends.to.ip(), &port.house.gate.access().hosts);
    if own {
        return next.run(request).await;
    }
    let why = format!(
        "the Host '{}' is no name of this machine: ask for {}, or write the name under hosts in access.toml",
        host.escape_debug(),
        ends.to
    );
    port.house.counters.reject("foreign host", &format!("http {}", ends.from), &why);
    failure(StatusCode::FORBIDDEN, &why)
}

/// To look, one has to be let in.
async fn check_role(
    State(port): State<Port>,
    ConnectInfo(ends): ConnectInfo<Ends>,
    request: Request,
    next: Next,
) -> Response {
    match enter::visitor(&port, request.headers(), ends) {
        Ok(_) => next.run(request).await,
        Err(why) => enter::not_let_in(&port, ends, &why),
    }
}

impl Port {
    /// The answer to a page from elsewhere, which has no business here; `None` for our own, and for programs.
    pub fn foreign_origin(&self, headers: &HeaderMap, uri: &Uri, ends: Ends) -> Option<Response> {
        let origin = headers.get(header::ORIGIN).map(|origin| origin.to_str().unwrap_or("unreadable"));
        if doors::is_own_origin(origin, &host(headers, uri), &self.house.gate.access().hosts) {
            return None;
        }
        let why = "a page from elsewhere has no business here: open the panel that this daemon serves";
        self.house.counters.reject("foreign origin", &format!("http {}", ends.from), &why);
        Some(failure(StatusCode::FORBIDDEN, why))
    }

    /// Who a WebSocket is, with a place for it. One that is not let in may stop all the same, so it has a client too,
    /// and why it can do nothing else.
    fn admit(&self, headers: &HeaderMap, uri: &Uri, ends: Ends) -> Result<(Client, Place, rpc::Standing), Barred> {
        let gate = &self.house.gate;
        let ip = ends.from.ip();
        let admitted = enter::visitor(self, headers, ends).and_then(|pass| {
            let limits = gate.access().limits;
            let place = gate.clients.enter(ip, limits.clients as usize, limits.connections as usize)?;
            Ok((pass, place))
        });
        match admitted {
            Ok((pass, place)) => {
                let from_page = headers.contains_key(header::ORIGIN);
                let road = if from_page { "panel" } else { "websocket" };
                let name = pass.name(device(uri).as_deref(), road, &ends.from.to_string());
                let client = self.house.hub.link(&name, pass.role);
                Ok((client, place, rpc::Standing::In(pass)))
            }
            Err(why) => {
                self.house.counters.reject(why.counter(), &format!("websocket {}", ends.from), &why);
                let place = gate.stop_only.enter(ip, STOP_ONLY_MAX, STOP_ONLY_OF_ONE)?;
                Ok((self.house.hub.link(STRANGER, Role::Observer), place, rpc::Standing::StopOnly(why)))
            }
        }
    }
}

/// Of the Host header, or of an absolute target; empty if it has neither.
fn host(headers: &HeaderMap, uri: &Uri) -> String {
    let of_header = headers.get(header::HOST).and_then(|host| host.to_str().ok());
    of_header.or(uri.authority().map(|authority| authority.as_str())).unwrap_or_default().to_owned()
}

async fn open_rpc(
    State(port): State<Port>,
    ConnectInfo(ends): ConnectInfo<Ends>,
    headers: HeaderMap,
    uri: Uri,
    upgrade: Result<WebSocketUpgrade, axum::extract::ws::rejection::WebSocketUpgradeRejection>,
) -> Response {
    if let Some(refused) = port.foreign_origin(&headers, &uri, ends) {
        return refused;
    }
    let upgrade = match upgrade {
        Ok(upgrade) => upgrade,
        Err(_) => return failure(StatusCode::BAD_REQUEST, "/rpc is a WebSocket: expected an upgrade (RFC 6455)"),
    };
    let (client, place, standing) = match port.admit(&headers, &uri, ends) {
        Ok(admitted) => admitted,
        Err(why) => return failure(StatusCode::SERVICE_UNAVAILABLE, &why.to_string()),
    };
    let house = port.house.clone();
    upgrade.max_message_size(TEXT_MAX).max_frame_size(TEXT_MAX).on_upgrade(async move |socket| {
        rpc::serve(socket, house, client, ends.from.ip(), standing).await;
        drop(place);
    })
}

/// `/rpc?name=command-line` is "command line". Connections that give themselves the same name are one client: what one
/// holds, another may release.
fn device(uri: &Uri) -> Option<String> {
    let given = asked(uri, "name")?;
    let plain = (1..=NAME_MAX).contains(&given.len())
        && given.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-');
    plain.then(|| given.replace('-', " "))
}

async fn stop(State(port): State<Port>, ConnectInfo(ends): ConnectInfo<Ends>) -> Response {
    port.house.stop.press(StopLane::Http, None);
    tracing::info!("http {}: stop", ends.from);
    json_response(&json!({ "taken": true }))
}

async fn stop_needs_post() -> Response {
    failure(StatusCode::METHOD_NOT_ALLOWED, "a stop is asked for by POST /stop; nothing was stopped")
}

async fn status(State(port): State<Port>) -> Response {
    json_response(&port.house.status_json(false))
}

async fn show(State(port): State<Port>) -> Response {
    json_response(&port.house.show_json())
}

async fn cue(State(port): State<Port>, Path(number): Path<String>) -> Response {
    let book = port.house.book();
    match book.names.cue(&number) {
        Ok(cue) => json_response(&port.house.cue_json(&book, cue)),
        Err(why) => failure(StatusCode::NOT_FOUND, &why.to_string()),
    }
}

async fn takes_kept(State(port): State<Port>) -> Response {
    on_disk(port, |house| {
        let folder = house.recordings.folder().map_err(|why| vec![why])?;
        takes::list(&folder, &house.book().show).map_err(|why| vec![why])
    })
    .await
}

/// `?from=1&to=9` as if it were cut there, `&stretch=1.1`, `&rig=heron`.
async fn take(State(port): State<Port>, Path(name): Path<String>, uri: Uri) -> Response {
    let number = |key: &str| asked(&uri, key).and_then(|text| text.parse::<f64>().ok());
    let ends = number("from").zip(number("to")).map(|(from, to)| [from, to]);
    let stretch = number("stretch").filter(|stretch| stretch.is_finite() && *stretch > 0.0);
    let view = takes::View { ends, stretch, rig: asked(&uri, "rig").map(str::to_owned) };
    on_disk(port, move |house| {
        let folder = house.recordings.folder().map_err(|why| vec![why])?;
        takes::preview(&folder, &house.book().show, &name, &view)
    })
    .await
}

/// What a query says of a key.
fn asked<'a>(uri: &'a Uri, key: &str) -> Option<&'a str> {
    uri.query()?.split('&').find_map(|pair| pair.strip_prefix(key)?.strip_prefix('='))
}

/// What may wait for the disk, or think for a while, does so where nobody else waits.
async fn on_disk(port: Port, look: impl FnOnce(&House) -> Result<Value, Vec<String>> + Send + 'static) -> Response {
    match tokio::task::spawn_blocking(move || look(&port.house)).await {
        Ok(Ok(found)) => json_response(&found),
        Ok(Err(reasons)) => {
            (StatusCode::NOT_FOUND, json_response(&json!({ "error": reasons.join("; "), "reasons": reasons })))
                .into_response()
        }
        Err(_) => failure(StatusCode::INTERNAL_SERVER_ERROR, "the take could not be looked at"),
    }
}

async fn figures(State(port): State<Port>) -> Response {
    ([(header::CONTENT_TYPE, metrics::CONTENT_TYPE)], metrics::text(&port.house)).into_response()
}

/// Whether the tick loop runs. A latched stop is healthy.
async fn health(State(port): State<Port>) -> Response {
    let pulse = &port.house.pulse;
    if pulse.beats() > 0 && !pulse.cut() {
        return json_response(&json!({ "ok": true }));
    }
    failure(StatusCode::SERVICE_UNAVAILABLE, "the tick loop does not run")
}

async fn asset(method: Method, uri: Uri) -> Response {
    let name = uri.path().trim_start_matches('/');
    match assets::find(name) {
        Some(asset) if method == Method::GET || method == Method::HEAD => {
            ([(header::CONTENT_TYPE, asset.content_type)], asset.bytes).into_response()
        }
        Some(_) => failure(StatusCode::METHOD_NOT_ALLOWED, "expected GET"),
        None => failure(
            StatusCode::NOT_FOUND,
            "there is nothing here: expected /, /status, /show, /cue/NUMBER, /takes, /take/NAME, /stop, /metrics, /health, /access or /rpc",
        ),
    }
}

pub fn json_response(body: &Value) -> Response {
    ([(header::CONTENT_TYPE, "application/json")], body.to_string()).into_response()
}

pub fn failure(code: StatusCode, why: &str) -> Response {
    (code, json_response(&json!({ "error": why }))).into_response()
}
