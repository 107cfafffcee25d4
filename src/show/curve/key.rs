//! What the marks mean, in one line at the foot.

use crate::show::canvas::Canvas;
use crate::show::clock::Clock;
use crate::show::drawing::{Anchor, Bounds};
use crate::show::lettering;
use crate::show::story::Story;
use crate::show::strip;

use super::frame::Frame;
use super::marks::arrow;

pub fn draw(canvas: &mut Canvas, frame: &Frame, story: &Story, clock: Option<Clock>) {
    let set = canvas.muted(Anchor::Start);
    let f = canvas.f;
    let mut x = frame.margin();
    let y = frame.key;
    let signs =
        [("in", "in"), ("out", "out"), ("stir", "stir"), ("due", "stir due"), ("lid", "lid on")];
    let due = story.stir_due.seconds().next().is_some();
    for (sign, words) in signs.into_iter().filter(|(sign, _)| due || *sign != "due") {
        let middle = (x + f * 0.6, y - f * 0.3);
        let (ink, fine, pen) = (canvas.p.ink, canvas.fine() * 1.3, canvas.pen() * 1.3);
        match sign {
            "in" => arrow(canvas, (middle.0, y), true),
            "out" => arrow(canvas, (middle.0, y), false),
            "stir" => {
                canvas.drawing.line((middle.0, y - f * 0.75), (middle.0, y + f * 0.05), ink, fine);
            }
            "due" => {
                let (left, right) = (x, x + f * 1.2);
                strip::due(canvas, Bounds { left, top: y - f * 0.65, right, bottom: y });
            }
            _ => canvas.drawing.line((x, middle.1), (x + f * 1.2, middle.1), ink, pen),
        }
        x += f * 1.5;
        canvas.write(words, (x, y), set);
        x += lettering::width(words, set.size, false) + f * 1.4;
    }
    let when = match (clock, story.began) {
        (Some(clock), Some(began)) => clock.date(began),
        _ => "time since the start".into(),
    };
    let places = [((frame.level.right, y), Anchor::End)];
    canvas.write_at_one(&when, &places, set, &frame.paper);
}
