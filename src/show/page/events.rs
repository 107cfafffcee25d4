//! What happened, what was said, and the alerts with their answers.

use maud::{Markup, html};

use crate::moment::Moment;
use crate::show::board::PotNow;
use crate::show::words;
use crate::watch::action::{Alarm, AlarmState, Notice, Snapshot};
use crate::watch::urgency;

use super::{glance, say, sentence, t};

/// Events shown at once; the rest is folded away.
const SHOWN: usize = 8;
/// Events folded away.
const FOLDED: usize = 192;
/// How long an alert is kept quiet by the button for it at most, min.
const QUIET_MIN: f64 = 10.0;

/// One line of what happened.
pub struct Line {
    pub at: Moment,
    pub words: String,
    /// Who said it.
    pub by: Option<String>,
}

/// What happened and what was said, the newest first.
pub fn gathered(pot: &PotNow) -> impl Iterator<Item = Line> {
    let story = &pot.story;
    let happened = story.happenings.iter().map(|happening| Line {
        at: happening.at,
        words: words::happened(&happening.what),
        by: None,
    });
    let said = story.words.iter().map(|word| Line {
        at: word.at,
        words: sentence::said(&word.says),
        by: Some(word.by.clone()),
    });
    let mut lines: Vec<Line> = happened.chain(said).collect();
    lines.sort_by_key(|line| line.at);
    lines.into_iter().rev()
}

/// The events of a pot.
pub fn draw(pot: &PotNow) -> Markup {
    let lines: Vec<Line> = gathered(pot).take(SHOWN + FOLDED).collect();
    let (shown, folded) = lines.split_at(SHOWN.min(lines.len()));
    html! {
        h2 { "What happened" }
        @if lines.is_empty() { p { "Nothing yet." } }
        (list(pot, shown))
        @if !folded.is_empty() {
            details data-keep="earlier" { summary { "Earlier" } (list(pot, folded)) }
        }
    }
}

fn list(pot: &PotNow, lines: &[Line]) -> Markup {
    html! {
        ol {
            @for line in lines {
                li {
                    span.at { (t(&sentence::when(line.at, pot.clock))) }
                    span {
                        (t(&line.words))
                        @if let Some(by) = &line.by { span.by { " (" (t(by)) ")" } }
                    }
                }
            }
        }
    }
}

/// The alerts of a pot beside the one at the first glance: those that stand, those that are kept
/// quiet, and what was over lately. Empty where there are none.
pub fn alerts(n: usize, pot: &PotNow) -> Markup {
    let mut standing = glance::standing(pot);
    standing.retain(|notice| Some(*notice) != glance::loudest(pot));
    let quiet: Vec<&Notice> = in_state(pot, AlarmState::Shelved).collect();
    let over: Vec<&Notice> = in_state(pot, AlarmState::Cleared).collect();
    if standing.is_empty() && quiet.is_empty() && over.is_empty() {
        return html! {};
    }
    html! {
        h2 { (if glance::loudest(pot).is_some() { "Other alerts" } else { "Alerts" }) }
        @for notice in &standing { (alert(n, pot, notice, "alert")) }
        @if !(quiet.is_empty() && over.is_empty()) { ol {
            @for notice in &quiet {
                li {
                    span.at { (t(&sentence::when(notice.at, pot.clock))) }
                    span { "Kept quiet: " (sentence::plain(notice.alarm)) }
                }
            }
            @for notice in over.iter().rev() {
                li {
                    span.at { (t(&sentence::when(notice.at, pot.clock))) }
                    span { "Over: " (sentence::plain(notice.alarm)) }
                }
            }
        } }
    }
}

/// One alert that stands, and the answers to it.
pub fn alert(n: usize, pot: &PotNow, notice: &Notice, class: &str) -> Markup {
    let unknown = Snapshot::default();
    let now = pot.story.now.as_ref().unwrap_or(&unknown);
    let seen = notice.state == AlarmState::Acknowledged;
    html! {
        div class=(if seen { format!("{class} seen") } else { class.to_owned() }) {
            div {
                p.what { (t(&words::action(notice.alarm, now))) }
                p.why { (t(&sentence::cause(notice, now, pot.clock))) }
            }
            (answer(n, notice))
        }
    }
}

fn in_state(pot: &PotNow, state: AlarmState) -> impl Iterator<Item = &Notice> {
    pot.story.notices.iter().filter(move |notice| notice.state == state)
}

/// The answers to an alert.
fn answer(n: usize, notice: &Notice) -> Markup {
    let Notice { alarm, state, .. } = notice;
    let seen = *state == AlarmState::Acknowledged;
    html! {
        div.answers {
            @if seen { p.seen-by { "Seen." } } @else { (button(n, *alarm, &acknowledge(*alarm), "Seen")) }
            (button(n, *alarm, &shelve(*alarm), &format!("Quiet for {} min", quiet_min(*alarm))))
        }
    }
}

/// By ear it also says which alert it answers.
fn button(n: usize, alarm: Alarm, says: &str, words: &str) -> Markup {
    let told = format!("{words}: {}", sentence::plain(alarm));
    html! {
        button form=(say::form_id(n)) name="says" value=(says) aria-label=(told) { (words) }
    }
}

fn acknowledge(alarm: Alarm) -> String {
    format!("acknowledge {}", alarm.name())
}

fn shelve(alarm: Alarm) -> String {
    format!("shelve {} {} min", alarm.name(), quiet_min(alarm))
}

/// What is dangerous is kept quiet for less.
fn quiet_min(alarm: Alarm) -> f64 {
    QUIET_MIN.min(urgency::of(alarm).priority.longest_shelf_s() / 60.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::larder::Larder;
    use crate::watch::words::understand;

    #[test]
    fn every_answer_is_a_saying_that_is_understood() {
        let larder = Larder::bundled();
        for alarm in Alarm::ALL {
            assert!(understand(&acknowledge(alarm), &larder).is_ok());
            assert!(understand(&shelve(alarm), &larder).is_ok());
        }
    }
}
