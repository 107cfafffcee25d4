//! A small SMTP server (RFC 5321) on this machine's loopback, without TLS.

use std::io::{BufRead, BufReader, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread;

/// How it treats a receiver's address.
#[derive(Clone, Copy)]
pub enum Mood {
    Kind,
    /// "Try again later."
    Greylisting,
    /// "No such mailbox."
    Refusing,
    /// Accepts the connection and says nothing.
    Silent,
}

pub struct Server {
    pub port: u16,
    /// Everything that was said to it, message by message.
    pub messages: Receiver<String>,
}

impl Server {
    pub fn start(mood: Mood) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        let (heard, messages) = sync_channel(64);
        thread::spawn(move || {
            let mut kept = Vec::new();
            for stream in listener.incoming() {
                let stream = stream.unwrap();
                match mood {
                    Mood::Silent => kept.push(stream),
                    _ => drop(talk(&stream, mood, &heard)),
                }
            }
        });
        Self { port, messages }
    }
}

fn talk(stream: &TcpStream, mood: Mood, heard: &SyncSender<String>) -> std::io::Result<()> {
    let mut to = stream;
    let mut reader = BufReader::new(stream);
    let mut envelope = String::new();
    to.write_all(b"220 mail.harbour.example ESMTP\r\n")?;
    loop {
        let mut line = String::new();
        if reader.read_line(&mut line)? == 0 {
            return Ok(());
        }
        let verb: String = line.chars().take(4).collect::<String>().to_ascii_uppercase();
        let answer = match (verb.as_str(), mood) {
            ("EHLO", _) => "250-mail.harbour.example\r\n250 8BITMIME\r\n",
            ("RCPT", Mood::Greylisting) => "451 4.7.1 try again later\r\n",
            ("RCPT", Mood::Refusing) => "550 5.1.1 no such mailbox\r\n",
            ("MAIL" | "RCPT", _) => {
                envelope += &line;
                "250 2.1.0 fine\r\n"
            }
            ("DATA", _) => {
                to.write_all(b"354 go on\r\n")?;
                let mut text = std::mem::take(&mut envelope);
                loop {
                    let mut line = String::new();
                    reader.read_line(&mut line)?;
                    if line == ".\r\n" {
                        break;
                    }
                    text += &line;
                }
                let _ = heard.send(text);
                "250 2.0.0 taken\r\n"
            }
            ("QUIT", _) => {
                to.write_all(b"221 bye\r\n")?;
                return Ok(());
            }
            _ => "250 fine\r\n",
        };
        to.write_all(answer.as_bytes())?;
    }
}
