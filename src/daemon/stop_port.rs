//! The stop port: a UDP socket with a thread and a buffer of its own, and nothing else.
//!
//! A datagram that is the OSC message `/bellwire/stop` stops the show. It works while every other road is full,
//! broken or gone, since it shares none of them: no lock, no queue, no log. What it turned away it counts, and others
//! may read the count.

use std::net::UdpSocket;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use super::stop_road::StopRoad;
use crate::engine::StopLane;
use crate::wire::osc;

/// The message has 20 or 24 bytes; what does not fit in here is not it.
const DATAGRAM_MAX: usize = 64;

/// `/bellwire/answer "stop" "" "accepted"`, as OSC.
const TAKEN: &[u8] = b"/bellwire/answer\0\0\0\0,sss\0\0\0\0stop\0\0\0\0\0\0\0\0accepted\0\0\0\0";

/// Datagrams that were something else. Written by the stop port's thread alone.
#[derive(Debug, Default)]
pub struct Rubbish(AtomicU64);

impl Rubbish {
    pub fn count(&self) -> u64 {
        self.0.load(Ordering::Relaxed)
    }
}

/// Listens for ever.
pub fn run(socket: &UdpSocket, stop: &StopRoad, rubbish: &Rubbish) {
    // The answer is a courtesy; a full send buffer shall not keep the next stop waiting.
    let _ = socket.set_write_timeout(Some(Duration::from_millis(1)));
    let mut datagram = [0; DATAGRAM_MAX];
    loop {
        match socket.recv_from(&mut datagram) {
            Ok((length, sender)) if osc::is_stop(&datagram[..length]) => {
                stop.press(StopLane::StopPort, None);
                // Whoever gets no answer asks again, and it costs nothing.
                let _ = socket.send_to(TAKEN, sender);
            }
            Ok(_) => {
                rubbish.0.fetch_add(1, Ordering::Relaxed);
            }
            // Such as the echo of an answer that nobody wanted. A socket that only fails must not spin.
            Err(_) => std::thread::sleep(Duration::from_millis(1)),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;

    /// A stop port of its own, and a socket that talks to it.
    fn stop_port() -> (UdpSocket, Arc<StopRoad>, Arc<Rubbish>) {
        let port = UdpSocket::bind("127.0.0.1:0").expect("loopback takes a socket");
        let client = UdpSocket::bind("127.0.0.1:0").expect("loopback takes a socket");
        client.connect(port.local_addr().expect("bound")).expect("loopback connects");
        client.set_read_timeout(Some(Duration::from_secs(5))).expect("a time-out can be set");
        let (stop, rubbish) = (Arc::new(StopRoad::new()), Arc::new(Rubbish::default()));
        let (road, counter) = (stop.clone(), rubbish.clone());
        std::thread::spawn(move || run(&port, &road, &counter));
        (client, stop, rubbish)
    }

    #[test]
    fn a_stop_is_pressed_and_answered() {
        let (client, stop, _) = stop_port();
        client.send(b"/bellwire/stop\0\0,\0\0\0").expect("sent");
        let mut answer = [0; 100];
        let length = client.recv(&mut answer).expect("answered");
        assert_eq!(&answer[..length], TAKEN);
        assert_eq!(stop.read().generations[0], 1);
    }

    #[test]
    fn a_stop_between_rubbish_of_every_length_is_heard() {
        let (client, stop, rubbish) = stop_port();
        for length in 0..300 {
            client.send(&vec![b'/'; length]).expect("sent");
            // The kernel's buffer is finite; what overflows it nobody has seen.
            while rubbish.count() <= length as u64 {
                std::thread::yield_now();
            }
        }
        client.send(b"/bellwire/stop\0\0,\0\0\0").expect("sent");
        client.recv(&mut [0; 100]).expect("answered");
        assert_eq!(stop.read().generations[0], 1);
        assert_eq!(rubbish.count(), 300);
    }
}
