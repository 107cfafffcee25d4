//! A stop that wakes those who wait.

use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::Duration;

/// Told once; threads that wait for their next sample wake at once.
#[derive(Debug, Clone, Default)]
pub struct Halt(Arc<(Mutex<bool>, Condvar)>);

impl Halt {
    pub fn tell(&self) {
        *self.0.0.lock().unwrap_or_else(PoisonError::into_inner) = true;
        self.0.1.notify_all();
    }

    #[must_use]
    pub fn is_told(&self) -> bool {
        *self.0.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits this long; `false` where the stop was told before that.
    #[must_use]
    pub fn wait(&self, time: Duration) -> bool {
        let told = self.0.0.lock().unwrap_or_else(PoisonError::into_inner);
        let waited = self.0.1.wait_timeout_while(told, time, |told| !*told);
        !*waited.unwrap_or_else(PoisonError::into_inner).0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stop_wakes_those_who_wait() {
        let halt = Halt::default();
        assert!(halt.wait(Duration::from_millis(1)));
        let theirs = halt.clone();
        let waiting = std::thread::spawn(move || theirs.wait(Duration::from_secs(3600)));
        halt.tell();
        assert!(!waiting.join().unwrap());
        assert!(halt.is_told());
    }
}
