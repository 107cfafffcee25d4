//! SQL into values.

use rusqlite::{Result, Row};

use crate::moment::{Moment, Wall};
use crate::reading::Fault;
use crate::watch::action::{
    Alarm, AlarmState, Happening, Lid, Notice, POURED_BACK, Sensor, Snapshot, Spread, What,
};
use crate::watch::setting::Learnt;

use super::library::{Entry, Unfinished};
use super::row::{About, Delivery};
use super::samples::Word;

/// A batch with its first leg, for when it began, and its last, for how far its samples go while it
/// has not ended.
pub(super) const ENTRY: &str = "
    SELECT b.id, b.pot, b.name, b.outcome, u.utc_minus_batch_ms, u.clock_set,
           coalesce(b.ended_ms, (SELECT from_ms + for_ms FROM samples
             WHERE id BETWEEN l.first_sample AND coalesce(l.last_sample, 9223372036854775807)
             AND leg = l.id ORDER BY id DESC LIMIT 1), l.batch_ms)
    FROM batches b JOIN leg_utc u ON u.leg = (SELECT min(id) FROM legs WHERE batch = b.id)
    JOIN legs l ON l.id = (SELECT max(id) FROM legs WHERE batch = b.id)";

pub(super) fn entry(row: &Row<'_>) -> Result<Entry> {
    Ok(Entry {
        number: row.get(0)?,
        pot: row.get(1)?,
        name: row.get(2)?,
        outcome: row.get(3)?,
        began: Wall { utc_ms: row.get(4)?, set: row.get(5)? },
        lasted_s: row.get::<_, i64>(6)? as f64 / 1000.0,
    })
}

pub(super) fn about(row: &Row<'_>) -> Result<About> {
    Ok(About {
        pot: row.get("pot")?,
        name: row.get("name")?,
        kitchen_toml: row.get("kitchen_toml")?,
        batch_toml: row.get("batch_toml")?,
        learnt: learnt(row)?,
    })
}

pub(super) fn learnt(row: &Row<'_>) -> Result<Learnt> {
    Ok(Learnt {
        bottom_log_scale: row.get("bottom_log_scale")?,
        bottom_verdicts: row.get("bottom_verdicts")?,
    })
}

/// Batches without an end, with the last leg of each and the last time that was kept.
pub(super) const UNFINISHED: &str = "
    SELECT b.*,
           (SELECT count(*) FROM words w JOIN legs e ON e.id = w.leg WHERE e.batch = b.id)
             AS said,
           max(l.batch_ms,
             coalesce((SELECT from_ms + for_ms FROM samples
               WHERE id BETWEEN l.first_sample AND coalesce(l.last_sample, 9223372036854775807)
               AND leg = l.id ORDER BY id DESC LIMIT 1), 0),
             coalesce((SELECT max(at_ms) FROM words WHERE leg = l.id), 0)) AS last_ms,
           u.utc_minus_batch_ms, u.clock_set, s.boot, l.mono_ms - l.batch_ms AS mono_minus_batch_ms
    FROM batches b JOIN legs l ON l.id = (SELECT max(id) FROM legs WHERE batch = b.id)
    JOIN leg_utc u ON u.leg = l.id JOIN starts s ON s.id = l.start
    WHERE b.ended_ms IS NULL ORDER BY b.id";

pub(super) fn unfinished(row: &Row<'_>) -> Result<Unfinished> {
    let last_ms: i64 = row.get("last_ms")?;
    let offset_ms: i64 = row.get("utc_minus_batch_ms")?;
    let mono_ms: i64 = row.get("mono_minus_batch_ms")?;
    Ok(Unfinished {
        number: row.get("id")?,
        about: about(row)?,
        words: row.get::<_, i64>("said")?.unsigned_abs(),
        last: Moment::from_ms(last_ms),
        last_wall: Wall { utc_ms: last_ms.saturating_add(offset_ms), set: row.get("clock_set")? },
        last_boot: row.get("boot")?,
        last_mono: Moment::from_ms(last_ms.saturating_add(mono_ms)),
    })
}

/// Blocks of a batch in the order in which they were packed.
pub(super) const BLOCKS: &str = "
    SELECT s.from_ms, s.block FROM legs l JOIN samples s
    ON s.id BETWEEN l.first_sample AND coalesce(l.last_sample, 9223372036854775807)
    WHERE l.batch = ?1 AND s.leg = l.id ORDER BY s.id";

pub(super) const READINGS: &str = "
    SELECT r.* FROM legs l JOIN readings r
    ON r.id BETWEEN l.first_reading AND coalesce(l.last_reading, 9223372036854775807)
    WHERE l.batch = ?1 AND r.leg = l.id ORDER BY r.id";

pub(super) fn snapshot(row: &Row<'_>) -> Result<Snapshot> {
    let scaled = |column: &str, per: f64| -> Result<Option<f64>> {
        Ok(row.get::<_, Option<i64>>(column)?.map(|n| n as f64 / per))
    };
    let (milli, micro) = (|column| scaled(column, 1e3), |column| scaled(column, 1e6));
    let target = (milli("target_p10_ms")?, milli("target_p50_ms")?, milli("target_p90_ms")?);
    let next = (row.get::<_, Option<String>>("next_name")?, micro("next_mg")?);
    Ok(Snapshot {
        at: Moment::from_ms(row.get("at_ms")?),
        pot_c: milli("pot_mc")?,
        contents_kg: micro("contents_mg")?,
        contents_sd_kg: micro("contents_sd_mg")?,
        water_kg: micro("water_mg")?,
        fat_kg: micro("fat_mg")?,
        salt_kg: micro("salt_mg")?,
        total_solids: micro("total_solids_ppm")?,
        evaporation_kg_h: micro("evaporation_mg_h")?,
        evaporation_sd_kg_h: micro("evaporation_sd_mg_h")?,
        heat_w: milli("heat_mw")?,
        lid: row.get::<_, Option<String>>("lid")?.map(
            |lid| {
                if lid == "on" { Lid::On } else { Lid::Off }
            },
        ),
        boiling: row.get("boiling")?,
        boil_c: milli("boil_mc")?,
        target_kg: micro("target_mg")?,
        target_in_s: match target {
            (Some(p10), Some(p50), Some(p90)) => Some(Spread { p10, p50, p90 }),
            _ => None,
        },
        catch_index: micro("catch_ppm")?,
        stir_within_s: milli("stir_within_ms")?,
        since_stir_s: milli("since_stir_ms")?,
        served_kg: micro("served_mg")?,
        runs_out_in_s: milli("runs_out_ms")?,
        top_up_l: milli("top_up_ml")?,
        next_addition: next.0.zip(next.1),
        raised: row
            .get::<_, Option<String>>("raised")?
            .map_or_else(Vec::new, |names| names.split(' ').filter_map(Alarm::by_name).collect()),
    })
}

pub(super) const HAPPENINGS: &str = "
    SELECT h.* FROM legs l JOIN happenings h ON h.leg = l.id WHERE l.batch = ?1 ORDER BY h.id";

/// `None` where this program does not know what it was.
pub(super) fn happening(row: &Row<'_>) -> Result<Option<Happening>> {
    let number = |column: &str| row.get::<_, Option<f64>>(column).map(|x| x.unwrap_or(0.0));
    let sensor = row.get::<_, Option<String>>("sensor")?;
    let sensor = sensor.and_then(|name| Sensor::by_name(&name));
    let why = row.get::<_, Option<String>>("why")?.unwrap_or_default();
    let (kg, sd_kg, for_s) = (number("kg")?, number("sd_kg")?, number("for_s")?);
    let what = match (row.get::<_, String>("what")?.as_str(), sensor) {
        ("added", _) if why == POURED_BACK => What::PouredBack { kg, sd_kg },
        ("added", _) => What::Added { kg, sd_kg, name: row.get("name")? },
        ("corrected", _) => What::Corrected { kg, name: row.get("name")?, ago_s: for_s },
        ("taken", _) => What::Taken { kg, sd_kg },
        ("stirred", _) => What::Stirred { for_s },
        ("blended", _) => What::Blended { for_s },
        ("lid-on", _) => What::LidOn,
        ("lid-off", _) => What::LidOff,
        ("boil", _) => What::Boil,
        ("off-boil", _) => What::OffBoil,
        ("probe-out", _) => What::ProbeOut,
        ("probe-in", _) => What::ProbeIn,
        ("sensor-fault", Some(sensor)) => What::SensorFault { sensor, why: known_words(&why) },
        ("sensor-back", Some(sensor)) => What::SensorBack { sensor },
        _ => return Ok(None),
    };
    let at = Moment::from_ms(row.get("at_ms")?);
    Ok(Some(Happening { at, seen: Moment::from_ms(row.get("seen_ms")?), what }))
}

/// The same words as the fault has them.
fn known_words(why: &str) -> &'static str {
    let words = Fault::ALL.into_iter().map(Fault::words).find(|words| *words == why);
    words.unwrap_or("failed, as an earlier version put it in words of its own")
}

pub(super) const NOTICES: &str = "
    SELECT n.* FROM legs l JOIN notices n ON n.leg = l.id WHERE l.batch = ?1 ORDER BY n.id";

/// `None` where this program does not know the alert.
pub(super) fn notice(row: &Row<'_>) -> Result<Option<Notice>> {
    let alarm = Alarm::by_name(&row.get::<_, String>("alert")?);
    let state = AlarmState::by_name(&row.get::<_, String>("state")?);
    let (at, why) = (Moment::from_ms(row.get("at_ms")?), row.get("why")?);
    Ok(alarm.zip(state).map(|(alarm, state)| Notice { at, alarm, state, why }))
}

pub(super) const DELIVERIES: &str = "
    SELECT d.* FROM legs l JOIN deliveries d ON d.leg = l.id WHERE l.batch = ?1 ORDER BY d.id";

/// `None` where this program does not know the alert.
pub(super) fn delivery(row: &Row<'_>) -> Result<Option<Delivery>> {
    let Some(alarm) = Alarm::by_name(&row.get::<_, String>("alert")?) else { return Ok(None) };
    Ok(Some(Delivery {
        at: Moment::from_ms(row.get("at_ms")?),
        alarm,
        raised: Moment::from_ms(row.get("raised_ms")?),
        person: row.get("person")?,
        way: row.get("way")?,
        because: row.get("because")?,
        attempts: row.get("attempts")?,
        arrived: row.get("arrived")?,
        answer: row.get("answer")?,
    }))
}

pub(super) const WORDS: &str = "
    SELECT w.number, w.at_ms, w.said, w.by_whom
    FROM legs l JOIN words w ON w.leg = l.id WHERE l.batch = ?1 ORDER BY w.number";

/// `None` where this program does not know the word.
pub(super) fn word(row: &Row<'_>) -> Result<Option<Word>> {
    let says = row.get::<_, String>("said")?.parse();
    let (number, at) = (row.get::<_, i64>("number")?, Moment::from_ms(row.get("at_ms")?));
    let by = row.get("by_whom")?;
    Ok(says.ok().map(|says| Word { number: number.unsigned_abs(), at, says, by }))
}
