//! The conversation with the daemon: requests that are answered, and sticks, which are not.

use std::collections::BTreeMap;

use futures_util::StreamExt;
use futures_util::stream::{SplitSink, SplitStream};
use serde_json::{Value, json};
use tokio_tungstenite::tungstenite::Message;

use super::desk::Say;
use crate::cli::client::{Failure, Link, Socket, hear, read, speak};
use crate::show::hand::Drive;

/// The two ends of one socket, so that a stick never waits for an answer to something else.
pub struct Talk {
    sink: SplitSink<Socket, Message>,
    stream: SplitStream<Socket>,
    last_id: u64,
    /// The methods of what is not answered yet.
    asked: BTreeMap<u64, &'static str>,
}

/// An answer to a request.
#[derive(Debug)]
pub struct Answer {
    pub method: &'static str,
    pub result: Result<Value, Failure>,
}

impl Talk {
    pub fn new(link: Link) -> Talk {
        let (sink, stream) = link.into_socket().split();
        Talk { sink, stream, last_id: 0, asked: BTreeMap::new() }
    }

    pub async fn ask(&mut self, method: &'static str, params: Value) -> Result<(), Failure> {
        // Beyond those of the link before it.
        self.last_id += 1;
        let id = 1_000_000 + self.last_id;
        self.asked.insert(id, method);
        self.send(json!({ "jsonrpc": "2.0", "id": id, "method": method, "params": params })).await
    }

    /// Says what a drive asks for. Nobody answers.
    pub async fn say(&mut self, drive: &Drive, say: Say) -> Result<(), Failure> {
        let (method, value) = match say {
            Say::Stick(value) => ("stick", Some(value)),
            Say::Dial(value) => ("dial", Some(value)),
            Say::LetGo => ("let_go", None),
        };
        let mut params = json!({ "rig": drive.rig, "axis": drive.axis });
        if let Some(value) = value {
            params["value"] = value.into();
        }
        self.send(json!({ "jsonrpc": "2.0", "method": method, "params": params })).await
    }

    async fn send(&mut self, message: Value) -> Result<(), Failure> {
        speak(&mut self.sink, message).await
    }

    /// The next answer.
    pub async fn answer(&mut self) -> Result<Answer, Failure> {
        loop {
            let answer = hear(&mut self.stream).await?;
            if let Some(method) = answer["id"].as_u64().and_then(|id| self.asked.remove(&id)) {
                return Ok(Answer { method, result: read(answer) });
            }
        }
    }
}
