//! Every text that comes from outside, spoilt at random: no reader panics, hangs, or lets through what
//! cannot be.
//!
//! Each target starts from sound examples; their bytes are changed, dropped, doubled, cut, joined and
//! strewn with words of the grammar, from a seed. A round is one spoilt text.

use dekchi::batch::larder::Larder;
use dekchi::batch::measure;
use dekchi::config::batch;
use dekchi::config::kitchen::Kitchen;
use dekchi::quantity::Celsius;
use dekchi::sense::calibration::book::Book;
use dekchi::sense::onewire_kernel;
use dekchi::sense::recording::Recording;
use dekchi::show::escape::{escape, printable};
use dekchi::show::table::{Cell, csv};
use dekchi::tell::mqtt::topic::{Topics, level};
use dekchi::tell::push::Subscription;
use dekchi::watch::event::CookSays;
use dekchi::watch::note;
use dekchi::watch::words::{said_back, understand};

use super::chance::{Chance, asked};

/// A parser, sound examples of what it reads, words that mean something to it, and what must hold.
struct Target {
    name: &'static str,
    examples: &'static [&'static str],
    words: &'static [&'static str],
    check: fn(&[u8]),
}

const KITCHEN: &str = include_str!("../../config/kitchen.toml");
const FULL_KITCHEN: &str = "[site]\nname = \"Harbour Lane\"\naltitude_m = 40.0\npressure_hpa = 1008.0\n\
    [board]\nonewire_root = \"/sys/bus/w1/devices\"\ncalibrations = \"c.toml\"\n\
    [mqtt]\nhost = \"broker.example\"\nport = 8883\ntls = true\nboard = \"quay\"\ncommands = true\n\
    [page]\nlisten = \"127.0.0.1:8080\"\n\
    [alerts.webhook]\nurl = \"https://hooks.harbour.example/pots\"\nsecret_file = \"s\"\n\
    [[alerts.person]]\nname = \"pass\"\nby = [\"webhook\"]\nfrom = \"medium\"\nat_once = \"high\"\n\
    quiet = \"22:30-06:30\"\n[[pot]]\nname = \"big\"\nbase_diameter_m = 0.4\ntare_kg = 6.2\n\
    lid_kg = 1.35\n[pot.sensors]\nprobe = \"28-0316a2795f01\"\nscale = \"nau7802\"\n";
const W1: &str = "04 06 4b 46 7f ff 0c 10 53 : crc=53 YES\n04 06 4b 46 7f ff 0c 10 53 t=96250\n";
const POWER_ON: &str =
    "50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n50 05 4b 46 7f ff 0c 10 1c t=85000\n";
const RECORDING: &str = "t_s,probe_c,load_kg,base_c,platform_c,note\n0.0,98.1,40.0,101,25,\n\
    0.1,,39.998,,,\n1.0,85.0,40.01,,,cook: stirred\n2.5,98.2,39.9,,,fault: scale saturated\n";
const BOOK: &str = "[[scale]]\nname = \"big\"\nmade = \"2026-03-03\"\nzero_counts = 8123.5\n\
    counts_per_kg = 21044.0\ntop_kg = 60.0\nat_c = 24.0\n\n[[probe]]\nrom = \"28-0316a2795f01\"\n\
    made = \"2026-03-03\"\noffset_k = 0.2\nslope = 0.001\n";
const TOML_WORDS: &[&str] = &[
    "\"",
    "'''",
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "=",
    "\n",
    "#",
    "nan",
    "inf",
    "-inf",
    "1e999",
    "-0.0",
    "true",
    "99999999999999999999",
    "2026-03-03T09:00:00Z",
    "\\u0000",
    "\u{202e}",
    "kg = ",
    "name",
    "[pot]",
    "[[pot]]",
    "[site]",
    "[start]",
    "composition = { water = 2 }",
    "= [[[[[[[[[[[[",
];
const NAMES: &[&str] = &[
    "<script>", "\"", "'", "&", "=cmd()", "+1", "-1", "@a", "../", "%2f", "\u{0}", "\u{7f}",
    "\u{202e}", "\r\n", "😀", "/#", "+", "\u{fffe}", "é", "]]>", "--",
];
const SAYINGS: &[&str] = &[
    "added",
    "that was",
    "kg",
    "g",
    "ml",
    "l",
    "1.2",
    "-3",
    "1e400",
    "nan",
    "½",
    "1/0",
    "1 1/2",
    "cream",
    "acknowledge",
    "shelve",
    "stir-due",
    "10 min",
    "9999999 h",
    " ",
    "\u{a0}",
    "cups",
    "salt",
];

const TARGETS: &[Target] = &[
    Target {
        name: "recording",
        examples: &[RECORDING],
        words: &[
            ",", "\n", "\r", "\"", "nan", "inf", "-1", "1e300", "t_s", "load_kg", "note", "cook: ",
            "fault: ",
        ],
        check: recording,
    },
    Target {
        name: "kitchen",
        examples: &[KITCHEN, FULL_KITCHEN],
        words: TOML_WORDS,
        check: kitchen,
    },
    Target {
        name: "batch",
        examples: &[
            include_str!("../../config/tuesday-base.toml"),
            include_str!("../../config/harbour-base.toml"),
        ],
        words: TOML_WORDS,
        check: batch_file,
    },
    Target { name: "calibration book", examples: &[BOOK], words: TOML_WORDS, check: book },
    Target {
        name: "1-Wire text",
        examples: &[W1, POWER_ON],
        words: &["YES", "NO", "t=", "t=85000", "ff ", "00 ", "crc=", "\n", " : ", "-", "+"],
        check: onewire,
    },
    Target {
        name: "cook's words",
        examples: &[
            "stirred",
            "that was 1.2 kg cream",
            "added 500 ml water",
            "shelve stir-due 10 min",
            "acknowledge catching",
            "lid off",
            "flame off",
        ],
        words: SAYINGS,
        check: words,
    },
    Target {
        name: "measures",
        examples: &["1 1/2 cups onion", "2 tbsp salt", "500 ml water"],
        words: SAYINGS,
        check: measures,
    },
    Target {
        name: "notes",
        examples: &["cook: stirred", "fault: scale saturated", "air 1008.0"],
        words: SAYINGS,
        check: notes,
    },
    Target {
        name: "MQTT topics",
        examples: &["dekchi/quay/big/set", "dekchi/quay/größer/set"],
        words: NAMES,
        check: topics,
    },
    Target {
        name: "names",
        examples: &["Tuesday base", "spice infusion"],
        words: NAMES,
        check: names,
    },
    Target {
        name: "browser's subscription",
        examples: &[
            "{\"endpoint\":\"https://push.example/1\",\"keys\":{\"p256dh\":\"BNcRd\",\"auth\":\"tBHI\"}}",
        ],
        words: &["{", "}", "\"", ":", "null", "[", "\\u0000", "http://", "https://", "1e999"],
        check: subscription,
    },
];

/// A spoilt text made from `examples`.
fn spoilt(target: &Target, chance: &mut Chance) -> Vec<u8> {
    let mut bytes = chance.pick(target.examples).as_bytes().to_vec();
    for _ in 0..=chance.below(6) {
        let place = chance.below(bytes.len() + 1);
        let end = (place + 1 + chance.below(20)).min(bytes.len());
        match chance.below(8) {
            0 => bytes.truncate(place),
            1 => drop(bytes.drain(place.min(end)..end)),
            2 => {
                let again = bytes[place.min(end)..end].to_vec();
                bytes.splice(place..place, again);
            }
            3 | 4 => {
                let word = chance.pick(target.words).bytes();
                bytes.splice(place..place, word);
            }
            5 => bytes.extend(chance.pick(target.examples).bytes()),
            6 => bytes.insert(place, chance.below(256) as u8),
            _ => {
                let flipped = 1 << chance.below(8);
                bytes.get_mut(place).into_iter().for_each(|byte| *byte ^= flipped);
            }
        }
    }
    bytes
}

fn recording(bytes: &[u8]) {
    let Ok(mut recording) = Recording::open("r.csv", bytes) else { return };
    let mut last = None;
    while let Ok(Some(row)) = recording.next_row() {
        assert!(last <= Some(row.at));
        last = Some(row.at);
        row.events().for_each(drop);
    }
}

fn kitchen(bytes: &[u8]) {
    match Kitchen::parse("k.toml", &String::from_utf8_lossy(bytes)) {
        Ok(kitchen) => {
            for pot in &kitchen.pots {
                assert!(pot.tare_kg.is_finite() && pot.tare_kg >= 0.0 && pot.base_diameter_m > 0.0);
            }
        }
        Err(complaints) => are_sentences(complaints.0.iter().map(ToString::to_string)),
    }
}

fn batch_file(bytes: &[u8]) {
    let kitchen = Kitchen::parse("kitchen.toml", KITCHEN).unwrap();
    match batch::parse("b.toml", &String::from_utf8_lossy(bytes), &kitchen) {
        Ok(plan) => {
            assert!(plan.start.contents_kg > 0.0 && plan.start.contents_kg <= 2000.0);
            let sound = |a: &dekchi::batch::plan::PlannedAddition| a.kg > 0.0 && a.kg <= 2000.0;
            assert!(plan.additions.iter().all(sound), "{:?}", plan.additions);
        }
        Err(complaints) => are_sentences(complaints.0.iter().map(ToString::to_string)),
    }
}

fn are_sentences(complaints: impl Iterator<Item = String>) {
    let complaints: Vec<String> = complaints.collect();
    assert!(!complaints.is_empty());
    for line in complaints {
        assert!(!line.is_empty() && !line.contains(char::is_control), "{line:?}");
    }
}

fn book(bytes: &[u8]) {
    if let Ok(book) = Book::parse(&String::from_utf8_lossy(bytes)) {
        let kept = book.text().unwrap();
        assert_eq!(Book::parse(&kept), Ok(book));
    }
}

fn onewire(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    if let Ok(c) = onewire_kernel::reading(&text).map(Celsius::get) {
        assert!((-55.0..=125.0).contains(&c), "{c}");
        // What is believed has its checksum and the kernel's word.
        assert!(text.lines().next().unwrap().trim_end().ends_with("YES"), "{text}");
    }
}

fn words(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let larder = Larder::bundled();
    match understand(&text, &larder) {
        Ok(says) => {
            let kg = match &says {
                CookSays::ThatWas { kg, .. } | CookSays::Was { kg, .. } => *kg,
                CookSays::Added { kg, .. } => Some(*kg),
                _ => None,
            };
            assert!(kg.is_none_or(|kg| kg.is_finite() && kg > 0.0), "{text:?} weighs {kg:?}");
            if let CookSays::Shelve { for_s, .. } = &says {
                assert!((0.0..=86_400.0).contains(for_s), "{text:?}");
            }
            assert!(understand(&said_back(&says), &larder).is_ok(), "{text:?} {says:?}");
        }
        Err(why) => assert!(!why.to_string().is_empty()),
    }
}

fn measures(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    if let Ok((amount, _)) = measure::measured(&text) {
        let _ = format!("{amount:?}");
    }
}

fn notes(bytes: &[u8]) {
    if let Ok(event) = note::event(&String::from_utf8_lossy(bytes)) {
        assert!(note::of(&event).is_some(), "{event:?}");
    }
}

fn topics(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    if let Some(pot) = Topics::of("quay").pot_of_set(&text) {
        assert!(!pot.is_empty() && !pot.contains('/') && text.starts_with("dekchi/quay/"));
    }
    let level = level(&text);
    assert!(!level.is_empty() && !level.contains(['/', '+', '#', '\0']), "{level:?}");
}

fn names(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    assert!(!escape(&text).contains(['<', '>', '"', '\'']), "{text:?}");
    assert!(!printable(&text).contains(char::is_control), "{text:?}");
    let table = csv(&["name"], &[vec![Cell::Text(text.clone().into_owned())]]);
    let cell = table.strip_prefix("name\r\n").unwrap();
    assert!(!cell.trim_start().starts_with(['=', '+', '-', '@']), "{cell:?}");
    assert_eq!(cell.matches('\n').count(), 1, "{cell:?}");
}

fn subscription(bytes: &[u8]) {
    if let Some(subscription) = Subscription::parse("pass", &String::from_utf8_lossy(bytes)) {
        assert!(subscription.endpoint.starts_with("https://"), "{}", subscription.endpoint);
    }
}

fn spoil(target: &Target, seed: u64, rounds: u64) {
    let mut chance = Chance::new(seed ^ target.name.len() as u64);
    for round in 0..rounds {
        let bytes = spoilt(target, &mut chance);
        let shown = String::from_utf8_lossy(&bytes).into_owned();
        let outcome = std::panic::catch_unwind(|| (target.check)(&bytes));
        assert!(outcome.is_ok(), "{}, seed {seed}, round {round}: {shown:?}", target.name);
    }
}

#[test]
fn no_spoilt_text_breaks_its_reader() {
    TARGETS.iter().for_each(|target| spoil(target, 1, 3_000));
}

/// `cargo test --test faults -- --ignored spoilt_texts_by_the_million --nocapture`
#[test]
#[ignore = "millions of texts: minutes"]
fn spoilt_texts_by_the_million() {
    let (seed, rounds) = (asked("DEKCHI_SEED", 7), asked("DEKCHI_ROUNDS", 1_000_000));
    for target in TARGETS {
        spoil(target, seed, rounds);
        eprintln!("{}: {rounds} spoilt texts", target.name);
    }
}
