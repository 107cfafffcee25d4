use crate::batch::stove::{Gas, Stove};
use crate::show::drawing::{Bounds, Shape, Text};
use crate::show::palette::PAPER;
use crate::show::sample::{happened, pot, shown, tuesday, tuesday_actions, well_formed};
use crate::watch::action::{Action, Sensor, Snapshot, What};

use super::*;

const PAGE: Look =
    Look { width: 1000, density: 1, dark: false, set_in: Type::FromPage, bare: false };
/// On the page, where heading and figures stand as text.
const BARE: Look = Look { bare: true, ..PAGE };
const PHONE: Look = Look { width: 400, ..PAGE };

fn compared(stories: Vec<(&str, Story)>, align: Align) -> Comparison {
    let entry = |(label, story): (&str, Story)| Entry { label: label.into(), story, stove: None };
    Comparison::of(stories.into_iter().map(entry).collect(), align)
}

/// Tuesday's batch with every loss multiplied, and every so many stirs left out.
fn like_tuesday(more: f64, stirs: usize) -> Story {
    let mut story = Story::new("Tuesday base", pot(), None);
    let (mut n, mut first) = (0, None);
    for action in tuesday_actions(9000.0) {
        match action {
            Action::Happened(ref h) if matches!(h.what, What::Stirred { .. }) => {
                n += 1;
                if n % stirs == 0 {
                    story.take(&action);
                }
            }
            Action::Show(s) => {
                let first = *first.get_or_insert(s.contents_kg.unwrap());
                let kg = s.contents_kg.map(|kg| kg + (kg - first) * (more - 1.0));
                story.take(&shown(Snapshot { contents_kg: kg, ..*s }));
            }
            other => story.take(&other),
        }
    }
    story
}

fn eight() -> Comparison {
    let stories = (0u32..8).map(|n| {
        let story = like_tuesday(0.7 + 0.12 * f64::from(n), 1 + n as usize % 3);
        Entry { label: format!("4{n}"), story, stove: None }
    });
    Comparison::of(stories.collect(), Align::Start)
}

fn stands_well(drawing: &Drawing) {
    let paper = drawing.bounds();
    let texts: Vec<(&Text, Bounds)> =
        drawing.texts().map(|text| (text, text.bounds().grown(-text.size * 0.12))).collect();
    for (i, (text, bounds)) in texts.iter().enumerate() {
        assert!(bounds.within(&paper), "{:?} leaves the paper", text.words);
        for (other, others) in &texts[..i] {
            assert!(!bounds.meets(others), "{:?} stands on {:?}", text.words, other.words);
        }
    }
}

#[test]
fn every_word_stands_clear_whatever_is_compared() {
    let two = |align| compared(vec![("41", tuesday(8000.0)), ("44", tuesday(9000.0))], align);
    let empty = Story::new("nothing", pot(), None);
    let odd = vec![("a name that is rather long", empty), ("=1+1", tuesday(0.0))];
    let all = [eight(), compared(odd, Align::Boil), Comparison::of(vec![], Align::Start)];
    for comparison in Align::ALL.map(two).iter().chain(&all) {
        for look in [
            PAGE,
            PHONE,
            BARE,
            Look { bare: true, ..PHONE },
            Look { width: 1920, dark: true, ..PAGE },
        ] {
            let drawing = draw(comparison, look);
            stands_well(&drawing);
            well_formed(&paint::svg(&drawing, look.set_in).unwrap());
        }
    }
}

#[test]
fn eight_curves_differ_without_colour_and_are_named_on_the_line_and_at_the_end() {
    let pens: Vec<_> = (0..MOST).map(|n| chart::pen(n, &PAPER, 14.0)).collect();
    for (i, a) in pens.iter().enumerate() {
        for b in &pens[..i] {
            assert!(a.2 != b.2 || (a.1 - b.1).abs() > 0.8, "{a:?} {b:?}");
        }
    }
    let drawing = draw(&eight(), PAGE);
    for n in 0..MOST {
        let label = format!("4{n}");
        let times = drawing.texts().filter(|text| text.words == label).count();
        // On the line, at its end, by its strip and over its column.
        assert_eq!(times, 4, "{label}");
    }
}

#[test]
fn beside_its_words_the_drawing_does_not_say_them_again() {
    let comparison = compared(vec![("41", tuesday(8000.0)), ("44", tuesday(9000.0))], Align::Start);
    let (whole, bare) = (draw(&comparison, PAGE), draw(&comparison, BARE));
    let says = |drawing: &Drawing, words: &str| drawing.texts().any(|t| t.words.contains(words));
    for words in ["Batches compared", "longest unstirred"] {
        assert!(says(&whole, words) && !says(&bare, words), "{words}");
    }
    assert!(says(&bare, "in the pot, kg") && bare.told == whole.told);
}

#[test]
fn aligned_at_the_boil_every_curve_has_its_boil_at_nought() {
    let stories = vec![("41", tuesday(8000.0)), ("44", tuesday(9000.0))];
    let comparison = compared(stories, Align::LastAddition);
    for batch in &comparison.batches {
        assert!((batch.origin_s - 6300.0).abs() < 1e-9 && batch.aligned);
    }
    let unboiled = compared(vec![("41", tuesday(600.0))], Align::LastAddition);
    assert!(!unboiled.batches[0].aligned);
    assert_eq!(unboiled.sentences(), ["Not aligned at the last addition, for it had none: 41."]);
}

#[test]
fn figures_are_those_of_the_batch() {
    let figures = Figures::of(&tuesday(9000.0), None);
    // 23.6 kg and 0.96 + 4.9 − 0.6 in and out; 0.3 kg/h for 6900 s and 4.2 kg/h for 2100 s.
    let lost = 0.3 * 6900.0 / 3600.0 + 4.2 * 2100.0 / 3600.0;
    assert!((figures.boiled_off_kg.unwrap() - lost).abs() < 0.01, "{figures:?}");
    assert!((figures.yield_kg.unwrap() - (23.6 + 0.96 + 4.9 - 0.6 - lost)).abs() < 0.02);
    assert!((figures.unstirred_s.unwrap() - 900.0).abs() <= 10.0, "{figures:?}");
    assert_eq!(figures.heat_w, Some(2700.0));
    assert_eq!(figures.target_after_s, None);
}

#[test]
fn gas_is_reckoned_from_the_heat_that_was_taken_up() {
    // 2700 W for 9000 s are 24.3 MJ; at 0.4 of propane's 46.35 MJ/kg net they take 1.311 kg.
    let stove = Stove::new(8000.0, Gas::Propane, Some(0.4));
    let figures = Figures::of(&tuesday(9000.0), Some(&stove));
    assert!((figures.gas_kg.unwrap() - 1.311).abs() < 0.005, "{figures:?}");
    assert_eq!(figures.gas_m3, None);
    let mains = Stove { gas: Gas::Mains, ..stove };
    assert!(Figures::of(&tuesday(9000.0), Some(&mains)).gas_m3.is_some());
}

#[test]
fn what_differed_most_is_said_first_and_by_its_name() {
    let stories = vec![("41", like_tuesday(1.0, 1)), ("44", like_tuesday(1.0, 4))];
    let sentences = compared(stories, Align::Start).sentences();
    assert!(sentences[0].starts_with("44 stood longest without a stir"), "{sentences:?}");
    let alike = vec![("41", tuesday(8000.0)), ("44", tuesday(8000.0))];
    assert_eq!(compared(alike, Align::Start).sentences(), ["They went much alike."]);
}

#[test]
fn the_table_is_csv_with_units_and_guarded_names() {
    let stories = vec![("=1", tuesday(9000.0)), ("44", tuesday(10.0))];
    let csv = compared(stories, Align::Start).csv();
    let lines: Vec<&str> = csv.lines().collect();
    assert!(lines[0].starts_with("batch,name,boil_after_min,boiled_off_kg"));
    assert!(lines[1].starts_with("\"'=1\",Tuesday base,,3.025"), "{}", lines[1]);
    assert_eq!(lines.len(), 3);
}

#[test]
fn json_holds_the_aligned_curves() {
    let stories = vec![("41", tuesday(7000.0))];
    let json: serde_json::Value =
        serde_json::from_str(&compared(stories, Align::LastAddition).json()).unwrap();
    assert_eq!(json["align"], "last-addition");
    let first = &json["batches"][0]["contents_s_kg"][0][0];
    assert_eq!(first[0], -6300.0);
    assert!(json["batches"][0]["figures"]["boiled_off_kg"].is_number());
}

#[test]
fn the_strips_stack_below_the_curves() {
    let drawing = draw(&eight(), PAGE);
    let hands = drawing.shapes.iter().filter_map(|shape| match shape {
        Shape::Area { points, fill } if *fill == PAPER.hand => Some(points[0].1),
        _ => None,
    });
    let mut tops: Vec<i64> = hands.map(|y| (y * 10.0) as i64).collect();
    tops.sort_unstable();
    tops.dedup();
    assert_eq!(tops.len(), 8, "{tops:?}");
}

#[test]
fn a_batch_whose_boil_nobody_saw_did_not_take_longest_to_come_to_it() {
    let boil = |t_s: f64| happened(t_s, What::Boil);
    let mut seen = Story::new("Tuesday base", pot(), None);
    let mut missed = Story::new("Wednesday base", pot(), None);
    for action in tuesday_actions(9000.0) {
        let Action::Show(s) = action else { continue };
        // 44 boiled while its probe was silent: what is seen later is the boil after blending.
        let at_s = s.at.seconds();
        for (story, boils) in [(&mut seen, at_s > 1800.0), (&mut missed, at_s > 5400.0)] {
            let (was, boiling) = (story.tally.first_boil.is_some(), Some(boils));
            if boils && !was {
                story.take(&boil(at_s));
            }
            story.take(&shown(Snapshot { boiling, ..*s.clone() }));
        }
        if (1200.0..1260.0).contains(&at_s) {
            let (sensor, why) = (Sensor::Probe, "is silent");
            missed.take(&happened(at_s, What::SensorFault { sensor, why }));
        }
        if (5300.0..5400.0).contains(&at_s) {
            missed.take(&happened(at_s, What::SensorBack { sensor: Sensor::Probe }));
        }
    }
    let comparison = compared(vec![("41", seen), ("44", missed)], Align::Boil);
    let sentences = comparison.sentences().join(" ");
    assert!(!sentences.contains("took longest to come to the boil"), "{sentences}");
    assert!(sentences.contains("When it came to the boil was not seen: 44."), "{sentences}");
    assert!(comparison.batches[0].aligned && !comparison.batches[1].aligned);
}

#[test]
fn what_was_foretold_stands_over_when_that_was() {
    let story = tuesday(9000.0);
    let (at, spread) = story.first_forecast.unwrap();
    let after_s = at - story.began.unwrap();
    let comparison = compared(vec![("41", story), ("44", tuesday(8000.0))], Align::Start);
    let figures = comparison.batches[0].figures;
    assert_eq!(figures.told_after_s, Some(after_s));
    assert_eq!(figures.foretold_after_s, Some(after_s + spread.p50));
    let text = comparison.text();
    let row = |name: &str| text.lines().position(|line| line.starts_with(name)).unwrap();
    assert_eq!(row("target as foretold") + 1, row("foretold after"), "{text}");
    assert!(comparison.csv().contains("foretold_after_min,foretold_when_min"));
}
