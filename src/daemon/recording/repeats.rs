//! Requests that carry a key, and what each was answered: a repeat gets that answer, and does nothing.

use std::collections::VecDeque;

use serde_json::Value;

use crate::engine::{ClientId, Key};

/// Answers that are kept, of all clients together: far more than anyone repeats of what people press.
const KEPT_MAX: usize = 256;

pub type Answer = Result<Value, String>;

#[derive(Debug, Default)]
pub struct Repeats {
    answers: VecDeque<(ClientId, Key, Answer)>,
}

impl Repeats {
    /// The first answer to this key of this client; else what `carry_out` answers now.
    pub fn once(&mut self, (client, key): (ClientId, Option<Key>), carry_out: impl FnOnce() -> Answer) -> Answer {
        let Some(key) = key else { return carry_out() };
        if let Some((.., answer)) = self.answers.iter().find(|(by, known, _)| (*by, *known) == (client, key)) {
            return answer.clone();
        }
        let answer = carry_out();
        if self.answers.len() == KEPT_MAX {
            self.answers.pop_front();
        }
        self.answers.push_back((client, key, answer.clone()));
        answer
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_repeat_of_the_same_client_does_nothing_and_any_other_request_does() {
        let mut repeats = Repeats::default();
        let mut done = 0;
        let mut ask = |client: u32, key: Option<u64>| {
            repeats.once((ClientId(client), key.map(Key)), || {
                done += 1;
                if done % 2 == 0 { Err(format!("{done}")) } else { Ok(done.into()) }
            })
        };
        assert_eq!(ask(1, Some(7)), Ok(1.into()));
        assert_eq!(ask(1, Some(7)), Ok(1.into()));
        assert_eq!(ask(2, Some(7)), Err("2".into()));
        assert_eq!(ask(2, Some(7)), Err("2".into()), "a refusal too is given once");
        assert_eq!(ask(1, None), Ok(3.into()));
        assert_eq!(ask(1, None), Err("4".into()));
        (100..100 + KEPT_MAX as u64).for_each(|key| drop(ask(3, Some(key))));
        assert!(ask(1, Some(7)).is_ok_and(|answer| answer != 1), "long ago is forgotten");
    }
}
