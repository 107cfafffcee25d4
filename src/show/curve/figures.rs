//! A few figures under the pot: what it loses, how thick it is, what the flame gives.

use crate::show::canvas::Canvas;
use crate::show::drawing::Anchor;
use crate::show::lettering;
use crate::show::story::Story;
use crate::watch::action::Snapshot;

use super::frame::Frame;

pub fn draw(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let Some(now) = &story.now else { return };
    let set = canvas.muted(Anchor::Start);
    let room = frame.pot.right - frame.margin();
    let step = canvas.f * 1.45;
    let mut y = frame.pot.bottom + canvas.f * 2.4;
    for (long, short) in figures(now) {
        let fits = lettering::width(&long, set.size, false) <= room;
        if y > frame.axis {
            return;
        }
        canvas.write(if fits { &long } else { &short }, (frame.margin(), y), set);
        y += step;
    }
}

/// Each in full and in short.
fn figures(now: &Snapshot) -> Vec<(String, String)> {
    let loss = now
        .evaporation_kg_h
        .map(|v| (format!("boils off {v:.1} kg an hour"), format!("off {v:.1} kg/h")));
    let solids = now.total_solids.map(|v| {
        let v = v * 100.0;
        (format!("solids {v:.1} %"), format!("solids {v:.1} %"))
    });
    let heat = now.heat_w.map(|w| {
        let kw = w / 1000.0;
        (format!("takes up {kw:.1} kW of heat"), format!("heat {kw:.1} kW"))
    });
    [solids, loss, heat].into_iter().flatten().collect()
}
