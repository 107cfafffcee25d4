//! Times at which something was so.

use std::collections::VecDeque;

use crate::moment::Moment;

/// Spans kept.
pub const SPANS: usize = 200;

/// When something that is so or is not so was so.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Spans {
    spans: VecDeque<(Moment, Moment)>,
    open: bool,
}

impl Spans {
    /// Not known is taken as not so.
    pub fn take(&mut self, at: Moment, so: Option<bool>) {
        if let (true, Some(last)) = (self.open, self.spans.back_mut()) {
            last.1 = at;
        }
        let so = so == Some(true);
        if so && !self.open {
            if self.spans.len() == SPANS {
                self.spans.pop_front();
            }
            self.spans.push_back((at, at));
        }
        self.open = so;
    }

    /// From and to, s, in order.
    pub fn seconds(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.spans.iter().map(|(from, to)| (from.seconds(), to.seconds()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lid_that_is_not_known_is_not_drawn_as_on() {
        let mut spans = Spans::default();
        for (t, on) in [(0, Some(true)), (10, Some(true)), (20, None), (30, Some(true)), (40, None)]
        {
            spans.take(Moment::from_ms(t * 1000), on);
        }
        assert_eq!(spans.seconds().collect::<Vec<_>>(), [(0.0, 20.0), (30.0, 40.0)]);
    }
}
