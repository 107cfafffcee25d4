//! Waiting and measuring time beside a bus.
//!
//! Drivers are generic over [`Timing`], so that a test can run a day of samples in its own time.

use embedded_hal::delay::DelayNs;
use std::time::{Duration, Instant};

/// A delay that can also say what time it is.
pub trait Timing: DelayNs {
    /// Microseconds since some origin; never goes back.
    fn now_us(&mut self) -> u64;
}

/// The machine's own time.
#[derive(Debug, Clone, Copy)]
pub struct HostTiming {
    origin: Instant,
}

impl Default for HostTiming {
    fn default() -> Self {
        Self { origin: host_now() }
    }
}

/// Waits shorter than this are spun: the scheduler cannot sleep for so little.
const SPIN_BELOW: Duration = Duration::from_micros(100);

impl DelayNs for HostTiming {
    fn delay_ns(&mut self, ns: u32) {
        let wait = Duration::from_nanos(u64::from(ns));
        if wait >= SPIN_BELOW { sleep(wait) } else { spin(wait) }
    }

    fn delay_us(&mut self, us: u32) {
        let wait = Duration::from_micros(u64::from(us));
        if wait >= SPIN_BELOW { sleep(wait) } else { spin(wait) }
    }

    fn delay_ms(&mut self, ms: u32) {
        sleep(Duration::from_millis(u64::from(ms)));
    }
}

impl Timing for HostTiming {
    fn now_us(&mut self) -> u64 {
        u64::try_from(host_now().duration_since(self.origin).as_micros()).unwrap_or(u64::MAX)
    }
}

/// Waits without ever sleeping, for the microseconds of a pulsed line.
#[derive(Debug, Clone, Copy, Default)]
pub struct SpinTiming(HostTiming);

impl DelayNs for SpinTiming {
    fn delay_ns(&mut self, ns: u32) {
        spin(Duration::from_nanos(u64::from(ns)));
    }

    fn delay_ms(&mut self, ms: u32) {
        self.0.delay_ms(ms);
    }
}

impl Timing for SpinTiming {
    fn now_us(&mut self) -> u64 {
        self.0.now_us()
    }
}

fn spin(wait: Duration) {
    let start = host_now();
    while host_now().duration_since(start) < wait {
        std::hint::spin_loop();
    }
}

#[expect(clippy::disallowed_methods, reason = "a bus measures its own pulses")]
fn host_now() -> Instant {
    Instant::now()
}

#[expect(clippy::disallowed_methods, reason = "a converter is waited for")]
fn sleep(wait: Duration) {
    std::thread::sleep(wait);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wait_is_never_shorter_than_asked() {
        let mut timing = HostTiming::default();
        for us in [20, 500] {
            let before = timing.now_us();
            timing.delay_us(us);
            assert!(timing.now_us() - before >= u64::from(us) - 1);
        }
    }
}
