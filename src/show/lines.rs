//! The judgement's actions as JSON Lines, one object a line.
//!
//! Units are in the names. What is not known is `null`. Numbers are rounded to what a reader can
//! use (0.1 g, 0.01 °C, 1 W, 1 s), so that the same recording gives the same bytes.

use serde::Serialize;

use crate::moment::Moment;
use crate::watch::action::{Action, Happening, Lid, Notice, Snapshot, Spread, What};

use super::words::Words;

/// The action as one line, without its end, and the moment that it stands at.
#[must_use]
pub fn line(pot: &str, action: &Action) -> (Moment, String) {
    match action {
        Action::Show(snapshot) => (snapshot.at, json(&reading(pot, snapshot))),
        Action::Happened(happening) => (happening.at, json(&event(pot, happening))),
        Action::Tell(notice) => (notice.at, json(&alert(pot, notice))),
    }
}

/// The pot now as one line, with what a cook could say of it.
#[must_use]
pub fn worded(pot: &str, now: &Snapshot, words: &Words) -> String {
    let (says, doubt) = (words.first.as_str(), words.doubt.as_deref());
    json(&WordedLine { reading: reading(pot, now), says, doubt })
}

#[derive(Serialize)]
struct WordedLine<'a> {
    #[serde(flatten)]
    reading: ReadingLine<'a>,
    says: &'a str,
    doubt: Option<&'a str>,
}

#[derive(Serialize)]
struct ReadingLine<'a> {
    kind: &'static str,
    t_s: f64,
    pot: &'a str,
    pot_c: Option<f64>,
    contents_kg: Option<f64>,
    contents_sd_kg: Option<f64>,
    water_kg: Option<f64>,
    total_solids: Option<f64>,
    evaporation_kg_h: Option<f64>,
    evaporation_sd_kg_h: Option<f64>,
    heat_w: Option<i64>,
    boiling: Option<bool>,
    lid: Option<&'static str>,
    target_in_s: Option<SpreadLine>,
    catch_index: Option<f64>,
    stir_within_s: Option<i64>,
}

#[derive(Serialize)]
struct SpreadLine {
    p10: i64,
    p50: i64,
    p90: i64,
}

#[derive(Serialize)]
struct EventLine<'a> {
    kind: &'static str,
    t_s: f64,
    seen_s: f64,
    pot: &'a str,
    what: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    kg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    sd_kg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    name: Option<&'a str>,
    /// What was poured out before is in the pot again.
    #[serde(skip_serializing_if = "Option::is_none")]
    back: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    for_s: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    ago_s: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    sensor: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    why: Option<&'static str>,
}

#[derive(Serialize)]
struct AlertLine<'a> {
    kind: &'static str,
    t_s: f64,
    pot: &'a str,
    alert: &'static str,
    state: &'static str,
    priority: &'static str,
    act_within_s: f64,
    why: &'a str,
}

fn reading<'a>(pot: &'a str, s: &Snapshot) -> ReadingLine<'a> {
    ReadingLine {
        kind: "reading",
        t_s: s.at.seconds(),
        pot,
        pot_c: rounded(s.pot_c, 2),
        contents_kg: rounded(s.contents_kg, 4),
        contents_sd_kg: rounded(s.contents_sd_kg, 4),
        water_kg: rounded(s.water_kg, 4),
        total_solids: rounded(s.total_solids, 5),
        evaporation_kg_h: rounded(s.evaporation_kg_h, 3),
        evaporation_sd_kg_h: rounded(s.evaporation_sd_kg_h, 3),
        heat_w: s.heat_w.and_then(whole),
        boiling: s.boiling,
        lid: s.lid.map(lid),
        target_in_s: s.target_in_s.and_then(spread),
        catch_index: rounded(s.catch_index, 3),
        stir_within_s: s.stir_within_s.and_then(whole),
    }
}

fn event<'a>(pot: &'a str, happening: &'a Happening) -> EventLine<'a> {
    let mut line = EventLine {
        kind: "event",
        t_s: happening.at.seconds(),
        seen_s: happening.seen.seconds(),
        pot,
        what: happening.what.name(),
        kg: None,
        sd_kg: None,
        name: None,
        back: None,
        for_s: None,
        ago_s: None,
        sensor: None,
        why: None,
    };
    match &happening.what {
        What::Added { kg, sd_kg, name } => {
            line.kg = rounded(Some(*kg), 4);
            line.sd_kg = rounded(Some(*sd_kg), 4);
            line.name = name.as_deref();
        }
        What::PouredBack { kg, sd_kg } => {
            line.kg = rounded(Some(*kg), 4);
            line.sd_kg = rounded(Some(*sd_kg), 4);
            line.back = Some(true);
        }
        What::Corrected { kg, name, ago_s } => {
            line.kg = rounded(Some(*kg), 4);
            line.name = name.as_deref();
            line.ago_s = rounded(Some(*ago_s), 3);
        }
        What::Taken { kg, sd_kg } => {
            line.kg = rounded(Some(*kg), 4);
            line.sd_kg = rounded(Some(*sd_kg), 4);
        }
        What::Stirred { for_s } | What::Blended { for_s } => line.for_s = rounded(Some(*for_s), 1),
        What::SensorFault { sensor, why } => {
            line.sensor = Some(sensor.name());
            line.why = Some(why);
        }
        What::SensorBack { sensor } => line.sensor = Some(sensor.name()),
        _ => {}
    }
    line
}

fn alert<'a>(pot: &'a str, notice: &'a Notice) -> AlertLine<'a> {
    AlertLine {
        kind: "alert",
        t_s: notice.at.seconds(),
        pot,
        alert: notice.alarm.name(),
        state: notice.state.name(),
        priority: notice.priority().name(),
        act_within_s: notice.act_within_s(),
        why: &notice.why,
    }
}

fn spread(spread: Spread) -> Option<SpreadLine> {
    Some(SpreadLine { p10: whole(spread.p10)?, p50: whole(spread.p50)?, p90: whole(spread.p90)? })
}

const fn lid(lid: Lid) -> &'static str {
    match lid {
        Lid::On => "on",
        Lid::Off => "off",
    }
}

/// Rounded to so many decimals; never −0 and never a number that JSON cannot write.
fn rounded(value: Option<f64>, decimals: i32) -> Option<f64> {
    let scale = 10_f64.powi(decimals);
    value.map(|value| (value * scale).round() / scale + 0.0).filter(|value| value.is_finite())
}

fn whole(value: f64) -> Option<i64> {
    value.is_finite().then(|| value.round() as i64)
}

/// Strings and finite numbers always make JSON; the empty object stands for what cannot be.
fn json(line: &impl Serialize) -> String {
    serde_json::to_string(line).unwrap_or_else(|_| "{}".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reading_says_what_it_knows_and_null_for_the_rest() {
        let snapshot = Snapshot {
            at: Moment::from_ms(120_000),
            contents_kg: Some(23.410_04),
            heat_w: Some(2300.4),
            lid: Some(Lid::Off),
            target_in_s: Some(Spread { p10: 3000.2, p50: 3180.0, p90: 3420.0 }),
            evaporation_kg_h: Some(-1e-9),
            ..Snapshot::default()
        };
        let (at, line) = line("big", &Action::Show(Box::new(snapshot)));
        assert_eq!(at.seconds(), 120.0);
        assert_eq!(
            line,
            "{\"kind\":\"reading\",\"t_s\":120.0,\"pot\":\"big\",\"pot_c\":null,\
             \"contents_kg\":23.41,\"contents_sd_kg\":null,\"water_kg\":null,\
             \"total_solids\":null,\"evaporation_kg_h\":0.0,\"evaporation_sd_kg_h\":null,\
             \"heat_w\":2300,\"boiling\":null,\"lid\":\"off\",\
             \"target_in_s\":{\"p10\":3000,\"p50\":3180,\"p90\":3420},\
             \"catch_index\":null,\"stir_within_s\":null}"
        );
    }

    #[test]
    fn an_addition_says_how_much_of_what() {
        let what = What::Added { kg: 0.96, sd_kg: 0.01, name: Some("spice infusion".into()) };
        let happening =
            Happening { at: Moment::from_ms(2_702_000), seen: Moment::from_ms(2_716_000), what };
        let (_, line) = line("big", &Action::Happened(happening));
        assert_eq!(
            line,
            "{\"kind\":\"event\",\"t_s\":2702.0,\"seen_s\":2716.0,\"pot\":\"big\",\
             \"what\":\"added\",\"kg\":0.96,\"sd_kg\":0.01,\"name\":\"spice infusion\"}"
        );
    }
}
