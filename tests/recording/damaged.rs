//! No bytes at all make the readers panic.

use dekchi::config::batch;
use dekchi::config::kitchen::Kitchen;
use dekchi::sense::recording::Recording;
use proptest::prelude::*;

use super::{BATCH, HEADER, KITCHEN, simmering};

/// Reads a recording to its end or to its first fault.
fn read_all(bytes: &[u8]) {
    let Ok(mut recording) = Recording::open("r.csv", bytes) else { return };
    let mut last = None;
    while let Ok(Some(row)) = recording.next_row() {
        assert!(last <= Some(row.at), "time never runs backwards");
        last = Some(row.at);
        for event in row.events() {
            std::hint::black_box(event);
        }
    }
}

/// Whatever is said of a bad file is one printable line a complaint.
fn read_config(text: &str) {
    let kitchen = Kitchen::parse("kitchen.toml", text);
    let good = Kitchen::parse("kitchen.toml", KITCHEN).unwrap();
    let batch = batch::parse("batch.toml", text, kitchen.as_ref().unwrap_or(&good));
    for complaints in [kitchen.err(), batch.err()].into_iter().flatten() {
        assert!(!complaints.0.is_empty());
        for complaint in complaints.0 {
            let line = complaint.to_string();
            assert!(!line.contains(char::is_control), "{line:?}");
        }
    }
}

/// The text with some of its bytes changed, dropped or doubled.
fn damaged(text: &str) -> impl Strategy<Value = Vec<u8>> + use<> {
    let text = text.as_bytes().to_vec();
    let blows = prop::collection::vec((any::<prop::sample::Index>(), any::<u8>(), 0..4_u8), 1..8);
    blows.prop_map(move |blows| {
        let mut bytes = text.clone();
        for (place, byte, kind) in blows {
            let at = place.index(bytes.len());
            match kind {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                2 if bytes.len() > 1 => drop(bytes.remove(at)),
                _ => bytes[at] = b"\n\",.-=[]{}#'eE09"[usize::from(byte) % 16],
            }
        }
        bytes
    })
}

proptest! {
    #[test]
    fn no_bytes_make_the_recording_reader_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        read_all(&bytes);
        read_all(&[HEADER.as_bytes(), &bytes].concat());
    }

    #[test]
    fn no_damage_makes_the_recording_reader_panic(bytes in damaged(&simmering(2.0))) {
        read_all(&bytes);
    }

    #[test]
    fn no_bytes_make_the_kitchen_and_batch_readers_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        read_config(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn no_damage_makes_the_kitchen_and_batch_readers_panic(
        kitchen in damaged(KITCHEN), batch in damaged(BATCH),
    ) {
        read_config(&String::from_utf8_lossy(&kitchen));
        read_config(&String::from_utf8_lossy(&batch));
    }
}
