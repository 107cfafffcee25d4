//! The first glance: is the pot all right, when is it ready and how sure, when must someone stir, and
//! what was the last thing that happened.

use maud::{Markup, html};

use crate::show::board::PotNow;
use crate::show::idle::Idle;
use crate::show::words;
use crate::watch::action::{Alarm, AlarmState, Notice};

use super::{events, sentence, t};

/// The first line of a pot in which no batch has begun.
pub const NO_BATCH: &str = "No batch";

/// What is seen at first; `heading` is the level of its heading, 1 or 2.
pub fn draw(n: usize, pot: &PotNow, heading: u8) -> Markup {
    if let Some(idle) = &pot.idle {
        return without_batch(pot, idle, heading);
    }
    let said = words::of(&pot.story, pot.clock);
    let name = format!("{}, {}", sentence::pot(&pot.name), pot.story.batch);
    html! {
        p.who { (t(&name)) }
        @let first = sentence::unbroken(&said.first);
        @if heading == 1 { h1 { (t(&first)) } } @else { h2 { (t(&first)) } }
        p.doubt { (t(&sentence::unbroken(said.doubt.as_deref().unwrap_or_default()))) }
        (hand(n, pot))
        (last(pot))
    }
}

fn without_batch(pot: &PotNow, idle: &Idle, heading: u8) -> Markup {
    html! {
        p.who { (t(&sentence::pot(&pot.name))) }
        @if heading == 1 { h1 { (NO_BATCH) } } @else { h2 { (NO_BATCH) } }
        p.senses { (t(&idle.senses(&pot.story.pot, pot.silent_s))) }
        p.calm { (t(&idle.what_to_do(&pot.name))) }
    }
}

/// The alerts that stand, the most pressing first.
pub fn standing(pot: &PotNow) -> Vec<&Notice> {
    let raised: Vec<&Notice> = pot.story.raised().collect();
    let with = |alarm| raised.iter().copied().find(|notice: &&Notice| notice.alarm == alarm);
    words::PRESSING.into_iter().filter_map(with).collect()
}

/// The alert that is told first: the most pressing that nobody has seen, else the most pressing.
pub fn loudest(pot: &PotNow) -> Option<&Notice> {
    let standing = standing(pot);
    let unseen = standing.iter().find(|notice| notice.state != AlarmState::Acknowledged);
    unseen.or(standing.first()).copied()
}

/// The one thing that needs a hand; where there is none, that all is well and when to stir.
fn hand(n: usize, pot: &PotNow) -> Markup {
    html! {
        @match loudest(pot) {
            Some(notice) => {
                (events::alert(n, pot, notice, "hand"))
                @if ![Alarm::StirDue, Alarm::Catching].contains(&notice.alarm) {
                    p.stir { (t(&sentence::unbroken(&sentence::stir(pot)))) }
                }
            }
            None => {
                p.calm {
                    b { (sentence::well(pot)) }
                    @if !pot.over { " " (t(&sentence::unbroken(&sentence::stir(pot)))) }
                }
            }
        }
    }
}

fn last(pot: &PotNow) -> Markup {
    html! {
        @match events::gathered(pot).next() {
            Some(event) => {
                p.last { "Last, " (t(&sentence::when(event.at, pot.clock))) ": " (t(&event.words)) }
            }
            None => { p.last { "Nothing has happened yet." } }
        }
    }
}
