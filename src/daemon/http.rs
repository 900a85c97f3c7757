//! The routes of the HTTP port.

use std::net::SocketAddr;
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
use tokio::sync::Semaphore;

use super::house::House;
use super::{assets, doors, metrics, rpc};
use crate::engine::{Role, StopLane};
use crate::wire::rpc::TEXT_MAX;

/// WebSockets at once.
const WEBSOCKETS_MAX: usize = 64;
/// The longest name that a WebSocket client may give itself.
const NAME_MAX: usize = 40;

#[derive(Clone)]
struct Port {
    house: Arc<House>,
    websockets: Arc<Semaphore>,
}

pub fn router(house: Arc<House>) -> Router {
    let port = Port { house, websockets: Arc::new(Semaphore::new(WEBSOCKETS_MAX)) };
    let guarded = Router::new()
        .route("/rpc", any(open_rpc))
        .route("/status", get(status))
        .route("/show", get(show))
        .route("/cue/{number}", get(cue))
        .route("/metrics", get(figures))
        .route("/health", get(health))
        .fallback(asset)
        .layer(middleware::from_fn_with_state(port.clone(), check_host));
    // A stop is taken from anyone, whatever else is wrong with the request.
    let router = Router::new().route("/stop", post(stop).fallback(stop_needs_post)).merge(guarded);
    router.layer(middleware::map_response(mark)).with_state(port)
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

async fn check_host(
    State(port): State<Port>,
    peer: ConnectInfo<SocketAddr>,
    request: Request,
    next: Next,
) -> Response {
    let host = host(request.headers(), request.uri());
    if doors::is_loopback_host(&host) {
        return next.run(request).await;
    }
    let why = format!(
        "the Host '{}' is not a name of this machine's loopback: ask for 127.0.0.1 or localhost",
        host.escape_debug()
    );
    port.house.counters.reject("foreign host", &format!("http {}", peer.0), &why);
    failure(StatusCode::FORBIDDEN, &why)
}

/// Of the Host header, or of an absolute target; empty if it has neither.
fn host(headers: &HeaderMap, uri: &Uri) -> String {
    let of_header = headers.get(header::HOST).and_then(|host| host.to_str().ok());
    of_header.or(uri.authority().map(|authority| authority.as_str())).unwrap_or_default().to_owned()
}

async fn open_rpc(
    State(port): State<Port>,
    ConnectInfo(peer): ConnectInfo<SocketAddr>,
    headers: HeaderMap,
    uri: Uri,
    upgrade: Result<WebSocketUpgrade, axum::extract::ws::rejection::WebSocketUpgradeRejection>,
) -> Response {
    let origin = headers.get(header::ORIGIN).map(|origin| origin.to_str().unwrap_or("unreadable"));
    if !doors::is_own_origin(origin, &host(&headers, &uri)) {
        let why = "a page from elsewhere may not open this WebSocket: open the panel that this daemon serves";
        port.house.counters.reject("foreign origin", &format!("websocket {peer}"), &why);
        return failure(StatusCode::FORBIDDEN, why);
    }
    let upgrade = match upgrade {
        Ok(upgrade) => upgrade,
        Err(_) => return failure(StatusCode::BAD_REQUEST, "/rpc is a WebSocket: expected an upgrade (RFC 6455)"),
    };
    let Ok(place) = port.websockets.clone().try_acquire_owned() else {
        let why = format!("{WEBSOCKETS_MAX} WebSockets are open already: close one");
        port.house.counters.reject("too many connections", &format!("websocket {peer}"), &why);
        return failure(StatusCode::SERVICE_UNAVAILABLE, &why);
    };
    let client = port.house.hub.link(&name(&uri, origin.is_some(), peer), Role::Operator);
    let house = port.house.clone();
    upgrade.max_message_size(TEXT_MAX).max_frame_size(TEXT_MAX).on_upgrade(async move |socket| {
        rpc::serve(socket, house, client, peer.ip()).await;
        drop(place);
    })
}

/// `/rpc?name=command-line` is "command line". Connections that give themselves the same name are one client: what one
/// holds, another may release.
fn name(uri: &Uri, from_page: bool, peer: SocketAddr) -> String {
    let given = uri.query().and_then(|query| query.split('&').find_map(|pair| pair.strip_prefix("name=")));
    let plain = |name: &&str| {
        (1..=NAME_MAX).contains(&name.len())
            && name.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-')
    };
    match given.filter(plain) {
        Some(name) => name.replace('-', " "),
        None if from_page => format!("panel {peer}"),
        None => format!("websocket {peer}"),
    }
}

async fn stop(State(port): State<Port>, ConnectInfo(peer): ConnectInfo<SocketAddr>) -> Response {
    port.house.stop.press(StopLane::Http, None);
    tracing::info!("http {peer}: stop");
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
    match port.house.names.cue(&number) {
        Ok(cue) => json_response(&port.house.cue_json(cue)),
        Err(why) => failure(StatusCode::NOT_FOUND, &why.to_string()),
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
            "there is nothing here: expected /, /status, /show, /cue/NUMBER, /stop, /metrics, /health or /rpc",
        ),
    }
}

fn json_response(body: &Value) -> Response {
    ([(header::CONTENT_TYPE, "application/json")], body.to_string()).into_response()
}

fn failure(code: StatusCode, why: &str) -> Response {
    (code, json_response(&json!({ "error": why }))).into_response()
}
