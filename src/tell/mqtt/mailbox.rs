//! Where the daemon leaves what is to be told, without ever waiting.
//!
//! Of state only the newest of each topic is held, so a mailbox that nobody empties stays small.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::Notify;

use super::message::Message;

/// A mailbox that many may fill and one connection empties.
#[derive(Debug, Clone, Default)]
pub struct Mailbox(Arc<Inner>);

#[derive(Debug, Default)]
struct Inner {
    mail: Mutex<Mail>,
    news: Notify,
}

/// What was left since the mailbox was last emptied.
#[derive(Debug, Default)]
pub(super) struct Mail {
    pub held: BTreeMap<String, Message>,
    /// There is something new in the outbox.
    pub look: bool,
    /// What is amiss on this board now.
    pub trouble: Option<Vec<String>>,
    pub stop: bool,
}

impl Mailbox {
    /// The newest state of its topic.
    pub fn hold(&self, message: Message) {
        self.leave(|mail| {
            mail.held.insert(message.topic.clone(), message);
        });
    }

    /// There is something new in the outbox.
    pub fn look(&self) {
        self.leave(|mail| mail.look = true);
    }

    /// What is amiss on this board now, for its status.
    pub fn trouble(&self, words: Vec<String>) {
        self.leave(|mail| mail.trouble = Some(words));
    }

    /// Say goodbye and end.
    pub fn stop(&self) {
        self.leave(|mail| mail.stop = true);
    }

    fn leave(&self, leave: impl FnOnce(&mut Mail)) {
        leave(&mut self.0.mail.lock().unwrap_or_else(PoisonError::into_inner));
        self.0.news.notify_one();
    }

    /// Waits until something was left; at once where something was left since the last time.
    pub(super) async fn news(&self) {
        self.0.news.notified().await;
    }

    pub(super) fn empty(&self) -> Mail {
        std::mem::take(&mut self.0.mail.lock().unwrap_or_else(PoisonError::into_inner))
    }
}
