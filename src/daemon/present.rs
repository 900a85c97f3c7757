//! Who is here: the WebSocket clients that are let in now, for whoever has something to hand over.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use serde_json::{Value, json};

use super::hub::{Client, LinkId};

/// Those here, by link: links count up, so they stand in the order in which they came.
#[derive(Debug, Default)]
pub struct Present {
    here: Mutex<BTreeMap<LinkId, Client>>,
}

/// One link that is here, until it is dropped.
#[derive(Debug)]
pub struct Presence {
    present: Arc<Present>,
    link: LinkId,
}

impl Present {
    pub fn enter(self: &Arc<Present>, client: &Client) -> Presence {
        self.lock().insert(client.link, client.clone());
        Presence { present: self.clone(), link: client.link }
    }

    /// `{ "name", "role" }` of each client, once however many links it has.
    pub fn json(&self) -> Value {
        let here = self.lock();
        let mut clients: Vec<&Client> = Vec::new();
        for client in here.values() {
            match clients.iter_mut().find(|known| known.id == client.id) {
                Some(known) if known.role < client.role => *known = client,
                Some(_) => {}
                None => clients.push(client),
            }
        }
        clients.iter().map(|client| json!({ "name": &*client.name, "role": client.role.word() })).collect()
    }

    fn lock(&self) -> MutexGuard<'_, BTreeMap<LinkId, Client>> {
        self.here.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Presence {
    fn drop(&mut self) {
        self.present.lock().remove(&self.link);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::daemon::hub::Hub;
    use crate::engine::Role;

    #[test]
    fn those_here_are_told_once_each_in_the_order_in_which_they_came() {
        let hub = Hub::new(rtrb::RingBuffer::new(1).0);
        let present = Arc::<Present>::default();
        let names = || -> Vec<String> {
            let told = present.json();
            let word = |of: &Value| of.as_str().unwrap_or_default().to_owned();
            told.as_array().unwrap().iter().map(|one| word(&one["name"]) + " " + &word(&one["role"])).collect()
        };
        let rail = present.enter(&hub.link("rail", Role::Observer));
        let panel = present.enter(&hub.link("panel", Role::Operator));
        assert_eq!(names(), ["rail observer", "panel operator"]);
        let again = present.enter(&hub.link("rail", Role::Operator));
        assert_eq!(names(), ["rail operator", "panel operator"], "one client, with the most that it may");
        drop(rail);
        assert_eq!(names(), ["panel operator", "rail operator"]);
        drop((again, panel));
        assert!(names().is_empty());
    }
}
