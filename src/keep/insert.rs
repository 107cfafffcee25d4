//! Rows into SQL.
//!
//! Every row is given its number before it is tried and keeps it when it is tried again, so that a
//! transaction that was committed although its caller was told of an error (the sync failed after
//! the log was written) is not written twice.

use rusqlite::{Connection, Result, params};

use crate::moment::Moment;
use crate::watch::action::{Happening, Lid, Notice, POURED_BACK, Snapshot, What};
use crate::watch::event::CookSays;
use crate::watch::setting::Learnt;

use super::packing::Block;
use super::row::{Browser, Delivery, Leg, Letter, Outcome};
use super::writer::Start;

pub(super) fn batch(db: &Connection, leg: &Leg) -> Result<usize> {
    db.prepare_cached(
        "INSERT INTO batches (id, pot, name, kitchen_toml, batch_toml, bottom_log_scale,
         bottom_verdicts) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
         ON CONFLICT (id) DO NOTHING",
    )?
    .execute(params![
        leg.batch,
        leg.about.pot,
        leg.about.name,
        leg.about.kitchen_toml,
        leg.about.batch_toml,
        leg.about.learnt.bottom_log_scale,
        leg.about.learnt.bottom_verdicts
    ])
}

pub(super) fn leg(db: &Connection, leg: &Leg, start: i64) -> Result<usize> {
    let (first_sample, first_reading) = leg.first.unwrap_or((1, 1));
    db.prepare_cached(
        "INSERT INTO legs (id, batch, start, mono_ms, batch_ms, first_sample, first_reading)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT (id) DO NOTHING",
    )?
    .execute(params![
        leg.id,
        leg.batch,
        start,
        leg.mono.ms(),
        leg.batch_at.ms(),
        first_sample,
        first_reading
    ])
}

pub(super) fn block(db: &Connection, id: i64, leg: i64, block: &Block) -> Result<usize> {
    db.prepare_cached(
        "INSERT INTO samples (id, leg, from_ms, for_ms, events, block)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6) ON CONFLICT (id) DO NOTHING",
    )?
    .execute(params![
        id,
        leg,
        block.from.ms(),
        block.to.ms() - block.from.ms(),
        block.events,
        block.bytes
    ])
}

pub(super) fn reading(db: &Connection, id: i64, leg: i64, s: &Snapshot) -> Result<usize> {
    let milli = |x: Option<f64>| x.map(|x| (x * 1e3).round() as i64);
    let micro = |x: Option<f64>| x.map(|x| (x * 1e6).round() as i64);
    let target = s.target_in_s;
    let next = s.next_addition.as_ref();
    let raised: Vec<_> = s.raised.iter().map(|alarm| alarm.name()).collect();
    db.prepare_cached(
        "INSERT INTO readings VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14,
         ?15, ?16, ?17, ?18, ?19, ?20, ?21, ?22, ?23, ?24, ?25, ?26, ?27, ?28, ?29) ON CONFLICT (id) DO NOTHING",
    )?
    .execute(params![
        id,
        leg,
        s.at.ms(),
        milli(s.pot_c),
        micro(s.contents_kg),
        micro(s.contents_sd_kg),
        micro(s.water_kg),
        micro(s.fat_kg),
        micro(s.salt_kg),
        micro(s.total_solids),
        micro(s.evaporation_kg_h),
        micro(s.evaporation_sd_kg_h),
        milli(s.heat_w),
        s.lid.map(|lid| if lid == Lid::On { "on" } else { "off" }),
        s.boiling,
        milli(s.boil_c),
        micro(s.target_kg),
        milli(target.map(|t| t.p10)),
        milli(target.map(|t| t.p50)),
        milli(target.map(|t| t.p90)),
        micro(s.catch_index),
        milli(s.stir_within_s),
        milli(s.since_stir_s),
        micro(s.served_kg),
        milli(s.runs_out_in_s),
        milli(s.top_up_l),
        next.map(|(name, _)| name),
        micro(next.map(|(_, kg)| *kg)),
        (!raised.is_empty()).then(|| raised.join(" ")),
    ])
}

pub(super) fn happening(db: &Connection, id: i64, leg: i64, h: &Happening) -> Result<usize> {
    let (mut kg, mut sd_kg, mut name, mut for_s, mut sensor, mut why) =
        (None, None, None, None, None, None);
    match &h.what {
        What::Added { kg: k, sd_kg: sd, name: n } => {
            (kg, sd_kg, name) = (Some(*k), Some(*sd), n.as_deref());
        }
        What::PouredBack { kg: k, sd_kg: sd } => {
            (kg, sd_kg, why) = (Some(*k), Some(*sd), Some(POURED_BACK));
        }
        What::Corrected { kg: k, name: n, ago_s } => {
            (kg, name, for_s) = (Some(*k), n.as_deref(), Some(*ago_s));
        }
        What::Taken { kg: k, sd_kg: sd } => (kg, sd_kg) = (Some(*k), Some(*sd)),
        What::Stirred { for_s: s } | What::Blended { for_s: s } => for_s = Some(*s),
        What::SensorFault { sensor: s, why: w } => (sensor, why) = (Some(s.name()), Some(*w)),
        What::SensorBack { sensor: s } => sensor = Some(s.name()),
        _ => {}
    }
    db.prepare_cached(
        "INSERT INTO happenings VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)
         ON CONFLICT (id) DO NOTHING",
    )?
    .execute(params![
        id,
        leg,
        h.at.ms(),
        h.seen.ms(),
        h.what.name(),
        kg,
        sd_kg,
        name,
        for_s,
        sensor,
        why
    ])
}

pub(super) fn notice(db: &Connection, id: i64, leg: i64, n: &Notice) -> Result<usize> {
    db.prepare_cached(
        "INSERT INTO notices VALUES (?1, ?2, ?3, ?4, ?5, ?6) ON CONFLICT (id) DO NOTHING",
    )?
    .execute(params![id, leg, n.at.ms(), n.alarm.name(), n.state.name(), n.why])
}

pub(super) fn word(
    db: &Connection,
    id: i64,
    leg: i64,
    number: u64,
    at: Moment,
    says: &CookSays,
    by: &str,
) -> Result<usize> {
    db.prepare_cached(
        "INSERT INTO words VALUES (?1, ?2, ?3, ?4, ?5, ?6) ON CONFLICT (id) DO NOTHING",
    )?
    .execute(params![id, leg, number as i64, at.ms(), says.to_string(), by])
}

pub(super) fn delivery(db: &Connection, id: i64, leg: i64, d: &Delivery) -> Result<usize> {
    db.prepare_cached(
        "INSERT INTO deliveries VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)
         ON CONFLICT (id) DO NOTHING",
    )?
    .execute(params![
        id,
        leg,
        d.at.ms(),
        d.alarm.name(),
        d.raised.ms(),
        d.person,
        d.way,
        d.because,
        d.attempts,
        d.arrived,
        d.answer
    ])
}

pub(super) fn browser(db: &Connection, browser: &Browser) -> Result<usize> {
    db.prepare_cached(
        "INSERT INTO browsers (endpoint, person, p256dh, auth) VALUES (?1, ?2, ?3, ?4)
         ON CONFLICT (endpoint) DO UPDATE SET person = ?2, p256dh = ?3, auth = ?4",
    )?
    .execute(params![browser.endpoint, browser.person, browser.p256dh, browser.auth])
}

pub(super) fn browser_gone(db: &Connection, endpoint: &str) -> Result<usize> {
    db.prepare_cached("DELETE FROM browsers WHERE endpoint = ?1")?.execute([endpoint])
}

pub(super) fn letter(db: &Connection, id: i64, start: i64, letter: &Letter) -> Result<usize> {
    db.prepare_cached(
        "INSERT INTO outbox (id, key, start, mono_ms, kind, topic, payload)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT DO NOTHING",
    )?
    .execute(params![
        id,
        letter.key,
        start,
        letter.at.ms(),
        letter.kind.number(),
        letter.topic,
        letter.payload
    ])
}

pub(super) fn learnt(db: &Connection, pot: &str, learnt: &Learnt) -> Result<usize> {
    db.prepare_cached(
        "INSERT INTO learnt VALUES (?1, ?2, ?3) ON CONFLICT (pot) DO UPDATE SET
         bottom_log_scale = excluded.bottom_log_scale, bottom_verdicts = excluded.bottom_verdicts",
    )?
    .execute(params![pot, learnt.bottom_log_scale, learnt.bottom_verdicts])
}

/// Takes out the letter with this key, of this kind where one is given.
pub(super) fn acknowledged(db: &Connection, key: &str, kind: Option<i64>) -> Result<usize> {
    db.prepare_cached("DELETE FROM outbox WHERE key = ?1 AND kind = coalesce(?2, kind)")?
        .execute(params![key, kind])
}

pub(super) fn count_telemetry(db: &Connection) -> Result<i64> {
    db.query_row("SELECT count(*) FROM outbox WHERE kind = 0", [], |row| row.get(0))
}

pub(super) fn drop_oldest_telemetry(db: &Connection, how_many: i64) -> Result<usize> {
    db.prepare_cached(
        "DELETE FROM outbox WHERE id IN
         (SELECT id FROM outbox WHERE kind = 0 ORDER BY id LIMIT ?1)",
    )?
    .execute([how_many])
}

pub(super) fn start(db: &Connection, id: i64, start: &Start) -> Result<usize> {
    let offset_ms = start.wall.utc_ms - start.at.ms();
    db.execute(
        "INSERT INTO starts VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT (id) DO NOTHING",
        params![id, start.boot, start.at.ms(), offset_ms, start.wall.set],
    )
}

pub(super) fn start_knows_the_time(db: &Connection, start: i64, offset_ms: i64) -> Result<usize> {
    db.execute(
        "UPDATE starts SET utc_minus_mono_ms = ?2, clock_set = 1 WHERE id = ?1 AND clock_set = 0",
        params![start, offset_ms],
    )
}

pub(super) fn clock(
    db: &Connection,
    id: i64,
    start: i64,
    at: Moment,
    offset_ms: i64,
    set: bool,
) -> Result<usize> {
    db.execute(
        "INSERT INTO clocks VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT (id) DO NOTHING",
        params![id, start, at.ms(), offset_ms, set],
    )
}

pub(super) fn end(
    db: &Connection,
    batch: Option<i64>,
    at: Moment,
    outcome: Outcome,
) -> Result<usize> {
    db.execute(
        "UPDATE batches SET ended_ms = ?2, outcome = ?3 WHERE id = ?1 AND ended_ms IS NULL",
        params![batch, at.ms(), outcome.name()],
    )
}

/// Up to where the rows of a leg go.
pub(super) fn last_of_leg(
    db: &Connection,
    leg: Option<i64>,
    sample: i64,
    reading: i64,
) -> Result<usize> {
    db.execute(
        "UPDATE legs SET last_sample = ?2, last_reading = ?3 WHERE id = ?1 AND last_sample IS NULL",
        params![leg, sample, reading],
    )
}

/// Legs of earlier starts can gain no more rows.
pub(super) fn last_of_old_legs(
    db: &Connection,
    start: i64,
    sample: i64,
    reading: i64,
) -> Result<usize> {
    db.execute(
        "UPDATE legs SET last_sample = ?2, last_reading = ?3 WHERE start < ?1 AND last_sample IS NULL",
        params![start, sample, reading],
    )
}

/// The highest number that a table has.
pub(super) fn highest(db: &Connection, table: &str) -> Result<i64> {
    db.query_row(&format!("SELECT coalesce(max(id), 0) FROM {table}"), [], |row| row.get(0))
}
