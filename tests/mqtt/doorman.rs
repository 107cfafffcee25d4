//! A doorman before the broker, for answers that mosquitto does not give.

use std::io::{self, Read, Write};
use std::net::{TcpListener, TcpStream};

/// What the doorman says to a visitor instead of letting it through, and then shuts the door.
pub type Refusal = &'static [u8];

/// The door is shut without a word.
pub const NOTHING: Refusal = &[];
/// CONNACK of MQTT 3.1.1: the protocol version is not accepted.
pub const ONLY_V311: Refusal = &[0x20, 0x02, 0x00, 0x01];
/// CONNACK of MQTT 5, then DISCONNECT with reason 0x8E, session taken over.
pub const TAKEN_OVER: Refusal = &[0x20, 0x03, 0x00, 0x00, 0x00, 0xe0, 0x02, 0x8e, 0x00];

/// A port that leads to `broker_port`, or to the refusal that `judge` gives for the visitor's number
/// (from 0) and its MQTT protocol level (5, or 4 for 3.1.1).
pub fn before(
    broker_port: u16,
    judge: impl Fn(usize, u8) -> Option<Refusal> + Send + 'static,
) -> u16 {
    let door = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = door.local_addr().unwrap().port();
    std::thread::spawn(move || {
        for (number, visitor) in door.incoming().map_while(Result::ok).enumerate() {
            let _ = receive(visitor, broker_port, |level| judge(number, level));
        }
    });
    port
}

fn receive(
    mut visitor: TcpStream,
    broker_port: u16,
    judge: impl Fn(u8) -> Option<Refusal>,
) -> io::Result<()> {
    let mut first = vec![0; 4096];
    let length = visitor.read(&mut first)?;
    first.truncate(length);
    let name = first.windows(4).position(|bytes| bytes == b"MQTT");
    let level = name.and_then(|at| first.get(at + 4)).copied().unwrap_or(0);
    if let Some(refusal) = judge(level) {
        return visitor.write_all(refusal);
    }
    let mut broker = TcpStream::connect(("127.0.0.1", broker_port))?;
    broker.write_all(&first)?;
    let (mut there, mut back) = (visitor.try_clone()?, broker.try_clone()?);
    std::thread::spawn(move || io::copy(&mut there, &mut broker));
    std::thread::spawn(move || io::copy(&mut back, &mut visitor));
    Ok(())
}
