//! What dekchi itself serves: the local page with its streams, the metrics and the health check by
//! HTTP/1.1, and for the demo a broker ([`broker`]).
//!
//! ```text
//! socket ──▶ door ──▶ guard ──▶ routes ──▶ show::page
//!           limits    host,      │  ▲
//!           TLS       origin,    │  └── news ◀── board   (watch channel, newest wins)
//!           time      rate       └────▶ ear              (bounded, never waited for)
//! ```
//!
//! All of it runs on one thread of its own, so that whatever a client does costs the sampling at most
//! a share of the processor. What is promised:
//!
//! 1. Everything that waits for a client has a deadline and everything that a client can make grow
//!    has a limit ([`door`], [`patience`]).
//! 2. Only names and addresses that are the board's own are answered ([`guard`]), so that a foreign
//!    site cannot come in by rebinding its name; what changes anything must come from the page itself.
//! 3. Reading is for paired phones unless the kitchen opens it; saying anything is for paired phones
//!    always. Of a phone's token only the hash is kept ([`token`]).
//! 4. Nothing of a path or a query reaches a file.
//! 5. The daemon never waits for the page: what is shown is the newest state, and a cook's word that
//!    finds no room is refused.

#[cfg(feature = "demo-broker")]
pub mod broker;
mod door;
mod guard;
mod health;
mod live;
mod patience;
mod rate;
mod routes;
mod site;
mod speaking;
mod tls;
pub mod token;

use std::io;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;
use std::thread::JoinHandle;

use tokio::sync::watch;

use crate::batch::larder::Larder;
use crate::show::board::{Board, Kept, KeptBatch};
use crate::show::page::Offer;
use crate::watch::event::CookSays;

use token::Hash;

/// How the page is served.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settings {
    pub listen: SocketAddr,
    /// Names that the board goes by, beside its addresses.
    pub names: Vec<String>,
    /// Whether who is not paired may read.
    pub open: bool,
    pub tls: Option<TlsFiles>,
}

/// A certificate with its chain, and its key, as PEM.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TlsFiles {
    pub certificate: PathBuf,
    pub key: PathBuf,
}

/// Who hears what a cook says.
pub trait Ear: Send + Sync {
    /// `false` where there is no room for it now.
    fn hear(&self, pot: usize, says: CookSays, by: &str) -> bool;
}

/// Where earlier batches are.
pub trait Shelf: Send + Sync {
    /// Every batch, newest first.
    ///
    /// # Errors
    /// One sentence, where the store cannot be read.
    fn list(&self) -> Result<Vec<Kept>, String>;

    /// One batch as it went; `None` where there is none of this number.
    ///
    /// # Errors
    /// One sentence, where it cannot be read.
    fn batch(&self, number: i64) -> Result<Option<KeptBatch>, String>;
}

/// Which phones are paired.
pub trait Phones: Send + Sync {
    /// What the phone with this token is called.
    fn name(&self, token: &Hash) -> Option<String>;

    /// Pairs a phone by a one-time code.
    ///
    /// # Errors
    /// One sentence, where the code is wrong or nothing can be kept.
    fn pair(&self, code: &Hash, token: &Hash, name: &str) -> Result<(), String>;

    /// Forgets the phone with this token.
    ///
    /// # Errors
    /// One sentence, where that cannot be kept.
    fn forget(&self, token: &Hash) -> Result<(), String>;
}

/// Alerts that reach a phone while the page is closed.
pub trait Pocket: Send + Sync {
    /// The key that browsers are given, and as whom a phone can be told.
    fn offer(&self) -> Offer;

    /// Tells this browser of what that person is told of. `subscription` is the JSON of its
    /// `PushSubscription`.
    ///
    /// # Errors
    /// One sentence, where nothing can be sent to it.
    fn add(&self, person: &str, subscription: &str) -> Result<(), String>;
}

/// What the page is served from.
#[derive(Clone)]
pub struct House {
    pub board: watch::Receiver<Arc<Board>>,
    pub ear: Arc<dyn Ear>,
    pub shelf: Arc<dyn Shelf>,
    pub phones: Arc<dyn Phones>,
    /// `None` where Web Push is not set up.
    pub pocket: Option<Arc<dyn Pocket>>,
    pub larder: Arc<Larder>,
}

/// Why nothing is served: one sentence.
#[derive(Debug, thiserror::Error)]
pub enum CannotServe {
    #[error("the page cannot listen on {address}: {error}")]
    Listen { address: SocketAddr, error: io::Error },
    #[error("{path}: {why}")]
    Tls { path: PathBuf, why: String },
    #[error("the page has no thread to run on: {0}")]
    Thread(io::Error),
}

/// A page that is being served; dropping it ends it.
#[derive(Debug)]
pub struct Serving {
    /// Where it listens, with the port that was given.
    pub address: SocketAddr,
    /// Whether by TLS.
    pub secure: bool,
    stop: watch::Sender<bool>,
    thread: Option<JoinHandle<()>>,
}

impl Serving {
    /// The address to type into a browser on this machine.
    #[must_use]
    pub fn url(&self) -> String {
        let scheme = if self.secure { "https" } else { "http" };
        let (ip, port) = (self.address.ip(), self.address.port());
        match ip {
            ip if ip.is_unspecified() => format!("{scheme}://localhost:{port}/"),
            _ => format!("{scheme}://{}/", self.address),
        }
    }

    /// Ends the streams, lets answers go out, and waits for that a moment.
    pub fn stop(mut self) {
        self.finish();
    }

    fn finish(&mut self) {
        self.stop.send_replace(true);
        if let Some(thread) = self.thread.take() {
            // A server that panicked has nothing more to say.
            let _ = thread.join();
        }
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        self.finish();
    }
}

/// Serves the page on a thread of its own.
///
/// # Errors
/// Where the address is taken, the certificate cannot be used or no thread is left.
pub fn open(settings: Settings, house: House) -> Result<Serving, CannotServe> {
    let tls = settings.tls.as_ref().map(tls::acceptor).transpose()?;
    let secure = tls.is_some();
    let refused = |error| CannotServe::Listen { address: settings.listen, error };
    let listener = std::net::TcpListener::bind(settings.listen).map_err(refused)?;
    listener.set_nonblocking(true).map_err(refused)?;
    let address = listener.local_addr().map_err(refused)?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .max_blocking_threads(4)
        .thread_stack_size(512 << 10)
        .build()
        .map_err(CannotServe::Thread)?;
    let (stop, stopped) = watch::channel(false);
    let run = move || {
        runtime.block_on(door::serve(listener, tls, settings, house, stopped));
        runtime.shutdown_background();
    };
    let thread = std::thread::Builder::new().name("page".to_owned()).spawn(run);
    let thread = Some(thread.map_err(CannotServe::Thread)?);
    Ok(Serving { address, secure, stop, thread })
}
