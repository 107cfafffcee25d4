use proptest::prelude::*;

use crate::batch::pot::Pot;
use crate::moment::Moment;
use crate::show::clock::Clock;
use crate::show::drawing::{Bounds, Dash, Shape, Text};
use crate::show::sample::{added, at, happened, pot, shown, tuesday, well_formed};
use crate::show::story::Story;
use crate::watch::action::{
    Action, Alarm, AlarmState, Happening, Lid, Notice, Snapshot, Spread, What,
};

use super::*;

const SIZES: [Size; 4] =
    [Size::PHONE, Size::PAGE, Size::WALL, Size { width: 620, height: 360, density: 1 }];

const CLOCK: Clock = Clock { utc_ms_at_zero: 57_600_000, offset_s: 0 };

fn styles() -> impl Iterator<Item = Style> {
    SIZES.into_iter().flat_map(|size| {
        let style = Style::new(size);
        [
            style,
            Style { clock: Some(CLOCK), dark: true, ..style },
            Style { heading: false, ..style },
        ]
    })
}

fn words(story: &Story, style: &Style) -> Vec<String> {
    draw(story, style).texts().map(|text| text.words.clone()).collect()
}

/// Panics where a word leaves the paper or stands on another.
fn stands_well(drawing: &Drawing) {
    let paper = drawing.bounds().grown(0.5);
    let texts: Vec<(&Text, Bounds)> =
        drawing.texts().map(|text| (text, text.bounds().grown(-text.size * 0.12))).collect();
    for (i, (text, bounds)) in texts.iter().enumerate() {
        assert!(bounds.within(&paper), "{:?} leaves the paper: {bounds:?}", text.words);
        for (other, others) in &texts[..i] {
            let meet = bounds.meets(others);
            assert!(!meet, "{:?} stands on {:?}", text.words, other.words);
        }
    }
}

#[test]
fn the_curve_says_when_it_is_ready_and_names_what_went_in_and_out() {
    let story = tuesday(8400.0);
    let said = words(&story, &Style { clock: Some(CLOCK), ..Style::new(Size::PAGE) });
    for part in
        ["Ready about 18:5", "spice infusion", "thinning water", "−0.60 kg", "blended, 7 min"]
    {
        assert!(said.iter().any(|words| words.contains(part)), "{part} in {said:?}");
    }
    for whole in ["heating", "at the boil", "Stir within 4 min", "16:30", "18:30"] {
        assert!(said.iter().any(|words| words == whole), "{whole} in {said:?}");
    }
}

#[test]
fn ladlings_in_a_row_are_named_once() {
    let mut story = tuesday(9000.0);
    for n in 0..12 {
        let t = 9000.0 + f64::from(n) * 120.0;
        story.take(&happened(t, What::Taken { kg: 0.4, sd_kg: 0.01 }));
        let contents_kg = Some(26.0 - 0.4 * f64::from(n));
        story.take(&shown(Snapshot { at: at(t + 60.0), contents_kg, ..Snapshot::default() }));
    }
    let said = words(&story, &Style::new(Size::PAGE));
    assert!(said.iter().any(|words| words.ends_with("in 13 ladlings")), "{said:?}");
    // The 0.6 kg that were sieved out are a ladleful too.
    assert_eq!(said.iter().filter(|words| words.starts_with('−')).count(), 1, "{said:?}");
}

#[test]
fn every_word_stands_on_the_paper_and_on_no_other_at_every_size_and_age() {
    for until_s in [0.0, 10.0, 600.0, 2600.0, 5700.0, 6500.0, 8000.0, 9000.0, 12_000.0] {
        let story = tuesday(until_s);
        for style in styles() {
            stands_well(&draw(&story, &style));
        }
    }
}

#[test]
fn the_level_in_the_pot_is_the_newest_point_of_the_curve() {
    let drawing = draw(&tuesday(8400.0), &Style::new(Size::PAGE));
    let blue = Style::new(Size::PAGE).palette().water;
    let dot = drawing.shapes.iter().find_map(|shape| match shape {
        Shape::Dot { at, fill, .. } if *fill == blue => Some(*at),
        _ => None,
    });
    let surface = drawing.shapes.iter().find_map(|shape| match shape {
        Shape::Path { points, ink, .. } if *ink == blue => points.first().copied(),
        _ => None,
    });
    let (dot, surface) = (dot.unwrap(), surface.unwrap());
    assert!((dot.1 - surface.1).abs() < 1e-9 && surface.0 < dot.0, "{dot:?} {surface:?}");
}

#[test]
fn depth_and_width_of_the_pot_are_to_one_scale() {
    // 0.40 m wide holds 125.7 kg a metre, so 0.30 m to the rim are 37.7 kg.
    let narrow = Pot { base_diameter_m: 0.16, height_m: Some(0.30), ..pot() };
    let mut story = Story::new("a", narrow, None);
    story.take(&shown(Snapshot { contents_kg: Some(4.0), ..Snapshot::default() }));
    let frame = frame::Frame::new(&story, &Style::new(Size::PAGE), 14.0, 80.0);
    assert!(!frame.cut && frame.rim);
    let per_m = frame.pot.height() / 0.30;
    assert!((frame.pot.width() / per_m - 0.16).abs() < 1e-9);
    assert!((frame.px_per_m - per_m).abs() < 1e-9);
}

#[test]
fn each_stir_strokes_the_strip_once() {
    let strokes = |story: &Story| {
        let drawing = draw(story, &Style::new(Size::PAGE));
        drawing.shapes.iter().filter(|s| matches!(s, Shape::Path { .. })).count()
    };
    let mut story = tuesday(3000.0);
    let before = strokes(&story);
    story.take(&happened(2990.0, What::Stirred { for_s: 20.0 }));
    assert_eq!(strokes(&story), before + 1);
}

#[test]
fn what_needs_a_hand_differs_without_colour() {
    // The vermillion part of the strip is hatched in ink; the calm part is not.
    let hatched = |until_s: f64| {
        let style = Style::new(Size::PAGE);
        let p = style.palette();
        let drawing = draw(&tuesday(until_s), &style);
        let hand = |s: &&Shape| matches!(s, Shape::Area { fill, .. } if *fill == p.hand);
        drawing.shapes.iter().filter(hand).count()
    };
    assert_eq!(hatched(600.0), 0);
    assert!(hatched(8400.0) > 1);
}

#[test]
fn the_same_story_gives_the_same_bytes() {
    let style = Style::new(Size::PHONE);
    let (a, b) = (tuesday(7000.0), tuesday(7000.0));
    assert_eq!(svg(&a, &style).unwrap(), svg(&b, &style).unwrap());
    assert_eq!(png(&a, &style).unwrap(), png(&b, &style).unwrap());
}

#[test]
fn a_png_has_its_size_and_its_ground() {
    let bytes = png(&tuesday(7000.0), &Style::new(Size::PHONE)).unwrap();
    let mut decoder = png::Decoder::new(std::io::Cursor::new(&bytes));
    decoder.set_transformations(png::Transformations::EXPAND);
    let mut reader = decoder.read_info().unwrap();
    assert_eq!((reader.info().width, reader.info().height), (800, 1040));
    let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
    reader.next_frame(&mut pixels).unwrap();
    let ground = Style::new(Size::PHONE).palette().ground;
    assert_eq!(pixels[..3], [ground.0, ground.1, ground.2]);
    let inked = pixels.chunks_exact(3).filter(|p| p[0] < 60).count();
    assert!(inked > 4000, "{inked} dark pixels");
}

#[test]
fn an_svg_is_well_formed_and_says_the_same_as_the_drawing() {
    for style in styles() {
        let story = tuesday(8400.0);
        let texts = well_formed(&svg(&story, &style).unwrap());
        for word in words(&story, &style) {
            assert!(texts.iter().any(|text| text == word.trim()), "{word}");
        }
    }
}

#[test]
fn hostile_names_are_only_text() {
    let name = "</text><script>alert(1)</script>&\u{0}\u{1b}\"'";
    let mut story = Story::new(name, Pot { name: name.into(), ..pot() }, None);
    story.take(&added(10.0, 1.0, name));
    story.take(&shown(Snapshot { at: at(20.0), contents_kg: Some(9.0), ..Snapshot::default() }));
    let svg = svg(&story, &Style::new(Size::WALL)).unwrap();
    assert!(!svg.contains("<script"));
    assert!(well_formed(&svg).iter().any(|text| text.contains("<script>alert(1)</script>&")));
}

#[test]
fn a_gap_is_left_open() {
    let mut story = Story::new("a", pot(), None);
    for t in 0..200 {
        let known = !(80..120).contains(&t);
        story.take(&shown(Snapshot {
            at: at(f64::from(t) * 10.0),
            contents_kg: known.then_some(20.0 - f64::from(t) / 100.0),
            ..Snapshot::default()
        }));
    }
    let style = Style { heading: false, ..Style::new(Size::PAGE) };
    let drawing = draw(&story, &style);
    let blue = style.palette().water;
    let lines: Vec<_> = drawing
        .shapes
        .iter()
        .filter_map(|shape| match shape {
            Shape::Path { points, ink, .. } if *ink == blue && points.len() > 2 => Some(points),
            _ => None,
        })
        .collect();
    assert_eq!(lines.len(), 2);
    let (end, start) = (lines[0].last().unwrap().0, lines[1][0].0);
    assert!(start - end > 100.0, "{end} {start}");
}

#[test]
fn where_nothing_is_known_that_is_said() {
    let empty = Story::new("a", pot(), None);
    let said = words(&empty, &Style::new(Size::PAGE));
    assert!(said.iter().any(|words| words == "Nothing seen yet"));
    let mut blind = empty;
    blind.take(&shown(Snapshot { raised: vec![Alarm::ScaleFault], ..Snapshot::default() }));
    let said = words(&blind, &Style::new(Size::PAGE));
    for part in [
        "Cannot tell: the scale gives no weight",
        "contents not known now",
        "no temperature was read",
    ] {
        assert!(said.iter().any(|words| words == part), "{part} in {said:?}");
    }
}

fn number() -> impl Strategy<Value = Option<f64>> {
    prop_oneof![
        1 => Just(None),
        1 => Just(Some(0.0)),
        4 => (0.0..60.0f64).prop_map(Some),
        1 => (-1e9..1e9f64).prop_map(Some),
        1 => prop::num::f64::ANY.prop_map(Some),
    ]
}

fn anything() -> impl Strategy<Value = Action> {
    let snapshot = (
        0i64..20_000_000,
        prop::array::uniform6(number()),
        prop::option::of((number(), number())),
        any::<bool>(),
    )
        .prop_map(|(ms, n, ahead, so)| {
            let [pot_c, contents_kg, target_kg, catch_index, heat_w, boil_c] = n;
            let ahead = ahead.and_then(|(a, b)| Some((a?, b?)));
            shown(Snapshot {
                at: Moment::from_ms(ms),
                pot_c,
                contents_kg,
                target_kg,
                catch_index,
                heat_w,
                boil_c,
                target_in_s: ahead.map(|(a, b)| Spread { p10: a, p50: b, p90: a.max(b) }),
                lid: Some(if so { Lid::On } else { Lid::Off }),
                boiling: Some(so),
                raised: if so { vec![Alarm::Catching] } else { vec![] },
                ..Snapshot::default()
            })
        });
    let happening =
        (0i64..20_000_000, 0..5, number(), "\\PC{0,40}").prop_map(|(ms, n, kg, name)| {
            let kg = kg.unwrap_or(1.0);
            let what = match n {
                0 => What::Added { kg, sd_kg: 0.0, name: Some(name) },
                1 => What::Taken { kg, sd_kg: 0.0 },
                2 => What::Blended { for_s: kg },
                3 => What::ProbeOut,
                _ => What::Stirred { for_s: kg },
            };
            Action::Happened(Happening { at: Moment::from_ms(ms), seen: Moment::from_ms(ms), what })
        });
    let notice = (0i64..20_000_000, "\\PC{0,120}").prop_map(|(ms, why)| {
        let (alarm, state) = (Alarm::Catching, AlarmState::Raised);
        Action::Tell(Notice { at: Moment::from_ms(ms), alarm, state, why })
    });
    prop_oneof![4 => snapshot, 2 => happening, 1 => notice]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]
    #[test]
    fn whatever_was_seen_it_draws_and_every_word_stands_well(
        actions in prop::collection::vec(anything(), 0..60),
        which in 0usize..12,
    ) {
        let mut story = Story::new("a", pot(), None);
        for action in &actions {
            story.take(action);
        }
        let style = styles().nth(which).unwrap();
        let drawing = draw(&story, &style);
        stands_well(&drawing);
        prop_assert!(drawing.shapes.len() < 20_000);
        well_formed(&paint::svg(&drawing, Type::FromPage).unwrap());
    }
}

/// Dotted lines of the target in the level's place, from the left.
fn dotted(story: &Story) -> (Vec<Vec<(f64, f64)>>, frame::Frame) {
    let style = Style::new(Size::PAGE);
    let drawing = draw(story, &style);
    let canvas = crate::show::canvas::Canvas::new(1000, 560, style.palette());
    let top = heading_bottom(story, &style);
    let frame = frame::Frame::new(story, &style, canvas.f, top);
    let lines = drawing.shapes.iter().filter_map(|shape| match shape {
        Shape::Path { points, ink, dash: Dash::Dotted, .. } if *ink == style.palette().ink => {
            Some(points.clone())
        }
        _ => None,
    });
    (lines.filter(|line| line[0].0 >= frame.level.left).collect(), frame)
}

fn heading_bottom(story: &Story, style: &Style) -> f64 {
    let mut canvas = crate::show::canvas::Canvas::new(1000, 560, style.palette());
    heading::draw(&mut canvas, story, &words::of(story, style.clock))
}

#[test]
fn the_line_of_the_target_ends_where_it_was_reached() {
    let mut story = tuesday(8400.0);
    let (lines, frame) = dotted(&story);
    let right = lines.iter().flatten().map(|p| p.0).fold(0.0, f64::max);
    assert!((right - frame.level.right).abs() < 1e-6, "it is ahead: to the edge");
    let why = "the gravy is right".to_owned();
    let (alarm, state) = (Alarm::TargetReached, AlarmState::Raised);
    story.take(&Action::Tell(Notice { at: at(8400.0), alarm, state, why }));
    // Service: what is ladled out takes its share of the target with it.
    for n in 1..=40 {
        let kg = 24.0 - 0.4 * f64::from(n);
        let t = 8400.0 + 60.0 * f64::from(n);
        let (contents_kg, target_kg) = (Some(kg), Some(kg + 0.1));
        story.take(&shown(Snapshot { at: at(t), contents_kg, target_kg, ..Snapshot::default() }));
    }
    assert_eq!(story.aimed_kg(), Some(24.1));
    let (lines, frame) = dotted(&story);
    let points: Vec<_> = lines.concat();
    let right = points.iter().map(|p| p.0).fold(0.0, f64::max);
    assert!((right - frame.time.px(8400.0)).abs() < 2.0, "{right}");
    assert!(points.iter().all(|p| (p.1 - frame.kg.px(24.1)).abs() < 1e-6), "at what it was then");
    let said = words(&story, &Style::new(Size::PAGE));
    assert!(said.iter().any(|words| words.ends_with("24.1 kg")), "{said:?}");
}

#[test]
fn the_key_names_every_mark_at_every_width() {
    let story = tuesday(8400.0);
    for style in styles() {
        let said = words(&story, &style);
        for mark in ["in", "out", "stir", "stir due", "lid on"] {
            assert!(said.iter().any(|words| words == mark), "{mark} in {said:?}");
        }
    }
    // Where no stir was due nothing is hatched, and there is nothing to name.
    let said = words(&tuesday(600.0), &Style::new(Size::PAGE));
    assert!(!said.iter().any(|words| words == "stir due"), "{said:?}");
}
