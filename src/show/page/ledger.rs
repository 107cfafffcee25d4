//! The ledger: what was planned, what went in, what is still to come, and the balance as it stands.

use maud::{Markup, html};

use crate::batch::plan::PlannedAddition;
use crate::show::board::PotNow;
use crate::show::comparison::figures::Figures;
use crate::show::words::{kilograms, service};

use super::{sentence, t};

/// What of the plan has not gone in yet.
pub fn to_come(pot: &PotNow) -> impl Iterator<Item = &PlannedAddition> {
    let named: Vec<&str> = pot.story.additions().iter().filter_map(|a| a.name).collect();
    pot.plan.additions.iter().filter(move |planned| !named.contains(&planned.name.as_str()))
}

/// What is still to come.
pub fn coming(pot: &PotNow) -> Markup {
    let coming: Vec<&PlannedAddition> = to_come(pot).collect();
    html! {
        h2 { "Still to come" }
        @if coming.is_empty() { p { "Nothing more is planned." } } @else {
            ul {
                @for planned in &coming {
                    li { (t(&planned.name)) ", " (t(&kilograms(planned.kg))) }
                }
            }
        }
    }
}

/// What went in, and the balance.
pub fn draw(pot: &PotNow) -> Markup {
    let planned = |name: &str| pot.plan.additions.iter().find(|p| p.name == name);
    html! {
        h2 { "What went in" }
        table {
            thead { tr { th scope="col" { "What" } th scope="col" { "In" } th scope="col" { "Planned" } } }
            tbody {
                tr {
                    th scope="row" { "at the start" }
                    td { (t(&kilograms(pot.plan.start.contents_kg))) }
                    td {}
                }
                @for (n, thing) in pot.story.additions().into_iter().enumerate() {
                    tr {
                        th scope="row" {
                            @match thing.name {
                                _ if thing.kg <= 0.0 => { "nothing after all" }
                                Some(name) => (t(name)),
                                None => { "addition " (n + 1) ", not said what" }
                            }
                            span.at {
                                " " (t(&sentence::when(thing.at, pot.clock)))
                                @if let Some(was) = thing.was { (t(&at_first(was, thing.name))) }
                            }
                        }
                        td { (t(&kilograms(thing.kg))) }
                        td {
                            @if let Some(planned) = thing.name.and_then(planned) {
                                (t(&kilograms(planned.kg)))
                            }
                        }
                    }
                }
            }
        }
        (balance(pot))
    }
}

/// What an addition was taken for before it was put right: ", at first 1.10 kg of water".
fn at_first((kg, was): (f64, Option<&str>), is: Option<&str>) -> String {
    let name = was.filter(|was| Some(*was) != is).map(|was| format!(" of {was}"));
    format!(", at first {}{}", kilograms(kg), name.unwrap_or_default())
}

/// What the pot holds by the ledger and the scale.
fn balance(pot: &PotNow) -> Markup {
    let tally = &pot.story.tally;
    let now = pot.story.now.clone().unwrap_or_default();
    let kg = |kg: Option<f64>| kg.map_or_else(|| "not known".to_owned(), kilograms);
    let off = Figures::of(&pot.story, None).boiled_off_kg;
    let taken = (tally.taken_kg > 0.0).then(|| kilograms(tally.taken_kg));
    let share = |share: f64| format!("{:.1} %", 100.0 * share);
    let rate = now.evaporation_kg_h.map(|kg_h| format!("{kg_h:.1} kg an hour"));
    let rows = [
        ("taken out", Some(taken.unwrap_or_else(|| "nothing".into()))),
        ("boiled off so far", Some(kg(off))),
        ("boils off now", rate),
        ("in the pot now", Some(kg(now.contents_kg))),
        ("of it water", Some(kg(now.water_kg))),
        ("total solids", Some(now.total_solids.map_or_else(|| "not known".into(), share))),
        ("the target", pot.plan.target.map(|target| target.to_string())),
        ("there at", now.target_kg.map(kilograms)),
        ("served", now.served_kg.map(kilograms)),
        ("goes out", service::speed(&now)),
        ("too thick", service::top_up(&now)),
    ];
    html! {
        dl {
            @for (what, value) in rows {
                @if let Some(value) = value { div { dt { (what) } dd { (t(&value)) } } }
            }
        }
    }
}
