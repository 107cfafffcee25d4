//! Whether the board does its work, for supervisors.
//!
//! `pass` or `warn` come with status 200, `fail` with 503: the judgement itself has stopped. A store
//! in trouble or a silent sensor is a warning: starting the board anew would mend neither.

use axum::http::StatusCode;
use serde_json::{Value, json};
use tokio::time::Instant;

use super::live::News;

/// The judgement says something every second.
const STALE_S: f64 = 15.0;
/// A sensor that never ends is heard at least this often, s.
const SILENT_S: f64 = 15.0;

/// The status and what is told.
pub fn of(news: &News, now: Instant) -> (StatusCode, Value) {
    let mut notes = Vec::new();
    let silent_s = now.saturating_duration_since(news.heard).as_secs_f64();
    let stale = silent_s > STALE_S;
    if stale {
        notes.push(format!("the judgement was not heard for {silent_s:.0} s"));
    }
    notes.extend(news.board.store.trouble.map(str::to_owned));
    let pots = news.board.pots.iter().filter(|pot| !pot.over);
    let silent = pots.filter(|pot| pot.silent_s > SILENT_S).count();
    if silent > 0 {
        notes.push(format!("{silent} of the pots have silent sensors"));
    }
    let status = match (stale, notes.is_empty()) {
        (true, _) => "fail",
        (false, false) => "warn",
        (false, true) => "pass",
    };
    let code = if stale { StatusCode::SERVICE_UNAVAILABLE } else { StatusCode::OK };
    let version = env!("CARGO_PKG_VERSION");
    (code, json!({ "status": status, "notes": notes, "version": version }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::board::{Board, StoreNow};
    use std::sync::Arc;
    use std::time::Duration;

    fn status(board: Board, after_s: u64) -> (StatusCode, String) {
        let news = News::first(Arc::new(board));
        let (code, told) = of(&news, news.heard + Duration::from_secs(after_s));
        (code, told["status"].as_str().unwrap().to_owned())
    }

    #[test]
    fn a_board_that_is_not_heard_fails() {
        assert_eq!(status(Board::default(), 2), (StatusCode::OK, "pass".into()));
        let (code, told) = status(Board::default(), 20);
        assert_eq!((code, told.as_str()), (StatusCode::SERVICE_UNAVAILABLE, "fail"));
    }

    #[test]
    fn a_store_in_trouble_is_a_warning() {
        let store = StoreNow { trouble: Some("the disk is full"), ..StoreNow::default() };
        assert_eq!(status(Board { store, ..Board::default() }, 0), (StatusCode::OK, "warn".into()));
    }
}
