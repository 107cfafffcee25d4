//! A batch of the Harbour Lane Kitchen from the plan to the label, by numbers; and what a cook is
//! told when a plan cannot be.

#![cfg(test)]

mod files;
mod readme;
mod refused;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use dekchi::batch::book::{Book, Deed};
use dekchi::batch::composition::Composition;
use dekchi::batch::ledger::Ledger;
use dekchi::batch::plan::{Plan, Target};
use dekchi::batch::reckoning::recognise;
use dekchi::batch::rules::Rules;
use dekchi::config::batch;
use dekchi::config::kitchen::Kitchen;
use dekchi::moment::Moment;
use dekchi::watch::cooling::{Cooling, Standing as Cold};
use dekchi::watch::event::CookSays;
use dekchi::watch::hold::{Holding, Service, Standing, top_up_l};
use dekchi::watch::words;
use serde_json::Value;

const KITCHEN: &str = "config/kitchen.toml";
const BATCH: &str = "config/harbour-base.toml";

struct Said {
    code: i32,
    out: String,
    err: String,
}

fn dekchi(args: &[&str]) -> Said {
    let output = Command::new(env!("CARGO_BIN_EXE_dekchi"))
        .args(args)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    Said {
        code: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

fn planned(more: &[&str]) -> Value {
    let said = dekchi(&[&["plan", BATCH, "--kitchen", KITCHEN, "--json"], more].concat());
    assert_eq!(said.code, 0, "{}", said.err);
    serde_json::from_str(&said.out).unwrap()
}

fn number(value: &Value, path: &str) -> f64 {
    value.pointer(path).and_then(Value::as_f64).unwrap_or_else(|| panic!("no {path}"))
}

fn near(got: f64, worked: f64, within: f64) {
    assert!((got - worked).abs() <= within, "{got} for {worked}");
}

/// kg and per 100 g: water, fat, sodium in mg. USDA SR28, files ABBREV and WEIGHT, by NDB number.
const START: [(f64, f64, f64, f64); 9] = [
    (8.0, 89.11, 0.10, 4.0),                       // 11282 onions
    (1.0, 88.29, 0.24, 69.0),                      // 11124 carrots
    (8.0 * 0.119, 93.89, 0.17, 3.0),               // 11333 green peppers, medium 119 g
    (2.0, 94.75, 0.25, 115.0),                     // 11531 tinned tomatoes
    (0.2, 58.58, 0.50, 17.0),                      // 11215 garlic
    (0.2, 78.89, 0.75, 13.0),                      // 11216 ginger
    (1000.0 / 236.588_2 * 0.218, 0.0, 100.0, 0.0), // 04582 rapeseed oil, cup 218 g
    (6.0, 99.9, 0.0, 3.0),                         // 14429 water, litre 1000 g
    (5.0 * 0.018, 0.2, 0.0, 38_758.0),             // 02047 salt, tablespoon 18 g
];
const INFUSION: [(f64, f64, f64, f64); 6] = [
    (1.5, 99.9, 0.0, 3.0),
    (8.0 * 0.005, 8.86, 17.77, 35.0), // 02013 coriander, tablespoon 5 g
    (6.0 * 0.006, 8.06, 22.27, 168.0), // 02014 cumin, tablespoon 6 g
    (10.0 * 0.0063, 8.80, 14.01, 52.0), // 02015 curry powder, tablespoon 6.3 g
    (3.0 * 0.0094, 12.85, 3.25, 27.0), // 02043 turmeric, tablespoon 9.4 g
    (4.0 * 0.0068, 11.24, 12.89, 68.0), // 02028 paprika, tablespoon 6.8 g
];
const THINNING: [(f64, f64, f64, f64); 1] = [(7.7, 99.9, 0.0, 3.0)];
const CREAM: [(f64, f64, f64, f64); 1] = [(1000.0 / 236.588_2 * 0.240, 74.51, 19.10, 72.0)]; // 01050

/// All, dry, and salt (sodium × 58.443/22.990), kg.
fn worked(food: &[(f64, f64, f64, f64)]) -> (f64, f64, f64) {
    food.iter().fold((0.0, 0.0, 0.0), |(all, dry, salt), (kg, water, _, sodium)| {
        let salty = kg * sodium / 1e5 * 58.443 / 22.990;
        (all + kg, dry + kg * (100.0 - water) / 100.0, salt + salty)
    })
}

#[test]
fn the_plan_as_written_is_what_the_food_tables_make_of_it() {
    let plan = planned(&["--as-written"]);
    let (start, infusion, thinning, cream) =
        (worked(&START), worked(&INFUSION), worked(&THINNING), worked(&CREAM));
    near(number(&plan, "/start/kg"), start.0, 0.002);
    near(number(&plan, "/start_total_solids"), start.1 / start.0, 2e-4);
    for (n, load) in [infusion, thinning, cream].iter().enumerate() {
        near(number(&plan, &format!("/additions/{n}/food/kg")), load.0, 0.002);
    }
    near(number(&plan, "/water_at_start_l"), 6.0, 1e-9);
    near(number(&plan, "/water_later_l"), 1.5 + 7.7, 1e-9);

    // The target is before the cream: dry matter of the rest over 10.5 %.
    let dry_kg = start.1 + infusion.1 + thinning.1;
    let right_kg = dry_kg / 0.105;
    near(number(&plan, "/right/contents_kg"), right_kg, 0.01);
    let went_in_kg = start.0 + infusion.0 + thinning.0;
    let boils_kg: f64 = (0..5).map(|n| number(&plan, &format!("/stages/{n}/evaporated_kg"))).sum();
    near(boils_kg, went_in_kg - right_kg, 0.01);
    near(number(&plan, "/right/reduced_by"), boils_kg / went_in_kg, 0.001);
    // A pot 40 cm wide.
    near(
        number(&plan, "/right/dip_cm"),
        number(&plan, "/right/contents_l") / (std::f64::consts::PI * 0.04) / 10.0,
        0.06,
    );

    let finish_kg = right_kg + cream.0;
    near(number(&plan, "/finished_total_solids"), (dry_kg + cream.1) / finish_kg, 2e-4);
    let salt_kg = start.2 + infusion.2 + thinning.2 + cream.2;
    near(number(&plan, "/salt_kg"), salt_kg, 0.001);
    near(number(&plan, "/salt"), salt_kg / finish_kg, 5e-5);
}

#[test]
fn heat_gas_and_time_of_the_plan_hang_together() {
    let plan = planned(&["--as-written"]);
    // 9 kW of propane, 46.34 MJ/kg net, 40 % of it into the food; stages at full, full, half, no,
    // full and low flame.
    let minutes = |n: usize| number(&plan, &format!("/stages/{n}/minutes/p50"));
    let flame_min = minutes(0) + 0.5 * minutes(1) + minutes(3) + 0.25 * minutes(4);
    let gas_kg = flame_min * 60.0 * 9000.0 / 46.34e6;
    near(number(&plan, "/gas/amount/p50") / gas_kg, 1.0, 0.05);
    // To the boil: about 3.9 kJ/(kg·K) from 15 °C (Choi and Okos).
    let warm_j = number(&plan, "/start/kg") * 3900.0 * (99.84 - 15.0);
    near(minutes(0) / (warm_j / 3600.0 / 60.0), 1.0, 0.05);
    // 1 kW boils off 1.595 kg/h at one atmosphere (IAPWS-IF97): lidded at half flame 15 % gets away,
    // less what the infusion takes to warm.
    let infusion_j = 1.696 * 4000.0 * 84.84;
    let steam_kg = 0.15 * (1.8 * 1.595 - infusion_j / 2.257e6);
    near(number(&plan, "/stages/1/evaporated_kg"), steam_kg, 0.03);
    let (low, high) = (number(&plan, "/minutes/p10"), number(&plan, "/minutes/p90"));
    assert!(low < number(&plan, "/minutes/p50") && number(&plan, "/minutes/p50") < high);
}

#[test]
fn the_trades_proportions_come_out_and_are_marked_as_practice() {
    let said = dekchi(&["plan", BATCH, "--kitchen", KITCHEN]);
    let one_line = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(one_line.contains("1.10 l of water to 3 l in the pot; common practice is about 1.1 l"));
    assert!(
        one_line.contains("125 ml of cream to 3 l in the pot; common practice is about 125 ml")
    );
    assert!(one_line.contains("(no source)"));
    assert!(one_line.contains("UK single cream has 18 % or more"));
}

#[test]
fn the_pot_is_filled_as_far_as_it_may_be_and_no_further() {
    let plan = planned(&[]);
    // 40 cm wide and high, a fifth free: 40.2 l.
    near(number(&plan, "/fullest_l"), std::f64::consts::PI * 0.04 * 0.32 * 1000.0, 0.02);
    let thirty = planned(&["--contents", "30L"]);
    near(number(&thirty, "/fullest_l"), 30.0, 0.01);
    let (more, less) = (number(&plan, "/start/kg"), number(&thirty, "/start/kg"));
    near(number(&plan, "/size_factor") / number(&thirty, "/size_factor"), more / less, 1e-3);
    assert_eq!(number(&thirty, "/portions"), (number(&thirty, "/yield_l/p50") / 0.25).floor());
}

fn kitchen() -> Kitchen {
    Kitchen::read(&root().join(KITCHEN)).unwrap()
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_owned()
}

fn plan_to_cook_by() -> Plan {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("today.toml");
    let said = dekchi(&[
        "plan",
        BATCH,
        "--kitchen",
        KITCHEN,
        "--contents",
        "20l",
        "--write",
        path.to_str().unwrap(),
    ]);
    assert_eq!(said.code, 0, "{}", said.err);
    batch::read(&path, &kitchen()).unwrap()
}

#[test]
fn a_batch_is_followed_from_the_plan_to_the_label() {
    let plan = plan_to_cook_by();
    let mut book = Book::new(Ledger::start(plan.start.contents_kg, plan.start.composition));
    let mut remaining = plan.additions.clone();
    let at: fn(i64) -> Moment = |minute| Moment::from_ms(minute * 60_000);

    // A tenth more infusion than planned goes in, and is known for what it is.
    let infusion_kg = 1.1 * remaining[0].kg;
    let turn = recognise(&remaining, infusion_kg, 0.02).unwrap();
    let infusion = remaining.remove(turn);
    assert_eq!(infusion.name, "spice infusion");
    let of = infusion.composition;
    book.record(at(60), Deed::Added { kg: infusion_kg, of, name: Some(infusion.name) });

    // The thinning water in full.
    let turn = recognise(&remaining, remaining[0].kg, 0.02).unwrap();
    let thinning = remaining.remove(turn);
    let of = thinning.composition;
    book.record(at(105), Deed::Added { kg: thinning.kg, of, name: Some(thinning.name) });
    let dry_kg = book.now().dry_kg();
    near(
        dry_kg,
        plan.start.contents_kg * plan.start.composition.total_solids()
            + infusion_kg * infusion.composition.total_solids()
            + thinning.kg * 0.001,
        0.001,
    );

    // Boiled down to the target.
    let target = plan.target.unwrap();
    assert_eq!(target, Target::TotalSolids(0.105));
    let right_kg = target.contents_kg(book.now()).unwrap();
    near(right_kg, dry_kg / 0.105, 1e-9);
    book.record(at(160), Deed::Evaporated { kg: book.now().contents_kg() - right_kg });
    near(book.now().total_solids().unwrap(), 0.105, 1e-9);

    // Something a good deal heavier than the cream comes: nobody can tell, so it is taken as water,
    // until the cook says what it was.
    assert_eq!(recognise(&remaining, 2.0 * remaining[0].kg, 0.02), None);
    let cream_kg = 2.0 * remaining[0].kg;
    book.record(at(161), Deed::Added { kg: cream_kg, of: Composition::WATER, name: None });
    let larder = kitchen().larder;
    let said = words::understand(&format!("that was {cream_kg} kg single cream"), &larder);
    let Ok(CookSays::ThatWas { kg, name: Some(name) }) = said else { panic!("{said:?}") };
    let cream = larder.find(&name).unwrap().composition;
    assert!(book.correct(2, kg, Some((name, cream))));
    // SR28 01050: 19.10 % fat, 25.49 % dry.
    near(book.now().dry_kg(), dry_kg + cream_kg * 0.2549, 0.001);
    assert!(book.entries().last().unwrap().was.is_some());

    served_and_held(&mut book, at);
    cooled_and_labelled(at);
}

fn served_and_held(book: &mut Book, at: fn(i64) -> Moment) {
    // Service: 0.4 kg every three minutes is 8 kg/h.
    let finished_kg = book.now().contents_kg();
    let mut service = Service::default();
    let mut hold = Holding::new(kitchen().habits.rules.hold);
    for ladle in 0..10 {
        book.record(at(170 + 3 * ladle), Deed::Taken { kg: 0.4 });
        service.serve(at(170 + 3 * ladle), 0.4);
    }
    near(book.now().contents_kg(), finished_kg - 4.0, 1e-9);
    near(service.kg_h(at(198)).unwrap(), 8.0, 0.5);
    let left_s = service.runs_out_in_s(at(198), book.now().contents_kg()).unwrap();
    near(left_s, (finished_kg - 4.0) / 8.0 * 3600.0, 500.0);
    // It thickens while it is held: half a litre of water brings it back to where it was.
    let held = Target::TotalSolids(book.now().total_solids().unwrap());
    book.record(at(215), Deed::Evaporated { kg: 0.5 });
    near(top_up_l(book.now(), &held).unwrap(), 0.5, 1e-9);
    // At 61 °C for an hour one of the two hours below 63 °C is left.
    let mut standing = Standing::Hot;
    for minute in 215..=275 {
        standing = hold.step(at(minute), Some(61.0));
    }
    assert_eq!(standing, Standing::Below { left_s: 3600.0 });
}

fn cooled_and_labelled(at: fn(i64) -> Moment) {
    // The rest is stirred in iced water: 63 to 8 °C in about an hour, in time.
    let mut cooling = Cooling::new(Rules::DEFAULT.cool, 0.0);
    for minute in 0..=75 {
        cooling.step(at(280 + minute), Some(64.0 * (-(minute as f64) / 30.0).exp()));
    }
    let (_, cold) = cooling.standings(at(355))[0];
    assert!(matches!(cold, Cold::Met { took_s } if took_s < 5400.0), "{cold:?}");

    // And labelled: with cream, to be used today.
    let label = dekchi(&["label", BATCH, "--kitchen", KITCHEN, "--made", "2026-11-25", "--json"]);
    let label: Value = serde_json::from_str(&label.out).unwrap();
    assert_eq!(label["use_by"], "2026-11-25");
    assert_eq!(label["contains"], serde_json::json!(["milk"]));
    let frozen = dekchi(&[
        "label",
        BATCH,
        "--kitchen",
        KITCHEN,
        "--made",
        "2026-11-25",
        "--frozen",
        "--json",
    ]);
    let frozen: Value = serde_json::from_str(&frozen.out).unwrap();
    assert_eq!(frozen["use_by"], "2027-01-09");
}

#[test]
fn a_scaled_batch_is_planned_the_same_again() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("today.toml");
    let path = path.to_str().unwrap();
    let first = planned(&["--contents", "30L", "--write", path]);
    let said = dekchi(&["plan", path, "--kitchen", KITCHEN, "--as-written", "--json"]);
    let second: Value = serde_json::from_str(&said.out).unwrap();
    for figure in ["/start/kg", "/right/contents_kg", "/fullest_l", "/salt", "/minutes/p50"] {
        let (a, b) = (number(&first, figure), number(&second, figure));
        assert!((a / b - 1.0).abs() < 0.005, "{figure}: {a} and {b}");
    }
}

#[test]
fn sheets_hold_everything_themselves_and_hostile_names_stay_words() {
    let directory = tempfile::tempdir().unwrap();
    let batch = directory.path().join("batch.toml");
    let hostile = "<script>alert(1)</script>\\\" onload=";
    let text = fs::read_to_string(root().join(BATCH)).unwrap();
    fs::write(&batch, text.replace("Harbour Lane base gravy", hostile)).unwrap();
    for (command, file) in [("plan", "plan.html"), ("label", "label.html")] {
        let sheet = directory.path().join(file);
        let args = [command, batch.to_str().unwrap(), "--kitchen", KITCHEN, "--sheet"];
        let said = dekchi(&[&args[..], &[sheet.to_str().unwrap()]].concat());
        assert_eq!(said.code, 0, "{}", said.err);
        let html = fs::read_to_string(sheet).unwrap();
        assert!(html.contains("&lt;script&gt;"));
        for never in ["<script", "http://", "https://", "src=", "<link", "@import", "url("] {
            assert!(!html.contains(never), "{never} in the {command} sheet");
        }
    }
}
