//! How long a sample takes to whoever subscribes, beside a bare publish by the same library.
//!
//! The recording's rows come at whole tenths of a second; the reading of a second is published when the
//! sample that ends it has come, and carries that sample's time. What is measured is the time from then
//! until the subscriber has it.

use std::process::{Command, Stdio};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use rumqttc::v5::mqttbytes::QoS;
use rumqttc::v5::mqttbytes::v5::Packet;
use rumqttc::v5::{AsyncClient, Event, MqttOptions};

use crate::broker::Broker;
use crate::kitchen::{Kitchen, Running};

fn now_ms() -> f64 {
    SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_secs_f64() * 1000.0
}

fn client(port: u16, name: &str) -> (AsyncClient, rumqttc::v5::EventLoop) {
    AsyncClient::new(MqttOptions::new(name, "127.0.0.1", port), 64)
}

/// p50 and p99.
fn middle_and_tail(mut ms: Vec<f64>) -> (f64, f64) {
    ms.sort_by(f64::total_cmp);
    (ms[ms.len() / 2], ms[ms.len() * 99 / 100])
}

/// Milliseconds from the time in each payload of `topic` until it is here, so many of them.
async fn delays(
    port: u16,
    topic: &str,
    many: usize,
    time_of: impl Fn(&[u8]) -> Option<f64>,
) -> Vec<f64> {
    let (subscriber, mut line) = client(port, topic);
    subscriber.subscribe(topic, QoS::AtLeastOnce).await.unwrap();
    let mut delays = Vec::new();
    while delays.len() < many {
        if let Event::Incoming(Packet::Publish(publish)) = line.poll().await.unwrap() {
            let fresh = time_of(&publish.payload).filter(|_| !publish.retain);
            delays.extend(fresh.map(|sent_ms| now_ms() - sent_ms));
        }
    }
    delays
}

/// Publishes the time, ten times a second.
async fn publish_bare(port: u16) {
    let (publisher, mut line) = client(port, "bare-publisher");
    tokio::spawn(async move { while line.poll().await.is_ok() {} });
    loop {
        let payload = format!("{:.3}{}", now_ms(), " ".repeat(500));
        publisher.publish("bare", QoS::AtLeastOnce, false, payload).await.unwrap();
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
}

fn reading_ms(payload: &[u8]) -> Option<f64> {
    serde_json::from_slice::<serde_json::Value>(payload).ok()?["utc_ms"].as_f64()
}

/// `cargo test --test mqtt -- --ignored a_sample_is --nocapture`; the program is this build's, or the one
/// that `DEKCHI_BINARY` names.
#[test]
#[ignore = "two minutes in real time, for the table of figures"]
fn a_sample_is_with_its_subscriber_within_twenty_milliseconds() {
    let broker = Broker::open();
    let kitchen = Kitchen::new(broker.port, "");
    let port = broker.port;
    let run = kitchen.command(&["--speed", "1"]);
    let usual = run.get_program().to_owned();
    let mut command = Command::new(std::env::var_os("DEKCHI_BINARY").unwrap_or(usual));
    command.args(run.get_args()).current_dir(kitchen.path("")).stderr(Stdio::null());
    let running = Running::of(command.spawn().unwrap());
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let (readings, bare) = runtime.block_on(async move {
        tokio::spawn(publish_bare(port));
        let readings = delays(port, "dekchi/quay/big/reading", 60, reading_ms);
        let time = |payload: &[u8]| std::str::from_utf8(payload).ok()?.trim().parse().ok();
        let bare = delays(port, "bare", 1100, time);
        tokio::join!(readings, bare)
    });
    running.signal("TERM");
    let ((p50, p99), (bare_p50, bare_p99)) = (middle_and_tail(readings), middle_and_tail(bare));
    eprintln!(
        "sample to subscriber: p50 {p50:.1} ms, p99 {p99:.1} ms; \
         a bare publish: p50 {bare_p50:.1} ms, p99 {bare_p99:.1} ms"
    );
    assert!(p99 - bare_p99 < 20.0, "{p99}");
}
