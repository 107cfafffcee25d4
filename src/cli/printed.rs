//! What `dekchi replay` printed, read back into actions.
//!
//! Lines hold less than the judgement knew: which alerts stand is gathered from the alerts that came
//! before, and where a fault's reason matters only its sensor is kept.

use serde::Deserialize;

use crate::moment::Moment;
use crate::watch::action::{
    Action, Alarm, AlarmState, Happening, Lid, Notice, Sensor, Snapshot, Spread, What,
};

#[derive(Deserialize)]
struct Line {
    kind: String,
    t_s: f64,
    seen_s: Option<f64>,
    #[serde(default)]
    pot: String,
    pot_c: Option<f64>,
    contents_kg: Option<f64>,
    water_kg: Option<f64>,
    total_solids: Option<f64>,
    evaporation_kg_h: Option<f64>,
    heat_w: Option<f64>,
    boiling: Option<bool>,
    lid: Option<String>,
    target_in_s: Option<Ahead>,
    catch_index: Option<f64>,
    stir_within_s: Option<f64>,
    what: Option<String>,
    kg: Option<f64>,
    name: Option<String>,
    back: Option<bool>,
    for_s: Option<f64>,
    ago_s: Option<f64>,
    sensor: Option<String>,
    alert: Option<String>,
    state: Option<String>,
    why: Option<String>,
}

#[derive(Deserialize)]
struct Ahead {
    p10: f64,
    p50: f64,
    p90: f64,
}

/// The pot's name and the actions of the first pot that is named; the number of a line that is none.
pub fn read(text: &str) -> Result<(String, Vec<Action>), usize> {
    let mut pot: Option<String> = None;
    let mut raised: Vec<Alarm> = Vec::new();
    let mut actions = Vec::new();
    for (n, line) in text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
        let line: Line = serde_json::from_str(line).map_err(|_| n + 1)?;
        if pot.get_or_insert_with(|| line.pot.clone()) != &line.pot {
            continue;
        }
        actions.push(action(line, &mut raised).ok_or(n + 1)?);
    }
    pot.map(|pot| (pot, actions)).ok_or(1)
}

fn action(line: Line, raised: &mut Vec<Alarm>) -> Option<Action> {
    let at = Moment::from_seconds(line.t_s)?;
    match line.kind.as_str() {
        "reading" => Some(Action::Show(Box::new(reading(&line, at, raised)))),
        "event" => {
            let seen = line.seen_s.map_or(Some(at), Moment::from_seconds)?;
            Some(Action::Happened(Happening { at, seen, what: what(line)? }))
        }
        "alert" => {
            let alarm = Alarm::by_name(line.alert.as_deref()?)?;
            let state = state(line.state.as_deref()?)?;
            raised.retain(|stands| *stands != alarm);
            if matches!(state, AlarmState::Raised | AlarmState::Acknowledged) {
                raised.push(alarm);
            }
            let why = line.why.unwrap_or_default();
            Some(Action::Tell(Notice { at, alarm, state, why }))
        }
        _ => None,
    }
}

fn reading(line: &Line, at: Moment, raised: &[Alarm]) -> Snapshot {
    let lid = |name: &str| if name == "on" { Lid::On } else { Lid::Off };
    let spread = |a: &Ahead| Spread { p10: a.p10, p50: a.p50, p90: a.p90 };
    Snapshot {
        at,
        pot_c: line.pot_c,
        contents_kg: line.contents_kg,
        water_kg: line.water_kg,
        total_solids: line.total_solids,
        evaporation_kg_h: line.evaporation_kg_h,
        heat_w: line.heat_w,
        boiling: line.boiling,
        lid: line.lid.as_deref().map(lid),
        target_in_s: line.target_in_s.as_ref().map(spread),
        catch_index: line.catch_index,
        stir_within_s: line.stir_within_s,
        raised: raised.to_vec(),
        ..Snapshot::default()
    }
}

fn state(name: &str) -> Option<AlarmState> {
    use AlarmState::{Acknowledged, Cleared, Raised, Shelved};
    [Raised, Acknowledged, Shelved, Cleared].into_iter().find(|state| state.name() == name)
}

fn what(line: Line) -> Option<What> {
    let kg = line.kg.unwrap_or(0.0);
    let for_s = line.for_s.unwrap_or(0.0);
    let sensor = line.sensor.as_deref().and_then(Sensor::by_name);
    Some(match line.what?.as_str() {
        "added" if line.back == Some(true) => What::PouredBack { kg, sd_kg: 0.0 },
        "added" => What::Added { kg, sd_kg: 0.0, name: line.name },
        "corrected" => What::Corrected { kg, name: line.name, ago_s: line.ago_s.unwrap_or(0.0) },
        "taken" => What::Taken { kg, sd_kg: 0.0 },
        "stirred" => What::Stirred { for_s },
        "blended" => What::Blended { for_s },
        "lid-on" => What::LidOn,
        "lid-off" => What::LidOff,
        "boil" => What::Boil,
        "off-boil" => What::OffBoil,
        "probe-out" => What::ProbeOut,
        "probe-in" => What::ProbeIn,
        "sensor-fault" => What::SensorFault { sensor: sensor?, why: "was at fault" },
        "sensor-back" => What::SensorBack { sensor: sensor? },
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::lines;

    #[test]
    fn what_was_printed_is_read_back() {
        let at = Moment::from_ms(120_000);
        let snapshot = Snapshot {
            at,
            contents_kg: Some(23.41),
            heat_w: Some(2300.0),
            boiling: Some(true),
            lid: Some(Lid::On),
            target_in_s: Some(Spread { p10: 3000.0, p50: 3180.0, p90: 3420.0 }),
            raised: vec![Alarm::StirDue],
            ..Snapshot::default()
        };
        let what = What::Added { kg: 0.96, sd_kg: 0.0, name: Some("spice infusion".into()) };
        let (alarm, state) = (Alarm::StirDue, AlarmState::Raised);
        let said = [
            Action::Tell(Notice { at, alarm, state, why: "soft".into() }),
            Action::Show(Box::new(snapshot)),
            Action::Happened(Happening { at, seen: at, what }),
        ];
        let text: Vec<String> = said.iter().map(|action| lines::line("big", action).1).collect();
        let (pot, read) = read(&text.join("\n")).unwrap();
        assert_eq!(pot, "big");
        // What is added was printed with its doubt, which is not read.
        assert_eq!(read, said);
    }

    #[test]
    fn a_line_that_is_none_is_named() {
        assert_eq!(read(""), Err(1));
        assert_eq!(read("{\"kind\":\"reading\",\"t_s\":0,\"pot\":\"a\"}\nx\n").err(), Some(2));
        assert_eq!(read("{\"kind\":\"song\",\"t_s\":0,\"pot\":\"a\"}").err(), Some(1));
    }
}
