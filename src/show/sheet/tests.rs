use crate::batch::rules::Rules;
use crate::show::sample::{at, happened, shown, tuesday, well_formed};
use crate::watch::action::{Action, Alarm, Happening, Snapshot, What};
use crate::watch::cooling::Standing as Cooling;

use super::*;

fn readings(story: &Story) -> Vec<(Moment, Option<f64>)> {
    story.probe.runs().concat().iter().map(|(t, c)| (at(*t), Some(*c))).collect()
}

fn page(
    story: &Story,
    said: &[(Moment, String, CookSays)],
    readings: &[(Moment, Option<f64>)],
) -> String {
    let safety = Safety::of(Rules::DEFAULT, story, readings);
    let notices = [
        (at(7000.0), AlarmState::Raised),
        (at(7090.0), AlarmState::Cleared),
        (at(8000.0), AlarmState::Raised),
    ]
    .map(|(at, state)| Notice { at, alarm: Alarm::StirDue, state, why: "soft & thick".into() });
    html(&Sheet {
        kitchen: Some("Harbour Lane Kitchen"),
        number: Some(12),
        outcome: None,
        story,
        clock: Some(Clock { utc_ms_at_zero: 1_795_622_400_000, offset_s: 0 }),
        said,
        notices: &notices,
        safety: &safety,
    })
    .unwrap()
}

/// The text of a page, its head and tags left out.
fn text(page: &str) -> String {
    let body = page.split_once("<body>").unwrap().1;
    well_formed(&format!("<body>{}", body.split("</html>").next().unwrap())).join(" ")
}

#[test]
fn the_record_tells_what_happened_when_and_how_hot_it_was() {
    let story = tuesday(9000.0);
    let text = text(&page(&story, &[], &readings(&story)));
    for part in [
        "Tuesday base, batch 12",
        "Did not reach its target",
        "Harbour Lane Kitchen · big pot · 2026-11-25, began 16:00 · lasted 2 h 30",
        "Spice infusion in, 0.96 kg",
        "Stirred 3 times, at most 15 min apart",
        "Stirred 8 times, at most 6 min apart",
        "Blended, 7 min",
        "No fault was seen.",
        "stir due soft & thick for 2 min",
        "not cleared",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
}

#[test]
fn the_page_needs_nothing_from_elsewhere_and_runs_no_script() {
    let story = tuesday(9000.0);
    let page = page(&story, &[], &readings(&story));
    for word in ["<script", "http://", "https://", "<link", "<img", "@import"] {
        let found = page.matches(word).filter(|w| *w == word).count();
        let namespace = page.matches("http://www.w3.org/2000/svg").count();
        assert_eq!(found, if word == "http://" { namespace } else { 0 }, "{word}");
    }
}

#[test]
fn what_the_cook_said_is_on_the_record_with_its_way() {
    let name = "<b>cream</b>".to_owned();
    let was = CookSays::ThatWas { kg: Some(1.2), name: Some(name) };
    let said = [(at(6310.0), "the page".to_owned(), was)];
    let story = tuesday(9000.0);
    let page = page(&story, &said, &[]);
    assert!(!page.contains("<b>cream"));
    assert!(text(&page).contains("That was 1.20 kg of <b>cream</b> by the page"));
}

#[test]
fn a_word_that_was_taken_back_stands_beside_what_is_true_after_all() {
    let mut story = tuesday(9000.0);
    let (put_in, kg, name) = {
        let last = *story.additions().last().unwrap();
        (last.at, last.kg, last.name.map(str::to_owned))
    };
    for (t_s, kg, name) in [(8000.0, 0.0, None), (8100.0, kg, name)] {
        story.take(&happened(t_s, What::Corrected { kg, name, ago_s: at(t_s) - put_in }));
    }
    let text = text(&page(&story, &[], &[]));
    assert!(text.contains("is nothing, not 4.90 kg of thinning water"), "{text}");
    assert!(text.contains("is 4.90 kg of thinning water after all"), "{text}");
}

#[test]
fn holding_is_judged_from_the_last_boil_to_the_last_hot_reading() {
    let mut story = tuesday(9000.0);
    story.take(&shown(Snapshot { at: at(9000.0), boiling: Some(false), ..Snapshot::default() }));
    // Held at 70 °C, ten minutes at 60 °C, then hot again for an hour.
    let c = |t: f64| match t {
        t if t < 9000.0 => 99.0,
        t if (10_000.0..10_600.0).contains(&t) => 60.0,
        t if t < 14_000.0 => 70.0,
        t => 70.0 - (t - 14_000.0) / 100.0,
    };
    let readings: Vec<_> =
        (0..1900).map(|n| f64::from(n) * 10.0).map(|t| (at(t), Some(c(t)))).collect();
    let safety = Safety::of(Rules::by_name("england").unwrap(), &story, &readings);
    let held = safety.held.unwrap();
    assert_eq!((held.falls, held.lowest_c, held.kept), (1, 60.0, true));
    assert!((held.longest_below_s - 600.0).abs() <= 60.0, "{held:?}");
    let scotland = Safety::of(Rules::by_name("scotland").unwrap(), &story, &readings);
    assert!(!scotland.held.unwrap().kept, "Scotland's rule has no two hours");
    // 63 °C is passed at 14 700 s; 19 000 s are 72 minutes later and 20 °C.
    let cooled = safety.cooled.unwrap();
    assert!(!matches!(cooled.stretches[0].1, Cooling::Missed | Cooling::Met { .. }), "{cooled:?}");
}

#[test]
fn a_pot_that_only_serves_is_held_from_its_first_ladleful() {
    let mut story = Story::new("service", crate::show::sample::pot(), None);
    for n in 0..40 {
        let t = f64::from(n) * 300.0;
        story.take(&shown(Snapshot { at: at(t), pot_c: Some(70.0), ..Snapshot::default() }));
        story.take(&happened(t + 600.0, What::Taken { kg: 0.3, sd_kg: 0.01 }));
    }
    let readings: Vec<_> = (0..120).map(|n| (at(f64::from(n) * 100.0), Some(70.0))).collect();
    let held = Safety::of(Rules::DEFAULT, &story, &readings).held.unwrap();
    assert_eq!((held.from, held.kept, held.falls), (at(600.0), true, 0));
}

#[test]
fn a_day_of_ladling_stays_on_a_few_lines() {
    let mut story = tuesday(9000.0);
    for n in 0..200 {
        let t = 9000.0 + f64::from(n) * 60.0;
        story.take(&happened(t, What::Taken { kg: 0.3, sd_kg: 0.01 }));
        story.take(&shown(Snapshot { at: at(t), contents_kg: Some(20.0), ..Snapshot::default() }));
    }
    let page = page(&story, &[], &readings(&story));
    assert!(page.matches("<tr>").count() < 30);
    assert!(text(&page).contains("Taken out 201 times, 60.6 kg in all"));
}

#[test]
fn beside_what_was_taken_out_stands_what_was_left_when_the_pot_was_at_rest() {
    let mut story = tuesday(9000.0);
    for n in 0..30 {
        let (t, kg) = (9000.0 + f64::from(n) * 10.0, if n < 10 { 21.0 } else { 12.0 });
        story.take(&shown(Snapshot { at: at(t), contents_kg: Some(kg), ..Snapshot::default() }));
    }
    let what = What::Taken { kg: 9.0, sd_kg: 0.01 };
    story.take(&Action::Happened(Happening { at: at(9000.0), seen: at(9100.0), what }));
    let page = text(&page(&story, &[], &readings(&story)));
    let line = page.split("9.00 kg taken out").nth(1).unwrap();
    assert!(line.contains("12.00") && !line.contains("21.00"), "{line:.60}");
}

#[test]
fn what_was_foretold_stands_beside_the_time_at_which_it_was() {
    let story = tuesday(9000.0);
    let (told, spread) = story.first_forecast.unwrap();
    let first_boil = story.tally.first_boil;
    let text = text(&page(&story, &[], &[]));
    let clock = Clock { utc_ms_at_zero: 1_795_622_400_000, offset_s: 0 };
    let after = length(told - story.began.unwrap() + spread.p50);
    let line = format!("target as foretold at {} {after}", clock.hh_mm(told));
    assert!(text.contains(&line), "{line}: {text}");
    // It is the boil after the thinning, an hour and more after the first.
    assert!(first_boil.is_none_or(|first| told - first > 3600.0), "{first_boil:?} {told:?}");
}

/// The bottom stood at this index from two hours in until it was stirred four minutes later.
fn risen_to(index: f64) -> Story {
    let mut story = tuesday(7000.0);
    for t in (7200..7500).step_by(10).map(f64::from) {
        let index = if t < 7440.0 { index } else { 0.0 };
        let now = Snapshot { at: at(t), catch_index: Some(index), ..Snapshot::default() };
        story.take(&shown(now));
    }
    story.take(&happened(7440.0, What::Stirred { for_s: 20.0 }));
    story
}

#[test]
fn a_bottom_that_may_have_caught_is_told_of_though_it_was_stirred_after_it() {
    let story = risen_to(1.15);
    let plain = text(&page(&story, &[], &[]));
    assert!(plain.contains("May have caught at 18:00, before the stir at 18:04."), "{plain}");
    let verdict = |says| vec![(at(7500.0), "Asha".to_owned(), says)];
    let clean = text(&page(&story, &verdict(CookSays::BottomClean), &[]));
    assert!(clean.contains("the stir at 18:04; the cook found the bottom clean at 18:05."));
    let caught = text(&page(&story, &verdict(CookSays::ItCaught), &[]));
    assert!(caught.contains("; the cook said that it had caught at 18:05."), "{caught}");
    let well = text(&page(&risen_to(0.95), &[], &[]));
    assert!(!well.contains("May have caught"), "{well}");
}
