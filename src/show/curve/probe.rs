//! The probe's temperature over time, with the boiling point here and now.

use crate::show::canvas::Canvas;
use crate::show::clock::length;
use crate::show::drawing::{Anchor, Bounds, Dash, Point};
use crate::show::scale::Scale;
use crate::show::story::Story;
use crate::watch::action::{Sensor, What};

use super::frame::Frame;

/// A reading older than this says its age, s.
const OLD_S: f64 = 90.0;

pub fn draw(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let band = frame.probe;
    let boil_c = story.now.as_ref().and_then(|now| now.boil_c);
    let Some(scale) = scale(frame, story, boil_c) else {
        let set = canvas.muted(Anchor::Start);
        canvas.write("no temperature was read", (band.left, band.bottom - canvas.f * 0.4), set);
        return;
    };
    ticks(canvas, frame, &scale);
    if let Some(c) = boil_c {
        boil_line(canvas, frame, &scale, c);
    }
    let ink = canvas.p.ink;
    let pen = canvas.pen() * 0.6;
    for run in story.probe.runs() {
        let points: Vec<Point> =
            run.iter().map(|(t, c)| (frame.time.px_within(*t), scale.px_within(*c))).collect();
        canvas.placing.take_path(&points, 1.0);
        match points.as_slice() {
            [only] => canvas.drawing.dot(*only, pen, ink),
            _ => canvas.drawing.path(points, ink, pen, Dash::Solid),
        }
    }
    faults(canvas, frame, story);
    end_words(canvas, frame, story, &scale);
}

/// A cross where the probe left the pot or its sensor fell silent, with words where there is room.
fn faults(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let (y, arm) = (frame.probe.bottom - canvas.f * 0.8, canvas.f * 0.3);
    let (ink, pen) = (canvas.p.hand, canvas.pen() * 0.7);
    for happening in &story.happenings {
        let words = match happening.what {
            What::ProbeOut => "probe out",
            What::SensorFault { sensor: Sensor::Probe, .. } => "probe silent",
            _ => continue,
        };
        let x = frame.time.px_within(happening.at.seconds());
        canvas.drawing.line((x - arm, y - arm), (x + arm, y + arm), ink, pen);
        canvas.drawing.line((x - arm, y + arm), (x + arm, y - arm), ink, pen);
        canvas.placing.take(Bounds { left: x, top: y, right: x, bottom: y }.grown(arm));
        let set = canvas.muted(Anchor::Start);
        let beside = y + canvas.f * 0.3;
        let places =
            [((x + arm * 2.0, beside), Anchor::Start), ((x - arm * 2.0, beside), Anchor::End)];
        canvas.write_at_one(words, &places, set, &frame.probe);
    }
}

fn scale(frame: &Frame, story: &Story, boil_c: Option<f64>) -> Option<Scale> {
    let (low, high) = story.probe.extent()?;
    let (low, high) = (low.min(boil_c.unwrap_or(low)), high.max(boil_c.unwrap_or(high)));
    let pad = ((high - low) * 0.08).max(1.0);
    let px = (frame.probe.bottom, frame.probe.top);
    Some(Scale::new((low - pad, high + pad), 10.0, px))
}

fn ticks(canvas: &mut Canvas, frame: &Frame, scale: &Scale) {
    let set = canvas.muted(Anchor::End);
    let (ink, fine) = (canvas.p.muted, canvas.fine());
    let x = frame.probe.left - canvas.f * 0.5;
    canvas.drawing.line((x, frame.probe.top), (x, frame.probe.bottom), ink, fine);
    for c in scale.ticks(canvas.f * 1.5) {
        let y = scale.px(c);
        canvas.drawing.line((x - canvas.f * 0.35, y), (x, y), ink, fine);
        canvas.write(&format!("{c:.0}"), (x - canvas.f * 0.5, y + canvas.f * 0.3), set);
    }
    let at =
        (x - canvas.f * 2.6, f64::midpoint(frame.probe.top, frame.probe.bottom) + canvas.f * 0.3);
    canvas.write("probe, °C", at, set);
}

fn boil_line(canvas: &mut Canvas, frame: &Frame, scale: &Scale, c: f64) {
    let y = scale.px_within(c);
    let points = vec![(frame.probe.left, y), (frame.probe.right, y)];
    canvas.placing.take_path(&points, 1.0);
    canvas.drawing.path(points, canvas.p.muted, canvas.fine(), Dash::DashDotted);
}

fn end_words(canvas: &mut Canvas, frame: &Frame, story: &Story, scale: &Scale) {
    let f = canvas.f;
    let room = Bounds { top: frame.probe.top - f * 1.2, ..frame.probe };
    if let Some((t, c)) = story.probe.last() {
        let (x, y) = (frame.time.px_within(t), scale.px_within(c));
        let set = canvas.plain(Anchor::Start);
        let places = [
            ((x + f * 0.5, y + f * 0.35), Anchor::Start),
            ((x, y + f * 1.4), Anchor::End),
            ((x, y - f * 0.6), Anchor::End),
            ((x, y + f * 2.4), Anchor::End),
        ];
        let age_s = frame.now_s - t;
        let old = if age_s > OLD_S { format!(", {} ago", length(age_s)) } else { String::new() };
        canvas.write_at_one(&format!("{c:.1} °C{old}"), &places, set, &room);
    }
    if let Some(c) = story.now.as_ref().and_then(|now| now.boil_c) {
        let y = scale.px_within(c);
        let set = canvas.muted(Anchor::End);
        let (left, right) = (frame.probe.left, frame.probe.right);
        let places = [
            ((right, y + f * 1.1), Anchor::End),
            ((left + f, y + f * 1.1), Anchor::Start),
            ((f64::midpoint(left, right), y + f * 1.1), Anchor::Middle),
            ((right, y - f * 0.4), Anchor::End),
            ((left + f, y - f * 0.4), Anchor::Start),
        ];
        canvas.write_at_one(&format!("boils here at {c:.1} °C"), &places, set, &room);
    }
}
