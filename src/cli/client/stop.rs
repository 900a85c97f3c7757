//! `bellwire stop`: by any road that is left, and then until everything stands still.

use std::time::Duration;

use serde_json::{Value, json};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::time::Instant;

use super::Daemon;
use super::link::{Failure, Link, with_port};
use crate::cli::output;

const HTTP_WITHIN: Duration = Duration::from_secs(2);
const LOOK_EVERY: Duration = Duration::from_millis(50);
/// Beyond the time to standstill that the daemon promises.
const GRACE: Duration = Duration::from_secs(2);

/// Accepted if the stop was taken and everything came to rest.
pub async fn stop(daemon: &Daemon) -> Result<(), Failure> {
    let address = daemon.address.as_str();
    match Link::open(daemon).await {
        Ok(mut link) => match link.call("stop", json!({})).await {
            Ok(_) => {
                output::result("stop taken\n");
                wait_for_standstill(&mut link).await
            }
            Err(failure) => by_http(address, failure).await,
        },
        Err(failure) => by_http(address, failure).await,
    }
}

/// `POST /stop` needs neither the WebSocket nor a place among its clients.
async fn by_http(address: &str, first: Failure) -> Result<(), Failure> {
    let address = with_port(address);
    let why = match tokio::time::timeout(HTTP_WITHIN, post_stop(&address)).await {
        Ok(Ok(())) => {
            output::result("stop taken, over HTTP; whether everything stands still is not known\n");
            return Ok(());
        }
        Ok(Err(why)) => why,
        Err(_) => format!("no answer within {} s", HTTP_WITHIN.as_secs()),
    };
    let tried = match first {
        Failure::NotReached(tried) => tried,
        Failure::Refused(reasons) => reasons.join("; "),
    };
    Err(Failure::NotReached(format!(
        "{tried}; tried POST http://{address}/stop: {why}. NOTHING WAS STOPPED from here: use another panel, the stop \
         port (UDP 7119, a datagram with the OSC message /bellwire/stop), or the machines' own emergency stop"
    )))
}

async fn post_stop(address: &str) -> Result<(), String> {
    let said = |error: std::io::Error| error.to_string();
    let mut stream = TcpStream::connect(address).await.map_err(said)?;
    let request =
        format!("POST /stop HTTP/1.1\r\nHost: {address}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n");
    stream.write_all(request.as_bytes()).await.map_err(said)?;
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).await.map_err(said)?;
    if answer.starts_with(b"HTTP/1.1 200 ") {
        return Ok(());
    }
    let line = String::from_utf8_lossy(&answer).lines().next().unwrap_or("nothing").to_owned();
    Err(format!("expected HTTP/1.1 200, found {line}"))
}

async fn wait_for_standstill(link: &mut Link) -> Result<(), Failure> {
    let mut deadline = None;
    loop {
        let status = match link.call("status", json!({})).await {
            Ok(status) => status,
            // Whoever is not let in may stop, and not look.
            Err(Failure::Refused(_)) => {
                output::result("whether everything stands still is not known here: only who is let in may look\n");
                return Ok(());
            }
            Err(failure) => return Err(failure),
        };
        if status["stopped"]["standstill"] == true {
            output::result("everything stands still\n");
            return Ok(());
        }
        let promised =
            Duration::try_from_secs_f64(status["stop_bound"].as_f64().unwrap_or(0.0)).unwrap_or_default();
        let deadline = *deadline.get_or_insert_with(|| Instant::now() + promised + GRACE);
        if Instant::now() >= deadline {
            return Err(Failure::Refused(not_at_rest(&status)));
        }
        tokio::time::sleep(LOOK_EVERY).await;
    }
}

fn not_at_rest(status: &Value) -> Vec<String> {
    let mut axes = Vec::new();
    for (rig, found) in status["rigs"].as_object().into_iter().flatten() {
        for (axis, found) in found["axes"].as_object().into_iter().flatten() {
            let state = found["state"].as_str().unwrap_or("unknown");
            if state != "standstill" && state != "disabled" {
                axes.push(format!("{rig}.{axis} is not measured at rest: {state}"));
            }
        }
    }
    if axes.is_empty() {
        axes.push("the stop was taken, but standstill was not confirmed in the time that was promised".to_owned());
    }
    axes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn axes_that_are_not_at_rest_are_named() {
        let axes = json!({ "swing": { "state": "stopping" }, "boom": { "state": "standstill" }, "pan": { "state": "disabled" } });
        let status = json!({ "rigs": { "heron": { "axes": axes } } });
        assert_eq!(not_at_rest(&status), ["heron.swing is not measured at rest: stopping"]);
        assert_eq!(not_at_rest(&json!({})).len(), 1);
    }
}
