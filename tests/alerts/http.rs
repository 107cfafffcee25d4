//! A small HTTP server on this machine's loopback that answers as it is told and keeps what it heard.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread;

/// One request as it came.
#[derive(Debug)]
pub struct Request {
    pub line: String,
    headers: Vec<(String, String)>,
    pub body: Vec<u8>,
}

impl Request {
    pub fn header(&self, name: &str) -> &str {
        let found = self.headers.iter().find(|(other, _)| other.eq_ignore_ascii_case(name));
        found.map_or("", |(_, value)| value.as_str())
    }
}

/// What the server does with a request.
#[derive(Clone, Copy)]
pub enum Answer {
    Status(u16),
    /// To another port of this machine.
    Redirect(u16),
    /// Takes the request and never says anything.
    Silence,
}

pub struct Server {
    pub port: u16,
    pub requests: Receiver<Request>,
}

impl Server {
    pub fn start(answer: Answer) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        let (heard, requests) = sync_channel(64);
        thread::spawn(move || {
            let mut silent = Vec::new();
            for stream in listener.incoming() {
                silent.extend(serve(stream.unwrap(), answer, &heard));
            }
        });
        Self { port, requests }
    }

    pub fn url(&self) -> String {
        format!("http://127.0.0.1:{}/pots", self.port)
    }
}

/// The stream comes back where nobody answers on it.
fn serve(stream: TcpStream, answer: Answer, heard: &SyncSender<Request>) -> Option<TcpStream> {
    let mut reader = BufReader::new(stream.try_clone().unwrap());
    let mut lines = Vec::new();
    loop {
        let mut line = String::new();
        reader.read_line(&mut line).unwrap();
        if line.trim().is_empty() {
            break;
        }
        lines.push(line.trim().to_owned());
    }
    let headers: Vec<(String, String)> = lines[1..]
        .iter()
        .filter_map(|line| line.split_once(": "))
        .map(|(name, value)| (name.to_owned(), value.to_owned()))
        .collect();
    let mut request = Request { line: lines[0].clone(), headers, body: Vec::new() };
    let length = request.header("content-length").parse().unwrap_or(0);
    request.body.resize(length, 0);
    reader.read_exact(&mut request.body).unwrap();
    let _ = heard.send(request);
    let (status, more) = match answer {
        Answer::Status(status) => (status, String::new()),
        Answer::Redirect(port) => (302, format!("location: http://127.0.0.1:{port}/\r\n")),
        Answer::Silence => return Some(stream),
    };
    let text =
        format!("HTTP/1.1 {status} x\r\n{more}content-length: 0\r\nconnection: close\r\n\r\n");
    let _ = (&stream).write_all(text.as_bytes());
    None
}

/// A port of this machine on which nobody listens.
pub fn closed_port() -> u16 {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}
