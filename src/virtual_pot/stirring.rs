//! The `tended` and `neglect` families: what stirring does for the bottom.

use super::cook::{Act, Habit, When};
use super::family::{Kitchen, Script, step};

/// Stirred well inside what the bottom stands: nothing may cry wolf.
pub(super) fn tended(kitchen: &mut Kitchen) -> Script {
    let share = kitchen.chance.between(0.25, 0.5);
    let secs = kitchen.chance.between(6000.0, 9000.0);
    // No more boils away than a cook would let.
    let gone_kg = kitchen.chance.between(0.05, 0.3) * kitchen.full_kg;
    simmering(kitchen, share, vec![], secs, gone_kg)
}

/// Stirred for a while, then no more.
pub(super) fn neglect(kitchen: &mut Kitchen) -> Script {
    let share = kitchen.chance.between(0.25, 0.5);
    let left_s = kitchen.chance.between(600.0, 3600.0);
    let secs = kitchen.chance.between(6600.0, 10_000.0);
    let gone = if kitchen.chance.whether(0.2) { 1.0 } else { kitchen.chance.between(0.1, 0.4) };
    let gone_kg = gone * kitchen.full_kg;
    simmering(kitchen, share, vec![(left_s, Act::Stirs(false))], secs, gone_kg)
}

/// Boils `secs` long, at most about `gone_kg` of it away.
fn simmering(
    kitchen: &mut Kitchen,
    share: f64,
    mut mishaps: Vec<(f64, Act)>,
    secs: f64,
    gone_kg: f64,
) -> Script {
    let lid_on = kitchen.chance.whether(0.5);
    let flux = kitchen.chance.between_log(11_000.0, 30_000.0);
    let losses_w = kitchen.losses_w(kitchen.full_kg, lid_on);
    let most_w = losses_w + 2.26e6 * gone_kg / secs;
    let flame_w = kitchen.heat_w(flux).min(most_w).max(1.1 * losses_w);
    let chance = &mut kitchen.chance;
    let soft = chance.pick(&[0.0, 0.0, 0.0, 0.4, 0.9, 1.0]);
    let start_c = chance.between(78.0, 91.0);
    if chance.whether(0.3) {
        let watts = flame_w * chance.between(0.6, 1.3);
        mishaps.push((chance.between(0.1, 0.9) * secs, Act::Flame { watts }));
    }
    Script {
        start_c,
        flame_w,
        lid_on,
        soft,
        blended: soft > 0.95,
        course: vec![step(When::At(secs), Act::End)],
        mishaps,
        additions: vec![],
        target: None,
        habit: Habit {
            share,
            soonest_s: 60.0,
            latest_s: kitchen.chance.between(700.0, 1200.0),
            leaves_spoon: 0.02,
        },
        about_s: secs,
        longest_s: secs,
    }
}
