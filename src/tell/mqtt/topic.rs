//! Topic names. Pure.
//!
//! ```text
//! dekchi/<board>/status                 the board, with the last will
//! dekchi/<board>/trial                  a trial alert, when somebody asks for one
//! dekchi/<board>/<pot>/reading          the pot now
//! dekchi/<board>/<pot>/event            what was recognised
//! dekchi/<board>/<pot>/alert/<alert>    an alert while it stands
//! dekchi/<board>/<pot>/curve.svg        the curve, also .png
//! dekchi/<board>/<pot>/batch            the plan and the ledger
//! dekchi/<board>/<pot>/backlog          readings kept while the broker was away
//! dekchi/<board>/<pot>/set              the cook's words, where commands are allowed
//! ```

/// The names under one board.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Topics {
    root: String,
}

impl Topics {
    #[must_use]
    pub fn of(board: &str) -> Self {
        Self { root: format!("dekchi/{}", level(board)) }
    }

    #[must_use]
    pub fn status(&self) -> String {
        format!("{}/status", self.root)
    }

    #[must_use]
    pub fn trial(&self) -> String {
        format!("{}/trial", self.root)
    }

    /// `leaf` is one of the names in the table above.
    #[must_use]
    pub fn pot(&self, pot: &str, leaf: &str) -> String {
        format!("{}/{}/{leaf}", self.root, level(pot))
    }

    #[must_use]
    pub fn alert(&self, pot: &str, alert: &str) -> String {
        self.pot(pot, &format!("alert/{alert}"))
    }

    /// The filter that hears what is said to every pot of this board.
    #[must_use]
    pub fn set_filter(&self) -> String {
        format!("{}/+/set", self.root)
    }

    /// The pot that `topic` speaks to, as its topic level.
    #[must_use]
    pub fn pot_of_set<'a>(&self, topic: &'a str) -> Option<&'a str> {
        let pot = topic.strip_prefix(&self.root)?.strip_prefix('/')?.strip_suffix("/set")?;
        (!pot.is_empty() && !pot.contains('/')).then_some(pot)
    }
}

/// A name as one topic level: what MQTT forbids there (`/`, `+`, `#`, control characters) becomes a
/// dash, and an empty name one dash.
#[must_use]
pub fn level(name: &str) -> String {
    let fair = |c: char| if matches!(c, '/' | '+' | '#') || c.is_control() { '-' } else { c };
    let level: String = name.chars().map(fair).collect();
    if level.is_empty() { "-".to_owned() } else { level }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pot_has_its_topics_under_its_board() {
        let topics = Topics::of("harbour-lane");
        assert_eq!(topics.status(), "dekchi/harbour-lane/status");
        assert_eq!(topics.pot("big", "reading"), "dekchi/harbour-lane/big/reading");
        assert_eq!(topics.alert("big", "stir-due"), "dekchi/harbour-lane/big/alert/stir-due");
    }

    #[test]
    fn a_name_cannot_break_out_of_its_level() {
        assert_eq!(Topics::of("a/#").pot("+/b\0", "event"), "dekchi/a--/--b-/event");
        assert_eq!(level(""), "-");
    }

    #[test]
    fn only_a_pots_own_set_topic_is_heard() {
        let topics = Topics::of("b");
        assert_eq!(topics.pot_of_set("dekchi/b/big/set"), Some("big"));
        for other in ["dekchi/b/set", "dekchi/b//set", "dekchi/b/x/y/set", "dekchi/bb/x/set", "set"]
        {
            assert_eq!(topics.pot_of_set(other), None, "{other}");
        }
    }
}
