//! What goes back over `/rpc`.

use serde_json::{Value, json};

use super::call::Id;
use crate::engine::{Accepted, Refusal};
use crate::wire::barred::Barred;
use crate::wire::misheard::Misheard;
use crate::wire::words::Words;

/// An error of JSON-RPC 2.0 (its section 5.1), or a refusal of ours.
#[derive(Clone, Debug, PartialEq)]
pub struct Error {
    pub code: i32,
    pub message: String,
    /// Of a refusal: each a sentence.
    pub reasons: Vec<String>,
    /// Of a take that is not played back: the factor on its time with which it might be.
    pub stretch: Option<f64>,
}

impl Error {
    pub const PARSE: i32 = -32700;
    pub const INVALID: i32 = -32600;
    pub const UNKNOWN_METHOD: i32 = -32601;
    pub const BAD_PARAMS: i32 = -32602;
    pub const REFUSED: i32 = -32000;

    pub(super) fn new(code: i32, message: impl Into<String>) -> Error {
        Error { code, message: message.into(), reasons: Vec::new(), stretch: None }
    }

    /// Understood, and not done.
    pub fn refused(reasons: Vec<String>) -> Error {
        Error { code: Error::REFUSED, message: "refused".into(), reasons, stretch: None }
    }

    /// The counter in the status that it adds to; `None` for a refusal of what was understood.
    pub fn counter(&self) -> Option<&'static str> {
        match self.code {
            Error::PARSE => Some("rpc parse"),
            Error::INVALID => Some("rpc invalid"),
            Error::UNKNOWN_METHOD => Some("rpc unknown method"),
            Error::BAD_PARAMS => Some("rpc bad params"),
            _ => None,
        }
    }
}

impl From<Barred> for Error {
    fn from(why: Barred) -> Error {
        Error::refused(vec![why.to_string()])
    }
}

impl From<Misheard> for Error {
    fn from(why: Misheard) -> Error {
        Error::refused(vec![why.to_string()])
    }
}

/// One response. A batch's are gathered and sent together, see [`batch`].
#[derive(Clone, Debug, PartialEq)]
pub struct Reply(pub Value);

impl Reply {
    pub fn result(id: &Id, result: Value) -> Reply {
        Reply(json!({ "jsonrpc": "2.0", "id": id.0, "result": result }))
    }

    pub fn error(id: &Id, error: &Error) -> Reply {
        let mut body = json!({ "code": error.code, "message": error.message });
        if error.code == Error::REFUSED {
            body["data"] = json!({ "reasons": error.reasons });
            if let Some(stretch) = error.stretch {
                body["data"]["stretch"] = stretch.into();
            }
        }
        Reply(json!({ "jsonrpc": "2.0", "id": id.0, "error": body }))
    }

    /// What the engine answered.
    pub fn outcome(id: &Id, outcome: &Result<Accepted, Refusal>, words: &Words<'_>) -> Reply {
        match outcome {
            Ok(Accepted::Done) => Reply::result(id, json!({ "accepted": true })),
            Ok(Accepted::Standby { ready, cue: _, reasons }) => {
                let reasons = words.refusal(reasons);
                Reply::result(id, json!({ "accepted": true, "ready": ready, "reasons": reasons }))
            }
            Err(refusal) => Reply::error(id, &Error::refused(words.refusal(refusal))),
        }
    }

    /// With one more reason, if it is a refusal and there is one.
    pub fn with_reason(mut self, reason: &Option<String>) -> Reply {
        if let (Some(reason), Some(Value::Array(reasons))) = (reason, self.0.pointer_mut("/error/data/reasons")) {
            reasons.push(reason.as_str().into());
        }
        self
    }

    /// To a stop, at once; standstill follows as an event.
    pub fn taken(id: &Id) -> Reply {
        Reply::result(id, json!({ "taken": true }))
    }

    /// To a subscription: what it was given, and whom the status means by this client.
    pub fn subscribed(id: &Id, hz: f64, client: &str) -> Reply {
        Reply::result(id, json!({ "hz": hz, "client": client }))
    }

    pub fn text(&self) -> String {
        self.0.to_string()
    }
}

/// The responses to a batch as one text, in any order. `None` if it held only notifications: then nothing is sent.
pub fn batch(replies: Vec<Reply>) -> Option<String> {
    let replies: Vec<Value> = replies.into_iter().map(|reply| reply.0).collect();
    if replies.is_empty() { None } else { Some(Value::Array(replies).to_string()) }
}

/// `status` or `event`, from us.
pub fn notification(method: &str, params: &Value) -> String {
    json!({ "jsonrpc": "2.0", "method": method, "params": params }).to_string()
}
