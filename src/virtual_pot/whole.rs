//! The `whole` family: base gravy as the Harbour Lane Kitchen cooks it.
//!
//! Vegetables under the lid to the boil, flame down; the spice infusion; soft; lid off, flame out and
//! blended; part of the pot poured through a sieve and back; thinned by about a fifth of its mass;
//! cream; boiled down to the target; ladled out through service, with a top-up.

use crate::batch::composition::Composition;
use crate::batch::plan::PlannedAddition;

use super::cook::{Act, Habit, Step, When};
use super::family::{Kitchen, Script, step};
use super::gravy::Gravy;
use super::reduce;

/// The plan's amounts and what truly goes in.
struct Pours {
    additions: Vec<PlannedAddition>,
    infusion: Option<Act>,
    thinning: Act,
    cream: Option<Act>,
    top_up: Act,
}

pub(super) fn script(kitchen: &mut Kitchen) -> Script {
    let chance = &mut kitchen.chance;
    // Room for thinning.
    kitchen.full_kg = (0.8 * kitchen.full_kg).max(6.0);
    let start_c = chance.between(20.0, 60.0);
    let flux = chance.between_log(18_000.0, 42_000.0);
    let simmer = chance.between(1.15, 1.9);
    let lid_on = chance.whether(0.85);
    let flame_w = kitchen.heat_w(flux).max(1.6 * kitchen.losses_w(kitchen.full_kg, true));
    let simmer_w = simmer * kitchen.losses_w(kitchen.full_kg, lid_on);
    let pours = pours(kitchen);
    let target = target(kitchen, &pours);
    let mut course = softening(kitchen, lid_on, simmer_w, &pours);
    course.extend(blending(kitchen, lid_on, &pours));
    course.extend(finishing(kitchen, flame_w, pours.top_up));
    Script {
        start_c,
        flame_w,
        lid_on,
        soft: 0.0,
        blended: false,
        course,
        mishaps: mishaps(kitchen),
        additions: pours.additions,
        target: Some(target),
        habit: Habit {
            share: kitchen.chance.between(0.25, 0.6),
            soonest_s: 150.0,
            latest_s: kitchen.chance.between(700.0, 1200.0),
            leaves_spoon: kitchen.chance.pick(&[0.0, 0.0, 0.02, 0.06]),
        },
        about_s: 4.0 * 3600.0,
        longest_s: 6.0 * 3600.0,
    }
}

fn planned(name: &str, kg: f64, composition: Composition) -> PlannedAddition {
    PlannedAddition { name: name.to_owned(), kg: (kg * 1e3).round() / 1e3, composition }
}

/// Some come a fifth off, some never.
fn pours(kitchen: &mut Kitchen) -> Pours {
    let full_kg = kitchen.full_kg;
    let chance = &mut kitchen.chance;
    let infusion_kg = full_kg * chance.between(0.03, 0.06);
    let thinning_kg = full_kg * chance.between(0.17, 0.25);
    let top_up_kg = full_kg * chance.between(0.03, 0.08);
    let (cream_plan, cream) = reduce::cream(full_kg, chance);
    let infused = Composition::new(0.985, 0.012, 0.002, 0.001).unwrap_or(Composition::WATER);
    let infusion = Act::Add {
        name: "spice infusion",
        kg: infusion_kg * chance.between(0.8, 1.2),
        made_of: infused,
        secs: chance.between(4.0, 12.0),
        at_c: chance.between(70.0, 92.0),
    };
    let thinning = reduce::water("thinning water", thinning_kg * chance.between(0.8, 1.2), chance);
    let top_up = reduce::water("top up", top_up_kg * chance.between(0.8, 1.2), chance);
    Pours {
        additions: vec![
            planned("spice infusion", infusion_kg, infused),
            planned("thinning water", thinning_kg, Composition::WATER),
            cream_plan,
            planned("top up", top_up_kg, Composition::WATER),
        ],
        infusion: chance.whether(0.92).then_some(infusion),
        thinning,
        cream: chance.whether(0.9).then_some(cream),
        top_up,
    }
}

/// What the plan foresees: everything in, then some of it boiled away.
fn target(kitchen: &mut Kitchen, pours: &Pours) -> f64 {
    let mut gravy = Gravy::new(kitchen.full_kg, kitchen.made_of);
    for addition in pours.additions.iter().take(3) {
        gravy.add(Gravy::new(addition.kg, addition.composition));
    }
    let gone_kg = kitchen.chance.between(0.12, 0.28) * gravy.kg();
    (reduce::reduced_solids(gravy, gone_kg) * 1e6).round() / 1e6
}

/// Up to the boil, flame down, infusion, until soft.
fn softening(kitchen: &mut Kitchen, lid_on: bool, simmer_w: f64, pours: &Pours) -> Vec<Step> {
    let chance = &mut kitchen.chance;
    let mut course = vec![step(When::Boils { at_most_s: 4500.0 }, Act::Flame { watts: simmer_w })];
    let wait_s = chance.between(300.0, 1500.0);
    if lid_on {
        course.push(step(When::After(wait_s), Act::LidOff));
    }
    if let Some(infusion) = &pours.infusion {
        let pause_s = if lid_on { chance.between(6.0, 20.0) } else { wait_s };
        course.push(step(When::After(pause_s), infusion.clone()));
    }
    if lid_on {
        course.push(step(When::After(chance.between(15.0, 60.0)), Act::LidOn));
        // Nobody looks under it again at once.
        course.push(step(When::After(chance.between(300.0, 600.0)), Act::Stirs(true)));
    }
    course
}

/// Lid off, flame out, blended, sieved, thinned, cream.
fn blending(kitchen: &mut Kitchen, lid_on: bool, pours: &Pours) -> Vec<Step> {
    let chance = &mut kitchen.chance;
    let soft = When::Soft { to: 0.93, at_most_s: 6000.0 };
    let mut course = Vec::new();
    if lid_on {
        course.push(step(soft, Act::LidOff));
        course.push(step(When::After(10.0), Act::Flame { watts: 0.0 }));
    } else {
        course.push(step(soft, Act::Flame { watts: 0.0 }));
    }
    let cool_s = chance.between(60.0, 400.0);
    course.push(step(When::After(cool_s), Act::Blend { secs: chance.between(300.0, 600.0) }));
    if chance.whether(0.6) {
        let share = chance.between(0.3, 0.85);
        let secs = chance.between(40.0, 120.0);
        course.push(step(When::After(700.0), Act::SieveOut { share, secs }));
        let back_s = secs + chance.between(60.0, 200.0);
        course.push(step(When::After(back_s), Act::SieveBack { secs: chance.between(20.0, 60.0) }));
    }
    course.push(step(When::After(chance.between(90.0, 240.0)), pours.thinning.clone()));
    if let Some(cream) = &pours.cream {
        course.push(step(When::After(chance.between(60.0, 150.0)), cream.clone()));
    }
    course
}

/// Flame up, to the target, then service.
fn finishing(kitchen: &mut Kitchen, flame_w: f64, top_up: Act) -> Vec<Step> {
    let full_kg = kitchen.full_kg;
    let hold_w = kitchen.losses_w(full_kg, false) * kitchen.chance.between(0.9, 2.0);
    let chance = &mut kitchen.chance;
    let mut course = vec![
        step(When::After(20.0), Act::Flame { watts: flame_w * chance.between(0.7, 1.0) }),
        step(When::After(1.0), Act::ToTarget),
        step(When::Target { at_most_s: 9000.0 }, Act::Flame { watts: hold_w }),
    ];
    // At most about half of the pot.
    let ladles = (chance.between(0.25, 0.55) * full_kg / 0.4).clamp(5.0, 25.0) as usize;
    let top_up_after = chance.between(0.3, 0.8) * ladles as f64;
    let mut top_up = Some(top_up);
    for ladle in 0..ladles {
        let kg = chance.between(0.22, 0.55);
        let gap_s = chance.between(90.0, 260.0);
        let secs = chance.between(3.0, 6.0);
        course.push(step(When::After(gap_s), Act::Take { name: "ladle", kg, secs }));
        if ladle as f64 > top_up_after {
            course.extend(top_up.take().map(|act| step(When::After(30.0), act)));
        }
    }
    course.push(step(When::After(chance.between(100.0, 400.0)), Act::End));
    course
}

fn mishaps(kitchen: &mut Kitchen) -> Vec<(f64, Act)> {
    let chance = &mut kitchen.chance;
    let mut acts = Vec::new();
    if chance.whether(0.3) {
        let kg = chance.between(0.2, 0.9);
        acts.push((chance.between(600.0, 5000.0), reduce::water("water", kg, chance)));
    }
    if chance.whether(0.3) {
        let at_s = chance.between(900.0, 9000.0);
        acts.push((at_s, Act::Take { name: "taste", kg: chance.between(0.2, 0.4), secs: 5.0 }));
    }
    acts
}
