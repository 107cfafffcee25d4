//! News by Server-Sent Events.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use dekchi::moment::Moment;
use dekchi::show::story::Story;
use dekchi::watch::action::{Action, Happening, What};
use tokio::time::timeout;

use crate::client::{Events, HANGS, settings, stand, usual};

fn stirred(story: &mut Story, for_s: f64) {
    let at = Moment::from_ms(7_000_000);
    story.take(&Action::Happened(Happening { at, seen: at, what: What::Stirred { for_s } }));
}

fn ids(data: &serde_json::Value) -> Vec<String> {
    let parts = data["parts"].as_array().unwrap();
    parts.iter().map(|part| part["id"].as_str().unwrap().to_owned()).collect()
}

/// What a page says it has.
fn after(page: &str) -> String {
    let (_, rest) = page.split_once("data-after=\"").unwrap();
    rest.split_once('"').unwrap().0.to_owned()
}

#[tokio::test]
async fn a_page_hears_what_changed_since_it_was_read_and_no_more() {
    let stand = usual();
    let had = after(&stand.get("/").await.body);
    let path = format!("/stream?pot=0&after={had}");
    let (mut events, answer) = Events::open(&stand, 1, &path, "").await;
    assert_eq!(answer.header("content-type"), Some("text/event-stream"));
    let (_, name, _) = timeout(HANGS, events.next()).await.unwrap().unwrap();
    assert_eq!(name, "pulse", "nothing was new");
    stand.change(|story| stirred(story, 25.0));
    let (id, name, data) = timeout(HANGS, events.next()).await.unwrap().unwrap();
    assert_eq!(name, "news");
    assert_ne!(id, had);
    let ids = ids(&data);
    assert!(
        ids.contains(&"p0-events".to_owned()) && ids.contains(&"p0-curve".to_owned()),
        "{ids:?}"
    );
    assert!(
        !ids.contains(&"p0-coming".to_owned()) && !ids.contains(&"p0-pass".to_owned()),
        "{ids:?}"
    );
    assert!(data.to_string().contains("Stirred, 25 s"));
}

#[tokio::test]
async fn who_slept_gets_what_he_missed_in_one_piece() {
    let stand = usual();
    let had = after(&stand.get("/").await.body);
    for n in 1..=3 {
        stand.change(|story| stirred(story, f64::from(n)));
        tokio::time::sleep(Duration::from_millis(300)).await;
    }
    let header = format!("last-event-id: {had}\r\n");
    let (mut events, _) = Events::open(&stand, 1, "/stream?pot=0&after=0-0", &header).await;
    let (_, name, data) = timeout(HANGS, events.next()).await.unwrap().unwrap();
    let told = data.to_string();
    assert!(
        name == "news"
            && ["1 s", "2 s", "3 s"].iter().all(|s| told.contains(&format!("Stirred, {s}")))
    );
    assert!(!ids(&data).contains(&"p0-coming".to_owned()));
}

#[tokio::test]
async fn who_comes_from_before_the_last_start_gets_everything() {
    let stand = usual();
    for had in ["deadbeef-17", "", "nonsense", "deadbeef-99999999999999999999999"] {
        let (mut events, _) =
            Events::open(&stand, 1, &format!("/stream?pot=0&after={had}"), "").await;
        let (_, name, data) = timeout(HANGS, events.next()).await.unwrap().unwrap();
        assert_eq!((name.as_str(), ids(&data).len()), ("news", 7), "{had}");
    }
}

#[tokio::test]
async fn the_pass_hears_of_every_pot_and_a_page_of_its_own() {
    let stand = stand(settings(true), &[("big", "a"), ("small", "b")]);
    let (mut pass, _) = Events::open(&stand, 1, "/stream", "").await;
    let (_, _, data) = timeout(HANGS, pass.next()).await.unwrap().unwrap();
    assert_eq!(ids(&data), ["p0-pass", "p0-curve", "p1-pass", "p1-curve"]);
    let (mut own, _) = Events::open(&stand, 1, "/stream?pot=1", "").await;
    let (_, _, data) = timeout(HANGS, own.next()).await.unwrap().unwrap();
    assert!(ids(&data).iter().all(|id| id.starts_with("p1-")));
    assert_eq!(data["alert"], "1 stir-due 6990000");
}

#[tokio::test]
async fn streams_end_when_the_page_ends() {
    let stand = usual();
    let mut streams = Vec::new();
    for _ in 0..5 {
        streams.push(Events::open(&stand, 1, "/stream", "").await.0);
    }
    let serving = stand.serving;
    tokio::task::spawn_blocking(|| serving.stop()).await.unwrap();
    for events in streams {
        timeout(HANGS, events.end()).await.unwrap();
    }
}

#[tokio::test]
async fn a_phone_that_was_forgotten_hears_no_more_of_a_closed_page() {
    let stand = stand(settings(false), &[("big", "a")]);
    let token = stand.phones.add("the pass");
    let cookie = format!("cookie: dekchi={token}\r\n");
    let (events, answer) = Events::open(&stand, 1, "/stream", &cookie).await;
    assert_eq!(answer.status, 200);
    drop(events);
    stand.post("/forget", &token, "").await;
    assert_eq!(Events::open(&stand, 1, "/stream", &cookie).await.1.status, 401);
}

/// Two hundred listen, some without reading, while a sampler does its ten a second. What it took is
/// printed, not asserted: `cargo test --test page two_hundred -- --nocapture`.
#[tokio::test]
async fn two_hundred_streams_are_served_or_refused_and_the_sampling_goes_on() {
    let stand = Arc::new(usual());
    let (stop, samples) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicUsize::new(0)));
    let sampler = {
        let (stand, stop, samples) = (Arc::clone(&stand), Arc::clone(&stop), Arc::clone(&samples));
        std::thread::spawn(move || sample(&stand, &stop, &samples))
    };
    let mut open = Vec::new();
    let mut refused = 0;
    for n in 0..200u8 {
        let (events, answer) = Events::open(&stand, 2 + n / 40, "/stream?pot=0", "").await;
        match answer.status {
            200 => open.push(events),
            503 => refused += 1,
            status => panic!("stream {n}: {status}"),
        }
    }
    assert_eq!((open.len(), refused), (160, 40));
    for events in open.iter_mut().take(20) {
        assert!(timeout(HANGS, events.next()).await.unwrap().is_some());
    }
    assert_eq!(stand.get("/health").await.status, 200);
    let before = samples.load(Ordering::Relaxed);
    while samples.load(Ordering::Relaxed) < before + 50 {
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    stop.store(true, Ordering::Relaxed);
    let mut periods = sampler.join().unwrap();
    periods.sort();
    let at = |share: f64| periods[((periods.len() - 1) as f64 * share) as usize];
    println!(
        "{} periods of 100 ms under 160 streams: median {:?}, 99 % under {:?}, longest {:?}",
        periods.len(),
        at(0.5),
        at(0.99),
        at(1.0)
    );
    drop(open);
    // The places come free again.
    loop {
        if Events::open(&stand, 1, "/stream", "").await.1.status == 200 {
            break;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

/// Ten times a second, as the scale does: the board is shown anew.
#[expect(
    clippy::disallowed_methods,
    reason = "a sampler of the test's own, whose periods are measured"
)]
fn sample(stand: &crate::client::Stand, stop: &AtomicBool, samples: &AtomicUsize) -> Vec<Duration> {
    let (mut periods, mut last) = (Vec::new(), Instant::now());
    while !stop.load(Ordering::Relaxed) {
        std::thread::sleep(Duration::from_millis(100));
        stand.change(|story| stirred(story, 1.0 + samples.load(Ordering::Relaxed) as f64));
        samples.fetch_add(1, Ordering::Relaxed);
        periods.push(last.elapsed());
        last = Instant::now();
    }
    periods
}
