//! An MQTT broker inside this process, on the loopback, for the demo: anybody on this machine may
//! listen to the virtual pot with a client of their own. It speaks MQTT 5 and keeps nothing.
//!
//! The broker's router thread has no end; it is left behind when the process ends.

use std::collections::HashMap;
use std::io;
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};
use std::time::Duration;

use rumqttd::protocol::v5::V5;
use rumqttd::{ConnectionSettings, LinkType, Router, RouterConfig, Server, ServerSettings};
use tokio::runtime::{Builder, Runtime};

/// Enough for the demo and for those who look at it.
const CONNECTIONS: usize = 32;
/// Longer than any curve.
const LONGEST_BYTES: usize = 1024 * 1024;
/// A free port may be taken between its finding and its use.
const TRIES: u32 = 5;

/// A running broker; dropping it closes its connections.
#[derive(Debug)]
pub struct LoopbackBroker {
    pub port: u16,
    runtime: Option<Runtime>,
}

impl LoopbackBroker {
    /// Starts on this port, or on a free one where it is 0.
    ///
    /// # Errors
    /// Where the port is taken.
    pub fn start(port: u16) -> io::Result<Self> {
        let mut tried = 0;
        loop {
            tried += 1;
            match Self::try_start(port) {
                Err(error) if port != 0 || tried == TRIES => return Err(error),
                Err(_) => {}
                Ok(broker) => return Ok(broker),
            }
        }
    }

    fn try_start(port: u16) -> io::Result<Self> {
        // The broker does not say which port it got, nor that it got none.
        let address = TcpListener::bind((Ipv4Addr::LOCALHOST, port))?.local_addr()?;
        let runtime = Builder::new_multi_thread()
            .worker_threads(1)
            .thread_name("broker")
            .enable_all()
            .build()?;
        let router = Router::new(0, router()).spawn();
        let mut server = Server::new(listener(address), router, V5);
        runtime.spawn(async move { server.start(LinkType::Remote).await });
        let broker = Self { port: address.port(), runtime: Some(runtime) };
        broker.wait_until_it_listens(address)?;
        Ok(broker)
    }

    fn wait_until_it_listens(&self, address: SocketAddr) -> io::Result<()> {
        let wait = Duration::from_millis(10);
        let mut outcome = TcpStream::connect(address);
        for _ in 0..300 {
            if outcome.is_ok() {
                break;
            }
            #[expect(clippy::disallowed_methods, reason = "waits for the broker to listen")]
            std::thread::sleep(wait);
            outcome = TcpStream::connect(address);
        }
        outcome.map(drop)
    }
}

impl Drop for LoopbackBroker {
    fn drop(&mut self) {
        if let Some(runtime) = self.runtime.take() {
            runtime.shutdown_background();
        }
    }
}

fn router() -> RouterConfig {
    RouterConfig {
        max_connections: CONNECTIONS,
        max_outgoing_packet_count: 200,
        max_segment_size: LONGEST_BYTES,
        max_segment_count: 4,
        ..RouterConfig::default()
    }
}

fn listener(listen: SocketAddr) -> ServerSettings {
    ServerSettings {
        name: "demo".to_owned(),
        listen,
        tls: None,
        next_connection_delay_ms: 1,
        connections: ConnectionSettings {
            connection_timeout_ms: 5000,
            max_payload_size: LONGEST_BYTES,
            max_inflight_count: 100,
            auth: None::<HashMap<String, String>>,
            external_auth: None,
            dynamic_filters: true,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_free_port_is_found_and_named() {
        let broker = LoopbackBroker::start(0).unwrap();
        assert!(TcpStream::connect((Ipv4Addr::LOCALHOST, broker.port)).is_ok());
    }

    #[test]
    fn a_taken_port_is_refused() {
        let taken = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
        let port = taken.local_addr().unwrap().port();
        assert_eq!(LoopbackBroker::start(port).unwrap_err().kind(), io::ErrorKind::AddrInUse);
    }
}
