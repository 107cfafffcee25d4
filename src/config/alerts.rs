//! Who is told of alerts beyond the stove, and through what: a part of the kitchen file.
//!
//! ```toml
//! [alerts]                             # left out where lamp, page and broker are enough
//! authorities = "/etc/dekchi/ca.crt"   # whom to believe for TLS; the system's if left out
//!
//! [alerts.webhook]
//! url = "https://hooks.harbour.example/pots"
//! secret_file = "/etc/dekchi/webhook.secret"   # one line, at least 16 characters, mode 600
//! heartbeat_s = 300                    # a sign of life this often; 0 for none
//!
//! [alerts.mail]
//! host = "smtp.harbour.example"
//! tls = "whole"                        # or "starttls"; "none" only to this machine itself
//! port = 465                           # 465, 587 with starttls, 25 without TLS
//! from = "pots@harbour.example"
//! login_file = "/etc/dekchi/mail.login"    # two lines: user name, password; mode 600
//!
//! [alerts.push]                        # for pages that are served over TLS under a trusted name
//! key_file = "/etc/dekchi/push.key"    # PKCS #8 PEM, P-256; mode 600
//! contact = "mailto:kitchen@harbour.example"   # where push services find us
//!
//! [[alerts.person]]
//! name = "pass"
//! by = ["push", "mail"]                # in this order: the next where one does not work
//! mail = "pass@harbour.example"
//! from = "medium"                      # nothing less than this: "low", "medium" or "high"
//! at_once = "high"                     # from this on at once, below it what nobody answered
//! quiet = "22:30-06:30"                # may be left out; never keeps back what is high
//! ```
//!
//! Paths that are not absolute begin at the kitchen file's directory.

use std::path::PathBuf;

use crate::tell::route::{Person, Quiet, Way};
use crate::watch::urgency::Priority;

use super::section::Section;

pub const KEYS: &[&str] = &["authorities", "webhook", "mail", "push", "person"];
const WEBHOOK_KEYS: &[&str] = &["url", "secret_file", "heartbeat_s"];
const MAIL_KEYS: &[&str] = &["host", "port", "tls", "from", "login_file"];
const PUSH_KEYS: &[&str] = &["key_file", "contact"];
const PERSON_KEYS: &[&str] = &["name", "by", "mail", "from", "at_once", "quiet"];

/// Who is told, and through what.
#[derive(Debug, Clone, PartialEq)]
pub struct Alerts {
    /// PEM file of the authorities to be believed; the system's where it is not given.
    pub authorities: Option<PathBuf>,
    pub webhook: Option<Webhook>,
    pub mail: Option<Mail>,
    pub push: Option<Push>,
    pub people: Vec<Person>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Webhook {
    pub url: String,
    pub secret_file: PathBuf,
    /// `None` where no sign of life is asked for.
    pub heartbeat_s: Option<f64>,
}

/// How the connection to the mail server is kept secret.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tls {
    Whole,
    StartTls,
    None,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Mail {
    pub host: String,
    pub port: u16,
    pub tls: Tls,
    pub from: String,
    pub login_file: Option<PathBuf>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Push {
    pub key_file: PathBuf,
    pub contact: String,
}

const PRIORITIES: [(&str, Priority); 3] =
    [("low", Priority::Low), ("medium", Priority::Medium), ("high", Priority::High)];

/// Reads `[alerts]`.
#[must_use]
pub fn read(section: &Section<'_>) -> Option<Alerts> {
    let authorities = section.text_or_none("authorities").map(PathBuf::from);
    let webhook = part(section, "webhook", WEBHOOK_KEYS, webhook);
    let mail = part(section, "mail", MAIL_KEYS, mail);
    let push = part(section, "push", PUSH_KEYS, push);
    let people = people(section);
    let alerts =
        Alerts { authorities, webhook: webhook?, mail: mail?, push: push?, people: people? };
    Some(alerts)
}

/// A table that may be left out: the outer `None` where something in it is wrong.
fn part<T>(
    section: &Section<'_>,
    key: &str,
    keys: &'static [&'static str],
    read: fn(&Section<'_>) -> Option<T>,
) -> Option<Option<T>> {
    if !section.has(key) {
        return Some(None);
    }
    read(&section.table(key, keys)?).map(Some)
}

fn webhook(section: &Section<'_>) -> Option<Webhook> {
    let url = section.text("url")?;
    let host = url.strip_prefix("https://").or_else(|| url.strip_prefix("http://"));
    if host.is_none_or(|host| host.is_empty() || host.starts_with('/')) || url.contains(' ') {
        let allowed = "an address that begins with https:// (or http:// in your own network)";
        section.refuse("url", format!("\"{url}\" cannot be"), allowed);
        return None;
    }
    let secret_file = section.text("secret_file").map(PathBuf::from);
    let heartbeat_s = section.number_or("heartbeat_s", 300.0, 0.0..=86_400.0, "s");
    let heartbeat_s = heartbeat_s?;
    Some(Webhook {
        url,
        secret_file: secret_file?,
        heartbeat_s: (heartbeat_s > 0.0).then_some(heartbeat_s.max(10.0)),
    })
}

fn mail(section: &Section<'_>) -> Option<Mail> {
    let host = section.text("host");
    let choices = [("whole", Tls::Whole), ("starttls", Tls::StartTls), ("none", Tls::None)];
    let tls = if section.has("tls") { section.choice("tls", &choices) } else { Some(Tls::Whole) };
    let usual = match tls {
        Some(Tls::StartTls) => 587,
        Some(Tls::None) => 25,
        _ => 465,
    };
    let port = section.whole_or("port", usual, 1..=65_535);
    let from = address(section, "from");
    let login_file = section.text_or_none("login_file").map(PathBuf::from);
    let (host, tls) = (host?, tls?);
    let here = matches!(host.as_str(), "localhost" | "127.0.0.1" | "::1");
    if tls == Tls::None && !here {
        let allowed = "\"whole\" or \"starttls\"; \"none\" only to localhost";
        section.refuse("tls", "a password and a word would go openly", allowed);
        return None;
    }
    Some(Mail { host, port: u16::try_from(port?).ok()?, tls, from: from?, login_file })
}

fn address(section: &Section<'_>, key: &str) -> Option<String> {
    let address = section.text(key)?;
    let fair = address.split_once('@').is_some_and(|(name, host)| {
        !name.is_empty() && !host.is_empty() && !address.contains([' ', '<', '>', ','])
    });
    if !fair {
        let allowed = "a mail address such as pass@harbour.example";
        section.refuse(key, format!("\"{address}\" cannot be"), allowed);
    }
    fair.then_some(address)
}

fn push(section: &Section<'_>) -> Option<Push> {
    let key_file = section.text("key_file").map(PathBuf::from);
    let contact = section.text("contact")?;
    if !contact.starts_with("mailto:") && !contact.starts_with("https://") {
        let allowed = "mailto:… or https://…";
        section.refuse("contact", format!("\"{contact}\" cannot be"), allowed);
        return None;
    }
    Some(Push { key_file: key_file?, contact })
}

fn people(section: &Section<'_>) -> Option<Vec<Person>> {
    let sections = section.tables("person", PERSON_KEYS)?;
    let mut people: Vec<Person> = Vec::new();
    let mut sound = true;
    for section_of in &sections {
        let Some(person) = person(section_of, section) else {
            sound = false;
            continue;
        };
        if people.iter().any(|other| other.name == person.name) {
            let wrong = format!("\"{}\" is the name of an earlier person too", person.name);
            section_of.refuse("name", wrong, "a name of its own for each");
        }
        people.push(person);
    }
    sound.then_some(people)
}

fn person(section: &Section<'_>, alerts: &Section<'_>) -> Option<Person> {
    let name = section.text("name");
    let priority = |key: &str, usual| match section.has(key) {
        true => section.choice(key, &PRIORITIES),
        false => Some(usual),
    };
    let (from, at_once) = (priority("from", Priority::Medium), priority("at_once", Priority::High));
    let mail = if section.has("mail") { Some(address(section, "mail")?) } else { None };
    let ways = ways(section, alerts, mail.is_some());
    let quiet = quiet(section);
    Some(Person { name: name?, ways: ways?, from: from?, at_once: at_once?, quiet: quiet?, mail })
}

fn ways(section: &Section<'_>, alerts: &Section<'_>, has_mail: bool) -> Option<Vec<Way>> {
    let names = section.texts("by")?;
    let ways: Option<Vec<Way>> = names.iter().map(|name| Way::by_name(name)).collect();
    let Some(ways) = ways.filter(|ways| !ways.is_empty()) else {
        section.refuse("by", "names no way", "a list of \"webhook\", \"mail\", \"push\"");
        return None;
    };
    if let Some(way) = ways.iter().find(|way| !alerts.has(way.name())) {
        let wrong = format!("{} is not set up", way.name());
        section.refuse("by", wrong, format!("an [alerts.{}] table beside it", way.name()));
        return None;
    }
    if ways.contains(&Way::Mail) && !has_mail {
        section.refuse("mail", "is missing", "the mail address of this person");
        return None;
    }
    Some(ways)
}

/// The outer `None` where something is wrong.
fn quiet(section: &Section<'_>) -> Option<Option<Quiet>> {
    let Some(text) = section.text_or_none("quiet") else {
        return if section.has("quiet") { None } else { Some(None) };
    };
    let hours = text.split_once('-').and_then(|(from, to)| {
        let (from_min, to_min) = (minute(from.trim())?, minute(to.trim())?);
        (from_min != to_min).then_some(Quiet { from_min, to_min })
    });
    if hours.is_none() {
        let allowed = "two different times of day such as \"22:30-06:30\"";
        section.refuse("quiet", format!("\"{text}\" cannot be"), allowed);
        return None;
    }
    Some(hours)
}

/// Minutes after midnight.
fn minute(text: &str) -> Option<u16> {
    let (hour, minute) = text.split_once(':')?;
    let (hour, minute): (u16, u16) = (hour.parse().ok()?, minute.parse().ok()?);
    (hour < 24 && minute < 60).then_some(60 * hour + minute)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::kitchen::Kitchen;

    const KITCHEN: &str = "[site]\naltitude_m = 40.0\n[[pot]]\nname = \"big\"\n\
        base_diameter_m = 0.40\ntare_kg = 6.2\nlid_kg = 1.35\n";
    const WEBHOOK: &str = "[alerts.webhook]\nurl = \"https://hooks.harbour.example/pots\"\n\
        secret_file = \"secret\"\n";
    const MAIL: &str = "[alerts.mail]\nhost = \"smtp.harbour.example\"\n\
        from = \"pots@harbour.example\"\n";
    const PERSON: &str = "[[alerts.person]]\nname = \"pass\"\nby = [\"mail\", \"webhook\"]\n\
        mail = \"pass@harbour.example\"\nquiet = \"22:30-06:30\"\n";

    fn alerts(text: &str) -> Result<Alerts, String> {
        let kitchen = Kitchen::parse("k.toml", &format!("{KITCHEN}{text}"));
        kitchen.map(|kitchen| kitchen.alerts.unwrap()).map_err(|told| told.to_string())
    }

    #[test]
    fn who_is_told_through_what_is_understood() {
        let alerts = alerts(&format!("{WEBHOOK}{MAIL}{PERSON}")).unwrap();
        assert_eq!(alerts.webhook.unwrap().heartbeat_s, Some(300.0));
        let mail = alerts.mail.unwrap();
        assert_eq!((mail.port, mail.tls), (465, Tls::Whole));
        let person = &alerts.people[0];
        assert_eq!(person.ways, [Way::Mail, Way::Webhook]);
        assert_eq!((person.from, person.at_once), (Priority::Medium, Priority::High));
        assert_eq!(person.quiet, Some(Quiet { from_min: 1350, to_min: 390 }));
    }

    #[test]
    fn a_kitchen_without_alerts_is_sound() {
        assert_eq!(Kitchen::parse("k.toml", KITCHEN).unwrap().alerts, None);
    }

    #[test]
    fn what_cannot_work_is_refused_with_what_is_allowed() {
        for (text, says) in [
            (format!("{WEBHOOK}{PERSON}"), "person.by: mail is not set up"),
            (WEBHOOK.replace("https", "ftp"), "webhook.url: \"ftp"),
            (format!("{MAIL}tls = \"none\"\n"), "mail.tls: a password"),
            (format!("{MAIL}password = \"x\"\n"), "mail.password: is not a key"),
            (MAIL.replace("pots@", "pots "), "mail.from"),
            (format!("{WEBHOOK}{MAIL}{}", PERSON.replace("06:30", "25:00")), "person.quiet"),
            (format!("{WEBHOOK}{MAIL}{}from = \"urgent\"\n", PERSON), "person.from"),
            (format!("{WEBHOOK}{MAIL}{PERSON}{PERSON}"), "name of an earlier person"),
            (format!("{WEBHOOK}{MAIL}[[alerts.person]]\nname = \"x\"\nby = []\n"), "person.by"),
            ("[alerts.push]\nkey_file = \"k\"\ncontact = \"me\"\n".to_owned(), "push.contact"),
        ] {
            let told = alerts(&text).unwrap_err();
            assert!(told.contains(says), "{told}");
        }
    }
}
