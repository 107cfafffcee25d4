use super::*;
use crate::batch::pot::Pot;
use crate::show::story::Word;
use crate::watch::action::{Action, Happening};

const NINE: Clock = Clock { utc_ms_at_zero: 9 * 3_600_000, offset_s: 0 };

fn at(t_s: f64) -> Moment {
    Moment::from_seconds(t_s).unwrap()
}

fn happens(story: &mut Story, t_s: f64, what: What) {
    story.take(&Action::Happened(Happening { at: at(t_s), seen: at(t_s), what }));
}

/// Water at five past nine, and a quarter of a kilogram of cream at a quarter past.
fn cooked() -> Story {
    let pot =
        Pot { name: "big".into(), base_diameter_m: 0.4, tare_kg: 6.2, lid_kg: 1.3, height_m: None };
    let mut story = Story::new("base", pot, None);
    let put_in = |kg, name: &str| What::Added { kg, sd_kg: 0.01, name: Some(name.into()) };
    happens(&mut story, 300.0, put_in(1.91, "water"));
    happens(&mut story, 900.0, put_in(0.25, "cream"));
    story
}

/// The story after a word, which put this addition right where it did.
fn spoken(story: &Story, says: &CookSays, right: Option<(f64, f64, &str)>) -> Story {
    let mut story = story.clone();
    let now_s = 1200.0;
    story.hear(Word { at: at(now_s), says: says.clone(), by: "Asha".into() });
    if let Some((t_s, kg, name)) = right {
        let what = What::Corrected { kg, name: Some(name.into()), ago_s: now_s - t_s };
        happens(&mut story, now_s, what);
    }
    story
}

fn that_was(kg: f64) -> CookSays {
    CookSays::ThatWas { kg: Some(kg), name: Some("cream".into()) }
}

#[test]
fn a_correction_is_answered_by_which_addition_when_from_what_and_to_what() {
    let story = cooked();
    let says = that_was(0.30);
    let after = spoken(&story, &says, Some((900.0, 0.30, "cream")));
    let answer = Before::of(&story).answer(&says, &after, Some(NINE)).unwrap();
    assert_eq!(
        answer,
        "Put right: addition 2 (at 09:15), from 0.25 kg of cream to 0.30 kg of cream."
    );
    let answer = Before::of(&story).answer(&says, &after, None).unwrap();
    assert!(answer.starts_with("Put right: addition 2 (10 min after the start), from"), "{answer}");
}

#[test]
fn a_word_far_from_what_the_scale_saw_is_asked_about() {
    let story = cooked();
    for (kg, how) in [(1.2, "less than half of that"), (0.12, "more than twice that")] {
        let after = spoken(&story, &that_was(kg), Some((900.0, kg, "cream")));
        let answer = Before::of(&story).answer(&that_was(kg), &after, Some(NINE)).unwrap();
        assert!(answer.contains(&format!("The scale saw 0.25 kg, {how}")), "{answer}");
        assert!(answer.contains("\"take that back\""), "{answer}");
    }
    let after = spoken(&story, &that_was(0.49), Some((900.0, 0.49, "cream")));
    let answer = Before::of(&story).answer(&that_was(0.49), &after, Some(NINE)).unwrap();
    assert!(!answer.contains("The scale saw"), "{answer}");
}

#[test]
fn what_is_taken_back_is_named_and_so_is_what_stands_again() {
    let said = spoken(&cooked(), &that_was(1.2), Some((900.0, 1.2, "cream")));
    let before = Before::of(&said);
    let mut after = said;
    after.hear(Word { at: at(1300.0), says: CookSays::TakeBack, by: "Asha".into() });
    let right = What::Corrected { kg: 0.25, name: Some("cream".into()), ago_s: 400.0 };
    happens(&mut after, 1300.0, right);
    assert_eq!(
        before.answer(&CookSays::TakeBack, &after, Some(NINE)).unwrap(),
        "Taken back: \"that was 1.2 kg cream\". Addition 2 (at 09:15), from 1.20 kg of cream to 0.25 kg \
         of cream."
    );
}

#[test]
fn a_lid_that_is_taken_back_is_named_too() {
    let said = spoken(&cooked(), &CookSays::LidOn, None);
    let after = spoken(&said, &CookSays::TakeBack, None);
    let answer = Before::of(&said).answer(&CookSays::TakeBack, &after, Some(NINE));
    assert_eq!(answer.unwrap(), "Taken back: \"lid on\".");
}

#[test]
fn what_changes_nothing_says_so() {
    let story = cooked();
    let before = Before::of(&story);
    let after = |says: &CookSays| spoken(&story, says, None);
    let answer = |says: CookSays| before.answer(&says, &after(&says), Some(NINE));
    assert_eq!(
        answer(that_was(0.25)).unwrap(),
        "Addition 2 (at 09:15) is 0.25 kg of cream already."
    );
    // A hand is on the pot: what comes next is meant.
    assert_eq!(
        answer(that_was(1.2)).unwrap(),
        "Noted: that was 1.2 kg cream. Nothing is changed until the scale has seen it."
    );
    let salt = CookSays::Added { kg: 0.06, name: Some("salt".into()) };
    assert_eq!(
        answer(salt).unwrap(),
        "Noted: added 0.06 kg salt. It waits for the scale to see it."
    );
    assert_eq!(answer(CookSays::Stirred), None);
}

#[test]
fn an_addition_that_was_none_is_nothing_now() {
    let story = cooked();
    let says = CookSays::Nothing { which: None };
    let after = spoken(&story, &says, Some((900.0, 0.0, "cream")));
    assert_eq!(
        Before::of(&story).answer(&says, &after, Some(NINE)).unwrap(),
        "Put right: addition 2 (at 09:15), from 0.25 kg of cream to nothing."
    );
}
