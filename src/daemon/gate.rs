//! Who is let in, as access.toml says now; and how much at a time.
//!
//! The table of access is replaced as a whole, while everything runs: each request, packet and connection is judged by
//! the one that is in force then. Whoever waits on [`Gate::shut_out`] learns when its own pass has ended.
//!
//! Nothing here stands before a stop.

use std::net::{IpAddr, Ipv6Addr};
use std::sync::{Arc, Mutex, PoisonError};

use arc_swap::{ArcSwap, Guard};
use tokio::sync::watch;

use super::clock;
use super::crowd::Crowd;
use super::pace::{Bucket, Paces};
use crate::engine::{ClientId, Role};
use crate::show::access::{Access, Secret, SecretError, Sender, Token};
use crate::wire::Barred;

/// Answers a second to those who are not let in, and to those who ask too fast: a stranger may put anybody's address on
/// a datagram, and an answer to each would be a flood at that one's door.
const COURTESIES: u32 = 10;
/// Samples of sticks and dials of one client: each only takes the place of another, so more may come than of requests.
const STICKS_A_SECOND: u32 = 4_000;

/// How clients who are not let in are named, all together: what they bring about without end takes no memory.
pub const STRANGER: &str = "someone not let in";

pub struct Gate {
    access: ArcSwap<Access>,
    /// Counts the replacements.
    revised: watch::Sender<u64>,
    paces: Paces,
    stick_paces: Paces,
    courtesies: Mutex<Bucket>,
    /// HTTP connections, WebSockets among them.
    pub connections: Arc<Crowd>,
    /// WebSockets that were let in.
    pub clients: Arc<Crowd>,
    /// OSC over TCP.
    pub osc_links: Arc<Crowd>,
    /// Connections of any kind that can do nothing but stop.
    pub stop_only: Arc<Crowd>,
}

/// Why somebody is let in, and what for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pass {
    pub role: Role,
    by: By,
}

#[derive(Clone, Debug, PartialEq, Eq)]
enum By {
    /// From this machine, which is trusted.
    Loopback,
    Token(Token),
    Sender(Sender),
}

impl Gate {
    pub fn new(access: Access) -> Gate {
        Gate {
            access: ArcSwap::from_pointee(access),
            revised: watch::Sender::new(0),
            paces: Paces::default(),
            stick_paces: Paces::default(),
            courtesies: Mutex::default(),
            connections: Arc::default(),
            clients: Arc::default(),
            osc_links: Arc::default(),
            stop_only: Arc::default(),
        }
    }

    /// Puts another table in force, at once and for everyone: whose pass has ended loses its connection.
    pub fn replace(&self, access: Access) {
        self.access.store(Arc::new(access));
        self.revised.send_modify(|revision| *revision += 1);
    }

    pub fn access(&self) -> Guard<Arc<Access>> {
        self.access.load()
    }

    /// How often the table was replaced. What was judged under the same number need not be judged again.
    pub fn revision(&self) -> u64 {
        *self.revised.borrow()
    }

    /// A client over HTTP or WebSocket, by the token that it shows. A token that fits decides, also on loopback; one that
    /// does not is no worse than none.
    ///
    /// # Errors
    /// It is not let in; with what would let it in.
    pub fn visitor(&self, from: IpAddr, shown: Option<&Result<Secret, SecretError>>) -> Result<Pass, Barred> {
        let access = self.access();
        if let Some(Ok(secret)) = shown
            && let Some(token) = access.token(secret)
        {
            return Ok(Pass { role: token.role, by: By::Token(token.clone()) });
        }
        if access.trusts(from) {
            return Ok(Pass { role: Role::Operator, by: By::Loopback });
        }
        Err(if shown.is_some() { Barred::WrongToken } else { Barred::NoToken })
    }

    /// The sender of a packet of OSC, by its address alone: a datagram carries no more that could be believed.
    ///
    /// # Errors
    /// It is not let in; with what would let it in.
    pub fn sender(&self, from: IpAddr) -> Result<Pass, Barred> {
        let access = self.access();
        if let Some(sender) = access.sender(from) {
            return Ok(Pass { role: sender.role, by: By::Sender(sender.clone()) });
        }
        if access.trusts(from) {
            return Ok(Pass { role: Role::Caller, by: By::Loopback });
        }
        Err(Barred::UnknownSender { address: from.to_canonical() })
    }

    /// Waits until a pass is no longer what it was: its entry is gone or says something else.
    pub async fn shut_out(&self, pass: &Pass, from: IpAddr) {
        let mut revised = self.revised.subscribe();
        while self.stands(pass, from) {
            if revised.changed().await.is_err() {
                // The house is being pulled down, and every connection with it.
                return;
            }
        }
    }

    /// Whether a pass is still what it was.
    pub fn stands(&self, pass: &Pass, from: IpAddr) -> bool {
        let access = self.access();
        match &pass.by {
            By::Loopback => access.trusts(from),
            By::Token(token) => access.tokens.contains(token),
            By::Sender(sender) => access.sender(from) == Some(sender),
        }
    }

    /// Takes one request of a client into account.
    ///
    /// # Errors
    /// It asks faster than it may.
    pub fn pace(&self, client: ClientId) -> Result<(), Barred> {
        let limit = self.access().limits.requests;
        if self.paces.spend(client, limit, clock::now()) { Ok(()) } else { Err(Barred::TooFast { limit }) }
    }

    /// Takes one sample of a client's sticks into account.
    ///
    /// # Errors
    /// It sends faster than it may.
    pub fn pace_of_sticks(&self, client: ClientId) -> Result<(), Barred> {
        if self.stick_paces.spend(client, STICKS_A_SECOND, clock::now()) {
            Ok(())
        } else {
            Err(Barred::TooFast { limit: STICKS_A_SECOND })
        }
    }

    /// Whether one more answer may go to someone who is turned away.
    pub fn courtesy(&self) -> bool {
        self.courtesies.lock().unwrap_or_else(PoisonError::into_inner).spend(COURTESIES, clock::now())
    }
}

impl Pass {
    /// What a client is called; those called the same are one client. `device` is the name that it gave itself. Whoever
    /// came by an entry of access.toml has brackets in its name, so that nobody can pass for somebody else by a name.
    pub fn name(&self, device: Option<&str>, road: &str, from: &str) -> String {
        match &self.by {
            By::Loopback => device.map_or_else(|| format!("{road} {from}"), str::to_owned),
            By::Token(token) => format!("{} ({})", token.name, device.unwrap_or(road)),
            By::Sender(sender) => format!("{} ({road} {from})", sender.name),
        }
    }

    /// The name of its entry, if it has one.
    pub fn entry(&self) -> Option<&str> {
        match &self.by {
            By::Loopback => None,
            By::Token(token) => Some(&token.name),
            By::Sender(sender) => Some(&sender.name),
        }
    }
}

/// By which connections are counted: an address; of IPv6 the network of 64 bits, of which any machine has all.
pub fn household(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        address @ IpAddr::V4(_) => address,
        IpAddr::V6(address) => IpAddr::V6(Ipv6Addr::from_bits(address.to_bits() >> 64 << 64)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn secret(seed: u8) -> Secret {
        Secret::new([seed; 32])
    }

    fn token(name: &str, role: Role, seed: u8) -> Token {
        Token { name: name.into(), role, hash: secret(seed).hash() }
    }

    fn sender(name: &str, network: &str, role: Role) -> Sender {
        Sender { name: name.into(), role, network: network.parse().expect("a network") }
    }

    fn access() -> Access {
        Access {
            written: true,
            tokens: vec![token("tablet", Role::Operator, 1), token("foyer", Role::Observer, 2)],
            senders: vec![sender("desk", "10.0.0.7", Role::Caller), sender("wall", "10.0.0.0/24", Role::Observer)],
            ..Access::default()
        }
    }

    fn near() -> IpAddr {
        IpAddr::from([127, 0, 0, 1])
    }

    fn far() -> IpAddr {
        IpAddr::from([10, 0, 0, 9])
    }

    #[test]
    fn a_token_that_fits_decides_and_loopback_needs_none() {
        let gate = Gate::new(access());
        let role = |from, seed: Option<u8>| {
            let shown = seed.map(|seed| Ok(secret(seed)));
            gate.visitor(from, shown.as_ref()).map(|pass| pass.role)
        };
        assert_eq!(role(far(), Some(1)), Ok(Role::Operator));
        assert_eq!(role(far(), Some(2)), Ok(Role::Observer));
        assert_eq!(role(far(), Some(3)), Err(Barred::WrongToken));
        assert_eq!(role(far(), None), Err(Barred::NoToken));
        assert_eq!(role(near(), None), Ok(Role::Operator));
        assert_eq!(role(near(), Some(2)), Ok(Role::Observer), "also on loopback");
        assert_eq!(
            role(near(), Some(3)),
            Ok(Role::Operator),
            "a forgotten cookie shuts nobody out of this machine"
        );
        let unreadable = Some(Err(SecretError { characters: 3 }));
        assert_eq!(gate.visitor(far(), unreadable.as_ref()), Err(Barred::WrongToken));
    }

    #[test]
    fn loopback_that_is_not_trusted_is_like_anywhere_else() {
        let gate = Gate::new(Access { trust_loopback: false, ..access() });
        assert_eq!(gate.visitor(near(), None), Err(Barred::NoToken));
        assert_eq!(gate.sender(near()), Err(Barred::UnknownSender { address: near() }));
    }

    #[test]
    fn a_sender_is_who_its_address_says() {
        let gate = Gate::new(access());
        let desk = gate.sender(IpAddr::from([10, 0, 0, 7])).expect("the desk");
        assert_eq!((desk.role, desk.name(None, "osc", "10.0.0.7")), (Role::Caller, "desk (osc 10.0.0.7)".into()));
        assert_eq!(gate.sender(far()).expect("of the network").role, Role::Observer);
        let stranger = IpAddr::from([10, 0, 1, 9]);
        assert_eq!(gate.sender(stranger), Err(Barred::UnknownSender { address: stranger }));
        assert_eq!(gate.sender(near()).expect("this machine").role, Role::Caller);
    }

    #[test]
    fn nobody_passes_for_another_by_a_name() {
        let gate = Gate::new(Access { tokens: vec![token("command line", Role::Caller, 1)], ..access() });
        let of_token = gate.visitor(far(), Some(&Ok(secret(1)))).expect("let in");
        let local = gate.visitor(near(), None).expect("let in");
        assert_ne!(of_token.name(None, "websocket", "a"), local.name(Some("command line"), "websocket", "b"));
        assert_eq!(of_token.name(Some("panel x"), "websocket", "a"), "command line (panel x)");
    }

    #[tokio::test]
    async fn a_pass_ends_when_its_entry_goes_or_says_something_else() {
        let all = access();
        let shown = Ok(secret(1));
        for (change, ends) in [
            (Access { tokens: vec![all.tokens[0].clone()], ..all.clone() }, false),
            (Access { senders: Vec::new(), ..all.clone() }, false),
            (Access { tokens: vec![all.tokens[1].clone()], ..all.clone() }, true),
            (Access { tokens: vec![token("tablet", Role::Caller, 1)], ..all.clone() }, true),
            (Access { tokens: vec![token("tablet", Role::Operator, 9)], ..all.clone() }, true),
        ] {
            let gate = Gate::new(all.clone());
            let pass = gate.visitor(far(), Some(&shown)).expect("let in");
            gate.replace(change);
            let ended =
                tokio::time::timeout(std::time::Duration::from_millis(20), gate.shut_out(&pass, far())).await;
            assert_eq!(ended.is_ok(), ends, "{:?}", gate.access());
        }
    }

    #[test]
    fn strangers_are_answered_now_and_then() {
        let gate = Gate::new(access());
        let answered = (0..10_000).filter(|_| gate.courtesy()).count();
        assert!((1..100).contains(&answered), "{answered}");
    }

    #[test]
    fn a_machine_with_many_addresses_is_one_household() {
        let of = |text: &str| household(text.parse().expect("an address"));
        assert_eq!(of("fd00::1"), of("fd00::ffff:1"));
        assert_ne!(of("fd00:0:0:1::1"), of("fd00::1"));
        assert_eq!(of("::ffff:10.0.0.7"), of("10.0.0.7"));
        assert_ne!(of("10.0.0.7"), of("10.0.0.8"));
    }
}
