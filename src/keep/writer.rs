//! The one writer.
//!
//! It takes what waits, writes it in one transaction and says what became of it. When the disk
//! refuses, the handle is thrown away (after a failed sync the kernel may forget pages that it calls
//! written, so the same handle must not be asked again), the rows go back to memory, and the next
//! round opens the file anew.

use std::path::PathBuf;

use rusqlite::{Connection, Error, ErrorCode, Transaction, TransactionBehavior};

use crate::moment::{Moment, Wall};

use super::file::{self, CannotOpen, Check, Refusal};
use super::health::{Trouble, TroubleKind};
use super::insert;
use super::row::{Leg, LegIndex, LetterKind, Outcome, Row, Waiting};

/// When and where the daemon started, as the caller's clock has it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Start {
    /// The kernel's id of this boot.
    pub boot: String,
    /// Now, on the daemon's clock.
    pub at: Moment,
    /// Now, on the wall.
    pub wall: Wall,
}

/// The next number of each table that is numbered here.
#[derive(Debug, Clone, Copy, Default)]
struct Numbers {
    start: i64,
    clock: i64,
    batch: i64,
    leg: i64,
    sample: i64,
    reading: i64,
    happening: i64,
    notice: i64,
    word: i64,
    letter: i64,
    delivery: i64,
}

/// What became of the rows.
#[derive(Debug, Default)]
pub(super) struct Written {
    /// Rows that wait on, because the disk refused.
    pub left: Vec<Waiting>,
    pub trouble: Option<Trouble>,
    /// Rows that the store would not take.
    pub refused: u64,
    pub set_aside: Option<PathBuf>,
}

#[derive(Debug)]
pub(super) struct Writer {
    path: PathBuf,
    start: Start,
    start_id: Option<i64>,
    connection: Option<Connection>,
    /// Held so that no second daemon writes to the same store; `None` where the disk does not allow
    /// even that.
    _claim: Option<Connection>,
    numbers: Numbers,
    legs: Vec<Leg>,
    /// Telemetry in the outbox, and how much of it is held.
    telemetry: i64,
    telemetry_room: i64,
    utc_ms: i64,
    pub copied_before_migration: Option<PathBuf>,
}

impl Writer {
    pub fn new(path: PathBuf, start: Start, telemetry_room: i64) -> Result<Self, Refusal> {
        Ok(Self {
            _claim: file::claim(&path)?,
            path,
            utc_ms: start.wall.utc_ms,
            start,
            start_id: None,
            connection: None,
            numbers: Numbers::default(),
            legs: Vec::new(),
            telemetry: 0,
            telemetry_room,
            copied_before_migration: None,
        })
    }

    /// Opens the file for the first time, putting a damaged one aside.
    pub fn begin(&mut self, check: Check) -> Result<Written, Refusal> {
        let mut written = Written::default();
        match self.open(check) {
            Ok(()) => {}
            Err(CannotOpen::Refused(refusal)) => return Err(refusal),
            Err(error) => self.complain(error, &mut written),
        }
        if written.set_aside.is_some() {
            match self.open(Check::Quick) {
                Ok(()) => written.trouble = None,
                Err(CannotOpen::Refused(refusal)) => return Err(refusal),
                Err(error) => self.complain(error, &mut written),
            }
        }
        Ok(written)
    }

    /// Puts the file aside for what a check found.
    pub fn condemn(&mut self, found: String) -> Written {
        let mut written = Written::default();
        self.complain(CannotOpen::Damaged(found), &mut written);
        written
    }

    /// Makes legs known that rows refer to.
    pub fn stand(&mut self, legs: impl IntoIterator<Item = Leg>) {
        self.legs.extend(legs);
    }

    /// Number of the batch that a leg belongs to.
    pub fn batch_of(&self, leg: LegIndex) -> Option<i64> {
        self.legs.get(leg).filter(|leg| leg.stands).and_then(|leg| leg.batch)
    }

    /// Writes the rows in one transaction, or gives them back.
    pub fn write(&mut self, mut rows: Vec<Waiting>) -> Written {
        let mut written = Written::default();
        match self.try_write(&mut rows, &mut written.refused) {
            Ok(()) => {}
            Err(error) => {
                self.complain(error, &mut written);
                written.left = rows;
            }
        }
        written
    }

    fn try_write(&mut self, rows: &mut [Waiting], refused: &mut u64) -> Result<(), CannotOpen> {
        if self.connection.is_none() {
            self.open(Check::Quick)?;
        }
        let Some(connection) = self.connection.take() else { return Ok(()) };
        let outcome = self.transact(&connection, rows, refused);
        if outcome.is_ok() {
            self.connection = Some(connection);
        }
        outcome.map_err(CannotOpen::Sqlite)
    }

    fn transact(
        &mut self,
        connection: &Connection,
        rows: &mut [Waiting],
        refused: &mut u64,
    ) -> Result<(), Error> {
        let transaction = Transaction::new_unchecked(connection, TransactionBehavior::Immediate)?;
        self.place_legs(&transaction)?;
        let mut telemetry = self.telemetry;
        for waiting in rows.iter_mut() {
            let id = match waiting.id {
                Some(id) => id,
                None => *waiting.id.insert(self.number(&waiting.row)),
            };
            match self.put(&transaction, id, &waiting.row, &mut telemetry) {
                Err(error) if is_the_rows_fault(&error) => *refused += 1,
                done => done?,
            }
        }
        self.trim_telemetry(&transaction, &mut telemetry)?;
        transaction.commit()?;
        self.telemetry = telemetry;
        self.legs.iter_mut().for_each(|leg| leg.stands = true);
        for waiting in rows.iter() {
            if let Row::End { leg, .. } = waiting.row {
                self.legs.get_mut(leg).into_iter().for_each(|leg| leg.over = true);
            }
        }
        Ok(())
    }

    /// The number that a new row gets.
    fn number(&mut self, row: &Row) -> i64 {
        let next = match row {
            Row::Clock { .. } => &mut self.numbers.clock,
            Row::Block { .. } => &mut self.numbers.sample,
            Row::Reading { .. } => &mut self.numbers.reading,
            Row::Happening { .. } => &mut self.numbers.happening,
            Row::Notice { .. } => &mut self.numbers.notice,
            Row::Word { .. } => &mut self.numbers.word,
            Row::Letter(_) => &mut self.numbers.letter,
            Row::Delivery { .. } => &mut self.numbers.delivery,
            Row::End { .. }
            | Row::Learnt { .. }
            | Row::Acknowledged { .. }
            | Row::Browser(_)
            | Row::BrowserGone { .. } => return 0,
        };
        *next += 1;
        *next
    }

    fn put(
        &mut self,
        db: &Connection,
        id: i64,
        row: &Row,
        telemetry: &mut i64,
    ) -> Result<(), Error> {
        match row {
            Row::Clock { at, wall } => self.put_clock(db, id, *at, *wall)?,
            Row::Block { leg, block } => insert::block(db, id, self.leg_id(*leg), block)?,
            Row::Reading { leg, snapshot } => insert::reading(db, id, self.leg_id(*leg), snapshot)?,
            Row::Happening { leg, happening } => {
                insert::happening(db, id, self.leg_id(*leg), happening)?
            }
            Row::Notice { leg, notice } => insert::notice(db, id, self.leg_id(*leg), notice)?,
            Row::Word { leg, number, at, says, by } => {
                insert::word(db, id, self.leg_id(*leg), *number, *at, says, by)?
            }
            Row::End { leg, at, outcome } => self.end(db, *leg, *at, *outcome)?,
            Row::Delivery { leg, delivery } => {
                insert::delivery(db, id, self.leg_id(*leg), delivery)?
            }
            Row::Browser(browser) => insert::browser(db, browser)?,
            Row::BrowserGone { endpoint } => insert::browser_gone(db, endpoint)?,
            Row::Learnt { pot, learnt } => insert::learnt(db, pot, learnt)?,
            Row::Letter(letter) => {
                let put = insert::letter(db, id, self.start_id.unwrap_or(0), letter)?;
                *telemetry += i64::from(put > 0 && letter.kind == LetterKind::Telemetry);
                put
            }
            Row::Acknowledged { key } => {
                let kind = LetterKind::Telemetry.number();
                *telemetry -= insert::acknowledged(db, key, Some(kind))? as i64;
                insert::acknowledged(db, key, None)?
            }
        };
        Ok(())
    }

    fn leg_id(&self, leg: LegIndex) -> i64 {
        self.legs.get(leg).and_then(|leg| leg.id).unwrap_or(0)
    }

    /// Writes the legs that the open file does not have yet.
    fn place_legs(&mut self, db: &Connection) -> Result<(), Error> {
        let Some(start) = self.start_id else { return Ok(()) };
        for leg in self.legs.iter_mut().filter(|leg| !leg.stands) {
            for (id, next) in
                [(&mut leg.batch, &mut self.numbers.batch), (&mut leg.id, &mut self.numbers.leg)]
            {
                if id.is_none() {
                    *next += 1;
                    *id = Some(*next);
                }
            }
            insert::batch(db, leg)?;
            leg.first.get_or_insert((self.numbers.sample + 1, self.numbers.reading + 1));
            insert::leg(db, leg, start)?;
        }
        Ok(())
    }

    fn end(
        &self,
        db: &Connection,
        leg: LegIndex,
        at: Moment,
        outcome: Outcome,
    ) -> Result<usize, Error> {
        let Some(leg) = self.legs.get(leg) else { return Ok(0) };
        insert::last_of_leg(db, leg.id, self.numbers.sample, self.numbers.reading)?;
        insert::end(db, leg.batch, at, outcome)
    }

    /// The clock was set or jumped; the first time that it is known all rows of this start gain
    /// their true time by one row rewritten.
    fn put_clock(
        &mut self,
        db: &Connection,
        id: i64,
        at: Moment,
        wall: Wall,
    ) -> Result<usize, Error> {
        let offset_ms = wall.utc_ms - at.ms();
        self.utc_ms = wall.utc_ms;
        let start = self.start_id.unwrap_or(0);
        if wall.set {
            insert::start_knows_the_time(db, start, offset_ms)?;
        }
        insert::clock(db, id, start, at, offset_ms, wall.set)
    }

    fn trim_telemetry(&self, db: &Connection, telemetry: &mut i64) -> Result<(), Error> {
        let over = *telemetry - self.telemetry_room;
        if over > 0 {
            *telemetry -= insert::drop_oldest_telemetry(db, over)? as i64;
        }
        Ok(())
    }

    fn open(&mut self, check: Check) -> Result<(), CannotOpen> {
        let opened = file::open(&self.path, check)?;
        let db = opened.connection;
        self.copied_before_migration = opened.copied_before_migration;
        let transaction = Transaction::new_unchecked(&db, TransactionBehavior::Immediate)?;
        self.numbers.raise(&db)?;
        self.telemetry = insert::count_telemetry(&db)?;
        let new = self.start_id.is_none();
        let start_id = *self.start_id.get_or_insert(self.numbers.start + 1);
        insert::start(&db, start_id, &self.start)?;
        if new {
            insert::last_of_old_legs(&db, start_id, self.numbers.sample, self.numbers.reading)?;
        }
        transaction.commit()?;
        self.legs.iter_mut().for_each(|leg| leg.stands = leg.over);
        self.connection = Some(db);
        Ok(())
    }

    /// Takes note of an error, and puts the file aside where it is damaged.
    fn complain(&mut self, error: CannotOpen, written: &mut Written) {
        self.connection = None;
        let mut trouble = match error {
            CannotOpen::Sqlite(error) => Trouble::from(&error),
            CannotOpen::Io(error) => {
                Trouble { kind: TroubleKind::DeviceFailed, detail: error.to_string() }
            }
            CannotOpen::Damaged(detail) => Trouble { kind: TroubleKind::Damaged, detail },
            CannotOpen::Refused(refusal) => {
                Trouble { kind: TroubleKind::Other, detail: refusal.to_string() }
            }
        };
        let unclear = matches!(trouble.kind, TroubleKind::CannotOpen | TroubleKind::DeviceFailed);
        if unclear && file::is_on_read_only(&self.path) {
            trouble.kind = TroubleKind::ReadOnly;
        }
        if trouble.kind == TroubleKind::Damaged {
            written.set_aside = file::set_aside(&self.path, self.utc_ms).ok();
        }
        written.trouble = Some(trouble);
    }
}

/// True where another row might well be taken.
fn is_the_rows_fault(error: &Error) -> bool {
    match error.sqlite_error_code() {
        Some(code) => matches!(
            code,
            ErrorCode::ConstraintViolation | ErrorCode::TypeMismatch | ErrorCode::TooBig
        ),
        None => true,
    }
}

impl Numbers {
    /// Not below what the file has.
    fn raise(&mut self, db: &Connection) -> Result<(), Error> {
        for (next, table) in [
            (&mut self.start, "starts"),
            (&mut self.clock, "clocks"),
            (&mut self.batch, "batches"),
            (&mut self.leg, "legs"),
            (&mut self.sample, "samples"),
            (&mut self.reading, "readings"),
            (&mut self.happening, "happenings"),
            (&mut self.notice, "notices"),
            (&mut self.word, "words"),
            (&mut self.letter, "outbox"),
            (&mut self.delivery, "deliveries"),
        ] {
            *next = insert::highest(db, table)?.max(*next);
        }
        Ok(())
    }
}
