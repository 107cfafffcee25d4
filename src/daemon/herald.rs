//! Tells people of alerts: routes them, hands them to the courier and keeps how it went.
//!
//! The routing itself is pure ([`crate::tell::route`]); here it is given the time, the pots' names and
//! what the store remembers of an earlier start.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};

use crate::keep::Delivery;
use crate::keep::keeper::{BatchKey, Keeper};
use crate::moment::{Moment, Wall};
use crate::show::lines;
use crate::show::words::capital;
use crate::tell::channel::{Address, Word};
use crate::tell::route::{Because, Errand, Now, Router, Standing, Way};
use crate::watch::action::{Action, Alarm, AlarmState, Notice};
use crate::watch::urgency::{self, Priority};

use super::clock::Clock;
use super::courier::{Courier, Parcel, Report};
use super::pot::PotLife;

/// What the store remembers of a batch that goes on.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Remembered {
    pub notices: Vec<Notice>,
    pub deliveries: Vec<Delivery>,
}

/// What is asked for by the kitchen file.
#[derive(Debug)]
pub struct Office {
    pub router: Router,
    pub courier: Courier,
    /// How often the webhook hears that the board is alive, s.
    pub heartbeat_s: Option<f64>,
    /// Whether lamp or page can be seen in the kitchen.
    pub stove: bool,
    pub board: String,
}

/// The one who tells.
#[derive(Debug)]
pub struct Herald {
    office: Office,
    beat_due: Option<Moment>,
    beats: u64,
}

impl Herald {
    #[must_use]
    pub const fn new(office: Office) -> Self {
        Self { office, beat_due: None, beats: 0 }
    }

    fn now(&self, clock: &Clock) -> Now {
        let at = clock.now();
        let wall = clock.wall(at);
        let local_ms = wall.utc_ms + 1000 * i64::from(clock.offset_s(wall));
        let minute = local_ms.div_euclid(60_000).rem_euclid(1440) as u16;
        Now { at, minute: wall.set.then_some(minute), stove: self.office.stove }
    }

    /// Takes up what an earlier start left of this pot, whose judgement is as it was then.
    pub fn resume(&mut self, pot: usize, life: &PotLife, before: &Remembered, clock: &Clock) {
        let now = self.now(clock);
        for standing in standings(pot, before, life.key().time(now.at), now.at) {
            self.office.router.remember(standing, &now);
        }
        for notice in life.story.raised() {
            if !self.office.router.confirm(pot, notice.alarm) {
                self.notice(pot, life, notice, clock);
            }
        }
    }

    /// A pot's alert changed its state.
    pub fn notice(&mut self, pot: usize, life: &PotLife, notice: &Notice, clock: &Clock) {
        let now = self.now(clock);
        let errands = self.office.router.notice(pot, notice, &now);
        errands.into_iter().for_each(|errand| self.send(errand, life, clock));
    }

    /// A pot's batch is over: nothing more is told of it.
    pub fn over(&mut self, pot: usize) {
        self.office.router.forget(pot);
    }

    /// What comes round every second. Returns what is amiss with the ways, in words.
    pub fn look<'p>(
        &mut self,
        life: impl Fn(usize) -> Option<&'p PotLife>,
        keeper: &Keeper,
        clock: &Clock,
    ) -> Vec<String> {
        let now = self.now(clock);
        let reports: Vec<Report> = self.office.courier.reports().collect();
        for report in reports {
            let Some(life) = life(report.errand.pot) else { continue };
            keeper.delivery(life.key(), self.delivery(&report, life.key(), now.at));
            let failed = report.outcome.as_ref().err().map(String::as_str);
            if let Some(next) = self.office.router.outcome(report.errand.clone(), failed, &now) {
                self.send(next, life, clock);
            }
        }
        for errand in self.office.router.look(&now) {
            if let Some(life) = life(errand.pot) {
                self.send(errand, life, clock);
            }
        }
        self.beat(now.at, clock);
        self.down()
    }

    fn delivery(&self, report: &Report, key: BatchKey, mono: Moment) -> Delivery {
        let Report { errand, attempts, outcome } = report;
        let (way, because) = (errand.way.name(), words_of(&errand.because));
        let name = self.person(errand.person).map_or_else(String::new, |to| to.name);
        let alert = errand.notice.alarm.name();
        match outcome {
            Ok(answer) => tracing::info!(way, alert, to = name, "told: {answer}"),
            Err(why) => tracing::warn!(way, alert, to = name, "not told: {why}"),
        }
        Delivery {
            at: key.time(mono),
            alarm: errand.notice.alarm,
            raised: errand.raised,
            person: name,
            way: way.to_owned(),
            because: because.to_owned(),
            attempts: *attempts,
            arrived: outcome.is_ok(),
            answer: outcome.clone().unwrap_or_else(|why| why),
        }
    }

    fn person(&self, place: usize) -> Option<Address> {
        let person = self.office.router.people().get(place)?;
        Some(Address { name: person.name.clone(), mail: person.mail.clone() })
    }

    fn send(&self, errand: Errand, life: &PotLife, clock: &Clock) {
        let Some(to) = self.person(errand.person) else { return };
        let word = word(&errand, life, &self.office.board, clock);
        self.office.courier.carry(errand.way, Parcel { errand: Some(errand), to, word });
    }

    /// A sign of life: sent from the judgement's own loop, so that a loop that hangs sends none.
    fn beat(&mut self, at: Moment, clock: &Clock) {
        let Some(every_s) = self.office.heartbeat_s else { return };
        if self.beat_due.is_some_and(|due| at < due) {
            return;
        }
        self.beat_due = Some(at.plus_ms((every_s * 1000.0) as i64));
        let word = heartbeat(&self.office.board, every_s, self.beats, clock.wall(at));
        self.beats += 1;
        self.office
            .courier
            .carry(Way::Webhook, Parcel { errand: None, to: Address::default(), word });
    }

    /// The ways that do not work, in words.
    fn down(&self) -> Vec<String> {
        let words =
            |(way, why): (Way, &str)| format!("alerts cannot be told by {}: {why}", way.name());
        self.office.router.down().map(words).collect()
    }
}

/// The alerts that stood when an earlier start fell silent, and who had been told. `batch_now` is
/// where the batch's clock stands now, `now` where the daemon's does.
#[must_use]
pub fn standings(pot: usize, before: &Remembered, batch_now: Moment, now: Moment) -> Vec<Standing> {
    let mut open: BTreeMap<Alarm, (Moment, Notice)> = BTreeMap::new();
    for notice in &before.notices {
        if notice.state == AlarmState::Cleared {
            open.remove(&notice.alarm);
        } else {
            let raised = open.get(&notice.alarm).map_or(notice.at, |(raised, _)| *raised);
            open.insert(notice.alarm, (raised, notice.clone()));
        }
    }
    let told = |alarm: Alarm, raised: Moment| -> Vec<(String, Way)> {
        let mine = |d: &&Delivery| d.alarm == alarm && d.raised == raised && d.arrived;
        let by = |d: &Delivery| Some((d.person.clone(), Way::by_name(&d.way)?));
        before.deliveries.iter().filter(mine).filter_map(by).collect()
    };
    let standing = |(alarm, (raised, notice)): (Alarm, (Moment, Notice))| Standing {
        pot,
        told: told(alarm, raised),
        since: now.plus_ms(raised.ms() - batch_now.ms()),
        raised,
        notice,
    };
    open.into_iter().map(standing).collect()
}

const fn words_of(because: &Because) -> &'static str {
    match because {
        Because::AtOnce => "it is told at once",
        Because::NoStove => "there is no lamp or page at the stove",
        Because::Unanswered => "nobody answered it at the stove",
        Because::QuietIsOver => "the quiet hours are over and it still stands",
        Because::Over => "it is over",
    }
}

fn word(errand: &Errand, life: &PotLife, board: &str, clock: &Clock) -> Word {
    let notice = &errand.notice;
    let urgency = urgency::of(notice.alarm);
    let about = format!("{board} {} {}", life.name, notice.alarm.name());
    let over = errand.because == Because::Over;
    let title = if over {
        format!("{}: over, {}", capital(&life.name), urgency.cause)
    } else {
        format!("{}: {}", capital(&life.name), urgency.action)
    };
    let wall = life.wall(notice.at);
    let key = format!("{about} {} {}", errand.raised.ms(), notice.state.name());
    Word {
        text: text(errand, life, clock),
        json: machine(errand, life, board, &key, wall),
        priority: urgency.priority,
        act_within_s: urgency.act_within_s,
        about,
        title,
        key,
    }
}

fn text(errand: &Errand, life: &PotLife, clock: &Clock) -> String {
    let notice = &errand.notice;
    let urgency = urgency::of(notice.alarm);
    let when = life
        .wall_clock(clock)
        .map_or_else(String::new, |clock| format!(" (since {})", clock.hh_mm(errand.raised)));
    let mut lines = vec![format!("Pot \"{}\", batch \"{}\"{when}.", life.name, life.story.batch)];
    if errand.because == Because::Over {
        lines.push(format!("Over: {}.", urgency.cause));
    } else {
        lines.push(format!("{}.", capital(&notice.why)));
        lines.push(format!("What to do: {}.", urgency.action));
        lines.push(format!("It helps within {:.0} min.", urgency.act_within_s / 60.0));
        lines.push(format!("You are told because {}.", words_of(&errand.because)));
    }
    for way in &errand.failed {
        lines.push(format!("It could not be told by {}.", way.name()));
    }
    lines.join("\n") + "\n"
}

fn machine(
    errand: &Errand,
    life: &PotLife,
    board: &str,
    key: &str,
    wall: Wall,
) -> Map<String, Value> {
    let (_, line) = lines::line(&life.name, &Action::Tell(errand.notice.clone()));
    let mut json: Map<String, Value> = serde_json::from_str(&line).unwrap_or_default();
    let failed: Vec<&str> = errand.failed.iter().map(|way| way.name()).collect();
    for (name, value) in [
        ("key", json!(key)),
        ("board", json!(board)),
        ("batch", json!(life.story.batch)),
        ("utc_ms", json!(wall.utc_ms)),
        ("clock_set", json!(wall.set)),
        ("raised_s", json!(errand.raised.seconds())),
        ("because", json!(words_of(&errand.because))),
        ("failed", json!(failed)),
    ] {
        json.insert(name.to_owned(), value);
    }
    json
}

/// A sign of life for the webhook: where none comes for longer than it says, the board is dead.
#[must_use]
pub fn heartbeat(board: &str, every_s: f64, beat: u64, wall: Wall) -> Word {
    let json = json!({
        "kind": "heartbeat", "board": board, "beat": beat, "next_within_s": every_s,
        "utc_ms": wall.utc_ms, "clock_set": wall.set,
    });
    Word {
        key: format!("{board} heartbeat {beat}"),
        priority: Priority::Low,
        act_within_s: every_s,
        about: format!("{board} heartbeat"),
        title: "The board is alive".to_owned(),
        text: format!("The next sign of life comes within {every_s:.0} s.\n"),
        json: json.as_object().cloned().unwrap_or_default(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn notice(at_s: i64, alarm: Alarm, state: AlarmState) -> Notice {
        Notice { at: Moment::from_ms(1000 * at_s), alarm, state, why: String::new() }
    }

    fn delivery(raised_s: i64, arrived: bool) -> Delivery {
        Delivery {
            at: Moment::from_ms(0),
            alarm: Alarm::StirDue,
            raised: Moment::from_ms(1000 * raised_s),
            person: "pass".into(),
            way: "mail".into(),
            because: String::new(),
            attempts: 1,
            arrived,
            answer: String::new(),
        }
    }

    #[test]
    fn what_stood_and_who_was_told_is_read_from_the_store() {
        use AlarmState::{Acknowledged, Cleared, Raised};
        let before = Remembered {
            notices: vec![
                notice(10, Alarm::StirDue, Raised),
                notice(20, Alarm::StirDue, Cleared),
                notice(30, Alarm::StirDue, Raised),
                notice(35, Alarm::StirDue, Acknowledged),
                notice(40, Alarm::Catching, Raised),
                notice(50, Alarm::Catching, Cleared),
            ],
            deliveries: vec![delivery(10, true), delivery(30, true), delivery(30, false)],
        };
        let (batch_now, now) = (Moment::from_ms(60_000), Moment::from_ms(900_000));
        let standings = standings(0, &before, batch_now, now);
        assert_eq!(standings.len(), 1);
        assert_eq!(standings[0].raised, Moment::from_ms(30_000));
        assert_eq!(standings[0].since, Moment::from_ms(870_000));
        assert_eq!(standings[0].notice.state, Acknowledged);
        assert_eq!(standings[0].told, [("pass".to_owned(), Way::Mail)]);
    }
}
