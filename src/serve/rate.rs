//! How often one address may ask: a bucket that fills at a steady rate and that each request takes
//! from. Memory is bounded: where more addresses come than there is room for, the fullest buckets
//! are forgotten, whose owners lose nothing.

use std::collections::HashMap;
use std::net::IpAddr;

use tokio::time::Instant;

/// Addresses that are remembered.
const ADDRESSES: usize = 1024;

/// What is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ask {
    Read,
    Say,
    Pair,
}

impl Ask {
    /// How many at once, and how many a second then.
    const fn allowed(self) -> (f64, f64) {
        match self {
            Self::Read => (120.0, 20.0),
            Self::Say => (12.0, 1.0),
            Self::Pair => (5.0, 0.05),
        }
    }
}

#[derive(Debug, Clone, Copy)]
struct Bucket {
    left: [f64; 3],
    at: Instant,
}

/// Who asked how much lately.
#[derive(Debug, Default)]
pub struct Rates {
    buckets: HashMap<IpAddr, Bucket>,
}

impl Rates {
    /// Takes one from the address's bucket; how many seconds it must wait where that is empty.
    pub fn take(&mut self, from: IpAddr, ask: Ask, now: Instant) -> Result<(), u64> {
        let from = whose(from);
        if self.buckets.len() >= ADDRESSES && !self.buckets.contains_key(&from) {
            self.forget();
        }
        let full = Bucket { left: KINDS.map(|ask| ask.allowed().0), at: now };
        let bucket = self.buckets.entry(from).or_insert(full);
        bucket.fill(now);
        let left = &mut bucket.left[ask as usize];
        if *left < 1.0 {
            return Err(((1.0 - *left) / ask.allowed().1).ceil() as u64);
        }
        *left -= 1.0;
        Ok(())
    }

    /// Forgets the half that has asked least lately.
    fn forget(&mut self) {
        let mut by_fullness: Vec<(IpAddr, f64)> =
            self.buckets.iter().map(|(ip, bucket)| (*ip, bucket.emptiness())).collect();
        by_fullness.sort_by(|a, b| a.1.total_cmp(&b.1));
        for (ip, _) in by_fullness.into_iter().take(ADDRESSES / 2) {
            self.buckets.remove(&ip);
        }
    }
}

const KINDS: [Ask; 3] = [Ask::Read, Ask::Say, Ask::Pair];

impl Bucket {
    fn fill(&mut self, now: Instant) {
        let seconds = now.saturating_duration_since(self.at).as_secs_f64();
        self.at = now;
        for (left, ask) in self.left.iter_mut().zip(KINDS) {
            let (most, a_second) = ask.allowed();
            *left = (*left + seconds * a_second).min(most);
        }
    }

    /// How empty its emptiest part is, 0 to 1.
    fn emptiness(&self) -> f64 {
        let of = |(left, ask): (&f64, Ask)| 1.0 - left / ask.allowed().0;
        self.left.iter().zip(KINDS).map(of).fold(0.0, f64::max)
    }
}

/// One device may have any address of an IPv6 network of 64 bits.
fn whose(ip: IpAddr) -> IpAddr {
    match ip.to_canonical() {
        IpAddr::V6(ip) => {
            let [a, b, c, d, ..] = ip.segments();
            IpAddr::V6([a, b, c, d, 0, 0, 0, 0].into())
        }
        ip => ip,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    const PHONE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 168, 1, 7));

    #[test]
    fn five_codes_can_be_tried_and_then_one_every_twenty_seconds() {
        let (mut rates, now) = (Rates::default(), Instant::now());
        for _ in 0..5 {
            assert_eq!(rates.take(PHONE, Ask::Pair, now), Ok(()));
        }
        assert_eq!(rates.take(PHONE, Ask::Pair, now), Err(20));
        assert_eq!(rates.take(PHONE, Ask::Read, now), Ok(()));
        let later = now + Duration::from_secs(21);
        assert_eq!(rates.take(PHONE, Ask::Pair, later), Ok(()));
        assert!(rates.take(PHONE, Ask::Pair, later).is_err());
    }

    #[test]
    fn many_addresses_take_no_more_room_and_free_nobody_who_is_held_back() {
        let (mut rates, now) = (Rates::default(), Instant::now());
        while rates.take(PHONE, Ask::Pair, now).is_ok() {}
        for n in 0..20_000u32 {
            let _ = rates.take(IpAddr::V4((0x0a00_0000 + n).into()), Ask::Read, now);
        }
        assert!(rates.buckets.len() <= ADDRESSES);
        assert!(rates.take(PHONE, Ask::Pair, now).is_err());
    }

    #[test]
    fn a_network_of_one_device_has_one_bucket() {
        let ip = |text: &str| whose(text.parse().unwrap());
        assert_eq!(ip("2001:db8:1:2:3::1"), ip("2001:db8:1:2:ffff::2"));
        assert_eq!(ip("::ffff:192.168.1.7"), PHONE);
    }
}
