//! So many at once, and so many of one address.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::gate::household;
use crate::wire::Barred;

/// Those inside, by household.
#[derive(Debug, Default)]
pub struct Crowd {
    inside: Mutex<HashMap<IpAddr, usize>>,
}

/// One of those inside, until it is dropped.
#[derive(Debug)]
pub struct Place {
    crowd: Arc<Crowd>,
    household: IpAddr,
}

impl Crowd {
    /// Lets one more in, if there is room among `most`, and among `of_one` of its own address; loopback has no such
    /// share, since all of this machine, and perhaps a proxy on it, comes from there.
    ///
    /// # Errors
    /// No room; which, and how much there is.
    pub fn enter(self: &Arc<Crowd>, address: IpAddr, most: usize, of_one: usize) -> Result<Place, Barred> {
        let household = household(address);
        let mut inside = self.lock();
        if inside.values().sum::<usize>() >= most {
            return Err(Barred::Crowded { limit: most, of_address: false });
        }
        let own = inside.entry(household).or_default();
        if *own >= of_one && !household.is_loopback() {
            return Err(Barred::Crowded { limit: of_one, of_address: true });
        }
        *own += 1;
        drop(inside);
        Ok(Place { crowd: self.clone(), household })
    }

    pub fn count(&self) -> usize {
        self.lock().values().sum()
    }

    fn lock(&self) -> MutexGuard<'_, HashMap<IpAddr, usize>> {
        self.inside.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut inside = self.crowd.lock();
        if let Some(own) = inside.get_mut(&self.household) {
            *own -= 1;
            if *own == 0 {
                inside.remove(&self.household);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn far(last: u8) -> IpAddr {
        IpAddr::from([10, 0, 0, last])
    }

    #[test]
    fn an_address_that_takes_all_it_can_leaves_room_for_others() {
        let crowd = Arc::<Crowd>::default();
        let mut places: Vec<Place> = (0..100).filter_map(|_| crowd.enter(far(1), 10, 4).ok()).collect();
        assert_eq!(places.len(), 4);
        assert_eq!(crowd.enter(far(1), 10, 4).expect_err("full"), Barred::Crowded { limit: 4, of_address: true });
        places.extend((2..8).filter_map(|last| crowd.enter(far(last), 10, 4).ok()));
        assert_eq!(crowd.count(), 10);
        assert_eq!(crowd.enter(far(9), 10, 4).expect_err("full"), Barred::Crowded { limit: 10, of_address: false });
        places.clear();
        assert_eq!(crowd.count(), 0);
        assert!(crowd.enter(far(1), 10, 4).is_ok() && crowd.lock().is_empty(), "who has left takes no memory");
    }

    #[test]
    fn loopback_shares_only_the_whole() {
        let crowd = Arc::<Crowd>::default();
        let near = IpAddr::from([127, 0, 0, 1]);
        let places: Vec<Place> = (0..100).filter_map(|_| crowd.enter(near, 10, 4).ok()).collect();
        assert_eq!(places.len(), 10);
    }
}
