//! Batches made up for the tests of this room, and a reader that holds XML to its rules.

use crate::batch::plan::Target;
use crate::batch::pot::Pot;
use crate::moment::Moment;
use crate::watch::action::{
    Action, Alarm, AlarmState, Happening, Lid, Notice, Snapshot, Spread, What,
};

use super::story::Story;

pub fn pot() -> Pot {
    Pot {
        name: "big".into(),
        base_diameter_m: 0.40,
        tare_kg: 6.2,
        lid_kg: 1.35,
        height_m: Some(0.30),
    }
}

pub fn at(t_s: f64) -> Moment {
    Moment::from_seconds(t_s).unwrap()
}

pub fn shown(snapshot: Snapshot) -> Action {
    Action::Show(Box::new(snapshot))
}

pub fn happened(t_s: f64, what: What) -> Action {
    Action::Happened(Happening { at: at(t_s), seen: at(t_s + 10.0), what })
}

pub fn added(t_s: f64, kg: f64, name: &str) -> Action {
    happened(t_s, What::Added { kg, sd_kg: 0.01, name: Some(name.into()) })
}

/// A base gravy of 23.6 kg that heats for half an hour, simmers under the lid, is infused, blended
/// and thinned, and then reduces, stirred every six minutes; seen up to `until_s`.
pub fn tuesday(until_s: f64) -> Story {
    let mut story = Story::new("Tuesday base", pot(), Some(Target::TotalSolids(0.118)));
    for action in tuesday_actions(until_s) {
        story.take(&action);
    }
    story
}

const LID_OFF_S: f64 = 5400.0;
const THINNED_S: f64 = 6300.0;

pub fn tuesday_actions(until_s: f64) -> Vec<Action> {
    let mut actions = Vec::new();
    let (mut kg, mut stirred_s) = (23.6, 0.0);
    for step in 0..=(until_s / 10.0) as u32 {
        let t = f64::from(step) * 10.0;
        let mut note = |action| actions.push(action);
        match step {
            250 => {
                kg += 0.96;
                note(added(t, 0.96, "spice infusion"));
            }
            540 => note(happened(t, What::LidOff)),
            560 => note(happened(t, What::Blended { for_s: 420.0 })),
            630 => {
                kg += 4.9;
                note(added(t, 4.9, "thinning water"));
            }
            634 => {
                kg -= 0.6;
                note(happened(t, What::Taken { kg: 0.6, sd_kg: 0.01 }));
            }
            _ => {}
        }
        if t - stirred_s >= if t < THINNED_S { 900.0 } else { 360.0 } {
            stirred_s = t;
            note(happened(t, What::Stirred { for_s: 25.0 }));
        }
        let index = (t - stirred_s) / if t < THINNED_S { 2400.0 } else { 420.0 };
        let boiling = (1800.0..LID_OFF_S).contains(&t) || t > THINNED_S + 600.0;
        let loss_kg_h = if t > THINNED_S + 600.0 { 4.2 } else { 0.3 };
        kg -= loss_kg_h / 360.0;
        if index > 0.7 {
            note(Action::Tell(Notice {
                at: at(t),
                alarm: Alarm::StirDue,
                state: AlarmState::Raised,
                why: "soft and thick, 5 min since the last stir".into(),
            }));
        }
        let left_s = (kg - 24.1) / loss_kg_h * 3600.0;
        let reducing = boiling && t > THINNED_S;
        note(shown(Snapshot {
            at: at(t),
            pot_c: Some(if boiling { 99.6 } else { (20.0 + t / 22.6).min(95.0) }),
            contents_kg: Some(kg),
            water_kg: Some(kg - 2.84),
            total_solids: Some(2.84 / kg),
            evaporation_kg_h: Some(loss_kg_h),
            heat_w: Some(2700.0),
            lid: Some(if t < LID_OFF_S { Lid::On } else { Lid::Off }),
            boiling: Some(boiling),
            boil_c: Some(99.8),
            target_kg: Some(24.1),
            target_in_s: reducing.then(|| Spread {
                p10: (left_s * 0.9).max(0.0),
                p50: left_s.max(0.0),
                p90: (left_s * 1.2).max(0.0),
            }),
            catch_index: Some(index),
            stir_within_s: Some(240.0),
            since_stir_s: Some(t - stirred_s),
            raised: if index > 0.7 { vec![Alarm::StirDue] } else { vec![] },
            ..Snapshot::default()
        }));
    }
    actions
}

/// Panics unless `text` is one well-formed XML element; returns its texts, references resolved.
///
/// XML 1.0 without DTD, processing instructions, comments and CDATA, which drawings do not use.
pub fn well_formed(text: &str) -> Vec<String> {
    let (mut open, mut texts, mut rest) = (Vec::new(), Vec::new(), text.trim());
    let mut roots = 0;
    while !rest.is_empty() {
        let Some(tag) = rest.strip_prefix('<') else {
            let end = rest.find('<').unwrap_or_else(|| panic!("text after the end: {rest:.40}"));
            assert!(!open.is_empty() || rest[..end].trim().is_empty(), "text outside");
            texts.push(resolved(&rest[..end]));
            rest = &rest[end..];
            continue;
        };
        let end = end_of_tag(tag);
        let (inside, after) = (&tag[..end], &tag[end + 1..]);
        rest = after;
        if let Some(name) = inside.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name.trim()), "closes what is not open");
            continue;
        }
        roots += usize::from(open.is_empty());
        let (inside, alone) = match inside.strip_suffix('/') {
            Some(inside) => (inside, true),
            None => (inside, false),
        };
        let name = inside.split_whitespace().next().unwrap();
        attributes(&inside[name.len()..]);
        if !alone {
            open.push(name);
        }
    }
    assert!(open.is_empty() && roots == 1, "left open: {open:?}, roots: {roots}");
    texts.retain(|text| !text.trim().is_empty());
    texts.iter().map(|text| text.trim().to_owned()).collect()
}

fn end_of_tag(tag: &str) -> usize {
    let mut quote = None;
    for (i, c) in tag.char_indices() {
        match (quote, c) {
            (None, '>') => return i,
            (None, '"' | '\'') => quote = Some(c),
            (Some(q), c) if c == q => quote = None,
            (_, '<') => panic!("'<' in a tag: {tag:.60}"),
            _ => {}
        }
    }
    panic!("a tag without its end: {tag:.60}")
}

fn attributes(mut rest: &str) {
    let mut seen = Vec::new();
    while !rest.trim().is_empty() {
        assert!(rest.starts_with(char::is_whitespace), "no space before {rest:.40}");
        rest = rest.trim_start();
        let (name, after) = rest.split_once('=').expect("an attribute has a value");
        assert!(!seen.contains(&name), "attribute {name} twice");
        assert!(name.chars().all(|c| c.is_alphanumeric() || "-:_".contains(c)), "{name}");
        seen.push(name);
        let quote = after.chars().next().filter(|c| "\"'".contains(*c)).expect("a quoted value");
        let end = after[1..].find(quote).expect("the value's end") + 1;
        resolved(&after[1..end]);
        rest = &after[end + 1..];
    }
}

/// References resolved; panics at one that XML does not know and at forbidden characters.
fn resolved(text: &str) -> String {
    assert!(text.chars().all(|c| c >= ' ' || "\t\n\r".contains(c)), "control character in {text}");
    let mut out = String::new();
    let mut parts = text.split('&');
    out.push_str(parts.next().unwrap_or_default());
    for part in parts {
        let (name, after) = part.split_once(';').expect("a reference ends");
        out.push(match name {
            "lt" => '<',
            "gt" => '>',
            "amp" => '&',
            "quot" => '"',
            "apos" | "#39" => '\'',
            other => panic!("unknown reference &{other};"),
        });
        out.push_str(after);
    }
    out
}

#[test]
fn the_reader_refuses_what_is_not_well_formed() {
    for bad in ["<a>", "<a></b>", "<a b=c/>", "<a>&nbsp;</a>", "<a b='1' b='2'/>", "<a/><b/>"] {
        assert!(std::panic::catch_unwind(|| well_formed(bad)).is_err(), "{bad}");
    }
    assert_eq!(well_formed("<a b='x'>1 &lt; 2<c/></a>"), ["1 < 2"]);
}
