//! An address, or a network of them.

use std::fmt;
use std::net::IpAddr;
use std::str::FromStr;

/// Addresses that share their first `prefix` bits: `10.0.0.7` alone, or `10.0.0.0/24`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Network {
    address: IpAddr,
    prefix: u8,
}

/// Why a text is no network.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NetworkError {
    /// Not an IP address, or not one with a length after it.
    NotAnAddress,
    /// Longer than the address.
    PrefixTooLong { most: u8 },
    /// Bits of the address beyond the prefix: a slip in one or the other.
    BitsBeyond { meant: IpAddr },
}

impl Network {
    pub fn prefix(&self) -> u8 {
        self.prefix
    }

    /// Whether an address is of this network. An IPv4 address that came in through an IPv6 socket is the address that it
    /// is on the network.
    pub fn holds(&self, address: IpAddr) -> bool {
        match (self.address, address.to_canonical()) {
            (IpAddr::V4(_), IpAddr::V6(_)) | (IpAddr::V6(_), IpAddr::V4(_)) => false,
            (IpAddr::V4(_), IpAddr::V4(_)) | (IpAddr::V6(_), IpAddr::V6(_)) => {
                masked(address.to_canonical(), self.prefix) == self.address
            }
        }
    }
}

impl FromStr for Network {
    type Err = NetworkError;

    fn from_str(text: &str) -> Result<Network, NetworkError> {
        let (address, prefix) = match text.split_once('/') {
            Some((address, prefix)) => (address, Some(prefix)),
            None => (text, None),
        };
        let address: IpAddr = address.parse().map_err(|_| NetworkError::NotAnAddress)?;
        let address = address.to_canonical();
        let most = bits(address);
        let prefix = match prefix {
            Some(prefix) => prefix.parse().map_err(|_| NetworkError::NotAnAddress)?,
            None => most,
        };
        if prefix > most {
            return Err(NetworkError::PrefixTooLong { most });
        }
        let meant = masked(address, prefix);
        if meant == address { Ok(Network { address, prefix }) } else { Err(NetworkError::BitsBeyond { meant }) }
    }
}

impl fmt::Display for Network {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Network { address, prefix } = self;
        if *prefix == bits(*address) { write!(f, "{address}") } else { write!(f, "{address}/{prefix}") }
    }
}

impl fmt::Display for NetworkError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NetworkError::NotAnAddress => {
                f.write_str("expected an IP address such as 10.0.0.7, or a network such as 10.0.0.0/24")
            }
            NetworkError::PrefixTooLong { most } => write!(f, "expected a length of 0 to {most} after the address"),
            NetworkError::BitsBeyond { meant } => {
                write!(f, "the address has bits beyond the length after it: {meant} was meant, or a longer one")
            }
        }
    }
}

impl std::error::Error for NetworkError {}

fn bits(address: IpAddr) -> u8 {
    match address {
        IpAddr::V4(_) => 32,
        IpAddr::V6(_) => 128,
    }
}

/// The address with nothing but its first `prefix` bits.
fn masked(address: IpAddr, prefix: u8) -> IpAddr {
    match address {
        IpAddr::V4(address) => {
            let mask = u32::MAX.checked_shl(32 - u32::from(prefix)).unwrap_or(0);
            IpAddr::V4((address.to_bits() & mask).into())
        }
        IpAddr::V6(address) => {
            let mask = u128::MAX.checked_shl(128 - u32::from(prefix)).unwrap_or(0);
            IpAddr::V6((address.to_bits() & mask).into())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn network(text: &str) -> Network {
        text.parse().unwrap_or_else(|why| panic!("{text}: {why}"))
    }

    fn holds(text: &str, address: &str) -> bool {
        network(text).holds(address.parse().expect("an address"))
    }

    #[test]
    fn an_address_alone_is_itself_and_nothing_else() {
        assert!(holds("10.0.0.7", "10.0.0.7") && holds("10.0.0.7", "::ffff:10.0.0.7"));
        assert!(!holds("10.0.0.7", "10.0.0.70") && !holds("10.0.0.7", "fd00::7"));
        assert!(holds("fd00::7", "fd00::7") && !holds("fd00::7", "fd00::8"));
    }

    #[test]
    fn a_network_ends_where_its_prefix_says() {
        assert!(holds("10.0.0.0/24", "10.0.0.0") && holds("10.0.0.0/24", "10.0.0.255"));
        assert!(!holds("10.0.0.0/24", "10.0.1.0") && !holds("10.0.0.0/24", "9.255.255.255"));
        assert!(holds("10.0.0.128/25", "10.0.0.200") && !holds("10.0.0.128/25", "10.0.0.127"));
        assert!(holds("0.0.0.0/0", "203.0.113.9") && !holds("0.0.0.0/0", "fd00::1"));
        assert!(holds("fd00::/8", "fdff::1") && holds("::/0", "fd00::1"));
    }

    #[test]
    fn a_slip_is_told() {
        for text in ["", "desk", "10.0.0", "10.0.0.256", "10.0.0.7:7118", "10.0.0.0/", "10.0.0.0/x", "10.0.0.0/-1"]
        {
            assert_eq!(text.parse::<Network>(), Err(NetworkError::NotAnAddress), "{text}");
        }
        assert_eq!("10.0.0.0/33".parse::<Network>(), Err(NetworkError::PrefixTooLong { most: 32 }));
        let meant = "10.0.0.0".parse().expect("an address");
        assert_eq!("10.0.0.7/24".parse::<Network>(), Err(NetworkError::BitsBeyond { meant }));
    }

    #[test]
    fn it_is_written_as_it_was_read() {
        for text in ["10.0.0.7", "10.0.0.0/24", "fd00::/8", "::1", "0.0.0.0/0"] {
            assert_eq!(network(text).to_string(), text);
        }
    }
}
