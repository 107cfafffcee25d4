//! From the kitchen file to open channels: addresses, secrets, whom to believe.

use std::fs;
use std::io::ErrorKind;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

use crate::config::alerts::{Alerts, Mail, Push, Webhook};
use crate::keep::Browser;
use crate::tell::mqtt::tls::SYSTEM_AUTHORITIES;
use crate::tell::push::{Subscription, Subscriptions};
use crate::tell::route::Way;
use crate::tell::webhook;

use super::courier::Open;
use super::telling::Places;

/// A secret that is shorter can be guessed.
const SHORTEST_SECRET: usize = 16;

/// Why a way cannot be used: one sentence.
#[derive(Debug, thiserror::Error)]
pub enum Closed {
    #[error("{path}: cannot be read: {why}", path = path.display())]
    Unreadable { path: PathBuf, why: std::io::Error },
    #[error("{path}: others may read this secret: chmod 600 {path}", path = path.display())]
    Shared { path: PathBuf },
    #[error("{path}: {why}", path = path.display())]
    Unfit { path: PathBuf, why: String },
    #[error("{0}")]
    Refused(String),
    #[error("this dekchi was built without {0}: build it with the feature {0}")]
    NotBuilt(&'static str),
}

/// The channels, and what the page needs to offer Web Push.
pub struct Ways {
    pub channels: Vec<Open>,
    pub browsers: Subscriptions,
    /// What the page gives to the browser as `applicationServerKey`.
    pub push_key: Option<String>,
}

/// Opens every way that the kitchen file sets up.
///
/// # Errors
/// The first that cannot be used.
pub fn open(
    alerts: &Alerts,
    places: &Places,
    board: &str,
    browsers: Vec<Browser>,
) -> Result<Ways, Closed> {
    let authorities = alerts.authorities.as_ref().map(|path| places.kitchen.join(path));
    let believed = believed(authorities.as_deref())?;
    let browsers = Subscriptions::of(browsers.into_iter().map(subscription).collect());
    let mut ways = Ways { channels: Vec::new(), browsers, push_key: None };
    if let Some(webhook) = &alerts.webhook {
        ways.channels.push((Way::Webhook, Box::new(open_webhook(webhook, places, &believed)?)));
    }
    if let Some(mail) = &alerts.mail {
        let own = authorities.is_some().then(|| believed.clone());
        ways.channels.push(open_mail(mail, places, board, own)?);
    }
    if let Some(push) = &alerts.push {
        open_push(push, places, &believed, &mut ways)?;
    }
    Ok(ways)
}

fn subscription(browser: Browser) -> Subscription {
    let Browser { person, endpoint, p256dh, auth } = browser;
    Subscription { person, endpoint, p256dh, auth }
}

/// A PEM text; empty where the system has none and none is named.
fn believed(named: Option<&Path>) -> Result<Vec<u8>, Closed> {
    match (named, fs::read(named.unwrap_or(Path::new(SYSTEM_AUTHORITIES)))) {
        (_, Ok(pem)) => Ok(pem),
        (None, Err(_)) => Ok(Vec::new()),
        (Some(path), Err(why)) => Err(Closed::Unreadable { path: path.to_owned(), why }),
    }
}

fn open_webhook(
    webhook: &Webhook,
    places: &Places,
    believed: &[u8],
) -> Result<webhook::Webhook, Closed> {
    let (path, text) = secret(&webhook.secret_file, places)?;
    let secret = text.trim();
    if secret.len() < SHORTEST_SECRET || secret.lines().count() != 1 {
        let why =
            format!("is no secret; allowed: one line of at least {SHORTEST_SECRET} characters");
        return Err(Closed::Unfit { path, why });
    }
    Ok(webhook::Webhook::new(&webhook.url, secret.as_bytes(), believed))
}

#[cfg(feature = "mail")]
fn open_mail(
    mail: &Mail,
    places: &Places,
    board: &str,
    authorities: Option<Vec<u8>>,
) -> Result<Open, Closed> {
    use crate::config::alerts::Tls;
    use crate::tell::mail::{self, Secrecy, Settings};
    let secrecy = match mail.tls {
        Tls::Whole => Secrecy::Whole,
        Tls::StartTls => Secrecy::StartTls,
        Tls::None => Secrecy::None,
    };
    let settings = Settings {
        host: mail.host.clone(),
        port: mail.port,
        secrecy,
        login: mail.login_file.as_ref().map(|path| login(path, places)).transpose()?,
        authorities,
        from: mail.from.clone(),
        board: board.to_owned(),
    };
    let channel = mail::Mail::new(settings).map_err(Closed::Refused)?;
    Ok((Way::Mail, Box::new(channel)))
}

#[cfg(not(feature = "mail"))]
fn open_mail(_: &Mail, _: &Places, _: &str, _: Option<Vec<u8>>) -> Result<Open, Closed> {
    Err(Closed::NotBuilt("mail"))
}

#[cfg(feature = "mail")]
fn login(path: &Path, places: &Places) -> Result<(String, String), Closed> {
    let (path, text) = secret(path, places)?;
    let mut lines = text.lines();
    match (lines.next(), lines.next(), lines.next()) {
        (Some(user), Some(password), None) if !user.is_empty() => {
            Ok((user.to_owned(), password.to_owned()))
        }
        _ => {
            let why = "is no login; allowed: two lines, a user name and a password".to_owned();
            Err(Closed::Unfit { path, why })
        }
    }
}

#[cfg(feature = "push")]
fn open_push(push: &Push, places: &Places, believed: &[u8], ways: &mut Ways) -> Result<(), Closed> {
    use crate::tell::push::{self, seal::Sender};
    let (path, pem) = secret(&push.key_file, places)?;
    let unfit = |why| Closed::Unfit { path, why };
    let sender = Sender::from_pem(&pem, &push.contact).map_err(unfit)?;
    ways.push_key = Some(sender.public_key());
    let channel = push::Push::new(sender, ways.browsers.clone(), believed);
    ways.channels.push((Way::Push, Box::new(channel)));
    Ok(())
}

#[cfg(not(feature = "push"))]
fn open_push(_: &Push, _: &Places, _: &[u8], _: &mut Ways) -> Result<(), Closed> {
    Err(Closed::NotBuilt("push"))
}

/// The text of a file that nobody else may read; where it is not in the kitchen file's directory, the
/// unit's credential of the same name. Where it was found comes with it.
fn secret(named: &Path, places: &Places) -> Result<(PathBuf, String), Closed> {
    let path = places.kitchen.join(named);
    let lent = places.credentials.as_ref().zip(named.file_name()).map(|(dir, name)| dir.join(name));
    let text = match (fs::read_to_string(&path), lent) {
        (Err(why), Some(lent)) if why.kind() == ErrorKind::NotFound && lent.exists() => {
            let text = fs::read_to_string(&lent);
            return text
                .map(|text| (lent.clone(), text))
                .map_err(|why| Closed::Unreadable { path: lent.clone(), why });
        }
        (text, _) => text,
    };
    let unreadable = |why| Closed::Unreadable { path: path.clone(), why };
    let text = text.map_err(unreadable)?;
    let mode = fs::metadata(&path).map_err(unreadable)?.permissions().mode();
    if mode & 0o077 != 0 {
        return Err(Closed::Shared { path });
    }
    Ok((path, text))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn webhook(text: &str, mode: u32) -> Result<webhook::Webhook, String> {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("secret");
        fs::write(&path, text).unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(mode)).unwrap();
        let places = Places { kitchen: directory.path().to_owned(), credentials: None };
        let webhook = Webhook {
            url: "http://127.0.0.1:9".into(),
            secret_file: "secret".into(),
            heartbeat_s: None,
        };
        open_webhook(&webhook, &places, &[]).map_err(|why| why.to_string())
    }

    #[test]
    fn a_secret_that_others_may_read_is_refused() {
        let told = webhook("0123456789abcdef\n", 0o644).err().unwrap();
        assert!(told.contains("chmod 600"), "{told}");
        assert!(webhook("0123456789abcdef\n", 0o600).is_ok());
    }

    #[test]
    fn a_secret_that_can_be_guessed_is_refused_and_never_shown() {
        let told = webhook("hunter2\n", 0o600).err().unwrap();
        assert!(told.contains("at least 16") && !told.contains("hunter2"), "{told}");
    }

    #[test]
    fn a_secret_that_is_not_there_is_named() {
        let places = Places::default();
        let told = secret(Path::new("/nowhere/secret"), &places).unwrap_err().to_string();
        assert!(told.starts_with("/nowhere/secret: cannot be read"), "{told}");
    }
}
