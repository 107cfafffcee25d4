//! The guard before every route: how often, by what name, from where, and who.

use std::net::IpAddr;
use std::time::Duration;

use axum::extract::{Request, State};
use axum::http::header::{self, HeaderName, HeaderValue};
use axum::http::{HeaderMap, Method, StatusCode, Uri};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use tokio::time::timeout;

use crate::show::page::{Look, Viewer};

use super::door::Ends;
use super::rate::Ask;
use super::routes::{self, plain};
use super::site::Shared;
use super::token::{self, Hash};

/// Time for a request, its body included; streams go on after their head.
const ANSWER: Duration = Duration::from_secs(15);

/// The cookie with a phone's token.
pub const TOKEN: &str = "dekchi";
/// The cookie with the look that was chosen.
pub const LOOK: &str = "look";

/// Who asks, as the routes need it.
#[derive(Debug, Clone, Default)]
pub struct Guest {
    pub viewer: Viewer,
    pub token: Option<Hash>,
}

/// Lets a request through to its route, or says why not; puts the headers on every answer.
pub async fn watch(State(site): State<Shared>, request: Request, next: Next) -> Response {
    let https = site.settings.tls.is_some();
    let wants_document = !request.uri().path().ends_with(".svg");
    let mut response = match timeout(ANSWER, admit(site, request, next)).await {
        Ok(response) => response,
        Err(_) => plain(StatusCode::REQUEST_TIMEOUT, "That took too long."),
    };
    headers(response.headers_mut(), https, wants_document);
    response
}

async fn admit(site: Shared, mut request: Request, next: Next) -> Response {
    let Some(ends) = request.extensions().get::<Ends>().copied() else {
        return plain(StatusCode::INTERNAL_SERVER_ERROR, "Nobody knows who asks.");
    };
    let changes = request.method() == Method::POST;
    if !changes && ![Method::GET, Method::HEAD].contains(request.method()) {
        return plain(StatusCode::METHOD_NOT_ALLOWED, "The page is only read, and told by POST.");
    }
    let ask = match request.uri().path() {
        "/pair" if changes => Ask::Pair,
        _ if changes => Ask::Say,
        _ => Ask::Read,
    };
    if let Err(seconds) = site.take(ends.client, ask) {
        let wait = [(header::RETRY_AFTER, seconds.to_string())];
        return (wait, plain(StatusCode::TOO_MANY_REQUESTS, "Too often: wait a little."))
            .into_response();
    }
    let host = match host(request.headers(), request.uri()) {
        Some(host) if known(host, ends.board, &site.settings.names) => host.to_owned(),
        Some(_) => return plain(StatusCode::MISDIRECTED_REQUEST, "The board has no such name."),
        None => return plain(StatusCode::BAD_REQUEST, "A request names one host."),
    };
    if changes && !from_the_page(request.headers(), &host, site.settings.tls.is_some()) {
        return plain(StatusCode::FORBIDDEN, "That did not come from the board's own page.");
    }
    let guest = guest(&site, request.headers()).await;
    if !site.settings.open && guest.viewer.phone.is_none() && !is_public(request.uri().path()) {
        return routes::closed(&site, &guest);
    }
    request.extensions_mut().insert(guest);
    next.run(request).await
}

/// What who is not paired may see of a page that is closed.
fn is_public(path: &str) -> bool {
    matches!(
        path,
        "/pair" | "/look" | "/health" | "/look.css" | "/alive.js" | "/push.js" | "/mark.svg"
    ) || path.ends_with(".woff2")
}

/// The host that the request is meant for, as it stands there; `None` where there is none or several.
fn host<'r>(headers: &'r HeaderMap, uri: &'r Uri) -> Option<&'r str> {
    let mut hosts = headers.get_all(header::HOST).iter();
    let host = hosts.next()?.to_str().ok()?;
    let other = uri.authority().is_some_and(|authority| authority.as_str() != host);
    (hosts.next().is_none() && !other).then_some(host)
}

/// Whether this is one of the board's own names: the address that the client came in by, this
/// machine's own name for itself, or one that the kitchen file gives. No name that a stranger could
/// have made to point here is among them.
fn known(host: &str, board: IpAddr, names: &[String]) -> bool {
    let name = without_port(host);
    let bare = name.strip_prefix('[').and_then(|name| name.strip_suffix(']')).unwrap_or(name);
    match bare.parse::<IpAddr>() {
        Ok(ip) => ip.to_canonical() == board,
        Err(_) => {
            let local = board.is_loopback() && bare.eq_ignore_ascii_case("localhost");
            local || names.iter().any(|name| name.eq_ignore_ascii_case(bare.trim_end_matches('.')))
        }
    }
}

fn without_port(host: &str) -> &str {
    match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|b| b.is_ascii_digit()) && !name.ends_with(':') => {
            name
        }
        _ => host,
    }
}

/// Whether a POST was sent by the board's own page. Browsers say so in `Sec-Fetch-Site`, and where
/// the page is not by TLS in `Origin` alone; what says neither is no browser's form.
fn from_the_page(headers: &HeaderMap, host: &str, https: bool) -> bool {
    let one = |name: &HeaderName| {
        let mut all = headers.get_all(name).iter();
        all.next().filter(|_| all.next().is_none()).and_then(|value| value.to_str().ok())
    };
    let site = HeaderName::from_static("sec-fetch-site");
    if headers.contains_key(&site) && one(&site) != Some("same-origin") {
        return false;
    }
    let scheme = if https { "https" } else { "http" };
    one(&header::ORIGIN).is_some_and(|origin| origin == format!("{scheme}://{host}"))
}

async fn guest(site: &Shared, headers: &HeaderMap) -> Guest {
    let look = cookie(headers, LOOK).and_then(Look::by_name).unwrap_or_default();
    let token = cookie(headers, TOKEN).or_else(|| bearer(headers)).map(token::hash);
    let phone = match token {
        Some(token) => site.phone(token).await,
        None => None,
    };
    Guest { token: token.filter(|_| phone.is_some()), viewer: Viewer { look, phone } }
}

/// A cookie's value (RFC 6265, section 4.2).
fn cookie<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    let lines = headers.get_all(header::COOKIE).iter().filter_map(|line| line.to_str().ok());
    let mut pairs = lines.flat_map(|line| line.split(';'));
    pairs.find_map(|pair| pair.trim().strip_prefix(name)?.strip_prefix('='))
}

/// A token in the `Authorization` header (RFC 6750, section 2.1), for what is no browser.
fn bearer(headers: &HeaderMap) -> Option<&str> {
    headers.get(header::AUTHORIZATION)?.to_str().ok()?.strip_prefix("Bearer ")
}

/// A page's own script, style, type and pictures, and nothing else from anywhere.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
                      font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; \
                      frame-ancestors 'none'";
/// A picture brings its own type and runs nothing.
const PICTURE_POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; font-src data:; \
                              frame-ancestors 'none'; sandbox";

fn headers(headers: &mut HeaderMap, https: bool, document: bool) {
    let policy = if document { POLICY } else { PICTURE_POLICY };
    let all = [
        (header::CONTENT_SECURITY_POLICY, policy),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        // Not "no-referrer", which would keep the origin back from the page's own forms too.
        (header::REFERRER_POLICY, "same-origin"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
        (HeaderName::from_static("permissions-policy"), "camera=(), microphone=(), geolocation=()"),
    ];
    for (name, value) in all {
        headers.insert(name, HeaderValue::from_static(value));
    }
    if https {
        let opener = HeaderName::from_static("cross-origin-opener-policy");
        headers.insert(opener, HeaderValue::from_static("same-origin"));
    }
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOARD: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 168, 1, 20));

    #[test]
    fn only_the_boards_own_names_are_answered() {
        let names = ["dekchi.local".to_owned()];
        let known = |host| known(host, BOARD, &names);
        for own in ["192.168.1.20", "192.168.1.20:8080", "dekchi.local:8080", "DEKCHI.local."] {
            assert!(known(own), "{own}");
        }
        for foreign in [
            "evil.example",
            "192.168.1.21",
            "localhost",
            "dekchi.local.evil.example",
            "",
            ":80",
            "[::1]:80",
            "192.168.1.20.evil.example",
            "dekchi.local:evil",
            "evil.example:192.168.1.20",
        ] {
            assert!(!known(foreign), "{foreign}");
        }
    }

    #[test]
    fn a_board_on_ipv6_is_known_by_its_address() {
        let board: IpAddr = "fd00::20".parse().unwrap();
        assert!(known("[fd00::20]:8080", board, &[]));
        assert!(!known("[fd00::21]:8080", board, &[]));
    }

    fn with(pairs: &[(&'static str, &str)]) -> HeaderMap {
        let mut headers = HeaderMap::new();
        for (name, value) in pairs {
            headers.append(HeaderName::from_static(name), HeaderValue::from_str(value).unwrap());
        }
        headers
    }

    #[test]
    fn what_changes_anything_must_come_from_the_page_itself() {
        let ours = ("origin", "http://dekchi.local:8080");
        let fetch = |site| ("sec-fetch-site", site);
        let from = |pairs: &[(&'static str, &str)]| {
            from_the_page(&with(pairs), "dekchi.local:8080", false)
        };
        assert!(from(&[ours]));
        assert!(from(&[ours, fetch("same-origin")]));
        assert!(!from(&[]));
        assert!(!from(&[fetch("same-origin")]));
        assert!(!from(&[("origin", "null")]));
        assert!(!from(&[("origin", "http://dekchi.local:8081")]));
        assert!(!from(&[("origin", "https://dekchi.local:8080")]));
        assert!(!from(&[("origin", "http://evil.example")]));
        assert!(!from(&[ours, ours]));
        for site in ["cross-site", "same-site", "none", "same-origin, cross-site"] {
            assert!(!from(&[ours, fetch(site)]), "{site}");
        }
    }

    #[test]
    fn a_cookie_is_found_among_others() {
        let headers = with(&[("cookie", "a=1; dekchi=token; look=dark"), ("cookie", "b=2")]);
        assert_eq!(cookie(&headers, "dekchi"), Some("token"));
        assert_eq!(cookie(&headers, "look"), Some("dark"));
        assert_eq!(cookie(&headers, "dek"), None);
        assert_eq!(cookie(&headers, "b"), Some("2"));
    }
}
