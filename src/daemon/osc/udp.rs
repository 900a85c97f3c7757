//! OSC in datagrams. Answers go to the address that asked.

use std::collections::HashMap;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use tokio::net::UdpSocket;
use tokio::time::Instant;

use super::take::{Back, ForLink, Sender, take, turn_away};
use super::watcher::{Watch, Watcher};
use crate::daemon::house::House;
use crate::daemon::hub::Client;
use crate::show::Nanos;
use crate::wire::Barred;

/// Addresses that are known at once; the one that was silent longest makes room for a new one.
const SENDERS_MAX: usize = 256;
/// Addresses that watch at once.
const WATCHERS_MAX: usize = 32;
/// The longest datagram there is.
const DATAGRAM_MAX: usize = 65_536;

struct Known {
    client: Client,
    /// Of the table of access by which it was let in.
    revision: u64,
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
        let known = match know(&mut senders, address, &socket, &house) {
            Ok(known) => known,
            Err(why) => {
                turn_away(&house, address.ip(), &way_back(&socket, address), &datagram[..length], &why);
                continue;
            }
        };
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
/// held, the next may release. Of those who are not let in nothing is kept.
fn know<'a>(
    senders: &'a mut HashMap<SocketAddr, Known>,
    address: SocketAddr,
    socket: &Arc<UdpSocket>,
    house: &House,
) -> Result<&'a mut Known, Barred> {
    let revision = house.gate.revision();
    if senders.get(&address).is_some_and(|known| known.revision != revision) {
        // It may have another role now, or none; and its watcher with it.
        senders.remove(&address);
    }
    if !senders.contains_key(&address) {
        let pass = house.gate.sender(address.ip())?;
        if senders.len() >= SENDERS_MAX {
            forget_one(senders);
        }
        let name = pass.name(None, "osc", &address.ip().to_canonical().to_string());
        let client = house.hub.link(&name, pass.role);
        let back = way_back(socket, address);
        senders.insert(address, Known { client, revision, back, heard: Instant::now(), watcher: None });
    }
    senders.get_mut(&address).ok_or(Barred::UnknownSender { address: address.ip() })
}

/// The one that was silent longest, of those who do not watch.
fn forget_one(senders: &mut HashMap<SocketAddr, Known>) {
    let silent = senders.iter().filter(|(_, known)| !known.watches()).min_by_key(|(_, known)| known.heard);
    if let Some(silent) = silent.map(|(&address, _)| address) {
        senders.remove(&silent);
    }
}

fn way_back(socket: &Arc<UdpSocket>, address: SocketAddr) -> Back {
    let socket = socket.clone();
    // A full send buffer drops the answer, as the network may drop it at any time.
    Arc::new(move |packet| drop(socket.try_send_to(packet, address)))
}
