//! The `reduce` family: blended gravy boiled down to its target.

use crate::batch::composition::Composition;
use crate::batch::plan::PlannedAddition;

use super::chance::Chance;
use super::cook::{Act, Habit, When};
use super::family::{Kitchen, Script, step};
use super::gravy::Gravy;

pub(super) fn script(kitchen: &mut Kitchen) -> Script {
    let start_c = if kitchen.chance.whether(0.5) {
        kitchen.chance.between(62.0, 86.0)
    } else {
        kitchen.chance.between(86.0, 92.0)
    };
    let flux = kitchen.chance.between_log(13_000.0, 42_000.0);
    let flame_w = kitchen.heat_w(flux).max(1.5 * kitchen.losses_w(kitchen.full_kg, false));
    let for_s = 60.0 * kitchen.chance.between_log(40.0, 160.0);
    let (target, boil_down_s) = target(kitchen, flame_w, for_s);
    let (mishaps, additions) = mishaps(kitchen, flame_w, boil_down_s);
    let rest_s = kitchen.chance.between(300.0, 900.0);
    let course = vec![
        step(When::At(0.0), Act::ToTarget),
        step(
            When::Target { at_most_s: 2.0 * boil_down_s + 1800.0 },
            Act::Flame { watts: flame_w * kitchen.chance.pick(&[1.0, 0.3, 0.0]) },
        ),
        step(When::After(rest_s), Act::End),
    ];
    Script {
        start_c,
        flame_w,
        lid_on: false,
        soft: kitchen.chance.between(0.9, 1.0),
        blended: true,
        course,
        mishaps,
        additions,
        target: Some(target),
        habit: habit(&mut kitchen.chance),
        about_s: boil_down_s,
        longest_s: 5.0 * 3600.0,
    }
}

/// A cook who stirs a soft gravy in time, now and then only just.
fn habit(chance: &mut Chance) -> Habit {
    Habit {
        share: chance.between(0.3, 0.65),
        soonest_s: 60.0,
        latest_s: chance.between(300.0, 600.0),
        leaves_spoon: chance.pick(&[0.0, 0.0, 0.0, 0.02, 0.06]),
    }
}

/// Total solids after about `for_s` of boiling, at most 40 % of the contents gone, and how long
/// that takes with the warming, s.
fn target(kitchen: &Kitchen, flame_w: f64, for_s: f64) -> (f64, f64) {
    let steam_w = flame_w - kitchen.losses_w(kitchen.full_kg, false);
    let steam_kg_s = steam_w.max(0.2 * flame_w) / 2.257e6;
    let gone_kg = (steam_kg_s * for_s).min(0.4 * kitchen.full_kg);
    let dry_kg = kitchen.full_kg * kitchen.made_of.total_solids();
    let target = dry_kg / (kitchen.full_kg - gone_kg);
    let warming_s = 15.0 * 4000.0 * kitchen.full_kg / flame_w;
    ((target * 1e6).round() / 1e6, gone_kg / steam_kg_s + warming_s)
}

/// What a busy kitchen does to a pot meanwhile.
fn mishaps(
    kitchen: &mut Kitchen,
    flame_w: f64,
    secs: f64,
) -> (Vec<(f64, Act)>, Vec<PlannedAddition>) {
    let mut acts = Vec::new();
    let mut planned = Vec::new();
    let chance = &mut kitchen.chance;
    let most_w = (1.7 * flame_w).min(45_000.0 * kitchen.make.area_m2());
    for _ in 0..chance.pick(&[0, 0, 0, 1, 1, 2]) {
        let watts = chance.between(0.55 * flame_w, most_w.max(flame_w));
        acts.push((secs * chance.between(0.1, 0.9), Act::Flame { watts }));
    }
    if chance.whether(0.1) {
        let out_s = secs * chance.between(0.2, 0.8);
        acts.push((out_s, Act::Flame { watts: 0.0 }));
        acts.push((out_s + chance.between(240.0, 900.0), Act::Flame { watts: flame_w }));
    }
    if chance.whether(0.2) {
        let on_s = secs * chance.between(0.05, 0.7);
        acts.push((on_s, Act::LidOn));
        acts.push((on_s + chance.between(120.0, 900.0), Act::LidOff));
    }
    if chance.whether(0.35) {
        let (addition, act) = cream(kitchen.full_kg, chance);
        // One in eight never comes.
        if chance.whether(0.875) {
            acts.push((secs * chance.between(0.1, 0.9), act));
        }
        planned.push(addition);
    }
    if chance.whether(0.25) {
        let kg = kitchen.full_kg * chance.between(0.02, 0.12);
        acts.push((secs * chance.between(0.1, 0.7), water("water", kg, chance)));
    }
    for _ in 0..chance.pick(&[0, 0, 0, 1, 2, 4]) {
        let kg = chance.between(0.2, 0.6);
        let secs_taken = chance.between(3.0, 6.0);
        acts.push((
            secs * chance.between(0.1, 0.95),
            Act::Take { name: "ladle", kg, secs: secs_taken },
        ));
    }
    (acts, planned)
}

/// Cream, planned and as it comes: up to a fifth off.
pub(super) fn cream(full_kg: f64, chance: &mut Chance) -> (PlannedAddition, Act) {
    let kg = full_kg * chance.between(0.012, 0.03);
    let addition = PlannedAddition { name: "cream".to_owned(), kg, composition: light_cream() };
    let act = Act::Add {
        name: "cream",
        kg: kg * chance.between(0.8, 1.2),
        made_of: light_cream(),
        secs: chance.between(3.0, 10.0),
        at_c: 6.0,
    };
    (addition, act)
}

/// USDA SR28 01050: water 74.5, fat 19.1 %, salt from 72 mg sodium.
fn light_cream() -> Composition {
    Composition::new(0.745, 0.062, 0.191, 0.002).unwrap_or(Composition::WATER)
}

pub(super) fn water(name: &'static str, kg: f64, chance: &mut Chance) -> Act {
    let secs = chance.between(4.0, 12.0) + 2.0 * kg;
    let at_c = chance.pick(&[12.0, 20.0, 55.0, 90.0]);
    Act::Add { name, kg, made_of: Composition::WATER, secs, at_c }
}

/// Dry matter of `gravy` after `added`, and what is left after boiling `gone_kg` away.
#[must_use]
pub(super) fn reduced_solids(gravy: Gravy, gone_kg: f64) -> f64 {
    let kg = gravy.kg();
    (kg - gravy.water_kg) / (kg - gone_kg)
}
