//! The door: who may connect, how many, and for how long.
//!
//! | what a client can do | what limits it |
//! |---|---|
//! | open connections | [`CONNECTIONS`] in all, [`EACH`] from one address; more are closed at once |
//! | begin TLS and stop | [`HELLO`] |
//! | send a head slowly, or nothing after an answer | [`HEAD`] |
//! | send many or long headers | [`HEADERS`], [`HEAD_BYTES`]: 431 |
//! | send a body slowly or a long one | the routes' own deadline and size |
//! | not read its answer | [`patience`] |

use std::collections::HashMap;
use std::net::{IpAddr, SocketAddr};
use std::pin::pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::Router;
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;
use tokio::time::{sleep, timeout};
use tokio_rustls::TlsAcceptor;

use super::live;
use super::patience::{PATIENCE, Patient};
use super::routes;
use super::site::Site;
use super::{House, Settings};

/// Connections at once.
pub const CONNECTIONS: usize = 320;
/// Connections from one address.
pub const EACH: usize = 64;
/// Headers of a request.
const HEADERS: usize = 64;
/// Bytes of a request's head.
const HEAD_BYTES: usize = 16 << 10;
/// Time for a request's head, and for a connection that says nothing.
const HEAD: Duration = Duration::from_secs(10);
/// Time for the handshake of TLS.
const HELLO: Duration = Duration::from_secs(10);
/// Time for answers to go out when the page ends.
const LAST: Duration = Duration::from_secs(2);

/// Waits for the stop.
pub async fn told(stopped: &mut watch::Receiver<bool>) {
    // Where nobody is left who could tell it, it is told.
    let _ = stopped.wait_for(|stop| *stop).await;
}

/// Both ends of a connection.
#[derive(Debug, Clone, Copy)]
pub struct Ends {
    pub client: IpAddr,
    /// The board's own address that the client came in by.
    pub board: IpAddr,
}

/// Takes connections until the stop.
pub async fn serve(
    listener: std::net::TcpListener,
    tls: Option<TlsAcceptor>,
    settings: Settings,
    house: House,
    mut stopped: watch::Receiver<bool>,
) {
    let listener = match TcpListener::from_std(listener) {
        Ok(listener) => listener,
        Err(error) => return tracing::error!("the page cannot listen: {error}"),
    };
    let site = Site::new(settings, house, stopped.clone());
    tokio::spawn(live::tell(Arc::clone(&site)));
    let door = Door { app: routes::all(site), tls, room: Arc::default() };
    let mut guests = tokio::task::JoinSet::new();
    loop {
        tokio::select! {
            () = told(&mut stopped) => break,
            Some(_) = guests.join_next() => {}
            taken = listener.accept() => match taken {
                Ok((stream, client)) => {
                    if let Some(guest) = door.let_in(stream, client) {
                        guests.spawn(guest.stay(stopped.clone()));
                    }
                }
                // Out of file descriptors: those who are in leave by and by.
                Err(error) => {
                    tracing::warn!("the page could not take a connection: {error}");
                    sleep(Duration::from_millis(200)).await;
                }
            },
        }
    }
    drop(listener);
    // Whoever has not left by then is left behind.
    let _ = timeout(LAST, async { while guests.join_next().await.is_some() {} }).await;
}

struct Door {
    app: Router,
    tls: Option<TlsAcceptor>,
    room: Arc<Room>,
}

/// A connection that was let in.
struct Guest {
    stream: TcpStream,
    ends: Ends,
    app: Router,
    tls: Option<TlsAcceptor>,
    _place: Place,
}

impl Door {
    fn let_in(&self, stream: TcpStream, client: SocketAddr) -> Option<Guest> {
        let client = client.ip().to_canonical();
        let board = stream.local_addr().ok()?.ip().to_canonical();
        let place = Room::take(&self.room, client)?;
        // Small answers go out at once.
        let _ = stream.set_nodelay(true);
        let (app, tls) = (self.app.clone(), self.tls.clone());
        Some(Guest { stream, ends: Ends { client, board }, app, tls, _place: place })
    }
}

impl Guest {
    async fn stay(self, stopped: watch::Receiver<bool>) {
        match &self.tls {
            None => talk(Patient::new(self.stream, PATIENCE), self.app, self.ends, stopped).await,
            Some(tls) => {
                let hello = timeout(HELLO, tls.accept(Patient::new(self.stream, PATIENCE)));
                if let Ok(Ok(stream)) = hello.await {
                    talk(stream, self.app, self.ends, stopped).await;
                }
            }
        }
    }
}

async fn talk<S>(stream: S, app: Router, ends: Ends, mut stopped: watch::Receiver<bool>)
where
    S: AsyncRead + AsyncWrite + Unpin,
{
    let app = TowerToHyperService::new(app);
    let service = service_fn(move |mut request: hyper::Request<hyper::body::Incoming>| {
        request.extensions_mut().insert(ends);
        app.call(request)
    });
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD)
        .max_headers(HEADERS)
        .max_buf_size(HEAD_BYTES)
        .serve_connection(TokioIo::new(stream), service);
    let mut connection = pin!(connection);
    tokio::select! {
        // A client that breaks off is its own business.
        _ = connection.as_mut() => {}
        () = told(&mut stopped) => {
            connection.as_mut().graceful_shutdown();
            let _ = connection.await;
        }
    }
}

/// Who is in.
#[derive(Debug, Default)]
struct Room(Mutex<HashMap<IpAddr, usize>>);

/// A place in the room, given back when it is dropped.
#[derive(Debug)]
struct Place {
    room: Arc<Room>,
    client: IpAddr,
}

impl Room {
    fn take(room: &Arc<Self>, client: IpAddr) -> Option<Place> {
        let mut inside = room.0.lock().unwrap_or_else(PoisonError::into_inner);
        if inside.values().sum::<usize>() >= CONNECTIONS {
            return None;
        }
        let here = inside.entry(client).or_default();
        if *here >= EACH {
            return None;
        }
        *here += 1;
        Some(Place { room: Arc::clone(room), client })
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut inside = self.room.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(here) = inside.get_mut(&self.client) {
            *here -= 1;
            if *here == 0 {
                inside.remove(&self.client);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_address_cannot_take_every_place() {
        let room = Arc::<Room>::default();
        let ip = |n: u8| IpAddr::from([192, 168, 1, n]);
        let greedy: Vec<_> = std::iter::from_fn(|| Room::take(&room, ip(1))).collect();
        assert_eq!(greedy.len(), EACH);
        assert!(Room::take(&room, ip(2)).is_some());
        drop(greedy);
        assert!(Room::take(&room, ip(1)).is_some());
        assert!(room.0.lock().unwrap().is_empty());
    }
}
