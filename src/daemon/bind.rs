//! The addresses we listen on, all taken before anything starts, so that a daemon either has every road or none.

use std::fmt;
use std::io;
use std::net::{SocketAddr, TcpListener, UdpSocket};

use crate::show::access::Access;

/// Where to listen; port 0 takes any free one.
#[derive(Clone, Copy, Debug)]
pub struct Addresses {
    pub http: SocketAddr,
    /// UDP and TCP alike.
    pub osc: SocketAddr,
    pub stop_port: SocketAddr,
}

/// Everything that listens, and whom it lets in.
#[derive(Debug)]
pub struct Sockets {
    pub http: TcpListener,
    pub osc_udp: UdpSocket,
    pub osc_tcp: TcpListener,
    pub stop_port: UdpSocket,
    pub access: Access,
}

/// Why we do not listen.
#[derive(Debug)]
pub enum BindError {
    /// Other machines could reach it, and nothing says which of them may do what.
    NotLoopback {
        road: &'static str,
        option: &'static str,
        address: SocketAddr,
    },
    Io {
        road: &'static str,
        option: &'static str,
        address: SocketAddr,
        error: io::Error,
    },
}

impl Sockets {
    /// Takes every address; beyond loopback only if access.toml says who may do what there.
    ///
    /// # Errors
    /// An address that is beyond loopback without it, or that cannot be had.
    pub fn bind(addresses: Addresses, access: Access) -> Result<Sockets, BindError> {
        let Addresses { http, osc, stop_port } = addresses;
        let beyond = access.written;
        let http = bind("HTTP", "--http", http, beyond, TcpListener::bind)?;
        let stop_port = bind("the stop port", "--stop-port", stop_port, beyond, UdpSocket::bind)?;
        let (osc_udp, osc_tcp) = bind("OSC", "--osc", osc, beyond, bind_both)?;
        Ok(Sockets { http, osc_udp, osc_tcp, stop_port, access })
    }
}

fn bind<Socket>(
    road: &'static str,
    option: &'static str,
    address: SocketAddr,
    beyond_loopback: bool,
    take: impl FnOnce(SocketAddr) -> io::Result<Socket>,
) -> Result<Socket, BindError> {
    if !address.ip().is_loopback() && !beyond_loopback {
        return Err(BindError::NotLoopback { road, option, address });
    }
    take(address).map_err(|error| BindError::Io { road, option, address, error })
}

/// The same port over UDP and TCP. If any will do, the first free over UDP may be taken over TCP; then another.
fn bind_both(address: SocketAddr) -> io::Result<(UdpSocket, TcpListener)> {
    const TRIES: u32 = 16;
    let mut tries = 0;
    loop {
        let udp = UdpSocket::bind(address)?;
        match TcpListener::bind(udp.local_addr()?) {
            Ok(tcp) => return Ok((udp, tcp)),
            Err(error) if address.port() != 0 || tries == TRIES => return Err(error),
            Err(_) => tries += 1,
        }
    }
}

impl fmt::Display for BindError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            BindError::NotLoopback { road, option, address } => write!(
                f,
                "{road} may not listen on {address}: other machines could reach it there, and who of them may do what \
                 has to be written in access.toml in the show folder, and is not. Write it with `bellwire access SHOW \
                 add NAME --role ROLE`, or give {option} a loopback address such as 127.0.0.1:{}",
                address.port()
            ),
            BindError::Io { road, option, address, error } if error.kind() == io::ErrorKind::AddrInUse => write!(
                f,
                "{road} cannot listen on {address}: another program already does, perhaps another bellwire. End that \
                 one, or give {option} another address (port 0 takes any free one)"
            ),
            BindError::Io { road, option, address, error } => {
                write!(f, "{road} cannot listen on {address}: {error}. Give {option} another address")
            }
        }
    }
}

impl std::error::Error for BindError {}

#[cfg(test)]
mod tests {
    use super::*;

    fn any() -> SocketAddr {
        "127.0.0.1:0".parse().expect("an address")
    }

    #[test]
    fn port_zero_takes_one_port_for_both_kinds_of_osc() {
        let sockets = Sockets::bind(Addresses { http: any(), osc: any(), stop_port: any() }, Access::default())
            .expect("bound");
        let (udp, tcp) = (sockets.osc_udp.local_addr(), sockets.osc_tcp.local_addr());
        assert_eq!(udp.expect("bound"), tcp.expect("bound"));
    }

    #[test]
    fn anything_but_loopback_is_refused_and_says_what_to_do() {
        for address in ["0.0.0.0:7118", "[::]:7118", "10.0.0.7:7118"] {
            let osc = address.parse().expect("an address");
            let error = Sockets::bind(Addresses { http: any(), osc, stop_port: any() }, Access::default())
                .expect_err("refused");
            let text = error.to_string();
            assert!(matches!(error, BindError::NotLoopback { .. }), "{text}");
            assert!(text.contains(address) && text.contains("access.toml") && text.contains("--osc"), "{text}");
        }
    }

    #[test]
    fn with_an_access_toml_other_machines_may_reach_us() {
        let everywhere: SocketAddr = "0.0.0.0:0".parse().expect("an address");
        let addresses = Addresses { http: everywhere, osc: everywhere, stop_port: everywhere };
        let sockets = Sockets::bind(addresses, Access { written: true, ..Access::default() }).expect("bound");
        assert!(sockets.http.local_addr().expect("bound").ip().is_unspecified());
    }

    #[test]
    fn a_taken_port_names_the_option_that_moves_it() {
        let taken = TcpListener::bind(any()).expect("bound");
        let http = taken.local_addr().expect("bound");
        let error =
            Sockets::bind(Addresses { http, osc: any(), stop_port: any() }, Access::default()).expect_err("taken");
        assert!(error.to_string().contains("--http"), "{error}");
    }
}
