//! Whom to believe when a broker shows its certificate.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject;
use rustls::{ClientConfig, RootCertStore};

/// The authorities that Debian's `ca-certificates` keeps.
pub const SYSTEM_AUTHORITIES: &str = "/etc/ssl/certs/ca-certificates.crt";

/// Why there is no TLS to be had.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    #[error("{path}: cannot read certificates: {why}", path = path.display())]
    Unreadable { path: PathBuf, why: String },
    #[error("{path}: holds no certificate of an authority", path = path.display())]
    Empty { path: PathBuf },
    #[error("TLS cannot be set up: {0}")]
    Setup(#[from] rustls::Error),
}

/// A client that believes the authorities in the PEM file `authorities`.
///
/// # Errors
/// Where the file cannot be read or holds none.
pub fn client(authorities: &Path) -> Result<Arc<ClientConfig>, Error> {
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()?
        .with_root_certificates(read(authorities)?)
        .with_no_client_auth();
    Ok(Arc::new(config))
}

fn read(path: &Path) -> Result<RootCertStore, Error> {
    let unreadable = |why: rustls::pki_types::pem::Error| Error::Unreadable {
        path: path.to_owned(),
        why: why.to_string(),
    };
    let mut store = RootCertStore::empty();
    for certificate in CertificateDer::pem_file_iter(path).map_err(unreadable)? {
        // A bundle may hold an authority of a kind that is no longer believed.
        let _ = store.add(certificate.map_err(unreadable)?);
    }
    if store.is_empty() { Err(Error::Empty { path: path.to_owned() }) } else { Ok(store) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_file_of_authorities_is_named() {
        let why = client(Path::new("/nowhere/ca.crt")).unwrap_err().to_string();
        assert!(why.starts_with("/nowhere/ca.crt: cannot read certificates"), "{why}");
    }

    #[test]
    fn a_file_without_certificates_is_named() {
        let file = tempfile::NamedTempFile::new().unwrap();
        let why = client(file.path()).unwrap_err().to_string();
        assert!(why.ends_with("holds no certificate of an authority"), "{why}");
    }
}
