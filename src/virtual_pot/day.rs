//! The `day` family: a finished pot through service, hold and cooling.

use super::cook::{Act, Habit, Step, When};
use super::family::{Kitchen, Script, step};
use super::reduce;

pub(super) fn script(kitchen: &mut Kitchen) -> Script {
    let hold_c = kitchen.chance.between(66.0, 84.0);
    // What keeps it there under the lid, seen from the losses at the boil.
    let keep = (hold_c - kitchen.make.room_c) / (97.0 - kitchen.make.room_c);
    let hold_w = keep * kitchen.losses_w(kitchen.full_kg, true) * kitchen.chance.between(0.9, 1.2);
    let mut course = vec![
        step(When::At(kitchen.chance.between(60.0, 400.0)), Act::LidOn),
        step(When::After(30.0), Act::Flame { watts: hold_w }),
    ];
    course.extend(service(kitchen));
    course.extend(cooling(kitchen));
    Script {
        start_c: kitchen.chance.between(84.0, 91.0),
        flame_w: hold_w,
        lid_on: false,
        soft: 1.0,
        blended: true,
        course,
        mishaps: lull(kitchen, hold_w),
        additions: vec![],
        target: None,
        habit: Habit {
            share: 0.4,
            soonest_s: 120.0,
            latest_s: kitchen.chance.between(900.0, 1500.0),
            leaves_spoon: 0.02,
        },
        about_s: 4.0 * 3600.0,
        longest_s: 8.0 * 3600.0,
    }
}

/// Ladles in runs of every two minutes, the lid off and on about each run, a top-up.
fn service(kitchen: &mut Kitchen) -> Vec<Step> {
    let full_kg = kitchen.full_kg;
    let chance = &mut kitchen.chance;
    let mut course = Vec::new();
    for _ in 0..chance.pick(&[2, 3, 4]) {
        course.push(step(When::After(chance.between(600.0, 1500.0)), Act::LidOff));
        for _ in 0..chance.pick(&[3, 5, 8]) {
            let kg = chance.between(0.2, 0.5);
            let gap_s = chance.between(80.0, 180.0);
            course.push(step(When::After(gap_s), Act::Take { name: "ladle", kg, secs: 4.0 }));
        }
        if chance.whether(0.4) {
            let act = reduce::water("top up", full_kg * chance.between(0.02, 0.06), chance);
            course.push(step(When::After(60.0), act));
        }
        course.push(step(When::After(chance.between(20.0, 90.0)), Act::LidOn));
    }
    course
}

/// The flame goes out in some, unseen for a while.
fn lull(kitchen: &mut Kitchen, hold_w: f64) -> Vec<(f64, Act)> {
    let chance = &mut kitchen.chance;
    if chance.whether(0.6) {
        return vec![];
    }
    let out_s = chance.between(900.0, 4000.0);
    let back_s = out_s + chance.between(1200.0, 4800.0);
    vec![(out_s, Act::Flame { watts: 0.0 }), (back_s, Act::Flame { watts: 2.0 * hold_w })]
}

/// Left to stand, or chilled with an ice paddle that is changed while it works.
fn cooling(kitchen: &mut Kitchen) -> Vec<Step> {
    let chance = &mut kitchen.chance;
    let mut course = vec![
        step(When::After(chance.between(300.0, 900.0)), Act::Flame { watts: 0.0 }),
        step(When::After(20.0), Act::LidOff),
        step(When::After(20.0), Act::Stirs(false)),
    ];
    if chance.whether(0.6) {
        let w_k = chance.between(25.0, 90.0);
        let kg = chance.between(1.5, 2.8);
        course.push(step(When::After(chance.between(30.0, 600.0)), Act::Chill { w_k, kg }));
        course.push(step(
            When::Below { c: 21.0, at_most_s: 12_000.0 },
            Act::Chill { w_k: 0.0, kg: 0.0 },
        ));
        course.push(step(When::After(600.0), Act::End));
    } else {
        course.push(step(When::Below { c: 25.0, at_most_s: 14_000.0 }, Act::End));
    }
    course
}
