use super::*;
use crate::batch::recipe::Until;

fn pot() -> Pot {
    Pot { name: "big".into(), base_diameter_m: 0.4, tare_kg: 6.2, lid_kg: 1.3, height_m: Some(0.3) }
}

fn show(t_s: f64, contents_kg: f64) -> Action {
    Action::Show(Box::new(Snapshot {
        at: Moment::from_seconds(t_s).unwrap(),
        contents_kg: Some(contents_kg),
        evaporation_kg_h: Some(3.6),
        catch_index: Some(0.2),
        ..Snapshot::default()
    }))
}

fn happened(t_s: f64, what: What) -> Action {
    let at = Moment::from_seconds(t_s).unwrap();
    Action::Happened(Happening { at, seen: at, what })
}

#[test]
fn the_longest_time_without_a_stir_counts_from_the_start_and_to_now() {
    let mut story = Story::new("a", pot(), None);
    story.take(&show(0.0, 20.0));
    story.take(&happened(600.0, What::Stirred { for_s: 20.0 }));
    story.take(&show(900.0, 20.0));
    assert_eq!(story.tally.longest_gap_s, 600.0);
    story.take(&show(2000.0, 20.0));
    assert_eq!(story.tally.longest_gap_s, 1400.0);
    assert_eq!(story.tally.stirs, 1);
}

#[test]
fn evaporation_is_summed_over_time() {
    let mut story = Story::new("a", pot(), None);
    for t in 0..=10 {
        story.take(&show(f64::from(t) * 100.0, 20.0));
    }
    assert!((story.tally.evaporated_kg - 1.0).abs() < 1e-9);
}

#[test]
fn a_day_of_ladling_stays_bounded_and_its_sum_is_whole() {
    let mut story = Story::new("a", pot(), None);
    for t in 0..5000 {
        story.take(&happened(f64::from(t), What::Taken { kg: 0.5, sd_kg: 0.01 }));
    }
    assert_eq!(story.happenings.len(), HAPPENINGS);
    assert!((story.tally.taken_kg - 2500.0).abs() < 1e-6);
}

fn boiling(t_s: f64, boiling: bool) -> Action {
    let at = Moment::from_seconds(t_s).unwrap();
    Action::Show(Box::new(Snapshot { at, boiling: Some(boiling), ..Snapshot::default() }))
}

fn put_in(t_s: f64, kg: f64, name: &str) -> Action {
    happened(t_s, What::Added { kg, sd_kg: 0.01, name: Some(name.into()) })
}

/// Stages as a kitchen names them, cooked until `until_s`.
fn named(until_s: f64) -> Story {
    let stage = |name: &str, until, blends, opens_with: Option<&str>| PlannedStage {
        name: name.into(),
        until,
        flame: 1.0,
        blends,
        opens_with: opens_with.map(str::to_owned),
    };
    let mut story = Story::new("base", pot(), None);
    story.planned = vec![
        stage("to the boil", Until::Boil, false, None),
        stage("soften", Until::Minutes(60.0), false, None),
        stage("blend", Until::Minutes(10.0), true, None),
        stage("simmer down", Until::Target, false, Some("thinning water")),
        stage("finish", Until::Minutes(5.0), false, Some("cream")),
    ];
    let actions = [
        happened(5000.0, What::Blended { for_s: 300.0 }),
        put_in(5600.0, 7.7, "thinning water"),
        put_in(9000.0, 1.0, "cream"),
    ];
    for t in (0..=950).map(|n| f64::from(n) * 10.0).take_while(|t| *t <= until_s) {
        story.take(&boiling(t, (1200.0..4800.0).contains(&t) || t > 6500.0));
        for action in &actions {
            let Action::Happened(happening) = action else { panic!() };
            if happening.at.seconds() == t {
                story.take(action);
            }
        }
    }
    story
}

#[test]
fn the_stages_have_the_kitchens_own_names_and_begin_with_what_is_seen_of_them() {
    let story = named(9500.0);
    let stages: Vec<_> = story.stages().iter().map(|s| (s.name, s.from_s, s.to_s)).collect();
    let expected = [
        ("to the boil", 0.0, 1200.0),
        ("soften", 1200.0, 5000.0),
        ("blend", 5000.0, 5600.0),
        ("simmer down", 5600.0, 9000.0),
        ("finish", 9000.0, 9500.0),
    ];
    assert_eq!(stages, expected);
}

#[test]
fn no_stage_is_shown_that_cannot_be_told_yet() {
    let names = |until_s| -> Vec<String> {
        named(until_s).stages().iter().map(|stage| stage.name.to_owned()).collect()
    };
    assert_eq!(names(1000.0), ["to the boil"]);
    assert_eq!(names(4000.0), ["to the boil", "soften"]);
    // Blended, and the water that opens the next stage is not in yet: it begins with the blender's end.
    assert_eq!(names(5500.0), ["to the boil", "soften", "blend", "simmer down"]);
}

#[test]
fn an_addition_that_is_put_right_keeps_what_was_told_of_it_at_first() {
    let mut story = Story::new("a", pot(), None);
    story.take(&put_in(600.0, 1.1, "infusion"));
    story.take(&put_in(900.0, 5.0, "water"));
    let put_right = |kg| What::Corrected { kg, name: Some("infusion".into()), ago_s: 400.0 };
    story.take(&happened(1000.0, put_right(1.2)));
    let again = What::Corrected { kg: 1.3, name: Some("infusion".into()), ago_s: 500.0 };
    story.take(&happened(1100.0, again));
    let additions = story.additions();
    assert_eq!((additions[0].kg, additions[0].was), (1.3, Some((1.1, Some("infusion")))));
    assert_eq!((additions[1].kg, additions[1].was), (5.0, None));
    assert!((story.tally.added_kg - 6.3).abs() < 1e-9);
    assert_eq!(story.happenings.len(), 4, "nothing that was told is lost");
}

#[test]
fn a_boil_that_nobody_saw_does_not_hold_up_the_stages_after_it() {
    let mut story = named(9500.0);
    story.boiling = Spans::default();
    let stages = story.stages();
    let soften = stages.iter().find(|stage| stage.name == "soften").unwrap();
    assert_eq!((soften.from_s, soften.to_s), (1400.0, 5000.0), "an hour before the blender");
    assert_eq!(stages.last().unwrap().name, "finish");
}
