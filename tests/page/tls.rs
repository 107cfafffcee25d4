//! The page by TLS, with a certificate that openssl makes for the test.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::Command;
use std::sync::Arc;

use dekchi::serve::{self, CannotServe, TlsFiles};
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, ServerName};

use crate::client::{Answer, secure, settings, usual};

fn certificate(directory: &Path) -> Option<TlsFiles> {
    let (certificate, key) = (directory.join("page.pem"), directory.join("page.key"));
    let made = Command::new("openssl")
        .args([
            "req",
            "-x509",
            "-newkey",
            "ec",
            "-pkeyopt",
            "ec_paramgen_curve:prime256v1",
            "-nodes",
        ])
        .args([
            "-days",
            "2",
            "-subj",
            "/CN=dekchi.local",
            "-addext",
            "subjectAltName=DNS:dekchi.local",
        ])
        .args(["-addext", "basicConstraints=critical,CA:FALSE"])
        .arg("-keyout")
        .arg(&key)
        .arg("-out")
        .arg(&certificate)
        .output();
    match made {
        Ok(made) if made.status.success() => Some(TlsFiles { certificate, key }),
        _ => {
            eprintln!(
                "SKIPPED: the page by TLS: openssl is not installed (Debian: apt install openssl)"
            );
            None
        }
    }
}

fn client(certificate: &Path) -> rustls::ClientConfig {
    let mut roots = rustls::RootCertStore::empty();
    roots.add(CertificateDer::from_pem_file(certificate).unwrap()).unwrap();
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    rustls::ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth()
}

#[test]
fn the_page_comes_by_tls_and_its_cookie_only_by_tls() {
    let directory = tempfile::tempdir().unwrap();
    let Some(files) = certificate(directory.path()) else { return };
    let stand = secure(files.clone());
    let name = ServerName::try_from("dekchi.local").unwrap();
    let mut connection =
        rustls::ClientConnection::new(Arc::new(client(&files.certificate)), name).unwrap();
    let mut socket = TcpStream::connect(stand.serving.address).unwrap();
    let mut tls = rustls::Stream::new(&mut connection, &mut socket);
    let host = format!("dekchi.local:{}", stand.port());
    let body = "look=dark&back=%2F";
    write!(
        tls,
        "POST /look HTTP/1.1\r\nhost: {host}\r\norigin: https://{host}\r\nconnection: close\r\n\
         content-type: application/x-www-form-urlencoded\r\ncontent-length: {}\r\n\r\n{body}",
        body.len()
    )
    .unwrap();
    let mut bytes = Vec::new();
    let _ = tls.read_to_end(&mut bytes);
    let answer = Answer::of(&bytes);
    assert_eq!(answer.status, 303, "{}", answer.head);
    assert!(answer.header("set-cookie").unwrap().contains("secure"));
    assert!(stand.serving.url().starts_with("https://"));
}

#[test]
fn files_that_do_not_serve_are_named() {
    let directory = tempfile::tempdir().unwrap();
    let empty = directory.path().join("empty.pem");
    std::fs::write(&empty, "").unwrap();
    let (none, house) = (directory.path().join("none.pem"), || usual());
    for (certificate, key) in [(&none, &none), (&empty, &empty)] {
        let files = TlsFiles { certificate: certificate.clone(), key: key.clone() };
        let settings = serve::Settings { tls: Some(files), ..settings(true) };
        let stand = house();
        let refused = serve::open(settings, stand.house()).map(drop);
        assert!(matches!(refused, Err(CannotServe::Tls { .. })), "{refused:?}");
    }
}

#[test]
fn a_port_that_is_taken_is_said() {
    let stand = usual();
    let settings = serve::Settings { listen: stand.serving.address, ..settings(true) };
    let refused = serve::open(settings, stand.house()).map(drop).unwrap_err().to_string();
    assert!(refused.contains("cannot listen on 127.0.0.1"), "{refused}");
}
