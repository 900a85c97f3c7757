//! OSC in datagrams. Answers go to the address that asked.

use std::collections::HashMap;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use tokio::net::UdpSocket;
use tokio::time::Instant;

use super::take::{Back, ForLink, Sender, take};
use super::watcher::{Watch, Watcher};
use crate::daemon::house::House;
use crate::daemon::hub::Client;
use crate::engine::Role;
use crate::show::Nanos;

/// Addresses that are known at once; the one that was silent longest makes room for a new one.
const SENDERS_MAX: usize = 256;
/// Addresses that watch at once.
const WATCHERS_MAX: usize = 32;
/// The longest datagram there is.
const DATAGRAM_MAX: usize = 65_536;

struct Known {
    client: Client,
    back: Back,
    heard: Instant,
    watcher: Option<Watcher>,
}

/// Serves for ever.
pub async fn run(socket: UdpSocket, house: Arc<House>) {
    let socket = Arc::new(socket);
    let mut senders: HashMap<SocketAddr, Known> = HashMap::new();
    let mut datagram = vec![0; DATAGRAM_MAX];
    loop {
        let (length, address) = match socket.recv_from(&mut datagram).await {
            Ok(received) => received,
            Err(error) => {
                // Such as the echo of an answer to someone who has gone.
                tracing::debug!("OSC over UDP: {error}");
                tokio::time::sleep(Duration::from_millis(1)).await;
                continue;
            }
        };
        let watching = senders.values().filter(|known| known.watches()).count();
        let known = know(&mut senders, address, &socket, &house);
        known.heard = Instant::now();
        let (client, back) = (known.client.clone(), known.back.clone());
        let sender = Sender { client: &client, ip: address.ip(), back: &back, stalled: Nanos::ZERO };
        take(&house, &sender, &datagram[..length], |asked| match asked {
            ForLink::Unwatch => {
                known.watcher = None;
                Ok(())
            }
            ForLink::Watch { .. } if watching >= WATCHERS_MAX && !known.watches() => {
                Err(format!("{WATCHERS_MAX} addresses watch already: let one of them unwatch"))
            }
            ForLink::Watch { changes, lease } => {
                known.watcher = Some(Watcher::start(house.clone(), back.clone(), Watch { changes, lease }));
                Ok(())
            }
        });
    }
}

impl Known {
    fn watches(&self) -> bool {
        self.watcher.as_ref().is_some_and(Watcher::is_running)
    }
}

/// The client is the machine, not the port: each run of a small sending program has another port, and what one run
/// held, the next may release.
fn know<'a>(
    senders: &'a mut HashMap<SocketAddr, Known>,
    address: SocketAddr,
    socket: &Arc<UdpSocket>,
    house: &House,
) -> &'a mut Known {
    if senders.len() >= SENDERS_MAX && !senders.contains_key(&address) {
        let silent = senders.iter().filter(|(_, known)| !known.watches()).min_by_key(|(_, known)| known.heard);
        if let Some(silent) = silent.map(|(&address, _)| address) {
            senders.remove(&silent);
        }
    }
    senders.entry(address).or_insert_with(|| {
        let socket = socket.clone();
        Known {
            client: house.hub.link(&format!("osc {}", address.ip()), Role::Caller),
            // A full send buffer drops the answer, as the network may drop it at any time.
            back: Arc::new(move |packet| drop(socket.try_send_to(packet, address))),
            heard: Instant::now(),
            watcher: None,
        }
    })
}
