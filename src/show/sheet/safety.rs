//! Temperatures against the rule: how hot it was, how it was held, how it cooled.
//!
//! Food is taken as held from the moment at which its target was reached (or, without one, from the
//! last boil, or, where it never boiled, from the first ladleful) to the last moment at which it stood at or above the rule's limit; what comes after is
//! its cooling, once the probe has fallen five kelvins below the limit. The probe tells one place in
//! the pot: the record says so.

use maud::{Markup, html};

use crate::batch::rules::{Cool, Hold, Rules, Stretch};
use crate::moment::Moment;
use crate::show::clock::length;
use crate::show::story::Story;
use crate::watch::action::What;
use crate::watch::cooling::{self, Cooling};
use crate::watch::hold::{Holding, Standing};

use super::Sheet;

/// How far below the limit the food must be to be called cooling, K.
const COOLING_K: f64 = 5.0;

/// Surroundings that only a forecast would need; the record tells what was.
const ROOM_C: f64 = 20.0;

/// The temperatures of a batch against the rules of a place.
#[derive(Debug, Clone, PartialEq)]
pub struct Safety {
    pub rules: Rules,
    /// The hottest reading and when.
    pub hottest: Option<(Moment, f64)>,
    pub held: Option<Held>,
    pub cooled: Option<Cooled>,
}

/// The time between ready and the last moment hot enough.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    pub rule: Hold,
    pub from: Moment,
    pub to: Moment,
    pub lowest_c: f64,
    /// How often it fell below the limit, and for how long at most, s.
    pub falls: u32,
    pub longest_below_s: f64,
    pub kept: bool,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Cooled {
    pub rule: Cool,
    pub stretches: Vec<(Stretch, cooling::Standing)>,
}

impl Safety {
    /// From the probe's readings in order, `None` where there was none.
    #[must_use]
    pub fn of(rules: Rules, story: &Story, readings: &[(Moment, Option<f64>)]) -> Self {
        let known = || readings.iter().filter_map(|(at, c)| c.map(|c| (*at, c)));
        let hottest = known().max_by(|a, b| a.1.total_cmp(&b.1));
        let last_hot = known().rfind(|(_, c)| *c >= rules.hold.limit_c).map(|(at, _)| at);
        let ready = ready(story);
        let held = ready.zip(last_hot).filter(|(from, to)| from < to);
        let held = held.and_then(|(from, to)| hold(rules.hold, (from, to), readings));
        let after = last_hot.map(|hot| readings.partition_point(|(at, _)| *at <= hot));
        let cooled = after.and_then(|after| cool(rules, &readings[after.saturating_sub(1)..]));
        Self { rules, hottest, held, cooled }
    }
}

fn ready(story: &Story) -> Option<Moment> {
    let last_boil = story.boiling.seconds().last().map(|(_, to)| to);
    let first_taken = || {
        let taken = |what: &What| matches!(what, What::Taken { .. });
        story.happenings.iter().find(|h| taken(&h.what)).map(|h| h.at)
    };
    story.reached.or_else(|| last_boil.and_then(Moment::from_seconds)).or_else(first_taken)
}

fn hold(
    rule: Hold,
    (from, to): (Moment, Moment),
    readings: &[(Moment, Option<f64>)],
) -> Option<Held> {
    let during = || readings.iter().filter(|(at, _)| (from..=to).contains(at));
    let lowest_c = during().filter_map(|(_, c)| *c).min_by(f64::total_cmp)?;
    let mut holding = Holding::new(rule);
    let mut kept = true;
    for (at, c) in during() {
        kept &= holding.step(*at, *c) != Standing::TooCool;
    }
    let (falls, longest_below_s) = (holding.falls(), holding.longest_below_s());
    Some(Held { rule, from, to, lowest_c, falls, longest_below_s, kept })
}

fn cool(rules: Rules, readings: &[(Moment, Option<f64>)]) -> Option<Cooled> {
    let end = readings.last()?.0;
    let lowest = readings.iter().filter_map(|(_, c)| *c).min_by(f64::total_cmp)?;
    let mut cooling = Cooling::new(rules.cool, ROOM_C);
    readings.iter().for_each(|(at, c)| cooling.step(*at, *c));
    (lowest <= rules.hold.limit_c - COOLING_K)
        .then(|| Cooled { rule: rules.cool, stretches: cooling.standings(end) })
}

pub fn section(sheet: &Sheet<'_>) -> Markup {
    let safety = sheet.safety;
    html! {
        section.whole {
            h2 { "Temperatures against the rule" }
            table.events {
                @if let Some((at, c)) = safety.hottest {
                    tr {
                        td.time { (sheet.time(at)) }
                        td { "hottest" }
                        td.number { (format!("{c:.1} °C")) }
                        td.note {}
                    }
                }
                @if let Some(held) = &safety.held { (held_row(sheet, held)) }
                @if let Some(cooled) = &safety.cooled {
                    @for (stretch, standing) in &cooled.stretches {
                        tr {
                            td.time {}
                            td { "cooling, " (stretch) }
                            td.number { (standing_words(standing)) }
                            td.note { (cooled.rule.standing.words()) ": " (cooled.rule.source) }
                        }
                    }
                }
            }
            @if safety.held.is_none() { p { "Not held hot while it was watched." } }
            @if safety.cooled.is_none() { p { "Its cooling was not watched." } }
        }
    }
}

fn held_row(sheet: &Sheet<'_>, held: &Held) -> Markup {
    let below = match held.falls {
        0 => String::new(),
        _ => format!(", below the limit for {}", length(held.longest_below_s)),
    };
    html! {
        tr {
            td.time { (sheet.time(held.from)) " to " (sheet.time(held.to)) }
            td { "held hot, lowest " (format!("{:.1} °C", held.lowest_c)) (below) }
            td.number { @if held.kept { "kept" } @else { span.broken { "not kept" } } }
            td.note { (held.rule) " (" (held.rule.standing.words()) ": " (held.rule.source) ")" }
        }
    }
}

fn standing_words(standing: &cooling::Standing) -> Markup {
    use cooling::Standing as S;
    match standing {
        S::Met { took_s } => html! { "kept, in " (length(*took_s)) },
        S::Missed => html! { span.broken { "not kept" } },
        S::NotBegun => html! { "not begun" },
        S::TooEarly { left_s } | S::InTime { left_s, .. } | S::TooSlow { left_s, .. } => {
            html! { (length(*left_s)) " were left when the record ends" }
        }
    }
}
