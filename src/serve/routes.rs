//! The routes, and what is only read.

use std::sync::Arc;

use axum::extract::{DefaultBodyLimit, Path, Query, RawQuery, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::middleware::from_fn_with_state;
use axum::response::sse::Sse;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Extension, Router};
use maud::Markup;
use serde::Deserialize;
use tokio::time::Instant;

use crate::show::board::{KeptBatch, PotNow};
use crate::show::comparison::{self, Align, Comparison};
use crate::show::lettering::{BOLD_WOFF2, REGULAR_WOFF2};
use crate::show::metrics;
use crate::show::page::{self, Frame, Live, Viewer, door, earlier, pass, pot, segment};

use super::guard::{self, Guest};
use super::health;
use super::live::{self, Of};
use super::site::{Shared, Sheet, Width};
use super::speaking;

/// The largest body, bytes: a saying or a pairing.
const BODY: usize = 4 << 10;

/// A route's answer, or why there is none.
pub type Answer = Result<Response, Refused>;

/// The answer of a route that has none.
#[derive(Debug)]
pub struct Refused(Box<Response>);

impl From<Response> for Refused {
    fn from(response: Response) -> Self {
        Self(Box::new(response))
    }
}

impl IntoResponse for Refused {
    fn into_response(self) -> Response {
        *self.0
    }
}

/// Everything that is served, behind the guard.
pub fn all(site: Shared) -> Router {
    Router::new()
        .route("/", get(home))
        .route("/pot/{name}", get(one_pot))
        .route("/pot/{name}/curve.svg", get(curve))
        .route("/pot/{name}/say", post(speaking::say))
        .route("/stream", get(stream))
        .route("/batches", get(batches))
        .route("/batches/{number}", get(batch))
        .route("/batches/{number}/curve.svg", get(batch_curve))
        .route("/compare", get(compare))
        .route("/compare.svg", get(compare_picture))
        .route("/pair", get(speaking::pair_page).post(speaking::pair))
        .route("/forget", post(speaking::forget))
        .route("/push", post(speaking::push))
        .route("/look", post(speaking::look))
        .route("/metrics", get(metrics))
        .route("/health", get(health))
        .route("/look.css", get(style))
        .route("/alive.js", get(script))
        .route("/push.js", get(push_script))
        .route("/mark.svg", get(mark))
        .route("/type.woff2", get(|site, headers| font(site, headers, REGULAR_WOFF2)))
        .route("/type-bold.woff2", get(|site, headers| font(site, headers, BOLD_WOFF2)))
        .fallback(async || plain(StatusCode::NOT_FOUND, "There is no such page."))
        .layer(from_fn_with_state(Arc::clone(&site), guard::watch))
        .layer(DefaultBodyLimit::max(BODY))
        .with_state(site)
}

/// An answer of one sentence.
pub fn plain(status: StatusCode, words: &str) -> Response {
    let kind = [(header::CONTENT_TYPE, "text/plain; charset=utf-8")];
    (status, kind, format!("{words}\n")).into_response()
}

/// A page that is not told anew.
pub fn document(
    site: &Shared,
    guest: &Guest,
    path: &str,
    title: &str,
    middle: &Markup,
) -> Response {
    framed(site, &guest.viewer, path, title, None, middle)
}

fn framed(
    site: &Shared,
    viewer: &Viewer,
    path: &str,
    title: &str,
    live: Option<&Live>,
    middle: &Markup,
) -> Response {
    let news = site.news();
    let time = news.time();
    let (kitchen, time) = (&news.board.kitchen, time.as_deref());
    let offer = site.house.pocket.as_ref().map(|pocket| pocket.offer());
    let frame = Frame { kitchen, time, viewer, path, live, offer: offer.as_ref() };
    let html = page::whole(&frame, title, middle);
    ([(header::CONTENT_TYPE, "text/html; charset=utf-8")], html).into_response()
}

/// What is said to those who may not read.
pub fn closed(site: &Shared, guest: &Guest) -> Response {
    let page = door::pair("", &guest.viewer, None);
    (StatusCode::UNAUTHORIZED, document(site, guest, "/", "Pair this phone", &page)).into_response()
}

/// The pot of this name, and its number.
pub fn find(site: &Shared, name: &str) -> Result<(usize, PotNow), Refused> {
    let board = site.board();
    let n = board.pots.iter().position(|pot| pot.name == name);
    let n = n.ok_or_else(|| plain(StatusCode::NOT_FOUND, "There is no such pot."))?;
    Ok((n, board.pots[n].clone()))
}

async fn home(State(site): State<Shared>, Extension(guest): Extension<Guest>) -> Response {
    let board = site.board();
    match board.pots.as_slice() {
        [only] => pot_page(&site, &guest, 0, only, "/"),
        _ => {
            let news = site.news();
            let live = Live { stream: "/stream".into(), after: news.id() };
            let middle = pass::draw(&news.board, &news.all_drawn(), &guest.viewer);
            framed(&site, &guest.viewer, "/", &news.board.kitchen, Some(&live), &middle)
        }
    }
}

async fn one_pot(
    State(site): State<Shared>,
    Extension(guest): Extension<Guest>,
    Path(name): Path<String>,
) -> Answer {
    let (n, pot) = find(&site, &name)?;
    Ok(pot_page(&site, &guest, n, &pot, &format!("/pot/{}", segment(&name))))
}

fn pot_page(site: &Shared, guest: &Guest, n: usize, pot: &PotNow, path: &str) -> Response {
    let news = site.news();
    let live = Live { stream: format!("/stream?pot={n}"), after: news.id() };
    let middle = pot::draw(n, pot, news.drawn(n), &guest.viewer);
    framed(site, &guest.viewer, path, &pot::title(pot), Some(&live), &middle)
}

/// How large and how light a picture is wanted.
#[derive(Debug, Default, Deserialize)]
struct Look {
    #[serde(default)]
    size: String,
    #[serde(default)]
    look: String,
}

impl Look {
    fn width(&self) -> Width {
        match self.size.as_str() {
            "wide" => Width::Wide,
            "middle" => Width::Middle,
            _ => Width::Narrow,
        }
    }

    fn is_dark(&self) -> bool {
        self.look == "dark"
    }
}

async fn curve(
    State(site): State<Shared>,
    Path(name): Path<String>,
    Query(look): Query<Look>,
) -> Answer {
    let (pot, _) = find(&site, &name)?;
    let sheet = Sheet { pot, width: look.width(), dark: look.is_dark() };
    picture(site.curve(sheet).await)
}

fn picture(drawn: Result<impl IntoResponse, String>) -> Answer {
    let svg = drawn.map_err(|why| plain(StatusCode::INTERNAL_SERVER_ERROR, &why))?;
    Ok(([(header::CONTENT_TYPE, "image/svg+xml")], svg).into_response())
}

#[derive(Debug, Default, Deserialize)]
struct Listening {
    pot: Option<usize>,
    #[serde(default)]
    after: String,
}

async fn stream(
    State(site): State<Shared>,
    Extension(guest): Extension<Guest>,
    Query(listening): Query<Listening>,
    headers: HeaderMap,
) -> Answer {
    let of = listening.pot.map_or(Of::Pass, Of::Pot);
    let place = site.stream().ok_or_else(|| {
        let full = plain(StatusCode::SERVICE_UNAVAILABLE, "Too many are listening already.");
        ([(header::RETRY_AFTER, "30")], full).into_response()
    })?;
    let last = headers.get("last-event-id").and_then(|id| id.to_str().ok());
    let last = last.unwrap_or(&listening.after);
    Ok(Sse::new(live::stream(&site, of, last, guest.token, place)).into_response())
}

/// Asks the shelf, which may have to wait for the disk.
async fn ask<T: Send + 'static>(
    site: &Shared,
    question: impl FnOnce(&dyn super::Shelf) -> Result<T, String> + Send + 'static,
) -> Result<T, Refused> {
    let shelf = Arc::clone(&site.house.shelf);
    let unavailable = |why: &str| plain(StatusCode::SERVICE_UNAVAILABLE, why);
    let answer = tokio::task::spawn_blocking(move || question(&*shelf)).await;
    Ok(answer.map_err(|gone| unavailable(&gone.to_string()))?.map_err(|why| unavailable(&why))?)
}

async fn batches(State(site): State<Shared>, Extension(guest): Extension<Guest>) -> Answer {
    let kept = ask(&site, |shelf| shelf.list()).await?;
    Ok(document(&site, &guest, "/batches", "Earlier batches", &earlier::list(&kept)))
}

async fn kept(site: &Shared, number: i64) -> Result<KeptBatch, Refused> {
    let found = ask(site, move |shelf| shelf.batch(number)).await?;
    Ok(found.ok_or_else(|| plain(StatusCode::NOT_FOUND, "There is no such batch."))?)
}

async fn batch(
    State(site): State<Shared>,
    Extension(guest): Extension<Guest>,
    Path(number): Path<i64>,
) -> Answer {
    let batch = kept(&site, number).await?;
    let page = earlier::one(&batch, &guest.viewer);
    Ok(document(&site, &guest, &format!("/batches/{number}"), &batch.entry.name, &page))
}

async fn batch_curve(
    State(site): State<Shared>,
    Path(number): Path<i64>,
    Query(look): Query<Look>,
) -> Answer {
    let batch = kept(&site, number).await?;
    picture(site.kept_curve(batch.pot, look.width(), look.is_dark()).await)
}

/// What is to be compared, as a query says it: `with=12&with=9&at=boil`.
#[derive(Debug)]
struct Asked {
    with: Vec<i64>,
    at: Align,
    look: Look,
}

impl Asked {
    fn of(query: Option<String>) -> Self {
        let query = query.unwrap_or_default();
        let pairs = || query.split('&').filter_map(|pair| pair.split_once('='));
        let one = |key: &str| pairs().find(|(k, _)| *k == key).map_or("", |(_, value)| value);
        let mut with: Vec<i64> = Vec::new();
        for number in pairs().filter(|(key, _)| *key == "with").filter_map(|(_, v)| v.parse().ok())
        {
            if with.len() < comparison::MOST && !with.contains(&number) {
                with.push(number);
            }
        }
        let at = Align::ALL.into_iter().find(|align| align.name() == one("at"));
        let look = Look { size: one("size").to_owned(), look: one("look").to_owned() };
        Self { with, at: at.unwrap_or(Align::Start), look }
    }

    /// As a query again.
    fn query(&self) -> String {
        let with: String = self.with.iter().map(|number| format!("with={number}&")).collect();
        format!("{with}at={}", self.at.name())
    }

    async fn comparison(&self, site: &Shared) -> Result<Comparison, Refused> {
        let mut entries = Vec::new();
        for number in &self.with {
            let KeptBatch { pot, stove, .. } = kept(site, *number).await?;
            let story = Arc::unwrap_or_clone(pot.story);
            entries.push(comparison::Entry { label: number.to_string(), story, stove });
        }
        Ok(Comparison::of(entries, self.at))
    }
}

async fn compare(
    State(site): State<Shared>,
    Extension(guest): Extension<Guest>,
    RawQuery(query): RawQuery,
) -> Answer {
    let asked = Asked::of(query);
    let comparison = asked.comparison(&site).await?;
    let page = earlier::compared(&comparison, &asked.query(), &guest.viewer);
    Ok(document(&site, &guest, "/batches", "Batches compared", &page))
}

async fn compare_picture(State(site): State<Shared>, RawQuery(query): RawQuery) -> Answer {
    let asked = Asked::of(query);
    let comparison = asked.comparison(&site).await?;
    picture(site.compared(comparison, asked.look.width(), asked.look.is_dark()).await)
}

async fn metrics(State(site): State<Shared>) -> Response {
    let text = metrics::text(&site.board(), env!("CARGO_PKG_VERSION"));
    ([(header::CONTENT_TYPE, metrics::CONTENT_TYPE)], text).into_response()
}

async fn health(State(site): State<Shared>) -> Response {
    let (status, told) = health::of(&site.news(), Instant::now());
    let kind = [(header::CONTENT_TYPE, "application/json")];
    (status, kind, told.to_string()).into_response()
}

async fn style(State(site): State<Shared>, headers: HeaderMap) -> Response {
    asset(&site, &headers, "text/css; charset=utf-8", page::style())
}

async fn script(State(site): State<Shared>, headers: HeaderMap) -> Response {
    asset(&site, &headers, "text/javascript; charset=utf-8", page::SCRIPT)
}

async fn push_script(State(site): State<Shared>, headers: HeaderMap) -> Response {
    asset(&site, &headers, "text/javascript; charset=utf-8", page::PUSH_SCRIPT)
}

async fn mark(State(site): State<Shared>, headers: HeaderMap) -> Response {
    asset(&site, &headers, "image/svg+xml", page::mark())
}

async fn font(State(site): State<Shared>, headers: HeaderMap, woff2: &'static [u8]) -> Response {
    asset(&site, &headers, "font/woff2", woff2)
}

/// What changes only with the program: asked for again with its tag, it is not sent again.
fn asset(
    site: &Shared,
    headers: &HeaderMap,
    kind: &'static str,
    body: impl IntoResponse,
) -> Response {
    let tag = [(header::ETAG, site.etag.clone()), (header::CACHE_CONTROL, "no-cache".into())];
    let has_it = headers.get(header::IF_NONE_MATCH).is_some_and(|has| has == site.etag.as_str());
    if has_it {
        return (StatusCode::NOT_MODIFIED, tag).into_response();
    }
    ([(header::CONTENT_TYPE, kind)], tag, body.into_response()).into_response()
}
