use super::*;

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
