//! The strip of the bottom: how much risk has gathered since each stir, hanging from the base's
//! line, and each stir as a stroke across it.

use crate::show::canvas::Canvas;
use crate::show::drawing::{Anchor, Dash};
use crate::show::scale::Scale;
use crate::show::story::Story;
use crate::show::strip;
use crate::watch::action::What;

use super::frame::Frame;

pub fn draw(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let place = frame.strip;
    let depth = Scale::new((0.0, strip::DEEPEST), 1.0, (place.top + canvas.pen(), place.bottom));
    strip::draw(canvas, &frame.time, &depth, story);
    stirs(canvas, frame, story);
    if story.catch.last().is_some() {
        words(canvas, frame, &depth);
    }
}

fn stirs(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let (ink, fine) = (canvas.p.ink, canvas.fine() * 1.3);
    let (top, bottom) = (frame.level.bottom - canvas.f * 0.5, frame.level.bottom + canvas.f * 0.25);
    for happening in &story.happenings {
        if let What::Stirred { .. } | What::Blended { .. } = happening.what {
            let x = frame.time.px_within(happening.at.seconds());
            canvas.drawing.line((x, top), (x, bottom), ink, fine);
        }
    }
}

fn words(canvas: &mut Canvas, frame: &Frame, depth: &Scale) {
    let set = canvas.muted(Anchor::Start);
    let y = depth.px(1.0);
    let points = vec![(frame.strip.left, y), (frame.strip.right, y)];
    canvas.drawing.path(points, canvas.p.muted, canvas.fine(), Dash::Dotted);
    let below = frame.strip.bottom + canvas.f * 1.05;
    canvas.write("bottom: risk since the last stir", (frame.strip.left, below), set);
    let right = (frame.strip.right, below);
    let places = [(right, Anchor::End)];
    let room = frame.paper;
    canvas.write_at_one("dotted: as likely caught as not", &places, set, &room);
}
