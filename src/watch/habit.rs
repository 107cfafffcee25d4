//! How often the cook stirs by himself.
//!
//! Who stirs every few minutes of his own accord needs no reminder before his own time has come. The
//! time is the longest of the last gaps between two stirs. It counts where it is no longer than
//! [`OFTEN_S`], the near end of how the trade stirs a soft pot (every 5 to 10 minutes, common practice, no
//! source), on a flame that is not high ([`HIGH_FLUX`]: the trade stirs faster there), and while the
//! bottom is not yet half way to where every second one has caught ([`HALF_WAY`]). All three are
//! judgement, no source.

use std::collections::VecDeque;

/// Gaps that are remembered.
const GAPS: usize = 3;
/// Fewer gaps are no habit.
const LEAST: usize = 2;
/// Who stirs less often than this is reminded whenever it is due, s.
const OFTEN_S: f64 = 300.0;
/// A high flame, W/m².
const HIGH_FLUX: f64 = 20_000.0;
/// The index of the bottom from which on no habit counts.
const HALF_WAY: f64 = 0.5;

/// The cook's last stirs.
#[derive(Debug, Clone, Default)]
pub struct Habit {
    last_s: Option<f64>,
    gaps_s: VecDeque<f64>,
}

impl Habit {
    /// It was stirred until now.
    pub fn stirred(&mut self, now_s: f64) {
        if let Some(last_s) = self.last_s.replace(now_s) {
            self.gaps_s.push_back(now_s - last_s);
        }
        while self.gaps_s.len() > GAPS {
            self.gaps_s.pop_front();
        }
    }

    /// Whether the cook will stir by himself before long, at this flux and index of the bottom; where
    /// the flux is not known it may be high.
    #[must_use]
    pub fn comes(&self, now_s: f64, flux: Option<f64>, index: f64) -> bool {
        let Some(last_s) = self.last_s.filter(|_| self.gaps_s.len() >= LEAST) else { return false };
        let own_s = self.gaps_s.iter().copied().fold(0.0, f64::max);
        let calm = flux.is_some_and(|flux| flux < HIGH_FLUX) && index < HALF_WAY;
        calm && own_s <= OFTEN_S && now_s - last_s < own_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LOW: Option<f64> = Some(16_000.0);

    /// Stirs that end at these minutes.
    fn stirs(minutes: &[f64]) -> Habit {
        let mut habit = Habit::default();
        minutes.iter().for_each(|minute| habit.stirred(60.0 * minute));
        habit
    }

    #[test]
    fn who_stirs_every_four_minutes_is_not_reminded_before_his_own_time() {
        let habit = stirs(&[10.0, 14.0, 17.0]);
        assert!(habit.comes(60.0 * 20.9, LOW, 0.3));
        assert!(!habit.comes(60.0 * 21.1, LOW, 0.3), "he has forgotten it");
    }

    #[test]
    fn two_stirs_are_no_habit_and_neither_are_rare_ones() {
        assert!(!stirs(&[10.0, 14.0]).comes(60.0 * 15.0, LOW, 0.3));
        assert!(!stirs(&[10.0, 20.0, 30.0]).comes(60.0 * 31.0, LOW, 0.3));
    }

    #[test]
    fn on_a_high_flame_or_once_much_has_gathered_no_habit_is_waited_for() {
        let habit = stirs(&[10.0, 14.0, 17.0]);
        for (flux, index) in [(Some(24_000.0), 0.3), (None, 0.3), (LOW, 0.6)] {
            assert!(!habit.comes(60.0 * 18.0, flux, index), "{flux:?} {index}");
        }
    }
}
