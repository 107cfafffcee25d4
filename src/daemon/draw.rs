//! The curves, drawn on a thread of their own: a picture takes longer than a sample may wait.

use std::io;
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::thread::{self, JoinHandle};

use crate::show::clock::Clock;
use crate::show::curve::{self, Size, Style};
use crate::show::paint::Type;
use crate::show::story::Story;
use crate::tell::mqtt::message::Message;

use super::post::Post;

/// For a page on a phone held across, or a part of a screen on the wall.
const SIZE: Size = Size { width: 800, height: 450, density: 1 };

/// A pot's story to be drawn.
#[derive(Debug)]
pub struct Sketch {
    pub pot: String,
    pub story: Story,
    pub clock: Option<Clock>,
}

/// The board's drawer.
#[derive(Debug)]
pub struct Drawer {
    sketches: Option<SyncSender<Sketch>>,
    thread: Option<JoinHandle<()>>,
}

impl Drawer {
    /// # Errors
    /// Where the system has no thread left.
    pub fn open(post: Post) -> io::Result<Self> {
        let (sketches, taken) = sync_channel(1);
        let thread = thread::Builder::new().name("drawer".to_owned());
        let thread = thread.spawn(move || draw_all(&taken, &post))?;
        Ok(Self { sketches: Some(sketches), thread: Some(thread) })
    }

    /// `false` where it is still busy with earlier ones.
    #[must_use]
    pub fn try_draw(&self, sketch: Sketch) -> bool {
        let sketches = self.sketches.as_ref();
        sketches.is_some_and(|s| !matches!(s.try_send(sketch), Err(TrySendError::Full(_))))
    }

    /// Draws this last one and waits until it is published.
    pub fn close(mut self, last: Vec<Sketch>) {
        if let Some(sketches) = self.sketches.take() {
            last.into_iter().for_each(|sketch| drop(sketches.send(sketch)));
        }
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn draw_all(sketches: &Receiver<Sketch>, post: &Post) {
    for Sketch { pot, story, clock } in sketches {
        let style = Style { clock, set_in: Type::FromPage, ..Style::new(SIZE) };
        match curve::svg(&story, &style) {
            Ok(svg) => post.hold(Message::curve_svg(&post.topics, &pot, svg)),
            Err(why) => tracing::error!(pot, "{why}"),
        }
        match curve::png(&story, &style) {
            Ok(png) => post.hold(Message::curve_png(&post.topics, &pot, png)),
            Err(why) => tracing::error!(pot, "{why}"),
        }
    }
}
