//! The daemon while its card is full, and while its process stands still.

use std::fs;
use std::process::{Command, Stdio};
use std::time::Duration;

use crate::broker::{Broker, Subscriber};
use crate::kitchen::{Kitchen, Running, begins_as_recorded, nothing_is_lost};

/// Runs what it is given beside a small file system on `store`, which only they see. It does what it is
/// asked for by files laid beside, and keeps a copy of the store in the end.
const HANDYMAN: &str = "\
mount -t tmpfs -o size=300k none store || exit 99
setpriv --pdeathsig KILL \"$@\" & pid=$!
while kill -0 $pid 2>/dev/null; do
    if [ -e fill ]; then rm fill; cat /dev/zero > store/ballast; fi
    if [ -e free ]; then rm free; rm store/ballast; fi
    if [ -e stop ]; then rm stop; kill -TERM $pid; fi
    sleep 0.1
done
wait $pid; status=$?
cp -r store kept
exit $status";

/// `None` where this machine does not permit a file system of one's own.
fn on_a_small_card(kitchen: &Kitchen) -> Option<Running> {
    fs::create_dir_all(kitchen.path("store")).unwrap();
    let unshare = |script: &str| {
        let mut command = Command::new("unshare");
        command.args(["--user", "--map-root-user", "--mount", "sh", "-c", script, "sh"]);
        command.current_dir(kitchen.path("")).stdout(Stdio::null());
        command
    };
    let permitted =
        unshare("mount -t tmpfs -o size=300k none store").stderr(Stdio::null()).status();
    if !permitted.is_ok_and(|status| status.success()) {
        eprintln!("SKIPPED: this machine lets nobody mount a small card, so none was filled");
        return None;
    }
    let run = kitchen.command(&[]);
    let mut command = unshare(HANDYMAN);
    command.arg(run.get_program()).args(run.get_args());
    command.stderr(fs::File::create(kitchen.path("log")).unwrap());
    Some(Running::of(command.spawn().unwrap()))
}

/// The latest reading's time, s.
fn told_s(subscriber: &Subscriber) -> f64 {
    let readings = subscriber.all.iter().filter(|seen| seen.topic.ends_with("/reading"));
    readings.filter_map(|seen| seen.json()["t_s"].as_f64()).fold(0.0, f64::max)
}

fn watches_on(subscriber: &mut Subscriber) {
    let before_s = told_s(subscriber);
    subscriber.wait_for("later readings", |seen| {
        seen.topic.ends_with("/reading") && seen.json()["t_s"].as_f64() > Some(before_s + 30.0)
    });
}

#[test]
fn a_card_that_is_full_is_told_and_the_pot_is_watched_on_and_nothing_is_lost() {
    let broker = Broker::open();
    let mut subscriber = Subscriber::to(&broker, "dekchi/#");
    let kitchen = Kitchen::new(broker.port, "");
    let Some(running) = on_a_small_card(&kitchen) else { return };
    watches_on(&mut subscriber);
    fs::write(kitchen.path("fill"), "").unwrap();
    subscriber.news("the trouble in the status", |seen| {
        seen.topic.ends_with("/status") && seen.text().contains("disk is full")
    });
    watches_on(&mut subscriber);
    fs::write(kitchen.path("free"), "").unwrap();
    subscriber.news("the status without trouble", |seen| {
        seen.topic.ends_with("/status") && seen.json()["trouble"] == serde_json::json!([])
    });
    fs::write(kitchen.path("stop"), "").unwrap();
    assert!(running.ended().success(), "{}", kitchen.log());
    subscriber.status("disconnected");
    nothing_is_lost(&kitchen.path("kept/dekchi.sqlite"), &subscriber);
}

/// As the handyman, with a card of ext4 on a loop device; `break` lets the file system believe that its
/// card failed, as the kernel does after an error of the journal: it is read-only from then on, with
/// files open in it. What comes then is what a person does: fsck, mount, look.
const SURGEON: &str = "\
truncate -s 16M card && mkfs.ext4 -q card && mount -o loop card store || exit 99
setpriv --pdeathsig KILL \"$@\" & pid=$!
while kill -0 $pid 2>/dev/null; do
    if [ -e break ]; then rm break; mount -o remount,abort store || exit 98; fi
    if [ -e stop ]; then rm stop; kill -TERM $pid; fi
    sleep 0.1
done
wait $pid; status=$?
umount store || exit 97
fsck.ext4 -p card >/dev/null; [ $? -le 1 ] || exit 96
mount -o loop card store && cp -r store kept && umount store || exit 95
exit $status";

/// `None` where this machine does not permit loop devices.
fn on_a_failing_card(kitchen: &Kitchen) -> Option<Running> {
    fs::create_dir_all(kitchen.path("store")).unwrap();
    let unshare = |script: &str| {
        let mut command = Command::new("unshare");
        command.args(["--mount", "sh", "-c", script, "sh"]);
        command.current_dir(kitchen.path("")).stdout(Stdio::null());
        command
    };
    let trial = "truncate -s 16M trial && mkfs.ext4 -q trial && mount -o loop trial store";
    let permitted = unshare(trial).stderr(Stdio::null()).status();
    if !permitted.is_ok_and(|status| status.success()) {
        eprintln!("SKIPPED: this machine lets nobody mount a loop device, so no card failed");
        return None;
    }
    let run = kitchen.command(&[]);
    let mut command = unshare(SURGEON);
    command.arg(run.get_program()).args(run.get_args());
    command.stderr(fs::File::create(kitchen.path("log")).unwrap());
    Some(Running::of(command.spawn().unwrap()))
}

#[test]
fn a_card_that_turns_read_only_under_the_daemon_is_told_and_what_was_kept_stays() {
    let broker = Broker::open();
    let mut subscriber = Subscriber::to(&broker, "dekchi/#");
    let kitchen = Kitchen::new(broker.port, "");
    let Some(running) = on_a_failing_card(&kitchen) else { return };
    watches_on(&mut subscriber);
    let before_s = told_s(&subscriber);
    fs::write(kitchen.path("break"), "").unwrap();
    subscriber.news("the trouble in the status", |seen| {
        seen.topic.ends_with("/status") && seen.text().contains("the disk is read-only")
    });
    // Watched and told on, from memory alone.
    watches_on(&mut subscriber);
    subscriber.wait_for("the addition", |seen| seen.text().contains("\"what\":\"added\""));
    fs::write(kitchen.path("stop"), "").unwrap();
    assert_eq!(running.ended().code(), Some(74), "{}", kitchen.log());
    assert!(kitchen.log().contains("the store was not written: the disk is read-only"));
    subscriber.status("disconnected");
    let kept_s = begins_as_recorded(&kitchen.path("kept/dekchi.sqlite"));
    assert!(
        kept_s >= before_s - 12.0,
        "{kept_s} s are kept of {before_s} s before the card failed"
    );
}

#[test]
fn a_process_that_stood_still_for_a_minute_catches_up_without_a_false_word() {
    let broker = Broker::open();
    let mut subscriber = Subscriber::to(&broker, "dekchi/#");
    let kitchen = Kitchen::new(broker.port, "");
    let running = kitchen.run(&[]);
    watches_on(&mut subscriber);
    running.signal("STOP");
    std::thread::sleep(Duration::from_secs(3));
    running.signal("CONT");
    watches_on(&mut subscriber);
    subscriber.wait_for("the addition", |seen| seen.text().contains("\"what\":\"added\""));
    running.signal("TERM");
    assert!(running.ended().success(), "{}", kitchen.log());
    subscriber.status("disconnected");
    nothing_is_lost(&kitchen.path("store/dekchi.sqlite"), &subscriber);
    let said = subscriber.all.iter().filter(|seen| seen.topic.ends_with("/event"));
    let said: Vec<String> = said.map(|seen| seen.json()["what"].to_string()).collect();
    assert!(said.iter().all(|what| ["\"added\"", "\"boil\""].contains(&what.as_str())), "{said:?}");
    let alerts = subscriber.all.iter().filter(|seen| seen.text().contains("-fault"));
    assert_eq!(alerts.count(), 0);
}
