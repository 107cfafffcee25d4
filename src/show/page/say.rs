//! What a cook says to the pot: big buttons within a thumb's reach, the rest one touch away.

use maud::{Markup, html};

use crate::show::board::PotNow;
use crate::show::words::kilograms;

use super::{Viewer, ledger, segment, sentence, t};

/// What is said most, at the bottom edge.
const FIRST: [(&str, &str); 3] =
    [("stirred", "Stirred"), ("bottom clean", "Bottom clean"), ("it caught", "It caught")];

/// What is said less often.
const MORE: [(&str, &str); 6] = [
    ("right now", "Right as it is now"),
    ("flame off", "Flame off"),
    ("lid on", "Lid on"),
    ("lid off", "Lid off"),
    ("nothing was added", "Nothing was added"),
    ("take that back", "Take my last word back"),
];

/// In what an addition is measured.
const UNITS: [&str; 8] = ["kg", "g", "litres", "ml", "pints", "cups", "tbsp", "tsp"];

/// The form that every button of this pot belongs to.
pub fn form_id(n: usize) -> String {
    format!("tell-{n}")
}

/// Where what is said to a pot goes.
fn action(pot: &PotNow) -> String {
    format!("/pot/{}/say", segment(&pot.name))
}

/// The form alone, for pages that show only a pot's alerts.
pub fn form(n: usize, pot: &PotNow) -> Markup {
    html! { form id=(form_id(n)) method="post" action=(action(pot)) {} }
}

/// The bar at the bottom edge.
pub fn bar(n: usize, pot: &PotNow, viewer: &Viewer) -> Markup {
    html! {
        (form(n, pot))
        section.bar aria-label="Say it to the pot" {
            p #told role="status" {}
            @if viewer.phone.is_none() {
                a.pair href="/pair" { "Pair this phone to say something to the pot" }
                // The news of this part find their place.
                div id=(format!("p{n}-in")) hidden {}
            } @else {
                div.words {
                    @for (says, words) in FIRST { (button(n, says, words)) }
                    details.more {
                        summary { "More" }
                        div.sheet { (more(n, pot)) }
                    }
                }
            }
        }
    }
}

fn button(n: usize, says: &str, words: &str) -> Markup {
    html! { button form=(form_id(n)) name="says" value=(t(says)) { (t(words)) } }
}

fn more(n: usize, pot: &PotNow) -> Markup {
    html! {
        div.pair-of { @for (says, words) in MORE { (button(n, says, words)) } }
        div id=(format!("p{n}-in")) { (planned(n, pot)) }
        (added(n, pot))
    }
}

/// What is planned, to be said when it has gone in.
pub fn planned(n: usize, pot: &PotNow) -> Markup {
    html! {
        div.pair-of {
            @for planned in ledger::to_come(pot) {
                (button(n, &that_was(&planned.name), &format!("{} is in", sentence::capital(&planned.name))))
            }
        }
    }
}

/// The saying that names what the scale saw last.
fn that_was(name: &str) -> String {
    format!("that was {name}")
}

/// Something that the scale did not see, or took for something else.
fn added(n: usize, pot: &PotNow) -> Markup {
    let (amount, unit, what) = (format!("amount-{n}"), format!("unit-{n}"), format!("what-{n}"));
    html! {
        form.added method="post" action=(action(pot)) {
            label for=(amount) { "Added" }
            input id=(amount) name="amount" inputmode="decimal" autocomplete="off" required
                maxlength="12" size="5";
            label.unseen for=(unit) { "measured in" }
            select id=(unit) name="unit" { @for unit in UNITS { option { (unit) } } }
            label for=(what) { "of" }
            input id=(what) name="what" autocomplete="off" maxlength="60" required
                list=(format!("larder-{n}"));
            datalist id=(format!("larder-{n}")) {
                @for planned in &pot.plan.additions {
                    option value=(t(&planned.name)) { (t(&kilograms(planned.kg))) }
                }
            }
            button { "Tell the pot" }
        }
    }
}

/// What the form for something added says, in the cook's words.
#[must_use]
pub fn added_words(amount: &str, unit: &str, what: &str) -> String {
    format!("added {} {} {}", amount.trim().replace(',', "."), unit.trim(), what.trim())
}

/// What was not understood, and a way back.
pub fn refused(pot: &PotNow, why: &str) -> Markup {
    html! {
        h1 { "The pot was not told" }
        p.refused { (t(why)) }
        p { a.back href=(format!("/pot/{}", segment(&pot.name))) { "Back to the pot" } }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::larder::Larder;
    use crate::watch::event::CookSays;
    use crate::watch::words::understand;

    #[test]
    fn every_button_is_a_saying_that_is_understood() {
        let larder = Larder::bundled();
        for (says, _) in FIRST.into_iter().chain(MORE) {
            assert!(understand(says, &larder).is_ok(), "{says}");
        }
        let named = CookSays::ThatWas { kg: None, name: Some("spice infusion".into()) };
        assert_eq!(understand(&that_was("spice infusion"), &larder), Ok(named));
    }

    #[test]
    fn every_measure_is_understood() {
        for unit in UNITS {
            let says = understand(&added_words(" 1,5 ", unit, "water"), &Larder::bundled());
            assert!(matches!(says, Ok(CookSays::Added { .. })), "{unit}: {says:?}");
        }
    }
}
