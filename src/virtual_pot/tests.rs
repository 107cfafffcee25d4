//! The virtual pot against what a pot cannot do otherwise.

use proptest::prelude::*;

use super::bottom::{Base, RULE_FLUX_W_M2};
use super::chance::Chance;
use super::gravy::Gravy;
use super::recording;
use super::steam;
use super::world::{Make, World};
use super::*;
use crate::batch::composition::Composition;

fn cooked(kind: Kind, seed: u64) -> VirtualPot {
    let mut pot = VirtualPot::new(kind, seed).with_load_hz(1);
    while pot.next().is_some() {}
    pot
}

fn any_kind() -> impl Strategy<Value = Kind> {
    prop::sample::select(Kind::ALL.to_vec())
}

/// A pot of water on a steady flame, without weather or wandering.
fn plain(altitude_m: f64, flame_w: f64, start_c: f64) -> World {
    let mut make = Make::draw(&mut Chance::new(1, 1), 0.40, 6.0, altitude_m);
    make.air_kpa = steam::air_kpa(altitude_m);
    make.wander = 0.0;
    make.stove_lag_s = 1.0;
    let mut world = World::new(make, Gravy::new(20.0, Composition::WATER), start_c, 1);
    world.settle_flame(flame_w);
    world
}

fn run(world: &mut World, secs: usize) {
    (0..secs).for_each(|_| world.second());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_went_in_is_what_came_out_and_what_is_left(kind in any_kind(), seed in 0..100_000_u64) {
        let before = VirtualPot::new(kind, seed).world.gravy;
        let pot = cooked(kind, seed);
        let (left, books) = (pot.world.gravy, pot.world.books());
        let gone = books.steam_kg;
        let short = |start: f64, added: f64, taken: f64, steam: f64, left: f64| {
            (start + added - taken - steam - left).abs()
        };
        prop_assert!(short(before.kg(), books.added.kg(), books.taken.kg(), gone, left.kg()) < 1e-6);
        prop_assert!(
            short(before.water_kg, books.added.water_kg, books.taken.water_kg, gone, left.water_kg)
                < 1e-6
        );
        let dry = |gravy: &Gravy| [gravy.solids_kg, gravy.fat_kg, gravy.salt_kg];
        for part in 0..3 {
            let (start, end) = (dry(&before)[part], dry(&left)[part]);
            let (added, taken) = (dry(&books.added)[part], dry(&books.taken)[part]);
            prop_assert!(short(start, added, taken, 0.0, end) < 1e-6);
        }
    }

    #[test]
    fn the_truth_tells_every_gram_that_moved(kind in any_kind(), seed in 0..100_000_u64) {
        let pot = cooked(kind, seed);
        let moved = |what: &[&str]| -> f64 {
            let told = pot.truth().events.iter().filter(|event| what.contains(&event.what));
            told.filter_map(|event| event.kg).sum()
        };
        let books = pot.world.books();
        // What is still being poured when the batch ends is not told yet.
        let busy_kg = pot.cook.moved_kg();
        prop_assert!((moved(&["added"]) - books.added.kg()).abs() <= busy_kg + 1e-6);
        prop_assert!((moved(&["taken", "lid-off"]) - books.taken.kg()).abs() <= busy_kg + 1e-6);
    }

    #[test]
    fn the_same_seed_gives_the_same_bytes(kind in any_kind(), seed in 0..100_000_u64) {
        let once = recording::write(VirtualPot::new(kind, seed).with_load_hz(1));
        let again = recording::write(VirtualPot::new(kind, seed).with_load_hz(1));
        prop_assert!(once == again);
        let other = recording::write(VirtualPot::new(kind, seed + 1).with_load_hz(1));
        prop_assert!(once.csv != other.csv);
    }

    #[test]
    fn reading_the_scale_more_seldom_changes_nothing_that_happens(seed in 0..1000_u64) {
        let mut often = VirtualPot::new(Kind::Reduce, seed).with_load_hz(10);
        while often.next().is_some() {}
        let seldom = cooked(Kind::Reduce, seed);
        prop_assert_eq!(&often.truth().contents_kg, &seldom.truth().contents_kg);
        prop_assert_eq!(often.truth().target_s, seldom.truth().target_s);
    }

    #[test]
    fn samples_come_in_order_of_time(kind in any_kind(), seed in 0..100_000_u64) {
        let mut last = crate::moment::Moment::default();
        for (at, _) in VirtualPot::new(kind, seed) {
            prop_assert!(at >= last);
            last = at;
        }
    }

    #[test]
    fn everything_in_the_pot_stays_finite_and_in_range(kind in any_kind(), seed in 0..100_000_u64) {
        let pot = cooked(kind, seed);
        let truth = pot.truth();
        prop_assert!(truth.contents_kg.iter().all(|kg| kg.is_finite() && *kg > 0.0));
        prop_assert!(truth.total_solids.iter().all(|ts| (0.0..=1.0).contains(ts)));
        prop_assert!(truth.soft.iter().all(|soft| (0.0..=1.0).contains(soft)));
        prop_assert!(truth.evaporation_kg_h.iter().all(|e| (0.0..60.0).contains(e)));
        prop_assert!(truth.pot_c.iter().all(|c| (0.0..300.0).contains(c)));
    }
}

#[test]
fn water_warms_by_what_the_flame_gives() {
    // A pot that loses nothing, 20 kg of water and the walls' 65 % of 6 kg of steel. IF97: mean c_p of
    // water from 20 to 60 °C 4.1815 kJ/kg K.
    let mut world = plain(0.0, 3000.0, 20.0);
    let make = &mut world.make;
    (make.wall_w_m2k, make.surface_w_m2k, make.transport) = (0.0, 0.0, 0.0);
    while world.food_c < 60.0 {
        world.second();
    }
    let needed_j = (20.0 * 4181.5 + 0.65 * 6.0 * 500.0) * (world.food_c - 20.0);
    let given_j = world.books().heat_j;
    assert!((given_j / needed_j - 1.0).abs() < 0.01, "{given_j} J for {needed_j} J");
}

#[test]
fn at_the_boil_all_heat_that_is_not_lost_goes_into_steam() {
    let mut world = plain(0.0, 3000.0, 99.0);
    run(&mut world, 2000);
    let flow = world.flow();
    // IF97: 2256.5 kJ/kg at 100 °C.
    let steam_w = flow.steam_kg_s * 2.2565e6;
    assert!((steam_w - (flow.heat_w - flow.lost_w)).abs() < 0.003 * flow.heat_w, "{flow:?}");
    // 1 kW makes 1.595 kg of steam an hour at one atmosphere (the same figure, by hand).
    let per_kw = 3600.0 * flow.steam_kg_s / ((flow.heat_w - flow.lost_w) / 1000.0);
    assert!((per_kw - 1.595).abs() < 0.005, "{per_kw}");
}

#[test]
fn water_boils_at_the_altitudes_boiling_point() {
    // ISO 2533 pressure into IF97.
    for (altitude_m, boil_c) in [(0.0, 99.974), (1000.0, 96.649), (2250.0, 92.483)] {
        let mut world = plain(altitude_m, 4000.0, boil_c - 3.0);
        run(&mut world, 2000);
        assert!((world.food_c - boil_c).abs() < 0.05, "{} °C at {altitude_m} m", world.food_c);
        assert!(world.flow().boil > 0.9);
    }
}

#[test]
fn a_lid_keeps_water_in_and_warms_faster() {
    let (mut open, mut lidded) = (plain(0.0, 2000.0, 55.0), plain(0.0, 2000.0, 55.0));
    lidded.lid_on = true;
    run(&mut open, 900);
    run(&mut lidded, 900);
    assert!(lidded.books().steam_kg < 0.5 * open.books().steam_kg);
    assert!(lidded.food_c > open.food_c);
}

#[test]
fn hot_water_in_a_still_room_evaporates_as_measured() {
    // Hot water in beakers, room 20 °C at 30 % humidity: 3.07 ± 0.17 kg/h m² at 60 °C and
    // 6.7 ± 0.3 at 75 °C (eight runs of an open data set), with the transport factor at 1.2.
    for (t_c, kg_h_m2) in [(60.0, 3.07), (75.0, 6.7)] {
        let mut world = plain(0.0, 0.0, t_c);
        (world.make.room_c, world.make.damp_kpa, world.make.transport) = (20.0, 0.702, 1.2);
        world.second();
        let rate = 3600.0 * world.flow().steam_kg_s / world.make.area_m2();
        assert!((rate / kg_h_m2 - 1.0).abs() < 0.12, "{rate} against {kg_h_m2} at {t_c} °C");
    }
}

#[test]
fn carrots_go_soft_as_carrots_do() {
    // Mansfield 1974 and Vu 2004 by way of Lee 2017, table 1: nine tenths of the change at 100 °C in
    // 18 and 10 min, at 90 °C in 75 and 29 min (computed from k and E_a).
    for (rate_min, ea, hot_min, cool_min) in
        [(0.126, 159_000.0, 18.3, 75.0), (0.222, 117_600.0, 10.4, 29.0)]
    {
        for (t_c, min) in [(100.0, hot_min), (90.0, cool_min)] {
            let mut world = plain(0.0, 0.0, t_c);
            world.make.soft_rate_100_s = rate_min / 60.0;
            world.make.soft_ea_j_mol = ea;
            let mut secs = 0.0;
            while world.soft < 0.9 {
                world.food_c = t_c;
                world.second();
                secs += 1.0;
            }
            assert!((secs / 60.0 / min - 1.0_f64).abs() < 0.04, "{secs} s at {t_c} °C");
        }
    }
}

#[test]
fn an_unstirred_pot_keeps_the_trades_rule_as_a_whole() {
    // Common practice, no source: once soft 5 to 10 minutes, at the flux the rule is taken to hold.
    let mut stood_min: Vec<f64> = (0..60).map(soft_pot_stands_min).collect();
    stood_min.sort_by(f64::total_cmp);
    let (tenth, middle, ninetieth) = (stood_min[6], stood_min[30], stood_min[53]);
    assert!((6.0..8.5).contains(&middle), "{middle} min");
    assert!(tenth > 4.2 && ninetieth < 12.0, "{tenth} to {ninetieth} min");
}

fn soft_pot_stands_min(seed: u64) -> f64 {
    let mut world = plain(0.0, 0.0, 99.5);
    let made_of = Composition::new(0.89, 0.0771, 0.03, 0.0029).unwrap();
    world.gravy = Gravy::new(20.0, made_of);
    world.make.base = Base::draw(&mut Chance::new(seed, 9));
    world.bottom = super::bottom::Bottom::new(world.make.base);
    world.soft = 1.0;
    world.settle_flame(RULE_FLUX_W_M2 * world.make.area_m2());
    let mut secs = 0.0;
    while !world.bottom.caught() {
        world.second();
        secs += 1.0;
    }
    secs / 60.0
}

#[test]
fn tended_pots_never_catch_and_neglected_ones_do() {
    for seed in 0..40 {
        assert_eq!(cooked(Kind::Tended, seed).truth().caught_s, None, "tended {seed}");
    }
    let caught = (0..40).filter(|seed| cooked(Kind::Neglect, *seed).truth().caught_s.is_some());
    assert!(caught.count() >= 36);
}

#[test]
fn nearly_every_reduced_pot_comes_to_its_target() {
    let came = (0..60).filter(|seed| cooked(Kind::Reduce, *seed).truth().target_s.is_some());
    assert!(came.count() >= 54);
}

#[test]
fn the_cook_does_what_is_said() {
    let mut pot = VirtualPot::new(Kind::Reduce, 1).with_load_hz(1).without_mishaps();
    pot.tell(Act::Flame { watts: 0.0 });
    while pot.next().is_some_and(|(at, _)| at.seconds() < 600.0) {}
    assert_eq!(pot.truth().events[0].what, "flame");
    assert!(*pot.truth().heat_w.last().unwrap() < 300.0);
}

#[test]
fn samples_of_one_moment_share_a_row_and_a_dead_sensor_leaves_its_cell_empty() {
    let texts = recording::write(VirtualPot::new(Kind::Whole, 1).with_load_hz(1));
    let mut rows = texts.csv.lines();
    assert_eq!(rows.next(), Some("t_s,probe_c,load_kg,base_c,platform_c"));
    assert!(rows.all(|row| row.split(',').count() == 5));
}
