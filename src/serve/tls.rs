//! TLS from files: TLS 1.2 and 1.3, by rustls on ring.

use std::path::Path;
use std::sync::Arc;

use rustls::ServerConfig;
use rustls::crypto::ring;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use tokio_rustls::TlsAcceptor;

use super::{CannotServe, TlsFiles};

/// What takes TLS connections with this certificate.
pub fn acceptor(files: &TlsFiles) -> Result<TlsAcceptor, CannotServe> {
    let chain = certificates(&files.certificate)?;
    let key = PrivateKeyDer::from_pem_file(&files.key)
        .map_err(|error| refused(&files.key, format!("no private key in PEM: {error}")))?;
    let config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .and_then(|config| config.with_no_client_auth().with_single_cert(chain, key));
    let mut config = config.map_err(|error| {
        refused(&files.certificate, format!("the certificate and its key do not serve: {error}"))
    })?;
    config.alpn_protocols = vec![b"http/1.1".to_vec()];
    Ok(TlsAcceptor::from(Arc::new(config)))
}

fn certificates(path: &Path) -> Result<Vec<CertificateDer<'static>>, CannotServe> {
    let broken = |error| refused(path, format!("no certificate in PEM: {error}"));
    let chain = CertificateDer::pem_file_iter(path).map_err(broken)?;
    let chain: Vec<_> = chain.collect::<Result<_, _>>().map_err(broken)?;
    if chain.is_empty() {
        return Err(refused(path, "holds no certificate in PEM".to_owned()));
    }
    Ok(chain)
}

fn refused(path: &Path, why: String) -> CannotServe {
    CannotServe::Tls { path: path.to_owned(), why }
}
