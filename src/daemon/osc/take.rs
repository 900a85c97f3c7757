//! A packet to requests, and their answers back, whichever of the two transports carries them.

use std::net::IpAddr;
use std::sync::Arc;

use crate::daemon::book::Book;
use crate::daemon::gate::STRANGER;
use crate::daemon::house::House;
use crate::daemon::hub::{Asked, Client};
use crate::engine::{Accepted, Reason, Refusal, Role, StopLane, Verb};
use crate::show::Nanos;
use crate::wire::osc::{self, Heard, Out};
use crate::wire::{Ask, Barred, Misheard};

/// A GO is refused if its link stood still for so long while it arrived.
const STALL_MAX: Nanos = Nanos(500_000_000);

/// Sends a packet to the one who asked, or drops it: never waits.
pub type Back = Arc<dyn Fn(&[u8]) + Send + Sync>;

/// Who sent a packet, and how it came.
pub struct Sender<'a> {
    pub client: &'a Client,
    pub ip: IpAddr,
    pub back: &'a Back,
    /// How long the packet's arrival stood still at most; datagrams come whole.
    pub stalled: Nanos,
}

/// What only the transport can do for a client.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ForLink {
    Watch { changes: u32, lease: u32 },
    Unwatch,
}

/// Carries out everything in a packet. Stops are pressed before anything else in it is read. `for_link` may refuse, with
/// the reason.
pub fn take(
    house: &Arc<House>,
    sender: &Sender<'_>,
    packet: &[u8],
    mut for_link: impl FnMut(ForLink) -> Result<(), String>,
) {
    if osc::is_stop(packet) {
        house.stop.press(StopLane::Osc, Some(sender.client.id));
    }
    let book = house.book();
    for heard in osc::decode(packet, &book.names) {
        match heard {
            Heard::Ask { verb, cue, ask: Ask::Stop } => answer(sender.back, verb, &cue, &[]),
            Heard::Ask { verb, cue, ask } => {
                if paced(house, sender, verb, &cue, matches!(ask, Ask::Stick { .. })) {
                    carry_out(house, &book, sender, verb, cue, ask, &mut for_link);
                }
            }
            Heard::Refused { verb, cue, why } => {
                if paced(house, sender, &verb, &cue, false) {
                    refuse(house, sender, &verb, &cue, &why);
                }
            }
            Heard::Dropped(why) => house.counters.reject(why.counter(), &sender.client.name, &why),
        }
    }
}

/// Takes nothing of a packet but a stop, since its sender is not let in, and answers with the reason; not each time,
/// since the address on a datagram may be anybody's.
pub fn turn_away(house: &House, ip: IpAddr, back: &Back, packet: &[u8], why: &Barred) {
    if osc::is_stop(packet) {
        house.stop.press(StopLane::Osc, Some(house.hub.link(STRANGER, Role::Observer).id));
        // What else may be in the packet is passed over: this is the word that counts.
        return answer(back, "stop", "", &[]);
    }
    house.counters.reject(why.counter(), &format!("osc {ip}"), why);
    if !house.gate.courtesy() {
        return;
    }
    let first = osc::decode(packet, &house.book().names).into_iter().next();
    match first {
        Some(Heard::Ask { verb, cue, .. }) => answer(back, verb, &cue, &[why.to_string()]),
        Some(Heard::Refused { verb, cue, .. }) => answer(back, &verb, &cue, &[why.to_string()]),
        Some(Heard::Dropped(_)) | None => {}
    }
}

fn carry_out(
    house: &Arc<House>,
    book: &Book,
    sender: &Sender<'_>,
    verb: &'static str,
    cue: String,
    ask: Ask,
    for_link: &mut impl FnMut(ForLink) -> Result<(), String>,
) {
    let of_link = match ask {
        Ask::Verb(asked) => match house.believe(book, &asked, sender.ip) {
            Ok(()) => return request(house, book, sender, verb, cue, asked),
            Err(why) => return refuse(house, sender, verb, &cue, &why),
        },
        Ask::Watch { changes, lease } => ForLink::Watch { changes, lease },
        Ask::Unwatch => ForLink::Unwatch,
        // Heeded or not, it is not answered: the next one comes at once.
        Ask::Stick { axis, kind, value } => {
            if let Err(reasons) = house.hear_stick(sender.client, axis, kind, value)
                && house.gate.courtesy()
            {
                answer(sender.back, verb, &cue, &reasons);
            }
            return;
        }
        // A stop has been answered; the others OSC does not have: what it asks to be told, it watches.
        Ask::Stop
        | Ask::Status
        | Ask::Subscribe(_)
        | Ask::Reload { .. }
        | Ask::Hand(_)
        | Ask::Take(_)
        | Ask::Survey(_)
        | Ask::Play(_) => return,
    };
    let refused: Vec<String> = for_link(of_link).err().into_iter().collect();
    answer(sender.back, verb, &cue, &refused);
}

/// Whether its sender may ask this now; else it is refused, and told so now and then. Sticks have a pace of their own.
fn paced(house: &House, sender: &Sender<'_>, verb: &str, cue: &str, stick: bool) -> bool {
    let client = sender.client.id;
    let paced = if stick { house.gate.pace_of_sticks(client) } else { house.gate.pace(client) };
    let Err(why) = paced else { return true };
    house.counters.reject(why.counter(), &sender.client.name, &why);
    if house.gate.courtesy() {
        answer(sender.back, verb, cue, &[why.to_string()]);
    }
    false
}

fn request(house: &Arc<House>, book: &Book, sender: &Sender<'_>, verb: &'static str, cue: String, asked: Verb) {
    let (of_show, back) = (house.clone(), sender.back.clone());
    let reply = move |outcome: Result<Accepted, Refusal>| match outcome {
        Ok(Accepted::Done) => answer(&back, verb, &cue, &[]),
        Ok(Accepted::Standby { ready, cue: first, .. }) => {
            answer(&back, verb, &cue, &[]);
            if !ready {
                let number = of_show.book().show.number_of(first);
                back(&Out::Standby { cue: &number, ready }.encode());
            }
        }
        Err(refusal) => answer(&back, verb, &cue, &of_show.reasons(&refusal)),
    };
    if matches!(asked, Verb::Go { .. }) && sender.stalled >= STALL_MAX {
        reply(Err(Refusal::one(Reason::TooOld { age: sender.stalled, limit: STALL_MAX })));
        return;
    }
    house.hub.ask(sender.client, Asked::of(book.edition, asked), Box::new(reply));
}

fn refuse(house: &House, sender: &Sender<'_>, verb: &str, cue: &str, why: &Misheard) {
    house.counters.reject(why.counter(), &sender.client.name, why);
    answer(sender.back, verb, cue, &[why.to_string()]);
}

fn answer(back: &Back, verb: &str, cue: &str, reasons: &[String]) {
    back(&Out::Answer { verb, cue, reasons }.encode());
}
