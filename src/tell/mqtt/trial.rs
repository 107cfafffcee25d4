//! One trial word to a broker: does it take what this board says?
//!
//! It goes to `trial` under the board's topics, not retained, by a client of its own, so that a daemon
//! that runs beside it keeps its connection and its status.

use std::time::Duration;

use tokio::sync::mpsc;
use tokio::time::timeout;

use super::link::{self, Event, Link, Protocol};
use super::message::Message;
use super::topic::Topics;
use super::trouble::{Kind, Trouble};
use super::{EVENTS, Settings};

/// For connecting, sending and the answer.
const PATIENCE: Duration = Duration::from_secs(15);

/// Sends the trial and waits for its acknowledgement; what the broker answered.
///
/// # Errors
/// Why it did not arrive, in words.
pub fn send(settings: &Settings, json: String) -> Result<String, String> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = runtime.map_err(|why| why.to_string())?;
    let name = format!("{}-trial", settings.client_id);
    let settings = Settings { client_id: name, pots: Vec::new(), ..settings.clone() };
    let word = Message::trial(&Topics::of(&settings.board), json);
    runtime.block_on(async {
        match timeout(PATIENCE, by_any(&settings, &word)).await {
            Ok(outcome) => outcome,
            Err(_) => Err(Trouble::silent(&settings).words),
        }
    })
}

async fn by_any(settings: &Settings, word: &Message) -> Result<String, String> {
    let answered =
        |protocol: Protocol| format!("acknowledged on {}, by MQTT {}", word.topic, protocol.name());
    let trouble = match once(Protocol::V5, settings, word).await {
        Ok(()) => return Ok(answered(Protocol::V5)),
        Err(trouble) => trouble,
    };
    if !matches!(trouble.kind, Kind::OtherProtocol | Kind::Shut) {
        return Err(trouble.words);
    }
    let old = once(Protocol::V311, settings, word).await;
    old.map(|()| answered(Protocol::V311)).map_err(|trouble| trouble.words)
}

/// One connection, one word, one answer.
async fn once(protocol: Protocol, settings: &Settings, word: &Message) -> Result<(), Trouble> {
    let (link, line) = link::open(protocol, settings, word);
    let (sender, mut events) = mpsc::channel(EVENTS);
    let line = line.drive(sender, settings);
    tokio::pin!(line);
    let said = tokio::select! {
        trouble = &mut line => return Err(trouble),
        said = said(&link, &mut events, word) => said,
    };
    // Without a goodbye the broker would say the trial again, as a last will.
    let gone = link.goodbye();
    if gone {
        let drained = async { while events.recv().await.is_some() {} };
        tokio::select! { _ = &mut line => {}, () = drained => {} }
    }
    match said {
        true => Ok(()),
        false => Err(Trouble::refusal(settings)),
    }
}

/// Whether the broker took it.
async fn said(link: &Link, events: &mut mpsc::Receiver<Event>, word: &Message) -> bool {
    while let Some(event) = events.recv().await {
        match event {
            Event::Up(_) if !link.publish(word.clone()) => return false,
            Event::Answered { accepted, .. } => return accepted,
            _ => {}
        }
    }
    false
}
