use std::sync::Arc;

use super::*;
use crate::batch::composition::Composition;
use crate::batch::plan::{Plan, PlannedAddition, Start};
use crate::moment::Moment;
use crate::quantity::{Celsius, Kilograms};
use crate::show::board::{Board, PotNow};
use crate::show::clock::Clock;
use crate::show::idle::{Begins, Idle};
use crate::show::sample;
use crate::show::story::{Story, Word};
use crate::watch::action::{Alarm, Snapshot, What};
use crate::watch::event::{CookSays, Event};

fn plan(name: &str) -> Plan {
    let planned =
        |name: &str, kg| PlannedAddition { name: name.into(), kg, composition: Composition::WATER };
    Plan {
        name: name.into(),
        pot: "big".into(),
        start: Start { contents_kg: 23.6, lid_on: true, composition: Composition::WATER },
        additions: vec![
            planned("spice infusion", 0.95),
            planned("thinning water", 5.0),
            planned("single cream", 0.45),
        ],
        target: None,
        stages: vec![],
    }
}

fn pot(name: &str, story: Story, until_s: f64) -> PotNow {
    PotNow {
        name: name.into(),
        plan: Arc::new(plan(&story.batch)),
        story: Arc::new(story),
        clock: Some(Clock { utc_ms_at_zero: 1_795_622_400_000, offset_s: 0 }),
        now: Moment::from_seconds(until_s).unwrap(),
        silent_s: 0.1,
        idle: None,
        over: false,
    }
}

/// A board whose one pot is in its Tuesday base, `until_s` after the start.
pub fn board(until_s: f64) -> Board {
    let pots = vec![pot("big", sample::tuesday(until_s), until_s)];
    Board { kitchen: "Harbour Lane Kitchen".into(), pots, ..Board::default() }
}

/// Nothing stands, and it reduces.
fn calm_board() -> Board {
    let mut board = board(7260.0);
    let mut story = sample::tuesday(7260.0);
    story.notices.clear();
    board.pots[0].story = Arc::new(story);
    board
}

fn everything(board: &Board, viewer: &Viewer) -> String {
    let parts = parts(0, &board.pots[0]).into_iter().map(|part| part.html);
    let frame =
        Frame { kitchen: &board.kitchen, time: None, viewer, path: "/", live: None, offer: None };
    let page = whole(&frame, &pot::title(&board.pots[0]), &pot::draw(0, &board.pots[0], 1, viewer));
    parts.collect::<String>() + &page + &pass::draw(board, &[1], viewer).into_string()
}

const HOSTILE: [&str; 6] = [
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "</title><svg onload=alert(1)>",
    "'; DROP TABLE batches; --",
    "../../etc/passwd",
    "\u{202e}gnp.exe",
];

#[test]
fn no_name_becomes_markup() {
    for name in HOSTILE {
        let mut story = sample::tuesday(7000.0);
        story.batch = name.into();
        story.take(&sample::added(6990.0, 1.0, name));
        let says = CookSays::ThatWas { kg: None, name: Some(name.into()) };
        story.hear(Word { at: sample::at(6995.0), says, by: name.into() });
        let mut board = board(7000.0);
        let mut named = plan(name);
        named.additions[0].name = name.into();
        board.pots = vec![PotNow { plan: Arc::new(named), ..pot(name, story, 7000.0) }];
        board.kitchen = name.into();
        let viewer = Viewer { phone: Some(name.into()), ..Viewer::default() };
        let page = everything(&board, &viewer);
        for bad in ["<script>alert", "<img src=x", "<svg onload", "\u{202e}"] {
            assert!(!page.contains(bad), "{bad} in the page of {name}");
        }
        assert!(!page.contains(name) || escape(name) == name, "{name}");
    }
}

#[test]
fn an_address_leads_nowhere_but_to_the_pot() {
    assert_eq!(segment("../a b"), "%2E%2E%2Fa%20b");
    assert_eq!(segment("big"), "big");
}

#[test]
fn the_first_glance_answers_its_four_questions() {
    let glance = |board: &Board| glance::draw(0, &board.pots[0], 1).into_string();
    let calm = glance(&calm_board());
    for answer in ["All is well.", "Ready about", "between", "Next stir within 4 min", "Last, "] {
        assert!(calm.contains(answer), "{answer}: {calm}");
    }
    let due = glance(&board(7500.0));
    assert!(due.contains("Stir within 4 min") && !due.contains("All is well"), "{due}");
}

#[test]
fn nothing_is_said_to_be_well_that_is_not_known() {
    let mut board = board(0.0);
    board.pots[0].story = Arc::new(Story::new("a", sample::pot(), None));
    let page = glance::draw(0, &board.pots[0], 1).into_string();
    assert!(page.contains("Nothing is known yet.") && !page.contains("All is well"));
}

/// A pot in which no batch has begun.
fn without_batch(begins: Begins, heard: &[Event]) -> PotNow {
    let mut idle = Idle::new(begins);
    heard.iter().for_each(|event| idle.hear(event));
    let story = Story::new("", sample::pot(), None);
    PotNow { idle: Some(idle), ..pot("big", story, 0.0) }
}

#[test]
fn a_pot_without_a_batch_shows_what_its_sensors_say_and_how_one_begins() {
    let heard = [
        Event::Load(Ok(Kilograms::new(6.2).unwrap())),
        Event::Probe(Ok(Celsius::new(18.2).unwrap())),
    ];
    let pots = vec![without_batch(Begins::Laid("/var/lib/dekchi/big.toml".into()), &heard)];
    let board = Board { kitchen: "Harbour Lane Kitchen".into(), pots, ..Board::default() };
    let viewer = Viewer::default();
    let wall = pass::draw(&board, &[0], &viewer).into_string();
    for page in [pot::draw(0, &board.pots[0], 0, &viewer).into_string(), wall] {
        for said in ["Big pot", "No batch", "empty. The probe is at 18 °C.", "big.toml"] {
            assert!(page.contains(said), "{said}: {page}");
        }
        assert!(!page.contains("curve.svg"), "there is no curve yet: {page}");
    }
    assert_eq!(pot::title(&board.pots[0]), "Big pot: No batch");
}

#[test]
fn the_colours_of_the_page_are_those_of_the_drawings() {
    let style = style();
    assert!(style.contains("--hand:#c24a00;") && style.contains("--hand:#ff843d;"));
    let tint = |p: &Palette| p.hand.over(p.ground, 0.09);
    for p in [&PAPER, &NIGHT] {
        assert!(p.muted.contrast(tint(p)) >= 4.5 && p.ink.contrast(tint(p)) >= 4.5);
    }
}

#[test]
fn an_addition_that_was_put_right_stands_with_what_was_told_at_first() {
    let mut board = board(7000.0);
    let mut story = sample::tuesday(7000.0);
    let (at, kg) = story.additions().last().map(|a| (a.at, a.kg)).unwrap();
    let ago_s = sample::at(6995.0) - at;
    let what = What::Corrected { kg: 2.25, name: Some("stock".into()), ago_s };
    story.take(&sample::happened(6995.0, what));
    board.pots[0].story = Arc::new(story);
    let page = ledger::draw(&board.pots[0]).into_string();
    let first = format!(", at first {}", crate::show::words::kilograms(kg));
    assert!(page.contains("2.25 kg") && page.contains(&first), "{page}");
}

#[test]
fn how_long_ago_the_last_stir_was_is_told_as_of_now() {
    let mut board = board(7500.0);
    let mut story = sample::tuesday(7500.0);
    let why = crate::watch::standing::stir_due(301.0);
    story.notices.iter_mut().for_each(|notice| notice.why.clone_from(&why));
    story.take(&sample::shown(Snapshot {
        at: sample::at(8400.0),
        since_stir_s: Some(1205.0),
        raised: vec![Alarm::StirDue],
        ..Snapshot::default()
    }));
    let words = crate::show::words::of(&story, None).loud.unwrap().why;
    board.pots[0].story = Arc::new(story);
    let page = glance::draw(0, &board.pots[0], 1).into_string();
    for said in [&page, &words] {
        assert!(said.contains("over 20 min since the last stir: stir and scrape"), "{said}");
        assert!(!said.contains("over 5 min"), "{said}");
    }
}
