//! OSC over TCP, in frames of SLIP (RFC 1055).
//!
//! TCP hides loss: what the network lost it sends again, late, and without a word. All that can be seen from here is
//! how long the parts of one frame were apart. A GO in a frame that stood still for half a second while it arrived is
//! refused; one that was held up as a whole looks like one that was just sent.

use std::net::IpAddr;
use std::sync::Arc;
use std::time::Duration;

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::tcp::{OwnedReadHalf, OwnedWriteHalf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Notify, mpsc};
use tokio::time::Instant;

use super::take::{Back, ForLink, Sender, take, turn_away};
use super::watcher::{Watch, Watcher};
use crate::daemon::gate::{Pass, STRANGER};
use crate::daemon::house::House;
use crate::daemon::hub::Client;
use crate::daemon::serve::{STOP_ONLY_MAX, STOP_ONLY_OF_ONE};
use crate::engine::{Role, StopLane};
use crate::show::Nanos;
use crate::wire::{Barred, osc, slip};

const LINKS_MAX: usize = 64;
/// Packets that wait for a client that does not read, at most.
const OUTBOX_MAX: usize = 256;
const READ_MAX: usize = 4096;
/// A link on which nothing but the stop is taken gives its place back after this.
const STOP_ONLY_FOR: Duration = Duration::from_secs(60);
/// For what had come before somebody was shut out to be looked through for a stop.
const DRAINED_WITHIN: Duration = Duration::from_millis(200);
/// For one packet to leave.
const SENT_WITHIN: Duration = Duration::from_secs(5);

/// Serves for ever.
pub async fn run(listener: TcpListener, house: Arc<House>) {
    loop {
        let (stream, peer) = match listener.accept().await {
            Ok(accepted) => accepted,
            Err(error) => {
                tracing::warn!("OSC over TCP: no connection taken: {error}");
                tokio::time::sleep(Duration::from_millis(50)).await;
                continue;
            }
        };
        let ip = peer.ip().to_canonical();
        let of_one = house.gate.access().limits.connections as usize;
        let admitted = house
            .gate
            .sender(ip)
            .and_then(|pass| house.gate.osc_links.enter(ip, LINKS_MAX, of_one).map(|place| (Ok(pass), place)));
        let (standing, place) = match admitted {
            Ok(admitted) => admitted,
            Err(why) => {
                house.counters.reject(why.counter(), &format!("osc {ip}"), &why);
                let Ok(place) = house.gate.stop_only.enter(ip, STOP_ONLY_MAX, STOP_ONLY_OF_ONE) else { continue };
                (Err(why), place)
            }
        };
        let house = house.clone();
        tokio::spawn(async move {
            serve(stream, ip, standing, house).await;
            drop(place);
        });
    }
}

/// Until the other end goes, or is no longer let in; one that never was keeps its place for a while only.
async fn serve(stream: TcpStream, ip: IpAddr, standing: Result<Pass, Barred>, house: Arc<House>) {
    let _ = stream.set_nodelay(true);
    let (mut reading, writing) = stream.into_split();
    let (packets, outgoing) = mpsc::channel::<Vec<u8>>(OUTBOX_MAX);
    let overflow = Arc::new(Notify::new());
    let full = overflow.clone();
    let back: Back = Arc::new(move |packet| {
        if let Err(mpsc::error::TrySendError::Full(_)) = packets.try_send(slip::encode(packet)) {
            full.notify_one();
        }
    });
    let client = match &standing {
        Ok(pass) => house.hub.link(&pass.name(None, "osc", &ip.to_string()), pass.role),
        Err(_) => house.hub.link(STRANGER, Role::Observer),
    };
    let mut link = Link {
        house: house.clone(),
        client: client.clone(),
        ip,
        standing: standing.clone(),
        back,
        frames: slip::Decoder::new(osc::PACKET_MAX),
        arrival: Arrival::default(),
        since_end: 0,
        watcher: None,
    };
    tokio::select! {
        () = listen(&mut reading, &mut link) => {}
        () = speak(writing, outgoing) => {}
        () = overflow.notified() => {
            house.counters.reject("osc link cut off", &client.name, &"answers were not read");
        }
        () = shut_out(&house, &standing, ip) => {
            // What has come already may hold a stop, and nothing else of it is taken any more.
            let _ = tokio::time::timeout(DRAINED_WITHIN, listen(&mut reading, &mut link)).await;
        }
    }
    // A sender that wrote a stop and closed, without the last END.
    link.look_for_stop(link.frames.pending());
    house.hub.lose(&client, false).await;
}

async fn shut_out(house: &House, standing: &Result<Pass, Barred>, ip: IpAddr) {
    match standing {
        Ok(pass) => house.gate.shut_out(pass, ip).await,
        Err(_) => tokio::time::sleep(STOP_ONLY_FOR).await,
    }
}

async fn speak(mut writing: OwnedWriteHalf, mut outgoing: mpsc::Receiver<Vec<u8>>) {
    while let Some(packet) = outgoing.recv().await {
        match tokio::time::timeout(SENT_WITHIN, writing.write_all(&packet)).await {
            Ok(Ok(())) => {}
            Ok(Err(_)) | Err(_) => return,
        }
    }
}

async fn listen(reading: &mut OwnedReadHalf, link: &mut Link) {
    let mut bytes = [0; READ_MAX];
    loop {
        match reading.read(&mut bytes).await {
            Ok(0) | Err(_) => break,
            Ok(length) => link.hear(&bytes[..length]),
        }
        if link.endless() {
            let why = format!("{} bytes without an END: a frame of SLIP (RFC 1055) ends with C0", link.since_end);
            link.house.counters.reject("frame without end", &link.client.name, &why);
            break;
        }
    }
}

/// What is known of one link while it lasts.
struct Link {
    house: Arc<House>,
    client: Client,
    ip: IpAddr,
    /// As of what it was let in, or why not.
    standing: Result<Pass, Barred>,
    back: Back,
    frames: slip::Decoder,
    arrival: Arrival,
    /// Bytes since a frame last ended.
    since_end: usize,
    watcher: Option<Watcher>,
}

impl Link {
    /// A part of the stream.
    fn hear(&mut self, bytes: &[u8]) {
        let mut stalled = self.arrival.part(Instant::now(), !self.frames.pending().is_empty());
        let mut ended = false;
        // Taken out for the while, since its frames are read while the rest of the link is at work.
        let mut frames = std::mem::replace(&mut self.frames, slip::Decoder::new(0));
        frames.push(bytes, |frame| {
            ended = true;
            // Only the first frame to end began before this part of the stream.
            let stalled = std::mem::take(&mut stalled);
            match frame.broken {
                None => self.take(frame.bytes, stalled),
                Some(broken) => {
                    // Nothing of a broken frame is believed, but for a stop.
                    self.look_for_stop(frame.bytes);
                    let why = "a frame that is not SLIP (RFC 1055), or too long";
                    self.house.counters.reject(broken.counter(), &self.client.name, &why);
                }
            }
        });
        self.frames = frames;
        self.since_end = if ended { 0 } else { self.since_end + bytes.len() };
        if ended {
            self.arrival.next_frame();
        }
    }

    fn take(&mut self, packet: &[u8], stalled: Nanos) {
        if let Err(why) = self.stands() {
            return turn_away(&self.house, self.ip, &self.back, packet, &why);
        }
        let (house, watcher) = (&self.house, &mut self.watcher);
        let sender = Sender { client: &self.client, ip: self.ip, back: &self.back, stalled };
        take(house, &sender, packet, |asked| {
            *watcher = match asked {
                ForLink::Unwatch => None,
                ForLink::Watch { changes, lease } => {
                    Some(Watcher::start(house.clone(), sender.back.clone(), Watch { changes, lease }))
                }
            };
            Ok(())
        });
    }

    /// Whether anything but a stop is taken of it now.
    fn stands(&self) -> Result<(), Barred> {
        match &self.standing {
            Err(why) => Err(why.clone()),
            Ok(pass) if !self.house.gate.stands(pass, self.ip) => Err(Barred::UnknownSender { address: self.ip }),
            Ok(_) => Ok(()),
        }
    }

    fn look_for_stop(&self, bytes: &[u8]) {
        if osc::is_stop(bytes) {
            self.house.stop.press(StopLane::Osc, Some(self.client.id));
        }
    }

    /// More than any frame can have, even if every byte of it were escaped.
    fn endless(&self) -> bool {
        self.since_end > 2 * osc::PACKET_MAX + READ_MAX
    }
}

/// How long the parts of the present frame were apart.
#[derive(Debug, Default)]
struct Arrival {
    last: Option<Instant>,
    longest: Duration,
}

impl Arrival {
    /// A part of the stream has arrived; `within` tells whether a frame had begun before it. Gives the longest pause
    /// within that frame so far.
    fn part(&mut self, now: Instant, within: bool) -> Nanos {
        let pause = self.last.map_or(Duration::ZERO, |last| now - last);
        self.last = Some(now);
        if within {
            self.longest = self.longest.max(pause);
        }
        Nanos(i64::try_from(self.longest.as_nanos()).unwrap_or(i64::MAX))
    }

    /// What pauses there were belong to a frame that has ended.
    fn next_frame(&mut self) {
        self.longest = Duration::ZERO;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pauses_count_within_a_frame_and_not_between_frames() {
        let start = Instant::now();
        let at = |millis| start + Duration::from_millis(millis);
        let mut arrival = Arrival::default();
        assert_eq!(arrival.part(at(0), false), Nanos::ZERO);
        assert_eq!(arrival.part(at(10_000), false), Nanos::ZERO, "silence before a frame is no stall");
        assert_eq!(arrival.part(at(10_600), true), Nanos::from_millis(600));
        assert_eq!(arrival.part(at(10_700), true), Nanos::from_millis(600), "the longest pause counts");
        arrival.next_frame();
        assert_eq!(arrival.part(at(10_800), true), Nanos::from_millis(100), "a stall is of its own frame alone");
    }
}
