//! What a cook says by the page, pairing, and the look.

use std::sync::Arc;
use std::time::Duration;

use axum::Extension;
use axum::extract::{Form, Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use maud::Markup;
use serde::Deserialize;
use serde_json::json;
use tokio::time::timeout;

use crate::show::answer::Before;
use crate::show::escape::printable;
use crate::show::page::{Look, door, say, segment};
use crate::show::story::{Story, Word};
use crate::watch::action::Alarm;
use crate::watch::event::CookSays;
use crate::watch::named::Known;
use crate::watch::words::{NotUnderstood, understand};

use super::guard::{Guest, LOOK, TOKEN};
use super::routes::{Answer, document, find};
use super::site::Shared;
use super::token;

/// How long an answer waits for the word to arrive.
const ARRIVES: Duration = Duration::from_millis(1500);
/// The longest saying, characters.
const LONGEST: usize = 120;
/// A year: a phone is paired until it is forgotten.
const YEAR_S: u32 = 31_536_000;

/// A saying, or what the form for an addition asks for.
#[derive(Debug, Default, Deserialize)]
pub struct Said {
    says: Option<String>,
    amount: Option<String>,
    unit: Option<String>,
    what: Option<String>,
}

impl Said {
    fn words(self) -> Option<String> {
        let added = self.amount.zip(self.unit).zip(self.what);
        let added = added.map(|((amount, unit), what)| say::added_words(&amount, &unit, &what));
        let words = self.says.or(added)?;
        (words.chars().count() <= LONGEST).then(|| printable(&words))
    }
}

/// How it went, and in what words.
struct Outcome {
    status: StatusCode,
    words: String,
}

impl Outcome {
    fn new(status: StatusCode, words: impl Into<String>) -> Self {
        Self { status, words: words.into() }
    }

    fn as_json(&self) -> Response {
        let words = json!({ "words": self.words }).to_string();
        (self.status, [(header::CONTENT_TYPE, "application/json")], words).into_response()
    }
}

/// `POST /pot/{name}/say`
pub async fn say(
    State(site): State<Shared>,
    Extension(guest): Extension<Guest>,
    Path(name): Path<String>,
    headers: HeaderMap,
    Form(said): Form<Said>,
) -> Answer {
    let (n, pot) = find(&site, &name)?;
    let outcome = hear(&site, n, &guest, said).await;
    if headers.get(header::ACCEPT).is_some_and(|accept| accept == "application/json") {
        return Ok(outcome.as_json());
    }
    if outcome.status.is_success() {
        return Ok(Redirect::to(&format!("/pot/{}", segment(&name))).into_response());
    }
    let page = say::refused(&pot, &outcome.words);
    Ok((outcome.status, document(&site, &guest, "/", "Not told", &page)).into_response())
}

async fn hear(site: &Shared, n: usize, guest: &Guest, said: Said) -> Outcome {
    let Some(phone) = &guest.viewer.phone else {
        return Outcome::new(
            StatusCode::FORBIDDEN,
            "Pair this phone first: only then the pot listens.",
        );
    };
    let Some(words) = said.words() else {
        return Outcome::new(
            StatusCode::UNPROCESSABLE_ENTITY,
            "That is too long, or says nothing.",
        );
    };
    let says = match understand(&words, &site.house.larder) {
        Ok(says) => says,
        Err(why) => return Outcome::new(StatusCode::UNPROCESSABLE_ENTITY, why.to_string()),
    };
    if let Err(why) = known(site, n, &says) {
        return Outcome::new(StatusCode::UNPROCESSABLE_ENTITY, why.to_string());
    }
    let (before, stood) = (last_word(site, n), story(site, n).map(|story| Before::of(&story)));
    if !site.house.ear.hear(n, says.clone(), phone) {
        let busy = "The board is busy and did not hear it. Say it again.";
        return Outcome::new(StatusCode::SERVICE_UNAVAILABLE, busy);
    }
    arrived(site, n, before.as_ref()).await;
    let arrived = last_word(site, n) != before;
    let answer = stood.filter(|_| arrived).and_then(|stood| {
        let board = site.board();
        let pot = board.pots.get(n)?;
        stood.answer(&says, &pot.story, pot.clock)
    });
    Outcome::new(StatusCode::OK, answer.unwrap_or_else(|| heard(&says)))
}

/// Whether the pot knows everything that is spoken of.
fn known(site: &Shared, n: usize, says: &CookSays) -> Result<(), NotUnderstood> {
    let board = site.board();
    let Some(pot) = board.pots.get(n) else { return Ok(()) };
    let went_in: Vec<Option<&str>> = pot.story.additions().iter().map(|a| a.name).collect();
    let planned: Vec<&str> = pot.plan.additions.iter().map(|a| a.name.as_str()).collect();
    let standing: Vec<Alarm> = pot.story.raised().map(|notice| notice.alarm).collect();
    let larder = &site.house.larder;
    let changes =
        |word: &&Word| !matches!(word.says, CookSays::Acknowledge(_) | CookSays::Shelve { .. });
    let last = pot.story.words.iter().rev().find(changes);
    let spoken = last.is_some_and(|word| word.says != CookSays::TakeBack);
    Known { went_in: &went_in, planned: &planned, larder, standing: &standing, spoken }.check(says)
}

fn heard(says: &CookSays) -> String {
    let said = crate::show::page::sentence::said(says);
    said.strip_prefix("Said: ").map_or(said.clone(), |said| format!("The pot was told: {said}"))
}

fn story(site: &Shared, n: usize) -> Option<Arc<Story>> {
    site.board().pots.get(n).map(|pot| Arc::clone(&pot.story))
}

fn last_word(site: &Shared, n: usize) -> Option<Word> {
    story(site, n)?.words.back().cloned()
}

/// Waits until the word has come round, so that the next page has it; not for ever.
async fn arrived(site: &Shared, n: usize, before: Option<&Word>) {
    let mut news = site.news.subscribe();
    let newer = news
        .wait_for(|news| news.board.pots.get(n).is_none_or(|pot| pot.story.words.back() != before));
    let _ = timeout(ARRIVES, newer).await;
}

#[derive(Debug, Default, Deserialize)]
pub struct Code {
    #[serde(default)]
    code: String,
}

/// `GET /pair`: changes nothing, whatever code it brings.
pub async fn pair_page(
    State(site): State<Shared>,
    Extension(guest): Extension<Guest>,
    axum::extract::Query(Code { code }): axum::extract::Query<Code>,
) -> Response {
    let code: String = code.chars().filter(char::is_ascii_alphanumeric).take(12).collect();
    pairing(&site, &guest, &door::pair(&code, &guest.viewer, None)).into_response()
}

fn pairing(site: &Shared, guest: &Guest, page: &Markup) -> Response {
    document(site, guest, "/pair", "Pair this phone", page)
}

#[derive(Debug, Default, Deserialize)]
pub struct Pairing {
    #[serde(default)]
    code: String,
    #[serde(default)]
    name: String,
}

/// `POST /pair`
pub async fn pair(
    State(site): State<Shared>,
    Extension(guest): Extension<Guest>,
    Form(Pairing { code, name }): Form<Pairing>,
) -> Response {
    let name: String = printable(&name).trim().chars().take(door::LONGEST_NAME).collect();
    let refused = |why: &str| {
        let page = door::pair("", &guest.viewer, Some(why));
        (StatusCode::FORBIDDEN, pairing(&site, &guest, &page)).into_response()
    };
    if name.is_empty() {
        return refused("Say what to call this phone.");
    }
    let token = match token::token() {
        Ok(token) => token,
        Err(why) => return refused(&why.to_string()),
    };
    let (phones, hash, code) =
        (Arc::clone(&site.house.phones), token::hash(&token), token::code_hash(&code));
    match tokio::task::spawn_blocking(move || phones.pair(&code, &hash, &name)).await {
        Ok(Ok(())) => (set_cookie(&site, TOKEN, &token, YEAR_S), Redirect::to("/")).into_response(),
        Ok(Err(why)) => refused(&why),
        Err(gone) => refused(&gone.to_string()),
    }
}

/// `POST /forget`
pub async fn forget(State(site): State<Shared>, Extension(guest): Extension<Guest>) -> Response {
    if let Some(token) = guest.token {
        let phones = Arc::clone(&site.house.phones);
        let done = tokio::task::spawn_blocking(move || phones.forget(&token)).await;
        if let Ok(Err(why)) = done {
            let page = door::sentence("The phone was not forgotten", &why);
            let page = document(&site, &guest, "/", "Not forgotten", &page);
            return (StatusCode::INTERNAL_SERVER_ERROR, page).into_response();
        }
    }
    (set_cookie(&site, TOKEN, "", 0), Redirect::to("/")).into_response()
}

#[derive(Debug, Default, Deserialize)]
pub struct Subscribing {
    #[serde(default)]
    person: String,
    #[serde(default)]
    subscription: String,
}

/// `POST /push`
pub async fn push(
    State(site): State<Shared>,
    Extension(guest): Extension<Guest>,
    Form(Subscribing { person, subscription }): Form<Subscribing>,
) -> Response {
    let outcome = match &site.house.pocket {
        _ if guest.viewer.phone.is_none() => {
            Outcome::new(StatusCode::FORBIDDEN, "Pair this phone first.")
        }
        None => Outcome::new(StatusCode::NOT_FOUND, "The board does not tell phones."),
        Some(pocket) => match pocket.add(&person, &subscription) {
            Ok(()) => Outcome::new(StatusCode::OK, format!("This phone is told as {person}.")),
            Err(why) => Outcome::new(StatusCode::UNPROCESSABLE_ENTITY, why),
        },
    };
    outcome.as_json()
}

#[derive(Debug, Default, Deserialize)]
pub struct Chosen {
    #[serde(default)]
    look: String,
    #[serde(default)]
    back: String,
}

/// `POST /look`
pub async fn look(
    State(site): State<Shared>,
    Form(Chosen { look, back }): Form<Chosen>,
) -> Response {
    let look = Look::by_name(&look).unwrap_or_default();
    (set_cookie(&site, LOOK, look.name(), YEAR_S), Redirect::to(own_path(&back))).into_response()
}

/// A path of the board's own, or the first page.
fn own_path(path: &str) -> &str {
    let own = path.starts_with('/')
        && !path.starts_with("//")
        && path.bytes().all(|b| b.is_ascii_graphic() && b != b'\\');
    if own { path } else { "/" }
}

fn set_cookie(
    site: &Shared,
    name: &str,
    value: &str,
    for_s: u32,
) -> [(header::HeaderName, String); 1] {
    let secure = if site.settings.tls.is_some() { "; Secure" } else { "" };
    let cookie = format!("{name}={value}; Path=/; HttpOnly; SameSite=Lax; Max-Age={for_s}{secure}");
    [(header::SET_COOKIE, cookie)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_is_sent_elsewhere() {
        assert_eq!(own_path("/pot/big?a=1"), "/pot/big?a=1");
        for elsewhere in
            ["//evil.example", "/\\evil.example", "https://evil.example", "", "/a\r\nb"]
        {
            assert_eq!(own_path(elsewhere), "/");
        }
    }
}
