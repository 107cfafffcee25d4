//! From the kitchen file to a broker's settings: the login, the authorities, and who we are.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::config::broker::Broker;
use crate::tell::mqtt::homie::Device;
use crate::tell::mqtt::tls;
use crate::tell::mqtt::{Login, Settings};

/// Where systemd lays the login file when the unit loads it as a credential of this name.
const CREDENTIAL: &str = "mqtt";

/// Where files that the kitchen file names are looked for.
#[derive(Debug, Clone, Default)]
pub struct Places {
    /// The kitchen file's own directory.
    pub kitchen: PathBuf,
    /// systemd's credentials, where there are any.
    pub credentials: Option<PathBuf>,
}

/// A file that is named and cannot be used: one sentence.
#[derive(Debug, thiserror::Error)]
pub enum Unusable {
    #[error("{path}: cannot be read: {why}", path = path.display())]
    Unreadable { path: PathBuf, why: std::io::Error },
    #[error("{path}: is no login; allowed: two lines, a user name and a password", path = path.display())]
    NoLogin { path: PathBuf },
    #[error(transparent)]
    Tls(#[from] tls::Error),
}

/// The broker's settings for this board.
///
/// # Errors
/// Where the login or the authorities cannot be read.
pub fn settings(broker: &Broker, places: &Places, pots: Vec<String>) -> Result<Settings, Unusable> {
    let board = board_name(Some(broker));
    Ok(Settings {
        host: broker.host.clone(),
        port: broker.port,
        client_id: broker.client_id.clone().unwrap_or_else(|| client_id(&board)),
        homie: broker.homie.then(|| Device::new(&board, &pots)),
        board,
        pots,
        version: env!("CARGO_PKG_VERSION"),
        login: login(broker, places)?,
        tls: authorities(broker, places)?,
        commands: broker.commands,
    })
}

fn authorities(
    broker: &Broker,
    places: &Places,
) -> Result<Option<Arc<rustls::ClientConfig>>, Unusable> {
    if !broker.tls {
        return Ok(None);
    }
    let named = broker.authorities.as_ref().map(|path| places.kitchen.join(path));
    let path = named.unwrap_or_else(|| tls::SYSTEM_AUTHORITIES.into());
    Ok(Some(tls::client(&path)?))
}

fn login(broker: &Broker, places: &Places) -> Result<Option<Login>, Unusable> {
    let named = broker.login_file.as_ref().map(|path| places.kitchen.join(path));
    let lent = places.credentials.as_ref().map(|dir| dir.join(CREDENTIAL));
    match named.or_else(|| lent.filter(|path| path.exists())) {
        Some(path) => read_login(&path).map(Some),
        None => Ok(None),
    }
}

fn read_login(path: &Path) -> Result<Login, Unusable> {
    let unreadable = |why| Unusable::Unreadable { path: path.to_owned(), why };
    let text = fs::read_to_string(path).map_err(unreadable)?;
    let mode = fs::metadata(path).map_err(unreadable)?.permissions().mode();
    if mode & 0o077 != 0 {
        let path = path.display();
        tracing::warn!("{path}: others may read this password: chmod 600 {path}");
    }
    let mut lines = text.lines();
    match (lines.next(), lines.next(), lines.next()) {
        (Some(user), Some(password), None) if !user.is_empty() => {
            Ok(Login { user: user.to_owned(), password: password.to_owned() })
        }
        _ => Err(Unusable::NoLogin { path: path.to_owned() }),
    }
}

/// This board's name in what is told.
#[must_use]
pub fn board_name(broker: Option<&Broker>) -> String {
    broker.and_then(|broker| broker.board.clone()).unwrap_or_else(host_name)
}

pub(super) fn host_name() -> String {
    let name = fs::read_to_string("/etc/hostname").unwrap_or_default();
    let name = name.trim();
    if name.is_empty() { "board".to_owned() } else { name.to_owned() }
}

/// The same at every start of this machine and unlike every other's. The machine's id itself is not
/// to be shown around (machine-id(5)), so a digest of it is.
fn client_id(board: &str) -> String {
    let id = fs::read_to_string("/etc/machine-id").unwrap_or_default();
    let digest = ring::digest::digest(&ring::digest::SHA256, format!("dekchi {id}").as_bytes());
    let short: String = digest.as_ref().iter().take(4).map(|byte| format!("{byte:02x}")).collect();
    format!("dekchi-{board}-{short}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::kitchen::Kitchen;

    fn broker(lines: &str) -> Broker {
        let text = format!(
            "[site]\naltitude_m = 40.0\n[[pot]]\nname = \"big\"\nbase_diameter_m = 0.40\n\
             tare_kg = 6.2\nlid_kg = 1.35\n[mqtt]\nhost = \"localhost\"\nboard = \"quay\"\n{lines}"
        );
        Kitchen::parse("k.toml", &text).unwrap().broker.unwrap()
    }

    fn of(lines: &str, files: &[(&str, &str)]) -> Result<Settings, String> {
        let directory = tempfile::tempdir().unwrap();
        for (name, text) in files {
            fs::write(directory.path().join(name), text).unwrap();
        }
        let places = Places {
            kitchen: directory.path().to_owned(),
            credentials: Some(directory.path().to_owned()),
        };
        settings(&broker(lines), &places, vec![]).map_err(|why| why.to_string())
    }

    #[test]
    fn a_login_is_two_lines_of_a_file() {
        let login = of("login_file = \"l\"", &[("l", "board\np w:1\n")]).unwrap().login.unwrap();
        assert_eq!((login.user.as_str(), login.password.as_str()), ("board", "p w:1"));
        assert!(!format!("{login:?}").contains("p w"));
    }

    #[test]
    fn a_credential_of_the_unit_is_taken_where_no_file_is_named() {
        assert!(of("", &[("mqtt", "board\nsecret\n")]).unwrap().login.is_some());
        assert!(of("", &[]).unwrap().login.is_none());
    }

    #[test]
    fn a_login_that_cannot_be_used_is_named() {
        assert!(of("login_file = \"l\"", &[]).unwrap_err().contains("l: cannot be read"));
        let one_line = of("login_file = \"l\"", &[("l", "board:secret\n")]).unwrap_err();
        assert!(one_line.contains("two lines") && !one_line.contains("secret"), "{one_line}");
    }

    #[test]
    fn a_board_is_the_same_client_at_every_start() {
        let (one, two) = (of("", &[]).unwrap(), of("", &[]).unwrap());
        assert_eq!(one.client_id, two.client_id);
        assert!(one.client_id.starts_with("dekchi-quay-"), "{}", one.client_id);
    }
}
