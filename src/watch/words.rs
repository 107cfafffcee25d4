//! The cook's words: a small fixed grammar, the same at the stove, on the page, over a broker and
//! by `dekchi say`.
//!
//! ```text
//! stirred | bottom clean | it caught | lid on | lid off | flame off | right now
//! added AMOUNT [NAME] | that was AMOUNT [NAME] | that was NAME
//! WHICH was AMOUNT [NAME] | WHICH was NAME
//! nothing was added | WHICH was nothing | take that back
//! acknowledge ALERT | shelve ALERT TIME
//! ```
//!
//! "Added" is something just now; "that" is the last addition; WHICH is an earlier one, by its name
//! ("the infusion") or its turn ("addition 2", "first addition"): see [`super::named`]. "Nothing was
//! added" where the scale took something else for an addition; "take that back" undoes the last word.
//! AMOUNT is a kitchen measure ("1.2 kg", "500 ml", "1 1/2 pints"); TIME is "10 min", "90 s" or
//! "1 h". Case, a full stop and the small words "i", "the", "it's", "of", "for" do not matter.
//! A volume becomes kg by what is added; without a name it is taken as water's.

use crate::batch::larder::Larder;
use crate::batch::measure::{Amount, Kind, NoAmount, Unit, measured};
use crate::batch::near;

use super::action::Alarm;
use super::event::CookSays;
pub use super::not_understood::NotUnderstood;

/// What can be said, to be shown where something was not understood.
pub const SAYINGS: &str = "stirred; bottom clean; it caught; lid on; lid off; flame off; right now; \
                           that was 1.2 kg cream; added 500 ml water; infusion was 1.2 kg; \
                           nothing was added; take that back; acknowledge stir-due; shelve stir-due 10 min";

/// The longest that an alert can be shelved, s.
pub const LONGEST_SHELF_S: f64 = 2.0 * 3600.0;

const FIXED: [(CookSays, &[&str]); 9] = [
    (CookSays::Stirred, &["stirred", "stir", "scraped", "stirred bottom", "scraped bottom"]),
    (CookSays::BottomClean, &["bottom clean", "bottom is clean", "clean", "nothing caught"]),
    (CookSays::ItCaught, &["it caught", "caught", "bottom caught", "it has caught"]),
    (CookSays::LidOn, &["lid on", "lid is on"]),
    (CookSays::LidOff, &["lid off", "lid is off"]),
    (CookSays::FlameOff, &["flame off", "flame is off", "gas off", "heat off"]),
    (
        CookSays::Nothing { which: None },
        &["nothing was added", "that was nothing", "nothing went in"],
    ),
    (CookSays::TakeBack, &["take that back", "take it back", "take back", "undo"]),
    (CookSays::RightNow, &["right now", "it is right now", "it is right", "right"]),
];

/// Reads one saying.
pub fn understand(text: &str, larder: &Larder) -> Result<CookSays, NotUnderstood> {
    let said = plain(text);
    if let Some((says, _)) = FIXED.iter().find(|(_, ways)| ways.contains(&said.as_str())) {
        return Ok(says.clone());
    }
    let (verb, rest) = said.split_once(' ').unwrap_or((&said, ""));
    match (verb, said.split_once(" was ")) {
        ("acknowledge" | "ack" | "seen", _) => alert(rest).map(CookSays::Acknowledge),
        ("shelve", _) => shelve(rest),
        (_, Some((which, what))) => was(which, what, larder),
        ("added" | "add", _) => added(rest, larder),
        _ => Err(not_a_saying(said)),
    }
}

/// What was understood, in the grammar's own words.
#[must_use]
pub fn said_back(says: &CookSays) -> String {
    if let Some((_, ways)) = FIXED.iter().find(|(fixed, _)| fixed == says) {
        return ways[0].to_owned();
    }
    match says {
        CookSays::ThatWas { kg, name } => format!("that was{}", weighed(*kg, name.as_deref())),
        CookSays::Was { which, kg, name } => {
            format!("{which} was{}", weighed(*kg, name.as_deref()))
        }
        CookSays::Nothing { which: Some(which) } => format!("{which} was nothing"),
        CookSays::Added { kg, name } => format!("added{}", weighed(Some(*kg), name.as_deref())),
        CookSays::Acknowledge(alarm) => format!("acknowledge {}", alarm.name()),
        CookSays::Shelve { alarm, for_s } => {
            format!("shelve {} {} min", alarm.name(), (for_s / 6.0).round() / 10.0)
        }
        _ => String::new(),
    }
}

/// " 1.2 kg cream"
fn weighed(kg: Option<f64>, name: Option<&str>) -> String {
    // To the gram; what is lighter, as it was said.
    let grams = |kg: f64| if kg < 1e-3 { kg } else { (kg * 1000.0).round() / 1000.0 };
    let kg = kg.map(|kg| format!(" {} kg", grams(kg)));
    let name = name.map(|name| format!(" {name}"));
    kg.unwrap_or_default() + &name.unwrap_or_default()
}

/// Lower case, single spaces, no full stop and none of the small words.
fn plain(text: &str) -> String {
    let lower = text.trim().to_lowercase();
    let lower = lower.trim_end_matches(['.', '!']);
    let small = |word: &&str| !["i", "the", "it's", "its", "of", "for"].contains(word);
    lower.split_whitespace().filter(small).take(20).collect::<Vec<_>>().join(" ")
}

fn not_a_saying(said: String) -> NotUnderstood {
    let sayings = FIXED.iter().flat_map(|(_, ways)| ways.iter().copied());
    let near = near::nearest(&said, sayings.chain(["that was", "added", "acknowledge", "shelve"]));
    NotUnderstood::Saying { said: said.chars().take(60).collect(), near }
}

/// "that" is the last addition; any other word an earlier one.
fn was(which: &str, what: &str, larder: &Larder) -> Result<CookSays, NotUnderstood> {
    if what == "nothing" {
        return Ok(CookSays::Nothing { which: Some(which.to_owned()) });
    }
    if what.starts_with("not ") {
        return Err(NotUnderstood::WhatItWas);
    }
    let (kg, name) = if what.starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '.') {
        let (kg, name) = amount_of(what, larder)?;
        (Some(kg), name)
    } else {
        (None, Some(what.to_owned()))
    };
    Ok(match which {
        "that" => CookSays::ThatWas { kg, name },
        _ => CookSays::Was { which: which.to_owned(), kg, name },
    })
}

fn added(what: &str, larder: &Larder) -> Result<CookSays, NotUnderstood> {
    if what.is_empty() {
        return Err(NotUnderstood::AmountMissing);
    }
    match amount_of(what, larder) {
        Err(NotUnderstood::Amount { why: NoAmount::NoNumber, .. }) => {
            Err(NotUnderstood::AmountMissing)
        }
        done => done.map(|(kg, name)| CookSays::Added { kg, name }),
    }
}

/// "1.2 kg cream" as kg and a name.
fn amount_of(what: &str, larder: &Larder) -> Result<(f64, Option<String>), NotUnderstood> {
    let refused = |why| NotUnderstood::Amount { said: what.to_owned(), why };
    let (amount, name) = measured(what).map_err(refused)?;
    let kg = kg(&amount, &name, larder)?;
    Ok((kg, (!name.is_empty()).then_some(name)))
}

fn kg(amount: &Amount, name: &str, larder: &Larder) -> Result<f64, NotUnderstood> {
    if let Kind::Mass(g) = amount.unit.kind() {
        return Ok(amount.number * g / 1000.0);
    }
    let called = if name.is_empty() { "water" } else { name };
    let no_weight = |instead: String| NotUnderstood::NoWeight { name: called.to_owned(), instead };
    match larder.find(called) {
        Some(ingredient) => ingredient.kg(amount).map_err(|no| no_weight(no.instead)),
        None if amount.unit == Unit::Piece && amount.piece.is_none() => {
            let word = called.split(' ').next().unwrap_or(called).to_owned();
            let said = format!("{} {called}", amount.number);
            Err(NotUnderstood::Amount { said, why: NoAmount::UnknownMeasure(word) })
        }
        None => {
            let near = larder.did_you_mean(called);
            Err(no_weight(format!("how many kg, for it is no ingredient here; {near}")))
        }
    }
}

fn alert(name: &str) -> Result<Alarm, NotUnderstood> {
    let name = name.replace(' ', "-");
    Alarm::by_name(&name).ok_or_else(|| {
        let near = near::nearest(&name, Alarm::ALL.iter().map(|alarm| alarm.name()));
        NotUnderstood::Alert { said: name.clone(), near }
    })
}

fn shelve(rest: &str) -> Result<CookSays, NotUnderstood> {
    let at = rest.find(|c: char| c.is_ascii_digit()).unwrap_or(rest.len());
    let (name, time) = rest.split_at(at);
    let alarm = alert(name.trim())?;
    let for_s = seconds(time).filter(|s| (60.0..=LONGEST_SHELF_S).contains(s));
    let for_s = for_s.ok_or_else(|| NotUnderstood::Time { said: time.to_owned() })?;
    Ok(CookSays::Shelve { alarm, for_s })
}

/// "10 min", "90 s", "1 h" in seconds.
fn seconds(time: &str) -> Option<f64> {
    let digits = time.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(time.len());
    let number: f64 = time[..digits].parse().ok()?;
    let each = match time[digits..].trim() {
        "s" | "sec" | "second" | "seconds" => 1.0,
        "min" | "mins" | "minute" | "minutes" => 60.0,
        "h" | "hour" | "hours" => 3600.0,
        _ => return None,
    };
    Some(number * each)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn says(text: &str) -> CookSays {
        understand(text, &Larder::bundled()).unwrap()
    }

    fn refused(text: &str) -> String {
        understand(text, &Larder::bundled()).unwrap_err().to_string()
    }

    #[test]
    fn plain_words_are_understood() {
        assert_eq!(says("Stirred."), CookSays::Stirred);
        assert_eq!(says("the bottom is clean"), CookSays::BottomClean);
        assert_eq!(says("It caught!"), CookSays::ItCaught);
        assert_eq!(says("lid  ON"), CookSays::LidOn);
        assert_eq!(says("flame off"), CookSays::FlameOff);
        assert_eq!(says("it is right now"), CookSays::RightNow);
    }

    #[test]
    fn an_addition_is_named_and_weighed() {
        let cream = CookSays::ThatWas { kg: Some(1.2), name: Some("cream".into()) };
        assert_eq!(says("that was 1.2 kg cream"), cream);
        assert_eq!(says("That was 1.2kg of cream."), cream);
        let named = CookSays::ThatWas { kg: None, name: Some("spice infusion".into()) };
        assert_eq!(says("that was the spice infusion"), named);
        assert_eq!(says("that was 950 g"), CookSays::ThatWas { kg: Some(0.95), name: None });
    }

    #[test]
    fn an_earlier_addition_is_corrected_by_its_name_or_its_turn() {
        let which = |which: &str| which.to_owned();
        let was = CookSays::Was { which: which("infusion"), kg: Some(1.2), name: None };
        assert_eq!(says("The infusion was 1.2 kg."), was);
        let name = Some("stock".to_owned());
        let was = CookSays::Was { which: which("addition 2"), kg: None, name };
        assert_eq!(says("addition 2 was stock"), was);
        assert!(refused("the infusion was -1 kg").contains("is not above zero"));
    }

    #[test]
    fn a_volume_goes_by_what_it_is_of() {
        let CookSays::Added { kg, name } = says("added 500 ml water") else { panic!() };
        assert!((kg - 0.5).abs() < 0.002);
        assert_eq!(name.as_deref(), Some("water"));
        // SR28: 218 g to the cup of 236.6 ml.
        let CookSays::Added { kg, .. } = says("added 1 1/2 cups oil") else { panic!() };
        assert!((kg - 0.327).abs() < 1e-9);
        let CookSays::ThatWas { kg: Some(kg), .. } = says("that was 2 pints") else { panic!() };
        assert!((kg - 1.137).abs() < 0.002);
    }

    #[test]
    fn what_was_no_addition_and_what_was_said_wrongly_is_taken_back() {
        let nothing = |which: Option<&str>| CookSays::Nothing { which: which.map(str::to_owned) };
        assert_eq!(says("Nothing was added."), nothing(None));
        assert_eq!(says("that was nothing"), nothing(None));
        assert_eq!(says("the infusion was nothing"), nothing(Some("infusion")));
        assert_eq!(says("addition 2 was nothing"), nothing(Some("addition 2")));
        assert_eq!(says("I take that back"), CookSays::TakeBack);
        assert!(refused("that was not cream").contains("nothing was added"));
    }

    #[test]
    fn alerts_are_acknowledged_and_shelved() {
        assert_eq!(says("acknowledge stir-due"), CookSays::Acknowledge(Alarm::StirDue));
        assert_eq!(says("ack running dry"), CookSays::Acknowledge(Alarm::RunningDry));
        let shelved = CookSays::Shelve { alarm: Alarm::StirDue, for_s: 600.0 };
        assert_eq!(says("shelve stir-due 10 min"), shelved);
        assert_eq!(says("shelve stir due for 10 minutes"), shelved);
    }

    #[test]
    fn what_is_not_understood_gets_one_sentence_with_what_could_be_said() {
        assert!(refused("stired").contains("did you mean \"stirred\"?"));
        assert!(refused("").contains("say one of"));
        assert!(refused("that was -2 kg cream").contains("is not above zero"));
        assert!(refused("that was 2 stone cream").contains("unknown measure \"stone\""));
        assert!(refused("added 200 ml creem").contains("did you mean"));
        assert!(refused("added water").contains("how much"));
        assert!(refused("shelve stir-due 3 days").contains("1 min to 2 h"));
        assert!(refused("shelve stir-dew 10 min").contains("did you mean \"stir-due\"?"));
    }

    #[test]
    fn what_is_said_back_is_understood_as_the_same() {
        for saying in SAYINGS.split("; ").chain([
            "added 0.2 g saffron",
            "infusion was 1/0500 ml",
            "infusion was nothing",
        ]) {
            let says = says(saying);
            assert_eq!(understand(&said_back(&says), &Larder::bundled()), Ok(says), "{saying}");
        }
    }

    proptest! {
        #[test]
        fn nothing_that_is_said_can_break_it(text in ".{0,80}") {
            let _ = understand(&text, &Larder::bundled());
        }

        #[test]
        fn no_saying_weighs_less_than_nothing(text in "(that was|added) [-0-9./ ]{1,8} ?(kg|ml|cup)? ?(cream|oil)?") {
            let kg = match understand(&text, &Larder::bundled()) {
                Ok(CookSays::ThatWas { kg, .. }) => kg,
                Ok(CookSays::Added { kg, .. }) => Some(kg),
                _ => None,
            };
            prop_assert!(kg.is_none_or(|kg| kg > 0.0 && kg.is_finite()));
        }
    }
}
